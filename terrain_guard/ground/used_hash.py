"""The hash of the terrain used: of the ground itself, not of files and tiles.

It is over the sorted (row, column, value) of the posts used, with reference
system and cell. Rows and columns count from the post nearest to the zero of the
reference system, so that they are the same however the ground is cut into tiles.
A post of the sea that stands for an absent tile (see `sea`) counts as ground at 0 m,
as if a tile of zeros were there; without the card that says so it is missing.
"""

from __future__ import annotations

import hashlib
import itertools
import math
from collections.abc import Iterable, Sequence
from typing import Protocol

import numpy as np

from terrain_guard.arrays import Floats
from terrain_guard.ground.raster import Raster

_CUT = 0.137
"""Where one cell ends and the next begins, in counting from zero: where no file puts its edges,
for there noise in the last digit would move a post to the next row."""


class Windows(Protocol):
    """Where posts come from."""

    def window(self, rows: tuple[int, int], columns: tuple[int, int]) -> Floats:
        """Return elevations (m) of the posts [start, stop) × [start, stop); NaN outside."""


def used_hash(
    source: Windows, lattice: Raster, windows: Iterable[tuple[int, int, int, int]]
) -> str:
    """Return the SHA-256 of every post in the windows, in hexadecimal digits.

    Parameters
    ----------
    source : Windows
        Elevations.
    lattice : Raster
        Where its posts stand.
    windows : iterable of (top, bottom, left, right)
        Posts, [start, stop) each; they may lie over each other.
    """
    windows = list(windows)
    (first_row, first_column), phase = from_zero(lattice)
    a, b, _, d, e, _ = lattice.affine
    cell = [f"{side:.12g}" for side in (a, b, d, e)]
    digest = hashlib.sha256(repr((cell, phase, lattice.crs.to_wkt())).encode())
    number = "<i8" if max(map(abs, (first_row, first_column))) > 2**30 else "<i4"
    edges = sorted({edge for window in windows for edge in window[:2]})
    for top, bottom in itertools.pairwise(edges):
        spans = _union([w[2:] for w in windows if w[0] <= top and w[1] >= bottom])
        if not spans:
            continue
        columns = np.concatenate([np.arange(*span) for span in spans])
        values = np.hstack([source.window((top, bottom), span) for span in spans])
        record = np.zeros(values.shape, dtype=[("row", number), ("column", number), ("z", "<f8")])
        record["row"] = np.arange(top, bottom)[:, None] + first_row
        record["column"] = columns + first_column
        record["z"] = np.where(np.isnan(values), np.nan, values + 0.0)  # one NaN, one zero
        digest.update(record.tobytes())
    return digest.hexdigest()


def from_zero(lattice: Raster) -> tuple[tuple[int, int], tuple[str, str]]:
    """Return the row and column of the first post, counted from zero, and what is left over."""
    a, b, c, d, e, f = lattice.affine
    column, row = np.linalg.solve(np.array([[a, b], [d, e]]), np.array([c, f]))
    whole = [math.floor(at + _CUT) for at in (row, column)]
    left_over = [round(at - n, 6) + 0.0 for at, n in zip((row, column), whole, strict=True)]
    return (whole[0], whole[1]), (f"{left_over[0]:.6f}", f"{left_over[1]:.6f}")


def _union(spans: Sequence[tuple[int, ...]]) -> list[tuple[int, int]]:
    merged: list[tuple[int, int]] = []
    for low, high in sorted((s[0], s[1]) for s in spans):
        if merged and low <= merged[-1][1]:
            merged[-1] = merged[-1][0], max(high, merged[-1][1])
        else:
            merged.append((low, high))
    return merged

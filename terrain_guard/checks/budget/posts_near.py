"""The posts near samples, all at once: a small square of them about each.

::

    · · · · ·
    · · · · ·      z[k] is the square of the k-th sample; its middle post is the one
    · · o · ·      before the sample, which lies a share (v, u) of a cell past it
    · · · · ·
    · · · · ·
"""

from __future__ import annotations

import itertools
from collections.abc import Iterator
from dataclasses import dataclass

import numpy as np

from terrain_guard.arrays import Bools, Floats, Ints
from terrain_guard.ground.model import Ground

WINDOW = 256  # posts that samples fetched together may span


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class PostsNear:
    """Squares of posts about n samples; NaN where ground, or the sample, is not known.

    `z` is (n, k, k) elevations, k odd. `down`, `across` are (n, k) rows and columns from the
    sample; `metres` (n, 2, 2) east and north of one column and one row.
    """

    z: Floats
    down: Floats
    across: Floats
    metres: Floats

    def within(self, down: Floats | float, across: Floats | float) -> Bools:
        """Return (n, k, k): which posts lie within so many rows and columns of the sample."""
        hair = 1e-6
        rows = np.abs(self.down) <= np.reshape(down, (-1, 1)) + hair
        columns = np.abs(self.across) <= np.reshape(across, (-1, 1)) + hair
        return rows[:, :, None] & columns[:, None, :]

    @property
    def cell_m(self) -> tuple[Floats, Floats]:
        """How large a cell is at each sample, along a column and along a row (n,)."""
        return self.step_m(1, 0), self.step_m(0, 1)

    def step_m(self, rows: int, columns: int) -> Floats:
        """Return how far it is (n,) from a post to the one so many rows and columns on."""
        east, north = (self.metres[:, k, 0] * columns + self.metres[:, k, 1] * rows for k in (0, 1))
        return np.hypot(east, north)


def posts_near(ground: Ground, row: Floats, column: Floats, *, cells: int) -> PostsNear:
    """Return the posts within `cells` rows and columns of the post before each sample.

    Parameters
    ----------
    row, column : (n,) float
        Fractional posts; NaN where a sample has no place.
    """
    side = np.arange(-cells, cells + 1)
    z = np.full((row.size, side.size, side.size), np.nan)
    metres = np.full((row.size, 2, 2), np.nan)
    known = np.flatnonzero(np.isfinite(row) & np.isfinite(column))
    for run in runs(row[known], column[known]):
        pick = known[run]
        z[pick], metres[pick] = _fetched(ground, row[pick], column[pick], side)
    return PostsNear(
        z=z,
        down=side + (np.floor(row) - row)[:, None],
        across=side + (np.floor(column) - column)[:, None],
        metres=metres,
    )


def runs(row: Floats, column: Floats) -> Iterator[slice]:
    """Split samples, in order, into runs that span few posts."""
    steps = np.maximum(np.abs(np.diff(row)), np.abs(np.diff(column)))
    part = np.append(0.0, np.cumsum(steps)) // WINDOW
    edges = [0, *(np.flatnonzero(np.diff(part)) + 1).tolist(), row.size]
    return (slice(a, b) for a, b in itertools.pairwise(edges) if b > a)


def _fetched(ground: Ground, row: Floats, column: Floats, side: Ints) -> tuple[Floats, Floats]:
    """Return the squares (n, k, k) and the metres of a cell (n, 2, 2) of samples close by."""
    reach_m = (side[-1] + 1) * max(ground.raster.cell_m)
    patches = ground.around(row, column, reach_m=reach_m)
    first_row = np.floor(row).astype(np.int64) - patches.row0
    first_column = np.floor(column).astype(np.int64) - patches.column0
    rows = (first_row[:, None] + side)[:, :, None]
    columns = (first_column[:, None] + side)[:, None, :]
    return patches.z[rows, columns], patches.map.jacobian(row, column)

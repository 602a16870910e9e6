"""The highest post of each group of cells, and of groups of groups, where rays run.

Only tiles that a ray touches are read, a row of tiles at a time; of their posts
nothing is kept but what is highest. For questions about the lowest ground the posts
are taken with the other sign.

::

    posts ──▶ groups of 4 × 4 cells ──▶ of 16 × 16 ──▶ of 64 × 64
              the posts on a group's edges count for both sides
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from typing import Any, Protocol

import numpy as np
from numpy.typing import NDArray

from terrain_guard.arrays import Bools, Floats, Ints
from terrain_guard.ground.bilinear import Posts
from terrain_guard.ground.strides import Strides

TILE = 256  # cells
FINEST = (4, 16, 64)  # cells along one side of the smallest groups: the first that fits is taken
MOST_GROUPS = 6_000_000
STEPS = (1, 4, 16)
NOTHING = -np.inf


class Source(Posts, Protocol):
    """Where posts come from, one by one or by the window."""

    def window(self, rows: tuple[int, int], columns: tuple[int, int]) -> Floats:
        """Return elevations (m) of the posts [start, stop) × [start, stop); NaN outside."""


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Moved:
    """The same posts, counted from elsewhere: post (down, across) is the first; and lifted.

    Tiles then lie the same way over the ground however it is cut into files, so that the
    same posts are used.
    """

    source: Source
    down: int
    across: int
    lift_m: float = 0.0

    def posts(self, rows: Ints, columns: Ints) -> Floats:
        """Return elevations (m) of the posts."""
        return self.source.posts(rows - self.down, columns - self.across) + self.lift_m

    def window(self, rows: tuple[int, int], columns: tuple[int, int]) -> Floats:
        """Return elevations (m) of a window of posts."""
        z = self.source.window(
            (rows[0] - self.down, rows[1] - self.down),
            (columns[0] - self.across, columns[1] - self.across),
        )
        return z + self.lift_m if self.lift_m else z


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Touched:
    """The tiles that rays touch; ``is_touched`` is (tile rows, tile columns)."""

    row0: int  # of the first tile, in tiles
    column0: int
    is_touched: Bools

    @classmethod
    def by(cls, strides: Strides) -> Touched:
        """Return the tiles touched by rays."""
        ray, number = strides.first(np.arange(strides.chords.count), TILE)
        a, b = strides.ends(ray, number, TILE)
        (row, column), (other_row, other_column) = strides.groups(ray, number, (a, b), TILE)
        rows, columns = np.append(row, other_row), np.append(column, other_column)
        if not rows.size:
            return cls(row0=0, column0=0, is_touched=np.zeros((1, 1), dtype=bool))
        row0, column0 = int(rows.min()), int(columns.min())
        touched = np.zeros((int(rows.max()) - row0 + 1, int(columns.max()) - column0 + 1), bool)
        touched[rows - row0, columns - column0] = True
        return cls(row0=row0, column0=column0, is_touched=touched)

    def runs(self) -> Iterator[tuple[int, int, int]]:
        """Yield (tile row, first tile column, end) of touched tiles side by side."""
        for i, line in enumerate(self.is_touched):
            edges = np.flatnonzero(np.diff(np.concatenate(([False], line, [False]))))
            for start, stop in edges.reshape(-1, 2).tolist():
                yield i, start, stop

    def windows(self) -> list[tuple[int, int, int, int]]:
        """Return the posts of these tiles: (top, bottom, left, right), [start, stop) each."""
        found = []
        for i, start, stop in self.runs():
            top, left = (self.row0 + i) * TILE, (self.column0 + start) * TILE
            found.append((top, top + TILE + 1, left, left + (stop - start) * TILE + 1))
        return found


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Level:
    """Groups of one size; arrays are (group rows, group columns), from group (row0, column0)."""

    size: int
    row0: int
    column0: int
    most: Floats  # −inf: no known post, or not touched
    has_void: Bools
    is_void: Bools  # no known post

    def pick(self, row: Ints, column: Ints) -> Ints:
        """Return flat numbers of groups; those off the table are taken at its edge."""
        rows, columns = self.most.shape
        i = np.clip(row - self.row0, 0, rows - 1)
        return i * columns + np.clip(column - self.column0, 0, columns - 1)


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Peaks:
    """Groups of several sizes, largest first, of posts times `sign`."""

    sign: float
    levels: tuple[Level, ...]
    has_void: bool

    @classmethod
    def under(cls, source: Source, touched: Touched, *, sign: float) -> Peaks:
        """Read the tiles and return their highest posts (sign 1), or their lowest (−1)."""
        area = touched.is_touched.size * TILE**2
        size = next((s for s in FINEST if area / s**2 <= MOST_GROUPS), FINEST[-1])
        per_tile = TILE // size
        shape = tuple(side * per_tile for side in touched.is_touched.shape)
        most = np.full(shape, NOTHING)
        has_void, is_void = np.zeros(shape, dtype=bool), np.zeros(shape, dtype=bool)
        for (i, start, stop), window in zip(touched.runs(), touched.windows(), strict=True):
            z = source.window(window[:2], window[2:])
            here = slice(i * per_tile, (i + 1) * per_tile), slice(start * per_tile, stop * per_tile)
            missing = np.isnan(z)
            if missing.any():
                has_void[here] = _over_groups(missing, size, np.logical_or)
                is_void[here] = _over_groups(missing, size, np.logical_and)
                z = np.where(missing, NOTHING * sign, z)
            over = np.maximum if sign > 0 else np.minimum
            most[here] = sign * _over_groups(z, size, over)
        first = Level(
            size=size,
            row0=touched.row0 * per_tile,
            column0=touched.column0 * per_tile,
            most=most,
            has_void=has_void,
            is_void=is_void,
        )
        levels = tuple(_coarser(first, step) for step in STEPS if step * size <= TILE)
        return cls(sign=sign, levels=levels[::-1], has_void=bool(has_void.any()))


def _over_groups(z: NDArray[Any], size: int, over: np.ufunc) -> NDArray[Any]:
    """Reduce posts over groups of size × size cells, their edges included."""
    rows, columns = ((side - 1) // size * size for side in z.shape)
    tall = z[size : rows + 1 : size].copy()
    for k in range(size):
        over(tall, z[k:rows:size], out=tall)
    wide = tall[:, size : columns + 1 : size].copy()
    for k in range(size):
        over(wide, tall[:, k:columns:size], out=wide)
    return wide


def _coarser(level: Level, step: int) -> Level:
    """Return groups `step` times as large."""
    if step == 1:
        return level
    rows, columns = (side // step for side in level.most.shape)

    def parts(values: NDArray[Any]) -> NDArray[Any]:
        return values.reshape(rows, step, columns, step)

    return Level(
        size=level.size * step,
        row0=level.row0 // step,
        column0=level.column0 // step,
        most=parts(level.most).max(axis=(1, 3)),
        has_void=np.logical_or.reduce(parts(level.has_void), axis=(1, 3)),
        is_void=np.logical_and.reduce(parts(level.is_void), axis=(1, 3)),
    )

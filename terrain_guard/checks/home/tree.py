"""Descend from large groups of cells to cells, so many at a time.

Before a group is looked at it passes a sieve, in which the window counts as flat: is it
within the reach of its way, and does its score (the top of its ground) stand high
enough above the line? The error of taking the way to metres for linear is allowed for.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence

import numpy as np

from terrain_guard.arrays import Bools, Floats, Ints
from terrain_guard.checks.home.beside import Band
from terrain_guard.checks.home.parts import Parts, cells_as_parts, groups_as_parts
from terrain_guard.checks.home.ways import Ways
from terrain_guard.ground.patches import Patches

MOST_PAIRS = 50_000  # of ways and parts, at a time
SAFE = 1.5  # times the error found at some places of the window

Pairs = tuple[Ints, Ints, Ints]
"""(way, row, column) of groups or cells, ways in order."""


class Tree:
    """The groups of a window, largest first, and its cells, beside some ways.

    Parameters
    ----------
    scores : sequence of arrays
        An elevation for every group of each size, largest first, and every cell; NaN and
        −inf are left out.
    least_m : (n,) float
        For each way, how high above its line a place must want it for the search to go
        on; read anew at every step.
    """

    def __init__(
        self,
        patches: Patches,
        ways: Ways,
        band: Band,
        *,
        scores: Sequence[Floats],
        least_m: Floats,
    ) -> None:
        self._patches, self._ways, self._band = patches, ways, band
        self._levels = patches.groups[::-1]
        self._sizes = [*(groups.size for groups in self._levels), 1]
        self._scores, self._least_m = scores, least_m
        self._flat = Flat(patches)
        m = np.abs(ways.gradient)
        ball = np.maximum(ways.ball(ways.from_m), ways.ball(ways.to_m))
        self._ball2, self._tilt = ball**2, np.sqrt(1 + m**2)
        self._over = m * ways.wide_m
        self._reach = ways.reach_m

    def descend(
        self, way: Ints, *, groups: Callable[[Parts], Bools], cells: Callable[[Parts], None]
    ) -> None:
        """For ways, given in order, go on where `groups` says so, and give cells to `cells`."""
        patches, size = self._patches, self._sizes[0]
        tall, wide = ((posts - 1) // size for posts in patches.z.shape)
        most = max(1, MOST_PAIRS // max(tall, wide))
        for k in range(0, way.size, most):
            corner = patches.row0, patches.column0
            pairs = self._band.pairs(way[k : k + most], corner, (tall, wide), size)
            self._go_on(self._sieved(pairs, 0, 1), 0, groups, cells)

    def _go_on(
        self,
        pairs: Pairs,
        level: int,
        groups: Callable[[Parts], Bools],
        cells: Callable[[Parts], None],
    ) -> None:
        for k in range(0, pairs[0].size, MOST_PAIRS):
            way, i, j = (part[k : k + MOST_PAIRS] for part in pairs)
            if level == len(self._levels):
                cells(cells_as_parts(self._patches, way, i, j))
                continue
            keep = groups(groups_as_parts(self._patches, self._levels[level], way, i, j))
            ratio = self._sizes[level] // self._sizes[level + 1]
            finer = self._sieved((way[keep], i[keep] * ratio, j[keep] * ratio), level + 1, ratio)
            self._go_on(finer, level + 1, groups, cells)

    def _sieved(self, first: Pairs, level: int, ratio: int) -> Pairs:
        """Return the groups, `ratio` × `ratio` from each first one on, that pass."""
        (way, i, j), size, flat = first, self._sizes[level], self._flat
        ways = self._ways.take(way)
        down, across = (part.ravel() for part in np.indices((ratio, ratio)))
        east, north = flat.metres((i + 0.5) * size, (j + 0.5) * size)
        along, aside = ways.seen(east, north)
        steps = [flat.along_column * size, flat.along_row * size]
        ahead = [e * ways.ahead_east + n * ways.ahead_north for e, n in steps]
        left = [n * ways.ahead_east - e * ways.ahead_north for e, n in steps]
        along = along[:, None] + np.outer(ahead[1], down) + np.outer(ahead[0], across)
        aside = aside[:, None] + np.outer(left[1], down) + np.outer(left[0], across)
        slack = flat.error_m + flat.diagonal_m * size / 2
        reach = self._reach[way] + slack
        aside = np.maximum(np.abs(aside) - (slack + ways.wide_m)[:, None], 0.0)
        spare = self._ball2[way][:, None] - aside**2
        keep = spare >= 0
        keep &= (along >= (ways.from_m - reach)[:, None]) & (along <= (ways.to_m + reach)[:, None])
        least = self._least_m[way] + ways.elevation_m - self._over[way]
        least -= np.abs(ways.gradient) * slack
        scores = self._scores[level]
        pick = (i * scores.shape[1] + j)[:, None] + (down * scores.shape[1] + across)
        along *= ways.gradient[:, None]
        along += least[:, None]
        high = np.sqrt(np.maximum(spare, 0.0)) * self._tilt[way][:, None]
        keep &= scores.ravel()[pick] + high > along
        nth, child = np.nonzero(keep)
        return way[nth], i[nth] + down[child], j[nth] + across[child]


class Flat:
    """The way from a window's posts to metres, taken for linear."""

    def __init__(self, patches: Patches) -> None:
        rows, columns = (np.linspace(0, posts - 1, 5) for posts in patches.z.shape)
        i, j = (part.ravel() for part in np.meshgrid(rows, columns, indexing="ij"))
        place = patches.map.metres(patches.row0 + i, patches.column0 + j)
        self._middle = float(rows[2]), float(columns[2])
        self._at = np.array([part[12] for part in place])
        middle = (np.array([patches.row0 + rows[2]]), np.array([patches.column0 + columns[2]]))
        self.along_column, self.along_row = patches.map.jacobian(*middle)[0].T
        apart = [a - b for a, b in zip(place, self.metres(i, j), strict=True)]
        self.error_m = SAFE * float(np.hypot(*apart).max()) + 1e-3
        plus, minus = self.along_column + self.along_row, self.along_column - self.along_row
        self.diagonal_m = 1.05 * float(max(np.hypot(*plus), np.hypot(*minus)))

    def metres(self, row: Floats, column: Floats) -> tuple[Floats, Floats]:
        """Return (east, north) of places of the window."""
        down, across = row - self._middle[0], column - self._middle[1]
        return (
            self._at[0] + self.along_column[0] * across + self.along_row[0] * down,
            self._at[1] + self.along_column[1] * across + self.along_row[1] * down,
        )

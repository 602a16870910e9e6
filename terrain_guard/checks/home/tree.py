"""Descend from large groups of cells to cells, so many at a time."""

from __future__ import annotations

from collections.abc import Callable

import numpy as np

from terrain_guard.arrays import Bools, Ints
from terrain_guard.checks.home.beside import Band
from terrain_guard.checks.home.parts import Parts, cells_as_parts, groups_as_parts
from terrain_guard.ground.patches import Patches

MOST_PAIRS = 50_000  # of ways and parts, at a time

Pairs = tuple[Ints, Ints, Ints]
"""(way, row, column) of groups or cells, ways in order."""


class Tree:
    """The groups of a window, largest first, and its cells."""

    def __init__(self, patches: Patches) -> None:
        self._patches = patches
        self._levels = patches.groups[::-1]
        self._sizes = [*(groups.size for groups in self._levels), 1]

    def pairs(self, band: Band, way: Ints) -> Pairs:
        """Return the ways, given in order, with the largest groups that each may pass."""
        patches, size = self._patches, self._sizes[0]
        tall, wide = ((posts - 1) // size for posts in patches.z.shape)
        return band.pairs(way, (patches.row0, patches.column0), (tall, wide), size)

    def descend(
        self,
        pairs: Pairs,
        *,
        groups: Callable[[Parts], Bools],
        cells: Callable[[Parts], None],
        level: int = 0,
    ) -> None:
        """Go on with the groups that `groups` marks, and give what is left to `cells`."""
        for k in range(0, pairs[0].size, MOST_PAIRS):
            way, i, j = (part[k : k + MOST_PAIRS] for part in pairs)
            if level == len(self._levels):
                cells(cells_as_parts(self._patches, way, i, j))
                continue
            keep = groups(groups_as_parts(self._patches, self._levels[level], way, i, j))
            finer = _children(way[keep], i[keep], j[keep], self._ratio(level))
            self.descend(finer, groups=groups, cells=cells, level=level + 1)

    def _ratio(self, level: int) -> int:
        return self._sizes[level] // self._sizes[level + 1]


def _children(way: Ints, i: Ints, j: Ints, ratio: int) -> Pairs:
    down, across = (part.ravel() for part in np.indices((ratio, ratio)))
    return (
        np.repeat(way, ratio**2),
        (i[:, None] * ratio + down).ravel(),
        (j[:, None] * ratio + across).ravel(),
    )

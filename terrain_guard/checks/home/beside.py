"""Pair each way with the groups of cells it passes, row of groups by row."""

from __future__ import annotations

import numpy as np

from terrain_guard.arrays import Bools, Floats, Ints

BULGE_M = 1e7  # a straight way leaves the straight line among the posts by less than L² / this


class Band:
    """Ways among the posts, with how far aside their reach goes; arrays (n,).

    ::

         ┌──┬──┬──┬──┐
         │  │  │░░│░░│    of each row of groups: the columns that the way, as wide as
         ├──┼──┼──┼──┤    its reach, may pass
         │░░│░░│░░│  │
         └──┴──┴──┴──┘
    """

    def __init__(
        self,
        home: tuple[Floats, Floats],
        start: tuple[Floats, Floats],
        margins: tuple[Floats, Floats],
    ) -> None:
        first = home[0] <= start[0]
        self._top, self._bottom = np.minimum(home[0], start[0]), np.maximum(home[0], start[0])
        self._at_top = np.where(first, home[1], start[1])
        self._at_bottom = np.where(first, start[1], home[1])
        self._down, self._across = margins

    def passes(self, rows: tuple[int, int], columns: tuple[int, int]) -> Bools:
        """Return which ways may pass a window of posts."""
        left, right = (f(self._at_top, self._at_bottom) for f in (np.minimum, np.maximum))
        return (
            (self._top - self._down <= rows[1])
            & (self._bottom + self._down >= rows[0])
            & (left - self._across <= columns[1])
            & (right + self._across >= columns[0])
        )

    def pairs(
        self, way: Ints, corner: tuple[int, int], groups: tuple[int, int], size: int
    ) -> tuple[Ints, Ints, Ints]:
        """Return (way, group row, group column) of the ways `way`, given in order, in a window.

        Parameters
        ----------
        corner : (row, column)
            The window's first post.
        groups : (rows, columns)
            How many groups of `size` cells it has.
        """
        (row0, column0), (tall, wide) = corner, groups
        up, low = self._top[way] - self._down[way], self._bottom[way] + self._down[way]
        first = np.clip(np.floor((up - row0) / size), 0, tall - 1).astype(np.int64)
        last = np.clip(np.floor((low - row0) / size), 0, tall - 1).astype(np.int64)
        way, i = _spread(way, first, last)
        left, right = self._columns(way, row0 + i * size, row0 + (i + 1) * size)
        first = np.clip(np.floor((left - column0) / size), 0, wide).astype(np.int64)
        last = np.clip(np.floor((right - column0) / size), -1, wide - 1).astype(np.int64)
        nth, j = _spread(np.arange(way.size), first, last)
        return way[nth], i[nth], j

    def _columns(self, way: Ints, top: Ints, bottom: Ints) -> tuple[Floats, Floats]:
        """Return the columns that ways pass between two rows."""
        tall = self._bottom[way] - self._top[way]
        some = np.maximum(tall, 1e-9)
        down = self._down[way]
        one = np.clip((top - down - self._top[way]) / some, 0.0, 1.0)
        other = np.clip((bottom + down - self._top[way]) / some, 0.0, 1.0)
        one, other = np.where(tall > 1e-9, one, 0.0), np.where(tall > 1e-9, other, 1.0)
        at, run = self._at_top[way], self._at_bottom[way] - self._at_top[way]
        ends = at + one * run, at + other * run
        return np.minimum(*ends) - self._across[way], np.maximum(*ends) + self._across[way]


def _spread(what: Ints, first: Ints, last: Ints) -> tuple[Ints, Ints]:
    """Return each entry once for every whole number from its first to its last, in order."""
    count = np.maximum(last - first + 1, 0)
    out = np.repeat(np.arange(what.size), count)
    nth = np.arange(out.size) - np.repeat(np.cumsum(count) - count, count)
    return what[out], first[out] + nth

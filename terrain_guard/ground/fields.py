"""Which tile lies where: the lattice cut into fields, and who owns a post."""

from __future__ import annotations

from collections.abc import Iterator

import numpy as np

from terrain_guard.arrays import Bools, Ints
from terrain_guard.errors import RefusedTerrain

MOST_FIELDS = 2**24


class Fields:
    """The lattice cut along every edge of every tile: each field lies in the same tiles.

    ::

        ┌─────┬──┬─────┐     A │AB│ B      first layer:  A A B
        │  A  │AB│  B  │   ────┼──┼────    second layer: · B ·
        └─────┴──┴─────┘

    Parameters
    ----------
    box : (n, 4) int
        Top, bottom, left and right of each tile's posts, [start, stop) each.
    """

    def __init__(self, box: Ints) -> None:
        rows, columns = box[:, :2], box[:, 2:]
        self.rows, self.columns = np.unique(rows), np.unique(columns)
        self.box = box
        shape = self.rows.size - 1, self.columns.size - 1
        if shape[0] * shape[1] > MOST_FIELDS:
            msg = (
                f"{len(box)} tiles whose edges do not line up are too many to keep apart: give "
                "those near the route"
            )
            raise RefusedTerrain(msg)
        top, bottom = (np.searchsorted(self.rows, rows[:, side]) for side in (0, 1))
        left, right = (np.searchsorted(self.columns, columns[:, side]) for side in (0, 1))
        self.layers = [np.full(shape, -1, dtype=np.int32)]
        for number in range(len(box)):
            self._lay(number, np.s_[top[number] : bottom[number], left[number] : right[number]])

    def _lay(self, number: int, where: tuple[slice, slice]) -> None:
        """Put a tile into the first layer that is free, field by field."""
        open_ = np.ones_like(self.layers[0][where], dtype=bool)
        for layer in self.layers:
            free = open_ & (layer[where] < 0)
            layer[where] = np.where(free, number, layer[where])
            open_ &= ~free
            if not open_.any():
                return
        self.layers.append(np.full_like(self.layers[0], -1))
        self.layers[-1][where] = np.where(open_, number, -1)

    def owners(self, rows: Ints, columns: Ints) -> Iterator[Ints]:
        """Yield the number of the first tile at each post, then of the second, …; -1 for none."""
        i, j = _fields_at(self.rows, rows), _fields_at(self.columns, columns)
        inside = (i >= 0) & (i < self.layers[0].shape[0]) & (j >= 0)
        inside &= j < self.layers[0].shape[1]
        i, j = np.where(inside, i, 0), np.where(inside, j, 0)
        for layer in self.layers:
            yield np.where(inside, layer[i, j], -1)

    def is_gap(self, rows: Ints, columns: Ints) -> Bools:
        """Return whether no tile lies at posts, inside the outline of all or beyond it."""
        return next(self.owners(rows, columns)) < 0

    def has_gap(self, rows: tuple[int, int], columns: tuple[int, int]) -> bool:
        """Return whether there is such a post in a window."""
        i = _fields_at(self.rows, np.array([rows[0], rows[1] - 1]))
        j = _fields_at(self.columns, np.array([columns[0], columns[1] - 1]))
        first = self.layers[0]
        if min(i[0], j[0]) < 0 or i[1] >= first.shape[0] or j[1] >= first.shape[1]:
            return True
        return bool((first[i[0] : i[1] + 1, j[0] : j[1] + 1] < 0).any())

    def posts_seen(self) -> Ints:
        """Return, for each tile, on how many posts it is the first."""
        sizes = np.outer(np.diff(self.rows), np.diff(self.columns))
        first = self.layers[0] >= 0
        counts = np.bincount(self.layers[0][first], weights=sizes[first], minlength=len(self.box))
        return counts.astype(np.int64)

    def tiles_in(self, rows: tuple[int, int], columns: tuple[int, int]) -> list[int]:
        """Return the tiles that reach into a window of posts, first named first."""
        box = self.box
        meets = (box[:, 0] < rows[1]) & (box[:, 1] > rows[0])
        meets &= (box[:, 2] < columns[1]) & (box[:, 3] > columns[0])
        return [int(number) for number in np.flatnonzero(meets)]


def _fields_at(edges: Ints, posts: Ints) -> Ints:
    """Return in which field along one side posts lie; -1, or one too many, outside."""
    return np.searchsorted(edges, posts, side="right") - 1

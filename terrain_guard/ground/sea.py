"""The sea where no tile is: ground at 0 m, if the model's cards say so.

::

    ·   ·   ·   0   0     ·  post of a tile: its own, or missing if the tile has none
    ·   ?   ·   0   0     ?  missing in a tile: stays missing
    ·   ·   ·   0   0     0  post of no tile, however far out: the sea

Of tiles with larger cells than the lattice a post within their cells is theirs, so
that no sea runs between two tiles that lie side by side; what neither knows there
is missing.
"""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np

from terrain_guard.arrays import Bools, Floats, Ints
from terrain_guard.ground.blocks import Blocks
from terrain_guard.ground.fields import Fields
from terrain_guard.ground.layout import Layout, Tile
from terrain_guard.ground.mosaic import Mosaic

SEA_M = 0.0


class OverSea:
    """Posts and windows of a model, and the sea where no tile is.

    Parameters
    ----------
    land : Blocks or Mosaic
        The model. What it has read is counted there; posts of the sea were not read.
    layout : Layout
        Where its tiles lie.
    """

    def __init__(self, land: Blocks | Mosaic, layout: Layout) -> None:
        self._land = land
        self._said_in = layout.lattice.card.said_in["absent_is_sea"]
        self._fields = Fields(np.array([_cells(tile) for tile in layout.tiles]))

    def posts(self, rows: Ints, columns: Ints) -> Floats:
        """Return elevations (m) at posts of the lattice; NaN where missing."""
        found = self._land.posts(rows, columns)
        return np.where(self._fields.is_gap(rows, columns), SEA_M, found)

    def window(self, rows: tuple[int, int], columns: tuple[int, int]) -> Floats:
        """Return elevations (m) of the posts [start, stop) × [start, stop); NaN where missing."""
        found = self._land.window(rows, columns)
        if self._fields.has_gap(rows, columns):
            found[self._sea(rows, columns)] = SEA_M
        return found

    def remarks(self, windows: Sequence[tuple[int, int, int, int]]) -> tuple[str, ...]:
        """Return a sentence if there is sea in the windows; nothing otherwise.

        It tells the highest ground beside that sea: true shores are low.

        Parameters
        ----------
        windows : sequence of (top, bottom, left, right)
            Posts to look at, [start, stop) each.
        """
        found = [self._shore_m(window[:2], window[2:]) for window in windows
                 if self._fields.has_gap(window[:2], window[2:])]  # fmt: skip
        if not found:
            return ()
        shore_m = float(np.fmax.reduce(found))
        beside = "" if np.isnan(shore_m) else f"; ground beside it stands up to {shore_m:.1f} m"
        return (
            f"Where no tile is, the sea at {SEA_M:g} m was taken for ground, as {self._said_in} "
            f"says (absent_is_sea){beside}. Tide, waves and what stands in the water are not in "
            "it.",
        )

    def _shore_m(self, rows: tuple[int, int], columns: tuple[int, int]) -> float:
        sea, z = self._sea(rows, columns), self._land.window(rows, columns)
        beside = np.zeros_like(sea)
        beside[1:] |= sea[:-1]
        beside[:-1] |= sea[1:]
        beside[:, 1:] |= sea[:, :-1]
        beside[:, :-1] |= sea[:, 1:]
        known = z[beside & np.isfinite(z)]
        return float(known.max()) if known.size else float("nan")

    def _sea(self, rows: tuple[int, int], columns: tuple[int, int]) -> Bools:
        row, column = np.arange(*rows)[:, None], np.arange(*columns)
        return self._fields.is_gap(row, column)


def _cells(tile: Tile) -> tuple[int, int, int, int]:
    """Return the posts of the lattice that lie within a tile's cells, edges included."""
    top, bottom, left, right = tile.box
    down, across = tile.row_step // 2, tile.column_step // 2
    return top - down, bottom + down, left - across, right + across

"""Read a layout of tiles as if it were one raster: posts and windows of its lattice.

Each post is answered by the first tile that knows it (see `layout.lay_out`), so that stencils and
patches cross seams without gaps, duplicates on shared edges count once, and what
no tile knows is NaN. A tile is opened when one of its posts is first asked for.
"""

from __future__ import annotations

from collections.abc import Iterator

import numpy as np

from terrain_guard.arrays import Bools, Floats, Ints
from terrain_guard.errors import RefusedTerrain
from terrain_guard.ground import bilinear
from terrain_guard.ground.blocks import Blocks
from terrain_guard.ground.carded import carded
from terrain_guard.ground.fields import Fields
from terrain_guard.ground.layout import Layout
from terrain_guard.ground.raster import Raster, open_raster, same_description

LEAST_SEEN = 0.1
"""A tile that is the first on a smaller share of its posts is refused."""


class Mosaic:
    """Elevations on a layout's lattice, from whichever tile knows them.

    Parameters
    ----------
    layout : Layout
        Where each tile lies.
    doubted : bool
        Whether the tiles' descriptions may be out of date: then each is described anew
        when it is first read, and refused where it has changed.
    """

    def __init__(self, layout: Layout, *, doubted: bool = False) -> None:
        self.layout = layout
        self._doubted = doubted
        self._blocks: dict[int, Blocks] = {}
        self._fields = Fields(np.array([tile.box for tile in layout.tiles]))
        _refuse_hidden(layout, self._fields)

    # -- values ---------------------------------------------------------------

    def posts(self, rows: Ints, columns: Ints) -> Floats:
        """Return elevations (m) at posts of the lattice; NaN where missing or outside."""
        out = np.full(np.shape(rows), np.nan)
        unknown = np.arange(rows.size)
        for owner in self._fields.owners(rows, columns):
            for number, here in _by_tile(owner[unknown]):
                at = unknown[here]
                out[at] = self._posts_of(number, rows[at], columns[at])
            unknown = unknown[np.isnan(out[unknown])]
            if not unknown.size:
                break
        return out

    def window(self, rows: tuple[int, int], columns: tuple[int, int]) -> Floats:
        """Return elevations (m) of the posts [start, stop) × [start, stop); NaN outside."""
        out = np.full((rows[1] - rows[0], columns[1] - columns[0]), np.nan)
        for number in self._fields.tiles_in(rows, columns):
            tile = self.layout.tiles[number]
            top, bottom = max(rows[0], tile.row), min(rows[1], tile.last_row + 1)
            left, right = max(columns[0], tile.column), min(columns[1], tile.last_column + 1)
            part = out[top - rows[0] : bottom - rows[0], left - columns[0] : right - columns[0]]
            unknown = np.isnan(part)
            if unknown.any():
                found = self.window_of(number, (top, bottom), (left, right))
                np.copyto(part, found, where=unknown)
        return out

    def window_of(self, number: int, rows: tuple[int, int], columns: tuple[int, int]) -> Floats:
        """Return what one tile knows of a window; NaN where it has nothing."""
        tile = self.layout.tiles[number]
        if tile.is_on_every_post:
            return self._blocks_of(number).window(
                (rows[0] - tile.row, rows[1] - tile.row),
                (columns[0] - tile.column, columns[1] - tile.column),
            )
        row, column = np.meshgrid(np.arange(*rows), np.arange(*columns), indexing="ij")
        return self._posts_of(number, row.ravel(), column.ravel()).reshape(row.shape)

    def covers(self, row: Floats, column: Floats) -> Bools:
        """Return whether the posts round fractional posts belong to tiles, known or missing."""
        height, width = self.layout.lattice.height, self.layout.lattice.width
        with np.errstate(invalid="ignore"):
            inside = (row >= 0) & (row <= height - 1) & (column >= 0) & (column <= width - 1)
        low = [np.where(inside, np.floor(at), 0).astype(np.int64) for at in (row, column)]
        high = [np.where(inside, np.ceil(at), 0).astype(np.int64) for at in (row, column)]
        for rows in (low[0], high[0]):
            for columns in (low[1], high[1]):
                inside &= self.owner(rows, columns) >= 0
        return inside

    # -- seams ------------------------------------------------------------------------

    @property
    def edges(self) -> tuple[Ints, Ints]:
        """The rows and the columns at which tiles begin or, one farther, end."""
        return self._fields.rows, self._fields.columns

    def owner(self, rows: Ints, columns: Ints) -> Ints:
        """Return the number of the first tile at each post; -1 where there is none."""
        return next(self._fields.owners(rows, columns))

    def overlap(self, first: int, second: int) -> tuple[int, int, int, int] | None:
        """Return the window of posts that lie on two tiles, or None."""
        one, other = (self._fields.box[number] for number in (first, second))
        low, high = np.maximum(one, other), np.minimum(one, other)
        if low[0] >= high[1] or low[2] >= high[3]:
            return None
        return int(low[0]), int(high[1]), int(low[2]), int(high[3])

    def alike(self, first: int, second: int) -> bool:
        """Return whether two tiles have cells of one size."""
        one, other = (self.layout.tiles[number] for number in (first, second))
        return (one.row_step, one.column_step) == (other.row_step, other.column_step)

    # -- what was read ------------------------------------------------------------

    @property
    def read(self) -> dict[int, Blocks]:
        """The blocks of each tile that was read, by its number in the layout."""
        return {number: self._blocks[number] for number in sorted(self._blocks)
                if self._blocks[number].blocks_read}  # fmt: skip

    @property
    def blocks_read(self) -> int:
        """Blocks read so far, of all tiles."""
        return sum(blocks.blocks_read for blocks in self._blocks.values())

    @property
    def posts_read(self) -> int:
        """Posts read so far, of all tiles."""
        return sum(blocks.posts_read for blocks in self._blocks.values())

    @property
    def void_share_read(self) -> float:
        """Share of missing posts among all posts read so far."""
        voids = sum(blocks.voids_read for blocks in self._blocks.values())
        return voids / self.posts_read if self.posts_read else 0.0

    # -- tiles ----------------------------------------------------------------------

    def _posts_of(self, number: int, rows: Ints, columns: Ints) -> Floats:
        tile, blocks = self.layout.tiles[number], self._blocks_of(number)
        if tile.is_on_every_post:
            return blocks.posts(rows - tile.row, columns - tile.column)
        row, column = (rows - tile.row) / tile.row_step, (columns - tile.column) / tile.column_step
        return bilinear.elevation(blocks, row, column, (tile.raster.height, tile.raster.width))

    def _blocks_of(self, number: int) -> Blocks:
        if number not in self._blocks:
            raster = self.layout.tiles[number].raster
            if self._doubted:
                _refuse_changed(raster)
            self._blocks[number] = Blocks(raster)
        return self._blocks[number]


def _refuse_changed(raster: Raster) -> None:
    """Refuse a file that is not what it was when its description was noted."""
    if not same_description(carded(open_raster(raster.path), raster.card), raster):
        msg = (
            f"{raster.path.name!r} has changed though its size and time have not: run the program "
            "once more, or write the file anew"
        )
        raise RefusedTerrain(msg)


def _refuse_hidden(layout: Layout, fields: Fields) -> None:
    """Refuse a tile of which next to no post would count, unless it is there to fill holes."""
    seen = fields.posts_seen()
    for number, tile in enumerate(layout.tiles):
        rows, columns = tile.last_row - tile.row + 1, tile.last_column - tile.column + 1
        if seen[number] >= LEAST_SEEN * rows * columns:
            continue
        i = np.searchsorted(fields.rows, tile.row + rows // 2, side="right") - 1
        j = np.searchsorted(fields.columns, tile.column + columns // 2, side="right") - 1
        over = layout.tiles[int(fields.layers[0][i, j])]
        if tile.row_step * tile.column_step <= over.row_step * over.column_step:
            by_priority = over.raster.card.priority > tile.raster.card.priority
            why = "of higher priority" if by_priority else "named before it"
            remedy = "raise its priority" if by_priority else "name the better one first"
            msg = (
                f"{tile.raster.path.name!r} lies under {over.raster.path.name!r}, {why}, and would "
                f"not count: give one of the two, or {remedy}"
            )
            raise RefusedTerrain(msg)


def _by_tile(owner: Ints) -> Iterator[tuple[int, Ints | slice]]:
    """Yield each tile that occurs and where; -1 (none) is left out."""
    if owner.size and (owner == owner[0]).all():
        if owner[0] >= 0:
            yield int(owner[0]), np.s_[:]
        return
    order = np.argsort(owner, kind="stable")
    starts = np.flatnonzero(np.diff(owner[order], prepend=-2))
    for here in np.split(order, starts[1:]):
        if here.size and owner[here[0]] >= 0:
            yield int(owner[here[0]]), here

"""Read values, and only the blocks that are touched.

Missing ground is NaN from here on: declared nodata, masked cells, blocks a
sparse file never wrote, and every number that cannot be an elevation.
"""

from __future__ import annotations

import threading
from concurrent.futures import ThreadPoolExecutor
from typing import Any

import numpy as np
import rasterio
from numpy.typing import NDArray
from rasterio.errors import RasterioError
from rasterio.windows import Window

from terrain_guard.arrays import Bools, Floats, Ints
from terrain_guard.errors import RefusedTerrain
from terrain_guard.ground.raster import ENVIRONMENT, HIGHEST_M, LOWEST_M, Raster

RUN = 32  # blocks fetched in one read, side by side
WORTH_A_THREAD = 24  # blocks
HIDDEN_STEP_M = 50.0  # a lone zero that far below its neighbours is a hidden void
WATER_SHARE = 0.05  # from this share of zeros on, zeros with a low shore are taken for water
SENTINELS = (-32768, -9999, -99999)
"""Raw values that stand for missing ground, even where a scale would make them an elevation."""


class Blocks:
    """The blocks of one raster, read when first touched and kept.

    ::

        slot[block row, block column] ──> stack[k]   (block height × block width)
        -1: not read yet
    """

    def __init__(self, raster: Raster) -> None:
        self.raster = raster
        height, width = raster.block_shape
        self._shape = height, width
        self._grid = -(-raster.height // height), -(-raster.width // width)
        self._slot = np.full(self._grid[0] * self._grid[1], -1, dtype=np.int64)
        exact_in_32 = raster.dtype in (np.float32, np.int16, np.uint16)
        self._dtype = np.dtype(np.float32 if exact_in_32 else np.float64)
        self._stack = np.full((0, height, width), np.nan, dtype=self._dtype)
        self._factor = raster.scale * raster.unit_m
        self._shift = raster.offset * raster.unit_m
        self._thread = threading.local()
        self.blocks_read = 0
        self.posts_read = 0
        self.voids_read = 0

    # -- values ---------------------------------------------------------------

    def posts(self, rows: Ints, columns: Ints) -> Floats:
        """Return elevations (m) at whole-numbered posts; NaN where missing or outside.

        Parameters
        ----------
        rows, columns : (n,) int
            Post numbers; the same as cell numbers, at cell centres.
        """
        inside = self._inside(rows, columns)
        if not inside.all():
            out = np.full(np.shape(rows), np.nan)
            out[inside] = self.posts(rows[inside], columns[inside])
            return out
        height, width = self._shape
        block = (rows // height) * self._grid[1] + columns // width
        self._read(block)
        flat = (self._slot[block] * height + rows % height) * width + columns % width
        return self._metres(self._stack.ravel()[flat])

    def window(self, rows: tuple[int, int], columns: tuple[int, int]) -> Floats:
        """Return elevations (m) of the posts [start, stop) × [start, stop); NaN outside."""
        out = np.full((rows[1] - rows[0], columns[1] - columns[0]), np.nan)
        top, bottom = max(rows[0], 0), min(rows[1], self.raster.height)
        left, right = max(columns[0], 0), min(columns[1], self.raster.width)
        if top >= bottom or left >= right:
            return out
        height, width = self._shape
        block_rows = range(top // height, (bottom - 1) // height + 1)
        block_columns = range(left // width, (right - 1) // width + 1)
        self._read(np.array([i * self._grid[1] + j for i in block_rows for j in block_columns]))
        for i in block_rows:
            for j in block_columns:
                block = self._stack[self._slot[i * self._grid[1] + j]]
                r0, r1 = max(top, i * height), min(bottom, (i + 1) * height)
                c0, c1 = max(left, j * width), min(right, (j + 1) * width)
                out[r0 - rows[0] : r1 - rows[0], c0 - columns[0] : c1 - columns[0]] = block[
                    r0 - i * height : r1 - i * height, c0 - j * width : c1 - j * width
                ]
        return self._metres(out)

    @property
    def void_share_read(self) -> float:
        """Share of missing posts among all posts read so far."""
        return self.voids_read / self.posts_read if self.posts_read else 0.0

    def _inside(self, rows: Ints, columns: Ints) -> Bools:
        return (
            (rows >= 0)
            & (rows < self.raster.height)
            & (columns >= 0)
            & (columns < self.raster.width)
        )

    def _metres(self, raw: NDArray[Any]) -> Floats:
        values = raw.astype(np.float64, copy=False)
        if self._factor == 1.0 and self._shift == 0.0:
            return values
        return values * self._factor + self._shift

    # -- reading --------------------------------------------------------------

    def _read(self, blocks: Ints) -> None:
        wanted = np.zeros(self._slot.size, dtype=bool)
        wanted[blocks] = True
        missing = np.flatnonzero(wanted & (self._slot < 0))
        if not missing.size:
            return
        first = self.blocks_read
        self._make_room(first + missing.size)
        self._slot[missing] = np.arange(first, first + missing.size)
        self.blocks_read += missing.size
        runs = self._runs(missing)
        if missing.size < WORTH_A_THREAD:
            counts = [self._read_run(*run) for run in runs]
        else:
            with ThreadPoolExecutor(max_workers=2) as pool:
                counts = list(pool.map(lambda run: self._read_run(*run), runs))
        self.posts_read += sum(posts for posts, _ in counts)
        self.voids_read += sum(voids for _, voids in counts)

    def _make_room(self, needed: int) -> None:
        if needed <= len(self._stack):
            return
        room = max(needed, 2 * len(self._stack))
        grown = np.full((room, *self._shape), np.nan, dtype=self._dtype)
        grown[: self.blocks_read] = self._stack[: self.blocks_read]
        self._stack = grown

    def _runs(self, blocks: Ints) -> list[tuple[int, int, int]]:
        """Split sorted block numbers into (block row, first column, count) of neighbours."""
        row, column = np.divmod(blocks, self._grid[1])
        breaks = np.flatnonzero((np.diff(blocks) != 1) | (np.diff(row) != 0)) + 1
        runs = []
        for part in np.split(np.arange(blocks.size), breaks):
            for start in range(0, part.size, RUN):
                piece = part[start : start + RUN]
                runs.append((int(row[piece[0]]), int(column[piece[0]]), piece.size))
        return runs

    def _read_run(self, block_row: int, block_column: int, count: int) -> tuple[int, int]:
        height, width = self._shape
        top, left = block_row * height, block_column * width
        rows = min(height, self.raster.height - top)
        columns = min(width * count, self.raster.width - left)
        raw = self._fetch(Window(left, top, columns, rows))
        values = self._with_voids(raw, Window(left, top, columns, rows))
        voids = 0
        for k in range(count):
            slot = self._slot[block_row * self._grid[1] + block_column + k]
            part = values[:, k * width : (k + 1) * width]
            if self.raster.may_be_sparse and self._never_written(block_row, block_column + k):
                part[...] = np.nan
            self._stack[slot, : part.shape[0], : part.shape[1]] = part
            voids += int(np.count_nonzero(np.isnan(part)))
        return values.size, voids

    def _fetch(self, window: Window) -> NDArray[Any]:
        try:
            return np.asarray(self._dataset().read(1, window=window))
        except RasterioError as error:
            msg = (
                f"{self.raster.path.name!r} cannot be read near row {window.row_off}, column "
                f"{window.col_off} (cut short or damaged): fetch or copy the file again"
            )
            raise RefusedTerrain(msg) from error

    def _dataset(self) -> Any:
        """One handle a thread: GDAL's are not made to be shared."""
        if not hasattr(self._thread, "dataset"):
            with rasterio.Env(**ENVIRONMENT):
                self._thread.dataset = rasterio.open(self.raster.path)
        return self._thread.dataset

    def _with_voids(self, raw: NDArray[Any], window: Window) -> NDArray[Any]:
        low = (LOWEST_M - self._shift) / self._factor
        high = (HIGHEST_M - self._shift) / self._factor
        values = raw.astype(self._dtype, copy=False)
        known = (values >= min(low, high)) & (values <= max(low, high))  # NaN fails
        if self.raster.nodata is not None:
            known &= values != self._dtype.type(self.raster.nodata)
        if self._factor != 1.0 or self._shift != 0.0:
            known &= ~np.isin(values, SENTINELS)
        if self.raster.has_mask:
            known &= self._dataset().read_masks(1, window=window) != 0
        if not known.all():
            values = np.where(known, values, self._dtype.type(np.nan))
        return self._without_hidden_zeros(values)

    def _without_hidden_zeros(self, values: NDArray[Any]) -> NDArray[Any]:
        """Turn zeros far below their neighbours into voids; leave water alone.

        Many zeros are water if they have a low shore somewhere: then connected zeros
        are voids only where every known neighbour is far off. Few zeros are voids
        as soon as one neighbour is.
        """
        zero = values == 0
        if not zero.any():
            return values
        others = np.where(zero | np.isnan(values), 0, np.abs(values)) * abs(self._factor)
        suspect = zero & _spread(others > HIDDEN_STEP_M)
        if not suspect.any():
            return values
        from scipy import ndimage  # slow to import, seldom needed

        area, count = ndimage.label(zero, structure=np.ones((3, 3)))
        hidden = np.isin(np.arange(count + 1), area[suspect])
        if np.count_nonzero(zero) > WATER_SHARE * values.size:
            shore = zero & _spread((others > 0) & (others <= HIDDEN_STEP_M))
            hidden &= ~np.isin(np.arange(count + 1), area[shore])
        return np.where(hidden[area], self._dtype.type(np.nan), values)

    def _never_written(self, block_row: int, block_column: int) -> bool:
        name = f"BLOCK_OFFSET_{block_column}_{block_row}"
        return not self._dataset().get_tag_item(name, "TIFF", bidx=1)


def _spread(posts: Bools) -> Bools:
    """Return the posts and all their eight neighbours."""
    wide = np.pad(posts, 1)
    tall = wide[:-2] | wide[1:-1] | wide[2:]
    return np.asarray(tall[:, :-2] | tall[:, 1:-1] | tall[:, 2:])

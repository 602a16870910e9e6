"""Read values, and only the blocks that are touched.

Missing ground is NaN from here on: declared nodata, masked cells, blocks a
sparse file never wrote, and every number that cannot be an elevation.
"""

from __future__ import annotations

import itertools
from concurrent.futures import ThreadPoolExecutor
from typing import Any

import numpy as np
import rasterio
from numpy.typing import NDArray
from rasterio.errors import RasterioError
from rasterio.windows import Window

from terrain_guard.arrays import Bools, Floats, Ints
from terrain_guard.errors import RefusedTerrain
from terrain_guard.ground.hidden_zeros import without_hidden_zeros
from terrain_guard.ground.raster import ENVIRONMENT, HIGHEST_M, LOWEST_M, Raster, is_ellipsoidal

RUN = 32  # blocks side by side that are searched for voids together
THREADS = 2  # that read blocks, where many are to be read
WORTH_A_THREAD = 24  # blocks
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
        limits = ((limit - self._shift) / self._factor for limit in (LOWEST_M, HIGHEST_M))
        self._lowest, self._highest = sorted(limits)  # of the values in the file
        self._datasets: list[Any] = []
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
        block_row, block_column = rows // height, columns // width
        slot = self._slots(block_row * self._grid[1] + block_column)
        row, column = rows - block_row * height, columns - block_column * width
        return self._metres(self._stack.ravel()[(slot * height + row) * width + column])

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
        self._slots(np.array([i * self._grid[1] + j for i in block_rows for j in block_columns]))
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

    def _slots(self, blocks: Ints) -> Ints:
        """Return where the blocks are kept; those not yet there are read."""
        slots = self._slot[blocks]
        new = slots < 0
        if not new.any():
            return slots
        wanted = np.zeros(self._slot.size, dtype=bool)
        wanted[blocks[new]] = True
        self._read(np.flatnonzero(wanted))
        return self._slot[blocks]

    def _read(self, blocks: Ints) -> None:
        """Read blocks, given in order, into the next free slots."""
        first, windows = self.blocks_read, [self._window(block) for block in blocks.tolist()]
        self._make_room(first + blocks.size)
        parts = [
            self._stack[slot, : window.height, : window.width]
            for slot, window in enumerate(windows, first)
        ]
        with rasterio.Env(**ENVIRONMENT):  # caps GDAL's own cache as long as it lasts
            doubtful = self._fetched(windows, parts)
            for run in self._runs(blocks):
                if any(doubtful[run]):
                    self._look_closer(windows[run], parts[run])
        self._slot[blocks] = np.arange(first, first + blocks.size)  # now that all went well
        self.blocks_read += blocks.size
        self.posts_read += sum(part.size for part in parts)

    def _make_room(self, needed: int) -> None:
        if needed <= len(self._stack):
            return
        room = max(needed, 2 * len(self._stack))
        grown = np.full((room, *self._shape), np.nan, dtype=self._dtype)
        grown[: self.blocks_read] = self._stack[: self.blocks_read]
        self._stack = grown

    def _window(self, block: int) -> Window:
        row, column = divmod(block, self._grid[1])
        top, left = row * self._shape[0], column * self._shape[1]
        rows = min(self._shape[0], self.raster.height - top)
        return Window(left, top, min(self._shape[1], self.raster.width - left), rows)

    def _runs(self, blocks: Ints) -> list[slice]:
        """Split sorted block numbers into neighbours, side by side."""
        breaks = np.flatnonzero((np.diff(blocks) != 1) | (blocks[1:] % self._grid[1] == 0)) + 1
        ends = [0, *breaks.tolist(), blocks.size]
        return [
            slice(start, min(start + RUN, end))
            for begin, end in itertools.pairwise(ends)
            for start in range(begin, end, RUN)
        ]

    def _fetched(self, windows: list[Window], parts: list[NDArray[Any]]) -> list[bool]:
        """Fill the parts with what the file holds; return which of them need a closer look."""
        if len(windows) < WORTH_A_THREAD:
            return self._fetch(self._dataset(), windows, parts)
        shares = [slice(number, None, THREADS) for number in range(THREADS)]
        doubtful = [True] * len(windows)
        with ThreadPoolExecutor(max_workers=THREADS) as pool:
            found = pool.map(
                self._fetch,
                [self._dataset(number) for number in range(THREADS)],
                [windows[share] for share in shares],
                [parts[share] for share in shares],
            )
            for share, answer in zip(shares, found, strict=True):
                doubtful[share] = answer
        return doubtful

    def _fetch(self, dataset: Any, windows: list[Window], parts: list[NDArray[Any]]) -> list[bool]:
        doubtful = []
        for window, part in zip(windows, parts, strict=True):
            try:
                dataset.read(1, window=window, out=part)
            except RasterioError as error:
                msg = (
                    f"{self.raster.path.name!r} cannot be read near row {window.row_off}, column "
                    f"{window.col_off} (cut short or damaged): fetch or copy the file again"
                )
                raise RefusedTerrain(msg) from error
            doubtful.append(self._is_doubtful(part))
        return doubtful

    def _is_doubtful(self, values: NDArray[Any]) -> bool:
        """Return whether some post may be missing; mostly none is, and two passes show it."""
        least, most = values.min(), values.max()
        all_known = least >= self._lowest and most <= self._highest  # NaN fails
        suspects = [self._dtype.type(value) for value in (0, *SENTINELS)]
        if self.raster.nodata is not None:
            suspects.append(self._dtype.type(self.raster.nodata))
        return (
            self.raster.has_mask
            or not all_known
            or any(least <= suspect <= most for suspect in suspects)
        )

    def _look_closer(self, windows: list[Window], parts: list[NDArray[Any]]) -> None:
        """Turn what is missing in blocks side by side into NaN."""
        window = windows[0]
        wide = Window(window.col_off, window.row_off, sum(w.width for w in windows), window.height)
        values = self._with_voids(np.hstack(parts), wide)
        edges = np.cumsum([w.width for w in windows])[:-1]
        for part, w, known in zip(parts, windows, np.hsplit(values, edges), strict=True):
            never_written = self.raster.may_be_sparse and self._never_written(w)
            part[...] = np.nan if never_written else known
            self.voids_read += int(np.count_nonzero(np.isnan(part)))

    def _dataset(self, number: int = 0) -> Any:
        """Return one of the open handles; GDAL's are not made to be shared by threads.

        All are opened by the caller's thread: each new one would look up the
        reference system anew.
        """
        while number >= len(self._datasets):
            with rasterio.Env(**ENVIRONMENT):
                self._datasets.append(rasterio.open(self.raster.path))
        return self._datasets[number]

    def _with_voids(self, values: NDArray[Any], window: Window) -> NDArray[Any]:
        known = (values >= self._lowest) & (values <= self._highest)  # NaN fails
        if self.raster.nodata is not None:
            known &= values != self._dtype.type(self.raster.nodata)
        if self._factor != 1.0 or self._shift != 0.0:
            known &= ~np.isin(values, SENTINELS)
        if self.raster.has_mask:
            known &= self._dataset().read_masks(1, window=window) != 0
        if not known.all():
            values = np.where(known, values, self._dtype.type(np.nan))
        vertical = self.raster.vertical
        return without_hidden_zeros(
            values,
            metres=self._factor,
            from_ellipsoid=vertical is not None and is_ellipsoidal(vertical),
        )

    def _never_written(self, window: Window) -> bool:
        row, column = window.row_off // self._shape[0], window.col_off // self._shape[1]
        name = f"BLOCK_OFFSET_{column}_{row}"
        return not self._dataset().get_tag_item(name, "TIFF", bidx=1)

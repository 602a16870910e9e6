"""Ground cut into tiles, and the whole it was cut from."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

import numpy as np
import rasterio
from rasterio.transform import Affine

from tests.rasters import write_raster

if TYPE_CHECKING:
    from collections.abc import Collection
    from pathlib import Path


def cut(
    path: Path,
    folder: Path,
    *,
    pieces: int = 5,
    shared: int = 0,
    left_out: Collection[tuple[int, int]] = (),
    **more: Any,
) -> list[Path]:
    """Cut a raster into `pieces` × `pieces` tiles and return them by row, then column.

    Parameters
    ----------
    shared : int
        How many rows and columns of the next tile each holds too: 0 or 1 in tiles on sale.
    left_out : collection of (row, column)
        Tiles that are not written.
    more
        To `write_raster`.
    """
    folder.mkdir()
    written, digits = [], len(str(pieces - 1))
    with rasterio.open(path) as whole:
        heights = whole.read(1)
        rows = np.linspace(0, whole.height, pieces + 1).astype(int).tolist()
        columns = np.linspace(0, whole.width, pieces + 1).astype(int).tolist()
        for i in range(pieces):
            for j in range(pieces):
                bottom = min(rows[i + 1] + shared, whole.height)
                right = min(columns[j + 1] + shared, whole.width)
                if (i, j) in left_out:
                    continue
                tile = write_raster(
                    folder / f"tile_{i:0{digits}}{j:0{digits}}.tif",
                    heights[rows[i] : bottom, columns[j] : right],
                    transform=whole.transform @ Affine.translation(columns[j], rows[i]),
                    crs=whole.crs,
                    nodata=whole.nodata,
                    **more,
                )
                written.append(tile)
    return written


def seam_posts(path: Path, pieces: int = 5) -> tuple[list[int], list[int]]:
    """Return the rows and columns at which tiles begin, the first left out."""
    with rasterio.open(path) as whole:
        rows = np.linspace(0, whole.height, pieces + 1).astype(int)
        columns = np.linspace(0, whole.width, pieces + 1).astype(int)
    return rows[1:-1].tolist(), columns[1:-1].tolist()

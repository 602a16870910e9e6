"""Writing rasters for tests."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING, Any

import numpy as np
import rasterio

if TYPE_CHECKING:
    from numpy.typing import NDArray


def write_raster(
    path: Path,
    array: NDArray[Any],
    *,
    transform: rasterio.Affine,
    crs: object,
    nodata: float | None = None,
    **profile: object,
) -> Path:
    """Write `array` as a one-band GeoTIFF and return `path`.

    Parameters
    ----------
    path : Path
        Where to; the folder exists.
    array : ndarray, shape (rows, columns)
        Heights, in whatever type the file is to have.
    transform : Affine
        From (column, row) of cell corners to coordinates.
    crs : str, CRS or None
        Anything rasterio takes; None writes a file without one.
    nodata : float, optional
        Declared as missing; the array is written as it is.
    **profile : object
        Passed to rasterio, for instance ``tiled=True, blockxsize=256``.
    """
    rows, columns = np.shape(array)
    settings = {"driver": "GTiff", "count": 1, "dtype": array.dtype.name, **profile}
    with rasterio.open(
        path,
        "w",
        width=columns,
        height=rows,
        transform=transform,
        crs=crs,
        nodata=nodata,
        **settings,
    ) as dataset:
        dataset.write(array, 1)
    return path

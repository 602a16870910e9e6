"""Terrain with a known fault in a known place, for the tests of the inspection."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

import numpy as np
import pyproj
import rasterio

from terrain_guard.ground.inspect import inspect
from tests.rasters import write_raster

if TYPE_CHECKING:
    from collections.abc import Callable
    from pathlib import Path

    from numpy.typing import NDArray

    from terrain_guard.ground.inspect import Inspection
    from terrain_guard.ground.inspect_doubts import Suspicion

    Heights = NDArray[Any]

TILES: dict[str, Any] = {"tiled": True, "blockxsize": 64, "blockysize": 64}
"""So that parts of 64 x 64 posts can be cut."""


def heights_of(path: Path) -> Heights:
    """Return the values of a raster as they stand in the file."""
    with rasterio.open(path) as dataset:
        return np.asarray(dataset.read(1))


def changed(
    source: Path, folder: Path, change: Callable[[Heights], Heights | None], **profile: Any
) -> Path:
    """Write a copy of a raster after `change` was made to its heights."""
    heights = heights_of(source)
    answer = change(heights)
    heights = heights if answer is None else answer
    with rasterio.open(source) as dataset:
        return write_raster(
            folder / "changed.tif",
            heights,
            transform=dataset.transform,
            crs=dataset.crs,
            nodata=dataset.nodata,
            **profile,
        )


def found(path: Path, **options: Any) -> dict[str, Suspicion]:
    """Return the suspicions about a file by kind; no kind may come twice."""
    model: Inspection = inspect(path, **options)
    kinds = [one.kind.value for one in model.suspicions]
    assert len(kinds) == len(set(kinds))
    return {one.kind.value: one for one in model.suspicions}


def place_of(path: Path, row: int, column: int) -> tuple[float, float]:
    """Return (lat, lon) of a post by rasterio and pyproj."""
    with rasterio.open(path) as dataset:
        to_degrees = pyproj.Transformer.from_crs(dataset.crs, "EPSG:4326", always_xy=True)
        lon, lat = to_degrees.transform(*dataset.xy(row, column))
    return lat, lon


def tilted(rows: int, columns: int, *, slope: float, cell_m: float, turn_deg: float) -> Heights:
    """Return an even slope (rise over run), uphill towards `turn_deg` from east, 1000 m mid-way."""
    j, i = np.meshgrid(np.arange(columns), np.arange(rows))
    turn = np.radians(turn_deg)
    run = (j - columns / 2) * np.cos(turn) + (rows / 2 - i) * np.sin(turn)
    return np.asarray(1000.0 + slope * cell_m * run, dtype=np.float32)

"""Terrain made for the tests of this room: copies of real pieces, and planes."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

import numpy as np
import pyproj
import rasterio
from rasterio.transform import Affine
from scipy.ndimage import map_coordinates

from terrain_guard.ground.model import Ground
from tests.rasters import write_raster

if TYPE_CHECKING:
    from collections.abc import Callable
    from pathlib import Path

    from numpy.typing import NDArray

    from terrain_guard.arrays import Floats
    from tests.reference import Terrain

    Floats64 = NDArray[np.float64]

UTM31N = "EPSG:32631"
CORNER = (500_000.0, 5_000_000.0)
"""Easting and northing of the corner of made terrain: 3 degrees east, about 45 north."""


# ---------------------------------------------------------------- copies of real terrain


def as_it_is(path: Path, _folder: Path) -> Path:
    """Return the real thing."""
    return path


def south_up(path: Path, folder: Path) -> Path:
    """Return the same ground, rows from south to north."""
    with rasterio.open(path) as source:
        flipped = Affine(1.0, 0.0, 0.0, 0.0, -1.0, float(source.height))
        return write_raster(
            folder / "south_up.tif",
            source.read(1)[::-1],
            transform=source.transform @ flipped,
            crs=source.crs,
            nodata=source.nodata,
        )


def rotated(path: Path, folder: Path) -> Path:
    """Return the array turned by 27 degrees about its middle, in the same system."""
    with rasterio.open(path) as source:
        middle = source.width / 2, source.height / 2
        turn = Affine.translation(*middle) @ Affine.rotation(27.0)
        turn = turn @ Affine.translation(-middle[0], -middle[1])
        return write_raster(
            folder / "rotated.tif",
            source.read(1),
            transform=source.transform @ turn,
            crs=source.crs,
            nodata=source.nodata,
        )


def _placed(name: str, transform: Affine, crs: str) -> Callable[[Path, Path], Path]:
    def copy(path: Path, folder: Path) -> Path:
        with rasterio.open(path) as source:
            return write_raster(
                folder / name, source.read(1), transform=transform, crs=crs, nodata=source.nodata
            )

    return copy


COPIES: dict[str, Callable[[Path, Path], Path]] = {
    "as it is": as_it_is,
    "south-up": south_up,
    "rotated": rotated,
    # The same array put down elsewhere, in other systems; cells not square but for the UTM one.
    "degrees": _placed("degrees.tif", Affine(4e-4, 0, -119.4, 0, -3e-4, 37.7), "EPSG:4326"),
    "NAD27 degrees": _placed("nad27.tif", Affine(4e-4, 0, -119.4, 0, -3e-4, 37.7), "EPSG:4267"),
    "UTM": _placed("utm.tif", Affine(30, 0, 290_000, 0, -30, 4_180_000), "EPSG:32611"),
    "web map": _placed("web.tif", Affine(38, 0, -13.29e6, 0, -37, 4.53e6), "EPSG:3857"),
    "polar": _placed("polar.tif", Affine(30, 4, -2.4e6, -5, -31, 1.2e6), "EPSG:3413"),
}
"""Ways to copy a raster: from the file and a folder to the copy's path."""


def places(terrain: Terrain, count: int, *, seed: int = 1) -> tuple[Floats64, Floats64]:
    """Return (row, column) anywhere between the outermost posts, a quarter in edge cells."""
    random = np.random.default_rng(seed)
    rows, columns = terrain.heights_m.shape
    row = random.uniform(1e-6, rows - 1 - 1e-6, count)
    column = random.uniform(1e-6, columns - 1 - 1e-6, count)
    sixteenth = count // 16
    for k, first in enumerate((0, rows - 2, 0, columns - 2)):
        here = slice(k * sixteenth, (k + 1) * sixteenth)
        (row if k < 2 else column)[here] = first + random.uniform(1e-6, 1 - 1e-6, sixteenth)
    return row, column


def scipy_surface(z: Floats, row: Floats, column: Floats) -> Floats64:
    """Return SciPy's bilinear surface over posts, NaN where a post with weight is missing."""
    missing = np.isnan(z).astype(float)
    found = map_coordinates(np.nan_to_num(z), [row, column], order=1)
    share = map_coordinates(missing, [row, column], order=1)
    return np.where(share > 0, np.nan, found)


# ---------------------------------------------------------------- made terrain


def utm_raster(folder: Path, heights: NDArray[Any], *, cell_m: float = 10.0, **more: Any) -> Path:
    """Write heights as a north-up raster whose corner is CORNER; `more` goes to `write_raster`."""
    settings = {"transform": Affine(cell_m, 0, CORNER[0], 0, -cell_m, CORNER[1]), "crs": UTM31N}
    return write_raster(folder / more.pop("name", "made.tif"), heights, **{**settings, **more})


def at_utm(ground: Ground, east: Floats | list[float], north: Floats | list[float]) -> Floats:
    """Return the ground at easting and northing in zone 31, by way of longitude and latitude."""
    to_lonlat = pyproj.Transformer.from_crs(UTM31N, "EPSG:4326", always_xy=True)
    lon, lat = to_lonlat.transform(np.asarray(east, float), np.asarray(north, float))
    return ground.elevation(lon, lat)


def at_posts(ground: Ground, rows: list[float], columns: list[float]) -> Floats:
    """Return the ground at (row, column) counted between posts."""
    return ground.elevation_at(np.array(rows, float), np.array(columns, float))


def hills(rows: int, columns: int, *, seed: int = 3, low_m: float = 300.0) -> Floats64:
    """Return rough ground between `low_m` and 200 m more, every post different."""
    random = np.random.default_rng(seed)
    return low_m + random.uniform(0.0, 200.0, (rows, columns))

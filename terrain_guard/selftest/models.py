"""Terrain whose height is a formula, written as GeoTIFF.

Every place is metres east and north of a spot in the open ocean; a post stands on
every whole multiple of the cell. `OCEAN` lies on the middle meridian of a UTM zone,
where the grid points north and its scale is 0.9996 by definition, so its grid
coordinates follow from the length of the meridian alone, without a projection.
`ANTIMERIDIAN` lies on the equator, where a degree of longitude is an arc of the
equator; its raster is in degrees and runs across 180.

Both are true to 10⁻⁸ within a kilometre of their spot.
"""

from __future__ import annotations

import math
from collections.abc import Callable
from dataclasses import dataclass
from pathlib import Path
from typing import Final

import numpy as np
import pyproj
import rasterio

from terrain_guard.arrays import Floats

Surface = Callable[[Floats, Floats], Floats]
"""Elevation (m) from metres east and north of the spot; NaN where ground is missing."""

GEODESIC: Final = pyproj.Geod(ellps="WGS84")
EQUATOR_DEGREE_M: Final = math.radians(GEODESIC.a)
"""A degree of longitude on the equator: a π / 180."""
NODATA: Final = -9999.0
FOOT_M: Final = 0.3048
"""The international foot, exact since 1959; written here anew, so as not to test it by itself."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Frame:
    """Metres east and north of a spot, and where they fall in a raster's own system."""

    lat_deg: float
    lon_deg: float
    crs: str
    origin: tuple[float, float]  # the spot in that system
    per_metre: tuple[float, float]  # one metre east, one metre north

    def lat_lon(self, east_m: float, north_m: float) -> tuple[float, float]:
        """Return the latitude and longitude of a place, degrees."""
        azimuth = math.degrees(math.atan2(east_m, north_m))
        far = math.hypot(east_m, north_m)
        lon, lat, _ = GEODESIC.fwd(self.lon_deg, self.lat_deg, azimuth, far)
        return float(lat), float(lon)

    def east_m(self, *, lat_deg: Floats, lon_deg: Floats) -> Floats:
        """Return how far east of the spot points lie."""
        here_lat, here_lon = (
            np.full_like(lat_deg, self.lat_deg),
            np.full_like(lon_deg, self.lon_deg),
        )
        azimuth, _, far = GEODESIC.inv(here_lon, here_lat, lon_deg, lat_deg)
        return np.asarray(far * np.sin(np.radians(azimuth)))

    def metres_from(
        self, place: tuple[float, float], *, lat_deg: Floats | float, lon_deg: Floats | float
    ) -> Floats:
        """Return how far points lie from a place (east, north); NaN from unknown points."""
        lat, lon = np.atleast_1d(lat_deg).astype(float), np.atleast_1d(lon_deg).astype(float)
        here_lat, here_lon = self.lat_lon(*place)
        same = np.ones_like(lat)
        return np.asarray(GEODESIC.inv(lon, lat, here_lon * same, here_lat * same)[2])


def _ocean(lat_deg: float, middle_meridian_deg: float, crs: str) -> Frame:
    """Return a frame on the middle meridian of a southern UTM zone."""
    _, _, arc_m = GEODESIC.inv(middle_meridian_deg, 0.0, middle_meridian_deg, lat_deg)
    scale, false_east, false_north = 0.9996, 500_000.0, 10_000_000.0  # the definition of UTM
    return Frame(
        lat_deg=lat_deg,
        lon_deg=middle_meridian_deg,
        crs=crs,
        origin=(false_east, false_north - scale * arc_m),
        per_metre=(scale, scale),
    )


def _antimeridian() -> Frame:
    """Return a frame on the equator at 180; degrees grow on beyond 180."""
    meridian_degree_m = EQUATOR_DEGREE_M * (1 - GEODESIC.es)  # a (1 − e²) curves the meridian here
    return Frame(
        lat_deg=0.0,
        lon_deg=180.0,
        crs="EPSG:4326",
        origin=(180.0, 0.0),
        per_metre=(1 / EQUATOR_DEGREE_M, 1 / meridian_degree_m),
    )


OCEAN: Final = _ocean(-38.0, -93.0, "EPSG:32715")
ANTIMERIDIAN: Final = _antimeridian()


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Model:
    """An elevation model of a surface."""

    name: str
    surface: Surface
    box_m: tuple[float, float, float, float]  # west, south, east, north: the outermost posts
    cell_m: float = 1.0
    turned_deg: float = 0.0  # the whole grid, anticlockwise about the spot
    unit_m: float = 1.0  # of its heights
    tiles: int = 1  # side by side, from west to east
    frame: Frame = OCEAN

    def write(self, folder: Path) -> list[Path]:
        """Write the model as one or more GeoTIFFs and return them."""
        columns = np.array_split(np.arange(self._shape[1], dtype=float), self.tiles)
        return [
            self._write_tile(folder / f"{self.name}-{number}.tif", those)
            for number, those in enumerate(columns, start=1)
        ]

    @property
    def _shape(self) -> tuple[int, int]:
        west, south, east, north = self.box_m
        return round((north - south) / self.cell_m) + 1, round((east - west) / self.cell_m) + 1

    def _write_tile(self, path: Path, columns: Floats) -> Path:
        row, column = np.meshgrid(np.arange(self._shape[0], dtype=float), columns, indexing="ij")
        heights = self.surface(*self._place(row, column)) / self.unit_m
        values = np.where(np.isnan(heights), NODATA, heights).astype(np.float32)
        with rasterio.open(
            path, "w", driver="GTiff", count=1, dtype="float32", nodata=NODATA,
            height=values.shape[0], width=values.shape[1],
            crs=self.frame.crs, transform=self._transform(float(columns[0])),
        ) as file:  # fmt: skip
            file.write(values, 1)
            file.units = ("ft" if self.unit_m == FOOT_M else "m",)
        return path

    def _place(self, row: Floats | float, column: Floats | float) -> tuple[Floats, Floats]:
        """Return how far east and north of the spot (fractional) posts stand."""
        along, across = self.box_m[0] + column * self.cell_m, self.box_m[3] - row * self.cell_m
        cos, sin = math.cos(math.radians(self.turned_deg)), math.sin(math.radians(self.turned_deg))
        return np.asarray(along * cos - across * sin), np.asarray(along * sin + across * cos)

    def _transform(self, first_column: float) -> rasterio.Affine:
        """Return the six numbers that lead from corners of cells to coordinates."""
        corner, right, down = (
            np.array(self.frame.origin) + np.array(self.frame.per_metre) * self._place(row, column)
            for row, column in (
                (-0.5, first_column - 0.5), (-0.5, first_column + 0.5), (0.5, first_column - 0.5),
            )
        )  # fmt: skip
        (a, d), (b, e), (c, f) = right - corner, down - corner, corner
        return rasterio.Affine(a, b, c, d, e, f)

"""An independent slow walk along one ray: cell by cell, by other people's surface.

Nothing here imports the package under test. The raster is read whole, places come from
pyproj and the affine, the surface from SciPy's `map_coordinates(order=1)`. Metres along are
a parabola of the share of the chord through the geodesics to its end and its middle; how
far that is from the geodesic elsewhere has a test of its own. A chord is cut at every line
of posts; the best of 17 points of each part is closed in on, four times, until parts are
1e-5 of a cell long.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

import numpy as np
import pyproj
import rasterio
from scipy.ndimage import map_coordinates

if TYPE_CHECKING:
    from pathlib import Path

    from numpy.typing import NDArray

    Floats = NDArray[np.floating[Any]]

GEODESIC = pyproj.Geod(ellps="WGS84")
RADIUS_M = 6_371_000.0
POINTS = 17
ZOOMS = 5
BEST = 8

Value = Callable[["Floats", "Floats", float], "Floats"]
"""From metres along, ground, and length of the ray to what is sought at its greatest."""


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Walker:
    """A raster in memory."""

    z: Floats
    known: Floats  # z with a margin of two posts, and zeros where it is missing
    missing: Floats  # one where it is
    affine: rasterio.Affine
    crs: pyproj.CRS

    @classmethod
    def over(cls, path: Path) -> Walker:
        """Read the whole raster; nodata becomes NaN."""
        with rasterio.open(path) as source:
            z = source.read(1).astype(float)
            if source.nodata is not None:
                z[z == source.nodata] = np.nan
            return cls(
                z=z,
                known=np.pad(np.nan_to_num(z), 2),
                missing=np.pad(np.isnan(z), 2, constant_values=True).astype(float),
                affine=source.transform,
                crs=pyproj.CRS(source.crs.to_wkt()),
            )

    def posts(self, lon: Floats | float, lat: Floats | float) -> tuple[Floats, Floats]:
        """Return (row, column) among cell centres."""
        x, y = pyproj.Transformer.from_crs(4326, self.crs, always_xy=True).transform(lon, lat)
        column, row = ~self.affine @ (np.asarray(x), np.asarray(y))
        return row - 0.5, column - 0.5

    def degrees(self, row: Floats, column: Floats) -> tuple[Floats, Floats]:
        """Return (lon, lat) of fractional posts."""
        x, y = self.affine @ (column + 0.5, row + 0.5)
        to = pyproj.Transformer.from_crs(self.crs, 4326, always_xy=True)
        lon, lat = to.transform(x, y)
        return np.asarray(lon), np.asarray(lat)

    def ground(self, row: Floats, column: Floats) -> Floats:
        """Return SciPy's bilinear surface; NaN where a post with weight is missing or outside."""
        at = [
            np.clip(row, -2, self.z.shape[0] + 1) + 2,
            np.clip(column, -2, self.z.shape[1] + 1) + 2,
        ]
        share = map_coordinates(self.missing, at, order=1)
        return np.where(share > 1e-9, np.nan, map_coordinates(self.known, at, order=1))

    def walk(
        self,
        start: tuple[float, float],
        end: tuple[float, float],
        value: Value,
        *,
        from_m: float = 0.0,
        to_m: float = np.inf,
    ) -> tuple[float, float]:
        """Return (greatest value over known ground, metres along) of a ray between degrees."""
        (r0, c0), (r1, c1) = (self.posts(*place) for place in (start, end))
        length = float(self.metres(start, r1, c1))
        bend = 4 * float(self.metres(start, (r0 + r1) / 2, (c0 + c1) / 2)) / length - 2
        cuts = [0.0, 1.0]
        for a, b in ((r0, r1), (c0, c1)):
            lines = np.arange(np.ceil(min(a, b)), np.floor(max(a, b)) + 1)
            cuts += list((lines - a) / (b - a)) if a != b else []
        ends = [
            _share_at(metres / length, bend) if 0 < metres < length else all_
            for metres, all_ in ((from_m, 0.0), (to_m, 1.0))
        ]
        share = np.unique(np.clip(np.array([*cuts, *ends]), ends[0], ends[1]))
        low, high = share[:-1], share[1:]
        best, at_m = -np.inf, np.nan
        for _ in range(ZOOMS):
            s = low[:, None] + np.linspace(0, 1, POINTS) * (high - low)[:, None]
            row, column = r0 + s * (r1 - r0), c0 + s * (c1 - c0)
            along = length * s * (1 + bend * (1 - s))
            found = value(along, self.ground(row, column), length)
            found = np.where(np.isnan(found), -np.inf, found)
            k = np.unravel_index(np.argmax(found), found.shape)
            if found[k] > best:
                best, at_m = float(found[k]), float(along[k])
            part = np.argmax(found, axis=1)
            step = (high - low) / (POINTS - 1)
            middle = low + part * step
            # Between two of 17 points a parabola hides less than a thousandth of its rise.
            worth = np.argsort(found.max(axis=1))[-BEST:]
            low, high = (
                np.maximum(middle - step, low)[worth],
                np.minimum(middle + step, high)[worth],
            )
        return best, at_m

    def first_unknown_m(self, start: tuple[float, float], end: tuple[float, float]) -> float:
        """Return metres to the first unknown ground, to a thousandth of a cell; inf: none."""
        (r0, c0), (r1, c1) = (self.posts(*place) for place in (start, end))
        s = np.linspace(0, 1, int(np.hypot(r1 - r0, c1 - c0) * 1000) + 2)
        row, column = r0 + s * (r1 - r0), c0 + s * (c1 - c0)
        unknown = np.flatnonzero(np.isnan(self.ground(row, column)))
        if not unknown.size:
            return np.inf
        return float(self.metres(start, row[unknown[0]], column[unknown[0]]))

    def metres(self, start: tuple[float, float], row: Floats, column: Floats) -> Floats:
        """Return geodesic metres from a place in degrees to fractional posts."""
        lon, lat = self.degrees(np.asarray(row), np.asarray(column))
        same = np.ones_like(lon)
        return np.asarray(GEODESIC.inv(start[0] * same, start[1] * same, lon, lat)[2])


def _share_at(part: float, bend: float) -> float:
    """Return the share at which a part of the length is reached, by halving."""
    low, high = 0.0, 1.0
    for _ in range(60):
        s = (low + high) / 2
        low, high = (s, high) if s * (1 + bend * (1 - s)) < part else (low, s)
    return low


def over(start_m: float, end_m: float, sign: float = 1.0) -> Value:
    """Ground above a line linear in metres; or, with sign −1, below it."""
    return lambda along, ground, length: (
        sign * (ground - (start_m + (end_m - start_m) * along / length))
    )


def slope(eye_m: float, k: float) -> Value:
    """Slope from an eye to ground that drops by ρ² / 2kR."""
    return lambda along, ground, _: (
        (ground - along**2 / (2 * k * RADIUS_M) - eye_m) / np.maximum(along, 1e-9)
    )


def fresnel(start_m: float, end_m: float, wavelength_m: float, k: float) -> Value:
    """Ground above a straight path over a bulging earth, in radii of the first zone."""

    def value(along: Floats, ground: Floats, length: float) -> Floats:
        product = np.maximum(along * (length - along), 1e-9)
        above = (
            ground + product / (2 * k * RADIUS_M) - (start_m + (end_m - start_m) * along / length)
        )
        return above / np.sqrt(wavelength_m * product / length)

    return value

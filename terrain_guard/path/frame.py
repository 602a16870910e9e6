"""Metres on the ground: geodesics, and a local metric frame.

The frame is the azimuthal equidistant projection about its centre on the
WGS 84 ellipsoid (J. P. Snyder, *Map Projections: A Working Manual*, USGS
Professional Paper 1395, 1987, chapter 25). Distances from the centre are exact;
across the radius they are long by r²/6R²: 4·10⁻⁷ at 10 km, 4·10⁻⁵ at 100 km.
"""

from __future__ import annotations

from typing import Final

import numpy as np
import pyproj
from numpy.typing import ArrayLike

from terrain_guard.arrays import Floats

WGS84: Final = pyproj.Geod(ellps="WGS84")


def geodesic(lon_deg: ArrayLike, lat_deg: ArrayLike) -> Floats:
    """Return geodesic lengths (m) between neighbouring points on WGS 84.

    Parameters
    ----------
    lon_deg, lat_deg : (n,) float
        Degrees.

    Returns
    -------
    (n - 1,) float
        C. F. F. Karney, *Algorithms for geodesics*, J. Geodesy 87, 2013.

    Examples
    --------
    >>> float(geodesic([0.0, 0.0], [0.0, 1.0]).round(3)[0])
    110574.389
    """
    lon, lat = np.asarray(lon_deg, dtype=float), np.asarray(lat_deg, dtype=float)
    _, _, length = WGS84.inv(lon[:-1], lat[:-1], lon[1:], lat[1:])
    return np.asarray(length, dtype=float)


class LocalFrame:
    """East and north in metres about a centre.

    Parameters
    ----------
    lon_deg, lat_deg : float
        The centre, WGS 84.
    """

    def __init__(self, *, lon_deg: float, lat_deg: float) -> None:
        self.lon_deg = lon_deg
        self.lat_deg = lat_deg
        self._projection = pyproj.Proj(proj="aeqd", lat_0=lat_deg, lon_0=lon_deg, ellps="WGS84")

    @classmethod
    def around(cls, lon_deg: ArrayLike, lat_deg: ArrayLike) -> LocalFrame:
        """Return a frame in the middle of the points, across the antimeridian too."""
        lon, lat = np.asarray(lon_deg, dtype=float), np.asarray(lat_deg, dtype=float)
        offset = (lon - lon.flat[0] + 180) % 360 - 180
        middle = lon.flat[0] + (offset.min() + offset.max()) / 2
        return cls(
            lon_deg=float((middle + 180) % 360 - 180),
            lat_deg=float((lat.min() + lat.max()) / 2),
        )

    def to_local(self, lon_deg: ArrayLike, lat_deg: ArrayLike) -> tuple[Floats, Floats]:
        """Return (east, north) in metres, arrays of the input's shape."""
        x, y = self._projection(np.asarray(lon_deg, dtype=float), np.asarray(lat_deg, dtype=float))
        return np.asarray(x, dtype=float), np.asarray(y, dtype=float)

    def to_degrees(self, x_m: ArrayLike, y_m: ArrayLike) -> tuple[Floats, Floats]:
        """Return (longitude, latitude) in degrees, arrays of the input's shape."""
        lon, lat = self._projection(
            np.asarray(x_m, dtype=float), np.asarray(y_m, dtype=float), inverse=True
        )
        return np.asarray(lon, dtype=float), np.asarray(lat, dtype=float)

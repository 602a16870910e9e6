"""Heights above sea level or the ellipsoid, as elevations of the model.

Only a model that states its vertical datum can be tied to either. Where the two
count from different zeros, a geoid grid stands between them (`geoid`).
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Final

import numpy as np
import pyproj
from numpy.typing import ArrayLike

from terrain_guard.arrays import Floats
from terrain_guard.errors import RefusedTerrain
from terrain_guard.ground.geoid import EGM96, Geoid, geoid_near, zero_above_ellipsoid
from terrain_guard.ground.raster import is_ellipsoidal

GEOID_DOUBT_M: Final = 5.0
"""A difference that is nearer than this to the geoid height is taken for it."""


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Tied:
    """What to add to heights so that they are elevations of the model, and how it was found."""

    add_m: Floats
    said: str  # a sentence without its full stop


def tie(
    counted_from: str,
    vertical: pyproj.CRS | None,
    lon_deg: ArrayLike,
    lat_deg: ArrayLike,
    *,
    model: str,
) -> Tied:
    """Tie heights to an elevation model.

    Parameters
    ----------
    counted_from : str
        "sea-level" or "ellipsoid" (WGS 84). Sea level is the model's own zero where it counts
        from one, else the EGM96 geoid.
    vertical : CRS or None
        The model's vertical system; None where it does not state one.
    lon_deg, lat_deg : (n,) float
        Where the heights are, WGS 84 degrees.
    model : str
        The model's name, for messages.

    Raises
    ------
    RefusedTerrain
        The model does not state its vertical datum, or the geoid grid needed is not at hand.
    """
    given = f"heights = {counted_from!r}"
    if vertical is None:
        msg = (
            f"{given} needs an elevation model that states its vertical datum, and {model} does "
            "not: write it into the file (for example with gdal_edit -a_srs EPSG:4326+5773) or "
            "beside it, as vertical_datum in NAME.tif.toml, or use heights = 'launch' or 'ground'"
        )
        raise RefusedTerrain(msg)
    if counted_from == "sea-level" and not is_ellipsoidal(vertical):
        return Tied(add_m=np.zeros(np.size(lon_deg)), said=_own_sea_level(vertical))
    of_model = zero_above_ellipsoid(vertical, lon_deg, lat_deg, needed_for=given)
    if counted_from == "ellipsoid":
        return Tied(add_m=-of_model.above_ellipsoid_m, said=_through(given, of_model, vertical))
    sea = zero_above_ellipsoid(EGM96, lon_deg, lat_deg, needed_for=given)
    said = f"{_through(given, sea, vertical)}, and sea level is taken for the EGM96 geoid"
    return Tied(add_m=sea.above_ellipsoid_m - of_model.above_ellipsoid_m, said=said)


def _own_sea_level(vertical: pyproj.CRS) -> str:
    return (
        f"heights = 'sea-level': taken as {vertical.name}, from which the elevation model counts; "
        "another sea level may lie a metre or two off"
    )


def _through(given: str, geoid: Geoid, vertical: pyproj.CRS) -> str:
    if not geoid.grids:
        return f"{given}: the elevation model counts from the ellipsoid too ({vertical.name})"
    n = geoid.above_ellipsoid_m
    low, high = f"{n.min():+.2f}", f"{n.max():+.2f}"
    span = f"{low} m" if low == high else f"{low} to {high} m"
    return (
        f"{given}: tied to the elevation model ({vertical.name}) through the {geoid.system} grid "
        f"{geoid.grids}, geoid height {span} at the waypoints"
    )


def geoid_hint(
    difference_m: float, vertical: pyproj.CRS | None, lon_deg: float, lat_deg: float
) -> str:
    """Say so if a difference between two elevations is the geoid height of the place.

    Parameters
    ----------
    difference_m : float
        The stated elevation above the model's.
    vertical : CRS or None
        The model's vertical system.
    lon_deg, lat_deg : float
        The place.

    Returns
    -------
    str
        A clause; empty if it is not, or if no geoid grid is at hand.
    """
    geoid = geoid_near(lon_deg, lat_deg, first=vertical)
    if geoid is None:
        return ""
    n = float(geoid.above_ellipsoid_m[0])
    known = f"the geoid height there ({n:+.1f} m by {geoid.grids})"
    ellipsoidal = vertical is not None and is_ellipsoidal(vertical)
    if not ellipsoidal and abs(difference_m - n) < GEOID_DOUBT_M:
        return f"{known}, so the stated elevation likely counts from the ellipsoid"
    if (ellipsoidal or vertical is None) and abs(difference_m + n) < GEOID_DOUBT_M:
        return (
            f"{known} with the other sign, so the model's elevations likely count from the "
            "ellipsoid and the stated one from sea level"
        )
    return ""

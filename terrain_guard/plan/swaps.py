"""Latitude and longitude written the wrong way round: found, never put right silently.

Two signs give a swap away: a latitude that cannot be one while its longitude
could, and a place far from all others that would lie beside them if exchanged.
A file with *every* place exchanged looks sound here; only terrain shows it.
"""

from __future__ import annotations

import math
from typing import TYPE_CHECKING, Any, Final, TypeAlias, TypeGuard

if TYPE_CHECKING:
    from collections.abc import Mapping

    from terrain_guard.plan.reading import Faults

FAR_M: Final = 100_000.0
"""No flight from one launch reaches as far."""
_EARTH_RADIUS_M: Final = 6_371_008.8
"""Mean radius of the WGS 84 ellipsoid (2a + b)/3; a sphere is good to 1 % here."""

LatLon: TypeAlias = tuple[float, float]


def exchanged_if_out_of_range(
    given: dict[str, Any], *, where: str, faults: Faults
) -> dict[str, Any]:
    """Add a fault if `lat` is out of range and would fit as `lon`; return it exchanged.

    Parameters
    ----------
    given : dict
        A table as TOML holds it.
    where : str
        Its place in the file.
    faults : Faults
        Where the fault goes.

    Returns
    -------
    dict
        `given`, with latitude and longitude exchanged if that was the fault, so that the
        same slip is not reported twice.
    """
    lat, lon = given.get("lat"), given.get("lon")
    if not (_is_number(lat) and _is_number(lon)):
        return given
    if not (90 < abs(lat) <= 180 and abs(lon) <= 90):
        return given
    faults.say(
        f"{where}: given lat = {lat!r} and lon = {lon!r}, but a latitude lies from -90 to 90; "
        f"lat and lon are probably swapped: exchange them"
    )
    return {**given, "lat": lon, "lon": lat}


def add_swapped(places: Mapping[str, LatLon], *, faults: Faults) -> None:
    """Add a fault for each place that is far from the others and near them if exchanged.

    Parameters
    ----------
    places : mapping of str to (latitude, longitude)
        Degrees, by place in the file; launch first.
    faults : Faults
        Where faults go.
    """
    if len(places) < 2:
        return
    anchor = _anchor(places)
    for where, (lat_deg, lon_deg) in places.items():
        distance_m = rough_distance_m((lat_deg, lon_deg), places[anchor])
        exchanged_m = rough_distance_m((lon_deg, lat_deg), places[anchor])
        if distance_m > FAR_M and abs(lon_deg) <= 90 and exchanged_m <= FAR_M:
            faults.say(
                f"{where}: given lat = {lat_deg!r} and lon = {lon_deg!r}, but that is "
                f"{distance_m / 1000:.0f} km from {anchor}, and {exchanged_m / 1000:.0f} km if "
                f"exchanged; lat and lon are probably swapped, here or there: exchange them"
            )


def rough_distance_m(one: LatLon, other: LatLon) -> float:
    """Return the distance on a sphere, by the haversine formula.

    Parameters
    ----------
    one, other : (latitude, longitude)
        Degrees.

    Returns
    -------
    float
        Metres; within 1 % of the geodesic.

    Notes
    -----
    R. W. Sinnott, "Virtues of the haversine", Sky and Telescope 68 (1984), 159.

    >>> round(rough_distance_m((0.0, 179.999), (0.0, -179.999)))
    222
    """
    lat_1, lon_1, lat_2, lon_2 = (math.radians(angle) for angle in (*one, *other))
    half_chord = (
        math.sin((lat_2 - lat_1) / 2) ** 2
        + math.cos(lat_1) * math.cos(lat_2) * math.sin((lon_2 - lon_1) / 2) ** 2
    )
    return 2 * _EARTH_RADIUS_M * math.asin(math.sqrt(min(1.0, max(0.0, half_chord))))


def _anchor(places: Mapping[str, LatLon]) -> str:
    """Return which of the first four places has the most others near; the earliest if equal."""

    def near(where: str) -> int:
        return sum(rough_distance_m(places[where], other) <= FAR_M for other in places.values())

    return max(list(places)[:4], key=near)


def _is_number(value: object) -> TypeGuard[float]:
    return isinstance(value, int | float) and not isinstance(value, bool)

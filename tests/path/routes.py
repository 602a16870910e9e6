"""Routes drawn in metres about a place, and what tests ask of the curves flown."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

import numpy as np
import pyproj

from terrain_guard.path.flight import Flight, fly
from terrain_guard.plan.route import (
    AfterLast,
    Climb,
    Launch,
    Place,
    Route,
    Turns,
    WayHome,
    Waypoint,
)

if TYPE_CHECKING:
    from terrain_guard.arrays import Floats
    from terrain_guard.path.curve import Curve

GEODESIC = pyproj.Geod(ellps="WGS84")
LON_DEG, LAT_DEG = -28.4051, 47.3124
"""A place on an invented island in the open ocean."""
UNSTATED: dict[str, Any] = {"turns": {"corner_height": "unstated"},
            "climb": {"model": "unstated", "too_steep": "unstated"}}  # fmt: skip
"""Nothing is said of turns and climbs."""


def lonlat(east_m: float, north_m: float) -> tuple[float, float]:
    """Return longitude and latitude of a place so many metres east and north of the island's."""
    azimuth = np.degrees(np.arctan2(east_m, north_m))
    lon, lat, _ = GEODESIC.fwd(LON_DEG, LAT_DEG, azimuth, np.hypot(east_m, north_m))
    return float(lon), float(lat)


def waypoint(name: str, east_m: float, north_m: float, height_m: float, **more: Any) -> Waypoint:
    """Return a waypoint so many metres east and north of the island's place."""
    lon, lat = lonlat(east_m, north_m)
    more = {"speed_m_per_s": 5.0, **more}
    return Waypoint(name=name, lon_deg=lon, lat_deg=lat, height_m=height_m, **more)


def route(
    *points: tuple[float, float, float] | Waypoint,
    launch: tuple[float, float] = (0.0, 0.0),
    home: tuple[float, float] | None = None,
    turns: dict[str, Any] | None = None,
    climb: dict[str, Any] | None = None,
    after_last: dict[str, Any] | None = None,
    way_home: dict[str, Any] | None = None,
    **more: Any,
) -> Route:
    """Return a route through points (east, north, height above launch), named w0, w1, ...

    Unless told otherwise it climbs linearly, slows down where that is too steep, and
    reaches the typed height in the middle of a corner; its turns are unstated.
    """
    lon, lat = lonlat(*launch)
    home_lon, home_lat = lonlat(*(home or launch))
    return Route(
        title="drawn",
        heights="launch",
        height_unit="m",
        launch=Launch(lon_deg=lon, lat_deg=lat),
        home=Place(lon_deg=home_lon, lat_deg=home_lat),
        waypoints=tuple(
            point if isinstance(point, Waypoint) else waypoint(f"w{k}", *point)
            for k, point in enumerate(points)
        ),
        turns=Turns(**{"corner_height": "mid-arc", **(turns or {})}),
        climb=Climb(**{"model": "linear", "too_steep": "slows", **(climb or {})}),
        after_last=AfterLast(**(after_last or {})),
        way_home=WayHome(**(way_home or {})),
        **more,
    )


def flown(drawn: Route, *, spot_ground_m: float = 0.0, step_m: float = 1.0) -> Flight:
    """Fly a route at its typed heights above launch."""
    heights = [w.height_m for w in drawn.waypoints]
    return fly(drawn, heights, spot_ground_m=spot_ground_m, step_m=step_m)


def every_curve(flight: Flight) -> list[Curve]:
    """Return every way of every section that is drawn by itself: the reference of the legs."""
    return [*flight.out, flight.legs[0], *flight.home]


def beside(flight: Flight) -> list[Curve]:
    """Return what is flown of the legs besides the reference: the lowest and the highest."""
    return [line for curve in flight.legs[1:] for line in curve.lines(is_reference=False)]


def places(flight: Flight) -> Floats:
    """Return (east, north) of every sample that is flown between the waypoints: (n, 2)."""
    found = [np.stack((curve.x_m, curve.y_m), axis=1) for curve in flight.legs]
    joined = np.concatenate(found)
    return joined[np.isfinite(joined).all(axis=1)]


def nearest_m(flight: Flight, east_m: float, north_m: float) -> float:
    """Return how near any way of the legs comes to a place in metres about the island's."""
    x, y = flight.frame.to_local(*lonlat(east_m, north_m))
    return float(np.hypot(*(places(flight) - (float(x), float(y))).T).min())


def way(section: tuple[Curve, ...], word: str) -> Curve:
    """Return the one curve of a section that is named by a word."""
    (curve,) = (curve for curve in section if word in curve.words)
    return curve


def steps_m(curve: Curve) -> Floats:
    """Return the 3-D length of each chord, in the local frame."""
    return np.sqrt(
        np.diff(curve.x_m) ** 2 + np.diff(curve.y_m) ** 2 + np.diff(curve.above_launch_m) ** 2
    )


def over(flight: Flight, line: Curve, east_m: float, north_m: float) -> list[float]:
    """Return the heights at which a line passes over a place, to 10 cm over the ground."""
    x, y = (float(v) for v in flight.frame.to_local(*lonlat(east_m, north_m)))
    a = np.stack((line.x_m, line.y_m), axis=1) - (x, y)
    step = np.diff(a, axis=0)
    with np.errstate(invalid="ignore", divide="ignore"):
        share = np.clip(-np.sum(a[:-1] * step, axis=1) / np.sum(step**2, axis=1), 0, 1)
        share = np.nan_to_num(share)
        near = np.hypot(*(a[:-1] + share[:, None] * step).T) < 0.1
    heights = line.above_launch_m
    found = heights[:-1] + share * np.diff(heights)
    return [float(h) for h in found[near & (line.leg >= 0)]]


def distance_m(curve: Curve, east_m: float, north_m: float) -> Floats:
    """Return the geodesic distance of each sample from a place in metres about the island's."""
    lon, lat = lonlat(east_m, north_m)
    same = np.ones_like(curve.lon_deg)
    return np.asarray(GEODESIC.inv(curve.lon_deg, curve.lat_deg, lon * same, lat * same)[2])


def stops(curve: Curve) -> list[tuple[float, float, float]]:
    """Return where a curve of straight strokes begins, bends and ends: (east, north, height).

    Metres about the island's place, to a millimetre.
    """
    azimuth, _, far = GEODESIC.inv(
        np.full_like(curve.lon_deg, LON_DEG), np.full_like(curve.lat_deg, LAT_DEG),
        curve.lon_deg, curve.lat_deg,
    )  # fmt: skip
    east, north = far * np.sin(np.radians(azimuth)), far * np.cos(np.radians(azimuth))
    places = np.stack([east, north, curve.above_launch_m], axis=1)
    chords = np.diff(places, axis=0)
    size = np.linalg.norm(chords, axis=1, keepdims=True)
    course = chords / np.where(size > 0, size, 1.0)
    bends = np.linalg.norm(np.diff(course, axis=0), axis=1) > 1e-4
    picked = places[np.concatenate(([True], bends, [True]))]
    return [tuple((row.round(3) + 0.0).tolist()) for row in picked]

"""Does the terrain belong to this route? Refuse what does not, name what is missing."""

from __future__ import annotations

import numpy as np

from terrain_guard.arrays import Floats
from terrain_guard.errors import RefusedRoute, RefusedTerrain
from terrain_guard.ground.model import Ground
from terrain_guard.path.flight import Flight
from terrain_guard.path.frame import WGS84, LocalFrame
from terrain_guard.plan.route import Route

FARTHEST_M = 100_000.0
LEAST_BUFFER_M = 500.0


def refuse_too_far_apart(route: Route) -> None:
    """Refuse a route that reaches more than 100 km from its middle."""
    names = ["launch", "home", *(w.name for w in route.waypoints)]
    places = [route.launch, route.home, *route.waypoints]
    lon, lat = [p.lon_deg for p in places], [p.lat_deg for p in places]
    frame = LocalFrame.around(lon, lat)
    away = np.hypot(*frame.to_local(lon, lat))
    if not away.max() <= FARTHEST_M:
        far = int(np.nanargmax(away))
        msg = (
            f"{route.source}: {names[far]!r} at {lat[far]:.6f}, {lon[far]:.6f} lies "
            f"{away.max() / 1000:.0f} km from the middle of the route: at most 100 km is flown; "
            "check its latitude and longitude (swapped, or a missing minus sign?)"
        )
        raise RefusedRoute(msg)


def refuse_elsewhere(route: Route, ground: Ground, flight: Flight) -> None:
    """Refuse when no sample of any curve lies on the model."""
    curves = [curve for section in flight.sections for curve in section]
    lon = np.concatenate([curve.lon_deg for curve in curves])
    lat = np.concatenate([curve.lat_deg for curve in curves])
    if _on_model(ground, lon, lat).any():
        return
    west, south, east, north = ground.box_deg()
    launch = route.launch
    hint = "give the elevation model of the place"
    lon, lat = np.array([launch.lon_deg]), np.array([launch.lat_deg])
    if np.abs(lon).max() <= 90 and _on_model(ground, lat, lon).any():
        hint = "latitude and longitude look swapped: the swapped launch lies on the model"
    msg = (
        f"{route.source}: the route (launch {launch.lat_deg:.6f}, {launch.lon_deg:.6f}) lies "
        f"{_away_km(ground, launch.lon_deg, launch.lat_deg):.1f} km off the elevation model "
        f"{ground.name!r}, which covers latitude {south:.5f} to {north:.5f} and "
        f"longitude {west:.5f} to {east:.5f}: no metre of it can be judged; {hint}"
    )
    raise RefusedTerrain(msg)


def _on_model(ground: Ground, lon: np.ndarray, lat: np.ndarray) -> np.ndarray:
    return ground.covers(*ground.posts_at(lon, lat))


def _away_km(ground: Ground, lon: float, lat: float) -> float:
    """Return how far a point lies from the model, by its nearest post on the edge."""
    edge_lon, edge_lat = ground.degrees_at(*ground.outline())
    known = np.isfinite(edge_lon)
    n = int(known.sum())
    _, _, away = WGS84.inv([lon] * n, [lat] * n, edge_lon[known], edge_lat[known])
    return float(np.min(away)) / 1000


def terrain_to_get(flight: Flight, ceiling_m: float) -> str:
    """Return, in words, the box round every curve that a terrain model must cover."""
    buffer = max(ceiling_m, LEAST_BUFFER_M)
    curves = [curve for section in flight.sections for curve in section]
    x = np.concatenate([curve.x_m for curve in curves])
    y = np.concatenate([curve.y_m for curve in curves])
    low = np.nanmin(x) - buffer, np.nanmin(y) - buffer
    high = np.nanmax(x) + buffer, np.nanmax(y) + buffer
    lon, lat = flight.frame.to_degrees(
        [low[0], low[0], high[0], high[0]], [low[1], high[1], low[1], high[1]]
    )
    lon = flight.frame.lon_deg + _turned(lon - flight.frame.lon_deg)  # over the antimeridian too
    west, east = _turned(np.array([lon.min(), lon.max()])).tolist()
    return (
        f"latitude {_outward(lat.min(), -1)} to {_outward(lat.max(), 1)}, "
        f"longitude {_outward(west, -1)} to {_outward(east, 1)}"
    )


def _turned(degrees: Floats) -> Floats:
    return (degrees + 180) % 360 - 180


def _outward(degrees: float, side: int) -> str:
    return f"{side * np.ceil(side * degrees * 1e4) / 1e4:.4f}"

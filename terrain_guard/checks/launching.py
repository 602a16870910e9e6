"""From the launch ground to heights above launch: what every typed height counts from."""

from __future__ import annotations

import numpy as np

from terrain_guard.arrays import Floats
from terrain_guard.assessment import LaunchUsed
from terrain_guard.checks.budget.air import declared_factor
from terrain_guard.checks.surveyed import Survey
from terrain_guard.errors import RefusedTerrain
from terrain_guard.ground.model import Ground
from terrain_guard.path.altimeter import Altimeter
from terrain_guard.path.frame import WGS84
from terrain_guard.plan.route import Launch, Place, Route

LAUNCH_DOUBT_M = 10.0
"""A stated launch elevation may differ from the model's by this, or by three sigma."""


def launch_ground(
    route: Route, ground: Ground, *, canopy_m: float, source: str, survey: Survey | None = None
) -> LaunchUsed:
    """Return the launch ground: as stated in the route, else as the model has it.

    Parameters
    ----------
    canopy_m : float
        How far the true ground may lie below the model: trees may stand on it.
    source : str
        What the model's reading is called.
    survey : Survey, optional
        What the stated elevation says of this model.

    Raises
    ------
    RefusedTerrain
        The stated elevation cannot be that of the place in this model.
    """
    launch = route.launch
    model = float(ground.elevation(launch.lon_deg, launch.lat_deg)[0])
    stated = launch.elevation_m
    elevation = model
    if stated is not None:
        _refuse_doubtful_launch(launch, stated, model, ground, canopy_m)
        elevation, source = stated, "stated in the route"
    elif np.isnan(model):
        source = "not known"
    return LaunchUsed(
        lat_deg=launch.lat_deg,
        lon_deg=launch.lon_deg,
        elevation_m=elevation,
        elevation_source=source,
        spot_within_m=launch.spot_within_m,
        model_elevation_m=None if survey is None else survey.model_m,
    )


def _refuse_doubtful_launch(
    launch: Launch, stated_m: float, model_m: float, ground: Ground, canopy_m: float
) -> None:
    allowed = max(3 * (launch.elevation_accuracy_m or 0.0), LAUNCH_DOUBT_M)
    apart = stated_m - model_m
    if apart > allowed or apart < -allowed - canopy_m:
        from terrain_guard.ground.datums import geoid_hint  # slow to load, seldom needed

        hint = geoid_hint(apart, ground.raster.vertical, launch.lon_deg, launch.lat_deg)
        trees = f", {canopy_m:g} m of canopy on top" if canopy_m and apart < 0 else ""
        msg = (
            f"launch.elevation_m is {stated_m:g}, but the terrain model has {model_m:.1f} m there, "
            f"{apart:+.1f} m apart{f', which is {hint}' if hint else ''}: more than {allowed:g} m "
            f"(the larger of 10 m and three times the accuracy{trees}) means another place or "
            "another vertical datum; correct the launch, or leave the elevation out to use the "
            "model's"
        )
        raise RefusedTerrain(msg)


def above_launch(
    route: Route, ground: Ground, launch: LaunchUsed, survey: Survey | None = None
) -> tuple[list[float], tuple[str, ...]]:
    """Return each waypoint's height above launch, and how other zeros were tied to it.

    A survey shifts heights above ground: they are taken as those that it leaves, so that the
    flight is as far above ground there as was typed.
    """
    typed, said = np.array([w.height_m for w in route.waypoints]), tuple[str, ...]()
    lon, lat = ([getattr(w, n) for w in route.waypoints] for n in ("lon_deg", "lat_deg"))
    if route.heights == "ground":
        typed = typed + _ground_above_launch_m(ground, launch, survey, np.array([lon, lat]))
    elif route.heights != "launch":
        from terrain_guard.ground.datums import tie  # slow to load, seldom needed

        tied = tie(route.heights, ground.raster.vertical, lon, lat, model=ground.name)
        typed, said = typed + tied.add_m - launch.elevation_m, (tied.said,)
    return [float(height) for height in typed], said


def altimeter(route: Route, launch_elevation_m: float) -> Altimeter:
    """Return what is flown for what is typed, as far as the route declares it.

    A stated air temperature scales heights, a deck lifts them. Without a launch
    elevation to compare the air with, nothing is scaled: then nothing is assessed either.
    """
    factor = declared_factor(
        route.conditions.temperature_c,
        elevation_m=launch_elevation_m,
        height_from=route.aircraft.height_from,
        reference=route.aircraft.temperature_reference,
    )
    return Altimeter(factor=1.0 if np.isnan(factor) else factor, zero_m=deck_m(route))


def deck_m(route: Route) -> float:
    """Return how far above the launch ground the deck, roof or case is that it starts from."""
    return route.launch.offset_m or 0.0


def lands_on_deck(route: Route) -> bool:
    """Return whether the flight ends where it began."""
    spot = _spot(route)
    return (spot.lat_deg, spot.lon_deg) == (route.launch.lat_deg, route.launch.lon_deg)


def spot_ground_m(
    route: Route, ground: Ground, launch: LaunchUsed, survey: Survey | None = None
) -> float:
    """Return the ground or deck where the flight ends, above the launch ground."""
    if lands_on_deck(route):
        return deck_m(route)
    spot = _spot(route)
    place = np.array([[spot.lon_deg], [spot.lat_deg]])
    return float(_ground_above_launch_m(ground, launch, survey, place)[0])


def _ground_above_launch_m(
    ground: Ground, launch: LaunchUsed, survey: Survey | None, places: Floats
) -> Floats:
    """Return what height above launch is on the ground at places (lon and lat, n)."""
    above = ground.elevation(*places) - launch.level_m
    if survey is None:
        return above
    start = np.broadcast_to([[launch.lon_deg], [launch.lat_deg]], places.shape)
    away = np.asarray(WGS84.inv(*start, *places)[2], dtype=float)
    return above - survey.shift_m(away)


def _spot(route: Route) -> Place:
    if route.after_last.go_to == "launch":
        return route.home
    named = {w.name: w for w in route.waypoints}
    return named.get(route.after_last.go_to, route.waypoints[-1])

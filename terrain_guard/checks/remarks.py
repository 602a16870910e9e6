"""What is said beside the numbers: cautions by trigger, and what was not looked at."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np

from terrain_guard.ground.model import Ground
from terrain_guard.ground.raster import Raster
from terrain_guard.path.flight import Flight
from terrain_guard.path.frame import geodesic
from terrain_guard.plan.route import Route
from terrain_guard.plan.rules import Rules

LONG_LEG_M = 5_000.0
COARSE_CELL_M = 10.0
PLACE_DOUBT_M = 2.0


def cautions(route: Route, ground: Ground, flight: Flight) -> tuple[str, ...]:
    """Return the cautions that this route and this model set off; they change no state."""
    out = []
    silent = [raster for raster in ground.rasters_read if "assumed" in raster.unit_text]
    if silent:
        out.append(f"{_do_not_say(silent)} the height unit: metres were assumed.")
    silent = [raster for raster in ground.rasters_read if raster.vertical is None]
    if silent:
        out.append(
            f"{_do_not_say(silent)} what heights are measured from; heights above launch need no "
            "datum, a stated launch elevation does."
        )
    if not ground.place_accuracy_m <= PLACE_DOUBT_M:
        doubt = ground.place_accuracy_m
        known = "unknown" if np.isnan(doubt) else f"about {doubt:g} m"
        out.append(f"Step from WGS 84 to the model's reference system: accuracy {known}.")
    if ground.coarsest_cell_m > COARSE_CELL_M:
        out.append(
            f"Cells of {ground.coarsest_cell_m:.0f} m average crests, gullies and cliffs away: "
            "the true ground is higher at crests and lower in gullies."
        )
    out += ground.seam_remarks()
    out += _about_route(route, flight)
    return tuple(out)


def _do_not_say(rasters: Sequence[Raster]) -> str:
    first = rasters[0].path.name
    return (
        f"{first} and {len(rasters) - 1} more do not say"
        if rasters[1:]
        else f"{first} does not say"
    )


def _about_route(route: Route, flight: Flight) -> list[str]:
    out = []
    for index, corner in flight.corners.items():
        if corner.shortened:
            out.append(
                f"The turn at {route.waypoints[index].name} begins only {corner.tangent_m:.1f} m "
                "before it: its legs are too short for the turn asked for."
            )
    places = [route.launch, *route.waypoints]
    lengths = geodesic([p.lon_deg for p in places], [p.lat_deg for p in places])
    for leg in np.flatnonzero(lengths > LONG_LEG_M):
        out.append(
            f"Leg {leg} is {lengths[leg] / 1000:.1f} km long: check its coordinates "
            "(minutes typed as decimals, a missing digit?)."
        )
    return out


def not_checked(route: Route, rules: Rules, ground: Ground) -> tuple[str, ...]:
    """Return what the program did not look at for this route."""
    out = [
        "return begun anywhere but at the last waypoint; what a lost link sets off",
        "sight from the ground; radio link",
        f"trees and roofs, unless they are in {ground.name}",
        "error budget: a flat margin stands for it; temperature, pressure and wind drift",
        "sideways error: the curve is checked on its line, corridor 0 m",
        "camera, energy, obstacles, airspace",
    ]
    if route.turns.kind == "unstated":
        out.append("turns flown past the waypoint or as a smooth curve (not stated in the route)")
    if route.turns.corner_height == "unstated" and flight_has_corners(route):
        out.append("heights cut straight across rounded corners (not stated in the route)")
    if route.climb.model == "unstated":
        out.append("climbs flown early, late or smooth along a leg (not stated in the route)")
    if route.way_home.height_m is None and route.after_last.go_to == "launch":
        out.append("a way home that climbs first: the route has no way_home.height")
    if route.after_last.then == "wait":
        out.append("what follows the waiting after the last waypoint (battery)")
    if route.unused:
        out.append(f"in the route file but not used: {', '.join(route.unused)}")
    if rules.unused:
        out.append(f"in the rules but not used yet: {', '.join(rules.unused)}")
    return tuple(out)


def flight_has_corners(route: Route) -> bool:
    """Return whether the route has a waypoint that is neither first nor last."""
    return len(route.waypoints) > 2

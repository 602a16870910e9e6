"""What is said beside the numbers: cautions by trigger, and what was not looked at."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import date

import numpy as np

from terrain_guard.assessment import CanopyUsed
from terrain_guard.checks.hazards import hazards
from terrain_guard.checks.models import Models
from terrain_guard.checks.near_route import Scene
from terrain_guard.checks.turn_remarks import turn_remarks
from terrain_guard.ground.card import first_day, last_day
from terrain_guard.ground.model import Ground
from terrain_guard.ground.raster import Raster
from terrain_guard.path.flight import Flight
from terrain_guard.path.frame import geodesic
from terrain_guard.plan.route import Route
from terrain_guard.plan.rules import Rules

LONG_LEG_M = 5_000.0
COARSE_CELL_M = 10.0
PLACE_DOUBT_M = 2.0
OLD_YEARS = 5
"""Common practice, no source."""


def cautions(scene: Scene, *, today: date) -> tuple[str, ...]:
    """Return the cautions that this route and these models set off; they change no state."""
    every = list(scene.models.every.values())
    out = [said for one in every for said in _about_model(one, today=today, alone=len(every) == 1)]
    return (*out, *_about_route(scene.route, scene.flight), *hazards(scene))


def _about_model(ground: Ground, *, today: date, alone: bool) -> list[str]:
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
        system = (
            "the model's reference system" if alone else f"the reference system of {ground.name}"
        )
        out.append(f"Step from WGS 84 to {system}: accuracy {known}.")
    if ground.coarsest_cell_m > COARSE_CELL_M:
        cells = "Cells" if alone else f"Cells of {ground.name}"
        out.append(
            f"{cells} of {ground.coarsest_cell_m:.0f} m average crests, gullies and cliffs away: "
            "the true ground is higher at crests and lower in gullies."
        )
    out += kind_and_age(ground, today=today)
    out += ground.seam_remarks()
    out += ground.sea_remarks()
    return out


def kind_and_age(ground: Ground, *, today: date) -> tuple[str, ...]:
    """Return what a pilot should know of a model's kind and survey, or cannot know yet."""
    rasters, out = ground.rasters_read, []
    silent = [raster for raster in rasters if raster.card.kind is None]
    if silent:
        out.append(
            f"{_do_not_say(silent)} whether it is bare ground or a surface with trees and roofs: "
            f"find out, and say so in {_card(silent)} (kind)."
        )
    silent = [raster for raster in rasters if raster.card.survey_date is None]
    if silent:
        out.append(
            f"{_do_not_say(silent)} when it was surveyed: find out, and say so in {_card(silent)} "
            "(survey_date)."
        )
    return (*out, *_old(rasters, today))


def _card(rasters: Sequence[Raster]) -> str:
    own = f"{rasters[0].path.name}.toml"
    return f"{own}, or for a whole folder in FOLDER.toml beside it" if rasters[1:] else own


def _old(rasters: Sequence[Raster], today: date) -> tuple[str, ...]:
    """Say how many of the surveys are, or may be, older than five years, and the oldest."""
    day = 28 if (today.month, today.day) == (2, 29) else today.day
    long_ago = today.replace(year=today.year - OLD_YEARS, day=day)
    surveys = [(raster.card.survey_date or "", raster.path.name) for raster in rasters]
    old = [(said, name) for said, name in surveys if said and first_day(said) < long_ago]
    if not old:
        return ()
    survey, name = min(old, key=lambda one: first_day(one[0]))
    others = f" (as are {len(old) - 1} more)" if old[1:] else ""
    is_old = "more than" if last_day(survey) < long_ago else "perhaps more than"
    return (
        f"The survey of {name} is of {survey}, {is_old} {OLD_YEARS} years old{others}: look for "
        "what was built, dug or grown since.",
    )


def _do_not_say(rasters: Sequence[Raster]) -> str:
    first = rasters[0].path.name
    return (
        f"{first} and {len(rasters) - 1} more do not say"
        if rasters[1:]
        else f"{first} does not say"
    )


def _about_route(route: Route, flight: Flight) -> list[str]:
    out = list(turn_remarks(route, flight))
    places = [route.launch, *route.waypoints]
    lengths = geodesic([p.lon_deg for p in places], [p.lat_deg for p in places])
    for leg in np.flatnonzero(lengths > LONG_LEG_M):
        out.append(
            f"Leg {leg} is {lengths[leg] / 1000:.1f} km long: check its coordinates "
            "(minutes typed as decimals, a missing digit?)."
        )
    return out


def not_checked(
    route: Route, rules: Rules, models: Models, canopy: CanopyUsed, *, corridor_m: float,
    came_home: bool,
) -> tuple[str, ...]:  # fmt: skip
    """Return what the program did not look at for this route."""
    trees = "trees and roofs"
    shown = models.ground if models.is_surface_alone else models.surface
    if shown is not None:
        trees += f" that {shown.name} does not show"
    elif canopy.height_m:
        trees += f", but for {canopy.height_m:g} m of canopy in the floor's margin"
    out = [
        *(_beyond_geometry() if came_home else ("ways home, sight and the radio link",)),
        trees,
        "errors beyond those in the margins: a wrong setting, a fault, downdraught, air that "
        "changes fast",
        f"more than {corridor_m:g} m beside the line"
        if corridor_m
        else "sideways error: nothing beside the line (aircraft.off_line_m is not stated)",
        "camera, energy, obstacles, airspace",
    ]
    if route.way_home.height_m is None and route.way_home.path == "unstated":
        out.append("a way home that climbs: the route has no way_home.height")
    if route.after_last.then == "wait":
        out.append("what follows the waiting after the last waypoint (battery)")
    if rules.fixed_floor_margin_m is not None or rules.fixed_ceiling_margin_m is not None:
        out.append("whether margins that the rules fix are as large as the error budget's")
    if route.unused:
        out.append(f"in the route file but not used: {', '.join(route.unused)}")
    if rules.unused:
        out.append(f"in the rules but not used yet: {', '.join(rules.unused)}")
    return tuple(out)


def _beyond_geometry() -> tuple[str, ...]:
    """Return what straight lines over the ground leave open."""
    return (
        "a way home other than straight, and whatever moves it off its line",
        "sight but for the ground and distance: light, background, weather, eyesight",
        "the radio link but for its line: range, antennas, interference",
    )

"""The hall: route, terrain and rules in; an assessment out.

The whole program minus the reading of arguments and the telling of people::

    route ─▶ launch ground ─▶ heights above launch ─▶ every way it may be flown
                                                             │
    findings, legs, samples ◀─ states ◀─ height above ground, clearance
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import replace
from datetime import date
from pathlib import Path
from typing import Literal

import numpy as np

from terrain_guard.assessment import (
    Assessment,
    LegRow,
    Limits,
)
from terrain_guard.checks.budget_used import budget_used, whole_flight_state
from terrain_guard.checks.canopy import canopy_cautions, refuse_impossible
from terrain_guard.checks.closest_point import closest_point_remarks
from terrain_guard.checks.coverage import terrain_to_get
from terrain_guard.checks.exceptions import exception_remarks
from terrain_guard.checks.findings import findings
from terrain_guard.checks.home.begun import Begun
from terrain_guard.checks.home.coming_home import coming_home
from terrain_guard.checks.judge import judge
from terrain_guard.checks.known import Known
from terrain_guard.checks.legs import leg_extremes
from terrain_guard.checks.limits import resting_elevation
from terrain_guard.checks.measure import measure
from terrain_guard.checks.models import Files, open_models
from terrain_guard.checks.reference import Ruler
from terrain_guard.checks.remarks import cautions, not_checked
from terrain_guard.checks.sampled import assessed_length_m, reference_samples
from terrain_guard.checks.second_ground import beside_first
from terrain_guard.checks.sentences import Speaker
from terrain_guard.checks.site import Site
from terrain_guard.checks.stretches import Judged, stretches
from terrain_guard.checks.surveys import survey_cautions
from terrain_guard.checks.views import View
from terrain_guard.errors import RefusedRules
from terrain_guard.path.curve import Curve
from terrain_guard.path.frame import geodesic
from terrain_guard.plan.draft import LaunchGiven
from terrain_guard.plan.route import Launch, Place, Route
from terrain_guard.plan.route_files import read_route
from terrain_guard.plan.rules import DATUM_DOUBT_M, DEFAULT_RULES, Rules
from terrain_guard.plan.rules_toml import read_rules
from terrain_guard.plan.told import NOTHING_TOLD, Told
from terrain_guard.states import SEVERITY, State, worst

MAY_BE_REQUIRED = ("return", "sight", "link")
"""Findings that rules may let into the verdict."""


def check(
    route: str | Path | Route,
    *,
    ground: Files | None = None,
    surface: Files | None = None,
    second_ground: Files | None = None,
    canopy_m: float | None = None,
    rules: str | Path | Rules | None = None,
    launch: LaunchGiven = None,
    told: Told = NOTHING_TOLD,
    today: date | None = None,
) -> Assessment:
    """Assess a route over terrain.

    Parameters
    ----------
    route : path or Route
        The route file, or a route made in Python.
    ground : path, or sequence of paths
        The elevation model of the bare earth: a file, a folder of tiles, a pattern such as
        "tiles/*.tif", or several of these as one model; where two know a place, the first counts.
        It may be left out if `surface` is given.
    surface : path, or sequence of paths, optional
        A model of the surface, with trees and roofs: the floor is to the nearer of both.
    second_ground : path, or sequence of paths, optional
        Another, independent model of the bare earth: the worse of both counts.
    canopy_m : float, optional
        How high trees may stand that no model shows, metres; 0 is open ground. If not given,
        what the model's card says, else 30 m.
    rules : path, name or Rules, optional
        What is wanted; the program's own default if not given.
    launch : (lat, lon) or "first", optional
        Launch from here instead, degrees; or at the first waypoint.
    told : Told, optional
        What a CSV, KML or GPX file leaves open, such as what its heights count from.
    today : date, optional
        What surveys are old against; the day on the machine's clock unless given.

    Returns
    -------
    Assessment

    Raises
    ------
    RefusedRoute, RefusedRules, RefusedTerrain
        The input breaks a rule; every fault is listed.
    """
    if not isinstance(route, Route):
        route = read_route(route, launch=launch, told=told)
    elif launch is not None:
        route = _launched_from(route, launch)
    if not isinstance(rules, Rules):
        rules = DEFAULT_RULES if rules is None else read_rules(rules)
    _refuse_what_cannot_be_judged(rules)
    today = today or date.today()
    refuse_impossible(canopy_m, both_given=ground is not None and surface is not None)
    models = open_models(ground, surface, second_ground, today=today)
    return _assess(Site.over(route, models, rules, canopy_m, today), today)


def _launched_from(route: Route, launch: tuple[float, float] | Literal["first"]) -> Route:
    """Return the route launched elsewhere; an elevation surveyed at its old launch is dropped."""
    first = route.waypoints[0]
    lat, lon = (first.lat_deg, first.lon_deg) if launch == "first" else launch
    moved = Launch(lat_deg=lat, lon_deg=lon, spot_within_m=route.launch.spot_within_m)
    goes_back = route.home == _as_place(route)
    home = Place(lat_deg=lat, lon_deg=lon) if goes_back else route.home
    return replace(route, launch=moved, home=home)


def _refuse_what_cannot_be_judged(rules: Rules) -> None:
    """Refuse rules that let findings into the verdict which are not made yet."""
    unseen = [one for one in rules.require if one not in MAY_BE_REQUIRED]
    if unseen:
        msg = (
            f"the rules {rules.name!r} require {', '.join(unseen)}, which is not checked "
            "yet: a verdict without it would say too much; take it out of require to check the rest"
        )
        raise RefusedRules(msg)


def limiting_surfaces(
    assessment: Assessment, *, ground: Files | None = None, surface: Files | None = None
) -> Limits:
    """Return the two limiting surfaces, with margins, under the reference curve.

    Elevations at the samples of `assessment`; the lowest is NaN in the take-off
    and landing columns and where the floor was not assessed; both where ground is missing,
    unless the ceiling counts from sea level alone. The models are those it was made with.
    """
    models, samples, rules = open_models(ground, surface), assessment.samples, assessment.rules
    model, canopy, launch = models.ground, assessment.canopy, assessment.launch
    row, column = model.posts_at(samples.lon_deg, samples.lat_deg)
    corridor_m = assessment.budget.corridor_m
    lowest = resting_elevation(model, row, column, rules.floor_m, corridor_m)
    if models.surface is not None and assessment.surface_tied is not None:
        over = models.surface.lifted(assessment.surface_tied.lifted_m)
        posts = over.posts_at(samples.lon_deg, samples.lat_deg)
        lowest = np.fmax(lowest, resting_elevation(over, *posts, rules.floor_m, corridor_m))
    lowest = lowest + samples.floor_margin_m
    if rules.ceiling_measure == "sea-level":
        highest = np.full(row.shape, np.inf)
    elif rules.ceiling_measure == "closest-point":
        highest = resting_elevation(model, row, column, rules.ceiling_m)
    else:
        highest = samples.ground_elevation_m + rules.ceiling_m
    missing = np.isnan(samples.ground_elevation_m)
    unseen = missing & (rules.ceiling_measure != "sea-level")  # which needs no ground below
    highest = highest - samples.ceiling_margin_m - canopy.ground_below_m
    highest = np.where(unseen, np.nan, highest)
    sea_margin_m = samples.ceiling_margin_m - canopy.ceiling_m + DATUM_DOUBT_M
    above_sea_level = rules.above_sea_level_ceiling_m - sea_margin_m
    # As the model counts elevations, whose launch ground is not quite the surveyed one.
    above_sea_level = (
        above_sea_level + samples.survey_shift_m + (launch.level_m - launch.elevation_m)
    )
    unjudged = samples.in_column | (samples.state == SEVERITY.index(State.NOT_ASSESSED))
    return Limits(
        lowest_allowed_m=np.where(missing | unjudged, np.nan, lowest),
        highest_allowed_m=np.minimum(highest, above_sea_level),
    )


def _assess(site: Site, today: date) -> Assessment:
    judged = list(_all_judged(site))
    reference = tuple(section[0] for section in site.flight.sections)
    ruler = Ruler.along(reference)
    legs = _legs(site, judged, ruler)
    failing = stretches(judged, ruler)
    above_ground_m = site.first.wanted.ceiling_m
    box = terrain_to_get(site.flight, above_ground_m if np.isfinite(above_ground_m) else 0.0)
    speaker = Speaker(
        typed_m={row.leg: (row.typed_start_m, row.typed_end_m) for row in legs},
        box=box,
        altimeter=site.flight.altimeter,
    )
    missing = any(stretch.state is State.NOT_ASSESSED for stretch in failing)
    terrain = tuple(
        replace(used, role=role)
        for role, model in site.models.every.items()
        for used in model.used_files()
    )
    found = findings(failing, speaker)
    samples = reference_samples(judged, reference, ruler)
    apart = [one for one in judged if not any(one.curve is curve for curve in reference)]
    begun = Begun.of(
        samples, apart, ruler, site.flight.frame, comes_in=site.flight.spot.height_m is None
    )
    home, of_home = coming_home(site, begun, box=box)
    margins_m = _greatest_margins_m(judged, is_second=False)
    second, second_said = beside_first(
        site.second, first_m=margins_m, second_m=_greatest_margins_m(judged, is_second=True),
        launch=site.launch, samples=samples,
    )  # fmt: skip
    budget = budget_used(judged, reference, ruler, site.first.budgeter)
    whole_flight, whole_flight_said = whole_flight_state(budget, site.rules)
    return Assessment(
        route=site.route,
        rules=site.rules,
        verdict=worst(
            [*(row.state for row in legs), whole_flight, *(f.state for f in of_home if f.counts)]
        ),
        length_m=ruler.length_m,
        assessed_m=assessed_length_m(failing, ruler),
        floor_margin_m=margins_m[0],
        ceiling_margin_m=margins_m[1],
        margin_source=site.first.budgeter.words,
        launch=site.launch,
        terrain=terrain,
        curves=site.flight.names,
        legs=legs,
        findings=(*found, *of_home),
        coming_home=home,
        cautions=(
            *whole_flight_said,
            *_about_models(site),
            *second_said,
            *closest_point_remarks(judged, ruler),
            *exception_remarks(site.rules, found),
            *cautions(site.scene(samples), today=today),
        ),
        not_checked=not_checked(
            site.route, site.rules, site.models, site.canopy, corridor_m=budget.corridor_m,
            came_home=home is not None,
        ),
        assumed=site.assumed,
        terrain_to_get=box if missing else None,
        samples=samples,
        models=site.models.seen,
        canopy=site.canopy,
        surface_tied=site.first.surface_tied,
        budget=budget,
        second_ground=second,
        altimeter=site.flight.altimeter,
    )  # fmt: skip


def _about_models(site: Site) -> tuple[str, ...]:
    """Say what stands in for trees, and whether ground and surface fit."""
    out = list(canopy_cautions(site.canopy, models=site.models.seen))
    tied = site.first.surface_tied
    if tied is not None and site.models.surface is not None:
        out += survey_cautions(tied, site.models.ground, site.models.surface)
    return tuple(out)


def _greatest_margins_m(judged: list[Judged], *, is_second: bool) -> tuple[float, float]:
    """Return the greatest margins of floor and ceiling over one ground, without any canopy."""
    mine = [one.wanted for one in judged if one.beneath.is_second is is_second]
    floor = max((w.floor_margin_m - w.canopy_m for w in mine), default=0.0)
    return floor, max((w.ceiling_margin_m - w.ceiling_canopy_m for w in mine), default=0.0)


def _all_judged(site: Site) -> Iterator[Judged]:
    """Judge the reference first, then every other line, as far as it may be worse."""
    known = Known.nothing(len(site.route.waypoints) + 1)
    for view in site.views:
        for section in site.flight.sections:
            for curve in section:
                is_reference = curve is section[0] and not view.beneath.is_second
                for line in curve.lines(is_reference=is_reference):
                    one = _judged(site, view, line, known=None if is_reference else known)
                    known.learn(one.points, line.side)
                    yield one


def _judged(site: Site, view: View, curve: Curve, *, known: Known | None) -> Judged:
    wanted = site.viewer.wanted_on(view, curve)
    along = view.budgeter.along(curve, wanted)
    wanted = along.margins.at_most_on(wanted)
    points = measure(curve, view.beneath, wanted, along.margins, known=known)
    return Judged(
        curve=curve,
        beneath=view.beneath,
        wanted=wanted,
        points=points,
        judgement=judge(points, wanted, view.beneath, side=curve.side),
        along=along,
    )


def _legs(site: Site, judged: list[Judged], ruler: Ruler) -> tuple[LegRow, ...]:
    route, heights = site.route, site.waypoint_heights_m
    end = {"launch": "launch" if route.home == _as_place(route) else "home", "here": "here"}
    names = ["launch", *(w.name for w in route.waypoints)]
    names.append(end.get(route.after_last.go_to, route.after_last.go_to))
    spot = site.flight.spot
    ends_m = spot.height_m if spot.height_m is not None else spot.ground_m
    typed = [0.0, *heights, site.flight.altimeter.typed_m(ends_m)]
    lon, lat = site.flight.frame.to_degrees(
        *np.transpose([site.flight.launch, *_waypoint_places(site), spot.place])
    )
    lengths = geodesic(lon, lat)
    return tuple(
        LegRow(
            leg=leg,
            start=names[leg],
            end=names[leg + 1],
            length_m=float(ruler.end_m[leg] - ruler.start_m[leg]),
            typed_length_m=float(lengths[leg]),
            typed_start_m=typed[leg],
            typed_end_m=typed[leg + 1],
            from_m=float(ruler.start_m[leg]),
            to_m=float(ruler.end_m[leg]),
            **leg_extremes(judged, ruler, leg)._asdict(),
        )
        for leg in range(len(names) - 1)
    )  # fmt: skip


def _as_place(route: Route) -> Place:
    return Place(lat_deg=route.launch.lat_deg, lon_deg=route.launch.lon_deg)


def _waypoint_places(site: Site) -> list[tuple[float, float]]:
    lon, lat = ([getattr(w, n) for w in site.route.waypoints] for n in ("lon_deg", "lat_deg"))
    x, y = site.flight.frame.to_local(lon, lat)
    return list(zip(x.tolist(), y.tolist(), strict=True))

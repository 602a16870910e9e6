"""The hall: route, terrain and rules in; an assessment out.

The whole program minus the reading of arguments and the telling of people::

    route ─▶ launch ground ─▶ heights above launch ─▶ every way it may be flown
                                                             │
    findings, legs, samples ◀─ states ◀─ height above ground, clearance
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from pathlib import Path
from typing import Literal

import numpy as np

from terrain_guard.assessment import Assessment, LaunchUsed, LegRow, Limits
from terrain_guard.checks.column import COLUMN_RADIUS_M, cone_excess
from terrain_guard.checks.coverage import refuse_elsewhere, refuse_too_far_apart, terrain_to_get
from terrain_guard.checks.findings import findings
from terrain_guard.checks.judge import BREACH, NOT_ASSESSED, WITHIN, ColumnState, judge
from terrain_guard.checks.legs import leg_extremes
from terrain_guard.checks.limits import resting_elevation
from terrain_guard.checks.margins import flat_margins
from terrain_guard.checks.measure import measure
from terrain_guard.checks.reference import Ruler
from terrain_guard.checks.remarks import cautions, not_checked
from terrain_guard.checks.sampled import assessed_length_m, reference_samples
from terrain_guard.checks.sentences import Speaker
from terrain_guard.checks.stretches import Judged, stretches
from terrain_guard.checks.wanted import Column, Wanted
from terrain_guard.errors import RefusedRules, RefusedTerrain
from terrain_guard.ground.model import Ground
from terrain_guard.path.curve import Curve
from terrain_guard.path.flight import Flight, fly
from terrain_guard.path.frame import geodesic
from terrain_guard.plan.draft import LaunchGiven
from terrain_guard.plan.route import Launch, Place, Route
from terrain_guard.plan.route_files import read_route
from terrain_guard.plan.rules import DEFAULT_RULES, Rules
from terrain_guard.plan.rules_toml import read_rules
from terrain_guard.plan.told import NOTHING_TOLD, Told
from terrain_guard.states import SEVERITY, State, worst

LARGEST_STEP_M = 1.0
LAUNCH_DOUBT_M = 10.0
"""A stated launch elevation may differ from the model's by this, or by three sigma."""
COLUMN_TOLERANCE_M = 1e-3


def check(
    route: str | Path | Route,
    *,
    ground: str | Path | Sequence[str | Path],
    rules: str | Path | Rules | None = None,
    launch: LaunchGiven = None,
    told: Told = NOTHING_TOLD,
) -> Assessment:
    """Assess a route over terrain.

    Parameters
    ----------
    route : path or Route
        The route file, or a route made in Python.
    ground : path, or sequence of paths
        The elevation model of the bare earth: a file, a folder of tiles, a pattern such as
        "tiles/*.tif", or several of these as one model; where two know a place, the first counts.
    rules : path, name or Rules, optional
        What is wanted; the program's own default if not given.
    launch : (lat, lon) or "first", optional
        Launch from here instead, degrees; or at the first waypoint.
    told : Told, optional
        What a CSV, KML or GPX file leaves open, such as what its heights count from.

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
    return _assess(_Site.over(route, Ground(ground), rules))


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
    if rules.require:
        msg = (
            f"the rules {rules.name!r} require {', '.join(rules.require)}, which is not checked "
            "yet: a verdict without it would say too much; take it out of require to check the rest"
        )
        raise RefusedRules(msg)


def limiting_surfaces(
    assessment: Assessment, *, ground: str | Path | Sequence[str | Path]
) -> Limits:
    """Return the two limiting surfaces, with margins, under the reference curve.

    Elevations at the samples of `assessment`; the lowest is NaN in the take-off
    and landing columns and where the floor was not assessed; both where ground is missing.
    """
    model, samples, rules = Ground(ground), assessment.samples, assessment.rules
    row, column = model.posts_at(samples.lon_deg, samples.lat_deg)
    lowest = resting_elevation(model, row, column, rules.floor_m) + assessment.floor_margin_m
    if rules.ceiling_measure == "closest-point":
        highest = resting_elevation(model, row, column, rules.ceiling_m)
    else:
        highest = samples.ground_elevation_m + rules.ceiling_m
    missing = np.isnan(samples.ground_elevation_m)
    unjudged = samples.in_column | (samples.state == SEVERITY.index(State.NOT_ASSESSED))
    return Limits(
        lowest_allowed_m=np.where(missing | unjudged, np.nan, lowest),
        highest_allowed_m=np.where(missing, np.nan, highest - assessment.ceiling_margin_m),
    )


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class _Site:
    """A flight over its ground: what the checks need, found out once."""

    route: Route
    rules: Rules
    ground: Ground
    flight: Flight
    launch: LaunchUsed
    wanted: Wanted
    margin_source: str
    waypoint_heights_m: tuple[float, ...]
    assumed: tuple[str, ...]

    @classmethod
    def over(cls, route: Route, ground: Ground, rules: Rules) -> _Site:
        refuse_too_far_apart(route)
        launch = _launch_ground(route, ground)
        heights, tied = _above_launch(route, ground, launch.elevation_m)
        flight = fly(
            route,
            heights,
            spot_ground_m=_spot_ground_m(route, ground, launch.elevation_m),
            step_m=min(LARGEST_STEP_M, ground.finest_cell_m),
        )
        refuse_elsewhere(route, ground, flight)
        margins = flat_margins(ground.coarsest_cell_m)
        last = len(route.waypoints)
        reach = COLUMN_RADIUS_M + route.launch.spot_within_m
        columns = {0: Column(place=flight.launch, radius_m=reach)}
        if flight.spot.lands:
            columns[last] = Column(place=flight.spot.place, radius_m=reach)
        wanted = Wanted(
            floor_m=rules.floor_m,
            floor_margin_m=margins.floor_m,
            ceiling_m=rules.ceiling_m,
            ceiling_margin_m=margins.ceiling_m,
            closest_point_ceiling=rules.ceiling_measure == "closest-point",
            vertical_floor=rules.floor_measure == "vertical",
            columns=columns,
            eased=frozenset({0}),
            assurable=margins.assurable,
        )
        return cls(
            route=route, rules=rules, ground=ground, flight=flight, launch=launch, wanted=wanted,
            margin_source=margins.source, waypoint_heights_m=tuple(heights),
            assumed=route.assumed + tied,
        )  # fmt: skip

    def wanted_on(self, curve: Curve) -> Wanted:
        """Return the limits for one curve: a slanting way home is eased like the climb-out."""
        last = len(self.route.waypoints)
        spot = self.flight.spot
        slants_home = curve.leg[0] == last and curve.words[-1] == "slanting"
        to_land = spot.lands and spot.height_m is None  # not to a waypoint at its own height
        if not (slants_home and to_land):
            return self.wanted
        return replace(self.wanted, eased=self.wanted.eased | {last})


def _launch_ground(route: Route, ground: Ground) -> LaunchUsed:
    launch = route.launch
    model = float(ground.elevation(launch.lon_deg, launch.lat_deg)[0])
    stated = launch.elevation_m
    elevation, source = model, "terrain model"
    if stated is not None:
        _refuse_doubtful_launch(launch, stated, model, ground)
        elevation, source = stated, "stated in the route"
    elif np.isnan(model):
        source = "not known"
    return LaunchUsed(
        lat_deg=launch.lat_deg,
        lon_deg=launch.lon_deg,
        elevation_m=elevation,
        elevation_source=source,
        spot_within_m=launch.spot_within_m,
    )


def _refuse_doubtful_launch(
    launch: Launch, stated_m: float, model_m: float, ground: Ground
) -> None:
    allowed = max(3 * (launch.elevation_accuracy_m or 0.0), LAUNCH_DOUBT_M)
    apart = stated_m - model_m
    if abs(apart) > allowed:
        from terrain_guard.ground.datums import geoid_hint  # slow to load, seldom needed

        hint = geoid_hint(apart, ground.raster.vertical, launch.lon_deg, launch.lat_deg)
        msg = (
            f"launch.elevation_m is {stated_m:g}, but the terrain model has {model_m:.1f} m there, "
            f"{apart:+.1f} m apart{f', which is {hint}' if hint else ''}: more than {allowed:g} m "
            "(the larger of 10 m and three times the accuracy) means another place or another "
            "vertical datum; correct the launch, or leave the elevation out to use the model's"
        )
        raise RefusedTerrain(msg)


def _above_launch(
    route: Route, ground: Ground, launch_elevation_m: float
) -> tuple[list[float], tuple[str, ...]]:
    """Return each waypoint's height above launch, and how other zeros were tied to it."""
    typed, said = np.array([w.height_m for w in route.waypoints]), tuple[str, ...]()
    lon, lat = ([getattr(w, n) for w in route.waypoints] for n in ("lon_deg", "lat_deg"))
    if route.heights == "ground":
        typed = typed + ground.elevation(lon, lat) - launch_elevation_m
    elif route.heights != "launch":
        from terrain_guard.ground.datums import tie  # slow to load, seldom needed

        tied = tie(route.heights, ground.raster.vertical, lon, lat, model=ground.name)
        typed, said = typed + tied.add_m - launch_elevation_m, (tied.said,)
    return [float(height) for height in typed], said


def _spot_ground_m(route: Route, ground: Ground, launch_elevation_m: float) -> float:
    """Return the ground where the flight ends, above the launch ground."""
    spot: Place = route.home
    if route.after_last.go_to != "launch":
        named = {w.name: w for w in route.waypoints}
        spot = named.get(route.after_last.go_to, route.waypoints[-1])
    if (spot.lat_deg, spot.lon_deg) == (route.launch.lat_deg, route.launch.lon_deg):
        return 0.0
    return float(ground.elevation(spot.lon_deg, spot.lat_deg)[0]) - launch_elevation_m


def _assess(site: _Site) -> Assessment:
    columns, excess = _columns(site)
    judged = [
        _judged(site, curve, columns) for section in site.flight.sections for curve in section
    ]
    reference = tuple(section[0] for section in site.flight.sections)
    ruler = Ruler.along(reference)
    legs = _legs(site, judged, ruler)
    failing = stretches(judged, site.wanted, ruler)
    box = terrain_to_get(site.flight, site.rules.ceiling_m)
    speaker = Speaker(
        wanted=site.wanted,
        launch_elevation_m=site.launch.elevation_m,
        typed_m={row.leg: (row.typed_start_m, row.typed_end_m) for row in legs},
        box=box,
    )
    missing = any(stretch.state is State.NOT_ASSESSED for stretch in failing)
    return Assessment(
        route=site.route,
        rules=site.rules,
        verdict=worst(row.state for row in legs),
        length_m=ruler.length_m,
        assessed_m=assessed_length_m(failing, ruler),
        floor_margin_m=site.wanted.floor_margin_m,
        ceiling_margin_m=site.wanted.ceiling_margin_m,
        margin_source=site.margin_source,
        launch=site.launch,
        terrain=site.ground.used_files(),
        curves=tuple(dict.fromkeys(one.curve.name for one in judged)),
        legs=legs,
        findings=findings(failing, speaker, site.ground, column_excess_m=excess),
        cautions=cautions(site.route, site.ground, site.flight),
        not_checked=not_checked(site.route, site.rules, site.ground),
        assumed=site.assumed,
        terrain_to_get=box if missing else None,
        samples=reference_samples(judged, reference, ruler),
    )  # fmt: skip


def _judged(site: _Site, curve: Curve, columns: dict[int, ColumnState]) -> Judged:
    wanted = site.wanted_on(curve)
    points = measure(curve, site.ground, wanted, launch_elevation_m=site.launch.elevation_m)
    return Judged(curve=curve, points=points, judgement=judge(points, wanted, columns=columns))


def _columns(site: _Site) -> tuple[dict[int, ColumnState], dict[int, float]]:
    """Look at the take-off and landing columns; return their states and excess by leg."""
    states, excess = {}, {}
    spots = {0: (site.flight.launch, 0.0)}
    spots[len(site.route.waypoints)] = site.flight.spot.place, site.flight.spot.ground_m
    for leg, column in site.wanted.columns.items():
        place, above_launch = spots[leg]
        lon, lat = site.flight.frame.to_degrees([place[0]], [place[1]])
        row, column_number = site.ground.posts_at(lon, lat)
        here = float(site.ground.elevation_at(row, column_number)[0])
        slack = site.launch.elevation_m + above_launch - here
        if np.isnan(here):
            states[leg] = ColumnState(code=NOT_ASSESSED)
            continue
        found, void = cone_excess(
            site.ground, float(row[0]), float(column_number[0]),
            spot_elevation_m=here, radius_m=column.radius_m,
        )  # fmt: skip
        blocked, unseen = found > COLUMN_TOLERANCE_M, void <= column.radius_m
        code = BREACH if blocked else NOT_ASSESSED if unseen else WITHIN
        states[leg] = ColumnState(code=code, slack_m=slack)
        excess[leg] = found
    return states, excess


def _legs(site: _Site, judged: list[Judged], ruler: Ruler) -> tuple[LegRow, ...]:
    route, heights = site.route, site.waypoint_heights_m
    end = {"launch": "launch" if route.home == _as_place(route) else "home", "here": "here"}
    names = ["launch", *(w.name for w in route.waypoints)]
    names.append(end.get(route.after_last.go_to, route.after_last.go_to))
    spot = site.flight.spot
    typed = [0.0, *heights, spot.height_m if spot.height_m is not None else spot.ground_m]
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
            **leg_extremes(
                judged, ruler, leg,
                floor_margin_m=site.wanted.floor_margin_m,
                ceiling_margin_m=site.wanted.ceiling_margin_m,
            )._asdict(),
        )
        for leg in range(len(names) - 1)
    )  # fmt: skip


def _as_place(route: Route) -> Place:
    return Place(lat_deg=route.launch.lat_deg, lon_deg=route.launch.lon_deg)


def _waypoint_places(site: _Site) -> list[tuple[float, float]]:
    lon, lat = ([getattr(w, n) for w in site.route.waypoints] for n in ("lon_deg", "lat_deg"))
    x, y = site.flight.frame.to_local(lon, lat)
    return list(zip(x.tolist(), y.tolist(), strict=True))

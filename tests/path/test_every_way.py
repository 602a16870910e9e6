"""What is not stated, against every way stated by itself: nothing is lower, nothing is lost.

A way stated by itself is drawn whole and alone. Unstated, it is drawn together with all
others; wherever it flies there must be a line no higher than it, and one no lower.
"""

from __future__ import annotations

import dataclasses
import itertools
import math
from collections.abc import Iterator
from typing import TYPE_CHECKING

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy.spatial import cKDTree

from terrain_guard.path.climbs import SHORT
from terrain_guard.path.curve import GAP, Curve
from terrain_guard.path.flight import CUT, Flight, fly
from terrain_guard.plan.route import Route
from tests.path.lines import Lines
from tests.path.routes import UNSTATED, beside, flown, lonlat, nearest_m, places, route, waypoint

if TYPE_CHECKING:
    from terrain_guard.arrays import Bools

STEP_M = 1.0
HEIGHT_M = 0.02  # and heights on steep legs by as much as that is along them


def stated(drawn: Route, words: tuple[str, ...]) -> Route:
    """Return the route flown in one way, by what that is called."""
    turn, corner_height, model = words[:3]
    too_steep = "falls-short" if model.endswith(SHORT) else "slows"
    return dataclasses.replace(
        drawn,
        turns=dataclasses.replace(drawn.turns, kind=turn, corner_height=corner_height),
        climb=dataclasses.replace(
            drawn.climb, model=model.removesuffix(SHORT), too_steep=too_steep
        ),
    )


def every_way_stated(drawn: Route) -> Iterator[tuple[str, Curve]]:
    """Yield every way that may be stated of a route, by name, drawn alone."""
    for turn, corner, model, too_steep in itertools.product(
        ("fly-by", "fly-over", "smooth", "stop"), ("mid-arc", "straight"),
        ("linear", "early", "late", "smooth"), ("slows", "falls-short"),
    ):  # fmt: skip
        one = dataclasses.replace(
            drawn,
            turns=dataclasses.replace(drawn.turns, kind=turn, corner_height=corner),
            climb=dataclasses.replace(drawn.climb, model=model, too_steep=too_steep),
        )
        yield f"{turn}/{corner}/{model}/{too_steep}", flown(one, step_m=STEP_M).legs[0]


def assert_nothing_is_lost(drawn: Route) -> None:
    """Check that no stated way is anywhere lower or higher than all that is drawn unstated."""
    flight = flown(drawn, step_m=STEP_M)
    reference = flight.legs[0]
    lows = Lines([reference, *(one for one in beside(flight) if one.side == "low")])
    highs = Lines([reference, *(one for one in beside(flight) if one.side == "high")])
    for name, curve in every_way_stated(drawn):
        for k in range(0, curve.leg.size, 3):
            place = np.array([curve.x_m[k], curve.y_m[k], curve.above_launch_m[k]])
            low, _ = lows.heights_over(place, int(curve.leg[k]))
            high, _ = highs.heights_over(place, int(curve.leg[k]))
            assert low.size, f"nothing drawn where {name} flies on leg {curve.leg[k]}"
            assert low[0].min() <= place[2] + HEIGHT_M, name
            assert high[1].max() >= place[2] - HEIGHT_M, name


def assert_names_are_true(flight: Flight, drawn: Route) -> None:
    """Check that the way that is named is flown there, at that height, at samples and between."""
    alone: dict[str, Lines] = {}
    for line in beside(flight):
        chord = line.leg != GAP
        # Every end of what is flown in one piece, and some between.
        ends = np.flatnonzero(np.append(chord, False) != np.append(False, chord))
        between = np.flatnonzero(chord)[::7] + 0.5
        for at in (*ends.tolist(), *between.tolist()):
            k = int(at)
            name, leg = line.name_at(at), int(line.leg[k if k < chord.size and chord[k] else k - 1])
            share = at - k
            here = np.array([
                v[k] if not share else (v[k] + v[k + 1]) / 2
                for v in (line.x_m, line.y_m, line.above_launch_m)
            ])  # fmt: skip
            joins = share and math.hypot(
                *np.diff(line.x_m[k : k + 2]), *np.diff(line.y_m[k : k + 2])
            )
            if name.startswith(CUT) or (share and joins < 1e-6):
                continue  # on the spot it goes from one way to the next
            if name not in alone:
                alone[name] = Lines([flown(stated(drawn, tuple(name.split("/")))).legs[0]])
            found, _ = alone[name].heights_over(here, leg)
            assert found.size, f"{name} does not fly there"
            assert found[0].min() - HEIGHT_M <= here[2] <= found[1].max() + HEIGHT_M, name


def unstated(*points: tuple[float, float, float], **more: float) -> Route:
    """Return a route of which nothing is stated but how wide it turns."""
    return route(
        *points, turns={**UNSTATED["turns"], **more}, climb={**UNSTATED["climb"]}
    )  # fmt: skip


FIXED = {
    "a corner": unstated((-80, 0, 50), (0, 0, 60), (0, 90, 45), turn_anticipation_m=20.0),
    "a steep corner": unstated((-40, 0, 50), (0, 0, 110), (0, 40, 45), turn_anticipation_m=10.0),
    "short legs": unstated(
        (-60, 0, 50), (0, 0, 60), (0, 12, 75), (-40, 12, 45), turn_anticipation_m=20.0
    ),
    "steep on one line": unstated((0, 0, 50), (50, 0, 120), (100, 0, 120), (200, 0, 60)),
    "there and back": unstated((0, 0, 50), (60, 0, 90), (0, 0, 50), (0, 50, 50)),
    "repeated": unstated((-60, 0, 50), (0, 0, 80), (0, 0, 80), (0, 60, 50)),
    "up on the spot": unstated((-60, 0, 50), (0, 0, 60), (0, 0, 90), (0, 60, 50)),
    "descending": unstated((0, 0, 130), (40, 10, 60), (90, -20, 60), (160, 40, 60)),
}


@pytest.mark.parametrize("name", FIXED)
def test_nothing_is_lost(name: str) -> None:
    """Routes with corners, steep legs, reversals and repeated points."""
    assert_nothing_is_lost(FIXED[name])


@pytest.mark.parametrize("name", FIXED)
def test_names_are_true(name: str) -> None:
    """Whatever is drawn beside the reference is flown by the way that is named."""
    assert_names_are_true(flown(FIXED[name]), FIXED[name])


PLACES = st.integers(-6, 6).map(lambda n: n * 9.5)
POINTS = st.lists(
    st.tuples(PLACES, PLACES, st.sampled_from([40.0, 50.0, 65.0, 100.0])), min_size=2, max_size=4
)
TURN = st.sampled_from([None, None, None, "fly-by", "fly-over", "smooth", "stop"])


@st.composite
def routes(draw: st.DrawFn) -> Route:
    """Draw a route of which little is stated; some waypoints state their own turn, or wait."""
    waypoints = [
        waypoint(f"w{k}", *point, turn=draw(TURN), wait_s=draw(st.sampled_from([0.0, 0.0, 2.0])))
        for k, point in enumerate(draw(POINTS))
    ]
    return route(
        *waypoints,
        turns={
            **UNSTATED["turns"],
            "turn_anticipation_m": draw(st.sampled_from([3.0, 12.0, 40.0])),
        },
        climb={**UNSTATED["climb"], "up_m_per_s": draw(st.sampled_from([1.0, 4.0, 30.0]))},
    )


@settings(max_examples=12, deadline=None)
@given(routes())
def test_nothing_is_lost_on_any_route(drawn: Route) -> None:
    """Nowhere is a stated way lower than the lowest or higher than the highest unstated."""
    assert_nothing_is_lost(drawn)


@settings(max_examples=12, deadline=None)
@given(routes())
def test_names_are_true_on_any_route(drawn: Route) -> None:
    """Each line beside the reference is flown by its named way."""
    assert_names_are_true(flown(drawn), drawn)


# ------------------------------------------------------------ cut corners


def inside_corner(flight: Flight, side_m: float) -> Bools:
    """Return for points of a net in the triangle of the corner's tangents how near a line comes."""
    corner = flight.tracks["fly-by"].corners[1]
    here = np.array(flight.frame.to_local(*_lonlat_of(flight)))
    u, v = np.array(corner.start) - here, np.array(corner.end) - here
    shares = np.linspace(0.01, 0.99, 40)
    net = np.array([here + a * u + b * v for a in shares for b in shares if a + b < 1])
    flown_m = places(flight)
    away, _ = cKDTree(flown_m).query(net)
    return np.asarray(away <= side_m)


def _lonlat_of(flight: Flight) -> tuple[float, float]:
    return flight.frame.lon_deg, flight.frame.lat_deg


def about_the_frame(change_deg: float, **turns: object) -> Route:
    """Return a route with a corner of so many degrees in the middle of its own frame."""
    course = math.radians(change_deg)
    far = 100.0
    second = far * math.cos(course), far * math.sin(course)
    # Launch and home are put so that the corner is the middle of all.
    return route(
        (-far, 0.0, 50.0), (0.0, 0.0, 50.0), (*second, 50.0),
        launch=(far, -second[1]), home=(far, -second[1]), turns=turns,
    )  # fmt: skip


@pytest.mark.parametrize("change_deg", [30.0, 90.0, 140.0])
def test_a_corner_that_may_be_cut_is_filled(change_deg: float) -> None:
    """From chord to waypoint no place in the triangle is farther than a metre from a line."""
    flight = flown(about_the_frame(change_deg, turn_anticipation_m=20.0))
    corner = flight.tracks["fly-by"].corners[1]
    middle = np.abs(np.array(corner.start) + corner.end).max()
    assert middle < 45.0  # the corner lies in the middle of the frame
    assert inside_corner(flight, 1.0).all()


@pytest.mark.parametrize(
    ("ahead_m", "spacing_m", "lines"),
    [
        # From chord to waypoint it is T / sqrt 2: 14.142 m, 141.42 m.
        (20.0, 1.0, 15),
        (20.0, 0.1, 15),  # never closer than a metre
        (20.0, 10.0, 2),  # a cell apart
        (200.0, 10.0, 15),
        (200.0, 1.0, 32),  # and never more than so many
    ],
)
def test_how_many_lines_fill_a_corner(ahead_m: float, spacing_m: float, lines: int) -> None:
    """Evenly spaced from the chord on, a metre or a cell apart, in wide corners more."""
    drawn = route((-500.0, 0.0, 50.0), (0.0, 0.0, 50.0), (0.0, 500.0, 50.0),
                  turns={"turn_anticipation_m": ahead_m})  # fmt: skip
    flight = fly(drawn, [50.0] * 3, spot_ground_m=0.0, step_m=1.0, cut_spacing_m=spacing_m)
    (low,) = (line for line in beside(flight) if line.side == "low")
    starts = np.flatnonzero((low.leg[1:] == 2) & (low.leg[:-1] == GAP)) + 1
    tops = [k for k in starts.tolist() if low.name_at(k).startswith(CUT)]
    x, y = (float(v) for v in flight.frame.to_local(*lonlat(0.0, 0.0)))
    away = np.sort(np.hypot(low.x_m[tops] - x, low.y_m[tops] - y))[::-1]
    deep_m = ahead_m / math.sqrt(2)
    assert away == pytest.approx(deep_m * (1 - np.arange(lines) / lines), abs=0.01)


@pytest.mark.parametrize("kind", ["fly-by", "stop", "fly-over", "smooth"])
def test_a_stated_turn_is_not_cut(kind: str) -> None:
    """What is stated is flown, and nothing between."""
    flight = flown(about_the_frame(90.0, kind=kind, turn_anticipation_m=20.0))
    assert len(flight.legs) == 1
    assert not any(name.startswith(CUT) for name in flight.names)


def test_a_waypoint_with_its_own_turn_is_not_cut() -> None:
    """Of two corners only the one of which nothing is stated is filled."""
    drawn = route(
        (-100.0, 0.0, 50.0), (0.0, 0.0, 50.0), waypoint("by", 0.0, 100.0, 50.0, turn="fly-by"),
        (100.0, 100.0, 50.0), turns={"turn_anticipation_m": 20.0},
    )  # fmt: skip
    flight = flown(drawn)
    assert nearest_m(flight, -5.0, 5.0) < 1.0
    assert nearest_m(flight, 4.0, 96.0) > 1.0  # between the arc and the chord of the second
    assert nearest_m(flight, 0.0, 100.0) > 8.0


def test_cut_corners_have_the_heights_of_rounded_ones() -> None:
    """Cut straight they are 94 m all along (20 of 200 m below 100); else 100 m in their middle."""
    drawn = route(
        (-200.0, 0.0, 40.0), (0.0, 0.0, 100.0), (0.0, 100.0, 70.0),
        turns={**UNSTATED["turns"], "turn_anticipation_m": 20.0},
    )  # fmt: skip
    low, high = beside(flown(drawn))
    on_low, on_high = (
        [k for k in np.flatnonzero(line.leg != GAP) if line.name_at(int(k)).startswith(CUT)]
        for line in (low, high)
    )
    assert low.above_launch_m[on_low] == pytest.approx(94.0, abs=1e-6)
    assert {low.name_at(int(k)).split("/")[1] for k in on_low} == {"straight"}
    assert max(high.above_launch_m[on_high]) == pytest.approx(100.0)
    assert {high.name_at(int(k)).split("/")[1] for k in on_high} == {"mid-arc"}


# ------------------------------------------------------------ places, times, legs


@pytest.mark.parametrize("anticipation_m", [5.0, 20.0])
def test_what_leaves_the_reference_lies_on_its_ruler(anticipation_m: float) -> None:
    """A place beside the reference is told by leg and share of leg: near it, to 15 m.

    At the waypoint, which is flown over where it stops, it reads mid-arc of the
    reference, on the leg before and on the leg behind.
    """
    drawn = route((-100.0, 0.0, 50.0), (0.0, 0.0, 50.0), (0.0, 100.0, 50.0),
                  turns={"turn_anticipation_m": anticipation_m})  # fmt: skip
    flight = flown(drawn)
    reference, others = flight.legs
    flown_there = np.isfinite(others.x_m)
    x, y = (np.interp(others.along_m, reference.along_m, v)
            for v in (reference.x_m, reference.y_m))  # fmt: skip
    away = np.hypot(others.x_m - x, others.y_m - y)[flown_there]
    # Shifted at most by what the longest way, over the waypoint and back, is longer.
    assert away.max() < 3.0 * anticipation_m
    stop_at = [k for k in np.flatnonzero(flown_there) if nearest_to(others, flight, int(k)) < 1e-6]
    middle = reference.leg_span(1)[1]
    assert stop_at
    assert others.along_m[stop_at] == pytest.approx(middle, abs=1e-6)


def nearest_to(curve: Curve, flight: Flight, sample: int) -> float:
    """Return how far a sample is from the route's second waypoint."""
    corner = flight.tracks["fly-by"].corners[1]
    # Where the tangents meet.
    middle = np.array([corner.middle[0], corner.middle[1]])
    centre = np.array(corner.centre)
    out = (middle - centre) / np.linalg.norm(middle - centre)
    here = middle + out * corner.inside_m
    return float(math.hypot(curve.x_m[sample] - here[0], curve.y_m[sample] - here[1]))


def test_times_beside_the_reference_are_the_references() -> None:
    """At an equal share of a leg the time is equal, a wait of 30 s and a slow climb included."""
    drawn = route(
        waypoint("a", -100.0, 0.0, 50.0, wait_s=30.0), (0.0, 0.0, 90.0), (0.0, 100.0, 50.0),
        **UNSTATED,
    )  # fmt: skip
    reference, others = flown(drawn).legs
    expected = np.interp(others.along_m, reference.along_m, reference.time_s)
    assert others.time_s == pytest.approx(expected, abs=1e-9)
    assert others.spans_m == {leg: reference.spans_m[leg] for leg in (1, 2)}

"""Whatever is typed, what is flown is finite, in order and in one piece."""

from __future__ import annotations

from typing import Any

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from terrain_guard.path.curve import GAP
from terrain_guard.path.flight import Flight, fly
from terrain_guard.plan.route import Route, Waypoint
from tests.path.routes import (
    UNSTATED,
    beside,
    distance_m,
    every_curve,
    flown,
    route,
    steps_m,
    waypoint,
)

STEP_M = 1.0
MICROMETRE = 1e-6  # ways that cross so near to a sample are not cut there


def assert_sound(flight: Flight) -> None:
    """Check what holds for every flight."""
    for curve in every_curve(flight):
        arrays = (curve.x_m, curve.y_m, curve.lon_deg, curve.lat_deg, curve.above_launch_m,
                  curve.along_m, curve.time_s)  # fmt: skip
        for values in arrays:
            assert np.isfinite(values).all()
            assert values.size == curve.x_m.size >= 2
        assert curve.leg.size == curve.x_m.size - 1
        assert (np.diff(curve.leg) >= 0).all()
        assert (np.diff(curve.along_m) >= 0).all()
        assert (np.diff(curve.time_s) >= 0).all()
        assert curve.along_m[0] == 0.0
        assert curve.time_s[0] == 0.0
        assert steps_m(curve).max() <= STEP_M * (1 + 1e-9)
        assert np.diff(curve.along_m) == pytest.approx(steps_m(curve), abs=1e-8)
    reference = flight.legs[:1]
    for before, after in ((flight.out, reference), (reference, flight.home)):
        joints = {(c.x_m[-1], c.y_m[-1], c.above_launch_m[-1]) for c in before}
        joints |= {(c.x_m[0], c.y_m[0], c.above_launch_m[0]) for c in after}
        assert len(joints) == 1


def assert_beside_is_sound(flight: Flight) -> None:
    """Check what is flown beside the reference: in parts, and of each the lowest and highest."""
    reference = flight.legs[0]
    for curve in flight.legs[1:]:
        assert curve.low is not None
        assert curve.high is not None
        assert (curve.low.above_launch_m <= curve.above_launch_m + MICROMETRE).all()
        assert (curve.high.above_launch_m >= curve.above_launch_m - MICROMETRE).all()
        assert set(curve.spans_m) <= set(reference.spans_m)
    for line in beside(flight):
        chord = line.leg != GAP
        assert chord.any()
        for values in (line.x_m, line.y_m, line.lon_deg, line.lat_deg, line.above_launch_m,
                       line.along_m, line.time_s):  # fmt: skip
            assert np.isfinite(values[:-1][chord]).all()
            assert np.isfinite(values[1:][chord]).all()
        is_cut = np.array([words[0] == "cut-corner" for words in line.ways])[line.way]
        step_m = np.hypot(np.diff(line.x_m), np.diff(line.y_m))[chord & ~is_cut]
        assert step_m.max(initial=0.0) <= STEP_M * (1 + 1e-9)  # lines that cut corners are straight
        assert (np.diff(line.along_m)[chord] >= 0).all()
        assert (np.diff(line.time_s)[chord] >= 0).all()
        spans = np.array([reference.spans_m.get(leg, (0.0, 0.0)) for leg in line.leg.tolist()])
        for ends in (line.along_m[:-1], line.along_m[1:]):
            assert (ends >= spans[:, 0] - 1e-6)[chord].all()
            assert (ends <= spans[:, 1] + 1e-6)[chord].all()


def assert_whole(flight: Flight, drawn: Route) -> None:
    """Check that every leg has its metres, and every waypoint its height at its leg's end."""
    curve = flight.legs[0]
    exact = drawn.turns.corner_height != "straight" and drawn.climb.too_steep != "falls-short"
    for k, typed in enumerate(drawn.waypoints[:-1], start=1):
        chords = np.flatnonzero(curve.leg == k)
        assert chords.size
        if exact:
            assert curve.above_launch_m[chords[0]] == pytest.approx(typed.height_m, abs=1e-9)
    assert curve.above_launch_m[-1] == drawn.waypoints[-1].height_m


# ------------------------------------------------------------ odd routes, one by one

P, Q = (0.0, 0.0), (40.0, 30.0)
ODD: dict[str, list[tuple[float, float, float]]] = {
    "two points": [(*P, 50), (*Q, 60)],
    "the same point twice": [(*P, 50), (*P, 50)],
    "the same point at two heights": [(*P, 50), (*P, 80)],
    "repeated first": [(*P, 50), (*P, 50), (*Q, 50)],
    "repeated last": [(*P, 50), (*Q, 50), (*Q, 50)],
    "repeated in a corner": [(*P, 50), (*Q, 50), (*Q, 90), (0, 60, 50)],
    "three times the same": [(*P, 50), (*P, 60), (*P, 50), (*Q, 50)],
    "nothing but one point": [(*P, 50)] * 5,
    "a millimetre apart": [(*P, 50), (0.001, 0.0, 50), (*Q, 50)],
    "a micrometre apart": [(*P, 50), (1e-6, 0.0, 50), (*Q, 50)],
    "back to a hair's breadth, and up": [(*P, 50), (0, 11.5, 50), (*P, 50), (1.2e-7, 0.0, 90)],
    "back to a micrometre, and down": [(*P, 50), (0, 11.5, 90), (*P, 90), (1.1e-6, 0.0, 50)],
    "there and back": [(*P, 50), (*Q, 50), (*P, 50)],
    "there and back, nearly": [(*P, 50), (100, 0, 50), (0, 15, 50)],
    "there and back at other heights": [(*P, 50), (*Q, 90), (*P, 30), (*Q, 50)],
    "legs shorter than corners": [(*P, 50), (5, 0, 55), (5, 4, 60), (0, 4, 50), (0, 1, 50)],
    "straight on": [(*P, 50), (20, 0, 60), (40, 0, 60), (90, 0, 20)],
    "below launch": [(*P, -50), (*Q, -80), (90, 0, -20)],
    "at launch level": [(*P, 0), (*Q, 0)],
}


@pytest.mark.parametrize("anticipation_m", [None, 15.0])
@pytest.mark.parametrize("launch", [(0.0, 0.0), (-70.0, 12.0)])
@pytest.mark.parametrize("name", ODD)
def test_odd_routes(name: str, launch: tuple[float, float], anticipation_m: float | None) -> None:
    """Repeated points, reversals and crowded corners are flown every way, finite everywhere."""
    turns = {**UNSTATED["turns"], "turn_anticipation_m": anticipation_m}
    drawn = route(
        *ODD[name], launch=launch, turns=turns, climb=UNSTATED["climb"],
        way_home={"height_m": 70.0},
    )  # fmt: skip
    flight = flown(drawn)
    assert_sound(flight)
    assert_whole(flight, drawn)
    assert_beside_is_sound(flight)


@pytest.mark.parametrize("corner_height", ["mid-arc", "straight"])
@pytest.mark.parametrize("model", ["linear", "early", "late", "smooth"])
@pytest.mark.parametrize("kind", ["fly-by", "fly-over", "smooth", "stop"])
@pytest.mark.parametrize("name", ODD)
def test_odd_routes_in_one_way(name: str, kind: str, model: str, corner_height: str) -> None:
    """Stated, there is one way to fly them, and it may fall short but not break off."""
    drawn = route(
        *ODD[name], turns={"kind": kind, "corner_height": corner_height},
        climb={"model": model, "too_steep": "falls-short"},
    )  # fmt: skip
    flight = flown(drawn)
    assert len(flight.legs) == 1
    assert_sound(flight)
    assert_whole(flight, drawn)


def test_height_alone_is_flown_straight_up() -> None:
    """Two waypoints in one place, 30 m apart in height: a vertical leg of 30 m, in 30 steps."""
    drawn = route((*P, 50), (*P, 80), turns={"kind": "stop"})
    (curve,) = flown(drawn).legs
    assert np.ptp(curve.x_m) == np.ptp(curve.y_m) == 0.0
    assert curve.above_launch_m == pytest.approx(np.linspace(50, 80, 31))
    assert curve.along_m[-1] == pytest.approx(30.0)
    assert curve.time_s[-1] == pytest.approx(7.5)


def test_reversal_is_flown_to_the_point() -> None:
    """There and back: the turning point is reached, not rounded."""
    (curve,) = flown(route((*P, 50), (100, 0, 50), (*P, 50), turns={"kind": "fly-by"})).legs
    assert distance_m(curve, 100.0, 0.0).min() < 1e-3
    assert curve.along_m[-1] == pytest.approx(200.0, abs=1e-3)


def test_repeated_point_with_another_height_is_flown_up_in_between() -> None:
    """In a corner typed twice, 40 m apart, it climbs there, between the legs."""
    curve = flown(route(*ODD["repeated in a corner"])).legs[0]
    chords = np.flatnonzero(curve.leg == 2)
    assert np.ptp(curve.x_m[chords]) == 0.0
    assert curve.above_launch_m[chords[0]] == 50.0
    assert curve.above_launch_m[chords[-1] + 1] == 90.0


def test_unknown_heights_stay_unknown() -> None:
    """A waypoint whose height is not known makes its two legs unknown, and no place."""
    drawn = route((*P, 50), (*Q, 50), (90, 0, 50), (90, 60, 50), launch=(-70.0, 12.0))
    flight = fly(drawn, [50.0, np.nan, 50.0, 50.0], spot_ground_m=0.0, step_m=STEP_M)
    for curve in every_curve(flight):
        assert np.isfinite(curve.x_m + curve.y_m + curve.lon_deg + curve.lat_deg).all()
    assert beside(flight)
    for curve in (flight.legs[0], *beside(flight)):
        inner = (curve.above_launch_m[1:] + curve.above_launch_m[:-1]) / 2
        assert np.isnan(inner[(curve.leg == 1) | (curve.leg == 2)]).all()
        assert np.isfinite(inner[curve.leg == 3]).all()
    assert all(np.isfinite(curve.above_launch_m).all() for curve in (*flight.out, *flight.home))


def test_unknown_ground_at_home_stays_unknown() -> None:
    """Where the ground at home is not known, the last descent is not, and all before it is."""
    drawn = route((*P, 50), (*Q, 50), launch=(-70.0, 12.0), way_home={"path": "level"})
    (curve,) = flown(drawn, spot_ground_m=np.nan).home
    level = curve.leg.size - np.isnan(curve.above_launch_m).sum()
    assert level > 100
    assert (curve.above_launch_m[:level] == 50.0).all()
    assert np.isfinite(curve.x_m).all()


# ------------------------------------------------------------ any route

_PLACE = st.integers(-12, 12).map(lambda n: n * 11.5)
_WAYPOINT = st.tuples(
    st.one_of(_PLACE, st.floats(-150, 150)),
    st.one_of(_PLACE, st.floats(-150, 150)),
    st.one_of(st.sampled_from([-40.0, 0.0, 50.0]), st.floats(-100, 150)),
    st.fixed_dictionaries(
        {},
        optional={
            "speed_m_per_s": st.floats(0.1, 40),
            "wait_s": st.floats(0, 100),
            "turn": st.sampled_from(["fly-by", "fly-over", "smooth", "stop"]),
        },
    ),
)
_RATE = st.floats(0.1, 30)
_TURNS = st.fixed_dictionaries(
    {},
    optional={
        "kind": st.sampled_from(["unstated", "fly-by", "fly-over", "smooth", "stop"]),
        "corner_height": st.sampled_from(["unstated", "mid-arc", "straight"]),
        "bank_deg": st.floats(1, 80),
        "turn_anticipation_m": st.floats(0.1, 100),
    },
)
_CLIMB = st.fixed_dictionaries(
    {},
    optional={
        "model": st.sampled_from(["unstated", "linear", "early", "late", "smooth"]),
        "too_steep": st.sampled_from(["unstated", "slows", "falls-short"]),
        "out": st.sampled_from(["unstated", "vertical", "step", "slanting"]),
        "up_m_per_s": _RATE,
        "down_m_per_s": _RATE,
        "take_off_height_m": st.floats(0.1, 60),
    },
)
_AFTER_LAST = st.fixed_dictionaries(
    {}, optional={"go_to": st.sampled_from(["launch", "here", "w0", "w1"]),
                  "then": st.sampled_from(["land", "wait"])}
)  # fmt: skip
_WAY_HOME = st.fixed_dictionaries(
    {},
    optional={
        "height_m": st.floats(-100, 150),
        "path": st.sampled_from(
            ["unstated", "climb-first", "climb-on-the-way", "slanting", "level"]
        ),
        "gradient": st.floats(0.01, 100),
    },
)
_SPOT = st.tuples(_PLACE, _PLACE)


@st.composite
def routes(draw: st.DrawFn) -> Route:
    """Draw a route: often on a grid, so that points repeat and legs reverse."""
    points: list[tuple[float, float, float, dict[str, Any]]]
    points = draw(st.lists(_WAYPOINT, min_size=2, max_size=6))
    waypoints: list[Waypoint] = [
        waypoint(f"w{k}", east, north, height, **more)
        for k, (east, north, height, more) in enumerate(points)
    ]
    return route(
        *waypoints,
        launch=draw(_SPOT),
        home=draw(st.one_of(st.none(), _SPOT)),
        turns=draw(_TURNS),
        climb=draw(_CLIMB),
        after_last=draw(_AFTER_LAST),
        way_home=draw(_WAY_HOME),
        wind_m_per_s=draw(st.floats(0, 15)),
    )


@settings(max_examples=100, deadline=None)
@given(drawn=routes(), ground_m=st.floats(-60, 60))
def test_any_route(drawn: Route, ground_m: float) -> None:
    """No NaN, along and time never fall, no step too long, joints coincide, no leg is lost."""
    flight = flown(drawn, spot_ground_m=ground_m)
    assert_sound(flight)
    assert_whole(flight, drawn)
    assert_beside_is_sound(flight)


@settings(max_examples=60, deadline=None)
@given(drawn=routes())
def test_corners_lie_on_their_legs(drawn: Route) -> None:
    """Turns begin and end on the legs, no corner takes more than half of either."""
    flight = flown(drawn)
    corners = {k: one for tracks in flight.tracks.values() for k, one in tracks.corners.items()}
    for k, rounded in corners.items():
        x, y = flight.frame.to_local(
            [w.lon_deg for w in drawn.waypoints], [w.lat_deg for w in drawn.waypoints]
        )
        apart = np.flatnonzero(np.hypot(x - x[k], y - y[k]) > 1e-6)  # a point may be repeated
        three = [apart[apart < k][-1], k, apart[apart > k][0]]
        x, y = x[three], y[three]
        lengths = np.hypot(np.diff(x), np.diff(y))
        assert rounded.tangent_m <= lengths.min() / 2 * (1 + 1e-9)
        for (east, north), other in ((rounded.start, 0), (rounded.end, 2)):
            to_corner = np.hypot(x[1] - east, y[1] - north)
            to_other = np.hypot(x[other] - east, y[other] - north)
            leg = np.hypot(x[1] - x[other], y[1] - y[other])
            assert to_corner == pytest.approx(rounded.tangent_m, abs=1e-6)
            assert to_corner + to_other == pytest.approx(leg, abs=1e-6)

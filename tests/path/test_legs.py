"""Legs and rounded corners as flown: places, heights, lengths and times, by hand."""

from __future__ import annotations

import math
from typing import Any

import numpy as np
import pytest

from terrain_guard.path.curve import Curve, Pace, at, straight
from tests.path.routes import (
    distance_m,
    every_curve,
    flown,
    nearest_m,
    route,
    steps_m,
    stops,
    waypoint,
)

MILLIMETRE = 1e-3


def sample_at(curve: Curve, east_m: float, north_m: float) -> int:
    """Return the number of the sample at a place, which has to be there to a millimetre."""
    away = distance_m(curve, east_m, north_m)
    assert away.min() < MILLIMETRE
    return int(np.argmin(away))


# ------------------------------------------------------------ one corner of 90 degrees, 20 m before

SQUARE = [(-200.0, 0.0, 50.0), (0.0, 0.0, 80.0), (0.0, 200.0, 50.0)]
"""Eastward, then left, northward. r = 20 m, passes 8.284 m inside, arc 31.416 m (by hand)."""
INSIDE_M = 20 * (math.sqrt(2) - 1)  # 8.284
ARC_M = 10 * math.pi


def square_corner(**turns: Any) -> Curve:
    """Return the legs of the corner, flown by."""
    drawn = route(*SQUARE, turns={"kind": "fly-by", "turn_anticipation_m": 20.0, **turns})
    (curve,) = flown(drawn).legs
    return curve


def test_tangent_points_and_mid_arc_are_samples() -> None:
    """The turn begins 20 m before the waypoint, ends 20 m after it, and its middle is a sample."""
    curve = square_corner()
    start, end = sample_at(curve, -20.0, 0.0), sample_at(curve, 0.0, 20.0)
    aside = INSIDE_M / math.sqrt(2)
    middle = sample_at(curve, -aside, aside)
    assert start < middle < end
    assert distance_m(curve, 0.0, 0.0).min() == pytest.approx(INSIDE_M, abs=MILLIMETRE)


def test_typed_height_is_reached_at_mid_arc() -> None:
    """The 80 m typed for the corner are flown at mid-arc, and nowhere more."""
    curve = square_corner()
    aside = INSIDE_M / math.sqrt(2)
    middle = sample_at(curve, -aside, aside)
    assert curve.above_launch_m[middle] == pytest.approx(80.0, abs=1e-9)
    assert int(np.argmax(curve.above_launch_m)) == middle
    assert (curve.above_launch_m[0], curve.above_launch_m[-1]) == (50.0, 50.0)


def test_legs_part_at_mid_arc() -> None:
    """Leg 1 is all before mid-arc, leg 2 all after."""
    curve = square_corner()
    aside = INSIDE_M / math.sqrt(2)
    middle = sample_at(curve, -aside, aside)
    assert (curve.leg[:middle] == 1).all()
    assert (curve.leg[middle:] == 2).all()
    assert curve.leg_span(1) == (0.0, curve.along_m[middle])
    assert curve.leg_span(2) == (curve.along_m[middle], curve.along_m[-1])


def test_height_is_linear_with_distance_flown() -> None:
    """30 m up over 180 m of line and 15.708 m of arc, and down the same way."""
    curve = square_corner()
    flown_m = np.append(0.0, np.cumsum(np.hypot(np.diff(curve.x_m), np.diff(curve.y_m))))
    leg_m = 180.0 + ARC_M / 2
    expected = 80.0 - 30.0 * np.abs(flown_m - leg_m) / leg_m
    assert np.abs(curve.above_launch_m - expected).max() < MILLIMETRE


def test_length_saved_in_the_corner() -> None:
    """The corner saves 2 T - r A = 40 - 31.416 m; along counts 3-D metres."""
    curve = square_corner()
    horizontal = np.hypot(np.diff(curve.x_m), np.diff(curve.y_m)).sum()
    assert horizontal == pytest.approx(400.0 - (40.0 - ARC_M), abs=MILLIMETRE)
    leg_m = 180.0 + ARC_M / 2
    assert curve.along_m[-1] == pytest.approx(2 * math.hypot(leg_m, 30.0), abs=MILLIMETRE)


@pytest.mark.parametrize(("change_deg", "inside_m"), [(60.0, 5.359), (120.0, 11.547)])
@pytest.mark.parametrize("side", [1, -1])
def test_other_corners(change_deg: float, inside_m: float, side: int) -> None:
    """Inside by T tan (A/4): 5.359 m at 60 degrees, 11.547 m at 120, to either side."""
    course = math.radians(90 + side * change_deg)
    end = 150 * math.cos(course), 150 * math.sin(course)
    drawn = route(
        (0.0, -150.0, 50.0), (0.0, 0.0, 50.0), (*end, 50.0),
        turns={"kind": "fly-by", "turn_anticipation_m": 20.0},
    )  # fmt: skip
    (curve,) = flown(drawn).legs
    assert distance_m(curve, 0.0, 0.0).min() == pytest.approx(inside_m, abs=MILLIMETRE)
    sample_at(curve, 0.0, -20.0)
    sample_at(curve, 20 * math.cos(course), 20 * math.sin(course))
    saved = 40 - 20 / math.tan(math.radians(change_deg) / 2) * math.radians(change_deg)
    assert curve.along_m[-1] == pytest.approx(300 - saved, abs=MILLIMETRE)


@pytest.mark.parametrize("anticipation_m", [0.5, 5.0, 20.0, 95.0])
@pytest.mark.parametrize("step_m", [1.0, 0.2])
def test_chords_stay_on_their_arc(anticipation_m: float, step_m: float) -> None:
    """No chord leaves its arc by more than a millimetre, however tight the turn."""
    drawn = route(*SQUARE, turns={"kind": "fly-by", "turn_anticipation_m": anticipation_m})
    flight = flown(drawn, step_m=step_m)
    (curve,) = flight.legs
    rounded = flight.tracks["fly-by"].corners[1]
    assert rounded.radius_m == pytest.approx(anticipation_m, rel=1e-6)  # a square corner
    start = int(np.argmin(np.hypot(curve.x_m - rounded.start[0], curve.y_m - rounded.start[1])))
    end = int(np.argmin(np.hypot(curve.x_m - rounded.end[0], curve.y_m - rounded.end[1])))
    x, y = curve.x_m[start : end + 1], curve.y_m[start : end + 1]
    on_arc = np.hypot(x - rounded.centre[0], y - rounded.centre[1])
    assert on_arc == pytest.approx(rounded.radius_m, abs=1e-6)
    middle = np.hypot(
        (x[1:] + x[:-1]) / 2 - rounded.centre[0], (y[1:] + y[:-1]) / 2 - rounded.centre[1]
    )
    assert (rounded.radius_m - middle).max() <= MILLIMETRE + 1e-9
    assert x.size > 8


# ------------------------------------------------------------ what is a stop


def test_unstated_turns_are_flown_every_way() -> None:
    """Fly-by first; the others are drawn behind it, and some of them pass over the waypoint."""
    flight = flown(route(*SQUARE))
    by, others = flight.legs
    assert list(flight.tracks) == ["fly-by", "fly-over", "smooth", "stop"]
    words = {words[0] for words in others.ways}
    assert words == {"fly-by", "fly-over", "smooth", "stop", "cut-corner"}
    assert by.words[0] == "fly-by"
    assert distance_m(by, 0.0, 0.0).min() > 1.0
    assert nearest_m(flight, 0.0, 0.0) < MILLIMETRE


@pytest.mark.parametrize(
    ("kind", "more"),
    [("stop", {}), ("fly-by", {"turn": "stop"}), ("fly-by", {"wait_s": 3.0}),
     ("unstated", {"turn": "stop"}), ("unstated", {"wait_s": 3.0})],
)  # fmt: skip
def test_stops_are_reached(kind: str, more: dict[str, Any]) -> None:
    """A stop, by kind, at this waypoint, or because it waits there, is flown to, one way only."""
    drawn = route(SQUARE[0], waypoint("corner", 0.0, 0.0, 80.0, **more), SQUARE[2],
                  turns={"kind": kind})  # fmt: skip
    flight = flown(drawn)
    (curve,) = flight.legs
    assert distance_m(curve, 0.0, 0.0).min() < MILLIMETRE
    assert [tracks.corners for tracks in flight.tracks.values()] == [{}]


def test_a_waypoint_overrides_the_kind() -> None:
    """All stop, but this one is flown by."""
    drawn = route(SQUARE[0], waypoint("corner", 0.0, 0.0, 80.0, turn="fly-by"), SQUARE[2],
                  turns={"kind": "stop", "turn_anticipation_m": 20.0})  # fmt: skip
    (curve,) = flown(drawn).legs
    assert distance_m(curve, 0.0, 0.0).min() == pytest.approx(INSIDE_M, abs=MILLIMETRE)


def test_first_and_last_waypoint_are_reached() -> None:
    """Both ends of the legs are the waypoints themselves, at their typed heights."""
    curve = square_corner()
    assert distance_m(curve, -200.0, 0.0)[0] < MILLIMETRE
    assert distance_m(curve, 0.0, 200.0)[-1] < MILLIMETRE


# ------------------------------------------------------------ how wide a turn is


@pytest.mark.parametrize(
    ("turns", "speeds", "wind", "radius_m"),
    [
        # r = (v + w)² / (g tan b): 10² / (9.80665 * 0.46631) = 21.868 (worked by hand)
        ({}, (10.0, 10.0), 0.0, 21.868),
        ({}, (10.0, 5.0), 0.0, 21.868),  # the faster of the two legs
        ({}, (5.0, 10.0), 0.0, 21.868),
        ({}, (7.0, 7.0), 3.0, 21.868),  # blown on by the wind
        ({"bank_deg": 20.0}, (10.0, 10.0), 0.0, 28.016),
        ({"bank_deg": 45.0}, (10.0, 10.0), 0.0, 10.197),
        ({"turn_anticipation_m": 33.0}, (10.0, 10.0), 5.0, 33.0),
        ({"bank_deg": 20.0}, (60.0, 10.0), 0.0, 100.0),  # 1008 m asked for, half a leg given
    ],
)
def test_radius_of_the_turn_flown(
    turns: dict[str, float], speeds: tuple[float, float], wind: float, radius_m: float
) -> None:
    """From anticipation, else from bank (25 degrees unless stated), speed and wind."""
    first, middle, last = SQUARE
    drawn = route(
        waypoint("a", *first, speed_m_per_s=speeds[0]),
        waypoint("b", *middle, speed_m_per_s=speeds[1]),
        last,
        turns={"kind": "fly-by", **turns},
        wind_m_per_s=wind,
    )
    rounded = flown(drawn).tracks["fly-by"].corners[1]
    assert rounded.radius_m == pytest.approx(radius_m, abs=0.001)


# ------------------------------------------------------------ legs shorter than their corners


def test_corners_share_a_short_leg() -> None:
    """Two corners 30 m apart that ask for 20 m each get 15 m, and meet in the middle."""
    drawn = route(
        (-200.0, 0.0, 50.0), (0.0, 0.0, 50.0), (0.0, 30.0, 60.0), (-200.0, 30.0, 60.0),
        turns={"kind": "fly-by", "turn_anticipation_m": 20.0},
    )  # fmt: skip
    flight = flown(drawn)
    (curve,) = flight.legs
    corners = flight.tracks["fly-by"].corners
    assert [c.tangent_m for c in corners.values()] == pytest.approx([15.0] * 2, abs=1e-4)
    assert all(c.shortened for c in corners.values())
    sample_at(curve, 0.0, 15.0)
    horizontal = np.hypot(np.diff(curve.x_m), np.diff(curve.y_m)).sum()
    assert horizontal == pytest.approx(430 - 2 * (30 - 15 * math.pi / 2), abs=MILLIMETRE)
    assert (curve.leg[1:] >= curve.leg[:-1]).all()
    assert set(curve.leg.tolist()) == {1, 2, 3}
    heights = [curve.above_launch_m[sample_at(curve, 0.0, 15.0)]]
    assert heights == pytest.approx([55.0], abs=MILLIMETRE)  # half of the short leg


# ------------------------------------------------------------ strokes


def pace(speed: float = 5.0, up: float = 4.0, down: float = 3.0) -> Pace:
    """Return a pace."""
    return Pace(speed_m_per_s=speed, up_m_per_s=up, down_m_per_s=down)


@pytest.mark.parametrize("step_m", [1.0, 0.7, 30.0])
@pytest.mark.parametrize(
    ("stop", "rise"), [((100.0, 0.0), 0.0), ((30.0, 40.0), 120.0), ((0.0, 0.0), 55.5),
                       ((0.4, 0.0), 0.0), ((0.0, 0.0), 0.0), ((12.0, -5.0), -84.0)]
)  # fmt: skip
def test_straight_strokes(stop: tuple[float, float], rise: float, step_m: float) -> None:
    """Evenly spaced, no farther apart than the step in 3-D, from end to end, heights linear."""
    stroke = straight((0.0, 0.0), stop, heights_m=(10.0, 10.0 + rise), leg=3, pace=pace(),
                      step_m=step_m)  # fmt: skip
    steps = np.sqrt(
        np.diff(stroke.x_m) ** 2 + np.diff(stroke.y_m) ** 2 + np.diff(stroke.above_launch_m) ** 2
    )
    length = math.sqrt(stop[0] ** 2 + stop[1] ** 2 + rise**2)
    assert steps.max() <= step_m * (1 + 1e-9)
    assert steps.size == max(1, math.ceil(length / step_m - 1e-9))
    assert steps.sum() == pytest.approx(length)
    assert (stroke.x_m[-1], stroke.y_m[-1]) == pytest.approx(stop)
    assert np.diff(stroke.above_launch_m) == pytest.approx(rise / steps.size)
    assert stroke.leg == 3


@pytest.mark.parametrize("model", ["linear", "early", "late", "smooth"])
@pytest.mark.parametrize("corner_height", ["mid-arc", "straight"])
def test_steep_arcs_keep_their_step(model: str, corner_height: str) -> None:
    """Climbs of 300 m in quarter turns of 10 m radius: still no more than a metre apart."""
    drawn = route(
        (-20.0, 0.0, 0.0), (0.0, 0.0, 300.0), (0.0, 20.0, 0.0), (20.0, 20.0, 50.0),
        turns={"kind": "fly-by", "turn_anticipation_m": 10.0, "corner_height": corner_height},
        climb={"model": model, "up_m_per_s": 30.0, "down_m_per_s": 20.0},
    )  # fmt: skip
    (curve,) = flown(drawn).legs
    # Half of the 300 m at either tangent point, and so between them, if cut straight.
    assert curve.above_launch_m.max() > (140.0 if corner_height == "straight" else 299.9)
    assert steps_m(curve).max() <= 1.0 + 1e-9


@pytest.mark.parametrize("step_m", [1.0, 0.25])
def test_step_bound_of_a_whole_flight(step_m: float) -> None:
    """Every chord of every way of a flight with steep legs is at most the step, in 3-D."""
    drawn = route((20.0, 0.0, 120.0), (60.0, 0.0, 20.0), (60.0, 25.0, 140.0), (60.0, 25.0, 30.0),
                  launch=(0.0, 5.0), way_home={"height_m": 150.0})  # fmt: skip
    for curve in every_curve(flown(drawn, step_m=step_m)):
        assert steps_m(curve).max() <= step_m * (1 + 1e-9)


def test_values_between_samples() -> None:
    """Between samples values are linear; at the ends they are the samples' own."""
    values = np.array([10.0, 20.0, 0.0])
    positions = np.array([0.0, 0.25, 1.0, 1.5, 2.0])
    assert at(values, positions).tolist() == [10.0, 12.5, 20.0, 10.0, 0.0]


# ------------------------------------------------------------ time


@pytest.mark.parametrize(
    ("length", "rise", "speed", "up", "down", "seconds"),
    [
        (100.0, 0.0, 10.0, 3.0, 3.0, 10.0),
        # 40 m up in 100 m at 3 m/s: 13.33 s, though 10 m/s would take 10 s; it fits at 7.5 m/s.
        (100.0, 40.0, 10.0, 3.0, 9.0, 40 / 3),
        (100.0, 40.0, 7.5, 3.0, 9.0, 40 / 3),
        (100.0, 40.0, 7.0, 3.0, 9.0, 100 / 7),
        (100.0, -40.0, 10.0, 9.0, 2.0, 20.0),
        (0.0, 60.0, 10.0, 4.0, 3.0, 15.0),
        (0.0, -60.0, 10.0, 4.0, 3.0, 20.0),
    ],
)
def test_time_of_a_leg(
    *, length: float, rise: float, speed: float, up: float, down: float, seconds: float
) -> None:
    """The slower of going along and going up or down decides."""
    drawn = route(
        waypoint("a", 0.0, 0.0, 100.0, speed_m_per_s=speed),
        waypoint("b", length, 0.0, 100.0 + rise),
        climb={"up_m_per_s": up, "down_m_per_s": down},
    )
    (curve,) = flown(drawn).legs
    assert curve.time_s[-1] == pytest.approx(seconds, rel=1e-6)
    assert np.diff(curve.time_s) == pytest.approx(seconds / (curve.time_s.size - 1), rel=1e-6)


def test_each_leg_has_its_speed_and_waits_count() -> None:
    """100 m at 5 m/s, 7 s at the corner, 100 m at 10 m/s, and 4 s before the first leg."""
    drawn = route(
        waypoint("a", 0.0, 0.0, 50.0, speed_m_per_s=5.0, wait_s=4.0),
        waypoint("b", 100.0, 0.0, 50.0, speed_m_per_s=10.0, wait_s=7.0),
        waypoint("c", 100.0, 100.0, 50.0, speed_m_per_s=2.0, wait_s=11.0),
        launch=(-50.0, 0.0),
        after_last={"go_to": "here", "then": "wait"},
    )
    flight = flown(drawn)
    (legs,) = flight.legs
    assert legs.time_s[-1] == pytest.approx(4 + 20 + 7 + 10, rel=1e-6)
    corner_at = sample_at(legs, 100.0, 0.0)
    assert legs.time_s[corner_at] == pytest.approx(24.0, rel=1e-6)
    (home,) = flight.home
    assert home.time_s[-1] == pytest.approx(11.0)


def test_a_climb_slows_only_its_own_leg() -> None:
    """Waiting, climbing and flying level add up; the pace is that of the leg's first waypoint."""
    drawn = route(
        waypoint("a", 0.0, 0.0, 20.0, speed_m_per_s=10.0),
        waypoint("b", 50.0, 0.0, 60.0, speed_m_per_s=10.0),
        waypoint("c", 150.0, 0.0, 60.0),
        turns={"kind": "stop"},
    )
    (curve,) = flown(drawn).legs
    assert curve.time_s[-1] == pytest.approx(40 / 4 + 100 / 10, rel=1e-6)


# ------------------------------------------------------------ collinear and single legs


def test_a_waypoint_on_the_line_changes_nothing() -> None:
    """A waypoint put into a leg at the leg's own height leaves the same line in the air."""
    (plain,) = flown(route((0.0, 0.0, 40.0), (300.0, 0.0, 100.0))).legs
    (split,) = flown(route((0.0, 0.0, 40.0), (100.0, 0.0, 60.0), (300.0, 0.0, 100.0))).legs
    assert stops(plain) == pytest.approx(np.array(stops(split)), abs=0.002)
    assert split.along_m[-1] == pytest.approx(plain.along_m[-1], abs=MILLIMETRE)
    assert split.words[0] == "fly-by"  # nothing is rounded, so one way is enough


def test_single_leg() -> None:
    """Two waypoints: one straight leg, one way."""
    (curve,) = flown(route((0.0, 0.0, 40.0), (30.0, 40.0, 40.0))).legs
    assert curve.x_m.size == 51
    assert curve.along_m[-1] == pytest.approx(50.0, abs=MILLIMETRE)
    assert curve.name == "fly-by/mid-arc/linear/vertical/level"

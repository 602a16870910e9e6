"""Turns over a waypoint: where they begin and end, how far they swing, by the handbook's forms."""

from __future__ import annotations

import math
from typing import TYPE_CHECKING

import numpy as np
import pytest

from terrain_guard.path.fly_over import Overflight, overflight
from terrain_guard.path.tracks import Track
from tests.path.routes import distance_m, flown, route, waypoint

if TYPE_CHECKING:
    from terrain_guard.arrays import Floats

ANGLES = [1.0, 10.0, 30.0, 42.0, 43.0, 60.0, 90.0, 120.0, 150.0, 169.9]


def turned(change_deg: float, *, room_m: float = 1e6, **how: float) -> Overflight:
    """Return the turn at the origin, flown in northward, course changed to the left."""
    course = math.radians(90 + change_deg)
    found = overflight(
        (0.0, -1000.0), (0.0, 0.0), (1000 * math.cos(course), 1000 * math.sin(course)),
        room_m=room_m, **({"radius_m": 20.0} | how),
    )  # fmt: skip
    assert found is not None
    return found


def sampled(turn: Overflight, step_m: float = 0.01) -> Floats:
    """Return places along a turn, a centimetre apart: (2, n)."""
    track = Track(pieces=turn.pieces, before=len(turn.pieces))
    count = math.ceil(track.length_m / step_m)
    return np.stack(track.places(np.linspace(0.0, track.length_m, count + 1)))


def on_next_leg(turn: Overflight, places: Floats, change_deg: float) -> Floats:
    """Return places along the next leg, and beyond it to the outside of the turn: (2, n)."""
    course = math.radians(90 + change_deg)
    along = np.array([math.cos(course), math.sin(course)])
    outward = math.copysign(1.0, change_deg) * np.array([math.sin(course), -math.cos(course)])
    return np.stack((along @ places, outward @ places))


@pytest.mark.parametrize("side", [1, -1])
@pytest.mark.parametrize("angle", ANGLES)
def test_it_begins_at_the_waypoint_and_ends_on_the_leg(angle: float, side: int) -> None:
    """Straight on over the waypoint, and along the next leg where that is taken up."""
    turn = turned(side * angle)
    places = sampled(turn)
    assert places[:, 0] == pytest.approx([0.0, 0.0], abs=1e-9)
    first, last = places[:, 1] - places[:, 0], places[:, -1] - places[:, -2]
    assert math.degrees(math.atan2(first[1], first[0])) == pytest.approx(90.0, abs=0.1)
    course = 90 + side * angle
    found = math.degrees(math.atan2(last[1], last[0]))
    assert (found - course + 180) % 360 - 180 == pytest.approx(0.0, abs=0.1)
    end = on_next_leg(turn, places[:, -1:], side * angle)
    assert end[:, 0] == pytest.approx([turn.joins_m, 0.0], abs=1e-6)


@pytest.mark.parametrize("side", [1, -1])
@pytest.mark.parametrize("angle", ANGLES)
def test_it_swings_beyond_the_next_leg(angle: float, side: int) -> None:
    """At most r (1 - cos A) beyond it, where the turn runs parallel to it; never inside."""
    turn = turned(side * angle)
    beyond = on_next_leg(turn, sampled(turn), side * angle)[1]
    most_m = 20.0 * (1 - math.cos(math.radians(angle)))
    assert beyond.max() == pytest.approx(most_m, abs=1e-4)
    assert turn.outside_m == pytest.approx(most_m, abs=1e-9)
    assert beyond.min() > -1e-6


@pytest.mark.parametrize("angle", ANGLES)
def test_it_is_one_smooth_line_that_bends_no_more_than_its_radius(angle: float) -> None:
    """No gap, no corner, and nowhere a tighter turn than r: measured along the line."""
    turn = turned(angle)
    steps = np.diff(sampled(turn), axis=1)
    far = np.hypot(*steps)
    assert far.max() <= 0.01 + 1e-9
    heading = np.unwrap(np.arctan2(steps[1], steps[0]))
    bend = np.abs(np.diff(heading)) / ((far[1:] + far[:-1]) / 2)
    assert bend.max() <= 1 / 20.0 * 1.001


@pytest.mark.parametrize(
    ("angle", "joins"),
    [
        (30.0, 1.2197),  # sin A + 2 sin d, with cos d = (1 + cos A) / 2: 30 would overshoot
        (60.0, 2.2679),
        (90.0, 3.2679),
        (120.0, 4.0),
        (150.0, 4.2679),
    ],
)
def test_where_it_joins_the_next_leg(angle: float, joins: float) -> None:
    """The minimum stabilization distance over a waypoint, less the time to bank, for r = 1.

    ICAO Doc 8168 PANS-OPS Vol II, Part III, Section 2, Chapter 1 (the forms from
    memory): L1 = r sin A, L2 = r cos A tan a, L3 = r (1 / sin a - 2 cos A / cos a),
    L4 = r tan (a / 2), a = 30 degrees, both turns of one radius. Numbers by hand.
    """
    a, intercept = math.radians(angle), math.radians(30)
    if angle >= 43:
        l1, l2 = math.sin(a), math.cos(a) * math.tan(intercept)
        l3 = 1 / math.sin(intercept) - 2 * math.cos(a) / math.cos(intercept)
        l4 = math.tan(intercept / 2)
        assert l1 + l2 + l3 + l4 == pytest.approx(joins, abs=1e-4)
    assert turned(angle, radius_m=1.0).joins_m == pytest.approx(joins, abs=1e-4)


@pytest.mark.parametrize("angle", ANGLES)
def test_a_short_leg_makes_it_tighter(angle: float) -> None:
    """With half the room that it needs it has half the radius, and says so."""
    wanted = turned(angle)
    assert not wanted.shortened
    tight = turned(angle, room_m=wanted.joins_m / 2)
    assert tight.radius_m == pytest.approx(10.0)
    assert tight.joins_m == pytest.approx(wanted.joins_m / 2)
    assert tight.shortened
    assert not turned(angle, room_m=wanted.joins_m).shortened


def test_turn_anticipation_tells_the_radius() -> None:
    """An aircraft that would begin a right angle 15 m before the waypoint turns at 15 m."""
    assert turned(90.0, radius_m=0.0, anticipation_m=15.0).radius_m == pytest.approx(15.0)
    at_60 = turned(60.0, radius_m=0.0, anticipation_m=15.0)
    assert at_60.radius_m == pytest.approx(15.0 * math.sqrt(3))  # 15 / tan 30


@pytest.mark.parametrize("change_deg", [0.0, 0.009, 170.5, 180.0, -179.9])
def test_straight_on_and_reversal_are_no_turns(change_deg: float) -> None:
    """Courses that hardly change, and reversals beyond 170 degrees, are flown otherwise."""
    course = math.radians(90 + change_deg)
    after = 100 * math.cos(course), 100 * math.sin(course)
    assert overflight((0.0, -100.0), (0.0, 0.0), after, room_m=100.0, radius_m=20.0) is None


def test_no_room_and_no_length_are_no_turns() -> None:
    """Without a leg to turn onto, or to come from, there is no turn."""
    after = (100.0, 0.0)
    assert overflight((0.0, -9.0), (0.0, 0.0), after, room_m=0.0, radius_m=20.0) is None
    assert overflight((0.0, 0.0), (0.0, 0.0), after, room_m=9.0, radius_m=20.0) is None
    assert overflight((0.0, -9.0), (0.0, 0.0), (0.0, 0.0), room_m=9.0, radius_m=20.0) is None


# ------------------------------------------------------------ in a route


def test_in_a_route_it_belongs_to_the_next_leg() -> None:
    """Eastward over the corner, 20 m on to the right of north, and back after 65.359 m.

    It is longer than the leg: arcs of 120 and 30 degrees, and between them r (2 cos 30 - 1)
    / sin 30 = 1.4641 r, against 3.2679 r along the leg. All by hand.
    """
    drawn = route(
        (-200.0, 0.0, 50.0), (0.0, 0.0, 50.0), (0.0, 200.0, 50.0),
        turns={"kind": "fly-over", "turn_anticipation_m": 20.0},
    )  # fmt: skip
    (curve,) = flown(drawn).legs
    assert curve.leg_span(1) == pytest.approx((0.0, 200.0), abs=1e-3)
    flown_m = 20.0 * (math.radians(150) + 1.464102)
    assert np.ptp(curve.leg_span(2)) == pytest.approx(200 - 65.359 + flown_m, abs=2e-3)
    assert distance_m(curve, 0.0, 0.0).min() < 1e-3
    assert distance_m(curve, 0.0, 65.359).min() < 1e-3
    assert distance_m(curve, 20.0, 20.0).min() < 0.5  # the outermost place of the swing


def test_height_changes_over_all_that_is_flown() -> None:
    """30 m up over the 217.3 m of the second leg, linear with what is flown, not straight."""
    drawn = route(
        (-200.0, 0.0, 50.0), (0.0, 0.0, 50.0), (0.0, 200.0, 80.0),
        turns={"kind": "fly-over", "turn_anticipation_m": 20.0},
    )  # fmt: skip
    (curve,) = flown(drawn).legs
    length_m = 200 - 65.359 + 20.0 * (math.radians(150) + 1.464102)
    joins = int(np.argmin(distance_m(curve, 0.0, 65.359)))
    climbed_m = 30.0 * (length_m - (200 - 65.359)) / length_m
    assert curve.above_launch_m[joins] == pytest.approx(50.0 + climbed_m, abs=2e-3)


@pytest.mark.parametrize("corner_height", ["mid-arc", "straight"])
def test_next_to_rounded_corners_heights_go_on(corner_height: str) -> None:
    """Over one waypoint and by the next: no jump, and the typed height over the first."""
    drawn = route(
        (-200.0, 0.0, 50.0),
        waypoint("over", 0.0, 0.0, 90.0, turn="fly-over"),
        waypoint("by", 0.0, 200.0, 40.0, turn="fly-by"),
        (200.0, 200.0, 90.0),
        turns={
            "kind": "stop",
            "turn_anticipation_m": 20.0,
            "corner_height": corner_height,
        },
    )
    (curve,) = flown(drawn).legs
    over = int(np.argmin(distance_m(curve, 0.0, 0.0)))
    assert curve.above_launch_m[over] == pytest.approx(90.0, abs=1e-9)
    assert np.abs(np.diff(curve.above_launch_m)).max() < 0.5
    # Cut straight, from 5 m above the 40 typed on either side (20 m of 200, 50 m higher).
    by_m = 45.0 if corner_height == "straight" else 40.0
    by = int(np.flatnonzero(curve.leg == 3)[0])
    assert curve.above_launch_m[by] == pytest.approx(by_m, abs=1e-6)


def test_before_a_smooth_waypoint_half_the_leg_is_left() -> None:
    """A leg of 40 m lends 20 to the turn, so r = 20 / 3.2679, and the curve never turns back."""
    drawn = route(
        (-200.0, 0.0, 50.0),
        waypoint("over", 0.0, 0.0, 50.0, turn="fly-over"),
        waypoint("smooth", 0.0, 40.0, 50.0, turn="smooth"),
        (0.0, 240.0, 50.0),
        turns={"turn_anticipation_m": 20.0},
    )
    flight = flown(drawn)
    turn = next(iter(flight.tracks.values())).overflights[1]
    assert turn.radius_m == pytest.approx(20 / 3.2679, abs=1e-3)
    assert turn.shortened
    curve = flight.legs[0]
    x, y = flight.frame.to_local(drawn.waypoints[1].lon_deg, drawn.waypoints[1].lat_deg)
    after_turn = curve.y_m - y > turn.joins_m
    assert (np.diff(curve.y_m[after_turn]) > 0).all()
    assert np.abs(curve.x_m[after_turn] - x).max() < 0.1


def test_at_the_end_of_its_leg_it_meets_the_next_waypoint() -> None:
    """Where the turn takes the whole leg, it still ends on the waypoint to the last bit."""
    drawn = route((-50.0, 0.0, 50.0), (0.0, 0.0, 50.0), (0.0, 10.0, 50.0),
                  turns={"kind": "fly-over", "turn_anticipation_m": 20.0})  # fmt: skip
    flight = flown(drawn)
    (curve,) = flight.legs
    home = flight.home[0]
    assert (curve.x_m[-1], curve.y_m[-1]) == (home.x_m[0], home.y_m[0])
    assert flight.tracks["fly-over"].overflights[1].shortened

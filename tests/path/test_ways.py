"""Ways out and ways home: where they bend, how long they are and how long they take, by hand."""

from __future__ import annotations

import math
from typing import Any

import numpy as np
import pytest

from terrain_guard.path.curve import Curve
from terrain_guard.path.flight import Flight
from tests.path.routes import UNSTATED, flown, route, stops, way, waypoint

Bends = list[tuple[float, float, float]]


def assert_flown(
    curve: Curve, bends: Bends, *, length_m: float | None = None, seconds: float | None = None
) -> None:
    """Check where a curve bends, how long it is and how long it takes."""
    assert np.array(stops(curve)) == pytest.approx(np.array(bends), abs=0.002)
    if length_m is not None:
        assert curve.along_m[-1] == pytest.approx(length_m, abs=0.001)
    if seconds is not None:
        assert curve.time_s[-1] == pytest.approx(seconds, abs=0.001)


# ------------------------------------------------------------ out
# Launch at 0, first waypoint 300 m east, 80 m up; 5 m/s along, 4 m/s up, 3 m/s down.


def out(height_m: float, **climb: Any) -> Flight:
    """Return a flight whose first waypoint is 300 m east of launch."""
    return flown(route((300.0, 0.0, height_m), (400.0, 0.0, 80.0), climb=climb))


def test_every_way_out() -> None:
    """Unstated, three ways are flown: straight up first is the reference."""
    flight = out(80.0)
    assert [curve.words[3] for curve in flight.out] == ["vertical", "step", "slanting"]
    vertical, step, slanting = flight.out
    launch, first = (0.0, 0.0, 0.0), (300.0, 0.0, 80.0)
    assert_flown(vertical, [launch, (0.0, 0.0, 80.0), first], length_m=380.0, seconds=20 + 60)
    assert_flown(
        step, [launch, (0.0, 0.0, 10.0), first],
        length_m=10 + math.hypot(300, 70), seconds=2.5 + 60,
    )  # fmt: skip
    assert_flown(slanting, [launch, first], length_m=math.hypot(300, 80), seconds=60.0)


@pytest.mark.parametrize(
    ("word", "height_m"), [("vertical", 80.0), ("step", 10 + 70 / 3), ("slanting", 80 / 3)]
)
def test_heights_on_the_way_out(word: str, height_m: float) -> None:
    """A third of the way, over a spur of 50 m: 80.0, 33.3 and 26.7 m above launch."""
    curve = way(out(80.0).out, word)
    far = np.hypot(curve.x_m - curve.x_m[0], curve.y_m - curve.y_m[0])
    over = np.abs(far - 100.0) < 1e-3
    assert np.interp(100.0, far[far > 0], curve.above_launch_m[far > 0]) == pytest.approx(
        height_m, abs=0.001
    )
    assert over.sum() <= 1


def test_stated_way_out() -> None:
    """A stated way is the only one; the step has its stated height."""
    (curve,) = out(80.0, out="step", take_off_height_m=25.0).out
    assert_flown(curve, [(0.0, 0.0, 0.0), (0.0, 0.0, 25.0), (300.0, 0.0, 80.0)])


@pytest.mark.parametrize("height_m", [-30.0, 0.0])
def test_first_waypoint_not_above_launch(height_m: float) -> None:
    """Straight up to nothing is no way out: over at take-off height, then down."""
    flight = out(height_m)
    end = (300.0, 0.0, height_m)
    up = [(0.0, 0.0, 0.0), (0.0, 0.0, 10.0)]
    assert_flown(way(flight.out, "vertical"), [*up, (300.0, 0.0, 10.0), end],
                 length_m=10 + 300 + 10 - height_m)  # fmt: skip
    assert_flown(way(flight.out, "step"), [*up, end])
    assert_flown(way(flight.out, "slanting"), [(0.0, 0.0, 0.0), end])


def test_first_waypoint_over_the_launch() -> None:
    """Straight up, whatever the way is called."""
    flight = flown(route((0.0, 0.0, 60.0), (100.0, 0.0, 60.0)))
    for curve in flight.out:
        assert_flown(curve, [(0.0, 0.0, 0.0), (0.0, 0.0, 60.0)], length_m=60.0, seconds=15.0)


def test_out_is_leg_nought() -> None:
    """The climb-out is leg 0, the way home the number after the last leg."""
    flight = out(80.0)
    assert all((curve.leg == 0).all() for curve in flight.out)
    assert all((curve.leg == 1).all() for curve in flight.legs)
    assert all((curve.leg == 2).all() for curve in flight.home)
    assert [section[0].legs for section in flight.sections] == [[0], [1], [2]]


# ------------------------------------------------------------ home
# Last waypoint 300 m east of launch, 40 m up; 5 m/s along, 4 m/s up, 3 m/s down.

LAST = (300.0, 0.0, 40.0)
LAUNCH = (0.0, 0.0, 0.0)


def home(
    last: tuple[float, float, float] = LAST, spot_ground_m: float = 0.0, **more: Any
) -> tuple[Curve, ...]:
    """Return the ways home of a flight that ends at `last`; `more` goes to the route."""
    return flown(route((100.0, 50.0, 70.0), last, **more), spot_ground_m=spot_ground_m).home


def test_every_way_home() -> None:
    """With a height to come home at, 60 m, four ways; climbing first is the reference.

    On the way it climbs 4 m for every 5 m forward: 60 m are reached after 25 m.
    """
    ways = home(way_home={"height_m": 60.0})
    assert [curve.words[-1] for curve in ways] == [
        "climb-first", "climb-on-the-way", "slanting", "level",
    ]  # fmt: skip
    over = (0.0, 0.0, 60.0)
    assert_flown(ways[0], [LAST, (300.0, 0.0, 60.0), over, LAUNCH],
                 length_m=20 + 300 + 60, seconds=5 + 60 + 20)  # fmt: skip
    assert_flown(ways[1], [LAST, (275.0, 0.0, 60.0), over, LAUNCH],
                 length_m=math.hypot(25, 20) + 275 + 60, seconds=5 + 55 + 20)  # fmt: skip
    assert_flown(ways[2], [LAST, LAUNCH], length_m=math.hypot(300, 40), seconds=60.0)
    assert_flown(ways[3], [LAST, (0.0, 0.0, 40.0), LAUNCH], length_m=340.0, seconds=60 + 40 / 3)


@pytest.mark.parametrize("height_m", [None, 30.0, 40.0])
def test_home_without_climbing(height_m: float | None) -> None:
    """No height, or one not above the last waypoint's: level and slanting are all there is."""
    lines = {tuple(stops(curve)) for curve in home(way_home={"height_m": height_m})}
    level = [LAST, (0.0, 0.0, 40.0), LAUNCH]
    assert len(lines) == 2
    for line in (level, [LAST, LAUNCH]):
        assert any(
            len(found) == len(line) and np.allclose(found, line, atol=0.002) for found in lines
        )


@pytest.mark.parametrize(
    ("gradient", "bends"),
    [
        (0.1, [LAST, (100.0, 0.0, 60.0), (0.0, 0.0, 60.0), LAUNCH]),  # after 20 / 0.1 = 200 m
        (0.05, [LAST, (0.0, 0.0, 55.0), LAUNCH]),  # arrives at 40 + 0.05 * 300, not at 60
        (20 / 301, [LAST, (0.0, 0.0, 40 + 300 * 20 / 301), LAUNCH]),  # only just not
    ],
)
def test_gradient_home(gradient: float, bends: Bends) -> None:
    """A climb on the way is as steep as stated, and ends over home even if lower than wanted."""
    path = {"height_m": 60.0, "path": "climb-on-the-way", "gradient": gradient}
    (curve,) = home(way_home=path)
    assert_flown(curve, bends)


@pytest.mark.parametrize("height_m", [0.0, -5.0])
def test_height_of_nought_is_a_height(height_m: float) -> None:
    """From 20 m below launch it climbs to launch level, 0 m, if that is what is set."""
    (curve,) = home((300.0, 0.0, -20.0), way_home={"height_m": height_m, "path": "climb-first"})
    expected = [(300.0, 0.0, -20.0), (300.0, 0.0, height_m), (0.0, 0.0, height_m)]
    assert_flown(curve, expected if height_m == 0 else [*expected, LAUNCH])


def test_another_home() -> None:
    """Home lies elsewhere, its ground 12 m below launch: down to there."""
    curve = way(home(home=(0.0, 100.0), spot_ground_m=-12.0), "level")
    assert_flown(curve, [LAST, (0.0, 100.0, 40.0), (0.0, 100.0, -12.0)],
                 length_m=math.hypot(300, 100) + 52)  # fmt: skip


def test_waiting_over_home() -> None:
    """If it waits it does not come down: at the height it came home at, or on the slant's end."""
    ways = home(way_home={"height_m": 60.0}, after_last={"then": "wait"})
    assert {curve.words[-1] for curve in ways} >= {"climb-first", "climb-on-the-way", "level"}
    for curve in ways:
        assert stops(curve)[-1][:2] == pytest.approx((0.0, 0.0), abs=0.002)
        assert curve.above_launch_m[-1] == pytest.approx(
            40.0 if curve.words[-1] == "level" else 60.0
        )


@pytest.mark.parametrize("then", ["land", "wait"])
def test_staying_here(then: str) -> None:
    """Here means no way at all: down to the ground under the last waypoint, or nothing."""
    (curve,) = home(spot_ground_m=11.0, after_last={"go_to": "here", "then": then})
    assert curve.words[-1] == "here"
    if then == "land":
        assert_flown(curve, [LAST, (300.0, 0.0, 11.0)], length_m=29.0, seconds=29 / 3)
    else:
        assert curve.along_m[-1] == 0.0
        assert curve.time_s[-1] == 0.0
        assert curve.above_launch_m.tolist() == [40.0, 40.0]


@pytest.mark.parametrize("then", ["land", "wait"])
def test_going_to_a_higher_waypoint(then: str) -> None:
    """To the first waypoint, 70 m, ground 5 m under it: up first, on the slant, or level and up."""
    first, over = (100.0, 50.0, 70.0), (100.0, 50.0, 40.0)
    end = [(100.0, 50.0, 5.0)] if then == "land" else []
    ways = home(spot_ground_m=5.0, after_last={"go_to": "w0", "then": then})
    far = math.hypot(200, 50)
    down = 65.0 if then == "land" else 0.0
    assert_flown(way(ways, "climb-first"), [LAST, (300.0, 0.0, 70.0), first, *end],
                 length_m=30 + far + down)  # fmt: skip
    assert_flown(way(ways, "slanting"), [LAST, first, *end], length_m=math.hypot(far, 30) + down)
    level = [LAST, over, first] if then == "wait" else [LAST, over, first, *end]
    assert_flown(way(ways, "level"), level, length_m=far + 30 + down)


@pytest.mark.parametrize(
    ("gradient", "bends"),
    [
        # The waypoint is 206.155 m off and 30 m up: reached after 30 / 0.3 = 100 m, or not.
        (0.3, [LAST, (300 - 97.014, 24.254, 70.0), (100.0, 50.0, 70.0)]),
        (0.1, [LAST, (100.0, 50.0, 40 + 20.616), (100.0, 50.0, 70.0)]),
    ],
)
def test_climbing_on_the_way_to_a_waypoint(gradient: float, bends: Bends) -> None:
    """It ends at the waypoint's own height, climbing the rest there if the way was too short."""
    (curve,) = home(
        after_last={"go_to": "w0", "then": "wait"},
        way_home={"path": "climb-on-the-way", "gradient": gradient},
    )
    assert_flown(curve, bends)


def test_nothing_to_climb_on_the_way_to_a_lower_waypoint() -> None:
    """To a waypoint 60 m lower there is nothing to climb: level to it, then down, not backward."""
    (curve,) = home(
        (300.0, 0.0, 130.0),
        after_last={"go_to": "w0", "then": "wait"},
        way_home={"path": "climb-on-the-way", "gradient": 0.2},
    )
    assert_flown(curve, [(300.0, 0.0, 130.0), (100.0, 50.0, 130.0), (100.0, 50.0, 70.0)])


def test_last_waypoint_over_home() -> None:
    """With the last waypoint over the launch it goes straight down, after climbing if set."""
    for curve in home((0.0, 0.0, 40.0)):
        assert_flown(curve, [(0.0, 0.0, 40.0), LAUNCH], length_m=40.0)
    (curve,) = home((0.0, 0.0, 40.0), way_home={"height_m": 60.0, "path": "climb-on-the-way"})
    assert np.isfinite(curve.along_m).all()
    assert curve.above_launch_m[-1] == 0.0


def test_wait_at_the_last_waypoint() -> None:
    """It waits before it turns for home."""
    drawn = route((100.0, 50.0, 70.0), waypoint("last", *LAST, wait_s=30.0))
    assert_flown(way(flown(drawn).home, "level"), [LAST, (0.0, 0.0, 40.0), LAUNCH],
                 seconds=30 + 60 + 40 / 3)  # fmt: skip


def test_stated_way_home() -> None:
    """A stated way is the only one."""
    (curve,) = home(way_home={"height_m": 60.0, "path": "level"})
    assert curve.words[-1] == "level"


# ------------------------------------------------------------ sections


def test_sections_meet() -> None:
    """Every way out ends where every legs begin, and these end where every way home begins."""
    drawn = route((50.0, 20.0, 70.0), (120.0, 80.0, 50.0), LAST, way_home={"height_m": 90.0})
    flight = flown(drawn)
    reference = flight.legs[:1]
    for before, after in ((flight.out, reference), (reference, flight.home)):
        joints = {(c.x_m[-1], c.y_m[-1], c.above_launch_m[-1]) for c in before}
        joints |= {(c.x_m[0], c.y_m[0], c.above_launch_m[0]) for c in after}
        assert len(joints) == 1


def test_names_are_whole() -> None:
    """Each way is named by turn, height in the corner, climb, way out and way home, once each."""
    flight = flown(route((50.0, 20.0, 70.0), (120.0, 80.0, 50.0), LAST, **UNSTATED))
    names = [tuple(name.split("/")) for name in flight.names]
    assert len(set(names)) == len(names)
    turns, corners, climbs, out, home = (set(words) for words in zip(*names, strict=True))
    assert turns == {"fly-by", "fly-over", "smooth", "stop", "cut-corner"}
    assert corners == {"mid-arc", "straight"}
    assert climbs == {"linear", "early", "late", "smooth"}
    # 54 m away it is 43 m up at most by then: too steep for either slant.
    assert out == {"vertical", "step", "slanting", "step-short", "slanting-short"}
    assert home == {"level", "slanting"}
    assert {section[0].name for section in flight.sections} == {flight.names[0]}
    assert flight.names[0] == "fly-by/mid-arc/linear/vertical/level"
    # Only a rounded or a cut corner may be cut straight.
    assert {n[0] for n in names if n[1] == "straight"} == {"fly-by", "cut-corner"}


def test_too_steep_legs_have_more_names() -> None:
    """100 m up in 79.4 m at 5 m/s and 4 m/s: it slows, or falls short, however it climbs."""
    points = (50.0, 20.0, 70.0), (120.0, 80.0, 170.0), (300.0, 80.0, 170.0)
    turns = UNSTATED["turns"]
    climbs = {
        too_steep: {name.split("/")[2] for name in flown(
            route(*points, turns=turns, climb={"model": "unstated", "too_steep": too_steep})
        ).names}
        for too_steep in ("unstated", "slows", "falls-short")
    }  # fmt: skip
    slows = {"linear", "early", "late", "smooth"}
    short = {"linear-short", "early-short", "late-short"}
    assert climbs == {
        "slows": slows, "falls-short": short | {"smooth"}, "unstated": slows | short,
    }  # fmt: skip


# ------------------------------------------------------------ slants too steep for the rates
# First waypoint 50 m east, 80 m up: 10 s at 5 m/s, in which it climbs 40 m at 4 m/s. The last,
# 150 m east at 200 m, is 30 s from home, in which it descends 90 m at 3 m/s.

STEEP = [(50.0, 0.0, 80.0), (150.0, 0.0, 200.0)]
LAUNCH, FIRST = (0.0, 0.0, 0.0), (50.0, 0.0, 80.0)


@pytest.mark.parametrize(
    ("too_steep", "words"),
    [
        ("unstated", ["slanting", "slanting-short"]),
        ("slows", ["slanting"]),
        ("falls-short", ["slanting-short"]),
    ],
)
def test_a_slant_may_fall_short(too_steep: str, words: list[str]) -> None:
    """What is not reached at the end of the slant is made good there: it is a stop."""
    flight = flown(
        route(
            *STEEP,
            climb={"out": "slanting", "too_steep": too_steep},
            way_home={"path": "slanting"},
        )
    )
    assert [curve.words[3] for curve in flight.out] == words
    assert [curve.words[4] for curve in flight.home] == words
    bends = {
        "slanting": ([LAUNCH, FIRST], [STEEP[1], LAUNCH]),
        "slanting-short": (
            [LAUNCH, (50.0, 0.0, 40.0), FIRST],
            [STEEP[1], (0.0, 0.0, 110.0), LAUNCH],
        ),
    }
    for word, out_curve, home in zip(words, flight.out, flight.home, strict=True):
        assert_flown(out_curve, bends[word][0])
        ends = bends[word][1]
        # The frame's middle lies on the way: there a straight line may seem to bend by a hair.
        found = [stops(home)[0], *stops(home)[1 - len(ends) :]]
        assert np.array(found) == pytest.approx(np.array(ends), abs=0.002)


def test_a_step_may_fall_short() -> None:
    """From take-off height 10 m it is at 50 m over the first waypoint."""
    flight = flown(route(*STEEP, climb={"out": "step", "too_steep": "falls-short"}))
    assert_flown(flight.out[0], [LAUNCH, (0.0, 0.0, 10.0), (50.0, 0.0, 50.0), FIRST])

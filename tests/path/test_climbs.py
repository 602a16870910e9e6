"""Climbs along a leg: where the height changes, and what a leg too steep for the rates reaches."""

from __future__ import annotations

import math
from typing import Any

import numpy as np
import pytest

from terrain_guard.path.climbs import MODELS, SHORT, Bend, Heights, Leg, climb
from terrain_guard.path.curve import Pace
from terrain_guard.path.flight import Flight
from tests.path.routes import beside, distance_m, flown, over, route, waypoint

LEVEL = (0.0, 0.0)


def leg(
    length_m: float,
    start_m: float,
    stop_m: float,
    *,
    speed: float = 10.0,
    up: float = 4.0,
    down: float = 3.0,
    slopes_m: tuple[float, float] | None = None,
) -> Leg:
    """Return a leg from height to height; its smooth curve goes straight unless told otherwise."""
    chord = stop_m - start_m
    return Leg(
        length_m=length_m,
        heights_m=(start_m, stop_m),
        pace=Pace(speed_m_per_s=speed, up_m_per_s=up, down_m_per_s=down),
        slopes_m=(chord, chord) if slopes_m is None else slopes_m,
    )


def heights(one: Leg, model: str, *at: float) -> list[float]:
    """Return heights after so many metres."""
    return [float(h) for h in climb(one, model).at(np.array(at))]


# ------------------------------------------------------------ one leg
# 200 m from 40 up to 100 m at 10 m/s and 4 m/s: 15 s, so 150 m are flown while it climbs.

UP = leg(200.0, 40.0, 100.0)
AT = (0.0, 50.0, 100.0, 150.0, 200.0)


@pytest.mark.parametrize(
    ("model", "expected"),
    [
        ("linear", [40.0, 55.0, 70.0, 85.0, 100.0]),
        ("late", [40.0, 40.0, 60.0, 80.0, 100.0]),  # stays at 40 for 50 m
        ("early", [40.0, 60.0, 80.0, 100.0, 100.0]),  # is at 100 after 150 m
        ("smooth", [40.0, 55.0, 70.0, 85.0, 100.0]),  # no other waypoint: straight
    ],
)
def test_a_climb(model: str, expected: list[float]) -> None:
    """Half a dozen heights by hand; where the rates suffice nothing falls short."""
    assert heights(UP, model, *AT) == pytest.approx(expected)
    assert heights(UP, model + SHORT, *AT) == pytest.approx(expected)
    assert not UP.is_too_steep
    assert climb(UP, model).end_m == 100.0


@pytest.mark.parametrize(
    ("model", "expected"),
    [
        ("linear", [100.0, 85.0, 70.0, 55.0, 40.0]),
        ("late", [100.0, 100.0, 100.0, 70.0, 40.0]),  # 60 m at 6 m/s: the last 100 m
        ("early", [100.0, 70.0, 40.0, 40.0, 40.0]),
    ],
)
def test_a_descent_at_its_own_rate(model: str, expected: list[float]) -> None:
    """Down goes by the rate of descent: early is the lowest, late the highest."""
    assert heights(leg(200.0, 100.0, 40.0, down=6.0), model, *AT) == pytest.approx(expected)


@pytest.mark.parametrize("model", MODELS)
@pytest.mark.parametrize("short", ["", SHORT])
def test_a_level_leg_is_level(model: str, short: str) -> None:
    """There is nothing to climb early or late."""
    assert heights(leg(200.0, 60.0, 60.0), model + short, *AT) == [60.0] * 5


# ------------------------------------------------------------ too steep
# 100 m at 10 m/s, 40 m up at 3 m/s: 10 s, in which 30 m are reached; it fits at 7.5 m/s.

STEEP = leg(100.0, 50.0, 90.0, up=3.0)


@pytest.mark.parametrize("model", ["linear", "early", "late"])
def test_it_falls_short(model: str) -> None:
    """All the way at its rate: 10 m low at the end, whatever the model."""
    assert STEEP.is_too_steep
    assert STEEP.reach_m == pytest.approx(30.0)
    assert heights(STEEP, model + SHORT, 0.0, 50.0, 100.0) == pytest.approx([50.0, 65.0, 80.0])


@pytest.mark.parametrize("model", ["linear", "early", "late"])
def test_it_slows(model: str) -> None:
    """Climbing over the whole leg, it reaches the height: there is no room for early or late."""
    assert heights(STEEP, model, 0.0, 50.0, 100.0) == pytest.approx([50.0, 70.0, 90.0])


def test_a_descent_falls_short_on_the_high_side() -> None:
    """40 m down at 3 m/s in 10 s: 10 m high at the end."""
    down = leg(100.0, 90.0, 50.0, down=3.0, up=30.0)
    assert down.is_too_steep
    assert heights(down, "linear" + SHORT, 0.0, 100.0) == pytest.approx([90.0, 60.0])


@pytest.mark.parametrize(("speed", "steep"), [(7.5, False), (7.4, False), (7.6, True)])
def test_the_speed_that_fits(speed: float, steep: bool) -> None:
    """It is w L / dh = 7.5 m/s."""
    assert leg(100.0, 50.0, 90.0, up=3.0, speed=speed).is_too_steep is steep


# ------------------------------------------------------------ on the spot, not known


@pytest.mark.parametrize("model", [*MODELS, "linear-short", "late-short"])
def test_a_leg_without_length(model: str) -> None:
    """From height to height at one place; how far a rate reaches there is not asked of it."""
    found = climb(leg(0.0, 50.0, 50.0), model)
    assert (found.height_m[0], found.end_m) == (50.0, 50.0)


@pytest.mark.parametrize("model", [*MODELS, "linear-short", "early-short", "late-short"])
@pytest.mark.parametrize("known", ["start", "end"])
def test_a_height_not_known_makes_the_leg_not_known(model: str, known: str) -> None:
    """All between is unknown, but not the end that is known."""
    ends = (50.0, math.nan) if known == "start" else (math.nan, 50.0)
    one = leg(200.0, *ends)
    found = heights(one, model, *AT)
    assert np.isnan(found[1:-1]).all()
    assert (found[0], found[-1]) == pytest.approx(ends, nan_ok=True)
    assert climb(one, model).steepest == 0.0


def test_a_slope_not_known_makes_the_smooth_curve_not_known() -> None:
    """The heights at its ends are known all the same."""
    one = leg(200.0, 40.0, 100.0, slopes_m=(math.nan, 60.0))
    found = heights(one, "smooth", *AT)
    assert np.isnan(found[1:-1]).all()
    assert (found[0], found[-1]) == (40.0, 100.0)
    assert heights(one, "linear", *AT) == pytest.approx([40.0, 55.0, 70.0, 85.0, 100.0])


# ------------------------------------------------------------ smooth curves
# Hermite's cubic over 60 m of a leg that starts 10 m into it.

BENDS = [
    Bend(from_m=10.0, length_m=60.0, heights_m=(50.0, 50.0), slopes_m=(0.0, 50.0)),
    Bend(from_m=10.0, length_m=60.0, heights_m=(50.0, 90.0), slopes_m=(-80.0, 10.0)),
    Bend(from_m=10.0, length_m=60.0, heights_m=(50.0, 90.0), slopes_m=(40.0, 40.0)),
    Bend(from_m=10.0, length_m=60.0, heights_m=(0.0, 0.0), slopes_m=(30.0, -30.0)),
    Bend(from_m=10.0, length_m=60.0, heights_m=(0.0, 0.0), slopes_m=(0.0, 0.0)),
]


@pytest.mark.parametrize("bend", BENDS)
def test_bends(bend: Bend) -> None:
    """Where it is level, how steep it is and how close samples must be, against a fine net."""
    at = np.linspace(10.0, 70.0, 600_001)
    values = bend.at(at)
    assert (values[0], values[-1]) == pytest.approx(bend.heights_m)
    slope = np.diff(values) / np.diff(at)
    inner = np.flatnonzero(slope[1:] * slope[:-1] < 0) + 1
    assert bend.level_m() == pytest.approx(at[inner], abs=1e-3)
    assert bend.steepest == pytest.approx(np.abs(slope).max(), abs=1e-4)
    spacing = min(bend.spacing_m, 60.0)
    marks = np.linspace(10.0, 70.0, math.ceil(60.0 / spacing) + 1)
    off = np.abs(values - np.interp(at, marks, bend.at(marks)))
    assert off.max() <= 1e-3


@pytest.mark.parametrize(("metres", "scale"), [(7.0, 1.0), (-3.0, 0.5), (0.0, 2.5)])
def test_moved_heights_are_the_same_heights_elsewhere(metres: float, scale: float) -> None:
    """After so many metres more, on a leg so many times as long."""
    one = leg(200.0, 40.0, 100.0, slopes_m=(-90.0, 20.0))
    at = np.linspace(0.0, 200.0, 333)
    for model in ("smooth", "early"):
        plain = climb(one, model)
        moved = plain.moved(metres, scale=scale)
        assert moved.at(at * scale + metres) == pytest.approx(plain.at(at))
        assert moved.steepest == pytest.approx(plain.steepest / scale)


def test_the_smooth_curve_has_its_extremes_as_knots() -> None:
    """So that no sampling misses the lowest metre."""
    found = climb(leg(90.0, 35.0, 35.0, slopes_m=(0.0, 50.0)), "smooth")
    assert found.knots_m == pytest.approx([0.0, 60.0, 90.0])
    assert found.height_m == pytest.approx([35.0, 35.0 - 200 / 27, 35.0])


def test_steepness_counts_metres_a_metre() -> None:
    """30 m in 60, and nothing where it jumps or is not known."""
    knots = Heights(np.array([0.0, 60.0, 60.0, 90.0, 99.0]),
                    np.array([0.0, 30.0, 50.0, 50.0, np.nan]))  # fmt: skip
    assert knots.steepest == pytest.approx(0.5)


# ------------------------------------------------------------ in a route


def east(points: list[tuple[float, float]], *, turns: str = "fly-by", **climbs: Any) -> Flight:
    """Return a flight over waypoints (east, height), at 10 m/s, 4 m/s up, 3 m/s down."""
    drawn = route(
        *(waypoint(f"w{k}", e, 0.0, h, speed_m_per_s=10.0) for k, (e, h) in enumerate(points)),
        turns={"kind": turns}, climb=climbs,
    )  # fmt: skip
    return flown(drawn)


def height_over(flight: Flight, east_m: float) -> float:
    """Return the height at which the reference first passes over a place."""
    return over(flight, flight.legs[0], east_m, 0.0)[0]


@pytest.mark.parametrize(("model", "at_50"), [("linear", 55.0), ("late", 40.0), ("early", 60.0)])
def test_models_in_a_route(model: str, at_50: float) -> None:
    """What is stated is flown."""
    flight = east([(0.0, 40.0), (200.0, 100.0)], model=model)
    assert flight.legs[0].words[2] == model
    assert height_over(flight, 50.0) == pytest.approx(at_50, abs=1e-3)


# Two legs of 100 m, 90 m up on the first: 40 m are reached, 50 m short.
SHORT_OF = [(0.0, 50.0), (100.0, 140.0), (200.0, 140.0), (400.0, 140.0)]


def test_a_shortfall_is_carried_over_a_passed_waypoint() -> None:
    """It climbs on behind the waypoint, to 130, and only on the third leg reaches 140."""
    flight = east(SHORT_OF, too_steep="falls-short")
    (curve,) = flight.legs
    assert curve.words[2] == "linear-short"
    found = [height_over(flight, e) for e in (100.0, 150.0, 200.0, 400.0)]
    assert found == pytest.approx([90.0, 110.0, 130.0, 140.0], abs=1e-3)
    assert height_over(flight, 300.0) == pytest.approx(135.0, abs=1e-3)  # linear on the third
    assert curve.time_s[-1] == pytest.approx(40.0, rel=1e-6)


def test_a_shortfall_is_made_good_at_a_stop() -> None:
    """There it climbs the 50 m that are missing, in 12.5 s, before it goes on."""
    flight = east(SHORT_OF, turns="stop", too_steep="falls-short")
    (curve,) = flight.legs
    found = [height_over(flight, e) for e in (99.0, 101.0, 200.0, 400.0)]
    assert found == pytest.approx([89.6, 140.0, 140.0, 140.0], abs=1e-3)
    here = distance_m(curve, 100.0, 0.0) < 1e-3
    assert curve.above_launch_m[here].min() == pytest.approx(90.0, abs=1e-3)
    assert curve.above_launch_m[here].max() == pytest.approx(140.0)
    assert np.diff(curve.above_launch_m).max() <= 1.0 + 1e-9  # a sample for every metre
    assert (curve.leg[np.flatnonzero(here)[:-1]] == 1).all()  # it belongs to the leg before
    assert curve.time_s[-1] == pytest.approx(10 + 12.5 + 10 + 20, rel=1e-6)
    assert curve.along_m[-1] == pytest.approx(math.hypot(100, 40) + 50 + 300, abs=1e-3)


def test_a_shortfall_is_made_good_at_the_last_waypoint() -> None:
    """The way home begins at the typed height."""
    flight = east([(0.0, 50.0), (100.0, 140.0)], too_steep="falls-short")
    assert flight.legs[0].above_launch_m[-1] == 140.0
    assert height_over(flight, 99.0) == pytest.approx(89.6, abs=1e-3)


def test_slowing_takes_the_time_of_the_climb() -> None:
    """90 m at 4 m/s, then 300 m at 10 m/s."""
    flight = east(SHORT_OF, too_steep="slows")
    assert height_over(flight, 100.0) == pytest.approx(140.0, abs=1e-3)
    assert flight.legs[0].time_s[-1] == pytest.approx(90 / 4 + 30, rel=1e-6)


def test_a_descent_too_steep_passes_too_high() -> None:
    """90 m down on 100 m at 3 m/s: 60 m too high there, and 30 m where it was to be level."""
    flight = east([(0.0, 140.0), (100.0, 50.0), (200.0, 50.0), (400.0, 50.0)],
                  too_steep="falls-short")  # fmt: skip
    found = [height_over(flight, e) for e in (100.0, 200.0, 400.0)]
    assert found == pytest.approx([110.0, 80.0, 50.0], abs=1e-3)


def test_a_climb_on_the_spot_reaches_its_height() -> None:
    """No rate keeps it from the height where it flies no metre: 60 m straight up, in 60 steps."""
    drawn = route((0.0, 0.0, 50.0), (10.0, 0.0, 100.0), (10.0, 0.0, 160.0), (200.0, 0.0, 160.0),
                  turns={"kind": "fly-by"}, climb={"too_steep": "falls-short"})  # fmt: skip
    (curve,) = flown(drawn).legs
    chords = np.flatnonzero(curve.leg == 2)
    assert chords.size == 60
    assert curve.above_launch_m[chords[0]] == 100.0
    assert curve.above_launch_m[chords[-1] + 1] == 160.0
    assert (curve.above_launch_m[chords[-1] + 1 :] == 160.0).all()


def test_unstated_climbs_are_all_flown_over_one_line() -> None:
    """Over 200 m from 40 to 100 m: late is the lowest, early the highest, all along."""
    drawn = route(
        waypoint("a", 0.0, 0.0, 40.0, speed_m_per_s=10.0), (200.0, 0.0, 100.0),
        climb={"model": "unstated", "too_steep": "unstated"},
    )  # fmt: skip
    flight = flown(drawn)
    low, high = beside(flight)
    assert (low.side, high.side) == ("low", "high")
    assert over(flight, low, 50.0, 0.0)[0] == pytest.approx(40.0, abs=1e-3)
    assert over(flight, low, 125.0, 0.0)[0] == pytest.approx(70.0, abs=1e-3)
    assert over(flight, high, 100.0, 0.0)[0] == pytest.approx(80.0, abs=1e-3)
    middle = low.above_launch_m.size // 2
    assert low.name_at(middle) == "fly-by/mid-arc/late/vertical/level"
    assert high.name_at(middle) == "fly-by/mid-arc/early/vertical/level"


def test_unstated_too_steep_arrives_at_every_height() -> None:
    """Slowing it passes at 140 m, falling short at 90; both are flown, the lower named."""
    drawn = route(
        *(waypoint(f"w{k}", e, 0.0, h, speed_m_per_s=10.0) for k, (e, h) in enumerate(SHORT_OF)),
        turns={"kind": "fly-by"}, climb={"too_steep": "unstated"},
    )  # fmt: skip
    flight = flown(drawn)
    assert height_over(flight, 100.0) == pytest.approx(140.0, abs=1e-3)
    (low,) = (line for line in beside(flight) if line.side == "low")
    assert min(over(flight, low, 100.0, 0.0)) == pytest.approx(90.0, abs=1e-3)
    assert min(over(flight, low, 200.0, 0.0)) == pytest.approx(130.0, abs=1e-3)
    at = int(np.nanargmin(np.where(low.leg >= 0, distance_m(low, 150.0, 0.0)[:-1], np.inf)))
    assert low.name_at(at) == "fly-by/mid-arc/linear-short/vertical/level"


def test_unstated_turns_may_stop_where_a_shortfall_is_made_good() -> None:
    """On one line the kinds of turn fly alike, but where it stops it goes on 50 m higher."""
    drawn = route(
        *(waypoint(f"w{k}", e, 0.0, h, speed_m_per_s=10.0) for k, (e, h) in enumerate(SHORT_OF)),
        climb={"too_steep": "falls-short"},
    )  # fmt: skip
    flight = flown(drawn)
    assert height_over(flight, 150.0) == pytest.approx(110.0, abs=1e-3)
    (high,) = (line for line in beside(flight) if line.side == "high")
    assert max(over(flight, high, 150.0, 0.0)) == pytest.approx(140.0, abs=1e-3)
    at = int(np.nanargmin(np.where(high.leg >= 0, distance_m(high, 150.0, 0.0)[:-1], np.inf)))
    assert high.name_at(at).startswith("stop/mid-arc/linear-short")

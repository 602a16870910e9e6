"""Heights in rounded corners: reached at mid-arc, or cut straight across, by hand.

The corner turns left by a right angle, 20 m before the waypoint: r = 20, the arc is
31.416 m long and passes 8.284 m inside.
"""

from __future__ import annotations

import math
from typing import TYPE_CHECKING, Any

import numpy as np
import pytest

from terrain_guard.path.flight import Flight, fly
from tests.path.routes import UNSTATED, beside, flown, nearest_m, over, route, waypoint

if TYPE_CHECKING:
    from terrain_guard.path.curve import Curve

HALF_ARC_M = 5 * math.pi  # 15.708
ASIDE_M = 20 - 20 / math.sqrt(2)  # 5.858: the middle of the arc, beside either leg
HEIGHTS = (40.0, 100.0, 70.0)


def cornering(
    corner_height: str, heights: tuple[float, float, float] = HEIGHTS, **climbs: Any
) -> Flight:
    """Fly 200 m east, then 100 m north, by."""
    a, b, c = heights
    drawn = route(
        (-200.0, 0.0, a), (0.0, 0.0, b), (0.0, 100.0, c),
        turns={"kind": "fly-by", "turn_anticipation_m": 20.0, "corner_height": corner_height},
        climb=climbs,
    )  # fmt: skip
    return flown(drawn)


def height_over(flight: Flight, east_m: float, north_m: float) -> float:
    """Return the height of the reference over a place."""
    return over(flight, flight.legs[0], east_m, north_m)[0]


def at_five_places(flight: Flight) -> list[float]:
    """Return heights half-way, at the tangent points and mid-arc, and half-way out of the corner.

    Half-way along the first leg is 100 m before the waypoint, on the second 60 m behind.
    """
    places = ((-100.0, 0.0), (-20.0, 0.0), (-ASIDE_M, ASIDE_M), (0.0, 20.0), (0.0, 60.0))
    return [height_over(flight, *place) for place in places]


def test_mid_arc() -> None:
    """100 m at mid-arc, linear with what is flown: 195.708 m of 60 m up, 95.708 of 30 down."""
    up, down = 60 / (180 + HALF_ARC_M), 30 / (80 + HALF_ARC_M)
    expected = [40 + 100 * up, 40 + 180 * up, 100.0, 100 - HALF_ARC_M * down, 70 + 40 * down]
    assert at_five_places(cornering("mid-arc")) == pytest.approx(expected, abs=1e-3)


def test_straight() -> None:
    """As typed along the legs up to the tangent points, 94 m in and 94 m out: level between.

    20 of 200 m before the waypoint are 6 of 60 m below it, 20 of 100 m behind it 6 of 30.
    """
    expected = [70.0, 94.0, 94.0, 94.0, 82.0]
    assert at_five_places(cornering("straight")) == pytest.approx(expected, abs=1e-3)
    assert cornering("straight").legs[0].above_launch_m.max() == pytest.approx(94.0, abs=1e-9)


def test_straight_on_a_slope() -> None:
    """From 94 m down to 76 m: half-way at mid-arc, and linear on both halves of the arc."""
    found = at_five_places(cornering("straight", (40.0, 100.0, -20.0)))
    assert found == pytest.approx([70.0, 94.0, (94.0 + 76.0) / 2, 76.0, 28.0], abs=1e-3)


@pytest.mark.parametrize(
    ("model", "tangents"),
    [
        # Up at 8 m/s for 6 s: 30 of 200 m are flown. Down at 6 m/s for 5 s: 25 of 100 m.
        ("late", (40.0 + 60 * 10 / 30, 100.0)),
        ("early", (100.0, 100.0 - 30 * 20 / 25)),
    ],
)
def test_straight_with_other_climbs(model: str, tangents: tuple[float, float]) -> None:
    """The tangent points have the heights that the climb gives them on the legs as typed."""
    flight = cornering("straight", model=model, up_m_per_s=10.0, down_m_per_s=6.0)
    found = at_five_places(flight)
    assert found[1] == pytest.approx(tangents[0], abs=1e-3)
    assert found[3] == pytest.approx(tangents[1], abs=1e-3)
    assert found[2] == pytest.approx(sum(tangents) / 2, abs=1e-3)


def test_straight_with_smooth_climbs() -> None:
    """Its curve runs along the legs as typed, so at the tangent points it is a cubic's value.

    Slope at the waypoint by centripetal knots sqrt 200 and sqrt 100, chords +60 and -30;
    straight at the ends: first leg 60 (3u² - 2u³) + 60 (u³ - 2u² + u) + m (u³ - u²).
    """
    t0, t1 = math.sqrt(200), math.sqrt(100)
    a = 60 / t0 - 30 / (t0 + t1) + -30 / t1
    u, v = 0.9, 0.2
    first = 60 * (3 * u**2 - 2 * u**3) + 60 * (u**3 - 2 * u**2 + u) + t0 * a * (u**3 - u**2)
    second = -30 * (3 * v**2 - 2 * v**3) - 30 * (v**3 - v**2) + t1 * a * (v**3 - 2 * v**2 + v)
    found = at_five_places(cornering("straight", model="smooth"))
    assert found[1] == pytest.approx(40.0 + first, abs=2e-3)
    assert found[3] == pytest.approx(100.0 + second, abs=2e-3)
    assert found[2] == pytest.approx((140.0 + first + second) / 2, abs=2e-3)


def test_unstated_is_both() -> None:
    """Mid-arc first, and below it straight: 94 m at mid-arc instead of 100."""
    flight = cornering("unstated")
    assert height_over(flight, -ASIDE_M, ASIDE_M) == pytest.approx(100.0, abs=1e-3)
    (low,) = (line for line in beside(flight) if line.side == "low")
    found = over(flight, low, -ASIDE_M, ASIDE_M)
    assert found
    assert min(found) == pytest.approx(94.0, abs=1e-3)
    named = {words[1] for words in low.ways}
    assert named == {"mid-arc", "straight"}


@pytest.mark.parametrize("kind", ["fly-over", "smooth", "stop"])
def test_without_rounded_corners_there_is_nothing_to_cut(kind: str) -> None:
    """The typed height is reached over the waypoint, whatever is said of corners."""
    for corner_height in ("mid-arc", "straight", "unstated"):
        drawn = route((-200.0, 0.0, 40.0), (0.0, 0.0, 100.0), (0.0, 100.0, 70.0),
                      turns={"kind": kind, "corner_height": corner_height})  # fmt: skip
        flight = flown(drawn)
        assert len(flight.legs) == 1
        assert height_over(flight, 0.0, 0.0) == pytest.approx(100.0, abs=1e-6)


@pytest.mark.parametrize("other", ["fly-over", "smooth", "stop"])
@pytest.mark.parametrize("model", ["linear", "early", "late", "smooth"])
def test_next_to_other_turns_the_heights_go_on(other: str, model: str) -> None:
    """Beside a corner cut straight: no jump, and the typed height over the other waypoint."""
    drawn = route(
        (-150.0, 0.0, 50.0), waypoint("by", 0.0, 0.0, 90.0), waypoint(other, 0.0, 100.0, 60.0,
        turn=other), waypoint("by again", 150.0, 100.0, 40.0), (150.0, 260.0, 80.0),
        turns={"kind": "fly-by", "turn_anticipation_m": 15.0, "corner_height": "straight"},
        climb={"model": model, "up_m_per_s": 8.0, "down_m_per_s": 8.0},
    )  # fmt: skip
    flight = flown(drawn)
    (curve,) = flight.legs
    assert height_over(flight, 0.0, 100.0) == pytest.approx(60.0, abs=1e-3)
    assert np.abs(np.diff(curve.above_launch_m)).max() < 1.7  # 8 m in 5 m, and no jump


# ------------------------------------------------------------ how the corner is passed


@pytest.mark.parametrize(("wait_s", "from_the_point_m"), [(0.0, 8.284), (5.0, 0.0)])
def test_waiting_moves_the_path_to_the_point(wait_s: float, from_the_point_m: float) -> None:
    """A waypoint at which it waits is reached; one that is passed is not (8.28 m inside)."""
    drawn = route((-200.0, 0.0, 50.0), waypoint("w", 0.0, 0.0, 50.0, wait_s=wait_s),
                  (0.0, 200.0, 50.0),
                  turns={"kind": "fly-by", "turn_anticipation_m": 20.0})  # fmt: skip
    assert nearest_m(flown(drawn), 0.0, 0.0) == pytest.approx(from_the_point_m, abs=1e-3)


# ------------------------------------------------------------ heights not known

LONG = [(0.0, 0.0, 50.0), (100.0, 0.0, 60.0), (100.0, 100.0, 70.0), (200.0, 100.0, 60.0),
        (200.0, 200.0, 50.0), (300.0, 200.0, 60.0), (300.0, 300.0, 60.0)]  # fmt: skip


def known_shares(line: Curve, legs: int) -> list[float]:
    """Return which share of the metres flown of each leg has a height; NaN: not flown."""
    known = np.isfinite(line.above_launch_m[1:] + line.above_launch_m[:-1])
    far = np.hypot(np.diff(line.x_m), np.diff(line.y_m)) + 1e-9
    found = []
    for leg in range(1, legs + 1):
        here = line.leg == leg
        found.append(far[here & known].sum() / far[here].sum() if here.any() else math.nan)
    return [float(share) for share in found]


def unknown_at(number: int, **stated: Any) -> Flight:
    """Fly LONG with one height that is not known."""
    heights = [h for _, _, h in LONG]
    heights[number] = math.nan
    return fly(route(*LONG, **stated), heights, spot_ground_m=0.0, step_m=1.0)


@pytest.mark.parametrize("kind", ["fly-by", "fly-over", "smooth", "stop"])
@pytest.mark.parametrize("model", ["linear", "early", "late"])
@pytest.mark.parametrize("too_steep", ["slows", "falls-short"])
def test_one_height_not_known_makes_two_legs_not_known(
    kind: str, model: str, too_steep: str
) -> None:
    """And no other: at mid-arc the typed height is known again."""
    flight = unknown_at(2, turns={"kind": kind}, climb={"model": model, "too_steep": too_steep})
    assert known_shares(flight.legs[0], 6) == [1.0, 0.0, 0.0, 1.0, 1.0, 1.0]


def test_cut_straight_the_corner_beside_it_is_not_known() -> None:
    """Half of a corner belongs to the leg behind: as far as its arc, that is not known."""
    flight = unknown_at(2, turns={"kind": "fly-by", "corner_height": "straight",
                                  "turn_anticipation_m": 20.0})  # fmt: skip
    shares = known_shares(flight.legs[0], 6)
    assert (shares[1], shares[2], *shares[4:]) == (0.0, 0.0, 1.0, 1.0)
    leg_m = 60.0 + 2 * HALF_ARC_M
    assert shares[3] == pytest.approx(1 - HALF_ARC_M / leg_m, abs=0.001)


def test_smooth_climbs_are_not_known_one_leg_farther() -> None:
    """Their slope at the waypoints beside it depends on it; two waypoints on they do not."""
    flight = unknown_at(2, turns={"kind": "fly-by"}, climb={"model": "smooth"})
    assert known_shares(flight.legs[0], 6) == [0.0, 0.0, 0.0, 0.0, 1.0, 1.0]


def test_what_is_not_known_in_one_way_hides_no_other() -> None:
    """Unstated, the legs beside are known in most ways and not in the smooth one: both count."""
    flight = unknown_at(2, **{**UNSTATED, "turns": {"kind": "fly-by"}})
    reference = flight.legs[0]
    assert known_shares(reference, 6) == [1.0, 0.0, 0.0, 1.0, 1.0, 1.0]
    low, high, unknown = beside(flight)
    assert (low.side, high.side, unknown.side) == ("low", "high", "both")
    for side in (low, high):
        shares = known_shares(side, 6)
        assert (shares[0], shares[3], shares[4]) == (1.0, 1.0, 1.0)
        assert not {1.0} & set(shares[1:3])
    assert known_shares(unknown, 6)[0] == known_shares(unknown, 6)[3] == 0.0
    legs = set(unknown.leg[unknown.leg >= 0].tolist())
    assert {1, 4} <= legs <= {1, 2, 3, 4}
    chord = int(np.flatnonzero(unknown.leg == 1)[0])
    assert unknown.name_at(chord).split("/")[2] == "smooth"


def test_nothing_known_at_all() -> None:
    """Every height unknown: flown all the same, and nowhere with a height."""
    drawn = route(*LONG, **UNSTATED)
    flight = fly(drawn, [math.nan] * len(LONG), spot_ground_m=0.0, step_m=1.0)
    for line in (flight.legs[0], *beside(flight)):
        assert np.nanmax(known_shares(line, 6)) == 0.0
        assert np.isfinite(line.along_m).all()
        assert np.isfinite(line.time_s).all()


@pytest.mark.parametrize("number", [0, 6])
def test_the_first_or_the_last_not_known(number: int) -> None:
    """Only the leg at that end is unknown, and what of the climb-out or the way home needs it."""
    flight = unknown_at(number, turns={"kind": "fly-by"})
    lost = 0 if number == 0 else 5
    assert known_shares(flight.legs[0], 6) == [float(k != lost) for k in range(6)]


def test_a_climb_on_the_spot_to_a_height_not_known() -> None:
    """Unknown on the spot and on the next leg; known again from the next waypoint on."""
    points = [(0.0, 0.0, 50.0), (100.0, 0.0, 60.0), (100.0, 0.0, 70.0), (200.0, 0.0, 60.0),
              (300.0, 0.0, 60.0)]  # fmt: skip
    drawn = route(*points, turns={"kind": "fly-by"}, climb={"model": "unstated"})
    flight = fly(drawn, [50.0, 60.0, math.nan, 60.0, 60.0], spot_ground_m=0.0, step_m=1.0)
    assert known_shares(flight.legs[0], 4) == [1.0, 0.0, 0.0, 1.0]

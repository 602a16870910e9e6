"""Turns: radius, anticipation, gap and length against published forms and tables."""

from __future__ import annotations

import math

import numpy as np
import pytest

from terrain_guard.path.turns import Corner, corner, turn_radius_m

KNOT_M_PER_S = 1852 / 3600
FOOT_M = 0.3048
NAUTICAL_MILE_M = 1852.0

# ------------------------------------------------------------ radius
# r = V² / (g tan b), g = 9.80665 m/s² (standard gravity); worked by hand with the digits shown.


@pytest.mark.parametrize(
    ("speed_m_per_s", "bank_deg", "radius_m"),
    [(10.0, 20.0, 28.016), (15.0, 30.0, 39.740), (20.0, 25.0, 87.472), (25.0, 45.0, 63.732)],
)
def test_radius(speed_m_per_s: float, bank_deg: float, radius_m: float) -> None:
    """Level turns at small-aircraft speeds, to 5 mm."""
    assert turn_radius_m(speed_m_per_s, bank_deg) == pytest.approx(radius_m, abs=0.005)


def test_radius_of_the_handbooks() -> None:
    """120 kt at 30 degrees: 2208.3 ft exactly, 2215 ft by the handbooks' rounded 11.26.

    FAA Pilot's Handbook of Aeronautical Knowledge: r = V² / (11.26 tan b), feet and
    knots (form and example from memory); the exact constant is 11.2943.
    """
    found_ft = turn_radius_m(120 * KNOT_M_PER_S, 30.0) / FOOT_M
    assert found_ft == pytest.approx(2208.3, abs=0.5)
    assert 120**2 / (11.26 * math.tan(math.radians(30))) == pytest.approx(2215.1, abs=0.05)
    assert found_ft == pytest.approx(2215.1, rel=0.0035)


def test_radius_of_an_examination() -> None:
    """120 kt at 60 degrees, EASA question bank, g = 10: 220 m; with 9.80665 that is 224 m."""
    found = turn_radius_m(120 * KNOT_M_PER_S, 60.0)
    assert found * 9.80665 / 10 == pytest.approx(220.0, abs=0.5)


@pytest.mark.parametrize(
    ("knots", "bank_deg", "rate_deg_per_s", "radius_nm"),
    [(180.0, 25.0, 2.829, 1.0126), (250.0, 25.0, 2.037, 1.9534)],
)
def test_radius_of_pans_ops(
    knots: float, bank_deg: float, rate_deg_per_s: float, radius_nm: float
) -> None:
    """ICAO Doc 8168 PANS-OPS Vol II, I-2-3-2: R = 3431 tan b / (pi V), r = V / (20 pi R).

    Degrees a second, knots, nautical miles. The first row's numbers are worked by
    hand; the second's from the two forms.
    """
    rate = 3431 * math.tan(math.radians(bank_deg)) / (math.pi * knots)
    radius = knots / (20 * math.pi * rate)
    assert (rate, radius) == pytest.approx((rate_deg_per_s, radius_nm), abs=0.001)
    found = turn_radius_m(knots * KNOT_M_PER_S, bank_deg)
    assert found / NAUTICAL_MILE_M == pytest.approx(radius_nm, abs=0.001)
    assert math.degrees(knots * KNOT_M_PER_S / found) == pytest.approx(rate_deg_per_s, abs=0.001)


def test_no_rate_is_capped() -> None:
    """PANS-OPS caps the rate at 3 degrees a second, which makes r 0.6366 NM at 120 kt and 25.

    A small aircraft turns as fast as it banks: the same turn is tighter here, 4.2 degrees
    a second, and the cap is the only difference.
    """
    found = turn_radius_m(120 * KNOT_M_PER_S, 25.0)
    rate = math.degrees(120 * KNOT_M_PER_S / found)
    assert rate == pytest.approx(3431 * math.tan(math.radians(25)) / (math.pi * 120), abs=0.01)
    assert found / NAUTICAL_MILE_M * rate / 3 == pytest.approx(0.6366, abs=0.0005)


@pytest.mark.parametrize(
    ("speed_km_per_h", "wind_km_per_h", "bank_deg", "radius_km"),
    [(222.24, 0.0, 25.0, 0.8334), (222.24, 56.0, 25.0, 1.3065), (100.0, 30.0, 15.0, 0.4963)],
)
def test_radius_in_the_wind(
    speed_km_per_h: float, wind_km_per_h: float, bank_deg: float, radius_km: float
) -> None:
    """PANS-OPS Vol II, III-3-1-5: r = (V + Vw)² / (127094 tan b), kilometres and km/h."""
    by_form = (speed_km_per_h + wind_km_per_h) ** 2 / (127094 * math.tan(math.radians(bank_deg)))
    assert by_form == pytest.approx(radius_km, abs=0.0005)
    found = turn_radius_m(speed_km_per_h / 3.6, bank_deg, wind_m_per_s=wind_km_per_h / 3.6)
    assert found / 1000 == pytest.approx(radius_km, abs=0.0005)


# ------------------------------------------------------------ corners


def turned(
    change_deg: float, *, legs_m: tuple[float, float] = (1000.0, 1000.0), **how: float
) -> Corner:
    """Return the corner at the origin, flown in northward, course changed to the left."""
    course = math.radians(90 + change_deg)
    found = corner(
        (0.0, -legs_m[0]), (0.0, 0.0),
        (legs_m[1] * math.cos(course), legs_m[1] * math.sin(course)), **how,
    )  # fmt: skip
    assert found is not None
    return found


@pytest.mark.parametrize(
    ("speed_m_per_s", "bank_deg", "at_90", "at_60", "at_120"),
    [
        (10.0, 20.0, 28.016, 16.175, 48.526),
        (15.0, 30.0, 39.740, 22.944, 68.831),
        (20.0, 25.0, 87.472, 50.502, 151.505),
        (25.0, 45.0, 63.732, 36.796, 110.388),
    ],
)
def test_anticipation(
    speed_m_per_s: float, bank_deg: float, at_90: float, at_60: float, at_120: float
) -> None:
    """PANS-OPS Vol II, III-3-8-2, 8.1.5.1.1: the turn begins r tan (A/2) before the waypoint."""
    radius = turn_radius_m(speed_m_per_s, bank_deg)
    for change_deg, expected_m in ((90, at_90), (60, at_60), (120, at_120), (-120, at_120)):
        found = turned(change_deg, radius_m=radius)
        assert found.tangent_m == pytest.approx(expected_m, abs=0.005)
        assert not found.shortened


@pytest.mark.parametrize(
    ("change_deg", "tangent", "gap", "saved"),
    [
        (30, 0.26795, 0.03528, 0.01230),
        (45, 0.41421, 0.08239, 0.04303),
        (60, 0.57735, 0.15470, 0.10750),
        (90, 1.00000, 0.41421, 0.42920),
        (120, 1.73205, 1.00000, 1.36971),
    ],
)
@pytest.mark.parametrize("side", [1, -1])
def test_unit_corner(
    change_deg: float, tangent: float, gap: float, saved: float, side: int
) -> None:
    """For r = 1: tan (A/2), sec (A/2) - 1, 2 tan (A/2) - A; worked by hand, five digits."""
    found = turned(side * change_deg, radius_m=1.0)
    assert found.tangent_m == pytest.approx(tangent, abs=5e-6)
    assert found.inside_m == pytest.approx(gap, abs=5e-6)
    assert 2 * found.tangent_m - found.arc_m == pytest.approx(saved, abs=5.1e-6)
    assert math.degrees(found.course_change_rad) == pytest.approx(side * change_deg)


@pytest.mark.parametrize(
    ("change_deg", "radius_m", "inside_m", "arc_m"),
    [
        (90.0, 20.0, 8.284, 31.416),
        (60.0, 34.641, 5.359, 36.276),  # 20 / tan 30, 20 tan 15, r pi / 3
        (120.0, 11.547, 11.547, 24.184),  # 20 / tan 60, 20 tan 30, r 2 pi / 3
        (150.0, 5.359, 15.347, 14.030),  # 20 / tan 75, 20 tan 37.5, r 5 pi / 6
    ],
)
def test_corner_of_twenty_metres(
    change_deg: float, radius_m: float, inside_m: float, arc_m: float
) -> None:
    """Turning 20 m before the waypoint: r = T / tan (A/2), inside by T tan (A/4), arc r A."""
    found = turned(change_deg, anticipation_m=20.0)
    assert found.radius_m == pytest.approx(radius_m, abs=0.0005)
    assert found.inside_m == pytest.approx(inside_m, abs=0.0005)
    assert found.inside_m == pytest.approx(20 * math.tan(math.radians(change_deg) / 4))
    assert found.arc_m == pytest.approx(arc_m, abs=0.0005)


@pytest.mark.parametrize("change_deg", [20.0, 90.0, -90.0, 150.0, -35.0, 169.0])
def test_arc_is_tangent_to_both_legs(change_deg: float) -> None:
    """The arc begins and ends on the legs, at right angles to its radii, and passes inside."""
    found = turned(change_deg, anticipation_m=20.0)
    centre, start, end = (np.array(p) for p in (found.centre, found.start, found.end))
    course = math.radians(90 + change_deg)
    outbound = np.array([math.cos(course), math.sin(course)])
    assert start == pytest.approx([0.0, -20.0])
    assert end == pytest.approx(20 * outbound)
    assert (start - centre) @ [0.0, 1.0] == pytest.approx(0.0, abs=1e-9)
    assert (end - centre) @ outbound == pytest.approx(0.0, abs=1e-9)
    for place, bearing in zip((start, end), found.bearings_rad[::2], strict=True):
        spoke = found.radius_m * np.array([math.cos(bearing), math.sin(bearing)])
        assert centre + spoke == pytest.approx(place)
    middle = found.bearings_rad[1]
    spoke = found.radius_m * np.array([math.cos(middle), math.sin(middle)])
    assert np.hypot(*(centre + spoke)) == pytest.approx(found.inside_m)  # from the waypoint


# ------------------------------------------------------------ legs too short, courses too odd


@pytest.mark.parametrize("legs_m", [(30.0, 1000.0), (1000.0, 30.0), (30.0, 31.0)])
def test_each_leg_lends_half(legs_m: tuple[float, float]) -> None:
    """The turn begins at most half the shorter leg before the waypoint, and says so."""
    found = turned(90.0, anticipation_m=20.0, legs_m=legs_m)
    assert found.tangent_m == pytest.approx(15.0)
    assert found.radius_m == pytest.approx(15.0)
    assert found.shortened


def test_half_a_leg_exactly_is_not_shortened() -> None:
    """Asked for just what the leg can lend, nothing is shortened."""
    assert not turned(90.0, anticipation_m=20.0, legs_m=(40.0, 40.0)).shortened


@pytest.mark.parametrize("change_deg", [0.0, 0.009, 170.5, 180.0, -179.9])
def test_straight_on_and_reversal_are_stops(change_deg: float) -> None:
    """Courses that hardly change, and reversals beyond 170 degrees, have no arc."""
    course = math.radians(90 + change_deg)
    after = 100 * math.cos(course), 100 * math.sin(course)
    assert corner((0.0, -100.0), (0.0, 0.0), after, anticipation_m=20.0) is None


@pytest.mark.parametrize(
    ("before", "after"), [((0.0, 0.0), (5.0, 5.0)), ((5.0, 5.0), (0.0, 0.0)), ((0.0, 0.0),) * 2]
)
def test_legs_without_length_are_stops(
    before: tuple[float, float], after: tuple[float, float]
) -> None:
    """A repeated point has no course to turn from."""
    assert corner(before, (0.0, 0.0), after, anticipation_m=20.0) is None
    assert corner(before, (0.0, 0.0), after, radius_m=20.0) is None


def test_no_room_at_all_is_a_stop() -> None:
    """A turn that would begin within a micrometre of its waypoint is none."""
    after = (100.0, 0.0)
    assert corner((0.0, -100.0), (0.0, 0.0), after, anticipation_m=1e-7) is None
    assert corner((0.0, -100.0), (0.0, 0.0), after, radius_m=0.0) is None


# ------------------------------------------------------------ ways to cut a corner


@pytest.mark.parametrize("change_deg", [30.0, 90.0, -120.0])
def test_lines_that_cut_a_corner(change_deg: float) -> None:
    """With share 0 the chord of the arc, with 1 the waypoint's corner, in metres of the arc."""
    found = turned(change_deg, anticipation_m=20.0)
    # The chord's middle is T cos((180 - A) / 2) from the waypoint, the corner itself 0.
    for share, away_m in ((0.0, 20 * math.sin(math.radians(abs(change_deg)) / 2)), (1.0, 0.0)):
        first, second = found.cut((0.0, 0.0), share)
        assert first.start == found.start
        assert second.stop == found.end
        assert first.stop == second.start
        assert math.hypot(*first.stop) == pytest.approx(away_m, abs=1e-9)
        assert first.length_m + second.length_m == pytest.approx(found.arc_m)
    arcs = found.halves
    middle = [float(v[0]) for v in arcs[0].places(np.array([arcs[0].length_m]))]
    assert middle == pytest.approx(found.middle)
    assert math.hypot(*found.middle) == pytest.approx(found.inside_m)

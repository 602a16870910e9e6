"""The lowest and the highest of several ways, against every way as a plain function."""

from __future__ import annotations

import math
from collections.abc import Callable
from typing import TYPE_CHECKING

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from terrain_guard.path.climbs import Bend, Heights, Leg, climb
from terrain_guard.path.curve import Pace
from terrain_guard.path.envelope import Envelope, Member, envelope, upright

if TYPE_CHECKING:
    from terrain_guard.arrays import Floats

LENGTH_M = 100.0
TOLERANCE_M = 1e-3  # chords stay within a millimetre of what bends
Way = tuple[Member, Callable[["Floats"], "Floats"]]


def samples(members: list[Member]) -> Floats:
    """Return places to sample at, so close that no way leaves its chords by a millimetre."""
    step = min(1.0, *(member.heights.spacing_m for member in members))
    return np.linspace(0.0, LENGTH_M, math.ceil(LENGTH_M / step) + 1)


def polygon(way: int, knots: list[float], heights: list[float], span: tuple[float, float]) -> Way:
    """Return a way of straight pieces, and the same by NumPy."""
    x, y = np.array(knots), np.array(heights)
    return Member(way=way, heights=Heights(x, y), span_m=span), lambda at: np.interp(at, x, y)


def cubic(way: int, ends: tuple[float, float], slopes: tuple[float, float]) -> Way:
    """Return a smooth way over the whole track, and the same as a polynomial in powers."""
    (h0, h1), (m0, m1) = ends, slopes
    powers = np.polynomial.Polynomial(
        [h0, m0, 3 * (h1 - h0) - 2 * m0 - m1, 2 * (h0 - h1) + m0 + m1]
    )
    pace = Pace(speed_m_per_s=5.0, up_m_per_s=5.0, down_m_per_s=5.0)
    leg = Leg(length_m=LENGTH_M, heights_m=ends, pace=pace, slopes_m=slopes)
    member = Member(way=way, heights=climb(leg, "smooth"), span_m=(0.0, LENGTH_M))
    return member, lambda at: powers(at / LENGTH_M)


def assert_envelope(found: Envelope, ways: list[Way], at: Floats) -> None:
    """Check low and high at many places: below (above) all that are flown, and one of them."""
    flown = np.array([[f(at)[k] if m.span_m[0] < x < m.span_m[1] else np.nan
                       for k, x in enumerate(at)] for m, f in ways])  # fmt: skip
    low = np.interp(at, found.distance_m, found.low_m)
    high = np.interp(at, found.distance_m, found.high_m)
    assert np.abs(low - np.nanmin(flown, axis=0)).max() <= TOLERANCE_M
    assert np.abs(high - np.nanmax(flown, axis=0)).max() <= TOLERANCE_M
    first = np.interp(at, found.distance_m, found.first_m)
    assert np.abs(first - flown[0]).max() <= TOLERANCE_M
    chord = np.clip(np.searchsorted(found.distance_m, at, side="right") - 1, 0, None)
    number = {member.way: row for row, (member, _) in enumerate(ways)}
    for side, named in ((low, found.low_way), (high, found.high_way)):
        rows = np.array([number[int(way)] for way in named[chord]])
        assert np.abs(flown[rows, np.arange(at.size)] - side).max() <= TOLERANCE_M


def probes(found: Envelope, more: Floats) -> Floats:
    """Return places strictly between the samples, and not a hair from them."""
    middle = (found.distance_m[1:] + found.distance_m[:-1]) / 2
    at = np.concatenate((middle, more))
    away = np.abs(at[:, None] - found.distance_m[None, :]).min(axis=1)
    return np.sort(at[away > 2e-6])


HEIGHT = st.one_of(st.sampled_from([40.0, 60.0]), st.floats(0.0, 120.0))
INNER = st.lists(st.floats(1.0, 99.0), max_size=3, unique_by=lambda x: round(x, 2)).map(sorted)
SPAN = st.one_of(
    st.just((0.0, LENGTH_M)),
    st.tuples(st.floats(0.0, 45.0), st.floats(55.0, 100.0)),
)


@st.composite
def ways(draw: st.DrawFn) -> list[Way]:
    """Draw ways over one track: bent, smooth, and some of them only flown on a part of it."""
    found: list[Way] = []
    for number in range(draw(st.integers(1, 7))):
        if draw(st.integers(0, 3)) == 0:
            slope = st.floats(-150.0, 150.0)
            found.append(
                cubic(10 + number, (draw(HEIGHT), draw(HEIGHT)), (draw(slope), draw(slope)))
            )
            continue
        knots = [0.0, *draw(INNER), LENGTH_M]
        span = draw(SPAN) if number else (0.0, LENGTH_M)
        found.append(polygon(10 + number, knots, [draw(HEIGHT) for _ in knots], span))
    return found


@settings(max_examples=120, deadline=None)
@given(ways())
def test_any_ways(drawn: list[Way]) -> None:
    """Nowhere is a way lower than the lowest, which is the way that is named."""
    members = [member for member, _ in drawn]
    found = envelope(members, samples(members))
    assert_envelope(found, drawn, probes(found, np.linspace(0.013, 99.987, 331)))
    assert (found.unknown_way == -1).all()
    assert found.low_way.size == found.distance_m.size - 1


# ------------------------------------------------------------ by hand

SPANS = (0.0, LENGTH_M)


def test_two_ways_that_cross() -> None:
    """From 40 up to 80 and from 60 down to 40: they cross at a third, at 53.333 m."""
    one = polygon(3, [0.0, 100.0], [40.0, 80.0], SPANS)[0]
    other = polygon(7, [0.0, 100.0], [60.0, 40.0], SPANS)[0]
    found = envelope([one, other], np.array([0.0, 100.0]))
    assert found.distance_m == pytest.approx([0.0, 100 / 3, 100.0])
    assert found.low_m == pytest.approx([40.0, 160 / 3, 40.0])
    assert found.high_m == pytest.approx([60.0, 160 / 3, 80.0])
    assert (found.low_way.tolist(), found.high_way.tolist()) == ([3, 7], [7, 3])
    assert found.first_m == pytest.approx([40.0, 160 / 3, 80.0])


def test_a_way_that_dips_below_between_two_samples() -> None:
    """Three ways, of which the third is the lowest only in the middle: cut at both crossings."""
    one = polygon(0, [0.0, 100.0], [40.0, 80.0], SPANS)[0]
    other = polygon(1, [0.0, 100.0], [80.0, 40.0], SPANS)[0]
    level = polygon(2, [0.0, 100.0], [50.0, 50.0], SPANS)[0]
    found = envelope([one, other, level], np.array([0.0, 100.0]))
    assert found.low_m.min() == 40.0
    low = found.low_m[np.isin(found.distance_m.round(6), [25.0, 75.0])]
    assert low == pytest.approx([50.0, 50.0])
    middle = (found.distance_m[1:] + found.distance_m[:-1]) / 2
    inside = (middle > 25.0) & (middle < 75.0)
    assert set(found.low_way[inside].tolist()) == {2}


def test_a_way_that_joins_and_leaves() -> None:
    """Flown from 30 to 70 m only, 10 m lower: two samples at each end, with a drop between."""
    one = polygon(0, [0.0, 100.0], [50.0, 50.0], SPANS)[0]
    other = polygon(1, [0.0, 100.0], [40.0, 40.0], (30.0, 70.0))[0]
    found = envelope([one, other], np.array([0.0, 100.0]))
    assert found.distance_m == pytest.approx([0.0, 30.0, 30.0, 70.0, 70.0, 100.0])
    assert found.low_m == pytest.approx([50.0, 50.0, 40.0, 40.0, 50.0, 50.0])
    assert found.high_m == pytest.approx([50.0] * 6)
    # Each of the two samples of a drop is of the way that flies there: the first of that before.
    assert found.low_way.tolist() == [0, 0, 1, 1, 0]


def test_of_equals_the_first_is_named() -> None:
    """So that the reference is named where nothing is lower."""
    same = [polygon(k, [0.0, 100.0], [50.0, 60.0], SPANS)[0] for k in (4, 5, 6)]
    found = envelope(same, np.linspace(0.0, 100.0, 11))
    assert set(found.low_way.tolist()) == set(found.high_way.tolist()) == {4}


# ------------------------------------------------------------ not known


def test_what_is_not_known_is_kept_beside_the_others() -> None:
    """Lowest and highest are of the known; the unknown way is named where it is flown."""
    one = polygon(0, [0.0, 100.0], [50.0, 50.0], SPANS)[0]
    lower = polygon(1, [0.0, 100.0], [40.0, 40.0], SPANS)[0]
    unknown = polygon(2, [0.0, 50.0, 60.0, 100.0], [50.0, 50.0, np.nan, np.nan], SPANS)[0]
    found = envelope([one, lower, unknown], np.linspace(0.0, 100.0, 11))
    assert found.low_m == pytest.approx([40.0] * found.low_m.size)
    assert found.high_m == pytest.approx([50.0] * found.high_m.size)
    middle = (found.distance_m[1:] + found.distance_m[:-1]) / 2
    assert found.unknown_way.tolist() == np.where(middle > 50.0, 2, -1).tolist()


def test_where_nothing_is_known_nothing_is() -> None:
    """All ways unknown: so is the envelope, and no way is singled out."""
    gone = [polygon(k, [0.0, 100.0], [np.nan, np.nan], SPANS)[0] for k in (0, 1)]
    found = envelope(gone, np.linspace(0.0, 100.0, 5))
    assert np.isnan(found.low_m + found.high_m + found.first_m).all()
    assert (found.unknown_way == -1).all()


def test_a_first_way_not_known_leaves_the_others() -> None:
    """The lowest and the highest are then of the others."""
    gone = polygon(0, [0.0, 100.0], [np.nan, np.nan], SPANS)[0]
    known = [polygon(k, [0.0, 100.0], [30.0 * k, 30.0 * k], SPANS)[0] for k in (1, 2)]
    found = envelope([gone, *known], np.linspace(0.0, 100.0, 5))
    assert found.low_m == pytest.approx([30.0] * 5)
    assert found.high_m == pytest.approx([60.0] * 5)
    assert set(found.unknown_way.tolist()) == {0}


# ------------------------------------------------------------ on the spot


def test_straight_up_and_down() -> None:
    """Three climbs on the spot: lowest from 40, highest to 95; samples as asked for."""
    share = np.linspace(0.0, 1.0, 4)
    start, stop = np.array([50.0, 40.0, 60.0]), np.array([80.0, 90.0, 95.0])
    found = upright(start, stop, share, [5, 6, 7])
    assert found.first_m == pytest.approx([50.0, 60.0, 70.0, 80.0])
    assert (found.low_m[0], found.low_m[-1]) == (40.0, 80.0)
    assert (found.high_m[0], found.high_m[-1]) == (60.0, 95.0)
    assert set(found.low_way.tolist()) <= {5, 6}  # they cross on the way
    assert set(found.high_way.tolist()) == {7}
    assert (found.distance_m == 0.0).all()


def test_straight_up_to_what_is_not_known() -> None:
    """A way whose end is unknown is named, the others decide lowest and highest."""
    share = np.linspace(0.0, 1.0, 3)
    found = upright(np.array([50.0, 50.0]), np.array([80.0, np.nan]), share, [5, 6])
    assert found.low_m == pytest.approx([50.0, 65.0, 80.0])
    assert found.unknown_way.tolist() == [6, 6]


def test_heights_with_a_bend_are_the_cubic_only_inside() -> None:
    """At and beyond its ends the knots hold."""
    bend = Bend(from_m=0.0, length_m=10.0, heights_m=(0.0, 0.0), slopes_m=(9.0, -9.0))
    heights = Heights(np.array([-5.0, 2.0, 8.0, 15.0]), np.array([1.0, 2.0, 3.0, 4.0]), bend,
                      (2.0, 8.0))  # fmt: skip
    found = heights.at(np.array([-9.0, 2.0, 5.0, 8.0, 20.0]))
    assert found == pytest.approx([1.0, 2.0, 2.25, 3.0, 4.0])  # 9 (u - u²) at u = 1/2


@pytest.mark.parametrize("rounds", [0, 1])
def test_uncut_crossings_err_on_the_safe_side(monkeypatch: pytest.MonkeyPatch, rounds: int) -> None:
    """Were it to give up before all crossings are cut, no way would be lower than the lowest."""
    monkeypatch.setattr("terrain_guard.path.envelope.MOST_ROUNDS", rounds)
    drawn = [polygon(k, [0.0, 100.0], [10.0 * k, 100.0 - 25.0 * k], SPANS)[0] for k in range(5)]
    found = envelope(drawn, np.array([0.0, 100.0]))
    at = np.linspace(0.0, 100.0, 1001)
    low, high = (np.interp(at, found.distance_m, side) for side in (found.low_m, found.high_m))
    for member in drawn:
        assert (low <= member.heights.at(at) + 1e-9).all()
        assert (high >= member.heights.at(at) - 1e-9).all()

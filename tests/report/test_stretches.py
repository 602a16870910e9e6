"""Which findings belong together on paper."""

import math

from hypothesis import given
from hypothesis import strategies as st

from terrain_guard.assessment import Finding
from terrain_guard.report import stretches
from terrain_guard.states import State
from tests.report.factory import finding


def _spans(found: list[Finding]) -> list[tuple[str, float, float, float, float]]:
    return [
        (
            str(entry.finding.state),
            entry.finding.from_m,
            entry.finding.to_m,
            entry.with_margins_from_m,
            entry.with_margins_to_m,
        )
        for entry in stretches.entries(found)
    ]


def test_shoulders_fold_into_their_breach() -> None:
    """Tight, breach, tight of one kind on one leg is one line."""
    found = [
        finding("floor", State.TIGHT, 210, 220),
        finding("floor", State.BREACH, 220, 240),
        finding("floor", State.TIGHT, 240, 260),
    ]
    assert _spans(found) == [("breach", 220, 240, 210, 260)]


def test_two_breaches_that_share_a_shoulder_stay_two_lines() -> None:
    """A second breach on the same leg is never hidden."""
    found = [
        finding("floor", State.BREACH, 210, 220),
        finding("floor", State.TIGHT, 220, 240),
        finding("floor", State.BREACH, 240, 250),
    ]
    assert _spans(found) == [("breach", 210, 220, 210, 250), ("breach", 240, 250, 210, 250)]


def test_what_does_not_touch_is_not_folded() -> None:
    """A tight stretch further along the same leg keeps its own line."""
    found = [
        finding("floor", State.BREACH, 210, 220),
        finding("floor", State.TIGHT, 221.5, 240),
    ]
    assert _spans(found) == [("breach", 210, 220, 210, 220), ("tight", 221.5, 240, 221.5, 240)]


def test_other_kinds_and_legs_are_not_folded() -> None:
    """A shoulder of the ceiling says nothing about the floor, nor one leg about the next."""
    found = [
        finding("floor", State.BREACH, 220, 240),
        finding("ceiling", State.TIGHT, 240, 260),
        finding("floor", State.TIGHT, 200, 220, leg=1),
    ]
    assert [entry.has_shoulders for entry in stretches.entries(found)] == [False] * 3


def test_tight_alone_stays() -> None:
    """Touching tight stretches without a breach are all listed."""
    found = [finding("floor", State.TIGHT, 210, 220), finding("floor", State.TIGHT, 220, 230)]
    assert len(stretches.entries(found)) == 2


def test_the_gravest_comes_first() -> None:
    """Breach, then not assessed, then tight, each in flight order."""
    found = [
        finding("floor", State.TIGHT, 10, 20),
        finding("not-assessed", State.NOT_ASSESSED, 30, 40, worst_m=math.nan),
        finding("ceiling", State.BREACH, 350, 360),
        finding("floor", State.BREACH, 250, 260),
    ]
    assert [entry.finding.from_m for entry in stretches.entries(found)] == [250, 350, 30, 10]


def test_flying_into_the_ground_comes_before_all() -> None:
    """However late on the route, the ground itself is finding 1."""
    found = [
        finding("floor", State.BREACH, 110, 120),
        finding("underground", State.BREACH, 350, 360),
    ]
    assert [entry.finding.kind for entry in stretches.entries(found)] == ["underground", "floor"]


def test_metres_that_break_two_limits_count_once() -> None:
    """A floor breach that goes underground is one stretch of 20 m."""
    found = [
        finding("floor", State.BREACH, 210, 230),
        finding("underground", State.BREACH, 215, 225),
        finding("floor", State.BREACH, 250, 255),
        finding("floor", State.TIGHT, 300, 400),
    ]
    assert stretches.total_m(found, State.BREACH) == (2, 25)
    assert stretches.total_m(found, State.NOT_ASSESSED) == (0, 0)


SPAN = st.tuples(st.integers(0, 90), st.integers(0, 30), st.sampled_from(["floor", "ceiling"]))


@given(st.lists(st.tuples(SPAN, st.sampled_from([State.TIGHT, State.BREACH]))))
def test_no_metre_is_lost(drawn: list[tuple[tuple[int, int, str], State]]) -> None:
    """Every finding lies inside some printed stretch of its kind, and every breach is printed."""
    found = [
        finding(kind, state, from_m, from_m + long, leg=0) for (from_m, long, kind), state in drawn
    ]
    printed = stretches.entries(found)
    for one in found:
        assert any(
            entry.finding.kind == one.kind
            and entry.with_margins_from_m <= one.from_m
            and one.to_m <= entry.with_margins_to_m
            for entry in printed
        )
    breaches = [one for one in found if one.state is State.BREACH]
    assert sum(entry.finding.state is State.BREACH for entry in printed) == len(breaches)

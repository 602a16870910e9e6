"""One finding as a pilot reads it."""

import math

import pytest

from terrain_guard.assessment import Finding
from terrain_guard.report import sentences, stretches
from terrain_guard.report.cautions import VERDICT_WORDS
from terrain_guard.states import State
from tests.report import factory

# 1 ft = 0.3048 m exactly (NIST Special Publication 811, 2008, appendix B.8):
# 29.96 m = 98.293 ft, 120.04 m = 393.83 ft, 7 m = 22.966 ft, 5 m = 16.404 ft.


def test_headline_says_state_limit_leg_and_stretch() -> None:
    """State, limit, leg with both ends, stretch, and the stretch with margins."""
    assessment = factory.breach()
    first, second = stretches.entries(assessment.findings)
    assert sentences.headline(first, assessment, unit="m") == (
        "BREACH: floor, leg 1 gate -> spur, 140-160 m (with margins 120-191 m)"
    )
    assert sentences.headline(second, assessment, unit="m") == (
        "BREACH: ceiling, leg 2 spur -> home, 240-261 m"
    )


def test_metres_are_the_check_s_own_words() -> None:
    """In metres the sentence is the one that the check composed."""
    found = factory.finding("floor", State.BREACH, 140, 160, message="typed 60 m = 18.4 m here")
    assert sentences.sentence(found, factory.breach(), unit="m") == "typed 60 m = 18.4 m here"


@pytest.mark.parametrize(
    ("found", "sentence"),
    [
        (
            factory.finding("floor", State.BREACH, 140, 160, worst_m=29.96),
            "clearance 98.2 ft at worst, as computed; floor 98.43 ft, margin at most 23.0 ft",
        ),
        (
            factory.finding("ceiling", State.BREACH, 240, 260, worst_m=120.04),
            "height above ground 393.9 ft at worst, as computed; ceiling 393.7 ft, "
            "margin at most 16.5 ft",
        ),
        (
            factory.finding("underground", State.BREACH, 140, 160, worst_m=-3.0),
            "the typed heights lead into the ground; depth at worst 9.9 ft",
        ),
        (
            factory.finding("column", State.BREACH, 0, 5, worst_m=math.nan),
            "something stands in the cone kept clear for taking off and landing",
        ),
        (
            factory.finding("not-assessed", State.NOT_ASSESSED, 140, 160, worst_m=math.nan),
            "this stretch could not be judged: not assessed is not clear",
        ),
        (
            factory.finding("floor", State.BREACH, 140, 160, worst_m=math.nan),
            "clearance not assessed at worst, as computed; floor 98.43 ft, margin at most 23.0 ft",
        ),
    ],
)
def test_feet_have_their_own_sentence(found: Finding, sentence: str) -> None:
    """In feet a shorter sentence is made from the numbers, rounded outward in feet."""
    assert sentences.sentence(found, factory.breach(), unit="ft") == sentence


def test_closest_point_ceiling_is_called_a_distance() -> None:
    """Under a closest-point rule the number is no height above ground."""
    rules = factory.rules(ceiling_measure="closest-point")
    found = factory.finding("ceiling", State.BREACH, 240, 260, worst_m=120.04)
    text = sentences.sentence(found, factory.breach(rules=rules), unit="ft")
    assert text.startswith("distance from the nearest ground 393.9 ft")


def test_unknown_kinds_still_speak() -> None:
    """A kind of finding that this module has no words for is named, not dropped."""
    found = factory.finding("zone", State.BREACH, 140, 160, worst_m=math.nan)
    assert sentences.sentence(found, factory.breach(), unit="ft") == "zone"
    entry = stretches.entries([found])[0]
    assert sentences.headline(entry, factory.breach(), unit="m").startswith("BREACH: zone, leg 1")


def test_the_verdict_is_in_capitals() -> None:
    """Every verdict stands out on a page without colour, and says what it means."""
    verdicts = [sentences.verdict(state).split(": ") for state in State]
    assert [word for word, _ in verdicts] == ["WITHIN", "TIGHT", "NOT ASSESSED", "BREACH"]
    assert [meaning for _, meaning in verdicts] == [VERDICT_WORDS[state] for state in State]

"""Ways of flying in a pilot's words: only what has to do with the leg, only what is in doubt."""

from __future__ import annotations

import itertools

import pytest

from terrain_guard.path.climbs import MODELS, SHORT
from terrain_guard.path.flight import CUT, TURNS
from terrain_guard.path.leg_heights import CORNERS
from terrain_guard.path.pen import WAYS_HOME, WAYS_OUT
from terrain_guard.report import ways

ALL = tuple(
    "/".join(words)
    for words in itertools.product(
        (*TURNS, CUT), CORNERS, (*MODELS, *(model + SHORT for model in MODELS[:3])), WAYS_OUT,
        (*WAYS_HOME, "here"),
    )
)  # fmt: skip


def test_every_word_of_the_program_has_words_of_a_pilot() -> None:
    """No name of the program's own is left in any sentence."""
    for curve in ALL:
        for said in (ways.whole(curve), ways.flown(curve, 3, ALL, last_leg=9)):
            parts = [part.strip() for part in said.replace(";", ",").split(",")]
            assert not {"fly-by", "fly-over", "mid-arc", "linear", CUT, "climb-first"} & set(parts)
            assert "-short" not in said


@pytest.mark.parametrize(
    ("curve", "leg", "said"),
    [
        ("fly-over/mid-arc/late/step/level", 0, "up to take-off height, then on"),
        ("fly-over/mid-arc/late/step/level", 9, "level, then down at the spot"),
        (
            "fly-over/mid-arc/late/step/level",
            4,
            "climbing or descending late in the leg, turns begun over the waypoint",
        ),
        (
            "cut-corner/straight/early-short/step/level",
            4,
            "climbing or descending early in the leg, falling short of typed heights its rates "
            "cannot reach, corner cut, height going straight across the corner",
        ),
        (
            "stop/mid-arc/smooth/step/level/second ground",
            4,
            "height as a smooth curve, which overshoots, stopping at every waypoint, second ground",
        ),
    ],
)
def test_what_concerns_the_leg(curve: str, leg: int, said: str) -> None:
    """The climb-out and the way home on their legs, turns and climbs on the others."""
    assert ways.flown(curve, leg, ALL, last_leg=9) == said


def test_what_is_stated_is_not_said_again() -> None:
    """Only words in which the curves differ are said; of one curve nothing."""
    one = "stop/mid-arc/linear/vertical/level"
    assert not ways.flown(one, 3, (one,), last_leg=9)
    other = one.replace("linear", "late")
    assert ways.flown(one, 3, (one, other), last_leg=9) == (
        "climbing or descending steadily along the leg"
    )
    assert not ways.flown(one, 9, (one, other), last_leg=9)

"""What is said about turns, word for word; the metres by the handbooks' forms."""

from __future__ import annotations

from typing import Any

import pytest

from terrain_guard.checks.turn_remarks import turn_remarks
from tests.path.routes import flown, route, waypoint

CORNER = [(-200.0, 0.0, 50.0), (0.0, 0.0, 50.0), (0.0, 200.0, 50.0)]
AHEAD = {"turn_anticipation_m": 20.0}
INSIDE = "aypoints are not overflown, the curve passes 8.3 m inside w1."
"""20 tan 22.5 degrees = 8.284 m, rounded up."""
BEYOND = "he curve swings 20.0 m beyond the next leg, behind w1."
"""20 (1 - cos 90) m."""


def said(*points: Any, **turns: Any) -> list[str]:
    """Return the sentences about a route."""
    drawn = route(*points, turns={**AHEAD, **turns})
    return list(turn_remarks(drawn, flown(drawn)))


def test_a_turn_by_its_waypoint() -> None:
    """It says how far inside the curve passes."""
    assert said(*CORNER, kind="fly-by") == [f"W{INSIDE}"]


def test_a_turn_over_its_waypoint() -> None:
    """It says how far beyond the next leg the curve swings."""
    assert said(*CORNER, kind="fly-over") == [f"T{BEYOND}"]


@pytest.mark.parametrize("kind", ["smooth", "stop"])
def test_waypoints_that_are_reached(kind: str) -> None:
    """There is nothing to say."""
    assert said(*CORNER, kind=kind) == []


def test_not_stated() -> None:
    """Both, each under its kind of turn."""
    assert said(*CORNER) == [
        f"Where turns are flown as fly-by: w{INSIDE}",
        f"Where turns are flown as fly-over: t{BEYOND}",
    ]


@pytest.mark.parametrize(
    ("turn", "sentence"), [("fly-by", f"W{INSIDE}"), ("fly-over", f"T{BEYOND}")]
)
@pytest.mark.parametrize("kind", ["stop", "smooth", "unstated"])
def test_a_waypoint_that_states_its_own_turn(turn: str, sentence: str, kind: str) -> None:
    """It is spoken of once, and as what it is."""
    first, middle, last = CORNER
    corner = waypoint("w1", *middle, turn=turn)
    assert said(first, corner, last, kind=kind) == [sentence]


def test_own_and_unstated_turns_together() -> None:
    """The stated one once, without a condition; the other under each kind."""
    points = (*CORNER[:2], waypoint("own", 0.0, 200.0, 50.0, turn="fly-by"), (200.0, 200.0, 50.0))
    assert said(*points) == [
        f"Where turns are flown as fly-by: w{INSIDE}",
        "Waypoints are not overflown, the curve passes 8.3 m inside own.",
        f"Where turns are flown as fly-over: t{BEYOND}",
    ]


@pytest.mark.parametrize(
    ("kind", "sentence"),
    [
        (
            "fly-by",
            "The fly-by turns at w1, w2 are tighter than asked for: the legs there are too short.",
        ),
        (
            "fly-over",
            "The fly-over turn at w1 is tighter than asked for: the legs there are too short.",
        ),
    ],
)
def test_legs_too_short(kind: str, sentence: str) -> None:
    """30 m between two right angles: 15 m for each to turn by, or 9.2 m to turn over the first."""
    points = [(-200.0, 0.0, 50.0), (0.0, 0.0, 50.0), (0.0, 30.0, 50.0), (-200.0, 30.0, 50.0)]
    assert said(*points, kind=kind)[-1] == sentence


def test_many_turns_are_named_by_the_worst() -> None:
    """Five, the largest first, and how many more there are."""
    points = [(100.0 * (k % 2), 12.0 * k, 50.0) for k in range(9)]
    inside, tight = said(*points, kind="fly-by", turn_anticipation_m=90.0)
    assert inside.startswith("Waypoints are not overflown, the curve passes ")
    assert inside.count(" m inside ") == 5
    assert inside.endswith(", less at 2 more.")
    assert tight == (
        "The fly-by turns at w1, w2, w3, w4, w5 and 2 more are tighter than asked for: "
        "the legs there are too short."
    )


def test_straight_on_is_no_turn() -> None:
    """On one line no waypoint is passed at a distance."""
    assert said((0.0, 0.0, 50.0), (100.0, 0.0, 50.0), (200.0, 0.0, 50.0)) == []

"""Actions after a lost link, from states that can be read by eye."""

from __future__ import annotations

from typing import Any

import numpy as np
import pytest

from terrain_guard.assessment import LossAction, Samples
from terrain_guard.checks.home.actions import Outcomes, loss_actions
from terrain_guard.checks.judge import BREACH, NOT_ASSESSED, TIGHT, WITHIN
from terrain_guard.plan.route import LinkLoss, Route
from tests.checks import scenes

METRES = 400
SPEED_M_PER_S = 10.0


def samples() -> Samples:
    """Return a level flight of 400 m at 10 m/s, all on leg 1."""
    along = np.arange(METRES + 1.0)
    flat: dict[str, Any] = {
        name: np.zeros(along.size)
        for name in Samples.__slots__
        if name not in {"along_m", "time_s", "leg", "in_column", "state"}
    }
    return Samples(
        along_m=along, time_s=along / SPEED_M_PER_S, leg=np.ones(along.size, dtype=np.int64),
        in_column=np.zeros(along.size, dtype=bool), state=np.zeros(along.size, dtype=np.int64),
        **flat,
    )  # fmt: skip


def between(low: float, high: float, code: int) -> np.ndarray:
    """Return a state from `low` to `high` metres, within elsewhere."""
    along = np.arange(METRES + 1)
    return np.where((along >= low) & (along < high), code, WITHIN)


def route(**link_loss: Any) -> Route:
    """Return a route of two waypoints, flown at 10 m/s."""
    return scenes.route(
        [(0.0, 0.0, 50.0), (400.0, 0.0, 50.0)],
        speed_m_per_s=SPEED_M_PER_S,
        link_loss=LinkLoss(**link_loss),
    )


AT_ONCE: dict[str, Any] = {"after_s": 0.0, "go_to": "launch", "then": "land"}


def found(
    outcomes: Outcomes, *, lost: np.ndarray | None = None, **link_loss: Any
) -> dict[tuple[str, str], LossAction]:
    """Return every action by what it is."""
    link_lost = np.zeros(METRES + 1, dtype=bool) if lost is None else lost
    made = loss_actions(route(**link_loss), samples(), outcomes, link_lost=link_lost)
    return {(one.go_to, one.then): one for one, _ in made}


def outcomes(**given: Any) -> Outcomes:
    """Return outcomes that are within but for what is given."""
    nothing = np.zeros(METRES + 1, dtype=np.int64)
    return Outcomes(**{"home": nothing, "spot": WITHIN, "land": nothing, "flown": nothing, **given})


def test_coming_home() -> None:
    """Blocked from 200 to 300 m; stopping takes v/2a = 1.67 s, that is 16.7 m more before it."""
    one = found(outcomes(home=between(200, 300, BREACH)), **AT_ONCE)["launch", "land"]
    assert one.is_set
    assert [(s.from_m, s.to_m) for s in one.failing] == [(183.0, 300.0)]
    assert one.shares.breach_m == pytest.approx(117.0)
    assert one.shares.total_m == pytest.approx(400.0)


def test_a_blocked_landing_spot_fails_every_way_home() -> None:
    """And waiting, which may end there; not landing where it is."""
    made = found(outcomes(spot=BREACH), **AT_ONCE)
    assert made["launch", "land"].shares.breach_m == pytest.approx(400.0)
    assert made["here", "wait"].shares.breach_m == pytest.approx(400.0)
    assert made["here", "land"].shares.breach_m == 0.0


def test_waiting_ends_in_a_return_or_a_landing() -> None:
    """Both must hold: home fails from 0 to 100 m, landing from 300 m on."""
    made = found(
        outcomes(home=between(0, 100, BREACH), land=between(300, 401, NOT_ASSESSED)),
        after_s=0.0, go_to="here", then="wait",
    )  # fmt: skip
    one = made["here", "wait"]
    assert [(s.from_m, s.to_m) for s in one.failing] == [(0.0, 100.0), (283.0, 400.0)]
    assert (one.shares.breach_m, one.shares.not_assessed_m) == pytest.approx((100.0, 117.0))


def test_flying_on_is_unsafe_from_everywhere_before_a_breach() -> None:
    """A breach at 350 m lies ahead of every metre before it."""
    made = found(outcomes(flown=between(350, 351, BREACH)), **AT_ONCE)
    one = made["onward", "land"]
    assert [(s.from_m, s.to_m) for s in one.failing] == [(0.0, 351.0)]
    assert not one.is_set


def test_the_link_lost_where_the_action_fails() -> None:
    """Link lost from 250 m on, home blocked from 200 to 300 m: both from 250 to 300 m."""
    lost = np.arange(METRES + 1) >= 250
    made = found(outcomes(home=between(200, 300, BREACH)), lost=lost, **AT_ONCE)
    both = made["launch", "land"].with_link_lost
    assert [(s.from_m, s.to_m) for s in both] == [(250.0, 300.0)]
    assert made["here", "land"].with_link_lost == ()


def test_nothing_set_all_are_looked_at() -> None:
    """None of the four is set; tight passes."""
    made = found(outcomes(home=between(0, 50, TIGHT)))
    assert list(made) == [
        ("launch", "land"),
        ("here", "wait"),
        ("here", "land"),
        ("onward", "land"),
    ]
    assert not any(one.is_set for one in made.values())
    assert made["launch", "land"].failing == ()
    assert made["launch", "land"].shares.tight_m == pytest.approx(40.0)  # within 10 m it is past

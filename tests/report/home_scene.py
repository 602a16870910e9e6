"""Invented answers about way home, sight and link, for a flight that is already there.

States are laid out by shares of the flight, so that every expected metre follows from them.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import replace

import numpy as np
from numpy.typing import NDArray

from terrain_guard.assessment import (
    Assessment,
    ComingHome,
    EveryMetre,
    Link,
    ReturnHeight,
    Shares,
    Span,
    Watcher,
)
from terrain_guard.states import SEVERITY, State

NAN = math.nan
NOTHING = Shares(within_m=0.0, tight_m=0.0, breach_m=0.0, not_assessed_m=0.0)
RETURN = ((0.4, State.WITHIN), (0.45, State.TIGHT), (0.7, State.BREACH), (0.8, State.NOT_ASSESSED),
          (1.0, State.WITHIN))  # fmt: skip
SIGHT = ((0.01, State.TIGHT), (0.5, State.WITHIN), (0.65, State.BREACH), (0.651, State.TIGHT),
         (1.0, State.WITHIN))  # fmt: skip
LINK = ((0.3, State.WITHIN), (0.9, State.NOT_ASSESSED), (1.0, State.WITHIN))
"""States up to which share of the flight."""
CLIMB_M = 25.0
"""How much higher than it flies the aircraft has to be where its way home fails."""


def codes(along_m: NDArray[np.float64], parts: Sequence[tuple[float, State]]) -> NDArray[np.int64]:
    """Return the state of each sample for shares of the flight and states up to there."""
    ends = np.array([share for share, _ in parts])[:-1] * along_m[-1]
    states = np.array([SEVERITY.index(state) for _, state in parts])
    return np.asarray(states[np.searchsorted(ends, along_m, side="right")], dtype=np.int64)


def with_home(
    assessment: Assessment,
    *,
    home: Sequence[tuple[float, State]] = RETURN,
    sight: Sequence[tuple[float, State]] = SIGHT,
    link: Sequence[tuple[float, State]] = LINK,
    beyond: tuple[Span, ...] = (),
) -> Assessment:
    """Return `assessment` with states of way home, sight and link laid out along it."""
    samples = assessment.samples
    along_m, height_m = samples.along_m, samples.above_launch_m
    returning = codes(along_m, home)
    fails = returning == SEVERITY.index(State.BREACH)
    known = np.where(returning == SEVERITY.index(State.NOT_ASSESSED), NAN, height_m - 10.0)
    every = EveryMetre(
        return_needed_m=np.where(fails, height_m + CLIMB_M, known), return_state=returning,
        sight_margin_m=np.full(len(along_m), NAN), sight_state=codes(along_m, sight),
        link_ratio=np.full(len(along_m), NAN), link_state=codes(along_m, link),
    )  # fmt: skip
    found = ComingHome(
        ways=(), height=_height(), delays_s=(3.0, 10.0), delay_is_stated=False, actions=(),
        watchers=(_pilot(beyond),), seen_by_nobody=(), standing=(), link=_link(), legs=(),
        every_metre=every,
    )  # fmt: skip
    return replace(assessment, coming_home=found)


def _height() -> ReturnHeight:
    return ReturnHeight(
        set_m=None, needed_m=NAN, needed_assured_m=NAN, needed_by=None, highest_m=NAN,
        highest_assured_m=NAN, highest_begun_m=NAN, above_ceiling_m=0.0, above_ceiling_by_m=0.0,
        below_floor_m=0.0, below_floor_by_m=0.0,
    )  # fmt: skip


def _pilot(beyond: tuple[Span, ...]) -> Watcher:
    return Watcher(
        who="pilot", lat_deg=47.3, lon_deg=-28.4, eye_m=1.7, shares=NOTHING, lost=(),
        least_m=NAN, least_assured_m=NAN, least_at_m=NAN, least_at_s=NAN, hidden_far_m=NAN,
        hidden_lat_deg=NAN, hidden_lon_deg=NAN, farthest_m=NAN, farthest_at_m=NAN, limit_m=None,
        limit_source="not stated", beyond=beyond,
    )  # fmt: skip


def _link() -> Link:
    return Link(
        ghz=2.4, is_assumed=True, antenna_m=1.5, shares=NOTHING, blocked=(), least_ratio=NAN,
        least_at_m=NAN, least_at_s=NAN, loss_db=NAN, far_m=NAN, lat_deg=47.3, lon_deg=-28.4,
    )  # fmt: skip

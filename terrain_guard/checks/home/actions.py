"""What comes of each action after a lost link, wherever along the flight that is lost.

* come home: the worst way home in play, and the landing column there;
* wait: until the battery ends it, by coming home or by landing where it is; which is not
  known, so both must hold;
* land there: slope and cover;
* fly on: all that is left of the flight must hold, with nobody at the controls.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from typing import Final

import numpy as np

from terrain_guard.arrays import Bools, Floats, Ints
from terrain_guard.assessment import LossAction, Samples
from terrain_guard.checks.home.delays import acting_later, worst_from_here
from terrain_guard.checks.home.told import fails, shares, spans
from terrain_guard.checks.judge import BREACH
from terrain_guard.checks.line_hazards import BRAKE_M_PER_S2
from terrain_guard.plan.route import Route

ACTIONS: Final = (("launch", "land"), ("here", "wait"), ("here", "land"), ("onward", "land"))


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Outcomes:
    """What acting at each sample of the reference comes to; states (n,)."""

    home: Ints  # the worst way home in play, from there
    spot: int  # the landing column at home
    land: Ints  # landing there
    flown: Ints  # the flight itself, behind each sample

    def of(self, go_to: str, then: str) -> Ints:
        """Return the states of an action begun at each sample."""
        back = np.maximum(self.home, self.spot)
        if go_to == "onward":
            return worst_from_here(self.flown)
        if go_to == "launch":
            return back
        return self.land if then == "land" else np.maximum(back, self.land)


def loss_actions(
    route: Route, samples: Samples, outcomes: Outcomes, *, link_lost: Bools
) -> Iterator[tuple[LossAction, Ints]]:
    """Yield every action, the one that is set first, with its states (n,) by where it is lost."""
    loss = route.link_loss
    stated = None if loss.go_to is None else (loss.go_to, loss.then or "land")
    every = ACTIONS if stated is None else dict.fromkeys((stated, *ACTIONS))
    for go_to, then in every:
        codes = acting_later(
            outcomes.of(go_to, then), samples.time_s,
            delays_s=loss.delays_s, stop_s=_stop_s(route, samples),
        )  # fmt: skip
        yield (
            LossAction(
                go_to=go_to,
                then=then,
                is_set=(go_to, then) == stated,
                shares=shares(codes, samples),
                failing=spans(fails(codes), samples),
                with_link_lost=spans((codes == BREACH) & link_lost, samples),
            ),
            codes,
        )


def _stop_s(route: Route, samples: Samples) -> Floats:
    """Return how much farther in time it comes while it stops: v/2a at the speed of its leg."""
    speeds = [waypoint.speed_m_per_s for waypoint in route.waypoints]
    return np.array([speeds[0], *speeds])[samples.leg] / (2.0 * BRAKE_M_PER_S2)

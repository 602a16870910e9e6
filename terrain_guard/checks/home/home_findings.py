"""Findings about coming home, a lost link, sight and radio, each in one sentence.

First of all what comes together: the link is lost behind ground that then stands in the way
home, too.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass

import numpy as np

from terrain_guard.arrays import Bools, Floats, Ints
from terrain_guard.assessment import Finding, GroundInTheWay, LossAction, ReturnHeight, Samples
from terrain_guard.checks.home.landing import TOO_STEEP_DEG, Landing
from terrain_guard.checks.judge import BREACH, NOT_ASSESSED, TIGHT, runs
from terrain_guard.checks.sight.watching import Linked, Seen
from terrain_guard.path.frame import geodesic
from terrain_guard.plan.route import Route
from terrain_guard.states import SEVERITY
from terrain_guard.units import text_down, text_up

NEAR_M = 150.0
"""Ground this near to a waypoint is named after it."""
LISTED = (BREACH, NOT_ASSESSED)


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Told:
    """What sentences need; arrays are (n,) over the reference's samples."""

    route: Route
    samples: Samples
    height: ReturnHeight
    worst_home: tuple[GroundInTheWay | None, ...]  # of each sample's ways home in play
    worst_path: tuple[str, ...]
    landing: Landing
    seen: Seen
    linked: Linked
    link_lost: Bools
    box: str  # of terrain to get

    def where(self, lat_deg: float, lon_deg: float, far_m: float, *, of: str) -> str:
        """Name a piece of ground by the nearest waypoint, and how far off it is.

        >>> # "the ground near spur, 524 m from launch"
        """
        waypoints = self.route.waypoints
        away = [geodesic([w.lon_deg, lon_deg], [w.lat_deg, lat_deg])[0] for w in waypoints]
        nearest = int(np.argmin(away))
        near = f" near {waypoints[nearest].name}" if away[nearest] <= NEAR_M else ""
        return f"the ground{near}, {text_up(far_m, digits=0)} m from {of},"


def home_findings(
    told: Told,
    *,
    action: tuple[LossAction, Ints] | None,
    home: Ints,
    sight: Ints,
    require: tuple[str, ...],
) -> Iterator[Finding]:
    """Yield what fails, the gravest kind first.

    Parameters
    ----------
    action : LossAction and its states
        The one that is set, by where the link is lost; None: none is set.
    home, sight : (n,) int
        States of coming home from, and of the pilot's sight of, each sample.
    require : tuple of str
        Which of these the rules let into the verdict.
    """
    if action is not None:
        yield from _of_loss(told, *action)
    if action is None or action[0].go_to != "launch":
        yield from _each(told, "return", home, counts="return" in require)
    yield from _each(told, "sight", sight, counts="sight" in require)

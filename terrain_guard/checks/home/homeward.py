r"""Every way home, from every metre: how much room it has over the ground and under the ceiling.

::

    climb-first        ╭──────────────── goal          level          ───────────────╮
                       │                                                             │
    climb-on-the-way   ╱──────────────── goal          slanting       ╲_____         │
                                                                            ‾‾‾‾╲ ___│

All are straight lines over the ground to one spot, and end at the column over it, which has its
own check. Going straight up never brings the ground nearer, so that where it climbs first only
the level line has to be looked at.
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import Final

import numpy as np

from terrain_guard.arrays import Bools, Floats, Ints
from terrain_guard.checks.home.begun import Begun
from terrain_guard.checks.home.margins import MarginsBelow
from terrain_guard.checks.home.need import Need
from terrain_guard.checks.home.needs import Needs
from terrain_guard.checks.judge import BREACH, NOT_ASSESSED, TIGHT, TOLERANCE_M, WITHIN
from terrain_guard.checks.margins import Margins
from terrain_guard.checks.views import View
from terrain_guard.path.pen import WAYS_HOME
from terrain_guard.plan.route import Route

CLIMBS: Final = ("climb-first", "climb-on-the-way")


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Judged:
    """One way home from every place begun at; arrays (n,), NaN: not known.

    ``room_m``: how much lower it may lie as computed, for the floor; ``excess_m``: how far it
    passes above the ceiling at most; negative: below. Elevations count from the launch ground.
    """

    path: str
    to: str
    room_m: Floats
    assured_room_m: Floats
    need: Need
    excess_m: Floats
    assured_excess_m: Floats
    code: Ints

    def with_code(self, code: Ints) -> Judged:
        """Return the same with other states."""
        return replace(self, code=code)


def paths_in_play(route: Route) -> tuple[str, ...]:
    """Return the ways home: the one that is set, else all; none climbs without a height."""
    if route.way_home.path != "unstated":
        return (route.way_home.path,)
    if route.way_home.height_m is None:
        return tuple(path for path in WAYS_HOME if path not in CLIMBS)
    return WAYS_HOME


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class WayJudge:
    """Judges ways home to one spot over one ground, and the surface if there is one."""

    to: str
    view: View
    begun: Begun
    needs: Needs
    margins: MarginsBelow
    base_m: Floats  # elevation of no height above launch, the lowest anywhere on each way
    higher_m: Floats  # by how much that may be higher: a surveyed launch shifts heights
    goal_m: Floats  # what a climb ends at, elevation; the own height where that is more
    gradient: Floats  # of a climb on the way

    def judged(self, path: str) -> Judged:
        """Judge one way home."""
        own = self.own_m
        if path == "slanting":
            return self._of(path, self.needs.slanting(own), self.needs.top_of_slant(own))
        if path == "climb-on-the-way":
            reached = np.fmin(self.goal_m, own + self.gradient * self.needs.length_m)
            need = self._level(reached).worse(self._climb(own, reached))
            return self._of(path, need, self.needs.top_of_level(reached))
        level = self.goal_m if path == "climb-first" else own
        return self._of(path, self._level(level), self.needs.top_of_level(level))

    @property
    def own_m(self) -> Floats:
        """Elevation of the places begun at."""
        return self.begun.flown_m + self.base_m

    def needed_m(self) -> tuple[Floats, Floats, Need]:
        """Return the least elevation of a level way, as computed and with margins, and why."""
        need = self.needs.level(self.goal_m)
        least = self.goal_m + need.lift_m
        return least, least + self._floor_margin(need), need

    def highest_m(self) -> tuple[Floats, Floats]:
        """Return the greatest elevation of a level way that keeps the ceiling, likewise."""
        top = self.needs.top_of_level(self.goal_m)
        wanted, margin = self.view.wanted, self._margins(top).ceiling_m
        known = np.where(top.is_unknown, np.nan, top.elevation_m)
        most = known + wanted.model_ceiling_m - self.higher_m
        sea = wanted.sea_level_ceiling_m
        return np.minimum(most, sea), np.minimum(
            most - margin, sea - margin - wanted.sea_level_doubt_m
        )

    def _level(self, level_m: Floats) -> Need:
        """Return what level ways need; half the height will do where a flight begins and ends."""
        floor_m = self.view.wanted.floor_m
        above = np.abs(level_m - self.base_m)
        eased = self.begun.near_ends & (above < 2 * floor_m)
        need = self.needs.level(level_m)
        if not eased.any():
            return need
        half = self.needs.level_with(level_m, radius_m=above / 2, only=eased)
        return need.where(eased, half.marked_eased())

    def _climb(self, own_m: Floats, reached_m: Floats) -> Need:
        """Return what climbs need; half the height will do where a flight begins and ends."""
        return self.needs.climb(
            own_m,
            self.gradient,
            only=reached_m > own_m,
            eased_from_m=np.where(self.begun.near_ends, self.base_m, np.inf),
        )

    def _of(self, path: str, need: Need, top: Need) -> Judged:
        """Judge a way by the ground that asks for most, and the one it passes highest above."""
        wanted = self.view.wanted
        room = -need.lift_m
        assured = room - self._floor_margin(need)
        margin = self._margins(top).ceiling_m
        excess = top.above_m + self.higher_m - wanted.model_ceiling_m
        sea = top.way_m - wanted.sea_level_ceiling_m
        assured_excess = np.fmax(excess + margin, sea + margin + wanted.sea_level_doubt_m)
        excess = np.fmax(excess, sea)
        return Judged(
            path=path, to=self.to, room_m=room, assured_room_m=assured, need=need,
            excess_m=excess, assured_excess_m=assured_excess,
            code=np.maximum(
                _floor_codes(need, room, assured),
                self._ceiling_codes(excess, assured_excess, top.is_unknown),
            ),
        )  # fmt: skip

    def _floor_margin(self, need: Need) -> Floats:
        """Return the floor's margin there; none where nothing is in reach or half will do."""
        none = need.is_eased | np.isneginf(need.lift_m)
        return np.where(none, 0.0, self._margins(need).floor_m)

    def _margins(self, need: Need) -> Margins:
        return self.margins.at(
            need.lon_deg, need.lat_deg,
            above_launch_m=need.way_m - self.base_m, time_s=self.begun.time_s,
        )  # fmt: skip

    def _ceiling_codes(self, excess: Floats, assured: Floats, unknown: Bools) -> Ints:
        """Judge straight down: where that fails a closest-point ceiling, more would be to ask."""
        wanted = self.view.wanted
        if not (np.isfinite(wanted.model_ceiling_m) or wanted.sea_levels):
            return np.full(excess.shape, WITHIN)
        over = NOT_ASSESSED if wanted.closest_point_ceiling else BREACH
        return np.select(
            [excess > TOLERANCE_M, unknown | np.isnan(excess), assured <= TOLERANCE_M],
            [over, NOT_ASSESSED, WITHIN],
            default=TIGHT,
        )


def _floor_codes(need: Need, room: Floats, assured: Floats) -> Ints:
    """Judge the floor: known ground that breaks it does, whatever else is missing."""
    return np.select(
        [room < -TOLERANCE_M, need.is_unknown | np.isnan(room), assured >= -TOLERANCE_M],
        [BREACH, NOT_ASSESSED, WITHIN],
        default=TIGHT,
    )

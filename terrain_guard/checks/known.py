"""What is known of each leg already, and so how much need be found out on another curve.

Only the reference shows its clearance at every sample. Of all other curves it is
enough to know where a limit fails, and whether a leg's worst is worse there::

    enough ─────────────────── floor + margin, or the leg's least so far
                   ╲  ╱        below it clearance is found exactly, above it
                    ╲╱         it is enough that it is above
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from terrain_guard.arrays import Bools, Floats, Ints
from terrain_guard.checks.wanted import Wanted
from terrain_guard.path.curve import GAP

if TYPE_CHECKING:
    from terrain_guard.checks.measure import Points

SLACK_M = 1.0
"""So much more than a limit is found exactly that bounds between samples still prove it."""


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Known:
    """The worst found on each leg so far; arrays by number of leg."""

    least_m: Floats  # clearance; inf: none yet
    least_lowered_m: Floats
    greatest_m: Floats  # to the ground; -inf: none yet

    @classmethod
    def nothing(cls, legs: int) -> Known:
        """Know nothing of so many legs."""
        return cls(
            least_m=np.full(legs, np.inf),
            least_lowered_m=np.full(legs, np.inf),
            greatest_m=np.full(legs, -np.inf),
        )

    def enough_m(self, wanted: Wanted) -> Floats:
        """Return by leg from what clearance on nothing more need be known, whatever its margin."""
        margin = np.full(self.least_m.shape, wanted.floor_margin_m)
        return enough_m(self.least_m, self.least_lowered_m, wanted, margin)

    def enough_lowered_m(self, wanted: Wanted) -> Floats:
        """Return the same by leg for the clearance of points moved down by their margin."""
        return np.maximum(self.least_lowered_m, wanted.floor_m) + SLACK_M

    def learn(self, points: Points, side: str) -> None:
        """Take in the worst of a measured curve; of one side only what that side decides."""
        use = (points.leg != GAP) & np.isfinite(points.middle_above_ground_m)
        judged = use & ~points.in_column
        if side != "high":
            # Ground may be nearer where it is missing: such a place has no clearance.
            seen = np.abs(points.clearance_m) <= points.void_m
            for values, least in (
                (points.clearance_m, self.least_m),
                (points.lowered_m, self.least_lowered_m),
            ):
                _lower(least, points.leg, judged, np.where(seen, values, np.inf))
        if side != "low":
            seen = np.abs(points.closest_m) <= points.ground_void_m
            greatest = -self.greatest_m
            _lower(greatest, points.leg, use, np.where(seen, -points.closest_m, np.inf))
            self.greatest_m[:] = -greatest


def enough_m(least_m: Floats, least_lowered_m: Floats, wanted: Wanted, margin_m: Floats) -> Floats:
    """Return from what clearance on nothing more need be known; arrays (n,).

    Parameters
    ----------
    least_m, least_lowered_m : (n,) float
        The least on the same leg so far.
    margin_m : (n,) float
        The floor's; NaN where none would prove anything.
    """
    room = np.fmax(margin_m, 0.0) + wanted.corridor_m
    need = np.maximum(least_m, least_lowered_m + room)
    return np.maximum(need, wanted.floor_m + room) + SLACK_M


def _lower(least: Floats, leg: Ints, use: Bools, values: Floats) -> None:
    for ends in (values[:-1], values[1:]):
        np.fmin.at(least, leg[use], ends[use])

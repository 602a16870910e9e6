"""From route, rules and models to the margins along any curve: the budget, or fixed ones.

Canopy stands among the bounds where it counts. A launch offset that is not stated may
lift the whole flight: a bound for the ceiling.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass

import numpy as np

from terrain_guard.checks.budget.budget import Budget, budget
from terrain_guard.checks.budget.launch_spot import LaunchSpot, launch_spot
from terrain_guard.checks.budget.places import Places, places_along
from terrain_guard.checks.budget.setting import Setting
from terrain_guard.checks.budget.terms import Scope, Term, bound_term
from terrain_guard.checks.extremes import covering_m, lowest_within
from terrain_guard.checks.margins import Margins
from terrain_guard.checks.wanted import Wanted
from terrain_guard.ground.model import Ground
from terrain_guard.path.curve import Curve
from terrain_guard.path.flight import Flight
from terrain_guard.plan.route import Route
from terrain_guard.plan.rules import Rules

MOST_SAMPLES = 500
LARGEST_CHORD_M = 1.0
UNSTATED_OFFSET_M = 2.0
"""A deck, roof or case of unstated height to take off from. Common practice, no source."""


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Along:
    """The margins along one curve, and the budget that they are made of."""

    margins: Margins
    budget: Budget
    places: Places


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Budgeter:
    """Makes margins over one ground; where the rules fix a margin, that goes before the budget."""

    ground: Ground
    setting: Setting
    spot: LaunchSpot
    rules: Rules
    corridor_m: float
    way_home: int  # its leg
    starts_s: tuple[float, ...]  # of climb-out, legs and way home, at the latest
    offset_is_stated: bool
    canopy_source: str

    @classmethod
    def over(
        cls, ground: Ground, *, route: Route, rules: Rules, setting: Setting, flight: Flight,
        canopy_source: str,
    ) -> Budgeter:  # fmt: skip
        """Look at where a flight over one ground is launched from."""
        spot = launch_spot(
            ground,
            flight.frame,
            flight.launch,
            within_m=route.launch.spot_within_m,
            registration_m=setting.model.registration.value,
            cell_m=setting.cell_m,
        )
        return cls(
            ground=ground, setting=setting, spot=spot, rules=rules,
            corridor_m=route.aircraft.off_line_m or 0.0, starts_s=_starts_s(flight),
            way_home=len(route.waypoints),
            offset_is_stated=route.launch.offset_m is not None, canopy_source=canopy_source,
        )  # fmt: skip

    @property
    def words(self) -> str:
        """What the margins rest on, in a few words."""
        fixed = [
            side
            for side, value in (
                ("floor", self.rules.fixed_floor_margin_m),
                ("ceiling", self.rules.fixed_ceiling_margin_m),
            )
            if value is not None
        ]
        if len(fixed) == 2:
            return "fixed by the rules"
        also = f"; of the {fixed[0]} fixed by the rules" if fixed else ""
        return f"at most, by the error budget: {self.setting.words}{also}"

    def along(self, curve: Curve, wanted: Wanted) -> Along:
        """Return the margins along a curve; `wanted` says which canopy counts on it."""
        given = (*self.given(wanted), *self._corridor(curve))
        places = places_along(
            self.ground, curve, self.spot, self.setting, given=given, since_s=self._since_s(curve)
        )
        found = budget(self.setting, places)
        fixed = self.rules.fixed_floor_margin_m, self.rules.fixed_ceiling_margin_m
        floor = (
            found.floor_margin_m
            if fixed[0] is None
            else np.full(places.count, fixed[0] + wanted.canopy_m)
        )
        ceiling = (
            found.ceiling_margin_m
            if fixed[1] is None
            else np.full(places.count, fixed[1] + wanted.ceiling_canopy_m)
        )
        return Along(margins=Margins(floor_m=floor, ceiling_m=ceiling), budget=found, places=places)

    def _since_s(self, curve: Curve) -> float:
        """Return how long after launch a curve begins, at the latest."""
        first = curve.legs[0]
        return self.starts_s[0 if first == 0 else 1 if first < self.way_home else 2]

    def corridor_on_floor_m(self) -> float:
        """Return how far beside its line the aircraft may be, where the floor is not fixed."""
        return 0.0 if self.rules.fixed_floor_margin_m is not None else self.corridor_m

    def _corridor(self, curve: Curve) -> Iterator[Term]:
        """Yield how much lower ground lies beside the line: a bound for the ceiling."""
        if self.rules.fixed_ceiling_margin_m is not None or not self.corridor_m:
            return
        row, column = self.ground.posts_at(curve.lon_deg, curve.lat_deg)
        here, lowest = self.ground.elevation_at(row, column), np.full(row.shape, np.nan)
        placed = np.flatnonzero(np.isfinite(row + column))
        for pick in np.split(placed, np.arange(MOST_SAMPLES, placed.size, MOST_SAMPLES)):
            if pick.size:
                wide = covering_m(
                    np.full(pick.size, self.corridor_m), np.full(pick.size, LARGEST_CHORD_M)
                )
                near = self.ground.around(row[pick], column[pick], reach_m=float(wide[0]) + 1.0)
                lowest[pick] = lowest_within(near, row[pick], column[pick], wide)
        yield bound_term(
            "corridor", ceiling_m=np.fmax(here - lowest, 0.0),
            source=f"lowest ground within {self.corridor_m:g} m beside the line",
            remedy="satellites with corrections",
        )  # fmt: skip

    def given(self, wanted: Wanted) -> Iterator[Term]:
        """Yield the causes that are no part of the budget itself: canopy, an unstated deck."""
        if wanted.canopy_m or wanted.ceiling_canopy_m:
            yield bound_term(
                "canopy", floor_m=wanted.canopy_m, ceiling_m=wanted.ceiling_canopy_m,
                source=self.canopy_source, assumed=self.canopy_source.startswith("assumed"),
                remedy="give --surface, or declare it (--canopy, canopy_m in the card)",
            )  # fmt: skip
        if not self.offset_is_stated:
            yield bound_term(
                "launch offset", ceiling_m=UNSTATED_OFFSET_M, scope=Scope.FLIGHT, assumed=True,
                source="a deck, roof or case to take off from; common practice, no source",
                remedy="state launch.offset_m",
            )  # fmt: skip


def _starts_s(flight: Flight) -> tuple[float, ...]:
    """Return when each section begins, after the slowest way to fly those before it."""
    lasts = [
        max((float(np.fmax.reduce(curve.time_s, initial=0.0)) for curve in section), default=0.0)
        for section in flight.sections
    ]
    return (0.0, lasts[0], lasts[0] + lasts[1])

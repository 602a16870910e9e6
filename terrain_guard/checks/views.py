"""A flight seen over its models: the limits over each ground, and the columns on it."""

from __future__ import annotations

from dataclasses import dataclass, replace
from datetime import date

import numpy as np

from terrain_guard.assessment import CanopyUsed, LaunchUsed, SurfaceTied
from terrain_guard.checks.beneath import Beneath
from terrain_guard.checks.budgeted import Budgeter
from terrain_guard.checks.column import COLUMN_RADIUS_M, ColumnState, column_state
from terrain_guard.checks.flight_setting import flight_setting
from terrain_guard.checks.launching import deck_m, lands_on_deck, launch_ground
from terrain_guard.checks.models import Models, count_from_two_zeros, two_zeros
from terrain_guard.checks.sea_level import counts_from_sea_level
from terrain_guard.checks.surveyed import Survey
from terrain_guard.checks.surveys import tied_surface
from terrain_guard.checks.wanted import Column, Wanted
from terrain_guard.errors import RefusedTerrain
from terrain_guard.path.beside import is_slanting
from terrain_guard.path.curve import Curve
from terrain_guard.path.flight import Flight
from terrain_guard.plan.route import Route
from terrain_guard.plan.rules import DATUM_DOUBT_M, Rules


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class View:
    """The flight seen over one ground, and over a surface if there is one: what judges it."""

    beneath: Beneath
    wanted: Wanted
    budgeter: Budgeter
    surface_tied: SurfaceTied | None = None
    has_own_launch: bool = True


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Viewer:
    """Sets the limits for one flight over any of its models, and looks at the columns there."""

    route: Route
    rules: Rules
    models: Models
    flight: Flight
    canopy: CanopyUsed
    launch: LaunchUsed
    today: date

    def first(self) -> View:
        """Look at the flight over the ground, and the surface if there is one."""
        models = self.models
        beneath = Beneath(
            ground=models.ground,
            launch_elevation_m=self.launch.elevation_m,
            is_surface_alone=models.is_surface_alone,
        )
        return self._over(beneath, sea_level=True)

    def second(self) -> View | None:
        """Look at it over the second ground, from its own launch ground if it has one."""
        second = self.models.second
        if second is None:
            return None
        own = launch_ground(self.route, second, canopy_m=0.0, source="second ground model")
        known = bool(np.isfinite(own.elevation_m))
        if not known and count_from_two_zeros(self.models.ground, second):
            msg = (
                f"{two_zeros(self.models.ground, second)}, and it does not know the launch, from "
                "which its heights would count: give a second ground that covers the launch, or "
                "one of the same vertical datum"
            )
            raise RefusedTerrain(msg)
        beneath = Beneath(
            ground=second,
            launch_elevation_m=own.elevation_m if known else self.launch.elevation_m,
            is_second=True,
        )
        view = self._over(beneath, sea_level=counts_from_sea_level(second))
        return replace(view, has_own_launch=known)

    def _over(self, beneath: Beneath, *, sea_level: bool) -> View:
        tied, ground = None, beneath.ground
        setting = flight_setting(
            ground, route=self.route, rules=self.rules, models=self.models, today=self.today
        )
        survey = Survey.of(self.route.launch, ground, setting)
        beneath = replace(beneath, survey=survey, launch_place_m=self.flight.launch)
        if self.models.surface is not None:
            surface, tied = tied_surface(beneath.ground, self.models.surface, self.flight)
            beneath = replace(beneath, surface=surface)
        wanted = self._wanted(sea_level=sea_level)
        beneath = replace(beneath, columns=self._columns(beneath, wanted))
        budgeter = Budgeter.over(
            ground, route=self.route, rules=self.rules, setting=setting,
            flight=self.flight, canopy_source=self.canopy.source,
        )  # fmt: skip
        wanted = replace(wanted, corridor_m=budgeter.corridor_on_floor_m())
        return View(beneath=beneath, wanted=wanted, budgeter=budgeter, surface_tied=tied)

    def _wanted(self, *, sea_level: bool) -> Wanted:
        rules, canopy = self.rules, self.canopy
        last = len(self.route.waypoints)
        reach = COLUMN_RADIUS_M + self.route.launch.spot_within_m
        columns = {0: Column(place=self.flight.launch, radius_m=reach)}
        if self.flight.spot.lands:
            columns[last] = Column(place=self.flight.spot.place, radius_m=reach)
        return Wanted(
            floor_m=rules.floor_m,
            floor_margin_m=canopy.floor_m,
            canopy_m=canopy.floor_m,
            ceiling_canopy_m=canopy.ceiling_m,
            ceiling_m=rules.above_ground_ceiling_m,
            ceiling_margin_m=canopy.ceiling_m,
            ground_below_m=canopy.ground_below_m,
            sea_level_ceiling_m=rules.above_sea_level_ceiling_m if sea_level else np.inf,
            # No canopy makes the aircraft fly higher above the sea.
            sea_level_doubt_m=DATUM_DOUBT_M - canopy.ceiling_m,
            closest_point_ceiling=rules.ceiling_measure == "closest-point",
            vertical_floor=rules.floor_measure == "vertical",
            columns=columns,
            eased=frozenset({0}),
        )

    def _columns(self, beneath: Beneath, wanted: Wanted) -> dict[int, ColumnState]:
        """Look at the take-off and landing columns; return their states by leg."""
        states = {}
        spots = {0: (self.flight.launch, deck_m(self.route))}
        spots[len(self.route.waypoints)] = self.flight.spot.place, self.flight.spot.ground_m
        for leg, column in wanted.columns.items():
            place, above_launch_m = spots[leg]
            lon, lat = self.flight.frame.to_degrees([place[0]], [place[1]])
            states[leg] = column_state(
                beneath.ground, beneath.surface, (float(lon[0]), float(lat[0])),
                radius_m=column.radius_m,
                standing_m=float(beneath.level_m(*place)) + above_launch_m,
                deck_m=deck_m(self.route) if leg == 0 or lands_on_deck(self.route) else 0.0,
            )  # fmt: skip
        return states

    def wanted_on(self, view: View, curve: Curve) -> Wanted:
        """Return the limits for one curve: a slanting way home is eased like the climb-out.

        On both the canopy over bare earth does not count.
        """
        last, spot, wanted = len(self.route.waypoints), self.flight.spot, view.wanted
        to_land = spot.lands and spot.height_m is None  # not to a waypoint at its own height
        if curve.legs == [last] and is_slanting(curve) and to_land:
            wanted = replace(wanted, eased=wanted.eased | {last})
        if self.canopy.floor_everywhere or not wanted.eased.issuperset(curve.legs):
            return wanted
        return replace(wanted, canopy_m=0.0)

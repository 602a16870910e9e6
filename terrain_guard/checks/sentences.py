"""Findings in sentences a pilot understands; metres, rounded outward."""

from __future__ import annotations

import math
from dataclasses import dataclass

from terrain_guard.checks.stretches import Stretch, Worst
from terrain_guard.path.altimeter import AS_TYPED, Altimeter
from terrain_guard.states import State
from terrain_guard.units import text_down, text_up

SAME_M = 1e-6


@dataclass(frozen=True, slots=True, kw_only=True)
class Speaker:
    """What every sentence of one assessment needs.

    ``typed_m`` holds each leg's typed heights above launch, start and end. What is
    needed is said in metres to type.
    """

    typed_m: dict[int, tuple[float, float]]
    box: str
    altimeter: Altimeter = AS_TYPED

    def floor(self, stretch: Stretch, lowest_allowed_m: float, astray_m: float = 0.0) -> str:
        """Say how near the ground comes, and how much more height is needed.

        `lowest_allowed_m` is the elevation at the worst metre from which the floor
        holds as computed, `astray_m` how much more that is for all of the corridor.
        """
        worst = stretch.worst
        missing = lowest_allowed_m - worst.elevation_m
        return f"{self._height(stretch.leg, worst)} = {_low(worst)}; " + self._needed(
            "more", missing, worst.floor_margin_m + astray_m, stretch.state, worst.wanted.canopy_m
        )

    def ceiling(self, stretch: Stretch, highest_allowed_m: float) -> str:
        """Say how high it is, and how much lower it must be.

        `highest_allowed_m` is the elevation at the worst metre up to which the
        ceiling holds as computed.
        """
        worst = stretch.worst
        above = _high(worst)
        if worst.wanted.closest_point_ceiling:
            above += f", {text_up(worst.closest_m)} m from the closest point of the ground"
        over = worst.elevation_m - highest_allowed_m
        return f"{self._height(stretch.leg, worst)} = {above}; " + self._needed(
            "less", over, worst.ceiling_margin_m, stretch.state
        )

    def sea_level(self, stretch: Stretch) -> str:
        """Say how high above sea level it is, and how much lower it must be."""
        worst, wanted = stretch.worst, stretch.worst.wanted
        above_sea = worst.beneath.launch_elevation_m + worst.above_launch_m
        over = above_sea - wanted.sea_level_ceiling_m
        return (
            f"{self._height(stretch.leg, worst)} = {text_up(above_sea)} m above sea level; "
            + self._needed(
                "less", over, worst.ceiling_margin_m + wanted.sea_level_doubt_m, stretch.state
            )
        )

    def underground(self, stretch: Stretch) -> str:
        """Say that the curve runs under the ground."""
        worst = stretch.worst
        return (
            f"{self._height(stretch.leg, worst)}, but the ground here is "
            f"{text_up(-worst.above_ground_m)} m higher: the point is underground"
        )

    def column(self, stretch: Stretch) -> str:
        """Say what stands in the take-off or landing column."""
        spot = "the launch spot" if stretch.leg == 0 else "the landing spot"
        worst = stretch.worst
        radius, found = worst.wanted.columns[stretch.leg].radius_m, worst.beneath.columns
        column = found[stretch.leg]
        what = "ground stands"
        if column.in_surface or worst.beneath.is_surface_alone:
            what = "the surface model, with its trees and roofs, stands"
        return (
            f"within {text_up(radius)} m of {spot} {what} {text_up(column.excess_m)} m above a "
            "1:1 cone with its tip on the spot: no free column to climb or come down in"
        )

    def missing(self, stretch: Stretch) -> str:
        """Say what could not be judged, and what would make it possible."""
        worst = stretch.worst
        if math.isnan(worst.beneath.launch_elevation_m):
            return (
                "the launch ground is not known: the model has no height there and no surveyed "
                "elevation is given; give launch.elevation_m with its accuracy, or terrain that "
                "covers the launch"
            )
        length = text_up(stretch.to_m - stretch.from_m)
        what = "ground is" if worst.beneath.surface is None else "ground or surface is"
        return (
            f"{length} m not assessed: {what} missing under the curve or within "
            f"{text_up(worst.wanted.floor_reach_m)} m of it; get terrain for {self.box}"
        )

    def _height(self, leg: int, worst: Worst) -> str:
        """Name the height as the pilot knows it: typed where the whole leg has that height."""
        level = all(abs(m - worst.above_launch_m) < SAME_M for m in self.typed_m[leg])
        word = "typed" if level else "flown"
        second = " by the second ground model" if worst.beneath.is_second else ""
        return (
            f"{word} {text_nearest(worst.above_launch_m)} m above launch ground "
            f"({text_nearest(worst.beneath.launch_elevation_m)} m{second})"
        )

    def _needed(
        self, word: str, metres: float, margin_m: float, state: State, canopy_m: float = 0.0
    ) -> str:
        """Say how much more or less is to be typed, which the air may stretch or shrink."""
        factor = self.altimeter.factor
        breaks = state is State.BREACH
        nominal = f"{text_up(metres / factor)} m as computed" if breaks else "none as computed"
        if math.isnan(margin_m):
            return f"{word} needed: {nominal}; cells this coarse prove nothing with margins"
        canopy = f" and {canopy_m:g} m of canopy" if canopy_m else ""
        with_margins = text_up((metres + margin_m) / factor)
        return f"{with_margins} m {word} needed with margins{canopy}, {nominal}"


def _low(worst: Worst) -> str:
    """Say how near the nearest thing is, and which model it stands in where there are two."""
    if worst.beneath.is_surface_alone:
        if worst.above_ground_m < 0:
            return (
                f"{text_up(-worst.above_ground_m)} m below the top here, inside trees or roofs of "
                "the surface model"
            )
        return (
            f"{text_down(worst.above_ground_m)} m above the surface model here, "
            f"{text_down(worst.clearance_m)} m from it"
        )
    if worst.above_ground_m < 0:
        return f"{text_up(-worst.above_ground_m)} m below ground here"
    above = f"{text_down(worst.above_ground_m)} m above ground here"
    if worst.clearance_m < 0:
        depth = text_up(-worst.clearance_m)
        return f"{above}, but {depth} m inside trees or roofs of the surface model"
    nearest = "slope" if worst.beneath.surface is None else "ground"
    nearest = "surface model's trees or roofs" if worst.in_surface else nearest
    return f"{above}, {text_down(worst.clearance_m)} m from the {nearest}"


def _high(worst: Worst) -> str:
    """Say how high above ground it is; above a surface model, how far below that ground may be."""
    if not worst.beneath.is_surface_alone:
        return f"{text_up(worst.above_ground_m)} m above ground here"
    above = f"{text_up(worst.above_ground_m)} m above the surface model here"
    below = worst.wanted.ground_below_m
    if not below:
        return above
    return (
        f"{text_up(worst.above_ground_m + below)} m above ground here ({above}, canopy {below:g} m)"
    )


def text_nearest(value: float) -> str:
    """Write a height that is neither a clearance nor held against a limit."""
    return f"{value:.1f}" if math.isfinite(value) else "not assessed"

"""Findings in sentences a pilot understands; metres, rounded outward."""

from __future__ import annotations

import math
from dataclasses import dataclass

from terrain_guard.checks.stretches import Stretch, Worst
from terrain_guard.checks.wanted import Wanted
from terrain_guard.states import State
from terrain_guard.units import text_down, text_up

SAME_M = 1e-6


@dataclass(frozen=True, slots=True, kw_only=True)
class Speaker:
    """What every sentence of one assessment needs.

    ``typed_m`` holds each leg's typed heights above launch, start and end.
    """

    wanted: Wanted
    launch_elevation_m: float
    typed_m: dict[int, tuple[float, float]]
    box: str

    def floor(self, stretch: Stretch, lowest_allowed_m: float) -> str:
        """Say how near the ground comes, and how much more height is needed.

        `lowest_allowed_m` is the elevation at the worst metre from which the floor
        holds as computed.
        """
        worst = stretch.worst
        if worst.above_ground_m < 0:
            above = f"{text_up(-worst.above_ground_m)} m below ground here"
        else:
            above = f"{text_down(worst.above_ground_m)} m above ground here"
            above += f", {text_down(worst.clearance_m)} m from the slope"
        missing = lowest_allowed_m - worst.elevation_m
        return f"{self._height(stretch.leg, worst)} = {above}; " + _needed(
            "more", missing, self.wanted.floor_margin_m, stretch.state
        )

    def ceiling(self, stretch: Stretch, highest_allowed_m: float) -> str:
        """Say how high it is, and how much lower it must be.

        `highest_allowed_m` is the elevation at the worst metre up to which the
        ceiling holds as computed.
        """
        worst = stretch.worst
        above = f"{text_up(worst.above_ground_m)} m above ground here"
        if self.wanted.closest_point_ceiling:
            above += f", {text_up(worst.clearance_m)} m from the closest point of the ground"
        over = worst.elevation_m - highest_allowed_m
        return f"{self._height(stretch.leg, worst)} = {above}; " + _needed(
            "less", over, self.wanted.ceiling_margin_m, stretch.state
        )

    def underground(self, stretch: Stretch) -> str:
        """Say that the curve runs under the ground."""
        worst = stretch.worst
        return (
            f"{self._height(stretch.leg, worst)}, but the ground here is "
            f"{text_up(-worst.above_ground_m)} m higher: the point is underground"
        )

    def column(self, stretch: Stretch, excess_m: float) -> str:
        """Say what stands in the take-off or landing column."""
        spot = "the launch spot" if stretch.leg == 0 else "the landing spot"
        radius = self.wanted.columns[stretch.leg].radius_m
        return (
            f"within {text_up(radius)} m of {spot} ground stands {text_up(excess_m)} m above a "
            "1:1 cone with its tip on the spot: no free column to climb or come down in"
        )

    def missing(self, stretch: Stretch) -> str:
        """Say what could not be judged, and what would make it possible."""
        if math.isnan(self.launch_elevation_m):
            return (
                "the launch ground is not known: the model has no height there and no surveyed "
                "elevation is given; give launch.elevation_m with its accuracy, or terrain that "
                "covers the launch"
            )
        length = text_up(stretch.to_m - stretch.from_m)
        return (
            f"{length} m not assessed: ground is missing under the curve or within "
            f"{text_up(self.wanted.floor_reach_m)} m of it; get terrain for {self.box}"
        )

    def _height(self, leg: int, worst: Worst) -> str:
        """Name the height as the pilot knows it: typed where the whole leg has that height."""
        level = all(abs(m - worst.above_launch_m) < SAME_M for m in self.typed_m[leg])
        word = "typed" if level else "flown"
        return (
            f"{word} {text_nearest(worst.above_launch_m)} m above launch ground "
            f"({text_nearest(self.launch_elevation_m)} m)"
        )


def text_nearest(value: float) -> str:
    """Write a height that is neither a clearance nor held against a limit."""
    return f"{value:.1f}" if math.isfinite(value) else "not assessed"


def _needed(word: str, metres: float, margin_m: float, state: State) -> str:
    if metres + margin_m <= 0:  # tight because nothing is proven over cells this coarse
        return f"no {word} needed, but cells this coarse prove nothing: tight at best"
    nominal = f"{text_up(metres)} m as computed" if state is State.BREACH else "none as computed"
    return f"{text_up(metres + margin_m)} m {word} needed with margins, {nominal}"

"""Findings in sentences a pilot understands; metres, rounded outward."""

from __future__ import annotations

from terrain_guard.checks.measure import Wanted
from terrain_guard.checks.stretches import Stretch, Worst
from terrain_guard.states import State
from terrain_guard.units import text_down, text_up


def typed_here(worst: Worst, launch_elevation_m: float) -> str:
    """Say what the typed height becomes here."""
    return (
        f"{_metres(worst.above_launch_m)} above launch ground "
        f"({_metres(launch_elevation_m)}) = {_metres(worst.above_ground_m)} above ground here"
    )


def _metres(value_m: float) -> str:
    return f"{text_down(value_m)} m" if value_m == value_m else "not assessed"  # noqa: PLR0124


def floor_sentence(
    stretch: Stretch, wanted: Wanted, *, launch_elevation_m: float, lowest_allowed_m: float
) -> str:
    """Say how near the ground comes, and how much more height is needed.

    `lowest_allowed_m` is the elevation at the worst metre from which the floor
    holds as computed.
    """
    worst = stretch.worst
    here = typed_here(worst, launch_elevation_m)
    if worst.clearance_m < 0:
        here += f", {text_up(-worst.clearance_m)} m deep in the slope"
    else:
        here += f", {text_down(worst.clearance_m)} m from the slope"
    missing = lowest_allowed_m - worst.elevation_m
    with_margins = f"{text_up(missing + wanted.floor_margin_m)} m more needed with margins"
    if stretch.state is State.BREACH:
        return f"{here}; {with_margins}, {text_up(missing)} m as computed"
    return f"{here}; {with_margins}, none as computed"


def ceiling_sentence(
    stretch: Stretch, wanted: Wanted, *, launch_elevation_m: float, highest_allowed_m: float
) -> str:
    """Say how high it is, and how much lower it must be.

    `highest_allowed_m` is the elevation at the worst metre up to which the
    ceiling holds as computed.
    """
    worst = stretch.worst
    here = (
        f"{_metres(worst.above_launch_m)} above launch ground ({_metres(launch_elevation_m)}) = "
        f"{text_up(worst.above_ground_m)} m above ground here"
    )
    if wanted.closest_point_ceiling:
        here += f", {text_up(worst.clearance_m)} m from the closest point of the ground"
    over = worst.elevation_m - highest_allowed_m
    with_margins = f"{text_up(over + wanted.ceiling_margin_m)} m less needed with margins"
    if stretch.state is State.BREACH:
        return f"{here}; {with_margins}, {text_up(over)} m as computed"
    return f"{here}; {with_margins}, none as computed"


def underground_sentence(stretch: Stretch, *, launch_elevation_m: float) -> str:
    """Say that the curve runs under the ground."""
    worst = stretch.worst
    return (
        f"{_metres(worst.above_launch_m)} above launch ground ({_metres(launch_elevation_m)}): "
        f"the point is underground, {text_up(-worst.above_ground_m)} m below the ground here"
    )


def column_sentence(*, spot: str, radius_m: float, excess_m: float) -> str:
    """Say what stands in the take-off or landing column."""
    return (
        f"within {text_up(radius_m)} m of {spot} ground stands {text_up(excess_m)} m above a 1:1 "
        f"cone with its tip on the spot: no free column to climb or come down in"
    )


def missing_sentence(stretch: Stretch, wanted: Wanted, *, launch_known: bool, box: str) -> str:
    """Say what could not be judged, and what would make it possible."""
    if not launch_known:
        return (
            "the launch ground is not known: the model has no height there and no surveyed "
            "elevation is given; give launch.elevation_m with its accuracy, or terrain that "
            "covers the launch"
        )
    length = text_up(stretch.to_m - stretch.from_m)
    return (
        f"{length} m not assessed: ground is missing under the curve or within "
        f"{text_up(wanted.floor_reach_m)} m of it; get terrain for {box}"
    )

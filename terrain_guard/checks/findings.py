"""Findings: failing stretches with the sentence that explains them."""

from __future__ import annotations

import numpy as np

from terrain_guard.assessment import Finding
from terrain_guard.checks.limits import resting_elevation
from terrain_guard.checks.sentences import Speaker
from terrain_guard.checks.stretches import Stretch, Worst
from terrain_guard.ground.model import Ground


def findings(failing: list[Stretch], speaker: Speaker) -> tuple[Finding, ...]:
    """Put failing stretches into words."""
    out = []
    for stretch in failing:
        if stretch.kind == "floor":
            allowed_m, astray_m = _lowest_allowed_m(stretch.worst)
            message = speaker.floor(stretch, allowed_m, astray_m)
        elif stretch.kind == "ceiling":
            message = speaker.ceiling(stretch, _highest_allowed_m(stretch.worst))
        elif stretch.kind == "sea-level ceiling":
            message = speaker.sea_level(stretch)
        elif stretch.kind == "underground":
            message = speaker.underground(stretch)
        elif stretch.kind == "column":
            message = speaker.column(stretch)
        else:
            message = speaker.missing(stretch)
        out.append(_finding(stretch, message))
    return tuple(out)


def _lowest_allowed_m(worst: Worst) -> tuple[float, float]:
    """Return the elevation, at the worst metre, from which the floor holds as computed.

    And how much more it has to be for any place of the corridor.
    """
    nominal = _lowest_m(worst, 0.0)
    corridor_m = worst.wanted.corridor_m
    return nominal, _lowest_m(worst, corridor_m) - nominal if corridor_m else 0.0


def _lowest_m(worst: Worst, corridor_m: float) -> float:
    wanted = worst.wanted
    limits = (
        _limit_m(model, worst, wanted.floor_m, corridor_m, straight=wanted.vertical_floor)
        for model in worst.beneath.models.values()
    )
    return max(limits, key=lambda limit_m: -np.inf if np.isnan(limit_m) else limit_m)


def _highest_allowed_m(worst: Worst) -> float:
    """Return the elevation, at the worst metre, up to which the ceiling holds as computed."""
    wanted, ground = worst.wanted, worst.beneath.ground
    straight = not wanted.closest_point_ceiling
    limit_m = _limit_m(ground, worst, wanted.ceiling_m, 0.0, straight=straight)
    return limit_m - wanted.ground_below_m


def _limit_m(
    model: Ground, worst: Worst, radius_m: float, corridor_m: float, *, straight: bool
) -> float:
    row, column = model.posts_at(worst.lon_deg, worst.lat_deg)
    if straight:
        return float(model.elevation_at(row, column)[0]) + radius_m
    return float(resting_elevation(model, row, column, radius_m, corridor_m)[0])


def _finding(stretch: Stretch, message: str) -> Finding:
    worst = stretch.worst
    return Finding(
        kind=stretch.kind,
        state=stretch.state,
        leg=stretch.leg,
        from_m=stretch.from_m,
        to_m=stretch.to_m,
        worst_m=worst.value_m,
        at_m=worst.at_m,
        time_s=worst.time_s,
        lat_deg=worst.lat_deg,
        lon_deg=worst.lon_deg,
        curve=worst.curve,
        message=message,
    )

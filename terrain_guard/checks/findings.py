"""Findings: failing stretches with the sentence that explains them."""

from __future__ import annotations

import numpy as np

from terrain_guard.arrays import Floats
from terrain_guard.assessment import Finding
from terrain_guard.checks.limits import resting_elevation
from terrain_guard.checks.sentences import Speaker
from terrain_guard.checks.stretches import Stretch
from terrain_guard.checks.wanted import Wanted
from terrain_guard.ground.model import Ground


def findings(
    failing: list[Stretch], speaker: Speaker, ground: Ground, *, column_excess_m: dict[int, float]
) -> tuple[Finding, ...]:
    """Put failing stretches into words.

    `column_excess_m` says by leg how far ground stands above the cone of the column.
    """
    allowed = _allowed_m(failing, speaker.wanted, ground)
    out = []
    for stretch, allowed_m in zip(failing, allowed.tolist(), strict=True):
        if stretch.kind == "floor":
            message = speaker.floor(stretch, allowed_m)
        elif stretch.kind == "ceiling":
            message = speaker.ceiling(stretch, allowed_m)
        elif stretch.kind == "underground":
            message = speaker.underground(stretch)
        elif stretch.kind == "column":
            message = speaker.column(stretch, column_excess_m[stretch.leg])
        else:
            message = speaker.missing(stretch)
        out.append(_finding(stretch, message))
    return tuple(out)


def _allowed_m(failing: list[Stretch], wanted: Wanted, ground: Ground) -> Floats:
    """Return the limiting elevation, as computed, at the worst metre of each stretch."""
    allowed = np.full(len(failing), np.nan)
    for k, stretch in enumerate(failing):
        row, column = np.array([stretch.worst.row]), np.array([stretch.worst.column])
        if stretch.kind == "floor":
            radius, straight = wanted.floor_m, wanted.vertical_floor
        elif stretch.kind == "ceiling":
            radius, straight = wanted.ceiling_m, not wanted.closest_point_ceiling
        else:
            continue
        if straight:
            allowed[k] = ground.elevation_at(row, column)[0] + radius
        else:
            allowed[k] = resting_elevation(ground, row, column, radius)[0]
    return allowed


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

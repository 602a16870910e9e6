"""Findings: failing stretches with the sentence that explains them."""

from __future__ import annotations

import numpy as np

from terrain_guard.assessment import Finding
from terrain_guard.checks import sentences
from terrain_guard.checks.limits import resting_elevation
from terrain_guard.checks.measure import Wanted
from terrain_guard.checks.stretches import Stretch
from terrain_guard.ground.model import Ground


def findings(
    failing: list[Stretch],
    wanted: Wanted,
    ground: Ground,
    *,
    launch_elevation_m: float,
    box: str,
    column_excess_m: dict[int, float],
) -> tuple[Finding, ...]:
    """Put failing stretches into words.

    Parameters
    ----------
    failing : list of Stretch
    launch_elevation_m : float
        NaN if the launch ground is not known.
    box : str
        The terrain to get, should some be missing.
    column_excess_m : dict
        By leg: how far ground stands above the cone of the column.
    """
    allowed = _allowed_m(failing, wanted, ground)
    out = []
    for stretch, allowed_m in zip(failing, allowed, strict=True):
        known = launch_elevation_m == launch_elevation_m  # noqa: PLR0124
        if stretch.kind == "floor":
            message = sentences.floor_sentence(
                stretch, wanted, launch_elevation_m=launch_elevation_m, lowest_allowed_m=allowed_m
            )
        elif stretch.kind == "ceiling":
            message = sentences.ceiling_sentence(
                stretch, wanted, launch_elevation_m=launch_elevation_m, highest_allowed_m=allowed_m
            )
        elif stretch.kind == "underground":
            message = sentences.underground_sentence(stretch, launch_elevation_m=launch_elevation_m)
        elif stretch.kind == "column":
            message = sentences.column_sentence(
                spot="the launch spot" if stretch.leg == 0 else "the landing spot",
                radius_m=wanted.columns[stretch.leg].radius_m,
                excess_m=column_excess_m[stretch.leg],
            )
        else:
            message = sentences.missing_sentence(stretch, wanted, launch_known=known, box=box)
        out.append(_finding(stretch, message))
    return tuple(out)


def _allowed_m(failing: list[Stretch], wanted: Wanted, ground: Ground) -> np.ndarray:
    """Return the limiting elevation, as computed, at the worst metre of each stretch."""
    allowed = np.full(len(failing), np.nan)
    for kind, radius in (("floor", wanted.floor_m), ("ceiling", wanted.ceiling_m)):
        pick = [k for k, stretch in enumerate(failing) if stretch.kind == kind]
        row = np.array([failing[k].worst.row for k in pick])
        column = np.array([failing[k].worst.column for k in pick])
        straight = wanted.vertical_floor if kind == "floor" else not wanted.closest_point_ceiling
        for k, i, j in zip(pick, row, column, strict=True):
            here = np.array([i]), np.array([j])
            if straight:
                allowed[k] = float(ground.elevation_at(*here)[0]) + radius
            else:
                allowed[k] = float(resting_elevation(ground, *here, radius)[0])
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

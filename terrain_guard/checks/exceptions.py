"""What published rules grant near something tall: on numbers, and never by itself.

A route holds no obstacles yet, so no ceiling is ever raised here; `remark` says
what would be needed. Seen from the side::

              ┌──────────┐ ◀ top of the obstacle + what is granted above it
    ──────────┘          └──────────  the plain ceiling
              │◀─ within ▶│
                   ┃
                   ┃ obstacle
    ───────────────┸────────────────  ground
"""

from __future__ import annotations

from collections.abc import Iterable

import numpy as np
from numpy.typing import ArrayLike

from terrain_guard.arrays import Floats
from terrain_guard.assessment import Finding
from terrain_guard.plan.rule_sets import RULE_SETS, NearObstacle, RuleSet
from terrain_guard.plan.rules import Rules
from terrain_guard.units import METRES_PER_UNIT


def us_structure_ceiling_m(
    structure_m: ArrayLike, away_m: ArrayLike, *, base_above_ground_m: ArrayLike = 0.0
) -> Floats:
    """Return the ceiling near a structure by 14 CFR 107.51(b), above the ground below.

    Parameters
    ----------
    structure_m : (n,) float
        Height of the structure above its own base; NaN where not known.
    away_m : (n,) float
        Horizontal distance from the aircraft to it; NaN where not known.
    base_above_ground_m : (n,) float
        Its base above the ground straight below the aircraft.

    Returns
    -------
    (n,) float
        The plain 121.92 m (400 ft) wherever the exception is not proven to apply.

    Examples
    --------
    >>> [round(float(us_structure_ceiling_m(83.82, away)), 2) for away in (121.92, 122.0)]
    [205.74, 121.92]
    """
    us = RULE_SETS["us-107"]
    return _ceiling_m(us, structure_m, away_m, base_above_ground_m, requested=True)


def eu_obstacle_ceiling_m(
    obstacle_m: ArrayLike,
    away_m: ArrayLike,
    *,
    requested: bool,
    base_above_ground_m: ArrayLike = 0.0,
) -> Floats:
    """Return the ceiling near an artificial obstacle by UAS.OPEN.010(3), above the ground below.

    That of Regulation (EU) 2019/947, Annex, Part A, as amended by (EU) 2020/639, and of
    the regulation as assimilated in the United Kingdom.

    Parameters
    ----------
    obstacle_m, away_m, base_above_ground_m : (n,) float
        As for `us_structure_ceiling_m`.
    requested : bool
        Whether the entity responsible for the obstacle has asked for the flight.

    Returns
    -------
    (n,) float
        The plain 120 m wherever the exception is not proven to apply.

    Examples
    --------
    >>> [float(eu_obstacle_ceiling_m(106, away, requested=True)) for away in (49, 51)]
    [121.0, 120.0]
    """
    eu = RULE_SETS["eu-open"]
    return _ceiling_m(eu, obstacle_m, away_m, base_above_ground_m, requested=requested)


def _ceiling_m(
    published: RuleSet, tall_m: ArrayLike, away_m: ArrayLike, base_m: ArrayLike, *, requested: bool
) -> Floats:
    grant = published.near_obstacle
    assert grant is not None
    tall, away, base = (np.asarray(values, dtype=float) for values in (tall_m, away_m, base_m))
    near = (away >= 0) & (away <= grant.within_m)
    applies = requested & near & (tall > grant.taller_than_m) & np.isfinite(tall + base)
    over_top = np.where(applies, base + tall + grant.above_top_m, published.ceiling_m)
    return np.maximum(over_top, published.ceiling_m)


def exception_remarks(rules: Rules, findings: Iterable[Finding]) -> tuple[str, ...]:
    """Say which exception the rules hold, where a ceiling fails; it is never applied here."""
    grant = rules.near_obstacle
    if grant is None or not any(finding.kind == "ceiling" for finding in findings):
        return ()
    asked = f", and {grant.asked_for_by} must ask for it" if grant.asked_for_by else ""
    taller = "" if grant.taller_than is None else f" taller than {_length(grant, 'taller_than')}"
    return (
        f"An exception exists: {grant.section} ({grant.known}). It needs {grant.obstacle}{taller} "
        f"within {_length(grant, 'within')} horizontally{asked}; then up to "
        f"{_length(grant, 'above_top')} above its top. Not applied: no obstacle is known here.",
    )


def _length(grant: NearObstacle, name: str) -> str:
    """Write a length in the rule's own unit, and in metres."""
    value: float = getattr(grant, name)
    metres = f"{value * METRES_PER_UNIT[grant.unit]:g} m"
    return metres if grant.unit == "m" else f"{value:g} {grant.unit} ({metres})"

"""The per-leg table: worst metres of every leg, over all curves."""

from __future__ import annotations

from typing import NamedTuple

import numpy as np

from terrain_guard.arrays import Bools
from terrain_guard.assessment import Extreme
from terrain_guard.checks.judge import WITHIN
from terrain_guard.checks.reference import Ruler
from terrain_guard.checks.stretches import Judged
from terrain_guard.path.curve import at
from terrain_guard.states import SEVERITY, State


class LegExtremes(NamedTuple):
    """Extremes and state of one leg; None where nothing was assessed or judged."""

    state: State
    above_ground_min: Extreme | None
    above_ground_max: Extreme | None
    clearance_min: Extreme | None
    clearance_max: Extreme | None


def leg_extremes(
    judged: list[Judged], ruler: Ruler, leg: int, *, floor_margin_m: float, ceiling_margin_m: float
) -> LegExtremes:
    """Return the worst metres of `leg` over all curves that fly it.

    The least height and clearance are taken where the floor is judged, outside
    the take-off and landing columns; the greatest over the whole leg.
    """
    mine = [one for one in judged if (one.points.leg == leg).any()]
    codes = [one.judgement.worst[one.points.leg == leg].max(initial=WITHIN) for one in mine]
    return LegExtremes(
        SEVERITY[max(codes)],
        _extreme(mine, ruler, leg, "above_ground_m", sign=1, shift_m=-floor_margin_m),
        _extreme(mine, ruler, leg, "above_ground_m", sign=-1, shift_m=ceiling_margin_m),
        _extreme(mine, ruler, leg, "clearance_m", sign=1, moved="lowered_m"),
        _extreme(mine, ruler, leg, "clearance_m", sign=-1, moved="raised_m"),
    )


def _extreme(
    judged: list[Judged],
    ruler: Ruler,
    leg: int,
    name: str,
    *,
    sign: int,
    moved: str | None = None,
    shift_m: float = 0.0,
) -> Extreme | None:
    found: tuple[float, Judged, int] | None = None
    assured = unseen = np.inf
    for one in judged:
        points = one.points
        between = (points.leg == leg) & np.isfinite(points.middle_above_ground_m)
        use = _ends(between if sign < 0 else between & ~points.in_column)
        values = sign * getattr(points, name)
        moved_values = sign * getattr(points, moved) if moved else values + sign * shift_m
        if name == "clearance_m":
            hidden = ~(np.abs(values) <= points.void_m)  # ground may be nearer where it is missing
            unseen = min(unseen, np.min(points.void_m[use & hidden], initial=np.inf))
            use = use & ~hidden
        use &= np.isfinite(values)
        if use.any():
            assured = min(assured, float(np.fmin.reduce(moved_values[use], initial=np.inf)))
            index = int(np.flatnonzero(use)[np.argmin(values[use])])
            if found is None or values[index] < found[0]:
                found = float(values[index]), one, index
    # Where unseen ground could be nearer than the least clearance known, there is no least.
    if found is None or (sign > 0 and unseen < found[0]):
        return None
    value, one, index = found
    position = one.points.position[index : index + 1]
    return Extreme(
        nominal_m=sign * value,
        assured_m=sign * assured if np.isfinite(assured) else np.nan,
        along_m=float(ruler.place(one.curve, one.points.along_m[index : index + 1], leg)[0]),
        lat_deg=float(at(one.curve.lat_deg, position)[0]),
        lon_deg=float(at(one.curve.lon_deg, position)[0]),
        curve=one.curve.name,
    )


def _ends(between: Bools) -> Bools:
    """Return which points end a marked stretch."""
    return np.append(between, False) | np.append(False, between)

"""The per-leg table: worst metres of every leg, over all curves."""

from __future__ import annotations

from collections.abc import Callable
from typing import NamedTuple

import numpy as np

from terrain_guard.arrays import Bools, Floats
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


class _Measure(NamedTuple):
    """One measure of one curve, as computed and with margins, and how near unseen ground is."""

    values: Floats
    moved: Floats
    void_m: Floats | None = None  # None: only ground straight below counts


def leg_extremes(judged: list[Judged], ruler: Ruler, leg: int) -> LegExtremes:
    """Return the worst metres of `leg` over all curves that fly it, over all models.

    The least height and clearance are taken where the floor is judged, outside
    the take-off and landing columns; the greatest over the whole leg. The least
    clearance is the floor's, to any model; the greatest is the ceiling's, to the
    ground alone.
    """
    mine = [one for one in judged if (one.points.leg == leg).any()]
    codes = [one.judgement.worst[one.points.leg == leg].max(initial=WITHIN) for one in mine]
    return LegExtremes(
        SEVERITY[max(codes)],
        _extreme(mine, ruler, leg, _least_above, sign=1),
        _extreme(mine, ruler, leg, _greatest_above, sign=-1),
        _extreme(mine, ruler, leg, _least_clearance, sign=1),
        _extreme(mine, ruler, leg, _greatest_clearance, sign=-1),
    )


def _least_above(one: Judged) -> _Measure:
    above = one.points.above_ground_m
    return _Measure(above, above - one.points.floor_margin_m)


def _greatest_above(one: Judged) -> _Measure:
    above = one.points.above_ground_m + one.wanted.ground_below_m
    return _Measure(above, above + one.points.ceiling_margin_m)


def _least_clearance(one: Judged) -> _Measure:
    return _Measure(one.points.clearance_m, one.points.lowered_m, one.points.void_m)


def _greatest_clearance(one: Judged) -> _Measure:
    return _Measure(one.points.closest_m, one.points.raised_m, one.points.ground_void_m)


def _extreme(
    judged: list[Judged],
    ruler: Ruler,
    leg: int,
    measure: Callable[[Judged], _Measure],
    *,
    sign: int,
) -> Extreme | None:
    found: tuple[float, Judged, int] | None = None
    assured = unseen = np.inf
    known = True
    for one in judged:
        if one.curve.side == ("high" if sign > 0 else "low"):
            continue  # there are lower ways, or higher ones
        points = one.points
        between = (points.leg == leg) & np.isfinite(points.middle_above_ground_m)
        use = _ends(between if sign < 0 else between & ~points.in_column)
        values, moved_values, void_m = measure(one)
        values, moved_values = sign * values, sign * moved_values
        if void_m is not None:
            hidden = ~(np.abs(values) <= void_m)  # ground may be nearer where it is missing
            if not one.beneath.is_second:
                unseen = min(unseen, float(np.min(void_m[use & hidden], initial=np.inf)))
            use = use & ~hidden
        use &= np.isfinite(values)
        if use.any():
            margin = points.floor_margin_m if sign > 0 else points.ceiling_margin_m
            known &= bool(np.isfinite(margin[use]).all())
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
        # Where no margin is known on one metre, none is known for the leg.
        assured_m=sign * assured if known and np.isfinite(assured) else np.nan,
        along_m=float(ruler.place(one.curve, one.points.along_m[index : index + 1], leg)[0]),
        lat_deg=float(at(one.curve.lat_deg, position)[0]),
        lon_deg=float(at(one.curve.lon_deg, position)[0]),
        curve=one.name_at(float(position[0])),
    )


def _ends(between: Bools) -> Bools:
    """Return which points end a marked stretch."""
    return np.append(between, False) | np.append(False, between)

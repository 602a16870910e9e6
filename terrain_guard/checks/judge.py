"""From measures to states: what holds is what is proven, between any two points.

Every test is written so that it proves: a NaN fails it. Codes are indices into
`terrain_guard.states.SEVERITY`.
"""

from __future__ import annotations

import itertools
from dataclasses import dataclass

import numpy as np

from terrain_guard.arrays import Bools, Floats, Ints
from terrain_guard.checks.beneath import Beneath
from terrain_guard.checks.column import ColumnState
from terrain_guard.checks.measure import Points
from terrain_guard.checks.wanted import Wanted
from terrain_guard.path.curve import GAP
from terrain_guard.states import SEVERITY, State

TOLERANCE_M = 1e-6
DECIDED_BY = {
    "floor": "low", "underground": "low", "column": "low", "ceiling": "high", "sea_level": "high"
}  # fmt: skip
"""Which of several ways over one line decides a limit: the lowest or the highest."""
WITHIN, TIGHT, NOT_ASSESSED, BREACH = (SEVERITY.index(s) for s in State)


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Judgement:
    """States between neighbouring points of one curve; arrays (n − 1,) of codes."""

    floor: Ints
    ceiling: Ints
    underground: Ints
    column: Ints
    sea_level: Ints

    @property
    def worst(self) -> Ints:
        """The worst of all limits."""
        return np.maximum.reduce(
            [self.floor, self.ceiling, self.underground, self.column, self.sea_level]
        )


def judge(points: Points, wanted: Wanted, beneath: Beneath, *, side: str = "both") -> Judgement:
    """Judge a measured curve.

    The lowest of several ways (`side` low) decides no ceiling, the highest (high)
    no floor; what is not flown decides nothing. What a second ground model does not
    know is no loss: the first judges there.
    """
    flown = points.leg != GAP
    decides = {"low": flown & (side != "high"), "high": flown & (side != "low")}
    middle, columns = points.middle_above_ground_m, beneath.columns
    floor = _vertical_floor if wanted.vertical_floor else _floor
    column = np.full(middle.shape, WITHIN)
    for leg, state in columns.items():
        column = np.where(points.in_column & (points.leg == leg), state.code, column)
    contact = _underground(points, middle, columns)
    # Under the top of a surface model alone it is not said to be under ground, but too low.
    inside, under = (contact, 0 * contact) if beneath.is_surface_alone else (0 * contact, contact)
    found = Judgement(
        floor=np.where(points.in_column, inside, floor(points, wanted, middle)),
        ceiling=_if_wanted(wanted.ceiling_m, _ceiling(points, wanted, middle)),
        underground=under,
        column=column,
        sea_level=_if_wanted(wanted.sea_level_ceiling_m, _sea_level(points, wanted, beneath)),
    )
    codes = {name: np.where(decides[DECIDED_BY[name]], getattr(found, name), WITHIN)
             for name in DECIDED_BY}  # fmt: skip
    if beneath.is_second:
        codes = {name: np.where(of == NOT_ASSESSED, WITHIN, of) for name, of in codes.items()}
    return Judgement(**codes)


def _if_wanted(limit_m: float, codes: Ints) -> Ints:
    """Return the codes, or within where no such limit is wanted (inf)."""
    return codes if np.isfinite(limit_m) else np.full(codes.shape, WITHIN)


def _both(holds: Bools) -> Bools:
    return holds[:-1] & holds[1:]


def _codes(*, breach: Bools, not_assessed: Bools, tight: Bools) -> Ints:
    return np.select(
        [breach, not_assessed, tight], [BREACH, NOT_ASSESSED, TIGHT], default=WITHIN
    ).astype(np.int64)


def _floor(points: Points, wanted: Wanted, middle: Floats) -> Ints:
    eased = np.isin(points.leg, list(wanted.eased))
    half = np.abs(points.above_launch_m) / 2
    full = points.clearance_m >= wanted.floor_m - TOLERANCE_M
    enough = points.clearance_m >= np.minimum(wanted.floor_m, half) - TOLERANCE_M
    generous = points.clearance_m >= half - TOLERANCE_M
    lowered = points.lowered_m >= wanted.floor_m - TOLERANCE_M
    holds = np.where(eased, _both(enough), _both(full))
    assured = _both(lowered) | (eased & _both(generous))
    known = _both(np.isfinite(points.elevation_m) & np.isfinite(points.row))
    breach = (~holds & known) | (middle < -TOLERANCE_M)
    unseen = ~_both(points.void_m >= wanted.reach_m(points.floor_margin_m)) | np.isnan(middle)
    return _codes(breach=breach, not_assessed=unseen, tight=~assured)


def _vertical_floor(points: Points, wanted: Wanted, middle: Floats) -> Ints:
    """Floor measured straight down: not a clearance, used to test against closed forms only."""
    if np.isfinite(points.surface_row).any():
        middle = np.minimum(middle, points.middle_above_surface_m)
    return _codes(
        breach=middle < wanted.floor_m - TOLERANCE_M,
        not_assessed=np.isnan(middle),
        tight=~(middle - points.middle_floor_margin_m >= wanted.floor_m - TOLERANCE_M),
    )


def _ceiling(points: Points, wanted: Wanted, middle: Floats) -> Ints:
    top = wanted.ceiling_m + TOLERANCE_M
    if not wanted.closest_point_ceiling:
        middle = middle + wanted.ground_below_m
        return _codes(
            breach=middle > top,
            not_assessed=np.isnan(middle),
            tight=~(middle + points.middle_ceiling_margin_m <= top),
        )
    holds = _both(points.closest_m <= top)
    unseen = ~_both(points.ground_void_m >= wanted.ceiling_m)
    return _codes(
        breach=~holds & ~unseen, not_assessed=~holds, tight=~_both(points.raised_m <= top)
    )


def _sea_level(points: Points, wanted: Wanted, beneath: Beneath) -> Ints:
    """Ceiling above sea level: elevation is linear between two points, so that the ends prove."""
    top = wanted.sea_level_ceiling_m + TOLERANCE_M
    elevation = beneath.above_sea_m(points.above_launch_m)
    known = _both(np.isfinite(elevation))
    return _codes(
        breach=known & ~_both(elevation <= top),
        not_assessed=~known,
        tight=~_both(elevation + points.ceiling_margin_m <= top - wanted.sea_level_doubt_m),
    )


def _underground(points: Points, middle: Floats, columns: dict[int, ColumnState]) -> Ints:
    level = np.zeros(middle.shape)
    for leg, found in columns.items():
        here = points.in_column & (points.leg == leg)
        level = np.where(here, np.fmin(found.slack_m, 0.0), level)
    return np.where(middle < level - TOLERANCE_M, BREACH, WITHIN).astype(np.int64)


def runs(mask: Bools, group: Ints) -> list[tuple[int, int]]:
    """Return [start, stop) of every longest run of True within one group.

    >>> runs(np.array([True, True, False, True]), np.array([0, 1, 1, 1]))
    [(0, 1), (1, 2), (3, 4)]
    """
    key = np.where(mask, group, -1)
    edges = np.flatnonzero(np.diff(key, prepend=-2, append=-2))
    return [(int(a), int(b)) for a, b in itertools.pairwise(edges) if key[a] >= 0]

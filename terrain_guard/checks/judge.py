"""From measures to states: what holds is what is proven, between any two points.

Every test is written so that it proves: a NaN fails it. Codes are indices into
`terrain_guard.states.SEVERITY`.
"""

from __future__ import annotations

import itertools
from dataclasses import dataclass

import numpy as np

from terrain_guard.arrays import Bools, Floats, Ints
from terrain_guard.checks.measure import Points
from terrain_guard.checks.wanted import Wanted
from terrain_guard.states import SEVERITY, State

TOLERANCE_M = 1e-6
WITHIN, TIGHT, NOT_ASSESSED, BREACH = (SEVERITY.index(s) for s in State)


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Judgement:
    """States between neighbouring points of one curve; arrays (n − 1,) of codes."""

    floor: Ints
    ceiling: Ints
    underground: Ints
    column: Ints

    @property
    def worst(self) -> Ints:
        """The worst of all limits."""
        return np.maximum.reduce([self.floor, self.ceiling, self.underground, self.column])


@dataclass(frozen=True, slots=True, kw_only=True)
class ColumnState:
    """What was found about one column.

    ``slack_m`` is the height above ground of an aircraft standing on the spot:
    negative where a stated launch elevation is lower than the model's. In the
    column, contact is counted from there.
    """

    code: int
    slack_m: float = 0.0


def judge(points: Points, wanted: Wanted, *, columns: dict[int, ColumnState]) -> Judgement:
    """Judge a measured curve; `columns` holds the state of the columns by leg."""
    middle = points.middle_above_ground_m
    floor = _vertical_floor if wanted.vertical_floor else _floor
    column = np.full(middle.shape, WITHIN)
    for leg, found in columns.items():
        column = np.where(points.in_column & (points.leg == leg), found.code, column)
    at_best = WITHIN if wanted.assurable else TIGHT
    return Judgement(
        floor=np.where(
            points.in_column, WITHIN, np.maximum(floor(points, wanted, middle), at_best)
        ),
        ceiling=np.maximum(_ceiling(points, wanted, middle), at_best),
        underground=_underground(points, middle, columns),
        column=column,
    )


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
    unseen = ~_both(points.void_m >= wanted.floor_reach_m) | np.isnan(middle)
    return _codes(breach=breach, not_assessed=unseen, tight=~assured)


def _vertical_floor(points: Points, wanted: Wanted, middle: Floats) -> Ints:
    """Floor measured straight down: not a clearance, used to test against closed forms only."""
    return _codes(
        breach=middle < wanted.floor_m - TOLERANCE_M,
        not_assessed=np.isnan(middle),
        tight=~(middle >= wanted.floor_m + wanted.floor_margin_m - TOLERANCE_M),
    )


def _ceiling(points: Points, wanted: Wanted, middle: Floats) -> Ints:
    top = wanted.ceiling_m + TOLERANCE_M
    if not wanted.closest_point_ceiling:
        return _codes(
            breach=middle > top,
            not_assessed=np.isnan(middle),
            tight=~(middle <= top - wanted.ceiling_margin_m),
        )
    holds = _both(points.clearance_m <= top)
    unseen = ~_both(points.void_m >= wanted.ceiling_m)
    return _codes(
        breach=~holds & ~unseen, not_assessed=~holds, tight=~_both(points.raised_m <= top)
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

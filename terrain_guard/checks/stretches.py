"""Which stretches fail which limit, over all curves, and by how much at worst."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass, replace
from typing import NamedTuple

import numpy as np

from terrain_guard.arrays import Bools, Floats
from terrain_guard.checks.beneath import Beneath
from terrain_guard.checks.budgeted import Along
from terrain_guard.checks.judge import BREACH, NOT_ASSESSED, TIGHT, Judgement, runs
from terrain_guard.checks.measure import Points
from terrain_guard.checks.reference import Ruler
from terrain_guard.checks.wanted import Wanted
from terrain_guard.path.curve import Curve, at
from terrain_guard.states import SEVERITY, State

JOIN_M = 0.02  # stretches of two curves this near to each other are one
SECOND = "second ground"


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Judged:
    """One curve, measured over its models and judged against its limits."""

    curve: Curve
    beneath: Beneath
    wanted: Wanted
    points: Points
    judgement: Judgement
    along: Along

    def name_at(self, position: float) -> str:
        """Return the way at a position, as findings print it, and the model if not the first."""
        second = f"/{SECOND}" if self.beneath.is_second else ""
        return f"{self.curve.name_at(position)}{second}"


@dataclass(frozen=True, slots=True, kw_only=True)
class Worst:
    """The worst metre of a stretch: everything a sentence needs; metres, degrees, seconds."""

    curve: str
    beneath: Beneath
    wanted: Wanted
    at_m: float  # along the reference
    time_s: float
    lat_deg: float
    lon_deg: float
    above_launch_m: float
    elevation_m: float
    above_ground_m: float
    clearance_m: float
    in_surface: bool  # the nearest point is the surface model's
    closest_m: float  # to the ground model
    floor_margin_m: float
    ceiling_margin_m: float
    value_m: float  # the measure of the limit in question
    rank: float  # the less, the worse


@dataclass(frozen=True, slots=True, kw_only=True)
class Stretch:
    """One stretch of one leg that fails one limit in one way."""

    kind: str
    state: State
    leg: int
    from_m: float
    to_m: float
    worst: Worst


def stretches(judged: list[Judged], ruler: Ruler) -> list[Stretch]:
    """Return every failing stretch, those of several curves merged, in order of the route."""
    found = [stretch for one in judged for stretch in _of_curve(one, ruler)]
    found.sort(key=lambda s: (s.kind, s.state, s.leg, s.from_m))
    merged: list[Stretch] = []
    for stretch in found:
        last = merged[-1] if merged else None
        if last and _same(last, stretch) and stretch.from_m <= last.to_m + JOIN_M:
            merged[-1] = _join(last, stretch)
        else:
            merged.append(stretch)
    shown = [s for s in merged if not any(_hides(other, s) for other in merged)]
    return sorted(shown, key=lambda s: (s.leg, s.from_m, -SEVERITY.index(s.state), s.kind))


def _hides(breach: Stretch, tight: Stretch) -> bool:
    """Return whether a breach of the same limit on another curve covers all that is tight."""
    return (
        (breach.kind, breach.leg, breach.state) == (tight.kind, tight.leg, State.BREACH)
        and tight.state is State.TIGHT
        and breach.from_m <= tight.from_m
        and tight.to_m <= breach.to_m
    )


def _same(one: Stretch, other: Stretch) -> bool:
    return (one.kind, one.state, one.leg) == (other.kind, other.state, other.leg)


def _join(one: Stretch, other: Stretch) -> Stretch:
    worst = min(one.worst, other.worst, key=lambda w: w.rank)
    return replace(one, to_m=max(one.to_m, other.to_m), worst=worst)


def _of_curve(judged: Judged, ruler: Ruler) -> Iterator[Stretch]:
    points, states, wanted = judged.points, judged.judgement, judged.wanted
    straight_up = points.above_ground_m + wanted.ground_below_m
    ceiling = points.closest_m if wanted.closest_point_ceiling else straight_up
    straight_down = np.fmin(points.above_ground_m, points.above_surface_m)
    floor = straight_down if wanted.vertical_floor else points.clearance_m
    above_sea = judged.beneath.above_sea_m(points.above_launch_m)
    nearest_first = {
        ("floor", BREACH): (states.floor, floor, floor),
        ("floor", TIGHT): (states.floor, floor, points.lowered_m),
        ("ceiling", BREACH): (states.ceiling, ceiling, -ceiling),
        ("ceiling", TIGHT): (states.ceiling, ceiling, -ceiling),
        ("sea-level ceiling", BREACH): (states.sea_level, above_sea, -above_sea),
        ("sea-level ceiling", TIGHT): (states.sea_level, above_sea, -above_sea),
        ("underground", BREACH): (states.underground, points.above_ground_m, points.above_ground_m),
        ("column", BREACH): (states.column, floor, floor),
    }
    for (kind, code), (codes, value, rank) in nearest_first.items():
        yield from _runs(judged, ruler, _Failure(kind, code, codes == code, value, rank))
    missing = np.zeros(points.leg.shape, dtype=bool)
    for codes in (states.floor, states.ceiling, states.column, states.sea_level):
        missing |= codes == NOT_ASSESSED
    nothing = np.full(points.position.shape, np.nan)
    unseen = _Failure("not-assessed", NOT_ASSESSED, missing, nothing, points.position)
    yield from _runs(judged, ruler, unseen)


class _Failure(NamedTuple):
    """One limit failed in one way along one curve: between which points, by which measure."""

    kind: str
    code: int
    between: Bools  # (n − 1,)
    value: Floats  # (n,)
    rank: Floats  # (n,) the less, the worse


def _runs(judged: Judged, ruler: Ruler, failure: _Failure) -> Iterator[Stretch]:
    points, rank = judged.points, failure.rank
    for start, stop in runs(failure.between, points.leg):
        leg = int(points.leg[start])
        ends = points.along_m[[start, stop]]
        place = ruler.place(judged.curve, ends, leg)
        inside = np.where(np.isnan(rank[start : stop + 1]), np.inf, rank[start : stop + 1])
        index = start + int(np.argmin(inside))
        yield Stretch(
            kind=failure.kind,
            state=SEVERITY[failure.code],
            leg=leg,
            from_m=float(place[0]),
            to_m=float(place[1]),
            worst=_worst(judged, ruler, leg, index, failure),
        )


def _worst(judged: Judged, ruler: Ruler, leg: int, index: int, failure: _Failure) -> Worst:
    curve, points = judged.curve, judged.points
    position = points.position[index : index + 1]
    return Worst(
        curve=judged.name_at(float(position[0])),
        beneath=judged.beneath,
        wanted=judged.wanted,
        at_m=float(ruler.place(curve, points.along_m[index : index + 1], leg)[0]),
        time_s=float(ruler.start_s[leg] + at(curve.time_s, position)[0]),
        lat_deg=float(at(curve.lat_deg, position)[0]),
        lon_deg=float(at(curve.lon_deg, position)[0]),
        above_launch_m=float(points.above_launch_m[index]),
        elevation_m=float(points.elevation_m[index]),
        above_ground_m=float(points.above_ground_m[index]),
        clearance_m=float(points.clearance_m[index]),
        in_surface=bool(points.in_surface[index] == 1),
        closest_m=float(points.closest_m[index]),
        floor_margin_m=float(points.floor_margin_m[index]),
        ceiling_margin_m=float(points.ceiling_margin_m[index]),
        value_m=float(failure.value[index]),
        rank=float(np.nan_to_num(failure.rank[index], nan=np.inf)),
    )

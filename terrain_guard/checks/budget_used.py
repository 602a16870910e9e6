"""What the margins of a flight are made of: the metres with the least room, worked out.

Every leg's place with the least room is explained for either side; the chance that any
metre of the flight breaks a limit is that of the likeliest of all ways to fly it.
"""

from __future__ import annotations

import math
from collections.abc import Iterator

import numpy as np

from terrain_guard.arrays import Bools, Floats
from terrain_guard.assessment import BudgetPlace, BudgetRow, BudgetUsed
from terrain_guard.checks.budget.budget import SIDES
from terrain_guard.checks.budget.classes import LADDER, RTK
from terrain_guard.checks.budget.explain import Shrunk, explain, shrunk
from terrain_guard.checks.budget.terms import Bucket
from terrain_guard.checks.budget.whole_flight import (
    CEILING_CHANCE,
    FLOOR_CHANCE,
    flight_chance,
)
from terrain_guard.checks.budgeted import Along, Budgeter
from terrain_guard.checks.reference import Ruler
from terrain_guard.checks.stretches import Judged
from terrain_guard.path.curve import GAP, Curve
from terrain_guard.plan.rules import Rules
from terrain_guard.states import State

GAIN_M = 0.5
"""Less than this is not worth a better model or height source."""


def budget_used(
    judged: list[Judged], reference: tuple[Curve, ...], ruler: Ruler, budgeter: Budgeter
) -> BudgetUsed:
    """Return what the margins over the first ground are made of."""
    first = [one for one in judged if not one.beneath.is_second]
    own = [next(one for one in first if one.curve is curve) for curve in reference]
    places = tuple(place for one in own for place in _places(one, ruler))
    least = {
        side: min((p for p in places if p.side == side), key=lambda p: p.room_m, default=None)
        for side in SIDES
    }
    rules, setting = budgeter.rules, budgeter.setting
    return BudgetUsed(
        words=setting.words,
        floor_k=setting.floor_k,
        ceiling_k=setting.ceiling_k,
        floor_is_fixed=rules.fixed_floor_margin_m is not None,
        ceiling_is_fixed=rules.fixed_ceiling_margin_m is not None,
        floor=least["floor"],
        ceiling=least["ceiling"],
        places=places,
        corridor_m=budgeter.corridor_on_floor_m(),
        band_m=min((_band_m(one) for one in own), default=np.nan),
        floor_chance=_chance(first, "floor"),
        ceiling_chance=_chance(first, "ceiling"),
    )


def whole_flight_state(used: BudgetUsed, rules: Rules) -> tuple[State, tuple[str, ...]]:
    """Return the state of the flight as a whole, and what is to be said of it.

    Every metre may hold with its margin, and the chance that some metre breaks a limit be
    too great all the same; then it is tight. A margin that the rules fix stands by itself.
    """
    said = []
    for side, chance, allowed, judged in (
        ("floor", used.floor_chance, FLOOR_CHANCE, not used.floor_is_fixed),
        (
            "ceiling",
            used.ceiling_chance,
            CEILING_CHANCE,
            not used.ceiling_is_fixed and math.isfinite(rules.above_ground_ceiling_m),
        ),
    ):
        if judged and not chance <= allowed:
            known = "not known" if math.isnan(chance) else f"{100 * chance:.0f} %"
            said.append(
                f"Over the whole flight the chance that some metre breaks the {side} is {known}; "
                f"at most {100 * allowed:.0f} % is within (our own choice)."
            )
    return (State.TIGHT if said else State.WITHIN), tuple(said)


class _Samples:
    """A measured curve at its samples: room to either limit, as computed and with margins."""

    def __init__(self, one: Judged) -> None:
        points, wanted = one.points, one.wanted
        pick = np.searchsorted(points.position, np.arange(one.curve.x_m.size))
        behind = np.minimum(pick, points.leg.size - 1)
        before = np.maximum(pick - 1, 0)
        self.index = pick
        self.leg = np.where(points.leg[behind] == GAP, points.leg[before], points.leg[behind])
        self.judged = ~(points.in_column[behind] & points.in_column[before])
        clearance = points.clearance_m[pick]
        seen = np.abs(clearance) <= points.void_m[pick]
        self.clearance = np.where(seen, clearance, np.nan)
        height = points.above_ground_m[pick] + wanted.ground_below_m
        self.height = points.closest_m[pick] if wanted.closest_point_ceiling else height
        limit = np.full(pick.size, wanted.floor_m)
        half = np.abs(points.above_launch_m[pick]) / 2
        eased = np.isin(self.leg, list(wanted.eased))
        self.floor_m = np.where(eased, np.minimum(limit, half), limit)
        self.ceiling_m = wanted.ceiling_m

    def room_m(self, side: str) -> Floats:
        """Return how much is left to a limit as computed; inf where nothing is judged.

        Straight down or up it takes at least so much to break the limit.
        """
        if side == "ceiling":
            return self.ceiling_m - self.height
        return np.where(self.judged, self.clearance - self.floor_m, np.inf)


def _places(one: Judged, ruler: Ruler) -> Iterator[BudgetPlace]:
    """Yield for each leg of a reference curve the samples with the least room."""
    samples, points = _Samples(one), one.points
    lowered = points.lowered_m[samples.index]
    raised = samples.height + points.ceiling_margin_m[samples.index]
    rooms = {
        "floor": np.where(samples.judged, lowered - one.wanted.floor_m, np.nan),
        "ceiling": samples.ceiling_m - raised,
    }
    better = tuple(_better(one.along))
    for leg in one.curve.legs:
        for side, room in rooms.items():
            use = np.flatnonzero((samples.leg == leg) & np.isfinite(room))
            if use.size:
                k = int(use[np.argmin(room[use])])
                said = tuple(w.sentence(k, side) for w in better if w.gain_m(side)[k] > GAIN_M)
                yield _place(one, samples, ruler, side=side, k=k, better=said)


def _place(
    one: Judged, samples: _Samples, ruler: Ruler, *, side: str, k: int, better: tuple[str, ...]
) -> BudgetPlace:
    points, along, i = one.points, one.along, int(samples.index[k])
    is_floor, leg = side == "floor", int(samples.leg[k])
    margin = float((points.floor_margin_m if is_floor else points.ceiling_margin_m)[i])
    computed = float((samples.clearance if is_floor else samples.height)[k])
    assured = float(points.lowered_m[i]) if is_floor else computed + margin
    budget = along.budget
    return BudgetPlace(
        side=side,
        leg=leg,
        along_m=float(ruler.place(one.curve, points.along_m[i : i + 1], leg)[0]),
        lat_deg=float(one.curve.lat_deg[k]),
        lon_deg=float(one.curve.lon_deg[k]),
        launch_elevation_m=one.beneath.own_launch_m,
        above_launch_m=float(points.above_launch_m[i]),
        survey_shift_m=float(one.beneath.shift_m(one.curve.x_m[k], one.curve.y_m[k])),
        ground_elevation_m=float(points.elevation_m[i] - points.above_ground_m[i]),
        above_ground_m=float(points.above_ground_m[i]),
        computed_m=computed,
        margin_m=margin,
        assured_m=assured,
        limit_m=one.wanted.floor_m if is_floor else one.wanted.ceiling_m,
        rows=tuple(
            BudgetRow(
                name=row.name, what=row.what, floor_m=row.floor, ceiling_m=row.ceiling,
                squared_m2=row.squared, scope=row.scope, is_assumed=row.is_assumed,
                source=row.source, remedy=row.remedy,
            )
            for row in explain(budget, k)
        ),
        largest=_largest(along, side, k),
        better=better,
        flight_sigma_m=float(budget.flight_sigma_m[k]),
        local_sigma_m=float(budget.local_sigma_m[k]),
    )  # fmt: skip


def _largest(along: Along, side: str, k: int) -> str:
    """Return the cause that the margin would shrink most without."""
    budget, sizes = along.budget, {}
    random = budget.in_bucket(Bucket.RANDOM)
    squares = {term.name: float(term.floor_m[k]) ** 2 for term in random}
    total = sum(squares.values())
    for name, square in squares.items():
        left = max(total - square, 0.0)
        sizes[name] = budget.k(side) * (np.sqrt(total) - np.sqrt(left))
    for term in budget.in_bucket(Bucket.BOUND):
        sizes[term.name] = float((term.floor_m if side == "floor" else term.ceiling_m)[k])
    return max(sizes, key=lambda name: np.nan_to_num(sizes[name]), default="")


def _better(along: Along) -> Iterator[Shrunk]:
    """Yield what a better model and a better height source would make of the margins."""
    budget, places = along.budget, along.places
    setting = budget.setting
    finer = [one for one in LADDER if one.cell_up_to_m < setting.terrain.cell_up_to_m]
    yield from (shrunk(budget, places, terrain=one) for one in finer[:1])
    if setting.source.name != RTK.name:
        yield shrunk(budget, places, source=RTK)
        yield from (shrunk(budget, places, terrain=one, source=RTK) for one in finer[:1])


def _band_m(one: Judged) -> float:
    """Return the least height left between floor and ceiling, straight up, margins taken off."""
    points, wanted = one.points, one.wanted
    used = points.floor_margin_m + points.ceiling_margin_m
    band = wanted.ceiling_m - wanted.floor_m - used[np.isfinite(used)]
    return float(band.min(initial=np.inf))


def _chance(judged: list[Judged], side: str) -> float:
    """Return the chance that any metre breaks a limit, of the likeliest way to fly each section."""
    skip = "high" if side == "floor" else "low"
    by_section: dict[tuple[int, ...], list[float]] = {}
    for one in judged:
        if one.curve.side != skip and np.isfinite(one.wanted.ceiling_m if side == "ceiling" else 0):
            by_section.setdefault(_section(one.curve), []).append(_chance_on(one, side))
    return float(min(1.0, sum(max(chances) for chances in by_section.values())))


def _section(curve: Curve) -> tuple[int, ...]:
    """Return what tells climb-out, legs and what follows apart: the first leg, and if it is 0."""
    legs = curve.legs
    return (0,) if legs[0] == 0 else (legs[-1],) if len(legs) == 1 else (1,)


def _chance_on(one: Judged, side: str) -> float:
    samples = _Samples(one)
    room = samples.room_m(side)
    flown = _flown(one.curve)
    if side == "floor" and one.curve.side == "low":
        room = np.where(np.isnan(samples.clearance) & ~samples.judged, np.inf, room)
    room = np.where(flown, room, np.inf)
    found = flight_chance(one.along.budget, one.along.places, side=side, room_m=room)
    return found.chance


def _flown(curve: Curve) -> Bools:
    """Return which samples begin or end a chord that is flown."""
    live = curve.leg != GAP
    return np.append(live, False) | np.append(False, live)

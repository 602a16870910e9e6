"""One metre's arithmetic in full: where a leg has least room to floor and to ceiling."""

from __future__ import annotations

import math
from collections.abc import Iterator
from typing import TYPE_CHECKING, Final

from terrain_guard.checks.budget.tails import k_words
from terrain_guard.errors import RefusedInput
from terrain_guard.report import words
from terrain_guard.report.budget_table import hundredths, is_fixed, k_of, squared, where
from terrain_guard.report.sentences import leg_words
from terrain_guard.report.wrapping import row, wrap

if TYPE_CHECKING:
    from terrain_guard.assessment import Assessment, BudgetPlace, BudgetRow

SAME_M: Final = 5e-3
CAUSES: Final = frozenset({"declared bias", "random", "one-sided bound"})
STEPS: Final = {
    "sum of squares": "sum of squares",
    "sigma": "sigma: the root of that",
    "sum of bounds": "sum of the one-sided bounds",
    "margin": "margin: k sigma and bounds",
    "raised to": "raised to the least that we allow",
}


def check_leg(assessment: Assessment, leg: int) -> None:
    """Refuse a leg that the route does not have.

    Raises
    ------
    RefusedInput
        Naming the legs that there are.
    """
    known = [one.leg for one in assessment.legs]
    if leg not in known:
        message = (
            f"--explain {leg}: the route has legs {known[0]} to {known[-1]}; give one of these."
        )
        raise RefusedInput(message)


def lines(assessment: Assessment, *, leg: int, unit: str) -> Iterator[str]:
    """Write the arithmetic of a leg's two places; lines of at most 80 characters.

    Raises
    ------
    RefusedInput
        If the route has no such leg.
    """
    check_leg(assessment, leg)
    yield from wrap(f"EXPLAINED: {leg_words(leg, assessment)}", first="", rest=11)
    for side in ("floor", "ceiling"):
        own = (one for one in assessment.budget.places if (one.leg, one.side) == (leg, side))
        place = next(own, None)
        label = side.capitalize()
        if place is None:
            yield from row(label, "not judged, or not assessed, at any metre of this leg")
        else:
            yield from row(label, f"least room with margins: {where(assessment, place, unit)}")
            yield from row("", arithmetic(assessment, place, unit))
            yield from _budget(assessment, place, unit)


def arithmetic(assessment: Assessment, place: BudgetPlace, unit: str) -> str:
    """Write one metre's heights as a sum, from launch ground to what is left to the limit."""
    launch, flown, ground, above, computed, margin, assured, room = (
        hundredths(value, unit)
        for value in (
            place.launch_elevation_m, place.above_launch_m, place.ground_elevation_m,
            place.above_ground_m, place.computed_m, place.margin_m, place.assured_m, place.room_m,
        )
    )  # fmt: skip
    limit = words.stated(place.limit_m, unit)
    if assessment.launch.model_elevation_m is not None:
        shift = hundredths(abs(place.survey_shift_m), unit)
        flown += f" {'-' if place.survey_shift_m < 0 else '+'} shift by the survey {shift}"
    moved = f"- margin {margin} = {assured}"
    if place.side == "ceiling":
        moved = f"+ margin {margin} = {assured}"
    elif not math.isclose(place.computed_m - place.margin_m, place.assured_m, abs_tol=SAME_M):
        wide_m = assessment.budget.corridor_m
        aside = f", and up to {words.stated(wide_m, unit)} {unit} aside" if wide_m else ""
        moved = f"{assured} once the point is moved down by the margin, {margin}{aside}"
    return (
        f"launch {launch} + flown {flown} - ground {ground} = {above} {unit} above ground; "
        f"{_counted(assessment, place)}{computed}; {moved}; {place.side} {limit}; "
        f"room left {room} {unit}"
    )


def _counted(assessment: Assessment, place: BudgetPlace) -> str:
    """Say what the limit is held against, where that is not the height above ground."""
    rules = assessment.rules
    if place.side == "floor":
        return "height " if rules.floor_measure == "vertical" else "clearance "
    if rules.ceiling_measure == "closest-point":
        return "from the nearest ground "
    return "with the canopy below " if assessment.canopy.ground_below_m else "height "


def _budget(assessment: Assessment, place: BudgetPlace, unit: str) -> Iterator[str]:
    """Write every row of the budget: size, square, name, scope, source and remedy."""
    if is_fixed(assessment.budget, place.side):
        yield from row("", "the rules fix this margin: the budget is information only")
    yield f"{'':10}{unit:>6}{'squared':>9}"
    for one in place.rows:
        size_m = one.floor_m if place.side == "floor" else one.ceiling_m
        if one.what == "sum of squares":
            numbers = f"{'':16}{squared(size_m, unit):>8}"
        else:
            square = "" if one.squared_m2 is None else squared(one.squared_m2, unit)
            numbers = f"{hundredths(size_m, unit):>16}{square:>8}"
        k = k_words(k_of(assessment.budget, place))
        said = f"k sigma: {k}" if one.what == "k sigma" else _said(one)
        yield from wrap(said, first=f"{numbers}  ", rest=26)


def _said(one: BudgetRow) -> str:
    if one.what not in CAUSES:
        step = STEPS.get(one.what, one.name)
        return f"{step} ({one.source})" if one.source else step
    kind = ", ".join(filter(None, (one.what, one.scope, "assumed" if one.is_assumed else "")))
    text = f"{one.name} ({kind}): {one.source}"
    return f"{text}; shrinks with: {one.remedy}" if one.remedy else text

"""The per-leg clearance table: two lines a leg, what was typed and what was found."""

from __future__ import annotations

import textwrap
from collections.abc import Callable, Collection, Iterator
from typing import TYPE_CHECKING, Final

from terrain_guard.report import stretches, words
from terrain_guard.states import State

if TYPE_CHECKING:
    from terrain_guard.assessment import Assessment, Extreme, LegRow

WIDTH: Final = 80
RULE: Final = "-" * WIDTH
NAMES: Final = 32
"""Columns for ``start -> end``; longer names take lines of their own."""
TYPED: Final = 13
"""Columns for ``100->100``, to tenths where they fit."""
_LOW_KINDS: Final = frozenset({"floor", "underground", "column"})
_SHORT: Final = words.NOT_ASSESSED_SHORT
_NOT_JUDGED: Final = " --"
"""As wide as what it stands in for."""


def leg_lines(assessment: Assessment, *, unit: str) -> Iterator[str]:
    """Write the table: what was typed on the first line of a leg, what was found on the second.

    Parameters
    ----------
    assessment : Assessment
        The greatest height is measured the way its ceiling is.
    unit : {"m", "ft"}

    Yields
    ------
    str
        One line of at most 80 characters.
    """
    closest = assessment.rules.ceiling_measure == "closest-point"
    yield from _head(*_headings(assessment, closest=closest), unit)
    table = [_found(row, assessment, unit) for row in assessment.legs]
    numbers = _numbers(assessment)
    for row, found in zip(assessment.legs, table, strict=True):
        yield from _typed(row, numbers.get(row.leg, []), unit)
        yield found
    yield RULE
    legend = (*_legend("".join(table), closest=closest), *_counted_from(assessment))
    yield from textwrap.wrap(" ".join(legend), WIDTH)


def _headings(assessment: Assessment, *, closest: bool) -> tuple[str, str]:
    """Name what the least and the greatest heights are counted from."""
    if assessment.models != "surface":
        return "least above ground", "greatest from ground" if closest else "greatest above ground"
    low = "least over surface"
    if assessment.canopy.ground_below_m:
        return low, "greatest from ground" if closest else "greatest above ground"
    return low, "greatest from surface" if closest else "greatest over surface"


def _counted_from(assessment: Assessment) -> Iterator[str]:
    """Say which model the numbers are of, where that is not the ground alone."""
    below_m = assessment.canopy.ground_below_m
    if assessment.models == "both":
        yield "Clearance is to the nearer of ground and surface, heights are above the ground."
    elif assessment.models == "surface" and below_m:
        yield f"Greatest: above ground {below_m:g} m below the surface model, as declared."
    if assessment.second_ground is not None:
        yield "Each number is the worse of both ground models."


def _numbers(assessment: Assessment) -> dict[int, list[int]]:
    """Return, for every leg that has any, the numbers under which its findings are listed."""
    numbers: dict[int, list[int]] = {}
    for number, entry in enumerate(stretches.entries(assessment.findings), start=1):
        numbers.setdefault(entry.finding.leg, []).append(number)
    return numbers


def _head(least: str, greatest: str, unit: str) -> Iterator[str]:
    yield RULE
    flown, typed = f"FLOWN {unit}", f"TYPED {unit}"
    yield f"LEG {'FROM -> TO':<{NAMES}}{flown:>8}  {typed:<{TYPED}} STATE, FINDING"
    yield _columns(least, "least clearance", greatest)
    yield _columns(
        f"{'computed':>11}{'at':>7}",
        f"{'computed':>8} {'margins':>8} {'at':>7}",
        f"{'computed':>8} {'margins':>8} {'at':>7}",
    )
    yield RULE


def _columns(above: str, clear: str, greatest: str) -> str:
    return f"     {above:<18} | {clear:<25} | {greatest}"


def _typed(row: LegRow, numbers: list[int], unit: str) -> Iterator[str]:
    """Write a leg's plan and state; names too long for their column get lines of their own."""
    names = f"{words.clean(row.start)} -> {words.clean(row.end)}"
    lead = f"{row.leg:>3} "
    if len(names) > NAMES:
        for line in textwrap.wrap(names, WIDTH - len(lead)):
            yield lead + line
            lead = " " * len(lead)
        names = ""
    state = f"{words.STATE_WORDS[row.state]} {_first(numbers)}".rstrip()
    typed = _heights(row, unit)
    yield f"{lead}{names:<{NAMES}}{words.up(row.length_m, unit):>8}  {typed:<{TYPED}} {state}"


def _heights(row: LegRow, unit: str) -> str:
    ends = (row.typed_start_m, row.typed_end_m)
    tenths, whole = (
        "->".join(words.stated(height_m, unit, digits=digits) for height_m in ends)
        for digits in (1, 0)
    )
    return tenths if len(tenths) <= TYPED else whole


def _found(row: LegRow, assessment: Assessment, unit: str) -> str:
    above, clear, top = row.above_ground_min, row.clearance_min, _greatest(row, assessment)
    low, high = _low_marks(row, assessment), _marks(row, assessment, {"ceiling"})
    groups = (
        (above, f"{_nominal(above, unit):>11}{_at(above, unit)}"),
        (clear, f"{_pair(clear, words.down, low, unit)}{_at(clear, unit)}"),
        (top, f"{_pair(top, words.up, high, unit)}{_at(top, unit)}"),
    )
    unknown = _has_unknown(row, assessment)
    # Where no ground is missing, an extreme that is not there was not judged at all.
    return _columns(
        *(
            text if unknown or extreme is not None else text.replace(_SHORT, _NOT_JUDGED)
            for extreme, text in groups
        )
    )


def _nominal(extreme: Extreme | None, unit: str) -> str:
    return _SHORT if extreme is None else words.down(extreme.nominal_m, unit)


def _at(extreme: Extreme | None, unit: str) -> str:
    return f"{_SHORT if extreme is None else words.where(extreme.along_m, unit):>7}"


def _greatest(row: LegRow, assessment: Assessment) -> Extreme | None:
    closest = assessment.rules.ceiling_measure == "closest-point"
    return row.clearance_max if closest else row.above_ground_max


def _has_unknown(row: LegRow, assessment: Assessment) -> bool:
    found = (one.state for one in assessment.findings if one.leg == row.leg)
    return State.NOT_ASSESSED in {row.state, *found}


def _marks(row: LegRow, assessment: Assessment, kinds: Collection[str]) -> tuple[str, str]:
    """Return what stands behind a leg's two numbers, as the checks found it."""
    own = (one for one in assessment.findings if one.leg == row.leg and one.kind in kinds)
    states = {one.state for one in own}
    fails = State.BREACH in states
    return "*" if fails else " ", "*" if fails or State.TIGHT in states else " "


def _low_marks(row: LegRow, assessment: Assessment) -> tuple[str, str]:
    """Mark clearances: a low one that fails nothing is low for taking off or landing."""
    marks, least = _marks(row, assessment, _LOW_KINDS), row.clearance_min
    if least is None or marks != (" ", " ") or _has_unknown(row, assessment):
        return marks
    if assessment.rules.floor_measure == "vertical":
        return marks
    floor_m = assessment.rules.floor_m - 1e-6
    return "~" if least.nominal_m < floor_m else " ", "~" if least.assured_m < floor_m else " "


def _pair(
    extreme: Extreme | None, text: Callable[[float, str], str], marks: tuple[str, str], unit: str
) -> str:
    """Write as computed and with margins, each with its mark."""
    if extreme is None:
        return f"{_SHORT:>8} {_SHORT:>8} "
    numbers = (text(extreme.nominal_m, unit), text(extreme.assured_m, unit))
    return "".join(
        f"{number:>8}{' ' if number == _SHORT else mark}"
        for number, mark in zip(numbers, marks, strict=True)
    )


def _first(numbers: list[int]) -> str:
    """Write the findings' numbers, as many as the column of the state holds."""
    text = ",".join(map(str, numbers))
    return text if len(text) <= 5 else f"{numbers[0]},.."


def _legend(table: str, *, closest: bool) -> Iterator[str]:
    """Explain the columns, and whichever marks the table holds."""
    yield "computed: from the data. margins: after the margins, worst side."
    yield "at: distance along the route since lift-off."
    if closest:
        yield "The greatest distance is from the nearest ground, as the ceiling is measured."
    if "*" in table:
        yield "*: fails."
    if "~" in table:
        yield "~: below the floor, allowed by the take-off and landing rule above."
    if _NOT_JUDGED in table:
        yield "--: taking off or landing, no floor."
    if _SHORT in table:
        yield f"{_SHORT}: not assessed."
        yield "On a leg with metres NOT ASSESSED, numbers are of the part that could be judged."

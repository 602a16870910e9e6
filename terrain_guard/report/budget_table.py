"""What the margins are made of, where each limit has least room: a sum to check by hand.

::

    random causes     sigma   squared      sum of squares, its root, k times the root
    one-sided bounds  as they are          added to that: the margin
"""

from __future__ import annotations

import math
import re
from collections.abc import Iterator
from typing import TYPE_CHECKING, Final

from terrain_guard.checks.budget.whole_flight import CEILING_CHANCE, FLOOR_CHANCE
from terrain_guard.report import words
from terrain_guard.report.sentences import leg_words
from terrain_guard.report.wrapping import WIDTH, row, wrap
from terrain_guard.units import METRES_PER_UNIT

if TYPE_CHECKING:
    from terrain_guard.assessment import Assessment, BudgetPlace, BudgetRow, BudgetUsed

RULE: Final = "-" * WIDTH
NAME: Final = 36
SIZE: Final = 8
SQUARE: Final = 9
RANDOM, BOUND, BIAS = "random", "one-sided bound", "declared bias"
LEAST_SHOWN: Final = 0.005
"""A cause that rounds to nothing on both sides has no line."""
SHRUNK: Final = re.compile(r"(?P<how>.*): (?P<before>[\d.]+) → (?P<after>[\d.]+) m")
LEAST_CHANCE: Final = 0.001


def lines(assessment: Assessment, *, unit: str) -> Iterator[str]:
    """Write where each limit has least room, the budget there, and what follows from it.

    Parameters
    ----------
    assessment : Assessment
    unit : {"m", "ft"}

    Yields
    ------
    str
        One line of at most 80 characters.
    """
    used = assessment.budget
    yield "MARGINS, where each limit has least room with margins, on the reference curve"
    yield from row("Floor", _least(assessment, used.floor, "floor", unit))
    yield from _numbers(used, used.floor, unit)
    yield from row("Ceiling", _least(assessment, used.ceiling, "ceiling", unit))
    yield from _numbers(used, used.ceiling, unit)
    places = [place for place in (used.floor, used.ceiling) if place is not None]
    if places:
        yield from _sum(used, places, unit)
        yield from _sentences(used, places, unit)
    yield from _over_the_whole(used, unit)


def _least(assessment: Assessment, place: BudgetPlace | None, side: str, unit: str) -> str:
    """Say where it is."""
    if place is None:
        rules = assessment.rules
        is_missing = side == "ceiling" and not math.isfinite(rules.above_ground_ceiling_m)
        return "none above ground" if is_missing else "not assessed at any metre"
    limit = words.with_unit(words.stated(place.limit_m, unit), unit)
    return f"{limit}: {where(assessment, place, unit)}"


def where(assessment: Assessment, place: BudgetPlace, unit: str) -> str:
    """Write leg, metre and spot of a place."""
    at = words.with_unit(words.where(place.along_m, unit), unit)
    leg = leg_words(place.leg, assessment)
    return f"{leg}, at {at}, {words.place(place.lat_deg, place.lon_deg)}"


def _numbers(used: BudgetUsed, place: BudgetPlace | None, unit: str) -> Iterator[str]:
    if place is not None:
        fixed = ", fixed" if is_fixed(used, place.side) else ""
        outward = words.down if place.side == "floor" else words.up
        parts = (
            f"as computed {outward(place.computed_m, unit)} {unit}",
            f"margin {words.up(place.margin_m, unit)} {unit}{fixed}",
            f"with margins {outward(place.assured_m, unit)} {unit}",
        )
        yield from row("", " | ".join(parts))


def _sum(used: BudgetUsed, places: list[BudgetPlace], unit: str) -> Iterator[str]:
    yield RULE
    heads = [f"{place.side.upper()} {unit}" for place in places]
    yield f"{'WHAT MAY BE OFF':<{NAME}}" + "".join(
        f"{one:>{SIZE + 3}}{'squared':>9}" for one in heads
    )
    yield RULE
    for name in _names(places, BIAS):
        yield _line(f"{name} (applied)", name, places, unit)
    yield "random, one sigma each; squares add up"
    for name in _names(places, RANDOM):
        yield _line(f"  {name}", name, places, unit)
    yield _line("sum of squares", "sum of squares", places, unit)
    yield _line("sigma: its root", "sigma", places, unit)
    k = " and ".join(dict.fromkeys(f"{k_of(used, place):g}" for place in places))
    yield _line(f"k sigma: {k} times that", "k sigma", places, unit)
    yield "one-sided bounds, which add up as they are"
    for name in _names(places, BOUND):
        yield _line(f"  {name}", name, places, unit)
    yield _line("sum of bounds", "sum of bounds", places, unit)
    yield _line("margin: k sigma and bounds", "margin", places, unit)
    if any(_row_of(place, "raised to") for place in places):
        yield _line("raised to the least that we allow", "raised to", places, unit)
    yield RULE


def _names(places: list[BudgetPlace], what: str) -> list[str]:
    """Return the causes of a bucket that any of the places has more than nothing of."""
    named = dict.fromkeys(one.name for place in places for one in place.rows if one.what == what)
    return [
        name
        for name in named
        if not all(abs(_size(place, _row_of(place, name))) < LEAST_SHOWN for place in places)
    ]


def _row_of(place: BudgetPlace, name: str) -> BudgetRow | None:
    """Return a cause by its name, or a step of the sum by what it is."""
    return next((one for one in place.rows if name in {one.name, one.what}), None)


def _size(place: BudgetPlace, found: BudgetRow | None) -> float:
    """Return what a row takes from the side of the place; NaN is not nothing."""
    if found is None:
        return 0.0
    return found.floor_m if place.side == "floor" else found.ceiling_m


def _line(label: str, name: str, places: list[BudgetPlace], unit: str) -> str:
    found = [_row_of(place, name) for place in places]
    star = " *" if any(one is not None and one.is_assumed for one in found) else ""
    cells = (_cells(place, one, unit) for place, one in zip(places, found, strict=True))
    return f"{label + star:<{NAME}}{''.join(cells)}".rstrip()


def _cells(place: BudgetPlace, found: BudgetRow | None, unit: str) -> str:
    """Write size and square; of the sum of squares the latter alone."""
    if found is None:
        return " " * (SIZE + SQUARE + 3)
    size, square = hundredths(_size(place, found), unit), ""
    if found.squared_m2 is not None:
        square = squared(found.squared_m2, unit)
    if found.what == "sum of squares":
        size, square = "", squared(_size(place, found), unit)
    return f"{size:>{SIZE + 3}}{square:>{SQUARE}}"


def hundredths(value_m: float, unit: str) -> str:
    """Write a length to the nearest hundredth.

    >>> hundredths(2.5138, "m"), hundredths(0.3048, "ft"), hundredths(math.nan, "m")
    ('2.51', '1.00', 'n/a')
    """
    return _nearest(value_m / METRES_PER_UNIT[unit])


def squared(value_m2: float, unit: str) -> str:
    """Write a square to the nearest hundredth of its unit."""
    return _nearest(value_m2 / METRES_PER_UNIT[unit] ** 2)


def _nearest(value: float) -> str:
    return f"{round(value, 2) + 0.0:.2f}" if math.isfinite(value) else words.NOT_ASSESSED_SHORT


def _sentences(used: BudgetUsed, places: list[BudgetPlace], unit: str) -> Iterator[str]:
    """Say what the table cannot: who fixed what, what is assumed, what weighs most."""
    yield from wrap(" ".join(_legend(used, places)), first="", rest=0)
    for place in places:
        yield from row(place.side.capitalize(), _largest(used, place, unit))
    yield from row("Together", "; ".join(_shift(used, place, unit) for place in places))


def _legend(used: BudgetUsed, places: list[BudgetPlace]) -> Iterator[str]:
    yield "Rounded to the nearest hundredth."
    if any(one.is_assumed for place in places for one in place.rows):
        yield "*: assumed, as nothing better was stated."
    fixed = [place.side for place in places if is_fixed(used, place.side)]
    if fixed:
        margins = "Both margins are" if len(fixed) == 2 else f"The {fixed[0]}'s margin is"
        yield f"{margins} fixed by the rules: the budget is information only."


def is_fixed(used: BudgetUsed, side: str) -> bool:
    """Return whether the rules fix the margin of a side."""
    return used.floor_is_fixed if side == "floor" else used.ceiling_is_fixed


def _largest(used: BudgetUsed, place: BudgetPlace, unit: str) -> str:
    """Name the largest cause, what would shrink it, and what better means would give."""
    found = _row_of(place, place.largest)
    text = f"largest: {place.largest or 'none'}"
    if found is not None and found.remedy:
        text += f" (shrinks with: {found.remedy})"
    better = "; ".join(_shrunk(one, unit) for one in place.better)
    if is_fixed(used, place.side):  # nothing better changes it
        return text
    return f"{text}; margin {better}" if better else text


def _shrunk(said: str, unit: str) -> str:
    """Write "with a 1 m model: 17.5 → 6.6 m" in plain characters and in `unit`."""
    found = SHRUNK.fullmatch(said)
    if found is None:
        return said.replace("→", "->")
    before, after = (words.up(float(found[name]), unit) for name in ("before", "after"))
    return f"{found['how']}: {before} -> {after} {unit}"


def k_of(used: BudgetUsed, place: BudgetPlace) -> float:
    """Return how many sigma the margin of a place covers."""
    return used.floor_k if place.side == "floor" else used.ceiling_k


def _shift(used: BudgetUsed, place: BudgetPlace, unit: str) -> str:
    """Write k times the errors that all places share, against k times those of one place."""
    k = k_of(used, place)
    whole, local = (
        words.with_unit(words.up(k * sigma, unit), unit)
        for sigma in (place.flight_sigma_m, place.local_sigma_m)
    )
    return f"at the {place.side} the whole flight shifts by up to {whole}, this place by {local}"


def _over_the_whole(used: BudgetUsed, unit: str) -> Iterator[str]:
    """Write how wide the floor is held, the height band left, the chances of the whole flight."""
    if used.corridor_m:
        beside = words.with_unit(words.stated(used.corridor_m, unit), unit)
        yield from row("Corridor", f"with margins the floor is held up to {beside} beside the "
                       "line, too: less may be left than computed less margin")  # fmt: skip
    if math.isfinite(used.band_m):
        band = words.with_unit(words.down(used.band_m, unit), unit)
        yield from row("Band", f"{band} of height left between floor and ceiling at the least, "
                       "straight up, margins taken off both")  # fmt: skip
    said = "; ".join(
        f"{side} {chance(value, limit)}"
        for side, value, limit in (
            ("floor", used.floor_chance, FLOOR_CHANCE),
            ("ceiling", used.ceiling_chance, CEILING_CHANCE),
        )
    )
    yield from row("Chance", f"that any metre of the flight breaks a limit, if errors were "
                   f"normal: {said}")  # fmt: skip


def chance(value: float, limit: float) -> str:
    """Write a chance, rounded up, and whether it is as small as wanted.

    >>> chance(0.0084, 0.05), chance(0.072, 0.05), chance(math.nan, 0.05)
    ('0.9 % (at most 5 % wanted)', '7.2 %: MORE than the 5 % wanted', 'not known (5 % wanted)')
    """
    if not math.isfinite(value):
        return f"not known ({100 * limit:g} % wanted)"
    text = f"{words.up(100 * value, 'm')} %" if value >= LEAST_CHANCE else "below 0.1 %"
    wanted = f"{100 * limit:g} % wanted"
    return f"{text} (at most {wanted})" if value <= limit else f"{text}: MORE than the {wanted}"

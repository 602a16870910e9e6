"""The worst places of a flight, each with its number, in the order flown.

Every stretch that is a breach or tight gives its worst metre; to them come the
least clearance and the greatest height of the whole flight. Numbers are as
computed, and rounded so that they never look better than they are.
"""

from __future__ import annotations

import math
from dataclasses import dataclass, replace
from itertools import zip_longest
from typing import TYPE_CHECKING, NamedTuple

from terrain_guard.report import words
from terrain_guard.report.stretches import NOT_OF_HEIGHTS, entries
from terrain_guard.states import State
from terrain_guard.units import in_unit

if TYPE_CHECKING:
    from collections.abc import Iterator

    from terrain_guard.assessment import Assessment, Finding, LegRow

SAME_PLACE_M = 1.0
"""Two worst places nearer than this along the curve share a letter."""
CEILINGS = frozenset({"ceiling", "sea-level ceiling"})
LEAST = "least clearance between waypoints"
MINUS = "\N{MINUS SIGN}"


@dataclass(frozen=True, slots=True, kw_only=True)
class Point:
    """One worst place, with its number as printed."""

    letter: str
    along: float  # in the unit printed, as is the stretch or leg that it is the worst of
    span: tuple[float, float]
    number: str  # "16.9 m clearance"
    said: tuple[str, ...]  # "breach of the floor", and what else it is
    kind: str  # floor | ceiling | sea-level ceiling: what it is the worst of
    state: State | None  # None: an extreme that fails nothing by itself
    leg: int
    finding: int | None  # as numbered in the table of findings
    excess_m: float  # how far outside the limit; -inf where no limit is concerned
    flown: str  # what is flown there in another way than drawn; empty if nothing

    @property
    def mark(self) -> str:
        """The letter, with a star where the worst is not on the curve drawn."""
        return f"{self.letter}*" if self.flown else self.letter

    @property
    def gravity(self) -> tuple[int, float]:
        """What decides which point speaks first: breaches, then extremes, then tight ones."""
        if self.state is State.BREACH:
            return 3, self.excess_m
        is_extreme = self.state is None or len(self.said) > 1
        return (2 if is_extreme else 0), self.excess_m


class Place(NamedTuple):
    """The extreme of one leg: its value, its metre and its curve."""

    value_m: float
    along_m: float
    row: LegRow
    curve: str


def worst_points(assessment: Assessment, *, unit: str) -> tuple[Point, ...]:
    """Return every worst place, lettered in the order flown.

    Parameters
    ----------
    assessment : Assessment
        Its findings and the extremes of its legs are read.
    unit : {"m", "ft"}
        What numbers are printed in.
    """
    found = [*_from_findings(assessment, unit), *_from_extremes(assessment, unit)]
    joined: list[Point] = []
    for point in sorted(found, key=lambda one: one.along):
        same = next((one for one in joined if _same_place(one, point, unit)), None)
        if same is None:
            joined.append(point)
        else:
            joined[joined.index(same)] = _join(same, point)
    return tuple(replace(point, letter=letter(index)) for index, point in enumerate(joined))


def worst_of_all(points: tuple[Point, ...]) -> Point | None:
    """Return the worst breach, else the least clearance, else what there is."""
    breaches = [point for point in points if point.state is State.BREACH]
    if breaches:
        return max(breaches, key=lambda point: point.excess_m)
    return next((one for one in points if LEAST in one.said), next(iter(points), None))


def letter(index: int) -> str:
    """Return the letter of the point at `index`: A to Z, then AA, AB and so on.

    >>> letter(0), letter(25), letter(26), letter(27)
    ('A', 'Z', 'AA', 'AB')
    """
    head, tail = divmod(index, 26)
    return (letter(head - 1) if head else "") + chr(ord("A") + tail)


def _from_findings(assessment: Assessment, unit: str) -> Iterator[Point]:
    for number, entry in enumerate(entries(assessment.findings), start=1):
        finding = entry.finding
        if finding.kind in NOT_OF_HEIGHTS:
            continue  # the ribbon tells them; they have no clearance
        if finding.state is State.NOT_ASSESSED or not math.isfinite(finding.at_m):
            continue  # it has no worst metre; the hatched gap and the list speak for it
        yield Point(
            letter="",
            along=in_unit(finding.at_m, unit),
            span=(in_unit(finding.from_m, unit), in_unit(finding.to_m, unit)),
            number=_finding_number(finding, assessment, unit),
            said=(_finding_words(finding),),
            kind=finding.kind if finding.kind in CEILINGS else "floor",
            state=finding.state,
            leg=finding.leg,
            finding=number,
            excess_m=_excess_m(finding, assessment),
            flown=_flown(finding.curve, assessment),
        )


def _finding_number(finding: Finding, assessment: Assessment, unit: str) -> str:
    if finding.kind == "column" or not math.isfinite(finding.worst_m):
        return ""  # a cone has no clearance of its own
    if finding.kind == "ceiling":
        return _height(finding.worst_m, assessment, unit)
    if finding.kind == "sea-level ceiling":
        return f"{words.up(finding.worst_m, unit)} {unit} above sea level".replace("-", MINUS)
    if finding.kind == "underground":
        return f"{words.up(-finding.worst_m, unit)} {unit} below ground"
    return _clearance(finding.worst_m, assessment, unit)


def _clearance(value_m: float, assessment: Assessment, unit: str) -> str:
    """Write a clearance the way this assessment's floor is measured."""
    above = f"above {lower_word(assessment)}"
    what = above if assessment.rules.floor_measure == "vertical" else "clearance"
    return f"{words.down(value_m, unit)} {unit} {what}".replace("-", MINUS)


def _height(value_m: float, assessment: Assessment, unit: str) -> str:
    """Write a height the way this assessment's ceiling is measured."""
    under = upper_word(assessment)
    what = f"from the {under}" if _is_closest(assessment) else f"above {under}"
    return f"{words.up(value_m, unit)} {unit} {what}".replace("-", MINUS)


def lower_word(assessment: Assessment) -> str:
    """Name what least heights count from: the ground, or a surface model that stands alone."""
    return "surface" if assessment.models == "surface" else "ground"


def upper_word(assessment: Assessment) -> str:
    """Name what greatest heights count from: of a surface alone, the ground declared below it."""
    return "ground" if assessment.canopy.ground_below_m else lower_word(assessment)


def _is_closest(assessment: Assessment) -> bool:
    return assessment.rules.ceiling_measure == "closest-point"


def _finding_words(finding: Finding) -> str:
    if finding.kind == "underground":
        return "into the ground"
    if finding.kind == "column":
        return f"{finding.state} in the take-off or landing column"
    if finding.state is State.TIGHT:
        return f"tight against the {finding.kind}"
    return f"breach of the {finding.kind}"


def _excess_m(finding: Finding, assessment: Assessment) -> float:
    """Return how far outside its limit a finding is; contact outweighs all else."""
    if finding.kind == "column" or not math.isfinite(finding.worst_m):
        return 0.0
    if finding.kind == "ceiling":
        return finding.worst_m - assessment.rules.ceiling_m
    if finding.kind == "sea-level ceiling":
        return finding.worst_m - assessment.rules.above_sea_level_ceiling_m
    contact = 1e6 if finding.worst_m <= 0 else 0.0
    return assessment.rules.floor_m - finding.worst_m + contact


def _flown(curve: str, assessment: Assessment) -> str:
    """Return the words of `curve` that differ from the curve drawn: "stop, slanting"."""
    drawn = next(iter(assessment.curves), curve)
    pairs = zip_longest(curve.split("/"), drawn.split("/"), fillvalue="")
    return ", ".join(own for own, other in pairs if own and own != other)


def _from_extremes(assessment: Assessment, unit: str) -> Iterator[Point]:
    least = min(_bottoms(assessment), key=_value, default=None)
    if least is not None:
        number = f"{words.down(least.value_m, unit)} {unit} clearance".replace("-", MINUS)
        yield _extreme(least, assessment, unit=unit, number=number, kind="floor", said=LEAST)
    greatest = max(_tops(assessment), key=_value, default=None)
    if greatest is not None:
        number = _height(greatest.value_m, assessment, unit)
        under = upper_word(assessment)
        far = f"greatest distance from the {under}"
        said = far if _is_closest(assessment) else f"greatest height above {under}"
        yield _extreme(greatest, assessment, unit=unit, number=number, kind="ceiling", said=said)


def _value(place: Place) -> float:
    return place.value_m


def _extreme(
    place: Place, assessment: Assessment, *, unit: str, number: str, kind: str, said: str
) -> Point:
    return Point(
        letter="",
        along=in_unit(place.along_m, unit),
        span=(in_unit(place.row.from_m, unit), in_unit(place.row.to_m, unit)),
        number=number,
        said=(said,),
        kind=kind,
        state=None,
        leg=place.row.leg,
        finding=None,
        excess_m=-math.inf,
        flown=_flown(place.curve, assessment),
    )


def _tops(assessment: Assessment) -> Iterator[Place]:
    """Yield the greatest height of each leg, measured as the ceiling is."""
    for row in assessment.legs:
        top = row.clearance_max if _is_closest(assessment) else row.above_ground_max
        if top is not None and math.isfinite(top.nominal_m):
            yield Place(top.nominal_m, top.along_m, row, top.curve)


def _bottoms(assessment: Assessment) -> Iterator[Place]:
    """Yield the least clearance of each leg between waypoints.

    On the climb-out and the way home it is nothing at all where the aircraft stands
    on the ground; what is wrong there is among the findings.
    """
    for row in assessment.legs:
        least = row.clearance_min
        between = 0 < row.leg < len(assessment.route.waypoints)
        if between and least is not None and math.isfinite(least.nominal_m):
            yield Place(least.nominal_m, least.along_m, row, least.curve)


def _same_place(one: Point, other: Point, unit: str) -> bool:
    apart = abs(one.along - other.along)
    return one.kind == other.kind and apart <= in_unit(SAME_PLACE_M, unit)


def _join(one: Point, other: Point) -> Point:
    """Return both as one, speaking with the worse one's number."""
    lead, rest = (one, other) if one.excess_m >= other.excess_m else (other, one)
    more = tuple(text for text in rest.said if text not in lead.said)
    return replace(lead, said=lead.said + more)

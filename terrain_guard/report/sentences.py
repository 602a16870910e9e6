"""One finding as a pilot reads it: a headline, a sentence, a place."""

from __future__ import annotations

import math
from collections.abc import Mapping
from types import MappingProxyType
from typing import TYPE_CHECKING, Final

from terrain_guard.plan.rules import DATUM_DOUBT_M
from terrain_guard.report import margin_words, words
from terrain_guard.report.cautions import VERDICT_WORDS
from terrain_guard.states import State

if TYPE_CHECKING:
    from terrain_guard.assessment import Assessment, Finding
    from terrain_guard.report.stretches import Entry

LIMIT_WORDS: Final[Mapping[str, str]] = MappingProxyType(
    {
        "floor": "floor",
        "ceiling": "ceiling",
        "sea-level ceiling": "ceiling above sea level",
        "underground": "below the ground",
        "column": "take-off or landing",
        "not-assessed": "",
        "link-loss": "lost link",
        "link-loss-blocked": "link lost behind ground, and what follows",
        "return": "way home",
        "sight": "sight",
        "link": "radio link",
    }
)
"""What each kind of finding is called in its headline."""


def headline(entry: Entry, assessment: Assessment, *, unit: str) -> str:
    """Write state, limit, leg and stretch: ``BREACH: floor, leg 2 a -> b, 400-500 m``."""
    finding = entry.finding
    state = words.STATE_WORDS[finding.state]
    limit = LIMIT_WORDS.get(finding.kind, finding.kind)
    span = words.stretch(finding.from_m, finding.to_m, unit)
    parts = [limit, leg_words(finding.leg, assessment), span]
    text = f"{state}: " + ", ".join(part for part in parts if part)
    if not entry.has_shoulders:
        return text
    wider = words.stretch(entry.with_margins_from_m, entry.with_margins_to_m, unit)
    return f"{text} (with margins {wider})"


def leg_words(leg: int, assessment: Assessment) -> str:
    """Write a leg's number and its two ends."""
    for row in assessment.legs:
        if row.leg == leg:
            return f"leg {leg} {words.clean(row.start)} -> {words.clean(row.end)}"
    return f"leg {leg}"


def sentence(finding: Finding, assessment: Assessment, *, unit: str) -> str:
    """Say what is wrong: the check's own sentence in metres, a shorter one in feet.

    The check's sentence holds many numbers, each rounded its own way, so it
    cannot be turned into feet word by word.
    """
    if unit == "m":
        return words.clean(finding.message)
    return _SHORT.get(finding.kind, _other)(finding, assessment, unit)


def spot(finding: Finding) -> str:
    """Write when and where the worst metre is."""
    return ", ".join(
        (
            words.after_lift_off(finding.time_s),
            words.place(finding.lat_deg, finding.lon_deg),
        )
    )


def _floor(finding: Finding, assessment: Assessment, unit: str) -> str:
    rules = assessment.rules
    what = "height above ground" if rules.floor_measure == "vertical" else "clearance"
    worst = words.with_unit(words.down(finding.worst_m, unit), unit)
    floor = words.with_unit(words.stated(rules.floor_m, unit), unit)
    margin = margin_words.greatest(assessment, "floor", unit)
    if _canopy_counts(finding, assessment):
        canopy = words.with_unit(words.stated(assessment.canopy.floor_m, unit), unit)
        margin += f" and {canopy} of canopy"
    return f"{what} {worst} at worst, as computed; floor {floor}, margin {margin}"


def _canopy_counts(finding: Finding, assessment: Assessment) -> bool:
    """Return whether the floor's margin holds a canopy on the leg and curve of a finding."""
    canopy = assessment.canopy
    home = finding.curve.split("/")[4:5]  # turn, corner, climb, way out, way home
    slants = bool(home) and home[0].startswith("slanting")
    slants_home = finding.leg == len(assessment.legs) - 1 and slants
    outside = canopy.floor_everywhere or not (finding.leg == 0 or slants_home)
    return canopy.floor_m > 0 and outside


def _ceiling(finding: Finding, assessment: Assessment, unit: str) -> str:
    rules = assessment.rules
    closest = rules.ceiling_measure == "closest-point"
    what = "distance from the nearest ground" if closest else "height above ground"
    worst = words.with_unit(words.up(finding.worst_m, unit), unit)
    ceiling = words.with_unit(words.stated(rules.ceiling_m, unit), unit)
    margin = margin_words.greatest(assessment, "ceiling", unit)
    if assessment.canopy.ceiling_m:
        canopy = words.with_unit(words.stated(assessment.canopy.ceiling_m, unit), unit)
        margin += f" and {canopy} of canopy"
    if assessment.models == "surface" and not assessment.canopy.ground_below_m:
        what = what.replace("ground", "surface")
    return f"{what} {worst} at worst, as computed; ceiling {ceiling}, margin {margin}"


def _sea_level(finding: Finding, assessment: Assessment, unit: str) -> str:
    limit_m = assessment.rules.above_sea_level_ceiling_m
    worst = words.with_unit(words.up(finding.worst_m, unit), unit)
    ceiling = words.with_unit(words.stated(limit_m, unit), unit)
    doubt = words.with_unit(words.stated(DATUM_DOUBT_M, unit), unit)
    margin = f"{margin_words.greatest(assessment, 'ceiling', unit)} and {doubt} of doubt"
    return (
        f"height above sea level {worst} at worst, as computed; ceiling {ceiling}, margin {margin}"
    )


def _underground(finding: Finding, _assessment: Assessment, unit: str) -> str:
    depth = words.with_unit(words.up(-finding.worst_m, unit), unit)
    return f"the typed heights lead into the ground; depth at worst {depth}"


def _column(_finding: Finding, _assessment: Assessment, _unit: str) -> str:
    return "something stands in the cone kept clear for taking off and landing"


def _not_assessed(_finding: Finding, _assessment: Assessment, _unit: str) -> str:
    return "this stretch could not be judged: not assessed is not clear"


def _link_loss(finding: Finding, _assessment: Assessment, unit: str) -> str:
    if not math.isfinite(finding.worst_m):
        return "what a lost link sets off here fails, or could not be judged"
    return f"the link lost here, {_room(finding, unit)}"


def _return(finding: Finding, _assessment: Assessment, unit: str) -> str:
    if not math.isfinite(finding.worst_m):
        return "a way home begun here could not be judged"
    return f"begun here, {_room(finding, unit)}"


def _room(finding: Finding, unit: str) -> str:
    if finding.worst_m >= 0:
        return "the way home fails; see the ceiling and the landing spot"
    higher = words.with_unit(words.up(-finding.worst_m, unit), unit)
    return f"the way home would have to be {higher} higher for the ground in its way"


def _sight(finding: Finding, _assessment: Assessment, unit: str) -> str:
    if not math.isfinite(finding.worst_m) or finding.worst_m >= 0:
        return "too far off, or seen only without margins, or not assessed"
    below = words.with_unit(words.up(-finding.worst_m, unit), unit)
    return f"hidden from the pilot, at worst {below} below the ray that grazes the ground"


def _link(finding: Finding, _assessment: Assessment, _unit: str) -> str:
    if not math.isfinite(finding.worst_m):
        return "the line of the radio link is not clear, or could not be judged"
    return "ground stands in the line of the radio link"


def _other(finding: Finding, _assessment: Assessment, unit: str) -> str:
    if not math.isfinite(finding.worst_m):
        return finding.kind
    return f"{finding.kind}: {words.down(finding.worst_m, unit)} {unit} at worst"


_SHORT: Final = MappingProxyType(
    {
        "floor": _floor,
        "ceiling": _ceiling,
        "sea-level ceiling": _sea_level,
        "underground": _underground,
        "column": _column,
        "not-assessed": _not_assessed,
        "link-loss": _link_loss,
        "link-loss-blocked": _link_loss,
        "return": _return,
        "sight": _sight,
        "link": _link,
    }
)


def verdict(state: State) -> str:
    """Write a verdict, in capitals even if it is the best, and what it means.

    >>> verdict(State.WITHIN)
    'WITHIN: no breach found in the data listed'
    """
    return f"{words.STATE_WORDS[state].upper()}: {VERDICT_WORDS[state]}"

"""The answer on a terminal: at most 80 columns, plain text, no colour needed.

`lines` yields the whole table. The verdict stands first, for paper, and again
last, for a screen that has scrolled.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from typing import TYPE_CHECKING, Final

from terrain_guard.checks.column import COLUMN_RADIUS_M
from terrain_guard.report import (
    budget_table,
    cautions,
    explained,
    home_lines,
    launch_words,
    margin_words,
    model_words,
    rule_words,
    sentences,
    stretches,
    ways,
    words,
)
from terrain_guard.report.table_legs import leg_lines
from terrain_guard.report.wrapping import WIDTH, row, wrap
from terrain_guard.states import State

if TYPE_CHECKING:
    from terrain_guard.assessment import Assessment, LaunchUsed, TerrainUsed

RULER: Final = "=" * WIDTH
ROLES: Final = {"ground": "Terrain", "surface": "Surface", "second ground": "Second"}


def lines(assessment: Assessment, *, unit: str = "m", explain: int | None = None) -> Iterator[str]:
    """Write the whole answer.

    Parameters
    ----------
    assessment : Assessment
        Metres, unrounded.
    unit : {"m", "ft"}
        What heights and lengths are printed in. Sentences that other modules
        composed (what was assumed, not checked) keep the unit they carry.
    explain : int, optional
        A leg whose margins are worked out in full.

    Yields
    ------
    str
        One line, without its line break, at most 80 characters.
    """
    yield "TERRAIN GUARD: true height above ground along a planned route"
    yield from verdict_box(assessment, unit=unit)
    yield from _heading(assessment, unit)
    yield ""
    yield from leg_lines(assessment, unit=unit)
    yield ""
    yield from budget_table.lines(assessment, unit=unit)
    yield ""
    if assessment.coming_home is not None:
        yield from home_lines.lines(assessment, unit=unit)
        yield ""
    if explain is not None:
        yield from explained.lines(assessment, leg=explain, unit=unit)
        yield ""
    yield from _findings(assessment, unit)
    yield from _list("NOT CHECKED", assessment.not_checked)
    yield from _list("ASSUMED", assessment.assumed)
    yield from _list("CAUTIONS", cautions.all_cautions(assessment))
    yield from verdict_box(assessment, unit=unit)


def verdict_box(assessment: Assessment, *, unit: str = "m") -> Iterator[str]:
    """Write the verdict, how much of the route it covers, and what stands beside it."""
    yield RULER
    yield from row("VERDICT", sentences.verdict(assessment.verdict))
    yield from row("", _tally(assessment, unit))
    yield from row("", _assessed(assessment, unit))
    yield from row("", cautions.beside_verdict(assessment))
    yield RULER


def _tally(assessment: Assessment, unit: str) -> str:
    """Say how many metres are in each state that needs a look; nothing if none is."""
    parts = []
    for state in (State.BREACH, State.NOT_ASSESSED, State.TIGHT):
        length_m, said = stretches.tally(assessment.findings, state)
        if said:
            length = words.with_unit(words.up(length_m, unit), unit)
            parts.append(f"{words.STATE_WORDS[state]} {length} {said}")
    return "; ".join(parts)


def _assessed(assessment: Assessment, unit: str) -> str:
    total = words.with_unit(words.up(assessment.length_m, unit), unit)
    if assessment.assessed_m >= assessment.length_m - 1e-6:
        return f"assessed: all {total} of the route"
    assessed = words.with_unit(words.down(assessment.assessed_m, unit), unit)
    return f"assessed: only {assessed} of {total}"


def _heading(assessment: Assessment, unit: str) -> Iterator[str]:
    route, rules = assessment.route, assessment.rules
    yield from row("Route", f"{route.title} ({route.source})")
    yield from row("Launch", _launch(assessment, unit))
    for terrain in assessment.terrain:
        yield from row(ROLES[terrain.role], _terrain(terrain, unit))
    yield from row("Rule", f"{rule_words.name(rules)}: {rule_words.limits(rules, unit)}")
    for source in rule_words.sources(rules):
        yield from row("", source)
    yield from row("Margins", margin_words.heading(assessment, unit))
    for label, text in model_words.lines(assessment, unit):
        yield from row(label, text)
    yield from row("Take-off", _take_off(assessment.launch, unit))
    yield from row("Flown", _curves(assessment.curves))


def _launch(assessment: Assessment, unit: str) -> str:
    launch = assessment.launch
    within = words.with_unit(words.stated(launch.spot_within_m, unit), unit)
    return (
        f"{words.place(launch.lat_deg, launch.lon_deg)}, spot known within {within}; "
        f"launch ground {launch_words.ground(assessment, unit)}"
    )


def _terrain(terrain: TerrainUsed, unit: str) -> str:
    kind = "kind not stated" if terrain.kind == "unknown" else f"{terrain.kind} model"
    kind += f", surveyed {terrain.survey_date}" if terrain.survey_date else ""
    kind += f" (by {terrain.card})" if terrain.card else ""
    cell = " x ".join(words.stated(side, unit) for side in terrain.cell_m)
    voids = words.with_unit(words.up(terrain.void_share_read * 100, "m", digits=2), "%")
    return (
        f"{terrain.file}: {kind}, cells {cell} {unit} ({terrain.registration}), {terrain.crs}; "
        f"vertical datum {terrain.vertical_datum}, unit {terrain.vertical_unit}; "
        f"voids {voids} of the cells read; sha256 of the cells used {terrain.used_hash[:12]}"
    )


def _take_off(launch: LaunchUsed, unit: str) -> str:
    reach = words.with_unit(words.stated(COLUMN_RADIUS_M + launch.spot_within_m, unit), unit)
    return (
        f"and landing, our own choice: within {reach} of the spot nothing may stand above a 1:1 "
        "cone on it, and the floor does not apply; further on, on leg 0 and on a slanting way "
        "home, clearance of half the height above launch is enough"
    )


def _curves(curves: tuple[str, ...]) -> str:
    if len(curves) == 1:
        return ways.whole(curves[0])
    return (
        f"{len(curves)} ways, because the route leaves it open; the worst counts. "
        f"Distances are along the first: {ways.whole(curves[0])}"
    )


def _findings(assessment: Assessment, unit: str) -> Iterator[str]:
    found = stretches.entries(assessment.findings)
    if found:
        yield "FINDINGS"
    for number, entry in enumerate(found, start=1):
        finding = entry.finding
        head = sentences.headline(entry, assessment, unit=unit)
        yield from wrap(head, first=f"{number:3d}  ", rest=5)
        yield from wrap(sentences.sentence(finding, assessment, unit=unit), first=" " * 5, rest=5)
        at = words.with_unit(words.where(finding.at_m, unit), unit)
        yield from wrap(f"where: at {at}, {sentences.spot(finding)}", first=" " * 5, rest=5)
        last_leg = len(assessment.legs) - 1
        flown = ways.flown(finding.curve, finding.leg, assessment.curves, last_leg=last_leg)
        if flown:
            yield from wrap(f"flown: {flown}", first=" " * 5, rest=5)
    if found:
        yield ""
    if assessment.terrain_to_get is not None:
        yield from _list("TERRAIN TO GET", (assessment.terrain_to_get,))


def _list(title: str, items: Iterable[str]) -> Iterator[str]:
    """Write a titled list and a blank line; nothing at all for an empty one."""
    items = tuple(items)
    if not items:
        return
    yield title
    for item in items:
        yield from wrap(item, first="  - ", rest=4)
    yield ""

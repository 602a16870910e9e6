"""What the heights of a bare line of points count from: said by the file, told, or refused.

A CSV, KML or GPX file holds points and, perhaps, a number for each that may be a
height above launch, above ground, above sea level, or nothing that matters.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING, Any, Final

from terrain_guard.plan.keys import number_text

if TYPE_CHECKING:
    from collections.abc import Collection, Mapping

    from terrain_guard.plan.reading import Faults
    from terrain_guard.plan.told import Told

Point = dict[str, Any]
"""A waypoint as the TOML route file would hold it."""

_WHERE: Final = "waypoint heights"
_FROM: Final[Mapping[str, str]] = {
    "launch": "above the launch ground",
    "ground": "above the ground under each waypoint",
    "sea-level": "above sea level",
    "ellipsoid": "above the WGS 84 ellipsoid",
}


@dataclass(frozen=True, slots=True, kw_only=True)
class FileHeights:
    """What a file says about its heights, apart from the numbers."""

    numbers: str  # what holds them: "ele", "column 'alt'"
    present: bool  # whether any point has one that counts
    absent: str  # a clause: what is missing where none does
    said: str  # a clause: what the file says that they count from
    counts_from: str | None  # as Route.heights; None where the file does not say
    cannot_say: Collection[str] = ()  # what its format has no word for, and an option may say
    unit: str | None = None  # m | ft; None where the file does not say
    unit_said: str = ""  # a clause: how it says so


def settle(
    points: list[Point], found: FileHeights, *, told: Told, faults: Faults
) -> tuple[dict[str, Any], str]:
    """Decide what the heights are, from the file and from what is told.

    Parameters
    ----------
    points : list of dict
        Waypoints; `height` is the file's number.
    found : FileHeights
        What the file says about them.
    told : Told
        What the pilot says about them.
    faults : Faults
        Grows by what neither says, and by where they differ. Words then stand in, so that
        the rest can still be looked at.

    Returns
    -------
    dict, str
        The content of a route file, as far as heights go, and a sentence that tells what was
        measured from what.
    """
    if told.fly_at is not None:
        return _one_height(points, found, told=told, faults=faults)
    if not found.present:
        remedy = "give one height for all, such as --fly-at 60m --heights launch"
        rule = f"every waypoint needs one ({found.absent})"
        faults.miss(_WHERE, rule=rule, remedy=remedy)
        level = [{**point, "height": 0} for point in points]
        return {"heights": "launch", "height_unit": "m", "waypoint": level}, ""
    heights, unit = _counts_from(found, told, faults), _unit(found, told, faults)
    content = {"heights": heights, "height_unit": unit, "waypoint": points}
    option = "" if heights == found.counts_from else f", as --heights {heights} says"
    said = f"{_WHERE}: {found.numbers} in {unit} ({found.said}), taken as {_FROM[heights]}{option}"
    return content, said


def _one_height(
    points: list[Point], found: FileHeights, *, told: Told, faults: Faults
) -> tuple[dict[str, Any], str]:
    """Give every waypoint the height that is told."""
    value, unit = told.fly_at or (0.0, "m")
    if told.heights is None:
        faults.miss(
            "--heights",
            rule="--fly-at means nothing without what it counts from",
            remedy="give --heights launch (or ground, sea-level, ellipsoid)",
        )
    if told.height_unit is not None:
        rule, remedy = "--fly-at brings its own unit", "leave --height-unit away"
        faults.add("--height-unit", told.height_unit, rule=rule, remedy=remedy)
    heights = told.heights or "launch"
    content = {
        "heights": heights,
        "height_unit": unit,
        "waypoint": [{**point, "height": value} for point in points],
    }
    idle = f"; {found.numbers} of the file plays no part" if found.present else ""
    said = f"{_WHERE}: {number_text(value)} {unit} {_FROM[heights]}, as --fly-at says{idle}"
    return content, said


def _counts_from(found: FileHeights, told: Told, faults: Faults) -> str:
    if found.counts_from is None and told.heights is None:
        faults.say(
            f"{_WHERE}: given {found.numbers}, but {found.said}; give --heights launch (or "
            f"ground, sea-level, ellipsoid), whichever they truly count from, or one height for "
            f"all with it, such as --fly-at 60m"
        )
    elif _differ(found.counts_from, told.heights) and told.heights not in found.cannot_say:
        remedy = "leave --heights away, or correct the file"
        faults.add("--heights", told.heights, rule=found.said, remedy=remedy)
    return told.heights or found.counts_from or "launch"


def _differ(said: str | None, told: str | None) -> bool:
    return None not in (said, told) and said != told


def _unit(found: FileHeights, told: Told, faults: Faults) -> str:
    if found.unit is None and told.height_unit is None:
        faults.say(
            f"{_WHERE}: given {found.numbers}, but a height means nothing without its unit; give "
            f"--height-unit m or --height-unit ft, or put the unit into the header"
        )
        return "ft"  # the wider bounds
    if _differ(found.unit, told.height_unit):
        remedy = "leave --height-unit away, or correct the file"
        faults.add("--height-unit", told.height_unit, rule=found.unit_said, remedy=remedy)
    return found.unit or told.height_unit or "m"

"""Whether what a route file states holds together: one question a function."""

from __future__ import annotations

from typing import TYPE_CHECKING, Final

from terrain_guard.plan.reading import nearest
from terrain_guard.plan.swaps import add_swapped
from terrain_guard.units import METRES_PER_UNIT

if TYPE_CHECKING:
    from terrain_guard.plan.reading import Values
    from terrain_guard.plan.stated import Stated

_TAKEN = ("launch", "here", "home")
FARTHEST_UP_M: Final = 3000.0
"""The highest that a waypoint may be above launch or ground."""
_CLIMBING_HOME = ("climb-first", "climb-on-the-way")


def add_contradictions(stated: Stated) -> None:
    """Add a fault for everything that is sound by itself and not together.

    Parameters
    ----------
    stated : Stated
        The sound values of the file; its `faults` grow.
    """
    _few_waypoints(stated)
    _names("waypoint", stated)
    _names("subject", stated)
    _unknown_look_at(stated)
    _unknown_go_to(stated)
    _half_a_survey(stated)
    _two_radii(stated)
    _step_without_height(stated)
    _climb_home_without_height(stated)
    _below_ground(stated)
    _far_above_ground(stated)
    add_swapped(_places(stated), faults=stated.faults)


def names(items: list[Values], *, of: str) -> list[str]:
    """Return each item's name; "waypoint 3" where it has none."""
    return [str(item.get("name", f"{of} {number}")) for number, item in enumerate(items, start=1)]


def _few_waypoints(stated: Stated) -> None:
    count = len(stated.lists["waypoint"])
    if count < 2:
        number = {0: "no waypoint", 1: "one waypoint"}[count]
        stated.faults.say(
            f"waypoint: given {number}, but a route needs at least 2; "
            f"add a [[waypoint]] with lat, lon and height for each point"
        )


def _names(table: str, stated: Stated) -> None:
    first: dict[str, int] = {}
    for number, name in enumerate(names(stated.lists[table], of=table), start=1):
        where = f"{table}[{number}].name"
        if table == "waypoint" and name in _TAKEN:
            rule = "that word already means a place"
            stated.faults.add(where, name, rule=rule, remedy="write another name")
        elif name in first:
            rule = f"{table}[{first[name]}] has that name"
            stated.faults.add(where, name, rule=rule, remedy="give each its own name")
        else:
            first[name] = number


def _unknown_look_at(stated: Stated) -> None:
    known = names(stated.lists["subject"], of="subject")
    for number, waypoint in enumerate(stated.lists["waypoint"], start=1):
        subject = waypoint.get("look_at")
        if subject is not None and subject not in known:
            stated.faults.add(
                f"waypoint[{number}].look_at",
                subject,
                rule="no [[subject]] has that name",
                remedy=_meant(str(subject), known) or "add that subject, or remove look_at",
            )


def _unknown_go_to(stated: Stated) -> None:
    go_to = stated.or_default("after_last", "go_to")
    known = ["launch", "here", *names(stated.lists["waypoint"], of="waypoint")]
    if go_to not in known:
        stated.faults.add(
            "after_last.go_to",
            go_to,
            rule="it must be 'launch', 'here' or a waypoint's name",
            remedy=_meant(go_to, known) or "write 'launch' if it flies back to launch",
        )


def _meant(word: str, known: list[str]) -> str | None:
    like = nearest(word, known)
    return f"write {like!r} if that is meant" if like else None


def _half_a_survey(stated: Stated) -> None:
    pair = ("elevation_m", "elevation_accuracy_m")
    missing = [name for name in pair if f"launch.{name}" not in stated.present]
    if len(missing) == 1:
        stated.faults.miss(
            f"launch.{missing[0]}",
            rule="a surveyed elevation and its accuracy come together",
            remedy=f"write {missing[0]} too, or remove both if launch was not surveyed",
        )


def _two_radii(stated: Stated) -> None:
    bank_deg = stated.value("turns", "bank_deg")
    if bank_deg is not None and "turns.turn_anticipation_m" in stated.present:
        stated.faults.add(
            "turns.bank_deg",
            bank_deg,
            rule="turn_anticipation_m is given too, and either sets how wide turns are",
            remedy="remove one of the two",
        )


def _step_without_height(stated: Stated) -> None:
    out = stated.value("climb", "out")
    if out == "step" and "climb.take_off_height" not in stated.present:
        stated.faults.add(
            "climb.out",
            out,
            rule="a stepped climb-out needs the height at which it moves on",
            remedy="write take_off_height under [climb], in height_unit above launch",
        )


def _climb_home_without_height(stated: Stated) -> None:
    path = stated.value("way_home", "path")
    if path in _CLIMBING_HOME and "way_home.height" not in stated.present:
        stated.faults.add(
            "way_home.path",
            path,
            rule="a climb needs the height it climbs to",
            remedy="write height under [way_home], in height_unit above launch",
        )


def _below_ground(stated: Stated) -> None:
    if stated.value("", "heights") != "ground":
        return
    for number, waypoint in enumerate(stated.lists["waypoint"], start=1):
        height_m = waypoint.get("height")
        if isinstance(height_m, float) and height_m < 0:
            stated.faults.say(
                f"waypoint[{number}].height: given {height_m:.1f} m, but heights above ground "
                f"cannot be negative; write a positive height, or heights = 'launch'"
            )


def _far_above_ground(stated: Stated) -> None:
    """Heights above launch or ground are bounded closer than those above sea level."""
    if stated.unit is None or stated.value("", "heights") in ("sea-level", "ellipsoid"):
        return
    metres = METRES_PER_UNIT[stated.unit]
    most = f"{FARTHEST_UP_M / metres:.6g}"
    for number, waypoint in enumerate(stated.lists["waypoint"], start=1):
        height_m = waypoint.get("height")
        if isinstance(height_m, float) and not height_m <= FARTHEST_UP_M:
            stated.faults.say(
                f"waypoint[{number}].height: given {height_m / metres:.10g}, but it must be a "
                f"number from -{most} to {most} {stated.unit}; write the waypoint's height, for "
                f"example height = 60"
            )


def _places(stated: Stated) -> dict[str, tuple[float, float]]:
    """Return every place of the file by where it stands, launch first."""
    single = {name: stated.tables[name] for name in ("launch", "home", "pilot")}
    many = {
        f"{table}[{number}]": item
        for table in ("waypoint", "subject", "observer")
        for number, item in enumerate(stated.lists[table], start=1)
    }
    first = {"launch": single.pop("launch")}
    found: dict[str, tuple[float, float]] = {}
    for where, values in (first | many | single).items():
        lat, lon = values.get("lat"), values.get("lon")
        if isinstance(lat, float) and isinstance(lon, float):
            found[where] = (lat, lon)
    return found

"""Which line of a file is the route: the only one, or the one that is asked for.

KML and GPX files may hold several lines, and points beside them. Which of them
is flown is never guessed.
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import TYPE_CHECKING

from terrain_guard.errors import RefusedRoute
from terrain_guard.plan.draft import MOST_POINTS
from terrain_guard.plan.reading import listed, shown
from terrain_guard.plan.written_numbers import degrees_meant, number_of

if TYPE_CHECKING:
    from collections.abc import Sequence

    from terrain_guard.plan.line_heights import Point
    from terrain_guard.plan.reading import Faults

POINTS = "points"
"""How the points beside all lines are asked for."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Line:
    """Points in order, as a file holds them."""

    name: str
    points: Sequence[Point]
    mode: str = ""  # what its heights are said to count from, in the format's own word
    broken: str = ""  # a clause: why it cannot be flown as one line; empty if it can


def chosen(
    lines: Sequence[Line], loose: Line, *, take: str | None, ordered: bool, faults: Faults
) -> tuple[Line, tuple[str, ...]]:
    """Return the line that is the route.

    Parameters
    ----------
    lines : sequence of Line
        Those of the file, in its order.
    loose : Line
        The points beside them; where they stand at the line's own points, they name them.
    take : str or None
        What is asked for: a line's number or name, or "points".
    ordered : bool
        Whether loose points alone are a route in the order of the file.
    faults : Faults
        What was found before; raised with what is found here.

    Returns
    -------
    Line, tuple of str
        One that can be flown, of at most `MOST_POINTS` points; and what it leaves unused.

    Raises
    ------
    RefusedRoute
        None, or more than one, could be meant, or the line is broken or too long.
    """
    line = _named(lines, loose, take, faults) if take else _only(lines, loose, ordered, faults)
    if line is not None and _can_be_flown(line, faults):
        naming = line is not loose and _same_places(line, loose)
        unused = _left_out(lines, line, () if naming or line is loose else loose.points)
        return (_with_names(line, loose) if naming else line), unused
    raise RefusedRoute(*faults.sentences)


def _can_be_flown(line: Line, faults: Faults) -> bool:
    if len(line.points) > MOST_POINTS:
        faults.say(
            f"route: given more than {MOST_POINTS} points, but no planned route has as many; take "
            f"the plan instead of the record of a flight, or thin it out"
        )
    elif line.broken:
        faults.say(f"route: {line.broken}")
    return len(line.points) <= MOST_POINTS and not line.broken


def _left_out(lines: Sequence[Line], taken: Line, points: Sequence[Point]) -> tuple[str, ...]:
    others = sum(line is not taken for line in lines)
    lines_left = (f"{others} more line{'s' * (others > 1)}",) if others else ()
    return lines_left + ((f"{len(points)} points beside the line",) if points else ())


def angle(text: str | None, name: str, *, where: str, faults: Faults) -> float | str | None:
    """Read a latitude or longitude.

    Parameters
    ----------
    text : str or None
        As the file holds it.
    name : str
        "lat" or "lon".
    where : str
        Whose it is, for messages.
    faults : Faults
        Grows if the angle is written in another way than decimal degrees.

    Returns
    -------
    float, str or None
        Degrees; the angle that is meant where a fault was added, so that it is not reported
        twice; the text where it is no angle at all, for the schema to refuse; None if empty.
    """
    text = (text or "").strip()
    number = number_of(text)
    if number is not None or not text:
        return number
    meant = degrees_meant(text, axis=name)
    if meant is None:
        return text
    rule = "it must be in decimal degrees, " + (
        "south negative" if name == "lat" else "west negative"
    )
    faults.add(f"{where}.{name}", text, rule=rule, remedy=f"write {meant:.10g}")
    return meant


def _only(lines: Sequence[Line], loose: Line, ordered: bool, faults: Faults) -> Line | None:
    """Return the only line that can be meant."""
    if len(lines) == 1 and (not loose.points or _same_places(lines[0], loose)):
        return lines[0]
    if loose.points and ordered and not lines:
        return loose
    if not lines and not loose.points:
        faults.miss(
            "route",
            rule="a route file must hold a line or points",
            remedy="save the route as one line, or as points in flight order",
        )
    elif lines:
        beside = f" and {len(loose.points)} points" if loose.points else ""
        choices = [f"{number}" for number in range(1, len(lines) + 1)]
        choices += [POINTS] if loose.points else []
        faults.say(
            f"route: given {_listed(lines)}{beside}, but one of them is flown; "
            f"give --take {' or --take '.join(choices[-4:])}, or a line's name"
        )
    else:
        faults.say(
            f"route: given {len(loose.points)} points without a line, but the format does not "
            f"say in which order they are flown; give --take points if it is that of the file"
        )
    return None


def _named(lines: Sequence[Line], loose: Line, take: str, faults: Faults) -> Line | None:
    """Return the line that is asked for."""
    if take == POINTS and loose.points:
        return loose
    if take.isascii() and take.isdigit() and 1 <= int(take[:9]) <= len(lines):
        return lines[int(take) - 1]
    found = [line for line in lines if line.name == take]
    if len(found) == 1:
        return found[0]
    known = [str(number) for number in range(1, len(lines) + 1)]
    known += [POINTS] if loose.points else []
    rule = "several lines have that name" if found else f"the file holds {_listed(lines)}"
    remedy = f"give {listed(known[-9:])}" if known else "save the route as one line"
    faults.add("--take", take, rule=rule, remedy=remedy)
    return None


def _listed(lines: Sequence[Line]) -> str:
    """Return the number of lines, and the names of the first few."""
    if not lines:
        return "no line"
    names = [f"{number} {shown(line.name)}" for number, line in enumerate(lines, start=1)]
    more = ", …" if len(names) > 9 else ""
    return f"{len(lines)} line{'s' * (len(lines) > 1)} ({', '.join(names[:9])}{more})"


def _same_places(line: Line, loose: Line) -> bool:
    def places(points: Sequence[Point]) -> list[tuple[float | str | None, ...]]:
        texts = ((str(point.get("lat")), str(point.get("lon"))) for point in points)
        return [tuple(number_of(text) or text for text in pair) for pair in texts]

    return len(line.points) == len(loose.points) and places(line.points) == places(loose.points)


def _with_names(line: Line, loose: Line) -> Line:
    """Give a line's points the names of those that stand at the same places."""
    pairs = zip(line.points, loose.points, strict=True)
    named = [
        {**point, "name": beside["name"]} if "name" in beside else point for point, beside in pairs
    ]
    return replace(line, points=named)

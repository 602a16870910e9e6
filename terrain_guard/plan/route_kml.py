"""A route in OGC KML: a LineString, or Placemarks with a Point each, in order.

OGC 07-147r2 (KML 2.2) and 12-007r2 (2.3): coordinates are lon,lat[,alt] in WGS 84
degrees and metres, alt 0 where it is not given; `altitudeMode` says what it counts
from, and clampToGround, the default, takes it out of account.
"""

from __future__ import annotations

from dataclasses import dataclass, field
from typing import TYPE_CHECKING, Final

from terrain_guard.errors import RefusedRoute
from terrain_guard.plan.draft import MOST_POINTS, Draft
from terrain_guard.plan.line_heights import FileHeights, settle
from terrain_guard.plan.lines import Line, angle, chosen
from terrain_guard.plan.reading import Faults, shown
from terrain_guard.plan.told import without_idle
from terrain_guard.plan.written_numbers import number_of

if TYPE_CHECKING:
    from collections.abc import Collection, Iterable, Sequence

    from terrain_guard.plan.draft import Format, RawFile
    from terrain_guard.plan.line_heights import Point
    from terrain_guard.plan.told import Told
    from terrain_guard.plan.xml_file import Node

EXTENSIONS: Final = frozenset({"http://www.google.com/kml/ext/2.2"})
"""The namespace in which KML 2.2 files write the sea floor modes."""
_HOLDING: Final = frozenset({"Document", "Folder", "Placemark", "MultiGeometry"})
_MODES: Final = frozenset({"altitudeMode", "seaFloorAltitudeMode"})
_NOT_READ: Final = frozenset({"Polygon", "Track", "MultiTrack", "Model"})
KEPT: Final = (
    _HOLDING
    | _MODES
    | _NOT_READ
    | {"LineString", "Point", "coordinates", "name", "NetworkLink", "Link", "Url", "href"}
)
_CLAMPED: Final = "clampToGround"


@dataclass(slots=True)
class _Content:
    """What the documents of one file hold, in their order."""

    title: str = ""
    lines: list[Line] = field(default_factory=list)
    loose: list[Line] = field(default_factory=list)  # each of one point
    links: list[str] = field(default_factory=list)
    not_read: set[str] = field(default_factory=set)


def links_of(root: Node) -> list[str]:
    """Return the files that a document links to."""
    content = _Content()
    _collect(root, "", content)
    return content.links


def draft_of_documents(
    roots: Iterable[Node],
    *,
    raw: RawFile,
    format_: Format,
    followed: Collection[str] = (),
    told: Told,
) -> Draft:
    """Return what a KML file or archive says, with what is told apart from it.

    Parameters
    ----------
    roots : iterable of Node
        Its documents, read; those of links that were `followed` among them.
    raw, format_ : RawFile, str
        The file they came from.
    told : Told
        What is told apart from it.

    Raises
    ------
    RefusedRoute
        It does not hold one line that is the route.
    """
    faults = Faults(raw.file)
    told = without_idle(told, {"--columns"}, format_=format_, faults=faults)
    content = _Content()
    for root in roots:
        _collect(root, "", content)
    content.links = [link for link in content.links if link not in followed]
    _refuse_mere_links(content, faults)
    loose = _loose(content, faults)
    line, left = chosen(content.lines, loose, take=told.take, ordered=True, faults=faults)
    points = [_point(point, f"waypoint[{n}]", faults) for n, point in enumerate(line.points, 1)]
    points, found, notes = _heights(points, line.mode, faults)
    settled, said = settle(points, found, told=told, faults=faults)
    title = (line.name if line is not loose else "") or content.title
    return Draft(
        file=raw.file,
        format=format_,
        sha256=raw.sha256,
        content=({"title": title} if title else {}) | settled,
        notes=(said, *(notes if told.fly_at is None else ())),
        unused=left + tuple(sorted(content.not_read)),
        faults=tuple(faults.sentences),
    )


def _collect(node: Node, name: str, content: _Content) -> None:
    """Add what stands in an element and below it; nesting is bounded by the XML reader."""
    own_name = node.text_of("name")
    if node.name == "Document" and not content.title:
        content.title = own_name
    for child in node.children:
        if child.name == "LineString":
            content.lines.append(_line(child, own_name or name))
        elif child.name == "Point":
            content.loose.append(_line(child, own_name))
        elif child.name == "NetworkLink":
            content.links += [link.text_of("href") for link in child.children]
        elif child.name in _NOT_READ:
            content.not_read.add(f"{child.name} elements")
        elif child.name in _HOLDING:
            _collect(child, own_name or name, content)


def _line(node: Node, name: str) -> Line:
    """Return a geometry with its coordinates as text."""
    tuples = node.text_of("coordinates").split(None, MOST_POINTS + 1)[: MOST_POINTS + 1]
    mode = next((child.text.strip() for child in node.children if child.name in _MODES), "")
    parts = [text.split(",", 3) for text in tuples]
    bad = next((text for text, part in zip(tuples, parts, strict=True) if not _sound(part)), None)
    broken = (
        f"given {shown(bad)} as coordinates, but they must be lon,lat or lon,lat,altitude with "
        f"no space inside; save the file once more from the program that wrote it"
        if bad is not None
        else ""
    )
    points = [dict(zip(("lon", "lat", "height"), part, strict=False)) for part in parts]
    return Line(name=name, points=points, mode=mode, broken=broken)


def _sound(parts: list[str]) -> bool:
    return len(parts) in {2, 3} and all(parts)


def _loose(content: _Content, faults: Faults) -> Line:
    """Return the points of all Placemarks as one line."""
    modes = {line.mode or _CLAMPED for line in content.loose}
    broken = next((line.broken for line in content.loose if line.broken), "")
    if any(len(line.points) != 1 for line in content.loose):
        faults.say("route: given a Point of no or many coordinates, but it has one; correct it")
        raise RefusedRoute(*faults.sentences)
    if len(modes) > 1:
        broken = (
            f"given points of altitudeMode {' and '.join(sorted(modes))}, but the heights of one "
            f"route all count from the same; save them with one altitudeMode"
        )
    points = [
        {**point, "name": line.name} if line.name else point
        for line in content.loose
        for point in line.points
    ]
    return Line(name="", points=points, mode=next(iter(modes), ""), broken=broken)


def _refuse_mere_links(content: _Content, faults: Faults) -> None:
    if content.links and not content.lines and not content.loose:
        faults.say(
            f"route: given a link to {shown(content.links[0])}, but links are not followed; "
            f"give the file that it leads to"
        )
        raise RefusedRoute(*faults.sentences)
    if content.links:
        content.not_read.add("NetworkLink elements")


def _point(point: Point, where: str, faults: Faults) -> Point:
    """Read the numbers of a point; what is none is left to the schema."""
    read = {name: angle(point[name], name, where=where, faults=faults) for name in ("lat", "lon")}
    if "height" in point:
        number = number_of(point["height"])
        read["height"] = point["height"] if number is None else number
    return {**point, **read}


def _heights(
    points: Sequence[Point], mode: str, faults: Faults
) -> tuple[list[Point], FileHeights, tuple[str, ...]]:
    """Return points and what their altitudes are said to be; KML's default where none is given."""
    mode = mode or _CLAMPED
    said, counts_from = _MEANING.get(mode, ("", None))
    if not said:
        faults.add(
            "altitudeMode",
            mode,
            rule="KML knows no such mode",
            remedy="write relativeToGround if heights count from the ground",
        )
    clamped = mode.startswith("clampTo")
    found = FileHeights(
        numbers="altitudes",
        present=not clamped or any(point.get("height") for point in points),
        absent=f"{said}, and none is there",
        said=said,
        counts_from=counts_from,
        cannot_say=("launch", "ellipsoid"),
        unit="m",
        unit_said="KML altitudes are in metres",
    )
    silent = sum("height" not in point for point in points)
    if clamped or not silent:
        return list(points), found, ()
    note = f"{silent} of {len(points)} waypoints have no altitude: 0 m, which KML says it is then"
    return [{"height": 0, **point} for point in points], found, (note,)


_MEANING: Final = {
    "relativeToGround": ("altitudeMode relativeToGround counts from the ground", "ground"),
    "absolute": ("altitudeMode absolute counts from sea level, the EGM96 geoid", "sea-level"),
    _CLAMPED: (
        "altitudeMode clampToGround, KML's default, takes altitudes out of account",
        None,
    ),
    "clampToSeaFloor": ("altitudeMode clampToSeaFloor takes altitudes out of account", None),
    "relativeToSeaFloor": (
        "altitudeMode relativeToSeaFloor counts from the sea floor, which no elevation model of "
        "the ground holds",
        None,
    ),
}

"""A route in GPX 1.1: the points of its only route or track.

Places are WGS 84 degrees. `ele` is an elevation in metres, and the schema does not
say above what; by convention it is mean sea level. `geoidheight` tells how far the
geoid lies above the ellipsoid there: it is no height of the flight.
"""

from __future__ import annotations

from typing import TYPE_CHECKING, Any, Final
from xml.sax.saxutils import escape

from terrain_guard.errors import RefusedRoute
from terrain_guard.plan.draft import Draft
from terrain_guard.plan.line_heights import FileHeights, settle
from terrain_guard.plan.lines import Line, angle, chosen
from terrain_guard.plan.reading import Faults, shown
from terrain_guard.plan.told import without_idle
from terrain_guard.plan.written_numbers import exact_text, number_of
from terrain_guard.units import METRES_PER_UNIT

if TYPE_CHECKING:
    from collections.abc import Iterable, Mapping

    from terrain_guard.plan.draft import RawFile
    from terrain_guard.plan.line_heights import Point
    from terrain_guard.plan.told import Told
    from terrain_guard.plan.xml_file import Node

NAMESPACE: Final = "http://www.topografix.com/GPX/1/1"
KEPT: Final = frozenset(
    {"metadata", "name", "rte", "rtept", "trk", "trkseg", "trkpt", "wpt", "ele", "geoidheight"}
)


def draft_of_document(root: Node, *, raw: RawFile, told: Told) -> Draft:
    """Return what a GPX file says, with what is told apart from it.

    Raises
    ------
    RefusedRoute
        It is not GPX 1.1, or does not hold one line that is the route.
    """
    faults = Faults(raw.file)
    _refuse_other_versions(root, faults)
    told = without_idle(told, {"--columns"}, format_="gpx", faults=faults)
    lines = [*map(_route, root.each("rte")), *map(_track, root.each("trk"))]
    loose = Line(name="", points=_points(root.each("wpt")))
    line, unused = chosen(lines, loose, take=told.take, ordered=False, faults=faults)
    points = [_read(point, f"waypoint[{n}]", faults) for n, point in enumerate(line.points, 1)]
    settled, said = settle(points, _found(points), told=told, faults=faults)
    title = line.name or next((node.text_of("name") for node in root.each("metadata")), "")
    return Draft(
        file=raw.file,
        format="gpx",
        sha256=raw.sha256,
        content=({"title": title} if title else {}) | settled,
        notes=(said,),
        unused=unused + _geoid(root),
        faults=tuple(faults.sentences),
    )


def _refuse_other_versions(root: Node, faults: Faults) -> None:
    version = root.attributes.get("version", "")
    if version != "1.1" or root.attributes["xmlns"] != NAMESPACE:
        faults.say(
            f"gpx: given version {shown(version)}, namespace {shown(root.attributes['xmlns'])}, "
            f"but it must be 1.1, {NAMESPACE}; save it as GPX 1.1 from the program that wrote it"
        )
        raise RefusedRoute(*faults.sentences)


def _route(node: Node) -> Line:
    return Line(name=node.text_of("name"), points=_points(node.each("rtept")))


def _track(node: Node) -> Line:
    """Return a track; nothing says what is flown between two of its segments."""
    segments = [points for each in node.each("trkseg") if (points := _points(each.each("trkpt")))]
    name = node.text_of("name")
    broken = (
        f"given {len(segments)} segments in the track {shown(name)}, but nothing says what is "
        f"flown between them; join them into one, or save a route (rte)"
        if len(segments) > 1
        else ""
    )
    return Line(name=name, points=[point for each in segments for point in each], broken=broken)


def _points(nodes: Iterable[Node]) -> list[Point]:
    """Return points with their numbers as text."""
    return [
        {
            **{name: node.attributes.get(name, "") for name in ("lat", "lon")},
            **{key: text for key, name in (("height", "ele"), ("name", "name"))
               if (text := node.text_of(name))},
        }
        for node in nodes
    ]  # fmt: skip


def _read(point: Point, where: str, faults: Faults) -> Point:
    """Read the numbers of a point; what is none is left to the schema."""
    read = {name: angle(point[name], name, where=where, faults=faults) for name in ("lat", "lon")}
    sound = {name: value for name, value in read.items() if value is not None}
    if "height" in point:
        number = number_of(point["height"])
        sound["height"] = point["height"] if number is None else number
    return {**({"name": point["name"]} if "name" in point else {}), **sound}


def _found(points: list[Point]) -> FileHeights:
    return FileHeights(
        numbers="ele",
        present=any("height" in point for point in points),
        absent="no point has an ele",
        said="GPX does not say what ele counts from, which by convention is sea level",
        counts_from=None,
        unit="m",
        unit_said="GPX elevations are in metres",
    )


def _geoid(root: Node) -> tuple[str, ...]:
    """Say that geoid heights were there; they are no heights of the flight."""
    inside = [root]
    for node in inside:
        if node.name == "geoidheight":
            return ("geoidheight elements",)
        inside += node.children
    return ()


def write(content: Mapping[str, Any]) -> bytes:
    """Write the waypoints as a GPX route: places, and heights above sea level as ele.

    Parameters
    ----------
    content : mapping
        Of a route file whose `heights` are "sea-level", or absent: then only places are written.

    >>> points = [{"name": "gate", "lat": 47.3131, "lon": -28.4046}]
    >>> print(write({"waypoint": points}).decode(), end="")
    <?xml version="1.0" encoding="UTF-8"?>
    <gpx xmlns="http://www.topografix.com/GPX/1/1" version="1.1" creator="Terrain Guard"><rte>
    <rtept lat="47.3131" lon="-28.4046"><name>gate</name></rtept>
    </rte></gpx>
    """
    title = [_name(content)] if "title" in content else []
    metres = METRES_PER_UNIT[content["height_unit"]] if "heights" in content else None
    points = [
        f'<rtept lat="{exact_text(point["lat"])}" lon="{exact_text(_west_of_180(point["lon"]))}">'
        f"{_elevation(point, metres)}{_name(point)}</rtept>"
        for point in content["waypoint"]
    ]
    lines = (
        '<?xml version="1.0" encoding="UTF-8"?>',
        f'<gpx xmlns="{NAMESPACE}" version="1.1" creator="Terrain Guard"><rte>',
        *title,
        *points,
        "</rte></gpx>\n",
    )
    return "\n".join(lines).encode("utf-8")


def _elevation(point: Mapping[str, Any], metres: float | None) -> str:
    return "" if metres is None else f"<ele>{exact_text(point['height'] * metres)}</ele>"


def _name(thing: Mapping[str, Any]) -> str:
    name = thing.get("name", thing.get("title"))
    return "" if name is None else f"<name>{escape(name)}</name>"


def _west_of_180(lon_deg: float) -> float:
    """Return a longitude as the schema's longitudeType allows it: from -180, below 180."""
    return -180 if lon_deg == 180 else lon_deg

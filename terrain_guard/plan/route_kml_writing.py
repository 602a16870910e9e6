"""Waypoints as OGC KML (07-147r2): a LineString, and a Placemark for each if they have names."""

from __future__ import annotations

import io
import zipfile
from typing import TYPE_CHECKING, Any, Final
from xml.sax.saxutils import escape

from terrain_guard.plan.written_numbers import exact_text
from terrain_guard.units import METRES_PER_UNIT

if TYPE_CHECKING:
    from collections.abc import Iterator, Mapping

_MODES: Final = {None: "clampToGround", "ground": "relativeToGround", "sea-level": "absolute"}


def write(content: Mapping[str, Any]) -> bytes:
    """Write the waypoints of a route file.

    Parameters
    ----------
    content : mapping
        Its `heights` are "ground" or "sea-level", or absent: then only places are written.

    Returns
    -------
    bytes
        KML whose altitudes are metres above the ground under each waypoint
        (relativeToGround), above sea level (absolute), or none.
    """
    return ("\n".join(_lines(content)) + "\n").encode("utf-8")


def write_archive(content: Mapping[str, Any]) -> bytes:
    """Write the same as a KMZ archive; the same bytes whenever it is written."""
    stream = io.BytesIO()
    entry = zipfile.ZipInfo("doc.kml", date_time=(1980, 1, 1, 0, 0, 0))
    entry.compress_type = zipfile.ZIP_DEFLATED
    with zipfile.ZipFile(stream, "w") as archive:
        archive.writestr(entry, write(content))
    return stream.getvalue()


def _lines(content: Mapping[str, Any]) -> Iterator[str]:
    points = content["waypoint"]
    metres = METRES_PER_UNIT[content["height_unit"]] if "heights" in content else None
    mode = _MODES[content.get("heights")]
    tuples = [_coordinates(point, metres) for point in points]
    yield '<?xml version="1.0" encoding="UTF-8"?>'
    yield '<kml xmlns="http://www.opengis.net/kml/2.2"><Document>'
    yield _name(content.get("title"))
    drape = "<tessellate>1</tessellate>" if metres is None else ""
    start = f"{drape}<altitudeMode>{mode}</altitudeMode><coordinates>"
    yield f"<Placemark>{_name(content.get('title'))}<LineString>{start}"
    yield from tuples
    yield "</coordinates></LineString></Placemark>"
    if any("name" in point for point in points):
        start = f"<Point><altitudeMode>{mode}</altitudeMode><coordinates>"
        for point, text in zip(points, tuples, strict=True):
            name = _name(point.get("name"))
            yield f"<Placemark>{name}{start}{text}</coordinates></Point></Placemark>"
    yield "</Document></kml>"


def _name(name: str | None) -> str:
    return "" if name is None else f"<name>{escape(name)}</name>"


def _coordinates(point: Mapping[str, Any], metres: float | None) -> str:
    numbers = [point["lon"], point["lat"]]
    numbers += [] if metres is None else [point["height"] * metres]
    return ",".join(exact_text(number) for number in numbers)

"""Any route file: TOML, GeoJSON, CSV, KML, KMZ or GPX, told apart by content and ending."""

from __future__ import annotations

import re
from dataclasses import replace
from pathlib import Path
from typing import TYPE_CHECKING, Final

from terrain_guard.errors import RefusedRoute
from terrain_guard.plan.draft import Draft, Format, RawFile
from terrain_guard.plan.file_bytes import read_bytes
from terrain_guard.plan.reading import Faults, shown
from terrain_guard.plan.route_from_draft import build_route
from terrain_guard.plan.told import NOTHING_TOLD, without_idle

if TYPE_CHECKING:
    from collections.abc import Mapping

    from terrain_guard.plan.draft import LaunchGiven
    from terrain_guard.plan.route import Route
    from terrain_guard.plan.told import Told

MOST_BYTES: Final = 20_000_000
"""Larger files are refused: no plan of a flight is near that."""
ENDINGS: Final[Mapping[str, Format]] = {
    ".toml": "toml",
    ".geojson": "geojson",
    ".json": "geojson",
    ".csv": "csv",
    ".tsv": "csv",
    ".kml": "kml",
    ".kmz": "kmz",
    ".gpx": "gpx",
}
_ARCHIVE: Final = b"PK\x03\x04"
_MARKS: Final[Mapping[bytes, str]] = {
    b"\xff\xfe": "utf-16-le",
    b"\xfe\xff": "utf-16-be",
    b"\xef\xbb\xbf": "utf-8",
}


def read_route(path: str | Path, *, launch: LaunchGiven = None, told: Told = NOTHING_TOLD) -> Route:
    """Read a route file of any format.

    Parameters
    ----------
    path : str or Path
        The file. Its content decides the format, and its ending where the content does not.
    launch : (lat, lon) or "first", optional
        Degrees; replaces the file's launch place, and drops an elevation surveyed there.
        "first" is the place of the first waypoint. CSV, KML, KMZ and GPX files do not hold
        a launch, and are refused without this.
    told : Told
        What the file leaves open, such as what its heights count from.

    Returns
    -------
    Route
        In metres. `assumed` tells what its heights were measured from and which default
        stands for what was not stated, `unused` what of the file plays no part.

    Raises
    ------
    RefusedRoute
        With every fault found, one sentence each: file, place in it, what was given, rule,
        remedy; of a long table the first fifty.
    """
    return build_route(read_draft(read_raw(path), told), launch=launch)


def read_raw(path: str | Path) -> RawFile:
    """Read the bytes of a route file.

    Raises
    ------
    RefusedRoute
        It is missing, unreadable, or larger than `MOST_BYTES`.
    """
    data = read_bytes(path, what="route file", refuse=RefusedRoute, most_bytes=MOST_BYTES)
    return RawFile(file=Path(path).name, data=data)


def read_draft(raw: RawFile, told: Told) -> Draft:
    """Return what a route file says, not judged yet.

    Raises
    ------
    RefusedRoute
        It cannot be read at all.
    """
    format_ = format_of(raw)
    if format_ == "toml":
        return _from_toml(raw, told)
    if format_ == "geojson":
        from terrain_guard.plan.route_geojson import draft_of
    elif format_ == "csv":
        from terrain_guard.plan.route_csv import draft_of
    elif format_ == "kmz":
        from terrain_guard.plan.route_kmz import draft_of
    else:
        return _from_xml(raw, told)
    return draft_of(raw, told)


def format_of(raw: RawFile) -> Format:
    """Return the format of a file; "kml" for any XML.

    >>> format_of(RawFile(file="a.txt", data=b"<gpx/>"))
    'kml'
    >>> format_of(RawFile(file="a.txt", data=b"lat;lon"))
    'csv'
    """
    start = _start(raw.data)
    if raw.data.startswith(_ARCHIVE):
        return "kmz"
    if start.startswith("<"):
        return "kml"
    if start.startswith("{"):
        return "geojson"
    ending = Path(raw.file).suffix.lower()
    if ending in ENDINGS:
        return ENDINGS[ending]
    # A line of TOML has an =, or begins with a bracket; a header of CSV need not.
    line = next((line for line in start.splitlines() if line.strip()), "")
    table = re.search("[,;\t]", line) and "=" not in line and line[0] not in "[#"
    return "csv" if table else "toml"


def _start(data: bytes) -> str:
    """Return the first characters of a file, whatever its encoding; blanks before them left out."""
    mark = next((mark for mark in _MARKS if data.startswith(mark)), b"")
    text = data[len(mark) : 4096].decode(_MARKS.get(mark, "utf-8"), "replace")
    return text.lstrip()


def _from_toml(raw: RawFile, told: Told) -> Draft:
    from terrain_guard.plan.route_toml import draft_of

    faults = Faults(raw.file)
    without_idle(told, set(told.options), format_="toml", faults=faults)
    return replace(draft_of(raw), faults=tuple(faults.sentences))


def _from_xml(raw: RawFile, told: Told) -> Draft:
    """Return what a KML or GPX file says: its root tells which it is."""
    from terrain_guard.plan import route_gpx, route_kml, xml_file

    root = xml_file.read_xml(
        raw.data,
        file=raw.file,
        keep=route_kml.KEPT | route_gpx.KEPT,
        also_from=route_kml.EXTENSIONS,
    )
    if root.name == "gpx":
        return route_gpx.draft_of_document(root, raw=raw, told=told)
    if root.name == "kml":
        return route_kml.draft_of_documents([root], raw=raw, format_="kml", told=told)
    message = (
        f"{raw.file}: given XML whose root is {shown(root.name)}, but a route is kml or gpx; "
        f"save it as one of these."
    )
    raise RefusedRoute(message)

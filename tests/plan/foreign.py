"""Route files of other formats that tests start from, and how they are read."""

from __future__ import annotations

import io
import shutil
import subprocess
import zipfile
from typing import TYPE_CHECKING, Any

import pytest

from terrain_guard.errors import RefusedRoute
from terrain_guard.plan.route_files import read_route
from terrain_guard.plan.told import Told
from tests.plan.samples import write

if TYPE_CHECKING:
    from collections.abc import Mapping
    from pathlib import Path

    from terrain_guard.plan.draft import LaunchGiven
    from terrain_guard.plan.route import Route

PLACES = [(47.3131, -28.4046), (47.314015, -28.404045), (47.32, -28.4)]
"""Latitude and longitude of three points on an invented island in the open ocean."""
LAUNCH = (47.3124, -28.4051)
LAUNCH_TOLD = Told(heights="launch")
TUPLES = "-28.4046,47.3131,60 -28.404045,47.314015,82.5 -28.4,47.32,70"
"""The same three as KML has them: longitude first, with altitudes."""
OGC_KML = "http://www.opengis.net/kml/2.2"  # OGC 07-147r2, clause 2
GPX_1_1 = "http://www.topografix.com/GPX/1/1"  # target namespace of the GPX 1.1 schema

ogr2ogr = pytest.mark.skipif(
    shutil.which("ogr2ogr") is None, reason="needs GDAL's program ogr2ogr (Debian: gdal-bin)"
)


def kml(*placemarks: str, root: str = f'kml xmlns="{OGC_KML}"') -> str:
    """Return a KML document."""
    inside = "".join(f"<Placemark>{one}</Placemark>" for one in placemarks)
    name = root.partition(" ")[0]
    return f'<?xml version="1.0"?><{root}><Document>{inside}</Document></{name}>'


def line(coordinates: str = TUPLES, mode: str | None = None, tag: str = "altitudeMode") -> str:
    """Return a LineString."""
    said = "" if mode is None else f"<{tag}>{mode}</{tag}>"
    return f"<LineString>{said}<coordinates>{coordinates}</coordinates></LineString>"


def gpx(inside: str, *, version: str = "1.1", space: str = GPX_1_1) -> str:
    """Return a GPX document."""
    return f'<gpx version="{version}" creator="a test" xmlns="{space}">{inside}</gpx>'


def gpx_points(tag: str, heights: tuple[float | None, ...] = (60, 82.5, 70)) -> str:
    """Return the three points as GPX has them."""
    return "".join(
        f'<{tag} lat="{lat}" lon="{lon}">{"" if h is None else f"<ele>{h}</ele>"}</{tag}>'
        for (lat, lon), h in zip(PLACES, heights, strict=True)
    )


def kmz(files: Mapping[str, str | bytes]) -> bytes:
    """Return a ZIP archive, deflated."""
    stream = io.BytesIO()
    with zipfile.ZipFile(stream, "w", zipfile.ZIP_DEFLATED) as archive:
        for name, content in files.items():
            archive.writestr(name, content)
    return stream.getvalue()


def read(
    folder: Path,
    name: str,
    content: str | bytes,
    *,
    launch: LaunchGiven = LAUNCH,
    **told: Any,
) -> Route:
    """Write a file and read it."""
    return read_route(write(folder, content, name), launch=launch, told=Told(**told))


def refused(
    folder: Path,
    name: str,
    content: str | bytes,
    *,
    launch: LaunchGiven = LAUNCH,
    **told: Any,
) -> tuple[str, ...]:
    """Return the sentences with which a file is refused; each is one, and ends as one."""
    path = write(folder, content, name)
    with pytest.raises(RefusedRoute) as caught:
        read_route(path, launch=launch, told=Told(**told))
    assert all(sentence.endswith(".") and "\n" not in sentence for sentence in caught.value.faults)
    assert all(sentence.startswith(name) for sentence in caught.value.faults)
    return caught.value.faults


def one_refusal(folder: Path, name: str, content: str | bytes, **given: Any) -> str:
    """Return the one sentence with which a file is refused."""
    (sentence,) = refused(folder, name, content, **given)
    return sentence


def places(route: Route) -> list[tuple[float, float]]:
    """Return latitude and longitude of every waypoint."""
    return [(waypoint.lat_deg, waypoint.lon_deg) for waypoint in route.waypoints]


def heights_m(route: Route) -> list[float]:
    """Return the height of every waypoint."""
    return [waypoint.height_m for waypoint in route.waypoints]


def run(*command: str | Path, folder: Path) -> str:
    """Run another program and return what it prints."""
    words = [str(word) for word in command]
    done = subprocess.run(words, capture_output=True, check=True, text=True, cwd=folder)
    return done.stdout

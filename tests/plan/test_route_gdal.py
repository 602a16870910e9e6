"""GDAL's own drivers as the second opinion: theirs we read, ours they load.

GDAL/OGR drivers KML, LIBKML, GPX and GeoJSON, through the programs ogr2ogr and ogrinfo.
"""

from __future__ import annotations

import json
import subprocess
from typing import TYPE_CHECKING, Any

import pytest

from terrain_guard.plan.convert import convert
from terrain_guard.plan.route_files import read_route
from terrain_guard.plan.told import Told
from tests.plan.foreign import LAUNCH, heights_m, ogr2ogr, places, run
from tests.plan.samples import EVERY_TABLE, changed, write

if TYPE_CHECKING:
    from pathlib import Path

    from terrain_guard.plan.draft import Format

pytestmark = ogr2ogr

PLACES = [(47.313112345, -28.404612345), (47.314015, -28.404045), (-0.5, 0.25)]
HEIGHTS = [60.0, 82.5, 70.25]
LAUNCH_HERE: Any = PLACES[0]
TOLD = Told(heights="launch")


def given_to_gdal(folder: Path, kind: str, *options: str, to: str, driver: str) -> Path:
    """Let GDAL write the three points, as a line or as points, in a format."""
    triples = [f"{lon} {lat} {h}" for (lat, lon), h in zip(PLACES, HEIGHTS, strict=True)]
    shapes = [f"LINESTRING Z ({','.join(triples)})"] if kind == "line" else [
        f"POINT Z ({triple})" for triple in triples
    ]  # fmt: skip
    rows = "".join(f'"n{number}","{shape}"\n' for number, shape in enumerate(shapes, start=1))
    source = write(folder, f"name,wkt\n{rows}", "source.csv")
    geometry = {"line": "LINESTRING25D", "points": "POINT25D"}[kind]
    words = ["-oo", "GEOM_POSSIBLE_NAMES=wkt", "-oo", "KEEP_GEOM_COLUMNS=NO", "-nlt", geometry]
    run(
        "ogr2ogr", "-f", driver, folder / to, source, "-a_srs", "EPSG:4326", *words, *options,
        folder=folder,
    )  # fmt: skip
    return folder / to


def as_geojson(folder: Path, file: Path, *layers: str) -> list[dict[str, Any]]:
    """Let GDAL load a file, and return its features as GeoJSON."""
    (folder / "loaded.geojson").unlink(missing_ok=True)
    run("ogr2ogr", "-f", "GeoJSON", "-lco", "COORDINATE_PRECISION=15", "loaded.geojson", file,
        *layers, folder=folder)  # fmt: skip
    return json.loads((folder / "loaded.geojson").read_text())["features"]


def lon_lat(positions: list[list[float]]) -> list[tuple[float, float]]:
    """Return GeoJSON positions as latitude and longitude."""
    return [(position[1], position[0]) for position in positions]


@pytest.mark.parametrize(
    ("driver", "to", "options"),
    [
        ("KML", "a.kml", ()),
        ("KML", "a.kml", ("-dsco", "AltitudeMode=absolute")),
        ("LIBKML", "a.kml", ()),
        ("LIBKML", "a.kmz", ()),
    ],
)
@pytest.mark.parametrize("kind", ["line", "points"])
def test_gdal_s_kml_is_read(
    tmp_path: Path, driver: str, to: str, options: tuple[str, ...], kind: str
) -> None:
    """The coordinates that GDAL was given, from both of its KML drivers."""
    route = read_route(
        given_to_gdal(tmp_path, kind, *options, to=to, driver=driver), launch=LAUNCH_HERE, told=TOLD
    )
    # Both drivers write 15 significant digits.
    assert places(route) == [pytest.approx(place, abs=1e-12) for place in PLACES]
    assert heights_m(route) == HEIGHTS
    if kind == "points":
        assert [waypoint.name for waypoint in route.waypoints] == ["n1", "n2", "n3"]


def test_gdal_s_relative_kml_is_above_ground(tmp_path: Path) -> None:
    """The driver's own option for the mode."""
    file = given_to_gdal(
        tmp_path, "line", "-dsco", "AltitudeMode=relativeToGround", to="a.kml", driver="KML"
    )
    assert read_route(file, launch=LAUNCH_HERE).heights == "ground"


@pytest.mark.parametrize(
    ("kind", "option", "take"),
    [
        ("line", "FORCE_GPX_ROUTE=YES", None),
        ("line", "FORCE_GPX_TRACK=YES", None),
        ("points", "FORCE_GPX_ROUTE=NO", "points"),
    ],
)
def test_gdal_s_gpx_is_read(tmp_path: Path, kind: str, option: str, take: str | None) -> None:
    """The coordinates that GDAL was given, as route, track and waypoints."""
    file = given_to_gdal(tmp_path, kind, "-lco", option, to="a.gpx", driver="GPX")
    flat = "<ele>" not in file.read_text()  # this driver writes no ele for waypoints
    told = Told(heights="launch", take=take, fly_at=(60.0, "m") if flat else None)
    route = read_route(file, launch=LAUNCH_HERE, told=told)
    assert places(route) == [pytest.approx(place, abs=1e-9) for place in PLACES]
    assert heights_m(route) == ([60.0] * 3 if flat else HEIGHTS)


ROUTE = changed(
    EVERY_TABLE,
    {
        "heights": "ground",
        "title": "Out & back",
        **{f"waypoint.{n}.name": f"<{n}>" for n in range(3)},
        "waypoint.0.lat": 47.313112345678,
    },
)
PAIRS = [(item["lat"], item["lon"]) for item in ROUTE["waypoint"]]


def ours(folder: Path, to: Format, *, without_heights: bool = False) -> Path:
    """Write the route in a format."""
    made = convert(write(folder, ROUTE), to=to, without_heights=without_heights)
    return write(folder, made.content, f"ours.{to}")


@pytest.mark.parametrize("lco", [(), ("-lco", "RFC7946=YES", "-lco", "COORDINATE_PRECISION=15")])
def test_geojson_survives_gdal(tmp_path: Path, lco: tuple[str, ...]) -> None:
    """Loaded and written again by GDAL, it is still the same route."""
    file = ours(tmp_path, "geojson")
    run("ogr2ogr", "-f", "GeoJSON", "again.geojson", file, *lco, folder=tmp_path)
    one, other = read_route(file), read_route(tmp_path / "again.geojson")
    assert [waypoint.name for waypoint in other.waypoints] == ["<0>", "<1>", "<2>"]
    assert places(other) == [pytest.approx(place, abs=1e-12) for place in PAIRS]
    assert other.assumed == one.assumed
    assert heights_m(other) == heights_m(one)


def test_ours_as_geojson_is_loaded(tmp_path: Path) -> None:
    """Every feature with its place and role."""
    features = as_geojson(tmp_path, ours(tmp_path, "geojson"))
    assert [feature["properties"]["role"] for feature in features] == [
        "launch", "waypoint", "waypoint", "waypoint", "subject", "observer",
    ]  # fmt: skip
    positions = [feature["geometry"]["coordinates"] for feature in features[1:4]]
    assert lon_lat(positions) == PAIRS


@pytest.mark.parametrize(("driver", "to"), [("KML", "kml"), ("LIBKML", "kml"), ("LIBKML", "kmz")])
def test_ours_as_kml_is_loaded(tmp_path: Path, driver: str, to: Format) -> None:
    """By both of GDAL's KML drivers: a line and its points, places and heights."""
    file = ours(tmp_path, to)
    other = {"KML": "LIBKML", "LIBKML": "KML"}[driver]
    options = ("--config", "OGR_SKIP", other)
    told = run("ogrinfo", "-ro", "-al", file, *options, folder=tmp_path)
    assert f"using driver `{driver}'" in told
    assert told.count("LINESTRING Z (") == 1
    features = as_geojson(tmp_path, file, *options)
    line = next(f for f in features if f["geometry"]["type"] == "LineString")
    assert lon_lat(line["geometry"]["coordinates"]) == PAIRS
    heights = [position[2] for position in line["geometry"]["coordinates"]]
    assert heights == [60, 75.5, 80]
    points = [f for f in features if f["geometry"]["type"] == "Point"]
    assert [point["properties"]["Name"] for point in points] == ["<0>", "<1>", "<2>"]


def test_ours_as_gpx_is_loaded(tmp_path: Path) -> None:
    """A route of three points with names, and no elevation."""
    file = ours(tmp_path, "gpx", without_heights=True)
    (route,) = as_geojson(tmp_path, file, "routes")
    assert lon_lat(route["geometry"]["coordinates"]) == [
        pytest.approx(place, abs=1e-12) for place in PAIRS
    ]
    assert route["properties"]["name"] == "Out & back"
    points = as_geojson(tmp_path, file, "route_points")
    assert [point["properties"]["name"] for point in points] == ["<0>", "<1>", "<2>"]
    assert all(point["properties"].get("ele") is None for point in points)


def test_ours_as_csv_is_loaded(tmp_path: Path) -> None:
    """As points, by the headers of the places."""
    file = ours(tmp_path, "csv")
    options = ("-oo", "X_POSSIBLE_NAMES=lon", "-oo", "Y_POSSIBLE_NAMES=lat")
    run("ogr2ogr", "-f", "GeoJSON", "-lco", "COORDINATE_PRECISION=15", "loaded.geojson", file,
        *options, folder=tmp_path)  # fmt: skip
    features = json.loads((tmp_path / "loaded.geojson").read_text())["features"]
    assert lon_lat([feature["geometry"]["coordinates"] for feature in features]) == PAIRS
    assert [feature["properties"]["above_ground_m"] for feature in features] == ["60", "75.5", "80"]


def test_a_refused_file_is_one_that_gdal_would_read(tmp_path: Path) -> None:
    """The refusal of a third coordinate is ours: GDAL takes it for an elevation."""
    file = given_to_gdal(tmp_path, "points", to="a.geojson", driver="GeoJSON")
    assert run("ogrinfo", "-ro", "-al", file, folder=tmp_path).count("POINT Z") == 3
    with pytest.raises(ValueError, match=r"feature 1.role: given None"):
        read_route(file, launch=LAUNCH)


def test_ogr2ogr_complains_of_what_it_cannot_load(tmp_path: Path) -> None:
    """The second opinion can say no: a broken file fails in it."""
    with pytest.raises(subprocess.CalledProcessError):
        as_geojson(tmp_path, write(tmp_path, "<kml><a></kml>", "a.kml"))

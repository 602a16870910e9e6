"""Routes in GeoJSON: RFC 7946 (2016) for places, a profile of our own for the rest."""

from __future__ import annotations

import json
from typing import TYPE_CHECKING, Any

import pytest

from terrain_guard.plan.json_file import MOST_BYTES
from terrain_guard.plan.route_files import read_route
from tests.plan import samples
from tests.plan.foreign import LAUNCH, PLACES, heights_m, one_refusal, places, read, refused

if TYPE_CHECKING:
    from pathlib import Path


def feature(role: str | None, lat: float, lon: float, **keys: Any) -> dict[str, Any]:
    """Return a Point feature."""
    return {
        "type": "Feature",
        "geometry": {"type": "Point", "coordinates": [lon, lat]},
        "properties": keys if role is None else {"role": role, **keys},
    }


def collection(**changes: Any) -> dict[str, Any]:
    """Return a route, with members changed; None removes one."""
    route: dict[str, Any] = {
        "type": "FeatureCollection",
        "terrain_guard": {"heights": "launch", "height_unit": "m"},
        "features": [
            feature("launch", *LAUNCH, spot_within_m=5),
            *(feature("waypoint", *place, height=60 + n) for n, place in enumerate(PLACES)),
        ],
        **changes,
    }
    return {name: value for name, value in route.items() if value is not None}


def file_of(**changes: Any) -> str:
    """Return the same as text."""
    return json.dumps(collection(**changes))


def with_feature(changed: Any, number: int = 1) -> str:
    """Return a route with one feature in the place of another."""
    features = collection()["features"]
    features[number] = changed
    return file_of(features=features)


def test_longitude_comes_first(tmp_path: Path) -> None:
    """RFC 7946, 3.1.1: "longitude and latitude, or easting and northing, precisely in that order".

    The order of the features is the order of flight.
    """
    route = read(tmp_path, "a.geojson", file_of(), launch=None)
    assert places(route) == PLACES
    assert heights_m(route) == [60, 61, 62]
    assert (route.launch.lat_deg, route.launch.lon_deg, route.launch.spot_within_m) == (*LAUNCH, 5)
    assert (route.heights, route.height_unit) == ("launch", "m")


def test_it_holds_what_a_toml_file_holds(tmp_path: Path) -> None:
    """Every table, and features of every role: the same route as from TOML."""
    stated = samples.write(tmp_path, samples.EVERY_TABLE)
    tables = {
        name: value
        for name, value in samples.EVERY_TABLE.items()
        if name not in {"launch", "waypoint", "subject", "observer"}
    }
    features = [feature("launch", **samples.EVERY_TABLE["launch"])] + [
        feature(role, **item)
        for role in ("observer", "waypoint", "subject")
        for item in samples.EVERY_TABLE[role]
    ]
    text = file_of(terrain_guard=tables, features=features)
    one, other = read_route(stated), read(tmp_path, "a.geojson", text, launch=None)
    for name in ("waypoints", "launch", "home", "turns", "climb", "after_last", "assumed"):
        assert getattr(one, name) == getattr(other, name)
    assert sorted(one.unused) == sorted(other.unused)


@pytest.mark.parametrize("third", [60, 60.5, 0, None, "up"])
def test_a_third_coordinate_is_refused(tmp_path: Path, third: object) -> None:
    """RFC 7946, section 4, makes it a height above the WGS 84 ellipsoid (second-hand)."""
    changed = feature("waypoint", *PLACES[0], height=60)
    changed["geometry"]["coordinates"].append(third)
    sentence = one_refusal(tmp_path, "a.geojson", with_feature(changed), launch=None)
    assert f"feature 2.geometry: given {third!r}, but a third coordinate is a height" in sentence
    assert "above the WGS 84 ellipsoid (RFC 7946, section 4)" in sentence
    assert "write the property height" in sentence


def test_nothing_stated_may_be_null(tmp_path: Path) -> None:
    """Programs write null for properties that other features have."""
    changed = feature("waypoint", *PLACES[0], height=60, name=None, wait_s=None)
    text = with_feature(changed).replace('"height_unit"', '"turns": {"kind": null}, "height_unit"')
    assert places(read(tmp_path, "a.geojson", text, launch=None)) == PLACES


@pytest.mark.parametrize(
    "crs", [None, {"type": "name", "properties": {"name": "urn:ogc:def:crs:OGC:1.3:CRS84"}}]
)
def test_places_are_wgs_84(tmp_path: Path, crs: object) -> None:
    """Section 4 knows no other system; the older member may say the same."""
    assert places(read(tmp_path, "a.geojson", file_of(crs=crs), launch=None)) == PLACES


@pytest.mark.parametrize("crs", [
    {"type": "name", "properties": {"name": "urn:ogc:def:crs:EPSG::3857"}}, {"type": "name"}, 4326,
])  # fmt: skip
def test_another_system_is_refused(tmp_path: Path, crs: object) -> None:
    """A file in another system is not read as if it were in WGS 84."""
    sentence = one_refusal(tmp_path, "a.geojson", file_of(crs=crs), launch=None)
    assert "crs: given " in sentence
    assert "coordinates are WGS 84, longitude first" in sentence


def test_foreign_members_are_named(tmp_path: Path) -> None:
    """RFC 7946, 6.1, allows them; name, bbox and a null crs say nothing of the flight."""
    text = file_of(author="x", name="y", bbox=[0, 0, 1, 1])
    assert read(tmp_path, "a.geojson", text, launch=None).unused == ("member 'author'",)


def test_the_launch_may_come_from_the_option(tmp_path: Path) -> None:
    """A file without one is refused, unless it is given; a given one replaces the file's."""
    without = file_of(features=collection()["features"][1:])
    sentence = one_refusal(tmp_path, "a.geojson", without, launch=None)
    assert "add a Point feature with role = 'launch', or give --launch LAT,LON" in sentence
    for text in (without, file_of()):
        for launch in (
            read(tmp_path, "a.geojson", text, launch=PLACES[0]).launch,
            read(tmp_path, "a.geojson", text, launch="first").launch,
        ):
            assert (launch.lat_deg, launch.lon_deg) == PLACES[0]


LINE = {"type": "LineString", "coordinates": [[-28.4, 47.3], [-28.5, 47.3]]}


@pytest.mark.parametrize(
    ("text", "words"),
    [
        (file_of(terrain_guard=None), "terrain_guard: missing, but that member says what heights"),
        (file_of(terrain_guard=[]), "terrain_guard: given [], but it is an object"),
        (file_of(terrain_guard={"heights": "launch"}), "height_unit: missing"),
        (file_of(type="Feature"), "type: given 'Feature', but a route file is a FeatureColl"),
        (file_of(features={}), "a FeatureCollection with a list of features"),
        (file_of(features=[0] * 10_001), "features: given 10001, but a route has no more"),
        (with_feature(7), "feature 2: given 7, but it must be a Feature with properties"),
        (with_feature({"type": "Feature"}), "feature 2: given {'type': 'Feature'}, but it must"),
        (with_feature(feature(None, 47, -28)), "feature 2.role: given None, but it must be 'lau"),
        (with_feature(feature("tower", 47, -28)), "feature 2.role: given 'tower'"),
        (with_feature(feature("launch", *LAUNCH)), "given one more launch, but a route has one"),
        (
            with_feature({**feature("waypoint", 0, 0, height=1), "geometry": LINE}),
            "is a Point with a longitude and a latitude; write each as a Point feature",
        ),
        (with_feature({**feature("waypoint", 0, 0, height=1), "geometry": None}), "given None"),
    ],
)
def test_what_is_not_the_profile_is_refused(tmp_path: Path, text: str, words: str) -> None:
    """Each is told, with what else is wrong."""
    assert any(words in sentence for sentence in refused(tmp_path, "a.geojson", text, launch=None))


def test_places_and_tables_have_one_home(tmp_path: Path) -> None:
    """A place in the properties, or a launch among the tables, is not taken for one."""
    changed = feature("waypoint", *PLACES[0], height=60)
    changed["properties"] |= {"lon": 3, "lat": 4}
    sentences = refused(tmp_path, "a.geojson", with_feature(changed), launch=None)
    assert [sentence.split(": ")[1] for sentence in sentences] == [
        "feature 2.lat",
        "feature 2.lon",
    ]
    text = file_of(terrain_guard={"heights": "launch", "height_unit": "m", "launch": {}})
    sentence = one_refusal(tmp_path, "a.geojson", text, launch=None)
    assert "terrain_guard.launch: given {}, but each launch is a feature of its own" in sentence


def test_values_are_judged_by_the_schema(tmp_path: Path) -> None:
    """With the feature they stand in; several at once."""
    changed = feature("waypoint", 47.3, 228.4, height=1e9, speed=3)
    changed["geometry"]["coordinates"][1] = "47.3"
    sentences = refused(tmp_path, "a.geojson", with_feature(changed, 2), launch=None)
    assert [sentence.partition(": given")[0] for sentence in sentences] == [
        "a.geojson: waypoint[2].speed (feature 3)",
        "a.geojson: waypoint[2].lat (feature 3)",
        "a.geojson: waypoint[2].lon (feature 3)",
        "a.geojson: waypoint[2].height (feature 3)",
    ]


@pytest.mark.parametrize(
    ("data", "words"),
    [
        (b'{"a": NaN}', "NaN is no number in JSON"),
        (b'{"a": -Infinity}', "-Infinity is no number in JSON"),
        (b'{"a": 1, "a": 2}', "the name 'a' stands twice in one object"),
        (b'{"a": [1, 2}', "it is not valid (Expecting"),
        (b'{"a": ' + b"9" * 5000 + b"}", "it is not valid (Exceeds"),
        (b'{"a": "caf\xe9"}', "it is not text in UTF-8 (byte 0xe9 at 10)"),
        (b'{"a": ' + b"[" * 100_000, "its brackets are nested too deeply"),
        (b"{" + b" " * MOST_BYTES, "given more than 5 MB"),
        (b"[]", "it is no object"),
        (b"", "it is not valid (Expecting value"),
    ],
    ids=["nan", "inf", "twice", "cut", "digits", "latin-1", "deep", "large", "list", "empty"],
)
def test_what_is_no_json_is_refused(tmp_path: Path, data: bytes, words: str) -> None:
    """RFC 8259: sections 4 (names), 6 (numbers) and 8.1 (encoding)."""
    assert words in one_refusal(tmp_path, "a.geojson", data)


def test_a_byte_order_mark_is_skipped(tmp_path: Path) -> None:
    """RFC 8259, 8.1: parsers may ignore it."""
    data = b"\xef\xbb\xbf" + file_of().encode()
    assert places(read(tmp_path, "a.json", data, launch=None)) == PLACES


def test_options_play_no_part(tmp_path: Path) -> None:
    """The file says everything; an option that would not be used is not swallowed."""
    sentences = refused(tmp_path, "a.geojson", file_of(), heights="ground", take="1")
    assert [sentence.split(": ")[1] for sentence in sentences] == ["--heights", "--take"]
    toml = refused(tmp_path, "a.toml", "title = 'x'", heights="ground", fly_at=(1.0, "m"))
    assert "--heights: plays no part with a TOML route file; leave it away." in toml[0]
    assert "--fly-at: plays no part" in toml[1]

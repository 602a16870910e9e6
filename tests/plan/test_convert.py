"""From one format to another: nothing is made up, and what is lost is told."""

from __future__ import annotations

import json
import tomllib
from typing import TYPE_CHECKING, Any

import pytest
import tomlkit

from terrain_guard.errors import RefusedInput, RefusedOutput, RefusedRoute
from terrain_guard.plan.convert import Converted, convert
from terrain_guard.plan.route_files import read_route
from terrain_guard.plan.told import Told
from tests.plan.foreign import (
    GPX_1_1,
    LAUNCH,
    LAUNCH_TOLD,
    OGC_KML,
    PLACES,
    gpx,
    gpx_points,
    heights_m,
    kml,
    line,
    places,
)
from tests.plan.samples import EVERY_TABLE, SMALLEST, changed, write

if TYPE_CHECKING:
    from pathlib import Path

    from terrain_guard.plan.draft import Format

COMMENTED = """\
# My own words.
heights = "launch"            # as typed
height_unit = "ft"

[launch]
lat = 47.3124                 # by the gate
lon = -28.4051
elevation_m = 212.4
elevation_accuracy_m = 0.1
[[waypoint]]
lat = 47.3131
lon = -28.4046
height = 200
[[waypoint]]
lat = 47.314015
lon = -28.404045
height = 250.5                # over the dam
"""


def converted(
    folder: Path, content: dict[str, Any] | str, to: Format, name: str = "plan.toml", **given: Any
) -> Converted:
    """Write a file and convert it."""
    return convert(write(folder, content, name), to=to, **given)


def test_toml_keeps_every_byte(tmp_path: Path) -> None:
    """Nothing changes where nothing is asked."""
    assert converted(tmp_path, COMMENTED, "toml").content == COMMENTED.encode()


def test_toml_with_another_launch_keeps_its_comments(tmp_path: Path) -> None:
    """Only the place changes; an elevation surveyed elsewhere goes, and that is said."""
    made = converted(tmp_path, COMMENTED, "toml", launch=(47.0, -28.0))
    text = made.content.decode()
    assert tomllib.loads(text)["launch"] == {"lat": 47.0, "lon": -28.0}
    assert [line for line in text.splitlines() if "#" in line] == [
        "# My own words.",
        'heights = "launch"            # as typed',
        "lat = 47.0                 # by the gate",
        "height = 250.5                # over the dam",
    ]
    assert made.notes == (
        "launch: as --launch says, not as in the file; the elevation surveyed elsewhere is dropped",
    )
    assert made.lost == ()


def test_geojson_holds_everything_but_comments(tmp_path: Path) -> None:
    """Keys as they were written: what was not stated stays unstated."""
    made = converted(tmp_path, COMMENTED, "geojson")
    content = json.loads(made.content)
    assert made.lost == ("comments",)
    assert content["type"] == "FeatureCollection"
    assert content["terrain_guard"] == {"heights": "launch", "height_unit": "ft"}
    assert content["features"][2] == {
        "type": "Feature",
        "geometry": {"type": "Point", "coordinates": [-28.404045, 47.314015]},
        "properties": {"role": "waypoint", "height": 250.5},
    }


def test_what_csv_cannot_hold_is_told(tmp_path: Path) -> None:
    """Tables as a whole, keys of waypoints one by one; a speed for all goes to each."""
    content = changed(EVERY_TABLE, {
        "title": "Out and back", "speed_m_per_s": 6, "waypoint.1.look_at": "spillway",
        "waypoint.1.name": "dam, the \"old\" one", "waypoint.0.speed_m_per_s": 4.5,
    })  # fmt: skip
    made = converted(tmp_path, content, "csv")
    assert made.content.decode().splitlines() == [
        "name,lat,lon,above_launch_m,speed_m_per_s",
        ",47.3131,-28.4046,60,4.5",
        '"dam, the ""old"" one",47.3145,-28.4032,75.5,6',
        ",47.3152,-28.4047,80,6",
    ]
    assert set(made.lost) == {
        "launch", "waypoint.look_at", "home", "pilot", "turns", "climb", "after_last", "way_home",
        "conditions", "link_loss", "aircraft", "subject", "observer", "title",
    }  # fmt: skip


def test_heights_above_launch_have_no_kml_mode(tmp_path: Path) -> None:
    """KML has clampToGround, relativeToGround and absolute (OGC 07-147r2): none counts from launch.

    The elevation of the launch would turn them into heights above its own datum, not EGM96.
    """
    kinds: tuple[Format, ...] = ("kml", "kmz")
    for to in kinds:
        with pytest.raises(RefusedOutput, match=r"plan.toml: given heights above launch, but a KM"):
            converted(tmp_path, COMMENTED, to)
    bare = converted(tmp_path, COMMENTED, "kml", without_heights=True)
    assert b"<altitudeMode>clampToGround</altitudeMode>" in bare.content
    assert b"-28.4046,47.3131\n" in bare.content
    assert bare.lost == ("heights", "comments", "launch")


def test_heights_above_ground_are_relative_to_ground(tmp_path: Path) -> None:
    """Metres above the ground under each vertex, whatever unit they were typed in."""
    content = COMMENTED.replace('"launch"', '"ground"')
    made = converted(tmp_path, content, "kml")
    text = made.content.decode()
    assert f'<kml xmlns="{OGC_KML}">' in text
    assert "<altitudeMode>relativeToGround</altitudeMode>" in text
    assert "-28.4046,47.3131,60.96\n" in text  # 200 x 0.3048
    route = read_route(write(tmp_path, made.content, "a.kml"), launch="first")
    assert heights_m(route) == pytest.approx([60.96, 76.3524], abs=1e-12)  # 250.5 x 0.3048


@pytest.mark.parametrize("heights", ["launch", "ground", "ellipsoid"])
def test_gpx_has_elevations_only(tmp_path: Path, heights: str) -> None:
    """The element ele is an elevation: no height above launch or ground is written as one."""
    content = changed(SMALLEST, {"heights": heights, "title": "A & B", "waypoint.0.name": "<gate>"})
    with pytest.raises(RefusedOutput, match=f"given heights above {heights}, but a GPX file has"):
        converted(tmp_path, content, "gpx")
    made = converted(tmp_path, content, "gpx", without_heights=True)
    text = made.content.decode()
    assert f'<gpx xmlns="{GPX_1_1}" version="1.1" creator="Terrain Guard">' in text
    assert "<name>A &amp; B</name>" in text
    assert '<rtept lat="47.3131" lon="-28.4046"><name>&lt;gate&gt;</name></rtept>' in text
    assert "<ele>" not in text
    assert made.lost == ("heights", "launch")


def test_sea_level_is_what_kml_and_gpx_can_say(tmp_path: Path) -> None:
    """KML's absolute, and GPX's ele by convention; the latter is asked when it is read back."""
    content = COMMENTED.replace('"launch"', '"sea-level"')
    text = converted(tmp_path, content, "kml").content.decode()
    assert "<altitudeMode>absolute</altitudeMode>" in text
    assert "-28.4046,47.3131,60.96\n" in text  # 200 x 0.3048
    made = converted(tmp_path, content, "gpx")
    assert b'lon="-28.4046"><ele>60.96</ele></rtept>' in made.content
    assert made.lost == ("comments", "launch")
    kinds: tuple[Format, ...] = ("kml", "kmz", "gpx")
    for to in kinds:
        with pytest.raises(RefusedOutput, match="given heights above ellipsoid, but a"):
            converted(tmp_path, COMMENTED.replace('"launch"', '"ellipsoid"'), to)


def test_gpx_longitudes_end_below_180(tmp_path: Path) -> None:
    """The type longitudeType of the GPX 1.1 schema: -180.0 <= value < 180.0."""
    changes = {f"waypoint.{n}.lon": 180 for n in range(3)} | {"launch.lon": 180}
    made = converted(tmp_path, changed(SMALLEST, changes), "gpx", without_heights=True)
    assert made.content.count(b'lon="-180"') == 3


def test_a_launch_is_asked_for_where_it_is_held(tmp_path: Path) -> None:
    """A KML file becomes a table without one, a route file with one."""
    content = kml(line(mode="relativeToGround"))
    table = converted(tmp_path, content, "csv", "a.kml")
    assert table.content.decode().splitlines()[:2] == [
        "lat,lon,above_ground_m",
        "47.3131,-28.4046,60",
    ]
    assert table.lost == ()
    with pytest.raises(RefusedRoute, match="launch: missing"):
        converted(tmp_path, content, "toml", "a.kml")
    made = converted(tmp_path, content, "toml", "a.kml", launch=LAUNCH)
    route = read_route(write(tmp_path, made.content))
    assert (route.launch.lat_deg, route.launch.lon_deg) == LAUNCH
    assert (route.heights, heights_m(route), places(route)) == ("ground", [60, 82.5, 70], PLACES)


def test_a_launch_that_is_given_and_not_held_is_lost(tmp_path: Path) -> None:
    """It is not dropped in silence."""
    content = kml(line(mode="relativeToGround"))
    assert converted(tmp_path, content, "csv", "a.kml", launch="first").lost == ("launch",)


def test_toml_says_where_it_came_from(tmp_path: Path) -> None:
    """What every height was measured from stands at the top, as comments."""
    content = gpx(f"<rte>{gpx_points('rtept')}</rte>")
    made = converted(tmp_path, content, "toml", "a.gpx", launch="first", told=LAUNCH_TOLD)
    lines = made.content.decode().splitlines()
    assert lines[0] == "# Converted from 'a.gpx'."
    assert lines[1].startswith("# waypoint heights: ele in m (GPX does not say what ele counts")
    assert made.notes[0] == lines[1].removeprefix("# ")
    assert tomllib.loads(made.content.decode()) == {
        "heights": "launch",
        "height_unit": "m",
        "launch": {"lat": 47.3131, "lon": -28.4046},
        "waypoint": [
            {"lat": lat, "lon": lon, "height": height}
            for (lat, lon), height in zip(PLACES, (60.0, 82.5, 70.0), strict=True)
        ],
    }


def test_places_alone_need_no_heights(tmp_path: Path) -> None:
    """A line without any becomes another without being asked what its heights count from."""
    kinds: tuple[Format, ...] = ("gpx", "kml", "csv")
    for to in kinds:
        made = converted(tmp_path, kml(line()), to, "a.kml", without_heights=True)
        assert b"82.5" not in made.content
        assert b"47.314015" in made.content
        assert (made.notes, made.lost) == ((), ("heights",))


@pytest.mark.parametrize(
    ("to", "told", "words"),
    [
        ("toml", {}, "--without-heights: given, but a TOML route file is nothing without heights"),
        ("geojson", {}, "a GeoJSON route file is nothing without heights"),
        ("gpx", {"heights": "launch"}, "--heights: plays no part with --without-heights"),
        ("kml", {"fly_at": (6.0, "m")}, "--fly-at: plays no part with --without-heights"),
    ],
)
def test_options_that_exclude_each_other(
    tmp_path: Path, to: Format, told: dict[str, Any], words: str
) -> None:
    """Refused before the file is read."""
    with pytest.raises(RefusedInput) as caught:
        convert(tmp_path / "none", to=to, told=Told(**told), without_heights=True)
    assert caught.value.faults[0].startswith(words) or words in caught.value.faults[0]


def test_a_faulty_file_is_not_converted(tmp_path: Path) -> None:
    """With every fault, as check would tell them."""
    content = changed(SMALLEST, {"waypoint.0.lat": 99, "waypoint.1.height": "x"})
    with pytest.raises(RefusedRoute) as caught:
        converted(tmp_path, content, "geojson")
    assert len(caught.value.faults) == 2


def test_kmz_is_the_same_whenever_it_is_written(tmp_path: Path) -> None:
    """No date of today in it."""
    content = COMMENTED.replace('"launch"', '"ground"')
    one, other = (converted(tmp_path, content, "kmz").content for _ in range(2))
    assert one == other
    assert one.startswith(b"PK\x03\x04")


def test_every_table_survives_both_ways(tmp_path: Path) -> None:
    """TOML to GeoJSON and back: the same keys and values."""
    made = converted(tmp_path, EVERY_TABLE, "geojson").content
    back = convert(write(tmp_path, made, "a.geojson"), to="toml").content.decode()
    assert tomllib.loads(back) == tomlkit.parse(tomlkit.dumps(EVERY_TABLE)).unwrap()

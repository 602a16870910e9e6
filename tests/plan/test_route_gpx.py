"""Routes in GPX 1.1: rules of its schema (documentation of wptType, rteType, trkType)."""

from __future__ import annotations

from typing import TYPE_CHECKING

import pytest

from tests.plan.foreign import (
    LAUNCH_TOLD,
    PLACES,
    gpx,
    gpx_points,
    heights_m,
    one_refusal,
    places,
    read,
    refused,
)

if TYPE_CHECKING:
    from pathlib import Path

ROUTE = f"<rte><name>out</name>{gpx_points('rtept')}</rte>"
TRACK = f"<trk><name>back</name><trkseg>{gpx_points('trkpt')}</trkseg></trk>"


@pytest.mark.parametrize("inside", [ROUTE, TRACK])
def test_the_only_line_is_the_route(tmp_path: Path, inside: str) -> None:
    """Points of a route or of a track, in order: lat and lon are WGS 84 decimal degrees."""
    route = read(tmp_path, "a.gpx", gpx(inside), heights="launch")
    assert places(route) == PLACES
    assert heights_m(route) == [60, 82.5, 70]
    assert (route.heights, route.height_unit) == ("launch", "m")


def test_what_ele_counts_from_is_asked(tmp_path: Path) -> None:
    """The schema says "Elevation (in meters) of the point", and not above what."""
    sentence = one_refusal(tmp_path, "a.gpx", gpx(ROUTE))
    assert "GPX does not say what ele counts from" in sentence
    assert "give --heights launch (or ground, sea-level, ellipsoid)" in sentence
    words = {
        "launch": "above the launch ground",
        "ground": "above the ground under each waypoint",
        "sea-level": "above sea level",
        "ellipsoid": "above the WGS 84 ellipsoid",
    }
    for heights, taken in words.items():
        route = read(tmp_path, "a.gpx", gpx(ROUTE), heights=heights)
        assert route.heights == heights
        assert route.assumed[0].endswith(f"taken as {taken}, as --heights {heights} says")


def test_geoid_heights_are_no_heights(tmp_path: Path) -> None:
    """How far the geoid lies above the ellipsoid (geoidheight) is named, not added."""
    inside = ROUTE.replace("</ele>", "</ele><geoidheight>50</geoidheight>")
    route = read(tmp_path, "a.gpx", gpx(inside), heights="launch")
    assert heights_m(route) == [60, 82.5, 70]
    assert route.unused == ("geoidheight elements",)


def test_without_ele_one_height_is_asked(tmp_path: Path) -> None:
    """The element ele is optional: where no point has it, no height is known."""
    bare = gpx(f"<rte>{gpx_points('rtept', (None, None, None))}</rte>")
    sentence = one_refusal(tmp_path, "a.gpx", bare, heights="launch")
    assert "every waypoint needs one (no point has an ele)" in sentence
    route = read(tmp_path, "a.gpx", bare, heights="ground", fly_at=(60.0, "m"))
    assert (route.heights, heights_m(route)) == ("ground", [60.0] * 3)


def test_one_missing_ele_is_a_fault(tmp_path: Path) -> None:
    """Nothing stands in for the one that is missing."""
    holed = gpx(f"<rte>{gpx_points('rtept', (60, None, 70))}</rte>")
    sentence = one_refusal(tmp_path, "a.gpx", holed, heights="launch")
    assert sentence.startswith("a.gpx: waypoint[2].height: missing")


def test_a_track_with_a_gap_is_refused(tmp_path: Path) -> None:
    """Segments are what was recorded between gaps: what is flown in them is not known."""
    segments = f"<trkseg>{gpx_points('trkpt')}</trkseg>" * 2
    sentence = one_refusal(tmp_path, "a.gpx", gpx(f"<trk>{segments}</trk>"), heights="launch")
    assert "given 2 segments in the track ''" in sentence
    empty = gpx(TRACK.replace("<trkseg>", "<trkseg/><trkseg>", 1))
    assert places(read(tmp_path, "a.gpx", empty, heights="launch")) == PLACES


def test_waypoints_have_no_order_of_flight(tmp_path: Path) -> None:
    """A wpt is "a waypoint, point of interest, or named feature on a map": it is asked."""
    points = gpx(gpx_points("wpt"))
    sentence = one_refusal(tmp_path, "a.gpx", points, heights="launch")
    assert "does not say in which order they are flown; give --take points" in sentence
    assert places(read(tmp_path, "a.gpx", points, heights="launch", take="points")) == PLACES


@pytest.mark.parametrize(("take", "title"), [("1", "out"), ("2", "back"), ("back", "back")])
def test_a_route_and_a_track_are_two_lines(tmp_path: Path, take: str, title: str) -> None:
    """Which of them is flown is never guessed."""
    sentence = one_refusal(tmp_path, "a.gpx", gpx(ROUTE + TRACK), heights="launch")
    assert "given 2 lines (1 'out', 2 'back'), but one of them is flown" in sentence
    route = read(tmp_path, "a.gpx", gpx(ROUTE + TRACK), heights="launch", take=take)
    assert (route.title, route.unused) == (title, ("1 more line",))


def test_names_are_kept(tmp_path: Path) -> None:
    """The names of points and of the route."""
    inside = ROUTE.replace("<ele>60", "<ele>60</ele><name> gate </name><cmt>x</cmt><ele>1", 1)
    route = read(tmp_path, "a.gpx", gpx(inside), heights="launch")
    assert [waypoint.name for waypoint in route.waypoints] == ["gate", "waypoint 2", "waypoint 3"]
    assert route.title == "out"


def test_extensions_are_passed_over(tmp_path: Path) -> None:
    """Elements of other schemas may be called as ours and mean something else."""
    inside = ROUTE.replace("</ele>", "</ele><extensions><ele>9</ele></extensions>")
    assert heights_m(read(tmp_path, "a.gpx", gpx(inside), heights="launch")) == [60, 82.5, 70]


@pytest.mark.parametrize(
    ("content", "words"),
    [
        (gpx(ROUTE, version="1.0", space="http://www.topografix.com/GPX/1/0"), "given version"),
        (gpx(ROUTE, version="1.0"), "but it must be 1.1, http://www.topografix.com/GPX/1/1"),
        (gpx(ROUTE, space="urn:other"), "namespace 'urn:other'"),
        ("<gpx/>", "gpx: given version ''"),
        (gpx(""), "route: missing"),
        (gpx(ROUTE.replace('lat="47.3131"', "")), "waypoint[1].lat: missing"),
        (gpx(ROUTE.replace("47.3131", "47.3131N")), "write 47.3131"),
        (gpx(ROUTE.replace("47.3131", "1e999")), "waypoint[1].lat: given inf"),
        (gpx(ROUTE.replace(">60<", ">sixty<")), "waypoint[1].height: given 'sixty'"),
        (gpx(ROUTE.replace(">60<", ">NaN<")), "waypoint[1].height: given 'NaN'"),
        (gpx("<rte><rtept lat='1' lon='2'><ele>3</ele></rtept></rte>"), "needs at least 2"),
    ],
)
def test_what_holds_no_route_is_refused(tmp_path: Path, content: str, words: str) -> None:
    """Each in one sentence."""
    assert words in one_refusal(tmp_path, "a.gpx", content, heights="launch")


def test_options_without_a_part_are_refused(tmp_path: Path) -> None:
    """Columns are those of a table, feet are not GPX's, and --fly-at needs its own unit only."""
    told = LAUNCH_TOLD.heights
    columns = refused(tmp_path, "a.gpx", gpx(ROUTE), heights=told, columns={"lat": "y"})
    assert columns == ("a.gpx: --columns: plays no part with a GPX file; leave it away.",)
    feet = one_refusal(tmp_path, "a.gpx", gpx(ROUTE), heights=told, height_unit="ft")
    assert "--height-unit: given 'ft', but GPX elevations are in metres" in feet
    fly_at = refused(tmp_path, "a.gpx", gpx(ROUTE), fly_at=(60.0, "m"), height_unit="m")
    assert [sentence.split(": ")[1] for sentence in fly_at] == ["--heights", "--height-unit"]

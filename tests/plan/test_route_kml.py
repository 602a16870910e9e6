"""Routes in KML.

Rules: OGC 07-147r2 (KML 2.2) and OGC 12-007r2 (KML 2.3), clauses on altitudeMode and
coordinates; the text on EGM96 and on altitude 0 by default is known second-hand.
"""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

import pytest

from tests.plan import samples
from tests.plan.foreign import (
    LAUNCH,
    OGC_KML,
    PLACES,
    TUPLES,
    heights_m,
    kml,
    line,
    one_refusal,
    places,
    read,
    refused,
)

if TYPE_CHECKING:
    from pathlib import Path

GX = "http://www.google.com/kml/ext/2.2"  # KML 2.2 extension namespace, from memory


def point(name: str, coordinates: str, mode: str = "relativeToGround") -> str:
    """Return what stands in a Placemark of one point."""
    return (
        f"<name>{name}</name><Point><altitudeMode>{mode}</altitudeMode>"
        f"<coordinates>{coordinates}</coordinates></Point>"
    )


def test_coordinates_are_longitude_first(tmp_path: Path) -> None:
    """lon,lat,alt with blanks or line ends between (OGC 07-147r2, coordinates)."""
    text = TUPLES.replace(" ", "\n\t ")
    route = read(tmp_path, "a.kml", kml(line(f"\n{text}\n", "relativeToGround")))
    assert places(route) == PLACES
    assert heights_m(route) == [60, 82.5, 70]
    assert (route.launch.lat_deg, route.launch.lon_deg) == LAUNCH


def test_relative_to_ground_is_above_ground(tmp_path: Path) -> None:
    """Metres above the ground under that vertex: the same route as heights = "ground" in TOML."""
    read_kml = read(tmp_path, "a.kml", kml(line(mode="relativeToGround")))
    waypoints = [
        {"lat": lat, "lon": lon, "height": height}
        for (lat, lon), height in zip(PLACES, (60, 82.5, 70), strict=True)
    ]
    stated = samples.route(tmp_path, {"heights": "ground", "waypoint": waypoints})
    assert (read_kml.heights, read_kml.height_unit) == ("ground", "m")
    assert read_kml.waypoints == stated.waypoints
    assert (
        "waypoint heights: altitudes in m (altitudeMode relativeToGround counts from the ground), "
        "taken as above the ground under each waypoint"
    ) in read_kml.assumed


@pytest.mark.parametrize("mode", [None, "clampToGround"])
def test_clamped_altitudes_are_no_heights(tmp_path: Path, mode: str | None) -> None:
    """clampToGround, the default when no mode is given, ignores altitudes: nothing is guessed."""
    sentence = one_refusal(tmp_path, "a.kml", kml(line(mode=mode)))
    assert "altitudeMode clampToGround, KML's default, takes altitudes out of account" in sentence
    assert "give --heights launch (or ground, sea-level, ellipsoid)" in sentence
    route = read(tmp_path, "a.kml", kml(line(mode=mode)), heights="launch")
    assert (route.heights, heights_m(route)) == ("launch", [60, 82.5, 70])
    assert any("as --heights launch says" in sentence for sentence in route.assumed)


@pytest.mark.parametrize(
    "tuples", [TUPLES.replace(",60", ",0").replace(",82.5", "").replace(",70", ",0.0"), "1,2 3,4"]
)
def test_clamped_without_altitudes_asks_for_one(tmp_path: Path, tuples: str) -> None:
    """Zeros under clampToGround are what programs write for "none": they are no heights."""
    sentence = one_refusal(tmp_path, "a.kml", kml(line(tuples)), heights="launch")
    assert "waypoint heights: missing, but every waypoint needs one" in sentence
    assert "--fly-at 60m --heights launch" in sentence


def test_one_height_for_all(tmp_path: Path) -> None:
    """--fly-at brings height and unit, --heights what it counts from; altitudes play no part."""
    route = read(tmp_path, "a.kml", kml(line()), heights="launch", fly_at=(200.0, "ft"))
    assert heights_m(route) == pytest.approx([60.96] * 3, abs=1e-12)  # 200 x 0.3048
    assert route.height_unit == "ft"
    assert (
        "waypoint heights: 200 ft above the launch ground, as --fly-at says; altitudes of the "
        "file plays no part"
    ) in route.assumed


def test_absolute_is_above_sea_level(tmp_path: Path) -> None:
    """Metres above sea level, EGM96 (second-hand), whatever the terrain is."""
    route = read(tmp_path, "a.kml", kml(line(mode="absolute")))
    assert (route.heights, route.height_unit, heights_m(route)) == (
        "sea-level",
        "m",
        [60, 82.5, 70],
    )
    assert (
        "waypoint heights: altitudes in m (altitudeMode absolute counts from sea level, the EGM96 "
        "geoid), taken as above sea level"
    ) in route.assumed


@pytest.mark.parametrize("mode", ["absolute", "relativeToGround"])
def test_heights_above_launch_have_no_mode(tmp_path: Path, mode: str) -> None:
    """No mode counts from launch: a program that writes such heights has to write another.

    Only the option can say so, and the output repeats what the file said.
    """
    route = read(tmp_path, "a.kml", kml(line(mode=mode)), heights="launch")
    assert (route.heights, heights_m(route)) == ("launch", [60, 82.5, 70])
    assert f"altitudeMode {mode} counts from" in route.assumed[0]
    assert route.assumed[0].endswith("above the launch ground, as --heights launch says")


@pytest.mark.parametrize("tag", ["gx:altitudeMode", "seaFloorAltitudeMode"])
@pytest.mark.parametrize("mode", ["relativeToSeaFloor", "clampToSeaFloor"])
def test_sea_floor_is_refused(tmp_path: Path, tag: str, mode: str) -> None:
    """The extension element of 2.2, and that of 2.3, stand in the plain one's stead."""
    root = f'kml xmlns="{OGC_KML}" xmlns:gx="{GX}"'
    sentence = one_refusal(tmp_path, "a.kml", kml(line(mode=mode, tag=tag), root=root))
    assert f"altitudeMode {mode}" in sentence


def test_unknown_modes_are_refused(tmp_path: Path) -> None:
    """A mode that the standard does not know says nothing."""
    assert "KML knows no such mode" in refused(tmp_path, "a.kml", kml(line(mode="agl")))[0]


def test_a_mode_of_something_else_is_not_the_line_s(tmp_path: Path) -> None:
    """A view has an altitudeMode too; it says nothing of the line."""
    view = "<LookAt><altitudeMode>relativeToGround</altitudeMode></LookAt>"
    assert "clampToGround" in one_refusal(tmp_path, "a.kml", kml(view + line()))


@pytest.mark.parametrize("mode", ["relativeToGround", "absolute"])
def test_altitude_is_zero_by_default(tmp_path: Path, mode: str) -> None:
    """lon,lat without altitude is at 0 (second-hand), and the output says so."""
    tuples = TUPLES.replace(",82.5", "")
    route = read(tmp_path, "a.kml", kml(line(tuples, mode)))
    assert heights_m(route) == [60, 0, 70]
    assert "1 of 3 waypoints have no altitude: 0 m, which KML says it is then" in route.assumed


def test_the_file_is_not_contradicted(tmp_path: Path) -> None:
    """An option that says otherwise than the file is refused; so is a unit KML does not have."""
    content = kml(line(mode="relativeToGround"))
    sentences = refused(tmp_path, "a.kml", content, heights="sea-level", height_unit="ft")
    assert [sentence.split(",")[0] for sentence in sentences] == [
        "a.kml: --heights: given 'sea-level'",
        "a.kml: --height-unit: given 'ft'",
    ]
    agreeing = read(tmp_path, "a.kml", content, heights="ground", height_unit="m")
    assert agreeing.heights == "ground"


def test_launch_is_asked_for(tmp_path: Path) -> None:
    """KML has no launch: it is given, or it is said to be the first waypoint."""
    content = kml(line(mode="relativeToGround"))
    sentence = one_refusal(tmp_path, "a.kml", content, launch=None)
    assert "launch: missing" in sentence
    assert "--launch first" in sentence
    route = read(tmp_path, "a.kml", content, launch="first")
    assert (route.launch.lat_deg, route.launch.lon_deg) == PLACES[0]
    assert places(route) == PLACES
    assert "launch at lat 47.3131, lon -28.4046, as --launch first says" in route.assumed


def test_points_are_flown_in_order(tmp_path: Path) -> None:
    """Placemarks with a Point each, in the order of the document, through folders."""
    texts = TUPLES.split()
    folders = "".join(
        f"<Folder><Placemark>{point(name, text)}</Placemark></Folder>"
        for name, text in zip("abc", texts, strict=True)
    )
    content = f'<kml xmlns="{OGC_KML}"><Folder>{folders}</Folder></kml>'
    route = read(tmp_path, "a.kml", content)
    assert places(route) == PLACES
    assert [waypoint.name for waypoint in route.waypoints] == ["a", "b", "c"]


def test_points_of_two_modes_are_refused(tmp_path: Path) -> None:
    """Heights of one route count from the same."""
    content = kml(point("a", "1,2,3"), point("b", "1,2,3", "absolute"))
    assert "altitudeMode absolute and relativeToGround" in one_refusal(tmp_path, "a.kml", content)


def test_points_at_the_line_s_own_places_name_them(tmp_path: Path) -> None:
    """A line with a point at each of its vertices is one route, not two."""
    points = [point(name, text) for name, text in zip("abc", TUPLES.split(), strict=True)]
    route = read(tmp_path, "a.kml", kml(line(mode="relativeToGround"), *points))
    assert [waypoint.name for waypoint in route.waypoints] == ["a", "b", "c"]
    assert route.unused == ()


OTHER = line("-28.4,47.3,9 -28.5,47.3,9", "relativeToGround")
SEVERAL = kml(
    "<name>out</name>" + line(mode="relativeToGround"),
    "<name>back</name>" + OTHER,
    point("tree", "-28.41,47.3,9"),
    point("mast", "-28.42,47.3,8"),
)


@pytest.mark.parametrize(
    ("take", "heights"),
    [("1", [60, 82.5, 70]), ("out", [60, 82.5, 70]), ("back", [9, 9]), ("points", [9, 8])],
)
def test_of_several_lines_one_is_taken(tmp_path: Path, take: str, heights: list[float]) -> None:
    """Which one is never guessed; what is left out is said."""
    sentence = one_refusal(tmp_path, "a.kml", SEVERAL)
    assert "given 2 lines (1 'out', 2 'back') and 2 points, but one of them is flown" in sentence
    assert "--take 1 or --take 2 or --take points" in sentence
    route = read(tmp_path, "a.kml", SEVERAL, take=take)
    assert heights_m(route) == heights
    left = ("2 more lines",) if take == "points" else ("1 more line", "2 points beside the line")
    assert route.unused == left


@pytest.mark.parametrize("take", ["3", "0", "home", "lines"])
def test_taking_what_is_not_there_is_refused(tmp_path: Path, take: str) -> None:
    """The lines that are there are listed."""
    sentence = one_refusal(tmp_path, "a.kml", SEVERAL, take=take)
    assert f"--take: given '{take}', but the file holds 2 lines (1 'out', 2 'back')" in sentence


def test_a_name_of_two_lines_is_no_choice(tmp_path: Path) -> None:
    """Two lines of one name are told apart by their numbers."""
    twice = "<name>a</name>" + line(mode="relativeToGround")
    sentence = one_refusal(tmp_path, "a.kml", kml(twice, twice), take="a")
    assert "several lines have that name; give '1' or '2'" in sentence


def test_a_line_beside_points_asks(tmp_path: Path) -> None:
    """A point elsewhere may be the launch, a tree or a waypoint."""
    content = kml(line(mode="relativeToGround"), point("tree", "-28.4,47.3,9"))
    assert "--take 1 or --take points" in one_refusal(tmp_path, "a.kml", content)


def test_what_is_not_read_is_named(tmp_path: Path) -> None:
    """Areas and tracks beside the line play no part, and the output says so."""
    content = kml("<Polygon/>", "<Track/>", "<MultiGeometry><Model/></MultiGeometry>", line(
        mode="relativeToGround"
    ))  # fmt: skip
    route = read(tmp_path, "a.kml", content)
    assert route.unused == ("Model elements", "Polygon elements", "Track elements")


@pytest.mark.parametrize(
    ("content", "words"),
    [
        (kml(), "route: missing, but a route file must hold a line or points"),
        (kml("<Polygon/>"), "route: missing"),
        (kml("<Point/>", "<Point/>"), "given a Point of no or many coordinates"),
        (kml(line("1,2,3,4 1,2", "absolute")), "given '1,2,3,4' as coordinates, but they must be"),
        (kml(line("-28.4, 47.3, 60", "absolute")), "with no space inside"),
        (kml(line("1 2", "absolute")), "given '1' as coordinates"),
        (kml(line("-28.4,47.3,60 ,,", "absolute")), "given ',,' as coordinates"),
        (
            f'<kml xmlns="{OGC_KML}"><NetworkLink><Link><href>b.kml</href></Link></NetworkLink>'
            "</kml>",
            "given a link to 'b.kml', but links are not followed",
        ),
        ("<svg/>", "given XML whose root is 'svg', but a route is kml or gpx"),
        ("<Kml/>", "given XML whose root is 'Kml'"),
    ],
)
def test_what_holds_no_route_is_refused(tmp_path: Path, content: str, words: str) -> None:
    """Each in one sentence."""
    assert words in one_refusal(tmp_path, "a.kml", content, heights="launch")


@pytest.mark.parametrize(
    ("tuples", "words"),
    [
        ("-128.4,147.3,1 -28.4,47.3,1", "waypoint[1].lat: given 147.3"),
        ("nan,47.3,1 -28.4,47.3,1", "waypoint[1].lon: given 'nan'"),
        ("-28.4,47.3,inf -28.4,47.3,1", "waypoint[1].height: given 'inf'"),
        ("-28.4,47.3,1 -28.4,47.3,99999", "waypoint[2].height: given 99999.0"),
        ("28.4W,47.3,1 -28.4,47.3,1", "waypoint[1].lon: given '28.4W', but it must be in decimal"),
        ("-28.4,47.3,1", "waypoint: given one waypoint, but a route needs at least 2"),
        ("47.3131,-28.4046,1 -28.4,47.32,1", "lat and lon are probably swapped"),
    ],
)
def test_values_are_judged_by_the_schema(tmp_path: Path, tuples: str, words: str) -> None:
    """As in a TOML route file, whatever the format."""
    content = kml(line(tuples, "relativeToGround"))
    assert any(words in sentence for sentence in refused(tmp_path, "a.kml", content))


def test_every_fault_at_once(tmp_path: Path) -> None:
    """What the format leaves open and what the schema refuses come together."""
    told: dict[str, Any] = {"columns": {"lat": "a"}}
    sentences = refused(tmp_path, "a.kml", kml(line("100,99,1 200,2,x")), launch=None, **told)
    starts = ["--columns", "waypoint heights", "launch", "waypoint[1].lat", "waypoint[2].lon"]
    assert [sentence.split(": ")[1] for sentence in sentences] == [*starts, "waypoint[2].height"]


def test_an_older_namespace_is_read(tmp_path: Path) -> None:
    """The elements are those of the root's namespace, whichever that is, or none."""
    content = kml(line(mode="relativeToGround"), root="kml")
    assert places(read(tmp_path, "a.kml", content)) == PLACES


def test_elements_of_another_namespace_are_passed_over(tmp_path: Path) -> None:
    """A foreign element may be called as ours and mean something else."""
    root = f'kml xmlns="{OGC_KML}" xmlns:o="urn:other"'
    alien = "<o:LineString><o:coordinates>1,2,3 4,5,6</o:coordinates></o:LineString>"
    route = read(tmp_path, "a.kml", kml(alien + line(mode="relativeToGround"), root=root))
    assert places(route) == PLACES


def test_text_in_a_declared_encoding_is_read(tmp_path: Path) -> None:
    """XML says its encoding itself (XML 1.0, 4.3.3): Latin-1, and UTF-16 with its mark."""
    text = kml("<name>caf\xe9</name>" + line(mode="relativeToGround")).partition("?>")[2]
    latin = f'<?xml version="1.0" encoding="ISO-8859-1"?>{text}'.encode("latin-1")
    assert read(tmp_path, "a.kml", latin).title == "caf\xe9"
    assert read(tmp_path, "a.kml", text.encode("utf-16")).title == "caf\xe9"
    assert read(tmp_path, "a.kml", b"\xef\xbb\xbf" + text.encode()).title == "caf\xe9"


def test_too_many_points_are_refused(tmp_path: Path) -> None:
    """The record of a flight is no plan; no more is looked at than is needed to say so."""
    content = kml(line("1,2,3 " * 10_001, "relativeToGround"))
    sentence = one_refusal(tmp_path, "a.kml", content)
    assert "given more than 10000 points, but no planned route has as many" in sentence
    just = kml(line("1,2,3 1,2.0001,3 " * 5_000, "relativeToGround"))
    assert len(read(tmp_path, "a.kml", just, launch="first").waypoints) == 10_000


def test_points_are_not_lines(tmp_path: Path) -> None:
    """A file of points has no line to take, and says so."""
    content = kml(point("a", "1,2,3"), point("b", "1,2.001,3"))
    sentence = one_refusal(tmp_path, "a.kml", content, take="1", launch="first")
    assert "--take: given '1', but the file holds no line; give 'points'" in sentence

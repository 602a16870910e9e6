"""Routes in CSV.

RFC 4180 (2005), section 2, for lines, quotes and headers. Semicolons, tabs, decimal commas
and byte order marks: what spreadsheets write (common practice, no source).
"""

from __future__ import annotations

from typing import TYPE_CHECKING

import pytest

from terrain_guard.plan.draft import MOST_POINTS
from tests.plan.foreign import PLACES, heights_m, one_refusal, places, read, refused

if TYPE_CHECKING:
    from pathlib import Path

PLAIN = """\
name,lat,lon,above_launch_m
gate,47.3131,-28.4046,60
dam,47.314015,-28.404045,82.5
,47.32,-28.4,70
"""


def test_a_header_can_say_everything(tmp_path: Path) -> None:
    """Names, places, heights, their unit and what they count from."""
    route = read(tmp_path, "a.csv", PLAIN)
    assert places(route) == PLACES
    assert heights_m(route) == [60, 82.5, 70]
    assert (route.heights, route.height_unit) == ("launch", "m")
    assert [waypoint.name for waypoint in route.waypoints] == ["gate", "dam", "waypoint 3"]
    assert (
        "waypoint heights: column 'above_launch_m' in m (its header says above launch), taken as "
        "above the launch ground"
    ) in route.assumed


@pytest.mark.parametrize(
    "content",
    [
        PLAIN.replace("\n", "\r\n"),
        PLAIN.replace("\n", "\r"),
        "\ufeff" + PLAIN,
        "\n\n" + PLAIN.replace("\n", "\n\n"),
        PLAIN.replace(",", ";"),
        PLAIN.replace(",", "\t"),
        PLAIN.replace(",", ";").replace(".", ","),
        PLAIN.replace(",", "\t").replace(".", ","),
        PLAIN.replace("gate", '"gate"').replace("47.3131", '"47.3131"'),
        PLAIN.replace(",", " , "),
        PLAIN.replace("\n", ",,\n"),
    ],
    ids=[
        "crlf", "cr", "mark", "blank", "semicolon", "tab", "comma-marks", "tab-comma-marks",
        "quotes", "spaces", "empty-columns",
    ],
)  # fmt: skip
def test_the_ways_of_spreadsheets(tmp_path: Path, content: str) -> None:
    """The same route, whatever stands between its columns, lines and digits."""
    route = read(tmp_path, "a.csv", content)
    assert places(route) == PLACES
    assert heights_m(route) == [60, 82.5, 70]
    assert route.waypoints[0].name == "gate"


@pytest.mark.parametrize(
    ("header", "unit", "counts_from"),
    [
        ("above_launch_m", "m", "launch"),
        ("Height above launch (ft)", "ft", "launch"),
        ("height above take-off [m]", "m", "launch"),
        ("above_ground_m", "m", "ground"),
        ("AGL (feet)", "ft", "ground"),
        ("Altitude AGL, meters", "m", "ground"),
        ("alt_amsl_m", "m", "sea-level"),
        ("altitude above mean sea level (m)", "m", "sea-level"),
        ("MSL ft", "ft", "sea-level"),
        ("ellipsoidal height m", "m", "ellipsoid"),
        ("height_m", "m", None),
        ("height (ft)", "ft", None),
        ("Altitude [m]", "m", None),
        ("ele metres", "m", None),
        ("height", None, None),
        ("Alt", None, None),
        ("elevation", None, None),
    ],
)
def test_headers_of_heights(
    tmp_path: Path, header: str, unit: str | None, counts_from: str | None
) -> None:
    """What a header leaves open is asked, and nothing else; the option then says it."""
    content = PLAIN.replace("above_launch_m", f'"{header}"')
    if unit and counts_from:
        route = read(tmp_path, "a.csv", content)
    else:
        sentences = "\n".join(refused(tmp_path, "a.csv", content))
        assert ("--height-unit m or --height-unit ft" in sentences) == (unit is None)
        assert ("give --heights launch (or ground," in sentences) == (counts_from is None)
        route = read(
            tmp_path, "a.csv", content, height_unit=unit or "ft", heights=counts_from or "ground"
        )
    assert (route.height_unit, route.heights) == (unit or "ft", counts_from or "ground")
    metres = {"m": 1.0, "ft": 0.3048}[route.height_unit]  # international foot, exact
    assert heights_m(route) == pytest.approx([60 * metres, 82.5 * metres, 70 * metres], abs=1e-12)


@pytest.mark.parametrize(
    "header", ["ground_elevation_m", "terrain height (m)", "geoid height", "height error m", "z"]
)
def test_other_heights_are_not_the_waypoint_s(tmp_path: Path, header: str) -> None:
    """A word that is not understood makes it another column: none is taken for it."""
    content = PLAIN.replace("above_launch_m", header)
    sentence = one_refusal(tmp_path, "a.csv", content)
    assert "no column is headed height, and --columns names none" in sentence
    route = read(
        tmp_path, "a.csv", content, columns={"height": header}, heights="launch", height_unit="m"
    )
    assert heights_m(route) == [60, 82.5, 70]


@pytest.mark.parametrize(
    ("lat", "lon"),
    [("Latitude", "Longitude"), ("LAT", "LNG"), ("lat (deg)", "long_deg"), ("lat_wgs84", "lon")],
)
def test_headers_of_places(tmp_path: Path, lat: str, lon: str) -> None:
    """Letter case, brackets and the unit make no difference."""
    content = PLAIN.replace("lat,lon", f"{lat},{lon}")
    assert places(read(tmp_path, "a.csv", content)) == PLACES


def test_the_order_of_columns_makes_no_difference(tmp_path: Path) -> None:
    """Longitude before latitude: the header tells."""
    rows = [",".join(reversed(line.split(","))) for line in PLAIN.splitlines()]
    assert places(read(tmp_path, "a.csv", "\n".join(rows))) == PLACES


def test_columns_can_be_told(tmp_path: Path) -> None:
    """By their headers, whatever these are; the others are named as unused."""
    content = PLAIN.replace("name,lat,lon,above_launch_m", "P,Y,X,H (ft)")
    columns = {"lat": "Y", "lon": "x", "height": "H (ft)", "name": "P"}
    route = read(tmp_path, "a.csv", content, columns=columns, heights="launch")
    assert places(route) == PLACES
    assert (route.height_unit, route.waypoints[1].name) == ("ft", "dam")
    bare = read(tmp_path, "a.csv", content, columns={"lat": "Y", "lon": "X"}, fly_at=(60.0, "m"),
                heights="launch")  # fmt: skip
    assert bare.unused == ("column 'P'", "column 'H (ft)'")


def test_columns_that_are_not_known_are_asked(tmp_path: Path) -> None:
    """All at once, with the headers that are there."""
    content = PLAIN.replace("lat,lon,above_launch_m", "Y,X,H")
    sentences = refused(tmp_path, "a.csv", content, launch="first")
    assert "column lat: missing, but none of the headers 'name', 'Y', 'X' or 'H'" in sentences[0]
    assert "give --columns lon=HEADER" in sentences[1]
    assert [sentence.split(": ")[1] for sentence in sentences[2:]] == ["waypoint heights"]
    told = refused(tmp_path, "a.csv", content, columns={"lat": "N", "lon": "X"}, fly_at=(9.0, "m"))
    assert "--columns: given 'lat=N', but no column is headed so" in told[0]


def test_two_columns_for_one_thing_are_refused(tmp_path: Path) -> None:
    """Which of them counts is told; a table of samples has two heights."""
    content = "lat,lon,above_launch_m,above_ground_m\n1,2,60,50\n1,2.001,60,55\n"
    sentence = one_refusal(tmp_path, "a.csv", content, launch="first")
    assert "given ['above_launch_m', 'above_ground_m'], but one of them counts" in sentence
    route = read(
        tmp_path, "a.csv", content, launch="first", columns={"height": "above_ground_m"}
    )  # fmt: skip
    assert (route.heights, heights_m(route)) == ("ground", [50, 55])


def test_the_keys_of_a_waypoint_are_read(tmp_path: Path) -> None:
    """Columns that are headed as the route file spells its keys."""
    content = (
        "lat,lon,above_launch_m,speed_m_per_s,wait_s,turn\n"
        "47.3131,-28.4046,60,6,,stop\n47.314015,-28.404045,82.5,,5,\n"
    )
    first, second = read(tmp_path, "a.csv", content).waypoints
    assert (first.speed_m_per_s, first.wait_s, first.turn) == (6, 0, "stop")
    assert (second.speed_m_per_s, second.wait_s, second.turn) == (5, 5, None)


@pytest.mark.parametrize(
    ("column", "written", "decimal"),
    [
        # Degrees, minutes and seconds by their definition: 47 + 18/60 + 44.64/3600.
        ("lat", "47°18'44.64\"N", "47.3124"),
        ("lat", "N 47 18.744", "47.3124"),
        ("lat", "47:18:44.64", "47.3124"),
        ("lat", "47.3124°", "47.3124"),
        ("lat", "47.3124 S", "-47.3124"),
        ("lon", "28°24′18.36″W", "-28.4051"),
        ("lon", "28.4051W", "-28.4051"),
        ("lon", "W28.4051", "-28.4051"),
        ("lon", "E 28 24.306", "28.4051"),
        ("lon", "-28 24.306", "-28.4051"),
        ("lon", "\N{MINUS SIGN}28.4051", "-28.4051"),
    ],
)
def test_angles_written_otherwise_are_refused_with_their_value(
    tmp_path: Path, column: str, written: str, decimal: str
) -> None:
    """Nothing is converted in silence; the remedy is what to write."""
    lat, lon = (written, "0") if column == "lat" else ("0", written)
    content = f'lat;lon;above_launch_m\n0;0;1\n"{lat.replace(chr(34), chr(34) * 2)}";{lon};1\n'
    sentences = refused(tmp_path, "a.csv", content, launch="first")
    assert sentences[0].startswith(f"a.csv: waypoint[2].{column} (line 3): given ")
    assert f"but it must be in decimal degrees, {'south' if column == 'lat' else 'west'} negative" \
        in sentences[0]  # fmt: skip
    assert sentences[0].endswith(f"; write {decimal}.")


@pytest.mark.parametrize(
    "written", ["47 75", "28.4051E", "95 10", "47 18 44 3", "47°18'S44", "forty", "47.5 30"]
)
def test_angles_that_could_mean_anything_have_no_value(tmp_path: Path, written: str) -> None:
    """No remedy is made up: the schema refuses the text."""
    content = f"lat;lon;above_launch_m\n0;0;1\n{written};0;1\n"
    sentence = one_refusal(tmp_path, "a.csv", content, launch="first")
    assert "it must be a number from -90 to 90 degrees" in sentence


def test_two_decimal_marks_are_refused(tmp_path: Path) -> None:
    """1,234 beside 47.3 may be a thousand: nobody knows."""
    content = PLAIN.replace(",", ";").replace("82.5", "1,234")
    sentence = one_refusal(tmp_path, "a.csv", content)
    assert "decimal mark: given '47.3131' (line 2) and '1,234' (line 3)" in sentence


def test_decimal_commas_between_commas_are_refused(tmp_path: Path) -> None:
    """Each number falls into two cells; the hint says how to save it."""
    content = PLAIN.replace("47.3131,-28.4046,60", "47,3131,-28,4046,60")
    sentences = refused(tmp_path, "a.csv", content)
    assert (
        "line 2: given 6 cells, but the header has 4; if numbers have a decimal comma, save it \
with semicolons"
        in sentences[0]
    )


@pytest.mark.parametrize(
    ("content", "words"),
    [
        (b"", "it is empty"),
        (b"\n \r\n", "it is empty"),
        (b";;;\n", "it is empty"),
        (PLAIN.replace("gate", "caf\xe9").encode("latin-1"), "not text in UTF-8 (byte 0xe9"),
        (PLAIN.encode("utf-16"), "it is text in UTF-16"),
        (PLAIN.replace("gate", '"gate').encode(), "it breaks the rules of CSV"),
        (PLAIN.replace("gate", '"ga"te').encode(), "it breaks the rules of CSV"),
        (PLAIN.replace("gate", "x" * 200_000).encode(), "it breaks the rules of CSV"),
        (b"lat," * 30_000, "its first line has more than 100000 characters"),
        (
            b"lat,lon,above_launch_m\n" + b"1,2,3\n" * (MOST_POINTS + 1),
            "more than 10000 lines",
        ),
    ],
    ids=["none", "blank", "delimiters", "latin-1", "utf-16", "open", "quote", "field", "wide",
         "long"],
)  # fmt: skip
def test_what_is_no_table_is_refused(tmp_path: Path, content: bytes, words: str) -> None:
    """Each in one sentence with a remedy."""
    sentence = one_refusal(tmp_path, "a.csv", content)
    assert sentence.startswith("a.csv: cannot be read as CSV, because ")
    assert words in sentence


def test_values_are_judged_by_the_schema(tmp_path: Path) -> None:
    """Every fault with its line: empty, out of range, no number, a height with its unit."""
    content = (
        "name,lat,lon,above_launch_m\ngate,,1,2\ngate,191,1,x\n\nhome,1,181,60 m\ndam,nan,1,1e999\n"
    )
    sentences = refused(tmp_path, "a.csv", content, launch=(1.0, 1.0))
    found = [sentence.removeprefix("a.csv: ").partition(":")[0] for sentence in sentences]
    assert found == [
        "waypoint[1].lat (line 2)",
        "waypoint[2].lat (line 3)",
        "waypoint[2].height (line 3)",
        "waypoint[3].lon (line 5)",
        "waypoint[3].height (line 5)",
        "waypoint[4].lat (line 6)",
        "waypoint[4].height (line 6)",
        "waypoint[2].name (line 3)",
        "waypoint[3].name (line 5)",
    ]


def test_the_same_slip_in_every_line_is_not_told_each_time(tmp_path: Path) -> None:
    """Fifty sentences, and how many more."""
    content = "lat,lon,above_launch_m\n" + "1,2,x\n" * 80
    sentences = refused(tmp_path, "a.csv", content)
    assert len(sentences) == 51
    assert sentences[-1] == "a.csv: and 30 more faults; correct these first."


def test_a_line_from_the_options_is_refused(tmp_path: Path) -> None:
    """--take chooses among lines, and a table is one."""
    assert "--take: plays no part with a CSV file" in one_refusal(
        tmp_path, "a.csv", PLAIN, take="1"
    )


def test_the_header_is_not_contradicted(tmp_path: Path) -> None:
    """Options that say otherwise than the header are refused."""
    sentences = refused(tmp_path, "a.csv", PLAIN, heights="ground", height_unit="ft")
    assert "--heights: given 'ground', but its header says above launch" in sentences[0]
    assert "--height-unit: given 'ft', but the header 'above_launch_m' says m" in sentences[1]

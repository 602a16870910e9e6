"""Which reader takes a file, and files that none should take."""

from __future__ import annotations

import subprocess
import sys
from pathlib import Path

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from terrain_guard.errors import RefusedRoute
from terrain_guard.plan.draft import RawFile
from terrain_guard.plan.route_files import MOST_BYTES, format_of, read_route
from terrain_guard.plan.told import Told
from tests.plan.foreign import LAUNCH, gpx, gpx_points, kml, kmz, line, one_refusal, read
from tests.plan.samples import SMALLEST, write

ROOT = Path(__file__).parents[2]
KML = kml(line(mode="relativeToGround"))


@pytest.mark.parametrize(
    ("name", "data", "format_"),
    [
        ("a.toml", b"heights = 1", "toml"),
        ("a.toml", b" \n<kml/>", "kml"),
        ("a.csv", b"PK\x03\x04", "kmz"),
        ("a.kml", b"{}", "geojson"),
        ("a.kml", b"\xef\xbb\xbf<gpx/>", "kml"),
        ("a", "<gpx/>".encode("utf-16"), "kml"),
        ("A.CSV", b"lat,lon", "csv"),
        ("a.tsv", b"lat", "csv"),
        ("a.json", b"", "geojson"),
        ("a.gpx", b"junk", "gpx"),
        ("a.kmz", b"junk", "kmz"),
        ("a.txt", b"lat;lon\n", "csv"),
        ("a.txt", b"title = 'a,b'\n", "toml"),
        ("a.txt", b"[launch]\n", "toml"),
        ("a.txt", b"# a, b\n", "toml"),
        ("a", b"", "toml"),
    ],
)
def test_content_decides_then_the_ending(name: str, data: bytes, format_: str) -> None:
    """What a file starts with, its name where that does not tell, and TOML for the rest."""
    assert format_of(RawFile(file=name, data=data)) == format_


def test_all_formats_come_through_one_door(tmp_path: Path) -> None:
    """The same three points from TOML and from the four formats without a launch."""
    from tests.plan.test_route_csv import PLAIN

    content = gpx(f"<rte>{gpx_points('rtept')}</rte>")
    read_gpx = read(tmp_path, "a.gpx", content, heights="launch")
    read_kml = read(tmp_path, "a.kml", kml(line()), heights="launch")
    read_kmz = read(tmp_path, "a.kmz", kmz({"doc.kml": kml(line())}), heights="launch")
    read_csv = read(tmp_path, "a.csv", PLAIN.replace("gate,", ",").replace("dam,", ","))
    assert read_gpx.waypoints == read_kml.waypoints == read_kmz.waypoints == read_csv.waypoints
    assert read_gpx.launch == read_csv.launch
    assert (read_csv.launch.lat_deg, read_csv.launch.lon_deg) == LAUNCH
    assert read_route(write(tmp_path, SMALLEST)).title == "Untitled route"


@pytest.mark.parametrize("name", ["a.toml", "a.csv", "a.kml", "a.kmz", "a.gpx", "a.geojson", "a"])
@pytest.mark.parametrize(
    "data",
    [b"", b"\x00" * 99, b"\xff\xd8\xff\xe0junk", b"caf\xe9", b"%PDF-1.7\n\x80", b"\x1f\x8b\x08"],
    ids=["empty", "zeros", "picture", "latin-1", "document", "gzip"],
)
def test_junk_is_refused_in_one_sentence(tmp_path: Path, name: str, data: bytes) -> None:
    """Whatever the ending promises."""
    assert one_refusal(tmp_path, name, data)


def test_a_file_that_is_not_there_is_refused(tmp_path: Path) -> None:
    """By the name that was given; a folder too."""
    for path in (tmp_path / "none.kml", tmp_path):
        with pytest.raises(RefusedRoute, match=r"cannot be read as a route file"):
            read_route(path)


@settings(deadline=None, max_examples=150)
@given(
    name=st.sampled_from(["a.kml", "a.gpx", "a.csv", "a.geojson", "a.kmz", "a.toml"]),
    start=st.sampled_from([b"", b"<kml>", KML.encode()[:200], b"{", b"lat,lon\n", b"PK\x03\x04"]),
    data=st.binary(max_size=200),
)
def test_any_bytes_are_read_or_refused(
    tmp_path_factory: pytest.TempPathFactory, name: str, start: bytes, data: bytes
) -> None:
    """Never another error."""
    path = write(tmp_path_factory.getbasetemp(), start + data, name)
    faults: tuple[str, ...] = ()
    try:
        read_route(path, launch="first")
    except RefusedRoute as refused:
        faults = refused.faults or ("no fault told",)
    assert all(sentence.endswith(".") and "\n" not in sentence for sentence in faults)


# Memory and time, in a process of its own that may not take more.


def _sparse(path: Path, size: int) -> None:
    with path.open("wb") as file:
        file.truncate(size)


LIMITED = """
import resource, sys
resource.setrlimit(resource.RLIMIT_AS, (500_000_000,) * 2)
from terrain_guard import cli
sys.argv = ["terrain-guard", "convert", sys.argv[1], "out.toml", "--launch", "first"]
cli.main()
"""


@pytest.mark.skipif(sys.platform != "linux", reason="only Linux holds a process to its limit")
@pytest.mark.parametrize(
    "make",
    [
        lambda path: _sparse(path, 200_000_000),
        lambda path: path.write_bytes(b"<kml " + b"a='>' " * 3_000_000 + b"/>"),
        lambda path: path.write_bytes(b"<kml>" + b"<name/>" * 2_800_000 + b"</kml>"),
        lambda path: path.write_bytes(b'{"a":[' + b"[]," * 1_600_000 + b"1]}"),
        lambda path: path.write_bytes(b"lat,lon,height_m\n" + b",,\n" * 1_000_000),
        lambda path: path.write_bytes(kmz({"doc.kml": b"<kml>" + b" " * 100_000_000})),
    ],
    ids=["junk", "attributes", "elements", "lists", "rows", "bomb"],
)
def test_hostile_files_take_little_memory_and_time(tmp_path: Path, make: object) -> None:
    """Half a gigabyte of address space, twenty seconds: refused, and nothing is written."""
    assert callable(make)
    make(tmp_path / "route.csv")
    done = subprocess.run(
        [sys.executable, "-c", LIMITED, "route.csv"],
        capture_output=True,
        check=False,
        cwd=tmp_path,
        env={"PYTHONPATH": str(ROOT), "PATH": ""},
        timeout=20,
    )
    assert (done.returncode, done.stdout) == (2, b"")
    assert done.stderr.startswith(b"refused: route.csv")
    assert [path.name for path in tmp_path.iterdir()] == ["route.csv"]


def test_no_larger_file_is_read_whole(tmp_path: Path) -> None:
    """One byte more than allowed is refused by its size."""
    path = tmp_path / "a.csv"
    _sparse(path, MOST_BYTES + 1)
    with pytest.raises(RefusedRoute, match=r"a\.csv: given more than 20 MB, but a route file is"):
        read_route(path, told=Told())


def test_a_toml_file_may_launch_at_its_first_waypoint(tmp_path: Path) -> None:
    """As any other file; what is no place is left to the schema."""
    path = write(tmp_path, SMALLEST)
    launch = read_route(path, launch="first").launch
    assert (launch.lat_deg, launch.lon_deg) == (47.3131, -28.4046)
    with pytest.raises(RefusedRoute, match=r"there may be several|it is a table"):
        read_route(write(tmp_path, {**SMALLEST, "waypoint": [3, {}]}), launch="first")

"""The command that converts, and route files of other formats in `check`."""

from __future__ import annotations

import json
import shlex
import shutil
from pathlib import Path

import pytest
from typer.testing import CliRunner

from terrain_guard import cli
from tests.plan.foreign import gpx, gpx_points, kml, kmz, line
from tests.plan.test_route_csv import PLAIN
from tests.plan.test_xml_file import BILLION, EXTERNAL

RUNNER = CliRunner()
SAMPLE = Path(__file__).parents[1] / "sample_dem"
GROUND = ("--ground", str(SAMPLE / "valley_ground.tif"))
SLOPE = SAMPLE / "follows_slope.toml"


def _run(*arguments: str | Path) -> tuple[int, str, str]:
    """Run a command in this process; return exit code, standard output, standard error."""
    result = RUNNER.invoke(cli.app, [str(one) for one in arguments], prog_name="terrain-guard")
    if result.exception is not None and not isinstance(result.exception, SystemExit):
        raise result.exception
    return result.exit_code, result.stdout, result.stderr


def test_the_example_of_the_help_runs(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """As it stands, in a folder that has the sample."""
    shutil.copytree(SAMPLE, tmp_path / "sample_dem")
    monkeypatch.chdir(tmp_path)
    shown = _run("convert", "--help")[1].partition("Example:")[2].split("terrain-guard ")[1:]
    codes = [_run(*shlex.split(command))[0] for command in shown]
    surface = ("--surface", SAMPLE / "valley_surface.tif")
    assert codes == [0, _run("check", SLOPE, *GROUND, *surface)[0]]


def test_the_same_route_is_judged_the_same(tmp_path: Path) -> None:
    """From GeoJSON as from TOML: every number, to the last bit."""
    other = tmp_path / "slope.geojson"
    assert _run("convert", SLOPE, other) == (0, "", "Not held by geojson: comments.\n")
    one, same = (
        json.loads(_run("check", route, *GROUND, "--json", "-")[1]) for route in (SLOPE, other)
    )
    for answer in (one, same):
        del answer["route"]["file"], answer["route"]["sha256"]
    assert one == same


def test_what_is_told_reaches_the_route(tmp_path: Path) -> None:
    """A KML line with a height for all: the launch, the heights and the lack of more are told."""
    route = tmp_path / "a.kml"
    route.write_text(kml(line("-28.4046,47.3131 -28.404045,47.314015")))
    told = ("--fly-at", "82m", "--heights", "launch", "--launch", "first")
    code, out, error = _run("check", route, *GROUND, *told, "--json", "-")
    answer = json.loads(out)
    assert code in {0, 3, 4, 5}
    assert [(leg["typed_start_m"], leg["typed_end_m"]) for leg in answer["legs"][:2]] == [
        (0, 82),
        (82, 82),
    ]
    assert "82 m above the launch ground, as --fly-at says" in " ".join(error.split())


def test_columns_and_lines_can_be_told(tmp_path: Path) -> None:
    """--columns, --height-unit and --take reach their readers; profile takes them too."""
    table = tmp_path / "a.csv"
    table.write_text(PLAIN.replace("lat,lon,above_launch_m", "Y,X,H"))
    told = ("--columns", "lat=Y,lon=X,height=H", "--height-unit", "m", "--heights", "ground")
    code, _, error = _run("convert", table, tmp_path / "a.toml", *told, "--launch", "first")
    assert code == 0
    assert error.startswith("waypoint heights: column 'H' in m (its header does not say what")
    lines = tmp_path / "b.kml"
    lines.write_text(kml(line(mode="absolute"), line(mode="relativeToGround")))
    out = tmp_path / "b.png"
    picked = ("--take", "2", "--launch", "first")
    assert _run("profile", lines, *GROUND, "-o", out, *picked)[0] == 0
    assert out.read_bytes().startswith(b"\x89PNG")
    assert _run("convert", lines, tmp_path / "b.csv", *picked)[::2] == (
        0,
        "waypoint heights: altitudes in m (altitudeMode relativeToGround counts from the ground), "
        "taken as above the ground under each waypoint.\n"
        "launch at lat 47.3131, lon -28.4046, as --launch first says.\n"
        "Not used: 1 more line.\nNot held by csv: launch.\n",
    )


def test_standard_output_needs_a_format(tmp_path: Path) -> None:
    """- has no ending; with --to the file is alone there."""
    assert _run("convert", SLOPE, "-")[0] == 2
    code, out, error = _run("convert", SLOPE, "-", "--to", "csv")
    assert (code, out.splitlines()[0]) == (0, "name,lat,lon,above_launch_m,speed_m_per_s")
    assert error.startswith("Not held by csv: comments, title, launch, turns,")
    other = tmp_path / "slope.txt"
    assert _run("convert", SLOPE, other, "--to", "geojson")[0] == 0
    assert other.read_text().startswith('{"type": "FeatureCollection"')


@pytest.mark.parametrize(
    ("arguments", "words"),
    [
        (["out"], "OUT 'out' does not say its format; end it in .toml, .geojson, .csv"),
        (["out.shp"], "OUT 'out.shp' does not say its format"),
        (["out.tsv"], "OUT 'out.tsv' does not say its format"),
        (["out.csv", "--to", "xls"], "--to 'xls' is no format"),
        (["out.kml"], "given heights above launch, but a KML file has altitudes"),
        (["out.gpx"], "but a GPX file has only ele"),
        (["out.toml", "--without-heights"], "is nothing without heights"),
        (
            ["out.csv", "--heights", "sea"],
            "--heights: given 'sea', but it must be 'launch', 'ground'",
        ),
        (["out.csv", "--heights", "launch"], "--heights: plays no part with a TOML route file"),
        (["out.csv", "--fly-at", "60"], "--fly-at: given '60', but it must be a height and its"),
        (["out.csv", "--columns", "x"], "--columns: given 'x', but it must say once each"),
        (["out.csv", "--launch", "last"], "--launch 'last' is not a place"),
        (["old.csv"], "OUT 'old.csv' exists and is kept; add --overwrite"),
        (["plan.toml", "--overwrite"], "OUT 'plan.toml' is also read"),
        (["no/out.csv"], "its folder does not exist"),
    ],
)
def test_refusals_write_nothing(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, arguments: list[str], words: str
) -> None:
    """One sentence, exit code 2."""
    monkeypatch.chdir(tmp_path)
    Path("plan.toml").write_text(SLOPE.read_text())
    Path("old.csv").write_text("old")
    code, out, error = _run("convert", "plan.toml", *arguments)
    assert (code, out) == (2, "")
    assert error.startswith("refused: ")
    assert words in error
    assert error.count("\n") == 1
    assert sorted(path.name for path in tmp_path.iterdir()) == ["old.csv", "plan.toml"]
    assert Path("old.csv").read_text() == "old"


BAD = {
    "laughs.kml": f"{BILLION}<kml>&a9;</kml>".encode(),
    "entity.gpx": f'{EXTERNAL}<gpx version="1.1">&a9;</gpx>'.encode(),
    "cut.kmz": kmz({"doc.kml": kml(line())})[:200],
    "bomb.kmz": kmz({"doc.kml": b"<kml>" + b" " * 30_000_000}),
    "traversal.kmz": kmz({"doc.kml": kml(line()), "../../a.kml": ""}),
    "junk.kml": b"\x8f" * 1000,
    "latin.csv": PLAIN.replace("gate", "caf\xe9").encode("latin-1"),
    "commas.csv": PLAIN.replace("47.3131", "47,3131").encode(),
    "minutes.csv": PLAIN.replace("47.3131", "47°18'47\"N").encode(),
    "west.csv": PLAIN.replace("-28.4046", "28.4046W").encode(),
    "west.gpx": gpx(f"<rte>{gpx_points('rtept').replace('-28.4046', '28.4046W')}</rte>").encode(),
    "third.geojson": b'{"type": "FeatureCollection", "features": ['
    b'{"type": "Feature", "properties": {"role": "launch"}, '
    b'"geometry": {"type": "Point", "coordinates": [1, 2, 3]}}]}',
    "datum.gpx": gpx(f"<rte>{gpx_points('rtept')}</rte>").encode(),
    "unit.csv": PLAIN.replace("_m\n", "\n").encode(),
}


@pytest.mark.parametrize("name", sorted(BAD))
@pytest.mark.parametrize("command", ["check", "profile", "convert"])
def test_bad_files_are_refused(tmp_path: Path, name: str, command: str) -> None:
    """Sentences that name the file, exit code 2, nothing written: whatever reads it."""
    path = tmp_path / name
    path.write_bytes(BAD[name])
    out = str(tmp_path / "out.png")
    rest = {
        "check": (*GROUND, "--json", out),
        "profile": (*GROUND, "--out", out),
        "convert": (out, "--to", "toml"),
    }[command]
    code, printed, error = _run(command, path, *rest, "--launch", "47.3124,-28.4051")
    assert (code, printed) == (2, "")
    assert all(sentence.startswith(f"refused: {name}") for sentence in error.splitlines())
    assert [left.name for left in tmp_path.iterdir()] == [name]

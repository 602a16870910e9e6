"""The commands: exit codes, streams, whole text, refusals.

The first half runs the commands on assessments made by hand; the second half runs
everything, on small invented terrain whose heights are closed forms.
"""

import json
import subprocess
import sys
import textwrap
import types
from collections.abc import Callable
from io import BytesIO
from pathlib import Path
from typing import Any

import numpy as np
import pytest
from rasterio import Affine
from typer.testing import CliRunner

import terrain_guard
from terrain_guard import cli
from terrain_guard.assessment import Assessment
from terrain_guard.errors import RefusedRoute
from terrain_guard.plan.told import NOTHING_TOLD
from terrain_guard.report import assessment_json, cautions, table, tables_csv
from tests.rasters import write_raster
from tests.report import factory

RUNNER = CliRunner()


def _run(*arguments: str | Path) -> tuple[int, str, str]:
    """Run a command in this process; return exit code, standard output, standard error."""
    result = RUNNER.invoke(cli.app, [str(one) for one in arguments], prog_name="terrain-guard")
    if result.exception is not None and not isinstance(result.exception, SystemExit):
        raise result.exception
    return result.exit_code, result.stdout, result.stderr


def _lines(assessment: Assessment, unit: str = "m") -> str:
    return "".join(f"{line}\n" for line in table.lines(assessment, unit=unit))


class Hall:
    """Stands in for the hall: answers with an assessment made by hand, and keeps what it got."""

    def __init__(self) -> None:
        self.answer: Assessment = factory.within()
        self.refusal: Exception | None = None
        self.asked: dict[str, Any] = {}

    def check(self, route: object, **given: Any) -> Assessment:
        """Return the answer."""
        self.asked = {"route": route, **given}
        if self.refusal is not None:
            raise self.refusal
        return self.answer

    def limiting_surfaces(self, _assessment: Assessment, **models: object) -> object:
        """Return something that only the stand-in for the drawing looks at."""
        return models


def _module(name: str, **content: object) -> types.ModuleType:
    made = types.ModuleType(name)
    vars(made).update(content)
    return made


@pytest.fixture
def hall(monkeypatch: pytest.MonkeyPatch) -> Hall:
    """Put a stand-in where the commands find the hall."""
    stand_in = Hall()
    module = _module(
        "terrain_guard.assess", check=stand_in.check, limiting_surfaces=stand_in.limiting_surfaces
    )
    monkeypatch.setitem(sys.modules, "terrain_guard.assess", module)
    monkeypatch.setattr(terrain_guard, "assess", module, raising=False)
    return stand_in


@pytest.fixture
def drawing(monkeypatch: pytest.MonkeyPatch) -> dict[str, Any]:
    """Put a stand-in where the commands find the drawing; return what it was given."""
    given: dict[str, Any] = {}

    def draw(assessment: Assessment, limits: object, out: BytesIO, **options: str) -> None:
        given.update(assessment=assessment, limits=limits, **options)
        out.write(b"a picture")

    import terrain_guard.report

    module = _module("terrain_guard.report.profile", draw=draw)
    monkeypatch.setitem(sys.modules, "terrain_guard.report.profile", module)
    monkeypatch.setattr(terrain_guard.report, "profile", module, raising=False)
    return given


CHECK = ("check", "route.toml", "--ground", "ground.tif")


@pytest.mark.parametrize(
    ("make", "code"),
    [(factory.within, 0), (factory.breach, 3), (factory.not_assessed, 4), (factory.tight, 5)],
)
def test_check_exits_with_the_verdict(
    hall: Hall, make: Callable[[], Assessment], code: int
) -> None:
    """The table goes to standard output, nothing to standard error, and the code tells."""
    hall.answer = make()
    assert _run(*CHECK) == (code, _lines(hall.answer), "")


def test_check_prints_feet(hall: Hall) -> None:
    """--units ft reaches the table."""
    assert _run(*CHECK, "--units", "ft")[1] == _lines(hall.answer, "ft")


def test_check_hands_on_what_was_given(hall: Hall) -> None:
    """Route, terrain, rules and launch reach the hall as given; a negative latitude too."""
    _run(*CHECK, "--rules", "site.toml", "--launch", "-47.3124,-28.4051")
    assert hall.asked == {
        "route": Path("route.toml"),
        "ground": ["ground.tif"],
        "surface": None,
        "second_ground": None,
        "canopy_m": None,
        "rules": "site.toml",
        "launch": (-47.3124, -28.4051),
        "told": NOTHING_TOLD,
    }


def test_check_hands_on_every_model(hall: Hall) -> None:
    """Ground, surface, second ground and canopy reach the hall, each repeated or not."""
    models = ["--surface", "a.tif", "--surface", "b.tif", "--second-ground", "other.tif"]
    _run("check", "route.toml", "--canopy", "12.5", *models)
    names = ("ground", "surface", "second_ground", "canopy_m")
    assert [hall.asked[name] for name in names] == [None, ["a.tif", "b.tif"], ["other.tif"], 12.5]


def test_check_writes_files(hall: Hall, tmp_path: Path) -> None:
    """JSON and both CSV files hold what their writers make, and the table is printed too."""
    hall.answer = factory.breach()
    names = {option: tmp_path / f"out{option}" for option in ("--json", "--csv", "--every-metre")}
    options = [word for option, name in names.items() for word in (option, str(name))]
    assert _run(*CHECK, *options) == (3, _lines(hall.answer), "")
    text = assessment_json.text(hall.answer).encode()
    assert names["--json"].read_bytes() == text
    assert names["--csv"].read_bytes() == tables_csv.legs(hall.answer).encode()
    assert names["--every-metre"].read_bytes() == tables_csv.every_metre(hall.answer).encode()


@pytest.mark.parametrize("option", ["--json", "--csv", "--every-metre"])
def test_a_file_on_standard_output_is_alone_there(hall: Hall, option: str) -> None:
    """With - the table, cautions included, moves to standard error."""
    hall.answer = factory.tight()
    written = {
        "--json": assessment_json.text,
        "--csv": tables_csv.legs,
        "--every-metre": tables_csv.every_metre,
    }[option](hall.answer)
    assert _run(*CHECK, option, "-") == (5, written, _lines(hall.answer))


@pytest.mark.parametrize(
    ("options", "sentence"),
    [
        (["--json", "no/such/folder/a.json"], "its folder does not exist"),
        (["--json", "old.json"], "'old.json' exists and is kept; add --overwrite"),
        (["--json", "ground.tif", "--overwrite"], "'ground.tif' is also read"),
        (["--json", "ground.tif.toml", "--overwrite"], "'ground.tif.toml' is also read"),
        (["--csv", "route.toml", "--overwrite"], "'route.toml' is also read"),
        (["--csv", "site.toml", "--rules", "site.toml", "--overwrite"], "is also read"),
        (["--csv", "a.csv", "--every-metre", "a.csv"], "--csv and --every-metre both name"),
        (["--csv", "-", "--json", "-"], "both name '-'"),
        (["--json", "top.tif", "--surface", "top.tif", "--overwrite"], "is also read"),
        (["--json", "two.tif", "--second-ground", "two.tif", "--overwrite"], "is also read"),
        (["--json", "top.tif.toml", "--surface", "top.tif", "--overwrite"], "is also read"),
        (["--ground", "none/*.tif"], "'none/*.tif' matches no file"),
        (["--surface", "none/*.tif"], "'none/*.tif' matches no file"),
        (["--second-ground", "none/*.tif"], "'none/*.tif' matches no file"),
        (["--launch", "47.3"], "--launch '47.3' is not a place"),
        (["--launch", "nan,0"], "--launch 'nan,0' is not a place"),
        (["--launch", "inf,0"], "is not a place"),
        (["--launch", "147.3,-28.4"], "latitude comes first"),
        (["--launch", "47,5,28,4"], "is not a place"),
        (["--launch", "here"], "is not a place"),
    ],
)
def test_check_refuses_before_computing(
    hall: Hall,
    tmp_path: Path,
    monkeypatch: pytest.MonkeyPatch,
    options: list[str],
    sentence: str,
) -> None:
    """One sentence, exit code 2, nothing computed, nothing written."""
    monkeypatch.chdir(tmp_path)
    own = ("old.json", "route.toml", "site.toml")
    for name in (*own, "ground.tif", "ground.tif.toml", "top.tif", "top.tif.toml", "two.tif"):
        Path(name).write_text(name)
    before = sorted(tmp_path.rglob("*"))
    code, out, error = _run(*CHECK, *options)
    assert (code, out, hall.asked) == (2, "", {})
    assert sentence in error
    assert error.startswith("refused: ")
    assert error.count("\n") == 1
    assert sorted(tmp_path.rglob("*")) == before
    assert all(one.read_text() == one.name for one in before)


def test_check_reports_every_fault(hall: Hall, tmp_path: Path) -> None:
    """A refusal with several faults prints one line each; control characters are not obeyed."""
    hall.refusal = RefusedRoute("first fault", "second\x1b[2J fault")
    code, out, error = _run(*CHECK, "--json", tmp_path / "a.json")
    assert (code, out) == (2, "")
    assert error == "refused: first fault\nrefused: second?[2J fault\n"
    assert list(tmp_path.iterdir()) == []


@pytest.mark.parametrize(
    "arguments",
    [
        [],
        ["check"],
        ["check", "route.toml", "--ground"],
        [*CHECK, "--units", "yd"],
        [*CHECK, "--colour"],
        ["retype"],
        ["profile", "route.toml", "--ground", "ground.tif"],
    ],
)
def test_usage_errors_exit_2(arguments: list[str]) -> None:
    """What is missing or unknown is told on standard error."""
    code, out, error = _run(*arguments)
    assert (code, out) == (2, "")
    assert "Error: " in error or "Usage: " in error
    assert "Traceback" not in error


@pytest.mark.parametrize("name", ["p.png", "p.SVG", "p.pdf"])
def test_profile_draws_what_the_ending_says(
    hall: Hall, drawing: dict[str, Any], tmp_path: Path, name: str
) -> None:
    """The picture lands in the file; the verdict and its sentence on standard error; exit 0."""
    hall.answer = factory.breach()
    out = tmp_path / name
    code, printed, error = _run("profile", *CHECK[1:], "-o", out, "--units", "ft")
    assert (code, printed) == (0, "")
    beside = f"{cautions.HOME_UNKNOWN}; {cautions.TREES_UNKNOWN}"
    assert error == f"BREACH: the route goes outside its limits\n{beside}\n"
    assert out.read_bytes() == b"a picture"
    assert drawing == {
        "assessment": hall.answer,
        "limits": {"ground": ["ground.tif"], "surface": None},
        "file_format": out.suffix[1:].lower(),
        "unit": "ft",
    }


def test_profile_to_standard_output_is_png(hall: Hall, drawing: dict[str, Any]) -> None:
    """- has no ending; the picture is a PNG and stands alone on standard output."""
    hall.answer = factory.within()
    code, printed, error = _run("profile", *CHECK[1:], "-o", "-")
    assert (code, printed, drawing["file_format"]) == (0, "a picture", "png")
    assert error.startswith("WITHIN: no breach found in the data listed\n")


@pytest.mark.parametrize("name", ["p.jpg", "p", "p.png.txt"])
def test_profile_refuses_other_pictures(hall: Hall, tmp_path: Path, name: str) -> None:
    """An ending that says nothing is refused before computing."""
    code, _, error = _run("profile", *CHECK[1:], "-o", tmp_path / name)
    assert (code, hall.asked) == (2, {})
    assert "must end in .png, .svg or .pdf" in error


def test_profile_keeps_an_old_picture(hall: Hall, drawing: dict[str, Any], tmp_path: Path) -> None:
    """Without --overwrite the old picture stays; with it, it is replaced."""
    old = tmp_path / "p.png"
    old.write_bytes(b"old")
    assert _run("profile", *CHECK[1:], "-o", old)[0] == 2
    assert (old.read_bytes(), hall.asked, drawing) == (b"old", {}, {})
    assert _run("profile", *CHECK[1:], "-o", old, "--overwrite")[0] == 0
    assert old.read_bytes() == b"a picture"


def test_template_is_the_plan_s(tmp_path: Path) -> None:
    """The template is printed, or written to a file that did not exist."""
    from terrain_guard.plan.template import template

    assert _run("template") == (0, template(), "")
    out = tmp_path / "mine.toml"
    assert _run("template", "-o", out) == (0, "", "")
    assert out.read_bytes() == template().encode()
    assert _run("template", "-o", out)[0] == 2


def test_version_is_printed() -> None:
    """--version prints the name and the version."""
    assert _run("--version") == (0, f"terrain-guard {terrain_guard.__version__}\n", "")


@pytest.mark.parametrize("command", ["check", "profile", "template", "convert"])
def test_help_ends_with_an_example(command: str) -> None:
    """The last lines of each help can be pasted into a shell."""
    code, out, _ = _run(command, "--help")
    example = out[out.index("Example:") :].splitlines()
    assert code == 0
    assert example[1].startswith(f"    terrain-guard {command} ")
    assert "--ground sample_dem/valley_ground.tif" in example[-1]


def test_help_lists_only_what_exists() -> None:
    """Six commands, no stubs."""
    listed = _run("--help")[1].split("Commands:\n")[1].split("\n\n")[0].splitlines()
    names = [line.split()[0] for line in listed]
    assert names == ["check", "profile", "template", "terrain", "convert", "selftest"]


# A process of its own, where the console, the pipe or the imports matter.

STAND_IN = """
import sys, types
from tests.report import factory
import terrain_guard
from terrain_guard import cli
legs = tuple(factory.leg(i, "D\\u00e4mmung \\u5c71", "spur") for i in range({legs}))
hall = types.ModuleType("terrain_guard.assess")
hall.check = lambda route, **given: factory.breach(legs=legs)
sys.modules["terrain_guard.assess"] = terrain_guard.assess = hall
cli.main()
"""
ROOT = Path(__file__).parents[1]


def _command(*arguments: str, legs: int = 1) -> list[str]:
    code = textwrap.dedent(STAND_IN).format(legs=legs)
    return [sys.executable, "-c", code, *arguments]


@pytest.mark.parametrize("encoding", ["ascii", "cp1252", "utf-8"])
def test_any_console_can_print(encoding: str) -> None:
    """A name that the console cannot spell becomes question marks, not a crash."""
    done = subprocess.run(
        _command(*CHECK),
        capture_output=True,
        check=False,
        cwd=ROOT,
        env={**_environment(), "PYTHONIOENCODING": encoding, "PYTHONUTF8": "0"},
    )
    name = "D\u00e4mmung \u5c71".encode(encoding, "replace")
    assert (done.returncode, done.stderr) == (3, b"")
    assert b"  0 " + name + b" -> spur" in done.stdout


def test_json_on_any_console_is_utf_8() -> None:
    """What a program reads is UTF-8 (RFC 8259, section 8.1), whatever the console speaks."""
    done = subprocess.run(
        _command(*CHECK, "--json", "-"),
        capture_output=True,
        check=False,
        cwd=ROOT,
        env={**_environment(), "PYTHONIOENCODING": "ascii", "PYTHONUTF8": "0"},
    )
    assert done.returncode == 3
    assert json.loads(done.stdout.decode("utf-8"))["legs"][0]["start"] == "D\u00e4mmung \u5c71"
    assert b"\r" not in done.stdout


def _environment() -> dict[str, str]:
    import os

    return dict(os.environ)


@pytest.mark.parametrize("options", [[], ["--json", "-"]], ids=["table", "json"])
def test_a_reader_that_leaves_does_not_hide_the_verdict(tmp_path: Path, options: list[str]) -> None:
    """`| head` closes the pipe early: no traceback, and the exit code is still the verdict's."""
    with (tmp_path / "error.txt").open("w+b") as error:
        process = subprocess.Popen(
            _command(*CHECK, *options, legs=3000), stdout=subprocess.PIPE, stderr=error, cwd=ROOT
        )
        assert process.stdout is not None
        process.stdout.read(10)
        process.stdout.close()
        assert process.wait() == 3
        error.seek(0)
        told = error.read()
    assert b"Traceback" not in told
    assert b"Error" not in told


@pytest.mark.skipif(not Path("/dev/full").exists(), reason="needs a device that is always full")
def test_a_full_standard_output_is_refused() -> None:
    """A result that could not be written is told, with exit code 2."""
    with Path("/dev/full").open("wb") as full:
        done = subprocess.run(
            _command(*CHECK, "--json", "-"),
            stdout=full,
            stderr=subprocess.PIPE,
            check=False,
            cwd=ROOT,
        )
    assert done.returncode == 2
    assert b"refused: the output could not be written" in done.stderr
    assert b"Traceback" not in done.stderr


def test_help_loads_nothing_heavy() -> None:
    """--help answers at once because arrays, rasters and plots are not loaded for it."""
    code = (
        "import sys, terrain_guard.cli;"
        "print({'numpy', 'scipy', 'rasterio', 'pyproj', 'matplotlib'} & set(sys.modules))"
    )
    done = subprocess.run(
        [sys.executable, "-c", code], capture_output=True, check=True, text=True, cwd=ROOT
    )
    assert done.stdout == "set()\n"


# Everything, on terrain whose heights are closed forms: a plain at 100 m.

CRS = "EPSG:32626+3855"  # UTM zone 26N and EGM2008 heights
EAST, NORTH = 545_000.0, 5_240_000.0  # in the open ocean
ROUTE = """\
title = "Over the plain"
heights = "launch"
height_unit = "m"
speed_m_per_s = 6
[launch]
lat = {lat}
lon = {lon}
[turns]
kind = "fly-by"
corner_height = "mid-arc"
[climb]
model = "linear"
out = "vertical"
[after_last]
go_to = "here"
then = "land"
[[waypoint]]
name = "gate"
lat = {lat}
lon = {lon}
height = {height}
[[waypoint]]
name = "far end"
lat = {lat_end}
lon = {lon}
height = {height}
"""


@pytest.fixture
def site(tmp_path: Path) -> Callable[..., list[str]]:
    """Return a maker of a plain at 100 m, 1 km square, and a route 400 m north over it."""
    from pyproj import Transformer

    to_degrees = Transformer.from_crs(32626, 4326, always_xy=True)

    def make(height: float, *, hole: bool = False) -> list[str]:
        heights = np.full((500, 500), 100.0, dtype=np.float32)
        if hole:
            heights[250, 250] = -9999.0
        ground = write_raster(
            tmp_path / "plain.tif",
            heights,
            transform=Affine(2.0, 0.0, EAST, 0.0, -2.0, NORTH + 1000.0),
            crs=CRS,
            nodata=-9999.0,
        )
        lon, lat = to_degrees.transform(EAST + 501.0, NORTH + 299.0)
        open_ground = ("--canopy", "0")
        _, lat_end = to_degrees.transform(EAST + 501.0, NORTH + 699.0)
        route = tmp_path / "route.toml"
        route.write_text(ROUTE.format(lat=lat, lon=lon, lat_end=lat_end, height=height))
        return [str(route), "--ground", str(ground), *open_ground]

    return make


FIXED = """\
name = "Site rule"
source = "Operations manual 4.2"
unit = "m"
[floor]
value = 30
[ceiling]
value = 120
[margins]
floor = 7
ceiling = 5
"""


@pytest.mark.parametrize(
    ("height", "code", "verdict"),
    [
        (60.0, 0, "within"),
        (37.5, 0, "within"),
        (36.5, 5, "tight"),
        (29.5, 3, "breach"),
        (114.5, 0, "within"),
        (115.5, 5, "tight"),
        (120.5, 3, "breach"),
    ],
)
def test_a_plain_is_judged_by_the_typed_height(
    site: Callable[..., list[str]], tmp_path: Path, height: float, code: int, verdict: str
) -> None:
    """Over a plain the typed height is the height above ground and the clearance."""
    rules = tmp_path / "rules.toml"
    rules.write_text(FIXED)
    done, out, _ = _run("check", *site(height), "--rules", str(rules), "--json", "-")
    answer = json.loads(out)
    assert (done, answer["verdict"]) == (code, verdict)
    leg = answer["legs"][1]
    for what in ("above_ground", "clearance"):
        for which in ("min", "max"):
            assert leg[what][which]["nominal_m"] == pytest.approx(height, abs=0.01)
    # Up, 400 m on the grid (scale factor 0.9996 and more in zone 26, so within 0.1 %), down.
    assert answer["length_m"] == pytest.approx(2 * height + 400.0, abs=0.5)


def test_one_missing_post_is_not_assessed(site: Callable[..., list[str]]) -> None:
    """A void under the route: exit 4, and empty cells at its metres, never a number."""
    code, out, error = _run("check", *site(60.0, hole=True), "--every-metre", "-")
    assert code == 4
    assert "VERDICT   NOT ASSESSED" in error
    unknown = [line.split(",") for line in out.splitlines() if line.endswith(",not-assessed")]
    # The post is in the stencil of 4 m along the route (two cells of 2 m).
    assert 3 <= sum(row[6] == "" for row in unknown) <= 5


def test_the_whole_json_is_valid(site: Callable[..., list[str]]) -> None:
    """What the program writes about real input fits the schema that it ships."""
    import jsonschema

    for height, hole in ((60.0, False), (29.5, False), (60.0, True)):
        out = _run("check", *site(height, hole=hole), "--json", "-")[1]
        jsonschema.Draft202012Validator(assessment_json.schema()).validate(json.loads(out))


def test_profile_draws_a_real_picture(site: Callable[..., list[str]], tmp_path: Path) -> None:
    """Each format starts with the bytes its standard prescribes (PNG 5.2, PDF 7.5.2)."""
    for name, start in (("p.png", b"\x89PNG\r\n\x1a\n"), ("p.pdf", b"%PDF-"), ("p.svg", b"<?xml")):
        assert _run("profile", *site(60.0), "-o", tmp_path / name)[0] == 0
        assert (tmp_path / name).read_bytes().startswith(start)


def test_refused_input_is_one_sentence(site: Callable[..., list[str]], tmp_path: Path) -> None:
    """A missing elevation model is named; nothing is written."""
    route = site(60.0)[0]
    options = ["--ground", str(tmp_path / "none.tif"), "--json", str(tmp_path / "a.json")]
    code, out, error = _run("check", route, *options)
    assert (code, out) == (2, "")
    assert "none.tif" in error
    assert error.count("\n") == 1
    assert not (tmp_path / "a.json").exists()


def test_the_public_face_is_the_same_check(site: Callable[..., list[str]]) -> None:
    """`terrain_guard.check` gives what the command writes."""
    arguments = site(60.0)
    route, _, ground, *_ = arguments
    assessment = terrain_guard.check(route, ground=[ground], canopy_m=0.0)
    written = json.loads(_run("check", *arguments, "--json", "-")[1])
    assert json.loads(assessment_json.text(assessment)) == written

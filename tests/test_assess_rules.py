"""Published rules, ceilings above sea level and closest points, on whole flights.

Terrain is flat or a plane, so that every number is a closed form. On a plane of
slope angle s, ground A straight below is A cos s away at the closest point, which
lies A sin s cos s up the slope and A sin² s higher than the ground straight below::

         ●
         │╲  A cos s
       A │ ╲
         │  ◣___
    _____│__╱     plane, rising to the right
"""

from __future__ import annotations

import json
import math
import re
from pathlib import Path
from typing import Any, Final

import jsonschema
import numpy as np
import pytest
from rasterio.transform import Affine
from typer.testing import CliRunner

from terrain_guard import cli
from terrain_guard.assess import check, limiting_surfaces
from terrain_guard.assessment import Assessment
from terrain_guard.errors import RefusedTerrain
from terrain_guard.plan.rules import NAMED_RULES, Rules
from terrain_guard.report import assessment_json, profile, table
from terrain_guard.states import State
from tests.checks import scenes
from tests.checks.scenes import Floats, Surface
from tests.rasters import write_raster

BOX: Final = (-150.0, -150.0, 450.0, 150.0)
ABOVE_EGM96: Final = "EPSG:32626+5773"
GROUND_M: Final = 400.0
DATUM_DOUBT_M: Final = 2.0  # common practice, no source
MARGIN_M: Final = scenes.CEILING_MARGIN_M[1.0] + DATUM_DOUBT_M
ALONG_M: Final = 0.02  # crossings are known to a centimetre on each side


def flat(east: Floats, north: Floats) -> Floats:
    """Return level ground."""
    return np.full(np.broadcast(east, north).shape, GROUND_M)


def plane(degrees: float) -> Surface:
    """Return ground that rises to the east."""
    return lambda east, north: GROUND_M + math.tan(math.radians(degrees)) * east + 0 * north


def sea_model(folder: Path, surface: Surface, *, crs: str = ABOVE_EGM96) -> Path:
    """Write a model that says what its heights count from."""
    east, north = scenes.posts(1.0, *BOX)
    step = scenes.SCALE
    first = scenes.grid_place(BOX[0], BOX[3])
    return write_raster(
        folder / "sea.tif", surface(east, north), crs=crs,
        transform=Affine(step, 0, first[0] - step / 2, 0, -step, first[1] + step / 2),
    )  # fmt: skip


def sea_rules(limit_m: float, **changes: Any) -> Rules:
    """Return a ceiling above sea level, and no other."""
    return scenes.rules(floor_m=0.5, ceiling_m=limit_m, ceiling_measure="sea-level", **changes)


def said(found: Assessment, words: str) -> list[str]:
    """Return the cautions that hold `words`."""
    return [one for one in found.cautions if words in one]


# -- one rule or the other ----------------------------------------------------


@pytest.mark.parametrize(
    ("name", "state"),
    [
        ("us-107", State.TIGHT),  # 400 ft = 121.92 m, less than the 5 m margin away
        ("au-101", State.TIGHT),
        ("eu-open", State.BREACH),  # 120 m
        ("uk-open", State.BREACH),
    ],
)
def test_121_m_above_level_ground(tmp_path: Path, name: str, state: State) -> None:
    """It keeps 400 ft, as computed, and breaks 120 m."""
    ground = scenes.model(tmp_path, flat, box_m=BOX)
    found = scenes.fly(ground, [(0, 0, 121), (300, 0, 121)], NAMED_RULES[name])
    assert found.verdict is state
    assert {one.state for one in scenes.of_kind(found, "ceiling", leg=1)} == {state}


@pytest.mark.parametrize(
    ("name", "count"),
    [("us-107", 1), ("eu-open", 1), ("uk-open", 1), ("au-101", 0), ("default", 0)],
)
def test_an_exception_is_told_and_never_applied(tmp_path: Path, name: str, count: int) -> None:
    """The breach stays one, whatever the rule grants near something tall."""
    ground = scenes.model(tmp_path, flat, box_m=BOX)
    found = scenes.fly(ground, [(0, 0, 150), (300, 0, 150)], NAMED_RULES[name])
    assert found.verdict is State.BREACH
    assert len(said(found, "An exception exists")) == count
    low = scenes.fly(ground, [(0, 0, 60), (300, 0, 60)], NAMED_RULES[name])
    assert said(low, "An exception exists") == []


# -- the closest point ----------------------------------------------------------


def slope_flight(folder: Path, degrees: float, above_m: float, limits: Rules) -> Assessment:
    """Fly level across the slope, `above_m` over ground that is level along the line."""
    ground = scenes.model(folder, plane(degrees), box_m=(-300.0, -300.0, 300.0, 300.0), cell_m=2.0)
    return scenes.fly(ground, [(0, -50, above_m), (0, 50, above_m)], limits)


@pytest.mark.parametrize("measure", ["vertical", "closest-point"])
def test_a_pass_to_the_closest_point_only_is_said_so(tmp_path: Path, measure: str) -> None:
    """130 m above a plane of 30 degrees: 112.583 m away, and a breach straight down."""
    limits = scenes.rules(ceiling_measure=measure)
    found = slope_flight(tmp_path, 30.0, 130.0, limits)
    remarks = said(found, "closest-point rule only")
    if measure == "vertical":
        assert found.verdict is State.BREACH
        assert remarks == []
        return
    assert scenes.of_kind(found, "ceiling", leg=1) == []  # 112.583 + 5 cos s < 120
    (remark,) = [one for one in remarks if one.startswith("Leg 1 ")]
    away, lat, lon, elevation, straight = map(
        float,
        re.search(
            r"only: ([\d.]+) m to the ground at (-?[\d.]+), (-?[\d.]+) \(elevation ([\d.]+) m\); "
            r"straight down ([\d.]+) m",
            remark,
        ).groups(),  # type: ignore[union-attr]
    )
    assert (away, straight) == (112.6, 130.0)  # rounded up
    east, north = scenes.east_north(lat, lon)
    sine, cosine = math.sin(math.radians(30.0)), math.cos(math.radians(30.0))
    assert east == pytest.approx(130.0 * sine * cosine, abs=0.1)  # six decimals of a degree
    assert -50.1 <= north <= 50.1
    assert elevation == pytest.approx(GROUND_M + 130.0 * sine**2, abs=0.06)


@pytest.mark.parametrize(("degrees", "doubted"), [(30.0, False), (30.9, False), (31.1, True)])
def test_a_steep_face_is_not_trusted(tmp_path: Path, degrees: float, doubted: bool) -> None:
    """Steeper than 60 % (30.96 degrees; common practice, no source)."""
    found = slope_flight(tmp_path, degrees, 130.0, scenes.rules(ceiling_measure="closest-point"))
    remarks = said(found, "closest-point rule only")
    assert len(remarks) > 0
    for remark in remarks:
        assert ("steeper than 60 %: an elevation model is not to be trusted" in remark) is doubted


def test_a_face_within_a_cell_of_the_closest_point_is_not_trusted(tmp_path: Path) -> None:
    """The rim of a cliff is level, and its face begins at the next post."""

    def cliff(east: Floats, north: Floats) -> Floats:
        return GROUND_M - 100.0 * (east > 0) + 0 * north

    ground = scenes.model(tmp_path, cliff, box_m=(-200.0, -200.0, 300.0, 200.0))
    limits = scenes.rules(ceiling_measure="closest-point")
    found = scenes.fly(
        ground, [(60, -20, 150), (60, 20, 150)], limits, start=scenes.launch(60.0, -20.0)
    )
    (remark,) = [one for one in said(found, "closest-point rule only") if one[:6] == "Leg 1 "]
    assert "steeper than 60 %" in remark
    # 50 m above a rim that ends 60 m beside the line: hypot(60, 50) = 78.10 m.
    assert "only: 78.2 m to the ground" in remark
    assert "straight down 150.0 m" in remark


@pytest.mark.parametrize("above_m", [119.9, 145.0])
def test_nothing_is_said_where_both_rules_agree(tmp_path: Path, above_m: float) -> None:
    """Below 120 m straight down, and beyond 120 m to the closest point (145 cos 30° = 125.57)."""
    limits = scenes.rules(ceiling_measure="closest-point")
    found = slope_flight(tmp_path, 30.0, above_m, limits)
    leg_1 = [one for one in said(found, "closest-point rule only") if one.startswith("Leg 1 ")]
    assert leg_1 == []


# -- above sea level ------------------------------------------------------------


@pytest.mark.parametrize(
    ("above_m", "state", "needed"),
    [
        (143.0, State.WITHIN, None),  # 550 - 5 - 2 = 543 m
        (145.0, State.TIGHT, "2.0 m less needed with margins, none as computed"),
        (150.0, State.TIGHT, "7.0 m less needed with margins, none as computed"),
        (152.0, State.BREACH, "9.0 m less needed with margins, 2.0 m as computed"),
    ],
)
def test_a_limit_of_550_m_above_sea_level(
    tmp_path: Path, above_m: float, state: State, needed: str | None
) -> None:
    """Launch at 400 m: what is left is 150 m minus the typed height, before margins."""
    ground = sea_model(tmp_path, flat)
    found = scenes.fly(ground, [(0, 0, above_m), (300, 0, above_m)], sea_rules(550.0))
    assert found.verdict is state
    failing = scenes.of_kind(found, "sea-level ceiling", leg=1)
    assert [one.state for one in failing] == ([] if needed is None else [state])
    for one in failing:
        assert one.worst_m == pytest.approx(GROUND_M + above_m, abs=1e-6)
        assert one.message == (
            f"typed {above_m:.1f} m above launch ground (400.0 m) = {400 + above_m:.1f} m above "
            f"sea level; {needed}"
        )
    assert [one for one in found.findings if one.kind != "sea-level ceiling"] == []


def test_where_the_limit_is_crossed(tmp_path: Path) -> None:
    """From 100 to 200 m over 300 m: tight from 143 m, a breach from 150 m above launch on."""
    ground = sea_model(tmp_path, flat)
    found = scenes.fly(ground, [(0, 0, 100), (300, 0, 200)], sea_rules(550.0))
    tight, breach = scenes.of_kind(found, "sea-level ceiling", leg=1)
    leg_m = math.hypot(300.0, 100.0)
    assert (tight.state, breach.state) == (State.TIGHT, State.BREACH)
    starts = [100.0 + leg_m * (above - 100.0) / 100.0 for above in (150.0 - MARGIN_M, 150.0)]
    assert (tight.from_m, breach.from_m) == pytest.approx(starts, abs=ALONG_M)
    assert tight.to_m == pytest.approx(breach.from_m, abs=1e-9)
    assert breach.to_m == pytest.approx(100.0 + leg_m, abs=1e-3)
    assert (breach.worst_m, breach.at_m) == pytest.approx((600.0, 100.0 + leg_m), abs=1e-3)


def test_a_hill_changes_nothing(tmp_path: Path) -> None:
    """A level flight over ground that rises keeps its height above sea level."""
    ground = sea_model(tmp_path, plane(10.0))
    found = scenes.fly(ground, [(-100, 0, 170), (100, 0, 170)], sea_rules(GROUND_M + 155.0))
    launch_m = GROUND_M - 100.0 * math.tan(math.radians(10.0))  # 382.37
    (level,) = scenes.of_kind(found, "sea-level ceiling", leg=1)
    assert level.state is State.TIGHT
    assert level.worst_m == pytest.approx(launch_m + 170.0, abs=1e-3)
    assert level.to_m - level.from_m == pytest.approx(200.0, abs=1e-3)


def test_both_ceilings_are_judged(tmp_path: Path) -> None:
    """At 130 m above ground and 530 m above sea level either may be the one that is broken."""
    ground, points = sea_model(tmp_path, flat), [(0.0, 0.0, 130.0), (300.0, 0.0, 130.0)]
    states = {}
    for limit_m, ceiling_m in ((550.0, 120.0), (520.0, 150.0), (520.0, 120.0), (550.0, 150.0)):
        limits = scenes.rules(ceiling_m=ceiling_m, sea_level_ceiling_m=limit_m)
        found = scenes.fly(ground, points, limits)
        states[limit_m, ceiling_m] = {one.kind for one in found.findings}, found.verdict
    assert states == {
        (550.0, 120.0): ({"ceiling"}, State.BREACH),
        (520.0, 150.0): ({"sea-level ceiling"}, State.BREACH),
        (520.0, 120.0): ({"ceiling", "sea-level ceiling"}, State.BREACH),
        (550.0, 150.0): (set(), State.WITHIN),
    }


def test_no_ceiling_above_ground_is_wanted(tmp_path: Path) -> None:
    """1,000 m above ground are within a limit of 2,000 m above sea level."""
    ground = sea_model(tmp_path, flat)
    found = scenes.fly(ground, [(0, 0, 1000), (100, 0, 1000)], sea_rules(2000.0))
    assert (found.verdict, found.findings) == (State.WITHIN, ())


def test_what_is_assumed_about_sea_level_is_printed(tmp_path: Path) -> None:
    """The datum, its doubt, and the margin that follows."""
    found = scenes.fly(
        sea_model(tmp_path, flat), [(0, 0, 60), (100, 0, 60)], scenes.rules(sea_level_ceiling_m=550)
    )
    (one,) = [one for one in found.assumed if "above sea level" in one]
    assert "sea level taken as EGM96 height" in one
    assert "another may lie 2 m off, so its margin is 2 m wider than the ceiling's" in one


@pytest.mark.parametrize(
    ("crs", "words"),
    [
        (scenes.CRS, "sea.tif does not state its vertical datum: write it into the file"),
        ("EPSG:4979", "sea.tif counts from the ellipsoid"),
    ],
)
def test_a_model_that_does_not_count_from_sea_level(tmp_path: Path, crs: str, words: str) -> None:
    """The limit cannot be held against it: refused with the remedy."""
    path = sea_model(tmp_path, flat)
    if crs == "EPSG:4979":
        lat, lon = scenes.lat_lon(-150.0, 150.0)
        path = write_raster(
            tmp_path / "sea.tif", np.full((400, 800), GROUND_M), crs=crs,
            transform=Affine(1e-5, 0, lon, 0, -1e-5, lat),
        )  # fmt: skip
    else:
        path = sea_model(tmp_path, flat, crs=crs)
    for limits in (sea_rules(550.0), scenes.rules(sea_level_ceiling_m=550.0)):
        with pytest.raises(RefusedTerrain) as caught:
            scenes.fly(path, [(0, 0, 60), (100, 0, 60)], limits)
        (sentence,) = caught.value.faults
        assert words in sentence
        assert "a ceiling of 550 m above sea level" in sentence
        assert "leave that ceiling out" in sentence
    assert scenes.fly(path, [(0, 0, 60), (100, 0, 60)]).verdict is not None


def test_launch_ground_that_is_not_known(tmp_path: Path) -> None:
    """Without it no elevation is known: not assessed, never within."""

    def hole(east: Floats, north: Floats) -> Floats:
        return np.where(np.hypot(east, north) < 3.0, np.nan, GROUND_M)

    found = scenes.fly(sea_model(tmp_path, hole), [(0, 0, 60), (200, 0, 60)], sea_rules(550.0))
    assert found.verdict is State.NOT_ASSESSED
    assert found.assessed_m == pytest.approx(0.0, abs=1e-6)


def test_missing_ground_hides_no_ceiling_above_sea_level(tmp_path: Path) -> None:
    """Over a hole the floor is not assessed, yet 152 m above launch is a breach of 550 m."""

    def hole(east: Floats, north: Floats) -> Floats:
        return np.where(np.hypot(east - 150.0, north) < 10.0, np.nan, GROUND_M)

    found = scenes.fly(sea_model(tmp_path, hole), [(0, 0, 152), (300, 0, 152)], sea_rules(550.0))
    (breach,) = scenes.of_kind(found, "sea-level ceiling", leg=1)
    assert breach.state is State.BREACH
    assert (breach.from_m, breach.to_m) == pytest.approx((152.0, 452.0), abs=1e-3)
    assert scenes.of_kind(found, "not-assessed", leg=1) != []


# -- the limiting surface, and what is drawn -----------------------------------------


@pytest.mark.parametrize(
    ("limits", "highest_m"),
    [
        (sea_rules(550.0), 550.0 - MARGIN_M),  # constant
        (scenes.rules(sea_level_ceiling_m=500.0), 500.0 - MARGIN_M),  # the lower of two
        (scenes.rules(sea_level_ceiling_m=600.0), GROUND_M + 120.0 - 5.0),
    ],
)
def test_the_highest_allowed(tmp_path: Path, limits: Rules, highest_m: float) -> None:
    """Limit and picture hold the lower of the two ceilings, minus its margin."""
    ground = sea_model(tmp_path, flat)
    found = scenes.fly(ground, [(0, 0, 80), (300, 0, 80)], limits)
    surfaces = limiting_surfaces(found, ground=ground)
    assert surfaces.highest_allowed_m == pytest.approx(highest_m, abs=1e-6)
    page = profile.figure(found, surfaces)
    (line,) = [one for axes in page.axes for one in axes.lines if one.get_gid() == "ceiling"]
    assert np.asarray(line.get_ydata()) == pytest.approx(highest_m, abs=1e-6)


# -- what every output says ------------------------------------------------------------


@pytest.mark.parametrize("name", [*NAMED_RULES])
def test_every_output_names_the_rules(tmp_path: Path, name: str) -> None:
    """Set, source, edition, how well known, and that the authority prevails."""
    ground = scenes.model(tmp_path, flat, box_m=BOX)
    rules = NAMED_RULES[name]
    found = scenes.fly(ground, [(0, 0, 60), (300, 0, 60)], rules)
    printed = " ".join(" ".join(table.lines(found)).split())
    written = json.loads(assessment_json.text(found))
    jsonschema.validate(written, assessment_json.schema())
    for words in (rules.name, rules.source, rules.edition, rules.known, rules.floor_source):
        assert words is None or words in printed
    named = written["rules"]
    assert (named["name"], named["source"], named["edition"], named["known"], named["set"]) == (
        rules.name,
        rules.source,
        rules.edition,
        rules.known,
        None if name == "default" else name,
    )
    assert named["floor_source"] == (rules.floor_source or rules.source)
    prevails = "Local codes and the authority prevail over anything printed here; check that the "
    assert f"{prevails}edition of every rule is the one in force." in printed
    assert any(prevails in one for one in written["cautions"])


def test_a_failing_sea_level_ceiling_in_every_output(tmp_path: Path) -> None:
    """JSON by its schema; table in metres and in feet (552 m = 1,811.1 ft, up)."""
    ground = sea_model(tmp_path, flat)
    limits = scenes.rules(
        ceiling_m=200.0, sea_level_ceiling_m=550.0, sea_level_ceiling_source="Zone order 12"
    )
    found = scenes.fly(ground, [(0, 0, 152), (300, 0, 152)], limits)
    written = json.loads(assessment_json.text(found))
    jsonschema.validate(written, assessment_json.schema())
    assert {one["kind"] for one in written["findings"]} == {"sea-level ceiling"}
    assert written["rules"]["sea_level_ceiling_m"] == 550.0
    assert written["rules"]["sea_level_ceiling_source"] == "Zone order 12"
    metres, feet = (" ".join(" ".join(table.lines(found, unit=u)).split()) for u in ("m", "ft"))
    assert "BREACH: ceiling above sea level, leg 1" in metres
    assert "height above ground at most 200 m, height above sea level at most 550 m" in metres
    assert "ceiling above sea level: Zone order 12" in metres
    assert "height above sea level 1811.1 ft at worst, as computed; ceiling 1804.46 ft" in feet


# -- the command --------------------------------------------------------------------------

ROUTE: Final = """
title = "Up and over"
heights = "launch"
height_unit = "m"
[launch]
lat = {lat}
lon = {lon}
[turns]
kind = "stop"
[climb]
model = "linear"
out = "vertical"
[after_last]
go_to = "here"
then = "wait"
[[waypoint]]
lat = {lat}
lon = {lon}
height = 121
[[waypoint]]
lat = {lat}
lon = {there}
height = 121
"""


@pytest.fixture
def files(tmp_path: Path) -> Path:
    """Write a route 121 m above level ground."""
    scenes.model(tmp_path, flat, box_m=BOX)
    (lat, lon), (_, there) = scenes.lat_lon(0.0, 0.0), scenes.lat_lon(200.0, 0.0)
    text = ROUTE.format(lat=lat, lon=lon, there=there)
    (tmp_path / "route.toml").write_text(text, encoding="utf-8")
    return tmp_path


def run(files: Path, rules: str) -> tuple[int, str, str]:
    """Run `check` by these rules; return exit code and both streams."""
    arguments = ["check", str(files / "route.toml"), "--ground", str(files / "ground.tif")]
    result = CliRunner().invoke(cli.app, [*arguments, "--rules", rules])
    return result.exit_code, result.stdout, result.stderr


@pytest.mark.parametrize(("rules", "code"), [("us-107", 5), ("eu-open", 3)])
def test_the_command_takes_a_name(files: Path, rules: str, code: int) -> None:
    """121 m: tight under the American rule, a breach under the European one."""
    exit_code, out, _ = run(files, rules)
    assert (exit_code, f"({rules})" in out) == (code, True)


@pytest.mark.parametrize(
    ("text", "words"),
    [
        (None, "neither a file nor a name of rules ('default', 'us-107', 'eu-open'"),
        ('based_on = "mars"', "based_on: given 'mars', but it must be 'us-107'"),
        ('based_on = "eu-open"\nunit = "m"\n[ceiling]\nvalue = nan', "ceiling.value: given nan"),
        ('based_on = "eu-open"\nunit = "m"\n[ceiling]\nvalue = 20', "must be above the floor"),
        ('based_on = "eu-open"\nunit = "m"\n[ceiling]\nvalue = 200', "write source under"),
        ('based_on = "eu-open"\n[ceiling]\nmeasure = "radar"', "ceiling.measure: given 'radar'"),
        (
            'name = "A"\nunit = "m"\n[floor]\nvalue = 30\n[ceiling]\nvalue = 120',
            "source: missing, but a limit means nothing without who says so",
        ),
    ],
)
def test_bad_rules_are_refused_in_one_sentence(files: Path, text: str | None, words: str) -> None:
    """Exit code 2, nothing on standard output."""
    path = files / "site.toml"
    if text is not None:
        path.write_text(text, encoding="utf-8")
    code, out, err = run(files, str(path))
    assert (code, out) == (2, "")
    assert err.count("refused: ") == 1
    assert words in err


def test_rules_by_name_in_python(files: Path) -> None:
    """The same names."""
    found = check(files / "route.toml", ground=files / "ground.tif", rules="uk-open")
    assert found.rules is NAMED_RULES["uk-open"]

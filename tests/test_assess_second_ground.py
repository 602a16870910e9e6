"""A second, independent model of the bare earth: the worse of both counts, and how they differ.

Both are level at 100 m where nothing else is said, posts 1 m apart; a bump is a block
with faces one cell wide, so every length is plane geometry to a cell.
"""

from __future__ import annotations

import json
import math
from pathlib import Path
from typing import Any

import jsonschema
import numpy as np
import pytest

from terrain_guard.assess import check
from terrain_guard.assessment import Assessment
from terrain_guard.errors import RefusedTerrain
from terrain_guard.plan.rules import Rules
from terrain_guard.report import assessment_json, table
from terrain_guard.states import State
from tests.checks import scenes
from tests.checks.scenes import Floats, Surface
from tests.checks.survey_by_hand import weight

CENTIMETRE = 0.01
BOX = (-150.0, -150.0, 350.0, 150.0)
POINTS = [(0.0, 0.0, 40.0), (200.0, 0.0, 40.0)]
RULES = scenes.rules()


def bump(
    height_m: float, *, west: float = 80.0, east: float = 120.0, level_m: float = 100.0
) -> Surface:
    """Return level ground with a block across it."""
    return lambda e, n: level_m + height_m * ((e >= west) & (e <= east)) + 0 * n


def model(folder: Path, surface: Surface, name: str, **how: Any) -> Path:
    """Write one model."""
    return scenes.model(folder, surface, **{"box_m": BOX, "name": name, **how})


def flown(
    folder: Path, first: Surface, second: Surface, limits: Rules = RULES, **how: Any
) -> Assessment:
    """Fly 40 m above launch, over two ground models."""
    return scenes.fly(
        model(folder, first, "first.tif"), POINTS, limits,
        second_ground=model(folder, second, "second.tif"), **how,
    )  # fmt: skip


# ------------------------------------------------------------ the worse counts


@pytest.mark.parametrize("bump_in", ["first", "second"])
def test_the_worse_is_used_whichever_it_is_in(tmp_path: Path, bump_in: str) -> None:
    """15 m more ground in one model under a flight at 40 m: 25 m are left, a breach of 30."""
    models = (bump(15.0), bump(0.0)) if bump_in == "first" else (bump(0.0), bump(15.0))
    found = flown(tmp_path, *models)
    assert found.verdict is State.BREACH
    leg = found.legs[1]
    assert leg.clearance_min is not None
    assert leg.clearance_max is not None
    assert leg.above_ground_min is not None
    assert leg.above_ground_max is not None
    assert leg.above_ground_min.nominal_m == pytest.approx(25.0, abs=1e-6)
    assert leg.above_ground_max.nominal_m == pytest.approx(40.0, abs=1e-6)
    assert leg.clearance_min.nominal_m == pytest.approx(25.0, abs=CENTIMETRE)
    assert leg.clearance_min.assured_m == pytest.approx(18.0, abs=CENTIMETRE)
    (floor,) = [f for f in scenes.of_kind(found, "floor", leg=1) if f.state is State.BREACH]
    named = {floor.curve.endswith("/second ground"), leg.clearance_min.curve.endswith("ground")}
    assert named == {bump_in == "second"}
    assert ("by the second ground model" in floor.message) is (bump_in == "second")
    # 30 m from the block's edge: sqrt(30² - 25²) m beyond its ends.
    beyond = np.sqrt(30.0**2 - 25.0**2)
    at = np.array([floor.from_m, floor.to_m]) - leg.from_m
    assert at == pytest.approx([80 - beyond, 120 + beyond], abs=0.02)
    samples = found.samples
    code = list(State).index(State.BREACH)
    bad = samples.along_m[samples.state == code] - leg.from_m
    assert (bad.min(), bad.max()) == pytest.approx((at[0], at[1]), abs=1.01)


def test_a_pit_in_one_model_raises_the_flight(tmp_path: Path) -> None:
    """A gully of 85 m that only the second knows: 125 m above ground, over the ceiling."""
    found = flown(tmp_path, bump(0.0), bump(-85.0))
    (ceiling,) = [f for f in scenes.of_kind(found, "ceiling", leg=1) if f.state is State.BREACH]
    assert ceiling.worst_m == pytest.approx(125.0, abs=1e-6)
    assert ceiling.curve.endswith("/second ground")
    assert found.legs[1].above_ground_max is not None
    assert found.legs[1].above_ground_max.nominal_m == pytest.approx(125.0, abs=1e-6)


def test_each_counts_from_its_own_launch_ground(tmp_path: Path) -> None:
    """The second lies 47 m higher throughout (another zero): nothing changes at all."""
    found = flown(tmp_path, bump(5.0), bump(5.0, level_m=147.0))
    alone = scenes.fly(tmp_path / "first.tif", POINTS, scenes.rules())
    assert found.verdict is alone.verdict
    assert [f.kind for f in found.findings] == [f.kind for f in alone.findings]
    for one, other in zip(found.legs, alone.legs, strict=True):
        assert one.clearance_min == other.clearance_min
        assert one.above_ground_max == other.above_ground_max
    second = found.second_ground
    assert second is not None
    assert second.launch_elevation_m == pytest.approx(147.0, abs=1e-6)
    assert (second.median_m, second.worst_m) == pytest.approx((0.0, 0.0), abs=1e-6)


def test_a_bump_under_the_launch_lowers_the_flight(tmp_path: Path) -> None:
    """The second has the launch 12 m lower than the rest of it: 28 m are left, a breach."""

    def pit(e: Floats, n: Floats) -> Floats:
        return np.where(np.hypot(e, n) <= 18, 88.0, 100.0)

    found = flown(tmp_path, bump(0.0), pit)
    assert found.legs[1].above_ground_min is not None
    assert found.legs[1].above_ground_min.nominal_m == pytest.approx(28.0, abs=1e-6)
    assert found.verdict is State.BREACH


def test_the_column_is_looked_at_on_both(tmp_path: Path) -> None:
    """A wall of 20 m, 8 m from the launch, in the second model only: 12 m above the cone."""
    found = flown(tmp_path, bump(0.0), bump(20.0, west=8.0, east=9.0))
    (column,) = scenes.of_kind(found, "column")
    assert column.curve.endswith("/second ground")
    assert "ground stands 12.0 m above a 1:1 cone" in column.message


def test_margins_are_those_of_each_model(tmp_path: Path) -> None:
    """By the error budget lidar has the least there is, 5 m: 40 - 5 m are within 34.6 m.

    Of a model of 10 m cells alone twice its nugget of 0.7 m and its part of 1 m, 100 m long,
    stand in the root 200 m off launch, besides 2.76 m² of pressure drift: more than 5.4 m.
    """
    first = model(tmp_path, bump(0.0), "first.tif")
    second = model(tmp_path, bump(0.0), "second.tif", cell_m=10.0)
    found = check(
        scenes.route(POINTS), ground=first, second_ground=second, canopy_m=0.0,
        rules=scenes.rules(floor_m=34.6),
    )  # fmt: skip
    assert found.verdict is State.TIGHT
    assert found.floor_margin_m == 5.0
    assert found.second_ground is not None
    at_least_m = 2.33 * math.sqrt(2 * (0.7**2 + (1 - math.exp(-2.0))) + 2.76)
    assert at_least_m > 40.0 - 34.6
    assert at_least_m < found.second_ground.floor_margin_m < at_least_m + 1.0
    assert all(f.curve.endswith("/second ground") for f in found.findings)


def test_canopy_counts_over_both(tmp_path: Path) -> None:
    """25 m of trees over either ground: 40 - 25 - 7 m with margins."""
    found = flown(tmp_path, bump(0.0), bump(2.0), canopy_m=25.0)
    assert found.legs[1].clearance_min is not None
    assert found.legs[1].clearance_min.assured_m == pytest.approx(6.0, abs=CENTIMETRE)
    assert found.second_ground is not None
    assert found.second_ground.floor_margin_m == 7.0


def test_a_surface_stands_on_both(tmp_path: Path) -> None:
    """Trees of 20 m over either ground; the surface is tied to each of them."""
    surface = model(tmp_path, bump(20.0, west=60.0, east=100.0), "surface.tif")
    second = model(tmp_path, bump(0.0, level_m=104.0), "second.tif")
    first = model(tmp_path, bump(0.0), "first.tif")
    found = scenes.fly(first, POINTS, scenes.rules(), surface=surface, second_ground=second)
    assert found.legs[1].clearance_min is not None
    assert found.legs[1].clearance_min.nominal_m == pytest.approx(20.0, abs=CENTIMETRE)
    assert [one.role for one in found.terrain] == ["ground", "surface", "second ground"]


# ------------------------------------------------------------ how far they differ


def test_the_difference_along_the_route(tmp_path: Path) -> None:
    """+15 m over 40 of 200 m: median 0, worst 15 on the block, known along all of it."""
    found = flown(tmp_path, bump(0.0), bump(15.0))
    second = found.second_ground
    assert second is not None
    assert second.median_m == pytest.approx(0.0, abs=1e-6)
    assert second.worst_m == pytest.approx(15.0, abs=1e-6)
    assert 80.0 <= second.at_m - found.legs[1].from_m <= 120.0
    assert second.assessed_share == 1.0
    assert second.has_own_launch


def test_median_and_spread_of_a_tilt(tmp_path: Path) -> None:
    """The second tilts 2 % eastward: 0 to 4 m; median 2, 16 to 84 % are 0.64 to 3.36 m."""
    found = flown(tmp_path, bump(0.0), lambda e, n: 100.0 + 0.02 * e + 0 * n)
    second = found.second_ground
    assert second is not None
    assert second.median_m == pytest.approx(2.0, abs=0.03)
    assert second.spread_m == pytest.approx((3.36 - 0.64) / 2, abs=0.03)
    assert second.worst_m == pytest.approx(4.0, abs=1e-6)
    assert second.at_m == pytest.approx(found.legs[1].to_m, abs=1e-6)


@pytest.mark.parametrize(("height_m", "told"), [(9.8, False), (10.0, True), (-10.0, True)])
def test_beyond_both_margins_a_caution(tmp_path: Path, height_m: float, told: bool) -> None:
    """Two margins of 7 m are 9.9 m in root-sum-square: more is said, with the stretch."""
    found = flown(tmp_path, bump(0.0), bump(height_m), scenes.rules(floor_m=5.0))
    said = [one for one in found.cautions if "differs from the first by up to" in one]
    assert bool(said) is told
    if told:
        start = found.legs[1].from_m
        low, high = start + 80.0, start + 120.0
        assert "second.tif, differs from the first by up to 10.0 m at " in said[0]
        span = said[0].split(" m at ")[1].split(" m: ")[0]
        ends = [float(part) for part in span.split("-")]
        assert ends == pytest.approx([low, high], abs=1.01)
        assert "more than the 9.9 m of both margins" in said[0]


def test_where_the_second_ends_nothing_is_lost(tmp_path: Path) -> None:
    """The second ends half-way: the first judges the rest alone, and the share is said."""
    first = model(tmp_path, bump(15.0, west=150.0, east=180.0), "first.tif")
    second = model(
        tmp_path, bump(0.0), "second.tif", box_m=(-150.0, -150.0, 100.0, 150.0)
    )  # fmt: skip
    found = scenes.fly(first, POINTS, scenes.rules(), second_ground=second)
    assert not scenes.of_kind(found, "not-assessed")
    assert found.assessed_m == found.length_m
    assert found.terrain_to_get is None
    assert {f.curve.endswith("/second ground") for f in scenes.of_kind(found, "floor")} == {False}
    assert found.second_ground is not None
    assert found.second_ground.assessed_share == pytest.approx(0.5, abs=0.01)
    assert any("second.tif, knows 50 % of the route" in one for one in found.cautions)
    least = found.legs[1].clearance_min
    assert least is not None
    assert least.nominal_m == pytest.approx(25.0, abs=CENTIMETRE)


def test_what_the_first_does_not_know_stays_not_assessed(tmp_path: Path) -> None:
    """The first ends half-way: the second does not make up for it."""
    first = model(tmp_path, bump(0.0), "first.tif", box_m=(-150.0, -150.0, 100.0, 150.0))
    second = model(tmp_path, bump(0.0), "second.tif")
    found = scenes.fly(first, POINTS, scenes.rules(), second_ground=second)
    assert found.verdict is State.NOT_ASSESSED
    assert found.assessed_m < found.length_m


def test_a_second_that_does_not_know_the_launch(tmp_path: Path) -> None:
    """It counts from the launch ground of the first: a difference of 4 m stays one."""
    first = model(tmp_path, bump(0.0), "first.tif")
    second = model(
        tmp_path, bump(0.0, level_m=104.0), "second.tif", box_m=(40.0, -150.0, 350.0, 150.0)
    )
    found = scenes.fly(first, POINTS, scenes.rules(), second_ground=second)
    assert found.second_ground is not None
    assert not found.second_ground.has_own_launch
    assert found.second_ground.median_m == pytest.approx(4.0, abs=1e-6)
    assert found.legs[1].above_ground_min is not None
    assert found.legs[1].above_ground_min.nominal_m == pytest.approx(36.0, abs=1e-6)
    assert any("second.tif, does not know the launch" in one for one in found.cautions)
    assert not scenes.of_kind(found, "column")


def test_a_stated_launch_shifts_both(tmp_path: Path) -> None:
    """Surveyed as the first has it, the second's own error at launch, 3 m, is lost far off only.

    The least of the leg is at its far end, 200 m from launch.
    """
    start = scenes.launch(0.0, 0.0, elevation_m=100.0, elevation_accuracy_m=0.1)
    found = flown(tmp_path, bump(0.0), bump(0.0, level_m=103.0), start=start)
    assert found.second_ground is not None
    assert found.second_ground.median_m == pytest.approx(3.0, abs=1e-6)
    assert found.legs[1].above_ground_min is not None
    assert found.legs[1].above_ground_min.nominal_m == pytest.approx(
        40.0 - 3.0 * float(weight(200.0, 0.1)), abs=1e-5
    )


# ------------------------------------------------------------ printed, written, refused


def test_it_is_printed_and_written(tmp_path: Path) -> None:
    """Median, spread, worst and where stand in the table and in the JSON, which fits its schema."""
    found = flown(tmp_path, bump(0.0), bump(15.0))
    written = json.loads(assessment_json.text(found))
    jsonschema.Draft202012Validator(assessment_json.schema()).validate(written)
    second = found.second_ground
    assert second is not None
    assert written["second_ground"] == {
        "files": ["second.tif"],
        "launch_elevation_m": second.launch_elevation_m,
        "own_launch": True,
        "floor_margin_m": 7.0,
        "ceiling_margin_m": 5.0,
        "median_m": second.median_m,
        "spread_m": second.spread_m,
        "worst_m": second.worst_m,
        "at_m": second.at_m,
        "assessed_share": 1.0,
    }
    text = " ".join(" ".join(table.lines(found)).split())
    assert (
        "Differs second ground less first, each less its own launch ground: +0.0 m (median)"
    ) in text
    assert "+15.0 m at worst, at " in text
    assert "known along 100 % of the route" in text
    assert "Second second.tif" in text
    assert "flown: second ground" in text
    assert "Each number is the worse of both ground models." in text
    alone = scenes.fly(tmp_path / "first.tif", POINTS, scenes.rules())
    assert json.loads(assessment_json.text(alone))["second_ground"] is None


def refusal(**given: Any) -> str:
    """Return the only sentence with which models are refused."""
    with pytest.raises(RefusedTerrain) as refused:
        check(scenes.route(POINTS), **given)
    (only,) = refused.value.faults
    return only


def test_a_second_elsewhere_is_refused(tmp_path: Path) -> None:
    """One that knows no metre of the route."""
    first = model(tmp_path, bump(0.0), "first.tif")
    far = model(tmp_path, bump(0.0), "far.tif", box_m=(5000.0, 0.0, 5100.0, 100.0))
    assert "km off the elevation model 'far.tif'" in refusal(ground=first, second_ground=far)


def test_a_second_of_another_zero_without_the_launch_is_refused(tmp_path: Path) -> None:
    """Its heights would count from a launch ground above another geoid."""
    first = model(tmp_path, bump(0.0), "first.tif")
    second = model(tmp_path, bump(0.0), "second.tif", box_m=(40.0, -150.0, 350.0, 150.0))
    for path, datum in ((first, "EPSG:3855"), (second, "EPSG:5773")):
        card = f'kind = "ground"\nvertical_datum = "{datum}"\n'
        path.with_name(f"{path.name}.toml").write_text(card, encoding="utf-8")
    assert refusal(ground=first, second_ground=second) == (
        "'first.tif' counts its heights from EGM2008 geoid, 'second.tif' from EGM96 geoid, and it "
        "does not know the launch, from which its heights would count: give a second ground that "
        "covers the launch, or one of the same vertical datum"
    )


def test_a_second_that_is_a_surface_is_refused(tmp_path: Path) -> None:
    """Trees are no ground."""
    first, second = (model(tmp_path, bump(0.0), name) for name in ("first.tif", "second.tif"))
    second.with_name("second.tif.toml").write_text('kind = "surface"\n', encoding="utf-8")
    assert refusal(ground=first, second_ground=second) == (
        "'second.tif' is given as second ground (--second-ground), but its card says kind = "
        "'surface': give the bare earth, or give it as surface"
    )


def test_a_second_without_a_first_is_refused(tmp_path: Path) -> None:
    """Beside a surface alone it is the first, and to be given as such."""
    surface, second = (model(tmp_path, bump(0.0), name) for name in ("top.tif", "second.tif"))
    assert refusal(surface=surface, second_ground=second) == (
        "'second.tif' is given as second ground (--second-ground), but no first one of the bare "
        "earth: give it as ground (--ground)"
    )

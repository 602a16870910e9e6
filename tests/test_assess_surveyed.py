"""A surveyed launch through the whole program: heights shifted, margins conditional.

Over a plane that rises eastward, so that no height above ground is the same by accident.
"""

from __future__ import annotations

import json
import math
from pathlib import Path
from typing import Any, Final

import jsonschema
import numpy as np
import pytest

from terrain_guard.assess import check, limiting_surfaces
from terrain_guard.assessment import Assessment
from terrain_guard.errors import RefusedTerrain
from terrain_guard.plan.rules import Rules
from terrain_guard.report import assessment_json, table
from terrain_guard.states import State
from tests.checks import scenes
from tests.checks.survey_by_hand import left_m2, weight

MODEL_M: Final = 100.0
HEIGHT_M: Final = 60.0
SLOPE: Final = 0.05
POINTS: Final = [(0.0, 0.0, HEIGHT_M), (300.0, 0.0, HEIGHT_M)]
FINE: Final = 1e-6


def plane(east: scenes.Floats, north: scenes.Floats) -> scenes.Floats:
    """Return ground at 100 m at the launch that rises eastward."""
    return MODEL_M + SLOPE * east + 0.0 * north


@pytest.fixture(scope="module")
def ground(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """Return the plane in cells of 1 m."""
    return scenes.model(tmp_path_factory.mktemp("plane"), plane)


def over(
    ground: Path,
    surveyed_m: float | None,
    accuracy_m: float = 0.1,
    limits: Rules | None = None,
    points: Any = POINTS,
    **how: Any,
) -> Assessment:
    """Fly straight east from the launch, surveyed or not."""
    stated = {}
    if surveyed_m is not None:
        stated = {"elevation_m": surveyed_m, "elevation_accuracy_m": accuracy_m}
    start = scenes.launch(0.0, 0.0, offset_m=0.0, **stated)
    more = {name: how.pop(name) for name in ("surface", "second_ground") if name in how}
    return check(
        scenes.route(points, start=start, **how), ground=ground, canopy_m=0.0,
        rules=scenes.rules(ceiling_m=400.0) if limits is None else limits, **more,
    )  # fmt: skip


def away_m(found: Assessment) -> scenes.Floats:
    """Return how far the samples are from launch."""
    places = zip(found.samples.lat_deg, found.samples.lon_deg, strict=True)
    return np.array([math.hypot(*scenes.east_north(*place)) for place in places])


# ------------------------------------------------------------ the heights


@pytest.mark.parametrize("accuracy_m", [0.02, 0.2, 1.0])
@pytest.mark.parametrize("off_m", [-0.8, 0.6])
def test_heights_are_shifted_by_the_formula(ground: Path, accuracy_m: float, off_m: float) -> None:
    """At every metre, against the formula by hand: what is surveyed higher flies higher."""
    plain, found = over(ground, None), over(ground, MODEL_M + off_m, accuracy_m)
    expected = weight(away_m(found), accuracy_m) * off_m
    moved = found.samples.above_ground_m - plain.samples.above_ground_m
    assert moved == pytest.approx(expected, abs=1e-5)
    assert found.samples.survey_shift_m == pytest.approx(expected, abs=1e-5)
    assert found.launch.model_elevation_m == pytest.approx(MODEL_M, abs=FINE)


@pytest.mark.parametrize("away", [0.0, 30.0, 100.0, 250.0])
def test_clearance_is_shifted_too(ground: Path, away: float) -> None:
    """Over a plane it is the height above ground times the cosine of the slope."""
    found = over(ground, MODEL_M + 0.8, 0.05)
    at = int(np.argmin(np.abs(away_m(found) - away) + 1e3 * (found.samples.leg != 1)))
    off = float(away_m(found)[at])
    height = HEIGHT_M - SLOPE * off + float(weight(off, 0.05)) * 0.8
    expected = height / math.hypot(1.0, SLOPE)
    assert found.samples.clearance_m[at] == pytest.approx(expected, abs=2e-3)


def test_a_survey_of_no_worth_is_no_survey(ground: Path) -> None:
    """At 100 m of one sigma the model's own answer is left, heights and margins."""
    plain, found = over(ground, None), over(ground, MODEL_M + 5.0, 100.0)
    for name in ("above_ground_m", "clearance_m", "floor_margin_m", "ceiling_margin_m"):
        one, other = getattr(found.samples, name), getattr(plain.samples, name)
        assert one == pytest.approx(other, abs=1e-4), name


def test_an_exact_survey_of_a_model_without_bias_or_nugget() -> None:
    """Beside the launch heights count from the model, far off from the survey.

    With nothing but what is alike near by, the error at the launch is known in full: there
    it falls out, and far off it tells nothing, while the launch's own is all gone.
    """
    from terrain_guard.checks.budget.dem_error import DemError
    from terrain_guard.checks.surveyed import Survey

    dem = DemError(nugget_m=0.0, parts=((1.0, 100.0),), bias_m=0.0)
    survey = Survey(model_m=212.0, surveyed_m=210.0, sigma_m=0.0, dem=dem)
    away = np.array([0.0, 1.0, 100.0, 5000.0])
    expected = [0.0, -2.0 * (1 - math.exp(-0.01)), -2.0 * (1 - math.exp(-1.0)), -2.0]
    assert survey.shift_m(away) == pytest.approx(expected, abs=FINE)


def test_heights_above_ground_stay_as_typed(ground: Path) -> None:
    """Typed above ground, a waypoint is as far above the ground as typed, whatever the survey."""
    for surveyed in (None, MODEL_M - 0.8, MODEL_M + 0.8):
        found = over(ground, surveyed, heights="ground")
        there = np.flatnonzero(np.diff(found.samples.leg))[-1] + 1
        assert found.samples.above_ground_m[there] == pytest.approx(HEIGHT_M, abs=1e-4)


def test_a_landing_elsewhere_is_on_the_ground(ground: Path) -> None:
    """The flight ends on the ground of another home, not above or under it."""
    found = over(ground, MODEL_M + 0.8, home=(300.0, 40.0), after="launch")
    assert found.samples.above_ground_m[-1] == pytest.approx(0.0, abs=1e-4)


def test_a_ceiling_above_the_sea_counts_from_the_survey(tmp_path: Path) -> None:
    """How high the aircraft is above the sea has nothing to do with the model's ground."""
    ground = scenes.model(tmp_path, plane)
    ground.with_name("ground.tif.toml").write_text('vertical_datum = "EPSG:3855"\n')
    limits = scenes.rules(
        ceiling_m=400.0, sea_level_ceiling_m=MODEL_M + 0.5 + HEIGHT_M, sea_level_ceiling_source="x"
    )
    over_it = scenes.of_kind(over(ground, MODEL_M + 0.51, limits=limits), "sea-level ceiling")
    under = scenes.of_kind(over(ground, MODEL_M + 0.49, limits=limits), "sea-level ceiling")
    assert State.BREACH in {one.state for one in over_it}
    assert State.BREACH not in {one.state for one in under}


# ------------------------------------------------------------ the margins


@pytest.mark.parametrize("accuracy_m", [0.05, 0.3])
def test_the_model_counts_with_what_is_left(ground: Path, accuracy_m: float) -> None:
    """The variance of the worked budget is the conditional one, not that of model and survey."""
    card = ground.with_name("ground.tif.toml")
    card.write_text('kind = "ground"\nsigma_m = 1.5\n')
    scale = 1.5**2 / (0.09**2 + 0.10**2 + 0.07**2)
    try:
        found = over(ground, MODEL_M + 1.0, accuracy_m)
    finally:
        card.unlink()
    for place in found.budget.places:
        (row,) = (one for one in place.rows if one.name == "elevation model")
        away = math.hypot(*scenes.east_north(place.lat_deg, place.lon_deg))
        assert row.squared_m2 == pytest.approx(left_m2(away, accuracy_m, scale), abs=1e-6)
        expected = weight(away, accuracy_m, scale)
        assert place.survey_shift_m == pytest.approx(expected, abs=1e-4)


# ------------------------------------------------------------ where it only replaces


def test_off_the_model_it_replaces(tmp_path: Path) -> None:
    """Where the model does not know the launch, heights count from the survey, unshifted."""
    far = scenes.model(tmp_path, plane, box_m=(40.0, -200.0, 400.0, 200.0))
    found = over(far, MODEL_M + 0.8)
    assert found.launch.model_elevation_m is None
    assert found.survey_shift_m is None
    at = int(np.argmin(np.abs(away_m(found) - 200.0)))
    expected = 0.8 + HEIGHT_M - SLOPE * away_m(found)[at]
    assert found.samples.above_ground_m[at] == pytest.approx(expected, abs=1e-4)


def test_on_a_surface_alone_it_replaces(ground: Path) -> None:
    """What a surface shows at the launch may be a tree: 8 m of it shift nothing elsewhere."""
    start = scenes.launch(0.0, 0.0, elevation_m=MODEL_M - 8.0, elevation_accuracy_m=0.1)
    found = check(scenes.route(POINTS, start=start), surface=ground, canopy_m=0.0)
    assert found.launch.model_elevation_m is None
    assert found.samples.above_ground_m[-1] == pytest.approx(
        HEIGHT_M - 8.0 - SLOPE * 300.0, abs=1e-4
    )


def test_another_place_is_refused_still(ground: Path) -> None:
    """10 m and more between survey and model are no error of the model."""
    with pytest.raises(RefusedTerrain, match="another vertical datum"):
        over(ground, MODEL_M + 10.1)


# ------------------------------------------------------------ said


def test_it_is_said(ground: Path) -> None:
    """Table, arithmetic and JSON say both elevations, and by how much heights are shifted."""
    found = over(ground, MODEL_M + 0.8, 0.02)
    text = " ".join(" ".join(table.lines(found, explain=1)).split())
    far = weight(300.0, 0.02) * 0.8
    near = weight(0.0, 0.02) * 0.8
    assert (
        f"surveyed 100.8 m (stated in the route), model 100.0 m: heights above ground count from "
        f"the model's, shifted by +{near:.1f} to +{far:.1f} m"
    ) in text
    assert f"launch 100.00 + flown 60.00 + shift by the survey {far:.2f} - ground 115.00" in text
    written = json.loads(assessment_json.text(found))
    jsonschema.Draft202012Validator(assessment_json.schema()).validate(written)
    assert written["launch"]["model_elevation_m"] == pytest.approx(MODEL_M, abs=FINE)
    assert written["launch"]["survey_shift_m"] == pytest.approx([near, far], abs=1e-4)
    plain = json.loads(assessment_json.text(over(ground, None)))
    assert plain["launch"]["model_elevation_m"] is None
    assert plain["launch"]["survey_shift_m"] is None


def test_the_limiting_surfaces_lie_about_the_shifted_curve(ground: Path) -> None:
    """Highest allowed less curve is what is left to the ceiling with its margin."""
    limits = scenes.rules(floor_m=20.0, ceiling_m=100.0)
    found = over(ground, MODEL_M + 0.8, 0.02, limits)
    samples, lies = found.samples, limiting_surfaces(found, ground=ground)
    curve = found.launch.level_m + samples.above_launch_m + samples.survey_shift_m
    left = lies.highest_allowed_m - curve
    known = np.isfinite(left)
    expected = 100.0 - samples.ceiling_margin_m - samples.above_ground_m
    assert left[known] == pytest.approx(expected[known], abs=1e-6)
    assert known.any()

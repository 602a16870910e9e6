"""All posts together: steps, feet, pictures, steepness, zones; and real ground left alone.

Steps and shares are closed forms. Shaded relief follows B. K. P. Horn, "Hill shading and the
reflectance map", Proceedings of the IEEE 69 (1981), 14-47: the Lambertian surface.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np
import pytest
from rasterio import Affine

from terrain_guard.ground import inspect_parts
from terrain_guard.ground.inspect import inspect
from tests.conftest import DATA
from tests.ground.made import hills, utm_raster
from tests.ground.planted import TILES, changed, found, heights_of, tilted

if TYPE_CHECKING:
    from collections.abc import Callable
    from pathlib import Path

    from tests.ground.planted import Heights

FOOT_M = 0.3048
US_SURVEY_FOOT_M = 1200 / 3937
WHOLE_MODEL = {"picture", "noise", "steep", "steps", "whole feet", "grid in feet", "one level"}


def shaded(heights: Heights, *, cell_m: float, sun_azimuth_deg: float, sun_deg: float) -> Heights:
    """Return a shaded relief, 0 to 255, after Horn (1981)."""
    south, east = np.gradient(heights.astype(float), cell_m)
    slope, uphill = np.arctan(np.hypot(south, east)), np.arctan2(east, -south)
    sun, high = np.radians(sun_azimuth_deg), np.radians(sun_deg)
    light = np.sin(high) * np.cos(slope) - np.cos(high) * np.sin(slope) * np.cos(sun - uphill)
    return np.asarray(np.clip(np.round(255 * light), 0, 255))


# ---------------------------------------------------------------- real ground


def test_real_ground_as_a_whole_is_not_doubted(jacksboro: Path) -> None:
    """Mountains, ridges, cities on hills and harbours look like ground."""
    for path in (jacksboro, *sorted(DATA.glob("*.tif"))):
        assert found(path).keys().isdisjoint(WHOLE_MODEL), path


def test_ridges_of_whole_metres_are_clean(jacksboro: Path) -> None:
    """Of ridges without water nothing at all is suspected, and the step is told as a fact."""
    model = inspect(jacksboro)
    assert (model.suspicions, model.step_m) == ((), 1.0)


# ---------------------------------------------------------------- steps


@pytest.mark.parametrize(
    ("cell_m", "step_m", "told"),
    [
        (2.0, None, False),
        (2.0, 0.1, False),
        (2.0, 0.5, True),
        (2.0, 1.0, True),
        (30.0, 1.0, False),
        (30.0, 2.0, True),
        (30.0, 10.0, True),
    ],
)
def test_coarse_steps_of_smooth_slopes_are_told(
    tmp_path: Path, cell_m: float, step_m: float | None, told: bool
) -> None:
    """A slope rounded to a step has that step; it is doubted where it makes terraces."""
    heights = tilted(120, 120, slope=0.2, cell_m=cell_m, turn_deg=25.0).astype(float)
    if step_m is not None:
        heights = np.round(heights / step_m) * step_m
    path = utm_raster(tmp_path, heights.astype(np.float32), cell_m=cell_m)
    model, suspicions = inspect(path), found(path)
    assert model.step_m == pytest.approx(step_m, nan_ok=True) or (
        step_m is None and np.isnan(model.step_m)
    )
    assert ("steps" in suspicions) is told
    if told:
        assert suspicions["steps"].worst == pytest.approx(step_m)


def test_steps_of_ground_that_hardly_rises(tmp_path: Path) -> None:
    """A polder of 0, 1 and 2 m has steps of 1 m, not of the smaller ones that fit as well."""
    heights = np.random.default_rng(8).integers(0, 3, (60, 60)).astype(np.float32)
    assert inspect(utm_raster(tmp_path, heights, cell_m=30.0)).step_m == 1.0


def test_parts_together_have_the_steps_and_depths_of_the_whole(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Whole metres to the left, halves to the right, sinks in both: steps of 0.5 m, all sinks."""
    heights = np.round(tilted(64, 128, slope=0.2, cell_m=30.0, turn_deg=25.0))
    heights[:, 64:] += np.where(np.arange(64) % 2, 0.5, 0.0)
    heights[10:12, 10:12] = -20
    heights[30:32, 90:95] = -15
    path = utm_raster(tmp_path, heights, cell_m=30.0, **TILES)
    monkeypatch.setattr(inspect_parts, "SIDE", 64)
    assert inspect(path).step_m == 0.5
    below = found(path)["below sea"]
    assert (below.posts, below.worst, below.row) == (14, -20, 10)


def test_noise_is_found_though_the_first_part_is_even(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """What varies is summed over all parts."""
    heights = hills(64, 256)
    heights[:, :64] = 400.0
    path = utm_raster(tmp_path, heights.astype(np.float32), cell_m=10.0, **TILES)
    monkeypatch.setattr(inspect_parts, "SIDE", 64)
    assert "noise" in found(path)


def test_step_in_the_unit_of_the_file(tmp_path: Path) -> None:
    """Whole feet in a file in feet have a step of one foot: no doubt, a fact."""
    heights = np.round(tilted(90, 90, slope=0.2, cell_m=30.0, turn_deg=25.0) / FOOT_M)
    path = utm_raster(tmp_path, heights.astype(np.int16), cell_m=30.0, crs="EPSG:32631+8228")
    model = inspect(path)
    assert model.step_m == pytest.approx(FOOT_M)
    assert not model.suspicions


@pytest.mark.parametrize(
    ("foot_m", "name"), [(FOOT_M, "feet"), (US_SURVEY_FOOT_M, "US survey feet")]
)
def test_whole_feet_in_a_file_in_metres_are_told(tmp_path: Path, foot_m: float, name: str) -> None:
    """Heights that were converted from whole feet give themselves away."""
    heights = np.round(tilted(90, 90, slope=0.2, cell_m=30.0, turn_deg=25.0) / foot_m) * foot_m
    one = found(utm_raster(tmp_path, heights.astype(np.float64), cell_m=30.0))["whole feet"]
    assert one.worst == pytest.approx(foot_m, rel=1e-9)
    assert one.detail == name


# ---------------------------------------------------------------- units


def test_grid_in_feet_without_a_unit_of_heights_is_doubted(tmp_path: Path) -> None:
    """A grid in US survey feet leaves the unit of heights open, unless the file says it."""
    heights = tilted(60, 60, slope=0.1, cell_m=3.0, turn_deg=40.0)
    grid = {"transform": Affine(10, 0, 6_000_000, 0, -10, 2_100_000), "crs": "EPSG:2227"}
    assert found(utm_raster(tmp_path, heights, **grid))["grid in feet"].detail == "US survey foot"
    stated = {**grid, "crs": "EPSG:2227+6360"}  # NAVD88 height (ftUS)
    assert "grid in feet" not in found(utm_raster(tmp_path, heights, **stated))


@pytest.mark.parametrize("name", ["lakes50", "jacksboro"])
def test_feet_read_as_metres_are_too_steep(
    name: str, tmp_path: Path, request: pytest.FixtureRequest
) -> None:
    """Real mountains in feet, read as metres, are steeper than mountains are.

    The share beyond 45 degrees is that of the true slopes beyond atan(0.3048), by NumPy.
    """
    source: Path = request.getfixturevalue(name)
    low = {"lakes50": 2300.0, "jacksboro": 0.0}[name]  # else the heights leave the planet

    def in_feet(heights: Heights) -> Heights:
        return ((heights - low) / FOOT_M).astype(np.float32)

    path = changed(source, tmp_path, in_feet)
    one = found(path)["steep"]
    cell_m = inspect(source).cell_m
    south, east = np.gradient(heights_of(source).astype(float), cell_m[1], cell_m[0])
    expected = np.mean(np.hypot(south, east) > FOOT_M)
    assert one.worst == pytest.approx(expected, abs=0.03)  # every sixteenth post is taken
    assert "steep" not in found(source)


def test_heights_beyond_the_highest_land_are_told(lakes50: Path, tmp_path: Path) -> None:
    """In feet, read as metres, ground above 8900 is no ground: the posts are counted."""
    path = changed(lakes50, tmp_path, lambda heights: (heights / FOOT_M).astype(np.float32))
    one = found(path)["no heights"]
    feet = heights_of(lakes50) / FOOT_M
    assert one.posts == np.count_nonzero(feet > 8900)
    assert one.worst == pytest.approx(feet.max(), rel=1e-6)


# ---------------------------------------------------------------- pictures


@pytest.mark.parametrize("sun", [(315.0, 45.0), (135.0, 30.0)])
@pytest.mark.parametrize("name", ["lakes50", "jacksboro", "san_francisco"])
def test_shaded_relief_of_real_ground_is_a_picture(
    name: str, sun: tuple[float, float], tmp_path: Path, request: pytest.FixtureRequest
) -> None:
    """A shaded relief in 16 bits, with its usual sun or a low one behind it, is no ground."""
    known = {"san_francisco": DATA / "san_francisco_srtm1_geoid.tif"}
    source: Path = known.get(name) or request.getfixturevalue(name)
    cell_m = min(inspect(source).cell_m)

    def shade(heights: Heights) -> Heights:
        return shaded(heights, cell_m=cell_m, sun_azimuth_deg=sun[0], sun_deg=sun[1]).astype(
            np.int16
        )

    assert "picture" in found(changed(source, tmp_path, shade))


def test_shaded_relief_of_a_smooth_model_is_a_picture(tmp_path: Path) -> None:
    """On small cells a smooth shaded relief is as steep as no ground."""
    j, i = np.meshgrid(np.arange(200), np.arange(200))
    ground = 40 * np.sin(i / 25) * np.cos(j / 31)
    relief = shaded(ground, cell_m=2.0, sun_azimuth_deg=315, sun_deg=45).astype(np.uint16)
    assert found(utm_raster(tmp_path, relief, cell_m=2.0))["picture"].detail == "slope"


@pytest.mark.parametrize(
    "make",
    [
        lambda: hills(120, 120).astype(np.float32),
        lambda: np.random.default_rng(7).uniform(0, 360, (120, 120)).astype(np.float32),
    ],
    ids=["noise", "directions"],
)
def test_noise_is_no_ground(tmp_path: Path, make: Callable[[], Heights]) -> None:
    """What differs as much between neighbours as anywhere is rough all over."""
    one = found(utm_raster(tmp_path, make(), cell_m=10.0))["noise"]
    assert one.worst == pytest.approx(1.0, abs=0.1)  # white noise does not grow: closed form


def test_noisy_plains_and_steep_mountains_are_ground(jacksboro: Path, tmp_path: Path) -> None:
    """Noise of a metre on a plain is no picture and no noise; nor are mountains twice as steep."""
    plain = 20 + np.random.default_rng(3).normal(0, 3, (120, 120))
    for heights in (plain.astype(np.float32), np.round(plain).astype(np.int16)):
        path = utm_raster(tmp_path, heights, cell_m=30.0)
        assert found(path).keys().isdisjoint({"picture", "noise"})
    twice = changed(jacksboro, tmp_path, lambda heights: (heights * 2).astype(np.float32))
    assert found(twice).keys().isdisjoint({"picture", "noise"})


# ---------------------------------------------------------------- placeholders, zones


@pytest.mark.parametrize("level", [0.0, 57.5])
def test_a_model_of_one_level_is_a_placeholder(tmp_path: Path, level: float) -> None:
    """Flat within 0.1 m is one suspicion, not a list of patches."""
    heights = np.full((80, 80), level, dtype=np.float32)
    heights[::7, ::5] += 0.09
    suspicions = found(utm_raster(tmp_path, heights))
    assert set(suspicions) == {"one level"}
    assert suspicions["one level"].worst == pytest.approx(level + 0.09, abs=1e-5)


def test_a_model_far_outside_its_zone_is_doubted(tmp_path: Path) -> None:
    """Zone 31 ends at 6 degrees east: a model at about 15 is doubted, one at 7 is not."""
    heights = tilted(60, 60, slope=0.1, cell_m=10.0, turn_deg=40.0)
    far = Affine(10, 0, 1_440_000, 0, -10, 5_000_000)
    near = Affine(10, 0, 815_000, 0, -10, 5_000_000)
    one = found(utm_raster(tmp_path, heights, transform=far))["outside area"]
    assert one.lon_deg > 14
    assert one.worst == pytest.approx(one.lon_deg - 6, abs=1e-6)
    assert "outside area" not in found(utm_raster(tmp_path, heights, transform=near))


def test_antimeridian_does_not_put_a_model_outside(tmp_path: Path) -> None:
    """Zone 60 ends at 180 degrees; a model over that line, at -179.9, is not far outside."""
    heights = tilted(60, 60, slope=0.1, cell_m=10.0, turn_deg=40.0)
    over = {"transform": Affine(10, 0, 745_000, 0, -10, 5_000_000), "crs": "EPSG:32660"}
    path = utm_raster(tmp_path, heights, **over)
    assert inspect(path).lowest.lon_deg < -179 or inspect(path).lowest.lon_deg > 179
    assert "outside area" not in found(path)

"""Patches: planted planes and lakes are found where they were planted, and told apart.

Rough ground is real (lakes50, jacksboro), so that a filled hole has to be told from what
mountains hold anyway. Expected places come from the planting; the extent of a lake from
SciPy's morphological opening, a method the program does not use.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np
import pytest
import rasterio
from scipy import ndimage

from terrain_guard.ground import inspect_parts
from terrain_guard.ground.inspect import inspect
from tests.ground.made import utm_raster
from tests.ground.planted import TILES, changed, found, heights_of, place_of, tilted

if TYPE_CHECKING:
    from pathlib import Path

    from tests.ground.planted import Heights

ROUGH_PLACES = [(80, 90), (101, 44), (60, 115), (120, 30), (96, 70)]
"""First rows and columns of squares of 15 in lakes50, amid slopes and ridges."""


def best_plane(heights: Heights) -> Heights:
    """Return the plane nearest to heights in the least-squares sense."""
    i, j = np.indices(heights.shape)
    terms = np.stack((np.ones(i.size), i.ravel(), j.ravel()), axis=1)
    weights, *_ = np.linalg.lstsq(terms, heights.ravel().astype(float), rcond=None)
    return np.asarray((terms @ weights).reshape(heights.shape))


def fill(heights: Heights, row: int, column: int, *, side: int = 15) -> None:
    """Replace a square by its plane, as a filled hole looks."""
    square = heights[row : row + side, column : column + side]
    plane = best_plane(square)
    square[...] = np.round(plane) if square.dtype.kind == "i" else plane


# ---------------------------------------------------------------- filled holes


@pytest.mark.parametrize(("row", "column"), ROUGH_PLACES)
def test_plane_in_rough_ground_is_found(
    lakes50: Path, tmp_path: Path, row: int, column: int
) -> None:
    """15 x 15 posts replaced by a plane are one smooth patch, there and of that size."""
    path = changed(lakes50, tmp_path, lambda heights: fill(heights, row, column))
    one = found(path)["smooth"]
    assert one.pieces == 1
    assert (one.row, one.column) == pytest.approx((row + 7, column + 7), abs=1)
    assert 13 * 13 <= one.posts <= 17 * 17
    assert (one.lat_deg, one.lon_deg) == pytest.approx(
        place_of(lakes50, one.row, one.column), abs=1e-9
    )


@pytest.mark.parametrize("side", [11, 25, 33])
def test_smaller_and_larger_holes_are_found(lakes50: Path, tmp_path: Path, side: int) -> None:
    """Holes of 11 to 33 posts are found; the middle is the planted one."""
    path = changed(lakes50, tmp_path, lambda heights: fill(heights, 85, 60, side=side))
    one = found(path)["smooth"]
    middle = (85 + side // 2, 60 + side // 2)
    assert (one.row, one.column) == pytest.approx(middle, abs=3)
    assert one.posts == pytest.approx(side**2, rel=0.35)


def test_plane_of_whole_metres_is_found(jacksboro: Path, tmp_path: Path) -> None:
    """Rounding to whole metres does not hide a plane amid ridges."""
    path = changed(jacksboro, tmp_path, lambda heights: fill(heights, 150, 200))
    one = found(path)["smooth"]
    assert (one.row, one.column) == pytest.approx((157, 207), abs=1)
    assert one.pieces == 1


def test_plane_of_whole_metres_is_found_in_ground_little_rougher_than_rounding(
    tmp_path: Path,
) -> None:
    """Rounded planes have second differences of 0.7 m: they are not taken for roughness.

    Noise of 2 m makes second differences of sqrt(6) times 2 m, which is 4.9 m, seven times
    those of the rounding, and so less than ten.
    """
    heights = tilted(90, 90, slope=0.31, cell_m=10.0, turn_deg=27.0).astype(float)
    heights += np.random.default_rng(4).normal(0.0, 2.0, heights.shape)
    fill(heights, 40, 35)
    path = utm_raster(tmp_path, np.round(heights).astype(np.int16))
    one = found(path)["smooth"]
    assert one.pieces == 1
    assert (one.row, one.column) == pytest.approx((47, 42), abs=1)


def test_smooth_corner_is_no_hole(tmp_path: Path) -> None:
    """In a corner of the model five of eight directions are not known: too many."""
    heights = tilted(90, 90, slope=0.3, cell_m=10.0, turn_deg=30.0)
    noise = np.random.default_rng(2).uniform(0, 20, heights.shape).astype(np.float32)
    noise[:16, :16] = 0
    assert "smooth" not in found(utm_raster(tmp_path, heights + noise))


def test_real_ground_without_the_plane_has_no_smooth_patch(
    lakes50: Path, jacksboro: Path, sierra30: Path
) -> None:
    """Canyons, ridges, domes and valley floors of three real models hold none."""
    for path in (lakes50, jacksboro, sierra30):
        assert "smooth" not in found(path)


@pytest.mark.parametrize("slope", [0.0, 0.05, 0.8])
def test_even_ground_is_not_smooth_amid_rough(tmp_path: Path, slope: float) -> None:
    """Where all ground is a plane, nothing around is rougher, and nothing was filled."""
    heights = tilted(90, 90, slope=slope, cell_m=10.0, turn_deg=30.0)
    assert "smooth" not in found(utm_raster(tmp_path, heights))


def test_valley_floor_between_rough_walls_is_no_hole(tmp_path: Path) -> None:
    """An even floor 30 posts wide, rough walls on both sides, goes on up and down the valley."""
    heights = tilted(160, 160, slope=0.1, cell_m=10.0, turn_deg=90.0)
    wall = np.abs(np.arange(160) - 80) > 15
    noise = np.random.default_rng(2).uniform(0, 20, heights.shape).astype(np.float32)
    heights += np.where(wall, noise, 0)
    assert "smooth" not in found(utm_raster(tmp_path, heights))


# ---------------------------------------------------------------- water


def lake_of(heights: Heights, row: int, column: int, radius: int) -> Heights:
    """Return which posts lie within a circle."""
    i, j = np.indices(heights.shape)
    return np.asarray((i - row) ** 2 + (j - column) ** 2 <= radius**2)


@pytest.mark.parametrize("dtype", ["float32", "int16"])
def test_lake_is_flat_and_not_filled(jacksboro: Path, tmp_path: Path, dtype: str) -> None:
    """A lake at constant level is flat, at its level, as large as its 7 x 7 opening."""
    lake = lake_of(heights_of(jacksboro), 200, 180, 14)

    def plant(heights: Heights) -> Heights:
        return np.where(lake, 333, heights).astype(dtype)

    path = changed(jacksboro, tmp_path, plant)
    suspicions = found(path)
    one = suspicions["level"]
    assert one.posts == ndimage.binary_opening(lake, np.ones((7, 7))).sum()
    assert (one.row, one.column, one.worst, one.pieces) == (200, 180, 333, 1)
    assert "smooth" not in suspicions


def test_two_lakes_are_two_patches(jacksboro: Path, tmp_path: Path) -> None:
    """Patches are counted, and the place is that of the larger."""
    heights = heights_of(jacksboro)
    small, large = lake_of(heights, 60, 60, 8), lake_of(heights, 250, 300, 20)

    def plant(old: Heights) -> Heights:
        return np.where(small, 400, np.where(large, 500, old)).astype(old.dtype)

    one = found(changed(jacksboro, tmp_path, plant))["level"]
    assert (one.pieces, one.row, one.column, one.worst) == (2, 250, 300, 500)
    assert one.largest == ndimage.binary_opening(large, np.ones((7, 7))).sum()


def test_puddle_smaller_than_seven_posts_is_not_told(jacksboro: Path, tmp_path: Path) -> None:
    """6 x 6 level posts are too few to mean anything."""

    def plant(heights: Heights) -> None:
        heights[100:106, 100:106] = 444

    assert "level" not in found(changed(jacksboro, tmp_path, plant))


def test_real_lakes_are_flat(sierra30: Path, lakes50: Path) -> None:
    """The level water of sierra30 is all at 1001 m; the two noisy lakes of lakes50 lie together.

    Mammoth Pool Reservoir, the one large water in sierra30, lies about 37.33 N 119.32 W,
    full at 3330 ft (1015 m); Horseshoe Lake in lakes50 about 37.61 N 119.02 W, 8950 ft
    (2728 m). Both from maps of the United States Geological Survey, cited from memory.
    """
    pool = found(sierra30)["level"]
    assert pool.worst == 1001
    assert (pool.lat_deg, pool.lon_deg) == pytest.approx((37.33, -119.32), abs=0.02)
    assert (heights_of(sierra30)[pool.row - 3 : pool.row + 4, pool.column] == 1001).all()
    lakes = found(lakes50)["level"]
    assert lakes.pieces == 2
    assert lakes.worst == pytest.approx(2728, abs=5)
    assert (lakes.lat_deg, lakes.lon_deg) == pytest.approx((37.61, -119.02), abs=0.01)


def test_coasts_and_towns_of_whole_metres_are_not_flat() -> None:
    """Real noise of whole metres over towns and harbours makes no level patch."""
    from tests.conftest import DATA

    for name in ("san_francisco_srtm1_geoid.tif", "sydney_srtm1_geoid.tif"):
        assert found(DATA / name).keys().isdisjoint({"level", "level at zero", "smooth"})


# ---------------------------------------------------------------- parts


def test_lake_across_parts_is_one(
    jacksboro: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Cut into 64 x 64 posts, a lake that lies on nine parts is still one, of the same size."""
    heights = heights_of(jacksboro)
    heights[lake_of(heights, 128, 128, 40)] = 333
    path = utm_raster(tmp_path, heights, **TILES)
    whole = found(path)["level"]
    monkeypatch.setattr(inspect_parts, "SIDE", 64)
    raster = inspect(path)
    (cut,) = (one for one in raster.suspicions if one.kind == "level")
    assert (cut.pieces, cut.posts, cut.largest) == (1, whole.posts, whole.largest)


def test_ponds_side_by_side_across_parts_stay_two(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Two ponds of different levels that meet where parts meet are not joined."""
    heights = tilted(192, 192, slope=0.3, cell_m=10.0, turn_deg=20.0)
    heights[100:120, 100:128] = 333
    heights[100:120, 128:150] = 343
    path = utm_raster(tmp_path, heights, **TILES)
    monkeypatch.setattr(inspect_parts, "SIDE", 64)
    one = found(path)["level"]
    assert (one.pieces, one.largest, one.worst) == (2, 20 * 28, 333)


def test_hole_on_a_corner_of_parts_is_found(
    lakes50: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """A filled hole that four parts share is one patch of the size it has in one part."""

    def plant(heights: Heights) -> Heights:
        fill(heights, 57, 57)
        return heights

    with rasterio.open(lakes50) as dataset:
        rough = np.tile(dataset.read(1)[70:134, 30:94], (2, 2))
    plant(rough)
    path = utm_raster(tmp_path, rough, cell_m=50.0, **TILES)
    whole = found(path)["smooth"]
    monkeypatch.setattr(inspect_parts, "SIDE", 64)
    cut = found(path)["smooth"]
    assert (cut.posts, cut.pieces, cut.largest) == (whole.posts, whole.pieces, whole.largest)
    assert whole.pieces == 1
    assert (whole.row, whole.column) == pytest.approx((64, 64), abs=1)

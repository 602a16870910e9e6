"""Tiles that do not meet are told of, and refused where the step is the geoid height."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np
import pytest
import rasterio
from rasterio.transform import Affine

from terrain_guard.errors import RefusedTerrain
from terrain_guard.ground.model import Ground
from tests.ground.made import CORNER, UTM31N, hills, utm_raster
from tests.ground.tiles import cut
from tests.rasters import write_raster

if TYPE_CHECKING:
    from collections.abc import Sequence
    from pathlib import Path

    from tests.ground.grids import MakeGrid


def raised(path: Path, by_m: float) -> Path:
    """Add a constant to a tile, in its own number type."""
    with rasterio.open(path, "r+") as dataset:
        dataset.write(dataset.read(1) + np.asarray(by_m).astype(dataset.dtypes[0]), 1)
    return path


def remarks(
    given: Path | Sequence[Path],
    places: Sequence[tuple[float, float]],
    *,
    reach_m: float = 900.0,
) -> tuple[str, ...]:
    """Return what is said once the patches round some places were handed out."""
    ground = Ground(given)
    for row, column in places:
        ground.around(np.array([row]), np.array([column]), reach_m=reach_m)
    return ground.seam_remarks()


@pytest.mark.parametrize("shared", [0, 1])
def test_real_walls_cut_into_tiles_make_no_step(
    sierra30: Path, tmp_path: Path, shared: int
) -> None:
    """Along all seams of the steepest real ground here, nothing is said."""
    cut(sierra30, tmp_path / "tiles", shared=shared)
    places = [(row, column) for row in range(110, 1100, 110) for column in range(110, 1100, 110)]
    assert remarks(tmp_path / "tiles", places, reach_m=1700.0) == ()


def test_forty_seven_metres_are_found(sierra30: Path, tmp_path: Path, no_grids: None) -> None:
    """One tile of 25 raised by 47 m: the step towards its neighbours is 47 m, to half a metre."""
    tiles = cut(sierra30, tmp_path / "tiles")
    raised(tiles[12], 47)
    said = remarks(tiles, [(440.0, 550.0)])
    assert len(said) == 1
    head, step, *_ = said[0].split(" lies ")
    assert head == "tile_22.tif"
    assert float(step.split(" m above tile_12.tif")[0]) == pytest.approx(47.0, abs=0.5)


@pytest.mark.parametrize(("by_m", "side"), [(-6.0, "above"), (6.0, "below")])
def test_a_step_beside_gentle_ground(tmp_path: Path, by_m: float, side: str) -> None:
    """A slope of 0.5 m a post: 6 m are a step, told with its side, and half of 3 × 0.5 m is not."""
    row, column = np.mgrid[0:40, 0:60].astype(float)
    plane = 300.0 + 0.5 * column + 0.1 * row
    for step, told in ((by_m, True), (np.sign(by_m) * 0.7, False)):
        west = utm_raster(tmp_path, plane[:, :30] + step, name="west.tif")
        corner = Affine(10.0, 0, CORNER[0] + 300.0, 0, -10.0, CORNER[1])
        east = write_raster(tmp_path / "east.tif", plane[:, 30:], transform=corner, crs=UTM31N)
        said = remarks([west, east], [(20.0, 30.0)], reach_m=150.0)
        expected = (
            f"east.tif lies 6.0 m {side} west.tif along their seam (median), where ground changes "
            "by 0.5 m from post to post: two surveys, two vertical datums, or bare earth beside "
            "treetops?",
        )
        assert said == (expected if told else ())


@pytest.mark.parametrize(("step_m", "told"), [(5.5, False), (6.5, True)])
def test_a_step_beside_steep_ground(tmp_path: Path, step_m: float, told: bool) -> None:
    """Where ground climbs 2 m from post to post, up to three times that is no step."""
    plane = np.tile(300.0 + 2.0 * np.arange(60.0), (40, 1))
    west = utm_raster(tmp_path, plane[:, :30], name="west.tif")
    corner = Affine(10.0, 0, CORNER[0] + 300.0, 0, -10.0, CORNER[1])
    shifted = plane[:, 30:] + step_m
    east = write_raster(tmp_path / "east.tif", shifted, transform=corner, crs=UTM31N)
    assert bool(remarks([west, east], [(20.0, 30.0)], reach_m=150.0)) == told


def test_a_seam_that_is_not_used_is_not_told(sierra30: Path, tmp_path: Path) -> None:
    """A step far from the route is none of its business."""
    tiles = cut(sierra30, tmp_path / "tiles")
    raised(tiles[0], 47)
    assert remarks(tiles, [(660.0, 660.0)]) == ()


def test_shared_posts_that_differ(tmp_path: Path) -> None:
    """Two centimetres on one shared post are told; half a centimetre is not."""
    z = hills(30, 40)
    for off, told in ((0.02, True), (0.005, False)):
        west = utm_raster(tmp_path, z[:, :21], name="west.tif")
        other = z[:, 20:].copy()
        other[14, 0] += off
        corner = Affine(10.0, 0, CORNER[0] + 200.0, 0, -10.0, CORNER[1])
        east = write_raster(tmp_path / "east.tif", other, transform=corner, crs=UTM31N)
        said = remarks([west, east], [(15.0, 20.0)], reach_m=60.0)
        expected = (
            "west.tif and east.tif differ by up to 0.02 m where both have ground (median "
            "+0.00 m): west.tif, named first, counts there."
        )
        assert said == ((expected,) if told else ())


def test_ground_and_treetops_side_by_side_in_two_cell_sizes(tmp_path: Path) -> None:
    """A coarse model 8 m above the fine one that lies in it is told of, one that fits is not."""
    row, column = np.mgrid[0:40, 0:40].astype(float)
    for above, told in ((8.0, True), (0.0, False)):
        coarse = 300.0 + 3 * (row + column) + above
        fine = 300.0 + 3 * (row[:30, :30] / 3 + 10 + column[:30, :30] / 3 + 10)
        outer = utm_raster(tmp_path, coarse, cell_m=30.0, name="outer.tif")
        corner = Affine(10.0, 0, CORNER[0] + 310.0, 0, -10.0, CORNER[1] - 310.0)
        inner = write_raster(tmp_path / "inner.tif", fine, transform=corner, crs=UTM31N)
        said = remarks([inner, outer], [(45.0, 30.0)], reach_m=200.0)
        assert bool(said) == told
        if told:
            assert any("8.0 m above inner.tif" in one for one in said)
            assert any("(median +8.00 m): inner.tif, named first" in one for one in said)


@pytest.mark.parametrize(("n", "by_m"), [(47.3, 47), (-47.3, 47), (49.0, -47)])
def test_a_step_of_the_geoid_height_is_refused(
    sierra30: Path, tmp_path: Path, make_grid: MakeGrid, n: float, by_m: int
) -> None:
    """One of the tiles counts from the ellipsoid: no answer is better than half of one."""
    make_grid(n)
    tiles = cut(sierra30, tmp_path / "tiles")
    raised(tiles[12], by_m)
    with pytest.raises(RefusedTerrain, match=r"which is the geoid height there \([+-]4\d\.\d m by"):
        remarks(tiles, [(440.0, 550.0)])


def test_a_step_that_is_not_the_geoid_height_is_told(
    sierra30: Path, tmp_path: Path, make_grid: MakeGrid
) -> None:
    """With a geoid height of 30 m a step of 47 m is something else."""
    make_grid(30.0)
    tiles = cut(sierra30, tmp_path / "tiles")
    raised(tiles[12], 47)
    assert len(remarks(tiles, [(440.0, 550.0)])) == 1

"""Slopes of the ground at samples, on planes, crests and faces, on real grids and on a bare one."""

from __future__ import annotations

import math
from pathlib import Path

import numpy as np
import pytest
from rasterio.transform import Affine

from terrain_guard.checks.budget.posts_near import posts_near
from terrain_guard.checks.budget.slopes import Slopes, slopes, slopes_of
from terrain_guard.ground.model import Ground
from terrain_guard.path.frame import WGS84
from tests.checks.budget.worked import near
from tests.checks.scenes import Floats, grid, lat_lon, model
from tests.ground.made import COPIES, hills
from tests.rasters import write_raster


def at(
    ground: Ground, east: list[float], north: list[float], *, registration_m: float = 0.4
) -> Slopes:
    """Return the slopes at places given in metres from the spot of the scenes."""
    lat, lon = np.transpose([lat_lon(e, n) for e, n in zip(east, north, strict=True)])
    row, column = ground.posts_at(lon, lat)
    return slopes(ground, row, column, registration_m=registration_m, cell_m=ground.coarsest_cell_m)


def test_the_slope_of_a_plane(tmp_path: Path) -> None:
    """East and north apart, anywhere in a cell, whatever the reach."""
    ground = Ground(model(tmp_path, lambda e, n: 300 + 0.3 * e - 0.2 * n, cell_m=10.0))
    for registration in (0.0, 3.0, 25.0):
        found = at(ground, [3.0, 47.1, 120.0], [0.0, -33.3, 50.0], registration_m=registration)
        assert found.east == pytest.approx(0.3, abs=1e-4)
        assert found.north == pytest.approx(-0.2, abs=1e-4)
        assert found.plane == pytest.approx(math.hypot(0.3, 0.2), abs=1e-4)
        # Steepest from post to post, along the diagonal: (0.3 + 0.2) / sqrt(2).
        for steepest in (found.crest, found.gully, found.face):
            assert steepest == pytest.approx(0.5 / math.sqrt(2), abs=1e-4)
        assert (found.peak == 0).all()
        assert not found.is_steep.any()


def test_on_a_crest_the_sides_count_and_not_their_mean(tmp_path: Path) -> None:
    """A gable of 50 %: the plane through its crest is level, the side 0.5, and so is its crest."""
    ground = Ground(model(tmp_path, lambda e, n: 300 - 0.5 * np.abs(e) + 0 * n))
    found = at(ground, [0.0], [0.0], registration_m=0.6)
    assert found.east == pytest.approx(0.0, abs=1e-6)
    assert found.crest == pytest.approx(0.5, abs=1e-4)


@pytest.mark.parametrize(
    ("away_m", "is_near"), [(0.0, True), (1.9, True), (2.0, True), (2.2, False), (30.0, False)]
)
def test_a_crest_counts_within_two_cells(tmp_path: Path, away_m: float, is_near: bool) -> None:
    """Beyond, on ground that is hollow in every direction, there is none."""
    hollow = 0.002

    def gable(east: Floats, north: Floats) -> Floats:
        bowl = hollow * ((np.abs(east) - 100) ** 2 + north**2)
        return 300 + bowl

    ground = Ground(model(tmp_path, gable, box_m=(-80.0, -60.0, 80.0, 60.0)))
    found = at(ground, [away_m], [0.0])
    assert (found.crest[0] > 0) == is_near
    if is_near:
        assert found.crest[0] == pytest.approx(2 * hollow * 100, rel=0.03)
    assert found.gully[0] > 0  # everywhere here


def test_a_crest_and_a_gully_are_each_others_image() -> None:
    """Turned upside down, one is the other."""
    z = hills(40, 40)
    row, column = np.random.default_rng(1).uniform(8, 30, (2, 200))
    up, down = (
        slopes_of(near(values, row, column, cell_m=10.0), reach_m=15.0) for values in (z, -z)
    )
    for one, other in (("crest", "gully"), ("gully", "crest"), ("peak", "pit"), ("pit", "peak")):
        assert getattr(up, one) == pytest.approx(getattr(down, other), abs=1e-12)
    assert up.east == pytest.approx(-down.east)


def test_the_plane_against_a_fit_by_hand() -> None:
    """NumPy's least squares over the posts within two sigma and a cell, sample by sample."""
    z = hills(30, 30, seed=9)
    z[12:14, 9] = np.nan
    row, column = np.random.default_rng(4).uniform(7, 21, (2, 60))
    found = slopes_of(near(z, row, column, cell_m=10.0), reach_m=2 * 4.0 + 10.0)
    i, j = np.meshgrid(np.arange(30.0), np.arange(30.0), indexing="ij")
    for k in range(row.size):
        reach = (np.abs(i - row[k]) <= 1.8) & (np.abs(j - column[k]) <= 1.8) & np.isfinite(z)
        basis = np.stack((j[reach], i[reach], np.ones(reach.sum())), axis=1)
        (per_column, per_row, _), *_ = np.linalg.lstsq(basis, z[reach], rcond=None)
        assert found.east[k] == pytest.approx(per_column / 10.0, abs=1e-9)
        assert found.north[k] == pytest.approx(-per_row / 10.0, abs=1e-9)


def test_the_steepest_side_against_a_search_by_hand() -> None:
    """From every post within two cells to its eight neighbours."""
    z = hills(24, 24, seed=2)
    row, column = np.random.default_rng(6).uniform(6, 16, (2, 50))
    found = slopes_of(near(z, row, column, cell_m=30.0), reach_m=60.0)
    for k in range(row.size):
        most = 0.0
        for i in range(24):
            for j in range(24):
                if abs(i - row[k]) <= 2 and abs(j - column[k]) <= 2:
                    for di, dj in (
                        (0, 1),
                        (1, 0),
                        (1, 1),
                        (1, -1),
                        (0, -1),
                        (-1, 0),
                        (-1, -1),
                        (-1, 1),
                    ):
                        rise = abs(z[i + di, j + dj] - z[i, j])
                        most = max(most, rise / (30.0 * math.hypot(di, dj)))
        assert found.face[k] == pytest.approx(most, rel=1e-12)
        assert found.crest[k] in (0.0, pytest.approx(most, rel=1e-12))


def test_a_face_is_steep_within_two_sigma_and_a_cell(tmp_path: Path) -> None:
    """A wall of 10 m on 1 m cells: steep near it, no more beyond the reach."""
    ground = Ground(model(tmp_path, lambda e, n: 300 + 10.0 * (e > 50) + 0 * n))
    away = [0.0, 2.5, 6.0, 7.2, 20.0]  # from the last post before the wall
    found = at(ground, [50.0 - a for a in away], [0.0] * 5, registration_m=3.0)
    assert found.is_steep.tolist() == [True, True, True, False, False]
    assert found.face[0] == pytest.approx(10.0, rel=1e-3)


@pytest.mark.parametrize("name", COPIES)
def test_slopes_are_metres_per_metre_on_any_grid(name: str, sierra30: Path, tmp_path: Path) -> None:
    """Turned grids, degrees, polar: against heights read two metres off, along geodesics.

    The ground is even over longitude and latitude, so that every plane fits it.
    """
    source = COPIES[name](sierra30, tmp_path)
    ground = Ground(source)
    row, column = np.random.default_rng(3).uniform(510, 590, (2, 30))
    step = 1e-3
    lon, lat = ground.degrees_at(row, column)
    # A plane over longitude and latitude, written over the same grid.
    i, j = np.meshgrid(np.arange(500.0, 600.0), np.arange(500.0, 600.0), indexing="ij")
    lon_of, lat_of = ground.degrees_at(i.ravel(), j.ravel())
    lon0, lat0 = float(lon.mean()), float(lat.mean())
    metres_lon = 111_320 * math.cos(math.radians(lat0))
    plane = 1000 + (0.2 * (lon_of - lon0) * metres_lon + 0.1 * (lat_of - lat0) * 111_132).reshape(
        i.shape
    )
    a, b, c, d, e, f = ground.raster.affine
    affine = Affine(a, b, c + 500 * (a + b), d, e, f + 500 * (d + e))
    made = Ground(
        write_raster(tmp_path / "plane.tif", plane, transform=affine, crs=ground.raster.crs)
    )
    found = slopes(made, row - 500, column - 500, registration_m=3.0, cell_m=made.coarsest_cell_m)
    for turn, got in ((90.0, found.east), (0.0, found.north)):
        azimuth, away = np.full(30, turn), np.full(30, 2.0)
        ahead, behind = (WGS84.fwd(lon, lat, azimuth + half, away)[:2] for half in (0.0, 180.0))
        rise = made.elevation(*ahead) - made.elevation(*behind)
        assert got == pytest.approx(rise / 4.0, abs=step)


def test_real_canyon_walls_are_steep(sierra30: Path) -> None:
    """The steepest step between two of its posts, 171 m over 30 m, is found where it is."""
    ground = Ground(sierra30)
    z = ground.blocks.window((0, 1100), (0, 1100))
    i, j = np.unravel_index(np.abs(np.diff(z, axis=1)).argmax(), (1100, 1099))
    found = slopes(
        ground, np.array([i + 0.5]), np.array([j + 0.5]), registration_m=2.8, cell_m=30.0
    )
    assert found.face[0] == pytest.approx(171 / 30, rel=0.01)
    assert found.is_steep[0]


def test_posts_read_from_a_model_lie_where_they_do(tmp_path: Path) -> None:
    """Rough ground read through the model, against the same posts put together by hand."""
    z = hills(40, 40, seed=8)
    ground = Ground(grid(tmp_path, z, cell_m=10.0, corner_m=(-200.0, 200.0)))
    row, column = np.random.default_rng(5).uniform(8, 30, (2, 200))
    found = slopes(ground, row, column, registration_m=4.0, cell_m=10.0)
    by_hand = slopes_of(near(z, row, column, cell_m=10.0), reach_m=2 * 4.0 + 10.0)
    for name in ("east", "north", "crest", "gully", "face", "peak", "pit"):
        values = getattr(found, name)
        assert values == pytest.approx(getattr(by_hand, name), rel=1e-4, abs=1e-3), name


# ---------------------------------------------------------------- what is not known


def test_no_ground_no_slope(tmp_path: Path) -> None:
    """Off the model, at a sample without a place, and amid voids: NaN."""
    heights = np.full((60, 60), 300.0)
    heights[20:40, 20:40] = np.nan
    ground = Ground(grid(tmp_path, heights, cell_m=1.0, corner_m=(0.0, 0.0)))
    row = np.array([30.0, np.nan, 500.0, 10.0])
    found = slopes(ground, row, np.full(4, 30.0), registration_m=0.4, cell_m=1.0)
    for values in (found.east, found.north, found.face):
        assert np.isnan(values).tolist() == [True, True, True, False]
    assert np.isnan(found.crest).tolist() == [True, True, True, False]


def test_beside_a_void_anything_may_be_a_crest(tmp_path: Path) -> None:
    """A hollow slope has no crest; with a void in it, it may."""
    i, j = np.meshgrid(np.arange(40.0), np.arange(40.0), indexing="ij")
    hollow = 0.02 * (i**2 + j**2)
    row, column = np.array([20.3]), np.array([20.3])
    whole = slopes_of(near(hollow, row, column, cell_m=1.0), reach_m=1.8)
    hollow[22, 21] = np.nan
    torn = slopes_of(near(hollow, row, column, cell_m=1.0), reach_m=1.8)
    assert whole.crest[0] == 0.0
    assert torn.crest[0] > 0.5


def test_long_routes_are_fetched_in_parts(tmp_path: Path) -> None:
    """Posts far apart are the same as posts fetched one by one, and few are fetched."""
    affine = Affine(1.0, 0.0, 500_000.0, 0.0, -1.0, 5_000_000.0)
    path = write_raster(
        tmp_path / "long.tif", hills(40, 2000), transform=affine, crs="EPSG:32631",
        tiled=True, blockxsize=256, blockysize=256,
    )  # fmt: skip
    ground = Ground(path)
    column = np.linspace(10.0, 1980.0, 300)
    row = 20 + 5 * np.sin(column / 90)
    found = posts_near(ground, row, column, cells=3)
    for k in (0, 77, 299):
        i, j = int(row[k]), int(column[k])
        window = ground.blocks.window((i - 3, i + 4), (j - 3, j + 4))
        assert (found.z[k] == window).all()
    assert found.z.shape == (300, 7, 7)

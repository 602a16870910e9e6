"""What the nearest-point search is handed: planes that bound the ground, metres that are metres."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING

import numpy as np
import pytest
from geographiclib.geodesic import Geodesic
from rasterio.transform import Affine

from terrain_guard.ground.model import Ground
from terrain_guard.ground.patches import Groups, Patches, group_up
from tests.ground.made import hills, scipy_surface, utm_raster
from tests.rasters import write_raster

if TYPE_CHECKING:
    from terrain_guard.arrays import Floats

# ------------------------------------------------------------ groups


def planes_at(groups: Groups, row: Floats, column: Floats) -> tuple[Floats, Floats]:
    """Return the plane's height and the stray of the group that holds each place."""
    size = groups.size
    i = np.minimum(row // size, groups.plane.shape[0] - 1).astype(int)
    j = np.minimum(column // size, groups.plane.shape[1] - 1).astype(int)
    plane = groups.plane[i, j]
    plane = plane + groups.per_row[i, j] * (row - (i + 0.5) * size)
    plane = plane + groups.per_column[i, j] * (column - (j + 0.5) * size)
    return plane, groups.stray_m[i, j]


def assert_bounded(z: Floats, groups: Groups) -> float:
    """Check the bound at 40,000 random places and at every post; return its greatest use."""
    random = np.random.default_rng(groups.size)
    row, column = random.uniform(0, np.array(z.shape)[:, None] - 1, (2, 40_000))
    post_rows, post_columns = np.indices(z.shape).reshape(2, -1)
    row = np.concatenate((row, post_rows.astype(float)))
    column = np.concatenate((column, post_columns.astype(float)))
    ground = scipy_surface(z, row, column)
    plane, stray = planes_at(groups, row, column)
    known = np.isfinite(ground)
    away = np.abs(ground - plane)[known]
    assert (away <= stray[known] + 1e-9).all()
    return float((away / stray[known].clip(1e-9)).max())


SIZES = (4, 16, 64)


@pytest.mark.parametrize("share_missing", [0.0, 0.001, 0.05, 0.6])
def test_planes_bound_rough_ground(share_missing: float) -> None:
    """No place of the surface strays farther from its group's plane than stated."""
    z = hills(129, 193)
    z[np.random.default_rng(2).random(z.shape) < share_missing] = np.nan
    for groups in group_up(z, SIZES):
        assert_bounded(z, groups)


def test_planes_bound_real_ground(sierra30: Path) -> None:
    """The same over real canyon walls; the bound is reached, so it is not idle."""
    ground = Ground(sierra30)
    z = ground.blocks.window((400, 529), (500, 693))
    used = [assert_bounded(z, groups) for groups in group_up(z, SIZES)]
    assert used[0] == pytest.approx(1.0)
    assert min(used) > 0.4


def test_a_plane_strays_nowhere() -> None:
    """On a plane every group's plane is that plane, with no stray to speak of."""
    row, column = np.mgrid[0:65, 0:129]
    z = 700.0 + 2.5 * row - 1.25 * column
    for groups in group_up(z, SIZES):
        assert groups.per_row == pytest.approx(2.5)
        assert groups.per_column == pytest.approx(-1.25)
        assert groups.stray_m.max() < 1e-9
        assert not groups.has_void.any()
        assert_bounded(z, groups)


@pytest.mark.parametrize("hole", [(0, 0), (4, 4), (17, 63), (64, 64), (31, 32)])
def test_groups_know_their_voids(hole: tuple[int, int]) -> None:
    """A missing post marks every group that touches it, of every size, and no other."""
    z = hills(65, 65)
    z[hole] = np.nan
    for groups in group_up(z, SIZES):
        expected = np.zeros(groups.has_void.shape, dtype=bool)
        size = groups.size
        for i, j in np.ndindex(expected.shape):
            block = z[i * size : (i + 1) * size + 1, j * size : (j + 1) * size + 1]
            expected[i, j] = np.isnan(block).any()
        assert (groups.has_void == expected).all()


def test_groups_without_any_ground() -> None:
    """Where nothing is known the stray is minus infinity, and larger groups ignore it."""
    z = hills(65, 65)
    z[:33, :33] = np.nan
    small, middle, large = group_up(z, SIZES)
    assert np.isneginf(small.stray_m[:8, :8]).all()
    assert np.isneginf(middle.stray_m[:2, :2]).all()
    assert np.isfinite(large.stray_m).all()
    for groups in (small, middle, large):
        assert_bounded(z, groups)


def test_all_missing() -> None:
    """No ground at all: no number anywhere."""
    for groups in group_up(np.full((65, 65), np.nan), SIZES):
        assert np.isneginf(groups.stray_m).all()
        assert groups.has_void.all()
        assert np.isfinite(groups.plane).all()


# ------------------------------------------------------------ around a place

SYSTEMS: dict[str, tuple[Affine, object]] = {
    "UTM": (Affine(1, 0, 500_000, 0, -1, 5_000_000), "EPSG:32631"),
    "UTM, coarse": (Affine(30, 0, 640_000, 0, -30, 5_000_000), "EPSG:32631"),
    "UTM, turned": (
        Affine.translation(500_000, 5_000_000) @ Affine.rotation(33) @ Affine.scale(2, -1.5),
        "EPSG:32631",
    ),
    "skewed": (Affine(2, 1.2, 500_000, 0.3, -1.7, 5_000_000), "EPSG:32631"),
    "degrees at 70 north": (Affine(9e-5, 0, 20.0, 0, -3e-5, 70.0), "EPSG:4326"),
    "degrees at 45 south": (Affine(1 / 3600, 0, 170.0, 0, -1 / 3600, -45.0), "EPSG:4326"),
    "degrees over 180": (Affine(1e-5, 0, 179.998, 0, -1e-5, -16.0), "EPSG:4326"),
    "web map at 60 north": (Affine(2, 0, 1e6, 0, -2, 8.4e6), "EPSG:3857"),
    "polar": (Affine(10, 3, 1e5, 2, -9, -2e5), "EPSG:3413"),
}
REACH_M = 150.0


@pytest.fixture(params=SYSTEMS)
def ground(request: pytest.FixtureRequest, tmp_path: Path) -> Ground:
    """Return rough ground of 600 x 600 posts in one of many systems."""
    transform, crs = SYSTEMS[request.param]
    heights = hills(600, 600).astype(np.float32)
    return Ground(write_raster(tmp_path / "around.tif", heights, transform=transform, crs=crs))


def handed_out(ground: Ground) -> tuple[Patches, Floats, Floats]:
    """Return the patches about a short piece of curve in the middle, and the curve's posts."""
    row, column = np.array([300.2, 301.9, 304.4]), np.array([297.7, 300.1, 299.3])
    return ground.around(row, column, reach_m=REACH_M), row, column


def test_metres_are_geodesic_metres(ground: Ground) -> None:
    """Distances by the local map are those of geographiclib to 2 mm (1 mm at either end)."""
    patches, _, _ = handed_out(ground)
    random = np.random.default_rng(3)
    size = np.array(patches.z.shape)[:, None] - 1
    first = np.array([[patches.row0], [patches.column0]])
    row, column = first[..., None] + random.uniform(0, 1, (2, 200, 2)) * size[..., None]
    east, north = patches.map.metres(row, column)
    lon, lat = ground.degrees_at(row.ravel(), column.ravel())
    lon, lat = lon.reshape(200, 2), lat.reshape(200, 2)
    expected = [
        Geodesic.WGS84.Inverse(lat[k, 0], lon[k, 0], lat[k, 1], lon[k, 1])["s12"]
        for k in range(200)
    ]
    found = np.hypot(np.diff(east)[:, 0], np.diff(north)[:, 0])
    assert np.abs(found - expected).max() < 0.002


def test_jacobian_is_the_map_s_slope(ground: Ground) -> None:
    """Metres per cell equal the map's own differences over a hundredth of a cell."""
    patches, row, column = handed_out(ground)
    found = patches.map.jacobian(row, column)
    step = 0.005
    for k, (down, right) in enumerate(((0.0, step), (step, 0.0))):
        after = np.stack(patches.map.metres(row + down, column + right), axis=1)
        before = np.stack(patches.map.metres(row - down, column - right), axis=1)
        assert found[:, :, k] == pytest.approx((after - before) / 0.01, abs=1e-6)


def test_everything_within_reach_is_handed_out(ground: Ground) -> None:
    """Every post round a place nearer than the reach, all round the compass, is in the window."""
    patches, rows, columns = handed_out(ground)
    lon, lat = ground.degrees_at(rows, columns)
    azimuth = np.arange(0.0, 360.0, 2.0)
    for k in range(3):
        ring = [Geodesic.WGS84.Direct(lat[k], lon[k], float(angle), REACH_M) for angle in azimuth]
        row, column = ground.posts_at([p["lon2"] for p in ring], [p["lat2"] for p in ring])
        last_row = patches.row0 + patches.z.shape[0] - 1
        last_column = patches.column0 + patches.z.shape[1] - 1
        assert patches.row0 <= row.min()
        assert row.max() <= last_row
        assert patches.column0 <= column.min()
        assert column.max() <= last_column


def test_posts_of_the_window(ground: Ground) -> None:
    """The window's heights are the raster's at row0, column0 on, and groups cover it evenly."""
    patches, _, _ = handed_out(ground)
    i, j = np.indices(patches.z.shape)
    found = ground.elevation_at(
        (i + patches.row0).ravel().astype(float), (j + patches.column0).ravel().astype(float)
    )
    np.testing.assert_array_equal(found, patches.z.ravel())
    assert patches.has_void == np.isnan(patches.z).any()
    for groups in patches.groups:
        cells = tuple(n * groups.size for n in groups.plane.shape)
        assert cells == (patches.z.shape[0] - 1, patches.z.shape[1] - 1)


def test_around_the_corner_of_the_model(tmp_path: Path) -> None:
    """Near the edge the window goes on beyond it, empty, and says so."""
    ground = Ground(utm_raster(tmp_path, hills(50, 50), cell_m=5.0))
    patches = ground.around(np.array([1.0]), np.array([2.0]), reach_m=60.0)
    assert patches.has_void
    assert np.isnan(patches.z[: -patches.row0]).all()
    assert np.isnan(patches.z[:, : -patches.column0]).all()
    inside = patches.z[-patches.row0 :, -patches.column0 :]
    assert np.isfinite(inside).all()

"""Unknown ground along rays: never filled, never skipped, and told where it is."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np
import pytest
import rasterio

from terrain_guard.ground.model import Ground
from tests.checks import scenes
from tests.ground import ray_walk
from tests.ground.made import hills, utm_raster
from tests.rasters import write_raster

if TYPE_CHECKING:
    from pathlib import Path

    from numpy.typing import NDArray

    from terrain_guard.ground.rays import Rays

    Floats = NDArray[np.float64]

FLAT = np.inf
BOX_M = (-50.0, -50.0, 400.0, 50.0)


def rays_east(ground: Ground, *east_m: float, north_m: float = 0.3) -> Rays:
    """Return rays from the spot to places east of it, off the lines of posts."""
    lat, lon = np.transpose([scenes.lat_lon(e, north_m) for e in east_m])
    from_lat, from_lon = scenes.lat_lon(0.0, north_m)
    return ground.rays(from_lon, from_lat, to_lon_deg=lon, to_lat_deg=lat)


def with_gap(east: Floats, north: Floats) -> Floats:
    """Make level ground, a ridge of 30 m at 60 m, and posts missing at 100 m."""
    z = np.where(east == 60, 30.0, 0.0) + 0 * north
    return np.where(east == 100, np.nan, z)


@pytest.fixture
def gap(tmp_path: Path) -> Ground:
    """Return ground with a void across the rays."""
    return Ground(scenes.model(tmp_path, with_gap, box_m=BOX_M))


def test_all_behind_a_void_is_unknown(gap: Ground) -> None:
    """Sight to targets high enough to be over the ridge is unknown from the void's cell on."""
    east = np.array([50.0, 90.0, 98.9, 99.1, 101.0, 150.0, 300.0])
    sight = rays_east(gap, *east).sight(1.7, 400.0, curvature=FLAT)
    assert np.isnan(sight.margin_m).tolist() == [False] * 3 + [True] * 4
    assert sight.meets_unknown.tolist() == [False] * 3 + [True] * 4


def test_known_ground_that_hides_decides(gap: Ground) -> None:
    """Low targets behind the ridge are hidden whatever the void holds: 1.7 + 150 · 28.3 / 60."""
    sight = rays_east(gap, 150.0).sight(1.7, 10.0, curvature=FLAT)
    assert sight.margin_m == pytest.approx([10 - (1.7 + 150 * 28.3 / 60)], abs=1e-5)
    assert sight.meets_unknown.all()
    link = rays_east(gap, 150.0, 150.0).link(1.7, np.array([10.0, 400.0]), wavelength_m=0.125)
    assert link.clearance_radii[0] < 0
    assert np.isnan(link.clearance_radii[1])
    assert np.isnan(link.clearance_m[1])


def test_extremes_over_a_void(gap: Ground) -> None:
    """The highest ground is not known, but it is as high as what is; stretches beside are."""
    rays = rays_east(gap, 150.0)
    top = rays.highest()
    assert np.isnan(top.value_m).all()
    assert top.known_m == pytest.approx([30.0], abs=1e-6)
    assert rays.highest(to_m=98.9).value_m == pytest.approx([30.0], abs=1e-6)
    assert rays.lowest(from_m=101.1).value_m == pytest.approx([0.0], abs=1e-9)
    assert np.isnan(rays.lowest(from_m=100.9).value_m).all()


def test_where_the_unknown_begins(gap: Ground) -> None:
    """One cell before the missing post from home, one behind it from the target."""
    rays = rays_east(gap, 80.0, 150.0)
    assert rays.unknown_from_start_m() == pytest.approx([np.inf, 99.0], abs=1e-5)
    assert rays.unknown_from_target_m() == pytest.approx([np.inf, 49.0], abs=1e-5)


def test_off_the_model(gap: Ground) -> None:
    """What lies past the last post is unknown, and so is sight over it."""
    rays = rays_east(gap, 90.0, 95.0, -80.0)
    assert rays.unknown_from_start_m() == pytest.approx([np.inf, np.inf, 50.0], abs=1e-5)
    assert np.isnan(rays.sight(1.7, 500.0).margin_m).tolist() == [False, False, True]


def test_along_a_line_of_posts_beside_a_void(tmp_path: Path) -> None:
    """Posts without weight do not count: the void beside the line changes nothing."""
    heights = hills(40, 40)
    heights[11:, 20] = np.nan
    ground = Ground(utm_raster(tmp_path, heights))
    lon, lat = ground.degrees_at(np.array([10.0] * 2), np.array([3.0, 36.0]))
    rays = ground.rays(float(lon[0]), float(lat[0]), to_lon_deg=lon[1:], to_lat_deg=lat[1:])
    assert np.isposinf(rays.unknown_from_start_m()).all()
    assert rays.highest().value_m == pytest.approx([heights[10, 3:37].max()], abs=1e-6)
    assert rays.lowest().value_m == pytest.approx([heights[10, 3:37].min()], abs=1e-6)


@pytest.mark.parametrize("share", [0.002, 0.2])
def test_scattered_voids_by_force(sierra30: Path, tmp_path: Path, share: float) -> None:
    """Real ground with holes: the first unknown metre, and known ground, are the walk's."""
    random = np.random.default_rng(15)
    with rasterio.open(sierra30) as source:
        z = source.read(1)[400:700, 400:700].astype(float)
        z[random.uniform(size=z.shape) < share / 4] = np.nan
        z[100:260, 200:230] = np.nan  # whole groups of cells
        path = write_raster(
            tmp_path / "holes.tif", z, transform=source.transform, crs=source.crs, nodata=np.nan
        )
    ground, walker = Ground(path), ray_walk.Walker.over(path)
    row, column = random.uniform(5, 295, (2, 16))
    lon, lat = walker.degrees(row, column)
    home = (float(lon[0]), float(lat[0]))
    rays = ground.rays(*home, to_lon_deg=lon[1:], to_lat_deg=lat[1:])
    first, top = rays.unknown_from_start_m(), rays.highest()
    for k, end in enumerate(zip(lon[1:].tolist(), lat[1:].tolist(), strict=True)):
        expected = walker.first_unknown_m(home, end)
        assert first[k] == pytest.approx(expected, abs=0.05)  # the walk's step is 0.03 m
        assert np.isnan(top.value_m[k]) == np.isfinite(expected)
        known = walker.walk(home, end, ray_walk.over(0.0, 0.0))[0]
        assert top.known_m[k] == pytest.approx(known, abs=1e-6)
    assert np.isfinite(first).any()


def test_a_target_without_a_place(sierra30: Path) -> None:
    """NaN for a target: no length, no answer; the other rays keep theirs."""
    ground = Ground(sierra30)
    lon, lat = ground.degrees_at(np.array([500.0, 520.0]), np.array([500.0, 530.0]))
    rays = ground.rays(
        float(lon[0]), float(lat[0]),
        to_lon_deg=[lon[1], np.nan, lon[1]], to_lat_deg=[lat[1], 37.0, lat[1]],
    )  # fmt: skip
    sight = rays.sight(5000.0, [4000.0, 4000.0, np.nan])
    for answer in (rays.length_m, rays.unknown_from_start_m(), rays.highest().value_m):
        assert np.isnan(answer).tolist() == [False, True, False]
    assert np.isnan(sight.margin_m).tolist() == [False, True, True]
    assert sight.meets_unknown.tolist() == [False, True, False]


def test_a_start_without_a_place(sierra30: Path) -> None:
    """Refused, with what was given."""
    with pytest.raises(ValueError, match=r"rays start at \(nan, 37.0\)"):
        Ground(sierra30).rays(np.nan, 37.0, to_lon_deg=[-119.0], to_lat_deg=[37.0])


def test_sea_that_counts_as_ground(tmp_path: Path) -> None:
    """Where the card says that no tile is sea, rays run over it at 0 m, off the model too."""
    path = scenes.model(tmp_path, lambda e, n: 40.0 + 0 * e * n, box_m=BOX_M)
    (tmp_path / "ground.tif.toml").write_text("absent_is_sea = true\n", encoding="utf-8")
    rays = rays_east(Ground(path), 300.0, 900.0)
    assert rays.lowest().value_m == pytest.approx([40.0, 0.0], abs=1e-9)
    assert np.isposinf(rays.unknown_from_start_m()).all()

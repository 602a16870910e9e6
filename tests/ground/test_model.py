"""What a model tells of itself: cells, box, how well its place is known."""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pytest
from rasterio.transform import Affine

from terrain_guard.ground.model import Ground
from tests import reference
from tests.ground.made import CORNER, UTM31N, hills, utm_raster
from tests.rasters import write_raster


@pytest.mark.parametrize(
    ("crs", "transform", "finest_m", "coarsest_m"),
    [
        # Zone 31 at its middle meridian: grid metres are 1 / 0.9996 ground metres.
        (UTM31N, Affine(10, 0, CORNER[0], 0, -10, CORNER[1]), 10 / 0.9996, 10 / 0.9996),
        (UTM31N, Affine(5, 0, CORNER[0], 0, -20, CORNER[1]), 5 / 0.9996, 20 / 0.9996),
        # A degree at the equator: 111319.491 m of longitude, 110574.389 m of latitude (WGS 84).
        ("EPSG:4326", Affine(1e-4, 0, 7, 0, -1e-4, 1e-3), 11.0574, 11.1319),
        # A web map at 60 degrees: its metres are half a metre (cos 60).
        ("EPSG:3857", Affine(10, 0, 1e6, 0, -10, 8399737.9), 5.0, 5.02),
    ],
)
def test_cells_are_measured_on_the_ground(
    tmp_path: Path, *, crs: str, transform: Affine, finest_m: float, coarsest_m: float
) -> None:
    """Cell sizes are geodesic metres, whatever the file's own units are."""
    path = utm_raster(tmp_path, hills(20, 20), crs=crs, transform=transform)
    ground = Ground(path)
    assert ground.finest_cell_m == pytest.approx(finest_m, rel=3e-3)
    assert ground.coarsest_cell_m == pytest.approx(coarsest_m, rel=3e-3)
    lon, lat = ground.degrees_at(np.array([9.5, 9.5, 10.5]), np.array([9.5, 10.5, 9.5]))
    expected = [reference.geodesic_length_m([lon[0], lon[k]], [lat[0], lat[k]]) for k in (1, 2)]
    assert ground.raster.cell_m == pytest.approx(expected, rel=1e-6)


def test_skewed_cells_along_their_own_sides(tmp_path: Path) -> None:
    """Of a turned grid the sides of a cell are measured, not their shadows on the axes."""
    turned = Affine.translation(*CORNER) @ Affine.rotation(30) @ Affine.scale(4, -9)
    ground = Ground(utm_raster(tmp_path, hills(20, 20), transform=turned))
    assert ground.raster.cell_m == pytest.approx((4.0, 9.0), rel=1e-3)


def test_box_of_a_plain_raster(tmp_path: Path) -> None:
    """The box is that of the outermost posts, half a cell inside the file's own."""
    path = utm_raster(
        tmp_path, hills(11, 21), crs="EPSG:4326", transform=Affine(0.01, 0, 7, 0, -0.01, 46)
    )
    expected = (7.005, 45.895, 7.205, 45.995)
    assert Ground(path).box_deg() == pytest.approx(expected, abs=1e-9)


def test_box_of_a_turned_raster(lakes50: Path, sierra30: Path) -> None:
    """The box round all posts, to the size of a cell."""
    for path in (lakes50, sierra30):
        terrain = reference.read_terrain(path)
        row, column = np.indices(terrain.heights_m.shape).reshape(2, -1)
        lon, lat = reference.lonlat_of(terrain, row.astype(float), column.astype(float))
        west, south, east, north = Ground(path).box_deg()
        cell_deg = 1e-3
        assert (west, south) == pytest.approx((lon.min(), lat.min()), abs=cell_deg)
        assert (east, north) == pytest.approx((lon.max(), lat.max()), abs=cell_deg)


@pytest.mark.parametrize(
    ("crs", "transform"),
    [
        ("EPSG:4326", Affine(0.001, 0, 179.95, 0, -0.001, -17)),
        (
            "+proj=laea +lat_0=-17 +lon_0=180 +ellps=WGS84 +units=m",
            Affine(100, 0, -5_000, 0, -100, 5_000),
        ),
    ],
)
def test_box_over_the_antimeridian(tmp_path: Path, crs: str, transform: Affine) -> None:
    """A tenth of a degree across 180 is a tenth of a degree, not 359.9."""
    path = write_raster(tmp_path / "fiji.tif", hills(100, 100), transform=transform, crs=crs)
    west, _, east, _ = Ground(path).box_deg()
    assert 0.08 < east - west < 0.12
    assert (west < 180 < east) or (west < -180 < east)


def test_how_well_the_place_is_known(tmp_path: Path, lakes50: Path) -> None:
    """WGS 84 grids are known exactly; old datums to some metres (EPSG gives 5 m or more)."""
    assert Ground(lakes50).place_accuracy_m == 0.0
    old = utm_raster(
        tmp_path, hills(9, 9), crs="EPSG:4267", transform=Affine(0.001, 0, -119, 0, -0.001, 38)
    )
    assert not Ground(old).place_accuracy_m <= 1.0


def test_size_of_the_work_ahead(lakes50: Path) -> None:
    """The number of cells foretold is at most what is handed out, which only rounds it up."""
    ground = Ground(lakes50)
    row, column = np.array([60.3, 63.0]), np.array([70.1, 75.9])
    for reach_m in (20.0, 150.0, 600.0):
        patches = ground.around(row, column, reach_m=reach_m)
        handed_out = (patches.z.shape[0] - 1) * (patches.z.shape[1] - 1)
        step = patches.groups[-1].size if patches.groups else 1
        foretold = ground.cells_around(row, column, reach_m=reach_m)
        assert foretold <= handed_out
        sides = np.array(patches.z.shape) - 1
        assert handed_out < foretold + step * sides.sum() + step**2


def test_a_map_that_cannot_be_fitted_says_so(tmp_path: Path) -> None:
    """A hundred metres from the pole degrees are no grid: the program warns of its own error."""
    path = utm_raster(
        tmp_path, hills(50, 4000, low_m=1.0), crs="EPSG:4326",
        transform=Affine(0.09, 0, -180, 0, -2e-5, 89.9995),
    )  # fmt: skip
    with pytest.warns(UserWarning, match=r"local map off by \d+\.\d+ m"):
        Ground(path).around(np.array([25.0]), np.array([2000.0]), reach_m=40.0)

"""Ground at points given as longitude and latitude: other people's code says the same."""

from __future__ import annotations

import struct
from typing import TYPE_CHECKING

import numpy as np
import pytest
import rasterio
from rasterio.enums import Resampling
from rasterio.transform import Affine

from terrain_guard.ground.model import Ground
from tests import reference
from tests.ground.made import COPIES, CORNER, at_posts, at_utm, hills, places, utm_raster
from tests.rasters import write_raster

if TYPE_CHECKING:
    from pathlib import Path

COUNT = 12_000
MICROMETRE = 1e-6
LEVEL = ["south-up", "as it is", "degrees", "NAD27 degrees", "UTM", "web map"]  # not turned
EXACT = [name for name in COPIES if name != "NAD27 degrees"]
"""To NAD27 and back leaves 1e-6 of a cell: too much for places exactly on posts."""
PIECES = ["sierra30", "lakes50"]

# ------------------------------------------------------------ the same as others


@pytest.mark.parametrize("copy", COPIES)
@pytest.mark.parametrize("piece", PIECES)
def test_equals_scipy(
    piece: str, copy: str, tmp_path: Path, request: pytest.FixtureRequest
) -> None:
    """At 12,000 points, a quarter in edge cells, SciPy's map_coordinates agrees to 1e-6 m."""
    path = COPIES[copy](request.getfixturevalue(piece), tmp_path)
    terrain = reference.read_terrain(path)
    lon, lat = reference.lonlat_of(terrain, *places(terrain, COUNT))
    by_scipy = reference.scipy_ground_m(terrain, lon, lat)
    found = Ground(path).elevation(lon, lat)
    assert np.isfinite(by_scipy).all()
    assert np.abs(found - by_scipy).max() < MICROMETRE


@pytest.mark.parametrize("copy", LEVEL)
@pytest.mark.parametrize("piece", PIECES)
def test_equals_xarray(
    piece: str, copy: str, tmp_path: Path, request: pytest.FixtureRequest
) -> None:
    """At 12,000 points xarray's interp over the coordinates of the posts agrees to 1e-6 m."""
    path = COPIES[copy](request.getfixturevalue(piece), tmp_path)
    terrain = reference.read_terrain(path)
    lon, lat = reference.lonlat_of(terrain, *places(terrain, COUNT, seed=2))
    by_xarray = reference.xarray_ground_m(terrain, lon, lat)
    found = Ground(path).elevation(lon, lat)
    assert np.isfinite(by_xarray).all()
    assert np.abs(found - by_xarray).max() < MICROMETRE


@pytest.mark.skipif(reference.NO_GDALWARP is not None, reason=str(reference.NO_GDALWARP))
@pytest.mark.parametrize("copy", COPIES)
@pytest.mark.parametrize("piece", PIECES)
def test_equals_gdal(piece: str, copy: str, tmp_path: Path, request: pytest.FixtureRequest) -> None:
    """At 10,403 points inside the raster GDAL's one-pixel bilinear warp agrees to 1 mm."""
    path = COPIES[copy](request.getfixturevalue(piece), tmp_path)
    terrain = reference.read_terrain(path)
    rows, columns = terrain.heights_m.shape
    lon, lat = reference.lonlat_of(  # corners of the middle quarter
        terrain,
        rows * np.array([0.375, 0.375, 0.625, 0.625]),
        columns * np.array([0.375, 0.625, 0.375, 0.625]),
    )
    box = float(lon.min()), float(lat.min()), float(lon.max()), float(lat.max())
    lon, lat, by_gdal = reference.gdal_lattice_ground_m(path, box, size=(103, 101), folder=tmp_path)
    found = Ground(path).elevation(lon, lat)
    assert np.isfinite(by_gdal).all()
    assert np.abs(found - by_gdal).max() < 1e-3


@pytest.mark.parametrize("piece", PIECES)
def test_south_up_is_the_same_ground(
    piece: str, tmp_path: Path, request: pytest.FixtureRequest
) -> None:
    """Rows from south to north hold the same ground as rows from north to south."""
    path = request.getfixturevalue(piece)
    terrain = reference.read_terrain(path)
    lon, lat = reference.lonlat_of(terrain, *places(terrain, COUNT))
    flipped = Ground(COPIES["south-up"](path, tmp_path)).elevation(lon, lat)
    assert np.abs(flipped - Ground(path).elevation(lon, lat)).max() < MICROMETRE


# ------------------------------------------------------------ edges


@pytest.mark.parametrize("copy", EXACT)
def test_outermost_posts_are_ground(lakes50: Path, copy: str, tmp_path: Path) -> None:
    """Each post of the outermost rows and columns has its own height, by longitude and latitude."""
    path = COPIES[copy](lakes50, tmp_path)
    terrain = reference.read_terrain(path)
    rows, columns = terrain.heights_m.shape
    edge = np.zeros((rows, columns), dtype=bool)
    edge[[0, -1]] = True
    edge[:, [0, -1]] = True
    row, column = np.nonzero(edge)
    lon, lat = reference.lonlat_of(terrain, row.astype(float), column.astype(float))
    found = Ground(path).elevation(lon, lat)
    assert np.abs(found - terrain.heights_m[edge]).max() < 1e-5  # 5e-9 cells of a 1e3 m step


@pytest.mark.parametrize("copy", EXACT)
def test_beyond_the_outermost_posts_is_no_ground(lakes50: Path, copy: str, tmp_path: Path) -> None:
    """A millionth of a cell outside the posts, in the outer half of edge cells and far off: NaN."""
    path = COPIES[copy](lakes50, tmp_path)
    terrain = reference.read_terrain(path)
    rows, columns = terrain.heights_m.shape
    row = np.array([-1e-6, -0.49, rows - 1 + 1e-6, rows - 0.51, 5.0, 5.0, 5.0, -9.0, 5.0])
    column = np.array([5.0, 5.0, 5.0, 5.0, -1e-6, columns - 1 + 1e-6, -0.49, 5.0, 2.0 * columns])
    found = Ground(path).elevation(*reference.lonlat_of(terrain, row, column))
    assert np.isnan(found).all()


@pytest.mark.parametrize("place", [(np.nan, 37.6), (-119.0, np.nan), (np.inf, 37.6), (61.0, -37.6)])
def test_no_place_is_no_ground(lakes50: Path, place: tuple[float, float]) -> None:
    """Not a number, infinite, and the other side of the earth: NaN, and no error."""
    assert np.isnan(Ground(lakes50).elevation(*place)).all()


# ------------------------------------------------------------ half a cell
# GeoTIFF (OGC 19-008r4, GTRasterTypeGeoKey, from memory): RasterPixelIsArea (1) ties whole
# numbers to cell corners, RasterPixelIsPoint (2) to the posts themselves. The key is written
# into the bytes here, so that no library that reads it had a hand in it.


def as_points(path: Path) -> Path:
    """Turn the file's raster type key from area to point, and nothing else."""
    area, point = (struct.pack("<4H", 1025, 0, 1, kind) for kind in (1, 2))
    data = path.read_bytes()
    assert data.count(area) == 1
    path.write_bytes(data.replace(area, point))
    return path


@pytest.mark.parametrize("registration", ["area", "point"])
def test_registration_of_a_plane(tmp_path: Path, registration: str) -> None:
    """30 m cells rising 30 % eastward: posts are at the tie points, or half a cell in.

    Taken one for the other the plane is 0.3 * 15 = 4.5 m off.
    """
    heights = np.tile(100.0 + 0.3 * 30.0 * np.arange(40.0), (20, 1))
    path = utm_raster(tmp_path, heights, cell_m=30.0)
    first_post_m = 15.0
    if registration == "point":
        path, first_post_m = as_points(path), 0.0
    ground = Ground(path)
    east = np.linspace(20.0, 1100.0, 200)
    found = at_utm(ground, CORNER[0] + east, np.full(200, CORNER[1] - 200.0))
    assert np.abs(found - (100.0 + 0.3 * (east - first_post_m))).max() < MICROMETRE
    assert ground.raster.registration == registration


def test_registration_along_both_axes(tmp_path: Path) -> None:
    """A plane rising 30 % east and 30 % north: point for area would be 4.5 m + 4.5 m off or 0."""
    row, column = np.mgrid[0:20, 0:20]
    heights = 500.0 + 9.0 * column - 9.0 * row
    east, north = CORNER[0] + 207.0, CORNER[1] - 311.0
    area = at_utm(Ground(utm_raster(tmp_path, heights, cell_m=30.0)), [east], [north])
    path = as_points(utm_raster(tmp_path, heights + 6.9 * row, cell_m=30.0))
    point = at_utm(Ground(path), [east], [north])
    assert area == pytest.approx(500 + 0.3 * (207 - 15) - 0.3 * (311 - 15), abs=MICROMETRE)
    assert point == pytest.approx(500 + 0.3 * 207 - 2.1 / 30 * 311, abs=MICROMETRE)


# ------------------------------------------------------------ the patch itself


def test_patch_is_not_bounded_by_its_diagonal_ends(tmp_path: Path) -> None:
    """Posts 0, 100, 100, 0: along the falling diagonal 0, 50, 0, along the other 100, 50, 100."""
    heights = np.array([[200.0, 300.0], [300.0, 200.0]])
    ground = Ground(utm_raster(tmp_path, heights))
    share = [0.0, 0.25, 0.5, 0.75, 1.0]
    falling = at_posts(ground, share, share)
    rising = at_posts(ground, share[::-1], share)
    assert falling == pytest.approx([200, 237.5, 250, 237.5, 200])
    assert rising == pytest.approx([300, 262.5, 250, 262.5, 300])


def test_nothing_overshoots(tmp_path: Path) -> None:
    """Beside a step of 100 m nothing is lower or higher than the posts (a cubic would be)."""
    heights = np.tile([100.0, 100.0, 200.0, 200.0], (4, 1))
    ground = Ground(utm_raster(tmp_path, heights))
    across = at_posts(ground, [1.5] * 301, np.linspace(0, 3, 301).tolist())
    assert across.min() == pytest.approx(100.0, abs=1e-9)
    assert across.max() == pytest.approx(200.0, abs=1e-9)
    assert np.diff(across).min() > -1e-9


@pytest.mark.parametrize("compress", [None, "deflate"])
def test_overviews_are_never_read(tmp_path: Path, compress: str | None) -> None:
    """A file with overviews gives the full ground: its crests keep their height."""
    heights = hills(256, 256)
    profile = {"tiled": True, "blockxsize": 64, "blockysize": 64, "compress": compress}
    path = utm_raster(tmp_path, heights, cell_m=1.0, **profile)
    with rasterio.open(path, "r+") as dataset:
        dataset.build_overviews([2, 4, 8], Resampling.average)
    row, column = np.divmod(np.arange(256 * 256), 256)
    found = Ground(path).elevation_at(row.astype(float), column.astype(float))
    assert (found == heights.ravel()).all()


# ------------------------------------------------------------ longitudes


@pytest.mark.parametrize(
    ("west", "lons"),
    [
        (179.0, [179.3, 179.9999, 180.0, -180.0, -179.9999, -179.3, 180.7]),  # 179 to 181
        (-181.0, [179.3, 179.9999, 180.0, -180.0, -179.9999, -179.3, 180.7]),  # the same
        (240.0, [-119.7, 240.3, -119.001, -118.3]),  # 0 to 360
        (-1.0, [-0.7, 359.3, 0.0, 360.0, 0.7]),
    ],
)
def test_longitudes_are_a_circle(tmp_path: Path, west: float, lons: list[float]) -> None:
    """However a raster counts its longitudes, each place is found in it.

    Ground 1000 + 100 times the degrees east of the raster's edge, less half a cell.
    """
    step = 0.01
    heights = np.tile(1000.0 + 100.0 * step * np.arange(200), (100, 1))
    path = write_raster(
        tmp_path / "circle.tif", heights,
        transform=Affine(step, 0, west, 0, -step, 10.5), crs="EPSG:4326",
    )  # fmt: skip
    found = Ground(path).elevation(lons, [10.0] * len(lons))
    east = (np.array(lons) - west) % 360
    assert np.abs(found - (1000.0 + 100.0 * (east - step / 2))).max() < MICROMETRE


def test_projected_raster_over_the_antimeridian(tmp_path: Path) -> None:
    """A raster in a projection about 180 degrees east holds places on both sides of it."""
    heights = hills(200, 200)
    path = write_raster(
        tmp_path / "fiji.tif", heights,
        transform=Affine(100, 0, -10_000, 0, -100, 10_000),
        crs="+proj=laea +lat_0=-17 +lon_0=180 +ellps=WGS84 +units=m",
    )  # fmt: skip
    terrain = reference.read_terrain(path)
    random = np.random.default_rng(5)
    lon = np.concatenate((random.uniform(179.95, 180, 500), random.uniform(-180, -179.95, 500)))
    lat = random.uniform(-17.05, -16.95, 1000)
    by_scipy = reference.scipy_ground_m(terrain, lon, lat)
    found = Ground(path).elevation(lon, lat)
    assert np.isfinite(by_scipy).all()
    assert np.abs(found - by_scipy).max() < MICROMETRE


def test_one_point_and_many_are_the_same(lakes50: Path) -> None:
    """Asked one by one or all at once, and in any order, the ground is the same to the last bit."""
    terrain = reference.read_terrain(lakes50)
    lon, lat = reference.lonlat_of(terrain, *places(terrain, 50))
    together = Ground(lakes50).elevation(lon, lat)
    ground = Ground(lakes50)
    one_by_one = [float(ground.elevation(lon[k], lat[k])[0]) for k in range(49, -1, -1)]
    assert one_by_one[::-1] == together.tolist()

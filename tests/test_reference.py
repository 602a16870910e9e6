"""The second methods are right themselves: against closed forms and against each other."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path

import numpy as np
import pytest
from numpy.typing import NDArray
from rasterio.transform import Affine

from tests import reference
from tests.rasters import write_raster
from tests.reference import Position, Terrain

# A made-up place in the open ocean, and a map of it that is true to scale there.
LON_DEG, LAT_DEG = -28.0, 47.0
LOCAL = f"+proj=aeqd +lat_0={LAT_DEG} +lon_0={LON_DEG} +ellps=WGS84 +units=m"
Surface = Callable[[NDArray[np.float64], NDArray[np.float64]], NDArray[np.float64]]


def made_ground(folder: Path, surface: Surface, *, cell_m: float = 1.0, half: int = 300) -> Terrain:
    """Return posts of `surface(east_m, north_m)`, one of them at the made-up place itself."""
    steps = np.arange(-half, half + 1) * cell_m
    east_m, north_m = np.meshgrid(steps, -steps)
    corner_m = (half + 0.5) * cell_m
    path = write_raster(
        folder / "made.tif",
        surface(east_m, north_m),
        transform=Affine(cell_m, 0, -corner_m, 0, -cell_m, corner_m),
        crs=LOCAL,
    )
    return reference.read_terrain(path)


def above_the_place(height_m: float) -> Position:
    """Return a point above the made-up place."""
    return Position(lon_deg=LON_DEG, lat_deg=LAT_DEG, elevation_m=height_m)


def east_of_the_place(east_m: float, height_m: float) -> Position:
    """Return a point `east_m` along the parallel's tangent from the made-up place."""
    lon, lat, _ = reference.GEODESIC.fwd(LON_DEG, LAT_DEG, 90.0, east_m)
    return Position(lon_deg=lon, lat_deg=lat, elevation_m=height_m)


# ------------------------------------------------------------ clearance, closed forms


@pytest.mark.parametrize("slope_deg", [0.0, 10.0, 30.0, 45.0, 60.0])
def test_clearance_over_a_plane(tmp_path: Path, slope_deg: float) -> None:
    """Over a plane the slant is S = A cos(slope)."""
    gradient = np.tan(np.radians(slope_deg))
    ground = made_ground(tmp_path, lambda east, north: gradient * east)
    expected = 120.0 * np.cos(np.radians(slope_deg))
    found = reference.clearance_m(ground, above_the_place(120.0))
    assert found == pytest.approx(expected, abs=0.0015)


def test_clearance_below_a_plane_is_negative(tmp_path: Path) -> None:
    """Five metres under a 45 degree plane the clearance is -5 cos 45."""
    ground = made_ground(tmp_path, lambda east, north: east)
    found = reference.clearance_m(ground, above_the_place(-5.0))
    assert found == pytest.approx(-5.0 / np.sqrt(2), abs=0.0015)


@pytest.mark.parametrize(("east_m", "expected"), [(0.0, 120.0), (40.0, 100.0)])
def test_clearance_in_a_valley(tmp_path: Path, east_m: float, expected: float) -> None:
    """In a 30 degree V of walls z = |x| tan 30 the slant is (h - x tan 30) cos 30.

    h = 138.564 m above the stream: 120.000 m in the middle, 100.000 m 40 m aside.
    """
    wall = np.tan(np.radians(30.0))
    ground = made_ground(tmp_path, lambda east, north: wall * np.abs(east))
    found = reference.clearance_m(ground, east_of_the_place(east_m, 138.564))
    assert found == pytest.approx(expected, abs=0.002)


@pytest.mark.parametrize(("height_m", "expected"), [(100.0, np.sqrt(7500.0)), (40.0, 40.0)])
def test_clearance_over_a_saddle(tmp_path: Path, height_m: float, expected: float) -> None:
    """Over z = xy / c, which bilinear patches hold exactly, it is sqrt(2ch - c²) if h > c, else h.

    With x = y = t: minimise 2t² + (t²/c - h)², so t² = c (h - c). Here c = 50 m.
    """
    ground = made_ground(tmp_path, lambda east, north: east * north / 50.0, cell_m=10.0, half=30)
    found = reference.clearance_m(ground, above_the_place(height_m))
    assert found == pytest.approx(expected, abs=0.0015)


def test_clearance_from_a_pit_of_missing_ground(tmp_path: Path) -> None:
    """Without ground below, only the known patches count: here from 2 m aside onward."""

    def holed(east: NDArray[np.float64], north: NDArray[np.float64]) -> NDArray[np.float64]:
        return np.where(np.hypot(east, north) < 1.5, np.nan, 0.0)

    ground = made_ground(tmp_path, holed)
    point = above_the_place(3.0)
    with pytest.raises(ValueError, match="give the radius"):
        reference.clearance_m(ground, point)
    found = reference.clearance_m(ground, point, radius_m=20.0)
    assert found == pytest.approx(np.hypot(3.0, 2.0), abs=0.0015)


def test_clearance_equals_a_dense_net_of_points(sierra30: Path) -> None:
    """On real canyon walls it equals the nearest of all points 0.25 m apart, to the net's error."""
    terrain = reference.read_terrain(sierra30)
    row, column = 458.0, 597.5  # in the middle of the 171 m step between two posts
    (lon,), (lat,) = reference.lonlat_of(terrain, np.array([row]), np.array([column]))
    point = Position(
        lon_deg=lon,
        lat_deg=lat,
        elevation_m=float(reference.scipy_ground_m(terrain, lon, lat)[0]) + 80.0,
    )
    steps = np.arange(-4.0, 4.0, 1 / 120)
    rows, columns = np.meshgrid(row + steps, column + steps, indexing="ij")
    lons, lats = reference.lonlat_of(terrain, rows.ravel(), columns.ravel())
    across_m = reference.GEODESIC.inv(lons, lats, lons * 0 + lon, lats * 0 + lat)[2]
    up_m = point.elevation_m - reference.scipy_ground_m(terrain, lons, lats)
    net_m = float(np.hypot(across_m, up_m).min())
    found = reference.clearance_m(terrain, point)
    # The net is at most half a diagonal off along a wall of 80 degrees: 0.18 m * 6
    # sideways, so sqrt(d² + 1.1²) - d too great, and never too small.
    assert found - 0.001 <= net_m <= np.hypot(found, 1.1)
    assert found < 80.0 * 0.6  # the wall beside is far nearer than the ground below


# ------------------------------------------------------------ above ground, closed form


def test_scan_over_a_saddle(tmp_path: Path) -> None:
    """A level leg north-east over z = xy / c: ground s² / 2c, 4 m at 20 m from the middle.

    60 m up: least 56 m at both ends, most 60 m in the middle. Here c = 50 m.
    """
    ground = made_ground(tmp_path, lambda east, north: east * north / 50.0, cell_m=10.0, half=30)
    ends = [reference.GEODESIC.fwd(LON_DEG, LAT_DEG, azimuth, 20.0) for azimuth in (225.0, 45.0)]
    start, end = (Position(lon_deg=lon, lat_deg=lat, elevation_m=60.0) for lon, lat, _ in ends)
    scan = reference.scan_leg(ground, start, end)
    assert scan.min_m == pytest.approx(56.0, abs=1e-5)
    assert scan.max_m == pytest.approx(60.0, abs=1e-5)
    assert scan.max_at_m == pytest.approx(20.0, abs=0.01)


def test_scan_of_a_climb_over_a_plane(tmp_path: Path) -> None:
    """From 10 m to 110 m over 100 m eastward, ground rising 1 in 2: 10 m above, then 60 m."""
    ground = made_ground(tmp_path, lambda east, north: 0.5 * east)
    scan = reference.scan_leg(ground, above_the_place(10.0), east_of_the_place(100.0, 110.0))
    assert (scan.min_at_m, scan.max_at_m) == pytest.approx((0.0, 100.0), abs=1e-6)
    assert (scan.min_m, scan.max_m) == pytest.approx((10.0, 60.0), abs=1e-5)


def test_scan_refuses_missing_ground(tmp_path: Path) -> None:
    """A leg that leaves the raster has no extremes."""
    ground = made_ground(tmp_path, lambda east, north: 0.0 * east)
    with pytest.raises(ValueError, match="ground is missing"):
        reference.scan_leg(ground, above_the_place(10.0), east_of_the_place(301.0, 10.0))


# ------------------------------------------------------------ ground, method against method


def random_places(terrain: Terrain, count: int) -> tuple[NDArray[np.float64], NDArray[np.float64]]:
    """Return places anywhere between the outermost cell centres, edge cells included."""
    random = np.random.default_rng(20260101)
    rows, columns = terrain.heights_m.shape
    row = random.uniform(0.001, rows - 1.001, count)
    column = random.uniform(0.001, columns - 1.001, count)
    return reference.lonlat_of(terrain, row, column)


@pytest.mark.parametrize("name", ["sierra30", "lakes50", "jacksboro"])
def test_scipy_equals_xarray(name: str, request: pytest.FixtureRequest) -> None:
    """Two libraries give one ground on real terrain, to a micrometre."""
    terrain = reference.read_terrain(request.getfixturevalue(name))
    lon, lat = random_places(terrain, 10_000)
    by_scipy = reference.scipy_ground_m(terrain, lon, lat)
    by_xarray = reference.xarray_ground_m(terrain, lon, lat)
    assert np.isfinite(by_scipy).all()
    assert np.abs(by_scipy - by_xarray).max() < 1e-6


@pytest.mark.skipif(reference.NO_GDALWARP is not None, reason=str(reference.NO_GDALWARP))
@pytest.mark.parametrize(
    ("name", "box_deg"),
    [
        # Boxes in the raster's interior, by eye from its corners; the sizes leave no
        # regular pattern of places within the cells.
        ("sierra30", (-119.35, 37.36, -119.14, 37.52)),
        ("lakes50", (-119.03, 37.56, -118.96, 37.625)),
        ("jacksboro", (-84.41, 36.165, -84.08, 36.44)),
    ],
)
def test_scipy_equals_gdal(
    name: str,
    box_deg: tuple[float, float, float, float],
    tmp_path: Path,
    request: pytest.FixtureRequest,
) -> None:
    """GDAL's own bilinear warp gives the same ground at 10,403 places, to a millimetre."""
    path = request.getfixturevalue(name)
    lon, lat, by_gdal = reference.gdal_lattice_ground_m(
        path, box_deg, size=(103, 101), folder=tmp_path
    )
    by_scipy = reference.scipy_ground_m(reference.read_terrain(path), lon, lat)
    assert np.isfinite(by_scipy).all()
    assert np.abs(by_scipy - by_gdal).max() < 1e-3


@pytest.mark.skipif(reference.NO_GDALWARP is not None, reason=str(reference.NO_GDALWARP))
def test_one_gdal_place_equals_scipy(sierra30: Path, tmp_path: Path) -> None:
    """The warp to a single tiny cell agrees too, so the lattice's kernel is the plain one."""
    terrain = reference.read_terrain(sierra30)
    lon, lat = random_places(terrain, 5)
    by_scipy = reference.scipy_ground_m(terrain, lon, lat)
    by_gdal = [
        reference.gdal_point_ground_m(sierra30, *place, folder=tmp_path)
        for place in zip(lon.tolist(), lat.tolist(), strict=True)
    ]
    assert np.abs(by_scipy - by_gdal).max() < 1e-3


def test_missing_posts_count_only_where_they_weigh(tmp_path: Path) -> None:
    """One missing post voids the four patches around it, and no place on their outer edges."""

    def holed(east: NDArray[np.float64], north: NDArray[np.float64]) -> NDArray[np.float64]:
        return np.where((east == 0) & (north == 0), np.nan, 7.0)

    ground = made_ground(tmp_path, holed, half=3)
    rows = np.array([3.0, 3.5, 2.01, 4.0, 2.0, 3.3])
    columns = np.array([3.0, 3.5, 3.0, 3.7, 2.9, 2.0])
    found = reference.scipy_ground_m(ground, *reference.lonlat_of(ground, rows, columns))
    assert np.isnan(found[:3]).all()
    # Round trips through longitude and latitude leave 1e-9 of a cell: look just outside.
    outside = reference.lonlat_of(
        ground, np.array([4.000001, 1.999999, 3.3]), np.array([3.7, 2.9, 1.999999])
    )
    assert reference.scipy_ground_m(ground, *outside) == pytest.approx([7.0, 7.0, 7.0])


# ------------------------------------------------------------ lengths


def test_geodesic_of_geographiclib() -> None:
    """42,582.399317 m at 38.472711 degrees, as GeographicLib's program GeodSolve prints."""
    assert reference.geodesic_length_m([-119.4, -119.1], [37.3, 37.6]) == pytest.approx(
        42582.399317, abs=1e-6
    )
    assert reference.geodesic_azimuth_deg((-119.4, -119.1), (37.3, 37.6)) == pytest.approx(
        38.472711, abs=1e-6
    )


def test_length_of_a_line_is_the_sum_of_its_parts() -> None:
    """One degree of the equator is a * pi / 180 = 111,319.490793 m, twice over."""
    expected = 2 * 6378137.0 * np.pi / 180
    assert reference.geodesic_length_m([10.0, 11.0, 12.0], [0.0, 0.0, 0.0]) == pytest.approx(
        expected, abs=1e-6
    )

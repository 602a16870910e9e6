"""Missing ground is missing wherever it weighs, and nowhere else; it is never a number."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

import numpy as np
import pytest
import rasterio
from rasterio.transform import Affine
from rasterio.windows import Window

from terrain_guard.ground.model import Ground
from tests import reference
from tests.ground.made import CORNER, UTM31N, at_posts, hills, scipy_surface, utm_raster

if TYPE_CHECKING:
    from pathlib import Path

    from numpy.typing import NDArray

HOLE = (5, 7)
AROUND_HOLE = [(5.0, 7.0), (4.5, 6.5), (4.01, 7.99), (5.99, 7.5), (5.0, 6.2), (5.7, 7.0)]
"""Places whose stencil holds the hole."""
BESIDE_HOLE = [(4.0, 7.0), (6.0, 7.4), (4.0, 6.3), (5.2, 6.0), (4.8, 8.0), (3.5, 7.5), (6.0, 8.0)]
"""Places on the lines of posts round the hole, where it has no weight, and one cell farther."""


def holed(value: float, dtype: str = "float32") -> NDArray[Any]:
    """Return rough ground with `value` in the hole."""
    heights = hills(12, 14).astype(dtype)
    heights[HOLE] = value
    return heights


def assert_one_void(path: Path) -> None:
    """Check that ground is missing where the hole weighs, and equals SciPy's elsewhere."""
    ground = Ground(path)
    rows, columns = zip(*AROUND_HOLE, strict=True)
    assert np.isnan(at_posts(ground, list(rows), list(columns))).all()
    rows, columns = zip(*BESIDE_HOLE, strict=True)
    found = at_posts(ground, list(rows), list(columns))
    whole = hills(12, 14)
    if ground.raster.dtype.kind in "iu":
        whole = np.trunc(whole)
    expected = scipy_surface(whole, np.array(rows), np.array(columns))
    assert np.abs(found - expected).max() < 1e-4  # 32-bit heights


# ------------------------------------------------------------ what is missing


@pytest.mark.parametrize(
    ("value", "dtype"),
    [
        (-9999, "float32"),
        (-9999, "int16"),
        (-9999, "float64"),
        (-32768, "int16"),
        (-32768, "float32"),
        (-32767, "float32"),
        (-99999, "float32"),
        (3.4e38, "float32"),
        (-3.4028234663852886e38, "float32"),
        (1.70141e38, "float32"),
        (-1.7976931348623157e308, "float64"),
        (np.nan, "float32"),
        (np.inf, "float32"),
        (-np.inf, "float64"),
        (65535, "uint16"),
        (32767, "int16"),
        (9000, "int16"),
        (-500, "int16"),
        (0, "int16"),
        (0, "float32"),
    ],
)
def test_undeclared(tmp_path: Path, value: float, dtype: str) -> None:
    """What cannot be an elevation is missing, though the file declares nothing."""
    assert_one_void(utm_raster(tmp_path, holed(value, dtype)))


@pytest.mark.parametrize(
    ("value", "dtype"),
    [
        (-9999, "float32"),
        (-32768, "int16"),
        (0, "int16"),
        (0, "float64"),
        (123, "uint16"),
        (431.7, "float32"),
        (-3.4028234663852886e38, "float32"),
        (np.nan, "float32"),
        (-2147483648, "int32"),
        (4294967295, "uint32"),
    ],
)
def test_declared(tmp_path: Path, value: float, dtype: str) -> None:
    """What the file declares as missing is missing, even if it could be an elevation."""
    assert_one_void(utm_raster(tmp_path, holed(value, dtype), nodata=value))


@pytest.mark.parametrize("nodata", [-9999, -32768])
def test_undeclared_beside_declared(tmp_path: Path, nodata: float) -> None:
    """A file may hold a second kind of hole, beside the one it declares."""
    heights = holed(nodata)
    heights[9, 10] = np.nan
    ground = Ground(utm_raster(tmp_path, heights, nodata=nodata))
    assert np.isnan(at_posts(ground, [5.0, 9.0], [7.0, 10.0])).all()


@pytest.mark.parametrize("inside", [True, False])
def test_mask_band(tmp_path: Path, inside: bool) -> None:
    """A mask is read, in the file or in NAME.tif.msk beside it."""
    with rasterio.Env(GDAL_TIFF_INTERNAL_MASK=inside):
        path = utm_raster(tmp_path, holed(555.0))
        mask = np.full((12, 14), 255, dtype=np.uint8)
        mask[HOLE] = 0
        with rasterio.open(path, "r+") as dataset:
            dataset.write_mask(mask)
    assert (tmp_path / "made.tif.msk").exists() is not inside
    assert_one_void(path)


@pytest.mark.parametrize(
    ("value", "scale"), [(-9999, 0.01), (-32768, 0.01), (-9999, 0.04), (-32768, 0.1)]
)
def test_sentinel_in_a_scaled_file(tmp_path: Path, value: int, scale: float) -> None:
    """Undeclared -9999 stays a hole where the scale would make it -99.99 m."""
    heights = (hills(12, 14) / scale / 10).astype(np.int16)
    heights[HOLE] = value
    path = utm_raster(tmp_path, heights)
    with rasterio.open(path, "r+") as dataset:
        dataset.scales = (scale,)
    rows, columns = zip(*AROUND_HOLE, strict=True)
    assert np.isnan(at_posts(Ground(path), list(rows), list(columns))).all()


@pytest.mark.parametrize("unit", ["m", "ft"])
def test_range_is_in_metres(tmp_path: Path, unit: str) -> None:
    """20,000 ft are a mountain, 20,000 m are not."""
    heights = np.full((12, 14), 20_000.0, dtype=np.float32)
    path = utm_raster(tmp_path, heights)
    with rasterio.open(path, "r+") as dataset:
        dataset.units = (unit,)
    assert np.isnan(at_posts(Ground(path), [1.0], [1.0])[0]) == (unit == "m")


@pytest.mark.parametrize("value", [-430.0, -1.0, 0.0, 8848.0])
def test_low_and_high_ground_is_ground(tmp_path: Path, value: float) -> None:
    """The Dead Sea's shore, a polder, the sea and the highest summit are ground."""
    heights = np.full((12, 14), value, dtype=np.float32)
    assert at_posts(Ground(utm_raster(tmp_path, heights)), [5.5], [5.5]) == pytest.approx(value)


# ------------------------------------------------------------ blocks never written


@pytest.mark.parametrize(
    "profile",
    [
        {"tiled": True, "blockxsize": 64, "blockysize": 64},
        {"tiled": True, "blockxsize": 64, "blockysize": 64, "compress": "deflate"},
        {"blockysize": 64},
        {"blockysize": 1},
    ],
)
@pytest.mark.parametrize("nodata", [None, -9999.0])
def test_sparse_blocks_are_missing(
    tmp_path: Path, profile: dict[str, Any], nodata: float | None
) -> None:
    """Blocks a sparse file never wrote hold no ground, though they read as zeros."""
    path, part = tmp_path / "sparse.tif", hills(128, 600, low_m=2.0).astype(np.float32)
    with rasterio.open(
        path, "w", driver="GTiff", width=600, height=500, count=1, dtype="float32", crs=UTM31N,
        transform=Affine(10, 0, CORNER[0], 0, -10, CORNER[1]), nodata=nodata, SPARSE_OK=True,
        **profile,
    ) as dataset:  # fmt: skip
        dataset.write(part, 1, window=Window(0, 64, 600, 128))
    ground = Ground(path)
    inside = at_posts(ground, [64.0, 100.0, 191.0], [0.0, 300.0, 599.0])
    assert inside == pytest.approx(part[[0, 36, 127], [0, 300, 599]])
    outside = at_posts(ground, [0.0, 63.0, 63.5, 191.5, 192.0, 499.0], [5.0] * 6)
    assert np.isnan(outside).all()


# ------------------------------------------------------------ hidden zeros


def test_hidden_zeros_over_many_blocks(tmp_path: Path) -> None:
    """A hole of zeros across blocks, far more than a twentieth of them, is missing ground."""
    heights = hills(128, 128, low_m=60.0).astype(np.float32)
    heights[40:90, 50:110] = 0.0
    for profile in ({}, {"tiled": True, "blockxsize": 32, "blockysize": 32}):
        ground = Ground(utm_raster(tmp_path, heights, **profile))
        rim = at_posts(ground, [40.0, 89.0, 60.0, 60.0, 39.5], [60.0, 60.0, 50.0, 109.0, 60.0])
        assert np.isnan(rim).all()
        beside = at_posts(ground, [39.0, 90.0, 60.0, 60.0], [60.0, 60.0, 49.0, 110.0])
        assert beside == pytest.approx(heights[[39, 90, 60, 60], [60, 60, 49, 110]])


ONE_BLOCK: dict[str, Any] = {"blockysize": 100, "compress": "deflate"}
"""All rows in one block: GDAL cuts long strips up only if they are not compressed."""


def coast() -> NDArray[np.float64]:
    """Return sea in the west, land in the east: cliffs of 60 m in the north, a low shore south."""
    row, column = np.mgrid[0:100, 0:100]
    land = np.where(row < 50, 60.0 + row, np.maximum(99 - row, 1))
    return np.where(column < 40, 0.0, land)


@pytest.mark.parametrize("dtype", ["int16", "float32"])
def test_sea_below_cliffs_is_ground(tmp_path: Path, dtype: str) -> None:
    """Water at zero is ground, though cliffs of 60 m stand over a part of its shore."""
    ground = Ground(utm_raster(tmp_path, coast().astype(dtype), **ONE_BLOCK))
    sea = at_posts(ground, [10.0, 10.0, 90.0, 49.0], [0.0, 39.0, 39.0, 20.0])
    assert sea.tolist() == [0.0] * 4
    assert at_posts(ground, [10.0], [39.5])[0] == pytest.approx(70.0 / 2)


def test_zeros_below_nothing_but_cliffs_are_not_trusted(tmp_path: Path) -> None:
    """Where the blocks read show no low shore, sea and a hole look alike: missing, no number."""
    ground = Ground(utm_raster(tmp_path, coast(), blockysize=10))
    assert np.isnan(at_posts(ground, [10.0], [20.0])).all()
    assert at_posts(ground, [90.0, 10.0], [20.0, 40.0]).tolist() == [0.0, 70.0]


def test_a_pond_at_zero_is_ground(tmp_path: Path) -> None:
    """A few zeros among low posts are ground: 49 m is a bank, 51 m is a hole's rim."""
    for bank, missing in ((49.0, False), (51.0, True)):
        heights = np.full((40, 40), bank, dtype=np.float32)
        heights[10:12, 20:22] = 0.0
        found = at_posts(Ground(utm_raster(tmp_path, heights)), [10.0, 11.0], [20.0, 21.0])
        assert np.isnan(found).all() == missing


@pytest.mark.parametrize(("size", "missing"), [(2, True), (20, False)])
def test_zeros_between_a_bank_and_a_wall(tmp_path: Path, size: int, missing: bool) -> None:
    """With a low bank here and a wall of 60 m there, a few zeros are a hole, many are water."""
    heights = np.full((40, 40), 30.0, dtype=np.float32)
    heights[:10] = 60.0
    heights[10 : 10 + size, 15 : 15 + size] = 0.0
    found = at_posts(Ground(utm_raster(tmp_path, heights, **ONE_BLOCK)), [10.0, 11.0], [15.0, 16.0])
    assert np.isnan(found).all() == missing
    assert np.isnan(found).any() == missing


def test_zero_everywhere_is_ground(tmp_path: Path) -> None:
    """A flat at zero all over, the sea, is ground."""
    heights = np.zeros((30, 30), dtype=np.float32)
    assert at_posts(Ground(utm_raster(tmp_path, heights)), [15.5], [15.5]).tolist() == [0.0]


# ------------------------------------------------------------ how much is missing


def test_length_over_one_missing_post(tmp_path: Path) -> None:
    """Straight across one missing post of a 10 m grid, 20 m of a leg have no ground.

    Two cells, whether the leg runs along the post's own line or between lines; none
    on the next line of posts.
    """
    ground = Ground(utm_raster(tmp_path, holed(-9999), cell_m=10.0))
    for row, expected_m in ((5.0, 20.0), (5.3, 20.0), (4.0, 0.0), (6.0, 0.0), (3.5, 0.0)):
        ends = np.array([1.0, 12.0])
        pieces = ground.above_ground(np.full(2, row), ends, np.full(2, 600.0))
        missing = np.isnan(pieces.a0)
        length_m = float((pieces.stop - pieces.start)[missing].sum() * 11 * 10.0)
        assert length_m == pytest.approx(expected_m, abs=1e-9)
        expected_edges = [5 / 11, 7 / 11] if expected_m else []
        assert pieces.missing_edges() == pytest.approx(expected_edges)


def test_share_of_voids(tmp_path: Path) -> None:
    """The share of missing posts is over the posts read."""
    ground = Ground(utm_raster(tmp_path, holed(-9999)))
    assert ground.blocks.void_share_read == 0.0
    at_posts(ground, [5.0], [7.0])
    assert ground.blocks.void_share_read == pytest.approx(1 / (12 * 14))


def test_a_hole_never_pulls_the_ground_down(sierra30: Path, tmp_path: Path) -> None:
    """With a twentieth of real posts lost to -9999, ground is SciPy's or missing, never lower."""
    terrain = reference.read_terrain(sierra30)
    random = np.random.default_rng(8)
    heights = terrain.heights_m[300:600, 300:600].astype(np.float32)
    lost = random.random(heights.shape) < 0.05
    path = utm_raster(tmp_path, np.where(lost, np.float32(-9999), heights))
    row, column = random.uniform(0, 299, (2, 20_000))
    found = Ground(path).elevation_at(row, column)
    holes = np.where(lost, np.nan, heights.astype(np.float64))
    by_scipy = scipy_surface(holes, row, column)
    assert (np.isnan(found) == np.isnan(by_scipy)).all()
    assert np.nanmax(np.abs(found - by_scipy)) < 1e-6
    assert 0.1 < np.isnan(found).mean() < 0.3

"""Single posts: planted spikes, pits, zeros and void numbers are found where they were planted.

Expected places come from the planting, coordinates from rasterio and pyproj, amounts from
closed forms. What must not be flagged is real ground: canyon walls, ridges, coasts.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np
import pytest
import rasterio

from terrain_guard.ground import inspect_parts
from terrain_guard.ground.inspect import inspect
from tests.conftest import DATA
from tests.ground.made import utm_raster
from tests.ground.planted import TILES, changed, found, heights_of, place_of, tilted

if TYPE_CHECKING:
    from pathlib import Path

    from tests.ground.planted import Heights


# ---------------------------------------------------------------- spikes and pits


@pytest.mark.parametrize(("amount", "kind"), [(80, "spikes"), (-80, "pits")])
@pytest.mark.parametrize("where", [(1, 1), (83, 77), (12, 150), (166, 154), (140, 40)])
def test_stray_post_is_found_in_real_mountains(
    lakes50: Path, tmp_path: Path, amount: int, kind: str, where: tuple[int, int]
) -> None:
    """One post put 80 m up or down is one suspicion, at its row, column, latitude, longitude."""

    def plant(heights: Heights) -> None:
        heights[where] += amount

    one = found(changed(lakes50, tmp_path, plant))[kind]
    assert (one.posts, one.row, one.column) == (1, *where)
    assert (one.lat_deg, one.lon_deg) == pytest.approx(place_of(lakes50, *where), abs=1e-9)
    assert one.share == 1 / (168 * 156)


@pytest.mark.parametrize("turn_deg", [0, 30, 45, 110])
@pytest.mark.parametrize("slope", [0.0, 0.6, 1.5])
def test_slope_neither_hides_nor_makes_a_stray_post(
    tmp_path: Path, slope: float, turn_deg: float
) -> None:
    """On an even slope of up to 56 degrees a post 80 m off stands off by 80 m: closed form."""
    heights = tilted(60, 60, slope=slope, cell_m=30.0, turn_deg=turn_deg)
    assert found(utm_raster(tmp_path, heights, cell_m=30.0)).keys().isdisjoint({"spikes", "pits"})
    heights[20, 31] += 80
    heights[41, 17] -= 80
    suspicions = found(utm_raster(tmp_path, heights, cell_m=30.0))
    spike, pit = suspicions["spikes"], suspicions["pits"]
    assert (spike.posts, spike.row, spike.column) == (1, 20, 31)
    assert (pit.posts, pit.row, pit.column) == (1, 41, 17)
    assert (spike.worst, pit.worst) == pytest.approx((80, 80), abs=1e-3)  # 32-bit heights


def test_several_stray_posts_are_counted_and_the_worst_is_named(tmp_path: Path) -> None:
    """Three spikes are three, and the place is that of the highest."""
    heights = tilted(60, 60, slope=0.2, cell_m=10.0, turn_deg=20.0)
    for (row, column), amount in {(10, 10): 20, (30, 44): 65, (50, 20): 40}.items():
        heights[row, column] += amount
    spike = found(utm_raster(tmp_path, heights))["spikes"]
    assert (spike.posts, spike.row, spike.column) == (3, 30, 44)
    assert spike.worst == pytest.approx(65, abs=1e-3)


@pytest.mark.parametrize("corner", ["straight", "outward", "inward", "slanting"])
def test_cliff_is_no_spike(tmp_path: Path, corner: str) -> None:
    """A face of 171 m between neighbours, straight or with corners, is ground."""
    i, j = np.indices((60, 60))
    plateau = {
        "straight": j > 30,
        "outward": (j > 30) & (i > 30),
        "inward": (j > 30) | (i > 30),
        "slanting": j > i,
    }[corner]
    heights = (500.0 + 171.0 * plateau).astype(np.float32)
    suspicions = found(utm_raster(tmp_path, heights, cell_m=30.0))
    assert suspicions.keys().isdisjoint({"spikes", "pits"})


def test_crest_that_ends_at_the_edge_is_no_spike(tmp_path: Path) -> None:
    """A sharp crest that rises to the model's edge is above all its neighbours there."""
    i, j = np.indices((60, 60))
    heights = (1000.0 - 60.0 * np.abs(j - 30) - 5.0 * i).astype(np.float32)
    assert "spikes" not in found(utm_raster(tmp_path, heights, cell_m=30.0))


def test_real_canyon_walls_are_no_spikes(sierra30: Path) -> None:
    """The 171 m step between neighbours of sierra30 is real (its README), and not flagged."""
    heights = heights_of(sierra30).astype(int)
    assert abs(heights[458, 598] - heights[458, 597]) == 171
    assert found(sierra30).keys().isdisjoint({"spikes", "pits"})


def test_stray_posts_on_the_edges_of_parts_are_found_once(
    lakes50: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Whatever the parts, spikes at their corners and edges are found, each once."""

    def plant(heights: Heights) -> None:
        for row in (63, 64, 127):
            for column in (20, 63, 90, 127, 130):
                heights[row, column] += 150 if (row + column) % 2 else -150

    path = changed(lakes50, tmp_path, plant, **TILES)
    whole = inspect(path).suspicions
    monkeypatch.setattr(inspect_parts, "SIDE", 64)
    cut = inspect(path).suspicions
    assert [one for one in whole if one.kind in {"spikes", "pits"}] == [
        one for one in cut if one.kind in {"spikes", "pits"}
    ]


# ---------------------------------------------------------------- zeros


def test_zeros_in_low_ground_stand_out(tmp_path: Path) -> None:
    """A block of zeros in whole metres at 30 m is ground to every check, and so a suspicion."""
    heights = np.random.default_rng(5).integers(30, 34, (80, 80)).astype(np.int16)
    heights[20:30, 40:45] = 0
    path = utm_raster(tmp_path, heights)
    one = found(path)["standing zeros"]
    rim = heights[19:31, 39:46]
    assert one.posts == 50
    assert one.worst == rim[rim > 0].min()
    assert 20 <= one.row < 30
    assert 40 <= one.column < 45
    assert one.share == 50 / 6400


def test_a_lone_zero_is_told_once(tmp_path: Path) -> None:
    """A zero that stands out is no pit as well."""
    heights = np.random.default_rng(5).integers(30, 34, (80, 80)).astype(np.int16)
    heights[60, 61] = 0
    suspicions = found(utm_raster(tmp_path, heights))
    assert set(suspicions) == {"standing zeros"}
    assert (suspicions["standing zeros"].row, suspicions["standing zeros"].column) == (60, 61)


def test_zeros_in_high_ground_are_taken_as_missing(tmp_path: Path) -> None:
    """The same block at 1000 m is missing ground for every check, and said so."""
    heights = tilted(80, 80, slope=0.1, cell_m=10.0, turn_deg=0.0)
    heights[20:30, 40:45] = 0.0
    model = inspect(utm_raster(tmp_path, heights))
    (one,) = (one for one in model.suspicions if one.kind == "hidden zeros")
    assert (one.posts, model.missing) == (50, 50)
    assert 20 <= one.row < 30
    assert 40 <= one.column < 45


def test_sea_is_no_standing_zero(tmp_path: Path) -> None:
    """Zeros with a shore are the sea: level at zero, and nothing else."""
    heights = np.maximum(tilted(80, 80, slope=0.3, cell_m=10.0, turn_deg=15.0) - 1010.0, 0.0)
    suspicions = found(utm_raster(tmp_path, heights))
    assert set(suspicions) == {"level at zero"}
    assert suspicions["level at zero"].posts == pytest.approx((heights == 0).sum(), rel=0.05)


def test_zeros_left_in_real_ellipsoidal_heights_are_told() -> None:
    """32 of the 33 zeros of Sydney over the ellipsoid are found; the last has a pit beside it."""
    path = DATA / "sydney_srtm1_ellipsoid.tif"
    assert np.count_nonzero(heights_of(path) == 0) == 33
    kinds = found(path)
    told = [kinds[kind] for kind in ("hidden zeros", "standing zeros") if kind in kinds]
    assert sum(one.posts for one in told) == 32
    assert all(heights_of(path)[one.row, one.column] == 0 for one in told)


def test_the_same_zeros_above_the_geoid_are_real() -> None:
    """Above the geoid the same 33 posts are true sea level, and not flagged."""
    path = DATA / "sydney_srtm1_geoid.tif"
    assert np.count_nonzero(heights_of(path) == 0) == 33
    assert found(path).keys().isdisjoint({"hidden zeros", "standing zeros"})


def test_zero_declared_missing_at_the_real_sea() -> None:
    """Where a file calls zero missing, sea level reads as missing; rasterio counts as many."""
    path = DATA / "sydney_glo30.tif"
    with rasterio.open(path) as dataset:
        masked = int((dataset.read_masks(1) == 0).sum())
    one = found(path)["zero is void"]
    assert one.posts == masked == 48
    assert heights_of(path)[one.row, one.column] == 0


def test_zero_declared_missing_up_a_mountain_is_no_matter(tmp_path: Path) -> None:
    """Far above the sea no ground is at zero: declaring it is nobody's trap."""
    heights = tilted(60, 60, slope=0.1, cell_m=10.0, turn_deg=0.0)
    heights[10:20, 10:20] = 0.0
    model = inspect(utm_raster(tmp_path, heights, nodata=0.0))
    assert model.missing == 100
    assert not model.suspicions


def test_ground_far_below_the_sea_is_doubted() -> None:
    """The posts at -11 to -38 m in Sydney harbour are counted, and the lowest is named."""
    path = DATA / "sydney_srtm1_geoid.tif"
    heights = heights_of(path)
    one = found(path)["below sea"]
    assert one.posts == np.count_nonzero(heights < -10) == 6
    assert one.worst == heights[one.row, one.column] == -38


# ---------------------------------------------------------------- what is missing


@pytest.mark.parametrize(
    ("number", "dtype", "kind"),
    [
        (-9999, "float32", "void numbers"),
        (-32768, "int16", "void numbers"),
        (-3.4028235e38, "float32", "void numbers"),
        (65535, "uint16", "void numbers"),
        (12345, "float32", "no heights"),
        (-2000, "int16", "no heights"),
    ],
)
def test_undeclared_numbers_are_missing_and_named(
    tmp_path: Path, number: float, dtype: str, kind: str
) -> None:
    """Numbers that are no elevations are counted as missing, with the number itself."""
    heights = tilted(60, 60, slope=0.1, cell_m=10.0, turn_deg=0.0).astype(dtype)
    heights[25, 30:33] = number
    model = inspect(utm_raster(tmp_path, heights))
    (one,) = (one for one in model.suspicions if one.kind == kind)
    assert (one.posts, one.row, model.missing) == (3, 25, 3)
    assert one.worst == pytest.approx(number)
    assert one.column in {30, 31, 32}


def test_declared_void_is_missing_without_suspicion(tmp_path: Path) -> None:
    """What the file declares is a fact, not a suspicion."""
    heights = tilted(60, 60, slope=0.1, cell_m=10.0, turn_deg=0.0)
    heights[10:20, 10:20] = -9999
    model = inspect(utm_raster(tmp_path, heights, nodata=-9999))
    assert (model.missing, model.suspicions) == (100, ())


def test_blocks_never_written_are_declared_missing(tmp_path: Path) -> None:
    """Of a sparse file, blocks that were left out are missing, not placeholder zeros."""
    heights = tilted(64, 64, slope=0.1, cell_m=10.0, turn_deg=0.0)
    path = tmp_path / "sparse.tif"
    with rasterio.open(
        path,
        "w",
        driver="GTiff",
        width=256,
        height=256,
        count=1,
        dtype="float32",
        crs="EPSG:32631",
        transform=rasterio.Affine(10, 0, 500_000, 0, -10, 5_000_000),
        tiled=True,
        blockxsize=64,
        blockysize=64,
        SPARSE_OK=True,
    ) as dataset:
        dataset.write(heights, 1, window=rasterio.windows.Window(64, 128, 64, 64))
    model = inspect(path)
    assert model.missing == 256 * 256 - 64 * 64
    assert not model.suspicions


def test_a_model_without_ground_is_told(tmp_path: Path) -> None:
    """Where nothing is known the one suspicion is that."""
    heights = np.full((40, 40), -9999, dtype=np.float32)
    model = inspect(utm_raster(tmp_path, heights, nodata=-9999))
    assert [one.kind for one in model.suspicions] == ["nothing known"]
    assert np.isnan(model.lowest.elevation_m)


def test_masked_posts_are_declared_missing(tmp_path: Path) -> None:
    """What a mask in the file covers is missing, and nothing to suspect."""
    heights = tilted(60, 60, slope=0.1, cell_m=10.0, turn_deg=0.0)
    path = utm_raster(tmp_path, heights)
    mask = np.full(heights.shape, 255, dtype=np.uint8)
    mask[5:15, 20:40] = 0
    with rasterio.Env(GDAL_TIFF_INTERNAL_MASK=True), rasterio.open(path, "r+") as dataset:
        dataset.write_mask(mask)
    model = inspect(path)
    assert (model.missing, model.suspicions) == (200, ())


def test_negative_heights_from_an_ellipsoid_are_no_depths(tmp_path: Path) -> None:
    """Where the file says that it counts from the ellipsoid, -30 m may well be a shore."""
    heights = tilted(60, 60, slope=0.1, cell_m=30.0, turn_deg=0.0) - 1030.0
    degrees = rasterio.Affine(4e-4, 0, -122.4, 0, -3e-4, 37.7)
    geoid = utm_raster(tmp_path, heights, transform=degrees, crs="EPSG:4326+5773", name="a.tif")
    ellipsoid = utm_raster(tmp_path, heights, transform=degrees, crs="EPSG:4979", name="b.tif")
    assert "below sea" in found(geoid)
    assert "below sea" not in found(ellipsoid)

"""An inspection as a whole: facts by rasterio and NumPy, every post once, bounded memory."""

from __future__ import annotations

import tracemalloc
from types import SimpleNamespace
from typing import TYPE_CHECKING, cast

import numpy as np
import pytest
import rasterio
from hypothesis import given, settings
from hypothesis import strategies as st
from rasterio.windows import Window

from terrain_guard.errors import RefusedTerrain
from terrain_guard.ground import inspect_parts
from terrain_guard.ground.blocks import Blocks
from terrain_guard.ground.inspect import inspect
from terrain_guard.ground.inspect_parts import Part, parts
from terrain_guard.ground.raster import open_raster
from tests.conftest import DATA
from tests.ground.made import utm_raster
from tests.ground.planted import TILES, changed, place_of, tilted

if TYPE_CHECKING:
    from pathlib import Path

    from terrain_guard.ground.raster import Raster
    from tests.ground.planted import Heights


# ---------------------------------------------------------------- facts


@pytest.mark.parametrize("path", sorted(DATA.glob("*.tif")), ids=lambda path: path.stem)
def test_facts_are_those_of_the_file(path: Path) -> None:
    """Driver, size, type, extremes and their places: by rasterio, NumPy and pyproj."""
    model = inspect(path)
    with rasterio.open(path) as dataset:
        heights = np.ma.filled(dataset.read(1, masked=True).astype(float), np.nan)
        assert (model.driver, model.data_type) == (dataset.driver, dataset.dtypes[0])
        assert (model.rows, model.columns) == dataset.shape
        assert model.nodata == dataset.nodata
    assert model.file == path.name
    assert model.size_bytes == path.stat().st_size
    assert model.looked_at == model.posts == heights.size
    row, column = np.unravel_index(np.nanargmax(heights), heights.shape)
    assert model.highest.elevation_m == heights[row, column]
    at = model.highest.lat_deg, model.highest.lon_deg
    assert at == pytest.approx(place_of(path, int(row), int(column)), abs=1e-9)
    assert model.kind == "unknown"


@pytest.mark.parametrize("path", sorted(DATA.glob("*.tif")), ids=lambda path: path.stem)
def test_missing_is_what_every_check_misses(path: Path) -> None:
    """The posts counted as missing are those that the reader of every check has not got."""
    raster = open_raster(path)
    z = Blocks(raster).window((0, raster.height), (0, raster.width))
    assert inspect(path).missing == np.isnan(z).sum()


def test_points_are_told_from_areas(tmp_path: Path) -> None:
    """A file registered on points says so."""
    path = utm_raster(tmp_path, tilted(30, 30, slope=0.1, cell_m=10.0, turn_deg=0.0))
    assert inspect(path).registration == "area"
    with rasterio.open(path, "r+") as dataset:
        dataset.update_tags(AREA_OR_POINT="Point")
    assert inspect(path).registration == "point"


@pytest.mark.parametrize("shape", [(2, 2), (2, 40), (7, 7), (40, 3)])
def test_smallest_models_are_told(tmp_path: Path, shape: tuple[int, int]) -> None:
    """A few posts are too few for most tests, and no trouble to any."""
    heights = tilted(*shape, slope=0.3, cell_m=10.0, turn_deg=20.0)
    model = inspect(utm_raster(tmp_path, heights))
    assert model.looked_at == heights.size
    assert model.suspicions == ()


def test_what_cannot_be_an_elevation_model_is_refused(tmp_path: Path) -> None:
    """A shaded relief of 8 bits is refused, in the words of every other command."""
    path = utm_raster(tmp_path, np.full((30, 30), 200, dtype=np.uint8))
    with pytest.raises(RefusedTerrain, match="shaded relief or colour picture"):
        inspect(path)


def test_an_inspection_changes_with_the_ground_only(lakes50: Path, tmp_path: Path) -> None:
    """All heights 100 m up: the same patches, at an elevation 100 m higher."""

    def raise_all(heights: Heights) -> None:
        heights += 100

    before = inspect(lakes50).suspicions
    after = inspect(changed(lakes50, tmp_path, raise_all)).suspicions
    assert [(one.kind, one.posts, one.row) for one in after] == [
        (one.kind, one.posts, one.row) for one in before
    ]
    assert [one.worst for one in after] == pytest.approx([one.worst + 100 for one in before])


# ---------------------------------------------------------------- parts

SIZES = st.integers(2, 9000)
BLOCKS = st.sampled_from([1, 3, 16, 128, 256, 512, 2048])


def layout(height: int, width: int, block: tuple[int, int]) -> Raster:
    """Stand in for a raster of which only the layout matters."""
    return cast("Raster", SimpleNamespace(height=height, width=width, block_shape=block))


@given(height=SIZES, width=SIZES, rows=BLOCKS, columns=BLOCKS, strips=st.booleans())
@settings(max_examples=150, deadline=None)
def test_parts_cover_every_post_once(
    height: int, width: int, rows: int, columns: int, strips: bool
) -> None:
    """Parts of a model that is looked at whole tile it, and none is large."""
    block = rows, width if strips else columns
    found = parts(layout(height, width, block), most_posts=height * width)
    assert sum(part.posts for part in found) == height * width
    corners = {(part.rows[0], part.columns[0]) for part in found}
    assert len(corners) == len(found)
    down = sorted({part.rows for part in found})
    assert [start for start, _ in down] == [0, *(stop for _, stop in down[:-1])]
    assert down[-1][1] == height
    assert max(part.posts for part in found) <= 2 * 1024 * 1024


@given(height=st.integers(5000, 200_000), width=st.integers(5000, 200_000))
@settings(max_examples=100, deadline=None)
def test_a_large_model_is_looked_at_in_an_even_spread(height: int, width: int) -> None:
    """No more posts than allowed, distinct parts, and their middle is the model's middle."""
    most = 20_000_000
    with pytest.MonkeyPatch.context() as patch:  # there is no file to ask what is written
        patch.setattr(inspect_parts, "_written", lambda _raster, every: every)
        found = parts(layout(height, width, (256, 256)), most_posts=most)
    assert sum(part.posts for part in found) <= most
    assert len(set(found)) == len(found)
    if len(found) < 9:
        return

    def middle(part: Part) -> tuple[float, float]:
        return sum(part.rows) / 2 / height, sum(part.columns) / 2 / width

    assert np.mean([middle(part) for part in found], axis=0) == pytest.approx(0.5, abs=0.2)


def test_a_sampled_model_says_how_much_was_looked_at(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Of 1024 x 1024 posts 16 parts of 64 are allowed: 16 are looked at, 4 by 4."""
    monkeypatch.setattr(inspect_parts, "SIDE", 64)
    heights = tilted(1024, 1024, slope=0.2, cell_m=10.0, turn_deg=33.0)
    path = utm_raster(tmp_path, heights, **TILES)
    model = inspect(path, most_posts=16 * 64 * 64)
    assert (model.looked_at, model.posts) == (16 * 64 * 64, 1024 * 1024)
    raster = open_raster(path)
    picked = parts(raster, most_posts=16 * 64 * 64)
    assert {part.rows[0] // 64 for part in picked} == {2, 6, 10, 14}  # the middles of four fours
    assert {part.columns[0] // 64 for part in picked} == {2, 6, 10, 14}


def test_of_a_sparse_model_what_is_written_is_looked_at(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Two written corners of 1024 x 1024 posts are found, though most of it was left out."""
    monkeypatch.setattr(inspect_parts, "SIDE", 64)
    path = tmp_path / "sparse.tif"
    heights = tilted(64, 128, slope=0.2, cell_m=10.0, turn_deg=33.0)
    with rasterio.open(
        path,
        "w",
        driver="GTiff",
        width=1024,
        height=1024,
        count=1,
        dtype="float32",
        nodata=-9999.0,
        crs="EPSG:32631",
        transform=rasterio.Affine(10, 0, 500_000, 0, -10, 5_000_000),
        **TILES,
        SPARSE_OK=True,
    ) as dataset:
        dataset.write(heights, 1, window=Window(0, 0, 128, 64))
        dataset.write(heights, 1, window=Window(896, 960, 128, 64))
    model = inspect(path, most_posts=16 * 64 * 64)
    assert (model.looked_at, model.missing) == (4 * 64 * 64, 0)
    assert model.highest.elevation_m == heights.max()


def test_memory_does_not_grow_with_the_model(tmp_path: Path) -> None:
    """Four times the model takes no more memory, and well below 200 MB."""
    peaks = []
    for number in (1, 4):
        heights = tilted(1024 * number, 1024, slope=0.2, cell_m=10.0, turn_deg=33.0)
        heights[::3, ::3] += 1
        path = utm_raster(
            tmp_path, heights, name=f"{number}.tif", tiled=True, blockxsize=256, blockysize=256
        )
        del heights
        inspect(path, most_posts=1000)  # everything imported before it is measured
        tracemalloc.start()
        assert inspect(path).looked_at == number * 1024 * 1024
        peaks.append(tracemalloc.get_traced_memory()[1])
        tracemalloc.stop()
    assert peaks[1] < 1.25 * peaks[0]  # a part in the middle has a rim on all sides
    assert peaks[1] < 100e6

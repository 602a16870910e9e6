"""Only the blocks that are touched are read, by one thread or by two."""

from __future__ import annotations

from pathlib import Path
from typing import Any

import numpy as np
import pytest
import rasterio
from numpy.typing import NDArray

from terrain_guard.errors import RefusedTerrain
from terrain_guard.ground.model import Ground
from tests.ground.made import hills, utm_raster

SIZE = 600
LAYOUTS: dict[str, dict[str, Any]] = {
    "tiles": {"tiled": True, "blockxsize": 64, "blockysize": 64, "compress": "deflate"},
    "uneven tiles": {"tiled": True, "blockxsize": 128, "blockysize": 48},
    "strips": {"blockysize": 16, "compress": "deflate"},
    "rows": {"blockysize": 1},
    "one strip": {"blockysize": SIZE, "compress": "deflate"},
}


@pytest.fixture(scope="module")
def heights() -> NDArray[np.float32]:
    """Return rough ground of 600 x 600 posts: more than a whole number of blocks."""
    return hills(SIZE, SIZE).astype(np.float32)


@pytest.fixture(params=LAYOUTS)
def path(request: pytest.FixtureRequest, tmp_path: Path, heights: NDArray[np.float32]) -> Path:
    """Return the same ground in every layout of blocks."""
    return utm_raster(tmp_path, heights, cell_m=1.0, **LAYOUTS[request.param])


def touched(
    path: Path, rows: NDArray[np.float64], columns: NDArray[np.float64]
) -> set[tuple[int, int]]:
    """Return the (row, column) of the blocks that hold the four posts round each point."""
    with rasterio.open(path) as dataset:
        ((height, width),) = dataset.block_shapes
    found = set()
    for row, column in zip(rows.tolist(), columns.tolist(), strict=True):
        for i in (int(row), int(row) + 1):
            for j in (int(column), int(column) + 1):
                found.add((i // height, j // width))
    return found


def a_line(count: int) -> tuple[NDArray[np.float64], NDArray[np.float64]]:
    """Return a slanting line of points across a part of the ground, never on a line of posts."""
    share = np.linspace(0.0, 1.0, count)
    return 100.3 + 200.1 * share, 400.7 - 333.7 * share


def test_points_read_what_they_touch(path: Path, heights: NDArray[np.float32]) -> None:
    """Blocks read are exactly the blocks of the stencils, and the values are right."""
    ground = Ground(path)
    rows, columns = a_line(500)
    ground.elevation_at(rows, columns)
    assert ground.blocks.blocks_read == len(touched(path, rows, columns))
    whole = rows.round()
    assert ground.elevation_at(whole, columns.round()) == pytest.approx(
        heights[whole.astype(int), columns.round().astype(int)]
    )


def test_posts_without_weight_are_not_read(path: Path) -> None:
    """On the last line of posts of a block, the block beyond is left alone."""
    ground = Ground(path)
    height, width = ground.raster.block_shape
    corner = np.array([height - 1.0]), np.array([min(width, SIZE) - 1.0])
    assert np.isfinite(ground.elevation_at(*corner)).all()
    assert ground.blocks.blocks_read == 1
    along = np.linspace(0.2, 9.7, 30)
    ground.elevation_at(np.full(30, height - 1.0), along)
    ground.above_ground(np.full(30, height - 1.0), along, np.full(30, 700.0))
    assert ground.blocks.blocks_read == 1


def test_a_curve_reads_what_it_touches(path: Path) -> None:
    """The exact height along a polyline reads the blocks of the cells it crosses."""
    ground = Ground(path)
    rows, columns = a_line(40)
    ground.above_ground(rows, columns, np.full(40, 700.0))
    dense_rows, dense_columns = a_line(200_001)
    assert ground.blocks.blocks_read == len(touched(path, dense_rows, dense_columns))


def test_nothing_is_read_twice(path: Path) -> None:
    """The same points again, and points in the same blocks, read nothing more."""
    ground = Ground(path)
    rows, columns = a_line(500)
    ground.elevation_at(rows, columns)
    before = ground.blocks.blocks_read, ground.blocks.posts_read
    ground.elevation_at(rows[::-1], columns[::-1])
    assert (ground.blocks.blocks_read, ground.blocks.posts_read) == before


def test_opening_reads_nothing(path: Path) -> None:
    """A model that nobody asks has read no block."""
    assert Ground(path).blocks.blocks_read == 0


def test_far_off_points_read_nothing(path: Path) -> None:
    """Points off the model are no ground, and no block is read for them."""
    ground = Ground(path)
    assert np.isnan(ground.elevation_at(np.full(9, -5.0), np.full(9, 5000.0))).all()
    assert ground.blocks.blocks_read == 0


def test_everything_by_two_threads(path: Path, heights: NDArray[np.float32]) -> None:
    """Every post asked at once: hundreds of blocks, each value its own."""
    ground = Ground(path)
    random = np.random.default_rng(4)
    row, column = random.permuted(np.indices(heights.shape).reshape(2, -1), axis=1)
    found = ground.elevation_at(row.astype(float), column.astype(float))
    assert (found == heights[row, column]).all()
    with rasterio.open(path) as dataset:
        assert ground.blocks.blocks_read == len(list(dataset.block_windows(1)))
    assert ground.blocks.posts_read == SIZE * SIZE


@pytest.mark.parametrize("rows", [(0, SIZE), (-7, 31), (SIZE - 50, SIZE + 11), (63, 64)])
@pytest.mark.parametrize("columns", [(-70, 1), (SIZE - 10, SIZE + 200), (64, 128)])
def test_windows(
    path: Path, heights: NDArray[np.float32], rows: tuple[int, int], columns: tuple[int, int]
) -> None:
    """A window holds its posts, NaN beyond the edge, and reads the blocks it meets."""
    ground = Ground(path)
    found = ground.blocks.window(rows, columns)
    i, j = np.arange(*rows), np.arange(*columns)
    inside = np.ix_((i >= 0) & (i < SIZE), (j >= 0) & (j < SIZE))
    expected = np.full((i.size, j.size), np.nan)
    met_rows, met_columns = i[(i >= 0) & (i < SIZE)], j[(j >= 0) & (j < SIZE)]
    expected[inside] = heights[np.ix_(met_rows, met_columns)]
    np.testing.assert_array_equal(found, expected)
    height, width = ground.raster.block_shape
    blocks = len(set(met_rows // height)) * len(set(met_columns // width))
    assert ground.blocks.blocks_read == blocks


@pytest.mark.parametrize("many", [False, True])
def test_untouched_blocks_may_be_rotten(
    tmp_path: Path, heights: NDArray[np.float32], many: bool
) -> None:
    """With every other block overwritten by rubbish, the touched ones read as ever.

    So the counter does not flatter: GDAL never looked at the others. Touching one of
    them is refused, by one thread (few blocks) and by two (many).
    """
    path = utm_raster(tmp_path, heights, cell_m=1.0, **LAYOUTS["tiles"])
    rows, columns = np.divmod(np.arange(0.0, SIZE * SIZE, 13), SIZE)
    part = (rows < (576 if many else 100)) & (columns % 64 < 63) & (rows % 64 < 63)
    part &= (rows // 64 + columns // 64) % 2 == 0
    rows, columns = rows[part], columns[part]
    clean = touched(path, rows, columns)
    data = bytearray(path.read_bytes())
    with rasterio.open(path) as dataset:
        for (i, j), _ in dataset.block_windows(1):
            start, size = (
                int(dataset.get_tag_item(f"BLOCK_{what}_{j}_{i}", "TIFF", bidx=1))
                for what in ("OFFSET", "SIZE")
            )
            if (i, j) not in clean:
                data[start : start + size] = b"\xff" * size
    path.write_bytes(data)
    ground = Ground(path)
    found = ground.elevation_at(rows, columns)
    assert (found == heights[rows.astype(int), columns.astype(int)]).all()
    assert ground.blocks.blocks_read == len(clean)
    with pytest.raises(RefusedTerrain, match="cut short or damaged"):
        ground.elevation_at(rows, (columns + 64) % 576)

"""The hash of the terrain used: of the terrain, not of how the file is laid out."""

from __future__ import annotations

from pathlib import Path
from typing import Any

import numpy as np
import pytest
import rasterio
from numpy.typing import NDArray
from rasterio.enums import Resampling
from rasterio.transform import Affine

from terrain_guard.ground.model import Ground
from tests.ground.made import CORNER, hills, utm_raster

PLACES = [(60.3, 70.8), (75.1, 91.4), (75.9, 120.2), (140.0, 33.3)]
REACH_M = 20.0


def used_hash(path: Path, *, places: list[tuple[float, float]] | None = None) -> str:
    """Return the hash after the patches round some places have been handed out."""
    ground = Ground(path)
    for row, column in PLACES if places is None else places:
        ground.around(np.array([row]), np.array([column]), reach_m=REACH_M)
    return ground.used().used_hash


def heights() -> NDArray[Any]:
    """Return rough ground of 200 x 200 posts in whole decimetres, with a hole."""
    ground = hills(200, 200).round(0).astype(np.float32)
    ground[74, 90] = -9999
    return ground


def raster(folder: Path, z: NDArray[Any] | None = None, **more: Any) -> Path:
    """Write the ground; `more` goes to `write_raster`."""
    return utm_raster(
        folder, heights() if z is None else z, cell_m=2.0, **{"nodata": -9999, **more}
    )


def test_it_is_a_sha256(tmp_path: Path) -> None:
    """Sixty-four hexadecimal digits, the same at every run."""
    first, second = used_hash(raster(tmp_path)), used_hash(raster(tmp_path))
    assert first == second
    assert len(first) == 64
    assert set(first) <= set("0123456789abcdef")


@pytest.mark.parametrize(
    "layout",
    [
        {"tiled": True, "blockxsize": 64, "blockysize": 64},
        {"tiled": True, "blockxsize": 16, "blockysize": 32, "compress": "lzw"},
        {"compress": "deflate", "predictor": 3},
        {"blockysize": 1},
        {"BIGTIFF": "YES"},
        {"driver": "COG", "compress": "deflate"},
        {"ENDIANNESS": "BIG"},
        {"z": heights().astype(np.int16)},
        {"z": heights().astype(np.float64)},
        {"z": np.where(heights() == -9999, np.nan, heights()), "nodata": np.nan},
        {"nodata": None},  # -9999 is missing, declared or not
    ],
)
def test_layout_does_not_matter(tmp_path: Path, layout: dict[str, Any]) -> None:
    """Tiles, strips, compression, byte order, number type and the code for holes change nothing."""
    other = tmp_path / "other"
    other.mkdir()
    assert used_hash(raster(other, **layout)) == used_hash(raster(tmp_path))


def test_overviews_do_not_matter(tmp_path: Path) -> None:
    """Overviews added to the file change its size, not its terrain."""
    path = raster(tmp_path)
    before = used_hash(path)
    with rasterio.open(path, "r+") as dataset:
        dataset.build_overviews([2, 4], Resampling.average)
    assert used_hash(path) == before


def test_order_does_not_matter(tmp_path: Path) -> None:
    """The same places in another order, or twice, are the same terrain."""
    path = raster(tmp_path)
    assert used_hash(path, places=[*PLACES[::-1], *PLACES]) == used_hash(path)


def test_other_places_are_other_terrain(tmp_path: Path) -> None:
    """A place fewer, or none: another hash."""
    path = raster(tmp_path)
    hashes = {used_hash(path, places=PLACES[:n]) for n in range(len(PLACES) + 1)}
    assert len(hashes) == len(PLACES) + 1


@pytest.mark.parametrize("post", [(60, 71), (55, 66), (74, 90), (76, 125), (146, 33)])
def test_a_used_value_matters(tmp_path: Path, post: tuple[int, int]) -> None:
    """One post within reach, changed by the least a 32-bit number can, or filled: another hash."""
    before = used_hash(raster(tmp_path))
    changed = heights()
    old = changed[post] if changed[post] > 0 else np.float32(400)
    changed[post] = np.nextafter(old, np.float32(9000))
    assert used_hash(raster(tmp_path, changed)) != before


def test_every_post_handed_out_matters(tmp_path: Path) -> None:
    """The outermost rows and columns of what was handed out count too, and none beyond them."""
    (row, column), *_ = PLACES
    path = raster(tmp_path)
    patches = Ground(path).around(np.array([row]), np.array([column]), reach_m=REACH_M)
    before = used_hash(path, places=PLACES[:1])
    top, left = patches.row0, patches.column0
    bottom, right = top + patches.z.shape[0] - 1, left + patches.z.shape[1] - 1
    for post in ((top, left), (bottom, right), (top, right), (bottom, left)):
        changed = heights()
        changed[post] += 1
        assert used_hash(raster(tmp_path, changed), places=PLACES[:1]) != before
    for post in ((top - 1, left), (bottom + 1, right), (top, right + 1), (bottom, left - 1)):
        changed = heights()
        changed[post] += 1
        assert used_hash(raster(tmp_path, changed), places=PLACES[:1]) == before


def test_a_hole_is_not_sea_level(tmp_path: Path) -> None:
    """Ground at 0 m where a hole was is other terrain."""
    holed, filled = (np.full((200, 200), 12.0, dtype=np.float32) for _ in range(2))
    holed[60, 71], filled[60, 71] = -9999, 0.0
    assert used_hash(raster(tmp_path, holed)) != used_hash(raster(tmp_path, filled))


def test_where_the_terrain_lies_matters(tmp_path: Path) -> None:
    """On a plain where all heights are equal, a place farther east or south is another."""
    path = raster(tmp_path, np.full((200, 200), 12.0, dtype=np.float32))
    places = [(60.3, 70.8), (60.3, 90.8), (80.3, 70.8)]
    assert len({used_hash(path, places=[place]) for place in places}) == 3


@pytest.mark.parametrize("post", [(0, 0), (199, 199), (60, 180), (180, 71)])
def test_an_unused_value_does_not_matter(tmp_path: Path, post: tuple[int, int]) -> None:
    """Posts far from every place asked for may change."""
    before = used_hash(raster(tmp_path))
    changed = heights()
    changed[post] = 1234.0
    assert used_hash(raster(tmp_path, changed)) == before


def test_moved_terrain_is_other_terrain(tmp_path: Path) -> None:
    """The same values a millimetre farther east, or in another system, are not the same terrain."""
    hashes = {
        used_hash(raster(tmp_path)),
        used_hash(raster(tmp_path, transform=Affine(2, 0, CORNER[0] + 0.001, 0, -2, CORNER[1]))),
        used_hash(raster(tmp_path, crs="EPSG:32630")),
    }
    assert len(hashes) == 3


def test_swapped_posts_are_other_terrain(tmp_path: Path) -> None:
    """Two neighbours that change places leave the values but not the terrain."""
    changed = heights()
    changed[60, 70], changed[60, 71] = changed[60, 71], changed[60, 70]
    assert used_hash(raster(tmp_path, changed)) != used_hash(raster(tmp_path))


def test_facts_beside_the_hash(sierra30: Path) -> None:
    """The facts of the real file, as its README gives them."""
    used = Ground(sierra30).used()
    assert (used.file, used.size_bytes) == ("sierra30.tif", sierra30.stat().st_size)
    assert used.crs == "ESRI:102003"
    assert used.vertical_datum == "not stated"
    assert used.registration == "area"
    # Albers equal area: 30 m of map are not 30 m of ground along both axes, their product is.
    assert used.cell_m[0] * used.cell_m[1] == pytest.approx(900.0, rel=1e-3)
    assert used.cell_m == pytest.approx((30.0, 30.0), rel=0.02)

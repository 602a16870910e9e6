"""Where no tile is, the sea: only if the cards say so, and only there."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

import numpy as np
import pytest
import rasterio
from rasterio.transform import Affine

from terrain_guard.errors import RefusedTerrain
from terrain_guard.ground.model import Ground
from tests import reference
from tests.ground.made import CORNER, UTM31N, at_posts, hills, scipy_surface, utm_raster
from tests.ground.test_card import say
from tests.ground.tiles import cut
from tests.rasters import write_raster

if TYPE_CHECKING:
    from pathlib import Path

    from numpy.typing import NDArray

MICROMETRE = 1e-6
SEA = "absent_is_sea = true"
SIDE = 50  # posts along one side of the island, in tiles of 10


def island() -> NDArray[np.float64]:
    """Return an island: a wavy hill, and sea at 0 m round it and in the middle tile of the west."""
    row, column = np.mgrid[0:SIDE, 0:SIDE].astype(float)
    hill = 60.0 - 0.12 * ((row - 25) ** 2 + (column - 30) ** 2) + 3 * np.sin(row) * np.cos(column)
    z = np.maximum(hill, 0.0)
    z[20:30, 0:11] = 0.0
    return z


@pytest.fixture
def sea_tiles(tmp_path: Path) -> Path:
    """Return the island in tiles, of which those wholly under water are left out."""
    whole = utm_raster(tmp_path, island(), name="whole.tif")
    z = island().reshape(5, 10, 5, 10).max(axis=(1, 3))
    absent = [(int(i), int(j)) for i, j in np.argwhere(z == 0)]
    assert (2, 0) in absent
    assert len(absent) < 15
    cut(whole, tmp_path / "tiles", left_out=absent)
    return tmp_path / "tiles"


def anywhere(count: int = 20_000, *, reach: float = 30.0) -> tuple[Any, Any]:
    """Return (row, column) on the island, round it and far out."""
    random = np.random.default_rng(8)
    row, column = random.uniform(-reach, SIDE - 1 + reach, (2, count))
    row[: count // 4] = np.round(row[: count // 4])  # on lines of posts too
    return row, column


def wide(z: NDArray[np.float64], by: int) -> NDArray[np.float64]:
    """Return the ground with a frame of zeros."""
    return np.pad(z, by)


# ------------------------------------------------------------ ground


def test_a_removed_tile_is_sea_if_the_card_says_so(sierra30: Path, tmp_path: Path) -> None:
    """Real ground in 5 x 5 tiles without one: 0 m in it by the card, nothing without a card."""
    tiles = tmp_path / "tiles"
    cut(sierra30, tiles, left_out=[(2, 3)])
    random = np.random.default_rng(9)
    row, column = random.uniform(430, 670, 4000), random.uniform(640, 900, 4000)
    inside = (row >= 440) & (row <= 659) & (column >= 660) & (column <= 879)
    assert np.isnan(Ground(tiles).elevation_at(row, column)[inside]).all()
    say(tiles, SEA)
    found = Ground(tiles).elevation_at(row, column)
    assert (found[inside] == 0).all()
    filled = reference.read_terrain(sierra30).heights_m.copy()
    filled[440:660, 660:880] = 0.0
    assert np.abs(found - scipy_surface(filled, row, column)).max() < MICROMETRE


def test_round_the_island_and_far_out(sea_tiles: Path) -> None:
    """SciPy's surface over the island with zeros all round it, at 20,000 points."""
    say(sea_tiles, SEA)
    row, column = anywhere()
    expected = scipy_surface(wide(island(), 40), row + 40, column + 40)
    found = Ground(sea_tiles).elevation_at(row, column)
    assert np.abs(found - expected).max() < MICROMETRE
    assert (expected == 0).mean() > 0.4


def test_one_raster_has_sea_beyond_its_edge(tmp_path: Path) -> None:
    """From the last post down to 0 m within a cell, and 0 m from there on, also 100 km away."""
    raster = utm_raster(tmp_path, np.full((6, 8), 12.0), name="dem.tif")
    assert np.isnan(at_posts(Ground(raster), [2.0, 2.0], [7.5, 30.0])).all()
    say(raster, SEA)
    rows, columns = [2.0, 2.0, 2.0, 2.0, -0.25, -0.5, 5.5], [7.0, 7.25, 8.0, 1e4, 3.0, -0.5, 7.5]
    expected = [12.0, 9.0, 0.0, 0.0, 9.0, 3.0, 3.0]
    assert at_posts(Ground(raster), rows, columns) == pytest.approx(expected, abs=1e-9)


def test_off_the_earth_there_is_no_sea(tmp_path: Path) -> None:
    """Where the reference system ends nothing is known."""
    raster = utm_raster(tmp_path, np.full((6, 8), 12.0), name="dem.tif")
    say(raster, SEA)
    assert np.isnan(Ground(raster).elevation([3.0, np.nan], [95.0, 45.0])).all()


def test_pieces_of_a_line_over_land_and_sea(sea_tiles: Path) -> None:
    """A line from the sea over the island: at its cuts it is SciPy's ground, nothing is missing."""
    say(sea_tiles, SEA)
    row, column = np.array([-20.0, 24.3, 25.7, 70.0]), np.array([-15.0, 4.1, 33.3, 80.0])
    pieces = Ground(sea_tiles).above_ground(row, column, np.full(4, 100.0))
    assert np.isfinite(pieces.a0).all()
    at = (pieces.start + pieces.stop) / 2
    chord = np.minimum(at.astype(int), 2)
    i, j = (line[chord] + (at - chord) * (line[chord + 1] - line[chord]) for line in (row, column))
    ground = scipy_surface(wide(island(), 60), i + 60, j + 60)
    above = pieces.a0 + pieces.a1 / 2 + pieces.a2 / 4
    assert np.abs(above - (100.0 - ground)).max() < MICROMETRE
    assert pieces.start[0] == 0
    assert pieces.stop[-1] == 3


@pytest.mark.parametrize("place", [(25.0, 30.0), (25.0, 3.0), (-10.0, 20.0), (60.0, 60.0)])
def test_windows_and_posts_agree(sea_tiles: Path, place: tuple[float, float]) -> None:
    """The patches handed out are the island with zeros all round it; none is missing."""
    say(sea_tiles, SEA)
    ground = Ground(sea_tiles)
    row, column = np.array([place[0]]), np.array([place[1]])
    patches = ground.around(row, column, reach_m=150.0)
    assert not patches.has_void
    i, j = np.indices(patches.z.shape)
    expected = wide(island(), 99)[i + patches.row0 + 99, j + patches.column0 + 99]
    assert np.array_equal(patches.z, expected)
    by_post = ground.elevation_at(
        (i + patches.row0).ravel() * 1.0, (j + patches.column0).ravel() * 1.0
    )
    assert np.array_equal(by_post.reshape(patches.z.shape), expected)


def test_what_is_missing_in_a_tile_stays_missing(tmp_path: Path) -> None:
    """A hole in a tile is no sea, at its edge neither; beyond the edge there is sea."""
    z = hills(10, 10)
    z[4, 4] = z[3, 9] = -9999
    raster = utm_raster(tmp_path, z, name="dem.tif", nodata=-9999)
    say(raster, SEA)
    found = at_posts(Ground(raster), [4.0, 4.5, 3.0, 3.5, 6.0], [4.0, 4.5, 9.5, 9.2, 10.0])
    assert np.array_equal(np.isnan(found), [True, True, True, True, False])
    patches = Ground(raster).around(np.array([4.0]), np.array([8.0]), reach_m=60.0)
    assert patches.has_void
    assert np.count_nonzero(np.isnan(patches.z)) == 2


# ------------------------------------------------------------ cells of two sizes


def test_no_sea_runs_between_coarse_tiles_side_by_side(tmp_path: Path) -> None:
    """On the lattice of a finer tile posts between two coarse tiles are missing, never sea."""
    z = hills(10, 20)
    west = utm_raster(tmp_path, z[:, :10], cell_m=30.0, name="west.tif")
    corner = Affine(30.0, 0, CORNER[0] + 300.0, 0, -30.0, CORNER[1])
    east = write_raster(tmp_path / "east.tif", z[:, 10:], transform=corner, crs=UTM31N)
    corner = Affine(10.0, 0, CORNER[0] + 30.0, 0, -10.0, CORNER[1] - 30.0)
    fine = write_raster(tmp_path / "fine.tif", hills(9, 9), transform=corner, crs=UTM31N)
    for path in (west, east, fine):
        say(path, SEA)
    ground = Ground([fine, west, east])
    across = np.linspace(0, 57.0, 900)  # posts of the lattice, from the first to the last
    found = ground.elevation_at(np.full(900, 15.0), across)
    assert np.nanmin(found) >= 300.0  # the lowest ground of both
    between = (across > 27.0 + 1e-9) & (across < 30.0 - 1e-9)  # their posts beside the seam
    assert np.isnan(found[between]).all()
    assert at_posts(ground, [15.0], [70.0]).tolist() == [0.0]


# ------------------------------------------------------------ what was used


def test_the_sea_is_hashed_as_the_ground_it_stands_for(sea_tiles: Path, tmp_path: Path) -> None:
    """The whole with its zeros, and tiles without those that are all zeros: one ground, one hash.

    Without the card the same posts are missing, and that is other ground.
    """
    whole = tmp_path / "whole.tif"

    def hashed() -> tuple[str, str]:
        found = []
        for given in (whole, sea_tiles):
            ground = Ground(given)
            lon, lat = Ground(whole).degrees_at(np.array([25.2]), np.array([9.3]))
            ground.around(*ground.posts_at(lon, lat), reach_m=60.0)
            found.append(ground.used().used_hash)
        return found[0], found[1]

    with_zeros, with_holes = hashed()
    assert with_zeros != with_holes
    say(sea_tiles, SEA)
    assert hashed() == (with_zeros, with_zeros)


def test_posts_of_the_sea_were_not_read(tmp_path: Path) -> None:
    """What was read, and the share of it that is missing, are the tile's own."""
    z = hills(10, 10)
    z[4, 4] = -9999
    raster = utm_raster(tmp_path, z, name="dem.tif", nodata=-9999)
    say(raster, SEA)
    ground = Ground(raster)
    ground.around(np.array([4.0]), np.array([9.0]), reach_m=90.0)
    assert ground.blocks.posts_read == 100
    (used,) = ground.used_files()
    assert used.void_share_read == pytest.approx(1 / 100)


def test_the_sea_does_not_lie_on_the_model(sea_tiles: Path) -> None:
    """With the card and without it the same points lie on tiles."""
    row, column = anywhere(2000)
    before = Ground(sea_tiles).covers(row, column)
    say(sea_tiles, SEA)
    after = Ground(sea_tiles).covers(row, column)
    assert np.array_equal(before, after)
    assert 0.05 < after.mean() < 0.5


# ------------------------------------------------------------ what is said


def told(given: Path, place: tuple[float, float], *, reach_m: float = 60.0) -> tuple[str, ...]:
    """Return what is said once the patches round a place were handed out."""
    ground = Ground(given)
    ground.around(np.array([place[0]]), np.array([place[1]]), reach_m=reach_m)
    return ground.sea_remarks()


def test_the_sea_is_told_of(tmp_path: Path) -> None:
    """By which card, and how high the ground beside it stands: a true shore is low."""
    z = np.full((20, 20), 3.0)
    z[7, 19], z[2, 19] = 41.26, 77.0  # the second lies out of reach
    raster = utm_raster(tmp_path, z, name="dem.tif")
    assert told(raster, (10.0, 18.0)) == ()
    say(raster, SEA)
    expected = (
        "Where no tile is, the sea at 0 m was taken for ground, as dem.tif.toml says "
        "(absent_is_sea); ground beside it stands up to 41.3 m. Tide, waves and what stands in "
        "the water are not in it."
    )
    assert told(raster, (10.0, 18.0)) == (expected,)
    out_at_sea = expected.replace("; ground beside it stands up to 41.3 m", "")
    assert told(raster, (10.0, 90.0)) == (out_at_sea,)


def test_sea_out_of_reach_is_not_told_of(sea_tiles: Path) -> None:
    """Nothing was taken from it."""
    say(sea_tiles, SEA)
    assert told(sea_tiles, (25.0, 30.0)) == ()
    assert len(told(sea_tiles, (25.0, 12.0))) == 1


# ------------------------------------------------------------ what is refused


def test_every_tile_has_to_say_it(sea_tiles: Path) -> None:
    """One that does not, or denies it, and the model is refused with the remedy."""
    first, second, *others = sorted(sea_tiles.iterdir())
    say(first, SEA)
    words = rf"'{second.name}' and {len(others)} more do not: say absent_is_sea = true of every"
    with pytest.raises(RefusedTerrain, match=words):
        Ground(sea_tiles)
    say(sea_tiles, SEA)
    Ground(sea_tiles)
    say(first, "absent_is_sea = false")
    with pytest.raises(RefusedTerrain, match=rf"tiles\.toml says .* '{first.name}' does not: say"):
        Ground(sea_tiles)


@pytest.mark.parametrize(
    ("crs", "line", "refused"),
    [
        ("EPSG:4979", "", True),
        ("EPSG:4326", 'vertical_datum = "EPSG:4979"\n', True),
        ("EPSG:4326", 'vertical_datum = "EPSG:3855"\n', False),
        ("EPSG:4326+5773", "", False),
        ("EPSG:4326", "", False),
    ],
)
def test_sea_is_not_at_zero_of_an_ellipsoid(
    tmp_path: Path, crs: str, line: str, refused: bool
) -> None:
    """Whichever of raster and card says what heights count from; not stated is no ellipsoid."""
    transform = Affine(1e-4, 0, 3.0, 0, -1e-4, 45.0)
    raster = write_raster(tmp_path / "dem.tif", hills(9, 9), transform=transform, crs=crs)
    say(raster, line + SEA)
    if refused:
        with pytest.raises(RefusedTerrain, match=r"dem\.tif\.toml: absent_is_sea: .* an ellipsoid"):
            Ground(raster)
    else:
        assert at_posts(Ground(raster), [4.0], [20.0]).tolist() == [0.0]


def test_a_raster_in_feet_meets_the_same_sea(tmp_path: Path) -> None:
    """Half-way between a last post of 120 ft (36.576 m) and the sea: 18.288 m."""
    raster = utm_raster(tmp_path, np.full((4, 4), 120.0), name="dem.tif")
    with rasterio.open(raster, "r+") as dataset:
        dataset.units = ("ft",)
    say(raster, SEA)
    assert at_posts(Ground(raster), [1.0], [3.5])[0] == pytest.approx(18.288, abs=1e-9)

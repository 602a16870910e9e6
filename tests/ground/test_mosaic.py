"""Several files are one ground: across seams, whatever the tiling; a gap is missing ground."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np
import pytest
import rasterio
from rasterio.transform import Affine

from terrain_guard.ground.model import Ground
from terrain_guard.units import FOOT_M, US_SURVEY_FOOT_M
from tests import reference
from tests.ground.made import CORNER, UTM31N, at_posts, hills, scipy_surface, utm_raster
from tests.ground.tiles import cut, seam_posts
from tests.rasters import write_raster

if TYPE_CHECKING:
    from collections.abc import Callable
    from pathlib import Path

    from terrain_guard.arrays import Floats

MICROMETRE = 1e-6


@pytest.fixture(scope="module", params=[0, 1], ids=["apart", "shared edges"])
def sierra_tiles(
    request: pytest.FixtureRequest, sierra30: Path, tmp_path_factory: pytest.TempPathFactory
) -> Path:
    """Return a folder of real canyon walls in 5 x 5 tiles, with or without shared edges."""
    folder = tmp_path_factory.mktemp("tiles") / "sierra"
    cut(sierra30, folder, shared=request.param, tiled=True, blockxsize=64, blockysize=64)
    return folder


def near_seams(path: Path, count: int) -> tuple[Floats, Floats]:
    """Return (row, column) of points within a cell of the seams between tiles, on them too."""
    random = np.random.default_rng(4)
    rows, columns = seam_posts(path)
    off = random.choice([-1.0, 0.0, 1e-7, 1.0], count) * random.uniform(0, 1, count)
    row, column = random.uniform(0, 1099, (2, count))
    half = count // 2
    row[:half] = random.choice(rows, half) - random.integers(0, 2, half) + off[:half]
    column[half:] = random.choice(columns, count - half) + off[half:]
    return row, column


# ------------------------------------------------------------ seams


def test_across_every_seam_it_is_the_whole(sierra30: Path, sierra_tiles: Path) -> None:
    """SciPy on the whole raster, at 20,000 points within a cell of a seam."""
    row, column = near_seams(sierra30, 20_000)
    whole = reference.read_terrain(sierra30).heights_m
    expected = scipy_surface(whole, row, column)
    found = Ground(sierra_tiles).elevation_at(row, column)
    assert np.abs(found - expected).max() < MICROMETRE


def test_pieces_of_a_line_across_seams_are_those_of_the_whole(
    sierra30: Path, sierra_tiles: Path
) -> None:
    """Lines from corner to corner of the model cross seams; every extreme is the same."""
    row, column = np.array([3.3, 1095.1, 500.0, 500.0]), np.array([7.7, 1090.2, 3.0, 1096.0])
    level = np.full(4, 3000.0)
    whole, tiled = (
        Ground(path).above_ground(row, column, level) for path in (sierra30, sierra_tiles)
    )
    assert np.array_equal(whole.start, tiled.start)
    for name in ("a0", "a1", "a2"):
        assert np.abs(getattr(whole, name) - getattr(tiled, name)).max() < MICROMETRE


def test_patches_and_hash_are_those_of_the_whole(sierra30: Path, sierra_tiles: Path) -> None:
    """The same cells handed out, and the same hash, in whichever order the tiles are named."""
    by_name = sorted(sierra_tiles.iterdir())
    hashes = set()
    for given in (sierra30, sierra_tiles, by_name[::-1], str(sierra_tiles / "*.tif")):
        ground = Ground(given)
        for row, column in ((220.0, 220.0), (439.4, 660.1), (5.0, 880.0)):
            patches = ground.around(np.array([row]), np.array([column]), reach_m=600.0)
            z = reference.read_terrain(sierra30).heights_m
            top, left = max(patches.row0, 0), max(patches.column0, 0)
            bottom = patches.row0 + patches.z.shape[0]
            right = patches.column0 + patches.z.shape[1]
            inside = patches.z[top - patches.row0 :, left - patches.column0 :]
            assert np.array_equal(inside, z[top:bottom, left:right])
        hashes.add(ground.used().used_hash)
    assert len(hashes) == 1


def test_more_tiles_than_needed_leave_the_hash(sierra30: Path, tmp_path: Path) -> None:
    """Tiles that begin elsewhere change the numbers of rows and columns, not the terrain."""
    tiles = cut(sierra30, tmp_path / "tiles")
    hashes = set()
    for given in (tiles, tiles[5:], [tiles[12]], sierra30):
        ground = Ground(given)
        lon, lat = Ground(sierra30).degrees_at(np.array([550.3]), np.array([550.6]))
        ground.around(*ground.posts_at(lon, lat), reach_m=300.0)
        hashes.add(ground.used().used_hash)
    assert len(hashes) == 1


@pytest.mark.parametrize("west_deg", [6.0, 6.0 - 0.5 / 3600, 6.1])
def test_noise_in_the_last_digit_leaves_the_hash(tmp_path: Path, west_deg: float) -> None:
    """Tiles in seconds of arc, corners or posts on whole degrees: each writes its own roundings."""
    second = 1 / 3600
    z = hills(60, 60)
    whole = write_raster(
        tmp_path / "whole.tif", z, transform=Affine(second, 0, west_deg, 0, -second, 45.0),
        crs="EPSG:4326",
    )  # fmt: skip
    hashes = set()
    for number, noise in enumerate((0.0, 3e-13, -3e-13)):
        corner = Affine(second, 0, west_deg + 20 * second + noise, 0, -second, 45.0 - noise)
        path = write_raster(
            tmp_path / f"{number}.tif", z[:, 20:], transform=corner, crs="EPSG:4326"
        )
        ground = Ground(path)
        ground.around(np.array([30.3]), np.array([20.4]), reach_m=200.0)
        hashes.add(ground.used().used_hash)
    ground = Ground(whole)
    ground.around(np.array([30.3]), np.array([40.4]), reach_m=200.0)
    assert hashes == {ground.used().used_hash}


@pytest.mark.parametrize("shared", [0, 1])
@pytest.mark.parametrize("turn_deg", [0.0, 27.0])
def test_a_plane_in_two_tiles(tmp_path: Path, shared: int, turn_deg: float) -> None:
    """The closed form: a plane is a plane across the seam, in a turned grid too."""
    row, column = np.mgrid[0:30, 0:40].astype(float)
    plane = 400.0 + 0.7 * row - 1.3 * column
    turned = Affine.translation(*CORNER) @ Affine.rotation(turn_deg) @ Affine.scale(10.0, -10.0)
    files = [
        write_raster(
            tmp_path / f"{first}.tif", plane[:, first:last],
            transform=turned @ Affine.translation(first, 0), crs=UTM31N,
        )
        for first, last in ((0, 17 + shared), (17, 40))
    ]  # fmt: skip
    random = np.random.default_rng(2)
    i, j = random.uniform(0, 29, 2000), random.uniform(15.0, 19.0, 2000)
    found = at_posts(Ground(files), i.tolist(), j.tolist())
    assert np.abs(found - (400.0 + 0.7 * i - 1.3 * j)).max() < MICROMETRE


def test_tiles_on_both_sides_of_the_antimeridian(tmp_path: Path) -> None:
    """A plane in longitude runs on from 180 east to 180 west."""
    second = 1 / 3600
    lon = 180 + second * (np.arange(-40, 40) + 0.5)
    plane = np.tile(200.0 + 1000.0 * (lon - 180), (50, 1))
    files = [
        write_raster(
            tmp_path / f"{west}.tif", plane[:, part], crs="EPSG:4326",
            transform=Affine(second, 0, west, 0, -second, 10.0),
        )
        for west, part in ((180 - 40 * second, np.s_[:40]), (-180.0, np.s_[40:]))
    ]  # fmt: skip
    ground = Ground(files)
    assert ground.shape == (50, 80)
    at = np.linspace(-39, 39, 501) * second
    found = ground.elevation((at + 180 + 180) % 360 - 180, np.full(at.size, 9.995))
    assert np.abs(found - (200.0 + 1000.0 * at)).max() < MICROMETRE


# ------------------------------------------------------------ gaps


def test_a_removed_tile_is_missing_ground(sierra30: Path, tmp_path: Path) -> None:
    """Nothing in it has ground, nor the cells that need its posts; all else is the whole's."""
    cut(sierra30, tmp_path / "tiles", left_out=[(2, 3)])
    ground = Ground(tmp_path / "tiles")
    random = np.random.default_rng(9)
    row, column = random.uniform(430, 670, 4000), random.uniform(640, 900, 4000)
    holed = reference.read_terrain(sierra30).heights_m.copy()
    holed[440:660, 660:880] = np.nan
    expected = scipy_surface(holed, row, column)
    found = ground.elevation_at(row, column)
    assert np.array_equal(np.isnan(found), np.isnan(expected))
    assert np.nanmax(np.abs(found - expected)) < MICROMETRE
    assert 0.5 < np.isnan(found).mean() < 0.9
    covered = ground.covers(row, column)
    assert np.array_equal(covered, ~np.isnan(expected))  # no voids in the tiles themselves


def test_a_missing_column_between_tiles(tmp_path: Path) -> None:
    """One column of posts gone: the two cells beside it have no ground, and no others."""
    z = hills(20, 30)
    west = utm_raster(tmp_path, z[:, :12], name="west.tif")
    corner = Affine(10.0, 0, CORNER[0] + 130.0, 0, -10.0, CORNER[1])
    east = write_raster(tmp_path / "east.tif", z[:, 13:], transform=corner, crs=UTM31N)
    pieces = Ground([west, east]).above_ground(
        np.full(2, 7.3), np.array([1.0, 28.0]), np.full(2, 900.0)
    )
    missing = np.isnan(pieces.a0)
    assert (pieces.start[missing] * 27 + 1).min() == pytest.approx(11.0)
    assert (pieces.stop[missing] * 27 + 1).max() == pytest.approx(13.0)


# ------------------------------------------------------------ tiles that differ


@pytest.mark.parametrize("foot_m", [FOOT_M, US_SURVEY_FOOT_M])
def test_a_tile_in_feet_beside_one_in_metres(tmp_path: Path, foot_m: float) -> None:
    """Each in its own unit, as 64-bit numbers: the ground of the twin in metres, to 1 mm."""
    z = hills(20, 30)
    twin = Ground(utm_raster(tmp_path, z, name="twin.tif"))
    west = utm_raster(tmp_path, z[:, :12], name="west.tif")
    corner = Affine(10.0, 0, CORNER[0] + 120.0, 0, -10.0, CORNER[1])
    east = write_raster(tmp_path / "east.tif", z[:, 12:] / foot_m, transform=corner, crs=UTM31N)
    with rasterio.open(east, "r+") as dataset:
        dataset.units = ["ft" if foot_m == FOOT_M else "us-ft"]
    random = np.random.default_rng(3)
    row, column = random.uniform(0, 19, 500), random.uniform(0, 29, 500)
    found = Ground([west, east]).elevation_at(row, column)
    assert np.abs(found - twin.elevation_at(row, column)).max() < 1e-3


def test_where_two_tiles_know_a_post_the_first_named_counts(tmp_path: Path) -> None:
    """Values of the first, of the second where the first has none, nothing where neither has."""
    first, second = hills(10, 10, seed=1), hills(10, 10, seed=2)
    first[4, 6] = first[5, 7] = second[5, 3] = -9999
    one = utm_raster(tmp_path, first, name="one.tif", nodata=-9999)
    corner = Affine(10.0, 0, CORNER[0] + 40.0, 0, -10.0, CORNER[1])
    two = write_raster(tmp_path / "two.tif", second, transform=corner, crs=UTM31N, nodata=-9999)
    at = [4.0, 4.0, 5.0, 2.0, 2.0], [5.0, 6.0, 7.0, 12.0, 2.0]
    found = at_posts(Ground([one, two]), *at)
    expected = [first[4, 5], second[4, 2], np.nan, second[2, 8], first[2, 2]]
    assert np.array_equal(found, expected, equal_nan=True)
    assert at_posts(Ground([two, one]), *at)[0] == second[4, 1]


def test_windows_take_posts_from_the_same_tiles(tmp_path: Path) -> None:
    """Three tiles over each other, with holes: a window is its posts one by one."""
    files = []
    for number, (down, right) in enumerate(((0, 0), (40, 30), (20, 80))):
        z = hills(12, 12, seed=number)
        z[np.random.default_rng(number).random(z.shape) < 0.3] = -9999
        corner = Affine(10.0, 0, CORNER[0] + right, 0, -10.0, CORNER[1] - down)
        path = tmp_path / f"{number}.tif"
        files.append(write_raster(path, z, transform=corner, crs=UTM31N, nodata=-9999))
    mosaic = Ground(files).blocks
    rows, columns = (-2, 18), (-1, 22)
    row, column = np.meshgrid(np.arange(*rows), np.arange(*columns), indexing="ij")
    by_post = mosaic.posts(row.ravel(), column.ravel()).reshape(row.shape)
    assert np.array_equal(mosaic.window(rows, columns), by_post, equal_nan=True)
    assert 0.2 < np.isnan(by_post).mean() < 0.8


# ------------------------------------------------------------ cells of two sizes

STEPS: dict[str, tuple[float, float, float]] = {
    "three to one": (30.0, 10.0, 0.0),  # every third post is a post of both
    "two to one": (20.0, 10.0, 0.0),  # posts of the coarse lie half way between
    "three to two": (15.0, 10.0, 0.0),
    "ten to one, moved by a quarter": (10.0, 1.0, 0.25),
}
"""Coarse and fine cell, and how far the fine one is moved, metres."""


@pytest.mark.parametrize("case", STEPS)
def test_fine_within_coarse(tmp_path: Path, case: str) -> None:
    """In the fine tile it is the fine ground, a fine cell outside it the coarse ground: SciPy's."""
    coarse_m, fine_m, moved_m = STEPS[case]
    coarse, fine = hills(30, 30, seed=5), hills(40, 36, seed=6)
    outer = utm_raster(tmp_path, coarse, cell_m=coarse_m, name="outer.tif")
    start = round(12 * coarse_m / fine_m) * fine_m + moved_m
    west, north = CORNER[0] + start, CORNER[1] - start
    inner = write_raster(
        tmp_path / "inner.tif", fine, transform=Affine(fine_m, 0, west, 0, -fine_m, north),
        crs=UTM31N,
    )  # fmt: skip
    ground = Ground([inner, outer])
    random = np.random.default_rng(7)
    east, south = random.uniform(coarse_m / 2, 29.5 * coarse_m, (2, 20_000))
    lattice = ground.raster.affine
    i = (south - (CORNER[1] - lattice[5])) / -lattice[4] - 0.5
    j = (east - (lattice[2] - CORNER[0])) / lattice[0] - 0.5
    found = ground.elevation_at(i, j)
    fine_i, fine_j = (south - start) / fine_m - 0.5, (east - start) / fine_m - 0.5
    inside = (fine_i >= 0) & (fine_i <= 39) & (fine_j >= 0) & (fine_j <= 35)
    outside = (fine_i < -1) | (fine_i > 40) | (fine_j < -1) | (fine_j > 36)
    assert inside.sum() > 20
    assert outside.sum() > 10_000
    by_fine = scipy_surface(fine, fine_i, fine_j)
    by_coarse = scipy_surface(coarse, south / coarse_m - 0.5, east / coarse_m - 0.5)
    assert np.abs(found - by_fine)[inside].max() < MICROMETRE
    assert np.abs(found - by_coarse)[outside].max() < MICROMETRE
    assert not np.isnan(found).any()
    assert ground.coarsest_cell_m == pytest.approx(coarse_m, rel=1e-3)
    assert ground.finest_cell_m == pytest.approx(fine_m, rel=1e-3)


# ------------------------------------------------------------ what was used


def test_only_files_that_were_read_are_listed(sierra30: Path, sierra_tiles: Path) -> None:
    """Four tiles meet at a corner; each of them is listed, with one hash for all."""
    ground = Ground(sierra_tiles)
    assert ground.used_files() == ()
    ground.around(np.array([220.0]), np.array([440.0]), reach_m=100.0)
    used = ground.used_files()
    assert [one.file for one in used] == [f"tile_{n}.tif" for n in ("01", "02", "11", "12")]
    assert len({one.used_hash for one in used}) == 1
    assert used[0].size_bytes == (sierra_tiles / "tile_01.tif").stat().st_size
    assert Ground(sierra30).used_files()[0].file == "sierra30.tif"


def test_a_tile_is_opened_when_it_is_needed(sierra_tiles: Path) -> None:
    """Two points, two tiles, two blocks."""
    ground = Ground(sierra_tiles)
    ground.elevation_at(np.array([10.5, 900.5]), np.array([10.5, 1000.5]))
    assert ground.blocks.blocks_read == 2


# ------------------------------------------------------------ refusals


def _other_system(folder: Path) -> Path:
    return utm_raster(folder, hills(9, 9), name="second.tif", crs="EPSG:32632")


def _other_datum(folder: Path) -> Path:
    return utm_raster(folder, hills(9, 9), name="second.tif", crs="EPSG:32631+5773")


def _mirrored(folder: Path) -> Path:
    moved = Affine(10.0, 0, CORNER[0] + 200, 0, 10.0, CORNER[1])
    return utm_raster(folder, hills(9, 9), name="second.tif", transform=moved)


def _turned(folder: Path) -> Path:
    moved = Affine(10.0, 0.1, CORNER[0] + 200, 0.1, -10.0, CORNER[1])
    return utm_raster(folder, hills(9, 9), name="second.tif", transform=moved)


def _misfit(folder: Path) -> Path:
    return utm_raster(folder, hills(9, 9), name="second.tif", cell_m=9.3)


def _beside(folder: Path) -> Path:
    moved = Affine(10.0, 0, CORNER[0] + 201.3, 0, -10.0, CORNER[1])
    return utm_raster(folder, hills(9, 9), name="second.tif", transform=moved)


def _under(folder: Path) -> Path:
    return utm_raster(folder, hills(9, 9), name="second.tif")


def _finer_but_second(folder: Path) -> Path:
    moved = Affine(1.0, 0, CORNER[0] + 20, 0, -1.0, CORNER[1] - 20)
    return utm_raster(folder, hills(50, 50), name="second.tif", transform=moved)


@pytest.mark.parametrize(
    ("second", "words"),
    [
        (_other_system, "'first.tif' is in EPSG:32631 and 'second.tif' in EPSG:32632: one"),
        (_other_datum, "from a datum it does not state and 'second.tif' from EGM96 geoid: one"),
        (_mirrored, "'second.tif' is turned or mirrored against 'first.tif'"),
        (_turned, "'second.tif' is turned or mirrored against"),
        (_misfit, r"no tiles of one grid \(cells of .* do not fit into each other\)"),
        (_beside, r"no tiles of one grid \(their cells do not line up\)"),
        (_under, "'second.tif' lies under 'first.tif', named before it, and would not count"),
        (_finer_but_second, "'second.tif' lies under 'first.tif', .* name the better one first"),
    ],
)
def test_what_is_no_one_model(tmp_path: Path, second: Callable[[Path], Path], words: str) -> None:
    """One sentence that names both files, and what to do."""
    first = utm_raster(tmp_path, hills(10, 10), name="first.tif")
    with pytest.raises(ValueError, match=words) as caught:
        Ground([first, second(tmp_path)])
    assert "\n" not in str(caught.value)


def test_feet_and_metres_of_one_datum_are_one_datum(tmp_path: Path) -> None:
    """NAVD88 in US survey feet (EPSG:6360) beside NAVD88 in metres (EPSG:5703)."""
    z = hills(10, 20)
    west = utm_raster(tmp_path, z[:, :10], name="west.tif", crs="EPSG:32611+5703")
    corner = Affine(10.0, 0, CORNER[0] + 100.0, 0, -10.0, CORNER[1])
    east = write_raster(
        tmp_path / "east.tif", z[:, 10:] / US_SURVEY_FOOT_M, transform=corner,
        crs="EPSG:32611+6360",
    )  # fmt: skip
    found = at_posts(Ground([west, east]), [5.0, 5.0], [9.5, 15.0])
    expected = [(z[5, 9] + z[5, 10]) / 2, z[5, 15]]
    assert found == pytest.approx(expected, abs=1e-6)

"""Hundreds of tiles are described from notes; a note that no longer holds is never believed."""

from __future__ import annotations

import json
import os
from typing import TYPE_CHECKING, Any

import numpy as np
import pytest
import rasterio

from terrain_guard.errors import RefusedTerrain
from terrain_guard.ground import index
from terrain_guard.ground.index import WORTH_NOTING, describe
from terrain_guard.ground.model import Ground
from terrain_guard.ground.raster import Raster, open_raster, same_description
from tests.ground.made import at_posts, hills, utm_raster
from tests.ground.tiles import cut
from tests.rasters import write_raster

if TYPE_CHECKING:
    from pathlib import Path

SIDE = 12


@pytest.fixture(scope="module")
def tiles(tmp_path_factory: pytest.TempPathFactory) -> list[Path]:
    """Return 144 small tiles."""
    folder = tmp_path_factory.mktemp("many")
    whole = utm_raster(folder, hills(SIDE * 6, SIDE * 6), name="whole.tif", nodata=-9999)
    return cut(whole, folder / "tiles", pieces=SIDE)


@pytest.fixture
def few(tmp_path: Path) -> list[Path]:
    """Return just enough tiles to be worth noting, which a test may change."""
    whole = utm_raster(tmp_path, hills(40, 40), name="whole.tif")
    return cut(whole, tmp_path / "few", pieces=4)


@pytest.fixture
def opened(monkeypatch: pytest.MonkeyPatch) -> list[Path]:
    """Return the list of files that are opened to be described, from now on."""
    found: list[Path] = []

    def counted(path: Path) -> Raster:
        found.append(path)
        return open_raster(path)

    monkeypatch.setattr(index, "open_raster", counted)
    return found


def test_the_second_time_nothing_is_opened(
    tiles: list[Path], tmp_path: Path, opened: list[Path]
) -> None:
    """Every description, to the last digit, is that of the file."""
    cold = describe(tiles, folder=tmp_path / "notes")
    assert (opened, cold.from_notes) == (tiles, False)
    warm = describe(tiles, folder=tmp_path / "notes")
    assert (opened, warm.from_notes) == (tiles, True)
    for one, other in zip(cold.rasters, warm.rasters, strict=True):
        assert same_description(one, other)
        assert other.crs.equals(one.crs)


def test_rasterio_opens_only_tiles_whose_values_are_read(
    tiles: list[Path], tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """The whole way: one corner of four tiles, and no other file is opened."""
    monkeypatch.setattr(index, "cache_folder", lambda: tmp_path / "notes")
    before = Ground(tiles).raster.affine
    names, real = [], rasterio.open

    def counted(path: Any, *arguments: Any, **more: Any) -> Any:
        names.append(os.path.basename(path))  # noqa: PTH119 - whatever rasterio is given
        return real(path, *arguments, **more)

    monkeypatch.setattr(rasterio, "open", counted)
    ground = Ground(tiles)
    assert (ground.raster.affine, names) == (before, [])
    assert at_posts(ground, [5.5], [5.5]) == pytest.approx(hills(72, 72)[5:7, 5:7].mean())
    assert set(names) == {"tile_0000.tif", "tile_0001.tif", "tile_0100.tif", "tile_0101.tif"}


def test_a_few_files_leave_no_notes(few: list[Path], tmp_path: Path) -> None:
    """Where nothing is gained, nothing is written."""
    describe(few[: WORTH_NOTING - 1], folder=tmp_path / "notes")
    assert not (tmp_path / "notes").exists()


def test_a_file_that_changed_is_opened_anew(
    few: list[Path], tmp_path: Path, opened: list[Path]
) -> None:
    """Another time, another size, or something new beside it."""
    notes = tmp_path / "notes"
    describe(few, folder=notes)
    opened.clear()
    os.utime(few[1], ns=(1, 1))
    few[2].write_bytes(few[2].read_bytes() + b" ")
    few[3].with_name(few[3].name + ".aux.xml").write_text(
        "<PAMDataset><PAMRasterBand band='1'><UnitType>ft</UnitType></PAMRasterBand></PAMDataset>"
    )
    again = describe(few, folder=notes)
    assert opened == few[1:4]
    assert again.rasters[3].unit_text == "ft"
    opened.clear()
    assert describe(few, folder=notes).rasters[3].unit_text == "ft"
    assert opened == []


def test_a_change_that_no_one_can_see_is_found_when_values_are_read(
    few: list[Path], tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """The same size and time, other terrain: the tile moved a kilometre. Refused, not misplaced."""
    monkeypatch.setattr(index, "cache_folder", lambda: tmp_path / "notes")
    Ground(few)
    status = few[0].stat()
    with rasterio.open(few[0]) as tile:
        moved = rasterio.Affine.translation(1000.0, 0.0) @ tile.transform
        z, crs = tile.read(1), tile.crs
    write_raster(few[0], z, crs=crs, transform=moved)
    assert few[0].stat().st_size == status.st_size
    os.utime(few[0], ns=(status.st_atime_ns, status.st_mtime_ns))
    ground = Ground(few)
    assert not np.isnan(at_posts(ground, [35.0], [35.0])[0])
    with pytest.raises(RefusedTerrain, match=r"'tile_00\.tif' has changed though its size and"):
        at_posts(ground, [2.0], [2.0])


@pytest.mark.parametrize(
    "content",
    [
        "",
        "{",
        "[]",
        '{"by": 1}',
        '{"by": "another version", "tiles": {}}',
        "[" * 100_000,
        '{"tiles": 3}',
    ],
)
def test_notes_that_make_no_sense_are_done_without(
    few: list[Path], tmp_path: Path, opened: list[Path], content: str
) -> None:
    """Every tile is opened, and the notes are written anew."""
    notes = tmp_path / "notes"
    describe(few, folder=notes)
    (file,) = notes.iterdir()
    file.write_text(content)
    opened.clear()
    assert len(describe(few, folder=notes).rasters) == len(few)
    assert opened == few
    assert len(json.loads(file.read_text())["tiles"]) == len(few)


@pytest.mark.parametrize(
    ("key", "value"),
    [
        ("affine", [1, 2]),
        ("dtype", "heights"),
        ("width", "wide"),
        ("crs", "nowhere"),
        ("scale", None),
    ],
)
def test_one_note_that_makes_no_sense(
    few: list[Path], tmp_path: Path, opened: list[Path], key: str, value: object
) -> None:
    """That tile is opened, the others are not."""
    notes = tmp_path / "notes"
    describe(few, folder=notes)
    (file,) = notes.iterdir()
    content = json.loads(file.read_text())
    content["tiles"][os.path.abspath(few[5])][key] = value  # noqa: PTH100 - as noted
    file.write_text(json.dumps(content))
    opened.clear()
    describe(few, folder=notes)
    assert opened == [few[5]]


def test_where_notes_cannot_be_written(few: list[Path], tmp_path: Path, opened: list[Path]) -> None:
    """A file stands where the folder would be: every tile is opened, nothing is refused."""
    (tmp_path / "notes").write_text("in the way")
    for _ in range(2):
        describe(few, folder=tmp_path / "notes")
    assert opened == [*few, *few]


def test_a_missing_tile_is_refused_by_name(few: list[Path], tmp_path: Path) -> None:
    """With notes and without."""
    notes = tmp_path / "notes"
    describe(few, folder=notes)
    few[4].unlink()
    with pytest.raises(RefusedTerrain, match=r"tile_10\.tif' is not a file"):
        describe(few, folder=notes)


def test_the_cache_folder_is_the_platform_s(
    monkeypatch: pytest.MonkeyPatch, tmp_path: Path
) -> None:
    """XDG's on Linux, Library/Caches on macOS, LOCALAPPDATA on Windows."""
    monkeypatch.setenv("XDG_CACHE_HOME", str(tmp_path / "xdg"))
    monkeypatch.setenv("LOCALAPPDATA", str(tmp_path / "local"))
    for platform, ending in (
        ("linux", "xdg/terrain-guard"),
        ("darwin", "Library/Caches/terrain-guard"),
        ("win32", "local/terrain-guard/Cache"),
    ):
        monkeypatch.setattr("sys.platform", platform)
        assert index.cache_folder().as_posix().endswith(ending)
    monkeypatch.setattr("sys.platform", "linux")
    monkeypatch.delenv("XDG_CACHE_HOME")
    assert index.cache_folder().as_posix().endswith(".cache/terrain-guard")

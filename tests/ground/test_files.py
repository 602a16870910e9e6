"""Which files are meant by a file, a folder and a pattern."""

from __future__ import annotations

import os
from typing import TYPE_CHECKING

import pytest

from terrain_guard.errors import RefusedTerrain
from terrain_guard.ground.files import expand

if TYPE_CHECKING:
    from pathlib import Path


@pytest.fixture
def folder(tmp_path: Path) -> Path:
    """Return a folder of tiles and other things."""
    for name in ("b.tif", "a.TIF", "c.hgt", "notes.txt", "b.tif.toml", "b.tif.aux.xml"):
        (tmp_path / name).write_text("")
    (tmp_path / "more").mkdir()
    (tmp_path / "more" / "d.tif").write_text("")
    (tmp_path / "folder.tif").mkdir()
    return tmp_path


def names(*given: object, folder: Path) -> list[str]:
    """Return what is meant, by name."""
    return [path.relative_to(folder).as_posix() for path in expand(given)]  # type: ignore[arg-type]


def test_a_folder_is_its_tiles_by_name(folder: Path) -> None:
    """Not what lies beside them, nor the folders in it."""
    assert names(folder, folder=folder) == ["a.TIF", "b.tif", "c.hgt"]


def test_patterns(folder: Path) -> None:
    """By name; two stars go into folders; what is no file is left out."""
    assert names(str(folder / "*.tif"), folder=folder) == ["b.tif"]
    assert names(str(folder / "**" / "*.tif"), folder=folder) == ["b.tif", "more/d.tif"]
    assert names(str(folder / "[bc].*[ft]"), folder=folder) == ["b.tif", "c.hgt"]


def test_the_order_given_is_kept_and_nothing_counts_twice(folder: Path) -> None:
    """A file that is named and lies in a folder that is named stands where it was first."""
    given = (folder / "more" / "d.tif", folder / "c.hgt", folder, folder / "more" / ".." / "b.tif")
    assert names(*given, folder=folder) == ["more/d.tif", "c.hgt", "a.TIF", "b.tif"]


def test_one_path_and_one_text(folder: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """One alone need not be a list; names stay as they were given."""
    monkeypatch.chdir(folder)
    assert [os.fspath(path) for path in expand("b.tif")] == ["b.tif"]
    assert expand(folder / "b.tif") == (folder / "b.tif",)


def test_a_file_may_be_called_anything(folder: Path) -> None:
    """A file that is there is no pattern; one that is not is left to the opening."""
    odd = folder / "tile[1].dem"
    odd.write_text("")
    assert expand(odd) == (odd,)
    assert expand(folder / "none.tif") == (folder / "none.tif",)


@pytest.mark.parametrize(
    ("given", "words"),
    [
        ([], "no elevation model given"),
        (["{}/x*.tif"], "matches no file: check the folder and the pattern"),
        (["{}/more/empty"], "holds no elevation file"),
        (["{}/*.txt/*.tif"], "matches no file"),
    ],
)
def test_nothing_there(folder: Path, given: list[str], words: str) -> None:
    """One sentence, with what was given."""
    (folder / "more" / "empty").mkdir()
    with pytest.raises(RefusedTerrain, match=words):
        expand([one.format(folder) for one in given])

"""Which files make up the elevation model: a file, a folder of tiles, a pattern, or several.

Nothing is opened here. What is named first stays first; within a folder or a
pattern, files come by name.
"""

from __future__ import annotations

import glob
import os.path
from collections.abc import Sequence
from pathlib import Path
from typing import Final

from terrain_guard.errors import RefusedTerrain

ENDINGS: Final = frozenset(
    {".tif", ".tiff", ".hgt", ".dt0", ".dt1", ".dt2", ".asc", ".bil", ".flt", ".img"}
)
"""What the tiles in a folder end in; a file that is named may end in anything."""


def expand(given: str | Path | Sequence[str | Path]) -> tuple[Path, ...]:
    """Return the files that are meant, each once.

    Parameters
    ----------
    given : path, or sequence of paths
        Files, folders (their tiles, not those of folders inside them) and patterns with
        ``*``, ``?``, ``[…]`` or ``**``.

    Raises
    ------
    RefusedTerrain
        Nothing is named, or a folder or a pattern holds no tile.
    """
    named = [given] if isinstance(given, (str, Path)) else list(given)
    if not named:
        msg = "no elevation model given: give a file, a folder of tiles, or a pattern"
        raise RefusedTerrain(msg)
    files = [file for one in named for file in _files(Path(one))]
    once: dict[Path, Path] = {}
    for file in files:
        once.setdefault(_place(file), file)
    return tuple(once.values())


def card_files(model: Path) -> tuple[Path, Path]:
    """Return where the cards of a model may lie: beside it, and beside its folder.

    >>> [path.name for path in card_files(Path("tiles/a.tif"))]
    ['a.tif.toml', 'tiles.toml']
    """
    folder = os.path.abspath(model.parent)  # noqa: PTH100 - as named: links are not followed
    return model.with_name(f"{model.name}.toml"), Path(f"{folder}.toml")


def _place(file: Path) -> Path:
    """Return a file's full name, to tell two ways to the same file."""
    try:
        return file.resolve()
    except (OSError, RuntimeError):  # a loop of links, a drive that went away
        return file.absolute()


def _files(path: Path) -> list[Path]:
    if path.is_dir():
        return _tiles_in(path)
    if path.exists() or not any(sign in str(path) for sign in "*?["):
        return [path]  # whether it is a model is asked where it is opened
    found = sorted(map(Path, glob.glob(str(path), recursive=True)))  # noqa: PTH207 - takes full paths
    files = [file for file in found if file.is_file()]
    if not files:
        msg = f"{str(path)!r} matches no file: check the folder and the pattern"
        raise RefusedTerrain(msg)
    return files


def _tiles_in(folder: Path) -> list[Path]:
    try:
        inside = sorted(folder.iterdir())
    except OSError as error:
        msg = f"{str(folder)!r} cannot be listed ({error.strerror}): check that it may be read"
        raise RefusedTerrain(msg) from error
    tiles = [file for file in inside if file.suffix.lower() in ENDINGS and file.is_file()]
    if not tiles:
        msg = (
            f"{str(folder)!r} holds no elevation file (.tif, .hgt and the like): give the folder "
            "that does, or a pattern such as 'folder/**/*.tif'"
        )
        raise RefusedTerrain(msg)
    return tiles

"""Describe hundreds of tiles without opening them all, every time.

What each file says of itself is noted in the user's cache folder, one file of
notes for each folder that holds all tiles given. A note counts as long as the
tile, and whatever lies beside it that would be read too, has the size and the
time it had. Notes that cannot be read or written are done without; a tile whose
values are read is described anew in any case (see `mosaic`), so that a wrong note
is found out. Cards are read anew each time, and no note holds what they say.
"""

from __future__ import annotations

import hashlib
import json
import os
import sys
import tempfile
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass
from datetime import date
from functools import lru_cache
from pathlib import Path
from typing import Any, Final

import numpy as np
import pyproj
import rasterio

from terrain_guard.ground.card import read_cards
from terrain_guard.ground.carded import carded
from terrain_guard.ground.raster import Raster, open_raster

WORTH_NOTING: Final = 16
"""From this many tiles on, notes are kept."""
MOST_NOTES: Final = 20_000
BESIDE_NAME: Final = (".aux.xml", ".msk", ".ovr")
BESIDE_STEM: Final = (".aux", ".tfw", ".tifw", ".wld", ".prj", ".hdr")
"""What GDAL may read beside a tile."""
_MADE_BY: Final = f"1, rasterio {rasterio.__version__}, GDAL {rasterio.__gdal_version__}"


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Described:
    """Rasters in the order given, and whether any description comes from a note."""

    rasters: tuple[Raster, ...]
    from_notes: bool


def describe(
    paths: Sequence[Path], *, folder: Path | None = None, today: date | None = None
) -> Described:
    """Describe every file, by its note where that still holds, with what its card adds.

    Parameters
    ----------
    paths : sequence of Path
        The files.
    folder : Path, optional
        The folder of the notes; the user's own cache folder unless given. It is made.
    today : date, optional
        No survey is later.

    Raises
    ------
    RefusedTerrain
        As `open_raster`, `read_cards` and `carded`.
    """
    bare = _described(paths, folder)
    cards = read_cards(paths, today=today or date.today())
    return Described(
        rasters=tuple(map(carded, bare.rasters, cards)),
        from_notes=bare.from_notes,
    )


def _described(paths: Sequence[Path], folder: Path | None) -> Described:
    """Describe every file by itself."""
    if len(paths) < WORTH_NOTING:
        return Described(rasters=tuple(map(open_raster, paths)), from_notes=False)
    notes = _Notes(paths, cache_folder() if folder is None else folder)
    rasters = tuple(map(notes.raster, paths))
    notes.keep()
    return Described(rasters=rasters, from_notes=notes.were_used)


def cache_folder() -> Path:
    """Return the folder for what may be thrown away, by the custom of each platform."""
    home = Path.home()
    if sys.platform == "win32":
        base = Path(os.environ.get("LOCALAPPDATA", home / "AppData" / "Local"))
        return base / "terrain-guard" / "Cache"
    if sys.platform == "darwin":
        return home / "Library" / "Caches" / "terrain-guard"
    return Path(os.environ.get("XDG_CACHE_HOME") or home / ".cache") / "terrain-guard"


class _Notes:
    """The notes about the tiles below one folder, by their full names."""

    def __init__(self, paths: Sequence[Path], folder: Path) -> None:
        self._file = folder / f"tiles-{_name_of_all(paths)}.json"
        self._known = _read(self._file)
        self._new: dict[str, Any] = {}
        self._beside: dict[Path, frozenset[str]] = {}
        self.were_used = False

    def raster(self, path: Path) -> Raster:
        """Describe one file."""
        name, stamp = _full(path), self._stamp(path)
        note = self._known.get(name, {})
        raster = _from_note(path, note) if note.get("stamp") == stamp else None
        if raster is not None:
            self.were_used = True
            return raster
        raster = open_raster(path)
        self._new[name] = {"stamp": stamp, **_to_note(raster)}
        return raster

    def _stamp(self, path: Path) -> list[list[Any]]:
        """Return name, size and time of a file and of everything that is read with it."""
        if path.parent not in self._beside:
            self._beside[path.parent] = _listing(path.parent)
        inside = self._beside[path.parent]
        beside = [path.name + end for end in BESIDE_NAME] + [path.stem + end for end in BESIDE_STEM]
        names = [path.name, *(name for name in beside if name in inside)]
        return [[name, *_size_and_time(path.with_name(name))] for name in names]

    def keep(self) -> None:
        """Write the notes, with the new ones; where that cannot be done, do without."""
        if not self._new:
            return
        tiles = {**self._new, **{n: note for n, note in self._known.items() if n not in self._new}}
        tiles = dict(list(tiles.items())[:MOST_NOTES])
        content = json.dumps({"by": _MADE_BY, "tiles": tiles})  # escapes all that is not ASCII
        try:
            self._file.parent.mkdir(parents=True, exist_ok=True)
            handle, draft = tempfile.mkstemp(dir=self._file.parent, prefix=self._file.stem)
        except OSError:
            return
        try:
            with os.fdopen(handle, "w", encoding="ascii") as stream:
                stream.write(content)
            Path(draft).replace(self._file)
        except OSError:
            Path(draft).unlink(missing_ok=True)


def _full(path: Path) -> str:
    return os.path.abspath(path)  # noqa: PTH100 - without asking the disk for links, file by file


def _name_of_all(paths: Sequence[Path]) -> str:
    """Return a name for the folder that holds all files."""
    parents = sorted({_full(path.parent) for path in paths})
    try:
        common = os.path.commonpath(parents)
    except ValueError:  # on several drives
        common = parents[0]
    return hashlib.sha256(os.fsencode(common)).hexdigest()[:32]


def _listing(folder: Path) -> frozenset[str]:
    try:
        return frozenset(os.listdir(folder))  # noqa: PTH208 - names alone, of thousands of files
    except OSError:
        return frozenset()


def _size_and_time(path: Path) -> tuple[int, int]:
    try:
        status = path.stat()
    except OSError:
        return -1, -1  # refused where it is opened
    return status.st_size, status.st_mtime_ns


def _read(file: Path) -> dict[str, dict[str, Any]]:
    """Return the notes; none where they cannot be read or were made by another version."""
    try:
        content = json.loads(file.read_bytes())
        if content["by"] != _MADE_BY:
            return {}
        return {str(name): dict(note) for name, note in content["tiles"].items()}
    except (OSError, ValueError, KeyError, TypeError, AttributeError, RecursionError):
        return {}


def _number_or_none(value: Any) -> float | None:
    return None if value is None else float(value)


_PLAIN: Final[Mapping[str, Callable[[Any], Any]]] = {
    "size_bytes": int,
    "width": int,
    "height": int,
    "crs_text": str,
    "vertical_datum": str,
    "unit_m": float,
    "unit_text": str,
    "registration": str,
    "nodata": _number_or_none,
    "scale": float,
    "offset": float,
    "has_mask": bool,
    "may_be_sparse": bool,
}


def _to_note(raster: Raster) -> dict[str, Any]:
    return {
        **{name: getattr(raster, name) for name in _PLAIN},
        "affine": raster.affine,
        "cell_m": raster.cell_m,
        "block_shape": raster.block_shape,
        "dtype": raster.dtype.str,
        "crs": raster.crs.to_wkt(),
        "vertical": None if raster.vertical is None else raster.vertical.to_wkt(),
    }


def _from_note(path: Path, note: Mapping[str, Any]) -> Raster | None:
    """Return the raster that a note describes, or None if it makes no sense."""
    try:
        a, b, c, d, e, f = map(float, note["affine"])
        rows, columns = map(int, note["block_shape"])
        side_across, side_down = map(float, note["cell_m"])
        return Raster(
            path=path,
            affine=(a, b, c, d, e, f),
            block_shape=(rows, columns),
            cell_m=(side_across, side_down),
            dtype=np.dtype(note["dtype"]),
            crs=_crs(note["crs"]),
            vertical=None if note["vertical"] is None else _crs(note["vertical"]),
            **{name: read(note[name]) for name, read in _PLAIN.items()},
        )
    except (KeyError, TypeError, ValueError, pyproj.exceptions.CRSError):
        return None


@lru_cache(maxsize=64)
def _crs(wkt: str) -> pyproj.CRS:
    return pyproj.CRS.from_wkt(wkt)

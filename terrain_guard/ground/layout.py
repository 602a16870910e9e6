"""Several rasters as one: where the posts of each stand among the posts of all.

Rasters of one reference system are laid over one lattice of posts::

      ·───·───·───·───●   ·  post of the lattice
      │       │           ○  post of a coarser tile: every second of the lattice
      ·   ·   ○   ·   ○   ●  last post of the finer tile: where both know the ground,
      │               │      the tile named first counts
      ·───·───·───·───●

Where all cells are alike, the lattice is theirs. Where they differ by a simple
ratio, the lattice is the widest that holds the posts of all: between posts of a
coarser tile its bilinear ground is taken at the lattice's, and that is the same
ground, for a part of a bilinear patch is a bilinear patch. Anything else would
have to be resampled, and is refused.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass, replace
from fractions import Fraction
from typing import Final, NoReturn

import numpy as np
import pyproj

from terrain_guard.arrays import Floats
from terrain_guard.errors import RefusedTerrain
from terrain_guard.ground.raster import Raster, is_ellipsoidal, with_cell_size

SMALL_PART: Final = 1e-3
"""How far off the lattice a post may stand, in cells."""
FINEST_SPLIT: Final = 8
"""Into how many parts a cell may have to be split for a common lattice."""


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Tile:
    """One raster on the lattice: its post (i, j) is the lattice's (row + i·step, …)."""

    raster: Raster
    row: int
    column: int
    row_step: int = 1
    column_step: int = 1

    @property
    def last_row(self) -> int:
        """The lattice row of its last row of posts."""
        return self.row + (self.raster.height - 1) * self.row_step

    @property
    def last_column(self) -> int:
        """The lattice column of its last column of posts."""
        return self.column + (self.raster.width - 1) * self.column_step

    @property
    def box(self) -> tuple[int, int, int, int]:
        """Top, bottom, left and right of its posts on the lattice, [start, stop) each."""
        return self.row, self.last_row + 1, self.column, self.last_column + 1

    @property
    def is_on_every_post(self) -> bool:
        """Whether its cells are the lattice's."""
        return self.row_step == 1 and self.column_step == 1


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Layout:
    """Tiles, those that count first, and the lattice as if it were one raster without values."""

    lattice: Raster
    tiles: tuple[Tile, ...]

    def outline(self) -> tuple[Floats, Floats]:
        """Return (row, column) of points round the edge of each tile."""
        share = np.linspace(0, 1, max(257 // len(self.tiles), 9))
        edge = np.concatenate((share * 0, share, share * 0 + 1, share))
        turned = np.concatenate((share, share * 0 + 1, share, share * 0))
        rows = [tile.row + edge * (tile.last_row - tile.row) for tile in self.tiles]
        columns = [tile.column + turned * (tile.last_column - tile.column) for tile in self.tiles]
        return np.concatenate(rows), np.concatenate(columns)


def lay_out(rasters: Sequence[Raster]) -> Layout:
    """Lay rasters over one lattice.

    Parameters
    ----------
    rasters : sequence of Raster
        First named first. Where two know a post, that of higher priority counts, and of equal
        priority the one named first.

    Raises
    ------
    RefusedTerrain
        They differ in reference system or vertical datum, are turned against each other, or
        have no common lattice.
    """
    if len(rasters) == 1:
        return Layout(lattice=rasters[0], tiles=(Tile(raster=rasters[0], row=0, column=0),))
    rasters = sorted(rasters, key=lambda raster: -raster.card.priority)  # stable
    base = min(rasters, key=lambda raster: (_cell_area(raster), raster.affine[:2]))
    for raster in rasters:
        _refuse_other_system(base, raster)
        _refuse_other_datum(base, raster)
    cells = [_in_cells_of(base, raster) for raster in rasters]
    down = _axis(base, rasters, [(one.row, one.row_step) for one in cells], "height")
    across = _axis(base, rasters, [(one.column, one.column_step) for one in cells], "width")
    top, left = min(start for start, _ in down.posts), min(start for start, _ in across.posts)
    tiles = tuple(
        Tile(raster=raster, row=row - top, column=column - left, row_step=i, column_step=j)
        for raster, (row, i), (column, j) in zip(rasters, down.posts, across.posts, strict=True)
    )
    return Layout(
        lattice=_lattice(base, tiles, (top, left), (down.split, across.split)), tiles=tiles
    )


# -- one plane -----------------------------------------------------------------


def _cell_area(raster: Raster) -> float:
    a, b, _, d, e, _ = raster.affine
    return abs(a * e - b * d)


def _refuse_other_system(base: Raster, raster: Raster) -> None:
    if raster.crs is base.crs or raster.crs.equals(base.crs, ignore_axis_order=True):
        return
    codes = [one.crs.to_authority(min_confidence=70) for one in (base, raster)]
    if codes[0] is not None and codes[0] == codes[1]:  # the same, under another name
        return
    msg = (
        f"{base.path.name!r} is in {base.crs_text} and {raster.path.name!r} in {raster.crs_text}: "
        "one model has one reference system; give tiles of one, or merge them into one file first"
    )
    raise RefusedTerrain(msg)


def _refuse_other_datum(base: Raster, raster: Raster) -> None:
    if zero_of(base.vertical) == zero_of(raster.vertical):
        return
    msg = (
        f"{base.path.name!r} counts its heights from {_said(base)} and {raster.path.name!r} from "
        f"{_said(raster)}: one model has one vertical datum; convert the tiles to one, or write "
        "into the files what is true of them"
    )
    raise RefusedTerrain(msg)


def _said(raster: Raster) -> str:
    if raster.vertical is None:
        return "a datum it does not state"
    return zero_of(raster.vertical)


def zero_of(vertical: pyproj.CRS | None) -> str:
    """Return what heights in a vertical system count from, in words; empty where not stated.

    >>> zero_of(pyproj.CRS(6360)) == zero_of(pyproj.CRS(5703))  # feet and metres
    True
    >>> zero_of(pyproj.CRS(5773)), zero_of(pyproj.CRS(4979))
    ('EGM96 geoid', 'the ellipsoid')
    """
    if vertical is None:
        return ""
    if is_ellipsoidal(vertical):
        return "the ellipsoid"
    return str(vertical.name if vertical.datum is None else vertical.datum.name)


# -- one lattice -----------------------------------------------------------------


@dataclass(frozen=True, slots=True, kw_only=True)
class _InCells:
    """Where a raster's first post stands, and how far apart its posts, in cells of another."""

    row: float
    column: float
    row_step: float
    column_step: float


def _in_cells_of(base: Raster, raster: Raster) -> _InCells:
    a, b, c, d, e, f = base.affine
    plane = np.array([[a, b], [d, e]])
    steps = np.linalg.solve(plane, np.array(raster.affine).reshape(2, 3)[:, :2])
    turned = abs(steps[0, 1]) * raster.height, abs(steps[1, 0]) * raster.width
    if not max(turned) < SMALL_PART or not (steps[0, 0] > 0 and steps[1, 1] > 0):
        msg = (
            f"{raster.path.name!r} is turned or mirrored against {base.path.name!r}: tiles of one "
            "model have rows and columns along the same lines; merge them into one file first"
        )
        raise RefusedTerrain(msg)
    first = np.array(raster.affine).reshape(2, 3) @ (0.5, 0.5, 1.0) - (c, f)
    column, row = np.linalg.solve(plane, first) - 0.5
    if base.crs.is_geographic and b == 0:
        column -= _turns_away(base, column + raster.width * steps[0, 0] / 2)
    return _InCells(row=row, column=column, row_step=steps[1, 1], column_step=steps[0, 0])


def _turns_away(base: Raster, middle: float) -> float:
    """Return how many cells of whole turns round the earth lie between a column and a raster."""
    turn = 2 * math.pi / base.crs.axis_info[0].unit_conversion_factor / base.affine[0]
    return turn * round((middle - base.width / 2) / turn)


@dataclass(frozen=True, slots=True, kw_only=True)
class _Axis:
    """One axis: into how many parts the base's cells are split; (first post, step) of each."""

    split: int
    posts: list[tuple[int, int]]


def _axis(
    base: Raster, rasters: Sequence[Raster], found: Sequence[tuple[float, float]], side: str
) -> _Axis:
    exact = [
        _exactly(base, raster, start, step, count=getattr(raster, side))
        for raster, (start, step) in zip(rasters, found, strict=True)
    ]
    split = math.lcm(*(part.denominator for pair in exact for part in pair))
    if split > FINEST_SPLIT:
        _refuse_no_lattice(base, max(zip(exact, rasters, strict=True), key=_parts)[1])
    return _Axis(split=split, posts=[(int(i * split), int(n * split)) for i, n in exact])


def _parts(one: tuple[tuple[Fraction, Fraction], Raster]) -> int:
    return max(part.denominator for part in one[0])


def _exactly(
    base: Raster, raster: Raster, start: float, step: float, *, count: int
) -> tuple[Fraction, Fraction]:
    first, apart = _simple(start, SMALL_PART), _simple(step, SMALL_PART / count)
    if first is None or apart is None:
        _refuse_no_lattice(base, raster)
    return first, apart


def _simple(value: float, tolerance: float) -> Fraction | None:
    """Return the simple fraction that a number stands for, or None.

    >>> _simple(1.49999999, 1e-6), _simple(0.123, 1e-6)
    (Fraction(3, 2), None)
    """
    near = Fraction(value).limit_denominator(FINEST_SPLIT)
    return near if abs(value - near) < tolerance else None


def _refuse_no_lattice(base: Raster, raster: Raster) -> NoReturn:
    sides = [" x ".join(f"{s:.4g}" for s in one.cell_m) for one in (base, raster)]
    alike = sides[0] == sides[1]
    how = (
        "their cells do not line up"
        if alike
        else f"cells of {sides[0]} m and of {sides[1]} m do not fit into each other"
    )
    msg = (
        f"{base.path.name!r} and {raster.path.name!r} are no tiles of one grid ({how}): give tiles "
        "of one grid, or merge them into one file first"
    )
    raise RefusedTerrain(msg)


def _lattice(
    base: Raster, tiles: Sequence[Tile], first: tuple[int, int], split: tuple[int, int]
) -> Raster:
    """Return the lattice as a raster: the base's cells, split, over the extent of all tiles."""
    a, b, c, d, e, f = base.affine
    across, down = np.array([a, d]) / split[1], np.array([b, e]) / split[0]
    middle = np.array([c, f]) + np.array([[a, b], [d, e]]) @ (0.5, 0.5)
    corner = middle + first[0] * down + first[1] * across - (across + down) / 2
    a, b, d, e, c, f = (float(side) for side in (across[0], down[0], across[1], down[1], *corner))
    affine = (a, b, c, d, e, f)
    for tile in tiles:
        if (tile.row, tile.column) == (0, 0) and tile.is_on_every_post and split == (1, 1):
            affine = tile.raster.affine  # to the last digit, as if it were the whole
            break
    lattice = replace(
        base,
        affine=affine,
        height=max(tile.last_row for tile in tiles) + 1,
        width=max(tile.last_column for tile in tiles) + 1,
    )
    return with_cell_size(lattice)

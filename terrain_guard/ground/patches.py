"""The cell patches near a stretch of curve, ready for a nearest-point search.

A window of posts is covered by square groups of cells, and groups of groups.
Each group carries a plane and how far the surface strays from it, so that a
search can put a group aside without looking at its cells:

::

        · · ·  surface within ± stray_m of the plane,
      ╱─────╱  and within a known distance of the group's middle
     ╱──●──╱
    ╱─────╱
"""

from __future__ import annotations

import warnings
from collections.abc import Callable
from dataclasses import dataclass
from typing import TypeAlias

import numpy as np

from terrain_guard.arrays import Bools, Floats
from terrain_guard.path.frame import WGS84, LocalFrame

GROUP_SIZES = (4, 16, 64, 256)  # cells along one side
FIT_TOLERANCE_M = 1e-3

Degrees: TypeAlias = Callable[[Floats, Floats], tuple[Floats, Floats]]
"""From (row, column) to (lon, lat)."""


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class LocalMap:
    """From post numbers to metres near one place: two cubics, fitted to exact points.

    Arrays are coefficients (4, 4) over powers of row and column offsets,
    scaled to −1…1 across the window.
    """

    middle: tuple[float, float]  # row, column
    half: tuple[float, float]
    east: Floats
    north: Floats

    @classmethod
    def over(cls, rows: tuple[int, int], columns: tuple[int, int], degrees_at: Degrees) -> LocalMap:
        """Fit the map to a window of posts, first and last row and column given."""
        i, j = np.meshgrid(np.linspace(*rows, 6), np.linspace(*columns, 6), indexing="ij")
        lon, lat = degrees_at(i.ravel(), j.ravel())
        frame = LocalFrame.around(lon, lat)
        found, error = cls.fit(i.ravel(), j.ravel(), *frame.to_local(lon, lat))
        if not error < FIT_TOLERANCE_M:
            warnings.warn(f"local map off by {error:.4f} m", stacklevel=2)
        return found

    @classmethod
    def fit(
        cls, rows: Floats, columns: Floats, east: Floats, north: Floats
    ) -> tuple[LocalMap, float]:
        """Fit the map to (n,) points; return it with its greatest error in metres."""
        middle = (rows.max() + rows.min()) / 2, (columns.max() + columns.min()) / 2
        half = max(float(np.ptp(rows)) / 2, 1.0), max(float(np.ptp(columns)) / 2, 1.0)
        i, j = (rows - middle[0]) / half[0], (columns - middle[1]) / half[1]
        basis = np.stack([i**p * j**q for p in range(4) for q in range(4) if p + q < 4], axis=1)
        slots = [(p, q) for p in range(4) for q in range(4) if p + q < 4]
        found, *_ = np.linalg.lstsq(basis, np.stack((east, north), axis=1), rcond=None)
        error = float(np.abs(basis @ found - np.stack((east, north), axis=1)).max())
        cubic = np.zeros((2, 4, 4))
        for k, (p, q) in enumerate(slots):
            cubic[:, p, q] = found[k]
        return cls(middle=middle, half=half, east=cubic[0], north=cubic[1]), error

    def metres(self, row: Floats, column: Floats) -> tuple[Floats, Floats]:
        """Return (east, north) in metres of fractional posts."""
        i, j = (row - self.middle[0]) / self.half[0], (column - self.middle[1]) / self.half[1]
        value = np.polynomial.polynomial.polyval2d
        return value(i, j, self.east), value(i, j, self.north)

    def jacobian(self, row: Floats, column: Floats) -> Floats:
        """Return (n, 2, 2): metres (east, north) per (column, row) at fractional posts."""
        i, j = (row - self.middle[0]) / self.half[0], (column - self.middle[1]) / self.half[1]
        out = np.zeros((np.size(row), 2, 2))
        value = np.polynomial.polynomial.polyval2d
        derivative = np.polynomial.polynomial.polyder
        for k, cubic in enumerate((self.east, self.north)):
            out[:, k, 0] = value(i, j, derivative(cubic, axis=1)) / self.half[1]
            out[:, k, 1] = value(i, j, derivative(cubic, axis=0)) / self.half[0]
        return out


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Groups:
    """Planes over the square groups of one size; arrays are (group rows, group columns).

    ``plane`` is the elevation of the plane at the group's middle, ``per_column``
    and ``per_row`` its slopes in metres per cell; the known surface stays within
    ``stray_m`` of it (−inf: no known cell). ``has_void``: some cell is missing.
    """

    size: int
    plane: Floats
    per_column: Floats
    per_row: Floats
    stray_m: Floats
    has_void: Bools


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Patches:
    """A window of posts with its groups, smallest groups first.

    ``z[i, j]`` is the elevation of post (row0 + i, column0 + j), NaN if missing.
    """

    z: Floats
    row0: int
    column0: int
    map: LocalMap
    groups: tuple[Groups, ...]
    has_void: bool


def cell_near(row: Floats, column: Floats, degrees_at: Degrees) -> tuple[float, float]:
    """Return the size of a cell (along a row, along a column) in metres near points."""
    i, j = float(np.median(row)), float(np.median(column))
    lon, lat = degrees_at(np.array([i, i, i + 1]), np.array([j, j + 1, j]))
    _, _, size = WGS84.inv(lon[[0, 0]], lat[[0, 0]], lon[1:], lat[1:])
    return float(size[0]), float(size[1])


def group_sizes(reach_cells: float) -> tuple[int, ...]:
    """Return the sizes of group that are worth while for a search that reaches so far."""
    return tuple(size for size in GROUP_SIZES if size * 1.5 <= reach_cells)


def group_up(z: Floats, sizes: tuple[int, ...]) -> tuple[Groups, ...]:
    """Cover the cells of `z` (posts) by groups; a cell count per side is a multiple of each size.

    The smallest groups are laid over the posts, larger ones over smaller ones.
    """
    groups: list[Groups] = []
    for size in sizes:
        plane, per_column, per_row = _planes(z, size)
        if groups:
            low, high, void = _stray_of_groups(groups[-1], size, plane, per_column, per_row)
        else:
            low, high, void = _stray_of_posts(z, size, plane, per_column, per_row)
        known = high >= low
        low, high = np.where(known, low, 0.0), np.where(known, high, 0.0)
        groups.append(
            Groups(
                size=size,
                plane=np.where(known, plane + (low + high) / 2, 0.0),
                per_column=per_column,
                per_row=per_row,
                stray_m=np.where(known, (high - low) / 2, -np.inf),
                has_void=void,
            )
        )
    return tuple(groups)


def _planes(z: Floats, size: int) -> tuple[Floats, Floats, Floats]:
    """Return each group's plane through the mean of its corners; level where one is missing."""
    a, b = z[:-1:size, :-1:size], z[:-1:size, size::size]
    c, d = z[size::size, :-1:size], z[size::size, size::size]
    per_column = ((b + d) - (a + c)) / (2 * size)
    per_row = ((c + d) - (a + b)) / (2 * size)
    plane = (a + b + c + d) / 4
    blind = np.isnan(plane)
    if blind.any():
        per_column, per_row, plane = (
            np.where(blind, 0.0, values) for values in (per_column, per_row, plane)
        )
    return plane, per_column, per_row


def _stray_of_posts(
    z: Floats, size: int, plane: Floats, per_column: Floats, per_row: Floats
) -> tuple[Floats, Floats, Bools]:
    """Return how far posts lie below and above the plane, and where some are missing."""
    rows, columns = plane.shape
    low, high = np.full(plane.shape, np.inf), np.full(plane.shape, -np.inf)
    void = np.zeros(plane.shape, dtype=bool)
    for i in range(size + 1):
        across = plane + per_row * (i - size / 2)
        for j in range(size + 1):
            posts = z[i : i + rows * size : size, j : j + columns * size : size]
            rest = posts - (across + per_column * (j - size / 2))
            np.fmin(low, rest, out=low)
            np.fmax(high, rest, out=high)
            void |= np.isnan(rest)
    return low, high, void


def _stray_of_groups(
    finer: Groups, size: int, plane: Floats, per_column: Floats, per_row: Floats
) -> tuple[Floats, Floats, Bools]:
    """Bound the same from the planes of finer groups."""
    ratio, half = size // finer.size, finer.size / 2
    low, high = np.full(plane.shape, np.inf), np.full(plane.shape, -np.inf)
    void = np.zeros(plane.shape, dtype=bool)
    for i in range(ratio):
        across = plane + per_row * ((i + 0.5) * finer.size - size / 2)
        for j in range(ratio):
            pick = (slice(i, None, ratio), slice(j, None, ratio))
            middle = across + per_column * ((j + 0.5) * finer.size - size / 2)
            tilt = np.abs(finer.per_column[pick] - per_column)
            tilt = (tilt + np.abs(finer.per_row[pick] - per_row)) * half
            rest, stray = finer.plane[pick] - middle, finer.stray_m[pick] + tilt
            known = finer.stray_m[pick] >= 0
            np.minimum(low, np.where(known, rest - stray, np.inf), out=low)
            np.maximum(high, np.where(known, rest + stray, -np.inf), out=high)
            void |= finer.has_void[pick]
    return low, high, void

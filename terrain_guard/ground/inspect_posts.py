"""Single posts that look wrong: spikes and pits, standing zeros, numbers that are no heights.

A spike or a pit is one post that stands off all of its neighbours::

      b  c  d        four chords lead over the post: a–h, b–g, c–f, d–e by their
      a  ●  h        middles; a spike is above the highest of them, and above every
      e  f  g        neighbour

On any slope, however steep, the four middles lie on the slope, so that a slope alone
is no spike; at a cliff they differ by as much as the post stands off, so that a
corner of a cliff is none either.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import Any, Final

import numpy as np
import rasterio
from numpy.typing import NDArray
from rasterio.windows import Window

from terrain_guard.arrays import Bools, Floats, Ints
from terrain_guard.ground.blocks import SENTINELS
from terrain_guard.ground.inspect_parts import Part, View, block_is_written, blocks_of
from terrain_guard.ground.raster import ENVIRONMENT, Raster

STRAY_M: Final = 5.0
"""Least that a spike or a pit stands off: the 5 m is common practice, no source."""
STRAY_CELLS: Final = 0.5
"""And least of it in cells. Our own choice: on 30 to 90 m cells of real canyons, ridges and
towns a post stands off by at most 0.4 cells, but for one step in a gully (0.8)."""
STRAY_SPREAD: Final = 2.0
"""And least of it in the spread of the four chords. Our own choice, as above."""
ABOVE_CELLS: Final = 0.1
"""How far it is beyond the nearest of its neighbours, in cells. Our own choice: the step in
the gully is beyond its neighbours by 0.03."""
STANDING_M: Final = 10.0
"""Zeros are no shore if every neighbour is that far off. Our own choice: on real coasts of
30 m cells some neighbour of the sea is always within 3 m."""
VOID_NUMBERS: Final = (*SENTINELS, 32767, 65535, 99999)
"""Numbers that often stand for missing ground. Common practice, no source."""
VOID_SIZE: Final = 1e30
"""Larger numbers are the ends of a floating-point range, not measurements."""
_AROUND: Final = [(i, j) for i in (-1, 0, 1) for j in (-1, 0, 1) if i or j]


@dataclass(frozen=True, slots=True, kw_only=True)
class Marks:
    """Posts of one kind: how many, and where the worst is; -1: nowhere."""

    count: int = 0
    worst: float = math.nan
    row: int = -1
    column: int = -1

    def plus(self, other: Marks) -> Marks:
        """Return both together."""
        if not (self.count and other.count):
            return self if self.count else other
        worse = self if abs(self.worst) >= abs(other.worst) else other
        return Marks(
            count=self.count + other.count,
            worst=worse.worst,
            row=worse.row,
            column=worse.column,
        )


NO_MARKS: Final = Marks()


def marks(rows: Ints, columns: Ints, size: NDArray[Any], *, origin: tuple[int, int]) -> Marks:
    """Mark posts of an array whose first post is `origin`; the largest |size| is the worst."""
    if not rows.size:
        return NO_MARKS
    worst = int(np.argmax(np.abs(size)))
    return Marks(
        count=int(rows.size),
        worst=float(size[worst]),
        row=origin[0] + int(rows[worst]),
        column=origin[1] + int(columns[worst]),
    )


# ---------------------------------------------------------------- spikes and pits


def strays(seen: View, *, cell_m: float) -> tuple[Marks, Marks]:
    """Return spikes and pits; ``worst`` is how far (m) they stand off.

    Not judged: the outermost posts of the model, and posts with more than one missing
    chord. A blunder of two posts or more side by side is not found.
    """
    z = seen.z.astype(np.float32)  # half a millimetre is enough here
    low, high = _chords(z)
    least = max(STRAY_M, STRAY_CELLS * cell_m)
    above = np.nonzero(z[1:-1, 1:-1] - high > least)  # NaN fails
    below = np.nonzero(low - z[1:-1, 1:-1] > least)
    spread = high[above] - low[above], high[below] - low[below]
    return (
        _stray(seen, *above, nearest=high[above], spread=spread[0], cell_m=cell_m, sign=1),
        _stray(seen, *below, nearest=low[below], spread=spread[1], cell_m=cell_m, sign=-1),
    )


def _chords(z: Floats) -> tuple[Floats, Floats]:
    """Return the lowest and the highest middle of the four chords over each inner post."""
    pairs = (
        (z[1:-1, 2:], z[1:-1, :-2]),
        (z[2:, 1:-1], z[:-2, 1:-1]),
        (z[2:, 2:], z[:-2, :-2]),
        (z[2:, :-2], z[:-2, 2:]),
    )
    low = pairs[0][0] + pairs[0][1]
    high = low.copy()
    for a, b in pairs[1:]:
        both = a + b
        np.fmin(low, both, out=low)
        np.fmax(high, both, out=high)
    low /= 2
    high /= 2
    return low, high


def _stray(
    seen: View,
    rows: Ints,
    columns: Ints,
    *,
    nearest: Floats,
    spread: Floats,
    cell_m: float,
    sign: int,
) -> Marks:
    rows, columns = rows + 1, columns + 1  # chords begin one post in
    around = np.stack([sign * seen.z[rows + i, columns + j] for i, j in _AROUND])
    chords = np.count_nonzero(np.isfinite(around[:4] + around[:3:-1]), axis=0)
    size = sign * (seen.z[rows, columns] - nearest)
    beyond = sign * seen.z[rows, columns] - np.fmax.reduce(around, axis=0)
    keep = (size > STRAY_SPREAD * spread) & (beyond > ABOVE_CELLS * cell_m)
    keep &= (chords >= 3) & _is_inner(seen, rows, columns)
    return marks(rows[keep], columns[keep], size[keep], origin=(seen.row, seen.column))


def _is_inner(seen: View, rows: Ints, columns: Ints) -> Bools:
    down, across = seen.inner
    return (
        (rows >= down.start)
        & (rows < down.stop)
        & (columns >= across.start)
        & (columns < across.stop)
    )


# ---------------------------------------------------------------- zeros


def standing_zeros(seen: View, *, zero_m: float) -> tuple[Marks, Bools]:
    """Return zeros that no neighbour comes near to, with how far off the nearest is; and which.

    Connected zeros are one body: the sea has a low shore somewhere, and so is none of these.
    """
    zero = seen.z == zero_m
    if not zero.any():
        return NO_MARKS, zero
    from scipy import ndimage  # slow to import, seldom needed

    whole = np.ones((3, 3))
    area, count = ndimage.label(zero, structure=whole)
    near = ndimage.grey_dilation(area, footprint=whole)
    shore = (near > 0) & ~zero & np.isfinite(seen.z)
    off = np.abs(seen.z[shore] - zero_m)
    nearest = np.full(count + 1, np.inf)
    np.minimum.at(nearest, near[shore], off)
    standing = (nearest >= STANDING_M) & np.isfinite(nearest)
    standing[0] = False
    which = standing[area]
    rows, columns = np.nonzero(which)
    keep = _is_inner(seen, rows, columns)
    rows, columns = rows[keep], columns[keep]
    size = nearest[area[rows, columns]]
    return marks(rows, columns, size, origin=(seen.row, seen.column)), which


# ---------------------------------------------------------------- what is missing


@dataclass(frozen=True, slots=True, kw_only=True)
class Missing:
    """Missing posts, by what stands in the file instead; ``worst`` is that number."""

    declared: Marks = NO_MARKS  # declared as missing, masked, NaN, or never written
    void_numbers: Marks = NO_MARKS  # numbers commonly used for missing ground, not declared
    no_heights: Marks = NO_MARKS  # other numbers that cannot be elevations
    hidden_zeros: Marks = NO_MARKS  # zeros next to ground far higher or lower
    declared_zeros: Marks = NO_MARKS  # of the declared ones, where zero is declared missing

    def plus(self, other: Missing) -> Missing:
        """Return both together."""
        return Missing(
            declared=self.declared.plus(other.declared),
            void_numbers=self.void_numbers.plus(other.void_numbers),
            no_heights=self.no_heights.plus(other.no_heights),
            hidden_zeros=self.hidden_zeros.plus(other.hidden_zeros),
            declared_zeros=self.declared_zeros.plus(other.declared_zeros),
        )

    @property
    def count(self) -> int:
        """All missing posts."""
        kinds = (self.declared, self.void_numbers, self.no_heights, self.hidden_zeros)
        return sum(kind.count for kind in kinds)


NOTHING_MISSING: Final = Missing()


def missing(seen: View, raster: Raster) -> Missing:
    """Say why posts are missing; the file is read again only where some are."""
    absent = np.isnan(seen.z[seen.inner])
    if not absent.any():
        return NOTHING_MISSING
    part, origin = seen.part, (seen.part.rows[0], seen.part.columns[0])
    with rasterio.Env(**ENVIRONMENT), rasterio.open(raster.path) as dataset:
        raw = dataset.read(1, window=_window(part))
        declared = absent & _declared(dataset, raster, raw, part)
    undeclared = absent & ~declared
    zero = undeclared & (raw == 0)
    void = undeclared & ~zero & (np.isin(raw, VOID_NUMBERS) | ~(np.abs(raw) < VOID_SIZE))

    def of(which: Bools) -> Marks:
        i, j = np.nonzero(which)
        return marks(i, j, raw[i, j].astype(float), origin=origin)

    return Missing(
        declared=of(declared),
        void_numbers=of(void),
        no_heights=of(undeclared & ~zero & ~void),
        hidden_zeros=of(zero),
        declared_zeros=of(declared & (raw == 0)) if raster.nodata == 0 else NO_MARKS,
    )


def _declared(dataset: Any, raster: Raster, raw: NDArray[Any], part: Part) -> Bools:
    """Return which posts the file itself says are missing."""
    declared = np.isnan(raw)
    if raster.nodata is not None:
        with np.errstate(over="ignore"):  # a larger number than the file can hold
            declared |= raw == (
                raw.dtype.type(raster.nodata) if raw.dtype.kind == "f" else raster.nodata
            )
    if raster.has_mask:
        declared |= dataset.read_masks(1, window=_window(part)) == 0
    if raster.may_be_sparse:
        declared |= _never_written(dataset, raster, part)
    return np.asarray(declared)


def _never_written(dataset: Any, raster: Raster, part: Part) -> Bools:
    """Return which posts lie in blocks that a sparse file left out."""
    (height, width), (top, bottom), (left, right) = raster.block_shape, part.rows, part.columns
    out = np.zeros((bottom - top, right - left), dtype=bool)
    for row, column in blocks_of(raster, part):
        if not block_is_written(dataset, row, column):
            first, before = row * height - top, column * width - left
            out[max(first, 0) : first + height, max(before, 0) : before + width] = True
    return out


def _window(part: Part) -> Window:
    return Window.from_slices(part.rows, part.columns)

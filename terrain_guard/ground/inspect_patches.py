"""Patches that look drawn rather than surveyed: level ones, and smooth ones on rough ground.

*Level*: at least 7 x 7 posts without a millimetre between neighbours; that is water,
or missing ground filled with one height. *Smooth*: over 7 x 7 posts the second
differences are a tenth of those around, in every one of eight directions::

        ╲ rough ╱         rough in all eight: a hole that was filled, or a lake
    rough ┌───┐ rough     whose surface was surveyed with some noise
          │ ~ │           smooth in some: a valley floor, a glacier, a road
    rough └───┘ rough
        ╱ rough ╲

A smooth patch that is hardly tilted counts as level. What was filled by copying the
texture of other ground, or over more than about 40 posts, is not found.
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import Final

import numpy as np

from terrain_guard.arrays import Bools, Floats, Ints
from terrain_guard.ground.inspect_parts import View

WINDOW: Final = 7
"""Posts along the side of the smallest patch. Common practice, no source."""
LEVEL_STEP_M: Final = 1e-3
"""More than a float of 32 bits rounds, less than any ground rises."""
ROUGHER: Final = 10.0
"""How much rougher it must be around. Our own choice: in 1.3 million posts of real mountains
nothing but water is that smooth; seven times is met by one rock slab."""
SHIFTS: Final = (10, 16, 24)
"""Posts to the ground around: outside a hole of 15 posts, of 27, of 43."""
ROUGH_CELLS: Final = 0.02
ROUGH_M: Final = 0.1
"""Ground is not rough below that, in cells and metres. Our own choice."""
ROUGH_STEPS: Final = 3.0
"""Nor below that, in steps between heights. Our own choice: rounding alone makes 0.7."""
LEVEL_SLOPE: Final = 0.02
"""A smooth patch of less slope is level. Our own choice: noisy lakes have up to 1.5 %."""
UNKNOWN_DIRECTIONS: Final = 3
"""Directions that may lead off the model, or into missing ground."""
MOST_JOINED: Final = 3000
"""Pieces on the edges of parts that are joined across them: more take too long."""
SAME_LEVEL_M: Final = 0.01
_HALF: Final = WINDOW // 2
_REACH: Final = _HALF + 1  # a second difference takes one post more
_DIRECTIONS: Final = [(i, j) for i in (-1, 0, 1) for j in (-1, 0, 1) if i or j]


@dataclass(frozen=True, slots=True, kw_only=True)
class Patch:
    """Connected posts of one kind; ponds of two levels that touch are one.

    ``row, column`` is the post nearest to the middle; ``box`` is (first row, last row,
    first column, last column); ``on_edge``: it may go on in the next part.
    """

    level: bool
    posts: int
    row: int
    column: int
    box: tuple[int, int, int, int]
    elevation_m: float
    on_edge: bool


def patches(seen: View, *, cell_m: tuple[float, float], step_m: float) -> tuple[Patch, ...]:
    """Return the level and the smooth patches of one part.

    Parameters
    ----------
    cell_m : (float, float)
        Sides of a cell along a row and along a column, metres.
    step_m : float
        Step between heights (m), 0 if there is none: rounding is not roughness.
    """
    level = _level(seen.z)
    cores = _smooth_cores(seen, cell_m=min(cell_m), step_m=step_m) & ~level
    smooth = _grown(cores)
    if cores.any():
        hardly_tilted = _hardly_tilted(seen.z, cores, smooth, cell_m)
        level |= hardly_tilted
        smooth &= ~level
    return (*_pieces(seen, level, level=True), *_pieces(seen, smooth, level=False))


# ---------------------------------------------------------------- level


def _level(z: Floats) -> Bools:
    """Return the posts of all squares of 7 x 7 that are level."""
    if not _level_runs(z[::WINDOW]).any():  # each square lies on one of these rows
        return np.zeros(z.shape, dtype=bool)
    rows = _level_runs(z)
    down = np.abs(z[1:, : rows.shape[1]] - z[:-1, : rows.shape[1]]) <= LEVEL_STEP_M
    first = _all_of(rows, WINDOW, axis=0) & _all_of(down, WINDOW - 1, axis=0)
    return _spread(np.pad(first, ((0, WINDOW - 1), (0, WINDOW - 1))), back=0, on=WINDOW - 1)


def _level_runs(z: Floats) -> Bools:
    """Return where 7 posts of a row, from here on, are level."""
    right = np.abs(z[:, 1:] - z[:, :-1]) <= LEVEL_STEP_M  # NaN fails
    return _all_of(right, WINDOW - 1, axis=1)


def _all_of(mask: Bools, count: int, *, axis: int) -> Bools:
    """Return where `count` posts from here on, along an axis, are all true."""
    length = mask.shape[axis] - count + 1
    shifted = [mask[k : k + length] if axis == 0 else mask[:, k : k + length] for k in range(count)]
    return np.asarray(np.logical_and.reduce(shifted))


def _spread(mask: Bools, *, back: int, on: int) -> Bools:
    """Spread true posts over so many rows and columns back and on."""
    height, width = mask.shape
    padded = np.pad(mask, (on, back))
    shifts = range(on + back + 1)
    tall = np.logical_or.reduce([padded[k : k + height] for k in shifts])
    return np.asarray(np.logical_or.reduce([tall[:, k : k + width] for k in shifts]))


# ---------------------------------------------------------------- smooth


def _smooth_cores(seen: View, *, cell_m: float, step_m: float) -> Bools:
    """Return the middles of smooth windows on ground that is rough all round."""
    rough = _roughness(seen.z)
    least = max(ROUGH_M, ROUGH_CELLS * cell_m, ROUGH_STEPS * step_m) ** 2
    rounding = step_m**2 / 2  # (1 + 4 + 1) step² / 12: second differences of rounded heights
    limit = np.maximum(ROUGHER**2 * (rough - rounding), least)
    down, across = (slice(side.start - _REACH, side.stop + _REACH) for side in seen.inner)
    candidates = np.zeros(rough.shape, dtype=bool)
    candidates[down, across][::2, ::2] = True  # a hole is wider than one post
    first = _rough_all_round(rough, limit, candidates)
    return _rough_all_round(rough, limit, _spread(first, back=1, on=1) & ~first) | first


def _rough_all_round(rough: Floats, limit: Floats, candidates: Bools) -> Bools:
    """Return the candidates around which, in every direction known, roughness reaches the limit."""
    rows, columns = np.nonzero(candidates & np.isfinite(limit))
    unknown = np.zeros(rows.size, dtype=np.int64)
    for direction in _DIRECTIONS:
        around = _towards(rough, rows, columns, direction)
        blind = np.isnan(around)
        unknown += blind
        keep = (around >= limit[rows, columns]) | (blind & (unknown <= UNKNOWN_DIRECTIONS))
        rows, columns, unknown = rows[keep], columns[keep], unknown[keep]
    out = np.zeros(rough.shape, dtype=bool)
    out[rows, columns] = True
    return out


def _roughness(z: Floats) -> Floats:
    """Return the mean square second difference over 7 x 7 posts (m²); NaN next to missing ones."""
    from scipy import ndimage  # slow to import

    z = z.astype(np.float32)
    squares = np.full(z.shape, np.nan, dtype=np.float32)
    middle = z[1:-1, 1:-1] * 2
    squares[1:-1, 1:-1] = (z[1:-1, 2:] + z[1:-1, :-2] - middle) ** 2
    squares[1:-1, 1:-1] += (z[2:, 1:-1] + z[:-2, 1:-1] - middle) ** 2
    blind = np.isnan(squares)
    squares[blind] = 0
    rough = ndimage.uniform_filter(squares, WINDOW)
    rough /= 2
    np.maximum(rough, 0, out=rough)  # a running sum may end a hair below nothing
    rough[_spread(blind, back=_HALF, on=_HALF)] = np.nan
    return rough


def _towards(rough: Floats, rows: Ints, columns: Ints, direction: tuple[int, int]) -> Floats:
    """Return the greatest roughness in one direction; NaN where nothing is known there."""
    found = np.full(rows.size, np.nan, dtype=rough.dtype)
    for shift in SHIFTS:
        np.fmax(
            found, rough[rows + shift * direction[0], columns + shift * direction[1]], out=found
        )
    return found


def _grown(cores: Bools) -> Bools:
    """Return all posts whose heights went into the windows around the cores."""
    return _spread(cores, back=_REACH, on=_REACH)


def _hardly_tilted(z: Floats, cores: Bools, smooth: Bools, cell_m: tuple[float, float]) -> Bools:
    """Return the smooth patches whose middling slope is small enough for water."""
    from scipy import ndimage

    rows, columns = np.nonzero(cores)
    east = (z[rows, columns + _HALF] - z[rows, columns - _HALF]) / (2 * _HALF * cell_m[0])
    north = (z[rows + _HALF, columns] - z[rows - _HALF, columns]) / (2 * _HALF * cell_m[1])
    area, count = ndimage.label(smooth, structure=np.ones((3, 3)))
    slopes = ndimage.median(np.hypot(east, north), area[rows, columns], range(1, count + 1))
    return np.isin(area, 1 + np.flatnonzero(np.asarray(slopes) < LEVEL_SLOPE))


# ---------------------------------------------------------------- pieces


def _pieces(seen: View, mask: Bools, *, level: bool) -> list[Patch]:
    """Return the connected pieces of a mask within the part itself."""
    own = mask[seen.inner]
    if not own.any():
        return []
    from scipy import ndimage

    area, _ = ndimage.label(own, structure=np.ones((3, 3)))
    found = []
    for number, box in enumerate(ndimage.find_objects(area), start=1):
        i, j = np.nonzero(area[box] == number)
        found.append(_piece(seen, i + box[0].start, j + box[1].start, level=level))
    return found


def _piece(seen: View, i: Ints, j: Ints, *, level: bool) -> Patch:
    """Describe one piece, given by its posts counted within the part."""
    z = seen.z[seen.inner]
    middle = int(np.argmin((i - i.mean()) ** 2 + (j - j.mean()) ** 2))
    (top, _), (left, _) = seen.part.rows, seen.part.columns
    first, last = (int(i.min()), int(j.min())), (int(i.max()), int(j.max()))
    return Patch(
        level=level,
        posts=int(i.size),
        row=top + int(i[middle]),
        column=left + int(j[middle]),
        box=(top + first[0], top + last[0], left + first[1], left + last[1]),
        elevation_m=float(np.median(z[i, j])),
        on_edge=0 in first or last[0] == z.shape[0] - 1 or last[1] == z.shape[1] - 1,
    )


def joined(found: tuple[Patch, ...]) -> tuple[Patch, ...]:
    """Join pieces that parts cut: of one kind and elevation, their boxes side by side."""
    cut = [piece for piece in found if piece.on_edge]
    if not 2 <= len(cut) <= MOST_JOINED:
        return found
    from scipy.sparse import csgraph

    box = np.array([piece.box for piece in cut])
    level = np.array([piece.level for piece in cut])
    elevation = np.array([piece.elevation_m for piece in cut])
    meets = level[:, None] == level
    meets &= ~level | (np.abs(elevation[:, None] - elevation) <= SAME_LEVEL_M)
    for low, high in ((0, 1), (2, 3)):
        meets &= (box[:, None, low] <= box[:, high] + 1) & (box[:, low] <= box[:, None, high] + 1)
    count, group = csgraph.connected_components(meets, directed=False)
    whole = [_join([cut[k] for k in np.flatnonzero(group == number)]) for number in range(count)]
    return (*(piece for piece in found if not piece.on_edge), *whole)


def _join(pieces: list[Patch]) -> Patch:
    """Return several pieces as one; its middle is that of the largest."""
    boxes = np.array([piece.box for piece in pieces])
    largest = max(pieces, key=lambda piece: piece.posts)
    low, high = boxes.min(axis=0).tolist(), boxes.max(axis=0).tolist()
    return replace(
        largest,
        posts=sum(piece.posts for piece in pieces),
        box=(low[0], high[1], low[2], high[3]),
    )

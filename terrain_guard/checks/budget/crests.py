r"""Which samples lie near a crest, where wind speeds up and a barometer reads too high.

::

              ● top
            ╱   ╲          a crest: ground that falls by 10 m or more
    10 m  ╱       ╲        within 100 m on both sides of some line
        ●           ●

The shoulders of a sharp crest count as crest, too, as far as the ground falls by that much
over the top. Fine models are looked at in blocks of about 10 m: the highest post of a block
may be a crest, its lowest a side that falls, so that no crest is missed; missing ground may
fall.
"""

from __future__ import annotations

from typing import Final

import numpy as np

from terrain_guard.arrays import Bools, Floats
from terrain_guard.checks.budget.air import CREST_WITHIN_M
from terrain_guard.checks.budget.posts_near import runs
from terrain_guard.ground.model import Ground

CREST_FALL_M: Final = 10.0
"""Common practice, no source."""
BLOCK_M: Final = 10.0
AT_ONCE: Final = 200  # samples
LINES: Final = ((0, 1), (1, 0), (1, 1), (1, -1), (1, 2), (2, 1), (1, -2), (2, -1))


def near_crest(ground: Ground, row: Floats, column: Floats, elevation_m: Floats) -> Bools:
    """Return which samples (n,) lie within 100 m of a crest, sideways and up.

    Parameters
    ----------
    row, column : (n,) float
        Fractional posts; NaN where a sample has no place: then it is near.
    elevation_m : (n,) float
        Of the aircraft; NaN where not known: then every crest sideways is near.
    """
    found = np.ones(row.size, dtype=bool)
    known = np.flatnonzero(np.isfinite(row) & np.isfinite(column))
    for run in runs(row[known], column[known]):
        part = known[run]
        for pick in np.split(part, np.arange(AT_ONCE, part.size, AT_ONCE)):
            found[pick] = _near(ground, row[pick], column[pick], elevation_m[pick])
    return found


def _near(ground: Ground, row: Floats, column: Floats, elevation_m: Floats) -> Bools:
    """Return it for samples close together."""
    cell_m = ground.raster.cell_m
    size = max(1, int(BLOCK_M / max(cell_m)))
    beyond_m = 2 * CREST_WITHIN_M + 3 * (size + 1) * max(cell_m)
    patches = ground.around(row, column, reach_m=beyond_m)
    top, low = blocks(patches.z, size)
    east, north = (patches.map.jacobian(row[:1], column[:1])[0, k] * size for k in (0, 1))
    i, j = np.nonzero(crests(top, low, (east[0], north[0]), (east[1], north[1])))
    if not i.size:
        return np.zeros(row.size, dtype=bool)
    middle = (size - 1) / 2
    down, across = (
        (at[:, None] - first - middle) / size - block
        for at, first, block in ((row, patches.row0, i), (column, patches.column0, j))
    )
    away_m = np.hypot(east[0] * across + east[1] * down, north[0] * across + north[1] * down)
    # The crest may lie anywhere in its block, or between posts.
    reach_m = CREST_WITHIN_M + np.hypot(*np.hypot(east, north)) / 2
    too_high = elevation_m[:, None] - top[i, j] > CREST_WITHIN_M
    return np.asarray(((away_m <= reach_m) & ~too_high).any(axis=1))


def blocks(z: Floats, size: int) -> tuple[Floats, Floats]:
    """Return the highest and the lowest post of square blocks; nan, -inf where all miss.

    >>> top, low = blocks(np.array([[1.0, 2.0, np.nan], [4.0, np.nan, np.nan]]), 2)
    >>> top.tolist(), low.tolist()
    ([[4.0, nan]], [[1.0, -inf]])
    """
    height, width = (-(-side // size) * size for side in z.shape)
    whole = np.full((height, width), np.nan)
    whole[: z.shape[0], : z.shape[1]] = z
    parts = whole.reshape(height // size, size, width // size, size)
    top = np.fmax.reduce(parts, axis=(1, 3))
    return top, np.where(np.isnan(top), -np.inf, np.fmin.reduce(parts, axis=(1, 3)))


def crests(
    top: Floats, low: Floats, column_m: tuple[float, float], row_m: tuple[float, float]
) -> Bools:
    """Return which blocks (i, j) are on a crest.

    Parameters
    ----------
    top, low : (i, j) float
        Highest and lowest ground of each block; beyond them nothing is known.
    column_m, row_m : (2,) float
        East and north of one block to the next along columns and rows.
    """
    found = np.zeros(top.shape, dtype=bool)
    for rows, columns in LINES:
        east, north = (columns * c + rows * r for c, r in zip(column_m, row_m, strict=True))
        # A block more than fits: the side that falls may lie anywhere in it.
        count = max(1, int(np.ceil(CREST_WITHIN_M / np.hypot(east, north))))
        sides = [_lowest(low, rows * sign, columns * sign, count) for sign in (1, -1)]
        found |= top - np.maximum(*sides) >= CREST_FALL_M
    return found


def _lowest(low: Floats, rows: int, columns: int, count: int) -> Floats:
    """Return the lowest of so many blocks one way; -inf beyond the last."""
    reach = 2 * count
    wide = np.pad(low, reach, constant_values=-np.inf)
    height, width = low.shape
    best = np.full(low.shape, np.inf)
    for k in range(1, count + 1):
        i, j = reach + k * rows, reach + k * columns
        best = np.minimum(best, wide[i : i + height, j : j + width])
    return best

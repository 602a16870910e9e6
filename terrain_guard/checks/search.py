"""Search the cell patches near each sample, groups first, cells last.

One descent serves three questions. Each puts to a group of cells the best that
any point in it could give and what one point in it surely gives; a group that
cannot better what is already known is dropped with all its cells.

::

    groups of 64 ──▶ of 16 ──▶ of 4 ──▶ cells ──▶ quarters of a cell, until flat
       bound          bound      bound     bound      two triangles, exact

The quarters are in `terrain_guard.checks.quarters`.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass

import numpy as np

from terrain_guard.arrays import Bools, Floats, Ints
from terrain_guard.ground.patches import Groups, Patches


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Near:
    """Groups or cells as seen from their samples; arrays (n,).

    ``east_m``, ``north_m`` lead from the sample to the middle; ``plane_m`` is the
    elevation there, ``slope_east``, ``slope_north`` the plane's slopes,
    ``stray_m`` the surface's greatest departure from it (−inf: nothing known),
    ``radius_m`` the half diagonal.
    """

    sample: Ints
    east_m: Floats
    north_m: Floats
    plane_m: Floats
    slope_east: Floats
    slope_north: Floats
    stray_m: Floats
    radius_m: Floats
    has_void: Bools

    @property
    def away_m(self) -> Floats:
        """Horizontal distance from sample to middle."""
        return np.hypot(self.east_m, self.north_m)


Bounds = Callable[[Near], tuple[Floats, Floats]]
"""From `Near` to (the least it could cost, what it surely costs at most); lower is better."""


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Seen:
    """Samples as seen by a window of patches: where among its posts, and the way to metres."""

    patches: Patches
    row: Floats
    column: Floats
    jacobian: Floats  # (n, 2, 2): (east, north) per (column, row)
    inverse: Floats  # (n, 2, 2): (column, row) per (east, north)

    @classmethod
    def of(cls, patches: Patches, row: Floats, column: Floats) -> Seen:
        """Look at samples, given in fractional posts of the model."""
        jacobian = patches.map.jacobian(row, column)
        return cls(
            patches=patches,
            row=row - patches.row0,
            column=column - patches.column0,
            jacobian=jacobian,
            inverse=np.linalg.inv(jacobian),
        )

    def metres(self, sample: Ints, rows: Floats, columns: Floats) -> tuple[Floats, Floats]:
        """Return the way (east, north) in metres from samples by rows and columns."""
        j = self.jacobian
        return (
            j[sample, 0, 0] * columns + j[sample, 0, 1] * rows,
            j[sample, 1, 0] * columns + j[sample, 1, 1] * rows,
        )


def descend(
    seen: Seen, *, reach_m: Floats, bounds: Bounds, best: Floats
) -> tuple[Ints, Ints, Ints]:
    """Return (sample, row, column) of the window's cells that may hold the best point.

    Parameters
    ----------
    reach_m : (n,) float
        How far from each sample to look, horizontally.
    best : (n,) float
        The cost already known for each sample; lowered in place.
    """
    patches = seen.patches
    levels = patches.groups[::-1]
    size = levels[0].size if levels else 1
    sample, i, j = _start(seen, reach_m, size)
    for level, groups in enumerate(levels):
        near = _near_groups(seen, sample, i, j, groups)
        keep = _worth_a_look(near, bounds, best)
        finer = levels[level + 1].size if level + 1 < len(levels) else 1
        sample, i, j = _children(sample[keep], i[keep], j[keep], groups.size // finer)
    keep = _worth_a_look(_near_cells(seen, sample, i, j), bounds, best)
    return sample[keep], i[keep], j[keep]


def _start(seen: Seen, reach_m: Floats, size: int) -> tuple[Ints, Ints, Ints]:
    """Pair each sample with every group within its reach."""
    cells = np.array(seen.patches.z.shape) - 1
    ranges = []
    for axis, position in ((1, seen.row), (0, seen.column)):
        margin = reach_m * np.hypot(seen.inverse[:, axis, 0], seen.inverse[:, axis, 1]) + 1e-6
        last = cells[0 if axis == 1 else 1] // size - 1
        low = np.clip(np.floor((position - margin) / size), 0, last).astype(np.int64)
        high = np.clip(np.floor((position + margin) / size), 0, last).astype(np.int64)
        ranges.append((low, high - low + 1))
    (top, tall), (left, wide) = ranges
    count = tall * wide
    sample = np.repeat(np.arange(count.size), count)
    nth = np.arange(sample.size) - np.repeat(np.cumsum(count) - count, count)
    return sample, top[sample] + nth // wide[sample], left[sample] + nth % wide[sample]


def _children(sample: Ints, i: Ints, j: Ints, ratio: int) -> tuple[Ints, Ints, Ints]:
    down, across = (part.ravel() for part in np.indices((ratio, ratio)))
    return (
        np.repeat(sample, ratio**2),
        (i[:, None] * ratio + down).ravel(),
        (j[:, None] * ratio + across).ravel(),
    )


def _near_groups(seen: Seen, sample: Ints, i: Ints, j: Ints, groups: Groups) -> Near:
    pick = i * groups.plane.shape[1] + j
    surface = (
        groups.plane.ravel()[pick],
        groups.per_column.ravel()[pick],
        groups.per_row.ravel()[pick],
        groups.stray_m.ravel()[pick],
        groups.has_void.ravel()[pick],
    )
    size = groups.size
    return _near(seen, sample, ((i + 0.5) * size, (j + 0.5) * size), size, surface)


def _near_cells(seen: Seen, sample: Ints, i: Ints, j: Ints) -> Near:
    z00, z01, z10, z11 = cell_corners(seen.patches, i, j)
    void = np.isnan(z00 + z01 + z10 + z11)
    per_column, per_row = ((z01 + z11) - (z00 + z10)) / 2, ((z10 + z11) - (z00 + z01)) / 2
    stray = np.where(void, -np.inf, np.abs(z00 + z11 - z01 - z10) / 4)
    plane = np.where(void, 0.0, (z00 + z01 + z10 + z11) / 4)
    per_column, per_row = np.where(void, 0.0, per_column), np.where(void, 0.0, per_row)
    surface = plane, per_column, per_row, stray, void
    return _near(seen, sample, (i + 0.5, j + 0.5), 1, surface)


def cell_corners(patches: Patches, i: Ints, j: Ints) -> tuple[Floats, Floats, Floats, Floats]:
    """Return (z00, z01, z10, z11) of the window's cells (i, j)."""
    wide = patches.z.shape[1]
    flat, first = patches.z.ravel(), i * wide + j
    return flat[first], flat[first + 1], flat[first + wide], flat[first + wide + 1]


def _near(
    seen: Seen,
    sample: Ints,
    place: tuple[Floats, Floats],
    size: int,
    surface: tuple[Floats, Floats, Floats, Floats, Bools],
) -> Near:
    (row, column), (plane, per_column, per_row, stray, void) = place, surface
    east, north = seen.metres(sample, row - seen.row[sample], column - seen.column[sample])
    k = seen.inverse
    j = seen.jacobian
    half = size / 2
    one = np.hypot(j[:, 0, 0] + j[:, 0, 1], j[:, 1, 0] + j[:, 1, 1])
    other = np.hypot(j[:, 0, 0] - j[:, 0, 1], j[:, 1, 0] - j[:, 1, 1])
    return Near(
        sample=sample,
        east_m=east,
        north_m=north,
        plane_m=plane,
        slope_east=per_column * k[sample, 0, 0] + per_row * k[sample, 1, 0],
        slope_north=per_column * k[sample, 0, 1] + per_row * k[sample, 1, 1],
        stray_m=stray,
        radius_m=(half * np.maximum(one, other))[sample],
        has_void=void,
    )


def _worth_a_look(near: Near, bounds: Bounds, best: Floats) -> Bools:
    least, most = bounds(near)
    lower(best, near.sample, most)
    return least <= best[near.sample]


def lower(best: Floats, sample: Ints, value: Floats) -> None:
    """Lower ``best[sample]`` to the least value; samples come sorted."""
    if sample.size:
        starts = np.flatnonzero(np.append(True, sample[1:] != sample[:-1]))
        group = sample[starts]
        best[group] = np.minimum(best[group], np.minimum.reduceat(value, starts))

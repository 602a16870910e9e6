"""Search the cell patches near each sample, groups first, cells last.

One descent serves three questions. Each puts to a group of cells the best that
any point in it could give and what one point in it surely gives; a group that
cannot better what is already known is dropped with all its cells.

::

    groups of 64 ──▶ of 16 ──▶ of 4 ──▶ cells ──▶ quarters of a cell, until flat
       bound          bound      bound     bound      two triangles, exact

A bilinear patch strays from its two triangles by at most a quarter of its
twist, so quartering a patch divides the error by four each time.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass

import numpy as np

from terrain_guard.arrays import Bools, Floats, Ints
from terrain_guard.ground.patches import Groups, Patches

FLAT_M = 2.5e-4  # a patch this near to its triangles counts as flat


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
    _lower(best, near.sample, most)
    return least <= best[near.sample]


def _lower(best: Floats, sample: Ints, value: Floats) -> None:
    """Lower ``best[sample]`` to the least value; samples come sorted."""
    if sample.size:
        starts = np.flatnonzero(np.append(True, sample[1:] != sample[:-1]))
        group = sample[starts]
        best[group] = np.minimum(best[group], np.minimum.reduceat(value, starts))


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Quarters:
    """Square parts of cells as seen from their samples, in metres; arrays (n,).

    ``corner_*`` leads from the sample to the first corner, ``across_*`` along the
    row and ``down_*`` along the column to the next corners; z are elevations.
    """

    sample: Ints
    corner_e: Floats
    corner_n: Floats
    across_e: Floats
    across_n: Floats
    down_e: Floats
    down_n: Floats
    z00: Floats
    z01: Floats
    z10: Floats
    z11: Floats

    @property
    def stray_m(self) -> Floats:
        """How far the bilinear patch may stray from its two triangles."""
        return np.abs(self.z00 + self.z11 - self.z01 - self.z10) / 4

    def take(self, keep: Bools) -> Quarters:
        """Return the parts that `keep` marks."""
        return Quarters(**{name: getattr(self, name)[keep] for name in self.__slots__})

    def split(self) -> Quarters:
        """Return the four quarters of each part, exact on the bilinear patch."""
        z_top, z_left = (self.z00 + self.z01) / 2, (self.z00 + self.z10) / 2
        z_right, z_bottom = (self.z01 + self.z11) / 2, (self.z10 + self.z11) / 2
        z_mid = (z_top + z_bottom) / 2
        ae, an, de, dn = (
            part / 2 for part in (self.across_e, self.across_n, self.down_e, self.down_n)
        )
        east = (self.corner_e, self.corner_e + ae, self.corner_e + de, self.corner_e + ae + de)
        north = (self.corner_n, self.corner_n + an, self.corner_n + dn, self.corner_n + an + dn)

        def lace(*parts: Floats) -> Floats:
            return np.stack(parts, axis=1).ravel()

        return Quarters(
            sample=np.repeat(self.sample, 4),
            corner_e=lace(*east),
            corner_n=lace(*north),
            across_e=np.repeat(ae, 4),
            across_n=np.repeat(an, 4),
            down_e=np.repeat(de, 4),
            down_n=np.repeat(dn, 4),
            z00=lace(self.z00, z_top, z_left, z_mid),
            z01=lace(z_top, self.z01, z_mid, z_right),
            z10=lace(z_left, z_mid, self.z10, z_bottom),
            z11=lace(z_mid, z_right, z_bottom, self.z11),
        )


def cells_as_quarters(seen: Seen, sample: Ints, i: Ints, j: Ints) -> Quarters:
    """Return whole cells, to be quartered."""
    z00, z01, z10, z11 = cell_corners(seen.patches, i, j)
    east, north = seen.metres(sample, i - seen.row[sample], j - seen.column[sample])
    jac = seen.jacobian
    return Quarters(
        sample=sample, corner_e=east, corner_n=north,
        across_e=jac[sample, 0, 0], across_n=jac[sample, 1, 0],
        down_e=jac[sample, 0, 1], down_n=jac[sample, 1, 1],
        z00=z00, z01=z01, z10=z10, z11=z11,
    )  # fmt: skip


Exact = Callable[[Quarters], tuple[Floats, Floats, Floats, Floats]]
"""From parts to (cost on the two triangles, least and most it can be, (3, n) way to the point)."""


def settle(
    parts: Quarters, exact: Exact, best: Floats, *, flat_m: float = FLAT_M
) -> tuple[Floats, Floats]:
    """Quarter the parts until flat; return per sample the least cost and the way to its point.

    Parameters
    ----------
    best : (n,) float
        Cost already known; lowered in place. A sample whose parts cannot better
        it keeps inf and NaN.
    flat_m : float
        How well the cost of a part must be known.

    Returns
    -------
    cost : (n,) float
    way : (3, n) float
        East, north, up in metres from the sample.
    """
    cost = np.full(best.shape, np.inf)
    way = np.full((3, best.size), np.nan)
    while parts.sample.size:
        value, least, most, towards = exact(parts)
        _lower(best, parts.sample, most)
        hopeful = least <= best[parts.sample]
        flat = value - flat_m <= least  # holds for inf and inf: out of the question
        _record(
            cost,
            way,
            parts.sample[flat & hopeful],
            value[flat & hopeful],
            towards[:, flat & hopeful],
        )
        parts = parts.take(hopeful & ~flat).split()
    return cost, way


def _record(cost: Floats, way: Floats, sample: Ints, value: Floats, towards: Floats) -> None:
    order = np.lexsort((value, sample))
    sample, value, towards = sample[order], value[order], towards[:, order]
    first = np.append(True, sample[1:] != sample[:-1])[: sample.size]
    sample, value, towards = sample[first], value[first], towards[:, first]
    better = value < cost[sample]
    cost[sample[better]] = value[better]
    way[:, sample[better]] = towards[:, better]


def lean(near: Near) -> Floats:
    """Return √(1 + slope²) of the planes."""
    return np.sqrt(1 + near.slope_east**2 + near.slope_north**2)

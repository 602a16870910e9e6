"""Parts of the ground, each beside one way: groups of cells, cells, quarters of cells.

All are parallelograms round a middle, in metres::

          ┌────────┐
         ╱   ↑     ╱     half a side `across` and half a side `down`; a share (u, v) of
        ╱    ●──▶ ╱      them, −1…1, off the middle the ground stands within `stray_m` of
       └────────┘        ``middle_m + across_m · u + down_m · v``

and, on a cell or a quarter, at that plus ``twist_m · u · v`` exactly.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from terrain_guard.arrays import Bools, Floats, Ints
from terrain_guard.checks.search import cell_corners
from terrain_guard.ground.patches import Groups, Patches

QUARTERS = ((-0.5, -0.5), (0.5, -0.5), (-0.5, 0.5), (0.5, 0.5))


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Parts:
    """Parts of the ground; arrays (n,), ways in order.

    ``row``, ``column`` of the middle count from the first post of the window, and
    ``half`` is half a side in cells. ``ground_m`` is the ground at the middle, NaN if
    that is missing; ``stray_m`` is −inf where nothing is known.
    """

    way: Ints
    row: Floats
    column: Floats
    half: Floats
    east_m: Floats
    north_m: Floats
    across_east: Floats
    across_north: Floats
    down_east: Floats
    down_north: Floats
    middle_m: Floats
    across_m: Floats
    down_m: Floats
    twist_m: Floats
    stray_m: Floats
    ground_m: Floats
    has_void: Bools

    def take(self, keep: Bools) -> Parts:
        """Return the parts that `keep` marks."""
        return Parts(**{name: getattr(self, name)[keep] for name in self.__slots__})

    @property
    def radius_m(self) -> Floats:
        """The half diagonal, level."""
        e, n, down_e, down_n = (
            self.across_east, self.across_north, self.down_east, self.down_north
        )  # fmt: skip
        return np.maximum(np.hypot(e + down_e, n + down_n), np.hypot(e - down_e, n - down_n))

    def slopes(self) -> tuple[Floats, Floats]:
        """Return the plane's slopes (east, north)."""
        det = self.across_east * self.down_north - self.across_north * self.down_east
        east = (self.across_m * self.down_north - self.down_m * self.across_north) / det
        north = (self.down_m * self.across_east - self.across_m * self.down_east) / det
        return east, north

    def at(self, u: Floats, v: Floats) -> tuple[Floats, Floats, Floats, Floats, Floats]:
        """Return (row, column, east, north, elevation) at shares of the half sides."""
        return (
            self.row + self.half * v,
            self.column + self.half * u,
            self.east_m + self.across_east * u + self.down_east * v,
            self.north_m + self.across_north * u + self.down_north * v,
            self.middle_m + self.across_m * u + self.down_m * v + self.twist_m * u * v,
        )

    def quarters(self) -> Parts:
        """Return the four quarters of cells or quarters."""
        u, v = (np.tile([q[k] for q in QUARTERS], self.way.size) for k in (0, 1))
        whole = Parts(**{name: np.repeat(getattr(self, name), 4) for name in self.__slots__})
        row, column, east, north, elevation = whole.at(u, v)
        twist = whole.twist_m / 4
        return Parts(
            way=whole.way, row=row, column=column, half=whole.half / 2,
            east_m=east, north_m=north,
            across_east=whole.across_east / 2, across_north=whole.across_north / 2,
            down_east=whole.down_east / 2, down_north=whole.down_north / 2,
            middle_m=elevation, ground_m=elevation,
            across_m=(whole.across_m + whole.twist_m * v) / 2,
            down_m=(whole.down_m + whole.twist_m * u) / 2,
            twist_m=twist, stray_m=np.abs(twist), has_void=whole.has_void,
        )  # fmt: skip


def tops(patches: Patches) -> list[Floats]:
    """Return the most that the ground of each group, largest first, and cell may stand at.

    −inf or NaN where nothing is known.
    """
    of_groups = [
        g.plane + (np.abs(g.per_column) + np.abs(g.per_row)) * (g.size / 2) + g.stray_m
        for g in patches.groups[::-1]
    ]
    z = np.maximum(patches.z[:-1], patches.z[1:])
    return [*of_groups, np.maximum(z[:, :-1], z[:, 1:])]


def groups_as_parts(patches: Patches, groups: Groups, way: Ints, i: Ints, j: Ints) -> Parts:
    """Return groups (i, j), each beside a way."""
    pick, half = i * groups.plane.shape[1] + j, groups.size // 2
    across, down = groups.per_column.ravel()[pick] * half, groups.per_row.ravel()[pick] * half
    post = (i * groups.size + half) * patches.z.shape[1] + j * groups.size + half
    return _placed(
        patches, way, i, j, groups.size,
        heights=(groups.plane.ravel()[pick], across, down, np.zeros(way.size)),
        stray=groups.stray_m.ravel()[pick],
        ground=patches.z.ravel()[post],  # the middle is a post
        void=groups.has_void.ravel()[pick],
    )  # fmt: skip


def cells_as_parts(patches: Patches, way: Ints, i: Ints, j: Ints) -> Parts:
    """Return cells (i, j), each beside a way."""
    z00, z01, z10, z11 = cell_corners(patches, i, j)
    ground = (z00 + z01 + z10 + z11) / 4
    across, down = ((z01 + z11) - (z00 + z10)) / 4, ((z10 + z11) - (z00 + z01)) / 4
    twist = (z00 + z11 - z01 - z10) / 4
    void = np.isnan(ground)
    heights = [np.where(void, 0.0, part) for part in (ground, across, down, twist)]
    return _placed(
        patches, way, i, j, 1,
        heights=(heights[0], heights[1], heights[2], heights[3]),
        stray=np.where(void, -np.inf, np.abs(twist)), ground=ground, void=void,
    )  # fmt: skip


def _placed(
    patches: Patches,
    way: Ints,
    i: Ints,
    j: Ints,
    size: int,
    *,
    heights: tuple[Floats, Floats, Floats, Floats],
    stray: Floats,
    ground: Floats,
    void: Bools,
) -> Parts:
    east, north, jacobian = _metres(patches, i, j, size)
    return Parts(
        way=way, row=(i + 0.5) * size, column=(j + 0.5) * size, half=np.full(way.size, size / 2),
        east_m=east, north_m=north,
        across_east=jacobian[:, 0], down_east=jacobian[:, 1],
        across_north=jacobian[:, 2], down_north=jacobian[:, 3],
        middle_m=heights[0], across_m=heights[1], down_m=heights[2], twist_m=heights[3],
        stray_m=stray, ground_m=ground, has_void=void,
    )  # fmt: skip


def _metres(patches: Patches, i: Ints, j: Ints, size: int) -> tuple[Floats, Floats, Floats]:
    """Return (east, north, half sides) of parts; what many ways see is worked out once."""
    wide = -(-patches.z.shape[1] // size)
    count = -(-patches.z.shape[0] // size) * wide
    if count > 2 * i.size:
        return _metres_of(patches, i, j, size)
    marked = np.zeros(count, dtype=np.int64)
    key = i * wide + j
    marked[key] = 1
    once = np.flatnonzero(marked)
    marked[once] = np.arange(once.size)
    east, north, jacobian = _metres_of(patches, once // wide, once % wide, size)
    back = marked[key]
    return east[back], north[back], jacobian[back]


def _metres_of(patches: Patches, i: Ints, j: Ints, size: int) -> tuple[Floats, Floats, Floats]:
    place = patches.row0 + (i + 0.5) * size, patches.column0 + (j + 0.5) * size
    jacobian = patches.map.jacobian(*place) * (size / 2)
    return *patches.map.metres(*place), jacobian.reshape(-1, 4)

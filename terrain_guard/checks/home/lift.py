r"""By how much straight ways must be raised so that no ground is nearer than the floor.

A ball is swept along each way (`sweep`); the place of the ground that asks for most decides.
Groups of cells are put aside by their highest post, as rays do it; ways begun at neighbouring
metres are decided by nearly the same place, so that a few are searched first and the others
begin with what those found::

    ●───────────────────────▶ home     every 16th first, then those between:
    ●╌╌╌╌╌╌╌╌╌╌╌╌╌╌╌╌╌╌╌╌╌╌╌╌╌▶        what decides about one nearly decides about the next
    ●╌╌╌╌╌╌╌╌╌╌╌╌╌╌╌╌╌╌╌╌╌╌╌╌╌▶
    ●───────────────────────▶
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass

import numpy as np

from terrain_guard.arrays import Bools, Floats, Ints
from terrain_guard.checks.home.sweep import Ways
from terrain_guard.checks.quarters import Quarters
from terrain_guard.ground.relief import Groups, Relief

EVERY = 16  # ways between those searched first
MOST_WAYS = 2048  # at once
EXACT_M = 5e-4


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Lift:
    """What ground asks of ways; arrays (n,).

    ``lift_m``: the least by which the whole way must be raised, to a millimetre; negative: it may
    be lowered; −inf: no known ground is in reach. Of the place that decides, NaN where none does:
    where it is, its elevation, how far off the ways' common place, the elevation of the way
    straight above or below it (or beside), and where along the way the ball touches it.
    ``meets_unknown``: ground is missing within reach of the way.
    """

    lift_m: Floats
    lon_deg: Floats
    lat_deg: Floats
    elevation_m: Floats
    far_m: Floats
    way_m: Floats
    at_m: Floats
    meets_unknown: Bools


def lift(relief: Relief, ways: Ways) -> Lift:
    """Search the ground near straight ways from one place.

    Parameters
    ----------
    relief : Relief
        The ground within reach of all of them.
    ways : Ways
        Neighbours that lie side by side, like those from samples of a flight, are quickest.
    """
    count = ways.east.size
    best, place = np.full(count, np.inf), np.full((3, count), np.nan)  # cost: minus the lift
    unknown = np.zeros(count, dtype=bool)
    few = np.unique(np.append(np.arange(0, count, EVERY), max(count - 1, 0)))[:count]
    rest = np.setdiff1d(np.arange(count), few)
    for picks in (few, rest):
        if picks is rest and picks.size:
            _seed(ways, rest, few, best, place)
        for start in range(0, picks.size, MOST_WAYS):
            pick = picks[start : start + MOST_WAYS]
            ends = relief.to_row[pick], relief.to_column[pick]
            search = _Search(relief, ways.take(pick), ends)
            known, at = best[pick], place[:, pick]
            search.run(known, at)
            best[pick], place[:, pick] = known, at
            unknown[pick] = search.meets_unknown()
    some = np.isfinite(best)
    _, at_m, *_ = ways.needed(np.arange(count), *np.nan_to_num(place))
    lon, lat = relief.degrees(place[0], place[1])
    return Lift(
        lift_m=-best,
        lon_deg=lon,
        lat_deg=lat,
        elevation_m=place[2],
        far_m=np.where(some, np.hypot(place[0], place[1]), np.nan),
        way_m=np.where(some, ways.zero_m + ways.slope * ways.seen(
            np.arange(count), *np.nan_to_num(place[:2]))[0], np.nan),
        at_m=np.where(some, at_m, np.nan),
        meets_unknown=unknown,
    )  # fmt: skip


def _seed(ways: Ways, rest: Ints, few: Ints, best: Floats, place: Floats) -> None:
    """Begin with the places that decide about the ways before and behind."""
    behind = np.searchsorted(few, rest)
    for which in (np.maximum(behind - 1, 0), np.minimum(behind, few.size - 1)):
        seed = place[:, few[which]]
        cost, *_ = ways.needed(rest, *np.nan_to_num(seed))
        better = (-cost < best[rest]) & np.isfinite(seed[0])
        best[rest[better]] = -cost[better]
        place[:, rest[better]] = seed[:, better]


class _Search:
    """One batch of ways: from the largest groups near them down to parts of cells."""

    def __init__(self, relief: Relief, ways: Ways, ends: tuple[Floats, Floats]) -> None:
        self.relief, self.ways, self.ends = relief, ways, ends

    def run(self, best: Floats, place: Floats) -> None:
        """Lower minus the lift of each way, and put the places that decide, in place."""

        def worth(way: Ints, i: Ints, j: Ints, groups: Groups) -> Bools:
            bound = self.ways.at_most(
                way, *groups.middles(i, j), top=groups.top(i, j), within_m=groups.radius_m
            )
            return -bound < best[way] - EXACT_M

        way, i, j = self._descend(worth)
        parts = self._cells(way, i, j)
        while parts.sample.size:
            lift, most, towards = self._exact(parts)
            _record(best, place, parts.sample, -lift, towards)
            hopeful = -most < best[parts.sample] - EXACT_M
            parts = parts.take(hopeful).split()

    def meets_unknown(self) -> Bools:
        """Return which ways have missing ground within reach."""
        found = np.zeros(self.ways.east.size, dtype=bool)
        if not self.relief.has_void:
            return found

        def worth(way: Ints, i: Ints, j: Ints, groups: Groups) -> Bools:
            near = self.ways.is_near(way, *groups.middles(i, j), within_m=groups.radius_m)
            return near & groups.has_void(i, j)

        way, i, j = self._descend(worth)
        gone = np.isnan(sum(self.relief.corners(i, j)))
        cell = self.relief.groups[-1].radius_m / self.relief.groups[-1].size
        near = self.ways.is_near(way, *self.relief.map.metres(i + 0.5, j + 0.5), within_m=cell)
        found[way[gone & near]] = True
        return found

    def _descend(
        self, worth: Callable[[Ints, Ints, Ints, Groups], Bools]
    ) -> tuple[Ints, Ints, Ints]:
        """Return (way, row, column) of cells in groups that are worth a look."""
        sizes = [groups.size for groups in self.relief.groups]
        way, i, j = self._start(sizes[0])
        for groups, finer in zip(self.relief.groups, [*sizes[1:], 1], strict=True):
            keep = worth(way, i, j, groups)
            way, i, j = _children(way[keep], i[keep], j[keep], groups.size // finer)
        return way, i, j

    def _start(self, size: int) -> tuple[Ints, Ints, Ints]:
        """Pair each way with the groups within reach beside it."""
        home, (to_row, to_column) = self.relief.home, self.ends
        by_row = np.abs(to_row - home[0]) >= np.abs(to_column - home[1])
        parts = []
        for axis, pick in ((0, np.flatnonzero(by_row)), (1, np.flatnonzero(~by_row))):
            ends = (to_row[pick], to_column[pick])
            way, major, minor = _along(
                home[axis], ends[axis], home[1 - axis], ends[1 - axis],
                pad=(self.relief.pad[axis], self.relief.pad[1 - axis]), size=size,
            )  # fmt: skip
            i, j = (major, minor) if axis == 0 else (minor, major)
            parts.append((pick[way], i, j))
        way, i, j = (np.concatenate(of) for of in zip(*parts, strict=True))
        return way, i, j

    def _cells(self, way: Ints, i: Ints, j: Ints) -> Quarters:
        """Return whole known cells, to be quartered."""
        z00, z01, z10, z11 = self.relief.corners(i, j)
        metres = self.relief.map.metres
        here, right, down = metres(i, j), metres(i, j + 1), metres(i + 1, j)
        parts = Quarters(
            sample=way, corner_e=here[0], corner_n=here[1],
            across_e=right[0] - here[0], across_n=right[1] - here[1],
            down_e=down[0] - here[0], down_n=down[1] - here[1],
            z00=z00, z01=z01, z10=z10, z11=z11,
        )  # fmt: skip
        return parts.take(np.isfinite(z00 + z01 + z10 + z11))

    def _exact(self, parts: Quarters) -> tuple[Floats, Floats, Floats]:
        """Return the lift that places of each part ask for, the most any may, and the place."""
        ways, way = self.ways, parts.sample
        east = parts.corner_e + np.stack((0 * way, parts.across_e, parts.down_e,
                                          parts.across_e + parts.down_e))  # fmt: skip
        north = parts.corner_n + np.stack((0 * way, parts.across_n, parts.down_n,
                                           parts.across_n + parts.down_n))  # fmt: skip
        up = np.stack((parts.z00, parts.z01, parts.z10, parts.z11))
        middle = east.mean(axis=0), north.mean(axis=0), up.mean(axis=0)
        lift, _, per_east, per_north = ways.needed(way, *middle)
        across = per_east * parts.across_e + per_north * parts.across_n + (
            up[1] + up[3] - up[0] - up[2]) / 2  # fmt: skip
        down = per_east * parts.down_e + per_north * parts.down_n + (
            up[2] + up[3] - up[0] - up[1]) / 2  # fmt: skip
        # Concave but for its twist, it lies below its tangent at the middle.
        tangent = lift + (np.abs(across) + np.abs(down)) / 2 + parts.stray_m
        radius = np.hypot(east - middle[0], north - middle[1]).max(axis=0)
        most = ways.at_most(way, *middle[:2], top=up.max(axis=0), within_m=radius)
        most = np.where(np.isfinite(lift), np.fmin(most, tangent), most)
        best, towards = lift, np.stack(middle)
        for k in range(4):
            at_corner, *_ = ways.needed(way, east[k], north[k], up[k])
            better = at_corner > best
            best = np.where(better, at_corner, best)
            towards = np.where(better, np.stack((east[k], north[k], up[k])), towards)
        return best, most, towards


def _record(best: Floats, place: Floats, way: Ints, cost: Floats, towards: Floats) -> None:
    order = np.lexsort((cost, way))
    way, cost, towards = way[order], cost[order], towards[:, order]
    first = np.append(True, way[1:] != way[:-1])[: way.size]
    way, cost, towards = way[first], cost[first], towards[:, first]
    better = cost < best[way]
    best[way[better]] = cost[better]
    place[:, way[better]] = towards[:, better]


def _along(
    home: float, to: Floats, home_minor: float, to_minor: Floats, *, pad: tuple[float, float],
    size: int,
) -> tuple[Ints, Ints, Ints]:  # fmt: skip
    """Return (way, group, group beside) of square groups within `pad` of ways, along one axis."""
    low, high = np.minimum(home, to) - pad[0], np.maximum(home, to) + pad[0]
    first = np.floor(low / size).astype(np.int64)
    way, major = _spread(first, np.floor(high / size).astype(np.int64))
    step = np.where(np.abs(to - home) > 0, to - home, 1.0)
    ends = [
        np.clip((edge - home) / step[way], 0.0, 1.0) * (to_minor - home_minor)[way] + home_minor
        for edge in (major * size - pad[0], (major + 1) * size + pad[0])
    ]
    left = np.floor((np.minimum(*ends) - pad[1]) / size).astype(np.int64)
    right = np.floor((np.maximum(*ends) + pad[1]) / size).astype(np.int64)
    pair, minor = _spread(left, right)
    return way[pair], major[pair], minor


def _spread(first: Ints, last: Ints) -> tuple[Ints, Ints]:
    """Return (index, number) for every whole number from `first` to `last` of each index."""
    count = last - first + 1
    index = np.repeat(np.arange(count.size), count)
    nth = np.arange(index.size) - np.repeat(np.cumsum(count) - count, count)
    return index, first[index] + nth


def _children(way: Ints, i: Ints, j: Ints, ratio: int) -> tuple[Ints, Ints, Ints]:
    down, across = (part.ravel() for part in np.indices((ratio, ratio)))
    return (
        np.repeat(way, ratio**2),
        (i[:, None] * ratio + down).ravel(),
        (j[:, None] * ratio + across).ravel(),
    )

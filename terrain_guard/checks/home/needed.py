"""Ways home put together from straight ones, by closed forms.

The ground is everything below its surface, so what is clear stays clear when it is
raised: the ground that is nearest to the higher place, lowered by as much, was at most
as near. Hence a way home that climbs at a gradient and then goes on level is clear
exactly if two straight ways are, each over the whole way::

         ╱ sloped, on and on
        ╱
    ───┬────────────── level, at the return height
      ╱
     ╱                 the way flown is the lower of the two: each of its places lies on
    ● aircraft         one of them, and no place of either lies below it
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike

from terrain_guard.arrays import Bools, Floats
from terrain_guard.checks.home.lift import Place, lift
from terrain_guard.checks.home.outcome import Lift
from terrain_guard.checks.home.touch import touch
from terrain_guard.checks.home.ways import Ways
from terrain_guard.ground.model import Ground
from terrain_guard.ground.patches import LocalMap
from terrain_guard.path.frame import WGS84

STEEPEST = 1000.0  # a gradient no aircraft is asked for: straight up
ROUNDS = 40  # of places that ask for more; each comes nearer
CLOSE_M = 1e-3  # what a way may lack to be called clear
HALVINGS = 60


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class LevelWay:
    """How high ways home must be that fly level; arrays (n,).

    ``elevation_m`` is the least elevation, NaN where no ground is known within reach;
    `found` says what stops them.
    """

    elevation_m: Floats
    found: Lift

    def above_launch_m(self, launch_elevation_m: float) -> Floats:
        """Return the least return height above launch."""
        return self.elevation_m - launch_elevation_m


def level_way(
    ground: Ground,
    start: tuple[ArrayLike, ArrayLike],
    home: tuple[ArrayLike, ArrayLike],
    *,
    radius_m: ArrayLike,
    corridor_m: ArrayLike = 0.0,
    from_m: ArrayLike = 0.0,
) -> LevelWay:
    """Return how high the level way home must be, from each place (row, column).

    Parameters
    ----------
    radius_m, corridor_m, from_m
        As for `lift`: `from_m` is where the landing column begins, metres from home.
    """
    found = lift(
        ground, (*start, 0.0), (*home, 0.0), radius_m=radius_m, corridor_m=corridor_m,
        from_m=from_m,
    )  # fmt: skip
    return LevelWay(elevation_m=found.lift_m, found=found)


def sloped_way(
    ground: Ground,
    start: Place,
    home: tuple[ArrayLike, ArrayLike],
    *,
    gradient: ArrayLike,
    radius_m: ArrayLike,
    corridor_m: ArrayLike = 0.0,
    from_m: ArrayLike = 0.0,
) -> Lift:
    """Return the lift of the way that climbs at `gradient` from each start, on and on.

    A way home that climbs on the way to a return elevation is clear exactly if this
    needs no lift and the `level_way` is no higher than that elevation; see `is_clear`.
    """
    row, column, elevation = (np.asarray(part, dtype=float) for part in start)
    climbed = np.asarray(gradient) * _length_m(ground, (row, column), home)
    return lift(
        ground, start, (*home, elevation + climbed), radius_m=radius_m, corridor_m=corridor_m,
        from_m=from_m,
    )  # fmt: skip


def is_clear(
    level: LevelWay, return_elevation_m: ArrayLike, *, sloped: Lift | None = None
) -> Bools:
    """Return which ways home are proven clear: level, after a climb if `sloped` is given.

    False where any ground within reach of the level way is missing.
    """
    clear = level.found.is_known & (level.elevation_m <= np.asarray(return_elevation_m))
    return clear if sloped is None else clear & sloped.is_known & (sloped.lift_m <= 0)


def least_gradient(
    ground: Ground,
    start: Place,
    home: tuple[ArrayLike, ArrayLike],
    *,
    radius_m: ArrayLike,
    corridor_m: ArrayLike = 0.0,
    from_m: ArrayLike = 0.0,
) -> tuple[Floats, Lift]:
    """Return the least gradient at which ways climb clear of the ground, 0 if level ones do.

    The place that stops a way is asked for the gradient that clears it, until no place
    stops it any more: each answer is a bound from below, and the last is enough.

    Returns
    -------
    gradient : (n,) float
        The way with it lacks a millimetre at most. inf where none is enough, since the
        start itself is too near; NaN where no ground is known.
    found : Lift
        What the search of the ways with these gradients found; with 0 where it is inf.
    """
    fields = np.broadcast_arrays(*start, *home, radius_m, corridor_m, from_m)
    row, column, elevation, row0, column0, radius, wide, begin = (
        np.atleast_1d(field).astype(float) for field in fields
    )
    gradient = np.zeros(row.shape)

    def search() -> Lift:
        return sloped_way(
            ground, (row, column, elevation), (row0, column0),
            gradient=np.where(np.isfinite(gradient), gradient, 0.0),
            radius_m=radius, corridor_m=wide, from_m=begin,
        )  # fmt: skip

    found = search()
    for _ in range(ROUNDS):
        pick = np.flatnonzero((found.lift_m > CLOSE_M) & np.isfinite(gradient))
        if not pick.size:
            break
        gradient[pick] = _clearing(
            ground, (row[pick], column[pick], elevation[pick]), (row0[pick], column0[pick]),
            (found.row[pick], found.column[pick], found.elevation_m[pick]),
            radius_m=radius[pick], corridor_m=wide[pick], from_m=begin[pick],
        )  # fmt: skip
        found = search()
    return np.where(np.isnan(found.lift_m), np.nan, gradient), found


def _clearing(
    ground: Ground,
    start: tuple[Floats, Floats, Floats],
    home: tuple[Floats, Floats],
    stops: tuple[Floats, Floats, Floats],
    *,
    radius_m: Floats,
    corridor_m: Floats,
    from_m: Floats,
) -> Floats:
    """Return the gradient at which each way clears one place; inf above the steepest."""
    rows, columns = (np.concatenate((start[k], home[k], stops[k])) for k in (0, 1))
    local = LocalMap.over(*ground.box_around(rows, columns, reach_m=1.0), ground.degrees_at)
    begin, end, place = (local.metres(part[0], part[1]) for part in (start, home, stops))
    length = np.hypot(begin[0] - end[0], begin[1] - end[1])

    def lacks(gradient: Floats) -> Bools:
        ways = Ways.between(
            (*end, start[2] + gradient * length), (*begin, start[2]),
            radius_m=(radius_m, radius_m), wide_m=corridor_m, judged_m=(from_m, length),
        )  # fmt: skip
        return stops[2] + touch(ways, *ways.seen(*place)).rise_m > 0

    low, high = np.zeros(length.shape), np.full(length.shape, STEEPEST)
    never = lacks(high)
    for _ in range(HALVINGS):
        middle = (low + high) / 2
        short = lacks(middle)
        low, high = np.where(short, middle, low), np.where(short, high, middle)
    return np.where(never, np.inf, high)


def _length_m(
    ground: Ground, start: tuple[ArrayLike, ArrayLike], home: tuple[ArrayLike, ArrayLike]
) -> Floats:
    """Return how long ways are, level metres."""
    row, column, row0, column0 = np.broadcast_arrays(*start, *home)
    lon, lat = ground.degrees_at(row.astype(float), column.astype(float))
    lon0, lat0 = ground.degrees_at(row0.astype(float), column0.astype(float))
    _, _, length = WGS84.inv(lon, lat, lon0, lat0)
    return np.asarray(length, dtype=float)

"""Clearance: the shortest 3-D distance from each sample to the ground.

The search starts from what is known (the ground straight below, or the foot
found for a neighbour) and looks only at cells that could be nearer.
"""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np

from terrain_guard.arrays import Bools, Floats, Ints
from terrain_guard.checks import triangles
from terrain_guard.checks.quarters import Quarters, cells_as_quarters, settle
from terrain_guard.checks.search import Near, Seen, descend
from terrain_guard.ground.patches import Patches

SEED_EVERY = 8  # samples between those searched first
SLACK_M = 1e-6


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Foot:
    """The nearest known ground of each sample; arrays (n,).

    ``clearance_m`` is negative below ground, inf where no known ground lies in
    reach. ``row``, ``column`` (posts of the model) and ``elevation_m`` place the
    nearest point.
    """

    clearance_m: Floats
    row: Floats
    column: Floats
    elevation_m: Floats

    def take(self, pick: Ints) -> Foot:
        """Return the picked feet."""
        return Foot(**{name: getattr(self, name)[pick] for name in self.__slots__})


def nearest(
    patches: Patches,
    row: Floats,
    column: Floats,
    elevation_m: Floats,
    above_ground_m: Floats,
    *,
    reach_m: float,
    seed: Foot | None = None,
    within_m: Floats | None = None,
) -> Foot:
    """Return the nearest ground of each sample, exact to a millimetre.

    Parameters
    ----------
    row, column : (n,) float
        Fractional posts of the model, along the curve.
    elevation_m : (n,) float
        Elevation of the samples.
    above_ground_m : (n,) float
        Vertical height above ground; NaN where the ground below is missing.
    reach_m : float
        How far `patches` reach round the samples; nothing is looked for beyond.
    seed : Foot, optional
        Feet known for samples at the same places but other elevations.
    within_m : (n,) float, optional
        Of ground farther than this it is enough to know that it is farther: some point
        of it may stand for the nearest.
    """
    seen = Seen.of(patches, row, column)
    known = np.where(np.isfinite(above_ground_m), np.abs(above_ground_m), reach_m)
    if within_m is not None:
        known = np.minimum(known, within_m)
    if seed is not None:
        known = np.minimum(known, _distance_to(seen, np.arange(row.size), elevation_m, seed))
    elif row.size > 4 * SEED_EVERY:
        few = np.append(np.arange(0, row.size - 1, SEED_EVERY), row.size - 1)
        found = _search(_pick(seen, few), elevation_m[few], above_ground_m[few], known[few])
        place = np.searchsorted(few, np.arange(row.size))
        for step in (place, np.maximum(place - 1, 0)):
            distance = _distance_to(seen, np.arange(row.size), elevation_m, found.take(step))
            known = np.fmin(known, distance)
    return _search(seen, elevation_m, above_ground_m, known)


def _pick(seen: Seen, few: Ints) -> Seen:
    return Seen(
        patches=seen.patches,
        row=seen.row[few],
        column=seen.column[few],
        jacobian=seen.jacobian[few],
        inverse=seen.inverse[few],
    )


def distance_to(
    patches: Patches, row: Floats, column: Floats, elevation_m: Floats, foot: Foot
) -> Floats:
    """Return how far samples (n,) are from known feet (n,); inf where there is none."""
    seen = Seen.of(patches, row, column)
    return _distance_to(seen, np.arange(row.size), elevation_m, foot)


def _distance_to(seen: Seen, sample: Ints, elevation_m: Floats, foot: Foot) -> Floats:
    rows = foot.row - seen.patches.row0 - seen.row
    columns = foot.column - seen.patches.column0 - seen.column
    east, north = seen.metres(sample, rows, columns)
    distance = np.sqrt(east**2 + north**2 + (elevation_m - foot.elevation_m) ** 2)
    return np.where(np.isfinite(distance), distance, np.inf)


def _search(seen: Seen, elevation_m: Floats, above_ground_m: Floats, known: Floats) -> Foot:
    best = known * (1 + 1e-9) + SLACK_M
    sample, i, j = descend(
        seen, reach_m=best, bounds=lambda near: _bounds(near, elevation_m), best=best
    )
    parts = cells_as_quarters(seen, sample, i, j)
    cost, way = settle(parts, lambda p: _exact(p, elevation_m), best)
    below = np.abs(above_ground_m)
    straight_down = ~(cost <= below) & np.isfinite(below)
    cost = np.where(straight_down, below, cost)
    way = np.where(straight_down, np.stack((below * 0, below * 0, -above_ground_m)), way)
    return _placed(seen, elevation_m, cost, way, above_ground_m < 0)


def _bounds(near: Near, elevation_m: Floats) -> tuple[Floats, Floats]:
    up = elevation_m[near.sample] - near.plane_m
    slope2 = near.slope_east**2 + near.slope_north**2
    tilt = np.sqrt(1 + slope2)
    off = (up + near.slope_east * near.east_m + near.slope_north * near.north_m) / tilt
    along = np.sqrt(np.maximum(near.east_m**2 + near.north_m**2 + up**2 - off**2, 0.0))
    off = np.abs(off)
    known = near.stray_m >= 0
    stray = np.where(known, near.stray_m, 0.0)
    lean = stray * np.sqrt(slope2) / tilt
    gap = np.maximum(off - stray / tilt, 0.0)
    beside = np.maximum(along - near.radius_m * tilt - lean, 0.0)
    least = np.where(known, np.hypot(gap, beside), np.inf)
    most = np.where(known & ~near.has_void, np.hypot(off + stray / tilt, along + lean), np.inf)
    return least, most


def _exact(parts: Quarters, elevation_m: Floats) -> tuple[Floats, Floats, Floats, Floats]:
    value, towards = triangles.nearest_on_quad(*corners_seen(parts, elevation_m))
    return value, value - parts.stray_m, value + parts.stray_m, towards


def corners_seen(parts: Quarters, elevation_m: Floats) -> tuple[Floats, Floats, Floats, Floats]:
    """Return the four corners (3, n) of each part, seen from its sample at the origin."""
    here = elevation_m[parts.sample]
    e, n = parts.corner_e, parts.corner_n
    a = np.stack((e, n, parts.z00 - here))
    b = np.stack((e + parts.across_e, n + parts.across_n, parts.z01 - here))
    c = np.stack((e + parts.down_e, n + parts.down_n, parts.z10 - here))
    d = np.stack((b[0] + parts.down_e, b[1] + parts.down_n, parts.z11 - here))
    return a, b, c, d


def _placed(seen: Seen, elevation_m: Floats, cost: Floats, way: Floats, underground: Bools) -> Foot:
    """Place the foot among the posts and measure it there, in metres that are not linearised."""
    k = seen.inverse
    column = seen.column + k[:, 0, 0] * way[0] + k[:, 0, 1] * way[1]
    row = seen.row + k[:, 1, 0] * way[0] + k[:, 1, 1] * way[1]
    row0, column0 = seen.patches.row0, seen.patches.column0
    place = seen.patches.map.metres
    east, north = place(row + row0, column + column0)
    east0, north0 = place(seen.row + row0, seen.column + column0)
    distance = np.sqrt((east - east0) ** 2 + (north - north0) ** 2 + way[2] ** 2)
    distance = np.where(np.isfinite(cost), distance, np.inf)
    return Foot(
        clearance_m=np.where(underground, -distance, distance),
        row=row + row0,
        column=column + column0,
        elevation_m=elevation_m + way[2],
    )


def void_distance(patches: Patches, row: Floats, column: Floats, *, within_m: float) -> Floats:
    """Return the horizontal distance (m) to the nearest cell with a missing post; inf beyond.

    The model's edge counts as missing.
    """
    out = np.full(row.shape, np.inf)
    if not patches.has_void or not row.size:
        return out
    seen = Seen.of(patches, row, column)
    best = np.full(row.shape, within_m + SLACK_M)
    sample, i, j = descend(seen, reach_m=best.copy(), bounds=_void_bounds, best=best)
    parts = cells_as_quarters(seen, sample, i, j)
    parts = parts.take(np.isnan(parts.z00 + parts.z01 + parts.z10 + parts.z11))
    level = np.zeros(parts.sample.size)
    flat = replace(parts, z00=level, z01=level, z10=level, z11=level)
    distance, _ = triangles.nearest_on_quad(*corners_seen(flat, np.zeros(row.size)))
    np.minimum.at(out, parts.sample, distance)
    return np.where(out <= within_m, out, np.inf)


def _void_bounds(near: Near) -> tuple[Floats, Floats]:
    least = np.maximum(near.away_m - near.radius_m, 0.0)
    most = near.away_m + near.radius_m
    return np.where(near.has_void, least, np.inf), np.where(near.has_void, most, np.inf)

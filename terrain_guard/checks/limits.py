"""The two limiting surfaces, under points of a curve.

Lowest allowed: the elevation from which no point of the ground is nearer than
the floor. It is what a ball of that radius, let down from above, would rest at::

         ( ball )  ← its middle: lowest allowed
        ╱╲ ╲__╱
    ___╱  ╲______    ground

Highest allowed: ground + ceiling, or, where the ceiling counts from the closest
point of the ground, what a ball of the ceiling's radius would rest at.

In a corridor the ball is moved sideways by up to its half width, and the worst
counts: a cylinder with a rounded edge, let down. For a ceiling some ground must be
near enough whichever way the aircraft strays: a spindle, the ball less its middle.
"""

from __future__ import annotations

import numpy as np

from terrain_guard.arrays import Floats
from terrain_guard.checks import discs, triangles
from terrain_guard.checks.clearance import corners_seen
from terrain_guard.checks.quarters import Quarters, cells_as_quarters, settle
from terrain_guard.checks.search import Near, Seen, descend
from terrain_guard.ground.model import Ground

MOST_POINTS = 500


def resting_elevation(
    ground: Ground,
    row: Floats,
    column: Floats,
    radius_m: float,
    corridor_m: float | Floats = 0.0,
) -> Floats:
    """Return the elevation at which a ball, let down on the ground, comes to rest.

    Parameters
    ----------
    row, column : (n,) float
        Fractional posts.
    radius_m : float
        Radius of the ball.
    corridor_m : float or (n,) float, optional
        By how much the ball may be moved sideways, level metres: the highest counts.
        Less than 0, and more than −`radius_m`: the highest elevation from which some
        place of the ground is within the radius of every place as far aside as that.

    Returns
    -------
    (n,) float
        Elevation of the ball's middle, exact to a millimetre on the known ground;
        NaN where no ground is known within reach.
    """
    out, corridor = np.full(row.shape, np.nan), np.broadcast_to(corridor_m, row.shape)
    known = np.flatnonzero(np.isfinite(row) & np.isfinite(column))
    for k in range(0, known.size, MOST_POINTS):
        pick = known[k : k + MOST_POINTS]
        out[pick] = _rest(ground, row[pick], column[pick], radius_m, corridor[pick])
    return out


def _rest(
    ground: Ground, row: Floats, column: Floats, radius_m: float, corridor_m: Floats
) -> Floats:
    patches = ground.around(row, column, reach_m=radius_m + float(corridor_m.max()) + 1.0)
    seen = Seen.of(patches, row, column)
    spindle = np.minimum(corridor_m, 0.0)
    below = ground.elevation_at(row, column) + np.sqrt(radius_m**2 - spindle**2)
    best = np.where(np.isfinite(below), -below, np.inf)  # cost: minus the elevation
    sample, i, j = descend(
        seen,
        reach_m=radius_m + corridor_m,
        bounds=lambda near: _bounds(near, radius_m, corridor_m[near.sample]),
        best=best,
    )
    parts = cells_as_quarters(seen, sample, i, j)
    parts = parts.take(np.isfinite(parts.z00 + parts.z01 + parts.z10 + parts.z11))
    cost, _ = settle(parts, lambda p: _exact(p, radius_m, corridor_m), best)
    cost = np.fmin(cost, -below)
    return np.where(np.isfinite(cost), -cost, np.nan)


def _bounds(near: Near, radius_m: float, wide: Floats) -> tuple[Floats, Floats]:
    slope = np.hypot(near.slope_east, near.slope_north)
    known = near.stray_m >= 0
    stray = np.where(known, near.stray_m, 0.0)
    east, north, away = near.east_m, near.north_m, near.away_m
    inside = np.maximum(away - near.radius_m, 0.0)
    # Three bounds, each true: the plane's own best; the group's top at its nearest;
    # the tangent of a concave function at the middle.
    own = near.plane_m - near.slope_east * east - near.slope_north * north
    own = own + slope * wide + radius_m * np.sqrt(1 + slope**2)
    top = near.plane_m + slope * near.radius_m + discs.rise(radius_m, inside - wide)
    rise, outward = discs.rise(radius_m, away - wide), np.maximum(away - wide, 0.0)
    outward = outward / np.maximum(away, discs.TINY)
    with np.errstate(divide="ignore", invalid="ignore"):
        lean = np.hypot(
            near.slope_east - outward * east / rise, near.slope_north - outward * north / rise
        )
    tangent = np.where(rise > 0, near.plane_m + rise + lean * near.radius_m, np.inf)
    most = np.fmin(np.fmin(own, top), tangent) + stray
    most = np.where(known & (inside <= radius_m + wide), most, -np.inf)
    sure = known & ~near.has_void & (away <= radius_m + wide)
    least = np.where(sure, near.plane_m + rise - stray, -np.inf)
    return -most, -least


def _exact(
    parts: Quarters, radius_m: float, corridor_m: Floats
) -> tuple[Floats, Floats, Floats, Floats]:
    corners = corners_seen(parts, np.zeros(corridor_m.shape))
    radius = np.full(parts.sample.shape, radius_m)
    if corridor_m.any():
        value, point = discs.rest_on_quad(*corners, radius=radius, wide=corridor_m[parts.sample])
    else:  # closed forms
        value, point = triangles.highest_over_quad(*corners, radius)
    return -value, -value - parts.stray_m, -value + parts.stray_m, point

"""The two limiting surfaces, under points of a curve.

Lowest allowed: the elevation from which no point of the ground is nearer than
the floor. It is what a ball of that radius, let down from above, would rest at::

         ( ball )  ← its middle: lowest allowed
        ╱╲ ╲__╱
    ___╱  ╲______    ground

Highest allowed: ground + ceiling, or, where the ceiling counts from the closest
point of the ground, what a ball of the ceiling's radius would rest at.
"""

from __future__ import annotations

import numpy as np

from terrain_guard.arrays import Floats
from terrain_guard.checks import triangles
from terrain_guard.checks.clearance import corners_seen
from terrain_guard.checks.quarters import Quarters, cells_as_quarters, settle
from terrain_guard.checks.search import Near, Seen, descend
from terrain_guard.ground.model import Ground

MOST_POINTS = 500


def resting_elevation(ground: Ground, row: Floats, column: Floats, radius_m: float) -> Floats:
    """Return the elevation at which a ball, let down on the ground, comes to rest.

    Parameters
    ----------
    row, column : (n,) float
        Fractional posts.
    radius_m : float
        Radius of the ball.

    Returns
    -------
    (n,) float
        Elevation of the ball's middle, exact to a millimetre on the known ground;
        NaN where no ground is known within reach.
    """
    out = np.full(row.shape, np.nan)
    known = np.flatnonzero(np.isfinite(row) & np.isfinite(column))
    for k in range(0, known.size, MOST_POINTS):
        pick = known[k : k + MOST_POINTS]
        out[pick] = _rest(ground, row[pick], column[pick], radius_m)
    return out


def _rest(ground: Ground, row: Floats, column: Floats, radius_m: float) -> Floats:
    patches = ground.around(row, column, reach_m=radius_m + 1.0)
    seen = Seen.of(patches, row, column)
    below = ground.elevation_at(row, column) + radius_m
    best = np.where(np.isfinite(below), -below, np.inf)  # cost: minus the elevation
    reach = np.full(row.shape, radius_m)
    sample, i, j = descend(
        seen, reach_m=reach, bounds=lambda near: _bounds(near, radius_m), best=best
    )
    parts = cells_as_quarters(seen, sample, i, j)
    cost, _ = settle(parts, lambda p: _exact(p, radius_m), best)
    cost = np.fmin(cost, -below)
    return np.where(np.isfinite(cost), -cost, np.nan)


def _bounds(near: Near, radius_m: float) -> tuple[Floats, Floats]:
    slope = np.hypot(near.slope_east, near.slope_north)
    known = near.stray_m >= 0
    stray = np.where(known, near.stray_m, 0.0)
    east, north, away = near.east_m, near.north_m, near.away_m
    inside = np.maximum(away - near.radius_m, 0.0)
    # Three bounds, each true: the plane's own best; the group's top at its nearest;
    # the tangent of a concave function at the middle.
    own = near.plane_m - near.slope_east * east - near.slope_north * north
    own = own + radius_m * np.sqrt(1 + slope**2)
    top = near.plane_m + slope * near.radius_m + np.sqrt(np.maximum(radius_m**2 - inside**2, 0.0))
    rise = np.sqrt(np.maximum(radius_m**2 - away**2, 0.0))
    with np.errstate(divide="ignore", invalid="ignore"):
        lean = np.hypot(near.slope_east - east / rise, near.slope_north - north / rise)
    tangent = np.where(rise > 0, near.plane_m + rise + lean * near.radius_m, np.inf)
    most = np.fmin(np.fmin(own, top), tangent) + stray
    most = np.where(known & (inside <= radius_m), most, -np.inf)
    sure = known & ~near.has_void & (away <= radius_m)
    least = np.where(sure, near.plane_m + rise - stray, -np.inf)
    return -most, -least


def _exact(parts: Quarters, radius_m: float) -> tuple[Floats, Floats, Floats, Floats]:
    here = np.zeros(int(parts.sample.max(initial=-1)) + 1)
    corners = corners_seen(parts, here)
    value, point = triangles.highest_over_quad(*corners, np.full(parts.sample.shape, radius_m))
    return -value, -value - parts.stray_m, -value + parts.stray_m, point

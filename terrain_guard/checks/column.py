"""Take-off and landing: the column above the spot, and what stands in it.

::

     ╲   free   ╱
       ╲      ╱       nothing of the ground may stand above a 1:1 cone
         ╲  ╱         with its tip on the spot, out to the radius
    ______╲╱______
"""

from __future__ import annotations

import numpy as np

from terrain_guard.arrays import Floats
from terrain_guard.checks.clearance import corners_seen, void_distance
from terrain_guard.checks.search import Near, Quarters, Seen, cells_as_quarters, descend, settle
from terrain_guard.ground.model import Ground

CONE_M = 0.01  # how well the height above the cone is known
COLUMN_RADIUS_M = 15.0
"""Besides the doubt about the spot itself. Our own choice."""


def cone_excess(
    ground: Ground, row: float, column: float, *, spot_elevation_m: float, radius_m: float
) -> tuple[float, float]:
    """Return how far ground stands above a 1:1 cone with its tip on a spot, and the nearest void.

    Parameters
    ----------
    row, column : float
        The spot, in fractional posts.
    spot_elevation_m : float
        Elevation of the cone's tip.
    radius_m : float
        How far from the spot to look, horizontally.

    Returns
    -------
    excess_m : float
        Greatest height of the ground above the cone; 0 or less: none.
    void_m : float
        Horizontal distance to missing ground, inf if none within the radius.
    """
    rows, columns = np.array([row]), np.array([column])
    patches = ground.around(rows, columns, reach_m=radius_m + 1.0)
    seen = Seen.of(patches, rows, columns)
    best = np.zeros(1)  # the tip itself stands on the cone
    sample, i, j = descend(
        seen,
        reach_m=np.array([radius_m]),
        bounds=lambda near: _cone_bounds(near, spot_elevation_m, radius_m),
        best=best,
    )
    parts = cells_as_quarters(seen, sample, i, j)
    cost, _ = settle(
        parts, lambda p: _cone_exact(p, spot_elevation_m, radius_m), best, flat_m=CONE_M
    )
    void = void_distance(patches, rows, columns, within_m=radius_m)
    return float(np.fmax(-cost[0], 0.0)) if np.isfinite(cost[0]) else 0.0, float(void[0])


def _cone_bounds(near: Near, tip_m: float, radius_m: float) -> tuple[Floats, Floats]:
    slope = np.hypot(near.slope_east, near.slope_north)
    inside = np.maximum(near.away_m - near.radius_m, 0.0)
    top = near.plane_m + slope * near.radius_m + near.stray_m - tip_m - inside
    seen = (near.stray_m >= 0) & (inside <= radius_m)
    return np.where(seen, -top, np.inf), np.full(top.shape, np.inf)


def _cone_exact(
    parts: Quarters, tip_m: float, radius_m: float
) -> tuple[Floats, Floats, Floats, Floats]:
    """Greatest height above the cone at a part's corners; small parts at the rim count whole."""
    corners = corners_seen(parts, np.full(int(parts.sample.max(initial=-1)) + 1, tip_m))
    away = np.stack([np.hypot(c[0], c[1]) for c in corners])
    over = np.stack([c[2] for c in corners]) - away
    size = np.hypot(corners[3][0] - corners[0][0], corners[3][1] - corners[0][1])
    size = np.maximum(size, np.hypot(corners[2][0] - corners[1][0], corners[2][1] - corners[1][1]))
    steep = np.hypot(parts.z01 - parts.z00, parts.z10 - parts.z00)
    value = np.where(away <= radius_m, over, -np.inf).max(axis=0)
    highest = over.max(axis=0) + size + steep  # nothing in the part stands higher
    gone = away.min(axis=0) - size > radius_m
    least = np.where(gone, np.inf, -highest)
    return -value, least, -value, np.full((3, value.size), np.nan)

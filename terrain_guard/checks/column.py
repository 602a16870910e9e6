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
from terrain_guard.checks.quarters import Quarters, cells_as_quarters, settle
from terrain_guard.checks.search import Near, Seen, descend
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
    away = near.away_m
    lean = _lean(near.east_m, near.north_m, near.slope_east, near.slope_north)
    top = near.plane_m - tip_m - away + lean * near.radius_m + near.stray_m
    seen = (near.stray_m >= 0) & (away - near.radius_m <= radius_m)
    return np.where(seen, -top, np.inf), np.full(top.shape, np.inf)


def _lean(east: Floats, north: Floats, slope_east: Floats, slope_north: Floats) -> Floats:
    """Return how steeply a plane rises against the cone.

    A plane less the cone is a concave surface, and that lies below its tangents:
    away from a place it rises above the cone by at most this slope.
    """
    away = np.hypot(east, north)
    with np.errstate(divide="ignore", invalid="ignore"):
        out_east, out_north = (np.where(away > 0, way / away, 0.0) for way in (east, north))
    return np.hypot(slope_east - out_east, slope_north - out_north)


def _cone_exact(
    parts: Quarters, tip_m: float, radius_m: float
) -> tuple[Floats, Floats, Floats, Floats]:
    """Greatest height above the cone at a part's corners and middle, and the bound for the rest."""
    corners = corners_seen(parts, np.full(int(parts.sample.max(initial=-1)) + 1, tip_m))
    middle = sum(corners) / 4
    east, north, up = np.stack((*corners, middle), axis=1)  # (5, n) each
    away = np.hypot(east, north)
    value = np.where(away <= radius_m, up - away, -np.inf).max(axis=0)
    radius = np.hypot(east[:4] - east[4], north[:4] - north[4]).max(axis=0)
    lean = _lean(east[4], north[4], *_slopes(parts))
    highest = up[4] - away[4] + lean * radius + parts.stray_m
    gone = away[4] - radius > radius_m
    least = np.where(gone, np.inf, -highest)
    return -value, least, -value, np.full((3, value.size), np.nan)


def _slopes(parts: Quarters) -> tuple[Floats, Floats]:
    """Return the slopes (east, north) of the plane through the middle of each part."""
    across = ((parts.z01 + parts.z11) - (parts.z00 + parts.z10)) / 2
    down = ((parts.z10 + parts.z11) - (parts.z00 + parts.z01)) / 2
    area = parts.across_e * parts.down_n - parts.across_n * parts.down_e
    return (
        (across * parts.down_n - down * parts.across_n) / area,
        (down * parts.across_e - across * parts.down_e) / area,
    )

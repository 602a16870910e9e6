"""Take-off and landing: the column above the spot, and what stands in it.

::

     ╲   free   ╱
       ╲      ╱       nothing of the ground may stand above a 1:1 cone
         ╲  ╱         with its tip on the spot, out to the radius
    ______╲╱______
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from terrain_guard.arrays import Floats
from terrain_guard.checks.clearance import corners_seen, void_distance
from terrain_guard.checks.quarters import Quarters, cells_as_quarters
from terrain_guard.checks.search import Near, Seen, descend
from terrain_guard.ground.model import Ground
from terrain_guard.states import SEVERITY, State

CONE_M = 0.01  # how well the height above the cone is known
COLUMN_RADIUS_M = 15.0
"""Besides the doubt about the spot itself. Our own choice."""
TOLERANCE_M = 1e-3
SURVEY_DOUBT_M = 1.0
"""Two surveys are compared to a metre, so a surface this much above the tip is still its ground."""


@dataclass(frozen=True, slots=True, kw_only=True)
class ColumnState:
    """What was found about one column.

    ``slack_m`` is the height above ground of an aircraft standing on the spot:
    negative where a stated launch elevation is lower than the model's. In the
    column, contact is counted from there. ``excess_m`` is how far something stands
    above the cone, in the surface model if `in_surface`.
    """

    code: int  # index into SEVERITY
    slack_m: float = 0.0
    excess_m: float = 0.0
    in_surface: bool = False


def column_state(
    ground: Ground,
    surface: Ground | None,
    place_deg: tuple[float, float],
    *,
    radius_m: float,
    standing_m: float,
    deck_m: float = 0.0,
) -> ColumnState:
    """Look at one column.

    Parameters
    ----------
    ground, surface : Ground
        The cone's tip stands on the ground or on the deck; nothing of either may stand above it.
    place_deg : (lon, lat)
        The spot.
    standing_m : float
        Elevation of the aircraft standing on the spot, by its launch ground.
    deck_m : float
        How far above ground the deck, roof or case there is.
    """
    spot = [float(values[0]) for values in ground.posts_at(*place_deg)]
    here = float(ground.elevation_at(*(np.array([value]) for value in spot))[0])
    if np.isnan(here):
        return ColumnState(code=SEVERITY.index(State.NOT_ASSESSED))
    tip = here + deck_m
    excess, void = cone_excess(ground, *spot, spot_elevation_m=tip, radius_m=radius_m)
    above, unknown = -np.inf, np.inf
    if surface is not None:
        spot = [float(values[0]) for values in surface.posts_at(*place_deg)]
        unknown = 0.0  # where its reference system has no such place
        if np.isfinite(spot).all():
            above, unknown = cone_excess(surface, *spot, spot_elevation_m=tip, radius_m=radius_m)
    blocked = excess > TOLERANCE_M or above > SURVEY_DOUBT_M
    unseen = min(void, unknown) <= radius_m
    state = State.BREACH if blocked else State.NOT_ASSESSED if unseen else State.WITHIN
    return ColumnState(
        code=SEVERITY.index(state),
        slack_m=standing_m - here,
        excess_m=max(excess, above),
        in_surface=above > excess,
    )


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
    sample, i, j = descend(
        seen,
        reach_m=np.array([radius_m]),
        bounds=lambda near: _cone_bounds(near, spot_elevation_m, radius_m),
        best=np.zeros(1),  # the tip itself stands on the cone
    )
    parts, excess = cells_as_quarters(seen, sample, i, j), 0.0
    while parts.sample.size:
        found, highest = _over_cone(parts, spot_elevation_m, radius_m)
        excess = max(excess, float(found.max()))
        parts = parts.take(highest > excess + CONE_M).split()
    return excess, float(void_distance(patches, rows, columns, within_m=radius_m)[0])


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


def _over_cone(parts: Quarters, tip_m: float, radius_m: float) -> tuple[Floats, Floats]:
    """Return how high each part stands above the cone at its corners and middle, and at most."""
    corners = corners_seen(parts, np.full(int(parts.sample.max()) + 1, tip_m))
    east, north, up = np.stack((*corners, sum(corners) / 4), axis=1)  # (5, n) each
    away = np.hypot(east, north)
    found = np.where(away <= radius_m, up - away, -np.inf).max(axis=0)
    radius = np.hypot(east[:4] - east[4], north[:4] - north[4]).max(axis=0)
    lean = _lean(east[4], north[4], *_slopes(parts))
    highest = up[4] - away[4] + lean * radius + parts.stray_m
    return found, np.where(away[4] - radius > radius_m, -np.inf, highest)


def _slopes(parts: Quarters) -> tuple[Floats, Floats]:
    """Return the slopes (east, north) of the plane through the middle of each part."""
    across = ((parts.z01 + parts.z11) - (parts.z00 + parts.z10)) / 2
    down = ((parts.z10 + parts.z11) - (parts.z00 + parts.z01)) / 2
    area = parts.across_e * parts.down_n - parts.across_n * parts.down_e
    return (
        (across * parts.down_n - down * parts.across_n) / area,
        (down * parts.across_e - across * parts.down_e) / area,
    )

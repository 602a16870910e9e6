"""The highest and the lowest ground in a level disc round each sample of a curve.

A bilinear patch is nowhere higher than its highest corner; so what is highest in a
disc is a post in it, or lies on its rim::

         ╱●╲   post
    ────┼───┼────
        │   ╲●     rim
"""

from __future__ import annotations

from dataclasses import replace

import numpy as np

from terrain_guard.arrays import Floats, Ints
from terrain_guard.checks import discs
from terrain_guard.checks.clearance import corners_seen
from terrain_guard.checks.quarters import Quarters, cells_as_quarters, settle
from terrain_guard.checks.search import Near, Seen, descend, lower
from terrain_guard.ground.patches import Patches

TIE_M = 1e-4  # what would better the best by less is not looked at: level ground is all alike
LEAST_M = 1e-6  # a point on the edge between two triangles may, by rounding, be in neither


def covering_m(corridor_m: Floats, chord_m: Floats) -> Floats:
    """Return the radius of discs at both ends of a chord that cover every disc between.

    For any place y and any point x of the chord, t of the way along, Stewart's theorem
    says that (1 − t) |x₁y|² + t |x₂y|² = |xy|² + t (1 − t) d²: the nearer end is no
    farther from y than √(|xy|² + d²/4).

    Parameters
    ----------
    corridor_m, chord_m : (n,) float
        Radius of the discs between, and level length of the chord.

    Examples
    --------
    >>> round(float(covering_m(5.0, 1.0)), 3)
    5.025
    """
    return np.hypot(corridor_m, np.asarray(chord_m) / 2)


def extremes_within(
    patches: Patches, row: Floats, column: Floats, corridor_m: Floats
) -> tuple[Floats, Floats]:
    """Return the highest and the lowest ground in the disc round each sample, to a millimetre.

    Parameters
    ----------
    patches : Patches
        The ground, at least as far round the samples as the corridor.
    row, column : (n,) float
        Fractional posts of the model.
    corridor_m : (n,) float
        Radius of each disc, level metres.

    Returns
    -------
    highest_m, lowest_m : (n,) float
        Elevation of the known ground; NaN where no cell of it is known. How near
        missing ground is `clearance.void_distance` tells.
    """
    highest = highest_within(patches, row, column, corridor_m)
    return highest, lowest_within(patches, row, column, corridor_m)


def highest_within(patches: Patches, row: Floats, column: Floats, corridor_m: Floats) -> Floats:
    """Return the highest alone."""
    return _highest(Seen.of(patches, row, column), corridor_m, 1.0)


def lowest_within(patches: Patches, row: Floats, column: Floats, corridor_m: Floats) -> Floats:
    """Return the lowest alone."""
    return -_highest(Seen.of(patches, row, column), corridor_m, -1.0)


def _highest(seen: Seen, corridor_m: Floats, sign: float) -> Floats:
    """Return the highest ground in each disc; with `sign` −1, of the ground turned over."""
    wide = np.maximum(corridor_m, LEAST_M)
    best = np.full(wide.shape, np.inf)  # cost: minus the elevation
    cells = descend(
        seen,
        reach_m=wide,
        bounds=lambda near: _top_bounds(near, wide[near.sample], sign),
        best=best,
    )
    parts = known_parts(seen, cells)
    turned = {name: sign * getattr(parts, name) for name in ("z00", "z01", "z10", "z11")}
    cost, _ = settle(replace(parts, **turned), lambda p: _top(p, wide[p.sample], best), best)
    cost = np.minimum(cost, best)
    return np.where(np.isfinite(cost), -cost, np.nan)


def known_parts(seen: Seen, cells: tuple[Ints, Ints, Ints]) -> Quarters:
    """Return cells to be quartered, without those that miss a post."""
    parts = cells_as_quarters(seen, *cells)
    return parts.take(np.isfinite(parts.z00 + parts.z01 + parts.z10 + parts.z11))


def _top_bounds(near: Near, wide: Floats, sign: float) -> tuple[Floats, Floats]:
    away, slope = near.away_m, np.hypot(near.slope_east, near.slope_north)
    known = near.stray_m >= 0
    stray = np.where(known, near.stray_m, 0.0)
    middle = sign * near.plane_m
    here = middle - sign * (near.slope_east * near.east_m + near.slope_north * near.north_m)
    top = np.minimum(here + slope * wide, middle + slope * near.radius_m) + stray
    within = known & (away - near.radius_m <= wide)
    sure = known & ~near.has_void & (away <= wide)
    return np.where(within, TIE_M - top, np.inf), np.where(sure, stray - middle, np.inf)


def _top(parts: Quarters, wide: Floats, best: Floats) -> tuple[Floats, Floats, Floats, Floats]:
    """Return the highest of each part, if one could be higher than what is known.

    A patch is nowhere higher than its highest corner, so that parts wholly in the disc,
    and those with no corner high enough, need no closer look.
    """
    corners = corners_seen(parts, np.zeros(best.shape))
    east, north, up = np.stack(corners, axis=1)  # (4, n) each
    inside = east**2 + north**2 <= wide**2
    lower(best, parts.sample, -np.where(inside, up, -np.inf).max(axis=0))
    top, whole = up.max(axis=0), inside.all(axis=0)
    look = ~whole & (top > TIE_M - best[parts.sample])
    value, place = np.where(whole, top, -np.inf), np.full((3, top.size), np.nan)
    a, b, c, d = (corner[:, look] for corner in corners)
    value[look], place[:, look] = discs.highest_on_quad(a, b, c, d, wide[look])
    stray = np.where(whole, 0.0, parts.stray_m)
    return -value, -value - stray, stray - value, place

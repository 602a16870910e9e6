r"""Clearance in a corridor: the aircraft may stray sideways, and the worst counts.

Round each sample lies a level disc of the corridor's half width w. Wherever in it the
aircraft really is, what is said here holds::

                 ●╲           ▲
       ╱╲_______╱  ╲          │ above the highest: `extremes`
      ╱   ━━━━━━━━━━╲━P━━━━━━ ▼
     ╱                ╲___    the nearest, from the disc's rim

**Nearest.** `nearest_within` is the clearance at the worst place of the disc. Where no
ground in the disc stands above it, that is the least √(max(0, ρ − w)² + Δz²) over all
places of the ground, at the horizontal distance ρ and the height difference Δz. Where
some does, it is 0 at most, and the greater of two lower bounds stands for it:

* minus the height of the highest ground above the disc, for no place in the ground is
  farther from the surface than the surface straight above;
* the clearance of the middle less w, for clearance changes at most metre for metre.

So it equals `clearance.nearest` for w = 0 and never exceeds it, never grows with w, and
changes at most metre for metre with elevation.

**Farthest.** `farthest_within` is an upper bound of the clearance anywhere in the disc, for
ceilings: no place of it is farther from the foot of the middle than √((ρ + w)² + Δz²);
nor, if all ground in the disc is known, higher above the ground straight below than above
the lowest. Over a plane that is too much by w² / (2 · clearance) at most, a tenth of a
metre at 120 m with w = 5 m; between two walls by up to w sin(slope) more.

**Between two samples** with the same w, d apart:

* Above ground the nearest is the distance to a set that does not move with the aircraft:
  the ground, each place of it drawn out to a disc. Stewart's theorem asks no more of the
  ground, so `between.at_least` holds as it stands for two values above 0. Otherwise the
  values are lower bounds of one that changes at most metre for metre, the least of the
  disc's; so `between.at_least` holds with no foot known (`cross` NaN).
* The square of the distance by `farthest_to`, |Pq|² + 2 w ρ + w², lies on the chord below
  the parabola d² t² + … through its ends, for ρ is convex. So `between.at_most` holds
  with these for all four distances to the feet of the ends.
* Discs between lie in somewhat larger ones at the ends (`extremes.covering_m`), and so do
  their highest and lowest. Where w differs, the greater at both ends is on the safe side.
"""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np

from terrain_guard.arrays import Bools, Floats, Ints
from terrain_guard.checks import discs
from terrain_guard.checks.clearance import Foot, corners_seen, nearest, void_distance
from terrain_guard.checks.discs import TINY
from terrain_guard.checks.extremes import TIE_M, highest_within, known_parts
from terrain_guard.checks.quarters import Quarters, settle
from terrain_guard.checks.search import Near, Seen, descend
from terrain_guard.ground.patches import Patches

SEED_EVERY = 8  # samples between those searched first


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class _Samples:
    """Samples with the discs round them, (n,)."""

    seen: Seen
    elevation_m: Floats
    wide_m: Floats

    def take(self, pick: Ints) -> _Samples:
        names = ("row", "column", "jacobian", "inverse")
        seen = replace(self.seen, **{name: getattr(self.seen, name)[pick] for name in names})
        return _Samples(seen=seen, elevation_m=self.elevation_m[pick], wide_m=self.wide_m[pick])

    def to(self, foot: Foot) -> Foot:
        """Return feet with their distance from the discs; inf where not known."""
        patches = self.seen.patches
        row, column = self.seen.row + patches.row0, self.seen.column + patches.column0
        way = _way(patches, row, column, self.elevation_m, foot)
        distance = discs.distance(way, self.wide_m)
        return replace(foot, clearance_m=np.where(np.isfinite(distance), distance, np.inf))


def nearest_within(
    patches: Patches,
    row: Floats,
    column: Floats,
    elevation_m: Floats,
    above_highest_m: Floats,
    *,
    corridor_m: Floats,
    reach_m: float,
    seed: Foot | None = None,
    enough_m: Floats | None = None,
) -> Foot:
    """Return the least clearance in the disc round each sample; see the module.

    Parameters
    ----------
    patches : Patches
        The ground round the samples, `reach_m` farther than the corridor.
    row, column : (n,) float
        Fractional posts of the model, along the curve.
    elevation_m : (n,) float
        Elevation of the samples.
    above_highest_m : (n,) float
        Their height above the highest known ground in the disc (`extremes`); NaN where
        none is known.
    corridor_m : (n,) float
        Radius of each disc, level metres.
    reach_m : float
        Nothing is looked for farther from the disc.
    seed : Foot, optional
        Feet known for samples at the same places but other elevations.
    enough_m : (n,) float, optional
        Of ground farther than this it is enough to know that it is farther: some
        place of it may stand for the nearest.

    Returns
    -------
    Foot
        ``clearance_m`` to a millimetre; inf where no known ground lies in reach. Row and
        column are NaN where the nearest ground is the highest in the disc, or above it.
    """
    seen = Seen.of(patches, row, column)
    samples = _Samples(seen=seen, elevation_m=elevation_m, wide_m=corridor_m)
    start = _straight_down(elevation_m, above_highest_m)
    limit = np.full(row.shape, reach_m) if enough_m is None else np.fmin(enough_m, reach_m)
    if seed is not None:
        known = samples.to(seed)
        start = _chosen(known.clearance_m < start.clearance_m, known, start)
    elif row.size > 4 * SEED_EVERY:
        few = np.append(np.arange(0, row.size - 1, SEED_EVERY), row.size - 1)
        found = _search(samples.take(few), start.take(few), limit[few])
        place = np.searchsorted(few, np.arange(row.size))
        for step in (place, np.maximum(place - 1, 0)):
            known = samples.to(found.take(step))
            start = _chosen(known.clearance_m < start.clearance_m, known, start)
    foot = _search(samples, start, limit)
    under = np.flatnonzero(above_highest_m < 0)
    if under.size:
        foot.clearance_m[under] = _in_ground(samples.take(under), above_highest_m[under], reach_m)
    return foot


def _straight_down(elevation_m: Floats, above_highest_m: Floats) -> Foot:
    """Begin with the highest ground in the disc, wherever it is."""
    nowhere = np.full(elevation_m.shape, np.nan)
    return Foot(
        clearance_m=np.where(np.isnan(above_highest_m), np.inf, above_highest_m),
        row=nowhere,
        column=nowhere,
        elevation_m=elevation_m - above_highest_m,
    )


def _chosen(which: Bools, one: Foot, other: Foot) -> Foot:
    names = Foot.__slots__
    return Foot(**{n: np.where(which, getattr(one, n), getattr(other, n)) for n in names})


def _search(samples: _Samples, start: Foot, limit: Floats) -> Foot:
    """Look for ground nearer than what is known to start with."""
    best = np.minimum(start.clearance_m - TIE_M, limit)
    cells = descend(
        samples.seen,
        reach_m=np.maximum(best, 0.0) + samples.wide_m,
        bounds=lambda near: _bounds(near, samples),
        best=best,
    )
    parts = known_parts(samples.seen, cells)
    cost, way = settle(parts, lambda p: _exact(p, samples, best), best)
    return _chosen(np.isfinite(cost), _placed(samples, way), start)


def _placed(samples: _Samples, way: Floats) -> Foot:
    """Place the feet among the posts and measure there, in metres that are not linearised."""
    seen, k = samples.seen, samples.seen.inverse
    column = seen.column + k[:, 0, 0] * way[0] + k[:, 0, 1] * way[1] + seen.patches.column0
    row = seen.row + k[:, 1, 0] * way[0] + k[:, 1, 1] * way[1] + seen.patches.row0
    elevation_m = samples.elevation_m + way[2]
    return samples.to(Foot(clearance_m=row, row=row, column=column, elevation_m=elevation_m))


def _bounds(near: Near, samples: _Samples) -> tuple[Floats, Floats]:
    """Bound the distance of a group from below by the tangent at its middle, and by its plane.

    The distance is a convex function of the place, so it lies nowhere below its tangents.
    """
    wide = samples.wide_m[near.sample]
    up = near.plane_m - samples.elevation_m[near.sample]
    known = near.stray_m >= 0
    stray = np.where(known, near.stray_m, 0.0)
    cost, east, north, steep = _tangent(near.east_m, near.north_m, up, wide)
    lean = np.hypot(east + steep * near.slope_east, north + steep * near.slope_north)
    tangent = cost - lean * near.radius_m - np.abs(steep) * stray
    slope2 = near.slope_east**2 + near.slope_north**2
    off = np.abs(up - near.slope_east * near.east_m - near.slope_north * near.north_m)
    plane = (off - stray - wide * np.sqrt(slope2)) / np.sqrt(1 + slope2)
    most = np.hypot(np.maximum(near.away_m - wide, 0.0), np.abs(up) + stray)
    least = np.where(known, np.maximum(tangent, plane), np.inf)
    return least, np.where(known & ~near.has_void, most, np.inf)


def _tangent(
    east: Floats, north: Floats, up: Floats, wide: Floats
) -> tuple[Floats, Floats, Floats, Floats]:
    """Return the distance of places from discs, and how it grows east, north and up."""
    away = np.sqrt(east**2 + north**2)
    beside = np.maximum(away - wide, 0.0)
    cost = np.sqrt(beside**2 + up**2)
    some = np.maximum(cost, TINY)
    outward = beside / np.maximum(away, TINY) / some
    return cost, outward * east, outward * north, up / some


def _exact(
    parts: Quarters, samples: _Samples, best: Floats
) -> tuple[Floats, Floats, Floats, Floats]:
    """Return the distance of each part, if by its tangent it could be nearer than the best."""
    wide = samples.wide_m[parts.sample]
    look = _at_least(parts, samples) <= best[parts.sample]
    value, way = np.full(look.shape, np.inf), np.full((3, look.size), np.nan)
    corners = corners_seen(parts.take(look), samples.elevation_m)
    value[look], way[:, look] = discs.nearest_on_quad(*corners, wide[look])
    return value, value - parts.stray_m, value + parts.stray_m, way


def _at_least(parts: Quarters, samples: _Samples) -> Floats:
    """Return a lower bound of the distance of each part, by the tangent at its middle."""
    z00, z01, z10, z11 = parts.z00, parts.z01, parts.z10, parts.z11
    cost, east, north, steep = _tangent(
        parts.corner_e + (parts.across_e + parts.down_e) / 2,
        parts.corner_n + (parts.across_n + parts.down_n) / 2,
        (z00 + z01 + z10 + z11) / 4 - samples.elevation_m[parts.sample],
        samples.wide_m[parts.sample],
    )
    climb_across, climb_down = ((z01 + z11) - (z00 + z10)) / 2, ((z10 + z11) - (z00 + z01)) / 2
    across = east * parts.across_e + north * parts.across_n + steep * climb_across
    down = east * parts.down_e + north * parts.down_n + steep * climb_down
    return cost - (np.abs(across) + np.abs(down)) / 2 - np.abs(steep) * parts.stray_m


def _in_ground(samples: _Samples, above_highest_m: Floats, reach_m: float) -> Floats:
    """Bound the clearance in discs with ground above them.

    Where some of the ground is missing, nobody knows which side of it the middle is on.
    """
    patches, wide = samples.seen.patches, samples.wide_m
    place = samples.seen.row + patches.row0, samples.seen.column + patches.column0
    above = samples.elevation_m - highest_within(patches, *place, 0.0 * wide)
    middle = nearest(patches, *place, samples.elevation_m, above, reach_m=reach_m).clearance_m
    void = void_distance(patches, *place, within_m=float(wide.max()))
    middle = np.where(void > wide, middle, -np.abs(middle))
    return np.maximum(above_highest_m, middle - wide)


def farthest_within(
    patches: Patches,
    row: Floats,
    column: Floats,
    elevation_m: Floats,
    above_lowest_m: Floats,
    *,
    corridor_m: Floats,
    foot: Foot,
) -> Floats:
    """Return an upper bound of the clearance in the disc round each sample; see the module.

    Parameters
    ----------
    above_lowest_m : (n,) float
        Height of the samples above the lowest ground in the disc (`extremes`); NaN where
        some of it is missing.
    foot : Foot
        Of the samples themselves (`clearance.nearest`).

    Returns
    -------
    (n,) float
        0 where all of the disc is in the ground; NaN where nothing is known.
    """
    far = farthest_to(patches, row, column, elevation_m, corridor_m=corridor_m, foot=foot)
    return np.fmin(far, np.maximum(above_lowest_m, 0.0))


def farthest_to(
    patches: Patches,
    row: Floats,
    column: Floats,
    elevation_m: Floats,
    *,
    corridor_m: Floats,
    foot: Foot,
) -> Floats:
    """Return how far feet (n,) are from the places of the discs farthest from them."""
    return discs.distance(_way(patches, row, column, elevation_m, foot), -corridor_m)


def _way(patches: Patches, row: Floats, column: Floats, elevation_m: Floats, foot: Foot) -> Floats:
    """Return the way (3, n) from samples to feet."""
    east0, north0 = patches.map.metres(row, column)
    east, north = patches.map.metres(foot.row, foot.column)
    return np.stack((east - east0, north - north0, foot.elevation_m - elevation_m))

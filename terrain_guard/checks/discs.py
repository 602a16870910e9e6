"""Closed forms on triangles, seen from a level disc round the origin; points are (3, n).

Rows are east, north, up in metres. A place at the horizontal distance ρ and the
height u from the middle of a disc of radius w is √(max(0, ρ − w)² + u²) from it::

      │←── w ──→│← ρ − w →
      ●━━━━━━━━━┥
     disc         ╲       │ u
                    ╲____ ● ground

On the plane of a triangle the nearest and the highest place lie straight uphill of
the middle. On an edge they lie where one rising function of one number is zero.
"""

from __future__ import annotations

from typing import NamedTuple, TypeAlias

import numpy as np

from terrain_guard.arrays import Bools, Floats

NEWTON_STEPS = 6
HALVINGS = 40  # of at most some hundred metres
TINY = 1e-300  # nothing is divided by less, so that 0 / 0 is 0

Best: TypeAlias = tuple[Floats, Floats]
"""A value (n,) and the point (3, n) that gives it."""


class Edge(NamedTuple):
    """A segment as seen from the origin; arrays (n,).

    Its places lie `t` metres, horizontally, from where its line passes closest,
    `low` ≤ t ≤ `high`; there it stands at ``up + climb · t``.
    """

    east: Floats  # where its line passes closest
    north: Floats
    up: Floats
    ahead_east: Floats  # a metre on
    ahead_north: Floats
    climb: Floats
    low: Floats
    high: Floats

    @classmethod
    def between(cls, a: Floats, b: Floats) -> Edge:
        """Return the segment a–b."""
        way = b - a
        length = np.hypot(way[0], way[1])
        ahead_east, ahead_north, climb = way / length
        low = a[0] * ahead_east + a[1] * ahead_north
        return cls(
            east=a[0] - low * ahead_east,
            north=a[1] - low * ahead_north,
            up=a[2] - low * climb,
            ahead_east=ahead_east,
            ahead_north=ahead_north,
            climb=climb,
            low=low,
            high=low + length,
        )

    @property
    def aside2(self) -> Floats:
        """The square of how far its line passes by."""
        return self.east**2 + self.north**2

    def at(self, t: Floats) -> Floats:
        """Return the place (3, n) at `t`."""
        east, north = self.east + t * self.ahead_east, self.north + t * self.ahead_north
        return np.stack((east, north, self.up + t * self.climb))


class Plane(NamedTuple):
    """The plane of a triangle; arrays (n,). (`east`, `north`) is a metre uphill; 0 if level."""

    up: Floats  # at the origin
    slope: Floats
    east: Floats
    north: Floats

    @classmethod
    def through(cls, a: Floats, b: Floats, c: Floats) -> Plane:
        """Return the plane of triangle a–b–c."""
        p, q = b - a, c - a
        det = p[0] * q[1] - p[1] * q[0]
        slope_east = (p[2] * q[1] - p[1] * q[2]) / det
        slope_north = (p[0] * q[2] - p[2] * q[0]) / det
        slope = np.hypot(slope_east, slope_north)
        some = np.maximum(slope, TINY)
        up = a[2] - slope_east * a[0] - slope_north * a[1]
        return cls(up=up, slope=slope, east=slope_east / some, north=slope_north / some)

    def uphill(self, t: Floats) -> Floats:
        """Return the place (3, n) `t` metres uphill of the origin."""
        return np.stack((t * self.east, t * self.north, self.up + t * self.slope))


def _is_on(place: Floats, a: Floats, b: Floats, c: Floats) -> Bools:
    """Return whether places lie over triangle a–b–c."""
    p, q, way = b - a, c - a, place - a
    det = p[0] * q[1] - p[1] * q[0]
    v = (way[0] * q[1] - way[1] * q[0]) / det
    w = (way[1] * p[0] - way[0] * p[1]) / det
    return (v >= 0) & (w >= 0) & (v + w <= 1)


def _nearer(one: Best, other: Best) -> Best:
    first = one[0] <= other[0]
    return np.where(first, one[0], other[0]), np.where(first, one[1], other[1])


def _higher(one: Best, other: Best) -> Best:
    first = one[0] >= other[0]
    return np.where(first, one[0], other[0]), np.where(first, one[1], other[1])


# ---------------------------------------------------------------- the nearest


def distance(place: Floats, wide: Floats) -> Floats:
    """Return the distance (n,) of places (3, n) from discs of radius `wide` (n,)."""
    return np.hypot(np.maximum(np.hypot(place[0], place[1]) - wide, 0.0), place[2])


def nearest_on_edge(a: Floats, b: Floats, wide: Floats) -> Best:
    """Return (distance, place) of the place of segment a–b nearest to the disc.

    The squared distance is convex along the edge, and least where, with the line
    passing by at p, ρ² = p² + t² and its elevation u + c t ::

        t max(0, 1 − w / ρ) + c² t = −c u

    From t = 0 towards the disc's level the left side rises ever faster, so Newton's
    steps from beyond the answer close in on it from beyond. Both |u / c| and
    (w + |c u|) / (1 + c²) are beyond.
    """
    edge = Edge.between(a, b)
    aside2, climb2 = edge.aside2, edge.climb**2
    pull = edge.climb * edge.up
    need = np.abs(pull)
    level = np.abs(edge.up) / np.maximum(np.abs(edge.climb), TINY)
    t = np.minimum((wide + need) / (1 + climb2), level)
    for _ in range(NEWTON_STEPS):
        away2 = np.maximum(aside2 + t * t, TINY)
        share = wide / np.sqrt(away2)
        steep = np.where(share < 1, 1 - share * aside2 / away2, 0.0) + climb2
        excess = t * (np.maximum(1 - share, 0.0) + climb2) - need
        t = t - excess / np.maximum(steep, TINY)
    place = edge.at(np.clip(-np.sign(pull) * t, edge.low, edge.high))
    return distance(place, wide), place


def nearest_on_plane_part(a: Floats, b: Floats, c: Floats, wide: Floats) -> Best:
    """Return (distance, foot) of the disc on the inside of triangle a–b–c; inf if it misses.

    The foot is that of the disc's place nearest to the plane, on its rim uphill of
    the middle, or where the plane cuts the disc.
    """
    plane = Plane.through(a, b, c)
    t = np.clip(-plane.up / np.maximum(plane.slope, TINY), -wide, wide)
    above = -(plane.up + t * plane.slope)
    tilt2 = 1 + plane.slope**2
    foot = plane.uphill(t + above * plane.slope / tilt2)
    hit = _is_on(foot, a, b, c)
    return np.where(hit, np.abs(above) / np.sqrt(tilt2), np.inf), foot


def nearest_on_quad(a: Floats, b: Floats, c: Floats, d: Floats, wide: Floats) -> Best:
    """Return (distance, place) nearest to the disc on triangles a–b–d and a–d–c."""
    best = nearest_on_plane_part(a, b, d, wide)
    best = _nearer(best, nearest_on_plane_part(a, d, c, wide))
    for start, stop in ((a, b), (b, d), (d, c), (c, a), (a, d)):
        best = _nearer(best, nearest_on_edge(start, stop, wide))
    return best


# ---------------------------------------------------------------- the highest within


def highest_on_edge(a: Floats, b: Floats, wide: Floats) -> Best:
    """Return (elevation, place) of the highest of segment a–b over the disc; −inf if none is."""
    edge = Edge.between(a, b)
    spare = wide**2 - edge.aside2
    half = np.sqrt(np.maximum(spare, 0.0))
    low, high = np.maximum(edge.low, -half), np.minimum(edge.high, half)
    place = edge.at(np.where(edge.climb > 0, high, low))
    return np.where((spare >= 0) & (low <= high), place[2], -np.inf), place


def highest_on_plane_part(a: Floats, b: Floats, c: Floats, wide: Floats) -> Best:
    """Return the highest place over the disc, if it is inside triangle a–b–c; −inf if not."""
    place = Plane.through(a, b, c).uphill(wide)
    return np.where(_is_on(place, a, b, c), place[2], -np.inf), place


def highest_on_quad(a: Floats, b: Floats, c: Floats, d: Floats, wide: Floats) -> Best:
    """Return (elevation, place) of the highest of triangles a–b–d and a–d–c over the disc."""
    best = highest_on_plane_part(a, b, d, wide)
    best = _higher(best, highest_on_plane_part(a, d, c, wide))
    for start, stop in ((a, b), (b, d), (d, c), (c, a), (a, d)):
        best = _higher(best, highest_on_edge(start, stop, wide))
    return best


# ---------------------------------------------------------------- a ball swept over the disc


def rise(radius: float | Floats, beyond: Floats) -> Floats:
    """Return how far above a place the middle of a ball touching it stands, by how far aside."""
    return np.sqrt(np.maximum(radius**2 - np.maximum(beyond, 0.0) ** 2, 0.0))


def rest_on_edge(a: Floats, b: Floats, radius: Floats, wide: Floats) -> Best:
    """Return (elevation, place): the highest a ball's middle over the disc touching a–b.

    The ball is moved as far towards the place as it may, so that one that touches a
    place at ρ stands h = √(R² − max(0, ρ − w)²) above it. That is concave along the edge, and
    highest where h falls as fast as the edge climbs; −inf where no ball touches it. With
    w < 0 the ball is moved away instead.
    """
    edge = Edge.between(a, b)
    aside2, climb = edge.aside2, np.abs(edge.climb)
    reach = radius + wide
    spare = reach**2 - aside2
    half = np.sqrt(np.maximum(spare, 0.0))
    low, high = np.zeros_like(half), half
    for _ in range(HALVINGS):
        t = (low + high) / 2
        away = np.sqrt(aside2 + t**2)
        beyond = np.maximum(away - wide, 0.0)
        falls = t * beyond > climb * away * rise(radius, beyond)
        low, high = np.where(falls, low, t), np.where(falls, t, high)
    first, last = np.maximum(edge.low, -half), np.minimum(edge.high, half)
    place = edge.at(np.clip(np.sign(edge.climb) * low, first, last))
    touches = (reach >= 0) & (spare >= 0) & (first <= last)
    return np.where(touches, _middle(place, radius, wide), -np.inf), place


def rest_on_plane_part(a: Floats, b: Floats, c: Floats, radius: Floats, wide: Floats) -> Best:
    """Return the same on the inside of triangle a–b–c; −inf if it would not touch there."""
    plane = Plane.through(a, b, c)
    aside = radius * plane.slope / np.sqrt(1 + plane.slope**2)
    place = plane.uphill(np.maximum(wide + aside, 0.0))
    touches = _is_on(place, a, b, c) & (radius + wide >= 0)
    return np.where(touches, _middle(place, radius, wide), -np.inf), place


def rest_on_quad(
    a: Floats, b: Floats, c: Floats, d: Floats, *, radius: Floats, wide: Floats
) -> Best:
    """Return the same on triangles a–b–d and a–d–c."""
    best = rest_on_plane_part(a, b, d, radius, wide)
    best = _higher(best, rest_on_plane_part(a, d, c, radius, wide))
    for start, stop in ((a, b), (b, d), (d, c), (c, a), (a, d)):
        best = _higher(best, rest_on_edge(start, stop, radius, wide))
    return best


def _middle(place: Floats, radius: Floats, wide: Floats) -> Floats:
    return place[2] + rise(radius, np.hypot(place[0], place[1]) - wide)

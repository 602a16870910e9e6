"""Closed forms on triangles, seen from a sample at the origin; all arrays are (3, n).

Rows are east, north, up in metres.
"""

from __future__ import annotations

import numpy as np

from terrain_guard.arrays import Floats


def _dot(a: Floats, b: Floats) -> Floats:
    return a[0] * b[0] + a[1] * b[1] + a[2] * b[2]


def _nearer(one: tuple[Floats, Floats], other: tuple[Floats, Floats]) -> tuple[Floats, Floats]:
    first = one[0] <= other[0]
    return np.where(first, one[0], other[0]), np.where(first, one[1], other[1])


def nearest_on_segment(a: Floats, b: Floats) -> tuple[Floats, Floats]:
    """Return (squared distance, point) of the point of segment a–b nearest to the origin."""
    edge = b - a
    share = np.clip(-_dot(a, edge) / _dot(edge, edge), 0.0, 1.0)
    point = a + share * edge
    return _dot(point, point), point


def nearest_on_plane_part(a: Floats, b: Floats, c: Floats) -> tuple[Floats, Floats]:
    """Return (squared distance, foot) of the origin's foot on the triangle; inf if it misses."""
    p, q = b - a, c - a
    pp, pq, qq, ap, aq = _dot(p, p), _dot(p, q), _dot(q, q), -_dot(a, p), -_dot(a, q)
    det = pp * qq - pq * pq
    v, w = (qq * ap - pq * aq) / det, (pp * aq - pq * ap) / det
    foot = a + v * p + w * q
    hit = (v >= 0) & (w >= 0) & (v + w <= 1)
    return np.where(hit, _dot(foot, foot), np.inf), foot


def nearest_on_quad(a: Floats, b: Floats, c: Floats, d: Floats) -> tuple[Floats, Floats]:
    """Return (distance, point) nearest to the origin on triangles a–b–d and a–d–c."""
    best = nearest_on_plane_part(a, b, d)
    best = _nearer(best, nearest_on_plane_part(a, d, c))
    for start, stop in ((a, b), (b, d), (d, c), (c, a), (a, d)):
        best = _nearer(best, nearest_on_segment(start, stop))
    return np.sqrt(best[0]), best[1]


def _higher(one: tuple[Floats, Floats], other: tuple[Floats, Floats]) -> tuple[Floats, Floats]:
    first = one[0] >= other[0]
    return np.where(first, one[0], other[0]), np.where(first, one[1], other[1])


def highest_over_segment(a: Floats, b: Floats, radius: Floats) -> tuple[Floats, Floats]:
    """Return (elevation, point): the highest a ball's middle over the origin touching a–b.

    The middle stands at (0, 0, elevation); −inf where the segment is out of reach.
    """
    length = np.hypot(b[0] - a[0], b[1] - a[1])
    east, north, climb = (b - a) / length
    foot = -(a[0] * east + a[1] * north)
    spare = radius**2 - ((a[0] + foot * east) ** 2 + (a[1] + foot * north) ** 2)
    half = np.sqrt(np.maximum(spare, 0.0))
    low, high = np.maximum(0.0, foot - half), np.minimum(length, foot + half)
    s = np.clip(foot + climb * half / np.sqrt(1 + climb**2), low, high)
    point = a + s * np.stack((east, north, climb))
    rise = np.sqrt(np.maximum(spare - (s - foot) ** 2, 0.0))
    return np.where((spare >= 0) & (low <= high), point[2] + rise, -np.inf), point


def highest_over_plane_part(
    a: Floats, b: Floats, c: Floats, radius: Floats
) -> tuple[Floats, Floats]:
    """Return (elevation, point) of the ball resting on the inside of the triangle; −inf if none."""
    p, q = b - a, c - a
    det = p[0] * q[1] - p[1] * q[0]
    slope_east = (p[2] * q[1] - p[1] * q[2]) / det
    slope_north = (p[0] * q[2] - p[2] * q[0]) / det
    tilt = np.sqrt(1 + slope_east**2 + slope_north**2)
    east, north = radius * slope_east / tilt, radius * slope_north / tilt
    v = ((east - a[0]) * q[1] - (north - a[1]) * q[0]) / det
    w = ((north - a[1]) * p[0] - (east - a[0]) * p[1]) / det
    up = a[2] + v * p[2] + w * q[2]
    hit = (v >= 0) & (w >= 0) & (v + w <= 1)
    return np.where(hit, up + radius / tilt, -np.inf), np.stack((east, north, up))


def highest_over_quad(
    a: Floats, b: Floats, c: Floats, d: Floats, radius: Floats
) -> tuple[Floats, Floats]:
    """Return (elevation, point): the highest ball of `radius` touching triangles a–b–d, a–d–c."""
    best = highest_over_plane_part(a, b, d, radius)
    best = _higher(best, highest_over_plane_part(a, d, c, radius))
    for start, stop in ((a, b), (b, d), (d, c), (c, a), (a, d)):
        best = _higher(best, highest_over_segment(start, stop, radius))
    return best

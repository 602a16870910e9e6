"""Which waypoints are one place: those repeated one after the other."""

from __future__ import annotations

import math
from collections.abc import Sequence

from terrain_guard.path.pieces import Point
from terrain_guard.plan.route import Route

SAME_PLACE_M = 1e-3


def settled(points: Sequence[Point]) -> list[Point]:
    """Return waypoints, each that is a millimetre or less from the one before it put there."""
    found = list(points[:1])
    for point in points[1:]:
        near = math.dist(found[-1], point) <= SAME_PLACE_M
        found.append(found[-1] if near else point)
    return found


def stands(route: Route, points: list[Point], heights: list[float]) -> list[range]:
    """Return the waypoints by place: those repeated one after the other are one place.

    A repeated waypoint makes a leg of no length, but not a stop, unless the
    aircraft waits there or climbs.
    """
    found = [range(1)]
    for i in range(1, len(points)):
        waits = any(w.wait_s > 0 for w in route.waypoints[i - 1 : i + 1])
        if waits or points[i - 1] != points[i] or heights[i - 1] != heights[i]:
            found.append(range(i, i + 1))
        else:
            found[-1] = range(found[-1].start, i + 1)
    return found

"""The most that any place of a part of the ground could want of a way.

Four bounds, each true, dear ones last. With e the line, R the largest ball near, s the
plane's slope, m the way's gradient, w the corridor:

* the plane, were it endless: ``plane + s w + R √(1 + s²) − e``, greatest at an end of
  the stretch near the part (both are straight);
* a ball on the part's top, at the lowest place of that stretch;
* the part's places against an endless line: ``z − e`` over the part,
  ``+ R √(1 + m²) + |m| w``;
* the tangent at the middle: what places want is concave over a plane.

The way to metres bends within a part by less than BEND r² (its half diagonal r; up to
latitude 80).
"""

from __future__ import annotations

import numpy as np

from terrain_guard.arrays import Bools, Floats
from terrain_guard.checks.home.parts import Parts
from terrain_guard.checks.home.touch import Touch
from terrain_guard.checks.home.ways import Ways

BEND = 1e-6  # per metre


def within_reach(parts: Parts, ways: Ways) -> tuple[Floats, Floats, Floats, Bools]:
    """Return (along, aside, half diagonal) of parts, and which come near the judged way.

    `ways` are those of the parts, one each.
    """
    along, aside = ways.seen(parts.east_m, parts.north_m)
    radius = parts.radius_m * (1 + BEND)
    radius = radius + BEND * radius**2
    out = along - np.clip(along, ways.from_m, ways.to_m)
    return along, aside, radius, np.hypot(out, aside) <= radius + ways.reach_m


def rough(parts: Parts, ways: Ways, along: Floats, aside: Floats, radius: Floats) -> Floats:
    """Return the least of the three bounds that need no touching."""
    east, north = parts.slopes()
    ahead = east * ways.ahead_east + north * ways.ahead_north
    left = north * ways.ahead_east - east * ways.ahead_north
    slope2 = ahead**2 + left**2
    near = ways.reach_m + radius
    first = np.clip(along - near, ways.from_m, ways.to_m)
    last = np.clip(along + near, ways.from_m, ways.to_m)
    ball = np.maximum(ways.ball(first), ways.ball(last))
    at_axis = parts.middle_m - left * aside + np.sqrt(slope2) * ways.wide_m
    at_axis = at_axis + ball * np.sqrt(1 + slope2)
    own = np.maximum(
        at_axis + ahead * (first - along) - ways.line(first),
        at_axis + ahead * (last - along) - ways.line(last),
    )
    beside = np.maximum(np.abs(aside) - radius - ways.wide_m, 0.0)
    height = np.sqrt(np.maximum(ball**2 - beside**2, 0.0))
    tilt = np.abs(parts.across_m) + np.abs(parts.down_m)
    top = parts.middle_m + tilt + height - np.minimum(ways.line(first), ways.line(last))
    apart = parts.middle_m - ways.line(along) + _lean(parts, ways, -ways.gradient, 0.0)
    apart = apart + height * np.sqrt(1 + ways.gradient**2) + np.abs(ways.gradient) * ways.wide_m
    bend = BEND * radius**2 * (np.sqrt(slope2) + np.abs(ways.gradient))
    return np.minimum(np.minimum(own, top), apart) + parts.stray_m + bend


def tangent(parts: Parts, ways: Ways, touched: Touch, radius: Floats) -> Floats:
    """Return the bound of the tangent at the middle; inf where that is out of reach."""
    steep = np.hypot(touched.to_along, touched.to_aside)
    with np.errstate(invalid="ignore"):
        most = parts.middle_m + touched.rise_m + parts.stray_m + BEND * radius**2 * steep
        most = most + _lean(parts, ways, touched.to_along, touched.to_aside)
    return np.where(np.isfinite(most), most, np.inf)


def _lean(
    parts: Parts, ways: Ways, to_along: Floats | float, to_aside: Floats | float
) -> Floats:
    """Return how much the plane and another slope can rise together from the middle."""
    east = to_along * ways.ahead_east - to_aside * ways.ahead_north
    north = to_along * ways.ahead_north + to_aside * ways.ahead_east
    across = parts.across_m + east * parts.across_east + north * parts.across_north
    down = parts.down_m + east * parts.down_east + north * parts.down_north
    return np.abs(across) + np.abs(down)

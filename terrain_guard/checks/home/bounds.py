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
    at = np.clip(along, ways.from_m, ways.to_m)
    reach = ways.reach_from(at, radius)
    return along, aside, radius, np.hypot(along - at, aside) <= radius + reach


def rough(parts: Parts, ways: Ways, along: Floats, aside: Floats, radius: Floats) -> Floats:
    """Return the least of the three bounds that need no touching."""
    east, north = parts.slopes()
    ahead = east * ways.ahead_east + north * ways.ahead_north
    left = north * ways.ahead_east - east * ways.ahead_north
    slope2 = ahead**2 + left**2
    at = np.clip(along, ways.from_m, ways.to_m)
    near = ways.reach_from(at, radius) + radius
    first = np.clip(along - near, ways.from_m, ways.to_m)
    last = np.clip(along + near, ways.from_m, ways.to_m)
    ball = np.maximum(ways.ball(first), ways.ball(last))
    at_axis = parts.middle_m - left * aside + np.sqrt(slope2) * ways.wide_m
    at_axis = at_axis + ball * np.sqrt(1 + slope2)
    own = np.maximum(
        at_axis + ahead * (first - along) - ways.line(first),
        at_axis + ahead * (last - along) - ways.line(last),
    )
    off = np.hypot(along - at, aside)
    height = _height(ball, off - radius - ways.wide_m)
    tilt = np.abs(parts.across_m) + np.abs(parts.down_m)
    top = parts.middle_m + tilt + height - np.minimum(ways.line(first), ways.line(last))
    across, down = _slants(parts, ways, -ways.gradient, np.zeros(along.shape))
    apart = parts.middle_m - ways.line(along) + np.abs(across) + np.abs(down)
    height = _height(ball, np.abs(aside) - radius - ways.wide_m)
    apart = apart + height * np.sqrt(1 + ways.gradient**2) + np.abs(ways.gradient) * ways.wide_m
    bend = BEND * radius**2 * (np.sqrt(slope2) + np.abs(ways.gradient))
    return np.minimum(np.minimum(own, top), apart) + parts.stray_m + bend


def _height(ball: Floats, beside: Floats) -> Floats:
    return np.sqrt(np.maximum(ball**2 - np.maximum(beside, 0.0) ** 2, 0.0))


def tangent(
    parts: Parts, ways: Ways, touched: Touch, radius: Floats
) -> tuple[Floats, Floats, Floats]:
    """Return the bound of the tangent at the middle, and the corner (u, v) where it is highest.

    It is inf where the middle is out of reach; there the corner is that nearest to the way.
    """
    inside = np.isfinite(touched.rise_m) & np.isfinite(touched.to_along)
    ahead, left = (np.where(inside, part, 0.0) for part in (touched.to_along, touched.to_aside))
    across, down = _slants(parts, ways, ahead, left)
    bend = BEND * radius**2 * np.hypot(ahead, left)
    most = parts.middle_m + touched.rise_m + np.abs(across) + np.abs(down) + parts.stray_m + bend
    u, v = (np.where(part < 0, -1.0, 1.0) for part in (across, down))
    return np.where(inside, most, np.inf), u, v


def _slants(
    parts: Parts, ways: Ways, to_along: Floats, to_aside: Floats
) -> tuple[Floats, Floats]:
    """Return how much the plane and another slope rise together along the half sides."""
    east = to_along * ways.ahead_east - to_aside * ways.ahead_north
    north = to_along * ways.ahead_north + to_aside * ways.ahead_east
    return (
        parts.across_m + east * parts.across_east + north * parts.across_north,
        parts.down_m + east * parts.down_east + north * parts.down_north,
    )

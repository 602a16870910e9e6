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

from dataclasses import dataclass

import numpy as np

from terrain_guard.arrays import Bools, Floats
from terrain_guard.checks.home.parts import Parts
from terrain_guard.checks.home.touch import Touch, in_reach
from terrain_guard.checks.home.ways import Ways

BEND = 1e-6  # per metre


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Look:
    """Parts as seen from their ways, one each; arrays (n,).

    ``along_m``, ``aside_m`` place the middle, ``radius_m`` is the half diagonal, what
    bends added. Only from ``first_m`` to ``last_m`` of the judged way anything in the
    part may be in reach; nowhere if first > last.
    """

    along_m: Floats
    aside_m: Floats
    radius_m: Floats
    first_m: Floats
    last_m: Floats

    @classmethod
    def at(cls, parts: Parts, ways: Ways) -> Look:
        """Look at parts from their ways, one each."""
        along, aside = ways.seen(parts.east_m, parts.north_m)
        radius = parts.radius_m * (1 + BEND)
        radius = radius + BEND * radius**2
        first, last = in_reach(ways, along, aside, radius)
        return cls(along_m=along, aside_m=aside, radius_m=radius, first_m=first, last_m=last)

    @property
    def near(self) -> Bools:
        """Which parts may be in reach."""
        return self.first_m <= self.last_m

    def take(self, keep: Bools) -> Look:
        """Return what `keep` marks."""
        return Look(**{name: getattr(self, name)[keep] for name in self.__slots__})


def rough(parts: Parts, ways: Ways, look: Look) -> Floats:
    """Return the least of the three bounds that need no touching."""
    along, aside, radius = look.along_m, look.aside_m, look.radius_m
    east, north = parts.slopes()
    ahead = east * ways.ahead_east + north * ways.ahead_north
    left = north * ways.ahead_east - east * ways.ahead_north
    slope2 = ahead**2 + left**2
    first, last = look.first_m, np.maximum(look.first_m, look.last_m)
    ball = np.maximum(ways.ball(first), ways.ball(last))
    at_axis = parts.middle_m - left * aside + np.sqrt(slope2) * ways.wide_m
    at_axis = at_axis + ball * np.sqrt(1 + slope2)
    own = np.maximum(
        at_axis + ahead * (first - along) - ways.line(first),
        at_axis + ahead * (last - along) - ways.line(last),
    )
    off = np.hypot(along - np.clip(along, first, last), aside)
    height = _height(ball, off - radius - ways.wide_m)
    if ways.taper.any():
        height = np.minimum(height, _height_of_cone(ways, look, ball))
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


def _height_of_cone(ways: Ways, look: Look, ball: Floats) -> Floats:
    """Return the same under a ball that grows or shrinks.

    With q = R + w + r ≥ the distance d of the middle, h² ≤ 2 R (q − d) ≤ 2 R (q² − d²) / q;
    and q² − d² is a quadratic in t.
    """
    k = ways.taper
    reach = ways.ball(look.along_m) + ways.wide_m + look.radius_m
    best = look.along_m + k * reach / np.maximum(1 - k**2, 1e-6)
    best = np.clip(best, look.first_m, np.maximum(look.first_m, look.last_m))
    spare, least = np.zeros(k.shape), np.full(k.shape, np.inf)
    for t in (best, look.first_m, look.last_m):
        q = ways.ball(t) + ways.wide_m + look.radius_m
        spare = np.maximum(spare, q**2 - (t - look.along_m) ** 2 - look.aside_m**2)
        least = np.minimum(least, q)
    return np.sqrt(2 * np.maximum(ball, 0.0) * spare / np.maximum(least, 1e-12))


def tangent(parts: Parts, ways: Ways, touched: Touch, look: Look) -> tuple[Floats, Floats, Floats]:
    """Return the bound of the tangent at the middle, and the corner (u, v) where it is highest.

    It is inf where the middle is out of reach; then (u, v) is the place nearest to the line.
    """
    inside = np.isfinite(touched.rise_m) & np.isfinite(touched.to_along)
    ahead, left = (np.where(inside, part, 0.0) for part in (touched.to_along, touched.to_aside))
    across, down = _slants(parts, ways, ahead, left)
    bend = BEND * look.radius_m**2 * np.hypot(ahead, left)
    most = parts.middle_m + touched.rise_m + np.abs(across) + np.abs(down) + parts.stray_m + bend
    towards = _towards(parts, ways, look)
    u, v = (
        np.where(inside, np.where(part < 0, -1.0, 1.0), near)
        for part, near in zip((across, down), towards, strict=True)
    )
    return np.where(inside, most, np.inf), u, v


def _towards(parts: Parts, ways: Ways, look: Look) -> tuple[Floats, Floats]:
    """Return the shares (u, v) of the place of each part nearest to its line, or almost."""
    on = np.clip(look.along_m, look.first_m, np.maximum(look.first_m, look.last_m))
    on, left = on - look.along_m, -look.aside_m
    east = on * ways.ahead_east - left * ways.ahead_north
    north = on * ways.ahead_north + left * ways.ahead_east
    det = parts.across_east * parts.down_north - parts.across_north * parts.down_east
    u = (east * parts.down_north - north * parts.down_east) / det
    v = (north * parts.across_east - east * parts.across_north) / det
    return np.clip(u, -1.0, 1.0), np.clip(v, -1.0, 1.0)


def _slants(parts: Parts, ways: Ways, to_along: Floats, to_aside: Floats) -> tuple[Floats, Floats]:
    """Return how much the plane and another slope rise together along the half sides."""
    east = to_along * ways.ahead_east - to_aside * ways.ahead_north
    north = to_along * ways.ahead_north + to_aside * ways.ahead_east
    return (
        parts.across_m + east * parts.across_east + north * parts.across_north,
        parts.down_m + east * parts.down_east + north * parts.down_north,
    )

"""Where a ball moved along a way touches one place of the ground: closed forms.

A place lies `along` metres on and `aside` metres beside the line. A ball of radius R
at t, moved towards the place by up to w, is level with it b away and touches it from
above when its middle stands h over it::

    b(t) = max(0, √((t − along)² + aside²) − w)        h(t) = √(R(t)² − b(t)²)

so the place wants the line at ``elevation + h(t)`` there. What it wants most, over the
judged way, is its elevation plus

    rise = max over t of  h(t) − line(t)

h is concave (it is the upper side of a convex body: a stadium swept by a growing
ball), hence so is `rise`, over places. With w = 0, R(t) = R + k (t − along),
A = 1 − k² and T² = R² / A − aside², the best t is, gradient m,

    t = along + k R / A − m T / √(A (A + m²))

cut to the judged way. It reads √(R² − aside²) / cos γ for an even ball, γ the slope
of the way. A level way with an even ball is best at t = along, whatever w. For the
rest the sign of the derivative is halved in upon.
"""

from __future__ import annotations

from typing import NamedTuple

import numpy as np

from terrain_guard.arrays import Bools, Floats
from terrain_guard.checks.home.ways import Ways

HALVINGS = (
    20  # of at most some hundred metres: to a tenth of a millimetre, squared in what is wanted
)
STEEP = 0.99  # a ball that grows by more per metre is halved in upon
EVEN = 1e-6  # nearer to ±1 than this no taper comes


class Touch(NamedTuple):
    """What one place for each way wants; arrays (n,).

    ``rise_m`` over its elevation, −inf where no ball reaches it; `t_m` where along the
    way; `to_along`, `to_aside`: by how much that grows per metre, place moved.
    """

    rise_m: Floats
    t_m: Floats
    to_along: Floats
    to_aside: Floats


def touch(ways: Ways, along: Floats, aside: Floats) -> Touch:
    """Return what one place for each way wants of its line."""
    taper = _off_one(ways.taper)
    radius = ways.radius_m + ways.taper * along
    first, last = in_reach(ways, along, aside)
    t = np.clip(_closed(ways, taper, radius, aside) + along, first, last)
    even = (ways.gradient == 0) & (ways.taper == 0)
    hard = ((ways.wide_m > 0) & ~even) | (np.abs(ways.taper) > STEEP)
    hard &= first < last
    if hard.any():
        pick = np.flatnonzero(hard)
        t[pick] = _halved(ways.take(pick), along[pick], aside[pick], first[pick], last[pick])
    return _at(ways, t, along, aside, first <= last)


def _off_one(taper: Floats) -> Floats:
    close = np.abs(1 - taper**2) < EVEN
    return np.where(close, taper * (1 - EVEN), taper)


def in_reach(
    ways: Ways, along: Floats, aside: Floats, within_m: Floats | float = 0.0
) -> tuple[Floats, Floats]:
    """Return (first, last) of the judged way from where a place, or one near it, is in reach.

    With s = t − along and `reach` = radius + corridor + `within_m`, that is where
    (reach + k s)² ≥ s² + aside²: between two roots or, with a ball that grows faster
    than it moves, beyond one. First > last: nowhere.
    """
    taper = _off_one(ways.taper)
    reach = ways.radius_m + ways.taper * along + ways.wide_m + within_m
    a = 1 - taper**2
    middle, spare = taper * reach / a, reach**2 / a - aside**2
    half = np.sqrt(np.maximum(spare / a, 0.0))
    low, high = middle - half, middle + half
    fast = a < 0
    if fast.any():
        onward = taper > 0
        low, high = (
            np.where(fast, np.where(onward, high, -np.inf), low),
            np.where(fast, np.where(onward, np.inf, low), high),
        )
    none = ~fast & ((spare < 0) | (reach < 0))
    first = np.where(none, ways.to_m + 1.0, np.maximum(along + low, ways.from_m))
    return first, np.minimum(along + high, ways.to_m)


def _closed(ways: Ways, taper: Floats, radius: Floats, aside: Floats) -> Floats:
    a = np.maximum(1 - taper**2, EVEN)
    spare = np.sqrt(np.maximum(radius**2 / a - aside**2, 0.0))
    return taper * radius / a - ways.gradient * spare / np.sqrt(a * (a + ways.gradient**2))


def _beyond(ways: Ways, t: Floats, along: Floats, aside: Floats) -> tuple[Floats, Floats, Floats]:
    """Return (b, R, the level distance before the ball is moved)."""
    away = np.hypot(t - along, aside)
    return np.maximum(away - ways.wide_m, 0.0), ways.ball(t), away


def _halved(ways: Ways, along: Floats, aside: Floats, low: Floats, high: Floats) -> Floats:
    aside2, wide, taper, gradient = aside**2, ways.wide_m, ways.taper, ways.gradient
    for _ in range(HALVINGS):
        t = (low + high) / 2
        on, radius = t - along, ways.radius_m + taper * t
        away = np.sqrt(on * on + aside2)
        beyond = np.maximum(away - wide, 0.0)
        height = np.sqrt(np.maximum(radius * radius - beyond * beyond, 0.0))
        closing = beyond * on / np.maximum(away, 1e-300)
        grows = radius * taper - closing > gradient * height
        low, high = np.where(grows, t, low), np.where(grows, high, t)
    return (low + high) / 2


def _at(ways: Ways, t: Floats, along: Floats, aside: Floats, reached: Bools) -> Touch:
    t = np.where(reached, t, ways.from_m)
    beyond, radius, away = _beyond(ways, t, along, aside)
    height = np.sqrt(np.maximum(radius**2 - beyond**2, 0.0))
    with np.errstate(divide="ignore", invalid="ignore"):
        steep = np.where(beyond > 0, beyond / (height * away), 0.0)
        to_along, to_aside = steep * (t - along), -steep * aside
    rise = np.where(reached, height - ways.line(t), -np.inf)
    return Touch(rise_m=rise, t_m=t, to_along=to_along, to_aside=to_aside)

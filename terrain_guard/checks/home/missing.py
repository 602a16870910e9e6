"""Where ground is missing within reach of a way.

A cell with a missing post is missing as a whole; so is every cell off the model.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from terrain_guard.arrays import Bools, Floats, Ints
from terrain_guard.checks.home.beside import Band
from terrain_guard.checks.home.bounds import Look
from terrain_guard.checks.home.parts import Parts
from terrain_guard.checks.home.touch import in_reach
from terrain_guard.checks.home.tree import Tree
from terrain_guard.checks.home.ways import Ways
from terrain_guard.ground.patches import Patches


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Voids:
    """The stretch of each way beside which ground is missing; arrays (n,), filled in place.

    Metres from home; inf and −inf where none is missing. ``sure_from_m``, ``sure_to_m``:
    within which the ends lie for sure, since some cell of a group wholly in reach is missing.
    """

    from_m: Floats
    to_m: Floats
    sure_from_m: Floats
    sure_to_m: Floats

    @classmethod
    def none(cls, count: int) -> Voids:
        """Return what is known before any ground is looked at."""
        least, most = np.full(count, np.inf), np.full(count, -np.inf)
        return cls(from_m=least, to_m=most, sure_from_m=least.copy(), sure_to_m=most.copy())

    @property
    def meets(self) -> Bools:
        """Whether any ground is missing within reach."""
        return self.from_m <= self.to_m


def look_for(patches: Patches, ways: Ways, band: Band, way: Ints, voids: Voids) -> None:
    """Look through a window, for the ways given, in order."""
    missing = [np.where(groups.has_void, np.inf, -np.inf) for groups in patches.groups[::-1]]
    cells = np.isnan(patches.z)
    cells = cells[:-1] | cells[1:]
    missing.append(np.where(cells[:, :-1] | cells[:, 1:], np.inf, -np.inf))
    least = np.full(voids.from_m.shape, -np.inf)
    Tree(patches, ways, band, scores=missing, least_m=least).descend(
        way,
        groups=lambda parts: _settle(parts, ways, voids),
        cells=lambda parts: _note(parts, ways, voids),
    )


def _settle(parts: Parts, ways: Ways, voids: Voids) -> Bools:
    """Note the groups that are missing as a whole; return which others must be looked into."""
    whole = parts.stray_m < 0
    _note(parts.take(whole), ways, voids)
    look, way = Look.at(parts, ways.take(parts.way)), parts.way
    inside = parts.has_void & (look.last_m >= look.first_m)
    at = np.clip(look.along_m, look.first_m, np.maximum(look.first_m, look.last_m))
    these = ways.take(way)
    ball = these.ball(at) + these.wide_m
    inside &= np.hypot(look.along_m - at, look.aside_m) + look.radius_m <= ball
    # A metre more, so that the group itself is looked into even at the end of the way.
    first = np.clip(look.along_m + look.radius_m, these.from_m, these.to_m) + 1.0
    last = np.clip(look.along_m - look.radius_m, these.from_m, these.to_m) - 1.0
    np.minimum.at(voids.sure_from_m, way[inside], first[inside])
    np.maximum.at(voids.sure_to_m, way[inside], last[inside])
    first, last = (
        np.fmin(voids.from_m, voids.sure_from_m)[way],
        np.fmax(voids.to_m, voids.sure_to_m)[way],
    )
    news = (look.first_m < first) | (look.last_m > last)
    return parts.has_void & ~whole & look.near & news


def _note(parts: Parts, ways: Ways, voids: Voids) -> None:
    parts = parts.take(parts.has_void)
    these = ways.take(parts.way)
    look = Look.at(parts, these)
    news = (look.first_m < voids.from_m[parts.way]) | (look.last_m > voids.to_m[parts.way])
    keep = look.near & news
    parts, these, look = parts.take(keep), these.take(np.flatnonzero(keep)), look.take(keep)
    at = np.clip(look.along_m, these.from_m, these.to_m)
    near = _distance(parts, these) <= these.reach_from(at, parts.radius_m) + 1e-6
    first, last = _stretch(parts, these, look)
    np.minimum.at(voids.from_m, parts.way[near], first[near])
    np.maximum.at(voids.to_m, parts.way[near], last[near])


def _ring(parts: Parts, ways: Ways) -> list[tuple[Floats, Floats]]:
    """Return (along, aside) of the corners, round each part."""
    level = np.zeros(parts.way.size)
    corners = ((-1, -1), (1, -1), (1, 1), (-1, 1))
    return [ways.seen(*parts.at(level + u, level + v)[2:4]) for u, v in corners]


def _stretch(parts: Parts, ways: Ways, look: Look) -> tuple[Floats, Floats]:
    """Return (first, last) of each way within reach of a part, taken for a box along it."""
    along, aside = (np.stack(side) for side in zip(*_ring(parts, ways), strict=True))
    least = np.maximum(np.maximum(aside.min(axis=0), -aside.max(axis=0)), 0.0)
    first, _ = in_reach(ways, along.min(axis=0), least)
    _, last = in_reach(ways, along.max(axis=0), least)
    good = first <= last
    return (
        np.where(good, np.maximum(first, look.first_m), look.first_m),
        np.where(good, np.minimum(last, look.last_m), look.last_m),
    )


def _distance(parts: Parts, ways: Ways) -> Floats:
    """Return the level distance (m) from judged ways to parts; 0 where they pass over."""
    seen = _ring(parts, ways)
    least = np.full(parts.way.shape, np.inf)
    for k in range(4):
        least = np.minimum(least, _side(seen[k], seen[k - 1], ways))
    return np.where(_covers(seen, ways.from_m), 0.0, least)


def _side(a: tuple[Floats, Floats], b: tuple[Floats, Floats], ways: Ways) -> Floats:
    """Return the distance from judged ways to the side a–b of a part."""
    least = np.full(a[0].shape, np.inf)
    for along, aside in (a, b):
        out = along - np.clip(along, ways.from_m, ways.to_m)
        least = np.minimum(least, np.hypot(out, aside))
    run, rise = b[0] - a[0], b[1] - a[1]
    for t in (ways.from_m, ways.to_m):
        share = np.clip(((t - a[0]) * run - a[1] * rise) / (run**2 + rise**2), 0.0, 1.0)
        least = np.minimum(least, np.hypot(a[0] + share * run - t, a[1] + share * rise))
    crosses = a[1] * b[1] < 0
    at = a[0] - a[1] * run / np.where(crosses, rise, 1.0)
    crosses &= (at >= ways.from_m) & (at <= ways.to_m)
    return np.where(crosses, 0.0, least)


def _covers(ring: list[tuple[Floats, Floats]], t: Floats) -> Bools:
    """Return whether the ring goes round the place `t` of the way: all on one side."""
    turns = [
        (ring[k][0] - ring[k - 1][0]) * -ring[k - 1][1]
        - (ring[k][1] - ring[k - 1][1]) * (t - ring[k - 1][0])
        for k in range(4)
    ]
    return np.logical_or(
        np.all([turn >= 0 for turn in turns], axis=0), np.all([turn <= 0 for turn in turns], axis=0)
    )

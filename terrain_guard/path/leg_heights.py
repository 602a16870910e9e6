r"""Heights along every leg of one layer of tracks, from waypoint to waypoint.

In a rounded corner the typed height is reached at mid-arc, or the corner is cut
straight, from the height at one tangent point to that at the other::

    mid-arc   ╱·╲        straight   ╱──╲
             ╱   ╲                 ╱    ╲
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from terrain_guard.path.altimeter import AS_TYPED, Altimeter
from terrain_guard.path.climbs import MODELS, SHORT, Heights, Leg, climb
from terrain_guard.path.curve import Pace
from terrain_guard.path.pieces import Point
from terrain_guard.path.splines import centripetal, slopes
from terrain_guard.path.tracks import Track, Tracks
from terrain_guard.plan.route import Route

CORNERS = ("mid-arc", "straight")


@dataclass(frozen=True, slots=True, kw_only=True)
class Profiles:
    """Makes heights along the legs of one route."""

    route: Route
    points: Sequence[Point]
    typed_m: Sequence[float]  # above launch, by waypoint, as flown for what was typed
    altimeter: Altimeter = AS_TYPED

    def pace(self, leg: int) -> Pace:
        """Return how fast a leg is flown."""
        up, down = self.altimeter.rates_m_per_s(self.route.climb)
        speed = self.route.waypoints[leg].speed_m_per_s
        return Pace(speed_m_per_s=speed, up_m_per_s=up, down_m_per_s=down)

    def wait_s(self, leg: int) -> float:
        """Return how long the aircraft waits before a leg."""
        return self.route.waypoints[leg].wait_s

    def corners(self, tracks: Tracks) -> tuple[str, ...]:
        """Return the heights in a rounded corner that are in play, the reference first."""
        stated = self.route.turns.corner_height
        if not tracks.corners:
            return CORNERS[:1]
        return CORNERS if stated == "unstated" else (stated,)

    def models(self, tracks: Tracks) -> tuple[str, ...]:
        """Return the ways to climb that are in play, the reference first."""
        climbs = self.route.climb
        bases = MODELS if climbs.model == "unstated" else (climbs.model,)
        if not any(a != b for a, b in zip(self.typed_m, self.typed_m[1:], strict=False)):
            return bases[:1]  # all are level
        shortest = [min(track.length_m, self._along_m(k)) for k, track in enumerate(tracks.legs)]
        legs = [self._leg(k, length) for k, length in enumerate(shortest)]
        steep = any(leg.is_too_steep and leg.length_m > 0 for leg in legs)
        short = tuple(base + SHORT for base in bases if base != "smooth")
        if not steep or climbs.too_steep == "slows" or not short:
            return bases
        if climbs.too_steep == "unstated":
            return bases + short
        return short + (("smooth",) if "smooth" in bases else ())

    def heights(self, tracks: Tracks, corner: str, model: str) -> tuple[Heights, ...]:
        """Return the heights along every leg."""
        cut_straight = corner == "straight" and tracks.corners
        lengths = [track.length_m for track in tracks.legs]
        if cut_straight:
            lengths = [
                self._along_m(k) if track.length_m > 0 else 0.0
                for k, track in enumerate(tracks.legs)
            ]
        found, start = [], self.typed_m[0]
        for k, length in enumerate(lengths):
            passed = k + 1 in tracks.passed
            on_the_spot = not length > 0 and not passed  # no rate keeps it from its height there
            way = model.removesuffix(SHORT) if on_the_spot else model
            found.append(climb(self._leg(k, length, start), way))
            start = found[-1].end_m if passed else self.typed_m[k + 1]
        return _cut_straight(found, tracks) if cut_straight else tuple(found)

    def _leg(self, k: int, length_m: float, start_m: float | None = None) -> Leg:
        start = self.typed_m[k] if start_m is None else start_m
        return Leg(
            length_m=length_m,
            heights_m=(start, self.typed_m[k + 1]),
            pace=self.pace(k),
            slopes_m=(self._slope(k, k), self._slope(k + 1, k)),
        )

    def _slope(self, waypoint: int, leg: int) -> float:
        """Return the slope of the smooth curve at a waypoint, in metres over a leg beside it.

        The curve runs through the heights of all waypoints at which the aircraft
        does not wait; at the others, and at the ends, it goes straight.
        """
        chord = self.typed_m[leg + 1] - self.typed_m[leg]
        ends = waypoint in (0, len(self.typed_m) - 1)
        if ends or self.route.waypoints[waypoint].wait_s > 0:
            return chord
        three = [np.array([self.typed_m[waypoint + k]]) for k in (-1, 0, 1)]
        beside = (waypoint - 1, waypoint)
        if not min(map(self._along_m, beside)) > 0:
            return chord
        before, after = (centripetal(self._size_m(k)) for k in beside)
        return float(slopes(three[0], three[1], three[2], (before, after))[waypoint == leg][0])

    def _along_m(self, leg: int) -> float:
        """Return the typed length of a leg over the ground."""
        return math.dist(self.points[leg], self.points[leg + 1])

    def _size_m(self, leg: int) -> float:
        """Return how far a leg goes, along or up, whichever is more.

        Evenly spaced waypoints have even knots then, and a short leg that climbs
        steeply does not throw its neighbours off. Up is as typed: that is what it plans by.
        """
        rise = abs(self.typed_m[leg + 1] - self.typed_m[leg]) / self.altimeter.factor
        return max(self._along_m(leg), rise) if math.isfinite(rise) else math.nan


def _cut_straight(typed: list[Heights], tracks: Tracks) -> tuple[Heights, ...]:
    """Return heights along the tracks from heights along the typed legs."""
    return tuple(_over_track(typed, k, track, tracks) for k, track in enumerate(tracks.legs))


def _over_track(typed: list[Heights], k: int, track: Track, tracks: Tracks) -> Heights:
    own = typed[k]
    if not track.length_m > 0:
        return _level(own, _mid_arc_m(typed, k, tracks)) if k in tracks.rounded else own
    from_m, to_m = track.typed_m
    begins, ends = track.middle_m
    scale = (ends - begins) / (to_m - from_m) if track.is_bent else 1.0
    along = own.moved(begins - from_m * scale, scale=scale)
    inside = (own.knots_m > from_m) & (own.knots_m < to_m)
    knots = [begins, *along.knots_m[inside], ends]
    heights = [_at(own, from_m), *own.height_m[inside], _at(own, to_m)]
    bent = (begins, ends) if along.bend else along.bent_m
    if track.before:  # half an arc, or a turn over the waypoint
        knots.insert(0, 0.0)
        heights.insert(0, _mid_arc_m(typed, k, tracks) if k in tracks.rounded else _at(own, 0.0))
    if k + 1 in tracks.rounded:
        knots.append(track.length_m)
        heights.append(_mid_arc_m(typed, k + 1, tracks))
    return Heights(np.array(knots), np.array(heights), along.bend, bent)


def _mid_arc_m(typed: list[Heights], waypoint: int, tracks: Tracks) -> float:
    """Return the height half-way between the tangent points of a rounded corner."""
    tangent_m = tracks.rounded[waypoint].tangent_m
    before = next(one for one in typed[waypoint - 1 :: -1] if one.knots_m[-1] > 0)
    behind = next(one for one in typed[waypoint:] if one.knots_m[-1] > 0)
    return (_at(before, before.knots_m[-1] - tangent_m) + _at(behind, tangent_m)) / 2


def _level(heights: Heights, height_m: float) -> Heights:
    return Heights(heights.knots_m, np.full(heights.knots_m.shape, height_m))


def _at(heights: Heights, distance_m: float) -> float:
    return float(heights.at(np.array([distance_m]))[0])

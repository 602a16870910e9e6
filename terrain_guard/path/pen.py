"""Draw the climb-out, and what follows the last waypoint: straight lines both.

Points and heights are in the local frame; a section is drawn in one way at a time.
"""

from __future__ import annotations

import itertools
from dataclasses import dataclass

import numpy as np

from terrain_guard.path.altimeter import AS_TYPED, Altimeter
from terrain_guard.path.curve import Curve, Pace, join, straight
from terrain_guard.path.frame import LocalFrame
from terrain_guard.path.pieces import Point
from terrain_guard.plan.route import Route, Waypoint

TAKE_OFF_HEIGHT_M = 10.0
WAYS_OUT = ("vertical", "step", "slanting")
WAYS_HOME = ("climb-first", "climb-on-the-way", "slanting", "level")


@dataclass(frozen=True, slots=True, kw_only=True)
class Spot:
    """Where the flight ends, in the local frame."""

    place: Point
    ground_m: float  # above the launch ground; NaN if not known
    height_m: float | None  # the waypoint's own height, if the spot is a waypoint
    lands: bool


@dataclass(frozen=True, slots=True, kw_only=True)
class Pen:
    """Draws one route's sections; knows points and heights in the local frame."""

    route: Route
    points: list[Point]
    heights: list[float]
    step_m: float
    frame: LocalFrame
    altimeter: Altimeter = AS_TYPED  # `heights` are flown ones; the route's own are typed

    def pace(self, waypoint: Waypoint) -> Pace:
        """Return how fast the leg that leaves a waypoint is flown."""
        up, down = self.altimeter.rates_m_per_s(self.route.climb)
        return Pace(speed_m_per_s=waypoint.speed_m_per_s, up_m_per_s=up, down_m_per_s=down)

    # -- out --------------------------------------------------------------------

    def ways_out(self) -> tuple[str, ...]:
        """Return the climb-outs in play, the reference first."""
        stated = self.route.climb.out
        return WAYS_OUT if stated == "unstated" else (stated,)

    def climb_out(self, launch: Point, way: str, words: tuple[str, ...]) -> Curve:
        """Draw the way from launch to the first waypoint."""
        first, height = self.points[0], self.heights[0]
        zero, low = self.altimeter.zero_m, self.route.climb.take_off_height_m
        low = self.altimeter.flown_m(TAKE_OFF_HEIGHT_M if low is None else low)
        if way == "vertical":
            # Below launch level there is nothing to climb to: go over at take-off height.
            top = height if not height <= zero else low
            stops = [(launch, zero), (launch, top), (first, top), (first, height)]
        elif way == "step":
            stops = [(launch, zero), (launch, low), (first, height)]
        else:
            stops = [(launch, zero), (first, height)]
        return self._chain(stops, leg=0, pace=self.pace(self.route.waypoints[0]), words=words)

    def _chain(
        self,
        stops: list[tuple[Point, float]],
        *,
        leg: int,
        pace: Pace,
        words: tuple[str, ...],
        wait_s: float = 0.0,
    ) -> Curve:
        pairs = [
            (a, b) for a, b in itertools.pairwise(stops) if not (a[0] == b[0] and a[1] == b[1])
        ] or [(stops[0], stops[-1])]
        strokes = [
            straight(a[0], b[0], heights_m=(a[1], b[1]), leg=leg, pace=pace, step_m=self.step_m)
            for a, b in pairs
        ]
        waits = [wait_s] + [0.0] * (len(strokes) - 1)
        return join(strokes, waits_s=waits, words=words, frame=self.frame)

    # -- home -------------------------------------------------------------------

    def ways_home(self, spot: Spot) -> tuple[str, ...]:
        """Return the ways home in play, each line in the air once, the reference first."""
        stated, height = self.route.way_home.path, self.route.way_home.height_m
        if spot.place == self.points[-1] and spot.height_m is not None:
            return ("here",)
        if stated != "unstated":
            return (stated,)
        if spot.height_m is not None:
            ways: tuple[str, ...] = ("climb-first", "slanting", "level")
        else:
            ways = WAYS_HOME if height is not None else ("level", "slanting")
        lines = {way: self._home_stops(spot, way) for way in ways}
        return tuple(
            way for k, way in enumerate(ways) if lines[way] not in [lines[w] for w in ways[:k]]
        )

    def way_home(self, spot: Spot, way: str, words: tuple[str, ...]) -> Curve:
        """Draw what follows the last waypoint."""
        last = self.route.waypoints[-1]
        return self._chain(
            self._home_stops(spot, way),
            leg=len(self.points),
            pace=self.pace(last),
            words=words,
            wait_s=last.wait_s,
        )

    def _home_stops(self, spot: Spot, way: str) -> list[tuple[Point, float]]:
        height = self.heights[-1]
        stops = [(self.points[-1], height), *self._over(spot, way, height)]
        if spot.lands:
            stops.append((spot.place, spot.ground_m))
        return [a for a, b in itertools.pairwise([*stops, None]) if a is not None and a != b]

    def _over(self, spot: Spot, way: str, height: float) -> list[tuple[Point, float]]:
        """Return the stops from above the last waypoint to above (or on) the spot."""
        start, place = self.points[-1], spot.place
        if way == "here":
            return []
        wanted = self.route.way_home.height_m
        goal = max(height, height if wanted is None else self.altimeter.flown_m(wanted))
        goal = goal if spot.height_m is None else spot.height_m
        own_height = [] if spot.height_m is None else [(place, goal)]
        if way == "climb-first":
            return [(start, goal), (place, goal)]
        if way == "slanting":
            down = spot.lands and spot.height_m is None
            return [(place, spot.ground_m if down else goal)]
        if way == "level" or goal < height:  # on a climb on the way there is nothing to climb
            return [(place, height), *own_height]
        return [*self._climbing(place, height, goal), *own_height]

    def _climbing(self, place: Point, height: float, goal: float) -> list[tuple[Point, float]]:
        """Return the stops of a climb on the way; it may arrive before it reaches its goal."""
        start = self.points[-1]
        stated = self.route.way_home.gradient
        last = self.route.waypoints[-1]
        slope = stated if stated else self.route.climb.up_m_per_s / last.speed_m_per_s
        slope *= self.altimeter.factor
        far = float(np.hypot(place[0] - start[0], place[1] - start[1]))
        run = (goal - height) / slope
        if not run < far:
            return [(place, height + slope * far)]
        east, north = (a + run / far * (b - a) for a, b in zip(start, place, strict=True))
        return [((east, north), goal), (place, goal)]

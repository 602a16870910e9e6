"""Draw the climb-out, and what follows the last waypoint: straight lines both.

Points and heights are in the local frame; a section is drawn in one way at a time.
"""

from __future__ import annotations

import itertools
import math
from dataclasses import dataclass

import numpy as np

from terrain_guard.path.altimeter import AS_TYPED, Altimeter
from terrain_guard.path.climbs import SHORT
from terrain_guard.path.curve import Curve, Pace, join, straight
from terrain_guard.path.frame import LocalFrame
from terrain_guard.path.pieces import Point
from terrain_guard.plan.route import Route, Waypoint

Stops = list[tuple[Point, float]]
"""Places with heights, joined by straight lines."""
SAME_HEIGHT_M = 1e-6
TAKE_OFF_HEIGHT_M = 10.0
WAYS_OUT = ("vertical", "step", "slanting")
SLANTS = ("step", "slanting")
"""Ways that climb or descend all along a line and stop at its end, where height is made good."""
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

    def ways_out(self, launch: Point) -> tuple[str, ...]:
        """Return the climb-outs in play, the reference first."""
        stated, pace = self.route.climb.out, self.pace(self.route.waypoints[0])
        ways = WAYS_OUT if stated == "unstated" else (stated,)
        return self._as_the_rates_allow({way: self._out_stops(launch, way) for way in ways}, pace)

    def climb_out(self, launch: Point, way: str, words: tuple[str, ...]) -> Curve:
        """Draw the way from launch to the first waypoint."""
        pace = self.pace(self.route.waypoints[0])
        stops = self._out_stops(launch, way.removesuffix(SHORT))
        if way.endswith(SHORT):
            stops = _fallen_short(stops, pace)
        return self._chain(stops, leg=0, pace=pace, words=words)

    def _as_the_rates_allow(self, lines: dict[str, Stops], pace: Pace) -> tuple[str, ...]:
        """Return ways of given stops; slanting ones too steep for the rates may fall short."""
        said = self.route.climb.too_steep
        short = [
            way
            for way, stops in lines.items()
            if way in SLANTS and _fallen_short(stops, pace) != stops
        ]
        if said == "falls-short":
            return tuple(way + SHORT if way in short else way for way in lines)
        return (*lines, *(way + SHORT for way in short if said == "unstated"))

    def _out_stops(self, launch: Point, way: str) -> Stops:
        first, height = self.points[0], self.heights[0]
        zero, low = self.altimeter.zero_m, self.route.climb.take_off_height_m
        low = self.altimeter.flown_m(TAKE_OFF_HEIGHT_M if low is None else low)
        if way == "vertical":
            # Below launch level there is nothing to climb to: go over at take-off height.
            top = height if not height <= zero else low
            return [(launch, zero), (launch, top), (first, top), (first, height)]
        if way == "step":
            return [(launch, zero), (launch, low), (first, height)]
        return [(launch, zero), (first, height)]

    def _chain(
        self,
        stops: Stops,
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
            ways: tuple[str, ...] = (stated,)
        elif spot.height_m is not None:
            ways = ("climb-first", "slanting", "level")
        else:
            ways = WAYS_HOME if height is not None else ("level", "slanting")
        lines: dict[str, Stops] = {}
        for way in ways:
            stops = self._home_stops(spot, way)
            if stops not in lines.values():
                lines[way] = stops
        return self._as_the_rates_allow(lines, self.pace(self.route.waypoints[-1]))

    def way_home(self, spot: Spot, way: str, words: tuple[str, ...]) -> Curve:
        """Draw what follows the last waypoint."""
        last = self.route.waypoints[-1]
        pace, stops = self.pace(last), self._home_stops(spot, way.removesuffix(SHORT))
        if way.endswith(SHORT):
            stops = _fallen_short(stops, pace)
        return self._chain(stops, leg=len(self.points), pace=pace, words=words, wait_s=last.wait_s)

    def _home_stops(self, spot: Spot, way: str) -> Stops:
        height = self.heights[-1]
        stops = [(self.points[-1], height), *self._over(spot, way, height)]
        if spot.lands:
            stops.append((spot.place, spot.ground_m))
        return [a for a, b in itertools.pairwise([*stops, None]) if a is not None and a != b]

    def _over(self, spot: Spot, way: str, height: float) -> Stops:
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

    def _climbing(self, place: Point, height: float, goal: float) -> Stops:
        """Return the stops of a climb on the way; it may arrive before it reaches its goal."""
        start = self.points[-1]
        slope = climb_gradient(self.route, self.route.waypoints[-1].speed_m_per_s, self.altimeter)
        far = float(np.hypot(place[0] - start[0], place[1] - start[1]))
        run = (goal - height) / slope
        if not run < far:
            return [(place, height + slope * far)]
        east, north = (a + run / far * (b - a) for a, b in zip(start, place, strict=True))
        return [((east, north), goal), (place, goal)]


def climb_gradient(route: Route, speed_m_per_s: float, altimeter: Altimeter) -> float:
    """Return how steeply it climbs on its way home, up per metre forward: stated, or by rates."""
    stated = route.way_home.gradient
    return (stated or route.climb.up_m_per_s / speed_m_per_s) * altimeter.factor


def _fallen_short(stops: Stops, pace: Pace) -> Stops:
    """Return the stops as the rates allow: what a slant does not reach is made good at its end."""
    out = stops[:1]
    for (start, low), (stop, high) in itertools.pairwise(stops):
        far, rise = math.dist(start, stop), high - low
        rate = pace.up_m_per_s if rise > 0 else pace.down_m_per_s
        reach = rate * far / pace.speed_m_per_s
        if far > 0 and abs(rise) > reach + SAME_HEIGHT_M:
            out.append((stop, low + math.copysign(reach, rise)))
        out.append((stop, high))
    return out

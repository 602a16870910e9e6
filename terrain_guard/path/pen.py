"""Draw one route's sections: the climb-out, the legs with their turns, what follows.

Points and heights are in the local frame; a section is drawn in one way at a time.
"""

from __future__ import annotations

import itertools
import math
from dataclasses import dataclass

import numpy as np

from terrain_guard.path.curve import Curve, Pace, Stroke, arc, join, rising, straight
from terrain_guard.path.frame import LocalFrame
from terrain_guard.path.turns import Corner, Point, corner, turn_radius_m
from terrain_guard.plan.route import Route, Waypoint

TAKE_OFF_HEIGHT_M = 10.0
BANK_DEG = 25.0
SAME_PLACE_M = 1e-6
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

    def pace(self, waypoint: Waypoint) -> Pace:
        """Return how fast the leg that leaves a waypoint is flown."""
        climb = self.route.climb
        return Pace(
            speed_m_per_s=waypoint.speed_m_per_s,
            up_m_per_s=climb.up_m_per_s,
            down_m_per_s=climb.down_m_per_s,
        )

    # -- out --------------------------------------------------------------------

    def ways_out(self) -> tuple[str, ...]:
        """Return the climb-outs in play, the reference first."""
        stated = self.route.climb.out
        return WAYS_OUT if stated == "unstated" else (stated,)

    def climb_out(self, launch: Point, way: str, words: tuple[str, ...]) -> Curve:
        """Draw the way from launch to the first waypoint."""
        first, height = self.points[0], self.heights[0]
        low = self.route.climb.take_off_height_m
        low = TAKE_OFF_HEIGHT_M if low is None else low
        if way == "vertical":
            # Below launch level there is nothing to climb to: go over at take-off height.
            top = height if not height <= 0 else low
            stops = [(launch, 0.0), (launch, top), (first, top), (first, height)]
        elif way == "step":
            stops = [(launch, 0.0), (launch, low), (first, height)]
        else:
            stops = [(launch, 0.0), (first, height)]
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

    # -- legs -------------------------------------------------------------------

    def _stands(self) -> list[range]:
        """Return the waypoints by place: those repeated one after the other are one place.

        A repeated waypoint makes a leg of no length, but not a stop, unless the
        aircraft waits there or climbs.
        """
        stands = [range(1)]
        for i in range(1, len(self.points)):
            waits = any(w.wait_s > 0 for w in self.route.waypoints[i - 1 : i + 1])
            apart = math.dist(self.points[i - 1], self.points[i]) > SAME_PLACE_M
            if waits or apart or self.heights[i - 1] != self.heights[i]:
                stands.append(range(i, i + 1))
            else:
                stands[-1] = range(stands[-1].start, i + 1)
        return stands

    def corners(self, way: str) -> dict[int, Corner]:
        """Return the corners rounded when what is unstated is flown as `way`, by waypoint.

        The waypoint is the first of those that stand at the corner.
        """
        found = {}
        for before, here, after in _triples(self._stands()):
            waypoints = [self.route.waypoints[i] for i in here]
            kinds = {w.turn or self.route.turns.kind for w in waypoints}
            kinds = {way if kind == "unstated" else kind for kind in kinds}
            if any(w.wait_s > 0 for w in waypoints) or "stop" in kinds:
                continue
            places = [self.points[stand[0]] for stand in (before, here, after)]
            wide = self._how_wide(before[-1], here[-1])
            rounded = corner(places[0], places[1], places[2], **wide)
            if rounded is not None:
                found[here[0]] = rounded
        return found

    def _how_wide(self, inbound: int, outbound: int) -> dict[str, float]:
        turns = self.route.turns
        if turns.turn_anticipation_m is not None:
            return {"anticipation_m": turns.turn_anticipation_m}
        # The faster of the two legs: the wider the turn, the farther inside it passes.
        speed = max(self.route.waypoints[i].speed_m_per_s for i in (inbound, outbound))
        bank = BANK_DEG if turns.bank_deg is None else turns.bank_deg
        return {"radius_m": turn_radius_m(speed, bank, wind_m_per_s=self.route.wind_m_per_s)}

    def legs(self, way: str, words: tuple[str, ...]) -> Curve:
        """Draw the legs between the waypoints, corners rounded as `way` says."""
        rounded, stands = self.corners(way), self._stands()
        strokes: list[Stroke] = []
        waits: list[float] = []
        for k, here in enumerate(stands):
            first = rounded.get(here[0])
            drawn = [self._no_way(i, first) for i in here[:-1]]
            if k + 1 < len(stands):
                drawn += self._leg(here[-1], first, rounded.get(stands[k + 1][0]))
            if drawn:
                waits += [self.route.waypoints[here[0]].wait_s] + [0.0] * (len(drawn) - 1)
            strokes += drawn
        return join(strokes, waits_s=waits, words=words, frame=self.frame)

    def _no_way(self, i: int, rounded: Corner | None) -> Stroke:
        """Draw the leg from a waypoint to its repetition: a point, at mid-arc in a corner."""
        place = rounded.middle if rounded else self.points[i]
        heights = self.heights[i], self.heights[i]
        pace = self.pace(self.route.waypoints[i])
        return straight(place, place, heights_m=heights, leg=i + 1, pace=pace, step_m=self.step_m)

    def _leg(self, i: int, first: Corner | None, last: Corner | None) -> list[Stroke]:
        """Draw one leg from mid-arc to mid-arc; height is linear with the distance flown."""
        start = first.end if first else self.points[i]
        stop = last.start if last else self.points[i + 1]
        parts = [
            first.arc_m / 2 if first else 0.0,
            float(np.hypot(stop[0] - start[0], stop[1] - start[1])),
            last.arc_m / 2 if last else 0.0,
        ]
        flown = np.append(0.0, np.cumsum(parts))
        share = flown / flown[-1] if flown[-1] > 0 else np.array([0.0, 0.0, 1.0, 1.0])
        low, high = self.heights[i : i + 2]
        heights = rising((low, high), share)
        leg, pace = i + 1, self.pace(self.route.waypoints[i])
        strokes = []
        for k, rounded in ((0, first), (2, last)):
            if rounded:
                bearings = rounded.bearings_rad[1:] if k == 0 else rounded.bearings_rad[:2]
                strokes.append(
                    arc(rounded.centre, rounded.radius_m, bearings,
                        heights_m=(heights[k], heights[k + 1]), leg=leg, pace=pace,
                        step_m=self.step_m)
                )  # fmt: skip
        if parts[1] > 1e-9 or not strokes:
            line = straight(
                start, stop, heights_m=(heights[1], heights[2]), leg=leg, pace=pace,
                step_m=self.step_m,
            )  # fmt: skip
            strokes.insert(1 if first else 0, line)
        return strokes

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
        goal = max(height, height if wanted is None else wanted)
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
        far = float(np.hypot(place[0] - start[0], place[1] - start[1]))
        run = (goal - height) / slope
        if not run < far:
            return [(place, height + slope * far)]
        east, north = (a + run / far * (b - a) for a, b in zip(start, place, strict=True))
        return [((east, north), goal), (place, goal)]


def _triples(stands: list[range]) -> zip[tuple[range, range, range]]:
    return zip(stands, stands[1:], stands[2:], strict=False)

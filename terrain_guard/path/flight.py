"""From a route to every way it may be flown: climb-out, legs, and what follows.

The three sections meet at the first and the last waypoint, where the aircraft
stops, so what is unstated in one does not multiply with what is unstated in
another: each section is flown in each of its own ways.

::

    launch ──out──▶ first waypoint ──legs, turns──▶ last waypoint ──home──▶ spot
"""

from __future__ import annotations

import itertools
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from terrain_guard.path.curve import Curve, Pace, Stroke, arc, join, rising, straight
from terrain_guard.path.frame import LocalFrame
from terrain_guard.path.turns import Corner, Point, corner, turn_radius_m
from terrain_guard.plan.route import Route, Waypoint

TAKE_OFF_HEIGHT_M = 10.0
BANK_DEG = 25.0
WAYS_OUT = ("vertical", "step", "slanting")
WAYS_HOME = ("climb-first", "climb-on-the-way", "slanting", "level")


@dataclass(frozen=True, slots=True, kw_only=True)
class Spot:
    """Where the flight ends, in the local frame."""

    place: Point
    ground_m: float  # above the launch ground; NaN if not known
    height_m: float | None  # the waypoint's own height, if the spot is a waypoint
    lands: bool


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Flight:
    """Every way the route may be flown, section by section, reference first.

    `corners` holds the rounded corners of the fly-by way by waypoint index.
    """

    frame: LocalFrame
    out: tuple[Curve, ...]
    legs: tuple[Curve, ...]
    home: tuple[Curve, ...]
    spot: Spot
    launch: Point
    corners: dict[int, Corner]

    @property
    def sections(self) -> tuple[tuple[Curve, ...], ...]:
        """Out, legs, home."""
        return self.out, self.legs, self.home


def fly(
    route: Route,
    above_launch_m: Sequence[float],
    *,
    spot_ground_m: float,
    step_m: float,
) -> Flight:
    """Draw every way the route may be flown.

    Parameters
    ----------
    above_launch_m : (n,) float
        Heights of the waypoints above launch; NaN where not known.
    spot_ground_m : float
        Ground where the flight ends, above the launch ground.
    step_m : float
        Greatest distance between samples.
    """
    lon = [route.launch.lon_deg, route.home.lon_deg, *(w.lon_deg for w in route.waypoints)]
    lat = [route.launch.lat_deg, route.home.lat_deg, *(w.lat_deg for w in route.waypoints)]
    frame = LocalFrame.around(lon, lat)
    x, y = frame.to_local(lon, lat)
    launch, home, *points = [(float(a), float(b)) for a, b in zip(x, y, strict=True)]
    pen = _Pen(route=route, points=points, heights=list(above_launch_m), step_m=step_m, frame=frame)
    spot = _spot(route, home, pen, spot_ground_m)
    turns = _turn_ways(pen)
    base = (turns[0], "mid-arc", "linear")
    ways_home = pen.ways_home(spot)
    ways_out = pen.ways_out()
    return Flight(
        frame=frame,
        out=tuple(pen.climb_out(launch, way, (*base, way, ways_home[0])) for way in ways_out),
        legs=tuple(pen.legs(way, (way, *base[1:], ways_out[0], ways_home[0])) for way in turns),
        home=tuple(pen.way_home(spot, way, (*base, ways_out[0], way)) for way in ways_home),
        spot=spot,
        launch=launch,
        corners=pen.corners(turns[0]),
    )


def _spot(route: Route, home: Point, pen: _Pen, ground_m: float) -> Spot:
    names = [w.name for w in route.waypoints]
    go_to, lands = route.after_last.go_to, route.after_last.then == "land"
    if go_to == "launch":
        return Spot(place=home, ground_m=ground_m, height_m=None, lands=lands)
    index = len(names) - 1 if go_to == "here" else names.index(go_to)
    return Spot(
        place=pen.points[index], ground_m=ground_m, height_m=pen.heights[index], lands=lands
    )


def _turn_ways(pen: _Pen) -> tuple[str, ...]:
    """Return the kinds of turn to fly; where nothing rounded is unstated, one is enough."""
    kind = pen.route.turns.kind
    if kind != "unstated":
        return (kind,)
    differ = pen.corners("fly-by").keys() != pen.corners("stop").keys()
    return ("fly-by", "stop") if differ else ("fly-by",)


@dataclass(frozen=True, slots=True, kw_only=True)
class _Pen:
    """Draws one route's sections; knows points and heights in the local frame."""

    route: Route
    points: list[Point]
    heights: list[float]
    step_m: float
    frame: LocalFrame

    def pace(self, waypoint: Waypoint) -> Pace:
        climb = self.route.climb
        return Pace(
            speed_m_per_s=waypoint.speed_m_per_s,
            up_m_per_s=climb.up_m_per_s,
            down_m_per_s=climb.down_m_per_s,
        )

    # -- out --------------------------------------------------------------------

    def ways_out(self) -> tuple[str, ...]:
        stated = self.route.climb.out
        return WAYS_OUT if stated == "unstated" else (stated,)

    def climb_out(self, launch: Point, way: str, words: tuple[str, ...]) -> Curve:
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

    def corners(self, way: str) -> dict[int, Corner]:
        """Return the corners rounded when what is unstated is flown as `way`, by waypoint."""
        found = {}
        for i in range(1, len(self.points) - 1):
            waypoint = self.route.waypoints[i]
            kind = waypoint.turn or self.route.turns.kind
            if waypoint.wait_s > 0 or (way if kind == "unstated" else kind) == "stop":
                continue
            before, here, after = self.points[i - 1 : i + 2]
            rounded = corner(before, here, after, **self._how_wide(i))
            if rounded is not None:
                found[i] = rounded
        return found

    def _how_wide(self, i: int) -> dict[str, float]:
        turns = self.route.turns
        if turns.turn_anticipation_m is not None:
            return {"anticipation_m": turns.turn_anticipation_m}
        # The faster of the two legs: the wider the turn, the farther inside it passes.
        speed = max(w.speed_m_per_s for w in self.route.waypoints[i - 1 : i + 1])
        bank = BANK_DEG if turns.bank_deg is None else turns.bank_deg
        return {"radius_m": turn_radius_m(speed, bank, wind_m_per_s=self.route.wind_m_per_s)}

    def legs(self, way: str, words: tuple[str, ...]) -> Curve:
        rounded = self.corners(way)
        strokes: list[Stroke] = []
        waits: list[float] = []
        for i in range(len(self.points) - 1):
            drawn = self._leg(i, rounded.get(i), rounded.get(i + 1))
            waits += [self.route.waypoints[i].wait_s] + [0.0] * (len(drawn) - 1)
            strokes += drawn
        return join(strokes, waits_s=waits, words=words, frame=self.frame)

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

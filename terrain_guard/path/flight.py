"""From a route to every way it may be flown: climb-out, legs, and what follows.

The three sections meet at the first and the last waypoint, where the aircraft
stops, so what is unstated in one does not multiply with what is unstated in
another: each section is flown in each of its own ways.

::

    launch ──out──▶ first waypoint ──legs, turns──▶ last waypoint ──home──▶ spot
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from terrain_guard.path.curve import Curve
from terrain_guard.path.frame import LocalFrame
from terrain_guard.path.pen import Pen, Spot
from terrain_guard.path.turns import Corner, Point
from terrain_guard.plan.route import Route


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
    pen = Pen(route=route, points=points, heights=list(above_launch_m), step_m=step_m, frame=frame)
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


def _spot(route: Route, home: Point, pen: Pen, ground_m: float) -> Spot:
    names = [w.name for w in route.waypoints]
    go_to, lands = route.after_last.go_to, route.after_last.then == "land"
    if go_to == "launch":
        return Spot(place=home, ground_m=ground_m, height_m=None, lands=lands)
    index = len(names) - 1 if go_to == "here" else names.index(go_to)
    return Spot(
        place=pen.points[index], ground_m=ground_m, height_m=pen.heights[index], lands=lands
    )


def _turn_ways(pen: Pen) -> tuple[str, ...]:
    """Return the kinds of turn to fly; where nothing rounded is unstated, one is enough."""
    kind = pen.route.turns.kind
    if kind != "unstated":
        return (kind,)
    differ = pen.corners("fly-by").keys() != pen.corners("stop").keys()
    return ("fly-by", "stop") if differ else ("fly-by",)

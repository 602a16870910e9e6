"""From a route to every way it may be flown: climb-out, legs, and what follows.

The three sections meet at the first and the last waypoint, where the aircraft
stops, so what is unstated in one does not multiply with what is unstated in
another: each section is flown in each of its own ways.

::

    launch ──out──▶ first waypoint ──legs, turns──▶ last waypoint ──home──▶ spot
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace

from terrain_guard.path.altimeter import AS_TYPED, Altimeter
from terrain_guard.path.beside import deciding, is_slanting
from terrain_guard.path.climbs import SHORT
from terrain_guard.path.curve import Curve
from terrain_guard.path.drawing import Drawing
from terrain_guard.path.frame import LocalFrame
from terrain_guard.path.leg_heights import Profiles
from terrain_guard.path.legs import CUT_SPACING_M, Cuts, Layer, LegsPen, Words
from terrain_guard.path.pen import Pen, Spot
from terrain_guard.path.pieces import Point
from terrain_guard.path.stands import settled, stands
from terrain_guard.path.tracks import Surveyor, Tracks
from terrain_guard.plan.route import Route

TURNS = ("fly-by", "fly-over", "smooth", "stop")
CUT = "cut-corner"
"""A corner cut somewhere between the chord of its arc and the waypoint."""


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Flight:
    """Every way the route may be flown, section by section, reference first.

    Of the legs, the second curve, if there is one, is all ways but the reference together.
    `tracks` holds the ground tracks by kind of turn; `altimeter` says what is flown for
    what is typed.
    """

    frame: LocalFrame
    out: tuple[Curve, ...]
    legs: tuple[Curve, ...]
    home: tuple[Curve, ...]
    spot: Spot
    launch: Point
    tracks: dict[str, Tracks]
    altimeter: Altimeter

    @property
    def names(self) -> tuple[str, ...]:
        """Every way to fly, the reference first."""
        ways = [curve.ways for section in (self.legs, self.out, self.home) for curve in section]
        return tuple(dict.fromkeys("/".join(words) for one in ways for words in one))

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
    cut_spacing_m: float = CUT_SPACING_M,
    altimeter: Altimeter = AS_TYPED,
) -> Flight:
    """Draw every way the route may be flown.

    Parameters
    ----------
    above_launch_m : (n,) float
        Heights of the waypoints above launch, as typed; NaN where not known.
    spot_ground_m : float
        Where the flight lands, above the launch ground.
    step_m : float
        Greatest distance between samples.
    cut_spacing_m : float
        Distance between lines that fill a corner which may be cut, at mid-corner: a cell of
        the terrain, for what is narrower no model shows, but not less than a metre.
    altimeter : Altimeter
        What is flown for what is typed.
    """
    lon = [route.launch.lon_deg, route.home.lon_deg, *(w.lon_deg for w in route.waypoints)]
    lat = [route.launch.lat_deg, route.home.lat_deg, *(w.lat_deg for w in route.waypoints)]
    frame = LocalFrame.around(lon, lat)
    x, y = frame.to_local(lon, lat)
    launch, home, *points = [(float(a), float(b)) for a, b in zip(x, y, strict=True)]
    pen = Pen(
        route=route, points=settled(points), heights=[altimeter.flown_m(m) for m in above_launch_m],
        step_m=step_m, frame=frame, altimeter=altimeter,
    )  # fmt: skip
    spot = _spot(route, home, pen, spot_ground_m)
    ways_home, ways_out = pen.ways_home(spot), pen.ways_out(launch)
    legs = _Legs(route=route, pen=pen, ends=(ways_out[0], ways_home[0]))
    base = legs.reference_words
    out = [pen.climb_out(launch, way, (*base, way, ways_home[0])) for way in ways_out]
    back = [pen.way_home(spot, way, (*base, ways_out[0], way)) for way in ways_home]
    return Flight(
        frame=frame,
        out=deciding(out, eased=lambda _: True),
        legs=legs.drawn(max(cut_spacing_m, CUT_SPACING_M)),
        home=deciding(back, eased=is_slanting),
        spot=spot,
        launch=launch,
        tracks=legs.tracks,
        altimeter=altimeter,
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


class _Legs:
    """Finds every way to fly the legs, and has them drawn."""

    def __init__(self, *, route: Route, pen: Pen, ends: tuple[str, str]) -> None:
        self._route, self._pen, self._ends = route, pen, ends
        self._profiles = Profiles(
            route=route, points=pen.points, typed_m=pen.heights, altimeter=pen.altimeter
        )
        places = stands(route, pen.points, pen.heights)
        surveyor = Surveyor(route=route, points=pen.points, stands=places)
        self.tracks = {kind: surveyor.tracks(kind) for kind in _turns_in_play(route)}
        first = next(iter(self.tracks.values()))
        self.tracks = {
            kind: tracks for kind, tracks in self.tracks.items()
            if tracks is first or not self._are_same(tracks, first)
        }  # fmt: skip
        self._ways: list[Words] = []
        self._layers = [self._layer(kind, tracks) for kind, tracks in self.tracks.items()]

    def _are_same(self, one: Tracks, other: Tracks) -> bool:
        """Return whether two kinds of turn are flown alike.

        Where heights fall short it matters at which waypoints the aircraft stops.
        """
        falls_short = any(model.endswith(SHORT) for model in self._profiles.models(one))
        return one.legs == other.legs and (one.passed == other.passed or not falls_short)

    @property
    def reference_words(self) -> Words:
        """Turn, height in the corner and climb of the reference."""
        return self._ways[0][:3]

    def _layer(self, kind: str, tracks: Tracks) -> Layer:
        pairs = [
            (corner, model)
            for corner in self._profiles.corners(tracks)
            for model in self._profiles.models(tracks)
        ]
        first = len(self._ways)
        self._ways += [(kind, corner, model, *self._ends) for corner, model in pairs]
        return Layer(
            tracks=tracks,
            ways=tuple(range(first, len(self._ways))),
            heights=tuple(self._profiles.heights(tracks, *pair) for pair in pairs),
        )

    def drawn(self, cut_spacing_m: float) -> tuple[Curve, ...]:
        """Draw the reference, and what leaves it."""
        cuts = self._cuts(cut_spacing_m)
        pen = LegsPen(
            profiles=self._profiles,
            layers=tuple(self._layers),
            ways=tuple(self._ways),
            drawing=Drawing(frame=self._pen.frame, step_m=self._pen.step_m),
            step_m=self._pen.step_m,
        )
        return pen.drawn(cuts)

    def _cuts(self, spacing_m: float) -> Cuts | None:
        """Return the corners that may be cut: it is not stated how their waypoints are passed.

        The ways to cut them are named like the ways to round them.
        """
        waypoints, rounded = self._route.waypoints, self._layers[0]
        may_be = [k for k in rounded.tracks.rounded if waypoints[k].turn is None]
        if self._route.turns.kind != "unstated" or not may_be:
            return None
        first = len(self._ways)
        self._ways += [(CUT, *self._ways[way][1:]) for way in rounded.ways]
        ways = tuple(range(first, len(self._ways)))
        layer = replace(rounded, ways=ways)
        return Cuts(waypoints=frozenset(may_be), layer=layer, spacing_m=spacing_m)


def _turns_in_play(route: Route) -> tuple[str, ...]:
    return TURNS if route.turns.kind == "unstated" else (route.turns.kind,)

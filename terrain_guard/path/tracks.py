"""The ground track of every leg, for one way to fly the turns.

A track begins and ends where its leg does: at the waypoint, or at mid-arc of a
rounded corner::

    ╰╮            ╭╯
     ╰────────────╯
    arc   line   arc     pieces of one track; the line runs along the leg as typed
"""

from __future__ import annotations

import itertools
import math
from dataclasses import dataclass, field

import numpy as np

from terrain_guard.arrays import Floats
from terrain_guard.path.fly_over import Overflight, overflight
from terrain_guard.path.pieces import Cubic, Line, Piece, Point, along
from terrain_guard.path.splines import centripetal, slopes
from terrain_guard.path.turns import (
    STRAIGHT_DEG,
    Corner,
    change_of_course,
    corner,
    turn_radius_m,
)
from terrain_guard.plan.route import Route

BANK_DEG = 25.0
HAIR_M = 1e-6
SHORTEST_M = 1e-9  # of a line between two turns


@dataclass(frozen=True, slots=True, kw_only=True)
class Track:
    """The ground track of one leg.

    Between its turns it runs along the leg in a line, or in a curve if `is_bent`:
    `before` is its number of pieces before that, `typed_m` is from where to where
    along the leg as typed that goes.
    """

    pieces: tuple[Piece, ...]
    before: int = 0
    typed_m: tuple[float, float] = (0.0, 0.0)
    is_bent: bool = False

    @property
    def length_m(self) -> float:
        """Metres flown over the ground."""
        return self._starts()[-1]

    def _starts(self) -> list[float]:
        return [0.0, *itertools.accumulate(piece.length_m for piece in self.pieces)]

    @property
    def middle_m(self) -> tuple[float, float]:
        """Metres flown where the line or the curve along the leg begins and ends."""
        starts = self._starts()
        is_there = self.is_bent or self.typed_m[1] - self.typed_m[0] > SHORTEST_M
        return starts[self.before], starts[self.before + is_there]

    def distances(self, step_m: float) -> Floats:
        """Return the distances to sample at."""
        parts = [
            start + piece.distances(step_m)
            for start, piece in zip(self._starts(), self.pieces, strict=False)
        ]
        return np.unique(np.concatenate(parts))

    def places(self, distance_m: Floats) -> tuple[Floats, Floats]:
        """Return (x, y) after so many metres."""
        starts = np.array(self._starts())
        which = np.clip(
            np.searchsorted(starts, distance_m, side="right") - 1, 0, len(self.pieces) - 1
        )
        x, y = np.full(distance_m.shape, np.nan), np.full(distance_m.shape, np.nan)
        for k, piece in enumerate(self.pieces):
            here = which == k
            metres = np.where(distance_m >= starts[k + 1], piece.length_m, distance_m - starts[k])
            x[here], y[here] = piece.places(metres[here])  # its end to the last bit
        return x, y


@dataclass(frozen=True, slots=True, kw_only=True)
class Tracks:
    """The tracks of all legs when what is unstated about turns is flown in one way.

    `legs` holds a track for each leg between waypoints, `corners` and `overflights`
    the turns by the first waypoint of those that stand there, `rounded` the corners
    by every waypoint, `passed` the waypoints at which it does not stop.
    """

    legs: tuple[Track, ...]
    corners: dict[int, Corner]
    overflights: dict[int, Overflight]
    rounded: dict[int, Corner]
    passed: frozenset[int]


@dataclass(frozen=True, slots=True, kw_only=True)
class Surveyor:
    """Lays out tracks over the points of one route."""

    route: Route
    points: list[Point]
    stands: list[range]

    def tracks(self, way: str) -> Tracks:
        """Lay out every leg, what is unstated about turns flown as `way`."""
        draft = _Draft(surveyor=self, way=way)
        draft.turn()
        legs = [
            track
            for k, here in enumerate(self.stands)
            for track in [*(draft.no_way(i, here[0]) for i in here[:-1]), *draft.leg(k)]
        ]
        return Tracks(
            legs=tuple(legs), corners=draft.corners, overflights=draft.overflights,
            rounded={
                i: draft.corners[here[0]]
                for here in self.stands if here[0] in draft.corners for i in here
            },
            passed=frozenset(draft.passed),
        )  # fmt: skip

    def kind(self, here: range, way: str) -> str:
        """Return how a place is passed: the most halting of what its waypoints state."""
        waypoints = [self.route.waypoints[i] for i in here]
        kinds = {w.turn or self.route.turns.kind for w in waypoints}
        kinds = {way if kind == "unstated" else kind for kind in kinds}
        if any(w.wait_s > 0 for w in waypoints):
            return "stop"
        return next(k for k in ("stop", "fly-over", "smooth", "fly-by") if k in kinds)

    def place(self, k: int) -> Point:
        """Return where a stand is."""
        return self.points[self.stands[k][0]]

    def how_wide(self, inbound: int, outbound: int) -> tuple[float | None, float | None]:
        """Return the turn anticipation, or else the radius, at a waypoint."""
        turns = self.route.turns
        if turns.turn_anticipation_m is not None:
            return turns.turn_anticipation_m, None
        # The faster of the two legs: the wider the turn, the farther inside it passes.
        speed = max(self.route.waypoints[i].speed_m_per_s for i in (inbound, outbound))
        bank = BANK_DEG if turns.bank_deg is None else turns.bank_deg
        return None, turn_radius_m(speed, bank, wind_m_per_s=self.route.wind_m_per_s)


@dataclass(slots=True, kw_only=True)
class _Draft:
    """Tracks in the making: the turns first, then the legs between them."""

    surveyor: Surveyor
    way: str
    corners: dict[int, Corner] = field(default_factory=dict)
    overflights: dict[int, Overflight] = field(default_factory=dict)
    smooth: set[int] = field(default_factory=set)  # places
    tangents: dict[int, tuple[Floats, Floats]] = field(default_factory=dict)  # there
    passed: set[int] = field(default_factory=set)

    def turn(self) -> None:
        """Find every turn; the rounded corners first, for an overflight needs to know its room."""
        survey = self.surveyor
        inner = range(1, len(survey.stands) - 1)
        kinds = {k: survey.kind(survey.stands[k], self.way) for k in inner}
        self.smooth.update(k for k in inner if kinds[k] == "smooth")
        for k in inner:
            if kinds[k] != "stop" and _is_straight(*self._three(k)):
                self.passed.update(survey.stands[k])
        for kind, make in (
            ("fly-by", self._round), ("fly-over", self._over), ("smooth", self._smooth)
        ):  # fmt: skip
            for k in (k for k in inner if kinds[k] == kind):
                if make(k):
                    self.passed.update(survey.stands[k])

    def _three(self, k: int) -> tuple[Point, Point, Point]:
        place = self.surveyor.place
        return place(k - 1), place(k), place(k + 1)

    def _wide(self, k: int) -> tuple[float | None, float | None]:
        stands = self.surveyor.stands
        return self.surveyor.how_wide(stands[k - 1][-1], stands[k][-1])

    def _round(self, k: int) -> bool:
        ahead_m, radius_m = self._wide(k)
        found = corner(*self._three(k), anticipation_m=ahead_m, radius_m=radius_m)
        if found is not None:
            self.corners[self.surveyor.stands[k][0]] = found
        return found is not None

    def _over(self, k: int) -> bool:
        following = self.corners.get(self.surveyor.stands[k + 1][0])
        room = math.dist(self.surveyor.place(k), self.surveyor.place(k + 1))
        room -= following.tangent_m if following else 0.0
        if k + 1 in self.smooth:  # whose curve needs some of the leg, too
            room /= 2
        room = max(room - HAIR_M, room / 2)  # so that it ends at the next waypoint itself
        ahead_m, radius_m = self._wide(k)
        found = overflight(*self._three(k), room_m=room, anticipation_m=ahead_m, radius_m=radius_m)
        if found is not None:
            self.overflights[self.surveyor.stands[k][0]] = found
        return found is not None

    def _smooth(self, k: int) -> bool:
        before, here, after = (np.array(point) for point in self._three(k))
        far = math.dist(before, here), math.dist(here, after)
        if not min(far) > 0:
            return False
        knots = centripetal(far[0]), centripetal(far[1])
        self.tangents[self.surveyor.stands[k][0]] = slopes(before, here, after, knots)
        return True

    # -- legs -------------------------------------------------------------------

    def no_way(self, i: int, first: int) -> Track:
        """Lay out the leg from a waypoint to its repetition: a point, at mid-arc in a corner."""
        rounded = self.corners.get(first)
        place = rounded.middle if rounded else self.surveyor.points[i]
        return Track(pieces=(Line(place, place, 0.0),))

    def leg(self, k: int) -> list[Track]:
        """Lay out the leg from one place to the next; none behind the last."""
        stands = self.surveyor.stands
        if k + 1 == len(stands):
            return []
        here, there = stands[k][0], stands[k + 1][0]
        start, stop = self.surveyor.place(k), self.surveyor.place(k + 1)
        head, from_m = self._head(here)
        tail, short_m = self._tail(there)
        far = math.dist(start, stop)
        ends = along(start, stop, from_m), along(start, stop, far - short_m)
        curve = self._cubic(here, there, ends)
        is_bent = curve is not None and not curve.is_straight
        middle: list[Piece] = []
        if curve is not None and is_bent:
            middle = [curve]
        elif far - short_m - from_m > SHORTEST_M:
            middle = [Line.between(*ends)]
        return [
            Track(
                pieces=(*head, *middle, *tail) or (Line(start, stop, 0.0),),
                before=len(head), typed_m=(from_m, far - short_m), is_bent=is_bent,
            )
        ]  # fmt: skip

    def _head(self, here: int) -> tuple[tuple[Piece, ...], float]:
        """Return the pieces that leave a waypoint, and where along the leg they end."""
        if here in self.corners:
            return (self.corners[here].halves[1],), self.corners[here].tangent_m
        if here in self.overflights:
            return self.overflights[here].pieces, self.overflights[here].joins_m
        return (), 0.0

    def _tail(self, there: int) -> tuple[tuple[Piece, ...], float]:
        """Return the pieces that reach a waypoint, and how far before it they begin."""
        if there in self.corners:
            return (self.corners[there].halves[0],), self.corners[there].tangent_m
        return (), 0.0

    def _cubic(self, here: int, there: int, ends: tuple[Point, Point]) -> Cubic | None:
        if here not in self.tangents and there not in self.tangents:
            return None
        chord = np.subtract(ends[1], ends[0])
        first = self.tangents[here][1] if here in self.tangents else chord
        last = self.tangents[there][0] if there in self.tangents else chord
        tangents = (float(first[0]), float(first[1])), (float(last[0]), float(last[1]))
        return Cubic(*ends, tangents)


def _is_straight(before: Point, here: Point, after: Point) -> bool:
    change = change_of_course(before, here, after)
    return change is not None and abs(change) <= math.radians(STRAIGHT_DEG)

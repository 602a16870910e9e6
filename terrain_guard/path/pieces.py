"""The pieces a leg's ground track is made of: a line, an arc, a cubic.

Each knows its length, where it is after so many metres, and at which distances it
must be sampled so that no chord leaves it by more than a millimetre.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from functools import cached_property
from typing import Protocol

import numpy as np

from terrain_guard.arrays import Floats

CHORD_TOLERANCE_M = 1e-3
MOST_HALVINGS = 16

Point = tuple[float, float]


class Piece(Protocol):
    """A stretch of ground track."""

    @property
    def length_m(self) -> float:
        """Metres along it."""
        ...

    def distances(self, step_m: float) -> Floats:
        """Return the distances to sample at, 0 and the length included."""
        ...

    def places(self, distance_m: Floats) -> tuple[Floats, Floats]:
        """Return (x, y) after so many metres."""
        ...


@dataclass(frozen=True, slots=True)
class Line:
    """A straight line; `length_m` counts its metres, which may be given another measure.

    Examples
    --------
    >>> Line.between((0.0, 0.0), (3.0, 4.0)).length_m
    5.0
    """

    start: Point
    stop: Point
    length_m: float

    @classmethod
    def between(cls, start: Point, stop: Point) -> Line:
        """Draw a line in its own metres."""
        return cls(start, stop, math.dist(start, stop))

    def distances(self, step_m: float) -> Floats:
        """Return distances at most a step apart."""
        return np.linspace(0.0, self.length_m, steps(self.length_m, step_m) + 1)

    def places(self, distance_m: Floats) -> tuple[Floats, Floats]:
        """Return (x, y) after so many metres; both ends to the last bit."""
        share = distance_m / self.length_m if self.length_m > 0 else np.zeros_like(distance_m)
        x, y = (a + share * (b - a) for a, b in zip(self.start, self.stop, strict=True))
        last = share >= 1
        return np.where(last, self.stop[0], x), np.where(last, self.stop[1], y)


@dataclass(frozen=True, slots=True)
class Arc:
    """An arc about a centre, from one bearing (anticlockwise from east) by an angle."""

    centre: Point
    radius_m: float
    bearing_rad: float
    turn_rad: float  # positive to the left

    @property
    def length_m(self) -> float:
        """Metres along it."""
        return abs(self.turn_rad) * self.radius_m

    def distances(self, step_m: float) -> Floats:
        """Return distances whose chords stay within a millimetre of the arc."""
        chord = min(step_m, math.sqrt(8 * CHORD_TOLERANCE_M * self.radius_m))
        return np.linspace(0.0, self.length_m, steps(self.length_m, chord) + 1)

    def places(self, distance_m: Floats) -> tuple[Floats, Floats]:
        """Return (x, y) after so many metres."""
        share = distance_m / self.length_m if self.length_m > 0 else distance_m
        bearing = self.bearing_rad + share * self.turn_rad
        return (
            self.centre[0] + self.radius_m * np.cos(bearing),
            self.centre[1] + self.radius_m * np.sin(bearing),
        )


@dataclass(frozen=True)
class Cubic:
    """A cubic from `start` to `stop`, with its tangents per unit of its parameter."""

    start: Point
    stop: Point
    tangents: tuple[Point, Point]

    def at(self, u: Floats) -> Floats:
        """Return places (2, n) at the parameter, 0 to 1."""
        p0, p1, m0, m1 = (np.array(v)[:, None] for v in (self.start, self.stop, *self.tangents))
        return np.asarray(hermite(u, p0, p1, m0, m1))

    @property
    def is_straight(self) -> bool:
        """Whether it is its chord, to a millimetre, and never turns back on it."""
        chord = np.subtract(self.stop, self.start)
        far = float(np.hypot(*chord))
        if not far > 0:
            return False
        ways = np.array(self.tangents) @ chord / far
        aside = np.array(self.tangents) @ np.array((-chord[1], chord[0])) / far
        # At most 4/27 of a tangent shows beside the chord; up to 3 chords long it only goes on.
        near = 4 / 27 * np.abs(aside).sum() <= CHORD_TOLERANCE_M
        return bool(near and (ways >= 0).all() and (ways <= 3 * far).all())

    @cached_property
    def _table(self) -> tuple[Floats, Floats]:
        """Parameters, and metres up to each, where no chord leaves the curve by a millimetre."""
        u = np.linspace(0.0, 1.0, 17)
        for _ in range(MOST_HALVINGS):
            place, away = self.at(u), np.zeros(u.size - 1)
            for share in (0.25, 0.5):  # half-way an S is on its chord
                between = self.at(u[:-1] + share * np.diff(u))
                chord = place[:, :-1] + share * np.diff(place)
                away = np.maximum(away, np.hypot(*(between - chord)))
            bent = np.flatnonzero(away > 0.9 * CHORD_TOLERANCE_M)
            if not bent.size:
                break
            u = np.insert(u, bent + 1, (u[bent] + u[bent + 1]) / 2)
        # Eight to a chord: what a chord falls short of its arc then no longer counts.
        fine = np.interp(np.arange(8 * (u.size - 1) + 1) / 8, np.arange(u.size), u)
        metres = np.append(0.0, np.cumsum(np.hypot(*np.diff(self.at(fine)))))
        return fine, metres

    @property
    def length_m(self) -> float:
        """Metres along it."""
        return float(self._table[1][-1])

    def distances(self, step_m: float) -> Floats:
        """Return distances whose chords stay within a millimetre of the curve."""
        metres = self._table[1][::8]
        parts = np.maximum(1, np.ceil(np.diff(metres) / step_m - 1e-9)).astype(int)
        before = np.repeat(np.cumsum(parts) - parts, parts)
        share = (np.arange(parts.sum()) - before) / np.repeat(parts, parts)
        even = np.repeat(metres[:-1], parts) + share * np.repeat(np.diff(metres), parts)
        return np.append(even, metres[-1])

    def places(self, distance_m: Floats) -> tuple[Floats, Floats]:
        """Return (x, y) after so many metres."""
        u, metres = self._table
        x, y = self.at(np.interp(distance_m, metres, u))
        return x, y


def along(start: Point, stop: Point, metres: float) -> Point:
    """Return the point so far from `start` to `stop`; the ends to the last bit.

    >>> along((0.0, 0.0), (8.0, 6.0), 5.0)
    (4.0, 3.0)
    """
    far = math.dist(start, stop)
    if not 0 < metres < far:
        return stop if metres > 0 else start
    share = metres / far
    return start[0] + share * (stop[0] - start[0]), start[1] + share * (stop[1] - start[1])


def hermite(u: Floats, p0: Floats, p1: Floats, m0: Floats, m1: Floats) -> Floats:
    """Return the cubic with values p0, p1 and slopes m0, m1 at u = 0 and 1."""
    return (
        (2 * u**3 - 3 * u**2 + 1) * p0
        + (u**3 - 2 * u**2 + u) * m0
        + (3 * u**2 - 2 * u**3) * p1
        + (u**3 - u**2) * m1
    )


def steps(length_m: float, step_m: float) -> int:
    """Return into how many parts a length is cut, none longer than a step."""
    return max(1, math.ceil(length_m / step_m - 1e-9))

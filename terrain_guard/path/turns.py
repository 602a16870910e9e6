r"""Corners: where a fly-by turn leaves the leg, how far inside it passes.

::

            waypoint
               ╱╲      A   change of course
        T   ╱  ─  ╲    T   r tan(A/2), the turn anticipation
          ╱ (     ) ╲  gap r (sec(A/2) − 1), how far inside the waypoint it passes
        ╱             ╲

Tangent distance: ICAO Doc 8168 PANS-OPS Vol II, III-3-8-2, 8.1.5.1.1.
Radius: r = (v + w)² / (g tan φ), the same document's III-3-1-5 in SI units.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import Final

import numpy as np

from terrain_guard.path.pieces import Arc, Line, Point

GRAVITY_M_PER_S2: Final = 9.80665
"""Standard gravity (BIPM, SI brochure; also PANS-OPS)."""
REVERSAL_DEG: Final = 170.0
"""A change of course beyond this is flown as a stop: the arc would need no radius at all."""
STRAIGHT_DEG: Final = 0.01


def turn_radius_m(speed_m_per_s: float, bank_deg: float, *, wind_m_per_s: float = 0.0) -> float:
    """Return the radius (m) of a level turn at a bank angle, blown on by the wind.

    Examples
    --------
    >>> round(turn_radius_m(15.0, 30.0), 2)
    39.74
    """
    ground_speed = speed_m_per_s + wind_m_per_s
    return float(ground_speed**2 / (GRAVITY_M_PER_S2 * np.tan(np.radians(bank_deg))))


@dataclass(frozen=True, slots=True, kw_only=True)
class Corner:
    """A rounded corner; `course_change_rad` is positive to the left."""

    centre: Point
    radius_m: float
    tangent_m: float  # from the waypoint to either end of the arc
    bearings_rad: tuple[float, float, float]  # from the centre: start, middle, end
    start: Point
    end: Point
    course_change_rad: float
    shortened: bool  # a leg was too short for the turn asked for

    @property
    def arc_m(self) -> float:
        """Length of the whole arc."""
        return self.radius_m * abs(self.course_change_rad)

    @property
    def middle(self) -> Point:
        """The middle of the arc."""
        bearing = self.bearings_rad[1]
        return (
            self.centre[0] + self.radius_m * math.cos(bearing),
            self.centre[1] + self.radius_m * math.sin(bearing),
        )

    @property
    def halves(self) -> tuple[Arc, Arc]:
        """The arc up to its middle, and from there on."""
        turn = self.course_change_rad / 2
        first, middle, _ = self.bearings_rad
        return (
            Arc(self.centre, self.radius_m, first, turn),
            Arc(self.centre, self.radius_m, middle, turn),
        )

    def cut(self, here: Point, share: float) -> tuple[Line, Line]:
        """Return the halves of a corner cut by two lines, in metres of the arc.

        With share 0 they are the chord from tangent point to tangent point, with 1
        the corner itself at the waypoint `here`.
        """
        middle = tuple(
            (1 - share) * (a + b) / 2 + share * c
            for a, b, c in zip(self.start, self.end, here, strict=True)
        )
        top = (float(middle[0]), float(middle[1]))
        return Line(self.start, top, self.arc_m / 2), Line(top, self.end, self.arc_m / 2)

    @property
    def inside_m(self) -> float:
        """How far inside the waypoint the arc passes: r (sec(A/2) − 1)."""
        return float(self.radius_m * (1 / np.cos(self.course_change_rad / 2) - 1))


def change_of_course(before: Point, here: Point, after: Point) -> float | None:
    """Return the change of course at a point, positive to the left; None if a leg has no length.

    Examples
    --------
    >>> round(math.degrees(change_of_course((0.0, 0.0), (1.0, 0.0), (1.0, 1.0))))
    90
    """
    inbound, outbound = np.subtract(here, before), np.subtract(after, here)
    if min(np.hypot(*inbound), np.hypot(*outbound)) < 1e-6:
        return None
    across = inbound[0] * outbound[1] - inbound[1] * outbound[0]
    return float(np.arctan2(across, inbound @ outbound))


def corner(
    before: Point,
    here: Point,
    after: Point,
    *,
    anticipation_m: float | None = None,
    radius_m: float | None = None,
) -> Corner | None:
    """Round a corner by an arc tangent to both legs, or return None for a stop.

    Give either the distance before the waypoint at which the turn begins, or the
    radius. Each leg lends at most half its length. Legs without length, courses
    that hardly change and reversals are stops.
    """
    change = change_of_course(before, here, after)
    if change is None or not np.radians(STRAIGHT_DEG) < abs(change) < np.radians(REVERSAL_DEG):
        return None
    lengths = math.dist(before, here), math.dist(here, after)
    u, v = np.subtract(here, before) / lengths[0], np.subtract(after, here) / lengths[1]
    half = np.tan(abs(change) / 2)
    wanted = anticipation_m if anticipation_m is not None else (radius_m or 0.0) * half
    tangent = float(min(wanted, lengths[0] / 2, lengths[1] / 2))
    if not tangent > 1e-6:
        return None
    radius, side = tangent / half, np.sign(change)
    start, end = here - tangent * u, here + tangent * v
    centre = start + radius * side * np.array((-u[1], u[0]))
    first = float(np.arctan2(*(start - centre)[::-1]))
    return Corner(
        centre=(float(centre[0]), float(centre[1])),
        radius_m=float(radius),
        tangent_m=tangent,
        bearings_rad=(first, first + change / 2, first + change),
        start=(float(start[0]), float(start[1])),
        end=(float(end[0]), float(end[1])),
        course_change_rad=change,
        shortened=tangent < wanted * (1 - 1e-9),
    )

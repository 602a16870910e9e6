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

GRAVITY_M_PER_S2: Final = 9.80665
"""Standard gravity (BIPM, SI brochure; also PANS-OPS)."""
REVERSAL_DEG: Final = 170.0
"""A change of course beyond this is flown as a stop: the arc would need no radius at all."""
STRAIGHT_DEG: Final = 0.01

Point = tuple[float, float]


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
    def inside_m(self) -> float:
        """How far inside the waypoint the arc passes: r (sec(A/2) − 1)."""
        return float(self.radius_m * (1 / np.cos(self.course_change_rad / 2) - 1))


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
    inbound, outbound = np.subtract(here, before), np.subtract(after, here)
    lengths = float(np.hypot(*inbound)), float(np.hypot(*outbound))
    if min(lengths) < 1e-6:
        return None
    u, v = inbound / lengths[0], outbound / lengths[1]
    change = float(np.arctan2(u[0] * v[1] - u[1] * v[0], u @ v))
    if not np.radians(STRAIGHT_DEG) < abs(change) < np.radians(REVERSAL_DEG):
        return None
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

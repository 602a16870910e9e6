r"""Turns flown past the waypoint: over it, then round and back onto the next leg.

::

    ──────▶ waypoint ───╮         first arc: A + δ, from the waypoint on
               ╲         │ r(1 − cos A) beyond the next leg at most
                ╲       ╱
                 ╲    ╱          straight back at an angle δ to the leg
                  ╲ ╱
                   ╲             last arc: δ, onto the leg

The handbook's turn over a waypoint (ICAO Doc 8168 PANS-OPS Vol II, Part III, Section 2,
Chapter 1, the length of a segment between turns: it begins at the waypoint, takes
up the next leg at 30° and rolls out onto it; from memory), but with one radius. δ
is less where 30° would overshoot the leg.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np

from terrain_guard.path.pieces import Arc, Line, Piece, Point
from terrain_guard.path.turns import REVERSAL_DEG, STRAIGHT_DEG, change_of_course

INTERCEPT_RAD = math.radians(30.0)


@dataclass(frozen=True, slots=True, kw_only=True)
class Overflight:
    """A turn that begins at its waypoint."""

    radius_m: float
    course_change_rad: float  # positive to the left
    pieces: tuple[Piece, ...]
    joins_m: float  # from the waypoint along the next leg, where it is taken up
    shortened: bool  # the leg was too short for the turn asked for

    @property
    def outside_m(self) -> float:
        """How far beyond the next leg it swings: r (1 − cos A)."""
        return self.radius_m * (1 - math.cos(self.course_change_rad))


def overflight(
    before: Point,
    here: Point,
    after: Point,
    *,
    room_m: float,
    anticipation_m: float | None = None,
    radius_m: float | None = None,
) -> Overflight | None:
    """Turn after a waypoint, or return None for a stop (see `turns.corner`).

    Where the next leg has less room than the turn needs, the turn is tighter.
    """
    change = change_of_course(before, here, after)
    if change is None or not math.radians(STRAIGHT_DEG) < abs(change) < math.radians(REVERSAL_DEG):
        return None
    angle = abs(change)
    wanted = radius_m or 0.0 if anticipation_m is None else anticipation_m / math.tan(angle / 2)
    needed = _joins(angle)
    radius = min(wanted, room_m / needed)
    if not radius > 1e-6:
        return None
    return Overflight(
        radius_m=radius,
        course_change_rad=change,
        pieces=_pieces(here, after, change, radius),
        joins_m=radius * needed,
        shortened=radius < wanted * (1 - 1e-9),
    )


def _intercept(angle: float) -> float:
    return min(INTERCEPT_RAD, math.acos((1 + math.cos(angle)) / 2))


def _joins(angle: float) -> float:
    """Return how far along the next leg a turn of radius 1 ends."""
    back = _intercept(angle)
    left = 2 * math.cos(back) - 1 - math.cos(angle)
    return math.sin(angle) + 2 * math.sin(back) + left / math.tan(back)


def _pieces(here: Point, after: Point, change: float, radius: float) -> tuple[Piece, ...]:
    angle, side = abs(change), math.copysign(1.0, change)
    back = _intercept(angle)
    course = math.atan2(after[1] - here[1], after[0] - here[0])
    first = _arc(here, course - change, radius, side * (angle + back))
    start = _end(first)
    straight = max(0.0, radius * (2 * math.cos(back) - 1 - math.cos(angle)) / math.sin(back))
    heading = course + side * back
    stop = start[0] + straight * math.cos(heading), start[1] + straight * math.sin(heading)
    last = _arc(stop, heading, radius, -side * back)
    return (first, *([Line.between(start, stop)] if straight > 1e-9 else []), last)


def _arc(start: Point, heading: float, radius: float, turn: float) -> Arc:
    side = math.copysign(1.0, turn)
    centre = (
        start[0] - side * radius * math.sin(heading),
        start[1] + side * radius * math.cos(heading),
    )
    return Arc(centre, radius, heading - side * math.pi / 2, turn)


def _end(arc: Arc) -> Point:
    x, y = arc.places(np.array([arc.length_m]))
    return float(x[0]), float(y[0])

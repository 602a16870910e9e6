r"""How height changes along one leg: every model of it, as heights at knots.

::

      to      ╭────────     early: at the rate of climb, then level
            ╱   . ·  ╱      linear: with the distance flown
          ╱ . ·    ╱        late: level, then at the rate of climb
    from ────────╯          smooth: a curve through the waypoints' heights

Where a leg is too short for the rate, an aircraft either slows down, and then
climbs linearly over the whole leg, or falls short: it climbs (or descends) at its
rate all the way and passes the waypoint without having reached the height. At a
waypoint where it stops it always reaches it.
"""

from __future__ import annotations

import math
from collections.abc import Callable
from dataclasses import dataclass, replace

import numpy as np

from terrain_guard.arrays import Floats
from terrain_guard.path.curve import Pace
from terrain_guard.path.pieces import CHORD_TOLERANCE_M, hermite

MODELS = ("linear", "early", "late", "smooth")
SHORT = "-short"
"""Behind a model's name: the aircraft falls short of heights that its rate cannot reach."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Bend:
    """A cubic over a part of a leg: heights at its ends, and slopes there over its length."""

    from_m: float
    length_m: float
    heights_m: tuple[float, float]
    slopes_m: tuple[float, float]

    def at(self, distance_m: Floats) -> Floats:
        """Return the heights after so many metres."""
        u = (distance_m - self.from_m) / self.length_m
        p0, p1, m0, m1 = (np.full(1, v) for v in (*self.heights_m, *self.slopes_m))
        return hermite(u, p0, p1, m0, m1)

    @property
    def spacing_m(self) -> float:
        """How far apart samples may be for chords to stay within a millimetre."""
        rise = self.heights_m[1] - self.heights_m[0]
        m0, m1 = self.slopes_m
        bend = max(abs(6 * rise - 4 * m0 - 2 * m1), abs(6 * rise - 2 * m0 - 4 * m1))
        return self.length_m * math.sqrt(8 * CHORD_TOLERANCE_M / bend) if bend > 0 else math.inf

    @property
    def steepest(self) -> float:
        """The steepest climb or descent, metres a metre."""
        rise = self.heights_m[1] - self.heights_m[0]
        m0, m1 = self.slopes_m
        a, b = 3 * (m0 + m1 - 2 * rise), 2 * (3 * rise - 2 * m0 - m1)
        vertex = -b / (2 * a) if a else 0.0
        inside = m0 + vertex * (b + vertex * a) if 0 < vertex < 1 else m0
        return max(abs(m0), abs(m1), abs(inside)) / self.length_m

    def level_m(self) -> Floats:
        """Return where it is level: its extremes, exactly."""
        rise = self.heights_m[1] - self.heights_m[0]
        m0, m1 = self.slopes_m
        u = np.roots([3 * (m0 + m1 - 2 * rise), 2 * (3 * rise - 2 * m0 - m1), m0])
        u = u[np.isreal(u)].real
        return self.from_m + np.sort(u[(u > 1e-9) & (u < 1 - 1e-9)]) * self.length_m


@dataclass(frozen=True, slots=True, eq=False)
class Heights:
    """Heights above launch, linear between knots of metres flown; arrays (k,), k ≥ 2.

    Where there is a `bend`, it holds instead between the two of its knots `bent_m`.
    """

    knots_m: Floats
    height_m: Floats
    bend: Bend | None = None
    bent_m: tuple[float, float] = (math.inf, -math.inf)

    def at(self, distance_m: Floats) -> Floats:
        """Return the heights after so many metres; an end that is known stays known."""
        height = np.interp(distance_m, self.knots_m, self.height_m)
        if self.bend is None:
            return height
        inside = (distance_m > self.bent_m[0]) & (distance_m < self.bent_m[1])
        return np.where(inside, self.bend.at(distance_m), height)

    def moved(self, metres: float, *, scale: float = 1.0) -> Heights:
        """Return the same heights over a leg so many times as long, and so many metres on."""
        bend = self.bend and replace(
            self.bend,
            from_m=self.bend.from_m * scale + metres,
            length_m=self.bend.length_m * scale,
        )
        bent_m = self.bent_m[0] * scale + metres, self.bent_m[1] * scale + metres
        return Heights(self.knots_m * scale + metres, self.height_m, bend, bent_m)

    @property
    def spacing_m(self) -> float:
        """How far apart samples may be at most."""
        return math.inf if self.bend is None else self.bend.spacing_m

    @property
    def steepest(self) -> float:
        """The steepest climb or descent, metres a metre; 0 where none is known."""
        run, rise = np.diff(self.knots_m), np.diff(self.height_m)
        some = (run > 0) & np.isfinite(rise)
        least = 0.0 if self.bend is None else self.bend.steepest
        return float(np.abs(rise[some] / run[some]).max(initial=least))

    @property
    def end_m(self) -> float:
        """The height at the end."""
        return float(self.height_m[-1])


@dataclass(frozen=True, slots=True, kw_only=True)
class Leg:
    """One leg to be climbed: metres flown, heights wanted, rates, slopes of the smooth curve."""

    length_m: float
    heights_m: tuple[float, float]
    pace: Pace
    slopes_m: tuple[float, float]  # per leg, of the smooth curve at either end

    @property
    def reach_m(self) -> float:
        """How many metres up (or down, negative) the rates allow at most, the way it is going."""
        rise = self.heights_m[1] - self.heights_m[0]
        rate = self.pace.up_m_per_s if rise > 0 else self.pace.down_m_per_s
        return math.copysign(rate * self.length_m / self.pace.speed_m_per_s, rise)

    @property
    def is_too_steep(self) -> bool:
        """Whether the rates do not reach the height at the end."""
        return abs(self.heights_m[1] - self.heights_m[0]) > abs(self.reach_m) + 1e-9


def climb(leg: Leg, model: str) -> Heights:
    """Return the heights along a leg as a model has it."""
    start, end = leg.heights_m
    if model.endswith(SHORT) and leg.is_too_steep:
        end = start + leg.reach_m
    base = model.removesuffix(SHORT)
    if not math.isfinite(end - start) or not leg.length_m > 0:
        return _straight(leg, end)
    return _MODELS[base](leg, end)


def _straight(leg: Leg, end: float) -> Heights:
    return Heights(np.array([0.0, leg.length_m]), np.array([leg.heights_m[0], end]))


def _run_m(leg: Leg, end: float) -> float:
    """Return how far it flies while it climbs at its rate."""
    rise = end - leg.heights_m[0]
    return min(leg.length_m, leg.length_m * abs(rise / leg.reach_m)) if leg.reach_m else 0.0


def _early(leg: Leg, end: float) -> Heights:
    start, run = leg.heights_m[0], _run_m(leg, end)
    return _bent(leg, [0.0, run, leg.length_m], [start, end, end])


def _late(leg: Leg, end: float) -> Heights:
    start, run = leg.heights_m[0], _run_m(leg, end)
    return _bent(leg, [0.0, leg.length_m - run, leg.length_m], [start, start, end])


def _bent(leg: Leg, knots: list[float], heights: list[float]) -> Heights:
    keep = [0, *([1] if 1e-9 < knots[1] < leg.length_m - 1e-9 else []), 2]
    return Heights(np.array(knots)[keep], np.array(heights)[keep])


def _smooth(leg: Leg, end: float) -> Heights:
    start = leg.heights_m[0]
    ends = (start, end)
    if not all(map(math.isfinite, leg.slopes_m)):  # known at its ends, and nowhere between
        knots = np.array([0.0, leg.length_m / 2, leg.length_m])
        return Heights(knots, np.array([start, math.nan, end]))
    bend = Bend(from_m=0.0, length_m=leg.length_m, heights_m=ends, slopes_m=leg.slopes_m)
    level = bend.level_m()
    knots = np.concatenate(([0.0], level, [leg.length_m]))
    heights = np.concatenate((ends[:1], bend.at(level), ends[1:]))
    return Heights(knots, heights, bend, (0.0, leg.length_m))


_MODELS: dict[str, Callable[[Leg, float], Heights]] = {
    "linear": _straight,
    "early": _early,
    "late": _late,
    "smooth": _smooth,
}

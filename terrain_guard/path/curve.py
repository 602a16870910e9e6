"""The flown curve as samples, and the three strokes it is drawn with.

A curve is a chain of straight chords between samples. Samples are at most one
step apart; on arcs they are close enough that no chord leaves its arc by more
than a millimetre.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from terrain_guard.arrays import Floats, Ints
from terrain_guard.path.frame import LocalFrame

CHORD_TOLERANCE_M = 1e-3


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Stroke:
    """A stretch of curve: samples (n ≥ 2,) in the local frame and the time each is reached."""

    x_m: Floats
    y_m: Floats
    above_launch_m: Floats
    time_s: Floats  # since the start of the stroke
    leg: int


@dataclass(frozen=True, slots=True, kw_only=True)
class Pace:
    """How fast a stretch is flown."""

    speed_m_per_s: float
    up_m_per_s: float
    down_m_per_s: float

    def seconds(self, horizontal_m: Floats, climb_m: Floats) -> Floats:
        """Return the time each chord takes: the slower of going along and going up or down."""
        rate = np.where(climb_m > 0, self.up_m_per_s, self.down_m_per_s)
        # Where the climb is not known (NaN) the time along is all that can be said.
        return np.fmax(horizontal_m / self.speed_m_per_s, np.abs(climb_m) / rate)


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Curve:
    """One way a section of the route may be flown.

    Samples are arrays (n,); ``leg`` (n − 1,) is the leg of the chord that leaves
    each sample. ``along_m`` counts 3-D metres and ``time_s`` seconds from the
    start of the section. ``words`` names the way, in the order turn, height in
    the corner, climb, way out, way home.
    """

    words: tuple[str, ...]
    x_m: Floats
    y_m: Floats
    lon_deg: Floats
    lat_deg: Floats
    above_launch_m: Floats
    along_m: Floats
    time_s: Floats
    leg: Ints

    @property
    def name(self) -> str:
        """The words joined, as findings print them."""
        return "/".join(self.words)

    def leg_span(self, leg: int) -> tuple[float, float]:
        """Return where the leg starts and ends along this curve (m)."""
        chords = np.flatnonzero(self.leg == leg)
        return float(self.along_m[chords[0]]), float(self.along_m[chords[-1] + 1])


def at(values: Floats, position: Floats) -> Floats:
    """Return sample values at fractional sample positions, linear along the chords."""
    chord = np.clip(np.floor(position).astype(np.int64), 0, values.size - 2)
    share = position - chord
    return values[chord] + share * (values[chord + 1] - values[chord])


def straight(
    start: tuple[float, float],
    stop: tuple[float, float],
    *,
    heights_m: tuple[float, float],
    leg: int,
    pace: Pace,
    step_m: float,
) -> Stroke:
    """Draw a straight stretch, level, slanting or vertical; heights are linear along it."""
    length = float(np.hypot(stop[0] - start[0], stop[1] - start[1]))
    rise = heights_m[1] - heights_m[0]
    long = np.hypot(length, rise)
    count = (
        max(1, int(np.ceil(long / step_m - 1e-9))) if np.isfinite(long) else _steps(length, step_m)
    )
    return _stroke(  # linspace ends on `stop` to the last bit, so that strokes meet
        np.linspace(start[0], stop[0], count + 1),
        np.linspace(start[1], stop[1], count + 1),
        rising(heights_m, np.linspace(0.0, 1.0, count + 1)),
        leg=leg,
        pace=pace,
    )


def _steps(length_m: float, step_m: float) -> int:
    return max(1, int(np.ceil(length_m / step_m - 1e-9)))


def arc(
    centre: tuple[float, float],
    radius_m: float,
    bearings_rad: tuple[float, float],
    *,
    heights_m: tuple[float, float],
    leg: int,
    pace: Pace,
    step_m: float,
) -> Stroke:
    """Draw an arc about `centre` from one bearing (anticlockwise from east) to another."""
    turn = bearings_rad[1] - bearings_rad[0]
    chord = min(step_m, float(np.sqrt(8 * CHORD_TOLERANCE_M * radius_m)))
    rise = heights_m[1] - heights_m[0]
    length = abs(turn) * radius_m
    long = np.hypot(length, rise) if np.isfinite(rise) else length
    count = max(_steps(length, chord), _steps(float(long), step_m))
    share = np.linspace(0.0, 1.0, count + 1)
    bearing = bearings_rad[0] + share * turn
    return _stroke(
        centre[0] + radius_m * np.cos(bearing),
        centre[1] + radius_m * np.sin(bearing),
        rising(heights_m, share),
        leg=leg,
        pace=pace,
    )


def rising(heights_m: tuple[float, float], share: Floats) -> Floats:
    """Return heights linear with the share of the way; an end that is known stays known."""
    between = heights_m[0] + share * (heights_m[1] - heights_m[0])
    return np.where(share <= 0, heights_m[0], np.where(share >= 1, heights_m[1], between))


def _stroke(x: Floats, y: Floats, height: Floats, *, leg: int, pace: Pace) -> Stroke:
    seconds = pace.seconds(np.hypot(np.diff(x), np.diff(y)), np.diff(height))
    return Stroke(
        x_m=x, y_m=y, above_launch_m=height,
        time_s=np.append(0.0, np.cumsum(seconds)), leg=leg,
    )  # fmt: skip


def join(
    strokes: list[Stroke], *, waits_s: list[float], words: tuple[str, ...], frame: LocalFrame
) -> Curve:
    """Join strokes end to end; `waits_s` are spent before each."""

    def chain(name: str) -> Floats:
        parts = [getattr(stroke, name) for stroke in strokes]
        return np.concatenate([parts[0][:1], *(part[1:] for part in parts)])

    x, y, height = chain("x_m"), chain("y_m"), chain("above_launch_m")
    rise = np.nan_to_num(np.diff(height))  # a climb not known adds no metres
    steps = np.sqrt(np.diff(x) ** 2 + np.diff(y) ** 2 + rise**2)
    seconds = np.concatenate([np.diff(stroke.time_s) for stroke in strokes])
    sizes = np.array([stroke.x_m.size - 1 for stroke in strokes])
    seconds[np.cumsum(sizes) - sizes] += waits_s
    lon, lat = frame.to_degrees(x, y)
    return Curve(
        words=words,
        x_m=x,
        y_m=y,
        lon_deg=lon,
        lat_deg=lat,
        above_launch_m=height,
        along_m=np.append(0.0, np.cumsum(steps)),
        time_s=np.append(0.0, np.cumsum(seconds)),
        leg=np.repeat([stroke.leg for stroke in strokes], sizes),
    )

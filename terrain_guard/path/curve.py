"""The flown curve as samples, and the straight strokes that climb-outs and ways home are.

A curve is a chain of straight chords between samples. Samples are at most one
step apart; in turns they are close enough that no chord leaves its arc by more
than a millimetre.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass, replace

import numpy as np

from terrain_guard.arrays import Bools, Floats, Ints
from terrain_guard.path.frame import LocalFrame
from terrain_guard.path.pieces import steps

GAP = -1
"""Instead of a leg's number: this chord joins two parts of a curve and is not flown."""
SAME_HEIGHT_M = 1e-9


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
class Side:
    """The lowest or the highest heights of all ways over one line.

    Heights at samples (n,), and between them the number of the way they are of (n − 1,).
    """

    above_launch_m: Floats
    way: Ints


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Curve:
    """One line in the air, or all that are flown over one line on the ground.

    Samples are arrays (n,); ``leg`` (n − 1,) is the leg of the chord that leaves
    each sample, `GAP` where the chord is not flown. ``along_m`` counts 3-D metres
    and ``time_s`` seconds from the start of the section; of a curve that is drawn
    only in parts, metres over the ground.

    ``ways`` are named in words, in the order turn, height in the corner, climb, way
    out, way home; ``way`` (n − 1,) says which of them ``above_launch_m`` is. Where
    several ways fly over the same line, ``low`` and ``high`` are their lowest and
    highest heights, and ``unknown`` (n − 1,) a way whose height is not known though
    that of others is, -1 where there is none; else None.
    """

    ways: tuple[tuple[str, ...], ...]
    way: Ints
    x_m: Floats
    y_m: Floats
    lon_deg: Floats
    lat_deg: Floats
    above_launch_m: Floats
    along_m: Floats
    time_s: Floats
    leg: Ints
    spans_m: dict[int, tuple[float, float]]  # where each leg starts and ends along the curve
    low: Side | None = None
    high: Side | None = None
    unknown: Ints | None = None
    elsewhere: Bools | None = None  # (n − 1,) of several ways, where the first is drawn by itself
    decides: tuple[str, ...] = ("low", "high")  # what it may be the worst for
    side: str = "both"  # what it decides: low the floor, high the ceiling, or both

    @property
    def words(self) -> tuple[str, ...]:
        """The first way."""
        return self.ways[int(self.way[0])]

    @property
    def name(self) -> str:
        """The words of the first way joined."""
        return "/".join(self.words)

    def name_at(self, position: float) -> str:
        """Return the way at a fractional sample position, as findings print it."""
        chord = min(max(int(position), 0), self.way.size - 1)
        if chord > 0 and self.leg[chord] == GAP:  # at the end of what is flown in one piece
            chord -= 1
        return "/".join(self.ways[int(self.way[chord])])

    def leg_span(self, leg: int) -> tuple[float, float]:
        """Return where the leg starts and ends along this curve (m)."""
        return self.spans_m[leg]

    @property
    def legs(self) -> list[int]:
        """The legs it flies, in order."""
        return sorted(self.spans_m)

    def lines(self, *, is_reference: bool) -> Iterator[Curve]:
        """Yield the lines that decide the limits: the reference, or the lowest and the highest.

        And behind these, without heights, whatever way is not known where others are.
        """
        if is_reference:
            yield self
            return
        for name, side in (("low", self.low), ("high", self.high)):
            if name not in self.decides:
                continue
            line = replace(self, side=name) if side is None else self._on(side, name)
            if line is not None:
                yield line
        if self.unknown is not None:
            chord = (self.unknown >= 0) & (self.leg != GAP)
            nothing = Side(above_launch_m=np.full(self.x_m.shape, np.nan), way=self.unknown)
            yield from [self._only(chord, nothing, "both")] if chord.any() else []

    def _on(self, side: Side, name: str) -> Curve | None:
        """Return one side; a gap where it is no other than the first way, drawn elsewhere."""
        assert self.elsewhere is not None
        first, own = self.above_launch_m, side.above_launch_m
        other = ~((np.abs(own - first) <= SAME_HEIGHT_M) | np.isnan(own))
        apart = (other[:-1] | other[1:] | ~self.elsewhere) & (self.leg != GAP)
        return self._only(apart, side, name) if apart.any() else None

    def _only(self, apart: Bools, side: Side, name: str) -> Curve:
        """Return some chords (n − 1,), with the heights of a side."""
        used = np.append(apart, False) | np.append(False, apart)
        x, y, lon, lat = (
            np.where(used, values, np.nan)
            for values in (self.x_m, self.y_m, self.lon_deg, self.lat_deg)
        )
        return replace(
            self, above_launch_m=side.above_launch_m, way=side.way, low=None, high=None,
            unknown=None, elsewhere=None, side=name, leg=np.where(apart, self.leg, GAP),
            x_m=x, y_m=y, lon_deg=lon, lat_deg=lat,
        )  # fmt: skip


def at(values: Floats, position: Floats) -> Floats:
    """Return sample values at fractional sample positions, linear along the chords.

    At a sample it is the sample's own, whatever its neighbours are.
    """
    chord = np.clip(np.floor(position).astype(np.int64), 0, values.size - 2)
    share = position - chord
    start, stop = values[chord], values[chord + 1]
    between = start + share * (stop - start)
    return np.where(share == 0, start, np.where(share == 1, stop, between))


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
    count = steps(float(long) if np.isfinite(long) else length, step_m)
    return _stroke(  # linspace ends on `stop` to the last bit, so that strokes meet
        np.linspace(start[0], stop[0], count + 1),
        np.linspace(start[1], stop[1], count + 1),
        rising(heights_m, np.linspace(0.0, 1.0, count + 1)),
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
    steps_m = np.sqrt(np.diff(x) ** 2 + np.diff(y) ** 2 + rise**2)
    seconds = np.concatenate([np.diff(stroke.time_s) for stroke in strokes])
    sizes = np.array([stroke.x_m.size - 1 for stroke in strokes])
    seconds[np.cumsum(sizes) - sizes] += waits_s
    lon, lat = frame.to_degrees(x, y)
    leg = np.repeat([stroke.leg for stroke in strokes], sizes)
    along = np.append(0.0, np.cumsum(steps_m))
    return Curve(
        ways=(words,),
        way=np.zeros(leg.size, dtype=np.int64),
        x_m=x,
        y_m=y,
        lon_deg=lon,
        lat_deg=lat,
        above_launch_m=height,
        along_m=along,
        time_s=np.append(0.0, np.cumsum(seconds)),
        leg=leg,
        spans_m=spans_of(leg, along),
    )


def spans_of(leg: Ints, along_m: Floats) -> dict[int, tuple[float, float]]:
    """Return where each leg starts and ends along a curve that is drawn whole."""
    starts = np.flatnonzero(np.append(True, np.diff(leg) != 0))
    stops = np.append(starts[1:], leg.size)
    return {
        int(leg[a]): (float(along_m[a]), float(along_m[b]))
        for a, b in zip(starts.tolist(), stops.tolist(), strict=True)
    }

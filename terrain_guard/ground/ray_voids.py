"""Where ground is not known along rays: every stretch over a void or off the model."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from terrain_guard.arrays import Bools, Floats, Ints
from terrain_guard.ground.bilinear import Posts
from terrain_guard.ground.peaks import Level, Peaks
from terrain_guard.ground.strides import Strides


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Unknown:
    """Stretches of rays over unknown ground, in no order; they may meet, never overlap."""

    ray: Ints
    start: Floats  # shares, start < stop
    stop: Floats
    count: int  # rays

    @classmethod
    def none(cls, count: int) -> Unknown:
        """Return that all ground is known."""
        return cls(ray=np.zeros(0, np.int64), start=np.zeros(0), stop=np.zeros(0), count=count)

    @classmethod
    def along(cls, strides: Strides, peaks: Peaks, source: Posts) -> Unknown:
        """Look for voids: only where groups have some, and cell by cell only where not all is."""
        count = strides.chords.count
        if not peaks.has_void:
            return cls.none(count)
        found: list[tuple[Ints, Floats, Floats]] = []
        ray, number = strides.first(np.arange(count), peaks.levels[0].size)
        for level, finer in zip(peaks.levels, (*peaks.levels[1:], None), strict=True):
            a, b = strides.ends(ray, number, level.size)
            some, whole = _voids(level, strides.groups(ray, number, (a, b), level.size))
            found.append((ray[whole], *_shares(strides, ray[whole], a[whole], b[whole])))
            ray, number = ray[some & ~whole], number[some & ~whole]
            size = 1 if finer is None else finer.size
            ray, number = strides.finer(ray, number, size, level.size // size)
        pieces = strides.pieces(ray, number)
        void = np.isnan(strides.ground(pieces, source)[0])
        ends = np.sort(np.stack((pieces.start[void], pieces.stop[void])), axis=0)
        found.append((pieces.ray[void], ends[0], ends[1]))
        of, start, stop = (np.concatenate(parts) for parts in zip(*found, strict=True))
        some = stop > start
        return cls(ray=of[some], start=start[some], stop=stop[some], count=count)

    def first(self) -> Floats:
        """Return the least share (n,) of rays over unknown ground; inf: none."""
        out = np.full(self.count, np.inf)
        np.minimum.at(out, self.ray, self.start)
        return out

    def last(self) -> Floats:
        """Return the greatest share (n,) of rays over unknown ground; −inf: none."""
        out = np.full(self.count, -np.inf)
        np.maximum.at(out, self.ray, self.stop)
        return out

    def between(self, start: Floats, stop: Floats) -> Bools:
        """Return whether rays meet unknown ground between two shares (n,)."""
        inside = (self.stop > start[self.ray]) & (self.start < stop[self.ray])
        out = np.zeros(self.count, dtype=bool)
        out[self.ray[inside]] = True
        return out


def _voids(level: Level, groups: tuple[tuple[Ints, Ints], ...]) -> tuple[Bools, Bools]:
    picks = [level.pick(*group) for group in groups]
    some, whole = level.has_void.ravel(), level.is_void.ravel()
    return some[picks[0]] | some[picks[1]], whole[picks[0]] & whole[picks[1]]


def _shares(strides: Strides, ray: Ints, a: Floats, b: Floats) -> tuple[Floats, Floats]:
    one, other = strides.share(ray, a), strides.share(ray, b)
    return np.minimum(one, other), np.maximum(one, other)

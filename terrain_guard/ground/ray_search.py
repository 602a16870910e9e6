"""Find the greatest value along each ray, coarse strides first, cells last.

Strides whose bound does not exceed what a ray is known to reach are put aside with
all their cells. Rays of a flight lie side by side: a few are searched first, and each of
the others begins with the ground where its neighbours were worst.

::

    every 64th ray ──▶ every 8th ──▶ all       strides of 64 cells ──▶ 16 ──▶ 4 ──▶ one: exact
              tell their neighbours where to look first
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from terrain_guard.arrays import Bools, Floats, Ints
from terrain_guard.ground import bilinear
from terrain_guard.ground.bilinear import Posts
from terrain_guard.ground.peaks import Level, Peaks
from terrain_guard.ground.ray_asks import Ask
from terrain_guard.ground.strides import Strides

EVERY = (64, 8, 1)
AT_ONCE = 2000  # rays: keeps memory small


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Found:
    """The greatest value on each ray, and where; −inf and NaN where no ground is known."""

    value: Floats
    share: Floats


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Search:
    """One question along all rays."""

    strides: Strides
    peaks: Peaks
    source: Posts
    ask: Ask
    start: Floats  # (n,) shares between which it is asked
    stop: Floats

    def run(self) -> Found:
        """Return the answers."""
        count = self.start.size
        found = Found(value=np.full(count, -np.inf), share=np.full(count, np.nan))
        done = 0
        for every in EVERY:
            rays = np.arange(0, count, every)
            if done:
                rays = rays[rays % done != 0]
                self._ask_neighbours(rays, done, found)
            for some in np.array_split(rays, -(-rays.size // AT_ONCE)) if rays.size else ():
                self._descend(some, found)
            done = every
        return found

    def _ask_neighbours(self, rays: Ints, done: int, found: Found) -> None:
        before = rays // done * done
        after = np.minimum(before + done, (self.start.size - 1) // done * done)
        for other in (before, after):
            with np.errstate(invalid="ignore"):
                along = self.strides.chords.along_m(other, found.share[other])
            known = np.isfinite(along)
            self._try(rays[known], self.strides.chords.share(rays[known], along[known]), found)

    def _try(self, ray: Ints, share: Floats, found: Found) -> None:
        """Look at one point of each ray."""
        asked = self.start[ray] <= self.stop[ray]
        ray, share = ray[asked], share[asked]
        share = np.clip(share, self.start[ray], self.stop[ray])
        ground = bilinear.elevation(self.source, *self.strides.chords.places(ray, share), None)
        _keep(found, ray, share, self.ask.value(ray, share, ground))

    def _descend(self, rays: Ints, found: Found) -> None:
        levels = self.peaks.levels
        ray, number = self.strides.first(rays, levels[0].size)
        bound: Floats = np.zeros(0)
        for level, finer in zip(levels, (*levels[1:], None), strict=True):
            bound = self._bound(level, ray, number)
            keep = bound > found.value[ray]
            ray, number, bound = ray[keep], number[keep], bound[keep]
            best = _best_of_each(ray, bound)
            self._try(ray[best], self._middle(level, ray[best], number[best]), found)
            keep = bound > found.value[ray]
            ray, number, bound = ray[keep], number[keep], bound[keep]
            if finer is not None:
                ratio = level.size // finer.size
                ray, number = self.strides.finer(ray, number, finer.size, ratio)
        best = _best_of_each(ray, bound)
        self._cut(ray[best], number[best], found)
        rest = bound > found.value[ray]
        self._cut(ray[rest], number[rest], found)

    def _bound(self, level: Level, ray: Ints, number: Ints) -> Floats:
        strides = self.strides
        a, b = strides.ends(ray, number, level.size)
        one, other = strides.groups(ray, number, (a, b), level.size)
        most = level.most.ravel()
        most = np.maximum(most[level.pick(*one)], most[level.pick(*other)])
        ends = strides.share(ray, a), strides.share(ray, b)
        return self.ask.bound(ray, np.minimum(*ends), np.maximum(*ends), most)

    def _middle(self, level: Level, ray: Ints, number: Ints) -> Floats:
        a, b = self.strides.ends(ray, number, level.size)
        return self.strides.share(ray, (a + b) / 2)

    def _cut(self, ray: Ints, number: Ints, found: Found) -> None:
        """Look at every cell of some of the finest strides, exactly."""
        ray, number = self.strides.finer(ray, number, 1, self.peaks.levels[-1].size)
        pieces = self.strides.pieces(ray, number)
        ray, start, stop = pieces.ray, pieces.start, pieces.stop
        a0, a1, a2 = self.strides.ground(pieces, self.source)
        for t in (
            np.zeros_like(a0),
            np.ones_like(a0),
            *self.ask.turns(ray, start, stop, (a0, a1, a2)),
        ):
            inside = np.clip(np.nan_to_num(t, nan=0.0), 0.0, 1.0)
            share = start + inside * (stop - start)
            _keep(found, ray, share, self.ask.value(ray, share, a0 + inside * (a1 + inside * a2)))


def _keep(found: Found, ray: Ints, share: Floats, value: Floats) -> None:
    """Note values that exceed what is known of their rays."""
    better = value > found.value[ray]  # NaN, where ground is missing, does not
    ray, share, value = ray[better], share[better], value[better]
    np.maximum.at(found.value, ray, value)
    best = value == found.value[ray]
    found.share[ray[best]] = share[best]


def _best_of_each(ray: Ints, bound: Floats) -> Ints:
    """Return which entry has the greatest bound for its ray; rays come sorted."""
    if not ray.size:
        return np.zeros(0, dtype=np.int64)
    starts = np.flatnonzero(_is_new(ray))
    most = np.repeat(np.maximum.reduceat(bound, starts), np.diff(np.append(starts, ray.size)))
    best = np.flatnonzero(bound == most)
    return best[_is_new(ray[best])]


def _is_new(ray: Ints) -> Bools:
    return np.append(True, ray[1:] != ray[:-1])

"""Rays cut into strides: equal steps along whichever axis of the posts a ray follows more.

::

    ┌──────┬──────┬──────┐      a stride of `size` cells along the major axis never
    │      │   ╱──┼──────│      spans more than `size` along the other, so that it
    │   ╱──┼──┘   │      │      touches at most two groups of size × size cells; a
    ├──┘───┼──────┼──────┤      stride of one cell is cut at most once
    └──────┴──────┴──────┘
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from terrain_guard.arrays import Bools, Floats, Ints
from terrain_guard.ground.bilinear import Posts, quadratic
from terrain_guard.ground.chords import Chords

SNAP = 5e-9  # cells: as in `bilinear`


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Strides:
    """What is needed to step along rays; arrays (n,) over rays.

    ``major`` and ``minor`` count posts from the start of the ray's own two axes:
    minor = minor0 + slope · (major − major0). ``low``, ``high``: the stretch asked about,
    along the major axis.
    """

    chords: Chords
    by_row: Bools  # the major axis is that of rows
    major0: Floats
    minor0: Floats
    reach: Floats  # signed length along the major axis
    slope: Floats
    low: Floats
    high: Floats

    @classmethod
    def of(cls, chords: Chords, start: Floats, stop: Floats) -> Strides:
        """Prepare rays between shares `start` and `stop` (n,); none where start > stop."""
        down, across = chords.to_row - chords.row, chords.to_column - chords.column
        by_row = np.abs(down) >= np.abs(across)
        reach, other = np.where(by_row, down, across), np.where(by_row, across, down)
        major0 = np.where(by_row, chords.row, chords.column)
        ends = major0 + start * reach, major0 + stop * reach
        nothing = ~(start <= stop)
        return cls(
            chords=chords,
            by_row=by_row,
            major0=major0,
            minor0=np.where(by_row, chords.column, chords.row),
            reach=reach,
            slope=other / np.where(reach == 0, 1.0, reach),
            low=np.where(nothing, 0.0, np.minimum(*ends)),
            high=np.where(nothing, -1.0, np.maximum(*ends)),
        )

    def first(self, rays: Ints, size: int) -> tuple[Ints, Ints]:
        """Return (ray, stride number) of all strides of some rays, ray by ray."""
        low = np.floor(self.low[rays] / size).astype(np.int64)
        last = np.ceil(self.high[rays] / size).astype(np.int64) - 1
        some = self.high[rays] >= self.low[rays]
        count = np.where(some, np.maximum(last - low + 1, 1), 0)
        ray = np.repeat(rays, count)
        nth = np.arange(ray.size) - np.repeat(np.cumsum(count) - count, count)
        return ray, np.repeat(low, count) + nth

    def finer(self, ray: Ints, number: Ints, size: int, ratio: int) -> tuple[Ints, Ints]:
        """Return the strides of `size` cells that lie in strides `ratio` times as long."""
        ray = np.repeat(ray, ratio)
        number = (number[:, None] * ratio + np.arange(ratio)).ravel()
        low, high = self.low[ray], self.high[ray]
        inside = (number * size < high) & ((number + 1) * size > low)
        inside |= (low == high) & (number == np.floor(low / size))
        return ray[inside], number[inside]

    def ends(self, ray: Ints, number: Ints, size: int) -> tuple[Floats, Floats]:
        """Return where strides begin and end along the major axis."""
        begin = number * float(size)
        return np.maximum(begin, self.low[ray]), np.minimum(begin + size, self.high[ray])

    def minor(self, ray: Ints, major: Floats) -> Floats:
        """Return where rays are along the minor axis."""
        return self.minor0[ray] + self.slope[ray] * (major - self.major0[ray])

    def share(self, ray: Ints, major: Floats) -> Floats:
        """Return the share of rays at places along the major axis."""
        reach = self.reach[ray]
        share = (major - self.major0[ray]) / np.where(reach == 0, 1.0, reach)
        return np.clip(share, 0.0, 1.0)

    def groups(
        self, ray: Ints, number: Ints, ends: tuple[Floats, Floats], size: int
    ) -> tuple[tuple[Ints, Ints], tuple[Ints, Ints]]:
        """Return the (group row, group column) of both groups that each stride may touch."""
        one, other = self.minor(ray, ends[0]), self.minor(ray, ends[1])
        low = np.floor(np.minimum(one, other) / size).astype(np.int64)
        high = np.floor(np.maximum(one, other) / size).astype(np.int64)
        by_row = self.by_row[ray]
        return (
            (np.where(by_row, number, low), np.where(by_row, low, number)),
            (np.where(by_row, number, high), np.where(by_row, high, number)),
        )

    def pieces(self, ray: Ints, number: Ints) -> Pieces:
        """Cut strides of one cell at the line of posts they may cross: each piece in one cell."""
        a, b = self.ends(ray, number, 1)
        ma, mb = self.minor(ray, a), self.minor(ray, b)
        low, high = np.minimum(ma, mb), np.maximum(ma, mb)
        line = np.floor(high)  # no other whole number lies between two points one apart at most
        cut = (line > low + SNAP) & (line < high - SNAP)
        slope = np.where(cut, self.slope[ray], 1.0)
        at = np.where(cut, self.major0[ray] + (line - self.minor0[ray]) / slope, b)
        at = np.clip(at, a, b)
        middle = np.where(cut, line, mb)
        return Pieces(
            ray=np.concatenate((ray, ray[cut])),
            start=np.concatenate((self.share(ray, a), self.share(ray[cut], at[cut]))),
            stop=np.concatenate((self.share(ray, at), self.share(ray[cut], b[cut]))),
            major=(np.concatenate((a, at[cut])), np.concatenate((at, b[cut]))),
            minor=(np.concatenate((ma, line[cut])), np.concatenate((middle, mb[cut]))),
        )

    def ground(self, pieces: Pieces, source: Posts) -> tuple[Floats, Floats, Floats]:
        """Return the quadratic of the ground on each piece; NaN where it is not known."""
        by_row = self.by_row[pieces.ray]
        start, stop = (
            (np.where(by_row, p, m), np.where(by_row, m, p))
            for p, m in zip(pieces.major, pieces.minor, strict=True)
        )
        return quadratic(source, start, stop, None)


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Pieces:
    """Parts of rays that each stay in one cell; `start` and `stop` are shares of the ray."""

    ray: Ints
    start: Floats
    stop: Floats
    major: tuple[Floats, Floats]
    minor: tuple[Floats, Floats]

"""One ruler for all curves: metres along the reference curve.

A curve that is flown otherwise is longer or shorter; its metres are placed on
the reference by leg and by share of leg.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from terrain_guard.arrays import Floats, Ints
from terrain_guard.path.curve import Curve


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Ruler:
    """Start, end (m) and start time (s) of every leg along the reference; arrays (legs,)."""

    start_m: Floats
    end_m: Floats
    start_s: Floats

    @classmethod
    def along(cls, sections: tuple[Curve, ...]) -> Ruler:
        """Lay the ruler along the reference curves of the sections, in order."""
        starts, ends, seconds = [], [], []
        metres = time = 0.0
        for curve in sections:
            for leg in range(int(curve.leg[0]), int(curve.leg[-1]) + 1):
                first, last = curve.leg_span(leg)
                starts.append(metres + first)
                ends.append(metres + last)
                seconds.append(time)
            metres += float(curve.along_m[-1])
            time += float(curve.time_s[-1])
        return cls(start_m=np.array(starts), end_m=np.array(ends), start_s=np.array(seconds))

    @property
    def length_m(self) -> float:
        """Length of the whole reference."""
        return float(self.end_m[-1])

    def place(self, curve: Curve, along_m: Floats, leg: Ints | int) -> Floats:
        """Return where metres of `curve`, on the given legs, lie along the reference."""
        leg = np.broadcast_to(leg, np.shape(along_m))
        out = np.zeros(np.shape(along_m))
        for one in np.unique(leg):
            here = leg == one
            first, last = curve.leg_span(int(one))
            share = (along_m[here] - first) / (last - first) if last > first else 0.0
            low, high = self.start_m[one], self.end_m[one]
            out[here] = low + np.clip(share, 0.0, 1.0) * (high - low)
        return out

"""Every metre from which a way home may begin, on every way the route may be flown.

The reference comes first, sample by sample; what other ways add follows, the lowest heights of
all ways over one line. What is found out at each is put back onto the reference::

    reference   ●───●───●───●───●        a state for the stretch behind each sample:
    another      ╲●───●───●╱             the worst of whatever begins beside it
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from terrain_guard.arrays import Bools, Floats, Ints
from terrain_guard.assessment import Samples
from terrain_guard.checks.reference import Ruler
from terrain_guard.checks.stretches import Judged
from terrain_guard.path.curve import GAP
from terrain_guard.path.frame import LocalFrame

SAME_M = 0.1
EVERY = 4
"""Of another line every so manieth sample; what it comes to counts for those beside it, too."""


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Begun:
    """Places in the air from which a way may begin; arrays (n,), the reference's first.

    ``along_m`` and ``time_s`` are on the reference; ``first``, ``last`` are the samples of the
    reference whose stretches a place belongs to.
    """

    samples: Samples
    comes_in: bool  # its last leg ends on the ground
    x_m: Floats
    y_m: Floats
    lon_deg: Floats
    lat_deg: Floats
    flown_m: Floats  # above launch
    along_m: Floats
    time_s: Floats
    leg: Ints
    first: Ints
    last: Ints

    @classmethod
    def of(
        cls, samples: Samples, judged: Sequence[Judged], ruler: Ruler, frame: LocalFrame, *,
        comes_in: bool,
    ) -> Begun:  # fmt: skip
        """Gather every metre of the reference, and of other lines where they are lowest."""
        x, y = frame.to_local(samples.lon_deg, samples.lat_deg)
        count = samples.along_m.size
        behind = np.arange(count)
        parts = [
            {
                "x_m": x, "y_m": y, "flown_m": samples.above_launch_m,
                "lon_deg": samples.lon_deg, "lat_deg": samples.lat_deg,
                "along_m": samples.along_m, "time_s": samples.time_s, "leg": samples.leg,
                "first": np.maximum(behind - 1, 0), "last": behind,
            }
        ]  # fmt: skip
        for one in judged:
            if one.curve.side != "high" and not one.beneath.is_second:
                parts.append(_of_line(one, ruler, samples, x, y))
        joined = {name: np.concatenate([part[name] for part in parts]) for name in parts[0]}
        return cls(samples=samples, comes_in=comes_in, **joined)

    @property
    def count(self) -> int:
        """How many places there are."""
        return self.x_m.size

    @property
    def reference(self) -> int:
        """How many of them, the first, are the reference's own."""
        return self.samples.along_m.size

    @property
    def near_ends(self) -> Bools:
        """Where it climbs out, or comes in to land after the last waypoint."""
        return (self.leg == 0) | (self.comes_in & (self.leg == self.samples.leg.max()))

    def onto_reference(self, codes: Ints) -> Ints:
        """Return the worst of states (n,) for the stretch behind each sample of the reference."""
        out = np.zeros(self.reference, dtype=np.int64)
        for shift in range(int((self.last - self.first).max(initial=0)) + 1):
            touch = self.first + shift <= self.last
            np.maximum.at(out, (self.first + shift)[touch], codes[touch])
        return out


def _of_line(
    one: Judged, ruler: Ruler, samples: Samples, x: Floats, y: Floats
) -> dict[str, np.ndarray]:
    """Return the samples of another line that are flown, on the reference's ruler."""
    curve, along = one.curve, samples.along_m
    flown = curve.leg != GAP
    used = (np.append(flown, False) | np.append(False, flown)) & np.isfinite(curve.x_m)
    leg = np.where(np.append(flown, False), np.append(curve.leg, GAP), np.append(GAP, curve.leg))
    pick = np.flatnonzero(used & (leg != GAP))
    place = ruler.place(curve, curve.along_m[pick], leg[pick])
    beside = np.hypot(
        np.interp(place, along, x) - curve.x_m[pick], np.interp(place, along, y) - curve.y_m[pick]
    )
    lower = np.interp(place, along, samples.above_launch_m) - curve.above_launch_m[pick]
    # What is nowhere else, nor lower, begins where the reference does.
    apart = np.flatnonzero(~((beside <= SAME_M) & (lower <= SAME_M)))[::EVERY]
    pick, place = pick[apart], place[apart]
    behind = np.clip(np.searchsorted(along, place, side="right") - 1, 0, along.size - 1)
    return {
        "x_m": curve.x_m[pick],
        "y_m": curve.y_m[pick],
        "lon_deg": curve.lon_deg[pick],
        "lat_deg": curve.lat_deg[pick],
        "flown_m": curve.above_launch_m[pick],
        "along_m": place,
        "time_s": np.interp(place, along, samples.time_s),
        "leg": leg[pick],
        "first": np.maximum(behind - EVERY, 0),
        "last": np.minimum(behind + EVERY - 1, along.size - 1),
    }

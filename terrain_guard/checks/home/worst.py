"""The worst of all ways home from each place begun at, and the ground that decides about it."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from terrain_guard.arrays import Floats, Ints
from terrain_guard.assessment import GroundInTheWay
from terrain_guard.checks.home.begun import Begun
from terrain_guard.checks.home.homeward import Judged
from terrain_guard.path.altimeter import Altimeter


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Worst:
    """All ways home in play, over every ground; arrays (n,) are of the worst from each place."""

    ways: tuple[Judged, ...]
    base_m: tuple[Floats, ...]  # the elevation of no height above launch, for each
    which: Ints
    code: Ints
    room_m: Floats
    home: str
    altimeter: Altimeter

    @classmethod
    def of(
        cls, ways: tuple[Judged, ...], base_m: tuple[Floats, ...], *, home: str,
        altimeter: Altimeter,
    ) -> Worst:  # fmt: skip
        """Choose the worst of the ways by state, of equals the one with least room."""
        code = np.stack([way.code for way in ways])
        room = np.stack([way.room_m for way in ways])
        ranked = np.where(np.isnan(room), np.inf, room)
        ranked = np.where(code == code.max(axis=0), ranked, np.inf)
        tied = (code == code.max(axis=0)) & (ranked <= ranked.min(axis=0))
        which = np.argmax(tied, axis=0)
        every = np.arange(which.size)
        return cls(
            ways=ways, base_m=base_m, which=which, code=code.max(axis=0),
            room_m=room[which, every], home=home, altimeter=altimeter,
        )  # fmt: skip

    def way(self, index: int) -> Judged:
        """Return the worst way home from one place."""
        return self.ways[int(self.which[index])]

    def ground(self, begun: Begun, index: int) -> GroundInTheWay:
        """Return the ground that decides about it."""
        which = int(self.which[index])
        return in_the_way(self.ways[which], begun, index, base_m=self.base_m[which])


def in_the_way(way: Judged, begun: Begun, index: int, *, base_m: Floats) -> GroundInTheWay:
    """Return the ground that decides about one way, begun at one place."""
    need = way.need
    return GroundInTheWay(
        begun_m=float(begun.along_m[index]),
        begun_s=float(begun.time_s[index]),
        leg=int(begun.leg[index]),
        way_m=float(need.way_m[index] - base_m[index]),
        room_m=float(way.room_m[index]),
        assured_room_m=float(way.assured_room_m[index]),
        above_ground_m=float(need.above_m[index]),
        far_m=float(need.far_m[index]),
        lat_deg=float(need.lat_deg[index]),
        lon_deg=float(need.lon_deg[index]),
    )


def worst_place(way: Judged) -> int | None:
    """Return the place from which a way has least room; None where nothing is in reach of any."""
    room = np.where(np.isfinite(way.room_m), way.room_m, np.inf)
    return int(np.argmin(room)) if np.isfinite(room).any() else None

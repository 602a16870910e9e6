"""The ground that wants most of each way, as far as the search has come."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from terrain_guard.arrays import Floats, Ints
from terrain_guard.checks.home.touch import touch
from terrain_guard.checks.home.ways import Ways


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Best:
    """What each way must be raised by, and the ground that wants it; arrays (n,).

    Filled in place; `row`, `column` are posts of the model. −inf and NaN where no
    ground was met yet.
    """

    lift_m: Floats
    along_m: Floats
    row: Floats
    column: Floats
    east_m: Floats
    north_m: Floats
    elevation_m: Floats

    @classmethod
    def none(cls, count: int) -> Best:
        """Return what is known before any ground is looked at."""
        others = {name: np.full(count, np.nan) for name in cls.__slots__}
        return cls(**{**others, "lift_m": np.full(count, -np.inf)})

    def offer(self, way: Ints, lift_m: Floats, t_m: Floats, place: tuple[Floats, ...]) -> None:
        """Take places (row, column, east, north, elevation) that want more; `way` in order."""
        if not way.size:
            return
        lift_m = np.where(np.isnan(lift_m), -np.inf, lift_m)
        starts = np.flatnonzero(np.append(True, way[1:] != way[:-1]))
        most = np.maximum.reduceat(lift_m, starts)
        better = most > self.lift_m[way[starts]]
        if not better.any():
            return
        counts = np.diff(np.append(starts, way.size))
        winner = np.flatnonzero(np.repeat(better, counts) & (lift_m == np.repeat(most, counts)))
        winner = winner[np.append(True, way[winner][1:] != way[winner][:-1])]
        to = way[winner]
        self.lift_m[to], self.along_m[to] = lift_m[winner], t_m[winner]
        fields = self.row, self.column, self.east_m, self.north_m, self.elevation_m
        for field, values in zip(fields, place, strict=True):
            field[to] = values[winner]

    def lend(self, ways: Ways, of: Ints, to: Ints) -> None:
        """Offer ways `to` (in order) the places found for ways `of`."""
        known = np.isfinite(self.row[of])
        of, to = of[known], to[known]
        if not of.size:
            return
        fields = self.row, self.column, self.east_m, self.north_m, self.elevation_m
        place = tuple(field[of] for field in fields)
        these = ways.take(to)
        found = touch(these, *these.seen(place[2], place[3]))
        self.offer(to, place[4] + found.rise_m, found.t_m, place)

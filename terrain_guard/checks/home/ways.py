"""Straight ways through the air, each with its ball, in metres on the ground.

A way is measured from home: `t` level metres along it its line stands at
``elevation + gradient · t`` and its ball has the radius ``radius + taper · t``::

      up ▲                     ○ start
         │              ─ ─ ─ ╱
         │        ○ ─ ─      ╱    ○ the ball, swept
         │  home ╱ ╲_______
         └───────┼─────────┼─────▶ t
               from        to        judged between the two
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from terrain_guard.arrays import Floats, Ints

THIN_M = 1e-6  # the least radius: a line without width touches no place that is looked at


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Ways:
    """Straight ways; arrays (n,).

    ``east_m``, ``north_m``, ``elevation_m``, ``radius_m`` are those at home, with
    (`ahead_east`, `ahead_north`) a level metre on. A ball may stand up to ``wide_m``
    beside its place, in any direction.
    """

    east_m: Floats
    north_m: Floats
    ahead_east: Floats
    ahead_north: Floats
    length_m: Floats
    elevation_m: Floats
    gradient: Floats
    radius_m: Floats
    taper: Floats
    wide_m: Floats
    from_m: Floats
    to_m: Floats

    @classmethod
    def between(
        cls,
        home: tuple[Floats, Floats, Floats],
        start: tuple[Floats, Floats, Floats],
        *,
        radius_m: tuple[Floats, Floats],
        wide_m: Floats,
        judged_m: tuple[Floats, Floats],
    ) -> Ways:
        """Return the ways between two places (east, north, elevation) each.

        Parameters
        ----------
        radius_m : (at home, at the start)
            Of a way without length, the larger counts, at the lower of its ends.
        judged_m : (from, to)
            Level metres from home; cut to the way.
        """
        east, north = start[0] - home[0], start[1] - home[1]
        length = np.hypot(east, north)
        long = length > 1e-6
        some = np.where(long, length, 1.0)
        near, far = (np.maximum(radius, THIN_M) for radius in radius_m)
        low, most = np.minimum(home[2], start[2]), np.maximum(near, far)
        return cls(
            east_m=home[0],
            north_m=home[1],
            ahead_east=np.where(long, east / some, 1.0),
            ahead_north=np.where(long, north / some, 0.0),
            length_m=np.where(long, length, 0.0),
            elevation_m=np.where(long, home[2], low),
            gradient=np.where(long, (start[2] - home[2]) / some, 0.0),
            radius_m=np.where(long, near, most),
            taper=np.where(long, (far - near) / some, 0.0),
            wide_m=wide_m,
            from_m=np.clip(judged_m[0], 0.0, length),
            to_m=np.clip(judged_m[1], 0.0, length),
        )

    @property
    def reach_m(self) -> Floats:
        """How far aside of its line a way can touch anything."""
        return np.maximum(self.ball(self.from_m), self.ball(self.to_m)) + self.wide_m

    def ball(self, t: Floats) -> Floats:
        """Return the radius (m) at `t` (n,)."""
        return self.radius_m + self.taper * t

    def reach_from(self, t: Floats, within_m: Floats) -> Floats:
        """Return how far aside of `t`, or of a place up to `within_m` from it, anything is touched.

        A ball that grows by k a metre touches what is within R / √(1 − k²) of the place
        of its line nearest to that, R at that place.
        """
        slow = np.sqrt(np.maximum(1 - self.taper**2, 1e-12))
        here = self.ball(t) + np.abs(self.taper) * within_m + self.wide_m
        return np.where(np.abs(self.taper) < 1, np.minimum(here / slow, self.reach_m), self.reach_m)

    def line(self, t: Floats) -> Floats:
        """Return the elevation (m) of the line at `t` (n,)."""
        return self.elevation_m + self.gradient * t

    def take(self, pick: Ints) -> Ways:
        """Return the picked ways."""
        return Ways(**{name: getattr(self, name)[pick] for name in self.__slots__})

    def seen(self, east_m: Floats, north_m: Floats) -> tuple[Floats, Floats]:
        """Return (along, to the left) in metres of one place for each way."""
        e, n = east_m - self.east_m, north_m - self.north_m
        return (
            e * self.ahead_east + n * self.ahead_north,
            n * self.ahead_east - e * self.ahead_north,
        )

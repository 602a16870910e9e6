r"""What one place of the ground asks of a ball that is swept along a straight way.

::

                 ___----‾‾‾       the way, elevation z(ρ) = z₀ + s ρ over metres ρ from home
            ( ball )              radius R(ρ) = R₀ + k ρ
               ▼ must clear
        _______●_______           a place of the ground, d beside the way, at ρ = a

For the place to touch the ball with its middle at ρ the way would have to be raised by
z + √(R(ρ)² − d² − (a − ρ)²) − z₀ − s ρ. Under the root stands a parabola, open below as |k| < 1,
so that this is concave in ρ: its greatest value on the way is where the slope vanishes, or at
the nearer end. It is concave in the place, too, for it is minus the lower side of a convex body.

The aircraft may stray beside its line: then d is what is left of it.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from terrain_guard.arrays import Bools, Floats, Ints

TINY = 1e-12


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Ways:
    """Straight ways from one place; arrays (n,). Metres count from that place over the ground.

    A way leads along (`east`, `north`), a unit vector, from `from_m` to `to_m`; there is none
    where that is less. Its elevation is `zero_m` + `slope` · ρ, the radius wanted of clearance
    `radius_m` + `taper` · ρ, and it may be `astray_m` beside its line.
    """

    east: Floats
    north: Floats
    from_m: Floats
    to_m: Floats
    zero_m: Floats
    slope: Floats
    radius_m: Floats
    taper: Floats
    astray_m: float = 0.0

    @property
    def widest_m(self) -> Floats:
        """The greatest radius on each way."""
        return self.radius_m + np.maximum(self.taper * self.from_m, self.taper * self.to_m)

    def take(self, pick: Ints | slice) -> Ways:
        """Return some of them."""
        names = ("east", "north", "from_m", "to_m", "zero_m", "slope", "radius_m", "taper")
        return Ways(**{name: getattr(self, name)[pick] for name in names}, astray_m=self.astray_m)

    def seen(self, way: Ints, east: Floats, north: Floats) -> tuple[Floats, Floats]:
        """Return how far along ways places are, and how far beside them (left: positive)."""
        along = east * self.east[way] + north * self.north[way]
        return along, north * self.east[way] - east * self.north[way]

    def needed(
        self, way: Ints, east: Floats, north: Floats, up: Floats
    ) -> tuple[Floats, Floats, Floats, Floats]:
        """Return by how much places would have a way raised, and how that changes.

        Returns
        -------
        lift_m : (m,) float
            −inf where the ball does not reach the place.
        at_m : (m,) float
            Where along the way the ball touches it.
        per_east, per_north : (m,) float
            How the lift changes with the place, its elevation aside.
        """
        along, beside = self.seen(way, east, north)
        off = np.maximum(np.abs(beside) - self.astray_m, 0.0)
        slope, taper = self.slope[way], self.taper[way]
        bend = 1.0 - taper**2  # of the parabola, taken off
        wide = self.radius_m[way]
        middle = (along + wide * taper) / bend  # where it is highest
        top = (wide + taper * middle) ** 2 - off**2 - (along - middle) ** 2
        with np.errstate(invalid="ignore"):
            shift = slope * np.sqrt(np.maximum(top, 0.0) / (bend**2 + slope**2 * bend))
        at = np.clip(middle - shift, self.from_m[way], self.to_m[way])
        under = (wide + taper * at) ** 2 - off**2 - (along - at) ** 2
        root = np.sqrt(np.maximum(under, 0.0))
        is_reached = (under >= 0) & (self.from_m[way] <= self.to_m[way])
        lift = np.where(is_reached, up + root - self.zero_m[way] - slope * at, -np.inf)
        steep = np.maximum(root, TINY)
        per_along, per_beside = (at - along) / steep, -np.sign(beside) * off / steep
        return (
            lift,
            at,
            per_along * self.east[way] - per_beside * self.north[way],
            per_along * self.north[way] + per_beside * self.east[way],
        )

    def at_most(
        self, way: Ints, east: Floats, north: Floats, *, top: Floats, within_m: float
    ) -> Floats:
        """Bound the lift that any place near some middles asks for, none of it above `top`.

        Parameters
        ----------
        within_m : float
            How far from the middles (m,) places may be.
        """
        along, beside = self.seen(way, east, north)
        low, high = self.from_m[way], self.to_m[way]
        side = np.maximum(np.abs(beside) - within_m - self.astray_m, 0.0)
        end = np.maximum(np.maximum(low - along, along - high) - within_m, 0.0)
        wide = self.widest_m[way]
        room = wide**2 - side**2 - end**2
        reached = np.sqrt(np.maximum(room, 0.0))
        slope = self.slope[way]
        # Whichever is less: the line's lowest in reach, or its tangent with the sphere's rise.
        near = within_m + wide
        ends = [np.clip(along + step, low, high) for step in (-near, near)]
        lowest = self.zero_m[way] + np.minimum(slope * ends[0], slope * ends[1])
        straight = self.zero_m[way] + slope * along - np.abs(slope) * within_m
        rise = np.sqrt(np.maximum(wide**2 - side**2, 0.0) * (1.0 + slope**2))
        lift = top + np.minimum(reached - lowest, rise - straight)
        return np.where((room >= 0) & (low <= high), lift, -np.inf)

    def is_near(self, way: Ints, east: Floats, north: Floats, *, within_m: float) -> Bools:
        """Return whether any place near some middles may be in reach of the ball."""
        along, beside = self.seen(way, east, north)
        low, high = self.from_m[way], self.to_m[way]
        side = np.maximum(np.abs(beside) - within_m - self.astray_m, 0.0)
        end = np.maximum(np.maximum(low - along, along - high) - within_m, 0.0)
        return (side**2 + end**2 <= self.widest_m[way] ** 2) & (low <= high)

"""What a search along straight ways finds."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from terrain_guard.arrays import Bools, Floats


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Lift:
    """What ways must be raised by, and what stops them; arrays (n,).

    ``lift_m`` is negative where a way may be lowered; NaN where no ground is known
    within reach. (`row`, `column`, `elevation_m`) is the ground that decides it, and
    ``along_m`` how far from home, level, the way meets it.

    ``meets_void``: ground is missing, or off the model, within radius and corridor of the
    judged way, level; between ``void_from_m`` and ``void_to_m`` from home (rounded
    outward by less than a group of cells; NaN if none). Then it is certain only that
    `lift_m` is needed *at least*.
    """

    lift_m: Floats
    row: Floats
    column: Floats
    elevation_m: Floats
    along_m: Floats
    meets_void: Bools
    void_from_m: Floats
    void_to_m: Floats

    @property
    def is_known(self) -> Bools:
        """Whether no ground is missing within reach."""
        return np.isfinite(self.lift_m) & ~self.meets_void

    def higher(self, other: Lift) -> Lift:
        """Return what the same ways need of both: the greater lift, the void of either."""
        own = ~(other.lift_m > self.lift_m) & ~np.isnan(self.lift_m)
        chosen = {
            name: np.where(own, getattr(self, name), getattr(other, name))
            for name in ("lift_m", "row", "column", "elevation_m", "along_m")
        }
        return Lift(
            **chosen,
            meets_void=self.meets_void | other.meets_void,
            void_from_m=np.fmin(self.void_from_m, other.void_from_m),
            void_to_m=np.fmax(self.void_to_m, other.void_to_m),
        )

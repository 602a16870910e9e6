"""Margins along a curve: the error budget's, or fixed ones."""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np

from terrain_guard.arrays import Floats
from terrain_guard.checks.wanted import Wanted


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Margins:
    """Margins at the samples of a curve (n,), linear between them; NaN: none would do."""

    floor_m: Floats
    ceiling_m: Floats

    @classmethod
    def flat(cls, count: int, *, floor_m: float, ceiling_m: float) -> Margins:
        """Return the same margins at so many samples."""
        return cls(floor_m=np.full(count, floor_m), ceiling_m=np.full(count, ceiling_m))

    def at_most_on(self, wanted: Wanted) -> Wanted:
        """Return limits that know the greatest margins on the curve."""
        floor, ceiling = (
            float(np.fmax.reduce(values, initial=0.0)) for values in (self.floor_m, self.ceiling_m)
        )
        return replace(wanted, floor_margin_m=floor, ceiling_margin_m=ceiling)

"""The limits, as the checks need them."""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import dataclass, field

import numpy as np

from terrain_guard.arrays import Floats


@dataclass(frozen=True, slots=True, kw_only=True)
class Column:
    """The take-off or landing column: a spot in the local frame, and how far it reaches."""

    place: tuple[float, float]
    radius_m: float


@dataclass(frozen=True, slots=True, kw_only=True)
class Wanted:
    """The limits, as the checks need them; metres.

    The margins are the greatest on the curve. Of the floor's, `canopy_m` stands for trees
    that the model may not show. The true ground may lie `ground_below_m` under a surface
    model: heights under the ceiling count from there.
    """

    floor_m: float
    floor_margin_m: float
    ceiling_m: float  # inf: none is wanted
    ceiling_margin_m: float
    sea_level_ceiling_m: float = math.inf  # an elevation; inf: none is wanted
    sea_level_doubt_m: float = 0.0  # on top of the ceiling's margin
    canopy_m: float = 0.0
    ceiling_canopy_m: float = 0.0  # of the ceiling's margin
    corridor_m: float = 0.0  # how far beside its line it may be, for the floor with margins
    ground_below_m: float = 0.0
    closest_point_ceiling: bool = False
    vertical_floor: bool = False
    columns: dict[int, Column] = field(default_factory=dict)  # by leg
    eased: frozenset[int] = frozenset()  # legs on which half the height above launch will do

    @property
    def levels(self) -> tuple[float, ...]:
        """Heights above the ground model at which a state changes, margins aside."""
        return (0.0, *filter(math.isfinite, (self.model_ceiling_m,)), *self.floor_levels)

    @property
    def sea_levels(self) -> tuple[float, ...]:
        """Elevations at which a state changes, margins aside."""
        limit_m = self.sea_level_ceiling_m
        return (limit_m,) if math.isfinite(limit_m) else ()

    @property
    def floor_levels(self) -> tuple[float, ...]:
        """Heights straight above any model at which the floor's state changes."""
        return (self.floor_m,) if self.vertical_floor else ()

    @property
    def model_ceiling_m(self) -> float:
        """The greatest height above the model that the ceiling allows, as computed."""
        return self.ceiling_m - self.ground_below_m

    def shift_m(self, family: str, points: Mapping[str, Floats]) -> Floats:
        """Return how far up points (n,) of a family are moved.

        Of "clearance" not at all; "lowered" by their floor margin; "closest" so that
        the model stands for the ground below it; "raised" by their ceiling margin, too.
        """
        floor_m, ceiling_m = points["floor_margin_m"], points["ceiling_margin_m"]
        return {
            "clearance": np.zeros(floor_m.shape),
            "lowered": -floor_m,
            "closest": np.full(floor_m.shape, self.ground_below_m),
            "raised": self.ground_below_m + ceiling_m,
        }[family]

    @property
    def floor_reach_m(self) -> float:
        """How near a void may come at most before the floor is not assessed."""
        return self.floor_m + self.floor_margin_m - self.canopy_m + self.corridor_m

    def reach_m(self, floor_margin_m: Floats) -> Floats:
        """Return the same at points (n,) of known margins: no canopy grows it.

        Where no margin would prove anything, the floor alone has to be seen.
        """
        return self.floor_m + np.fmax(floor_margin_m - self.canopy_m, 0.0) + self.corridor_m

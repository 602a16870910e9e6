"""The limits, as the checks need them."""

from __future__ import annotations

import math
from dataclasses import dataclass, field


@dataclass(frozen=True, slots=True, kw_only=True)
class Column:
    """The take-off or landing column: a spot in the local frame, and how far it reaches."""

    place: tuple[float, float]
    radius_m: float


@dataclass(frozen=True, slots=True, kw_only=True)
class Wanted:
    """The limits, as the checks need them; metres.

    Of the floor's margin, `canopy_m` stands for trees that the model may not show.
    The true ground may lie `ground_below_m` under a surface model: heights under the
    ceiling count from there.
    """

    floor_m: float
    floor_margin_m: float
    ceiling_m: float  # inf: none is wanted
    ceiling_margin_m: float
    sea_level_ceiling_m: float = math.inf  # an elevation; inf: none is wanted
    sea_level_margin_m: float = 0.0
    canopy_m: float = 0.0
    ground_below_m: float = 0.0
    closest_point_ceiling: bool = False
    vertical_floor: bool = False
    columns: dict[int, Column] = field(default_factory=dict)  # by leg
    eased: frozenset[int] = frozenset()  # legs on which half the height above launch will do
    assurable: bool = True  # False: the model is too coarse for any margin

    @property
    def levels(self) -> tuple[float, ...]:
        """Heights above the ground model at which a state changes."""
        ceiling = (self.model_ceiling_m, self.model_ceiling_m - self.ceiling_margin_m)
        return (0.0, *filter(math.isfinite, ceiling), *self.floor_levels)

    @property
    def sea_levels(self) -> tuple[float, ...]:
        """Elevations at which a state changes."""
        limit_m = self.sea_level_ceiling_m
        return (limit_m, limit_m - self.sea_level_margin_m) if math.isfinite(limit_m) else ()

    @property
    def floor_levels(self) -> tuple[float, ...]:
        """Heights straight above any model at which the floor's state changes."""
        floor = (self.floor_m, self.floor_m + self.floor_margin_m)
        return floor if self.vertical_floor else ()

    @property
    def model_ceiling_m(self) -> float:
        """The greatest height above the model that the ceiling allows, as computed."""
        return self.ceiling_m - self.ground_below_m

    def shift_m(self, family: str) -> float:
        """Return how far up the samples of a family are moved.

        Of "clearance" not at all; "lowered" by the floor's margin; "closest" so that
        the model stands for the ground below it; "raised" by the ceiling's margin, too.
        """
        return {
            "clearance": 0.0,
            "lowered": -self.floor_margin_m,
            "closest": self.ground_below_m,
            "raised": self.ground_below_m + self.ceiling_margin_m,
        }[family]

    @property
    def floor_reach_m(self) -> float:
        """How near a void may come before the floor is not assessed: no canopy grows it."""
        return self.floor_m + self.floor_margin_m - self.canopy_m

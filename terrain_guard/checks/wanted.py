"""The limits, as the checks need them."""

from __future__ import annotations

from dataclasses import dataclass, field


@dataclass(frozen=True, slots=True, kw_only=True)
class Column:
    """The take-off or landing column: a spot in the local frame, and how far it reaches."""

    place: tuple[float, float]
    radius_m: float


@dataclass(frozen=True, slots=True, kw_only=True)
class Wanted:
    """The limits, as the checks need them; metres."""

    floor_m: float
    floor_margin_m: float
    ceiling_m: float
    ceiling_margin_m: float
    closest_point_ceiling: bool = False
    vertical_floor: bool = False
    columns: dict[int, Column] = field(default_factory=dict)  # by leg
    eased: frozenset[int] = frozenset()  # legs on which half the height above launch will do
    assurable: bool = True  # False: the model is too coarse for any margin

    @property
    def levels(self) -> tuple[float, ...]:
        """Heights above ground at which a state changes."""
        ceiling = (self.ceiling_m, self.ceiling_m - self.ceiling_margin_m)
        floor = (self.floor_m, self.floor_m + self.floor_margin_m)
        return (0.0, *ceiling, *(floor if self.vertical_floor else ()))

    def shift_m(self, family: str) -> float:
        """Return how far up the samples of a family are moved: clearance, lowered, raised."""
        moved = {"lowered": -self.floor_margin_m, "raised": self.ceiling_margin_m}
        return moved.get(family, 0.0)

    @property
    def floor_reach_m(self) -> float:
        """How near a void may come before the floor is not assessed."""
        return self.floor_m + self.floor_margin_m

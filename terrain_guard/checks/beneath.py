"""What lies beneath a flight: the models that one judgement rests on."""

from __future__ import annotations

from dataclasses import dataclass, field
from typing import Final

from terrain_guard.checks.column import ColumnState
from terrain_guard.ground.model import Ground

GROUND: Final = "ground"
SURFACE: Final = "surface"


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Beneath:
    """The models of one judgement, the launch ground on them, and the columns over them.

    Launch, heights above ground and the ceiling count from `ground`; the floor is to the
    nearer of `ground` and `surface`. `is_surface_alone`: trees and roofs are in `ground`
    itself, for there is no other model. `is_second`: what is not known here is no loss.
    """

    ground: Ground
    surface: Ground | None = None
    launch_elevation_m: float
    is_surface_alone: bool = False
    is_second: bool = False
    columns: dict[int, ColumnState] = field(default_factory=dict)  # by leg

    @property
    def models(self) -> dict[str, Ground]:
        """The one model or both, by name."""
        if self.surface is None:
            return {GROUND: self.ground}
        return {GROUND: self.ground, SURFACE: self.surface}

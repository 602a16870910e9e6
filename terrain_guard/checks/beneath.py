"""What lies beneath a flight: the models that one judgement rests on."""

from __future__ import annotations

from dataclasses import dataclass, field
from typing import Final

import numpy as np
from numpy.typing import ArrayLike

from terrain_guard.arrays import Floats
from terrain_guard.checks.column import ColumnState
from terrain_guard.checks.surveyed import Survey
from terrain_guard.ground.model import Ground

GROUND: Final = "ground"
SURFACE: Final = "surface"


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Beneath:
    """The models of one judgement, the launch ground on them, and the columns over them.

    Launch, heights above ground and the ceiling count from `ground`; the floor is to the
    nearer of `ground` and `surface`. `is_surface_alone`: trees and roofs are in `ground`
    itself, for there is no other model. `is_second`: what is not known here is no loss.
    `survey`: of the launch, `launch_place_m` from the local frame's middle; it shifts heights.
    """

    ground: Ground
    surface: Ground | None = None
    launch_elevation_m: float
    is_surface_alone: bool = False
    is_second: bool = False
    columns: dict[int, ColumnState] = field(default_factory=dict)  # by leg
    survey: Survey | None = None
    launch_place_m: tuple[float, float] = (0.0, 0.0)

    @property
    def models(self) -> dict[str, Ground]:
        """The one model or both, by name."""
        if self.surface is None:
            return {GROUND: self.ground}
        return {GROUND: self.ground, SURFACE: self.surface}

    def above_sea_m(self, above_launch_m: Floats) -> Floats:
        """Return elevations of heights above launch (n,): of the launch as best known."""
        return self.launch_elevation_m + above_launch_m

    def level_m(self, x_m: ArrayLike, y_m: ArrayLike) -> Floats:
        """Return the elevation, as `ground` counts, of no height above launch at places (n,)."""
        return self.own_launch_m + self.shift_m(x_m, y_m)

    def shift_m(self, x_m: ArrayLike, y_m: ArrayLike) -> Floats:
        """Return what the survey adds to heights above ground at places (n,); 0 without one."""
        x, y = np.asarray(x_m, dtype=float), np.asarray(y_m, dtype=float)
        if self.survey is None:
            return np.zeros(x.shape)
        away = np.hypot(x - self.launch_place_m[0], y - self.launch_place_m[1])
        return self.survey.shift_m(away)

    @property
    def own_launch_m(self) -> float:
        """What heights above ground count from: the model's launch ground if it is shifted."""
        return self.launch_elevation_m if self.survey is None else self.survey.model_m

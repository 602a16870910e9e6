"""Whether the bounds for clipped crests and filled gullies hold as often as margins say.

One place near a sharp ridge (or gully, the same upside down) whose cells are means; of the
random errors only the nugget, the pressure and the height hold are left. Counted is how
often the true height above ground is lower (over a gully: higher) than as computed by more
than the margin: no more often than stated, whereas without the bound it would be.
"""

from __future__ import annotations

import math
from dataclasses import dataclass, replace
from typing import Final

import numpy as np

from terrain_guard.arrays import Floats
from terrain_guard.checks.budget.budget import budget
from terrain_guard.checks.budget.classes import BAROMETER, GLOBAL, Figure
from terrain_guard.checks.budget.launch_spot import LaunchSpot
from terrain_guard.checks.budget.places import Places
from terrain_guard.checks.budget.setting import Setting
from terrain_guard.checks.budget.slopes import slopes_of
from tests.checks.budget.worked import bilinear, cell_means, near

CELL_M: Final = 30.0
SIDE: Final = 17
K_SHARP: Final = 1.0
NUGGET_M, DRIFT_M, HOLD_M = 0.8, 0.2 * 8.324, 0.5
"""What the class and the source stand for, in numbers of this file's own."""


@dataclass(frozen=True, kw_only=True)
class Sharp:
    """How many broke their margin with the bound in it, and how many without."""

    with_bound: int = 0
    without: int = 0

    def __add__(self, other: Sharp) -> Sharp:
        """Return both together."""
        return Sharp(
            with_bound=self.with_bound + other.with_bound, without=self.without + other.without
        )


def over_sharp_ground(random: np.random.Generator, *, side: str) -> Sharp:
    """Fly over one place near a ridge (side "floor") or a gully ("ceiling")."""
    slope, sign = random.uniform(0.2, 0.55), 1.0 if side == "floor" else -1.0
    top, turn = random.uniform(7.5, 8.5, 2), random.uniform(0, math.pi)

    def ground(column: Floats, row: Floats) -> Floats:
        across = (column - top[0]) * math.cos(turn) + (row - top[1]) * math.sin(turn)
        return np.asarray(-sign * slope * CELL_M * np.abs(across))

    row, column = (top[k : k + 1] + random.uniform(-0.3, 0.3, 1) for k in (1, 0))
    z = cell_means(ground, SIDE, parts=12) + NUGGET_M * random.standard_normal((SIDE, SIDE))
    error = bilinear(z, row, column) - ground(column, row) - NUGGET_M * random.standard_normal(1)
    error += DRIFT_M * random.standard_normal(1) + HOLD_M * random.standard_normal(1)
    exact = replace(GLOBAL, parts=(), registration=Figure(value=0.0, unit="m", source="exact here"))
    setting = Setting(
        terrain=exact, source=BAROMETER, cell_m=CELL_M, floor_k=K_SHARP, ceiling_k=K_SHARP,
        temperature_c=10.0, airspeed_m_per_s=0.0,
    )  # fmt: skip
    found = budget(setting, _places(z, row, column))
    lower = sign * float(error[0])
    return Sharp(
        with_bound=int(lower < -found.summed_m(side)[0]),
        without=int(lower < -K_SHARP * found.sigma_m[0]),
    )


def _places(z: Floats, row: Floats, column: Floats) -> Places:
    return Places(
        x_m=column * CELL_M, y_m=-row * CELL_M, row=row, column=column, along_m=np.zeros(1),
        above_launch_m=np.zeros(1),
        slopes=slopes_of(near(z, row, column, cell_m=CELL_M), reach_m=CELL_M),
        launch=LaunchSpot(x_m=9e5, y_m=0.0, elevation_m=0.0),
    )  # fmt: skip

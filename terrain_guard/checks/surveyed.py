"""A surveyed launch beside the model's own: what it says of the model's error elsewhere.

Heights above ground count from the launch ground in the model, for what the model has
wrong there it has wrong near by too, so that it falls out. A survey tells how much that is::

    model's launch ground less surveyed ───┐            far off nothing falls out: heights
                                           │   ______   count from the survey
    counted from the model, heights above  │_.-'
    ground are too high by this share  ────┘            near by all does: from the model
                                           └────────▶ metres from launch

It replaces the model's launch ground only where the model does not know the launch, or is a
surface alone: what that shows there may be a tree, which says nothing of its error elsewhere.
"""

from __future__ import annotations

from dataclasses import dataclass

from terrain_guard.arrays import Floats
from terrain_guard.checks.budget.dem_error import DemError, against_launch, survey_shift_m
from terrain_guard.checks.budget.setting import Setting
from terrain_guard.ground.model import Ground
from terrain_guard.plan.route import Launch


@dataclass(frozen=True, slots=True, kw_only=True)
class Survey:
    """A surveyed launch ground that shifts the heights over one model.

    `model_m` is what the model has there, `sigma_m` one sigma of the survey, `dem` the
    error of the model's heights.
    """

    model_m: float
    surveyed_m: float
    sigma_m: float
    dem: DemError

    @classmethod
    def of(cls, launch: Launch, ground: Ground, setting: Setting) -> Survey | None:
        """Return what the stated launch elevation says of a model; None if it says nothing."""
        if launch.elevation_m is None or setting.survey_sigma_m is None:
            return None
        if not setting.launch_on_model:
            return None
        return cls(
            model_m=float(ground.elevation(launch.lon_deg, launch.lat_deg)[0]),
            surveyed_m=launch.elevation_m,
            sigma_m=setting.survey_sigma_m,
            dem=setting.dem,
        )

    def shift_m(self, away_m: Floats) -> Floats:
        """Return what to add to heights above ground (n,), counted from the model's launch.

        At samples so many level metres from launch: −(V − c)/(V + σ²) times model less survey,
        as in `budget.dem_error`.
        """
        against = against_launch(self.dem, away_m, survey_sigma_m=self.sigma_m)
        return survey_shift_m(against.weight, model_m=self.model_m, surveyed_m=self.surveyed_m)

"""How far two heights of one elevation model may be wrong against each other.

The error of a model is a bias that is the same everywhere, parts that are alike
near by, and a nugget that is alike nowhere. Between two points the bias falls out::

    variance of     │            ______  2 (sum of the parts + nugget)
    the difference  │      _.-''
                    │   .-'
    2 nugget² ──────│──'
                    └──────────────────▶ metres apart

At no distance it falls to zero: two points of one cell share their height in the
model, but not on the ground.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import NamedTuple

import numpy as np

from terrain_guard.arrays import Floats
from terrain_guard.checks.budget.classes import TerrainClass


@dataclass(frozen=True, slots=True, kw_only=True)
class DemError:
    """The error of an elevation model, sigmas in metres; `parts` are (sigma, length)."""

    nugget_m: float
    parts: tuple[tuple[float, float], ...]
    bias_m: float

    @classmethod
    def of(cls, terrain: TerrainClass, *, height_step_m: float = 0.0) -> DemError:
        """Return the error of a class; rounding to `height_step_m` adds step/√12 to the nugget."""
        return cls(
            nugget_m=float(np.hypot(terrain.nugget.value, height_step_m / np.sqrt(12))),
            parts=tuple((part.sigma.value, part.length.value) for part in terrain.parts),
            bias_m=terrain.bias.value,
        )

    @property
    def correlated_m2(self) -> float:
        """Variance of the parts that are alike near by."""
        return sum(sigma**2 for sigma, _ in self.parts)

    @property
    def variance_m2(self) -> float:
        """Variance of one height, bias and nugget included."""
        return self.bias_m**2 + self.correlated_m2 + self.nugget_m**2

    def alike_m2(self, apart_m: Floats) -> Floats:
        """Return the covariance of the correlated parts at distances; exponential, nested."""
        return sum(
            (sigma**2 * np.exp(-apart_m / length) for sigma, length in self.parts),
            start=np.zeros(np.shape(apart_m)),
        )

    def unlike_m2(self, apart_m: Floats) -> Floats:
        """Return the semivariance: half the variance of the difference at distances.

        It tends to the nugget, never to 0.
        """
        return self.nugget_m**2 + self.correlated_m2 - self.alike_m2(apart_m)


class AgainstLaunch(NamedTuple):
    """Errors of heights above launch at samples (n,).

    `weight`: the share of (model's launch ground − surveyed) by which heights above ground,
    counted from the model's launch ground, are too high.
    """

    variance_m2: Floats
    weight: Floats


def against_launch(
    dem: DemError,
    away_m: Floats,
    *,
    survey_sigma_m: float | None = None,
    launch_on_model: bool = True,
) -> AgainstLaunch:
    """Return the variance of the error of the ground at samples less that at launch.

    Parameters
    ----------
    away_m : (n,) float
        Horizontal metres from launch.
    survey_sigma_m : float, optional
        One sigma of a surveyed launch elevation: what it says of the model's error at launch
        is then known at the samples too, as far as both are alike. None: no survey.
    launch_on_model : bool
        False: the model does not know the launch ground, so that nothing falls out.

    Notes
    -----
    With V the variance of one height and c the covariance with launch, 2(V − c) is the variance
    of the difference, and V − c that part of it that the survey sees in its own variance
    V + σ²: the rest is 2(V − c) − (V − c)²/(V + σ²), the best linear prediction's. A survey
    of no worth (σ → ∞) leaves 2(V − c).

    >>> dem = DemError(nugget_m=0.0, parts=((3.0, 500.0),), bias_m=0.0)
    >>> against_launch(dem, np.array([100.0])).variance_m2.round(2).tolist()
    [3.26]
    """
    unlike = dem.unlike_m2(away_m)
    if not launch_on_model:
        alone = dem.variance_m2 + (survey_sigma_m or 0.0) ** 2
        return AgainstLaunch(alone + 0 * unlike, 0 * unlike)
    if survey_sigma_m is None or not dem.variance_m2:
        return AgainstLaunch(2 * unlike, 0 * unlike)
    weight = unlike / (dem.variance_m2 + survey_sigma_m**2)
    return AgainstLaunch(2 * unlike - weight * unlike, weight)


def survey_shift_m(
    weight: Floats, *, model_m: float, surveyed_m: float, counted_from: str = "model"
) -> Floats:
    """Return what to add to heights above ground (n,), now that the launch is surveyed.

    Parameters
    ----------
    weight : (n,) float
        Of `against_launch`.
    model_m, surveyed_m : float
        The launch ground in the model, and as surveyed.
    counted_from : str
        Which of them the heights count from so far: "model" or "survey".

    >>> half = np.array([0.5])
    >>> survey_shift_m(half, model_m=212.0, surveyed_m=210.0).tolist()
    [-1.0]
    >>> survey_shift_m(half, model_m=212.0, surveyed_m=210.0, counted_from="survey").tolist()
    [1.0]
    """
    share = {"model": -weight, "survey": 1 - weight}[counted_from]
    return share * (model_m - surveyed_m)


def covariance_m2(
    dem: DemError,
    *,
    apart_m: Floats,
    away_m: Floats,
    shared_nugget: Floats,
    launch_nugget: bool = True,
    survey_sigma_m: float | None = None,
    launch_on_model: bool = True,
) -> Floats:
    """Return the covariance (n, n) of the errors at samples, each less that at launch.

    Parameters
    ----------
    apart_m : (n, n) float
        Between samples.
    away_m : (n,) float
        From launch.
    shared_nugget : (n, n) float
        Share of the nugget's variance that two samples have in common: 1 on one post.
    launch_nugget : bool
        Whether the launch's own nugget is in it; it moves all samples alike.
    survey_sigma_m, launch_on_model
        As in `against_launch`.
    """
    if not launch_on_model:
        alone = dem.bias_m**2 + (survey_sigma_m or 0.0) ** 2
        return dem.alike_m2(apart_m) + alone + dem.nugget_m**2 * shared_nugget
    at_launch = dem.alike_m2(away_m)
    own = dem.nugget_m**2
    found = dem.alike_m2(apart_m) - at_launch[:, None] - at_launch + dem.correlated_m2
    found = found + own * shared_nugget + (own if launch_nugget else 0.0)
    if survey_sigma_m is None or not dem.variance_m2:
        return found
    unlike = dem.unlike_m2(away_m)
    return found - np.outer(unlike, unlike) / (dem.variance_m2 + survey_sigma_m**2)

"""What a surveyed launch does to heights above ground, written out by hand.

With V the variance of one height of the model and c its covariance with the launch's, the
survey shows (model − surveyed)(V − c) / (V + σ²) of a height's error: the best linear
prediction (N. Cressie, *Statistics for Spatial Data*, 1993, section 3.1; from memory). The
figures of either class of models are typical ones, from memory like the classes themselves.
"""

from __future__ import annotations

from typing import Final, NamedTuple

import numpy as np
from numpy.typing import ArrayLike

from tests.checks.scenes import Floats


class Model(NamedTuple):
    """Bias and nugget, metres, and the parts: (sigma, length)."""

    bias_m: float
    nugget_m: float
    parts: tuple[tuple[float, float], ...]

    @property
    def variance_m2(self) -> float:
        """Variance of one height."""
        return self.bias_m**2 + self.nugget_m**2 + sum(size**2 for size, _ in self.parts)

    def unlike_m2(self, away_m: ArrayLike) -> Floats:
        """Return what of it a place so far from the launch has not in common with it."""
        away = np.asarray(away_m, dtype=float)
        alike = np.sum([size**2 * np.exp(-away / far) for size, far in self.parts], axis=0)
        return self.variance_m2 - self.bias_m**2 - alike


FINE: Final = Model(0.09, 0.07, ((0.10, 100.0),))
"""Cells up to 2 m."""
TENS: Final = Model(1.7, 0.7, ((1.0, 100.0), (0.8, 1000.0)))
"""Cells up to 12 m."""


def weight(
    away_m: ArrayLike, accuracy_m: float, scale: float = 1.0, *, model: Model = FINE
) -> Floats:
    """Return the share of what the launch ground is off; `scale` times the class's variances."""
    return scale * model.unlike_m2(away_m) / (scale * model.variance_m2 + accuracy_m**2)


def left_m2(away_m: ArrayLike, accuracy_m: float, scale: float = 1.0) -> Floats:
    """Return the variance that is left of a height above ground."""
    unlike = scale * FINE.unlike_m2(away_m)
    return 2 * unlike - unlike**2 / (scale * FINE.variance_m2 + accuracy_m**2)

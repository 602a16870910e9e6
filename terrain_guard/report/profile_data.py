"""What the profile shows, in the unit it is read in; nothing is drawn here.

Heights on a plot are elevations, so where the launch ground is not known nothing can be set
against the ground: the ground is then left out, never put at zero.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from terrain_guard.units import METRES_PER_UNIT

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from terrain_guard.assessment import Assessment, Limits

ON_THE_SPOT = 0.05
"""A step whose horizontal share is below this is flown on the spot."""


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class View:
    """The reference curve and its limits, all in `unit`; elevations where not said."""

    unit: str
    launch_known: bool
    launch: float
    along: NDArray[np.float64]
    across: NDArray[np.float64]  # horizontal distance flown
    curve: NDArray[np.float64]
    lowered: NDArray[np.float64]  # the curve by the floor's margin
    raised: NDArray[np.float64]  # the curve by the ceiling's margin
    ground: NDArray[np.float64]
    surface: NDArray[np.float64]  # with trees and roofs; NaN where none is given beside the ground
    lowest: NDArray[np.float64]
    highest: NDArray[np.float64]
    to_return: NDArray[np.float64]  # least height to come home at, where above `curve`
    state: NDArray[np.int64]
    on_the_spot: NDArray[np.bool_]  # the step from the sample to the next is vertical

    def at(self, along: float) -> float:
        """Return the curve's elevation where `along` has been flown."""
        return float(np.interp(along, self.along, self.curve))


def view(assessment: Assessment, limits: Limits, *, unit: str) -> View:
    """Return the curves of `assessment` in `unit` ("m" or "ft")."""
    samples, launch_m = assessment.samples, assessment.launch.level_m
    known, scale = math.isfinite(launch_m), METRES_PER_UNIT[unit]
    hidden = 0.0 if known else np.nan
    base_m = launch_m if known else 0.0
    curve_m = base_m + samples.above_launch_m + samples.survey_shift_m
    forward_m, on_the_spot = _steps(samples.along_m, samples.above_launch_m)
    return View(
        unit=unit,
        launch_known=known,
        launch=base_m / scale,
        along=samples.along_m / scale,
        across=np.concatenate(([0.0], np.cumsum(forward_m))) / scale,
        curve=curve_m / scale,
        lowered=(curve_m - samples.floor_margin_m) / scale,
        raised=(curve_m + samples.ceiling_margin_m) / scale,
        ground=(samples.ground_elevation_m + hidden) / scale,
        surface=(samples.surface_elevation_m + hidden) / scale,
        lowest=(limits.lowest_allowed_m + hidden) / scale,
        highest=(limits.highest_allowed_m + hidden) / scale,
        to_return=(base_m + hidden + _to_return_m(assessment)) / scale,
        state=samples.state,
        on_the_spot=np.append(on_the_spot, False),
    )


def _to_return_m(assessment: Assessment) -> NDArray[np.float64]:
    """Return how high above launch the climb home begun at each sample has to lead.

    NaN where that is not known, and where it is flown high enough not to have to climb.
    """
    home = assessment.coming_home
    if home is None:
        return np.full(len(assessment.samples.along_m), np.nan)
    typed_m, altimeter = home.every_metre.return_needed_m, assessment.altimeter
    typed_m = np.where(np.isfinite(typed_m), typed_m, np.nan)
    flown_m = altimeter.zero_m + altimeter.factor * typed_m
    return np.where(flown_m > assessment.samples.above_launch_m, flown_m, np.nan)


def _steps(
    along_m: NDArray[np.float64], above_launch_m: NDArray[np.float64]
) -> tuple[NDArray[np.float64], NDArray[np.bool_]]:
    """Return each step's horizontal length, and whether it is flown on the spot."""
    flown_m, up_m = np.diff(along_m), np.diff(above_launch_m)
    forward_m = np.sqrt(np.maximum(flown_m**2 - up_m**2, 0.0))
    return forward_m, (forward_m < ON_THE_SPOT * flown_m) & (flown_m > 0)

r"""Ground looked at beside a flight, for cautions: places along the route, rays from each.

::

          ╲ │ ╱
        ─── ● ───      16 rays of 300 m from each place, ground read where marked:
          ╱ │ ╲        near at first, farther apart farther out

This is a look round, not a measurement: limits are judged by nothing here.
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import cached_property
from typing import Final

import numpy as np

from terrain_guard.arrays import Floats, Ints
from terrain_guard.assessment import LaunchUsed, Samples
from terrain_guard.checks.models import Models
from terrain_guard.checks.surveyed import Survey
from terrain_guard.path.flight import Flight
from terrain_guard.plan.route import Route

APART_M: Final = 25.0
MOST_PLACES: Final = 300
RAYS: Final = 16
RADII_M: Final = np.array([10.0, 20.0, 30.0, 40.0, 60.0, 80.0, 100.0, 140.0, 200.0, 300.0])


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Places:
    """Places on the reference curve; arrays (p,). `sample` is each one's sample."""

    sample: Ints
    east_m: Floats
    north_m: Floats
    elevation_m: Floats  # of the aircraft
    ground_m: Floats
    leg: Ints
    along_m: Floats


@dataclass(frozen=True, kw_only=True, eq=False)
class Scene:
    """A judged flight, as far as cautions need it.

    `typed_m` holds the waypoints' heights above launch, as typed.
    """

    route: Route
    models: Models
    flight: Flight
    launch: LaunchUsed
    typed_m: tuple[float, ...]
    samples: Samples
    survey: Survey | None = None  # of the launch

    def ground_m(self, east_m: Floats, north_m: Floats) -> Floats:
        """Return ground elevations at places of the local frame, of the input's shape."""
        lon, lat = self.flight.frame.to_degrees(east_m, north_m)
        found = self.models.ground.elevation(lon.ravel(), lat.ravel())
        return found.reshape(np.shape(lon))

    @cached_property
    def on_ground_m(self) -> Floats:
        """Metres over the ground to each sample (n,), from lift-off."""
        east, north = self.local_m
        return np.append(0.0, np.cumsum(np.hypot(np.diff(east), np.diff(north))))

    @cached_property
    def local_m(self) -> tuple[Floats, Floats]:
        """East and north of each sample (n,) in the local frame."""
        return self.flight.frame.to_local(self.samples.lon_deg, self.samples.lat_deg)

    @cached_property
    def elevation_m(self) -> Floats:
        """Elevation of the aircraft at each sample (n,)."""
        samples = self.samples
        return self.launch.level_m + samples.above_launch_m + samples.survey_shift_m

    def level_m(self, east_m: Floats, north_m: Floats) -> Floats:
        """Return the elevation of no height above launch at places (n,) of the local frame."""
        if self.survey is None:
            return np.full(np.shape(east_m), self.launch.level_m)
        east, north = self.flight.launch
        away = np.hypot(east_m - east, north_m - north)
        return self.launch.level_m + self.survey.shift_m(away)

    @cached_property
    def places(self) -> Places:
        """Places along the whole route, 25 m apart, or farther on a long one."""
        gone, samples = self.on_ground_m, self.samples
        count = int(np.clip(gone[-1] / APART_M, 1, MOST_PLACES))
        at = np.unique(np.searchsorted(gone, np.linspace(0.0, gone[-1], count + 1)))
        east, north = self.local_m
        return Places(
            sample=at,
            east_m=east[at],
            north_m=north[at],
            elevation_m=self.elevation_m[at],
            ground_m=samples.ground_elevation_m[at],
            leg=samples.leg[at],
            along_m=samples.along_m[at],
        )

    @cached_property
    def star_m(self) -> Floats:
        """Ground elevations round each place (p, 16, 10): by ray, clockwise from north, and radius.

        NaN where ground is missing.
        """
        turn = np.radians(np.arange(RAYS) * 360.0 / RAYS)[None, :, None]
        places = self.places
        return self.ground_m(
            places.east_m[:, None, None] + RADII_M * np.sin(turn),
            places.north_m[:, None, None] + RADII_M * np.cos(turn),
        )

    @cached_property
    def gradient(self) -> tuple[Floats, Floats]:
        """Slope of the ground at each place (p,): rise over run going east, and going north.

        Across two cells, or 20 m over a finer model.
        """
        k = int(np.searchsorted(RADII_M, min(self.models.ground.coarsest_cell_m * 0.99, 300.0)))
        rings, run = self.star_m[:, :, k], 2 * RADII_M[k]
        quarter = RAYS // 4
        north, east, south, west = (rings[:, n * quarter] for n in range(4))
        return (east - west) / run, (north - south) / run


def greatest(values: Floats) -> int | None:
    """Return where the greatest of some values (n,) is; None where none is known.

    >>> greatest(np.array([1.0, np.nan, 3.0])), greatest(np.array([np.nan]))
    (2, None)
    """
    known = np.where(np.isnan(values), -np.inf, values)
    return int(np.argmax(known)) if np.isfinite(known).any() else None

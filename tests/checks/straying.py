"""The ground round one place, asked for all that the aircraft may meet when it strays."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from pathlib import Path

import numpy as np
from numpy.typing import ArrayLike

from terrain_guard.arrays import Floats
from terrain_guard.checks import clearance, corridor, extremes, limits
from terrain_guard.checks.clearance import Foot
from terrain_guard.ground.model import Ground
from terrain_guard.ground.patches import Patches
from tests.checks import scenes


@dataclass(frozen=True, kw_only=True)
class Samples:
    """Samples over a model, and the corridor's half width at each; arrays (n,)."""

    ground: Ground
    patches: Patches
    row: Floats
    column: Floats
    elevation_m: Floats
    corridor_m: Floats
    reach_m: float

    @classmethod
    def at(
        cls,
        model: Path,
        places: Sequence[tuple[float, float]],
        elevation_m: ArrayLike,
        corridor_m: ArrayLike,
        *,
        reach_m: float = 150.0,
    ) -> Samples:
        """Look from places in metres east and north of the spot of `scenes`."""
        lat, lon = np.array([scenes.lat_lon(*place) for place in places]).T
        return cls.on(Ground(model), lon, lat, elevation_m, corridor_m, reach_m=reach_m)

    @classmethod
    def on(
        cls,
        ground: Ground,
        lon_deg: ArrayLike,
        lat_deg: ArrayLike,
        elevation_m: ArrayLike,
        corridor_m: ArrayLike,
        *,
        reach_m: float,
    ) -> Samples:
        """Look from places in degrees."""
        row, column = ground.posts_at(lon_deg, lat_deg)
        wide = np.broadcast_to(corridor_m, row.shape).astype(float)
        patches = ground.around(row, column, reach_m=reach_m + float(wide.max()))
        up = np.broadcast_to(elevation_m, row.shape).astype(float)
        return cls(
            ground=ground, patches=patches, row=row, column=column, elevation_m=up,
            corridor_m=wide, reach_m=reach_m,
        )  # fmt: skip

    def with_corridor(self, corridor_m: ArrayLike) -> Samples:
        """Look from the same samples with other corridors, none wider."""
        wide = np.broadcast_to(corridor_m, self.row.shape).astype(float)
        return replace(self, corridor_m=wide)

    def raised(self, by_m: float) -> Samples:
        """Look from above or below the same places."""
        return replace(self, elevation_m=self.elevation_m + by_m)

    def extremes(self) -> tuple[Floats, Floats]:
        """Return the highest and the lowest ground in each disc."""
        return extremes.extremes_within(self.patches, self.row, self.column, self.corridor_m)

    def nearest(self, *, seed: Foot | None = None, enough_m: Floats | None = None) -> Foot:
        """Return the least clearance in each disc, with its foot."""
        highest, _ = self.extremes()
        return corridor.nearest_within(
            self.patches, self.row, self.column, self.elevation_m, self.elevation_m - highest,
            corridor_m=self.corridor_m, reach_m=self.reach_m, seed=seed, enough_m=enough_m,
        )  # fmt: skip

    def clearance_m(self) -> Floats:
        """Return the least clearance in each disc."""
        return np.asarray(self.nearest().clearance_m)

    def middle(self) -> Foot:
        """Return the clearance of the samples themselves, with its foot."""
        above = self.elevation_m - self.ground.elevation_at(self.row, self.column)
        return clearance.nearest(
            self.patches, self.row, self.column, self.elevation_m, above, reach_m=self.reach_m
        )

    def farthest_m(self) -> Floats:
        """Return the upper bound of the clearance in each disc."""
        _, lowest = self.extremes()
        return np.asarray(corridor.farthest_within(
            self.patches, self.row, self.column, self.elevation_m, self.elevation_m - lowest,
            corridor_m=self.corridor_m, foot=self.middle(),
        ))  # fmt: skip

    def resting_m(self, radius_m: float, *, sign: int = 1) -> Floats:
        """Return where a ball moved within the disc rests; with `sign` −1 one moved away."""
        aside = sign * self.corridor_m
        return np.asarray(
            limits.resting_elevation(self.ground, self.row, self.column, radius_m, aside)
        )

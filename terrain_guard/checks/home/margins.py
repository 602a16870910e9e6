"""Margins of straight ways, at the ground that decides about each: the same error budget.

Thousands of ways from neighbouring metres are decided by a few places, a spur or a crest. So
the ground is looked at once for each of these, and its slopes serve all ways that it decides.
"""

from __future__ import annotations

from dataclasses import dataclass, field, fields

import numpy as np

from terrain_guard.arrays import Bools, Floats
from terrain_guard.checks.budget.budget import budget
from terrain_guard.checks.budget.places import Places
from terrain_guard.checks.budget.slopes import Slopes, slopes
from terrain_guard.checks.budgeted import Budgeter
from terrain_guard.checks.margins import Margins
from terrain_guard.checks.wanted import Wanted
from terrain_guard.path.frame import LocalFrame

TILE_POSTS = 64
"""Places are looked at tile by tile, so that neighbours are read together."""


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class _Ground:
    """Places that decide, and the slopes there; arrays (m,) of those `placed` among (n,)."""

    placed: Bools
    x_m: Floats
    y_m: Floats
    row: Floats
    column: Floats
    slopes: Slopes


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class MarginsBelow:
    """Finds margins by the ground that decides."""

    budgeter: Budgeter
    wanted: Wanted
    frame: LocalFrame
    _known: dict[int, tuple[Floats, _Ground]] = field(default_factory=dict)

    def at(
        self, lon_deg: Floats, lat_deg: Floats, *, above_launch_m: Floats, time_s: Floats
    ) -> Margins:
        """Return the margins of ways over places of the ground.

        Parameters
        ----------
        lon_deg, lat_deg : (n,) float
            Degrees; NaN where nothing decides.
        above_launch_m, time_s : (n,) float
            How high the ways pass there, as flown, and when, since the zero was set.

        Returns
        -------
        Margins
            (n,); NaN where there is no place, or no margin would do.
        """
        ground = self._ground(lon_deg, lat_deg)
        placed, rules, setting = ground.placed, self.budgeter.rules, self.budgeter.setting
        found = budget(
            setting,
            Places(
                x_m=ground.x_m, y_m=ground.y_m, row=ground.row, column=ground.column,
                along_m=np.zeros(ground.row.shape), above_launch_m=above_launch_m[placed],
                time_s=time_s[placed], launch=self.budgeter.spot, slopes=ground.slopes,
                given=tuple(self.budgeter.given(self.wanted)),
            ),
        )  # fmt: skip
        floor, ceiling = np.full(placed.shape, np.nan), np.full(placed.shape, np.nan)
        floor[placed], ceiling[placed] = found.floor_margin_m, found.ceiling_margin_m
        if rules.fixed_floor_margin_m is not None:
            floor[:] = rules.fixed_floor_margin_m + self.wanted.canopy_m
        if rules.fixed_ceiling_margin_m is not None:
            ceiling[:] = rules.fixed_ceiling_margin_m + self.wanted.ceiling_canopy_m
        return Margins(floor_m=floor, ceiling_m=ceiling)

    def _ground(self, lon_deg: Floats, lat_deg: Floats) -> _Ground:
        """Look at the ground once for one set of places."""
        kept = self._known.get(id(lon_deg))
        if kept is None:
            kept = lon_deg, self._looked_at(lon_deg, lat_deg)  # holds on to the array, for its id
            self._known[id(lon_deg)] = kept
        return kept[1]

    def _looked_at(self, lon_deg: Floats, lat_deg: Floats) -> _Ground:
        placed = np.isfinite(lon_deg + lat_deg)
        lon, lat = lon_deg[placed], lat_deg[placed]
        row, column = self.budgeter.ground.posts_at(lon, lat)
        x, y = self.frame.to_local(lon, lat)
        return _Ground(
            placed=placed, x_m=x, y_m=y, row=row, column=column, slopes=self._slopes(row, column)
        )

    def _slopes(self, row: Floats, column: Floats) -> Slopes:
        """Look at each cell once, however many ways it decides about, neighbours together."""
        cell = np.floor(row), np.floor(column)
        tiles = [np.floor(values / TILE_POSTS) for values in cell]
        keys = np.stack((*tiles, *cell))
        _, one, of = np.unique(keys, axis=1, return_index=True, return_inverse=True)
        setting = self.budgeter.setting
        found = slopes(
            self.budgeter.ground, row[one], column[one],
            registration_m=setting.model.registration.value, cell_m=setting.cell_m,
        )  # fmt: skip
        return Slopes(**{each.name: getattr(found, each.name)[of] for each in fields(Slopes)})

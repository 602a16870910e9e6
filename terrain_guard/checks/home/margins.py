"""Margins of straight ways, at the ground that decides about each: the same error budget.

Thousands of ways from neighbouring metres are decided by a few places, a spur or a crest. So
the ground is looked at once for each of these, and its slopes serve all ways that it decides.
"""

from __future__ import annotations

from dataclasses import fields

import numpy as np

from terrain_guard.arrays import Floats
from terrain_guard.checks.budget.budget import budget
from terrain_guard.checks.budget.places import Places
from terrain_guard.checks.budget.slopes import Slopes, slopes
from terrain_guard.checks.budgeted import Budgeter
from terrain_guard.checks.margins import Margins
from terrain_guard.checks.wanted import Wanted
from terrain_guard.ground.model import Ground
from terrain_guard.path.frame import LocalFrame

SAME_POSTS = 4.0
"""Places in the same quarter of a cell have the same slopes."""


def margins_at(
    budgeter: Budgeter,
    wanted: Wanted,
    frame: LocalFrame,
    lon_deg: Floats,
    lat_deg: Floats,
    *,
    above_launch_m: Floats,
    time_s: Floats,
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
    placed = np.isfinite(lon_deg + lat_deg + above_launch_m)
    floor, ceiling = np.full(lon_deg.shape, np.nan), np.full(lon_deg.shape, np.nan)
    if placed.any():
        found = _margins(
            budgeter, wanted, frame, lon_deg[placed], lat_deg[placed],
            above_launch_m=above_launch_m[placed], time_s=time_s[placed],
        )  # fmt: skip
        floor[placed], ceiling[placed] = found.floor_m, found.ceiling_m
    return Margins(floor_m=floor, ceiling_m=ceiling)


def _margins(
    budgeter: Budgeter, wanted: Wanted, frame: LocalFrame, lon_deg: Floats, lat_deg: Floats, *,
    above_launch_m: Floats, time_s: Floats,
) -> Margins:  # fmt: skip
    row, column = budgeter.ground.posts_at(lon_deg, lat_deg)
    x, y = frame.to_local(lon_deg, lat_deg)
    setting, rules = budgeter.setting, budgeter.rules
    places = Places(
        x_m=x, y_m=y, row=row, column=column, along_m=np.zeros(row.shape),
        above_launch_m=above_launch_m, time_s=time_s, launch=budgeter.spot,
        slopes=_slopes_once(
            budgeter.ground, row, column,
            registration_m=setting.model.registration.value, cell_m=setting.cell_m,
        ),
        given=tuple(budgeter.given(wanted)),
    )  # fmt: skip
    found = budget(setting, places)
    floor, ceiling = found.floor_margin_m, found.ceiling_margin_m
    if rules.fixed_floor_margin_m is not None:
        floor = np.full(row.shape, rules.fixed_floor_margin_m + wanted.canopy_m)
    if rules.fixed_ceiling_margin_m is not None:
        ceiling = np.full(row.shape, rules.fixed_ceiling_margin_m + wanted.ceiling_canopy_m)
    return Margins(floor_m=floor, ceiling_m=ceiling)


def _slopes_once(
    ground: Ground, row: Floats, column: Floats, *, registration_m: float, cell_m: float
) -> Slopes:
    """Look at each place once, however many ways it decides."""
    keys = np.stack([np.floor(values * SAME_POSTS) for values in (column, row)])
    _, one, of = np.unique(keys, axis=1, return_index=True, return_inverse=True)
    found = slopes(ground, row[one], column[one], registration_m=registration_m, cell_m=cell_m)
    return Slopes(**{field.name: getattr(found, field.name)[of] for field in fields(Slopes)})

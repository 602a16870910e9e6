"""Samples for tests of the error budget, where every slope is given, and small grids of posts."""

from __future__ import annotations

import math
from collections.abc import Callable
from dataclasses import replace
from typing import Any, Final

import numpy as np
from numpy.typing import ArrayLike

from terrain_guard.arrays import Floats
from terrain_guard.checks.budget.classes import BAROMETER, Figure, HeightSource, TerrainClass
from terrain_guard.checks.budget.launch_spot import LaunchSpot
from terrain_guard.checks.budget.places import Places
from terrain_guard.checks.budget.posts_near import PostsNear
from terrain_guard.checks.budget.setting import Setting
from terrain_guard.checks.budget.slopes import Slopes

FLAT_LAUNCH: Final = LaunchSpot(x_m=0.0, y_m=0.0, elevation_m=0.0)
TAN_30: Final = math.tan(math.radians(30.0))
NOTHING: Final = Figure(value=0.0, unit="m", source="made for a test")
STILL_AIR: Final = replace(
    BAROMETER, hold=NOTHING, noise=NOTHING, pressure=replace(NOTHING, unit="hPa")
)
"""An aircraft that flies exactly as typed, where temperature and airspeed are let alone, too."""


def slopes(
    count: int,
    *,
    plane: ArrayLike = 0.0,
    crest: ArrayLike = 0.0,
    gully: ArrayLike = 0.0,
    face: ArrayLike = 0.0,
    peak: ArrayLike = 0.0,
) -> Slopes:
    """Return slopes as given; the plane rises to the east."""
    east, crest, gully, face, peak = (
        _each(values, count) for values in (plane, crest, gully, face, peak)
    )
    none = np.zeros(count)
    return Slopes(east=east, north=none, crest=crest, gully=gully, face=face, peak=peak, pit=none)


def _each(values: ArrayLike, count: int) -> Floats:
    return np.broadcast_to(np.asarray(values, dtype=float), (count,)).copy()


def places(
    count: int = 1,
    *,
    x_m: ArrayLike = 800.0,
    y_m: ArrayLike = 0.0,
    above_launch_m: ArrayLike = 150.0,
    launch: LaunchSpot = FLAT_LAUNCH,
    along_m: ArrayLike | None = None,
    column: ArrayLike = 0.0,
    row: ArrayLike = 0.0,
    more: dict[str, Any] | None = None,
    **steep: ArrayLike,
) -> Places:
    """Return samples 800 m from a launch on level ground, 150 m above it, unless told otherwise."""
    return Places(
        x_m=_each(x_m, count),
        y_m=_each(y_m, count),
        row=_each(row, count),
        column=_each(column, count),
        along_m=_each(np.arange(count) if along_m is None else along_m, count),
        above_launch_m=_each(above_launch_m, count),
        slopes=slopes(count, **steep),
        launch=launch,
        **(more or {}),
    )


def setting(
    terrain: TerrainClass, source: HeightSource = BAROMETER, *, cell_m: float, **more: Any
) -> Setting:
    """Return a setting whose temperature is stated, unless told otherwise."""
    return Setting(terrain=terrain, source=source, cell_m=cell_m, **{"temperature_c": 10.0, **more})


# ---------------------------------------------------------------- posts without a raster


def near(z: Floats, row: Floats, column: Floats, *, cell_m: float, cells: int = 4) -> PostsNear:
    """Return the posts near places of a grid whose rows run south."""
    side = np.arange(-cells, cells + 1)
    rows = np.floor(row).astype(int)[:, None] + side
    columns = np.floor(column).astype(int)[:, None] + side
    return PostsNear(
        z=z[rows[:, :, None], columns[:, None, :]],
        down=side + (np.floor(row) - row)[:, None],
        across=side + (np.floor(column) - column)[:, None],
        metres=np.tile(np.array([[cell_m, 0.0], [0.0, -cell_m]]), (row.size, 1, 1)),
    )


def bilinear(z: Floats, row: Floats, column: Floats) -> Floats:
    """Return the bilinear ground between posts, written out for these tests."""
    i, j = np.floor(row).astype(int), np.floor(column).astype(int)
    v, u = row - i, column - j
    upper = z[i, j] * (1 - u) + z[i, j + 1] * u
    lower = z[i + 1, j] * (1 - u) + z[i + 1, j + 1] * u
    return np.asarray(upper * (1 - v) + lower * v)


def cell_means(
    ground: Callable[[Floats, Floats], Floats], count: int, *, parts: int = 24
) -> Floats:
    """Return the mean of `ground(column, row)` over square cells about whole numbers."""
    within = (np.arange(parts) + 0.5) / parts - 0.5
    line = (np.arange(count)[:, None] + within).ravel()
    row, column = np.meshgrid(line, line, indexing="ij")
    fine = ground(column, row).reshape(count, parts, count, parts)
    return np.asarray(fine.mean(axis=(1, 3)))

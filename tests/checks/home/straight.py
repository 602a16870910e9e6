"""Straight ways over made terrain, given in metres east and north of the spot of `scenes`."""

from __future__ import annotations

from pathlib import Path
from typing import Any

import numpy as np
from numpy.typing import ArrayLike

from terrain_guard.arrays import Floats
from terrain_guard.checks.home.lift import lift
from terrain_guard.checks.home.outcome import Lift
from terrain_guard.ground.model import Ground
from tests.checks import scenes

End = tuple[ArrayLike, ArrayLike, ArrayLike]
"""(east, north, elevation), metres."""


def posts(ground: Ground, east_m: ArrayLike, north_m: ArrayLike) -> tuple[Floats, Floats]:
    """Return the fractional posts of places."""
    pairs = np.broadcast_arrays(np.atleast_1d(east_m), np.atleast_1d(north_m))
    lat, lon = np.array([scenes.lat_lon(e, n) for e, n in zip(*pairs, strict=True)]).T
    return ground.posts_at(lon, lat)


def placed(ground: Ground, end: End) -> tuple[Floats, Floats, ArrayLike]:
    """Return (row, column, elevation) of an end in metres."""
    return *posts(ground, end[0], end[1]), end[2]


def lifted(model: Path | Ground, start: End, home: End, radius_m: ArrayLike, **how: Any) -> Lift:
    """Return the lift of ways between two ends."""
    ground = model if isinstance(model, Ground) else Ground(model)
    return lift(ground, placed(ground, start), placed(ground, home), radius_m=radius_m, **how)


def ridge(crest_m: float, east_m: float = 300.0, half_m: float = 100.0) -> scenes.Surface:
    """Return a ridge from north to south, plane on both sides, in a flat at 0 m."""
    return lambda e, n: np.maximum(0.0, crest_m * (1 - np.abs(e - east_m) / half_m)) + 0 * n

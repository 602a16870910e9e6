"""May it land here: how steep the ground is under each metre, and what stands on it.

::

        ●   looked at: the middle and two rings,
      ● ● ●     10 m and 5 m from it, sixteen places each
        ●

The slope is the greater of that of the plane fitted to them and of the steepest way from the
middle to any of them. Water, people and wires are in no elevation model, nor trees where no
surface model is given, so that no landing off the launch is ever better than tight.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Final

import numpy as np

from terrain_guard.arrays import Bools, Floats, Ints
from terrain_guard.checks.beneath import Beneath
from terrain_guard.checks.judge import BREACH, NOT_ASSESSED, TIGHT
from terrain_guard.path.frame import LocalFrame

RADIUS_M: Final = 10.0
DOUBTFUL_DEG: Final = 10.0
TOO_STEEP_DEG: Final = 15.0
"""Common practice, no source."""
COVER_M: Final = 1.0
"""What stands higher than this on the ground is no place to land. Our own choice."""
BEARINGS: Final = np.arange(16) * np.pi / 8


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Landing:
    """What landing at each sample comes to; arrays (n,). NaN: not known."""

    slope_deg: Floats
    cover_m: Floats  # of surface above ground within the radius; NaN without a surface model
    code: Ints


def landing(beneath: Beneath, frame: LocalFrame, x_m: Floats, y_m: Floats) -> Landing:
    """Look at the ground under samples.

    Parameters
    ----------
    x_m, y_m : (n,) float
        East and north in the local frame.
    """
    east, north = _places()
    lon, lat = frame.to_degrees((x_m[:, None] + east).ravel(), (y_m[:, None] + north).ravel())
    ground = beneath.ground.elevation(lon, lat).reshape(x_m.size, east.size)
    slope_deg = np.degrees(np.arctan(_slope(ground, east, north)))
    cover = np.full(x_m.size, np.nan)
    if beneath.surface is not None:
        surface = beneath.surface.elevation(lon, lat).reshape(ground.shape)
        cover = np.max(surface - ground, axis=1)
    unknown = np.isnan(cover) & (beneath.surface is not None)
    return Landing(slope_deg=slope_deg, cover_m=cover, code=_codes(slope_deg, cover, unknown))


def _codes(slope_deg: Floats, cover_m: Floats, cover_unknown: Bools) -> Ints:
    """Judge slopes and cover; never better than tight."""
    blocked = (slope_deg >= TOO_STEEP_DEG) | (cover_m > COVER_M)
    unseen = np.isnan(slope_deg) | cover_unknown
    return np.select([blocked, unseen], [BREACH, NOT_ASSESSED], default=TIGHT)


def _places() -> tuple[Floats, Floats]:
    radius = np.repeat([RADIUS_M / 2, RADIUS_M], BEARINGS.size)
    bearing = np.tile(BEARINGS, 2)
    return (
        np.append(0.0, radius * np.sin(bearing)),
        np.append(0.0, radius * np.cos(bearing)),
    )


def _slope(ground: Floats, east: Floats, north: Floats) -> Floats:
    """Return rise over run (n,) of ground (n, m) at places about its middle, the first."""
    rise = ground - ground[:, :1]
    steepest = np.abs(rise[:, 1:] / np.hypot(east, north)[1:]).max(axis=1)
    # The places lie evenly round, so that sums of east times north vanish.
    plane = np.hypot(ground @ east / (east @ east), ground @ north / (north @ north))
    return np.maximum(steepest, plane)

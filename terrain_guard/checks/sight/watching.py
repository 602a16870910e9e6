r"""What someone on the ground sees of a flight, and the line of its radio link.

::

                                   ● aircraft        margin: how far it is above the ray
                             . '  ↕                  that grazes the ground
                       . ' /\   /
        eye ● . ' ‾‾‾‾‾‾‾‾   ‾‾‾      ground, or trees and roofs where a surface model
            |                         is given: whatever stands higher

With margins the aircraft is lower by its floor margin, and the ground that grazes the ray is
higher against the ground under the eye by k sigma of the model's error between the two, and by
the canopy that no model shows. What is so much nearer to the eye weighs so much more, as r/ρ.
"""

from __future__ import annotations

from dataclasses import dataclass, field, replace
from typing import Final

import numpy as np

from terrain_guard.arrays import Floats, Ints
from terrain_guard.checks.beneath import Beneath
from terrain_guard.checks.budget.dem_error import against_launch
from terrain_guard.checks.budget.setting import Setting
from terrain_guard.checks.judge import BREACH, NOT_ASSESSED, TIGHT, WITHIN
from terrain_guard.ground.model import Ground
from terrain_guard.ground.rays import OWN_FEET_M, Rays

EYE_M: Final = 1.7
ANTENNA_M: Final = 1.5
"""Above the ground that someone stands on. Common practice, no source."""
CLEAR_RADII: Final = 0.6
"""Of the first Fresnel zone (ITU-R P.530's criterion, second-hand)."""
LIGHT_M_PER_S: Final = 299_792_458.0
UNSTATED_GHZ: Final = 2.4
"""Common practice, no source."""


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Targets:
    """Where the aircraft is at samples; arrays (n,).

    Rays to them are made once for each place they start from and each model, and serve every
    question: sight, link, and the ways home.
    """

    lon_deg: Floats
    lat_deg: Floats
    elevation_m: Floats
    lower_m: Floats  # by its floor margin
    _rays: dict[tuple[int, tuple[float, float]], Rays] = field(default_factory=dict)

    def rays(self, model: Ground, place_deg: tuple[float, float]) -> Rays:
        """Return the rays from a place (lon, lat) to all of them."""
        key = id(model), place_deg
        if key not in self._rays:
            self._rays[key] = model.rays(
                *place_deg, to_lon_deg=self.lon_deg, to_lat_deg=self.lat_deg
            )
        return self._rays[key]


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Seen:
    """What is seen of samples from one place; arrays (n,), NaN: not known.

    `far_m`, `lon_deg`, `lat_deg`: where the ground that grazes the ray stands.
    """

    margin_m: Floats
    assured_m: Floats
    slant_m: Floats
    far_m: Floats
    lon_deg: Floats
    lat_deg: Floats

    @property
    def code(self) -> Ints:
        """The state of each sample: hidden is a breach, hidden only with margins is tight."""
        return np.select(
            [self.margin_m < 0, np.isnan(self.margin_m), self.assured_m >= 0],
            [BREACH, NOT_ASSESSED, WITHIN],
            default=TIGHT,
        )


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Linked:
    """The radio link's line to samples; arrays (n,), NaN: not known."""

    radii: Floats  # clearance over the first Fresnel radius, where that is least
    far_m: Floats
    lon_deg: Floats
    lat_deg: Floats

    @property
    def code(self) -> Ints:
        """The state of each sample: ground in the line is a breach."""
        return np.select(
            [self.radii < 0, np.isnan(self.radii), self.radii >= CLEAR_RADII],
            [BREACH, NOT_ASSESSED, WITHIN],
            default=TIGHT,
        )


def watched(
    beneath: Beneath,
    place_deg: tuple[float, float],
    targets: Targets,
    setting: Setting,
    *,
    canopy_m: float,
) -> Seen:
    """Look at samples from one place on the ground.

    Parameters
    ----------
    place_deg : (lon, lat)
        Where someone stands.
    setting : Setting
        What the error budget over the same ground rests on.
    canopy_m : float
        How high trees may stand that no model shows.
    """
    eye_m = float(beneath.ground.elevation(*place_deg)[0]) + EYE_M
    doubt = _Doubt(setting=setting, canopy_m=canopy_m)
    found = [
        _from_one(model, place_deg, eye_m, targets, doubt) for model in beneath.models.values()
    ]
    first, *others = found
    for other in others:
        first = _worse(first, other)
    return first


@dataclass(frozen=True, slots=True, kw_only=True)
class _Doubt:
    """How much higher ground may be than computed, against the ground under an eye."""

    setting: Setting
    canopy_m: float

    def at(self, far_m: Floats) -> Floats:
        """Return it at distances (n,) from the eye."""
        variance = against_launch(self.setting.dem, far_m).variance_m2
        return self.setting.floor_k * np.sqrt(variance) + self.canopy_m


def _from_one(
    model: Ground, place_deg: tuple[float, float], eye_m: float, targets: Targets, doubt: _Doubt
) -> Seen:
    rays = targets.rays(model, place_deg)
    unknown = np.full(targets.lon_deg.shape, np.nan)
    slant = np.hypot(rays.length_m, targets.elevation_m - eye_m)
    if np.isnan(eye_m):
        return Seen(margin_m=unknown, assured_m=unknown, slant_m=slant, far_m=unknown,
                    lon_deg=unknown, lat_deg=unknown)  # fmt: skip
    sight = rays.sight(eye_m, targets.elevation_m)
    far = sight.grazed.along_m
    lon, lat = model.degrees_at(sight.grazed.row, sight.grazed.column)
    with np.errstate(divide="ignore", invalid="ignore"):
        raised = np.where(far > 0, doubt.at(far) * rays.length_m / far, 0.0)
    return Seen(
        margin_m=sight.margin_m,
        assured_m=sight.margin_m - targets.lower_m - raised,
        slant_m=slant,
        far_m=far,
        lon_deg=lon,
        lat_deg=lat,
    )


def _worse(one: Seen, other: Seen) -> Seen:
    """Return the lesser margins of two models; what either does not know is not known."""
    either = one.margin_m + other.margin_m  # NaN where one is
    hidden = np.fmin(one.margin_m, other.margin_m)
    margin = np.where(np.isnan(either) & ~(hidden < 0), np.nan, hidden)
    nearer = other.margin_m < np.where(np.isnan(one.margin_m), np.inf, one.margin_m)
    names = ("far_m", "lon_deg", "lat_deg")
    return replace(
        one, margin_m=margin,
        assured_m=np.where(np.isnan(margin), np.nan, np.fmin(one.assured_m, other.assured_m)),
        **{name: np.where(nearer, getattr(other, name), getattr(one, name)) for name in names},
    )  # fmt: skip


def linked(
    beneath: Beneath, place_deg: tuple[float, float], targets: Targets, *, ghz: float
) -> Linked:
    """Look along the radio link's line from one place on the ground to samples.

    Parameters
    ----------
    place_deg : (lon, lat)
        Where the antenna is, `ANTENNA_M` above the ground.
    ghz : float
        The link's frequency.
    """
    antenna_m = float(beneath.ground.elevation(*place_deg)[0]) + ANTENNA_M
    wavelength_m = LIGHT_M_PER_S / (ghz * 1e9)
    out: Linked | None = None
    for model in beneath.models.values():
        rays = targets.rays(model, place_deg)
        link = rays.link(
            antenna_m, targets.elevation_m, wavelength_m=wavelength_m, to_target_gap_m=OWN_FEET_M
        )
        radii = np.full(rays.count, np.nan) if np.isnan(antenna_m) else link.clearance_radii
        lon, lat = model.degrees_at(link.narrowest.row, link.narrowest.column)
        one = Linked(radii=radii, far_m=link.narrowest.along_m, lon_deg=lon, lat_deg=lat)
        out = one if out is None else _narrower(out, one)
    assert out is not None
    return out


def _narrower(one: Linked, other: Linked) -> Linked:
    either, least = one.radii + other.radii, np.fmin(one.radii, other.radii)
    nearer = other.radii < np.where(np.isnan(one.radii), np.inf, one.radii)
    names = ("far_m", "lon_deg", "lat_deg")
    return Linked(
        radii=np.where(np.isnan(either) & ~(least < 0), np.nan, least),
        **{name: np.where(nearer, getattr(other, name), getattr(one, name)) for name in names},
    )

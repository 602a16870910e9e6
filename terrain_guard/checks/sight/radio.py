"""What a radio path needs and loses, by geometry alone; no range is promised.

::

    ●────────── d₁ ──────────┬────────── d₂ ──────────●   D = d₁ + d₂
                             │ r₁ = √(λ d₁ d₂ / D)        first Fresnel zone
                             ▲ ground, h above the path   ν = h √(2 D / λ d₁ d₂) = √2 · h / r₁

Radius and knife edge: Recommendation ITU-R P.526, "Propagation by diffraction" (radius:
equation 2 of edition 8; knife edge: section on a single knife-edge obstacle, from memory). Free
space: ITU-R P.525, "Calculation of free-space attenuation" (from memory). Trees, rain, antennas
and interference are not in them, and a broad hill loses more than a knife edge.
"""

from __future__ import annotations

from typing import Final

import numpy as np
from numpy.typing import ArrayLike

from terrain_guard.arrays import Floats
from terrain_guard.ground.rays import EARTH_RADIUS_M, RADIO_K

LIGHT_M_PER_S: Final = 299_792_458.0
"""Exact (SI)."""
FREE_RADII: Final = 0.6
"""Of the first zone; a path that keeps so much clear counts as free (common practice)."""
LEAST_NU: Final = -0.78
"""Below it a knife edge loses nothing; the approximation holds above it."""


def wavelength_m(frequency_ghz: ArrayLike) -> Floats:
    """Return the wavelength (m).

    Raises
    ------
    ValueError
        A frequency is not a finite number above 0.
    """
    frequency = np.asarray(frequency_ghz, dtype=float)
    if not ((frequency > 0) & np.isfinite(frequency)).all():
        msg = f"frequency_ghz is {frequency_ghz!r}: it must be finite and above 0"
        raise ValueError(msg)
    return LIGHT_M_PER_S / (frequency * 1e9)


def fresnel_radius_m(wavelength_m: ArrayLike, d1_m: ArrayLike, d2_m: ArrayLike) -> Floats:
    """Return the radius (m) of the first Fresnel zone at d₁ and d₂ from the ends.

    Examples
    --------
    >>> round(float(fresnel_radius_m(wavelength_m(2.4), 500.0, 500.0)), 2)
    5.59
    """
    d1, d2 = np.asarray(d1_m, dtype=float), np.asarray(d2_m, dtype=float)
    return np.sqrt(np.asarray(wavelength_m, dtype=float) * d1 * d2 / (d1 + d2))


def nu_of(clearance_radii: ArrayLike) -> Floats:
    """Return ν of an edge that leaves a path so many radii of its first zone clear.

    An edge that stands in the path has negative clearance and positive ν.
    """
    return -np.sqrt(2.0) * np.asarray(clearance_radii, dtype=float)


def knife_edge_loss_db(nu: ArrayLike) -> Floats:
    """Return J(ν), the loss over a single knife edge (dB); NaN where ν is.

    J = 6.9 + 20 log₁₀(√((ν − 0.1)² + 1) + ν − 0.1) above ν = −0.78, else 0.

    Examples
    --------
    >>> round(float(knife_edge_loss_db(0.0)), 2)
    6.03
    """
    value = np.asarray(nu, dtype=float)
    x = np.maximum(value, LEAST_NU) - 0.1
    loss = 6.9 + 20 * np.log10(np.sqrt(x**2 + 1) + x)
    return np.where(value <= LEAST_NU, 0.0, loss)


def free_space_loss_db(distance_m: ArrayLike, wavelength_m: ArrayLike) -> Floats:
    """Return the loss between isotropic antennas in free space (dB), 20 log₁₀(4 π d / λ)."""
    distance = np.asarray(distance_m, dtype=float)
    return 20 * np.log10(4 * np.pi * distance / np.asarray(wavelength_m, dtype=float))


def earth_bulge_m(d1_m: ArrayLike, d2_m: ArrayLike, *, curvature: float = RADIO_K) -> Floats:
    """Return how far the earth stands above the straight line between its ends, d₁ d₂ / 2kR.

    Parameters
    ----------
    curvature : float
        k: 4/3 for radio, 1 for a straight line.
    """
    d1, d2 = np.asarray(d1_m, dtype=float), np.asarray(d2_m, dtype=float)
    return d1 * d2 / (2 * curvature * EARTH_RADIUS_M)


def earth_drop_m(distance_m: ArrayLike, *, curvature: float = RADIO_K) -> Floats:
    """Return how far the earth falls below the level plane through its start, d² / 2kR."""
    return np.asarray(distance_m, dtype=float) ** 2 / (2 * curvature * EARTH_RADIUS_M)

"""The standard atmosphere: temperature, pressure and density by elevation.

ICAO Doc 7488, *Manual of the ICAO Standard Atmosphere*, 3rd edition, 1993. Constants
from memory; T0 and the lapse rate also second-hand.
"""

from __future__ import annotations

from typing import Final

import numpy as np
from numpy.typing import ArrayLike

from terrain_guard.arrays import Floats

T0_K: Final = 288.15
P0_HPA: Final = 1013.25
G0: Final = 9.80665
R_AIR: Final = 287.05287
LAPSE_K_PER_M: Final = 0.0065
EXPONENT: Final = G0 / (LAPSE_K_PER_M * R_AIR)
TOP_M: Final = 11_000.0


def standard_temperature_k(elevation_m: ArrayLike) -> Floats:
    """Return the temperature of the standard atmosphere, kelvin.

    Parameters
    ----------
    elevation_m : float or (n,) float
        Geopotential metres, up to 11,000; NaN above.

    >>> round(float(standard_temperature_k(2000.0)), 3)
    275.15
    """
    elevation = np.asarray(elevation_m, dtype=float)
    return np.where(elevation <= TOP_M, T0_K - LAPSE_K_PER_M * elevation, np.nan)


def standard_pressure_hpa(elevation_m: ArrayLike) -> Floats:
    """Return the pressure of the standard atmosphere, hPa; NaN above 11,000 m."""
    return P0_HPA * (standard_temperature_k(elevation_m) / T0_K) ** EXPONENT


def standard_density_kg_per_m3(elevation_m: ArrayLike) -> Floats:
    """Return the density of the standard atmosphere, kg/m³; NaN above 11,000 m."""
    pascal = 100.0 * standard_pressure_hpa(elevation_m)
    return pascal / (R_AIR * standard_temperature_k(elevation_m))


def metres_per_hpa(elevation_m: ArrayLike) -> Floats:
    """Return how many metres one hPa is, in the standard atmosphere.

    >>> round(float(metres_per_hpa(0.0)), 3)
    8.324
    """
    temperature, pressure = standard_temperature_k(elevation_m), standard_pressure_hpa(elevation_m)
    return R_AIR * temperature / (G0 * pressure)

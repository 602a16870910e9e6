r"""What the air does to heights that a barometer tells.

A barometer turns pressure into metres by a temperature that it assumes. In colder
air the same pressures lie closer together, and the aircraft flies lower than it
shows::

    shown 120 m ─ ─ ─ ─ ─ ─
                             flown 109.6 m at -10 °C   error of a typed 120 m: -10.4 m
    launch ─────────────────

Two columns of air with the same lapse rate and the same pressure below have
heights in the ratio of their temperatures below, exactly. So heights above launch
are flown times ``air / assumed`` (kelvin, both at launch); below launch the error
has the other sign. Heights from satellites have no such error.
"""

from __future__ import annotations

from typing import Final, Literal, TypeAlias

import numpy as np
from numpy.typing import ArrayLike

from terrain_guard.arrays import Floats
from terrain_guard.checks.budget.standard_air import (
    G0,
    LAPSE_K_PER_M,
    T0_K,
    metres_per_hpa,
    standard_temperature_k,
)

ZERO_C_K: Final = 273.15

Reference: TypeAlias = Literal["launch", "sea-level", "sensor"]
"""The temperature that a barometer assumes at launch: standard at the launch's elevation;
15 °C, standard at sea level, wherever it is; or what its own sensor reads there."""
REFERENCES: Final[tuple[Reference, ...]] = ("launch", "sea-level", "sensor")

SENSOR_WARMING_K: Final = 35.0
"""How much warmer than the air the sensor of a warm aircraft may be. Common practice, no source."""
STATED_SIGMA_K: Final = 3.0
UNSTATED_SIGMA_K: Final = 5.0
"""One sigma of the air's temperature where it is stated, or not. Common practice, no source."""
STATIC_SOURCE: Final = 0.2
"""Share of the dynamic pressure that a static port feels (0.1 to 0.3). Common practice, no source.
"""
CREST_SPEED_UP: Final = 1.5
"""How much faster wind blows over a crest (1.5 to 2). Common practice, no source."""
CREST_WITHIN_M: Final = 100.0
"""How near to a crest that counts. Our own choice."""


# -- temperature ----------------------------------------------------------------


def add_to_true(
    true_height: ArrayLike, *, temperature_c: float, elevation: float, unit: str = "m"
) -> Floats:
    """Return what to add to a wanted true height, so that it is flown: the simple formula.

    Parameters
    ----------
    true_height : float or (n,) float
        Above the place where the barometer was set, in `unit`.
    temperature_c : float
        Of the air at that place.
    elevation : float
        Of that place, in `unit`.
    unit : str
        "m" or "ft": the document gives a lapse rate for each.

    Notes
    -----
    ICAO Doc 8168 (PANS-OPS), Volume I, Part III, Section 1, Chapter 4, 4.3 (since 2018
    also Volume III), "tabulated corrections": H (15 - t0) / (273 + t0 - 0.5 L0 (H + Hss)),
    where t0 is the temperature reduced to sea level. Read in texts that reproduce it; with
    these roundings (273, 0.00198) all cells of the published table come out.

    >>> round(float(add_to_true(120.0, temperature_c=-10.0, elevation=0.0)), 3)
    11.424
    """
    height, lapse = np.asarray(true_height, dtype=float), {"m": 0.0065, "ft": 0.00198}[unit]
    at_sea_level = temperature_c + lapse * elevation
    return (
        height * (15.0 - at_sea_level) / (273.0 + at_sea_level - 0.5 * lapse * (height + elevation))
    )


def shown_less_true_m(shown_m: ArrayLike, *, off_standard_k: float, elevation_m: float) -> Floats:
    """Return how much a barometer shows more than is flown: the accurate formula.

    Parameters
    ----------
    shown_m : float or (n,) float
        The height *shown*, above the place where it was set. The simple formula takes the
        true height instead: the two agree only where each is given its own.
    off_standard_k : float
        Air less standard temperature, the same all the way up; negative where it is colder.
    elevation_m : float
        Pressure elevation of that place.

    Notes
    -----
    ICAO Doc 8168, as in `add_to_true`, 4.3.4.1, with L0 = -0.0065 K/m; second-hand.

    >>> round(float(shown_less_true_m(120.0, off_standard_k=-25.0, elevation_m=0.0)), 3)
    10.425
    """
    shown = np.asarray(shown_m, dtype=float)
    base_k = standard_temperature_k(elevation_m)
    return off_standard_k / LAPSE_K_PER_M * np.log1p(-LAPSE_K_PER_M * shown / base_k)


def assumed_temperature_k(
    reference: Reference,
    *,
    temperature_c: float,
    elevation_m: float,
    sensor_warming_k: float = 0.0,
) -> float:
    """Return the temperature at launch that a barometer assumes, kelvin.

    Parameters
    ----------
    reference : Reference
        What it assumes.
    temperature_c : float
        Of the air at launch: what an unheated sensor of its own reads.
    elevation_m : float
        Of the launch; NaN where not known gives NaN, if that is what it goes by.
    sensor_warming_k : float
        How much warmer its own sensor is.
    """
    if reference == "sea-level":
        return T0_K
    if reference == "sensor":
        return ZERO_C_K + temperature_c + sensor_warming_k
    return float(standard_temperature_k(elevation_m))


def height_factor(
    temperature_c: float,
    *,
    elevation_m: float,
    reference: Reference = "launch",
    sensor_warming_k: float = 0.0,
) -> float:
    """Return how many metres are flown for each metre that a barometer shows above launch.

    Parameters are those of `assumed_temperature_k`.

    >>> round(height_factor(-10.0, elevation_m=0.0), 4)
    0.9132
    """
    assumed = assumed_temperature_k(
        reference,
        temperature_c=temperature_c,
        elevation_m=elevation_m,
        sensor_warming_k=sensor_warming_k,
    )
    return (ZERO_C_K + temperature_c) / assumed


def factor_span(
    temperature_c: float,
    *,
    elevation_m: float,
    reference: Reference | None = None,
    sensor_warming_k: float = SENSOR_WARMING_K,
) -> tuple[float, float]:
    """Return the least and the greatest `height_factor` that the aircraft may have.

    Parameters
    ----------
    reference : Reference or None
        What its barometer assumes; None where that is not known: every convention is in play.
    sensor_warming_k : float
        How much warmer than the air its own sensor may be, from 0 on.
    """
    among = REFERENCES if reference is None else (reference,)
    found = [
        height_factor(
            temperature_c, elevation_m=elevation_m, reference=one, sensor_warming_k=warming_k
        )
        for one in among
        for warming_k in ((0.0, sensor_warming_k) if one == "sensor" else (0.0,))
    ]
    return min(found), max(found)


def is_barometric(height_from: str | None) -> bool:
    """Return whether air moves the heights of an aircraft: unless satellites tell them."""
    return height_from not in ("gnss", "rtk")


def declared_factor(
    temperature_c: float | None,
    *,
    elevation_m: float,
    height_from: str | None = None,
    reference: Reference | None = None,
) -> float:
    """Return the factor from heights typed to heights flown that a stated temperature declares.

    Parameters
    ----------
    temperature_c : float or None
        The air at launch as stated; None declares nothing: the factor is 1.
    elevation_m : float
        Of the launch; NaN gives NaN where the factor depends on it.
    height_from : str or None
        "barometer", "gnss" or "rtk"; None counts as a barometer.
    reference : Reference or None
        None counts as "launch". How far another convention would move the heights is a
        matter of margins: see `factor_span`.
    """
    if temperature_c is None or not is_barometric(height_from):
        return 1.0
    return height_factor(temperature_c, elevation_m=elevation_m, reference=reference or "launch")


def declared_bias_m(
    typed_m: ArrayLike,
    *,
    temperature_c: float | None,
    elevation_m: float,
    height_from: str | None = None,
    reference: Reference | None = None,
) -> Floats:
    """Return flown less typed height (n,), as far as a stated temperature declares it.

    Parameters
    ----------
    typed_m : float or (n,) float
        Above launch; below launch it is negative, and the sign of the bias turns.
    temperature_c, elevation_m, height_from, reference
        As in `declared_factor`.

    >>> declared_bias_m([120.0, -120.0], temperature_c=-10.0, elevation_m=0.0).round(2).tolist()
    [-10.41, 10.41]
    """
    factor = declared_factor(
        temperature_c, elevation_m=elevation_m, height_from=height_from, reference=reference
    )
    return (factor - 1.0) * np.asarray(typed_m, dtype=float)


def temperature_sigma_m(
    typed_m: ArrayLike, *, temperature_c: float | None, height_from: str | None = None
) -> Floats:
    """Return one sigma of what is left of that bias: 3 K where stated, else 5 K.

    Never negative; 0 where satellites tell the height.
    """
    if not is_barometric(height_from):
        return np.zeros(np.shape(typed_m))
    sigma_k = UNSTATED_SIGMA_K if temperature_c is None else STATED_SIGMA_K
    return np.abs(np.asarray(typed_m, dtype=float)) * sigma_k / T0_K


# -- pressure and wind ------------------------------------------------------------


def pressure_drift_m(trend_hpa_per_h: float, seconds: ArrayLike, *, elevation_m: float) -> Floats:
    """Return how much higher it flies than shown, so long after the zero was set.

    Negative where pressure falls: it flies lower.

    >>> round(float(pressure_drift_m(-1.0, 1200.0, elevation_m=1500.0)), 1)
    -3.2
    """
    hours = np.asarray(seconds, dtype=float) / 3600.0
    return trend_hpa_per_h * hours * metres_per_hpa(elevation_m)


def dynamic_pressure_m(speed_m_per_s: ArrayLike) -> Floats:
    """Return the dynamic pressure at a speed through the air as metres of air: V²/2g."""
    return np.asarray(speed_m_per_s, dtype=float) ** 2 / (2.0 * G0)


def static_source_m(speed_m_per_s: ArrayLike, *, share: float = STATIC_SOURCE) -> Floats:
    """Return how far its speed through the air may move a barometer's height, either way."""
    return share * dynamic_pressure_m(speed_m_per_s)


def crest_wind_m(wind_m_per_s: ArrayLike, *, speed_up: float = CREST_SPEED_UP) -> Floats:
    """Return how much lower than shown it may fly over a crest: V² (s² - 1) / 2g, one-sided.

    Wind speeds up over a crest, and by Bernoulli's equation the pressure there is lower:
    the barometer shows more than is flown. Counts within `CREST_WITHIN_M` of a crest.

    >>> round(float(crest_wind_m(10.0)), 1)
    6.4
    """
    return (speed_up**2 - 1.0) * dynamic_pressure_m(wind_m_per_s)

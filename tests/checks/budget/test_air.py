"""Heights by barometer against published tables: cold air, standard atmosphere, pressure, wind.

How well each number is known stands beside it: *seen* (in the issuing body's own
words), *second-hand* (in a text that reproduces the document), *derived* (from a
formula given beside it).
"""

from __future__ import annotations

import math

import numpy as np
import pytest

from terrain_guard.checks.budget import air
from terrain_guard.checks.budget import standard_air as standard

COLUMNS_FT = (200, 300, 400, 500, 600, 700, 800, 900, 1000, 1500, 2000, 3000, 4000, 5000)
COLD_FT = {
    0: (20, 20, 30, 30, 40, 40, 50, 50, 60, 90, 120, 170, 230, 280),
    -10: (20, 30, 40, 50, 60, 70, 80, 90, 100, 150, 200, 290, 390, 490),
    -20: (30, 50, 60, 70, 90, 100, 120, 130, 140, 210, 280, 420, 570, 710),
    -30: (40, 60, 80, 100, 120, 140, 150, 170, 190, 280, 380, 570, 760, 950),
    -40: (50, 80, 100, 120, 150, 170, 190, 220, 240, 360, 480, 720, 970, 1210),
    -50: (60, 90, 120, 150, 180, 210, 240, 270, 300, 450, 590, 890, 1190, 1500),
}
"""Feet to add at a sea-level aerodrome, by aerodrome temperature (°C) and height (ft).

EASA, AMC and GM to Part-CAT, GM8 CAT.OP.MPA.110, Table 20 (ED Decision 2023/007/R), the
table of ICAO Doc 8168; seen. That each cell is the formula rounded up to 10 ft is derived.
"""

STANDARD = {
    120: (287.370, 998.917, 1.21095),
    1000: (281.650, 898.746, 1.11164),
    2000: (275.150, 794.952, 1.00649),
    3000: (268.650, 701.085, 0.90912),
    11000: (216.650, 226.32, 0.36392),
}
"""Temperature (K), pressure (hPa) and density (kg/m³) by geopotential metres.

Derived from the constants of ICAO Doc 7488, 3rd edition, 1993 (from memory); the
tropopause, 216.65 K and 226.32 hPa, is as published there.
"""

METRES_PER_HPA = {0: 8.324, 500: 8.736, 1000: 9.173, 1500: 9.638, 2000: 10.131}
"""R T / (g p) of the same atmosphere; derived, and 8.3 m (27.3 ft) at sea level widely published.
"""


# -- cold air, ICAO Doc 8168 ------------------------------------------------------


@pytest.mark.parametrize("temperature_c", COLD_FT)
@pytest.mark.parametrize("column", range(len(COLUMNS_FT)), ids=map(str, COLUMNS_FT))
def test_every_cell_of_the_cold_table(temperature_c: int, column: int) -> None:
    """Each of the 84 is the simple formula in feet, rounded up to tens."""
    feet = float(
        air.add_to_true(COLUMNS_FT[column], temperature_c=temperature_c, elevation=0.0, unit="ft")
    )
    assert math.ceil(feet / 10) * 10 == COLD_FT[temperature_c][column]


@pytest.mark.parametrize(
    ("temperature_c", "metres"), [(0, 6.603), (-10, 11.424), (-20, 16.626), (-30, 22.26), (15, 0)]
)
def test_what_to_add_to_120_m(temperature_c: float, metres: float) -> None:
    """120 (15 - t) / (273 + t - 0.5 x 0.0065 x 120), at sea level; derived."""
    found = air.add_to_true(120.0, temperature_c=temperature_c, elevation=0.0)
    assert found == pytest.approx(metres, abs=0.005)


def test_to_add_at_an_elevation() -> None:
    """-4.5 °C at 3,000 m is 15 °C reduced to sea level: a standard day, nothing to add.

    -14.5 °C there: t0 = 5 °C, and 300 x 10 / (278 - 0.00325 x 3300) = 11.225 m; derived.
    """
    assert air.add_to_true(300.0, temperature_c=-4.5, elevation=3000.0) == pytest.approx(0.0)
    found = air.add_to_true(300.0, temperature_c=-14.5, elevation=3000.0)
    assert found == pytest.approx(300 * 10 / 267.275, abs=1e-9)


@pytest.mark.parametrize(
    ("shown_m", "off_k", "metres"), [(120.0, -25.0, 10.425), (300.0, -45.0, 47.010)]
)
def test_the_accurate_formula(shown_m: float, off_k: float, metres: float) -> None:
    """ICAO Doc 8168, 4.3.4.1, of the height shown; the formula second-hand, the numbers derived."""
    found = air.shown_less_true_m(shown_m, off_standard_k=off_k, elevation_m=0.0)
    assert found == pytest.approx(metres, abs=0.0005)


def test_the_two_formulas_take_different_heights() -> None:
    """Each of its own, they agree to a few centimetres; both of 120 m they are a metre apart.

    A true 120 m at -10 °C: the simple formula says 131.42 m is shown.
    """
    simple = float(air.add_to_true(120.0, temperature_c=-10.0, elevation=0.0))
    of_shown = air.shown_less_true_m(120.0 + simple, off_standard_k=-25.0, elevation_m=0.0)
    assert of_shown == pytest.approx(simple, abs=0.03)
    of_true = air.shown_less_true_m(120.0, off_standard_k=-25.0, elevation_m=0.0)
    assert simple - of_true == pytest.approx(0.999, abs=0.001)


@pytest.mark.parametrize(
    ("temperature_c", "is_safe"), [(10, True), (0, True), (-15, True), (-25, False)]
)
def test_four_per_cent_for_ten_degrees(temperature_c: float, is_safe: bool) -> None:
    """The rule of thumb of the same chapter, "safe ... above -15 °C" (second-hand)."""
    exact = float(air.add_to_true(120.0, temperature_c=temperature_c, elevation=0.0))
    assert (120 * 0.004 * (15 - temperature_c) >= exact) is is_safe


# -- the standard atmosphere ----------------------------------------------------------


@pytest.mark.parametrize("elevation_m", STANDARD)
def test_the_standard_atmosphere(elevation_m: int) -> None:
    """Temperature, pressure and density at five elevations."""
    kelvin, hpa, density = STANDARD[elevation_m]
    assert standard.standard_temperature_k(elevation_m) == pytest.approx(kelvin, abs=1e-6)
    assert standard.standard_pressure_hpa(elevation_m) == pytest.approx(hpa, abs=0.001)
    assert standard.standard_density_kg_per_m3(elevation_m) == pytest.approx(density, abs=6e-6)


def test_the_standard_atmosphere_at_sea_level() -> None:
    """15 °C, 1013.25 hPa, 1.225 kg/m³: ICAO Doc 7488, second-hand."""
    assert standard.standard_temperature_k(0.0) == 288.15
    assert standard.standard_pressure_hpa(0.0) == 1013.25
    assert standard.standard_density_kg_per_m3(0.0) == pytest.approx(1.225, abs=1e-6)


def test_above_the_tropopause_nothing_is_said() -> None:
    """NaN above 11 km, and where the elevation is not known."""
    found = [
        of(np.array([11_000.1, np.nan]))
        for of in (
            standard.standard_temperature_k,
            standard.standard_pressure_hpa,
            standard.standard_density_kg_per_m3,
            standard.metres_per_hpa,
        )
    ]
    assert np.isnan(found).all()


@pytest.mark.parametrize("elevation_m", METRES_PER_HPA)
def test_metres_for_each_hpa(elevation_m: int) -> None:
    """At five elevations; and it is the slope of the pressure itself, by differences."""
    assert standard.metres_per_hpa(elevation_m) == pytest.approx(
        METRES_PER_HPA[elevation_m], abs=0.001
    )
    below, above = standard.standard_pressure_hpa([elevation_m - 1, elevation_m + 1])
    assert standard.metres_per_hpa(elevation_m) == pytest.approx(2.0 / (below - above), rel=1e-6)


# -- what is flown where a height is typed ------------------------------------------------


@pytest.mark.parametrize(
    ("temperature_c", "factor", "errors_m"),
    [
        (-20, 0.8785, (-12.15, -14.58, -36.44)),
        (-10, 0.9132, (-8.68, -10.41, -26.03)),
        (0, 0.9479, (-5.21, -6.25, -15.62)),
        (5, 0.9653, (-3.47, -4.16, -10.41)),
        (15, 1.0, (0.0, 0.0, 0.0)),
        (25, 1.0347, (3.47, 4.16, 10.41)),
        (30, 1.0521, (5.21, 6.25, 15.62)),
        (35, 1.0694, (6.94, 8.33, 20.82)),
        (40, 1.0868, (8.68, 10.41, 26.03)),
    ],
)
def test_errors_of_typed_heights(
    temperature_c: float, factor: float, errors_m: tuple[float, ...]
) -> None:
    """Typed 100, 120 and 300 m at sea level: air / 288.15 K, from an independent computation."""
    assert air.height_factor(temperature_c, elevation_m=0.0) == pytest.approx(factor, abs=5e-5)
    found = air.declared_bias_m([100, 120, 300], temperature_c=temperature_c, elevation_m=0.0)
    assert found == pytest.approx(errors_m, abs=0.0051)


def test_the_error_of_a_typed_height_is_not_what_to_add_to_a_true_one() -> None:
    """-10 °C: a typed 120 m is flown 10.41 m lower, but 11.424 m are to be added to fly 120 m.

    Flown at 109.59 m, and typed 131.424 m within 3 cm of the true 120 m.
    """
    error = float(air.declared_bias_m(120.0, temperature_c=-10.0, elevation_m=0.0))
    add = float(air.add_to_true(120.0, temperature_c=-10.0, elevation=0.0))
    assert (round(error, 2), round(add, 3)) == (-10.41, 11.424)
    typed = 120.0 + add
    assert typed + air.declared_bias_m(
        typed, temperature_c=-10.0, elevation_m=0.0
    ) == pytest.approx(120.0, abs=0.03)


@pytest.mark.parametrize("temperature_c", [-30.0, -10.0, 30.0])
@pytest.mark.parametrize("elevation_m", [0.0, 2000.0])
def test_columns_of_air_are_in_the_ratio_of_their_temperatures(
    temperature_c: float, elevation_m: float
) -> None:
    """Integrated in steps of 1 cm: dz = -R T / (g p) dp in the air, and in the standard.

    Both start at the launch's pressure and cool by 6.5 K a kilometre.
    """
    step, steps = 0.01, 30_000
    air_k, assumed_k = temperature_c + 273.15, 288.15 - 0.0065 * elevation_m
    heights = (np.arange(steps) + 0.5) * step
    fallen = np.cumsum(9.80665 / (287.05287 * (air_k - 0.0065 * heights))) * step  # -ln(p / p0)
    assumed = assumed_k / 0.0065 * -np.expm1(-0.0065 * 287.05287 / 9.80665 * fallen)
    factor = air.height_factor(temperature_c, elevation_m=elevation_m)
    assert steps * step / assumed[-1] == pytest.approx(factor, abs=1e-7)


def test_on_a_hot_day_it_flies_higher() -> None:
    """20 K above standard: 120 x 20 / 288.15 = 8.33 m; 35 °C over 120 m at sea level."""
    found = air.declared_bias_m(120.0, temperature_c=35.0, elevation_m=0.0)
    assert found == pytest.approx(120 * 20 / 288.15, abs=1e-9)


def test_below_launch_the_sign_turns() -> None:
    """Cold air brings an aircraft below launch nearer to launch: higher; hot air lower."""
    cold = air.declared_bias_m([-100.0, 0.0, 100.0], temperature_c=-10.0, elevation_m=0.0)
    assert cold == pytest.approx([8.68, 0.0, -8.68], abs=0.005)
    hot = air.declared_bias_m(-100.0, temperature_c=40.0, elevation_m=0.0)
    assert hot == pytest.approx(-8.68, abs=0.005)


def test_which_temperature_it_assumes() -> None:
    """2,000 m and 15 °C: x 1.0472 by standard there, x 1 by standard at sea level.

    A sensor at 45 °C in air of 10 °C: 283.15 / 318.15 = 0.890.
    """
    high = air.height_factor(15.0, elevation_m=2000.0)
    assert high == pytest.approx(1.0472, abs=5e-5)
    assert air.height_factor(15.0, elevation_m=2000.0, reference="sea-level") == 1.0
    assert air.height_factor(
        10.0, elevation_m=0.0, reference="sensor", sensor_warming_k=35.0
    ) == pytest.approx(0.890, abs=5e-4)
    assert air.height_factor(10.0, elevation_m=0.0, reference="sensor") == 1.0


def test_the_span_of_the_conventions() -> None:
    """Not known: from the hot sensor's 288.15 / 323.15 to 1.0472; known: that one alone."""
    assert air.factor_span(15.0, elevation_m=2000.0) == pytest.approx(
        (288.15 / 323.15, 288.15 / 275.15)
    )
    assert air.factor_span(15.0, elevation_m=2000.0, sensor_warming_k=0.0) == pytest.approx(
        (1.0, 288.15 / 275.15)
    )
    for reference in ("launch", "sea-level"):
        low, high = air.factor_span(-5.0, elevation_m=2000.0, reference=reference)
        assert low == high == air.height_factor(-5.0, elevation_m=2000.0, reference=reference)
    assert air.factor_span(10.0, elevation_m=0.0, reference="sensor") == pytest.approx(
        (283.15 / 318.15, 1.0)
    )


@pytest.mark.parametrize("source", ["gnss", "rtk"])
def test_satellites_tell_heights_without_air(source: str) -> None:
    """No bias and no doubt."""
    found = air.declared_bias_m(
        [300.0, -50.0], temperature_c=-20.0, elevation_m=0.0, height_from=source
    )
    assert found.tolist() == [0.0, 0.0]
    sigma = air.temperature_sigma_m([300.0], temperature_c=None, height_from=source)
    assert sigma.tolist() == [0.0]


def test_what_is_not_declared_is_not_applied() -> None:
    """No temperature, no bias; a temperature without an elevation to compare it with: not known."""
    assert air.declared_bias_m([120.0], temperature_c=None, elevation_m=np.nan).tolist() == [0.0]
    assert np.isnan(air.declared_bias_m([120.0], temperature_c=5.0, elevation_m=np.nan)).all()
    at_sea_level = air.declared_bias_m(
        [120.0], temperature_c=5.0, elevation_m=np.nan, reference="sea-level"
    )
    assert at_sea_level == pytest.approx([-4.16], abs=0.005)


def test_what_doubt_is_left() -> None:
    """3 K where stated, 1.04 % of the height: 1.56 m at 150 m; 5 K where not. Common practice."""
    stated = air.temperature_sigma_m([150.0, -150.0], temperature_c=-4.0)
    assert stated == pytest.approx([1.562, 1.562], abs=0.001)
    assert air.temperature_sigma_m(150.0, temperature_c=None) == pytest.approx(2.603, abs=0.001)


# -- pressure and wind -------------------------------------------------------------------


def test_pressure_drift() -> None:
    """-1 hPa/h for 20 min at 1,500 m: 9.638 / 3 = 3.2 m lower; one hPa at sea level 8.32 m."""
    found = air.pressure_drift_m(-1.0, [0.0, 1200.0], elevation_m=1500.0)
    assert found == pytest.approx([0.0, -3.2125], abs=0.0005)
    rising = air.pressure_drift_m(1.0, 3600.0, elevation_m=0.0)
    assert rising == pytest.approx(8.324, abs=0.0005)


@pytest.mark.parametrize(
    ("speed", "whole_m", "fifth_m"), [(5, 1.27, 0.25), (10, 5.10, 1.02), (15, 11.47, 2.29)]
)
def test_dynamic_pressure(speed: float, whole_m: float, fifth_m: float) -> None:
    """V²/2g, and a fifth of it at the static port; from an independent computation."""
    assert air.dynamic_pressure_m(speed) == pytest.approx(whole_m, abs=0.0051)
    assert air.static_source_m(speed) == pytest.approx(fifth_m, abs=0.0051)


def test_wind_over_a_crest() -> None:
    """10 m/s half as fast again: 100 x 1.25 / 19.6133 = 6.37 m lower; no speed-up, nothing."""
    assert air.crest_wind_m(10.0) == pytest.approx(6.373, abs=0.0005)
    assert air.crest_wind_m(10.0, speed_up=2.0) == pytest.approx(15.296, abs=0.0005)
    assert air.crest_wind_m(10.0, speed_up=1.0) == 0.0

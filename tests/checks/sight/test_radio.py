"""What a radio path needs and loses, against handbook numbers."""

from __future__ import annotations

import numpy as np
import pytest

from terrain_guard.checks.sight import radio

# Radius of the first Fresnel zone: ITU-R P.526-8, equation 2 (read), with c = 299,792,458 m/s;
# metres, worked by hand to the digits given: (GHz, d1, d2, radius).
RADII = [
    (2.4, 1000, 1000, 7.903),
    (2.4, 500, 500, 5.588),
    (5.8, 2500, 2500, 8.038),
    (0.868, 5000, 5000, 29.385),
    (2.4, 200, 1800, 4.742),
    (0.9, 500, 500, 9.13),
    (5.8, 500, 500, 3.59),
]


@pytest.mark.parametrize(("ghz", "d1", "d2", "expected"), RADII)
def test_radius_of_the_first_zone(ghz: float, d1: float, d2: float, expected: float) -> None:
    """The exact form, to the last digit given."""
    found = float(radio.fresnel_radius_m(radio.wavelength_m(ghz), d1, d2))
    assert found == pytest.approx(expected, abs=0.006 if expected in {9.13, 3.59} else 0.0006)


def test_practical_form_of_the_radius() -> None:
    """P.526's form 550 √(d₁ d₂ / (d₁ + d₂) f), km and MHz, is 0.45 % larger: a rounded constant."""
    for ghz, d1, d2, _ in RADII:
        found = float(radio.fresnel_radius_m(radio.wavelength_m(ghz), d1, d2))
        practical = 550 * np.sqrt(d1 * d2 / 1e6 / ((d1 + d2) / 1e3 * ghz * 1e3))
        assert practical / found == pytest.approx(1.0045, abs=1e-4)


def test_six_tenths() -> None:
    """0.6 of the radius in the middle of 1 km at 2.4 GHz: 3.35 m (handbook number)."""
    radius = radio.fresnel_radius_m(radio.wavelength_m(2.4), 500, 500)
    assert float(radio.FREE_RADII * radius) == pytest.approx(3.35, abs=0.005)


@pytest.mark.parametrize(
    ("nu", "loss_db"),
    [(-5.0, 0.0), (-0.78, 0.0), (0.0, 6.03), (1.0, 13.93), (2.0, 19.04), (3.0, 22.42),
     (6.534, 29.14)],
)  # fmt: skip
def test_knife_edge(nu: float, loss_db: float) -> None:
    """J(ν) of P.526, two decimals (formula from memory, worked by hand)."""
    assert float(radio.knife_edge_loss_db(nu)) == pytest.approx(loss_db, abs=0.006)


@pytest.mark.parametrize("nu", [-0.5, 0.0, 0.7, 1.5, 3.0])
def test_knife_edge_against_fresnel_integrals(nu: float) -> None:
    """The approximation is within 0.12 dB of the diffraction integral itself.

    Loss of a half plane: −20 log₁₀ |∫_ν^∞ e^(−iπt²/2) dt / √2| (any optics book; SciPy's
    integrals).
    """
    from scipy.special import fresnel

    s, c = fresnel(nu)
    exact = -20 * np.log10(np.hypot(0.5 - c, 0.5 - s) / np.sqrt(2))
    assert float(radio.knife_edge_loss_db(nu)) == pytest.approx(exact, abs=0.12)


def test_unknown_stays_unknown() -> None:
    """NaN clearance gives NaN loss, never 0."""
    assert np.isnan(radio.knife_edge_loss_db(radio.nu_of([np.nan]))).all()


def test_ridge_in_the_path() -> None:
    """20 m above a path of 300 m + 300 m at 2.4 GHz: ν = 6.534, both ways to write it."""
    radius = radio.fresnel_radius_m(radio.wavelength_m(2.4), 300, 300)
    nu = float(radio.nu_of(-20 / radius))
    assert nu == pytest.approx(6.534, abs=5e-4)
    assert nu == pytest.approx(20 * np.sqrt(2 * 600 / (radio.wavelength_m(2.4) * 300 * 300)))


def test_free_space() -> None:
    """1 km at 2.4 GHz against the handbook form 32.45 + 20 log f(MHz) + 20 log d(km).

    Tables print 100.04 to 100.05 dB, as they round the constant (32.44 or 32.45).
    """
    found = float(radio.free_space_loss_db(1000, radio.wavelength_m(2.4)))
    assert found == pytest.approx(100.045, abs=0.01)
    assert found == pytest.approx(32.45 + 20 * np.log10(2400), abs=0.005)


@pytest.mark.parametrize(
    ("length_m", "k", "bulge_m"),
    [(500, 1, 0.005), (1000, 1, 0.0196), (2000, 1, 0.0785), (2000, 4 / 3, 0.0589),
     (10_000, 4 / 3, 1.4715), (50_000, 4 / 3, 36.788)],
)  # fmt: skip
def test_earth_bulge(length_m: float, k: float, bulge_m: float) -> None:
    """In the middle, L² / 8kR with R = 6371 km, by hand."""
    found = float(radio.earth_bulge_m(length_m / 2, length_m / 2, curvature=k))
    assert found == pytest.approx(bulge_m, abs=6e-4)


@pytest.mark.parametrize(
    ("distance_m", "k", "drop_m"),
    [(500, 1, 0.020), (1000, 1, 0.078), (2000, 1, 0.314), (5000, 1, 1.962), (5000, 4 / 3, 1.472),
     (10_000, 1, 7.848)],
)  # fmt: skip
def test_earth_drop(distance_m: float, k: float, drop_m: float) -> None:
    """d² / 2kR, by hand."""
    assert float(radio.earth_drop_m(distance_m, curvature=k)) == pytest.approx(drop_m, abs=6e-4)


@pytest.mark.parametrize("ghz", [0.0, -2.4, np.nan, np.inf])
def test_no_such_frequency(ghz: float) -> None:
    """Refused, with what was given."""
    with pytest.raises(ValueError, match="frequency_ghz is"):
        radio.wavelength_m(ghz)

"""Accuracies as producers print them, turned into one sigma and back."""

from __future__ import annotations

import math

import numpy as np
import pytest
from scipy import stats

from terrain_guard.checks.budget.classes import GLOBAL, LIDAR, RADAR
from terrain_guard.checks.budget.confidence import axis_sigma_of_circular, sigma_of_linear
from terrain_guard.errors import RefusedInput

# Published pairs: accuracy (m), share, RMSE or one sigma (m), tolerance from the digits printed.
LINEAR = [
    # MIL-PRF-89020B (DTED level 1): "30 meters linear error at 90 percent" = "RMSE of 18 meters",
    # read in the document.
    (30.0, 0.90, 18.0, 0.5),
    # SRTM mission goal, 16 m at 90 % = RMSE 9.73 m; second-hand.
    (16.0, 0.90, 9.73, 0.01),
    # Copernicus DEM, the producer's 2022 validation sheet: LE90 2.57 m = LE68 1.56 m (LE68 is one
    # sigma to the digits printed); second-hand.
    (2.57, 0.90, 1.56, 0.01),
    # USGS Lidar Base Specification, quality levels 0 to 3: RMSEz 5, 10, 20 cm and NVA at 95 % of
    # 9.8, 19.6, 39.2 cm; read.
    (0.098, 0.95, 0.05, 5e-5),
    (0.196, 0.95, 0.10, 5e-5),
    (0.392, 0.95, 0.20, 5e-5),
]


@pytest.mark.parametrize(("error_m", "share", "sigma_m", "tolerance"), LINEAR)
def test_published_linear_errors_have_their_published_sigma(
    error_m: float, share: float, sigma_m: float, tolerance: float
) -> None:
    """What a document prints twice, as an accuracy and as RMSE, agrees."""
    assert sigma_of_linear(error_m, share) == pytest.approx(sigma_m, abs=tolerance)


@pytest.mark.parametrize(
    ("share", "factor"),
    [
        # NSSDA, FGDC-STD-007.3-1998, 1.9600 at 95 % (from memory; the derivation agrees); LE90 and
        # LE50 are textbook values of the normal distribution.
        (0.50, 0.6745),
        (0.90, 1.6449),
        (0.95, 1.9600),
    ],
)
def test_linear_factors_are_those_of_the_handbook(share: float, factor: float) -> None:
    """So many sigma hold so large a share."""
    assert 1 / sigma_of_linear(1.0, share) == pytest.approx(factor, abs=5e-5)


@pytest.mark.parametrize(
    ("share", "factor"),
    [(0.90, 2.1460), (0.95, 2.4477)],  # sqrt(-2 ln(1 - share)): Rayleigh's distribution
)
def test_circular_factors_are_those_of_the_handbook(share: float, factor: float) -> None:
    """The same of places, per axis."""
    assert 1 / axis_sigma_of_circular(1.0, share) == pytest.approx(factor, abs=5e-5)


def test_nssda_counts_both_axes_together() -> None:
    """NSSDA, FGDC-STD-007.3-1998: 95 % = 1.7308 RMSEr, RMSEr being both axes (from memory)."""
    along_axis = axis_sigma_of_circular(1.0, 0.95)
    assert 1 / (along_axis * math.sqrt(2)) == pytest.approx(1.7308, abs=5e-5)


def test_le90_and_le95_of_one_error_agree() -> None:
    """4 m LE90 are 2.432 m RMSE and 4.766 m LE95: the factors applied one after the other."""
    sigma = sigma_of_linear(4.0, 0.90)
    assert sigma == pytest.approx(2.432, abs=1e-3)
    assert sigma * stats.norm.ppf(0.975) == pytest.approx(4.766, abs=1e-3)


def test_circular_errors_hold_their_share_of_drawn_places() -> None:
    """Half a million places drawn with that sigma per axis: 90 % lie within."""
    random = np.random.default_rng(1)
    away = np.hypot(*random.normal(0.0, axis_sigma_of_circular(6.0, 0.90), (2, 500_000)))
    assert (away <= 6.0).mean() == pytest.approx(0.90, abs=0.0015)  # 3.5 sigma of the share


@pytest.mark.parametrize("error_m", [-1.0, math.nan, math.inf])
def test_what_is_no_accuracy_is_refused(error_m: float) -> None:
    """Negative, no number, endless."""
    with pytest.raises(RefusedInput, match="accuracy: given"):
        sigma_of_linear(error_m, 0.9)
    with pytest.raises(RefusedInput, match="accuracy: given"):
        axis_sigma_of_circular(error_m, 0.9)


@pytest.mark.parametrize("share", [0.0, 1.0, 90.0, math.nan])
def test_what_is_no_share_is_refused(share: float) -> None:
    """90 is not 90 %."""
    with pytest.raises(RefusedInput, match=r"write 90 % as 0\.9"):
        sigma_of_linear(4.0, share)


def test_the_global_class_keeps_its_published_accuracies() -> None:
    """4 m LE90 in all, 6 m CE90 sideways (a producer's sheet, second-hand): the parts sum to it."""
    assert GLOBAL.sigma_m == pytest.approx(4.0 / stats.norm.ppf(0.95), abs=1e-9)
    assert GLOBAL.registration.value == pytest.approx(2.796, abs=1e-3)


def test_lidar_is_as_good_as_its_quality_level() -> None:
    """USGS quality levels 1 to 3 ask for 10 to 20 cm; 15 cm is the class's."""
    assert 0.10 <= LIDAR.sigma_m <= 0.20


def test_the_radar_class_lies_between_what_was_measured_and_what_was_asked() -> None:
    """No less than the worst continent measured, 9.0 m LE90; no more than the mission's goal, 16 m.

    Both second-hand; the measured errors from 2006. How wide between them, two products of one
    place decide.
    """
    measured, asked = (error / stats.norm.ppf(0.95) for error in (9.0, 16.0))
    assert measured < RADAR.sigma_m < asked

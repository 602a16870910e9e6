"""The error of a model between two points, against closed forms and drawn fields."""

from __future__ import annotations

import math

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from terrain_guard.arrays import Floats
from terrain_guard.checks.budget.classes import GLOBAL, LIDAR
from terrain_guard.checks.budget.dem_error import (
    DemError,
    against_launch,
    covariance_m2,
    survey_shift_m,
)

EXPONENTIAL = DemError(nugget_m=0.0, parts=((3.0, 500.0),), bias_m=0.0)

# Exponential covariance, sigma 3 m, length 500 m: sd of the difference at distances, from
# sqrt(2) * 3 * sqrt(1 - exp(-d / 500)), and what is left once the launch is exactly surveyed,
# 3 * sqrt(1 - exp(-2 d / 500)). Recomputed by drawing two million pairs.
DIFFERENCES = [
    (50.0, 1.31, 1.28),
    (100.0, 1.81, 1.72),
    (250.0, 2.66, 2.39),
    (500.0, 3.37, 2.79),
    (1000.0, 3.95, 2.97),
    (3000.0, 4.24, 3.00),
]


@pytest.mark.parametrize(("apart_m", "difference", "surveyed"), DIFFERENCES)
def test_differences_of_an_exponential_field(
    apart_m: float, difference: float, surveyed: float
) -> None:
    """To the printed digit, without and with an exact survey of the launch."""
    away = np.array([apart_m])
    plain = against_launch(EXPONENTIAL, away).variance_m2
    exact = against_launch(EXPONENTIAL, away, survey_sigma_m=0.0).variance_m2
    assert math.sqrt(plain[0]) == pytest.approx(difference, abs=0.005)
    assert math.sqrt(exact[0]) == pytest.approx(surveyed, abs=0.005)


def test_the_nested_variogram_at_800_m() -> None:
    """0.64 + 1.44 (1 - e^-8) + 0.64 (1 - e^-0.4) = 2.2905, twice of it 4.581."""
    dem = DemError.of(GLOBAL)
    half = 0.8**2 + 1.2**2 * (1 - math.exp(-8)) + 0.8**2 * (1 - math.exp(-0.4))
    assert dem.unlike_m2(np.array([800.0]))[0] == pytest.approx(half, rel=1e-12)
    assert against_launch(dem, np.array([800.0])).variance_m2[0] == pytest.approx(4.581, abs=5e-4)


def test_relative_accuracies_give_their_correlation() -> None:
    """Two published pairs, LE90 absolute and point to point: 4 / 2 m and 16 / 10 m (second-hand).

    Half of the squared ratio is what is not alike: rho = 0.875 and 0.8047.
    """
    for absolute, relative, rho in ((4.0, 2.0, 0.875), (16.0, 10.0, 0.8047)):
        sigma = absolute / 1.6449
        apart = -500.0 * math.log(rho)
        dem = DemError(nugget_m=0.0, parts=((sigma, 500.0),), bias_m=0.0)
        difference = math.sqrt(against_launch(dem, np.array([apart])).variance_m2[0])
        assert difference * 1.6449 == pytest.approx(relative, abs=2e-3)


def test_no_distance_leaves_the_nugget() -> None:
    """Two points of one cell share their height in the model, but not on the ground."""
    for terrain in (GLOBAL, LIDAR):
        dem = DemError.of(terrain)
        near = against_launch(dem, np.array([0.0, 1e-9, 1e-3])).variance_m2
        assert near[0] == pytest.approx(2 * terrain.nugget.value**2, rel=1e-9)
        assert near == pytest.approx(near[0], rel=1e-3)
        assert near[0] > 0


def test_rounding_to_whole_metres_adds_0_289_m_to_the_nugget() -> None:
    """1 / sqrt(12), the sigma of a uniform distribution one metre wide."""
    plain, whole = DemError.of(GLOBAL), DemError.of(GLOBAL, height_step_m=1.0)
    more = math.sqrt(whole.nugget_m**2 - plain.nugget_m**2)
    assert more == pytest.approx(0.289, abs=5e-4)


# ---------------------------------------------------------------- a surveyed launch

NESTED = DemError(nugget_m=0.7, parts=((1.5, 200.0), (1.0, 1500.0)), bias_m=1.2)


def drawn_pairs(dem: DemError, apart_m: float, count: int) -> tuple[Floats, Floats]:
    """Return errors at launch and at a sample, drawn part by part."""
    random = np.random.default_rng(11)
    launch = dem.bias_m * random.standard_normal(count)
    sample = launch.copy()
    for sigma, length in dem.parts:
        rho = math.exp(-apart_m / length)
        first, other = random.standard_normal((2, count))
        launch += sigma * first
        sample += sigma * (rho * first + math.sqrt(1 - rho * rho) * other)
    launch += dem.nugget_m * random.standard_normal(count)
    return launch, sample + dem.nugget_m * random.standard_normal(count)


@pytest.mark.parametrize("survey_sigma_m", [0.0, 0.5, 2.0, 10.0])
@pytest.mark.parametrize("apart_m", [0.0, 60.0, 400.0, 5000.0])
def test_a_surveyed_launch_against_drawn_errors(apart_m: float, survey_sigma_m: float) -> None:
    """A million drawn pairs: shifted heights have the stated variance and no bias left."""
    launch, sample = drawn_pairs(NESTED, apart_m, 1_000_000)
    random = np.random.default_rng(12)
    truth_launch = 200.0
    model = truth_launch + launch
    surveyed = truth_launch + survey_sigma_m * random.standard_normal(launch.size)
    found = against_launch(NESTED, np.array([apart_m]), survey_sigma_m=survey_sigma_m)
    # Height above ground, counted from the model's launch ground, less the true one.
    excess = launch - sample
    shift = survey_shift_m(found.weight, model_m=0.0, surveyed_m=-1.0) * (model - surveyed)
    left = excess + shift
    sigma = math.sqrt(found.variance_m2[0])
    assert left.std() == pytest.approx(sigma, rel=0.004)  # 5 sigma of the estimate
    assert abs(left.mean()) < 5 * sigma / 1000
    # Nothing that the survey says is left in it.
    assert abs(np.corrcoef(left, model - surveyed)[0, 1]) < 0.005


def test_counting_from_the_survey_comes_to_the_same() -> None:
    """The height above ground is one, whichever launch ground it was counted from."""
    weight = np.array([0.0, 0.3, 1.0])
    model, surveyed, ground, typed = 212.0, 210.5, 180.0, 60.0
    one = model + typed - ground + survey_shift_m(weight, model_m=model, surveyed_m=surveyed)
    other = (
        surveyed + typed - ground
        + survey_shift_m(weight, model_m=model, surveyed_m=surveyed, counted_from="survey")
    )  # fmt: skip
    assert one == pytest.approx(other, abs=1e-12)


def test_a_survey_of_no_worth_changes_nothing() -> None:
    """Sigma without end leaves twice the semivariance, and no shift."""
    away = np.array([0.0, 100.0, 3000.0])
    plain = against_launch(NESTED, away)
    worthless = against_launch(NESTED, away, survey_sigma_m=1e9)
    assert worthless.variance_m2 == pytest.approx(plain.variance_m2, rel=1e-12)
    assert worthless.variance_m2 == pytest.approx(2 * NESTED.unlike_m2(away), rel=1e-12)
    assert worthless.weight == pytest.approx(0.0, abs=1e-12)


def test_an_exact_survey_without_nugget_and_bias() -> None:
    """The textbook's sigma² (1 - rho²)."""
    away = np.array([50.0, 347.0, 2000.0])
    rho = np.exp(-away / 500.0)
    exact = against_launch(EXPONENTIAL, away, survey_sigma_m=0.0).variance_m2
    assert exact == pytest.approx(9.0 * (1 - rho**2), rel=1e-12)


@settings(deadline=None)
@given(
    away=st.floats(0, 1e5),
    sigma=st.floats(0, 100),
    nugget=st.floats(0, 5),
    bias=st.floats(0, 20),
)
def test_a_survey_never_makes_it_worse(
    away: float, sigma: float, nugget: float, bias: float
) -> None:
    """Neither than the model alone, nor than the survey alone."""
    dem = DemError(nugget_m=nugget, parts=((2.0, 300.0),), bias_m=bias)
    at = np.array([away])
    with_survey = against_launch(dem, at, survey_sigma_m=sigma).variance_m2[0]
    alone = against_launch(dem, at, survey_sigma_m=sigma, launch_on_model=False).variance_m2[0]
    assert -1e-9 <= with_survey <= against_launch(dem, at).variance_m2[0] + 1e-9
    assert with_survey <= alone + 1e-9


def test_one_model_beats_an_exact_launch_of_another_up_to_347_m() -> None:
    """For an exponential field they break even where rho is a half: 500 ln 2 = 346.6 m."""
    away = np.array([346.0, 347.0])
    same = against_launch(EXPONENTIAL, away).variance_m2
    other = against_launch(EXPONENTIAL, away, survey_sigma_m=0.0, launch_on_model=False).variance_m2
    assert (same < other).tolist() == [True, False]


# ---------------------------------------------------------------- between samples


@pytest.mark.parametrize("survey_sigma_m", [None, 0.8])
def test_covariances_against_a_drawn_field(survey_sigma_m: float | None) -> None:
    """Four samples and a launch, drawn by their own Cholesky root, conditioned by regression."""
    x = np.array([0.0, 30.0, 400.0, 900.0, 905.0])  # the launch first
    apart = np.abs(x[:, None] - x)
    field = 2.0**2 * np.exp(-apart / 150.0) + 0.5**2 * np.eye(5)
    random = np.random.default_rng(5)
    errors = random.standard_normal((600_000, 5)) @ np.linalg.cholesky(field).T
    errors += 1.5 * random.standard_normal((600_000, 1))
    differences = errors[:, 1:] - errors[:, :1]
    if survey_sigma_m is not None:
        told = errors[:, 0] + survey_sigma_m * random.standard_normal(600_000)
        slope = (differences * told[:, None]).mean(axis=0) / (told**2).mean()
        differences = differences - told[:, None] * slope
    dem = DemError(nugget_m=0.5, parts=((2.0, 150.0),), bias_m=1.5)
    found = covariance_m2(
        dem, apart_m=apart[1:, 1:], away_m=x[1:], shared_nugget=np.eye(4),
        survey_sigma_m=survey_sigma_m,
    )  # fmt: skip
    assert found == pytest.approx(np.cov(differences.T), abs=0.05)
    variance = against_launch(dem, x[1:], survey_sigma_m=survey_sigma_m).variance_m2
    assert np.diag(found) == pytest.approx(variance, rel=1e-12)


def test_a_launch_off_the_model_shares_its_error_with_all_samples() -> None:
    """Bias and survey are in every sample, the field and its nugget in each alone."""
    apart = np.array([[0.0, 50.0], [50.0, 0.0]])
    dem = DemError(nugget_m=0.5, parts=((2.0, 150.0),), bias_m=1.5)
    found = covariance_m2(
        dem, apart_m=apart, away_m=np.zeros(2), shared_nugget=np.eye(2), survey_sigma_m=0.3,
        launch_on_model=False,
    )  # fmt: skip
    shared = 1.5**2 + 0.3**2 + 4 * math.exp(-1 / 3)
    assert found == pytest.approx(
        np.array([[4.0 + 0.25 + 2.34, shared], [shared, 4.0 + 0.25 + 2.34]])
    )

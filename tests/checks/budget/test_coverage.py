"""Margins hold as often as they say, over terrain invented by a second method."""

from __future__ import annotations

import math

import numpy as np
import pytest
from scipy import stats

from tests.checks.budget.coverage_counts import Coverage, interval
from tests.checks.budget.coverage_crests import K_SHARP
from tests.checks.budget.coverage_sim import K_SINGLE, WITHIN, Waves, run

TERRAINS = 200


@pytest.fixture(scope="module")
def coverage() -> Coverage:
    """Return what 200 flights came to."""
    return run(TERRAINS, seed=2024)


@pytest.mark.parametrize("k", K_SINGLE)
@pytest.mark.parametrize("side", [1, -1])
def test_single_places_break_as_often_as_stated(coverage: Coverage, k: float, side: int) -> None:
    """Beyond k sigma on one side: within the 99 % interval of the binomial distribution."""
    low, high = coverage.interval(stats.norm.sf(k))
    assert low <= coverage.singles[side * k] <= high


def test_flights_break_as_often_as_stated(coverage: Coverage) -> None:
    """Anywhere along the route: no more than the chances given for them sum to, with 99 %.

    Nor much less: a fifth is left open, for between posts the fields are interpolated.
    """
    low, high = coverage.flights_expected()
    assert low - 0.2 * sum(coverage.expected) <= coverage.flights <= high
    assert sum(coverage.expected) > 0.1 * TERRAINS  # else it would say little


@pytest.mark.parametrize("side", ["floor", "ceiling"])
def test_flights_called_within_break_no_more_often_than_allowed(
    coverage: Coverage, side: str
) -> None:
    """5 % below and 10 % above, with 99 %; of all flights more than that break."""
    _, allowed = WITHIN[side]
    assert coverage.called[side] > 0.1 * TERRAINS  # else it would say little
    _, high = interval(coverage.called[side], allowed)
    assert coverage.called_broke[side] <= high


@pytest.mark.parametrize("of", ["crests", "gullies"])
def test_sharp_ground_breaks_no_more_often_than_stated(coverage: Coverage, of: str) -> None:
    """With the bound for clipped crests, or filled gullies; without it more often."""
    sharp = getattr(coverage, of)
    _, high = coverage.interval(stats.norm.sf(K_SHARP))
    assert sharp.with_bound <= high
    assert sharp.without > high


def test_the_fields_have_the_covariance_they_claim() -> None:
    """Sums of cosines, 4,000 of them: variance, covariance at two distances, fourth moment."""
    random = np.random.default_rng(1)
    x = np.array([0.0, 60.0, 250.0])
    drawn = np.stack([Waves.exponential(random, 2.0, 100.0).at(x, 0.5 * x) for _ in range(4000)])
    away = x * math.hypot(1.0, 0.5)
    found = (drawn * drawn[:, :1]).mean(axis=0)
    assert found == pytest.approx(4.0 * np.exp(-away / 100.0), abs=0.35)  # four sigma
    assert stats.kurtosis(drawn[:, 0]) == pytest.approx(0.0, abs=0.35)

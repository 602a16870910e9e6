"""How many sigma a chance takes."""

from __future__ import annotations

import math

import numpy as np
import pytest
from scipy import stats

from terrain_guard.checks.budget.tails import (
    below,
    k_of_route,
    k_words,
    quantiles_of_least,
    tail,
)
from terrain_guard.errors import RefusedInput

PLACES = [1, 5, 10, 20, 50, 100]
# k at each of N independent places for a chance of the whole; computed with SciPy's
# normal quantiles.
K_OF_ROUTE = {
    0.05: [1.645, 2.319, 2.568, 2.799, 3.083, 3.283],
    0.01: [2.326, 2.877, 3.089, 3.289, 3.539, 3.718],
    0.001: [3.090, 3.540, 3.719, 3.890, 4.107, 4.265],
}


@pytest.mark.parametrize("chance", K_OF_ROUTE)
def test_k_of_a_route(chance: float) -> None:
    """To the printed digit."""
    found = [k_of_route(chance, places) for places in PLACES]
    assert found == pytest.approx(K_OF_ROUTE[chance], abs=5e-4)


@pytest.mark.parametrize(
    ("k", "normal", "one_hump", "any_shape"),
    [
        (1.645, 0.04998, 0.1199, 0.2698),
        (2.326, 0.01001, 0.0693, 0.1560),
        (3.0, 0.00135, 0.0444, 0.1000),
        (4.0, 3e-05, 0.0261, 0.0588),
    ],
)
def test_what_k_is_worth(k: float, normal: float, one_hump: float, any_shape: float) -> None:
    """Normal; Vysochanskij and Petunin 1980, one-sided; Cantelli 1928 (formulas from memory)."""
    found = tail(k)
    assert found.normal == pytest.approx(normal, abs=1e-5)
    assert found.one_hump == pytest.approx(one_hump, abs=5e-5)
    assert found.any_shape == pytest.approx(any_shape, abs=5e-5)


def test_cantellis_bound_is_met_by_two_points() -> None:
    """The worst shape: k with chance 1 / (1 + k²), else -1 / k. Mean 0, sigma 1."""
    k, share = 2.5, tail(2.5).any_shape
    assert share * k + (1 - share) * (-1 / k) == pytest.approx(0.0, abs=1e-12)
    assert share * k**2 + (1 - share) / k**2 == pytest.approx(1.0, abs=1e-12)


def test_the_words_promise_nothing_that_errors_do_not_keep() -> None:
    """Nominal, and only if normal."""
    assert k_words(2.33) == "k = 2.33 (nominally 99.0 % if errors were normal)"


@pytest.mark.parametrize(("chance", "places"), [(0.0, 5), (1.0, 5), (math.nan, 5), (0.05, 0)])
def test_no_chance_no_k(chance: float, places: int) -> None:
    """Refused."""
    with pytest.raises(RefusedInput, match="a chance lies between 0 and 1"):
        k_of_route(chance, places)


@pytest.mark.parametrize("k", [0.0, 1.0, math.nan])
def test_the_bound_for_one_hump_has_its_range(k: float) -> None:
    """From k² = 5/3 on."""
    with pytest.raises(RefusedInput, match=r"holds from 1\.29 on"):
        tail(k)


def test_the_table_of_the_normal_distribution() -> None:
    """Against SciPy's, between the table's own points, and beyond its ends."""
    sigmas = np.concatenate((np.linspace(-8.9995, 8.9995, 7001), [-40.0, 40.0, -np.inf, np.inf]))
    assert below(sigmas) == pytest.approx(stats.norm.cdf(sigmas), abs=2e-7)
    assert np.isnan(below(np.array([np.nan]))).all()


@pytest.mark.parametrize("count", [1.0, 4.0, 10.0])
def test_quantiles_of_the_least_of_several(count: float) -> None:
    """Against the least of so many drawn normal numbers."""
    drawn = np.random.default_rng(3).standard_normal((200_000, int(count))).min(axis=1)
    found = np.sort(quantiles_of_least(count, 4096))
    assert found.mean() == pytest.approx(drawn.mean(), abs=0.01)
    assert np.quantile(found, [0.05, 0.5]) == pytest.approx(
        np.quantile(drawn, [0.05, 0.5]), abs=0.02
    )

"""What cells cut off crests, against the true ground and its means over cells."""

from __future__ import annotations

import math
from collections.abc import Callable
from typing import Final

import numpy as np
import pytest

from terrain_guard.arrays import Floats
from terrain_guard.checks.budget.clipping import (
    PEAK,
    clipped_m,
    filled_m,
    peak_deficit_m,
    ridge_deficit_m,
)
from terrain_guard.checks.budget.slopes import Slopes, slopes_of
from tests.checks.budget.worked import bilinear, cell_means, near

SIDE: Final = 17  # posts along a side; the crest stands near the middle one
SLOPE: Final = 0.4
ROUNDED: Final = 0.01 * SLOPE
"""Sides are measured between means of cells, which are rounded off near a top: a hundredth of a
cell's rise is left open for it."""


def crest(
    east: float, south: float, *, turn: float = 0.0, long: float = math.inf
) -> Callable[[Floats, Floats], Floats]:
    """Return the ground of a crest through a place: a cone, `long` times as long as wide."""

    def ground(column: Floats, row: Floats) -> Floats:
        x, y = column - east, row - south
        across = x * math.cos(turn) + y * math.sin(turn)
        along = y * math.cos(turn) - x * math.sin(turn)
        return np.asarray(-SLOPE * np.hypot(across, along / long))

    return ground


def bound_and_deficit(
    ground: Callable[[Floats, Floats], Floats], row: Floats, column: Floats
) -> tuple[Floats, Floats, Slopes]:
    """Return the bound that the model gives rise to, and how much higher the true ground is."""
    z = cell_means(ground, SIDE)
    found = slopes_of(near(z, row, column, cell_m=1.0), reach_m=1.2)
    return (
        clipped_m(1.0, found.crest, found.peak),
        ground(column, row) - bilinear(z, row, column),
        found,
    )


# Ridge and cone, deficits in metres for c = 5, 30, 90 and slopes of 30 and 45 degrees, from mean
# values over cells by numerical integration.
RIDGES = [(5.0, 30, 1.44), (30.0, 30, 8.66), (90.0, 30, 25.98), (90.0, 45, 45.0), (1.0, 20, 0.18)]
PEAKS = [(5.0, 30, 2.21), (30.0, 30, 13.25), (90.0, 45, 68.87), (1.0, 30, 0.44)]


@pytest.mark.parametrize(("cell_m", "degrees", "deficit_m"), RIDGES)
def test_ridges(cell_m: float, degrees: float, deficit_m: float) -> None:
    """Half a cell times the slope."""
    slope = np.array([math.tan(math.radians(degrees))])
    assert ridge_deficit_m(cell_m, slope)[0] == pytest.approx(deficit_m, abs=0.005)
    assert filled_m(cell_m, slope, np.zeros(1))[0] == pytest.approx(deficit_m, abs=0.005)


@pytest.mark.parametrize(("cell_m", "degrees", "deficit_m"), PEAKS)
def test_peaks(cell_m: float, degrees: float, deficit_m: float) -> None:
    """0.7652 of a cell times the slope."""
    slope = np.array([math.tan(math.radians(degrees))])
    assert peak_deficit_m(cell_m, slope)[0] == pytest.approx(deficit_m, abs=0.005)
    assert clipped_m(cell_m, slope, np.ones(1))[0] == pytest.approx(deficit_m, abs=0.005)


def test_the_mean_distance_from_a_corner_of_a_square() -> None:
    """The closed form against four million points of the square."""
    line = (np.arange(2000) + 0.5) / 2000
    assert np.hypot(line[:, None], line).mean() == pytest.approx(PEAK, abs=1e-6)
    assert pytest.approx(0.7652, abs=5e-5) == PEAK


def test_a_model_that_does_not_resolve_its_cells_cuts_off_more() -> None:
    """Means over two cells: the deficit of cells twice as wide."""
    fine = crest(8.5, 8.5)
    wide = cell_means(lambda column, row: fine(2 * column, 2 * row), 9)  # cells of 2, crest on edge
    at = np.array([4.25])
    deficit = fine(2 * at, 2 * at) - bilinear(wide, at, at)
    slope = np.array([SLOPE])
    assert ridge_deficit_m(1.0, slope, factor=2.0)[0] >= deficit[0]
    assert ridge_deficit_m(1.0, slope, factor=1.0)[0] < 2 * deficit[0]
    assert ridge_deficit_m(1.0, slope, factor=2.0)[0] == ridge_deficit_m(2.0, slope)[0]


@pytest.mark.parametrize("offset", [0.0, 0.1, 0.25, 0.4, 0.5])
def test_a_ridge_along_the_rows(offset: float) -> None:
    """On an edge it loses a half, in the middle a quarter of a cell's rise; off it less."""
    ground = crest(8.0 + offset, 8.0)
    column = np.array([8.0 + offset, 8.0 + offset + 0.7, 10.0 + offset])
    bound, deficit, found = bound_and_deficit(ground, np.full(3, 8.3), column)
    if offset in (0.0, 0.5):
        share = 0.25 if offset == 0.0 else 0.5
        assert deficit[0] == pytest.approx(share * SLOPE, rel=1e-3)
    assert found.peak == pytest.approx(0.0, abs=1e-9)
    assert bound[:2] == pytest.approx(0.5 * SLOPE, rel=1e-9)
    assert (bound >= deficit - 1e-9).all()
    assert deficit[1] < deficit[0] + 1e-9
    assert deficit[2] < 0.05 * SLOPE  # two cells off nothing is cut


def test_ridges_across_the_cells_at_any_angle() -> None:
    """Everywhere near 60 ridges the bound covers the deficit; it is no more than it has to be."""
    random = np.random.default_rng(7)
    short, ample = [], []
    for _ in range(60):
        ground = crest(*random.uniform(7.5, 8.5, 2), turn=random.uniform(0, math.pi))
        row, column = random.uniform(6.5, 9.5, (2, 400))
        bound, deficit, _ = bound_and_deficit(ground, row, column)
        short.append((deficit - bound).max())
        ample.append(bound.mean())
    assert max(short) <= ROUNDED
    assert np.median(ample) < 0.58 * SLOPE  # a ridge's, not a peak's 0.765


@pytest.mark.parametrize("long", [1.0, 1.5, 2.0, 3.0, 6.0])
def test_peaks_and_elongated_peaks(long: float) -> None:
    """The same of 60 peaks each, round ones and long ones, with the top itself looked at."""
    random = np.random.default_rng(round(10 * long))
    for _ in range(60):
        top = random.uniform(7.5, 8.5, 2)
        ground = crest(*top, turn=random.uniform(0, math.pi), long=long)
        row, column = random.uniform(7.0, 9.0, (2, 300))
        column[0], row[0] = top
        bound, deficit, _ = bound_and_deficit(ground, row, column)
        assert (deficit - bound).max() <= ROUNDED
        assert bound.max() <= PEAK * SLOPE * 1.001


def test_a_cone_between_four_cells_needs_all_of_it() -> None:
    """The worst case is met: the bound is no larger than the deficit by more than a rounding."""
    bound, deficit, found = bound_and_deficit(
        crest(8.5, 8.5, long=1.0), np.array([8.5]), np.array([8.5])
    )
    assert deficit[0] == pytest.approx(PEAK * SLOPE, rel=2e-3)
    assert found.peak[0] == 1.0
    assert bound[0] == pytest.approx(deficit[0], rel=0.01)


def test_a_gully_is_a_ridge_upside_down() -> None:
    """Its cells stand above its floor by the same."""
    ridge = crest(8.5, 8.0, turn=0.3)
    z = -cell_means(ridge, SIDE)
    row, column = np.random.default_rng(2).uniform(7.0, 9.5, (2, 300))
    found = slopes_of(near(z, row, column, cell_m=1.0), reach_m=1.2)
    above = bilinear(z, row, column) + ridge(column, row)
    assert (above - filled_m(1.0, found.gully, found.pit)).max() <= ROUNDED
    upside = slopes_of(near(-z, row, column, cell_m=1.0), reach_m=1.2)
    assert found.gully == pytest.approx(upside.crest)
    assert found.pit == pytest.approx(upside.peak)
    assert above.max() > 0.4 * SLOPE

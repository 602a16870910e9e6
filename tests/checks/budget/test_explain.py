"""A worked budget as rows: whoever adds them up by hand comes to the margin."""

from __future__ import annotations

import math
from typing import Any

import numpy as np
import pytest

from terrain_guard.checks.budget.budget import Budget, budget
from terrain_guard.checks.budget.classes import BAROMETER, GLOBAL, LIDAR, NATIONAL, RTK
from terrain_guard.checks.budget.explain import Row, explain, shrunk
from terrain_guard.checks.budget.launch_spot import LaunchSpot
from terrain_guard.checks.budget.terms import bound_term
from tests.checks.budget.test_budget import worked
from tests.checks.budget.worked import TAN_30, places, setting

AT_99 = worked(GLOBAL, 30.0, BAROMETER, floor_k=2.326)
SPOT = LaunchSpot(x_m=0.0, y_m=0.0, elevation_m=0.0, lower_m=1.5, higher_m=0.7, within_m=10.0)


def of(rows: tuple[Row, ...], what: str) -> list[Row]:
    """Return the rows of a kind."""
    return [row for row in rows if row.what == what]


def a_budget(**more: Any) -> Budget:
    """Return a budget with something in every bucket."""
    given = (bound_term("canopy", floor_m=25.0, source="the model's card"),)
    bias = np.array([-2.0, 1.0])
    at = places(
        2, plane=TAN_30, crest=TAN_30, gully=0.2, face=0.9, launch=SPOT,
        more={"given": given, "bias_m": bias},
    )  # fmt: skip
    return budget(setting(GLOBAL, cell_m=30.0, **more), at)


def test_the_rows_add_up_by_hand() -> None:
    """Squares to the sum of squares, its root times k, bounds on top: the margin."""
    found = a_budget()
    rows = explain(found, 1)
    squares = sum(row.squared or 0.0 for row in of(rows, "random"))
    assert of(rows, "sum of squares")[0].floor == pytest.approx(squares)
    assert of(rows, "sigma")[0].floor == pytest.approx(math.sqrt(squares))
    for side, k in (("floor", 2.33), ("ceiling", 1.645)):
        bounds = sum(getattr(row, side) for row in of(rows, "one-sided bound"))
        assert getattr(of(rows, "sum of bounds")[0], side) == pytest.approx(bounds)
        total = k * math.sqrt(squares) + bounds
        assert getattr(of(rows, "margin")[0], side) == pytest.approx(total)
        assert found.margin_m(side)[1] == pytest.approx(total)
    assert not of(rows, "raised to")
    assert of(rows, "declared bias")[0].floor == 1.0


def test_each_row_says_what_it_is() -> None:
    """Assumed or stated, whole flight or local, from where, and what would shrink it."""
    rows = {row.name: row for row in explain(a_budget(), 0)}
    assert rows["elevation model"].is_assumed
    assert rows["elevation model"].scope == "local"
    assert rows["elevation model"].remedy == "a better elevation model"
    assert rows["pressure drift"].scope == "whole flight"
    assert rows["canopy"].source == "the model's card"
    assert "spot_within_m" in rows["launch spot"].remedy
    assert rows["launch spot"].source == "least and greatest ground within 10 m of it"
    assert "nominally 99.0 % if errors were normal" in rows["k sigma"].source
    assert all(row.source for row in rows.values() if row.squared is not None)


def test_raised_margins_say_so() -> None:
    """Which side, and to what."""
    calm = budget(setting(LIDAR, RTK, cell_m=1.0), places())
    (row,) = of(explain(calm, 0), "raised to")
    assert row.name == "floor raised to 3 m, ceiling raised to 2 m"
    assert (row.floor, row.ceiling) == (3.0, 2.0)
    assert of(explain(calm, 0), "margin")[0].floor < 3.0


def test_a_lidar_model_shrinks_the_worked_budget() -> None:
    """From the first to the second worked budget: 17.5 to 6.6 m, 6.2 to 4.4 m (printed up: 4.5)."""
    at = places(plane=TAN_30, crest=TAN_30)
    better = shrunk(budget(AT_99, at), at, terrain=LIDAR)
    assert better.sentence(0) == "with a 1 m model: 17.5 → 6.6 m"
    assert better.sentence(0, "ceiling") == "with a 1 m model: 6.3 → 4.5 m"
    assert better.gain_m("floor")[0] == pytest.approx(17.5 - 6.6, abs=0.1)


def test_better_heights_shrink_it_too() -> None:
    """Lidar and corrected satellites: the third worked budget, raised to 3 m."""
    at = places(plane=TAN_30, crest=TAN_30)
    both = shrunk(budget(AT_99, at), at, terrain=LIDAR, source=RTK)
    words = "with a 1 m model and with heights from satellites with corrections"
    assert both.sentence(0) == f"{words}: 17.5 → 3.0 m"


def test_a_better_class_keeps_a_better_sigma_of_the_card() -> None:
    """A card that says 0.05 m is not made worse by a class that says 0.15 m."""
    at = places(plane=0.0)
    found = budget(setting(NATIONAL, cell_m=10.0, sigma_m=0.05), at)
    better = shrunk(found, at, terrain=LIDAR, cell_m=2.0)
    assert better.words == "with a 2 m model"
    before, after = (
        next(term for term in one.terms if term.name == "elevation model").floor_m[0]
        for one in (better.before, better.after)
    )
    assert after == pytest.approx(before, rel=1e-12)


def test_a_coarser_model_is_no_remedy_for_finer_cells() -> None:
    """Cells never grow."""
    at = places(crest=0.5)
    found = budget(setting(LIDAR, cell_m=0.5), at)
    assert shrunk(found, at, terrain=LIDAR).after.setting.cell_m == 0.5

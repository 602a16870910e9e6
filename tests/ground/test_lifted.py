"""The same model, higher throughout: every answer moves by as much, and the first stays."""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pytest

from terrain_guard.ground.model import Ground
from tests.checks import scenes

LIFT_M = 3.25


@pytest.fixture
def pair(tmp_path: Path) -> tuple[Ground, Ground]:
    """Return a slope with a missing post, and the same lifted."""

    def slope(e: np.ndarray, n: np.ndarray) -> np.ndarray:
        return np.where((e == 40) & (n == 0), np.nan, 300.0 + 0.2 * e + 0 * n)

    ground = Ground(scenes.model(tmp_path, slope, cell_m=10.0))
    return ground, ground.lifted(LIFT_M)


def test_elevations_are_higher(pair: tuple[Ground, Ground]) -> None:
    """At posts and between; what is missing stays missing."""
    ground, lifted = pair
    lat, lon = np.transpose([scenes.lat_lon(e, 0.0) for e in (0.0, 13.7, 40.0, 100.0)])
    before, after = ground.elevation(lon, lat), lifted.elevation(lon, lat)
    assert after == pytest.approx(before + LIFT_M, abs=1e-9, nan_ok=True)
    assert np.isnan(after[2])
    assert np.isfinite(before[[0, 1, 3]]).all()


def test_heights_above_it_are_less(pair: tuple[Ground, Ground]) -> None:
    """The pieces of a curve seen from a constant elevation."""
    row, column = np.array([20.0, 20.0]), np.array([3.0, 19.0])
    level = np.array([400.0, 400.0])
    before, after = (one.above_ground(row, column, level) for one in pair)
    assert after.a0 == pytest.approx(before.a0 - LIFT_M, abs=1e-9, nan_ok=True)
    assert after.start == pytest.approx(before.start)


def test_patches_are_higher_too(pair: tuple[Ground, Ground]) -> None:
    """Posts, and the planes over groups of them; lifting twice adds up."""
    row, column = np.array([20.0]), np.array([10.0])
    before, after, twice = (
        one.around(row, column, reach_m=100.0) for one in (*pair, pair[1].lifted(-2.0))
    )
    assert after.z == pytest.approx(before.z + LIFT_M, abs=1e-9, nan_ok=True)
    assert twice.z == pytest.approx(before.z + LIFT_M - 2.0, abs=1e-9, nan_ok=True)
    known = after.groups[0].stray_m >= 0
    assert after.groups[0].plane[known] == pytest.approx(
        before.groups[0].plane[known] + LIFT_M, abs=1e-9
    )
    assert pair[0].used().used_hash == pair[1].used().used_hash

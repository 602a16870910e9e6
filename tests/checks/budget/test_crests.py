"""Where a crest is near, on ridges whose crest is known, and what wind does there."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path

import numpy as np
import pytest

from terrain_guard.checks.budget.crests import near_crest
from terrain_guard.ground.model import Ground
from tests.checks.scenes import Floats, lat_lon, model

Surface = Callable[[Floats, Floats], Floats]
BOX_M = (-400.0, -400.0, 400.0, 400.0)


def near(
    folder: Path, surface: Surface, east: list[float], *, cell_m: float = 10.0, above_m: float = 30
) -> list[bool]:
    """Return whether places, so high above 300 m, are near a crest."""
    ground = Ground(model(folder, surface, cell_m=cell_m, box_m=BOX_M))
    lat, lon = np.transpose([lat_lon(e, 3.0) for e in east])
    row, column = ground.posts_at(lon, lat)
    return near_crest(ground, row, column, np.full(row.size, 300.0 + above_m)).tolist()


def ridge(slope: float, turn_deg: float = 0.0) -> Surface:
    """Return a sharp ridge 300 m high through the spot; not turned it runs north."""
    turn = np.radians(turn_deg)
    return lambda e, n: 300.0 - slope * np.abs(e * np.cos(turn) + n * np.sin(turn))


@pytest.mark.parametrize("cell_m", [1.0, 2.5, 10.0, 40.0])
def test_within_100_m_of_a_ridge_is_near(tmp_path: Path, cell_m: float) -> None:
    """At least that far, and no farther than that and its shoulder, whatever the cells.

    From x metres beside the crest of a ridge of 30 % the ground falls by 0.3 x 100 m on one
    side, by 0.3 (100 - x) - 0.3 x on the other, over the crest: by 10 m until x is 33.
    """
    further = 33.4 + 2 * max(cell_m, 10.0)
    places = [0.0, -50.0, 99.0, -99.0, 100 + further, -100 - further]
    found = near(tmp_path, ridge(0.3), places, cell_m=cell_m)
    assert found == [True, True, True, True, False, False]


@pytest.mark.parametrize("turn_deg", [0.0, 20.0, 45.0, 70.0, 100.0, 150.0])
def test_whichever_way_it_runs(tmp_path: Path, turn_deg: float) -> None:
    """A ridge that falls 15 m in 100 m, turned."""
    assert near(tmp_path, ridge(0.15, turn_deg), [0.0]) == [True]


@pytest.mark.parametrize(("slope", "is_crest"), [(0.13, True), (0.101, True), (0.08, False)])
def test_a_crest_falls_by_10_m_within_100_m(tmp_path: Path, slope: float, is_crest: bool) -> None:
    """13 m and 10.1 m are enough, 8 m are not."""
    assert near(tmp_path, ridge(slope), [0.0]) == [is_crest]


@pytest.mark.parametrize(
    "surface",
    [
        lambda e, n: 300.0 + 0.4 * e + 0.1 * n,  # a slope
        lambda e, n: 300.0 + 0.3 * np.abs(e) + 0 * n,  # a valley
        lambda e, n: 300.0 - np.maximum(0.5 * e, 0.0) + 0 * n,  # falls on one side alone
    ],
    ids=["slope", "valley", "one side"],
)
def test_what_is_no_crest(tmp_path: Path, surface: Surface) -> None:
    """It must fall on both sides."""
    assert near(tmp_path, surface, [0.0, 60.0]) == [False, False]


def test_high_above_a_crest_none_is_near(tmp_path: Path) -> None:
    """100 m up and no more; where the height is not known, it may be near."""
    for above_m, expected in ((99.0, True), (101.0, False), (np.nan, True)):
        assert near(tmp_path, ridge(0.3), [0.0], above_m=above_m) == [expected]


def test_lower_is_never_farther_from_a_crest(tmp_path: Path) -> None:
    """Of two heights over rough ground the lower is near wherever the higher is."""
    random = np.random.default_rng(3)
    size = random.uniform(5.0, 20.0, 6)
    wave, phase = random.uniform(-0.03, 0.03, (2, 6)), random.uniform(0, 6, 6)

    def rough(e: Floats, n: Floats) -> Floats:
        angle = np.multiply.outer(e, wave[0]) + np.multiply.outer(n, wave[1]) + phase
        return 270.0 + np.cos(angle) @ size

    east = np.linspace(-150.0, 150.0, 61).tolist()
    low, high = (near(tmp_path, rough, east, above_m=above) for above in (60.0, 90.0))
    assert not (np.array(high) & ~np.array(low)).any()
    assert 0 < sum(high) < sum(low)


def test_missing_ground_may_fall(tmp_path: Path) -> None:
    """Beside a slope that falls 30 m in 100 m on one side, unknown on the other."""
    path = model(
        tmp_path, lambda e, n: np.where(e < -40, -9999.0, 300.0 - 0.3 * np.maximum(e, 0) + 0 * n),
        cell_m=10.0, box_m=BOX_M, nodata=-9999.0,
    )  # fmt: skip
    ground = Ground(path)
    lat, lon = lat_lon(0.0, 0.0)
    row, column = ground.posts_at(np.array([lon]), np.array([lat]))
    assert near_crest(ground, row, column, np.array([330.0])).tolist() == [True]


def test_a_sample_without_a_place_may_be_near(tmp_path: Path) -> None:
    """Not known never counts as far."""
    ground = Ground(model(tmp_path, ridge(0.0), box_m=BOX_M, cell_m=10.0))
    nowhere = np.array([np.nan])
    assert near_crest(ground, nowhere, nowhere, np.array([330.0])).tolist() == [True]


def test_the_edge_of_a_model_is_no_crest_by_itself(tmp_path: Path) -> None:
    """Level ground that ends 60 m on, in the middle of a block; the other side does not fall."""
    path = model(
        tmp_path, lambda e, n: 300.0 + 0 * e, cell_m=4.0, box_m=(-240.0, -240.0, 60.0, 244)
    )
    ground = Ground(path)
    lat, lon = lat_lon(0.0, 0.0)
    row, column = ground.posts_at(np.array([lon]), np.array([lat]))
    assert near_crest(ground, row, column, np.array([330.0])).tolist() == [False]

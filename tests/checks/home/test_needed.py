"""Ways home over a ridge, a cone and voids, with answers visible by eye.

The ridge stands at 80 m, 300 m from home, 100 m wide on both sides; the ground is 0.
"""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pytest

from terrain_guard.arrays import Floats
from terrain_guard.checks.clearance import nearest
from terrain_guard.checks.home.lift import lift
from terrain_guard.checks.home.needed import (
    is_clear,
    least_gradient,
    level_way,
    sloped_way,
)
from terrain_guard.ground.model import Ground
from tests.checks import scenes
from tests.checks.home.straight import lifted, posts, ridge

ONE_MILLIMETRE = 1e-3
BOX = (-100.0, -150.0, 750.0, 150.0)


@pytest.fixture(scope="module")
def peak(tmp_path_factory: pytest.TempPathFactory) -> Ground:
    """Return a lone ridge of 80 m, 300 m east of home."""
    return Ground(scenes.model(tmp_path_factory.mktemp("r"), ridge(80.0), cell_m=10.0, box_m=BOX))


def spot(ground: Ground, east_m: float, north_m: float = 0.0) -> tuple[Floats, Floats]:
    """Return (row, column) of a place."""
    return posts(ground, east_m, north_m)


def test_a_ridge_on_the_way_asks_for_its_crest_and_the_floor(peak: Ground) -> None:
    """From 600 m: 80 + 20 above launch; at 60 m the way is 40 m too low, 20 m under ground."""
    found = level_way(peak, spot(peak, 600.0), spot(peak, 0.0), radius_m=20.0)
    assert found.above_launch_m(0.0) == pytest.approx([100.0], abs=ONE_MILLIMETRE)
    assert found.above_launch_m(-7.0) == pytest.approx([107.0], abs=ONE_MILLIMETRE)
    assert is_clear(found, [99.99, 100.01]).tolist() == [False, True]
    crossing = lifted(peak, (600.0, 0.0, 60.0), (0.0, 0.0, 60.0), 0.0)
    assert crossing.lift_m == pytest.approx([20.0], abs=ONE_MILLIMETRE)


def test_a_climb_on_the_way_is_late_at_the_ridge(peak: Ground) -> None:
    """From 420 m at 50 m, gradient 0.4: 98 m over the crest, 18 m above it, 16.713 m from it.

    Closed form: 18 / √(1 + 0.4²). First to 100 m and then level, it is 20 m.
    """
    start, home = (*spot(peak, 420.0), 50.0), spot(peak, 0.0)
    level = level_way(peak, start[:2], home, radius_m=20.0)
    for radius, clear in ((16.712, True), (16.714, False)):
        sloped = sloped_way(peak, start, home, gradient=0.4, radius_m=radius)
        assert (sloped.lift_m <= 0).tolist() == [clear]
        enough = level_way(peak, start[:2], home, radius_m=radius)
        assert is_clear(enough, 100.0, sloped=sloped).tolist() == [clear]
    assert is_clear(level, 100.0 + ONE_MILLIMETRE).all()
    crest = sloped_way(peak, start, home, gradient=0.4, radius_m=0.0)
    assert crest.lift_m == pytest.approx([-18.0], abs=ONE_MILLIMETRE)


def test_the_least_gradient_over_the_ridge(peak: Ground) -> None:
    """(120 g − 30)² = 20² (1 + g²), the crest 20 m from the line: g = 0.4315; 0.41667 aloft."""
    start, home = (*spot(peak, 420.0), 50.0), spot(peak, 0.0)
    gradient, found = least_gradient(peak, start, home, radius_m=20.0)
    wanted = (7200 + np.sqrt(7200**2 - 4 * 14000 * 500)) / 28000
    assert round(wanted, 4) == 0.4315
    assert gradient == pytest.approx([wanted], abs=1e-4)
    assert found.lift_m <= 2 * ONE_MILLIMETRE
    touching, _ = least_gradient(peak, (*start[:2], 30.0), home, radius_m=0.0)
    assert touching == pytest.approx([50 / 120], abs=1e-4)


def test_ways_that_need_no_climb_and_ways_that_no_climb_helps(peak: Ground) -> None:
    """High above all: 0. Beside the slope within the floor of it already: inf."""
    east = np.array([420.0, 330.0])
    start = (*posts(peak, east, 0.0), np.array([130.0, 60.0]))
    gradient, _ = least_gradient(peak, start, spot(peak, 0.0), radius_m=20.0)
    assert gradient.tolist() == [0.0, np.inf]


def test_a_straight_way_home_runs_into_the_ridge(peak: Ground) -> None:
    """From (600, 50) to the spot: 25 m up at the crest of 80, 55 m under it."""
    found = lifted(peak, (600.0, 0.0, 50.0), (0.0, 0.0, 0.0), 0.0, from_m=15.0)
    assert found.lift_m == pytest.approx([55.0], abs=ONE_MILLIMETRE)


def test_over_flat_ground_only_the_floor_is_needed(tmp_path: Path) -> None:
    """With and without a corridor, from anywhere."""
    ground = Ground(scenes.model(tmp_path, lambda e, n: 0 * e * n, cell_m=10.0, box_m=BOX))
    places = posts(ground, np.linspace(0, 600, 30), np.linspace(-90, 90, 30))
    found = level_way(ground, places, spot(ground, 0.0), radius_m=30.0, corridor_m=8.0)
    assert found.above_launch_m(0.0) == pytest.approx(np.full(30, 30.0), abs=ONE_MILLIMETRE)


def test_a_cone_hill_between_asks_for_its_top_and_the_floor(tmp_path: Path) -> None:
    """Azimuths at random, the top on a post at the middle of each way: to a millimetre."""
    model = scenes.model(
        tmp_path, lambda e, n: np.maximum(0, 90 - 0.6 * np.hypot(e, n)), cell_m=5.0,
        box_m=(-350, -350, 350, 350),
    )  # fmt: skip
    ground = Ground(model)
    azimuth = np.random.default_rng(2).uniform(0, 2 * np.pi, 24)
    east, north = 300 * np.sin(azimuth), 300 * np.cos(azimuth)
    found = level_way(ground, posts(ground, east, north), posts(ground, -east, -north), radius_m=30)
    assert found.elevation_m == pytest.approx(np.full(24, 120.0), abs=ONE_MILLIMETRE)
    assert found.found.along_m == pytest.approx(np.full(24, 300.0), abs=0.5)


def test_a_higher_return_is_never_worse(peak: Ground) -> None:
    """Once clear of the floor, clear at every greater height."""
    level = level_way(peak, spot(peak, 600.0), spot(peak, 0.0), radius_m=20.0)
    sloped = sloped_way(
        peak, (*spot(peak, 600.0), 50.0), spot(peak, 0.0), gradient=0.5, radius_m=20.0
    )
    for given in (None, sloped):
        clear = is_clear(level, np.linspace(60, 140, 81), sloped=given)
        assert clear.any()
        assert (np.diff(clear.astype(int)) >= 0).all()


def test_no_return_height_suits_a_high_ridge_under_a_ceiling(tmp_path: Path) -> None:
    """Ridge of 130 m, floor 30: 160 is needed where the ceiling over the flat allows 120."""
    ground = Ground(scenes.model(tmp_path, ridge(130.0), cell_m=10.0, box_m=BOX))
    level = level_way(ground, spot(ground, 600.0), spot(ground, 0.0), radius_m=30.0)
    assert level.above_launch_m(0.0) == pytest.approx([160.0], abs=ONE_MILLIMETRE)
    assert level.above_launch_m(0.0) > 120.0


def test_behind_a_void_nothing_is_known(tmp_path: Path) -> None:
    """One post missing at 200 m, cells of 10 m: unknown from 220 m and farther, known before."""
    east, north = scenes.posts(10.0, *BOX)
    heights = np.where((east == 200) & (north == 0), np.nan, 0.0)
    ground = Ground(scenes.grid(tmp_path, heights, cell_m=10.0, corner_m=(BOX[0], BOX[3])))
    places = np.array([100.0, 165.0, 175.0, 300.0, 600.0])
    found = level_way(ground, posts(ground, places, 0.0), spot(ground, 0.0), radius_m=20.0).found
    assert found.meets_void.tolist() == [False, False, True, True, True]
    assert np.isnan(found.void_from_m[:2]).all()
    assert found.void_from_m[2:] == pytest.approx([170.0] * 3, abs=0.01)
    assert found.void_to_m[3:] == pytest.approx([230.0] * 2, abs=0.01)
    assert not is_clear(level_way(ground, posts(ground, 600.0, 0.0), spot(ground, 0.0),
                                  radius_m=20.0), 1000.0).any()  # fmt: skip


def test_a_void_beside_counts_as_far_as_radius_and_corridor(tmp_path: Path) -> None:
    """The nearest missing cell begins 40 m beside the way."""
    _, north = scenes.posts(10.0, *BOX)
    heights = np.where(north >= 50, np.nan, 0.0)
    ground = Ground(scenes.grid(tmp_path, heights, cell_m=10.0, corner_m=(BOX[0], BOX[3])))
    wide = [9.9, 10.1]
    found = lifted(ground, (600.0, 0.0, 50.0), (0.0, 0.0, 50.0), 30.0, corridor_m=wide)
    assert found.meets_void.tolist() == [False, True]
    assert found.lift_m == pytest.approx([-20.0, -20.0], abs=ONE_MILLIMETRE)
    tapered = lifted(ground, (600.0, 0.0, 60.0), (0.0, 0.0, 0.0), 60.0, radius_at_end_m=0.0)
    assert tapered.meets_void.all()
    assert 340 < tapered.void_from_m[0] < 400  # 40 m, at 0.1 m per metre less than square to it


@pytest.mark.parametrize("share", [0.002, 0.02, 0.2])
def test_scattered_voids_are_met_from_the_first_to_the_last(tmp_path: Path, share: float) -> None:
    """Along a row of posts each missing cell counts from e − √(R² − n²) on, n how far aside."""
    east, north = scenes.posts(5.0, *BOX)
    lost = np.random.default_rng(4).random(east.shape) < share
    lost &= (east > 60) & (east < 640)
    model = scenes.grid(
        tmp_path, np.where(lost, np.nan, 50.0), cell_m=5.0, corner_m=(BOX[0], BOX[3])
    )
    cells = lost[:-1, :-1] | lost[1:, :-1] | lost[:-1, 1:] | lost[1:, 1:]
    west, south = east[1:, :-1][cells], north[1:, :-1][cells]
    aside = np.maximum(0, np.maximum(south, -5 - south))
    for radius, begin in ((12.0, 0.0), (40.0, 0.0), (12.0, 300.0)):
        found = lifted(
            model, (700.0, 0.0, 90.0), (0.0, 0.0, 90.0), radius, from_m=begin, to_m=begin + 350
        )
        half = np.sqrt(np.maximum(radius**2 - aside**2, 0.0))
        first, last = np.maximum(west - half, begin), np.minimum(west + 5 + half, begin + 350)
        met = (aside <= radius) & (first <= last)
        corner = np.maximum(np.maximum(begin - west - 5, west - begin - 350), 0.0)
        met &= np.hypot(corner, aside) <= radius
        assert found.meets_void.tolist() == [bool(met.any())]
        if met.any():
            assert found.void_from_m == pytest.approx([first[met].min()], abs=0.01)
            assert found.void_to_m == pytest.approx([last[met].max()], abs=0.01)


def test_off_the_model_is_missing_too(peak: Ground) -> None:
    """The model ends 750 m east and 100 m west of home."""
    found = lifted(peak, (700.0, 0.0, 200.0), (0.0, 0.0, 200.0), 30.0, corridor_m=[10.0, 25.0])
    assert found.meets_void.tolist() == [False, True]
    beyond = lifted(peak, (1700.0, 0.0, 200.0), (0.0, 0.0, 200.0), 30.0)
    assert beyond.meets_void.all()
    assert beyond.void_from_m == pytest.approx([720.0], abs=10.0)
    assert beyond.void_to_m == pytest.approx([1700.0], abs=0.01)
    nowhere = lifted(peak, (1700.0, 0.0, 200.0), (1300.0, 0.0, 200.0), 30.0)
    assert np.isnan(nowhere.lift_m).all()
    assert not nowhere.is_known.any()


def test_a_place_that_is_nowhere_is_not_known(peak: Ground) -> None:
    """NaN among the ends of one of two ways; the other is as it was."""
    row, column = posts(peak, [600.0, 600.0], 0.0)
    found = lift(peak, (row, column, [60.0, np.nan]), (*spot(peak, 0.0), 60.0), radius_m=20.0)
    assert found.lift_m == pytest.approx([40.0, np.nan], abs=ONE_MILLIMETRE, nan_ok=True)
    assert found.is_known.tolist() == [True, False]


def test_the_lower_of_two_ways_is_clear_exactly_if_both_are(tmp_path: Path) -> None:
    """Climbs that end at a return height, sampled every metre, by the nearest ground.

    Of 30 over rough ground at random heights some are clear and some are not.
    """
    rng = np.random.default_rng(11)
    heights = rng.uniform(0, 60, (31, 71))
    ground = Ground(scenes.grid(tmp_path, heights, cell_m=10.0, corner_m=(-100.0, 150.0)))
    home, answers = spot(ground, 0.0), []
    for _ in range(30):
        east, north, low, top = rng.uniform((250, -60, 70, 85), (500, 60, 95, 110))
        gradient, top = rng.uniform(0.02, 0.3), max(low, top)
        start = (*posts(ground, east, north), low)
        level = level_way(ground, start[:2], home, radius_m=30.0, from_m=15.0)
        how = {"radius_m": 30.0, "from_m": 15.0}
        sloped = sloped_way(ground, start, home, gradient=gradient, **how)
        length = np.hypot(east, north)
        t = np.arange(15.0, length, 1.0)
        line = np.minimum(top, low + gradient * (length - t))
        row, column = posts(ground, east * t / length, north * t / length)
        patches = ground.around(row, column, reach_m=115.0)
        above = line - ground.elevation_at(row, column)
        clearance = nearest(patches, row, column, line, above, reach_m=115.0).clearance_m.min()
        if abs(clearance - 30.0) > 0.05:
            answers.append((bool(clearance > 30.0), bool(is_clear(level, top, sloped=sloped)[0])))
    flown, told = np.array(answers).T
    assert flown.any()
    assert not flown.all()
    assert (flown == told).all()

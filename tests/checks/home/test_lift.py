"""By how much straight ways must be raised: closed forms, and what must always hold."""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pytest

from terrain_guard.checks.home.lift import lift
from terrain_guard.checks.limits import resting_elevation
from terrain_guard.ground.model import Ground
from tests.checks import scenes
from tests.checks.home.straight import lifted, posts, ridge

ONE_MILLIMETRE = 1e-3
BOX = (-100.0, -150.0, 700.0, 150.0)


@pytest.fixture(scope="module")
def flat(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """Return level ground at 100 m."""
    return scenes.model(tmp_path_factory.mktemp("flat"), lambda e, n: 100 + 0 * e * n, box_m=BOX)


@pytest.fixture(scope="module")
def peak(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """Return a lone ridge of 80 m, 300 m east of the spot."""
    return scenes.model(tmp_path_factory.mktemp("ridge"), ridge(80.0), box_m=BOX)


@pytest.fixture(scope="module")
def rough(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """Return ground on which every post of 10 m is different."""
    heights = 300 + np.random.default_rng(3).uniform(0, 40, (41, 81))
    folder = tmp_path_factory.mktemp("rough")
    return scenes.grid(folder, heights, cell_m=10.0, corner_m=(-100.0, 200.0))


def test_over_level_ground_a_level_way_needs_the_radius(flat: Path) -> None:
    """100 + 30 − 110 = 20, with a corridor too."""
    for wide in (0.0, 8.0):
        found = lifted(flat, (600.0, 20.0, 110.0), (0.0, 0.0, 110.0), 30.0, corridor_m=wide)
        assert found.lift_m == pytest.approx([20.0], abs=ONE_MILLIMETRE)
        assert found.is_known.all()


def test_a_slanting_way_over_level_ground_ends_on_a_ball(flat: Path) -> None:
    """Its lower end is lowest: the ball there, and the corridor, decide."""
    found = lifted(flat, (600.0, 0.0, 200.0), (0.0, 0.0, 140.0), 30.0, corridor_m=8.0)
    assert found.lift_m == pytest.approx([-10.0], abs=ONE_MILLIMETRE)
    assert found.along_m == pytest.approx([0.0], abs=0.01)


@pytest.mark.parametrize("slope", [0.1, 0.5, 1.2])
def test_along_a_slope_the_floor_is_measured_square_to_it(tmp_path: Path, slope: float) -> None:
    """Parallel to a plane of slope s, F √(1 + s²) above it: the closed form of the plane."""
    model = scenes.model(tmp_path, lambda e, n: slope * e + 0 * n, cell_m=10.0, box_m=BOX)
    found = lifted(model, (500.0, 0.0, 500 * slope), (0.0, 0.0, 0.0), 30.0, from_m=60.0, to_m=440.0)
    assert found.lift_m == pytest.approx([30 * np.hypot(1, slope)], abs=ONE_MILLIMETRE)


@pytest.mark.parametrize("slope", [0.2, 0.8])
def test_across_a_slope_the_uphill_side_counts(tmp_path: Path, slope: float) -> None:
    """A level way along the contour needs F √(1 + s²), and s w more in a corridor of w."""
    model = scenes.model(tmp_path, lambda e, n: slope * n + 0 * e, cell_m=10.0, box_m=BOX)
    found = lifted(
        model, (500.0, 0.0, 7.0), (0.0, 0.0, 7.0), 30.0, corridor_m=[0.0, 8.0]
    ).lift_m  # fmt: skip
    want = 30 * np.hypot(1, slope) - 7
    assert found == pytest.approx([want, want + 8 * slope], abs=ONE_MILLIMETRE)


def test_over_a_crest_a_slanting_way_is_nearest_square_to_itself(peak: Path) -> None:
    """At the crest the line stands at 25 m; 80 + 20 √(1 + m²) − 25, m = 1/12."""
    found = lifted(peak, (600.0, 0.0, 50.0), (0.0, 0.0, 0.0), 20.0, from_m=15.0)
    assert found.lift_m == pytest.approx([55 + 20 * np.hypot(1, 1 / 12)], abs=ONE_MILLIMETRE)
    assert found.elevation_m == pytest.approx([80.0], abs=ONE_MILLIMETRE)
    assert found.along_m == pytest.approx([300 - 20 / np.hypot(12, 1)], abs=0.05)


def test_a_corridor_along_a_slanting_way_counts_its_slope(peak: Path) -> None:
    """Straight over the crest, w metres lower down the way: w · m more."""
    ends = (600.0, 0.0, 50.0), (0.0, 0.0, 0.0)
    found = lifted(peak, *ends, 20.0, from_m=15.0, corridor_m=[0.0, 6.0])
    assert np.diff(found.lift_m) == pytest.approx([6 / 12], abs=ONE_MILLIMETRE)


def test_beside_the_ways_end_only_the_ball_counts(tmp_path: Path) -> None:
    """A wall 50 m beyond home, 40 m high, touched by a ball of 60 m: √(60² − 50²) above it."""
    model = scenes.model(tmp_path, lambda e, n: 40.0 * (e <= -50) + 0 * n, box_m=BOX)
    found = lifted(model, (600.0, 0.0, 0.0), (0.0, 0.0, 0.0), 60.0)
    assert found.lift_m == pytest.approx([40 + np.sqrt(60**2 - 50**2)], abs=2e-3)


def test_a_growing_ball_over_level_ground(flat: Path) -> None:
    """A line rising by m under a ball growing by k per metre: lowest side first or last."""
    for m, wanted in ((0.1, 10.0), (0.02, 30.0 - 0.02 * 600)):
        found = lifted(
            flat, (600.0, 0.0, 100 + m * 600), (0.0, 0.0, 100.0), 30.0, radius_at_end_m=10.0
        )
        assert found.lift_m == pytest.approx([wanted], abs=ONE_MILLIMETRE)


def test_a_tapered_ball_over_a_crest_stands_on_a_cone(peak: Path) -> None:
    """Highest of √((R + k s)² − s²) − m s: where its slope is 0, found by a fine scan of s."""
    found = lifted(peak, (600.0, 0.0, 60.0), (0.0, 0.0, 0.0), 30.0, radius_at_end_m=0.0)
    s = np.linspace(-15, 20, 2_000_001)
    wanted = 80 + (np.sqrt((15 + 0.05 * s) ** 2 - s**2 + 0j).real - 0.1 * s).max() - 30
    assert found.lift_m == pytest.approx([wanted], abs=ONE_MILLIMETRE)


def test_a_way_without_length_is_a_resting_ball(rough: Path) -> None:
    """At points the older method answers: edges and planes of triangles, by closed forms."""
    ground = Ground(rough)
    row, column = posts(ground, np.linspace(20, 480, 40), np.linspace(-70, 60, 40))
    for wide in (0.0, 9.0):
        found = lift(ground, (row, column, 0.0), (row, column, 0.0), radius_m=30.0, corridor_m=wide)
        wanted = resting_elevation(ground, row, column, 30.0, wide)
        assert found.lift_m == pytest.approx(wanted, abs=1.2 * ONE_MILLIMETRE)


def test_a_way_split_in_two_needs_the_greater_of_both(rough: Path) -> None:
    """The two parts cover the way and overlap in one place."""
    start, home = (np.full(9, 500.0), np.linspace(-60, 60, 9), 340.0), (0.0, 0.0, 310.0)
    how = {"corridor_m": 5.0, "radius_at_end_m": 12.0}
    cut = np.linspace(80, 420, 9)
    whole = lifted(rough, start, home, 30.0, **how).lift_m
    near = lifted(rough, start, home, 30.0, to_m=cut, **how)
    far = lifted(rough, start, home, 30.0, from_m=cut, **how)
    assert near.higher(far).lift_m == pytest.approx(whole, abs=ONE_MILLIMETRE)
    assert (np.fmax(near.lift_m, far.lift_m) == near.higher(far).lift_m).all()


def test_more_radius_or_corridor_never_needs_less(rough: Path) -> None:
    """The body swept grows."""
    start, home = (500.0, 40.0, 340.0), (0.0, 0.0, 310.0)
    sizes = np.linspace(5, 60, 23)
    by_radius = lifted(rough, start, home, sizes).lift_m
    by_corridor = lifted(rough, start, home, 20.0, corridor_m=sizes / 3).lift_m
    assert (np.diff(by_radius) >= -ONE_MILLIMETRE).all()
    assert (np.diff(by_corridor) >= -ONE_MILLIMETRE).all()


def test_raising_a_post_never_needs_less(tmp_path: Path) -> None:
    """Every post of a small model in turn, by 15 m; some of them must count."""
    heights = 300 + np.random.default_rng(8).uniform(0, 30, (9, 12))
    ways = (80.0, 10.0, 340.0), (-40.0, -5.0, 320.0)

    def need(raised: scenes.Floats) -> float:
        model = scenes.grid(tmp_path, raised, cell_m=20.0, corner_m=(-100.0, 80.0), name="one.tif")
        return float(lifted(model, *ways, 25.0, corridor_m=4.0).lift_m[0])

    before, more = need(heights), []
    for k in range(0, heights.size, 3):
        raised = heights.copy()
        raised.flat[k] += 15.0
        more.append(need(raised) - before)
    assert min(more) >= -ONE_MILLIMETRE
    assert max(more) > 1.0


def test_many_ways_are_as_each_alone(rough: Path) -> None:
    """Places lent by neighbours change nothing; nor does the elevation of a level way."""
    ground = Ground(rough)
    east, north = np.linspace(150, 500, 70), np.linspace(-80, 80, 70)
    level = np.linspace(300, 420, 70)
    together = lifted(ground, (east, north, level), (0.0, 0.0, level), 30.0).lift_m
    alone = [
        lifted(ground, (e, n, 0.0), (0.0, 0.0, 0.0), 30.0).lift_m[0]
        for e, n in zip(east, north, strict=True)
    ]
    assert together + level == pytest.approx(alone, abs=ONE_MILLIMETRE)


def test_forwards_and_backwards_are_the_same(rough: Path) -> None:
    """A way has no direction but for what is measured from home."""
    start, home = (500.0, 40.0, 340.0), (0.0, 0.0, 310.0)
    one = lifted(rough, start, home, 30.0, radius_at_end_m=10.0)
    other = lifted(rough, home, start, 10.0, radius_at_end_m=30.0)
    assert one.lift_m == pytest.approx(other.lift_m, abs=ONE_MILLIMETRE)
    assert one.along_m + other.along_m == pytest.approx(np.hypot(500, 40), abs=0.2)


def test_a_model_larger_than_one_window(tmp_path: Path) -> None:
    """Peaks of 60 m every 500 m, east of 1 km each a metre higher: the last one decides."""

    def peaks(e: scenes.Floats, n: scenes.Floats) -> scenes.Floats:
        top = np.where(e > 1000, 60 + e / 500, 60.0)
        return np.where((e % 500 == 0) & (n == 0), top, 10.0)

    model = scenes.model(tmp_path, peaks, box_m=(-60, -60, 2660, 60))
    found = lifted(model, (2600.0, 0.0, 50.0), (0.0, 0.0, 50.0), 30.0)
    assert found.lift_m == pytest.approx([65 + 30 - 50], abs=ONE_MILLIMETRE)
    assert found.along_m == pytest.approx([2500], abs=0.1)


def test_what_is_no_radius_is_refused(flat: Path) -> None:
    """Negative and not finite."""
    for radius, wide in ((-1.0, 0.0), (np.nan, 0.0), (30.0, -1.0)):
        with pytest.raises(ValueError, match="none negative"):
            lifted(flat, (100.0, 0.0, 0.0), (0.0, 0.0, 0.0), radius, corridor_m=wide)

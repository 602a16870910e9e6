"""The ground about the launch spot: closed forms on planes and cones, and what is not known."""

from __future__ import annotations

import math
from pathlib import Path

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from terrain_guard.checks.budget.launch_spot import LaunchSpot, launch_spot
from terrain_guard.errors import RefusedInput
from terrain_guard.ground.model import Ground
from terrain_guard.path.frame import LocalFrame
from tests.checks.scenes import LAT_DEG, LON_DEG, Surface, grid, model
from tests.ground.made import hills

FRAME = LocalFrame(lon_deg=LON_DEG, lat_deg=LAT_DEG)


def spot(ground: Ground, within_m: float, place: tuple[float, float] = (0.0, 0.0)) -> LaunchSpot:
    """Look at a spot near that of the scenes."""
    return launch_spot(
        ground, FRAME, place, within_m=within_m, registration_m=0.4, cell_m=ground.coarsest_cell_m
    )


@pytest.mark.parametrize("within_m", [0.0, 3.0, 20.0, 57.3])
@pytest.mark.parametrize("turn", [0.0, 0.7, 2.5])
def test_a_plane_of_40_percent(tmp_path: Path, within_m: float, turn: float) -> None:
    """20 m of walking are 8.00 m of ground, up and down, whichever way it slopes."""
    east, north = 0.4 * math.cos(turn), 0.4 * math.sin(turn)
    ground = Ground(model(tmp_path, lambda e, n: 300 + east * e + north * n))
    found = spot(ground, within_m)
    assert found.lower_m == pytest.approx(0.4 * within_m, abs=2e-3)
    assert found.higher_m == pytest.approx(0.4 * within_m, abs=2e-3)
    assert found.slope == pytest.approx(0.4, abs=1e-4)
    assert found.elevation_m == pytest.approx(300.0, abs=1e-3)


TURN = np.linspace(0, math.pi / 2, 100_001)
FOOT_M = float(
    (7.0 * (1 - abs(9 - 10 * np.cos(TURN))) * (1 - abs(6 - 10 * np.sin(TURN))))[
        (abs(9 - 10 * np.cos(TURN)) < 1) & (abs(6 - 10 * np.sin(TURN)) < 1)
    ].max()
)
"""The highest point on a rim of 10 m of the four patches round a post at (9, 6), 7 m high."""


@pytest.mark.parametrize(
    ("surface", "lower_m", "higher_m"),
    [
        (lambda e, n: 300 - 0.5 * np.hypot(e, n), 5.0, 0.0),  # on a top
        (lambda e, n: 300 + 0.5 * np.hypot(e, n), 0.0, 5.0),  # in a pit
        (lambda e, n: 300 + 7.0 * ((e == 6) & (n == 3)), 0.0, 7.0),  # one post within the disc
        (lambda e, n: 300 - 7.0 * ((e == 9) & (n == 3)), 7.0, 0.0),  # 9.49 m away
        (lambda e, n: 300 + 7.0 * ((e == 9) & (n == 6)), 0.0, FOOT_M),  # 10.8 m away: its foot
    ],
)
def test_tops_pits_and_posts(
    tmp_path: Path, surface: Surface, lower_m: float, higher_m: float
) -> None:
    """Least and greatest of the continuous ground within 10 m.

    Between posts a cone is straight: on the rim it is off by up to 0.5 c² / 8 r = 0.006 m.
    """
    found = spot(Ground(model(tmp_path, surface)), 10.0)
    assert found.lower_m == pytest.approx(lower_m, abs=0.01)
    assert found.higher_m == pytest.approx(higher_m, abs=0.01)


def test_rough_ground_by_a_second_method(tmp_path: Path) -> None:
    """Every post within the disc, and 200,000 points on its rim."""
    heights = hills(60, 60, seed=5)
    ground = Ground(grid(tmp_path, heights, cell_m=2.0, corner_m=(-60.0, 60.0)))
    found = spot(ground, 13.7, (3.3, -2.1))
    turn = np.linspace(0, 2 * np.pi, 200_000)
    x, y = 3.3 + 13.7 * np.cos(turn), -2.1 + 13.7 * np.sin(turn)
    rim = ground.elevation(*FRAME.to_degrees(x, y))
    east, north = np.meshgrid(-60.0 + 2 * np.arange(60), 60.0 - 2 * np.arange(60))
    inside = heights[np.hypot(east - 3.3, north + 2.1) <= 13.7]
    least = min(rim.min(), inside.min())
    greatest = max(rim.max(), inside.max())
    assert found.elevation_m - found.lower_m == pytest.approx(least, abs=0.02)
    assert found.elevation_m + found.higher_m == pytest.approx(greatest, abs=0.02)


@pytest.fixture(scope="module")
def rough(tmp_path_factory: pytest.TempPathFactory) -> Ground:
    """Return rough ground, every post different."""
    folder = tmp_path_factory.mktemp("rough")
    return Ground(grid(folder, hills(80, 80), cell_m=3.0, corner_m=(-120.0, 120.0)))


@settings(max_examples=60, deadline=None)
@given(
    east=st.floats(-50, 50),
    north=st.floats(-50, 50),
    radii=st.tuples(st.floats(0, 40), st.floats(0, 40)).map(sorted),
)
def test_a_wider_spot_never_helps(
    rough: Ground, east: float, north: float, radii: list[float]
) -> None:
    """Neither bound shrinks, and none is negative."""
    narrow, wide = (spot(rough, radius, (east, north)) for radius in radii)
    assert 0 <= narrow.lower_m <= wide.lower_m + 0.02  # the rim is a polygon
    assert 0 <= narrow.higher_m <= wide.higher_m + 0.02


def test_a_void_within_the_spot_leaves_it_unknown(tmp_path: Path) -> None:
    """How low the ground falls there, nobody knows; just outside, it does not matter."""
    heights = np.full((60, 60), 300.0)
    heights[22, 30] = np.nan  # 8 m north
    ground = Ground(grid(tmp_path, heights, cell_m=1.0, corner_m=(-30.0, 30.0)))
    assert math.isnan(spot(ground, 8.5).lower_m)
    assert math.isnan(spot(ground, 8.5).higher_m)
    assert spot(ground, 6.9).lower_m == 0.0


def test_launched_off_the_model_nothing_is_known(tmp_path: Path) -> None:
    """NaN, not level ground."""
    ground = Ground(model(tmp_path, lambda e, n: 300 + 0 * e * n))
    found = spot(ground, 10.0, (5000.0, 0.0))
    assert math.isnan(found.elevation_m)
    assert math.isnan(found.lower_m)
    assert math.isnan(found.slope)


@pytest.mark.parametrize("within_m", [-1.0, math.nan, math.inf])
def test_no_distance_is_refused(rough: Ground, within_m: float) -> None:
    """Negative, no number, endless."""
    with pytest.raises(RefusedInput, match="spot_within_m: given"):
        spot(rough, within_m)

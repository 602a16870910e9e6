"""Cautions about lines that nobody planned: ahead, downwind, from launch, and out of sight.

Each on and off, over planes, ridges and walls; answers by hand.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace
from pathlib import Path
from typing import Any

import numpy as np
import pytest

from terrain_guard.assess import check
from terrain_guard.checks.line_hazards import stop_distance_m
from terrain_guard.plan.route import Conditions
from tests.checks import scenes
from tests.checks.scenes import Floats

WIDE = (-300.0, -300.0, 800.0, 300.0)
Surface = Callable[[Floats, Floats], Floats]


def level(east: Floats, north: Floats) -> Floats:
    """Return level ground."""
    return 200.0 + 0 * east


def said(
    folder: Path,
    surface: Surface,
    words: str,
    points: list[tuple[float, float, float]],
    *,
    cell_m: float = 10.0,
    wind_m_per_s: float = 0.0,
    wind_from_deg: float | None = None,
    **how: Any,
) -> list[str]:
    """Return the cautions that hold `words`."""
    ground = scenes.model(folder, surface, cell_m=cell_m, box_m=WIDE)
    route = replace(
        scenes.route(points, **how),
        wind_m_per_s=wind_m_per_s,
        conditions=Conditions(wind_from_deg=wind_from_deg),
    )
    found = check(route, ground=ground, canopy_m=0.0, rules=scenes.LOOSE)
    return [one for one in found.cautions if words in one]


# -- ahead -------------------------------------------------------------------------------


@pytest.mark.parametrize(("speed", "metres"), [(15.0, 37.5), (10.0, 16.7)])
def test_stop_distance(speed: float, metres: float) -> None:
    """v²/2a at 3 m/s²: 15 m/s 37.5 m, 10 m/s 16.7 m."""
    assert stop_distance_m(speed) == pytest.approx(metres, abs=0.04)


@pytest.mark.parametrize(("above_m", "told"), [(29.0, True), (31.0, False)])
def test_time_to_terrain_up_a_slope(tmp_path: Path, above_m: float, told: bool) -> None:
    """29 m above a slope of 30 %: 96.7 m on, at 10 m/s 9.67 s; 31 m above it 10.33 s."""
    points = [(0.0, 0.0, above_m), (300.0, 0.0, above_m + 90.0)]
    found = said(
        tmp_path, lambda e, n: 500 + 0.3 * e, "holds its height", points, speed_m_per_s=10.0
    )
    assert bool(found) is told
    if told:
        assert (
            "it meets the ground in 9.6 s, after 96.6 m at 10 m/s; a stop at 3 m/s² takes 16.7 m"
        ) in found[0]


@pytest.mark.parametrize(("speed", "told"), [(8.0, True), (4.0, False)])
def test_a_wall_behind_a_waypoint(tmp_path: Path, speed: float, told: bool) -> None:
    """45 degrees up: straight on past the last waypoint, 50.55 m on, it stands 60 m high.

    At 8 m/s 6.3 s, at 4 m/s 12.6 s.
    """
    points = [(0.0, 0.0, 60.0), (300.0, 0.0, 60.0)]
    found = said(
        tmp_path, lambda e, n: 200 + np.fmax(e - 290.55, 0.0), "holds its height", points,
        cell_m=1.0, speed_m_per_s=speed,
    )  # fmt: skip
    assert bool(found) is told
    if told:
        assert found[0].startswith("Straight on past P2: if it holds its height there")
        assert "in 6.3 s, after 50.5 m at 8 m/s" in found[0]


def test_a_wall_that_the_plan_climbs_over(tmp_path: Path) -> None:
    """It stops and climbs at P2, 50.55 m before the wall is 60 m high; its top is 100 m.

    Without the wall nothing is said.
    """
    points = [(0.0, 0.0, 60.0), (100.0, 0.0, 60.0), (100.0, 0.0, 150.0), (300.0, 0.0, 150.0)]
    found = said(
        tmp_path, lambda e, n: 200 + np.clip(e - 90.55, 0, 100), "holds its height", points,
        cell_m=1.0, speed_m_per_s=10.0,
    )  # fmt: skip
    assert found[0].startswith("Straight on past P2: if it holds")
    assert "in 5.0 s, after 50.5 m" in found[0]
    assert not said(tmp_path, level, "holds its height", points, cell_m=1.0, speed_m_per_s=10.0)


# -- downwind ------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("wind", "from_deg", "seconds", "side"),
    [
        (10.0, 270.0, "16.0 s", "from 270 degrees"),
        (10.0, None, "16.0 s", "side not stated"),
        (10.0, 90.0, None, ""),  # away from the hill
        (5.0, 270.0, None, ""),  # 32 s
        (0.0, 270.0, None, ""),
    ],
)
def test_drift_into_a_hill(
    tmp_path: Path, wind: float, from_deg: float | None, seconds: str | None, side: str
) -> None:
    """A slope of 45 degrees from 400 m on stands 60 m high 160 m downwind of P2."""
    points = [(0.0, 0.0, 60.0), (300.0, 0.0, 60.0)]
    found = said(
        tmp_path, lambda e, n: 200 + np.fmax(e - 400, 0.0), "Position lost", points,
        wind_m_per_s=wind, wind_from_deg=from_deg, speed_m_per_s=2.0,
    )  # fmt: skip
    assert bool(found) is (seconds is not None)
    if seconds is not None:
        assert f"(10 m/s, {side})" in found[0]
        assert f"meets the hill to the east in {seconds}" in found[0]


# -- straight from launch ------------------------------------------------------------------------


def ridge(top_m: float) -> Surface:
    """Return a ridge that runs north 150 m east of the spot, its flanks at 45 degrees."""
    return lambda e, n: 200.0 + np.fmax(top_m - np.abs(e - 150.0), 0.0)


BEYOND = [(-100.0, 0.0, 160.0), (300.0, 0.0, 150.0)]


@pytest.mark.parametrize(("top_m", "told"), [(100.0, True), (70.0, False)])
def test_resumed_from_launch(tmp_path: Path, top_m: float, told: bool) -> None:
    """Straight to 150 m up 300 m out it is 75 m up over the ridge of 100 m: 25 m deep."""
    found = said(tmp_path, ridge(top_m), "runs", BEYOND, start=(0.0, 0.0))
    assert bool(found) is told
    if told:
        assert found[0] == (
            "Started or resumed at P2 (a pause, a second battery), a straight line from launch "
            "runs 25.0 m deep into the ground, 150 m out (geometry of the elevation model)."
        )


def test_resumed_counts_the_others(tmp_path: Path) -> None:
    """Of two blocked lines the deeper is named; one to 400 m up is clear."""
    points = [*BEYOND, (300.0, 0.0, 120.0), (300.0, 0.0, 400.0)]
    (one,) = said(tmp_path, ridge(100.0), "runs", points, start=(0.0, 0.0))
    assert one.startswith("Started or resumed at P3")
    assert "runs 40.0 m deep" in one
    assert "so do lines to 1 more" in one


def test_the_first_waypoint_is_leg_0(tmp_path: Path) -> None:
    """Its line is flown and judged, so nothing is said of it here."""
    points = [(300.0, 0.0, 150.0), (300.0, 50.0, 900.0)]
    assert not said(tmp_path, ridge(100.0), "runs", points, start=(0.0, 0.0))

"""Cautions set off by the ground: each on and off, over planes, ridges and canyons.

Slopes are rise over run; the trade's thresholds are common practice, no source.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace
from pathlib import Path
from typing import Any

import numpy as np
import pytest

from terrain_guard.assess import check
from terrain_guard.assessment import Assessment
from terrain_guard.plan.route import Aircraft, Conditions
from tests.checks import scenes
from tests.checks.scenes import Floats

WIDE = (-500.0, -500.0, 800.0, 500.0)
EAST = [(0.0, 0.0, 60.0), (300.0, 0.0, 60.0)]
Surface = Callable[[Floats, Floats], Floats]


def plane(east: float, north: float = 0.0) -> Surface:
    """Return a plane that rises so much going east and going north, 500 m high at the spot."""
    return lambda e, n: 500.0 + east * e + north * n


def said(
    folder: Path,
    surface: Surface,
    words: str,
    points: list[tuple[float, float, float]] | None = None,
    *,
    cell_m: float = 10.0,
    wind_m_per_s: float = 0.0,
    conditions: Conditions | None = None,
    aircraft: Aircraft | None = None,
    **how: Any,
) -> list[str]:
    """Return the cautions that hold `words`."""
    ground = scenes.model(folder, surface, cell_m=cell_m, box_m=WIDE)
    route = replace(
        scenes.route(points or EAST, **how),
        wind_m_per_s=wind_m_per_s,
        conditions=conditions or Conditions(),
        aircraft=aircraft or Aircraft(),
    )
    return holding(check(route, ground=ground, canopy_m=0.0, rules=scenes.LOOSE), words)


def holding(found: Assessment, words: str) -> list[str]:
    """Return the cautions of an assessment that hold `words`."""
    return [one for one in found.cautions if words in one]


# -- launch ------------------------------------------------------------------------------


@pytest.mark.parametrize(("east", "north"), [(0.4, 0.0), (0.24, 0.32), (-0.32, 0.24)])
def test_a_launch_on_a_slope(tmp_path: Path, east: float, north: float) -> None:
    """40 % within 20 m of the spot: 8.0 m lower to 8.0 m higher, whichever way it falls."""
    start = scenes.launch(0, 0, spot_within_m=20.0)
    (one,) = said(tmp_path, plane(east, north), "Launch on a slope", start=start)
    assert one == (
        "Launch on a slope of 40 %: within 20 m of the spot (launch.spot_within_m) the ground lies "
        "up to 8.0 m lower and 8.0 m higher, and with it the whole flight (geometry of the "
        "elevation model)."
    )


def test_a_launch_below_a_slope(tmp_path: Path) -> None:
    """Level, and 50 % up from 12 m east on: within 20 m 4.0 m higher, nothing lower."""
    start = scenes.launch(0, 0, spot_within_m=20.0)
    found = said(
        tmp_path, lambda e, n: 500 + 0.5 * np.fmax(e - 12.0, 0.0), "Launch on a slope",
        start=start, cell_m=1.0,
    )  # fmt: skip
    assert "up to 0.0 m lower and 4.0 m higher" in found[0]


@pytest.mark.parametrize(("slope", "within_m"), [(0.0, 20.0), (0.04, 20.0), (0.4, 0.0), (0.4, 2.0)])
def test_no_word_of_a_launch_that_is_level_or_known(
    tmp_path: Path, slope: float, within_m: float
) -> None:
    """Less than a metre either way: nothing to say."""
    start = scenes.launch(0, 0, spot_within_m=within_m)
    assert not said(tmp_path, plane(slope), "Launch on a slope", start=start)


def test_trees_over_the_launch(tmp_path: Path) -> None:
    """A surface 5 m above the ground at the launch is told of, one 2 m above it is not.

    Nor is the roof of a launch 5 m up.
    """
    ground = scenes.model(tmp_path, plane(0.0))

    def standing(height_m: float) -> Path:
        return scenes.model(
            tmp_path,
            lambda e, n: 500 + np.where((np.abs(e) < 12) & (np.abs(n) < 12), height_m, 0.0),
            name=f"surface{height_m:g}.tif",
        )

    surfaces = {height_m: standing(height_m) for height_m in (5.0, 2.0)}
    for height, offset_m, told in ((5.0, 0.0, True), (2.0, 0.0, False), (5.0, 5.0, False)):
        start = scenes.launch(0, 0, offset_m=offset_m)
        found = scenes.fly(ground, EAST, surface=surfaces[height], start=start)
        assert bool(holding(found, "m above the ground model at the launch")) is told


def test_a_launch_off_a_surface_model(tmp_path: Path) -> None:
    """Alone, it may show a tree there; a stated launch elevation settles it."""
    surface = scenes.model(tmp_path, plane(0.0))
    words = "read off a surface model"
    assert holding(scenes.fly(None, EAST, surface=surface), words)
    start = scenes.launch(0, 0, elevation_m=500.0, elevation_accuracy_m=0.5)
    assert not holding(scenes.fly(None, EAST, surface=surface, start=start), words)
    assert not holding(scenes.fly(surface, EAST), words)


# -- cells and slopes -------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("cell_m", "slope", "told"), [(30.0, 0.25, True), (30.0, 0.19, False), (10.0, 0.25, False)]
)
def test_coarse_cells_on_a_slope(tmp_path: Path, cell_m: float, slope: float, told: bool) -> None:
    """30 m cells on 25 %: 7.5 m within one; not on 19 %, not with cells of 10 m."""
    found = said(tmp_path, plane(0.0, slope), "within one cell", cell_m=cell_m)
    assert bool(found) is told
    if told:
        assert found[0].startswith("Cells of 30 m on a slope of 25 % (leg ")
        assert "within one cell the ground rises by 7.5 m" in found[0]


@pytest.mark.parametrize(("cell_m", "told"), [(90.0, True), (50.0, False)])
def test_cells_of_90_m(tmp_path: Path, cell_m: float, told: bool) -> None:
    """Whatever the slope: they show none."""
    found = said(tmp_path, plane(0.0), "cells of 90 m or more prove no floor", cell_m=cell_m)
    assert bool(found) is told


@pytest.mark.parametrize(
    ("slope", "far_m", "told"),
    [(0.65, 0.0, True), (0.58, 0.0, False), (0.9, 30.0, True), (0.9, 100.0, False)],
)
def test_steep_ground_near_the_route(
    tmp_path: Path, slope: float, far_m: float, told: bool
) -> None:
    """65 % under the route, a face of 90 % 30 m beside it; not 58 %, and not 100 m off."""
    found = said(
        tmp_path, lambda e, n: 500 + slope * np.fmax(n - far_m, 0.0) if far_m else 500 + slope * n,
        "within 60 m of the route",
    )  # fmt: skip
    assert bool(found) is told
    if told:
        assert found[0].startswith(f"Ground of {slope * 100:.0f} % within 60 m")


def test_edges_of_trees_are_no_steep_ground(tmp_path: Path) -> None:
    """In a surface model alone nobody can tell a wood's edge from a face."""
    wood = scenes.model(tmp_path, lambda e, n: 500 + np.where(n > 30, 25.0, 0.0))
    assert holding(scenes.fly(wood, EAST), "within 60 m of the route")
    assert not holding(scenes.fly(None, EAST, surface=wood), "within 60 m of the route")


# -- gorge --------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("walls_deg", "height_m", "sky"), [(60.0, 2.0, 33), (45.0, 2.0, None), (60.0, 120.0, None)]
)
def test_a_gorge(tmp_path: Path, walls_deg: float, height_m: float, sky: int | None) -> None:
    """Walls of 60 degrees leave (180 - 120) / 180 = 33 % at the bottom; of 45 degrees half.

    300 m out the wall is 519 m up, seen from 2 m: 59.9 degrees. From 120 m up, 53 degrees
    each: 41 %.
    """
    steep = np.tan(np.radians(walls_deg))
    found = said(
        tmp_path, lambda e, n: 100.0 + np.where(e > -100, steep * np.abs(n), 0.0), "Gorge",
        [(0.0, 0.0, height_m), (300.0, 0.0, height_m)], cell_m=5.0, start=(-300.0, 0.0),
    )  # fmt: skip
    assert bool(found) is (sky is not None)
    if sky is not None:
        assert f"the walls leave {sky} % of the sky" in found[0]


def test_one_wall_is_no_gorge(tmp_path: Path) -> None:
    """A cliff of 80 degrees on one side leaves more than half of the sky."""
    cliff = np.tan(np.radians(80.0))
    assert not said(
        tmp_path, lambda e, n: 100.0 + cliff * np.fmax(n - 10.0, 0.0), "Gorge",
        [(0.0, 0.0, 20.0), (300.0, 0.0, 20.0)], cell_m=5.0,
    )  # fmt: skip


# -- wind -----------------------------------------------------------------------------------------


def ridge(slope: float, at_m: float = 150.0) -> Surface:
    """Return a ridge that runs north, falling on both sides, 200 m high."""
    return lambda e, n: 500.0 + np.fmax(200.0 - slope * np.abs(e - at_m), 100.0) + 0 * n


OVER = [(0.0, 0.0, 120.0), (300.0, 0.0, 120.0)]


def test_wind_over_a_crest(tmp_path: Path) -> None:
    """V² (1.5² - 1) / 2g: 6.4 m at 10 m/s, which is supposed where no wind is stated."""
    (one,) = said(tmp_path, ridge(0.3), "Bernoulli", OVER)
    assert "up to 6.4 m" in one
    assert "state conditions.wind_m_per_s" in one


def test_declared_wind_is_in_the_margins_instead(tmp_path: Path) -> None:
    """Nothing is left to be said of it."""
    assert not said(tmp_path, ridge(0.3), "Bernoulli", OVER, wind_m_per_s=10.0)


@pytest.mark.parametrize(
    ("surface", "points"),
    [
        (plane(0.3), OVER),  # no crest on a slope
        (ridge(0.05), OVER),  # one that hardly falls
        (ridge(0.3), [(0.0, 0.0, 230.0), (300.0, 0.0, 230.0)]),  # 130 m over it
        (ridge(0.3, 450.0), OVER),  # 150 m beyond the last waypoint
        (lambda e, n: 2 * 700.0 - ridge(0.3)(e, n), OVER),  # a valley
    ],
    ids=["slope", "gentle", "high above", "far off", "valley"],
)
def test_no_crest_no_word(tmp_path: Path, surface: Surface, points: Any) -> None:
    """A crest falls by 10 m within 100 m on both sides, and is no farther than that."""
    assert not said(tmp_path, surface, "Bernoulli", points)


def test_satellites_do_not_feel_a_crest(tmp_path: Path) -> None:
    """Only a barometer does."""
    by_satellite = Aircraft(height_from="gnss")
    assert not said(tmp_path, ridge(0.3), "Bernoulli", OVER, aircraft=by_satellite)


def east_slope(east: Floats, north: Floats) -> Floats:
    """Return a slope that falls to the east by 0.36: 19.8 degrees."""
    return 700.0 - 0.36 * east


@pytest.mark.parametrize(
    ("surface", "wind", "from_deg", "told"),
    [
        (east_slope, 10.0, 270.0, True),
        (east_slope, 10.0, 315.0, True),  # 45 degrees off
        (east_slope, 10.0, 90.0, False),  # it blows up the slope
        (east_slope, 10.0, 0.0, False),  # it blows along it
        (east_slope, 7.9, 270.0, False),  # a breeze
        (plane(-0.25), 10.0, 270.0, False),  # 14.04 degrees
    ],
)
def test_lee_side(
    tmp_path: Path, surface: Surface, wind: float, from_deg: float, told: bool
) -> None:
    """Wind from the west over a slope that falls to the east, steeper than 15 degrees."""
    found = said(
        tmp_path, surface, "Lee side", [(0.0, 0.0, 60.0), (300.0, 0.0, 60.0)],
        wind_m_per_s=wind, conditions=Conditions(wind_from_deg=from_deg),
    )  # fmt: skip
    assert bool(found) is told
    if told:
        assert "the slope of 20 degrees that faces east" in found[0]


def test_lee_side_unknown(tmp_path: Path) -> None:
    """Wind without a direction over steep slopes: one side is the lee, nobody knows which."""
    (one,) = said(tmp_path, east_slope, "lee side", wind_m_per_s=10.0)
    assert "state conditions.wind_from_deg" in one
    assert not said(tmp_path, plane(0.1), "lee side", wind_m_per_s=10.0)

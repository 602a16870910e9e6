"""From a flown curve over a model to its budget: what the checks will call."""

from __future__ import annotations

import math
from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest

from terrain_guard.checks.budget.budget import Budget, budget
from terrain_guard.checks.budget.classes import GLOBAL
from terrain_guard.checks.budget.launch_spot import launch_spot
from terrain_guard.checks.budget.places import Places, places_along
from terrain_guard.checks.budget.setting import Setting
from terrain_guard.checks.budget.whole_flight import flight_chance
from terrain_guard.ground.model import Ground
from terrain_guard.path.curve import Curve
from terrain_guard.path.flight import Flight, fly
from tests.checks.budget.worked import setting
from tests.checks.scenes import model, route

SETTING = setting(GLOBAL, cell_m=10.0)


def longest(flight: Flight) -> Curve:
    """Return the reference curve of the longest section: here the way between two waypoints."""
    return max((section[0] for section in flight.sections), key=lambda one: one.along_m[-1])


def looked_at(folder: Path, slope: float, within_m: float = 10.0) -> tuple[Places, Budget]:
    """Fly 300 m north, 200 m east of the launch, over ground that rises to the east."""
    ground = Ground(
        model(
            folder,
            lambda e, n: 300 + slope * np.maximum(e - 100, 0) + 0 * n,
            cell_m=10.0,
            box_m=(-200.0, -200.0, 500.0, 500.0),
        )
    )
    flight = fly(
        route([(200.0, 0.0, 80.0), (200.0, 300.0, 80.0)], start=(0.0, 0.0)), [80.0, 80.0],
        spot_ground_m=0.0, step_m=2.0,
    )  # fmt: skip
    spot = launch_spot(
        ground, flight.frame, flight.launch, within_m=within_m,
        registration_m=SETTING.model.registration.value, cell_m=SETTING.cell_m,
    )  # fmt: skip
    found = places_along(ground, longest(flight), spot, SETTING)
    return found, budget(SETTING, found)


def test_a_curve_over_a_slope(tmp_path: Path) -> None:
    """Slope, distance and height at each sample; margins as the closed forms say."""
    places, found = looked_at(tmp_path, 0.4)
    on_leg = places.along_m > places.along_m[-1] - 200
    assert on_leg.sum() > 50
    assert places.slopes.east[on_leg] == pytest.approx(0.4, abs=1e-3)
    assert places.slopes.north[on_leg] == pytest.approx(0.0, abs=1e-3)
    assert places.above_launch_m[on_leg] == pytest.approx(80.0)
    north = places.y_m - places.launch.y_m
    assert places.away_m[on_leg] == pytest.approx(np.hypot(200.0, north[on_leg]), abs=0.01)
    registration = next(term for term in found.terms if term.name == "registration")
    assert registration.floor_m[on_leg] == pytest.approx(0.4 * 2.796, abs=5e-3)
    crest = next(term for term in found.terms if term.name == "clipped crest")
    assert crest.floor_m[on_leg] == pytest.approx(0.5 * 10.0 * 0.4, abs=0.01)


def test_a_launch_on_level_ground_adds_nothing(tmp_path: Path) -> None:
    """Its spot is level, and so is its plane."""
    places, _ = looked_at(tmp_path, 0.4)
    assert places.launch.lower_m == pytest.approx(0.0, abs=1e-6)
    assert places.launch.slope == pytest.approx(0.0, abs=1e-6)


def test_the_chance_of_the_whole_curve(tmp_path: Path) -> None:
    """More than that of its worst sample, and none where there is room enough."""
    places, found = looked_at(tmp_path, 0.4)
    tight = found.floor_bound_m + 2.5 * found.sigma_m
    some = flight_chance(found, places, side="floor", room_m=tight)
    assert 0.0062 < some.chance < 0.2
    none = flight_chance(found, places, side="floor", room_m=tight + 100.0)
    assert none.chance < 1e-3


def test_off_the_model_no_margin_is_known(tmp_path: Path) -> None:
    """Samples beyond its edge have none."""
    places, _ = looked_at(tmp_path, 0.4)
    ground = Ground(tmp_path / "ground.tif")
    flight = fly(
        route([(200.0, 0.0, 80.0), (900.0, 0.0, 80.0)], start=(0.0, 0.0)), [80.0, 80.0],
        spot_ground_m=0.0, step_m=5.0,
    )  # fmt: skip
    found = budget(SETTING, places_along(ground, longest(flight), places.launch, SETTING))
    assert math.isnan(found.floor_margin_m[-1])
    assert math.isnan(found.ceiling_margin_m[-1])
    assert np.isfinite(found.floor_margin_m[0])


def test_a_setting_with_another_class_looks_farther_for_its_plane(tmp_path: Path) -> None:
    """The reach of a shift is the class's: places are looked at with the same setting."""
    places, _ = looked_at(tmp_path, 0.4)
    coarse: Setting = replace(SETTING, cell_m=60.0)
    ground = Ground(tmp_path / "ground.tif")
    flight = fly(
        route([(120.0, 0.0, 80.0), (120.0, 300.0, 80.0)], start=(0.0, 0.0)), [80.0, 80.0],
        spot_ground_m=0.0, step_m=5.0,
    )  # fmt: skip
    near, far = (
        places_along(ground, longest(flight), places.launch, one).slopes.east[-1]
        for one in (SETTING, coarse)
    )
    assert near == pytest.approx(0.4, abs=1e-3)  # 20 m past the foot of the slope
    assert far < 0.35  # over it

"""What models and height sources are taken for."""

from __future__ import annotations

import itertools
import math
from dataclasses import fields

import pytest

from terrain_guard.checks.budget.classes import (
    GLOBAL,
    HEIGHT_SOURCES,
    LADDER,
    LIDAR,
    TERRAIN_CLASSES,
    Figure,
    HeightSource,
    TerrainClass,
    height_source,
    terrain_class,
)
from terrain_guard.errors import RefusedInput


@pytest.mark.parametrize(
    ("cell_m", "name"),
    [
        (0.25, "lidar"),
        (2.0, "lidar"),
        (2.009, "lidar"),  # a cell called 2 m measures a little more or less on the ground
        (2.02, "national"),
        (12.0, "national"),
        (12.1, "global"),
        (30.92, "global"),  # one second of arc of latitude
        (31.2, "coarse"),
        (92.8, "coarse"),
    ],
)
def test_cells_tell_the_class(cell_m: float, name: str) -> None:
    """Up to 2, 12 and 31 m, then coarse."""
    assert terrain_class(cell_m).name == name


def test_a_stated_class_goes_before_the_cells() -> None:
    """Radar of 2000 has the cells of a better model; only a name tells."""
    radar = terrain_class(30.9, named="radar")
    assert radar.crest_factor.value == 2.0
    assert radar.sigma_m > terrain_class(30.9).sigma_m


@pytest.mark.parametrize("cell_m", [0.0, -30.0, math.nan, math.inf])
def test_a_cell_without_length_is_refused(cell_m: float) -> None:
    """No class is guessed for it."""
    with pytest.raises(RefusedInput, match="a cell has a length"):
        terrain_class(cell_m)


def test_names_that_are_not_known_are_refused() -> None:
    """With the names that are."""
    with pytest.raises(RefusedInput, match="given 'sonar', but it is one of lidar, national"):
        terrain_class(30.0, named="sonar")
    with pytest.raises(RefusedInput, match="given 'laser', but it is one of barometer, gnss, rtk"):
        height_source("laser")


def test_heights_come_from_a_barometer_unless_stated() -> None:
    """As most aircraft tell them."""
    assert height_source(None).name == "barometer"
    assert height_source("rtk").pressure.value == 0.0


def test_each_class_is_better_than_the_next_in_everything() -> None:
    """Bias, both ends of the variogram, registration."""
    for better, worse in itertools.pairwise(LADDER):
        for pick in ("bias", "nugget", "registration"):
            assert getattr(better, pick).value <= getattr(worse, pick).value
        assert better.sigma_m < worse.sigma_m


def test_a_cards_sigma_scales_every_vertical_part() -> None:
    """One sigma in all as stated, in the proportions of the class; registration stays."""
    stated = GLOBAL.with_sigma(1.0)
    assert stated.sigma_m == pytest.approx(1.0)
    assert stated.nugget.value / stated.parts[0].sigma.value == pytest.approx(0.8 / 1.2)
    assert stated.nugget.source == "the model's card"
    assert stated.registration == GLOBAL.registration


def test_every_figure_has_a_unit_and_a_source() -> None:
    """No number travels alone."""
    things: list[TerrainClass | HeightSource] = [
        *TERRAIN_CLASSES.values(),
        *HEIGHT_SOURCES.values(),
    ]
    figures = [
        value
        for thing in things
        for value in (getattr(thing, one.name) for one in fields(thing))
        if isinstance(value, Figure)
    ]
    assert len(figures) > 30
    assert all(one.unit and one.source for one in figures)


@pytest.mark.parametrize("value", [-0.1, math.nan, math.inf])
def test_a_figure_is_a_size(value: float) -> None:
    """Negative, no number, endless: refused."""
    with pytest.raises(RefusedInput, match="it must be 0 or more"):
        Figure(value=value, unit="m", source="made up")


def test_lidar_differs_point_to_point_by_less_than_in_all() -> None:
    """0.07 to 0.1 m from point to point and 0.10 to 0.15 m in all, from memory."""
    assert LIDAR.nugget.value < 0.1 <= LIDAR.sigma_m <= 0.152

"""One wrong post: a spike or a pit in the model helps no limit, wherever it stands.

Away from the launch, a spike is ground nearer by and a pit ground farther below. Under the
launch it lifts or lowers every height above ground; there the launch spot's bound takes it back.
"""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path
from typing import Final

import numpy as np
import pytest

from terrain_guard.assess import check
from terrain_guard.assessment import Assessment
from terrain_guard.plan.route import Aircraft, Conditions
from tests.checks import scenes

HEIGHT_M: Final = 60.0
FAR_M: Final = 120.0
WITHIN_M: Final = 10.0
LIMITS: Final = scenes.rules(floor_m=46.0, ceiling_m=72.0, floor_k=3.0, ceiling_k=2.0)
HAIR_M: Final = 2e-3
"""Clearances are known to a millimetre."""
AT_LAUNCH_M: Final = 0.01
"""A launch 5 m lower lies 0.0325 K off the standard's air, 7 mm in 60 m; and by chance a wrong
post may tilt the ground at launch towards that at a sample: 5 mm of registration."""
LEVEL: Final = 200.0


def flown(folder: Path, wrong: tuple[int, int] | None = None, by_m: float = 0.0) -> Assessment:
    """Fly east over gentle hills of 1 m cells, of which one post (east, north) is wrong."""
    east, north = scenes.posts(1.0, -100.0, -100.0, 220.0, 100.0)
    heights = LEVEL + 3.0 * np.sin(east / 31.0) * np.cos(north / 23.0)
    if wrong is not None:
        heights[(east == wrong[0]) & (north == wrong[1])] += by_m
    name = "ground.tif" if wrong is None else f"wrong_{wrong[0]}_{wrong[1]}_{by_m:g}.tif"
    ground = scenes.grid(folder, heights, cell_m=1.0, corner_m=(-100.0, 100.0), name=name)
    route = replace(
        scenes.route(
            [(0.0, 0.0, HEIGHT_M), (FAR_M, 0.0, HEIGHT_M)],
            start=scenes.launch(0.0, 0.0, spot_within_m=WITHIN_M, offset_m=0.0),
        ),
        conditions=Conditions(temperature_c=15.0), aircraft=Aircraft(height_from="barometer"),
    )  # fmt: skip
    return check(route, ground=ground, canopy_m=0.0, rules=LIMITS)


def assert_does_not_help(
    found: Assessment, right: Assessment, *, side: str, within_m: float = HAIR_M
) -> None:
    """On the leg between the waypoints no height with margins is better, nor any sample's room."""
    name, sign = ("clearance_min", 1.0) if side == "floor" else ("above_ground_max", -1.0)
    worst, before = (getattr(one.legs[1], name).assured_m for one in (found, right))
    assert sign * worst <= sign * before + within_m
    for place, other in zip(_at_samples(found, side), _at_samples(right, side), strict=True):
        assert sign * place <= sign * other + within_m


def _at_samples(found: Assessment, side: str) -> list[float]:
    """Return heights with margins, straight up and down, at whole tenths of the leg."""
    samples, leg = found.samples, found.legs[1]
    at = np.searchsorted(samples.along_m, np.linspace(leg.from_m, leg.to_m, 11)[1:-1])
    margin = -samples.floor_margin_m if side == "floor" else samples.ceiling_margin_m
    return list((samples.above_ground_m + margin)[at])


@pytest.fixture(scope="module")
def right(tmp_path_factory: pytest.TempPathFactory) -> Assessment:
    """Return the flight over the model as it should be."""
    return flown(tmp_path_factory.mktemp("right"))


@pytest.mark.parametrize("wrong", [(60, 0), (61, 1), (75, -3), (90, 12), (118, 0)])
@pytest.mark.parametrize(("by_m", "side"), [(2.0, "floor"), (9.0, "floor"), (-9.0, "ceiling")])
def test_away_from_the_launch(
    tmp_path: Path, right: Assessment, wrong: tuple[int, int], by_m: float, side: str
) -> None:
    """A spike never helps the floor, nor a pit the ceiling; its slopes widen no room either."""
    found = flown(tmp_path, wrong, by_m)
    assert_does_not_help(found, right, side=side)
    states = found.samples.state >= right.samples.state
    assert states[~found.samples.in_column].all()


@pytest.mark.parametrize("wrong", [(0, 0), (1, 0), (0, -1), (3, 2), (-6, 5)])
@pytest.mark.parametrize("by_m", [-5.0, -1.0, 1.0, 5.0])
@pytest.mark.parametrize("side", ["floor", "ceiling"])
def test_at_the_launch(
    tmp_path: Path, right: Assessment, wrong: tuple[int, int], by_m: float, side: str
) -> None:
    """Whichever way it moves the heights as computed, with margins neither limit gains."""
    found = flown(tmp_path, wrong, by_m)
    assert_does_not_help(found, right, side=side, within_m=AT_LAUNCH_M)


def test_it_does_move_the_heights_as_computed(tmp_path: Path, right: Assessment) -> None:
    """Under the launch itself a spike of 5 m lifts the flight by 5 m as computed."""
    high, low = (one.samples.above_ground_m for one in (flown(tmp_path, (0, 0), 5.0), right))
    assert high[-1] - low[-1] == pytest.approx(5.0, abs=AT_LAUNCH_M)

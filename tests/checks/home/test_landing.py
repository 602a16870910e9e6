"""Landing where it is: slopes of planes, and what stands on them."""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pytest

from terrain_guard.checks.beneath import Beneath
from terrain_guard.checks.home.landing import landing
from terrain_guard.checks.judge import BREACH, NOT_ASSESSED, TIGHT
from terrain_guard.ground.model import Ground
from terrain_guard.path.frame import LocalFrame
from tests.checks import scenes

BOX_M = (-60.0, -60.0, 60.0, 60.0)
FRAME = LocalFrame.around([scenes.LON_DEG], [scenes.LAT_DEG])
HERE = np.zeros(1), np.zeros(1)


def over(folder: Path, ground: scenes.Surface, surface: scenes.Surface | None = None) -> Beneath:
    """Return models of a made surface, 1 m cells."""
    top = None
    if surface is not None:
        top = Ground(scenes.model(folder, surface, box_m=BOX_M, name="surface.tif"))
    bare = Ground(scenes.model(folder, ground, box_m=BOX_M))
    return Beneath(ground=bare, surface=top, launch_elevation_m=0.0)


@pytest.mark.parametrize("turn_deg", [0.0, 11.25, 30.0, 45.0, 200.0])
@pytest.mark.parametrize(
    ("slope", "degrees", "code"),
    [
        (0.0, 0.0, TIGHT),
        (0.15, 8.531, TIGHT),
        (0.20, 11.310, TIGHT),
        (0.30, 16.699, BREACH),  # atan 0.3
    ],
)
def test_slopes(tmp_path: Path, turn_deg: float, slope: float, degrees: float, code: int) -> None:
    """20 % are 11.3 degrees and doubtful, 30 % are 16.7 and too steep, whichever way they fall."""
    turn = np.radians(turn_deg)

    def plane(east: scenes.Floats, north: scenes.Floats) -> scenes.Floats:
        return slope * (east * np.sin(turn) + north * np.cos(turn))

    found = landing(over(tmp_path, plane), FRAME, *HERE)
    assert found.slope_deg[0] == pytest.approx(degrees, abs=1e-3)
    assert found.code.tolist() == [code]


def test_a_step_is_steeper_than_its_plane(tmp_path: Path) -> None:
    """A terrace 4 m higher from 3 m on: 4/5 at the ring of 5 m."""

    def step(east: scenes.Floats, _north: scenes.Floats) -> scenes.Floats:
        return np.where(east >= 3.0, 4.0, 0.0)

    found = landing(over(tmp_path, step), FRAME, *HERE)
    assert found.slope_deg[0] == pytest.approx(np.degrees(np.arctan(0.8)), abs=1e-6)
    assert found.code.tolist() == [BREACH]


@pytest.mark.parametrize(("tree_m", "code"), [(0.5, TIGHT), (2.0, BREACH)])
def test_what_stands_there(tmp_path: Path, tree_m: float, code: int) -> None:
    """A bush of half a metre, and one of two."""

    def bush(east: scenes.Floats, north: scenes.Floats) -> scenes.Floats:
        return np.where(np.hypot(east, north) < 7.0, tree_m, 0.0)

    found = landing(over(tmp_path, lambda e, _: 0 * e, bush), FRAME, *HERE)
    assert found.cover_m[0] == pytest.approx(tree_m)
    assert found.code.tolist() == [code]


def test_unknown_ground_is_not_assessed(tmp_path: Path) -> None:
    """A void under one of the places looked at, in either model."""

    def hole(east: scenes.Floats, _north: scenes.Floats) -> scenes.Floats:
        return np.where(east > 8.0, np.nan, 0.0)

    def level(east: scenes.Floats, _north: scenes.Floats) -> scenes.Floats:
        return 0 * east

    assert landing(over(tmp_path, hole), FRAME, *HERE).code.tolist() == [NOT_ASSESSED]
    assert landing(over(tmp_path, level, hole), FRAME, *HERE).code.tolist() == [NOT_ASSESSED]

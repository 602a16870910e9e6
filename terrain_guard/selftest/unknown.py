"""Missing ground: not assessed, exactly as far as it reaches, and never a number.

A post stands every 10 m; the line flown passes straight over the missing one, so the
two cells beside it hide 20 m of ground. A floor asks for ground as far as itself and
its margin around that::

        ──┼────┼────○────┼────┼──        ○ missing
               |<-- 20 -->|
        |<-- 20 + 2 (floor + margin) -->|
"""

from __future__ import annotations

from operator import methodcaller
from typing import Final

import numpy as np

from terrain_guard.arrays import Floats
from terrain_guard.selftest.cases import CENTIMETRE, MILLIMETRE, Case, Outcome, case
from terrain_guard.selftest.models import Model
from terrain_guard.selftest.scenes import Bench, Flown, Scene
from terrain_guard.selftest.slopes import FLOOR_M, LEVEL_M

CELL_M: Final = 10.0
EDGE_M: Final = 200.0
"""How far east the model's last posts stand."""


def _holed(east: Floats, north: Floats) -> Floats:
    missing = np.hypot(east, north) < CELL_M / 2
    return np.where(missing, np.nan, LEVEL_M)


_MODEL: Final = Model(
    name="holed", surface=_holed, box_m=(-EDGE_M, -EDGE_M, EDGE_M, EDGE_M), cell_m=CELL_M
)
_OVER: Final = Scene(
    model=_MODEL, points=((-90.0, 0.0, 60.0), (90.0, 0.0, 60.0)),
    floor_m=FLOOR_M, floor_measure="vertical",
)  # fmt: skip
_NEAR: Final = Scene(
    model=_MODEL, points=((-110.0, 0.0, 60.0), (110.0, 0.0, 60.0)), floor_m=FLOOR_M
)
_BEYOND_M: Final = 30.0
_OFF: Final = Scene(
    model=_MODEL,
    points=((EDGE_M - 60.0, 100.0, 60.0), (EDGE_M + _BEYOND_M, 100.0, 60.0)),
    floor_m=FLOOR_M,
    floor_measure="vertical",
)


def _floor_around(bench: Bench) -> Outcome:
    """Compare what the floor misses around a void, its margin as the rules fix it."""
    flown = bench.fly(_NEAR)
    expected = 2 * CELL_M + 2 * (FLOOR_M + _NEAR.floor_margin_m)
    # Both ends of the stretch are sought to a centimetre.
    return Outcome(expected, flown.not_assessed(), 2 * CENTIMETRE)


CASES: Final = (
    case("void", "over one missing post: metres not assessed",
         _OVER, 2 * CELL_M, Flown.not_assessed, within_m=MILLIMETRE),
    case("void-number", "the same: metres given a height or a state",
         _OVER, 0.0, methodcaller("taken_for_known", 90.0 - CELL_M, 90.0 + CELL_M), within_m=0.0),
    Case(name="void-floor", what="a floor of 30 m near it: metres not assessed",
         run=_floor_around),
    case("edge", "30 m beyond the model: metres not assessed",
         _OFF, _BEYOND_M, Flown.not_assessed, within_m=MILLIMETRE),
    case("edge-number", "the same: metres given a height or a state",
         _OFF, 0.0, methodcaller("taken_for_known", 60.0, 60.0 + _BEYOND_M), within_m=0.0),
)  # fmt: skip

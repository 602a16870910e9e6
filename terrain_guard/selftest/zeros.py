"""What heights count from, and the unit they are in: launch, ground, feet.

A launch moved uphill lifts the whole flight by what it climbs; feet, in the route or in
the model, are 0.3048 m; heights above ground follow it.
"""

from __future__ import annotations

from operator import methodcaller
from typing import Final

from terrain_guard.selftest.cases import MILLIMETRE, Case, case
from terrain_guard.selftest.models import FOOT_M, Model
from terrain_guard.selftest.scenes import Flown, Scene
from terrain_guard.selftest.slopes import (
    BOX_M,
    CEILING_M,
    CELL_M,
    FLOOR_M,
    LEVEL_M,
    SLOPES,
    lean,
    on_slope,
    plane,
    tangent,
)

# ------------------------------------------------------------ flat ground, heights in feet

FLAT: Final = Model(
    name="flat", surface=lambda east, north: LEVEL_M + 0.0 * (east + north),
    box_m=(-150.0, -150.0, 300.0, 300.0), cell_m=10.0,
)  # fmt: skip
_FLAT: Final = Scene(
    model=FLAT, points=((0.0, 0.0, 400.0), (12.0, 5.0, CEILING_M / FOOT_M)), unit="ft",
    floor_m=FLOOR_M, ceiling_m=CEILING_M,
)  # fmt: skip


def _flat_cases() -> list[Case]:
    return [
        case("feet", "400 ft typed: height above flat ground",
             _FLAT, 400 * FOOT_M, methodcaller("above_ground", 1), within_m=MILLIMETRE),
        case("flat", "120 m above flat ground: distance",
             _FLAT, CEILING_M, methodcaller("clearance", 2)),
        case("flat-ceiling", "120 m straight down: highest",
             _FLAT, CEILING_M, methodcaller("breach_from", "ceiling", 0)),
    ]  # fmt: skip


# ------------------------------------------------------------ other zeros, other places

_UP_M: Final = 100.0
_MOVED: Final = Scene(
    model=SLOPES[10.0].model,
    points=((0.0, 0.0, 60.0), (0.0, 20.0, 60.0)),
    moved_to=(_UP_M, 0.0),
)
_LAUNCH_UP_M: Final = -40.0
_IN_FEET: Final = Scene(
    model=Model(name="feet", surface=plane(20.0, 200.0), box_m=BOX_M, cell_m=CELL_M, unit_m=FOOT_M),
    points=((*on_slope(200.0, 0.0, -10.0), 60.0), (*on_slope(200.0, 10.0, 25.0), 60.0)),
    launch=on_slope(200.0, 0.0, _LAUNCH_UP_M),
    heights="ground",
)


def _launch_elevation(flown: Flown) -> float:
    return flown.found.launch.elevation_m


def _other_zeros() -> list[Case]:
    return [
        case("launch-moved", "launched 100 m up a 10° slope: 60 m becomes",
             _MOVED, 60.0 + _UP_M * tangent(10.0),
             methodcaller("extreme", 1, "above_ground_min"), within_m=MILLIMETRE),
        case("feet-elevation", "launch ground read from feet, 20° slope",
             _IN_FEET, LEVEL_M + _LAUNCH_UP_M * tangent(20.0),
             _launch_elevation, within_m=MILLIMETRE),
        case("above-ground", "60 m typed above ground, up 20°: least",
             _IN_FEET, 60.0,
             methodcaller("extreme", 1, "above_ground_min"), within_m=MILLIMETRE),
        case("feet-distance", "60 m above 20° read from feet: distance",
             _IN_FEET, 60.0 * lean(20.0), methodcaller("extreme", 1, "clearance_min")),
    ]  # fmt: skip


CASES: Final = (*_flat_cases(), *_other_zeros())

"""Planes: the distance to the ground is A cos(slope), at height A above it.

A bilinear patch between posts of a plane is that plane, so nothing smears, whatever
the size of the cells and however the grid lies. Each slope faces another way::

                            ╱       A cos(slope) to the nearest ground
            ✈ ─ ─ ─ ─ ─ ─ ╱
            │ ╲         ╱           S >= F needs A >= F / cos(slope)
          A │   ╲     ╱             S <= C allows A <= C / cos(slope)
            │   S ╲ ╱
            │     ╱
"""

from __future__ import annotations

import math
from operator import methodcaller
from typing import Final

from terrain_guard.arrays import Floats
from terrain_guard.selftest.cases import MILLIMETRE, Case, case
from terrain_guard.selftest.models import Model, Surface
from terrain_guard.selftest.scenes import Flown, Point, Scene

LEVEL_M: Final = 300.0
"""The ground at the spot."""
FLOOR_M: Final = 30.0
CEILING_M: Final = 120.0
CELL_M: Final = 5.0
BOX_M: Final = (-200.0, -200.0, 200.0, 200.0)


def tangent(slope_deg: float) -> float:
    """Return the rise of a slope per metre forward."""
    return math.tan(math.radians(slope_deg))


def lean(slope_deg: float) -> float:
    """Return the cosine of a slope."""
    return math.cos(math.radians(slope_deg))


def plane(slope_deg: float, uphill_deg: float) -> Surface:
    """Return a plane that rises towards a direction, counted anticlockwise from east."""
    turn = math.radians(uphill_deg)
    east_rise, north_rise = (tangent(slope_deg) * f(turn) for f in (math.cos, math.sin))

    def surface(east: Floats, north: Floats) -> Floats:
        return LEVEL_M + east_rise * east + north_rise * north

    return surface


def on_slope(uphill_deg: float, along_m: float, up_m: float) -> tuple[float, float]:
    """Return (east, north) of a place so far along the contour (uphill on the right) and up."""
    turn = math.radians(uphill_deg)
    cos, sin = math.cos(turn), math.sin(turn)
    return up_m * cos - along_m * sin, up_m * sin + along_m * cos


# ------------------------------------------------------------ up, along, down

ALONG_M: Final = 45.0
UPHILL_DEG: Final = {10.0: 0.0, 20.0: 250.0, 30.0: 130.0, 45.0: 35.0}
TILES: Final = {45.0: 2}


def _up_along_and_down(slope_deg: float) -> Scene:
    """Climb through the ceiling; along the contour to 120 m above it; down to 30 m.

    The ceiling counts from the closest point.
    """
    uphill = UPHILL_DEG[slope_deg]

    def point(along_m: float, height_m: float) -> Point:
        return *on_slope(uphill, along_m, 0.0), height_m

    return Scene(
        model=Model(
            name=f"plane-{slope_deg:g}", surface=plane(slope_deg, uphill), box_m=BOX_M,
            cell_m=CELL_M, tiles=TILES.get(slope_deg, 1),
        ),
        points=(
            point(0.0, CEILING_M / lean(slope_deg) + 3.0),
            point(10.0, CEILING_M),
            point(10.0 + ALONG_M, FLOOR_M),
        ),
        floor_m=FLOOR_M, ceiling_m=CEILING_M, ceiling_measure="closest-point",
    )  # fmt: skip


SLOPES: Final = {slope_deg: _up_along_and_down(slope_deg) for slope_deg in UPHILL_DEG}
"""One scene a slope."""


def _lowest_flown(flown: Flown) -> float:
    """Return the height above ground at which the descent, leg 2, breaks the floor."""
    fall = CEILING_M - FLOOR_M
    return CEILING_M - flown.breach_from("floor", 2) * fall / math.hypot(fall, ALONG_M)


def _lowest_allowed(flown: Flown) -> float:
    """Return the lowest allowed elevation, less its margin and the ground."""
    here, found = flown.at(3), flown.found
    lowest = float(flown.limits().lowest_allowed_m[here])
    margin_m = flown.scene.floor_margin_m
    return lowest - margin_m - float(found.samples.ground_elevation_m[here])


def _highest_allowed(flown: Flown) -> float:
    """Return the highest allowed elevation, with its margin, less the ground."""
    here, found = flown.at(3), flown.found
    highest = float(flown.limits().highest_allowed_m[here])
    return highest + flown.scene.ceiling_margin_m - float(found.samples.ground_elevation_m[here])


def _plane_cases(slope_deg: float) -> list[Case]:
    scene, cos, name = SLOPES[slope_deg], lean(slope_deg), f"plane-{slope_deg:g}"
    slope = f"a {slope_deg:g}° slope" + (", 2 tiles" if slope_deg in TILES else "")
    found = [
        case(f"{name}-distance", f"120 m above {slope}: distance",
             scene, CEILING_M * cos, methodcaller("clearance", 2)),
        case(f"{name}-ceiling", f"120 m from {slope}: highest",
             scene, CEILING_M / cos, methodcaller("breach_from", "ceiling", 0)),
    ]  # fmt: skip
    if slope_deg < 30:  # gentle slopes hide little of a floor
        return found
    return [
        *found,
        case(f"{name}-low", f"30 m above {slope}: distance",
             scene, FLOOR_M * cos, methodcaller("clearance", 3)),
        case(f"{name}-floor", f"30 m from {slope}: lowest",
             scene, FLOOR_M / cos, _lowest_flown),
        case(f"{name}-lowest-surface", f"30 m from {slope}: lowest drawn",
             scene, FLOOR_M / cos, _lowest_allowed),
        case(f"{name}-highest-surface", f"120 m from {slope}: highest drawn",
             scene, CEILING_M / cos, _highest_allowed),
    ]  # fmt: skip


# ------------------------------------------------------------ into the hill, on a turned grid

_HEIGHT_M: Final = 50.0
_INTO_M: Final = 80.0
_TURNED: Final = Scene(
    model=Model(
        name="plane-40", surface=plane(40.0, 100.0), box_m=BOX_M, cell_m=CELL_M, turned_deg=37.0
    ),
    points=(
        (0.0, 0.0, CEILING_M / lean(40.0) + 3.0),
        (*on_slope(100.0, 10.0, 0.0), _HEIGHT_M),
        (*on_slope(100.0, 10.0, _INTO_M), _HEIGHT_M),
    ),
    ceiling_m=CEILING_M,
    ceiling_measure="closest-point",
)


def _turned_cases() -> list[Case]:
    deep = _HEIGHT_M - _INTO_M * tangent(40.0)
    return [
        case("turned-ceiling", "120 m from a 40° slope, turned grid: highest",
             _TURNED, CEILING_M / lean(40.0), methodcaller("breach_from", "ceiling", 0)),
        case("into-the-hill", "50 m up, level into a 40° slope: touches at",
             _TURNED, _HEIGHT_M / tangent(40.0),
             methodcaller("breach_from", "underground", 2)),
        case("underground", "80 m on, below ground: height above it",
             _TURNED, deep,
             methodcaller("extreme", 2, "above_ground_min"), within_m=MILLIMETRE),
        case("under-distance", "80 m on, below ground: distance to it",
             _TURNED, deep * lean(40.0), methodcaller("extreme", 2, "clearance_min")),
    ]  # fmt: skip


CASES: Final = (
    *(one for slope_deg in SLOPES for one in _plane_cases(slope_deg)),
    *_turned_cases(),
)

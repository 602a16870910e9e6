"""Ground that is not a plane: cliffs, canyon, cone, valley, trough and dome.

Cells of 1 m. What a grid of posts makes of each shape, and what that costs, is worked
out beside it; where it costs nothing, the closed form holds to a centimetre.
"""

from __future__ import annotations

import math
from operator import methodcaller
from typing import Final

import numpy as np

from terrain_guard.arrays import Floats
from terrain_guard.selftest.cases import MILLIMETRE, Case, case
from terrain_guard.selftest.models import Model, Surface
from terrain_guard.selftest.scenes import Flown, Scene
from terrain_guard.selftest.slopes import lean, tangent

FOOT_M: Final = 50.0
"""Elevation at the foot of a cliff."""
CELL_M: Final = 1.0

# ------------------------------------------------------------ cliffs and a slot canyon
#
#            ✈      h above the rim     A face between two posts leans by one cell c.
#   ___ rim         d out               The rim is a post, so above it the distance is
#      │╲                               sqrt(d² + h²) exactly. Below it the leaning face
#      │ ╲___                           is nearest: (d H + h c) / sqrt(H² + c²), which is
#       c                               nearer than d by less than c.


def _cliff(height_m: float) -> Surface:
    """Return a plateau whose rim is at the spot, falling eastward."""

    def surface(east: Floats, north: Floats) -> Floats:
        return FOOT_M + np.where(east < CELL_M / 2, height_m, 0.0) + 0.0 * north

    return surface


def _canyon(east: Floats, north: Floats) -> Floats:
    """Return a slot 100 m wide and 200 m deep."""
    return FOOT_M + np.where(np.abs(east) > 50.0 - CELL_M / 2, 200.0, 0.0) + 0.0 * north


def _to_face(out_m: float, over_rim_m: float, height_m: float) -> float:
    """Return the distance to a face that leans by one cell over its height."""
    return (out_m * height_m + over_rim_m * CELL_M) / math.hypot(height_m, CELL_M)


_HIGH_CLIFF: Final = Scene(
    model=Model(name="cliff-200", surface=_cliff(200.0), box_m=(-150.0, -130.0, 250.0, 130.0)),
    points=((-5.0, 0.0, 50.0), (60.0, 0.0, 50.0), (110.0, 0.0, 50.0), (120.0, 0.0, 0.0),
            (60.0, 0.0, -40.0)),
)  # fmt: skip
_LOW_CLIFF: Final = Scene(
    model=Model(name="cliff-100", surface=_cliff(100.0), box_m=(-150.0, -200.0, 420.0, 200.0)),
    points=((-5.0, 0.0, 80.0), (90.0, 0.0, 80.0), (200.0, 0.0, 90.0)),
)
_CANYON: Final = Scene(
    model=Model(name="canyon", surface=_canyon, box_m=(-160.0, -160.0, 160.0, 160.0)),
    points=((0.0, 0.0, 150.0), (0.0, 5.0, 150.0)),
)


def _cliff_cases() -> list[Case]:
    return [
        case("rim", "50 m above a rim, 60 m out: distance",
             _HIGH_CLIFF, math.hypot(60.0, 50.0), methodcaller("clearance", 2)),
        case("rim-below", "the same, 200 m cliff: height above ground",
             _HIGH_CLIFF, 250.0, methodcaller("above_ground", 2), within_m=MILLIMETRE),
        case("rim-far", "50 m above a rim, 110 m out: distance",
             _HIGH_CLIFF, math.hypot(110.0, 50.0), methodcaller("clearance", 3)),
        case("rim-level", "level with a rim, 120 m out: distance",
             _HIGH_CLIFF, _to_face(120.0, 0.0, 200.0), methodcaller("clearance", 4)),
        case("face", "40 m below a rim, 60 m out: to its face",
             _HIGH_CLIFF, _to_face(60.0, -40.0, 200.0), methodcaller("clearance", 5)),
        case("rim-low", "80 m above a rim, 90 m out: distance",
             _LOW_CLIFF, math.hypot(90.0, 80.0), methodcaller("clearance", 2)),
        case("rim-or-foot", "90 m above a rim, 200 m out: to the foot",
             _LOW_CLIFF, min(math.hypot(200.0, 90.0), 190.0), methodcaller("clearance", 3)),
        case("canyon", "amid a slot canyon of 100 m: to its walls",
             _CANYON, _to_face(50.0, -50.0, 200.0), methodcaller("clearance", 1)),
    ]  # fmt: skip


# ------------------------------------------------------------ cone
#
# On the line of posts through the apex the cells' edges lie in the cone, and every other
# point of a patch lies below it (a cone is concave, a chord lies below): seen from above
# that line the grid costs nothing. The apex is nearest out to r = a sin cos.

_CONE_DEG: Final = 30.0
_ABOVE_M: Final = 100.0
_APEX_M: Final = 400.0
_TURNING_M: Final = _ABOVE_M * math.sin(math.radians(_CONE_DEG)) * lean(_CONE_DEG)  # 43.30
_ASIDE_M: Final = (0.0, 20.0, _TURNING_M, 60.0, 100.0)


def _cone(east: Floats, north: Floats) -> Floats:
    return _APEX_M - tangent(_CONE_DEG) * np.hypot(east, north)


def _to_cone(aside_m: float) -> float:
    """Return the distance to a cone from 100 m above it, so far beside its axis."""
    if aside_m >= _TURNING_M:
        return _ABOVE_M * lean(_CONE_DEG)
    return math.hypot(aside_m, _ABOVE_M - aside_m * tangent(_CONE_DEG))


_CONE: Final = Scene(
    model=Model(name="cone", surface=_cone, box_m=(-100.0, -100.0, 200.0, 100.0)),
    points=tuple((r, 0.0, _ABOVE_M - r * tangent(_CONE_DEG)) for r in _ASIDE_M),
)


def _cone_cases() -> list[Case]:
    return [
        case(f"cone-{aside_m:.0f}",
             f"100 m above a 30° cone, {round(aside_m, 1):g} m aside: distance",
             _CONE, _to_cone(aside_m), methodcaller("clearance", number))
        for number, aside_m in enumerate(_ASIDE_M, start=1)
    ]  # fmt: skip


# ------------------------------------------------------------ valley
#
# The stream runs along a line of posts: both walls are planes of the grid.

_OVER_STREAM_M: Final = 120.0 / lean(30.0)  # 138.564
_BESIDE_M: Final = 40.0


def _valley(east: Floats, north: Floats) -> Floats:
    return FOOT_M + tangent(30.0) * np.abs(east) + 0.0 * north


_VALLEY: Final = Scene(
    model=Model(name="valley", surface=_valley, box_m=(-170.0, -150.0, 190.0, 150.0)),
    points=tuple(
        (east, 0.0, _OVER_STREAM_M - _BESIDE_M * tangent(30.0)) for east in (_BESIDE_M, -25.4)
    ),
)


def _highest_over_stream(flown: Flown) -> float:
    """Return how far from the launch the highest place above ground lies."""
    highest = flown.found.legs[1].above_ground_max
    if highest is None:
        return math.nan
    away = flown.scene.frame.metres_from(
        (_BESIDE_M, 0.0), lat_deg=highest.lat_deg, lon_deg=highest.lon_deg
    )
    return float(away[0])


def _valley_cases() -> list[Case]:
    return [
        case("valley-side", "over a 30° valley, 40 m aside: distance",
             _VALLEY, (_OVER_STREAM_M - _BESIDE_M * tangent(30.0)) * lean(30.0),
             methodcaller("clearance", 1)),
        case("valley-depth", "across its stream: greatest above ground",
             _VALLEY, _OVER_STREAM_M,
             methodcaller("extreme", 1, "above_ground_max"), within_m=MILLIMETRE),
        case("valley-middle", "across its stream: greatest distance",
             _VALLEY, _OVER_STREAM_M * lean(30.0), methodcaller("extreme", 1, "clearance_max")),
        case("valley-place", "where that is: metres from launch",
             _VALLEY, _BESIDE_M, _highest_over_stream),
    ]  # fmt: skip


# ------------------------------------------------------------ trough, dome
#
# A chord of one cell strays from a curve of curvature k by at most c² k / 8: 1.25 mm in
# the trough (k = 1 / 100 m), 0.4 mm on the dome where it is nearest (k = 0.0031 / m).
# Both lie well within the centimetre.

_P_M: Final = 100.0
_TROUGH_M: Final = (80.0, 120.0, 150.0, 200.0)
_RADIUS_M: Final = 500.0


def _trough(east: Floats, north: Floats) -> Floats:
    return FOOT_M + east**2 / (2 * _P_M) + 0.0 * north


def _to_trough(height_m: float) -> float:
    """Return the distance to z = x² / 2p from above its axis."""
    return height_m if height_m <= _P_M else math.sqrt(2 * _P_M * height_m - _P_M**2)


def _dome(east: Floats, north: Floats) -> Floats:
    return np.sqrt(_RADIUS_M**2 - east**2 - north**2)


_TROUGH: Final = Scene(
    model=Model(name="trough", surface=_trough, box_m=(-220.0, -210.0, 220.0, 220.0)),
    points=tuple((0.0, 3.0 * k, height) for k, height in enumerate(_TROUGH_M)),
)
_DOME: Final = Scene(
    model=Model(name="dome", surface=_dome, box_m=(170.0, -130.0, 420.0, 130.0)),
    points=((300.0, 0.0, 520.0 - 400.0), (300.0, 5.0, 520.0 - 400.0)),  # its ground is at 400 m
)


def _curved_cases() -> list[Case]:
    trough = [
        case(f"trough-{height:g}", f"{height:g} m up in a parabolic trough: distance",
             _TROUGH, _to_trough(height), methodcaller("clearance", number))
        for number, height in enumerate(_TROUGH_M, start=1)
    ]  # fmt: skip
    dome = case(
        "dome", "120 m above the side of a dome: distance",
        _DOME, math.hypot(300.0, 520.0) - _RADIUS_M, methodcaller("clearance", 1),
    )  # fmt: skip
    return [*trough, dome]


CASES: Final = (*_cliff_cases(), *_cone_cases(), *_valley_cases(), *_curved_cases())

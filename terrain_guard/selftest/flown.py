"""The curve really flown: corners, turn radius, out and home, the antimeridian.

Over flat ground, so that only the curve counts::

            waypoint        A   change of course
               ╱╲           T   turn anticipation, r tan(A/2)
        T   ╱  ─  ╲         r (sec(A/2) − 1): how far inside the waypoint it passes
          ╱ (  r  ) ╲       r A: length of the arc
        ╱             ╲     r (1 − cos A): how far a turn begun at the waypoint swings out

Samples on an arc are so close that no chord strays from it by more than a millimetre.
"""

from __future__ import annotations

import math
from operator import methodcaller
from typing import Final

from terrain_guard.arrays import Floats
from terrain_guard.selftest.cases import MILLIMETRE, Case, case
from terrain_guard.selftest.models import ANTIMERIDIAN, EQUATOR_DEGREE_M, Model
from terrain_guard.selftest.scenes import Flown, Scene
from terrain_guard.selftest.slopes import CEILING_M, FLOOR_M, LEVEL_M
from terrain_guard.selftest.zeros import FLAT

SIDE_M: Final = 100.0
RIGHT: Final = math.radians(90.0)
SIXTY: Final = math.radians(60.0)
STANDARD_GRAVITY: Final = 9.80665  # m/s², by definition (SI brochure)


def _gap(radius_m: float, change: float) -> float:
    """Return how far inside its waypoint a turn passes."""
    return radius_m * (1 / math.cos(change / 2) - 1)


# ------------------------------------------------------------ corners, turning 20 m before

_T_M: Final = 20.0
_CORNERS: Final = Scene(
    model=FLAT,
    turns=f'kind = "fly-by"\nturn_anticipation_m = {_T_M}',
    points=(
        (0.0, 0.0, 60.0),
        (SIDE_M, 0.0, 60.0),
        (SIDE_M, SIDE_M, 60.0),
        (SIDE_M * (1 + math.sin(SIXTY)), SIDE_M * (1 + math.cos(SIXTY)), 60.0),
    ),
)


def _radius_before(change: float) -> float:
    """Return the radius of a turn that begins T before the waypoint."""
    return _T_M / math.tan(change / 2)


def _first_arc(flown: Flown) -> float:
    """Return twice the half arc that ends leg 1, after its straight part."""
    return 2 * (flown.found.legs[1].length_m - (SIDE_M - _T_M))


def _second_arc(flown: Flown) -> float:
    """Return twice the half arc that begins leg 3, before its straight part."""
    return 2 * (flown.found.legs[3].length_m - (SIDE_M - _T_M))


def _corner_cases() -> list[Case]:
    return [
        case("corner-90", "a corner of 90° begun 20 m before: inside by",
             _CORNERS, _gap(_radius_before(RIGHT), RIGHT), methodcaller("inside", 2)),
        case("arc-90", "the same: length of the arc",
             _CORNERS, _radius_before(RIGHT) * RIGHT, _first_arc),
        case("corner-60", "a corner of 60° begun 20 m before: inside by",
             _CORNERS, _gap(_radius_before(SIXTY), SIXTY), methodcaller("inside", 3)),
        case("arc-60", "the same: length of the arc",
             _CORNERS, _radius_before(SIXTY) * SIXTY, _second_arc),
    ]  # fmt: skip


# ------------------------------------------------------------ corners, by bank

_SPEED_M_PER_S: Final = 10.0
_BANK_DEG: Final = 20.0
_WIND_M_PER_S: Final = 4.0
_LEG_M: Final = 120.0


def _banked(kind: str, wind_m_per_s: float = 0.0) -> Scene:
    """Round one corner of 90 degrees, climbing into it and descending out of it."""
    return Scene(
        model=FLAT,
        turns=f'kind = "{kind}"\nbank_deg = {_BANK_DEG}',
        points=((0.0, 0.0, 60.0), (_LEG_M, 0.0, 75.0), (_LEG_M, _LEG_M, 60.0)),
        speed_m_per_s=_SPEED_M_PER_S,
        wind_m_per_s=wind_m_per_s,
    )


def _radius_by_bank(wind_m_per_s: float) -> float:
    """Return (v + w)² / (g tan bank)."""
    pull = STANDARD_GRAVITY * math.tan(math.radians(_BANK_DEG))
    return (_SPEED_M_PER_S + wind_m_per_s) ** 2 / pull


def _radius_flown(flown: Flown) -> float:
    return flown.inside(2) / _gap(1.0, RIGHT)


_CALM: Final = _banked("fly-by")
_WINDY: Final = _banked("fly-by", wind_m_per_s=_WIND_M_PER_S)
_FLOWN_OVER: Final = _banked("fly-over")


def _swings_out(flown: Flown) -> float:
    """Return how far beyond the second leg, which runs north, the turn swings."""
    samples, frame = flown.found.samples, flown.scene.frame
    return float(frame.east_m(lat_deg=samples.lat_deg, lon_deg=samples.lon_deg).max()) - _LEG_M


def _bank_cases() -> list[Case]:
    return [
        case("radius", "10 m/s at 20° of bank: radius of the turn",
             _CALM, _radius_by_bank(0.0), _radius_flown),
        case("corner-height", "75 m typed at the corner: height in mid-arc",
             _CALM, 75.0, methodcaller("above_ground", 2), within_m=MILLIMETRE),
        case("radius-wind", "the same turn in a wind of 4 m/s: radius",
             _WINDY, _radius_by_bank(_WIND_M_PER_S), _radius_flown),
        case("fly-over", "flown past the waypoint: swings out by",
             _FLOWN_OVER, _radius_by_bank(0.0) * (1 - math.cos(RIGHT)), _swings_out),
    ]  # fmt: skip


# ------------------------------------------------------------ out and home

_OUT_M, _HOME_M = 60.0, 80.0
_RETURN: Final = Scene(
    model=FLAT,
    points=((0.0, 0.0, _OUT_M), (60.0, 80.0, _OUT_M)),
    after_last='go_to = "launch"\nthen = "land"',
    home_height=_HOME_M,
    floor_m=FLOOR_M,
    ceiling_m=CEILING_M,
)


def _length(flown: Flown) -> float:
    return flown.found.length_m


# ------------------------------------------------------------ over 180 degrees, 10 % uphill

_HALF_M: Final = 0.001 * EQUATOR_DEGREE_M  # to 0.001° on either side
_RISE: Final = 0.1


def _uphill(east: Floats, north: Floats) -> Floats:
    return LEVEL_M + _RISE * east + 0.0 * north


_OVER: Final = Scene(
    model=Model(
        name="antimeridian", surface=_uphill, box_m=(-200.0, -100.0, 200.0, 100.0),
        cell_m=5.0, frame=ANTIMERIDIAN,
    ),
    points=((-_HALF_M, 0.0, 60.0), (_HALF_M, 0.0, 60.0)),
)  # fmt: skip


def _first_leg(flown: Flown) -> float:
    return flown.found.legs[1].length_m


def _long_ways() -> list[Case]:
    there = math.hypot(60.0, 80.0)
    whole = _OUT_M + there + (_HOME_M - _OUT_M) + there + _HOME_M
    return [
        case("length", "up 60 m, 100 m out, home at 80 m: metres flown",
             _RETURN, whole, _length, within_m=MILLIMETRE),
        case("within", "the same, over open flat ground: metres within",
             _RETURN, whole, Flown.within, within_m=MILLIMETRE),
        case("antimeridian", "179.999° E to 179.999° W: metres flown",
             _OVER, 2 * _HALF_M, _first_leg, within_m=MILLIMETRE),
        case("antimeridian-height", "60 m up, 10 % uphill: height beyond 180°",
             _OVER, 60.0 - 2 * _HALF_M * _RISE,
             methodcaller("above_ground", 2), within_m=MILLIMETRE),
    ]  # fmt: skip


CASES: Final = (*_corner_cases(), *_bank_cases(), *_long_ways())

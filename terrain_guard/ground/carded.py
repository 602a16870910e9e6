"""What a raster and its card say together; where they contradict each other, nothing."""

from __future__ import annotations

from dataclasses import replace
from typing import Final

import pyproj

from terrain_guard.errors import RefusedTerrain
from terrain_guard.ground.card import Card, vertical_system
from terrain_guard.ground.layout import zero_of
from terrain_guard.ground.raster import UNIT_WORDS, Raster, is_ellipsoidal

SAME_UNIT: Final = 1e-7
"""How far two factors of one unit may differ; foot and US survey foot differ by 2e-6."""


def carded(raster: Raster, card: Card) -> Raster:
    """Return the raster with what its card adds.

    Raises
    ------
    RefusedTerrain
        The card contradicts the raster, or itself: another vertical datum, another unit, sea
        at 0 m where heights count from an ellipsoid.
    """
    vertical = vertical_system(card.vertical_datum) if card.vertical_datum else None
    faults = [
        *_other_datum(raster, card, vertical),
        *_other_unit(raster, card, vertical),
        *_sea_of_an_ellipsoid(raster, card, vertical),
    ]
    if faults:
        raise RefusedTerrain(*faults)
    return replace(_with_unit(_with_datum(raster, card, vertical), card, vertical), card=card)


def _with_datum(raster: Raster, card: Card, vertical: pyproj.CRS | None) -> Raster:
    if vertical is None or raster.vertical is not None:
        return raster
    code = vertical.to_authority(min_confidence=70)
    return replace(
        raster,
        vertical=vertical,
        vertical_datum=f"{vertical.name} (by {card.said_in['vertical_datum']})",
        crs_text=f"{raster.crs_text} + {':'.join(code) if code else vertical.name}",
    )


def _with_unit(raster: Raster, card: Card, vertical: pyproj.CRS | None) -> Raster:
    said = _unit_said(card, vertical)
    if said is None or not _is_silent(raster):
        return raster
    unit_m, words, key = said
    return replace(raster, unit_m=unit_m, unit_text=f"{words} (by {card.said_in[key]})")


def _unit_said(card: Card, vertical: pyproj.CRS | None) -> tuple[float, str, str] | None:
    """Return a unit in metres, in words, and the key that says it.

    A system in metres says none: many are registered in metres only, and used in feet.
    """
    if card.height_unit is not None:
        return UNIT_WORDS[card.height_unit], card.height_unit, "height_unit"
    axis = None if vertical is None else vertical.axis_info[-1]
    if axis is None or axis.unit_conversion_factor == 1.0:
        return None
    return float(axis.unit_conversion_factor), axis.unit_name, "vertical_datum"


def _is_silent(raster: Raster) -> bool:
    return "assumed" in raster.unit_text


def _other_datum(raster: Raster, card: Card, vertical: pyproj.CRS | None) -> list[str]:
    if vertical is None or raster.vertical is None or _same_zero(vertical, raster.vertical):
        return []
    return [
        f"{card.said_in['vertical_datum']}: vertical_datum: given {card.vertical_datum!r}, but "
        f"{raster.path.name!r} itself counts its heights from {zero_of(raster.vertical)}; correct "
        "the one that is wrong"
    ]


def _same_zero(one: pyproj.CRS, other: pyproj.CRS) -> bool:
    return zero_of(one) == zero_of(other) or one.equals(other)


def _other_unit(raster: Raster, card: Card, vertical: pyproj.CRS | None) -> list[str]:
    said = _unit_said(card, vertical)
    if said is None:
        return []
    unit_m, _, key = said
    given = f"{card.said_in[key]}: {key}: given {getattr(card, key)!r}, but"
    faults = []
    if not _is_silent(raster) and not _same(unit_m, raster.unit_m):
        faults.append(
            f"{given} {raster.path.name!r} itself gives its heights in {raster.unit_text}; correct "
            "the one that is wrong"
        )
    of_datum = None if vertical is None else vertical.axis_info[-1]
    if of_datum is not None and not any(
        _same(of_datum.unit_conversion_factor, one) for one in (unit_m, 1.0)
    ):
        faults.append(
            f"{given} the vertical_datum {card.vertical_datum!r} counts in {of_datum.unit_name}; "
            "correct the one that is wrong"
        )
    return faults


def _same(one: float, other: float) -> bool:
    return abs(one / other - 1) < SAME_UNIT


def _sea_of_an_ellipsoid(raster: Raster, card: Card, vertical: pyproj.CRS | None) -> list[str]:
    vertical = raster.vertical or vertical
    if not card.absent_is_sea or vertical is None or not is_ellipsoidal(vertical):
        return []
    return [
        f"{card.said_in['absent_is_sea']}: absent_is_sea: given True, but the heights of "
        f"{raster.path.name!r} count from an ellipsoid ({vertical.name}), and the sea does not lie "
        "at 0 m of that; take it out, or convert the model to heights above a geoid"
    ]

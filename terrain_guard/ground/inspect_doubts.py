"""From what was seen to what looks wrong: one function a suspicion.

Every threshold says where it comes from. A suspicion is a question to a person, not
a verdict: a lake is level, a mast is a spike, and a gorge is steep.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Iterator
from dataclasses import dataclass, replace
from enum import StrEnum
from typing import Final

import pyproj

from terrain_guard.ground.inspect_look import Seen
from terrain_guard.ground.inspect_patches import Patch
from terrain_guard.ground.inspect_posts import Marks
from terrain_guard.ground.inspect_texture import Texture, common_step_m, step_sizes_m
from terrain_guard.ground.raster import Raster, is_ellipsoidal
from terrain_guard.units import FOOT_M, US_SURVEY_FOOT_M

ONE_LEVEL_M: Final = 0.1
"""A model with less relief is taken for a placeholder. Common practice, no source."""
COARSE_STEP_M: Final = 1.05
"""Steps above whole metres (and a rounding) are coarse on any cell. Our own choice."""
TERRACE_STEP_M: Final = 0.5
TERRACE_CELLS: Final = 0.1
"""Steps from half a metre on, of more than a tenth of a cell, make terraces. Our own choice."""
PICTURE_TOP: Final = 255.0
PICTURE_RANGE: Final = 100.0
PICTURE_GROWTH: Final = 20.0
PICTURE_SLOPE: Final = 1.0
"""Whole numbers within 0 to 255 that span 100 and vary as no ground of that relief does. Our
own choice: over 16 posts shaded reliefs of real ground vary 2 to 16 times as much as between
neighbours, real ground of more than 100 m relief at least 50 times."""
NOISE_GROWTH: Final = 6.0
NOISE_SLOPE: Final = 0.3
"""Steps between neighbours of 30 % that hardly grow with distance. Our own choice: the
flattest real ground tried has a growth of 6.3, with steps of 6 %."""
STEEP_DEG: Final = 45
STEEP_SHARE: Final = 0.25
"""Our own choice: 3 % of the steepest real ground tried is steeper than 45 degrees; its
heights in feet, read as metres, make that 34 to 77 %."""
NEAR_SEA_M: Final = 10.0
"""Ground that near to zero may hold a true zero. Our own choice."""
FAR_OUTSIDE_DEG: Final = 3.0
"""Half a zone of six degrees: nearer to its zone a model may well be kept in it. Our own
choice."""


class Kind(StrEnum):
    """What looks wrong, in the order it is told."""

    NOTHING_KNOWN = "nothing known"
    NO_HEIGHTS = "no heights"
    VOID_NUMBERS = "void numbers"
    HIDDEN_ZEROS = "hidden zeros"
    STANDING_ZEROS = "standing zeros"
    ZERO_IS_VOID = "zero is void"
    ONE_LEVEL = "one level"
    PICTURE = "picture"
    NOISE = "noise"
    STEEP = "steep"
    BELOW_SEA = "below sea"
    GRID_IN_FEET = "grid in feet"
    WHOLE_FEET = "whole feet"
    OUTSIDE_AREA = "outside area"
    LEVEL_AT_ZERO = "level at zero"
    LEVEL = "level"
    SMOOTH = "smooth"
    SPIKES = "spikes"
    PITS = "pits"
    STEPS = "steps"


@dataclass(frozen=True, slots=True, kw_only=True)
class Suspicion:
    """One thing that looks wrong.

    ``worst`` is in metres unless its kind says otherwise: a number as it stands in the
    file for NO_HEIGHTS and VOID_NUMBERS, a factor for PICTURE (of what, ``detail`` says)
    and NOISE, a share for STEEP, degrees for OUTSIDE_AREA. ``row, column`` is the worst
    post, the middle of the largest patch or, where all posts are meant, -1.
    """

    kind: Kind
    posts: int = 0
    share: float = math.nan  # of the posts looked at
    worst: float = math.nan
    pieces: int = 0
    largest: int = 0  # posts
    row: int = -1
    column: int = -1
    lat_deg: float = math.nan
    lon_deg: float = math.nan
    detail: str = ""


def suspicions(seen: Seen, raster: Raster, middle_deg: tuple[float, float]) -> list[Suspicion]:
    """Return what looks wrong; `middle_deg` is (lon, lat) of the model's middle."""
    found = [*_missing(seen), *_place(raster, middle_deg)]
    if seen.texture is None:
        found.append(Suspicion(kind=Kind.NOTHING_KNOWN))
    else:
        whole = [*_whole(seen.texture, raster)]
        flat = any(one.kind is Kind.ONE_LEVEL for one in whole)
        found += [*whole, *_posts(seen), *([] if flat else _patches(seen, raster))]
        found += _zero_is_void(seen, seen.texture, raster)
        found += _below_sea(seen, seen.texture, raster)
    order = list(Kind)
    return sorted(found, key=lambda one: order.index(one.kind))


# ---------------------------------------------------------------- single posts


def _marked(kind: Kind, marks: Marks, seen: Seen) -> Iterator[Suspicion]:
    if marks.count:
        yield Suspicion(
            kind=kind,
            posts=marks.count,
            share=marks.count / seen.posts,
            worst=marks.worst,
            row=marks.row,
            column=marks.column,
        )


def _missing(seen: Seen) -> Iterator[Suspicion]:
    yield from _marked(Kind.NO_HEIGHTS, seen.missing.no_heights, seen)
    yield from _marked(Kind.VOID_NUMBERS, seen.missing.void_numbers, seen)
    yield from _marked(Kind.HIDDEN_ZEROS, seen.missing.hidden_zeros, seen)


def _posts(seen: Seen) -> Iterator[Suspicion]:
    yield from _marked(Kind.STANDING_ZEROS, seen.zeros, seen)
    yield from _marked(Kind.SPIKES, seen.spikes, seen)
    yield from _marked(Kind.PITS, seen.pits, seen)


def _zero_is_void(seen: Seen, texture: Texture, raster: Raster) -> Iterator[Suspicion]:
    """Doubt a file that calls zero missing, of ground that comes down to the sea."""
    if raster.nodata == 0 and texture.lowest[0] <= NEAR_SEA_M:
        for one in _marked(Kind.ZERO_IS_VOID, seen.missing.declared_zeros, seen):
            yield replace(one, worst=texture.lowest[0])


def _below_sea(seen: Seen, texture: Texture, raster: Raster) -> Iterator[Suspicion]:
    if raster.vertical is None or not is_ellipsoidal(raster.vertical):
        lowest, row, column = texture.lowest
        deep = Marks(count=texture.below_sea, worst=lowest, row=row, column=column)
        yield from _marked(Kind.BELOW_SEA, deep, seen)


# ---------------------------------------------------------------- patches


def _patches(seen: Seen, raster: Raster) -> Iterator[Suspicion]:
    zero_m = raster.offset * raster.unit_m
    level = [patch for patch in seen.patches if patch.level]
    at_zero = [patch for patch in level if patch.elevation_m == zero_m]
    groups = (
        (Kind.LEVEL_AT_ZERO, at_zero),
        (Kind.LEVEL, [patch for patch in level if patch.elevation_m != zero_m]),
        (Kind.SMOOTH, [patch for patch in seen.patches if not patch.level]),
    )
    for kind, patches in groups:
        if patches:
            yield _patched(kind, patches, seen)


def _patched(kind: Kind, patches: list[Patch], seen: Seen) -> Suspicion:
    largest = max(patches, key=lambda patch: patch.posts)
    posts = sum(patch.posts for patch in patches)
    return Suspicion(
        kind=kind,
        posts=posts,
        share=posts / seen.posts,
        worst=largest.elevation_m,
        pieces=len(patches),
        largest=largest.posts,
        row=largest.row,
        column=largest.column,
    )


# ---------------------------------------------------------------- all posts together


def _whole(texture: Texture, raster: Raster) -> Iterator[Suspicion]:
    tests: tuple[Callable[[Texture, Raster], Suspicion | None], ...] = (
        _one_level,
        _picture,
        _noise,
        _steep,
        _steps,
        _whole_feet,
    )
    for test in tests:
        found = test(texture, raster)
        if found is not None:
            yield found


def _one_level(texture: Texture, _raster: Raster) -> Suspicion | None:
    if texture.highest[0] - texture.lowest[0] > ONE_LEVEL_M:
        return None
    return Suspicion(kind=Kind.ONE_LEVEL, worst=texture.highest[0])


def _picture(texture: Texture, raster: Raster) -> Suspicion | None:
    low, high = (extreme[0] / raster.unit_m for extreme in (texture.lowest, texture.highest))
    whole = any(
        fits and abs(size - raster.unit_m) < 1e-9
        for fits, size in zip(texture.fits, step_sizes_m(raster), strict=True)
    )
    if not (whole and low >= 0 and high <= PICTURE_TOP and high - low >= PICTURE_RANGE):
        return None
    growth, slope = texture.growth(), texture.neighbour_step_m() / min(raster.cell_m)
    if growth < PICTURE_GROWTH:
        return Suspicion(kind=Kind.PICTURE, worst=growth, detail="growth")
    if slope > PICTURE_SLOPE:
        return Suspicion(kind=Kind.PICTURE, worst=slope, detail="slope")
    return None


def _noise(texture: Texture, raster: Raster) -> Suspicion | None:
    growth, slope = texture.growth(), texture.neighbour_step_m() / min(raster.cell_m)
    if _picture(texture, raster) or not (growth < NOISE_GROWTH and slope > NOISE_SLOPE):
        return None
    return Suspicion(kind=Kind.NOISE, worst=growth)


def _steep(texture: Texture, raster: Raster) -> Suspicion | None:
    share = texture.steeper_than(STEEP_DEG)
    if _picture(texture, raster) or not share > STEEP_SHARE:
        return None
    return Suspicion(kind=Kind.STEEP, worst=share)


def _steps(texture: Texture, raster: Raster) -> Suspicion | None:
    step_m = common_step_m(texture, raster)
    terraces = step_m >= TERRACE_STEP_M and step_m > TERRACE_CELLS * min(raster.cell_m)
    if not (step_m > COARSE_STEP_M or terraces):  # NaN fails
        return None
    return Suspicion(kind=Kind.STEPS, worst=step_m)


def _whole_feet(texture: Texture, raster: Raster) -> Suspicion | None:
    step_m = common_step_m(texture, raster)
    if raster.unit_m != 1.0 or math.isnan(step_m):
        return None
    names = {FOOT_M: "feet", US_SURVEY_FOOT_M: "US survey feet"}
    for foot_m, name in names.items():
        number = step_m / foot_m
        if abs(number - round(number)) < 1e-7:
            return Suspicion(kind=Kind.WHOLE_FEET, worst=step_m, detail=name)
    return None


# ---------------------------------------------------------------- where it lies


def _place(raster: Raster, middle_deg: tuple[float, float]) -> Iterator[Suspicion]:
    axis = raster.crs.axis_info[0]
    feet = raster.crs.is_projected and abs(axis.unit_conversion_factor / FOOT_M - 1) < 1e-3
    if feet and "assumed" in raster.unit_text:
        yield Suspicion(kind=Kind.GRID_IN_FEET, detail=axis.unit_name)
    off_deg = _degrees_outside(raster.crs, middle_deg)
    if off_deg > FAR_OUTSIDE_DEG:
        lon, lat = middle_deg
        yield Suspicion(
            kind=Kind.OUTSIDE_AREA,
            worst=off_deg,
            lat_deg=lat,
            lon_deg=lon,
            detail=raster.crs.name,
        )


def _degrees_outside(crs: pyproj.CRS, middle_deg: tuple[float, float]) -> float:
    """Return how far a place lies outside the area a reference system is meant for, degrees."""
    area = crs.area_of_use
    authority = crs.to_authority() if area is None else None
    if authority:
        area = pyproj.CRS.from_authority(*authority).area_of_use
    if area is None:
        return 0.0
    lon, lat = middle_deg
    half = ((area.east - area.west) % 360 or 360) / 2
    east_west = abs((lon - area.west - half + 180) % 360 - 180) - half
    return max(east_west, area.south - lat, lat - area.north, 0.0)

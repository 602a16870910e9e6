"""Cautions that the ground near a flight sets off: slopes, crests, gorges, lee sides."""

from __future__ import annotations

import math
from collections.abc import Iterator
from typing import Final

import numpy as np

from terrain_guard.arrays import Bools
from terrain_guard.checks import hazard_words as words
from terrain_guard.checks.budget.air import (
    CREST_WITHIN_M,
    crest_wind_m,
    is_barometric,
)
from terrain_guard.checks.budget.crests import CREST_FALL_M
from terrain_guard.checks.closest_point import STEEP
from terrain_guard.checks.near_route import RADII_M, RAYS, Places, Scene, greatest
from terrain_guard.units import text_up

LAUNCH_SPREAD_M: Final = 1.0
UNDER_TREES_M: Final = 3.0
COARSE_CELL_M: Final = 10.0
COARSEST_CELL_M: Final = 90.0 / 1.005  # a cell called 90 m measures a little more or less
SLOPE: Final = 0.20
STEEP_WITHIN_M: Final = 60.0
LEAST_SKY: Final = 0.40
LEE_SLOPE_DEG: Final = 15.0
LEE_WITHIN_DEG: Final = 60.0
LEE_WIND_M_PER_S: Final = 8.0
SUPPOSED_WIND_M_PER_S: Final = 10.0
"""Common practice, no source."""


def launch_slope(scene: Scene) -> Iterator[str]:
    """Say how far the ground may lie off where the launch spot is known only roughly."""
    within_m, (east, north) = scene.launch.spot_within_m, scene.flight.launch
    reach = max(scene.models.ground.finest_cell_m, 1.0)
    here, right, left, top, bottom = scene.ground_m(
        east + reach * np.array([0.0, 1.0, -1.0, 0.0, 0.0]),
        north + reach * np.array([0.0, 0.0, 0.0, 1.0, -1.0]),
    )
    rise = np.array([right - left, top - bottom]) / (2 * reach)
    slope = float(np.hypot(*rise))
    if not np.isfinite(slope) or not within_m > 0:
        return
    bearing = np.append(np.linspace(0.0, 2 * np.pi, RAYS, endpoint=False), math.atan2(*rise))
    bearing = np.append(bearing, bearing[-1] + np.pi)[:, None]  # straight uphill, and downhill
    radius = within_m * np.array([0.25, 0.5, 0.75, 1.0])
    found = scene.ground_m(east + radius * np.sin(bearing), north + radius * np.cos(bearing))
    lower, higher = (
        float(np.fmax.reduce(sign * (found - here), axis=None, initial=0.0)) for sign in (-1, 1)
    )
    if max(lower, higher) >= LAUNCH_SPREAD_M:
        yield words.launch_slope(slope, within_m, lower, higher)


def launch_on_surface(scene: Scene) -> Iterator[str]:
    """Say that trees or a roof may have been taken for the launch ground."""
    models, stated = scene.models, scene.route.launch.elevation_m is not None
    here = scene.route.launch.lon_deg, scene.route.launch.lat_deg
    if models.surface is not None:
        above = float((models.surface.elevation(*here) - models.ground.elevation(*here))[0])
        if above - (scene.route.launch.offset_m or 0.0) > UNDER_TREES_M:
            yield words.surface_over_launch(above)
    elif models.is_surface_alone and not stated:
        yield words.LAUNCH_OFF_SURFACE


def coarse_cells(scene: Scene) -> Iterator[str]:
    """Say that cells are too coarse for the slopes beneath."""
    cell_m, places = scene.models.ground.coarsest_cell_m, scene.places
    slope = np.hypot(*scene.gradient)
    worst = greatest(slope)
    if cell_m >= COARSEST_CELL_M:
        yield words.coarsest_cells(cell_m)
    elif cell_m > COARSE_CELL_M and worst is not None and slope[worst] > SLOPE:
        yield words.coarse_cells(cell_m, float(slope[worst]), _at(places, worst))


def steep_ground(scene: Scene) -> Iterator[str]:
    """Name the steepest ground beside the route; edges of trees and roofs are not looked at."""
    if scene.models.is_surface_alone:
        return
    places, near = scene.places, RADII_M <= STEEP_WITHIN_M
    here = np.broadcast_to(places.ground_m[:, None, None], (places.sample.size, RAYS, 1))
    profile = np.concatenate((here, scene.star_m[:, :, near]), axis=2)
    radial = np.abs(np.diff(profile, axis=2)) / np.diff(np.append(0.0, RADII_M[near]))
    steepest = np.fmax(np.fmax.reduce(radial, axis=(1, 2)), np.hypot(*scene.gradient))
    worst = greatest(steepest)
    if worst is not None and steepest[worst] > STEEP:
        yield words.steep_ground(float(steepest[worst]), STEEP_WITHIN_M, STEEP, _at(places, worst))


def gorge(scene: Scene) -> Iterator[str]:
    """Name the place with the least sky between two walls."""
    places = scene.places
    rise = scene.star_m - places.elevation_m[:, None, None]
    with np.errstate(invalid="ignore"):
        horizon = np.degrees(np.arctan2(rise, RADII_M))
    horizon = np.nan_to_num(horizon, nan=0.0).max(axis=2, initial=0.0)  # (p, 16)
    half = RAYS // 2
    sky = 1.0 - (horizon[:, :half] + horizon[:, half:]).max(axis=1) / 180.0
    worst = int(np.argmin(sky))
    if sky[worst] < LEAST_SKY:
        yield words.gorge(float(sky[worst]), _at(places, worst))


def lee_side(scene: Scene) -> Iterator[str]:
    """Name the steepest slope under the route that the wind comes down."""
    wind, from_deg = scene.route.wind_m_per_s, scene.route.conditions.wind_from_deg
    if not wind > LEE_WIND_M_PER_S:
        return
    places, (east, north) = scene.places, scene.gradient
    slope_deg = np.degrees(np.arctan(np.hypot(east, north)))
    if from_deg is None:
        worst = greatest(slope_deg)
        if worst is not None and slope_deg[worst] > LEE_SLOPE_DEG:
            yield words.lee_unknown(wind, float(slope_deg[worst]), _at(places, worst))
        return
    faces_deg = np.degrees(np.arctan2(-east, -north)) % 360.0  # the way it falls
    apart = np.abs((faces_deg - (from_deg + 180.0) + 180.0) % 360.0 - 180.0)
    worst = greatest(np.where(apart <= LEE_WITHIN_DEG, slope_deg, np.nan))
    if worst is not None and slope_deg[worst] > LEE_SLOPE_DEG:
        yield words.lee_side(
            wind, from_deg, float(slope_deg[worst]), float(faces_deg[worst]), _at(places, worst)
        )


def crest_wind(scene: Scene) -> Iterator[str]:
    """Say that a barometer flies lower over a crest in wind; where it is declared, margins do."""
    if not is_barometric(scene.route.aircraft.height_from) or scene.route.wind_m_per_s > 0:
        return
    places, near = scene.places, near_crest(scene)
    if not near.any():
        return
    least = greatest(np.where(near, scene.places.ground_m - scene.places.elevation_m, np.nan))
    lower = float(crest_wind_m(SUPPOSED_WIND_M_PER_S))
    where = _at(places, int(np.argmax(near)) if least is None else least)
    yield words.crest_wind_unknown(SUPPOSED_WIND_M_PER_S, lower, CREST_WITHIN_M, where)


def near_crest(scene: Scene) -> Bools:
    """Return which places (p,) lie within 100 m of a crest, sideways and up.

    A crest falls by 10 m or more within 100 m on both sides.
    """
    places, star = scene.places, scene.star_m
    half = RAYS // 2
    here = np.broadcast_to(places.ground_m[:, None, None], (places.sample.size, half, 1))
    line = np.concatenate((star[:, half:, ::-1], here, star[:, :half]), axis=2)  # (p, 8, 21)
    at = np.concatenate((-RADII_M[::-1], [0.0], RADII_M))
    found = np.zeros(places.sample.size, dtype=bool)
    for k in np.flatnonzero(np.abs(at) <= CREST_WITHIN_M):
        before, behind = (
            (side > 0) & (side <= CREST_WITHIN_M + 1e-9) for side in (at[k] - at, at - at[k])
        )
        lowest = [np.fmin.reduce(line[:, :, side], axis=2) for side in (before, behind)]
        top = line[:, :, k]
        fall = top - np.maximum(*lowest)  # on the side that falls less
        low_enough = places.elevation_m[:, None] - top <= CREST_WITHIN_M
        found |= ((fall >= CREST_FALL_M) & low_enough).any(axis=1)
    return found


def _at(places: Places, index: int) -> str:
    """Say where a place is."""
    return f"leg {places.leg[index]} at {text_up(float(places.along_m[index]), digits=0)} m"

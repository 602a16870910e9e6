"""Cautions about straight lines through the air that nobody planned.

Straight on at the height held, downwind without a position, from launch to a later
waypoint.
"""

from __future__ import annotations

from collections.abc import Iterator
from typing import Final

import numpy as np

from terrain_guard.arrays import Floats
from terrain_guard.checks import hazard_words as words
from terrain_guard.checks.column import COLUMN_RADIUS_M
from terrain_guard.checks.near_route import RADII_M, Scene, greatest
from terrain_guard.plan.keys import number_text
from terrain_guard.units import text_up

AHEAD_S: Final = 10.0
BRAKE_M_PER_S2: Final = 3.0
DRIFT_S: Final = 30.0
"""Common practice, no source."""
TOUCH_M: Final = 0.01
APART_M: Final = 0.01
STEPS_AHEAD: Final = 40


def stop_distance_m(speed_m_per_s: float, *, brake_m_per_s2: float = BRAKE_M_PER_S2) -> float:
    """Return how far it flies until it stands: v²/2a.

    >>> stop_distance_m(15.0)
    37.5
    """
    return speed_m_per_s**2 / (2.0 * brake_m_per_s2)


def ahead(scene: Scene) -> Iterator[str]:
    """Name the metre from which a level hold meets the ground soonest, along the planned track.

    ::

             ●──── level ─────     found among the samples themselves, so that the
             ╱            ╱        ground is known there already
        ____╱____________╱

    And straight on, level, past each waypoint.
    """
    found = [*_along_track(scene), *_past_waypoints(scene)]
    if found:
        seconds, far, speed, where = min(found)
        yield words.ahead(seconds, far, speed, stop_distance_m(speed), where)


def _along_track(scene: Scene) -> Iterator[tuple[float, float, float, str]]:
    samples, gone = scene.samples, scene.on_ground_m
    height, ground = scene.elevation_m, samples.ground_elevation_m
    speed = _speeds(scene)[samples.leg]
    far = np.full(gone.shape, np.inf)  # to where the ground first stands as high, from each sample
    airborne = ~samples.in_column & (height > ground) & (np.diff(gone, append=gone[-1:]) > 0)
    for shift in range(1, _longest_look(gone, speed) + 1):
        start = slice(None, -shift)
        low, high = (ground[shift - 1 : -1], ground[shift:])
        with np.errstate(invalid="ignore", divide="ignore"):
            share = (height[start] - low) / (high - low)
            there = gone[shift - 1 : -1] + share * np.diff(gone)[shift - 1 :] - gone[start]
        meets = airborne[start] & (low < height[start]) & (high >= height[start])
        meets &= height[shift:] > high  # where the plan itself meets it, that is a breach
        far[start] = np.where(meets, np.fmin(far[start], there), far[start])
    with np.errstate(invalid="ignore"):
        seconds = far / speed
    soonest = int(np.argmin(seconds))
    if seconds[soonest] < AHEAD_S:
        where = f"leg {samples.leg[soonest]} at {text_up(samples.along_m[soonest], digits=0)} m"
        yield float(seconds[soonest]), float(far[soonest]), float(speed[soonest]), where


def _longest_look(gone: Floats, speed: Floats) -> int:
    """Return how many samples ahead ten seconds are at most."""
    behind = np.searchsorted(gone, gone + AHEAD_S * speed, side="right")
    return int(min((behind - np.arange(gone.size)).max(), gone.size - 1))


def _past_waypoints(scene: Scene) -> Iterator[tuple[float, float, float, str]]:
    """Yield what stands straight ahead of each waypoint, if the turn or the stop there fails."""
    frame, flown = scene.flight.frame, scene.flight.altimeter.flown_m
    waypoints = scene.route.waypoints
    x, y = frame.to_local([w.lon_deg for w in waypoints], [w.lat_deg for w in waypoints])
    east, north = (
        np.append(launch, to) for launch, to in zip(scene.flight.launch, (x, y), strict=True)
    )
    step = np.hypot(np.diff(east), np.diff(north))
    comes = np.flatnonzero(step > APART_M)  # from somewhere: straight on means something
    far = np.linspace(0.0, 1.0, STEPS_AHEAD + 1) * (AHEAD_S * _speeds(scene)[comes])[:, None]
    way = far / step[comes, None]
    ground = scene.ground_m(
        east[comes + 1, None] + way * np.diff(east)[comes, None],
        north[comes + 1, None] + way * np.diff(north)[comes, None],
    )
    level = scene.level_m(east[comes + 1], north[comes + 1])
    height = level + np.array([flown(scene.typed_m[k]) for k in comes])
    first = _first_reaching(ground, height, far)
    for line in np.flatnonzero(first < far[:, -1]):
        speed = float(_speeds(scene)[comes[line]])
        where = f"straight on past {waypoints[comes[line]].name}"
        yield float(first[line] / speed), float(first[line]), speed, where


def _first_reaching(ground: Floats, height: Floats, far: Floats) -> Floats:
    """Return how far along lines (n, m) ground first stands at a height (n,); inf: nowhere."""
    above = ground - height[:, None]
    with np.errstate(invalid="ignore", divide="ignore"):
        share = above[:, :-1] / (above[:, :-1] - above[:, 1:])
        there = far[:, :-1] + share * np.diff(far, axis=1)
    crosses = (above[:, :-1] < 0) & (above[:, 1:] >= 0)
    return np.where(crosses, there, np.inf).min(axis=1)


def _speeds(scene: Scene) -> Floats:
    """Return the speed on each leg."""
    stated = [waypoint.speed_m_per_s for waypoint in scene.route.waypoints]
    return np.array([stated[0], *stated])


def drift(scene: Scene) -> Iterator[str]:
    """Say where it drifts into a hill soonest, its position lost and its height held."""
    wind, from_deg = scene.route.wind_m_per_s, scene.route.conditions.wind_from_deg
    if not wind > 0:
        return
    places = scene.places
    if from_deg is None:
        ground = scene.star_m
        toward = np.broadcast_to(
            np.arange(ground.shape[1]) * 360.0 / ground.shape[1], ground.shape[:2]
        )
    else:
        turn = np.radians(from_deg + 180.0)
        ground = scene.ground_m(
            places.east_m[:, None] + RADII_M * np.sin(turn),
            places.north_m[:, None] + RADII_M * np.cos(turn),
        )[:, None, :]
        toward = np.full(ground.shape[:2], (from_deg + 180.0) % 360.0)
    here = np.broadcast_to(places.ground_m[:, None, None], (*ground.shape[:2], 1))
    lines = np.concatenate((here, ground), axis=2).reshape(-1, RADII_M.size + 1)
    far = np.broadcast_to(np.append(0.0, RADII_M), lines.shape)
    height = np.repeat(places.elevation_m, ground.shape[1])
    seconds = _first_reaching(lines, height, far) / wind
    flying = ~scene.samples.in_column[places.sample]
    seconds = np.where(np.repeat(flying, ground.shape[1]), seconds, np.inf)
    worst = int(np.argmin(seconds))
    if seconds[worst] < DRIFT_S:
        place = worst // ground.shape[1]
        side = (
            f"from {number_text(from_deg)} degrees" if from_deg is not None else "side not stated"
        )
        yield words.drift(
            f"{number_text(wind)} m/s, {side}", float(toward.ravel()[worst]), float(seconds[worst]),
            f"leg {places.leg[place]} at {text_up(float(places.along_m[place]), digits=0)} m",
        )  # fmt: skip


def resumed(scene: Scene) -> Iterator[str]:
    """Name the waypoint to which a straight line from launch runs deepest into the ground.

    The first waypoint's line is flown and judged as leg 0. Nearer to the launch than its column
    nothing is looked at.
    """
    altimeter, launch = scene.flight.altimeter, scene.launch
    later = list(zip(scene.route.waypoints, scene.typed_m, strict=True))[1:]
    if not later or not np.isfinite(launch.elevation_m):
        return
    rays = scene.models.ground.rays(
        launch.lon_deg, launch.lat_deg,
        to_lon_deg=[w.lon_deg for w, _ in later], to_lat_deg=[w.lat_deg for w, _ in later],
    )  # fmt: skip
    x, y = scene.flight.frame.to_local([w.lon_deg for w, _ in later], [w.lat_deg for w, _ in later])
    ends = scene.level_m(x, y) + np.array([altimeter.flown_m(typed) for _, typed in later])
    zero_m = float(scene.level_m(*(np.array([v]) for v in scene.flight.launch))[0])
    found = rays.highest(
        over_m=(zero_m + altimeter.zero_m, ends), from_m=COLUMN_RADIUS_M + launch.spot_within_m
    )
    hit = found.known_m > TOUCH_M
    worst = greatest(np.where(hit, found.known_m, np.nan))
    if worst is not None:
        yield words.resumed(
            later[worst][0].name, float(found.known_m[worst]), float(found.at.along_m[worst]),
            int(hit.sum()) - 1,
        )  # fmt: skip

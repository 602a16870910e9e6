"""Cautions that typed heights set off: limits in the aircraft, feet, thin air, the controller."""

from __future__ import annotations

from collections.abc import Iterator
from typing import Final

import numpy as np

from terrain_guard.checks import typed_words as words
from terrain_guard.checks.budget.standard_air import standard_density_kg_per_m3
from terrain_guard.checks.near_route import Scene, greatest

USUAL_LIMIT_M: Final = 120.0
NEAR_LIMIT_M: Final = 5.0
LOW_M: Final = 10.0
HOME_APART_M: Final = 2.0
SENSES_M: Final = 30.0
THIN_AIR_M: Final = 1500.0
FEET_STEP: Final = 50.0
FEET_ABOVE: Final = 150.0
SAME_M: Final = 1e-6
"""Common practice, no source."""


def limiter(scene: Scene) -> Iterator[str]:
    """Name the heights that a limiter would silently cut, and how low it would fly then."""
    stated, heights = scene.route.aircraft.max_height_m, typed_heights(scene)
    limit = USUAL_LIMIT_M if stated is None else stated
    cut = [(name, typed) for name, typed in heights if typed > limit + SAME_M]
    if cut:
        yield words.limited(cut, limit, stated=stated is not None, then=_when_cut(scene, limit))
    elif stated is not None:
        near = [(name, typed) for name, typed in heights if typed > limit - NEAR_LIMIT_M]
        if near:
            yield words.near_limiter(near, limit, NEAR_LIMIT_M)


def typed_heights(scene: Scene) -> list[tuple[str, float]]:
    """Return every height above launch that the aircraft is told, by name, the highest first."""
    route = scene.route
    named = [(w.name, m) for w, m in zip(route.waypoints, scene.typed_m, strict=True)]
    more = {
        "way_home.height": route.way_home.height_m,
        "climb.take_off_height": route.climb.take_off_height_m,
    }
    named += [(name, height) for name, height in more.items() if height is not None]
    return sorted((one for one in named if np.isfinite(one[1])), key=lambda one: -one[1])


def _when_cut(scene: Scene, limit_m: float) -> tuple[float, float] | None:
    """Return the least height above ground of the reference curve cut off, and where; or None."""
    samples = scene.samples
    flown = np.fmin(samples.above_launch_m, scene.flight.altimeter.flown_m(limit_m))
    above = samples.above_ground_m - (samples.above_launch_m - flown)
    at = greatest(np.where(samples.in_column, np.nan, -above))
    return None if at is None else (float(above[at]), float(samples.along_m[at]))


def low_heights(scene: Scene) -> Iterator[str]:
    """Name the lowest height that a least height set in the aircraft may silently raise."""
    typed = scene.typed_m
    lowest = greatest(-np.array(typed))
    if lowest is not None and typed[lowest] < LOW_M:
        yield words.low_height(scene.route.waypoints[lowest].name, typed[lowest], LOW_M)


def below_launch(scene: Scene) -> Iterator[str]:
    """Say what turns round where it flies below its launch."""
    typed = scene.typed_m
    lowest = greatest(-np.array(typed))
    if lowest is not None and typed[lowest] < -SAME_M:
        yield words.below_launch(scene.route.waypoints[lowest].name, -typed[lowest])


def in_feet(scene: Scene) -> Iterator[str]:
    """Ask whether heights in metres were typed in feet."""
    route = scene.route
    typed = np.array([waypoint.height_m for waypoint in route.waypoints])
    if route.height_unit != "m" or route.heights not in ("launch", "ground"):
        return
    round_ = np.abs(typed - FEET_STEP * np.round(typed / FEET_STEP)) < SAME_M
    if (round_ & (typed > FEET_ABOVE)).all():
        yield words.in_feet(FEET_STEP, FEET_ABOVE)


def moved_home(scene: Scene) -> Iterator[str]:
    """Say how far the ground at a moved home lies off the zero that it descends to."""
    route, spot = scene.route, scene.flight.spot
    at_launch = (route.home.lat_deg, route.home.lon_deg) == (
        route.launch.lat_deg,
        route.launch.lon_deg,
    )
    if at_launch or route.after_last.go_to != "launch" or not spot.lands:
        return
    above = spot.ground_m - scene.flight.altimeter.zero_m
    if abs(above) > HOME_APART_M:
        yield words.moved_home(above)


def own_sensing(scene: Scene) -> Iterator[str]:
    """Say where the aircraft's own sensing may take over."""
    samples = scene.samples
    clearance = np.where(samples.in_column, np.nan, samples.clearance_m)
    at = greatest(-clearance)
    if at is not None and clearance[at] < SENSES_M:
        yield words.own_sensing(
            float(clearance[at]), SENSES_M, int(samples.leg[at]), float(samples.along_m[at])
        )


def thin_air(scene: Scene) -> Iterator[str]:
    """Say how thin the air is at the highest point."""
    at = greatest(scene.elevation_m)
    if at is None or scene.elevation_m[at] <= THIN_AIR_M:
        return
    top = float(scene.elevation_m[at])
    share = float(standard_density_kg_per_m3(top) / standard_density_kg_per_m3(0.0))
    yield words.thin_air(top, share, scene.route.climb.up_m_per_s)


def on_the_controller(scene: Scene) -> Iterator[str]:
    """Say what to compare on site: the file flown may not be the file checked."""
    yield words.on_the_controller(scene.typed_m, scene.route.height_unit)

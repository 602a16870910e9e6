"""What is said of the air and the deck: what moved the typed heights, and what may still."""

from __future__ import annotations

from collections.abc import Iterator
from typing import Final

import numpy as np

from terrain_guard.checks.budget.air import (
    SENSOR_WARMING_K,
    ZERO_C_K,
    Reference,
    add_to_true,
    assumed_temperature_k,
    declared_bias_m,
    height_factor,
    is_barometric,
    pressure_drift_m,
)
from terrain_guard.checks.budget.standard_air import T0_K
from terrain_guard.checks.hazard_words import COMMON
from terrain_guard.checks.near_route import Scene
from terrain_guard.plan.keys import number_text
from terrain_guard.plan.route import Route
from terrain_guard.units import text_up

FORMULA: Final = "ICAO Doc 8168, simple formula"
AGAINST: Final = {
    "launch": "standard air at the launch elevation",
    "sea-level": "standard air at sea level",
    "sensor": "what its own sensor reads",
}
UNSTATED_K: Final = 10.0


def assumed_of_air(route: Route, launch_elevation_m: float) -> tuple[str, ...]:
    """Return what is assumed of the aircraft where an air temperature is stated."""
    aircraft, out = route.aircraft, []
    if route.conditions.temperature_c is None or not is_barometric(aircraft.height_from):
        return ()
    if aircraft.height_from is None:
        out.append('aircraft.height_from not stated: "barometer" assumed')
    if aircraft.temperature_reference is None:
        known = np.isfinite(launch_elevation_m)
        standard = f" ({_standard_c(launch_elevation_m):.1f} °C)" if known else ""
        out.append(
            f'aircraft.temperature_reference not stated: "launch", {AGAINST["launch"]}{standard} '
            "assumed"
        )
    return tuple(out)


def _standard_c(elevation_m: float) -> float:
    kelvin = assumed_temperature_k("launch", temperature_c=0.0, elevation_m=elevation_m)
    return kelvin - ZERO_C_K


def air_remarks(scene: Scene) -> Iterator[str]:
    """Say what deck, temperature and pressure do to typed heights."""
    yield from _deck(scene)
    if is_barometric(scene.route.aircraft.height_from):
        yield from _temperature(scene)
        yield from _pressure(scene)


def _deck(scene: Scene) -> Iterator[str]:
    deck_m = scene.route.launch.offset_m
    if deck_m:
        yield (
            f"Launched from {number_text(deck_m)} m above the ground (launch.offset_m): every "
            f"typed height is flown {number_text(deck_m)} m higher above the launch ground, and "
            "counted so."
        )


def _temperature(scene: Scene) -> Iterator[str]:
    air_c, highest = scene.route.conditions.temperature_c, _highest(scene)
    if air_c is None:
        share = UNSTATED_K / T0_K
        yield (
            "Air temperature is not stated (conditions.temperature_c): in air "
            f"{UNSTATED_K:.0f} K colder than its barometer assumes every typed height is flown "
            f"{share * 100:.1f} % lower, {text_up(share * highest)} m at {highest:.0f} m, in "
            "hotter air higher (ratio of absolute temperatures)."
        )
        return
    elevation = scene.launch.elevation_m
    reference: Reference = scene.route.aircraft.temperature_reference or "launch"
    factor = height_factor(air_c, elevation_m=elevation, reference=reference)
    if reference == "sensor":
        warm = height_factor(
            air_c, elevation_m=elevation, reference=reference, sensor_warming_k=SENSOR_WARMING_K
        )
        yield (
            f"Air {number_text(air_c)} °C: the aircraft is said to go by its own sensor, so typed "
            f"heights count as flown; if that is {SENSOR_WARMING_K:.0f} K warmer than the air, "
            f"they are flown {(1 - warm) * 100:.1f} % lower ({COMMON})."
        )
    elif np.isnan(factor):
        yield (
            f"Air {number_text(air_c)} °C is not applied to the typed heights: the launch "
            "elevation is not known."
        )
    else:
        yield _scaled(air_c, factor, reference, elevation, highest)


def _scaled(
    air_c: float, factor: float, reference: Reference, elevation_m: float, typed_m: float
) -> str:
    """Say by how much heights are scaled: from typed to flown, and from wanted to typed."""
    base = 0.0 if reference == "sea-level" else elevation_m
    error = float(
        declared_bias_m(typed_m, temperature_c=air_c, elevation_m=elevation_m, reference=reference)
    )
    add = float(add_to_true(typed_m, temperature_c=air_c, elevation=base))
    side = "lower" if factor < 1 else "higher"
    return (
        f"Air {number_text(air_c)} °C against {AGAINST[reference]}: every typed height is flown "
        f"{abs(factor - 1) * 100:.1f} % {side}, and counted so. Error of a typed {typed_m:.0f} m: "
        f"{error:+.2f} m; to add to a wanted true {typed_m:.0f} m: {add:+.2f} m ({FORMULA})."
    )


def _pressure(scene: Scene) -> Iterator[str]:
    trend = scene.route.conditions.pressure_trend_hpa_per_h
    elevation = scene.launch.elevation_m
    if not trend or np.isnan(elevation):
        return
    seconds = float(scene.samples.time_s[-1])
    drift = float(pressure_drift_m(trend, seconds, elevation_m=elevation))
    metre_s = abs(3600.0 / float(pressure_drift_m(trend, 3600.0, elevation_m=elevation)))
    falls, side = ("falls", "lower") if trend < 0 else ("rises", "higher")
    yield (
        f"Pressure {falls} by {number_text(abs(trend))} hPa an hour: {seconds / 60:.0f} min on, at "
        f"the end, it flies {text_up(abs(drift))} m {side} than shown, and a metre more every "
        f"{metre_s / 60:.0f} min; land and set the zero again before long (standard atmosphere, "
        "ICAO Doc 7488). In the margins, not in the heights computed."
    )


def _highest(scene: Scene) -> float:
    """Return the greatest typed height, up or down; 120 m where none is known."""
    known = [abs(typed) for typed in scene.typed_m if np.isfinite(typed)]
    return max(known, default=120.0) or 120.0

"""Declared biases are applied to what is computed: air of a stated temperature, a deck.

Level ground and planes, so that every answer can be worked out by hand: typed heights
are flown times air / 288.15 K at sea level, on top of the deck.
"""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path
from typing import Any

import numpy as np
import pytest

from terrain_guard.assess import check
from terrain_guard.assessment import Assessment
from terrain_guard.plan.route import Aircraft, Climb, Conditions, WayHome
from terrain_guard.states import State
from tests.checks import scenes

COLD = 263.15 / 288.15
"""-10 °C at sea level."""
UP = [(0, 0, 120), (300, 0, 120)]
AT_SEA_LEVEL = Aircraft(temperature_reference="sea-level")


def level(folder: Path, elevation_m: float = 0.0) -> Path:
    """Return level ground."""
    return scenes.model(folder, lambda east, north: elevation_m + 0 * east)


def flown(
    ground: Path,
    points: list[tuple[float, float, float]] | None = None,
    *,
    temperature_c: float | None = None,
    aircraft: Aircraft | None = None,
    limits: Any = scenes.LOOSE,
    **how: Any,
) -> Assessment:
    """Fly through points in air of some temperature."""
    route = replace(
        scenes.route(points or UP, **how),
        conditions=Conditions(temperature_c=temperature_c),
        aircraft=aircraft or Aircraft(),
    )
    return check(route, ground=ground, canopy_m=0.0, rules=limits)


def on_leg(found: Assessment, leg: int = 1) -> float:
    """Return the greatest height above launch on a leg."""
    return float(found.samples.above_launch_m[found.samples.leg == leg].max())


def said(found: Assessment, words: str) -> list[str]:
    """Return the cautions that hold `words`."""
    return [one for one in found.cautions if words in one]


# -- air -----------------------------------------------------------------------------


@pytest.mark.parametrize("temperature_c", [-20.0, -10.0, 0.0, 15.0, 35.0])
def test_the_flight_is_lower_in_cold_air_and_higher_in_hot(
    tmp_path: Path, temperature_c: float
) -> None:
    """120 m typed over level ground at sea level: 120 (t + 273.15) / 288.15 m above it."""
    found = flown(level(tmp_path), temperature_c=temperature_c)
    expected = 120.0 * (temperature_c + 273.15) / 288.15
    leg = found.legs[1]
    assert on_leg(found) == pytest.approx(expected, abs=1e-9)
    assert leg.above_ground_max is not None
    assert leg.above_ground_max.nominal_m == pytest.approx(expected, abs=1e-6)
    assert (leg.typed_start_m, leg.typed_end_m) == (120.0, 120.0)
    assert found.altimeter.factor == pytest.approx((temperature_c + 273.15) / 288.15)


def test_a_forecast_that_breaks_the_floor_is_a_breach(tmp_path: Path) -> None:
    """300 m typed, 260 m of ground below the flight: 40 m above it, at -10 °C 13.97 m.

    300 x 25 / 288.15 = 26.03 m lower: a floor of 30 m is broken, not merely tight.
    """
    ground = scenes.model(tmp_path, lambda east, north: np.where(east > 100, 265.0, 5.0))
    points = [(0.0, 0.0, 300.0), (50.0, 0.0, 300.0), (200.0, 0.0, 300.0)]
    limits = scenes.rules(floor_m=30.0, ceiling_m=400.0)
    still, cold = (
        flown(ground, points, temperature_c=t, limits=limits, aircraft=AT_SEA_LEVEL)
        for t in (None, -10.0)
    )
    assert still.verdict is not State.BREACH
    assert cold.verdict is State.BREACH
    least = cold.legs[2].above_ground_min
    assert least is not None
    assert least.nominal_m == pytest.approx(40.0 - 26.03, abs=0.005)
    (floor,) = (f for f in scenes.of_kind(cold, "floor", leg=2) if f.state is State.BREACH)
    assert floor.message.startswith("flown 274.0 m above launch ground (5.0 m) = 13.9 m above")


def test_a_forecast_that_breaks_the_ceiling_is_a_breach(tmp_path: Path) -> None:
    """118 m typed under 120 m: at 35 °C flown at 126.19 m."""
    points = [(0.0, 0.0, 118.0), (300.0, 0.0, 118.0)]
    found = flown(level(tmp_path), points, temperature_c=35.0, limits=scenes.rules())
    (ceiling,) = scenes.of_kind(found, "ceiling", leg=1)
    assert ceiling.worst_m == pytest.approx(118.0 * 308.15 / 288.15, abs=1e-6)


def test_what_is_needed_is_said_in_metres_to_type(tmp_path: Path) -> None:
    """29 m typed at -10 °C: flown 26.48; 30 m less that are 3.52, typed 3.52 / 0.9132 = 3.85."""
    points = [(0.0, 0.0, 29.0), (300.0, 0.0, 29.0)]
    found = flown(level(tmp_path), points, temperature_c=-10.0, limits=scenes.rules())
    (floor,) = scenes.of_kind(found, "floor", leg=1)
    assert floor.message.endswith("needed with margins, 3.9 m as computed")


def test_below_launch_cold_air_flies_it_higher(tmp_path: Path) -> None:
    """A plane falling to -200 m: typed -100 m is flown at -91.32 m, 8.68 m higher."""
    ground = scenes.model(tmp_path, lambda east, north: 5.0 + np.minimum(-east, 0.0))
    points = [(0.0, 0.0, 10.0), (200.0, 0.0, -100.0), (300.0, 0.0, -100.0)]
    found = flown(ground, points, temperature_c=-10.0, aircraft=AT_SEA_LEVEL)
    assert found.samples.above_launch_m.min() == pytest.approx(-100.0 * COLD, abs=1e-9)


@pytest.mark.parametrize("source", ["gnss", "rtk"])
def test_satellites_fly_heights_as_typed(tmp_path: Path, source: str) -> None:
    """Air moves nothing, and nothing is said of it."""
    found = flown(level(tmp_path), temperature_c=-10.0, aircraft=Aircraft(height_from=source))
    assert on_leg(found) == 120.0
    assert not said(found, "typed height is flown")
    assert not any("temperature_reference" in one for one in found.assumed)


@pytest.mark.parametrize(
    ("reference", "factor"),
    [("launch", 288.15 / 275.15), ("sea-level", 1.0), ("sensor", 1.0), (None, 288.15 / 275.15)],
)
def test_the_reference_in_play(tmp_path: Path, reference: Any, factor: float) -> None:
    """2,000 m and 15 °C: x 1.0472 by standard air there; stated otherwise, as stated."""
    found = flown(
        level(tmp_path, 2000.0),
        temperature_c=15.0,
        aircraft=Aircraft(temperature_reference=reference),
    )
    assert on_leg(found) == pytest.approx(120.0 * factor, abs=1e-9)


def test_what_is_assumed_of_the_aircraft_is_said(tmp_path: Path) -> None:
    """Only where a temperature is stated; standard air at 2,000 m has 2.0 °C."""
    ground = level(tmp_path, 2000.0)
    assert flown(ground).assumed == ()
    assert flown(ground, temperature_c=15.0).assumed == (
        'aircraft.height_from not stated: "barometer" assumed',
        'aircraft.temperature_reference not stated: "launch", standard air at the launch '
        "elevation (2.0 °C) assumed",
    )
    stated = Aircraft(height_from="barometer", temperature_reference="sea-level")
    assert flown(ground, temperature_c=15.0, aircraft=stated).assumed == ()


def test_the_factor_is_told_in_words_both_ways(tmp_path: Path) -> None:
    """Error of a typed 120 m: -10.41 m; to add to a wanted true 120 m: 11.42 m."""
    (told,) = said(flown(level(tmp_path), temperature_c=-10.0), "every typed height is flown")
    assert told == (
        "Air -10 °C against standard air at the launch elevation: every typed height is flown "
        "8.7 % lower, and counted so. Error of a typed 120 m: -10.41 m; to add to a wanted true "
        "120 m: +11.42 m (ICAO Doc 8168, simple formula)."
    )
    (hot,) = said(flown(level(tmp_path), temperature_c=35.0), "every typed height is flown")
    assert "6.9 % higher" in hot
    assert "typed 120 m: +8.33 m" in hot


def test_an_unstated_temperature_is_told_of(tmp_path: Path) -> None:
    """10 / 288.15 = 3.5 %: 4.2 m at 120 m; not where satellites tell heights."""
    (told,) = said(flown(level(tmp_path)), "temperature is not stated")
    assert "3.5 % lower, 4.2 m at 120 m" in told
    by_satellite = flown(level(tmp_path), aircraft=Aircraft(height_from="gnss"))
    assert not said(by_satellite, "temperature is not stated")


def test_a_sensor_of_its_own_is_told_of(tmp_path: Path) -> None:
    """Air 10 °C, sensor 35 K warmer: 283.15 / 318.15 = 0.890."""
    own = Aircraft(temperature_reference="sensor")
    (told,) = said(flown(level(tmp_path), temperature_c=10.0, aircraft=own), "its own sensor")
    assert "they are flown 11.0 % lower" in told


def test_without_a_launch_elevation_air_is_not_applied(tmp_path: Path) -> None:
    """A void at the launch: nothing to compare the air with, nothing assessed, and it is said."""
    ground = scenes.model(
        tmp_path, lambda east, north: np.where(np.abs(east) < 20, -9999.0, 100.0), nodata=-9999.0
    )
    found = flown(ground, temperature_c=-10.0)
    assert found.verdict is State.NOT_ASSESSED
    assert said(found, "Air -10 °C is not applied to the typed heights")
    assert on_leg(found) == 120.0


def test_the_way_home_and_the_take_off_height_are_flown_lower_too(tmp_path: Path) -> None:
    """150 m typed for the way home, 20 m for the step."""
    found = flown(
        level(tmp_path),
        temperature_c=-10.0,
        climb=Climb(model="linear", out="step", take_off_height_m=20.0),
        start=(-100.0, 0.0),
        after="launch",
        way_home=WayHome(height_m=150.0, path="climb-first"),
    )
    heights, leg = found.samples.above_launch_m, found.samples.leg
    assert heights[leg == 2].max() == pytest.approx(150.0 * COLD, abs=1e-9)
    assert np.abs(heights[leg == 0] - 20.0 * COLD).min() < 1e-9
    assert heights[-1] == 0.0


# -- pressure --------------------------------------------------------------------------


def test_a_pressure_trend_is_told_of(tmp_path: Path) -> None:
    """60 m up at 4 m/s and 300 m at 0.5 m/s take 615 s; -6 hPa/h at sea level: 8.53 m lower.

    8.324 m each hPa: a metre every 3600 / (6 x 8.324) = 72 s.
    """
    points = [(0.0, 0.0, 60.0), (300.0, 0.0, 60.0)]
    route = replace(
        scenes.route(points, speed_m_per_s=0.5),
        conditions=Conditions(pressure_trend_hpa_per_h=-6.0),
    )
    found = check(route, ground=level(tmp_path), canopy_m=0.0, rules=scenes.LOOSE)
    (told,) = said(found, "Pressure")
    assert told.startswith(
        "Pressure falls by 6 hPa an hour: 10 min on, at the end, it flies 8.6 m lower than shown, "
        "and a metre more every 1 min;"
    )
    assert not said(flown(level(tmp_path)), "Pressure")


# -- the deck --------------------------------------------------------------------------------


def test_a_deck_lifts_the_whole_flight(tmp_path: Path) -> None:
    """119 m typed from a deck of 2 m: 121 m above ground breaks a ceiling of 120 m."""
    points = [(0.0, 0.0, 119.0), (300.0, 0.0, 119.0)]
    found = flown(
        level(tmp_path), points, start=scenes.launch(0, 0, offset_m=2.0), limits=scenes.rules()
    )
    (ceiling,) = scenes.of_kind(found, "ceiling", leg=1)
    assert ceiling.worst_m == pytest.approx(121.0, abs=1e-6)
    assert found.verdict is State.BREACH
    assert found.samples.above_launch_m[0] == 2.0
    assert (found.legs[1].typed_start_m, found.legs[0].typed_start_m) == (119.0, 0.0)
    assert said(found, "Launched from 2 m above the ground")


def test_air_scales_from_the_deck(tmp_path: Path) -> None:
    """2 + 120 x 0.9132: the deck itself does not shrink."""
    found = flown(level(tmp_path), temperature_c=-10.0, start=scenes.launch(0, 0, offset_m=2.0))
    assert on_leg(found) == pytest.approx(2.0 + 120.0 * COLD, abs=1e-9)


def test_it_lands_on_the_deck_again_and_elsewhere_on_the_ground(tmp_path: Path) -> None:
    """Back at launch it stands 2 m above the ground, at another home on it."""
    deck = scenes.launch(0, 0, offset_m=2.0)
    back = flown(level(tmp_path), start=deck, after="launch")
    assert back.samples.above_launch_m[-1] == 2.0
    assert back.legs[-1].typed_end_m == 0.0
    away = flown(level(tmp_path), start=deck, after="launch", home=(100.0, 50.0))
    assert away.samples.above_launch_m[-1] == 0.0


def test_a_roof_is_no_obstacle_to_what_starts_on_it(tmp_path: Path) -> None:
    """The surface shows the roof, 8 m up: without the offset it blocks the column.

    With it the cone stands on the roof; a mast beside it that is 3 m higher blocks still.
    """
    ground = level(tmp_path)

    def roof(mast_m: float) -> Path:
        def surface(east: scenes.Floats, north: scenes.Floats) -> scenes.Floats:
            house = np.where((np.abs(east) < 6) & (np.abs(north) < 6), 8.0, 0.0)
            return house + np.where((east == 2) & (north == 0), mast_m, 0.0)

        return scenes.model(tmp_path, surface, name=f"surface{mast_m:g}.tif")

    def column(surface: Path, **stated: float) -> bool:
        found = scenes.fly(
            ground, [(0, 0, 60), (300, 0, 60)], surface=surface, start=scenes.launch(0, 0, **stated)
        )
        return bool(scenes.of_kind(found, "column"))

    assert column(roof(0.0))
    assert not column(roof(0.0), offset_m=8.0)
    assert column(roof(5.0), offset_m=8.0)


def test_nothing_declared_nothing_moves(tmp_path: Path) -> None:
    """Neither air nor deck: each height is the typed one to the last bit."""
    found = flown(level(tmp_path), [(0, 0, 61.7), (300, 0, 61.7)])
    assert (found.altimeter.factor, found.altimeter.zero_m) == (1.0, 0.0)
    assert on_leg(found) == 61.7

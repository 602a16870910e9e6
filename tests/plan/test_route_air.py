"""The air on the day, the aircraft, and what it is launched from: read, bounded and carried."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

import pytest

from terrain_guard.errors import RefusedRoute
from terrain_guard.plan.route import Aircraft, Conditions, Launch
from terrain_guard.plan.route_toml import read_route
from tests.plan.samples import ISLAND, SMALLEST, changed, faults, route, write

if TYPE_CHECKING:
    from pathlib import Path


def test_what_is_stated_is_carried(tmp_path: Path) -> None:
    """Each key where it belongs; the height limit in metres."""
    read = route(
        tmp_path,
        {
            "height_unit": "ft",
            "launch.offset_m": 2.5,
            "conditions.wind_m_per_s": 9,
            "conditions.wind_from_deg": 270,
            "conditions.temperature_c": -4,
            "conditions.pressure_trend_hpa_per_h": -1.5,
            "conditions.snow_m": 0.6,
            "aircraft.max_height": 400,
            "aircraft.height_from": "barometer",
            "aircraft.temperature_reference": "sea-level",
        },
    )
    assert read.launch.offset_m == 2.5
    assert read.wind_m_per_s == 9.0
    assert read.conditions == Conditions(
        wind_from_deg=270.0, temperature_c=-4.0, pressure_trend_hpa_per_h=-1.5, snow_m=0.6
    )
    assert read.aircraft == Aircraft(
        max_height_m=400 * 0.3048,
        height_from="barometer",
        temperature_reference="sea-level",
    )


def test_what_is_not_stated_is_none(tmp_path: Path) -> None:
    """No default stands in for the day's air, the aircraft, or what it is launched from."""
    read = route(tmp_path)
    assert read.launch.offset_m is None
    assert read.conditions == Conditions()
    assert read.aircraft == Aircraft()
    assert not any("aircraft" in said or "temperature" in said for said in read.assumed)


@pytest.mark.parametrize(
    ("key", "given", "rule"),
    [
        ("conditions.temperature_c", 68, "from -60 to 60 degrees Celsius"),  # 68 °F are 20 °C
        ("conditions.temperature_c", -61, "from -60 to 60 degrees Celsius"),
        ("conditions.wind_from_deg", 361, "from 0 to 360 degrees"),
        ("conditions.pressure_trend_hpa_per_h", 1013, "from -50 to 50 hPa/h"),
        ("conditions.snow_m", -1, "from 0 to 30 m"),
        ("launch.offset_m", -2, "from 0 to 100 m"),
        ("launch.offset_m", 100.1, "from 0 to 100 m"),
        ("aircraft.max_height", 0, "from 0.1 to 10000 m"),
        ("aircraft.height_from", "radar", "it must be 'barometer', 'gnss' or 'rtk'"),
        ("aircraft.temperature_reference", "isa", "it must be 'launch', 'sea-level' or 'sensor'"),
    ],
)
def test_out_of_range_is_refused(tmp_path: Path, key: str, given: Any, rule: str) -> None:
    """From a file, with file, key, what was given, and the rule."""
    (said,) = faults(tmp_path, changed(SMALLEST, {key: given}))
    assert said.startswith(f"plan.toml: {key}: given {given!r}, but ")
    assert rule in said


@pytest.mark.parametrize(
    ("make", "said"),
    [
        (lambda: Conditions(temperature_c=68.0), "Conditions.temperature_c: given 68.0, but"),
        (lambda: Conditions(snow_m=float("nan")), "Conditions.snow_m: given nan, but"),
        (lambda: Aircraft(height_from="sonar"), "Aircraft.height_from: given 'sonar', but"),
        (lambda: Aircraft(max_height_m=float("inf")), "Aircraft.max_height_m: given inf, but"),
        (
            lambda: Launch(lat_deg=47.0, lon_deg=-28.0, offset_m=-1.0),
            "Launch.offset_m: given -1.0, but",
        ),
    ],
)
def test_objects_refuse_the_same(make: Any, said: str) -> None:
    """A route made in Python is as sound as one from a file."""
    with pytest.raises(RefusedRoute, match=r"it must be") as caught:
        make()
    assert caught.value.faults[0].startswith(said)


def test_a_launch_replaced_drops_what_it_stood_on(tmp_path: Path) -> None:
    """The deck was at the launch of the file; that it is dropped is said."""
    path = write(tmp_path, changed(SMALLEST, {"launch.offset_m": 2.5}))
    read = read_route(path, launch=(ISLAND["lat"], ISLAND["lon"]))
    assert read.launch.offset_m is None
    assert "launch.offset_m of 2.5 m was stated for elsewhere: dropped" in read.assumed
    assert read_route(path).launch.offset_m == 2.5

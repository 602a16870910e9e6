"""Cautions set off by typed heights, each on and off; thresholds are common practice, no source."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path
from typing import Any

import pytest

from terrain_guard.assess import check
from terrain_guard.plan.route import Aircraft, Conditions, WayHome
from tests.checks import scenes

WIDE = (-300.0, -300.0, 800.0, 300.0)
SOURCES = (
    "common practice, no source",
    "our own choice, no source",
    "geometry of the elevation model",
    "ICAO Doc",
    "ratio of absolute temperatures",
    "the route file",
)


def cautions(
    folder: Path,
    points: list[tuple[float, float, float]],
    *,
    slope: float = 0.0,
    elevation_m: float = 200.0,
    aircraft: Aircraft | None = None,
    conditions: Conditions | None = None,
    unit: str = "m",
    **how: Any,
) -> list[str]:
    """Return what is said of a flight over a plane that rises to the east."""
    ground = scenes.model(folder, lambda e, n: elevation_m + slope * e, cell_m=10.0, box_m=WIDE)
    route = replace(
        scenes.route(points, **how),
        aircraft=aircraft or Aircraft(),
        conditions=conditions or Conditions(),
        height_unit=unit,
    )
    return list(check(route, ground=ground, canopy_m=0.0, rules=scenes.LOOSE).cautions)


def said(folder: Path, words: str, points: list[tuple[float, float, float]], **how: Any) -> str:
    """Return the one caution that holds `words`, empty if there is none."""
    found = [one for one in cautions(folder, points, **how) if words in one]
    assert len(found) <= 1
    return found[0] if found else ""


# -- a limiter -----------------------------------------------------------------------------


UP_THE_HILL = [(0.0, 0.0, 60.0), (500.0, 0.0, 190.0)]
"""Up a slope of 30 %: at the end 150 m of ground, 40 m above it."""


def test_a_limiter_cuts_heights_silently(tmp_path: Path) -> None:
    """190 m cut to 120 m over 150 m of ground: -30 m. There after 60 m up and 516.6 m along."""
    found = said(
        tmp_path, "silently cuts", UP_THE_HILL, slope=0.3, aircraft=Aircraft(max_height_m=120.0)
    )
    assert found == (
        "The height limit set in the aircraft, 120 m above launch (aircraft.max_height) silently "
        "cuts typed heights: P2 190.0 m by 70.0 m; so cut, the least height above ground is "
        "-30.0 m, at 577 m (the route file)."
    )


def test_a_limit_that_nobody_stated(tmp_path: Path) -> None:
    """Many aircraft come limited to 120 m above launch."""
    found = said(tmp_path, "silently cuts", UP_THE_HILL, slope=0.3)
    assert found.startswith("Many aircraft are limited to 120 m above launch")
    assert "P2 190.0 m by 70.0 m" in found
    assert not said(tmp_path, "silently cuts", [(0.0, 0.0, 60.0), (500.0, 0.0, 120.0)])


def test_every_height_that_it_is_told_may_be_cut(tmp_path: Path) -> None:
    """The way home's, too; the most cut is named first, of more than three how many."""
    points = [(0.0, 0.0, 130.0), (100.0, 0.0, 140.0), (200.0, 0.0, 150.0), (300.0, 0.0, 60.0)]
    found = said(
        tmp_path, "silently cuts", points, aircraft=Aircraft(max_height_m=120.0),
        after="launch", way_home=WayHome(height_m=160.0, path="climb-first"),
    )  # fmt: skip
    assert (
        "way_home.height 160.0 m by 40.0 m, P3 150.0 m by 30.0 m, P2 140.0 m by 20.0 m and 1 more;"
    ) in found


@pytest.mark.parametrize(("limit_m", "words"), [(192.0, "P2 190.0 m"), (195.5, ""), (190.0, "P2")])
def test_near_the_limiter(tmp_path: Path, limit_m: float, words: str) -> None:
    """Within 5 m below it the aircraft may level off before."""
    found = said(
        tmp_path, "level off before", UP_THE_HILL, slope=0.3,
        aircraft=Aircraft(max_height_m=limit_m),
    )  # fmt: skip
    assert bool(found) is bool(words)
    assert words in found
    assert not said(
        tmp_path, "silently cuts", UP_THE_HILL, slope=0.3, aircraft=Aircraft(max_height_m=limit_m)
    )


@pytest.mark.parametrize(("height_m", "told"), [(8.0, True), (10.0, False), (-40.0, True)])
def test_a_least_height_may_raise_low_ones(tmp_path: Path, height_m: float, told: bool) -> None:
    """Below 10 m above launch."""
    points = [(0.0, 0.0, 60.0), (300.0, 0.0, height_m)]
    found = said(tmp_path, "silently raise", points, slope=-0.3)
    assert bool(found) is told
    assert found.startswith(f"P2 is typed {height_m:.1f} m above launch") is told


@pytest.mark.parametrize(("height_m", "told"), [(-40.0, True), (0.0, False)])
def test_below_launch_things_turn_round(tmp_path: Path, height_m: float, told: bool) -> None:
    """40 m below it."""
    points = [(0.0, 0.0, 60.0), (300.0, 0.0, height_m)]
    found = said(tmp_path, "below launch", points, slope=-0.3)
    assert bool(found) is told
    assert found.startswith("P2 is typed 40.0 m below launch: there cold air flies it") is told


@pytest.mark.parametrize(
    ("heights", "unit", "told"),
    [
        ((200.0, 350.0), "m", True),
        ((200.0, 350.0), "ft", False),
        ((200.0, 351.0), "m", False),
        ((150.0, 350.0), "m", False),
    ],
)
def test_heights_that_look_like_feet(
    tmp_path: Path, heights: tuple[float, float], unit: str, told: bool
) -> None:
    """All multiples of 50 and above 150, in a file that says metres."""
    points = [(0.0, 0.0, heights[0]), (300.0, 0.0, heights[1])]
    assert bool(said(tmp_path, "were they meant in feet", points, unit=unit)) is told


# -- home, sensing, air, controller ---------------------------------------------------------------


@pytest.mark.parametrize(
    ("east_m", "words"),
    [
        (120.0, "Home lies 12.0 m above the zero of the launch, which it still counts from: "
                "landing there, it meets the ground so much sooner than it shows"),
        (-120.0, "Home lies 12.0 m below the zero of the launch, which it still counts from: "
                 "landing there, it shows zero, and may stop there, so far above the ground"),
        (15.0, ""),
    ],
)  # fmt: skip
def test_a_home_that_was_moved(tmp_path: Path, east_m: float, words: str) -> None:
    """On a slope of 10 %, 120 m up or down it; 1.5 m is near enough."""
    points = [(0.0, 0.0, 60.0), (300.0, 0.0, 90.0)]
    found = said(tmp_path, "Home lies", points, slope=0.1, home=(east_m, 0.0), after="launch")
    assert words in found
    assert bool(found) is bool(words)


def test_a_home_at_launch_is_not_moved(tmp_path: Path) -> None:
    """It lands where it began."""
    assert not said(
        tmp_path, "Home lies", [(0.0, 0.0, 60.0), (300.0, 0.0, 90.0)], slope=0.1, after="launch"
    )


@pytest.mark.parametrize(("height_m", "told"), [(25.0, True), (31.0, False)])
def test_its_own_sensing_may_take_over(tmp_path: Path, height_m: float, told: bool) -> None:
    """25 m above level ground it may see it; 31 m above not."""
    points = [(0.0, 0.0, height_m), (300.0, 0.0, height_m)]
    found = said(tmp_path, "own sensing", points)
    assert bool(found) is told
    assert ("comes within 25.0 m" in found) is told


@pytest.mark.parametrize(("elevation_m", "told"), [(1900.0, True), (1300.0, False)])
def test_thin_air(tmp_path: Path, elevation_m: float, told: bool) -> None:
    """At 2,000 m 1.00649 / 1.225 kg/m³ = 82.2 % (ICAO Doc 7488, constants from memory)."""
    points = [(0.0, 0.0, 100.0), (300.0, 0.0, 100.0)]
    found = said(tmp_path, "Highest point", points, elevation_m=elevation_m)
    assert bool(found) is told
    assert ("at 2000 m: standard air there has 82 % of its density" in found) is told


@pytest.mark.parametrize(
    ("unit", "words"),
    [("m", "first 61.0 m, last 75.0 m, highest 80.0 m"),
     ("ft", "first 200.1 ft, last 246.1 ft, highest 262.5 ft")],
)  # fmt: skip
def test_what_to_compare_on_the_controller(tmp_path: Path, unit: str, words: str) -> None:
    """Always: how many waypoints; first, last and highest, in the pilot's unit."""
    points = [(0.0, 0.0, 61.0), (100.0, 0.0, 80.0), (300.0, 0.0, 75.0)]
    found = said(tmp_path, "compare the controller", points, unit=unit)
    assert f"3 waypoints, typed above launch: {words} (" in found


def test_a_plain_flight_is_told_little(tmp_path: Path) -> None:
    """Level, high enough, nothing stated: what to compare, and the air; each has its source."""
    points = [(0.0, 0.0, 60.0), (300.0, 0.0, 75.0)]
    found = cautions(tmp_path, points)
    own = [one for one in found if any(source in one for source in SOURCES)]
    assert [one.split(" ")[0] for one in own] == ["Before", "Air"]


def test_every_hazard_is_one_line_with_its_source(tmp_path: Path) -> None:
    """A flight that sets off many of them: no two lines begin alike."""
    points = [(0.0, 0.0, 20.0), (300.0, 0.0, 100.0), (300.0, 100.0, 200.0), (100.0, 0.0, -10.0)]
    found = cautions(
        tmp_path, points, slope=0.65, elevation_m=2500.0, home=(50.0, 50.0), after="launch",
        start=scenes.launch(0, 0, spot_within_m=10.0), speed_m_per_s=10.0,
        conditions=Conditions(temperature_c=-5.0),
    )  # fmt: skip
    own = [one for one in found if any(source in one for source in SOURCES)]
    assert len(own) >= 9
    starts = [one[:14] for one in own]
    assert len(set(starts)) == len(starts)

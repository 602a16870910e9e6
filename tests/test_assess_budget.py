"""Margins by the error budget, through the whole program, worked by hand.

A flight 100 m over level ground at the sea's own level, 200 m straight east of its launch,
with everything stated: 15 °C (so that a barometer shows true heights), no wind, no deck, the
spot exact. Then one sigma is the root of (figures of the classes: typical, from memory)::

    elevation model   2 (0.07² + 0.10² (1 - exp(-200/100)))   lidar: nugget, part, its length
    height hold       0.5²
    static source     (0.2 v² / 2g)²                          5 m/s; a fifth of V²/2g
    pressure drift    (0.2 hPa · R T / g p)²                  8.325 m/hPa, ISA at sea level
    temperature       (100 m · 3 K / 288.15 K)²               as it is stated; else 5 K

and a margin is k times that, for no bound counts on level ground.
"""

from __future__ import annotations

import math
from dataclasses import replace
from itertools import pairwise
from pathlib import Path
from typing import Any, Final

import numpy as np
import pytest

from terrain_guard.assess import check
from terrain_guard.assessment import Assessment
from terrain_guard.plan.route import Aircraft, Conditions
from terrain_guard.states import State
from tests.checks import scenes

HEIGHT_M: Final = 100.0
FAR_M: Final = 200.0
STANDARD_K: Final = 288.15
"""ISA at sea level, 15 °C: ICAO Doc 7488, table of constants."""
G0, R, P0_HPA = 9.80665, 287.05287, 1013.25
"""ICAO Doc 7488: gravity, the gas constant of dry air, pressure at sea level."""
K: Final = {"floor_k": 3.0, "ceiling_k": 2.0}
"""Enough that no margin falls below the least there is (5 m, 2 m)."""
FINE: Final = 1e-3


def model_m2(away_m: float, scale: float = 1.0) -> float:
    """Return the variance of a lidar model between launch and a place so far off."""
    return scale * 2 * (0.07**2 + 0.10**2 * (1 - math.exp(-away_m / 100.0)))


def air_m2(off_k: float = 3.0) -> float:
    """Return that of static source, drift and temperature together."""
    static_m = 0.2 * 5.0**2 / (2 * G0)
    drift_m = 0.2 * R * STANDARD_K / (G0 * P0_HPA)
    return static_m**2 + drift_m**2 + (HEIGHT_M * off_k / STANDARD_K) ** 2


HOLD_M2: Final = 0.5**2
WORKED_M: Final = math.sqrt(model_m2(FAR_M) + HOLD_M2 + air_m2())
"""One sigma of the worked example."""


def sea_level(east: scenes.Floats, north: scenes.Floats) -> scenes.Floats:
    """Return level ground at 0 m."""
    return 0.0 * east


def judged(
    ground: Path,
    limits: Any = None,
    *,
    temperature_c: float | None = 15.0,
    height_from: str = "barometer",
    offset_m: float | None = 0.0,
    within_m: float = 0.0,
    north_m: float = 0.0,
) -> Assessment:
    """Judge the worked example, but for what is given."""
    stated = {} if offset_m is None else {"offset_m": offset_m}
    spot = scenes.launch(0.0, 0.0, spot_within_m=within_m, **stated)
    points = [(0.0, 0.0, HEIGHT_M), (FAR_M, north_m, HEIGHT_M)]
    route = replace(
        scenes.route(points, start=spot),
        conditions=Conditions(temperature_c=temperature_c),
        aircraft=Aircraft(height_from=height_from),
    )
    return check(
        route, ground=ground, canopy_m=0.0,
        rules=scenes.rules(ceiling_m=400.0, **K) if limits is None else limits,
    )  # fmt: skip


@pytest.fixture(scope="module")
def level(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """Return level ground of 1 m cells."""
    return scenes.model(tmp_path_factory.mktemp("level"), sea_level)


# ------------------------------------------------------------ the worked example


def test_sigma_by_hand() -> None:
    """The sum above in figures: 0.027 + 0.25 + 0.065 + 2.772 + 1.084 = 4.198 = 2.049²."""
    parts = model_m2(FAR_M), HOLD_M2, air_m2()
    assert parts == pytest.approx((0.0271, 0.25, 0.0650 + 2.772 + 1.0839), abs=2e-3)
    assert pytest.approx(2.049, abs=1e-3) == WORKED_M


def test_margins_are_k_sigma(level: Path) -> None:
    """3 and 2 sigma at the far end, where the model is least alike; less above the launch."""
    found = judged(level)
    assert found.floor_margin_m == pytest.approx(3.0 * WORKED_M, abs=FINE)
    assert found.ceiling_margin_m == pytest.approx(2.0 * WORKED_M, abs=FINE)
    margins, leg = found.samples.floor_margin_m, found.legs[1]
    there = found.samples.along_m >= leg.from_m
    away = found.samples.along_m[there] - leg.from_m
    by_hand = [3.0 * math.sqrt(model_m2(a) + HOLD_M2 + air_m2()) for a in away]
    assert margins[there] == pytest.approx(by_hand, abs=FINE)


def test_the_legs_with_margins(level: Path) -> None:
    """100 m less the floor's and more the ceiling's, at the worst place of the leg."""
    leg = judged(level).legs[1]
    for extreme, expected in (
        (leg.above_ground_min, HEIGHT_M - 3.0 * WORKED_M),
        (leg.above_ground_max, HEIGHT_M + 2.0 * WORKED_M),
        (leg.clearance_min, HEIGHT_M - 3.0 * WORKED_M),
        (leg.clearance_max, HEIGHT_M + 2.0 * WORKED_M),
    ):
        assert extreme is not None
        assert extreme.nominal_m == pytest.approx(HEIGHT_M, abs=FINE)
        assert extreme.assured_m == pytest.approx(expected, abs=0.01)


@pytest.mark.parametrize(("off_m", "state"), [(-0.01, State.WITHIN), (0.01, State.TIGHT)])
def test_the_state_turns_on_them(level: Path, off_m: float, state: State) -> None:
    """A floor, or a ceiling, a centimetre to either side of 100 m with its margin."""
    floor = scenes.rules(floor_m=HEIGHT_M - 3.0 * WORKED_M + off_m, ceiling_m=400.0, **K)
    ceiling = scenes.rules(ceiling_m=HEIGHT_M + 2.0 * WORKED_M - off_m, **K)
    assert judged(level, floor).legs[1].state is state
    assert judged(level, ceiling).legs[1].state is state


def test_tight_begins_where_the_margin_reaches(level: Path) -> None:
    """The model's share grows with the way from launch: worked backwards from 60 m off it.

    With k = 10 the margin grows by 0.8 mm a metre there, so that 2 m of way is 1.6 mm.
    """
    k, from_m = 10.0, 60.0
    margin_m = k * math.sqrt(model_m2(from_m) + HOLD_M2 + air_m2())
    found = judged(level, scenes.rules(floor_m=HEIGHT_M - margin_m, ceiling_m=400.0, floor_k=k))
    (tight,) = scenes.of_kind(found, "floor", leg=1)
    assert tight.state is State.TIGHT
    assert tight.from_m - found.legs[1].from_m == pytest.approx(from_m, abs=2.0)
    assert tight.to_m == pytest.approx(found.legs[1].to_m, abs=0.01)


def test_k_is_the_programs_own_unless_stated(level: Path) -> None:
    """2.33 and 1.645 sigma: 4.8 m, raised to the least of 5 m, and 3.4 m."""
    found = judged(level, scenes.rules(ceiling_m=400.0))
    assert 2.33 * WORKED_M < 5.0
    assert found.floor_margin_m == 5.0
    assert found.ceiling_margin_m == pytest.approx(1.645 * WORKED_M, abs=FINE)


# ------------------------------------------------------------ what moves them


@pytest.mark.parametrize("sigma_m", [0.05, 1.0, 4.0])
def test_the_card_says_how_good_the_model_is(tmp_path: Path, sigma_m: float) -> None:
    """It scales the class's 0.1517 m = √(0.09² + 0.10² + 0.07²), and nothing else."""
    ground = scenes.model(tmp_path, sea_level)
    ground.with_name("ground.tif.toml").write_text(f'kind = "ground"\nsigma_m = {sigma_m}\n')
    scale = sigma_m**2 / (0.09**2 + 0.10**2 + 0.07**2)
    expected = 3.0 * math.sqrt(model_m2(FAR_M, scale) + HOLD_M2 + air_m2())
    assert judged(ground).floor_margin_m == pytest.approx(expected, abs=FINE)


def test_a_stated_temperature_leaves_less(level: Path) -> None:
    """3 K instead of 5 K of one sigma: 1.04 instead of 1.74 m at 100 m."""
    unstated = judged(level, temperature_c=None)
    expected = 3.0 * math.sqrt(model_m2(FAR_M) + HOLD_M2 + air_m2(5.0))
    assert unstated.floor_margin_m == pytest.approx(expected, abs=FINE)
    assert judged(level).floor_margin_m < unstated.floor_margin_m - 1.0


def test_corrected_satellites_feel_no_air(level: Path) -> None:
    """Of the air nothing is left, of satellites 0.05 m: 3 sigma are 1.6 m, raised to 3 m."""
    sigma_m = math.sqrt(model_m2(FAR_M) + HOLD_M2 + 0.05**2)
    found = judged(level, height_from="rtk")
    assert 3.0 * sigma_m < 3.0
    assert found.floor_margin_m == 3.0
    more = judged(level, scenes.rules(ceiling_m=400.0, floor_k=9.0), height_from="rtk")
    assert more.floor_margin_m == pytest.approx(9.0 * sigma_m, abs=FINE)


def test_an_unstated_deck_is_the_ceilings_alone(level: Path) -> None:
    """It may lift the flight by 2 m, and cannot lower it."""
    stated, unstated = judged(level), judged(level, offset_m=None)
    assert unstated.floor_margin_m == pytest.approx(stated.floor_margin_m, abs=1e-9)
    assert unstated.ceiling_margin_m - stated.ceiling_margin_m == pytest.approx(2.0, abs=1e-9)


@pytest.mark.parametrize("within_m", [2.0, 10.0, 25.0])
def test_where_the_spot_may_be_off_counts_by_the_slope(tmp_path: Path, within_m: float) -> None:
    """On a plane of 10 % the ground falls and rises by a tenth of that: added to both."""
    ground = scenes.model(tmp_path, lambda e, n: 0.1 * n + 0 * e)
    exact, off = judged(ground), judged(ground, within_m=within_m)
    for side in ("floor_margin_m", "ceiling_margin_m"):
        added = getattr(off, side) - getattr(exact, side)
        assert added == pytest.approx(0.1 * within_m, abs=FINE), side


def test_a_spot_less_exact_never_helps(tmp_path: Path) -> None:
    """Over hills: at no sample is a margin less, nor the state better, the farther off it is."""
    ground = scenes.model(tmp_path, lambda e, n: 6.0 * np.sin(e / 17.0) * np.cos(n / 23.0))
    limits = scenes.rules(floor_m=84.0, ceiling_m=115.0, **K)
    found = [judged(ground, limits, within_m=m, north_m=30.0) for m in (0.0, 3.0, 8.0, 20.0)]
    for exact, off in pairwise(found):
        assert off.floor_margin_m >= exact.floor_margin_m
        for side in ("floor_margin_m", "ceiling_margin_m"):
            assert (getattr(off.samples, side) >= getattr(exact.samples, side) - 1e-9).all(), side
        outside = ~(off.samples.in_column | exact.samples.in_column)
        assert (off.samples.state >= exact.samples.state)[outside].all()
    assert found[-1].ceiling_margin_m > found[0].ceiling_margin_m + 1.0  # the spot counts at all


# ------------------------------------------------------------ fixed


def test_fixed_margins_go_before_the_budget(level: Path) -> None:
    """Both are taken as they are, even less than the least of 5 m and 2 m."""
    limits = scenes.rules(
        ceiling_m=400.0, fixed_floor_margin_m=1.5, fixed_ceiling_margin_m=0.5, **K
    )
    found = judged(level, limits)
    assert (found.floor_margin_m, found.ceiling_margin_m) == (1.5, 0.5)
    assert (found.samples.floor_margin_m == 1.5).all()
    assert found.margin_source == "fixed by the rules"
    assert any("margins that the rules fix" in one for one in found.not_checked)
    least = found.legs[1].clearance_min
    assert least is not None
    assert least.assured_m == pytest.approx(HEIGHT_M - 1.5, abs=0.01)


@pytest.mark.parametrize("side", ["floor", "ceiling"])
def test_one_may_be_fixed_alone(level: Path, side: str) -> None:
    """The other stays the budget's, and both are said."""
    other, k = ("ceiling", 2.0) if side == "floor" else ("floor", 3.0)
    fixed = {f"fixed_{side}_margin_m": 12.0}
    found = judged(level, scenes.rules(ceiling_m=400.0, **K, **fixed))
    assert getattr(found, f"{side}_margin_m") == 12.0
    assert getattr(found, f"{other}_margin_m") == pytest.approx(k * WORKED_M, abs=FINE)
    assert "error budget" in found.margin_source
    assert f"of the {side} fixed by the rules" in found.margin_source


def test_canopy_stands_on_top_of_a_fixed_margin(level: Path) -> None:
    """12 m fixed and 20 m of trees: 100 - 32 m with margins, and the margin reads 12 m."""
    limits = scenes.rules(ceiling_m=400.0, fixed_floor_margin_m=12.0)
    found = check(
        scenes.route([(0.0, 0.0, HEIGHT_M), (FAR_M, 0.0, HEIGHT_M)]),
        ground=level, canopy_m=20.0, rules=limits,
    )  # fmt: skip
    assert found.floor_margin_m == 12.0
    least = found.legs[1].clearance_min
    assert least is not None
    assert least.assured_m == pytest.approx(HEIGHT_M - 32.0, abs=0.01)

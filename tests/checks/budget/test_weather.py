"""Declared wind over crests and a declared trend of pressure, as bounds of the budget."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path
from typing import Any

import numpy as np
import pytest

from terrain_guard.assess import check
from terrain_guard.assessment import Assessment
from terrain_guard.checks.budget.budget import Budget, budget
from terrain_guard.checks.budget.classes import BAROMETER, GLOBAL, GNSS, RTK, HeightSource
from terrain_guard.checks.budget.terms import CREST_WIND, PRESSURE, REMEDIES, TREND, Bucket
from terrain_guard.errors import RefusedInput
from terrain_guard.plan.route import Conditions
from tests.checks import scenes
from tests.checks.budget.worked import FLAT_LAUNCH, places, setting

HIGH = replace(FLAT_LAUNCH, elevation_m=1500.0)
TWENTY_MINUTES_S = 1200.0


def made(
    source: HeightSource = BAROMETER, *, more: dict[str, Any] | None = None, **stated: Any
) -> Budget:
    """Return the budget of two samples, 20 minutes from a launch 1500 m up."""
    at = {"time_s": np.array([0.0, TWENTY_MINUTES_S]), **(more or {})}
    return budget(setting(GLOBAL, source, cell_m=30.0, **stated), places(2, launch=HIGH, more=at))


def bounds(found: Budget, name: str) -> tuple[list[float], list[float]]:
    """Return floor and ceiling of the one bound of that name."""
    (term,) = (one for one in found.in_bucket(Bucket.BOUND) if one.name == name)
    assert term.remedy == REMEDIES[name]
    return term.floor_m.tolist(), term.ceiling_m.tolist()


def names(found: Budget) -> set[str]:
    """Return the names of all causes."""
    return {term.name for term in found.terms}


# Standard atmosphere at 1500 m (ICAO Doc 7488): 845.6 hPa, 278.4 K; 287.05 x 278.4 / (9.80665 x
# 845.6) = 9.637 m each hPa. A third of an hPa in 20 minutes: 3.21 m.
@pytest.mark.parametrize("rate", [-1.0, 1.0])
def test_a_trend_of_pressure_hurts_one_side(rate: float) -> None:
    """Falling, it flies lower; rising, higher: 3.2 m after 20 minutes, nothing at first."""
    floor, ceiling = bounds(made(trend_hpa_per_h=rate), TREND)
    hurt, spared = (floor, ceiling) if rate < 0 else (ceiling, floor)
    assert hurt == pytest.approx([0.0, 3.212], abs=0.002)
    assert spared == [0.0, 0.0]


def test_the_drift_of_settled_weather_stays_beside_a_trend() -> None:
    """What the trend leaves open is random as before; the margin grows by the bound alone."""
    plain, falling = made(), made(trend_hpa_per_h=-1.0)
    assert PRESSURE in names(falling)
    assert falling.sigma_m == pytest.approx(plain.sigma_m)
    more = falling.summed_m("floor") - plain.summed_m("floor")
    assert more == pytest.approx([0.0, 3.212], abs=0.002)
    assert falling.summed_m("ceiling") == pytest.approx(plain.summed_m("ceiling"))


def test_wind_over_a_crest_takes_from_the_floor_near_one() -> None:
    """10 m/s half as fast again: 100 x 1.25 / 19.6133 = 6.373 m; elsewhere and above nothing."""
    near = {"near_crest": np.array([True, False])}
    floor, ceiling = bounds(made(more=near, wind_m_per_s=10.0), CREST_WIND)
    assert floor == pytest.approx([6.373, 0.0], abs=5e-4)
    assert ceiling == [0.0, 0.0]


def test_where_nobody_looked_a_crest_may_be_near() -> None:
    """Not looked at is not far."""
    floor, _ = bounds(made(wind_m_per_s=10.0), CREST_WIND)
    assert floor == pytest.approx([6.373, 6.373], abs=5e-4)


@pytest.mark.parametrize("source", [GNSS, RTK])
def test_satellites_feel_neither(source: HeightSource) -> None:
    """Both are of the air alone."""
    found = made(source, wind_m_per_s=10.0, trend_hpa_per_h=-1.0)
    assert not names(found) & {CREST_WIND, TREND}


def test_what_is_not_declared_is_no_bound() -> None:
    """Without wind and trend there is neither."""
    assert not names(made()) & {CREST_WIND, TREND}


@pytest.mark.parametrize(
    "stated",
    [{"wind_m_per_s": -1.0}, {"wind_m_per_s": np.nan}, {"trend_hpa_per_h": np.nan}],
)
def test_what_is_no_weather_is_refused(stated: dict[str, Any]) -> None:
    """Negative wind, no numbers."""
    with pytest.raises(RefusedInput, match=next(iter(stated))):
        made(**stated)


# -- through a whole check -------------------------------------------------------------


def over_ridge(folder: Path, **stated: Any) -> Assessment:
    """Check a flight along a level line over a ridge that falls by 30 %, 300 m away."""
    ground = scenes.model(
        folder, lambda e, n: 100.0 - 0.3 * np.clip(np.abs(e - 300.0), 0.0, 120.0) + 0 * n,
        box_m=(-100.0, -250.0, 700.0, 250.0), cell_m=5.0,
    )  # fmt: skip
    route = replace(scenes.route([(0.0, 0.0, 60.0), (600.0, 0.0, 60.0)]), **stated)
    return check(route, ground=ground, canopy_m=0.0, rules=scenes.LOOSE)


def legwise(found: Assessment) -> tuple[np.ndarray, np.ndarray]:
    """Return metres from the crest and the floor's margins on the leg."""
    on = found.samples.leg == 1
    lat, lon = found.samples.lat_deg[on], found.samples.lon_deg[on]
    east = np.array([scenes.east_north(*one)[0] for one in zip(lat, lon, strict=True)])
    return np.abs(east - 300.0), found.samples.floor_margin_m[on]


def test_declared_wind_stands_in_the_margin_and_not_among_the_cautions(tmp_path: Path) -> None:
    """Near the crest 6.37 m and the wind's airspeed, beyond only that; the remark goes."""
    calm = over_ridge(tmp_path)
    windy = over_ridge(tmp_path, wind_m_per_s=10.0)
    away, margin = legwise(windy)
    _, before = legwise(calm)
    more = margin - before
    # Everywhere the static source feels the wind, by about as much; near the crest comes 6.373 m.
    assert more[away < 100].min() - more[away > 170].max() == pytest.approx(6.373, abs=0.4)
    assert any("Crest near" in said for said in calm.cautions)
    assert not any("Crest near" in said for said in windy.cautions)
    rows = {row.name for place in windy.budget.places for row in place.rows}
    assert CREST_WIND in rows


def test_time_counts_from_launch(tmp_path: Path) -> None:
    """On the way home the trend has run since lift-off, not since its own leg began.

    60 m up at 4 m/s and 300 m at 0.5 m/s take 615 s; of 3 hPa an hour more at sea level, 8.324 m
    each: 4.27 m more, and more from there on.
    """
    route = scenes.route([(0.0, 0.0, 60.0), (300.0, 0.0, 60.0)], speed_m_per_s=0.5, after="launch")
    ground = scenes.model(tmp_path, lambda e, n: 0.0 * e + 0 * n)
    slow, fast = (
        check(
            replace(route, conditions=Conditions(pressure_trend_hpa_per_h=rate)),
            ground=ground, canopy_m=0.0, rules=scenes.LOOSE,
        )
        for rate in (-3.0, -6.0)
    )  # fmt: skip
    home = fast.samples.leg == fast.samples.leg.max()
    more = (fast.samples.floor_margin_m - slow.samples.floor_margin_m)[home]
    least = 615.0 / 3600.0 * 3.0 * 8.324
    assert least - 0.01 < more.min() < least + 0.1
    assert (np.diff(more) >= -1e-9).all()

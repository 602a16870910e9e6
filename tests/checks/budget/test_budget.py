"""The sum, against budgets worked by hand."""

from __future__ import annotations

import math
from dataclasses import replace
from typing import Any

import numpy as np
import pytest

from terrain_guard.checks.budget.budget import Budget, budget
from terrain_guard.checks.budget.classes import (
    BAROMETER,
    COARSE,
    GLOBAL,
    GNSS,
    LIDAR,
    NATIONAL,
    RADAR,
    RTK,
)
from terrain_guard.checks.budget.launch_spot import LaunchSpot
from terrain_guard.checks.budget.setting import Setting
from terrain_guard.checks.budget.terms import (
    Bucket,
    Scope,
    Term,
    bound_term,
    random_term,
)
from terrain_guard.errors import RefusedInput
from tests.checks.budget.worked import FLAT_LAUNCH, TAN_30, places, setting

# A leg 150 m above launch, 800 m away, over a slope of 30 degrees; launch on level ground at sea
# level. Each cause worked by hand, as variances in m²: twice the semivariogram; slope² times a
# shift of CE90 6 m (0.4 m) per axis; slope² times 1.5 m of navigation; 0.5 m of height hold; 1 m
# of static source; 0.2 hPa at 8.32 m/hPa; 150 m times 3 K in 288.15 K. Before any corridor and
# before the least margins.
A = {"elevation model": 4.58, "registration": 2.61, "navigation": 0.75, "height hold": 0.25,
     "static source": 1.00, "pressure drift": 2.77, "temperature": 2.44}  # fmt: skip
B = A | {"elevation model": 0.03, "registration": 0.05}
C = {"elevation model": 0.03, "registration": 0.05, "navigation": 0.00, "height hold": 0.25}
WORKED = [
    # class, cell, source, variances, sigma, at 95 %, 99 %, k = 3, crest, floor and ceiling margin
    (GLOBAL, 30.0, BAROMETER, A, 3.79, (6.2, 8.8, 11.4), 8.7, 17.5, 6.2),
    (LIDAR, 1.0, BAROMETER, B, 2.70, (4.4, 6.3, 8.1), 0.3, 6.6, 4.4),
    (LIDAR, 1.0, RTK, C, 0.58, (1.0, 1.3, 1.7), 0.3, 1.6, 1.0),
]
STATIC = {"static source": 1.0}


def worked(terrain: Any, cell_m: float, source: Any, **more: Any) -> Setting:
    """Return the setting of a worked budget: no corridor, 1 m of static source as printed there."""
    stated = STATIC if source is BAROMETER else {}
    more = {"navigation_in_corridor": False, "stated_sigma_m": stated, **more}
    return setting(terrain, source, cell_m=cell_m, **more)


def sizes(found: Budget, index: int = 0) -> dict[str, float]:
    """Return each random cause's variance."""
    return {term.name: float(term.floor_m[index]) ** 2 for term in found.in_bucket(Bucket.RANDOM)}


@pytest.mark.parametrize("case", WORKED, ids=["A", "B", "C"])
def test_the_worked_budgets(case: Any) -> None:
    """Every variance, sigma and margin to the printed digit."""
    terrain, cell_m, source, variances, sigma, at, crest, floor, ceiling = case
    found = budget(worked(terrain, cell_m, source), places(plane=TAN_30, crest=TAN_30))
    named = sizes(found)
    # Corrected satellites have a noise of their own, 0.05 m, which the worked budget leaves out.
    assert set(named) - {"satellite height"} == set(variances)
    for name, variance in variances.items():
        assert named[name] == pytest.approx(variance, abs=0.005), name
    assert found.sigma_m[0] == pytest.approx(sigma, abs=0.005)
    for k, printed in zip((1.645, 2.326, 3.0), at, strict=True):
        assert k * found.sigma_m[0] == pytest.approx(printed, abs=0.05)
    assert found.floor_bound_m[0] == pytest.approx(crest, abs=0.05)
    assert found.summed_m("floor")[0] == pytest.approx(floor, abs=0.05)
    assert found.summed_m("ceiling")[0] == pytest.approx(ceiling, abs=0.05)


def test_a_launch_placed_10_m_off_on_a_slope_of_40_percent_as_random() -> None:
    """4 m more in the root: 3.79 becomes 5.51."""
    placed = random_term("placement", 4.0, scope=Scope.FLIGHT, source="10 m on 40 %")
    found = budget(worked(GLOBAL, 30.0, BAROMETER), places(plane=TAN_30, more={"given": (placed,)}))
    assert found.sigma_m[0] == pytest.approx(5.51, abs=0.005)
    assert found.sigma_m[0] == pytest.approx(math.hypot(3.7944, 4.0), abs=1e-3)


def test_the_launch_spot_is_a_bound_and_not_counted_twice() -> None:
    """Ground that falls 8 and rises 6 m within 20 m: added as it is, and sigma stays."""
    launch = LaunchSpot(x_m=0.0, y_m=0.0, elevation_m=0.0, lower_m=8.0, higher_m=6.0, within_m=20.0)
    plain = budget(worked(GLOBAL, 30.0, BAROMETER), places(plane=TAN_30))
    found = budget(worked(GLOBAL, 30.0, BAROMETER), places(plane=TAN_30, launch=launch))
    assert found.sigma_m == pytest.approx(plain.sigma_m, rel=1e-12)
    assert found.floor_margin_m - plain.floor_margin_m == pytest.approx(8.0)
    assert found.ceiling_margin_m - plain.ceiling_margin_m == pytest.approx(6.0)


def test_the_room_between_floor_and_ceiling() -> None:
    """120 - 30 less both margins of the first worked budget: 66 m are left to fly in."""
    found = budget(worked(GLOBAL, 30.0, BAROMETER), places(plane=TAN_30, crest=TAN_30))
    left = 120.0 - 30.0 - found.summed_m("floor")[0] - found.summed_m("ceiling")[0]
    assert left == pytest.approx(66.28, abs=0.05)


@pytest.mark.parametrize(
    ("slope", "launch_slope", "shift_m", "moved_m"),
    [(TAN_30, TAN_30, 10.0, 0.0), (TAN_30, 0.0, 10.0, 5.77), (0.0, TAN_30, 10.0, 5.77)],
)
def test_a_shift_of_the_model_counts_by_the_difference_of_slopes(
    slope: float, launch_slope: float, shift_m: float, moved_m: float
) -> None:
    """On one even slope it falls out."""
    shifted = replace(GLOBAL, registration=replace(GLOBAL.registration, value=shift_m))
    launch = replace(FLAT_LAUNCH, slope_east=launch_slope)
    found = budget(setting(shifted, cell_m=30.0), places(plane=slope, launch=launch))
    assert math.sqrt(sizes(found)["registration"]) == pytest.approx(moved_m, abs=0.005)


def test_near_a_steep_face_a_shift_is_a_bound() -> None:
    """Over 60 %: no longer in sigma, but k (2 at least) sigma of the shift times the face."""
    under, over = (
        budget(setting(GLOBAL, cell_m=30.0), places(plane=0.5, face=face)) for face in (0.6, 0.61)
    )
    assert sizes(under)["registration"] == pytest.approx((0.5 * 2.796) ** 2, abs=1e-3)
    assert sizes(over)["registration"] == 0.0
    assert over.floor_bound_m - under.floor_bound_m == pytest.approx(2.33 * 2.796 * 0.61, abs=1e-3)
    assert over.ceiling_bound_m[0] == pytest.approx(2.0 * 2.796 * 0.61, abs=1e-3)
    assert over.floor_margin_m > under.floor_margin_m


def test_a_face_between_the_eight_directions_is_steep_all_the_same() -> None:
    """A plane of 62 % that falls between two of them is 58 % from post to post."""
    found = budget(setting(GLOBAL, cell_m=30.0), places(plane=0.62, face=0.58))
    assert sizes(found)["registration"] == 0.0
    assert found.floor_bound_m[0] == pytest.approx(2.33 * 2.796 * 0.62, abs=1e-3)


def test_at_a_steep_face_the_launchs_slope_is_in_the_bound() -> None:
    """One shift of the model moves both."""
    launch = replace(FLAT_LAUNCH, slope_east=0.3, slope_north=-0.4)
    found = budget(setting(GLOBAL, cell_m=30.0), places(face=0.7, launch=launch))
    assert found.floor_bound_m[0] == pytest.approx(2.33 * 2.796 * (0.7 + 0.5), abs=1e-3)


def test_a_cliff_smeared_over_a_cell_is_covered() -> None:
    """A cliff of 100 m in a model of 30 m cells, its edge 10 m off the aircraft.

    The model's face of 3.33 puts ground 50 m too low there; half a cell of the face is 50 m.
    """
    found = budget(setting(GLOBAL, cell_m=30.0), places(crest=100 / 30, face=100 / 30))
    crest = next(term for term in found.terms if term.name == "clipped crest")
    assert crest.floor_m[0] == pytest.approx(50.0)


# ---------------------------------------------------------------- what each cause goes by


def alone(found: Budget, name: str) -> Term:
    """Return one cause."""
    return next(term for term in found.terms if term.name == name)


def test_temperature_grows_with_height_above_launch_and_not_above_ground() -> None:
    """3 K of 288.15 K, both above and below launch."""
    heights = np.array([0.0, 120.0, 300.0, -120.0])
    found = budget(setting(GLOBAL, cell_m=30.0), places(4, above_launch_m=heights))
    assert alone(found, "temperature").floor_m == pytest.approx(np.abs(heights) * 3 / 288.15)
    assert not alone(found, "temperature").is_assumed
    unstated = budget(setting(GLOBAL, cell_m=30.0, temperature_c=None), places(4))
    assert alone(unstated, "temperature").is_assumed


def test_pressure_drifts_by_the_air_at_launch_and_by_time() -> None:
    """0.2 hPa in 20 minutes: 8.32 m per hPa at sea level, 9.64 at 1500 m (standard atmosphere)."""
    high = replace(FLAT_LAUNCH, elevation_m=1500.0)
    times = {"time_s": np.array([0.0, 1200.0, 2400.0])}
    for launch, per_hpa in ((FLAT_LAUNCH, 8.324), (high, 9.638)):
        found = budget(setting(GLOBAL, cell_m=30.0), places(3, launch=launch, more=times))
        drift = 0.2 * per_hpa
        assert alone(found, "pressure drift").floor_m == pytest.approx(
            [drift, drift, 2 * drift], abs=1e-3
        )


def test_satellites_feel_no_air() -> None:
    """Neither temperature nor pressure nor static source; a noise of their own instead."""
    for source, noise in ((GNSS, 4.0), (RTK, 0.05)):
        found = budget(setting(GLOBAL, source, cell_m=30.0), places())
        assert set(sizes(found)) == {
            "elevation model", "registration", "height hold", "satellite height",
        }  # fmt: skip
        assert alone(found, "satellite height").floor_m[0] == noise


def test_navigation_is_in_the_corridor_unless_told_otherwise() -> None:
    """Each cause once."""
    found = budget(setting(GLOBAL, cell_m=30.0), places(plane=TAN_30))
    assert "navigation" not in sizes(found)


def test_growth_and_snow_are_the_floors_alone() -> None:
    """12 years at 0.6 m are 7.2 m; 3 m of snow are 3 m."""
    rests = setting(GLOBAL, cell_m=30.0, age_years=12.0, growth_m_per_year=0.6, snow_m=3.0)
    found = budget(rests, places())
    assert alone(found, "growth").floor_m[0] == pytest.approx(7.2)
    assert alone(found, "snow").floor_m[0] == 3.0
    plain = budget(setting(GLOBAL, cell_m=30.0), places())
    assert found.floor_margin_m - plain.floor_margin_m == pytest.approx(10.2)
    assert found.ceiling_margin_m == pytest.approx(plain.ceiling_margin_m)


def test_what_others_work_out_is_added_on_its_side() -> None:
    """Half the canopy that radar sees into (30 m, half seen): 15 m; a reservoir drawn down 30 m."""
    given = (
        bound_term("canopy", floor_m=0.5 * 30.0, source="half of 30 m"),
        bound_term("drawdown", ceiling_m=np.array([30.0, 0.0]), source="a reservoir"),
    )
    plain = budget(setting(GLOBAL, cell_m=30.0), places(2))
    found = budget(setting(GLOBAL, cell_m=30.0), places(2, more={"given": given}))
    assert found.floor_margin_m - plain.floor_margin_m == pytest.approx(15.0)
    assert found.ceiling_margin_m - plain.ceiling_margin_m == pytest.approx([30.0, 0.0])


def test_a_declared_bias_is_in_no_margin() -> None:
    """It is applied to the heights, once."""
    bias = np.array([-10.41, 3.0])
    found = budget(setting(GLOBAL, cell_m=30.0), places(2, more={"bias_m": bias}))
    plain = budget(setting(GLOBAL, cell_m=30.0), places(2))
    assert found.bias_m == pytest.approx(bias)
    assert plain.bias_m == pytest.approx(0.0)
    for side in ("floor", "ceiling"):
        assert found.margin_m(side) == pytest.approx(plain.margin_m(side))


def test_radar_levels_crests_twice_as_wide() -> None:
    """Of the same cells it needs twice the bound."""
    sharp, dull = (
        budget(setting(terrain, cell_m=30.0), places(crest=0.5)) for terrain in (GLOBAL, RADAR)
    )
    assert alone(dull, "clipped crest").floor_m[0] == 2 * alone(sharp, "clipped crest").floor_m[0]


def test_a_cards_sigma_goes_before_the_class() -> None:
    """Twice the class's sigma is twice its part; the class's own changes nothing."""
    one, same, twice = (
        budget(setting(GLOBAL, cell_m=30.0, sigma_m=sigma), places())
        for sigma in (None, GLOBAL.sigma_m, 2 * GLOBAL.sigma_m)
    )
    size = [alone(found, "elevation model").floor_m[0] for found in (one, same, twice)]
    assert size[1] == pytest.approx(size[0], rel=1e-12)
    assert size[2] == pytest.approx(2 * size[0], rel=1e-12)
    assert alone(one, "elevation model").is_assumed
    assert not alone(twice, "elevation model").is_assumed


def test_a_survey_of_the_launch_helps_near_it() -> None:
    """What is left is less than without, and less near than far."""
    near = places(2, x_m=np.array([100.0, 5000.0]))
    plain = budget(setting(NATIONAL, cell_m=10.0), near)
    found = budget(setting(NATIONAL, cell_m=10.0, survey_sigma_m=0.1), near)
    left, before = (sizes(one, 0)["elevation model"] for one in (found, plain))
    assert left < before
    assert sizes(found, 0)["elevation model"] < sizes(found, 1)["elevation model"]


# ---------------------------------------------------------------- least margins, unknowns


@pytest.mark.parametrize(
    ("terrain", "cell_m", "source", "floor_m"),
    [(LIDAR, 1.0, RTK, 3.0), (LIDAR, 1.0, BAROMETER, 5.0), (NATIONAL, 10.0, RTK, 5.0)],
)
def test_margins_are_raised_last(terrain: Any, cell_m: float, source: Any, floor_m: float) -> None:
    """5 m for the floor, 3 m with lidar and corrected satellites, 2 m for the ceiling."""
    calm = setting(terrain, source, cell_m=cell_m, floor_k=0.1, ceiling_k=0.1)
    found = budget(calm, places())
    assert found.floor_margin_m[0] == floor_m
    assert found.ceiling_margin_m[0] == 2.0
    assert found.raised("floor")[0]
    assert found.raised("ceiling")[0]
    assert found.summed_m("floor")[0] < floor_m
    wide = budget(worked(GLOBAL, 30.0, BAROMETER), places(plane=TAN_30, crest=TAN_30))
    assert not wide.raised("floor")[0]


@pytest.mark.parametrize(
    ("cell_m", "slope", "is_known"),
    [(90.0, 0.09, True), (90.0, 0.11, False), (92.8, 0.11, False), (60.0, 0.3, True)],
)
def test_very_coarse_models_prove_no_floor_on_slopes(
    cell_m: float, slope: float, is_known: bool
) -> None:
    """From 90 m cells on and over 10 %: the floor's margin is not known, the ceiling's is."""
    found = budget(setting(COARSE, cell_m=cell_m), places(plane=slope))
    assert np.isfinite(found.floor_margin_m[0]) == is_known
    assert np.isfinite(found.ceiling_margin_m[0])


@pytest.mark.parametrize("unknown", ["x_m", "above_launch_m", "plane", "crest", "given", "lower"])
def test_what_is_not_known_makes_the_margin_unknown(unknown: str) -> None:
    """NaN from wherever it comes, at that sample, and never a number."""
    one = np.array([1.0, math.nan])
    how: dict[str, Any] = {unknown: one} if unknown in ("x_m", "above_launch_m") else {}
    if unknown in ("plane", "crest"):
        how[unknown] = 0.1 * one
    if unknown == "given":
        how["more"] = {"given": (bound_term("canopy", floor_m=one, source="a map"),)}
    if unknown == "lower":
        how["launch"] = replace(FLAT_LAUNCH, lower_m=math.nan, higher_m=math.nan)
    found = budget(setting(GLOBAL, cell_m=30.0), places(2, **how))
    assert np.isnan(found.floor_margin_m[1])
    assert np.isnan(found.floor_margin_m[0]) == (unknown == "lower")


def test_the_whole_flights_part_and_the_local_part() -> None:
    """Together they are sigma; half of the model's variance is at launch."""
    found = budget(worked(GLOBAL, 30.0, BAROMETER), places(plane=TAN_30))
    whole = 4.58 / 2 + 2.61 + 2.77 + 2.44
    assert found.flight_sigma_m[0] ** 2 == pytest.approx(whole, abs=0.01)
    assert found.local_sigma_m[0] ** 2 == pytest.approx(4.58 / 2 + 0.75 + 0.25 + 1.0, abs=0.01)


def test_between_two_samples_the_greater_margin_holds() -> None:
    """And an unknown one makes it unknown."""
    given = (bound_term("canopy", floor_m=np.array([0.0, 25.0, 5.0, np.nan]), source="a map"),)
    found = budget(setting(GLOBAL, cell_m=30.0), places(4, more={"given": given}))
    plain = budget(setting(GLOBAL, cell_m=30.0), places())
    at = np.array([0.0, 0.3, 1.0, 1.5, 2.0, 2.1, 3.0])
    more = found.margin_at("floor", at) - plain.margin_m("floor")[0]
    assert more == pytest.approx([0.0, 25.0, 25.0, 25.0, 5.0, np.nan, np.nan], nan_ok=True)


# ---------------------------------------------------------------- refusals


@pytest.mark.parametrize(
    "name",
    ["cell_m", "floor_k", "ceiling_k", "sigma_m", "height_step_m", "survey_sigma_m",
     "airspeed_m_per_s", "age_years", "growth_m_per_year", "snow_m"],
)  # fmt: skip
@pytest.mark.parametrize("value", [-1.0, math.nan, math.inf])
def test_no_budget_rests_on_nonsense(name: str, value: float) -> None:
    """Negative, no number, endless."""
    with pytest.raises(RefusedInput, match=rf"{name}: given {value!r}, but it must be 0 or more"):
        setting(GLOBAL, BAROMETER, **{"cell_m": 30.0, name: value})


def test_all_faults_at_once() -> None:
    """One sentence each."""
    with pytest.raises(RefusedInput) as refused:
        Setting(
            terrain=GLOBAL, source=RTK, cell_m=0.0, floor_k=-1.0, temperature_c=math.nan,
            stated_sigma_m={"wind": 1.0, "height hold": math.nan},
        )  # fmt: skip
    assert len(refused.value.faults) == 5


@pytest.mark.parametrize("size", [-0.1, np.array([1.0, -2.0])])
def test_a_size_of_error_is_not_negative(size: Any) -> None:
    """A bound has a side instead of a sign."""
    with pytest.raises(RefusedInput, match=r"canopy \(ceiling\): given -"):
        bound_term("canopy", ceiling_m=size, source="a map")
    with pytest.raises(RefusedInput, match="a size of error is 0 or more"):
        random_term("gusts", size, scope=Scope.LOCAL, source="a guess")


def test_a_random_cause_is_the_same_on_both_sides() -> None:
    """Its one sigma; a cause with sides is a bound."""
    with pytest.raises(RefusedInput, match="one sigma, the same on both sides"):
        Term(
            name="gusts", bucket=Bucket.RANDOM, floor_m=np.ones(1), ceiling_m=np.zeros(1),
            scope=Scope.LOCAL, source="a guess",
        )  # fmt: skip


def test_arrays_of_several_lengths_are_refused() -> None:
    """Named, with the number that counts."""
    with pytest.raises(RefusedInput, match=r"time_s given in another number than the 2 of x_m"):
        places(2, more={"time_s": np.zeros(3)})

"""The chance that any metre breaks a limit, against closed forms and fields drawn elsewhere."""

from __future__ import annotations

import math
from dataclasses import replace
from typing import Any

import numpy as np
import pytest
from scipy import stats

from terrain_guard.arrays import Floats
from terrain_guard.checks.budget import whole_flight
from terrain_guard.checks.budget.budget import Budget, budget
from terrain_guard.checks.budget.classes import BAROMETER, GLOBAL, LIDAR, NATIONAL, RTK
from terrain_guard.checks.budget.launch_spot import LaunchSpot
from terrain_guard.checks.budget.places import Places
from terrain_guard.checks.budget.terms import Scope, bound_term, random_term
from terrain_guard.checks.budget.whole_flight import FlightChance, flight_chance
from terrain_guard.errors import RefusedInput
from tests.checks.budget.worked import STILL_AIR, places, setting

BESIDE = LaunchSpot(x_m=1000.0, y_m=800.0, elevation_m=0.0)
MODEL_ALONE = setting(GLOBAL, STILL_AIR, cell_m=10.0, airspeed_m_per_s=0.0)
"""Only the model's own error: the height is 0 above launch, so that no temperature counts."""


def straight(
    length_m: float, step_m: float, *, cell_m: float = 10.0, off: float = 0.0, **more: Any
) -> Places:
    """Return a straight route east, `off` posts off the lines of posts, launched from beside it."""
    x = np.arange(0.0, length_m + step_m / 2, step_m)
    more = {"above_launch_m": 0.0, "launch": BESIDE, **more}
    return places(
        x.size, x_m=x, along_m=x, column=x / cell_m + off, row=off, **more,
    )  # fmt: skip


def chance(
    found: Budget, at: Places, room_m: Any, *, side: str = "floor", **more: Any
) -> FlightChance:
    """Return the chance with the same room everywhere, or as given."""
    room = np.broadcast_to(np.asarray(room_m, dtype=float), (at.count,))
    return flight_chance(found, at, side=side, room_m=room, **more)


# ---------------------------------------------------------------- a flight worked elsewhere

# Straight route of 2 km, launched 800 m beside its middle, a sample every 10 m; nested variogram
# with a nugget of 0.8 m, 1.2 m over 100 m and 0.8 m over 2 km. 40,000 joint draws by Cholesky
# gave sd 2.15 m at a sample and -6.66 m (3.09 sd) for the 5 % quantile of the least, -7.89 m
# (3.66 sd) for the 1 % quantile.


def test_the_error_at_single_samples() -> None:
    """2.15 m, in the mean over the route."""
    found = budget(MODEL_ALONE, straight(2000.0, 10.0))
    assert math.sqrt((found.sigma_m**2).mean()) == pytest.approx(2.15, abs=0.01)


@pytest.mark.parametrize(("room_m", "stated"), [(6.66, 0.05), (7.89, 0.01)])
def test_quantiles_of_the_least_of_a_flight(room_m: float, stated: float) -> None:
    """With so much room a flight of 2 km breaks with that chance."""
    at = straight(2000.0, 10.0)
    found = chance(budget(MODEL_ALONE, at), at, room_m, draws=40_000)
    assert found.chance == pytest.approx(stated, abs=3 * found.standard_error + 0.03 * stated)
    assert found.standard_error < 0.04 * stated


def test_each_metre_at_99_percent_is_a_flight_of_one_in_four() -> None:
    """Two km beside a slope at k = 2.33 everywhere: about 24 % of flights break somewhere."""
    at = straight(2000.0, 1.0)
    found = budget(MODEL_ALONE, at)
    assert chance(found, at, 2.33 * found.sigma_m).chance == pytest.approx(0.24, abs=0.01)


@pytest.mark.parametrize("source", [BAROMETER, RTK])
@pytest.mark.parametrize(("terrain", "cell_m"), [(GLOBAL, 30.0), (NATIONAL, 10.0), (LIDAR, 1.0)])
@pytest.mark.parametrize("k", [2.33, 3.0])
def test_halving_the_step_changes_nothing(
    terrain: Any, cell_m: float, source: Any, k: float
) -> None:
    """By less than half a percentage point, over uneven room and off the lines of posts."""
    found = []
    for step in (2.0, 1.0, 0.5):
        at = straight(3000.0, step, cell_m=cell_m, off=0.37, plane=0.3, above_launch_m=90.0)
        of = budget(setting(terrain, source, cell_m=cell_m), at)
        wave = 1.0 + 0.4 * np.sin(at.along_m / 37.0) + 0.3 * np.sin(at.along_m / 211.0)
        room = of.floor_bound_m + of.sigma_m * (k + wave)
        found.append(chance(of, at, room).chance)
    assert max(found) - min(found) < 0.005
    assert 0.0001 < min(found) < 0.9


# ---------------------------------------------------------------- closed forms


def test_one_place_has_the_chance_of_a_normal_error() -> None:
    """One sample, k sigma of room."""
    at = places(column=3.0)
    found = budget(setting(GLOBAL, cell_m=30.0), at)
    for k in (0.5, 1.645, 3.0):
        alone = chance(found, at, k * found.sigma_m, draws=40_000)
        assert alone.chance == pytest.approx(stats.norm.sf(k), abs=4 * alone.standard_error + 1e-6)


def test_what_moves_the_whole_flight_does_not_multiply() -> None:
    """One error for all samples: the flight breaks as one sample does, whatever its length."""
    exact = replace(GLOBAL, parts=(), nugget=replace(GLOBAL.nugget, value=0.0))
    rests = setting(exact, STILL_AIR, cell_m=30.0, airspeed_m_per_s=0.0)
    shared = random_term("zero", 2.0, scope=Scope.FLIGHT, source="made for a test")
    at = straight(3000.0, 5.0, more={"given": (shared,)})
    assert chance(budget(rests, at), at, 4.0).chance == pytest.approx(stats.norm.sf(2), abs=1e-6)


def test_errors_far_apart_multiply() -> None:
    """Local errors at places a thousand lengths apart: 1 - (1 - p)^n."""
    exact = replace(GLOBAL, parts=(), nugget=replace(GLOBAL.nugget, value=0.0))
    rests = setting(exact, STILL_AIR, cell_m=30.0, airspeed_m_per_s=0.0)
    gusts = random_term("gusts", 2.0, scope=Scope.LOCAL, source="made for a test")
    at = straight(2_000_000.0, 100_000.0, more={"given": (gusts,)})
    single = stats.norm.sf(2.5)
    together = 1 - (1 - single) ** at.count
    found = chance(budget(rests, at), at, 5.0, draws=40_000)
    assert found.chance == pytest.approx(together, abs=4 * found.standard_error)


def test_the_nugget_is_one_for_a_post_and_interpolated_between() -> None:
    """Only a nugget, on a line of posts 30 m apart: independent at posts, smaller between."""
    nugget = replace(GLOBAL, parts=())
    rests = setting(nugget, STILL_AIR, cell_m=30.0, airspeed_m_per_s=0.0)
    far = replace(BESIDE, x_m=1e6)
    at = straight(300.0, 1.0, cell_m=30.0, launch=far)
    room = 2.5 * 0.8 * math.sqrt(2)
    random = np.random.default_rng(2)
    posts = 0.8 * random.standard_normal((400_000, 11)).min(axis=1)
    broken = stats.norm.cdf((-room - posts) / 0.8).mean()  # the launch's own nugget besides
    found = chance(budget(rests, at), at, room, draws=40_000)
    assert found.chance == pytest.approx(broken, abs=4 * found.standard_error + 1e-4)


def test_many_small_cells_in_a_bin_count_all() -> None:
    """Only a nugget on 1 m cells: the least of the ten cells of each bin, of fifty bins."""
    nugget = replace(LIDAR, parts=(), nugget=replace(LIDAR.nugget, value=0.8))
    rests = setting(nugget, STILL_AIR, cell_m=1.0, airspeed_m_per_s=0.0)
    at = straight(499.0, 1.0, cell_m=1.0)
    room = 3.5 * 0.8
    random = np.random.default_rng(4)
    cells = 0.8 * random.standard_normal((40_000, 500)).min(axis=1)
    broken = stats.norm.cdf((-room - cells) / 0.8).mean()
    found = chance(budget(rests, at), at, room, draws=20_000)
    assert found.chance == pytest.approx(broken, abs=4 * found.standard_error + 0.001)


@pytest.mark.parametrize("survey_sigma_m", [None, 0.5])
def test_against_draws_of_a_whole_flight_by_hand(survey_sigma_m: float | None) -> None:
    """Every cause drawn for itself over a bent route: model, survey, shift, air, aircraft."""
    x = np.concatenate((np.arange(0.0, 600.0, 30.0), np.full(20, 600.0)))
    y = np.concatenate((np.zeros(20), np.arange(0.0, 600.0, 30.0)))
    launch = LaunchSpot(x_m=150.0, y_m=-240.0, elevation_m=0.0, slope_east=0.1)
    heights = np.linspace(60.0, 140.0, 40)
    slope = 0.3 * np.sin(np.arange(40) / 5)
    at = places(
        40, x_m=x, y_m=y, above_launch_m=heights, launch=launch, column=x / 30.0, row=-y / 30.0,
        along_m=30.0 * np.arange(40), plane=slope,
    )  # fmt: skip
    rests = setting(GLOBAL, cell_m=30.0, survey_sigma_m=survey_sigma_m, airspeed_m_per_s=9.903)
    of = budget(rests, at)
    k = 2.2
    found = chance(of, at, k * of.sigma_m, draws=40_000)
    error = drawn_by_hand(x, y, heights, slope, survey_sigma_m, count=40_000)
    assert error.std(axis=0) == pytest.approx(of.sigma_m, rel=0.02)
    broken = (error < -k * of.sigma_m).any(axis=1)
    spread = math.sqrt(broken.mean() * (1 - broken.mean()) / broken.size)
    assert found.chance == pytest.approx(
        broken.mean(), abs=4 * math.hypot(spread, found.standard_error)
    )


def drawn_by_hand(
    x: Floats, y: Floats, heights: Floats, slope: Floats, survey_sigma_m: float | None, *,
    count: int,
) -> Floats:  # fmt: skip
    """Return errors of height above ground, counted from the launch, one row a flight."""
    random = np.random.default_rng(77)
    px, py = np.append(x, 150.0), np.append(y, -240.0)
    apart = np.hypot(px[:, None] - px, py[:, None] - py)
    field = 1.44 * np.exp(-apart / 100.0) + 0.64 * np.exp(-apart / 2000.0)
    model = random.standard_normal((count, 41)) @ np.linalg.cholesky(field).T
    model += 0.8 * random.standard_normal((count, 41))
    bias = 1.787 * random.standard_normal((count, 1))
    model += bias
    error = model[:, :-1] - model[:, -1:]
    if survey_sigma_m is not None:
        told = model[:, -1] + survey_sigma_m * random.standard_normal(count)
        error -= told[:, None] * (error * told[:, None]).mean(axis=0) / (told**2).mean()
    error += 2.796 * random.standard_normal((count, 1)) * (slope - 0.1)
    along = 30.0 * np.arange(40)
    near = np.exp(-np.abs(along[:, None] - along) / 100.0)
    local = random.standard_normal((2, count, 40)) @ np.linalg.cholesky(near).T
    error += 0.5 * local[0] + 1.0 * local[1]
    error += 0.2 * 8.324 * random.standard_normal((count, 1))
    return np.asarray(error + heights * 3.0 / 288.15 * random.standard_normal((count, 1)))


# ---------------------------------------------------------------- bounds, sides, what is left out


def test_bounds_are_taken_off_the_room_first() -> None:
    """On their side only."""
    given = (bound_term("canopy", floor_m=25.0, source="the model's card"),)
    plain, treed = (straight(500.0, 5.0, more={"given": some}) for some in ((), given))
    rests = setting(GLOBAL, cell_m=10.0)
    one = chance(budget(rests, plain), plain, 9.0)
    other = chance(budget(rests, treed), treed, 34.0)
    assert other.chance == one.chance
    ceiling = chance(budget(rests, treed), treed, 9.0, side="ceiling")
    assert ceiling.chance == one.chance


def test_places_that_cannot_matter_are_left_out() -> None:
    """A narrow tight spot on a long flight: few places are drawn, and the rest is bounded."""
    at = straight(5000.0, 1.0, cell_m=1.0)
    found = budget(setting(LIDAR, cell_m=1.0), at)
    room = np.where(np.abs(at.along_m - 2500) < 50, 6.0, 60.0)
    some = chance(found, at, room)
    assert some.places <= 11
    assert some.left_out <= whole_flight.LEFT_OUT
    assert 2450 < at.along_m[some.worst] < 2550
    only = straight(98.0, 1.0, cell_m=1.0)  # the same stretch alone
    moved = replace(only, x_m=only.x_m + 2451, along_m=only.along_m + 2451)
    alone = chance(budget(setting(LIDAR, cell_m=1.0), moved), moved, 6.0)
    assert some.chance == pytest.approx(alone.chance, abs=1e-3)


def test_a_flight_with_room_everywhere_has_no_chance() -> None:
    """And no worst place."""
    at = straight(500.0, 5.0)
    found = chance(budget(setting(GLOBAL, cell_m=10.0), at), at, math.inf)
    assert (found.chance, found.places, found.worst) == (0.0, 0, -1)
    assert found.keeps(whole_flight.FLOOR_CHANCE)


def test_a_flight_below_its_limit_breaks_it_surely() -> None:
    """All of the time."""
    at = straight(500.0, 5.0)
    found = chance(budget(setting(GLOBAL, cell_m=10.0), at), at, -50.0)
    assert found.chance == pytest.approx(1.0)
    assert not found.keeps(whole_flight.CEILING_CHANCE)


def test_a_long_tight_flight_is_bounded_from_above() -> None:
    """More tight places than are drawn: the rest is counted as a sum, which is too much."""
    at = straight(20_000.0, 5.0)
    found = budget(MODEL_ALONE, at)
    half = straight(5000.0, 5.0)
    part = chance(budget(MODEL_ALONE, half), half, 9.0)
    long = chance(found, at, 9.0)
    assert long.places == whole_flight.MOST_PLACES
    assert long.chance > part.chance
    assert long.chance == pytest.approx(long.at_least + long.left_out)


@pytest.mark.parametrize("what", ["room", "sigma"])
def test_a_metre_that_is_not_known_leaves_the_chance_unknown(what: str) -> None:
    """NaN, which keeps no limit; what the others have is told."""
    at = straight(500.0, 5.0)
    if what == "sigma":
        at = replace(at, x_m=np.where(np.arange(at.count) == 7, math.nan, at.x_m))
    found = budget(setting(GLOBAL, cell_m=10.0), at)
    room = np.full(at.count, 6.0)
    room[7] = math.nan if what == "room" else 6.0
    some = chance(found, at, room)
    assert math.isnan(some.chance)
    assert not some.keeps(1.0)
    assert some.at_least > 0.001
    room[7] = math.inf  # where nothing is to be broken nothing need be known
    assert chance(found, at, room).chance == pytest.approx(some.at_least, abs=1e-3)


def test_the_same_seed_gives_the_same_answer() -> None:
    """And another one nearly so."""
    at = straight(2000.0, 10.0)
    found = budget(MODEL_ALONE, at)
    one, again, other = (chance(found, at, 6.0, seed=seed) for seed in (1, 1, 2))
    assert one == again
    assert one.chance != other.chance
    assert one.chance == pytest.approx(other.chance, abs=5 * one.standard_error)


def test_the_chance_lies_between_that_of_one_metre_and_of_all() -> None:
    """At least the worst sample's, at most the sum over the places drawn."""
    at = straight(1000.0, 10.0)
    found = budget(MODEL_ALONE, at)
    for k in (1.0, 2.0, 3.0):
        some = chance(found, at, k * found.sigma_m)
        single = stats.norm.sf(k)
        assert single <= some.chance + 1e-9
        assert some.chance <= min(1.0, at.count * single) + 4 * some.standard_error


def test_what_makes_no_sense_is_refused() -> None:
    """No such side; another number of values."""
    at = straight(100.0, 10.0)
    found = budget(MODEL_ALONE, at)
    with pytest.raises(RefusedInput, match="given 'sides', but it is 'floor' or 'ceiling'"):
        chance(found, at, 5.0, side="sides")
    with pytest.raises(RefusedInput, match="given 3 values for 11 samples"):
        flight_chance(found, at, side="floor", room_m=np.zeros(3))

"""What must hold of every budget: nothing that makes an input worse shrinks a margin."""

from __future__ import annotations

import itertools
from dataclasses import replace
from typing import Any

import numpy as np
from hypothesis import given, settings
from hypothesis import strategies as st

from terrain_guard.checks.budget.budget import Budget, budget
from terrain_guard.checks.budget.classes import (
    BAROMETER,
    GLOBAL,
    HEIGHT_SOURCES,
    LADDER,
    RTK,
    TERRAIN_CLASSES,
)
from terrain_guard.checks.budget.explain import shrunk
from terrain_guard.checks.budget.launch_spot import LaunchSpot
from terrain_guard.checks.budget.setting import MAY_BE_STATED
from terrain_guard.checks.budget.terms import Bucket, Scope, bound_term, random_term
from tests.checks.budget.worked import places, setting

SIZES = st.floats(0, 50)
STATE = st.fixed_dictionaries(
    {
        "x_m": st.floats(-5000, 5000),
        "y_m": st.floats(-5000, 5000),
        "above_launch_m": st.floats(-300, 500),
        "plane": st.floats(-3, 3),
        "crest": st.floats(0, 4),
        "gully": st.floats(0, 4),
        "face": st.floats(0, 4),
        "peak": st.floats(0, 1),
        "lower_m": st.floats(0, 40),
        "higher_m": st.floats(0, 40),
        "slope_east": st.floats(-1, 1),
    }
)
OF_LAUNCH = ("lower_m", "higher_m", "slope_east")


def place_of(state: dict[str, float], **more: Any) -> Any:
    """Return one sample in that state."""
    launch = LaunchSpot(
        x_m=0.0, y_m=0.0, elevation_m=100.0, within_m=10.0,
        **{name: state[name] for name in OF_LAUNCH},
    )  # fmt: skip
    rest = {name: value for name, value in state.items() if name not in OF_LAUNCH}
    return places(1, launch=launch, more=more, **rest)


def assert_no_less(worse: Budget, better: Budget) -> None:
    """Neither margin of the worse is smaller."""
    for side in ("floor", "ceiling"):
        assert (worse.margin_m(side) >= better.margin_m(side) - 1e-9).all()
    assert (worse.sigma_m >= 0).all()


@settings(deadline=None)
@given(state=STATE, source=st.sampled_from(sorted(HEIGHT_SOURCES)))
def test_a_better_class_never_widens_a_margin(state: dict[str, float], source: str) -> None:
    """Down the ladder, at cells typical of each class."""
    at = place_of(state)
    cells = (1.0, 10.0, 30.0, 60.0)
    found = [
        budget(setting(terrain, HEIGHT_SOURCES[source], cell_m=cell), at)
        for terrain, cell in zip(LADDER, cells, strict=True)
    ]
    for better, worse in itertools.pairwise(found):
        assert_no_less(worse, better)


@settings(deadline=None)
@given(
    state=STATE,
    first=st.sampled_from(sorted(TERRAIN_CLASSES)),
    second=st.sampled_from([one.name for one in LADDER[:3]]),
    sigma=st.none() | st.floats(0.01, 20),
)
def test_what_is_said_to_shrink_it_never_widens_it(
    state: dict[str, float], first: str, second: str, sigma: float | None
) -> None:
    """Whatever the card says, as long as the class asked for is a better one."""
    order = [one.name for one in LADDER]
    worse = TERRAIN_CLASSES[first]
    if first != "radar" and order.index(second) > order.index(first):
        return
    cell_m = {"lidar": 1.0, "national": 10.0, "global": 30.0, "radar": 30.0, "coarse": 60.0}[first]
    at = place_of(state)
    found = budget(setting(worse, cell_m=cell_m, sigma_m=sigma), at)
    if sigma is not None and sigma < worse.sigma_m and sigma > TERRAIN_CLASSES[second].sigma_m:
        return  # of such a card and such a class neither is better in everything
    assert_no_less(found, shrunk(found, at, terrain=TERRAIN_CLASSES[second]).after)


@settings(deadline=None)
@given(
    state=STATE,
    name=st.sampled_from(["crest", "gully", "face", "peak", "lower_m", "higher_m"]),
    more=st.floats(0, 3),
)
def test_monotone_in_every_bound(state: dict[str, float], name: str, more: float) -> None:
    """A steeper side, more of a peak, a wider fall of the launch ground."""
    worse = state | {name: min(state[name] + more, 1.0) if name == "peak" else state[name] + more}
    rests = setting(GLOBAL, cell_m=30.0)
    assert_no_less(budget(rests, place_of(worse)), budget(rests, place_of(state)))


@settings(deadline=None)
@given(state=STATE, steeper=st.floats(1, 4))
def test_monotone_in_the_slope(state: dict[str, float], steeper: float) -> None:
    """From a gentle slope over 60 % and on: where a shift turns into a bound nothing is gained."""
    gentle = state | {"slope_east": 0.0, "face": abs(state["plane"])}
    steep = gentle | {"plane": steeper * gentle["plane"], "face": steeper * gentle["face"]}
    rests = setting(GLOBAL, cell_m=30.0)
    assert_no_less(budget(rests, place_of(steep)), budget(rests, place_of(gentle)))


@settings(deadline=None)
@given(
    state=STATE,
    field=st.sampled_from(
        ["floor_k", "ceiling_k", "sigma_m", "height_step_m", "survey_sigma_m", "airspeed_m_per_s",
         "age_years", "snow_m", "cell_m"]
    ),
    low=st.floats(0.1, 20),
    more=st.floats(0, 20),
)  # fmt: skip
def test_monotone_in_every_setting(
    state: dict[str, float], field: str, low: float, more: float
) -> None:
    """More k, a worse card, coarser rounding, a worse survey, faster, older, deeper, coarser."""
    at = place_of(state)
    better, worse = (
        budget(
            setting(GLOBAL, BAROMETER, **{"cell_m": 30.0, "growth_m_per_year": 0.6, field: value}),
            at,
        )
        for value in (low, low + more)
    )
    assert_no_less(worse, better)


@settings(deadline=None)
@given(state=STATE, name=st.sampled_from(MAY_BE_STATED), low=SIZES, more=SIZES)
def test_monotone_in_every_stated_sigma(
    state: dict[str, float], name: str, low: float, more: float
) -> None:
    """Of each flight error."""
    at = place_of(state)
    better, worse = (
        budget(setting(GLOBAL, cell_m=30.0, stated_sigma_m={name: value}), at)
        for value in (low, low + more)
    )
    assert_no_less(worse, better)


@settings(deadline=None)
@given(state=STATE, floor=SIZES, ceiling=SIZES, sigma=SIZES)
def test_whatever_is_added_widens(
    state: dict[str, float], floor: float, ceiling: float, sigma: float
) -> None:
    """By the whole of a bound; by no more than k sigma of a random cause."""
    rests = setting(GLOBAL, cell_m=30.0)
    plain = budget(rests, place_of(state))
    bound = bound_term("other", floor_m=floor, ceiling_m=ceiling, source="made up")
    chance = random_term("gusts", sigma, scope=Scope.LOCAL, source="made up")
    bounded = budget(rests, place_of(state, given=(bound,)))
    gusty = budget(rests, place_of(state, given=(chance,)))
    assert_no_less(bounded, plain)
    assert_no_less(gusty, plain)
    for side, size, k in (("floor", floor, 2.33), ("ceiling", ceiling, 1.645)):
        assert np.allclose(bounded.summed_m(side) - plain.summed_m(side), size)
        assert gusty.summed_m(side) <= plain.summed_m(side) + k * sigma + 1e-9


@settings(deadline=None)
@given(state=STATE)
def test_margins_hold_their_parts(state: dict[str, float]) -> None:
    """Never below the least, never below any single bound, never below k times any sigma."""
    rests = setting(GLOBAL, RTK, cell_m=30.0)
    found = budget(rests, place_of(state))
    assert found.floor_margin_m[0] >= 5.0
    assert found.ceiling_margin_m[0] >= 2.0
    for term in found.in_bucket(Bucket.BOUND):
        assert found.floor_margin_m[0] >= term.floor_m[0] - 1e-9
        assert found.ceiling_margin_m[0] >= term.ceiling_m[0] - 1e-9
    for term in found.in_bucket(Bucket.RANDOM):
        assert found.floor_margin_m[0] >= 2.33 * term.floor_m[0] - 1e-9


@settings(deadline=None)
@given(state=STATE, turn=st.floats(0, 6.3))
def test_turning_the_whole_scene_changes_nothing(state: dict[str, float], turn: float) -> None:
    """Slopes and places turned about the launch."""
    at = place_of(state)
    cos, sin = np.cos(turn), np.sin(turn)
    slope, launch = at.slopes, at.launch
    turned = replace(
        at, x_m=at.x_m * cos - at.y_m * sin, y_m=at.x_m * sin + at.y_m * cos,
        slopes=replace(slope, east=slope.east * cos, north=slope.east * sin),
        launch=replace(launch, slope_east=launch.slope_east * cos,
                       slope_north=launch.slope_east * sin),
    )  # fmt: skip
    rests = setting(GLOBAL, cell_m=30.0)
    one, other = budget(rests, at), budget(rests, turned)
    assert np.allclose(one.floor_margin_m, other.floor_margin_m)
    assert np.allclose(one.ceiling_margin_m, other.ceiling_margin_m)

"""Curves that are not stated, through the whole check: the worst counts, and is named.

Ridges and spires are triangular, so the expected values are plain differences, by hand.
Where nothing else is said heights count straight down; the ground lies at 100 m.
"""

from __future__ import annotations

import dataclasses
import itertools
import math
from pathlib import Path
from typing import Any

import numpy as np
import pytest
from hypothesis import Phase, given, settings
from hypothesis import strategies as st

from terrain_guard.assess import check
from terrain_guard.assessment import Assessment, Extreme, Finding, LegRow
from terrain_guard.plan.route import AfterLast, Climb, Route, Turns, WayHome
from terrain_guard.plan.rules import Rules
from terrain_guard.states import SEVERITY, State
from tests.checks import scenes
from tests.checks.scenes import Floats, Surface
from tests.test_assess_properties import rough, written

CENTIMETRE = 0.01
KINDS = ("fly-by", "fly-over", "smooth", "stop")
CORNERS = ("mid-arc", "straight")
MODELS = ("linear", "early", "late", "smooth")
TOO_STEEP = ("slows", "falls-short")
OUT = ("vertical", "step", "slanting")
HOME = ("climb-first", "climb-on-the-way", "slanting", "level")
LINEAR = Climb(model="linear", too_steep="slows", out="vertical")
NOTHING_STATED = Climb(out="vertical")
STRAIGHT_DOWN = scenes.rules(floor_m=30.0, floor_measure="vertical")
Points = list[tuple[float, float, float]]


def lowest(leg: LegRow) -> Extreme:
    """Return the least height above ground of a leg."""
    assert leg.above_ground_min is not None
    return leg.above_ground_min


def highest(leg: LegRow) -> Extreme:
    """Return the greatest height above ground of a leg."""
    assert leg.above_ground_max is not None
    return leg.above_ground_max


def place(extreme: Extreme | Finding) -> tuple[float, float]:
    """Return where something is, metres east and north of the spot."""
    return scenes.east_north(extreme.lat_deg, extreme.lon_deg)


def ridge(crest_m: float, at_m: float, half_width_m: float) -> Surface:
    """Return a ridge that runs north over flat ground at 100 m."""

    def surface(east: Floats, north: Floats) -> Floats:
        return 100.0 + crest_m * np.maximum(1 - np.abs(east - at_m) / half_width_m, 0) + 0 * north

    return surface


def spire(top_m: float, *at_m: tuple[float, float]) -> Surface:
    """Return flat ground at 100 m with single posts that stand out of it."""

    def surface(east: Floats, north: Floats) -> Floats:
        found = 100.0 + 0.0 * east
        for e, n in at_m:
            found = np.where(
                (np.abs(east - e) < 0.1) & (np.abs(north - n) < 0.1), 100 + top_m, found
            )
        return found

    return surface


# ------------------------------------------------------------ the acceptance: never better


def stated(route: Route, **one: str) -> Route:
    """Return the route flown in one way of each kind."""
    return dataclasses.replace(
        route,
        turns=dataclasses.replace(
            route.turns, kind=one["kind"], corner_height=one["corner_height"]
        ),
        climb=dataclasses.replace(
            route.climb, model=one["model"], too_steep=one["too_steep"], out=one["out"]
        ),
        way_home=dataclasses.replace(route.way_home, path=one["path"]),
    )


def assert_no_better(unstated: Assessment, one: Assessment, name: str) -> None:
    """Check each leg: its extremes to the centimetre that they are known to, and its state.

    Margins are not compared, nor a state that hangs on them: they depend on how long
    the aircraft has been under way, which is counted along each route's own reference.
    """
    for all_ways, one_way in zip(unstated.legs, one.legs, strict=True):
        where = f"leg {all_ways.leg}, {name}"
        for key, sign in (("above_ground_min", 1), ("above_ground_max", -1),
                          ("clearance_min", 1), ("clearance_max", -1)):  # fmt: skip
            worst, found = getattr(all_ways, key), getattr(one_way, key)
            if found is not None:
                assert worst is not None, where
                assert sign * worst.nominal_m <= sign * found.nominal_m + CENTIMETRE, (where, key)
        if not hangs_on_margins(one_way, one.rules):
            ranks = [SEVERITY.index(leg.state) for leg in (all_ways, one_way)]
            assert ranks[0] >= ranks[1], where


def hangs_on_margins(leg: LegRow, rules: Rules) -> bool:
    """Return whether an extreme with margins lies so near a limit that 2 m more might tell.

    Or, if the leg is a breach, an extreme as computed, by 2 cm.
    """
    key, near_m = ("assured_m", 2.0) if leg.state is not State.BREACH else ("nominal_m", 0.02)
    extremes = (leg.above_ground_min, leg.above_ground_max, leg.clearance_min, leg.clearance_max)
    values = [getattr(extreme, key) for extreme in extremes if extreme is not None]
    limits = (0.0, rules.floor_m, rules.ceiling_m)
    return any(abs(value - limit) < near_m for value in values for limit in limits)


def route_of(points: Points, ahead_m: float, up_m_per_s: float, **more: Any) -> Route:
    """Return a route of which only the width of turns and the rate of climb are stated."""
    return scenes.route(
        points, start=(-75.0, -40.0), after="launch",
        turns=Turns(turn_anticipation_m=ahead_m),
        climb=Climb(up_m_per_s=up_m_per_s, take_off_height_m=15.0),
        way_home=WayHome(height_m=90.0), **more,
    )  # fmt: skip


CORNERED_AND_STEEP = [(-60.0, 0.0, 40.0), (-20.0, 0.0, 95.0), (20.0, 0.0, 95.0), (20.0, 40.0, 40.0)]


def test_no_way_to_fly_the_legs_is_worse_than_all_unstated() -> None:
    """Every kind of turn with every climb; corner heights and too steep legs by turns."""
    rules = scenes.rules(floor_m=10.0, ceiling_m=110.0)
    route = dataclasses.replace(
        route_of(CORNERED_AND_STEEP, 15.0, 1.5), after_last=AfterLast(go_to="here", then="wait")
    )
    with written(rough(5)) as ground:
        unstated = check(route, ground=ground, rules=rules, canopy_m=0.0)
        for (i, kind), (k, model) in itertools.product(enumerate(KINDS), enumerate(MODELS)):
            ways = {
                "kind": kind, "corner_height": CORNERS[k % 2], "model": model,
                "too_steep": TOO_STEEP[(i + k // 2) % 2],
            }  # fmt: skip
            one = stated(route, **ways, out="vertical", path="level")
            found = check(one, ground=ground, rules=rules, canopy_m=0.0)
            assert_no_better(unstated, found, "/".join(ways.values()))


PLACE = st.integers(-6, 6).map(lambda n: 10.0 * n)
POINTS = st.lists(
    st.tuples(PLACE, PLACE, st.sampled_from([30.0, 45.0, 60.0, 95.0])), min_size=2, max_size=4
)
COMBINATION = st.fixed_dictionaries(
    {
        "kind": st.sampled_from(KINDS),
        "corner_height": st.sampled_from(CORNERS),
        "model": st.sampled_from(MODELS),
        "too_steep": st.sampled_from(TOO_STEEP),
        "out": st.sampled_from(OUT),
        "path": st.sampled_from(HOME),
    }
)


@settings(max_examples=4, deadline=None, phases=(Phase.explicit, Phase.reuse, Phase.generate))
@given(
    st.integers(0, 2**32 - 1),
    POINTS,
    st.lists(COMBINATION, min_size=2, max_size=2),
    st.tuples(st.sampled_from([4.0, 12.0, 30.0]), st.sampled_from([0.8, 2.0, 10.0])),
    st.sampled_from(["vertical", "closest-point"]),
)
def test_unstated_is_never_better_than_stated(
    seed: int,
    points: Points,
    combinations: list[dict[str, str]],
    widths: tuple[float, float],
    measure: str,
) -> None:
    """Over any ground, with any one way of each kind stated, out and home included."""
    rules = scenes.rules(floor_m=12.0, ceiling_m=100.0, ceiling_measure=measure)
    route = route_of(points, *widths)
    with written(rough(seed)) as ground:
        unstated = check(route, ground=ground, rules=rules, canopy_m=0.0)
        for one in combinations:
            found = check(stated(route, **one), ground=ground, rules=rules, canopy_m=0.0)
            assert_no_better(unstated, found, "/".join(one.values()))


# ------------------------------------------------------------ climbs
# 200 m from 40 up to 100 m at 10 m/s and 4 m/s, over a ridge of 20 m after 50 m.


def over_a_ridge(folder: Path, climb: Climb) -> Assessment:
    """Fly over the ridge; a floor of 30 m."""
    ground = scenes.model(folder, ridge(20.0, 50.0, 50.0), cell_m=10.0,
                          box_m=(-250.0, -250.0, 450.0, 250.0))  # fmt: skip
    points = [(0.0, 0.0, 40.0), (200.0, 0.0, 100.0)]
    return scenes.fly(ground, points, STRAIGHT_DOWN, climb=climb, speed_m_per_s=10.0)


@pytest.mark.parametrize(
    ("model", "least_m"),
    [
        ("linear", 55.0 - 20.0),
        ("late", 40.0 - 20.0),  # level for the first 50 m
        ("early", 40.0),  # climbs as fast as the ridge: lowest where it starts
        ("unstated", 40.0 - 20.0),
    ],
)
def test_a_late_climb_over_a_ridge(tmp_path: Path, model: str, least_m: float) -> None:
    """35 m above it if the climb is linear, 20 if late; unstated that is what counts."""
    climb = Climb(model=model, too_steep="slows", out="vertical")
    leg = over_a_ridge(tmp_path, climb).legs[1]
    assert lowest(leg).nominal_m == pytest.approx(least_m, abs=1e-3)
    assert (leg.state is State.BREACH) is (least_m < 30.0)


def test_the_late_climb_is_named(tmp_path: Path) -> None:
    """In the leg's worst metre and in the finding, which lies where the ridge is."""
    found = over_a_ridge(tmp_path, NOTHING_STATED)
    assert lowest(found.legs[1]).curve == "stop/mid-arc/late/vertical/here"
    breaches = [f for f in scenes.of_kind(found, "floor", leg=1) if f.state is State.BREACH]
    assert len(breaches) == 1
    assert breaches[0].curve == "stop/mid-arc/late/vertical/here"
    assert place(breaches[0]) == pytest.approx((50.0, 0.0), abs=0.01)
    assert breaches[0].worst_m == pytest.approx(20.0, abs=1e-3)
    # By hand: late is at 40, 20 m above, where 20 (1 - |x - 50| / 50) is over 10: 25 to 62.5;
    # from 50 on it climbs by 0.4: 40 + 0.4 (x - 50) - 20 + 0.4 (x - 50) < 30 to 62.5.
    along = [found.legs[1].from_m + math.hypot(x, 0.3 * x) for x in (25.0, 62.5)]
    assert (breaches[0].from_m, breaches[0].to_m) == pytest.approx(along, abs=0.1)


def level_then_up(folder: Path, heights: list[float], climb: Climb) -> Assessment:
    """Fly on one line, waypoints 100 m apart, over flat ground."""
    ground = scenes.model(folder, lambda e, n: 100.0 + 0 * e, cell_m=10.0,
                          box_m=(-250.0, -250.0, 650.0, 250.0))  # fmt: skip
    points = [(100.0 * k, 0.0, height) for k, height in enumerate(heights)]
    return scenes.fly(ground, points, STRAIGHT_DOWN, turns="fly-by", climb=climb)


def test_a_smooth_climb_dips_first(tmp_path: Path) -> None:
    """35, 35, 35 and 135 m: flown linearly 35 m over ground, smoothly 27.593 before the climb.

    The uniform cubic dips by 4/27 of half the step (E. Catmull and R. Rom, 1974).
    """
    heights = [35.0, 35.0, 35.0, 115.0]
    linear = level_then_up(tmp_path, heights, LINEAR)
    assert lowest(linear.legs[2]).nominal_m == pytest.approx(35.0, abs=1e-6)
    assert linear.legs[2].state is State.TIGHT
    found = level_then_up(tmp_path, heights, NOTHING_STATED)
    least = lowest(found.legs[2])
    assert least.nominal_m == pytest.approx(35.0 - 80 * 2 / 27, abs=1e-3)
    assert least.curve == "fly-by/mid-arc/smooth/vertical/here"
    assert place(least) == pytest.approx((100 * 5 / 3, 0.0), abs=0.05)
    assert found.legs[2].state is State.BREACH


def test_a_smooth_descent_rises_first(tmp_path: Path) -> None:
    """115, 115, 115 and 35 m rise by 5.926 m to 120.926: over a ceiling of 120."""
    found = level_then_up(tmp_path, [115.0, 115.0, 115.0, 35.0], NOTHING_STATED)
    most = highest(found.legs[2])
    assert most.nominal_m == pytest.approx(115.0 + 80 * 2 / 27, abs=1e-3)
    assert most.curve == "fly-by/mid-arc/smooth/vertical/here"
    (breach,) = [f for f in scenes.of_kind(found, "ceiling", leg=2) if f.state is State.BREACH]
    assert breach.curve == most.curve
    assert found.legs[1].state is not State.BREACH


# 100 m at 10 m/s, 40 m up at 3 m/s: 30 m are reached, 10 m low over the waypoint.


@pytest.mark.parametrize(
    ("too_steep", "over_m"), [("slows", 45.0), ("falls-short", 35.0), ("unstated", 35.0)]
)
@pytest.mark.parametrize("turns", ["fly-by", "stop"])
def test_a_leg_too_steep_before_a_ridge(
    tmp_path: Path, too_steep: str, over_m: float, turns: str
) -> None:
    """A ridge of 55 m at the waypoint typed 100: 45 m over it, or 35 if it arrives low."""
    ground = scenes.model(tmp_path, ridge(55.0, 100.0, 10.0), cell_m=10.0,
                          box_m=(-250.0, -250.0, 650.0, 250.0))  # fmt: skip
    found = scenes.fly(
        ground, [(0.0, 0.0, 60.0), (100.0, 0.0, 100.0), (400.0, 0.0, 100.0)],
        scenes.rules(floor_m=40.0, floor_measure="vertical"), speed_m_per_s=10.0, turns=turns,
        climb=Climb(model="linear", too_steep=too_steep, up_m_per_s=3.0, out="vertical"),
    )  # fmt: skip
    least = lowest(found.legs[1])
    assert least.nominal_m == pytest.approx(over_m, abs=1e-3)
    assert place(least) == pytest.approx((100.0, 0.0), abs=0.01)
    assert (found.legs[1].state is State.BREACH) is (over_m < 40.0)
    assert least.curve.split("/")[2] == ("linear" if over_m == 45.0 else "linear-short")


@pytest.mark.parametrize(("turns", "less_m"), [("fly-by", 10.0), ("stop", 0.0), ("unstated", 10.0)])
def test_a_shortfall_behind_the_waypoint(tmp_path: Path, turns: str, less_m: float) -> None:
    """Passed, it is made good behind it; at a stop, there. 50 m on, level at 90: 5 m low."""
    ground = scenes.model(tmp_path, ridge(40.0, 150.0, 10.0), cell_m=10.0,
                          box_m=(-250.0, -250.0, 650.0, 250.0))  # fmt: skip
    found = scenes.fly(
        ground, [(0.0, 0.0, 50.0), (100.0, 0.0, 90.0), (200.0, 0.0, 90.0)], STRAIGHT_DOWN,
        speed_m_per_s=10.0, turns=turns,
        climb=Climb(model="linear", too_steep="falls-short", up_m_per_s=3.0, out="vertical"),
    )  # fmt: skip
    # 10 m are missing at the waypoint, and made good over the 100 m behind it.
    expected = 90.0 - less_m / 2 - 40.0
    assert lowest(found.legs[2]).nominal_m == pytest.approx(expected, abs=1e-3)


def test_a_descent_too_steep_is_too_high_behind_a_waypoint(tmp_path: Path) -> None:
    """40 m down in 100 m at 3 m/s: 10 m too high over the waypoint, and over the ceiling."""
    ground = scenes.model(tmp_path, lambda e, n: 100.0 - 0.4 * np.clip(e, 0, 100) + 0 * n,
                          cell_m=10.0, box_m=(-250.0, -250.0, 650.0, 250.0))  # fmt: skip
    high = {}
    for too_steep in ("slows", "unstated"):
        found = scenes.fly(
            ground, [(0.0, 0.0, 112.0), (100.0, 0.0, 72.0), (400.0, 0.0, 72.0)], STRAIGHT_DOWN,
            speed_m_per_s=10.0, turns="fly-by",
            climb=Climb(model="linear", too_steep=too_steep, down_m_per_s=3.0, out="vertical"),
        )  # fmt: skip
        high[too_steep] = highest(found.legs[1]).nominal_m
        assert (found.legs[1].state is State.BREACH) is (too_steep == "unstated")
    assert high == pytest.approx({"slows": 112.0, "unstated": 122.0}, abs=1e-3)


# ------------------------------------------------------------ turns
# East to a corner at the spot, then north; the turn begins 20 m before it: r = 20, the arc
# passes 8.284 m inside, the chord from tangent point to tangent point 14.142 m.

AHEAD = {"turn_anticipation_m": 20.0}
RIGHT_ANGLE = [(-100.0, 0.0, 50.0), (0.0, 0.0, 50.0), (0.0, 100.0, 50.0)]
SMALL_BOX = (-170.0, -70.0, 70.0, 170.0)
HALF_WAY = (-8.0, 8.0)  # 11.3 m from the corner: between arc and chord, 3 m from either


def at_the_corner(folder: Path, surface: Surface, kind: str, **more: Any) -> Assessment:
    """Fly round the corner."""
    ground = scenes.model(folder, surface, cell_m=1.0, box_m=SMALL_BOX)
    turns = Turns(kind=kind, corner_height="mid-arc", **AHEAD)
    how = {"start": (-100.0, 0.0), "climb": LINEAR, **more}
    return scenes.fly(ground, RIGHT_ANGLE, STRAIGHT_DOWN, turns=turns, **how)


@pytest.mark.parametrize("kind", KINDS)
def test_a_spire_inside_the_corner_is_missed_by_every_turn(tmp_path: Path, kind: str) -> None:
    """By the arc, by the waypoint and by all that may be stated, as heights count straight down."""
    found = at_the_corner(tmp_path, spire(45.0, HALF_WAY), kind)
    assert min(lowest(leg).nominal_m for leg in found.legs[1:3]) == pytest.approx(50.0, abs=1e-3)


def test_but_not_if_the_turn_is_not_stated(tmp_path: Path) -> None:
    """Then the corner may be cut anywhere, and the spire counts, named by that."""
    found = at_the_corner(tmp_path, spire(45.0, HALF_WAY), "unstated")
    worst = min((lowest(leg) for leg in found.legs[1:3]), key=lambda e: e.nominal_m)
    # Lines lie half a metre from any place at most: a quarter of the spire may be missed.
    assert 5.0 - 1e-3 <= worst.nominal_m <= 50.0 - 0.5 * 45.0
    assert worst.curve.startswith("cut-corner/")
    assert place(worst) == pytest.approx(HALF_WAY, abs=1.0)
    breach = next(f for f in scenes.of_kind(found, "floor") if f.state is State.BREACH)
    assert breach.curve.startswith("cut-corner/")
    assert place(breach) == pytest.approx(HALF_WAY, abs=1.0)


@pytest.mark.parametrize(
    ("at", "kinds"),
    [
        ((0.0, 0.0), ("stop", "fly-over", "smooth")),  # the waypoint, which is reached
        ((20.0, 20.0), ("fly-over",)),  # the outermost of the swing, r (1 - cos 90)
        ((-14.0, 0.0), ("stop", "fly-over")),  # on the leg, where the arc has left it
    ],
)
@pytest.mark.parametrize("kind", [*KINDS, "unstated"])
def test_a_spire_beside_the_reference(
    tmp_path: Path, at: tuple[float, float], kinds: tuple[str, ...], kind: str
) -> None:
    """Some kinds of turn fly over it, 5 m above its top; unstated, they count and are named."""
    found = at_the_corner(tmp_path, spire(45.0, at), kind)
    worst = min((lowest(leg) for leg in found.legs[1:3]), key=lambda e: e.nominal_m)
    hits = kind in kinds or kind == "unstated"
    if not hits:
        assert worst.nominal_m > 40.0
        return
    assert worst.nominal_m == pytest.approx(5.0, abs=1.0)
    assert math.dist(place(worst), at) < 0.1
    if kind == "unstated":
        assert worst.curve.split("/")[0] in kinds


def test_places_and_legs_beside_the_reference(tmp_path: Path) -> None:
    """A spire under the waypoint is found there, on either leg, at mid-arc of the reference.

    The reference flies 80 m, and 15.708 m to mid-arc, at 5 m/s.
    """
    found = at_the_corner(tmp_path, spire(45.0, (0.0, 0.0)), "unstated")
    breaches = [f for f in scenes.of_kind(found, "floor") if f.state is State.BREACH]
    assert {f.leg for f in breaches} == {1, 2}
    half_m = 80.0 + 5 * math.pi
    out_m, out_s = 50.0, 50.0 / 4  # straight up first, at 4 m/s
    for finding in breaches:
        assert math.dist(place(finding), (0.0, 0.0)) < 0.1
        assert finding.at_m == pytest.approx(out_m + half_m, abs=1.0)
        assert finding.time_s == pytest.approx(out_s + half_m / 5, abs=0.5)
        assert finding.from_m <= finding.at_m <= finding.to_m
        assert finding.to_m - finding.from_m < 3.0


def test_a_slope_inside_the_corner(tmp_path: Path) -> None:
    """Ground that rises inward by 0.6 is 8.284 * 0.6 = 4.97 m higher under mid-arc."""

    def slope(east: Floats, north: Floats) -> Floats:
        return np.maximum(100.0 + 0.6 * (north - east) / math.sqrt(2), 50.0)

    above = {}
    for kind in ("stop", "fly-by"):
        samples = at_the_corner(tmp_path, slope, kind, start=(0.0, 0.0)).samples
        second_leg = int(np.flatnonzero(samples.leg == 2)[0])
        above[kind] = samples.above_ground_m[second_leg]
    assert above["stop"] == pytest.approx(50.0, abs=1e-3)
    assert above["fly-by"] == pytest.approx(50.0 - 4.97, abs=0.005)


# ------------------------------------------------------------ heights not known


def test_a_smooth_climb_that_is_not_known_is_not_assessed(tmp_path: Path) -> None:
    """A waypoint over missing ground has no height: its legs are not assessed, in any way.

    The legs beside these are flown at known heights, but not if the climb is smooth:
    then their slope is not known, and unstated that counts.
    """
    posts = np.full((61, 61), 100.0)
    posts[30, 30] = np.nan
    ground = scenes.grid(tmp_path, posts, cell_m=10.0, corner_m=(-300.0, 300.0))
    points = [(60.0 * k, 0.0, 60.0) for k in range(-3, 4)]
    rules = scenes.rules(floor_m=5.0, floor_measure="vertical")
    states, beside = {}, list[Finding]()
    for model in ("linear", "smooth", "unstated"):
        found = scenes.fly(
            ground, points, rules, heights="ground", turns="fly-by",
            climb=Climb(model=model, too_steep="slows", out="vertical"),
        )  # fmt: skip
        states[model] = [leg.state is State.NOT_ASSESSED for leg in found.legs[1:7]]
        if model == "unstated":
            beside = [f for f in scenes.of_kind(found, "not-assessed") if f.leg in (2, 5)]
    assert states["linear"] == [False, False, True, True, False, False]
    assert states["smooth"] == [False, True, True, True, True, False]
    assert states["unstated"] == states["smooth"]
    assert beside
    assert {f.curve.split("/")[2] for f in beside} == {"smooth"}

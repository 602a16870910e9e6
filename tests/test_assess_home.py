"""Coming home from every metre, sight and link, through the whole check: closed forms.

A ridge runs north, its crest 80 m up and 300 m east of the launch, its flanks 100 m wide. Over
it flies an aircraft at 150 m, and comes down to 50 m behind it, 600 m out::

    150 m  ┌───────────────────────────┐
           │            ╱╲ 80          │ 50 m
    launch │___________╱  ╲____________●
           0          300             600
"""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path
from typing import Any

import jsonschema
import numpy as np
import pytest

from terrain_guard.assess import check
from terrain_guard.assessment import Assessment, ComingHome, LossAction, WayHome
from terrain_guard.errors import RefusedRules
from terrain_guard.plan.route import Aircraft, LinkLoss, Place, Route
from terrain_guard.plan.route import WayHome as HomeSet
from terrain_guard.plan.rules import Rules
from terrain_guard.report import assessment_json, tables_csv
from terrain_guard.states import State
from tests.checks import scenes

COMES_HOME = True
BOX_M = (-150.0, -150.0, 800.0, 150.0)
OVER = [(0.0, 0.0, 150.0), (600.0, 0.0, 150.0), (600.0, 0.0, 50.0)]
MARGIN_M = scenes.FLOOR_MARGIN_M[1.0]
CREST_M, CREST_EAST_M, EYE_M = 80.0, 300.0, 1.7
EARTH_M = 6_371_000.0
HIGH = scenes.rules(floor_m=30.0, ceiling_m=2000.0)


def ridge(east: scenes.Floats, north: scenes.Floats) -> scenes.Floats:
    """Return the ridge."""
    return np.fmax(0.0, CREST_M * (1 - np.abs(east - CREST_EAST_M) / 100.0)) + 0 * north


def level(east: scenes.Floats, north: scenes.Floats) -> scenes.Floats:
    """Return level ground."""
    return 0.0 * east + 0.0 * north


@pytest.fixture(scope="module")
def behind(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """Return the model of the ridge, 1 m cells."""
    return scenes.model(tmp_path_factory.mktemp("ridge"), ridge, box_m=BOX_M)


def flown(
    ground: Path,
    points: list[tuple[float, float, float]] | None = None,
    limits: Rules = HIGH,
    **how: Any,
) -> Assessment:
    """Check a route from a launch whose spot is exactly known."""
    changes = {name: how.pop(name) for name in ("pilot", "observers", "aircraft", "home")
               if name in how}  # fmt: skip
    launch = replace(scenes.launch(0.0, 0.0), spot_within_m=0.0)
    route: Route = scenes.route(OVER if points is None else points, start=launch, **how)
    return check(replace(route, **changes), ground=ground, canopy_m=0.0, rules=scenes.fixed(limits))


def came(found: Assessment) -> ComingHome:
    """Return what was found out about coming home."""
    assert found.coming_home is not None
    return found.coming_home


def way(found: Assessment, path: str, *, to: str = "launch") -> WayHome:
    """Return one way home."""
    return next(one for one in came(found).ways if (one.path, one.to) == (path, to))


def action(found: Assessment, go_to: str, then: str) -> LossAction:
    """Return one action after a lost link."""
    return next(one for one in came(found).actions if (one.go_to, one.then) == (go_to, then))


# ------------------------------------------------------------------------- the way home


@pytest.mark.parametrize("floor_m", [20.0, 30.0])
def test_the_height_needed_is_crest_and_floor(behind: Path, floor_m: float) -> None:
    """A ridge of 80 m asks for 100 m with a floor of 20 m; with margins for 7 m more."""
    limits = scenes.rules(floor_m=floor_m, ceiling_m=2000.0)
    height = came(flown(behind, limits=limits, way_home=HomeSet(path="level"))).height
    assert height.needed_m == pytest.approx(CREST_M + floor_m, abs=1.1e-3)
    assert height.needed_assured_m == pytest.approx(CREST_M + floor_m + MARGIN_M, abs=1.1e-3)
    assert height.needed_by is not None
    assert height.needed_by.far_m == pytest.approx(CREST_EAST_M, abs=0.01)


def test_level_home_into_the_ridge(behind: Path) -> None:
    """At 50 m it is 30 m inside the ridge; from 110 m down it is too low, from 117 m tight."""
    found = flown(behind, way_home=HomeSet(path="level"))
    one = way(found, "level")
    assert one.worst is not None
    assert one.worst.above_ground_m == pytest.approx(-30.0, abs=0.01)
    assert one.worst.room_m == pytest.approx(-60.0, abs=1.1e-3)
    assert one.worst.assured_room_m == pytest.approx(-60.0 - MARGIN_M, abs=1.1e-3)
    (failing,) = one.failing
    # 150 m up, 600 m over, 40 m down to 110 m.
    assert failing.from_m == pytest.approx(790.0, abs=1.01)
    assert failing.to_m == pytest.approx(850.0, abs=1e-3)
    assert one.shares.breach_m == pytest.approx(60.0, abs=1.01)
    assert one.shares.tight_m == pytest.approx(MARGIN_M, abs=1.01)


def test_climbing_first_clears_it(behind: Path) -> None:
    """Set to 118 m it comes home from everywhere, with margins."""
    found = flown(behind, way_home=HomeSet(path="climb-first", height_m=118.0))
    one = way(found, "climb-first")
    assert one.failing == ()
    assert one.shares.within_m == pytest.approx(found.length_m, abs=1e-6)


@pytest.mark.parametrize(("gradient", "passes"), [(0.40, False), (0.43, False), (0.4325, True)])
def test_climbing_on_the_way(behind: Path, gradient: float, passes: bool) -> None:
    """From 420 m at 50 m to 100 m over a floor of 20 m: in 3-D a gradient of 0.4315 is needed.

    Straight over the crest 0.41667 would do.
    """
    points = [(0.0, 0.0, 150.0), (420.0, 0.0, 150.0), (420.0, 0.0, 50.0)]
    limits = scenes.rules(floor_m=20.0, ceiling_m=2000.0)
    home = HomeSet(path="climb-on-the-way", height_m=100.001, gradient=gradient)
    found = flown(behind, points, limits, way_home=home)
    codes = came(found).every_metre.return_state
    assert (codes[-1] == 3) is not passes
    if not passes:
        needed = way(found, "climb-on-the-way").least_gradient
        assert needed == pytest.approx(0.4315, abs=1e-4)
    first = HomeSet(path="climb-first", height_m=100.001)
    assert came(flown(behind, points, limits, way_home=first)).every_metre.return_state[-1] < 3


def test_slanting_home(behind: Path) -> None:
    """From 600 m at 50 m it is 25 m up over the crest of 80 m: 55 m inside."""
    found = flown(behind, way_home=HomeSet(path="slanting"))
    worst = way(found, "slanting").worst
    assert worst is not None
    assert worst.above_ground_m == pytest.approx(-55.0, abs=0.5)
    assert came(found).every_metre.return_state[-1] == 3


def test_low_down_on_a_slant_half_the_height_will_do(tmp_path: Path) -> None:
    """Over level ground a ball of half the height hangs half the height above it.

    From 600 m out and 50 m up the line is 1.25 m up at the edge of the column, 15 m out.
    """
    ground = scenes.model(tmp_path, level, box_m=BOX_M)
    worst = way(flown(ground, way_home=HomeSet(path="slanting")), "slanting").worst
    assert worst is not None
    assert worst.begun_m == pytest.approx(850.0, abs=1e-3)
    assert worst.room_m == pytest.approx(15.0 * 50.0 / 600.0 / 2, abs=2e-3)


def test_over_level_ground_the_floor_is_needed(tmp_path: Path) -> None:
    """Nothing stands in the way but the ground itself: 30 m."""
    ground = scenes.model(tmp_path, level, box_m=BOX_M)
    height = came(flown(ground, way_home=HomeSet(path="level"))).height
    assert height.needed_m == pytest.approx(30.0, abs=1.1e-3)


def test_near_home_it_does_not_climb(tmp_path: Path) -> None:
    """A wall of 30 m, 25 m from home: from 45 m out at 20 m it is met though 100 m are set."""

    def wall(east: scenes.Floats, north: scenes.Floats) -> scenes.Floats:
        return np.where(np.abs(east - 25.0) < 3.0, 30.0, 0.0) + 0 * north

    ground = scenes.model(tmp_path, wall, box_m=(-60.0, -60.0, 150.0, 60.0))
    points = [(0.0, 0.0, 150.0), (45.0, 0.0, 150.0), (45.0, 0.0, 20.0)]
    limits = scenes.rules(floor_m=5.0, ceiling_m=2000.0)
    climbs = HomeSet(path="climb-first", height_m=100.0)
    codes = [
        int(came(flown(ground, points, limits, way_home=one)).every_metre.return_state[-1])
        for one in (climbs, replace(climbs, no_climb_within_m=50.0))
    ]
    assert codes[0] < 2
    assert codes[1] == 3


def test_wind_may_set_it_off_its_line(tmp_path: Path) -> None:
    """A block of 100 m stands 40 m beside the line: in reach of a floor of 30 m with 20 m drift."""

    def block(east: scenes.Floats, north: scenes.Floats) -> scenes.Floats:
        return 200.0 + np.where((np.abs(east - 300) < 20) & (north > 40.0), 100.0, 0.0)

    ground = scenes.model(tmp_path, block, box_m=BOX_M)
    home = HomeSet(path="level")
    heights = [
        came(flown(ground, way_home=one)).height.needed_m
        for one in (home, replace(home, drift_m=20.0))
    ]
    assert heights[0] == pytest.approx(30.0, abs=1.1e-3)
    assert heights[1] > 100.0


def test_no_height_keeps_both(tmp_path: Path) -> None:
    """A ridge of 130 m in a level valley: 160 m needed, 120 m allowed; the price is told."""

    def high(east: scenes.Floats, north: scenes.Floats) -> scenes.Floats:
        return ridge(east, north) * 130.0 / CREST_M

    ground = scenes.model(tmp_path, high, box_m=BOX_M)
    points = [(0.0, 0.0, 100.0), (600.0, 0.0, 100.0)]
    found = flown(ground, points, scenes.rules(30.0, 120.0), way_home=HomeSet(path="level"))
    height = came(found).height
    assert height.needed_m == pytest.approx(160.0, abs=2e-3)
    assert height.highest_m == pytest.approx(120.0, abs=1e-6)
    assert height.highest_assured_m == pytest.approx(115.0, abs=1e-6)
    assert not height.is_open
    assert height.above_ceiling_by_m == pytest.approx(167.0 - 115.0, abs=2e-3)
    # From the far side of the ridge, where its flank asks for more than 115 m less margin:
    assert 0 < height.below_floor_m < found.length_m


def test_a_higher_return_never_fails_the_floor_more(behind: Path) -> None:
    """The metres that pass never grow fewer with the height that is set."""
    passes = [
        way(flown(behind, way_home=HomeSet(path="climb-first", height_m=h)), "climb-first")
        .shares.passes_m
        for h in (40.0, 90.0, 105.0, 110.5, 130.0)
    ]  # fmt: skip
    assert passes == sorted(passes)
    assert passes[0] < passes[-1]


def test_home_may_be_elsewhere(behind: Path) -> None:
    """Behind the ridge nothing stands between: 30 m will do from there."""
    lat, lon = scenes.lat_lon(700.0, 0.0)
    points = [(0.0, 0.0, 150.0), (600.0, 0.0, 150.0), (600.0, 0.0, 50.0)]
    found = flown(
        behind, points, way_home=HomeSet(path="level"), home=Place(lat_deg=lat, lon_deg=lon)
    )
    assert {one.to for one in came(found).ways} == {"home"}
    assert came(found).every_metre.return_state[-1] < 3


def test_the_pilot_may_be_taken_for_home(behind: Path) -> None:
    """A pilot who stands elsewhere is a second place to come home to."""
    lat, lon = scenes.lat_lon(700.0, 0.0)
    found = flown(behind, way_home=HomeSet(path="level"), pilot=Place(lat_deg=lat, lon_deg=lon))
    assert {one.to for one in came(found).ways} == {"launch", "pilot"}
    # From the launch's side the ridge stands in that way up to 110 m, from behind it does not.
    assert way(found, "level", to="pilot").shares.breach_m == pytest.approx(110.0, abs=1.01)


def test_missing_ground_on_the_way_is_not_assessed(tmp_path: Path) -> None:
    """A hole behind the launch side of the ridge: not assessed from everywhere behind it."""

    def holed(east: scenes.Floats, north: scenes.Floats) -> scenes.Floats:
        return np.where((np.abs(east - 100.0) < 2) & (np.abs(north) < 2), np.nan, 0.0)

    ground = scenes.model(tmp_path, holed, box_m=BOX_M, nodata=np.nan)
    points = [(0.0, 60.0, 150.0), (600.0, 60.0, 150.0), (600.0, 0.0, 150.0)]
    found = flown(ground, points, way_home=HomeSet(path="level"))
    every = came(found).every_metre
    assert every.return_state[-1] == 2
    assert every.sight_state[-1] == 2
    assert np.isnan(every.return_needed_m[-1])
    assert np.isnan(came(found).height.needed_m)
    told = [f for f in found.findings if f.kind == "return" and f.state is State.NOT_ASSESSED]
    assert "get terrain for" in told[0].message
    # From beside the launch, over known ground alone, everything is known:
    assert every.return_state[10] == 0


# ---------------------------------------------------------------------------- sight


def test_hidden_behind_the_ridge(behind: Path) -> None:
    """Eye 1.7 m, crest 80 m at 300 m: at 600 m nothing below 158.30 m is seen."""
    (pilot,) = came(flown(behind)).watchers
    drop = 600.0**2 / (2 * EARTH_M)
    crest = CREST_M - EYE_M - CREST_EAST_M**2 / (2 * EARTH_M)
    grazing = EYE_M + 2 * crest + drop
    assert grazing == pytest.approx(158.30, abs=0.02)
    assert pilot.least_m == pytest.approx(50.0 - grazing, abs=1e-3)
    assert pilot.least_at_m == pytest.approx(850.0, abs=1e-3)
    assert pilot.hidden_far_m == pytest.approx(CREST_EAST_M, abs=0.01)
    (lost,) = pilot.lost
    # At 150 m it is lost where 1.7 + 78.3 x / 300 = 150.
    assert lost.from_m == pytest.approx(150.0 + 148.3 / crest * CREST_EAST_M, abs=1.1)
    assert lost.to_m == pytest.approx(850.0, abs=1e-3)
    assert lost.from_s < lost.to_s


def test_an_observer_sees_it(behind: Path) -> None:
    """Someone behind the ridge sees what the pilot does not."""
    lat, lon = scenes.lat_lon(600.0, 100.0)
    home = came(flown(behind, observers=(Place(lat_deg=lat, lon_deg=lon),)))
    assert [one.who for one in home.watchers] == ["pilot", "observer 1"]
    watcher = home.watchers[1]
    end = [span for span in watcher.lost if span.to_m > 600.0]
    assert end == []
    assert all(span.to_m < 800.0 for span in home.seen_by_nobody)


def test_better_places_to_stand(behind: Path) -> None:
    """No place within 100 m sees less of it than the pilot does."""
    home = came(flown(behind))
    hidden = home.watchers[0].shares.breach_m
    assert all(place.hidden_m < hidden for place in home.standing)


@pytest.mark.parametrize(
    ("aircraft", "limit_m"),
    [
        (Aircraft(seen_within_m=400.0), 400.0),
        (Aircraft(size_m=0.35), 134.45),  # EASA guideline: 327 x 0.35 + 20
        (Aircraft(size_m=1.0, kind="fixed-wing"), 520.0),  # 490 x 1 + 30
        (Aircraft(), None),
    ],
)
def test_too_far_off(tmp_path: Path, aircraft: Aircraft, limit_m: float | None) -> None:
    """Level ground, 150 m up: beyond the slant distance stated, or that follows from its size."""
    ground = scenes.model(tmp_path, level, box_m=BOX_M)
    (pilot,) = came(flown(ground, aircraft=aircraft)).watchers
    assert pilot.farthest_m == pytest.approx(np.hypot(600.0, 150.0 - EYE_M), abs=1e-3)
    assert pilot.limit_m == (None if limit_m is None else pytest.approx(limit_m))
    if limit_m is None:
        assert pilot.beyond == ()
        return
    up = 150.0 - EYE_M
    out = np.sqrt(limit_m**2 - up**2) if limit_m > up else 0.0
    begins = 150.0 + out if limit_m > up else limit_m + EYE_M
    assert pilot.beyond[0].from_m == pytest.approx(begins, abs=1.1)


def test_sight_enters_the_verdict_only_where_it_is_required(behind: Path) -> None:
    """The same flight, with rules that require sight and rules that do not."""
    free = flown(behind, way_home=HomeSet(path="level"))
    assert free.verdict is State.WITHIN
    assert [f.counts for f in free.findings if f.kind == "sight"] == [False]
    asked = replace(HIGH, require=("sight",))
    found = flown(behind, limits=asked, way_home=HomeSet(path="level"))
    assert found.verdict is State.BREACH


def test_what_is_not_looked_at_cannot_be_required(behind: Path) -> None:
    """Camera and energy are refused, in one sentence."""
    with pytest.raises(RefusedRules, match=r"require camera, which is not checked"):
        flown(behind, limits=replace(HIGH, require=("camera",)))


# ------------------------------------------------------------------------- the lost link

BACK = LinkLoss(after_s=0.0, go_to="launch", then="land")


def test_the_link_is_lost_where_the_way_home_is_blocked(behind: Path) -> None:
    """Behind the ridge, on the way down: both at once, and it enters the verdict."""
    found = flown(behind, link_loss=BACK, way_home=HomeSet(path="level"))
    assert found.verdict is State.BREACH
    (both,) = [f for f in found.findings if f.kind == "link-loss-blocked"]
    assert both.counts
    assert both.to_m == pytest.approx(850.0, abs=1e-3)
    assert both.message.startswith("the ground")
    assert "hides it from the pilot and takes the link here" in both.message
    assert "30.0 m below its top" in both.message
    assert "climb to 117.0 m first" in both.message
    set_one = action(found, "launch", "land")
    assert set_one.is_set
    assert set_one.with_link_lost == set_one.failing


def test_a_height_that_clears_the_ridge_passes(behind: Path) -> None:
    """The same lost link, climbing to 118 m first: nothing fails."""
    home = HomeSet(path="climb-first", height_m=118.0)
    found = flown(behind, link_loss=BACK, way_home=home)
    assert found.verdict is State.WITHIN
    assert action(found, "launch", "land").failing == ()


def test_an_action_that_is_not_set_is_only_told(behind: Path) -> None:
    """Nothing is stated: all four are looked at, none enters the verdict."""
    found = flown(behind, way_home=HomeSet(path="level"))
    assert found.verdict is State.WITHIN
    assert len(came(found).actions) == 4
    assert not any(one.is_set for one in came(found).actions)
    assert not [f for f in found.findings if f.kind.startswith("link-loss")]


@pytest.mark.parametrize(("slope", "state"), [(0.0, State.TIGHT), (0.3, State.BREACH)])
def test_landing_where_it_is(tmp_path: Path, slope: float, state: State) -> None:
    """On level ground tight at best, on 30 % (16.7 degrees) a breach."""

    def ramp(east: scenes.Floats, north: scenes.Floats) -> scenes.Floats:
        return slope * np.fmax(east - 100.0, 0.0) + 0 * north

    ground = scenes.model(tmp_path, ramp, box_m=BOX_M)
    points = [(0.0, 0.0, 250.0), (400.0, 0.0, 250.0)]
    loss = LinkLoss(after_s=0.0, go_to="here", then="land")
    found = flown(ground, points, link_loss=loss)
    assert found.verdict is state


def test_flying_on(behind: Path) -> None:
    """A flight within flies on within; one that breaks its floor at the end fails from all over."""
    loss = LinkLoss(after_s=0.0, go_to="onward")
    good = flown(behind, link_loss=loss, way_home=HomeSet(path="level"))
    assert action(good, "onward", "land").failing == ()
    low = [(0.0, 0.0, 150.0), (600.0, 0.0, 150.0), (600.0, 0.0, 10.0)]
    bad = flown(behind, low, link_loss=loss, way_home=HomeSet(path="level"))
    (failing,) = action(bad, "onward", "land").failing
    assert failing.from_m == 0.0


# --------------------------------------------------------------------------------- files


def test_json_and_csv(behind: Path) -> None:
    """The schema holds; each leg and each metre has its numbers."""
    found = flown(behind, link_loss=BACK, way_home=HomeSet(path="level"))
    written = assessment_json.as_dict(found)
    jsonschema.Draft202012Validator(assessment_json.schema()).validate(written)
    home = written["coming_home"]
    assert home["return_height"]["needed_m"] == pytest.approx(110.0, abs=2e-3)
    down, stays = written["legs"][-2:]
    assert down["return"]["needed_m"] == pytest.approx(110.0 + MARGIN_M, abs=2e-3)
    assert stays["sight"]["least_m"] == pytest.approx(50.0 - 158.33, abs=0.05)
    header, *rows = tables_csv.every_metre(found).splitlines()
    assert header.endswith(
        "state,return_needed_m,return_state,sight_margin_m,sight_state,link_radii,link_state"
    )
    assert rows[-1].split(",")[10] == "breach"
    assert "return_needed_m" in tables_csv.legs(found).splitlines()[0]


def test_without_launch_ground_nothing_is_said(tmp_path: Path) -> None:
    """Not known stays not known: null, empty cells, and it says so beside the verdict."""

    def holed(east: scenes.Floats, north: scenes.Floats) -> scenes.Floats:
        return np.where(np.hypot(east, north) < 5, np.nan, 0.0)

    ground = scenes.model(tmp_path, holed, box_m=BOX_M, nodata=np.nan)
    found = flown(ground, [(0.0, 0.0, 60.0), (300.0, 0.0, 60.0)])
    assert found.coming_home is None
    written = assessment_json.as_dict(found)
    jsonschema.Draft202012Validator(assessment_json.schema()).validate(written)
    assert written["beside_verdict"].startswith("WAY HOME, SIGHT AND LINK NOT CHECKED")


def test_a_closest_point_ceiling_is_held_straight_down(tmp_path: Path) -> None:
    """130 m over a step of the ground, near enough to its edge: not assessed, never a breach."""

    def step(east: scenes.Floats, north: scenes.Floats) -> scenes.Floats:
        return 200.0 + np.where(east > 300.0, -40.0, 0.0) + 0 * north

    ground = scenes.model(tmp_path, step, box_m=BOX_M)
    limits = scenes.rules(30.0, 120.0, ceiling_measure="closest-point")
    points = [(0.0, 0.0, 90.0), (310.0, 0.0, 90.0)]
    found = flown(ground, points, limits, way_home=HomeSet(path="level"))
    assert came(found).every_metre.return_state[-1] == 2
    said = [f.message for f in found.findings if f.kind == "return"]
    assert "10.0 m above the ceiling straight down" in said[0]
    assert "get terrain" not in said[0]

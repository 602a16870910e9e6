"""What holds the floor, what is tight, and what is asked near take-off and landing.

The rules are the program's own contract: with margins means the clearance of the
aircraft moved down by its margin; on the climb-out and on a slanting way home half
the height above launch will do; within 15 m of the spot, and of what the spot may
be off, nothing may stand above a 1:1 cone. Expected values are plane geometry.
"""

from __future__ import annotations

import math
from pathlib import Path

import numpy as np
import pytest

from terrain_guard.assess import check
from terrain_guard.assessment import Assessment
from terrain_guard.plan.route import AfterLast, WayHome
from terrain_guard.states import State
from tests.checks import scenes
from tests.checks.scenes import Floats, Surface
from tests.checks.survey_by_hand import weight

CENTIMETRE = 0.01
BOX = (-120.0, -120.0, 320.0, 120.0)


def flat(folder: Path, level_m: float = 100.0) -> Path:
    """Write flat ground."""
    return scenes.model(folder, lambda e, n: level_m + 0 * e, box_m=BOX)


def rising(gradient: float, from_m: float = 0.0) -> Surface:
    """Return ground that is flat to `from_m` east, then rises eastward."""
    return lambda east, north: 400.0 + gradient * np.maximum(east - from_m, 0.0) + 0.0 * north


def leaning(gradient: float) -> Surface:
    """Return a plane that rises eastward."""
    return lambda east, north: 200.0 + gradient * east + 0.0 * north


def leg_state(ground: Path, height_m: float) -> State:
    """Return the state of a level leg 40 m north."""
    return scenes.fly(ground, [(0, 0, height_m), (0, 40, height_m)], scenes.rules()).legs[1].state


# ------------------------------------------------------------ states of the floor


@pytest.mark.parametrize(
    ("height_m", "state"),
    [
        (29.999, State.BREACH),
        (30.0, State.TIGHT),  # exactly at the limit holds
        (36.999, State.TIGHT),
        (37.0, State.WITHIN),
        (115.0, State.WITHIN),
        (115.001, State.TIGHT),
        (120.0, State.TIGHT),
        (120.001, State.BREACH),
    ],
)
def test_states_over_flat_ground(tmp_path: Path, height_m: float, state: State) -> None:
    """Floor 30 + 7 m, ceiling 120 - 5 m, both ends included."""
    assert leg_state(flat(tmp_path), height_m) is state


@pytest.mark.parametrize("slope_deg", [10.0, 30.0, 45.0])
def test_margin_moves_the_aircraft_down(tmp_path: Path, slope_deg: float) -> None:
    """Within from (A - 7) cos(slope) = 30 on, which is less than A cos(slope) - 7 = 30 asks."""
    lean = math.cos(math.radians(slope_deg))
    ground = scenes.model(
        tmp_path, lambda e, n: 400.0 + math.tan(math.radians(slope_deg)) * e + 0 * n, box_m=BOX
    )
    assert leg_state(ground, 30.0 / lean + 7.0 + 0.01) is State.WITHIN
    assert leg_state(ground, 30.0 / lean + 7.0 - 0.01) is State.TIGHT
    assert leg_state(ground, 30.0 / lean + 0.01) is State.TIGHT
    assert leg_state(ground, 30.0 / lean - 0.01) is State.BREACH


@pytest.mark.parametrize(("cell_m", "floor_m", "ceiling_m"), [(1.0, 7.0, 5.0), (10.0, 18.0, 7.0)])
def test_margins_that_the_rules_fix(
    tmp_path: Path, cell_m: float, floor_m: float, ceiling_m: float
) -> None:
    """They are taken as they are, whatever the cells, and it is said who fixed them."""
    ground = scenes.model(tmp_path, lambda e, n: 100.0 + 0 * e, box_m=BOX, cell_m=cell_m)
    limits = scenes.rules(fixed_floor_margin_m=floor_m, fixed_ceiling_margin_m=ceiling_m)
    found = scenes.fly(ground, [(0, 0, 60), (0, 40, 60)], limits)
    assert (found.floor_margin_m, found.ceiling_margin_m) == (floor_m, ceiling_m)
    assert found.margin_source == "fixed by the rules"
    least, most = found.legs[1].above_ground_min, found.legs[1].above_ground_max
    assert least is not None
    assert most is not None
    assert least.assured_m == pytest.approx(60.0 - floor_m, abs=1e-6)
    assert most.assured_m == pytest.approx(60.0 + ceiling_m, abs=1e-6)


def test_coarse_cells_prove_nothing(tmp_path: Path) -> None:
    """Over cells of 90 m and a slope of 15 % no margin is known: even 400 m up it is tight.

    Over one of 5 % the same flight is within.
    """
    states = {}
    for slope in (0.15, 0.05):
        ground = scenes.model(
            tmp_path, leaning(slope), cell_m=90.0,
            box_m=(-900.0, -900.0, 900.0, 900.0), name=f"{slope}.tif",
        )  # fmt: skip
        found = check(
            scenes.route([(0, 0, 400), (0, 100, 400)]), ground=ground, canopy_m=0.0,
            rules=scenes.rules(ceiling_m=2000.0),
        )  # fmt: skip
        states[slope] = found.legs[1].state
        for finding in scenes.of_kind(found, "floor", leg=1):
            assert finding.state is State.TIGHT
            assert "cells this coarse prove nothing" in finding.message
    assert states == {0.15: State.TIGHT, 0.05: State.WITHIN}


# ------------------------------------------------------------ underground


def test_typed_as_if_above_ground(tmp_path: Path) -> None:
    """Ground 400 m, from 100 m on rising 30 %; typed 100 m at 600 m east is 50 m underground.

    It goes under where 0.3 (x - 100) = 100: at 433.33 m.
    """
    ground = scenes.model(
        tmp_path, rising(0.3, 100.0), box_m=(-120.0, -120.0, 760.0, 120.0), cell_m=10.0
    )
    found = scenes.fly(ground, [(0, 0, 100), (600, 0, 100)], scenes.rules())
    assert found.verdict is State.BREACH
    leg = found.legs[1]
    assert leg.above_ground_min is not None
    assert leg.clearance_min is not None
    assert leg.above_ground_min.nominal_m == pytest.approx(-50.0, abs=1e-4)
    lean = math.cos(math.atan(0.3))
    assert leg.clearance_min.nominal_m == pytest.approx(-50.0 * lean, abs=CENTIMETRE)
    assert leg.clearance_min.assured_m == pytest.approx(-68.0 * lean, abs=CENTIMETRE)
    (under,) = scenes.of_kind(found, "underground", leg=1)
    assert under.state is State.BREACH
    assert under.from_m - leg.from_m == pytest.approx(1000 / 3 + 100, abs=CENTIMETRE)
    assert under.to_m == pytest.approx(leg.to_m, abs=1e-6)
    assert under.worst_m == pytest.approx(-50.0, abs=1e-4)
    assert "underground" in under.message
    (floor,) = [f for f in scenes.of_kind(found, "floor", leg=1) if f.state is State.BREACH]
    assert floor.worst_m == pytest.approx(-50.0 * lean, abs=CENTIMETRE)
    # Nearer than 30 m to the slope where (100 - 0.3 (x - 100)) cos < 30.
    assert floor.from_m - leg.from_m == pytest.approx(
        100 + (100 - 30 / lean) / 0.3, abs=2 * CENTIMETRE
    )


def test_underground_over_the_whole_leg_the_ceiling_does_not_matter(tmp_path: Path) -> None:
    """Below ground nothing is too high, by either measure."""
    ground = scenes.model(tmp_path, rising(1.0, 5.0), box_m=BOX)
    for measure in ("vertical", "closest-point"):
        found = scenes.fly(
            ground, [(50, 0, 20), (60, 0, 20)], scenes.rules(ceiling_measure=measure), start=(0, 0)
        )
        assert not scenes.of_kind(found, "ceiling", leg=1)
        assert scenes.of_kind(found, "underground", leg=1)


# ------------------------------------------------------------ eased near take-off


def slanting_out(folder: Path, gradient: float, height_m: float, away_m: float) -> Assessment:
    """Climb straight to a first point east over a rising plane."""
    ground = scenes.model(folder, rising(gradient, -1000.0), box_m=BOX)
    return scenes.fly(
        ground, [(away_m, 0, height_m), (away_m, 20, height_m)], scenes.rules(),
        start=(0, 0), climb="slanting",
    )  # fmt: skip


def test_half_the_height_above_launch_will_do(tmp_path: Path) -> None:
    """1 up in 2 over 1 in 5: 0.3 x cos = 0.2942 x is more than half of 0.5 x all the way."""
    found = slanting_out(tmp_path, 0.2, 90.0, 180.0)
    assert found.legs[0].state is State.WITHIN
    assert not [f for f in found.findings if f.leg == 0]


def test_less_than_half_is_a_breach_until_the_floor_holds(tmp_path: Path) -> None:
    """1 up in 2 over 3 in 10: clearance c x with c = 0.2 cos, less than half of 0.5 x.

    A breach from the column's edge at 15 m to where c x = 30; tight to where the
    aircraft 7 m lower has 30: (0.2 x - 7) cos = 30; within from there.
    """
    found = slanting_out(tmp_path, 0.3, 120.0, 240.0)
    lean, long = math.cos(math.atan(0.3)), math.hypot(1.0, 0.5)
    (breach,) = [f for f in scenes.of_kind(found, "floor", leg=0) if f.state is State.BREACH]
    (tight,) = [f for f in scenes.of_kind(found, "floor", leg=0) if f.state is State.TIGHT]
    assert breach.from_m == pytest.approx(15.0 * long, abs=CENTIMETRE)
    assert breach.to_m == pytest.approx(30.0 / (0.2 * lean) * long, abs=2 * CENTIMETRE)
    assert breach.worst_m == pytest.approx(0.2 * 15.0 * lean, abs=CENTIMETRE)
    assert tight.from_m == pytest.approx(breach.to_m, abs=2 * CENTIMETRE)
    assert tight.to_m == pytest.approx((30.0 / lean + 7.0) / 0.2 * long, abs=2 * CENTIMETRE)
    least = found.legs[0].clearance_min
    assert least is not None
    assert least.nominal_m == pytest.approx(0.2 * 15.0 * lean, abs=CENTIMETRE)


def test_the_climb_out_needs_no_floor_where_half_will_do(tmp_path: Path) -> None:
    """Up 20 m, over flat ground to a first point 20 m up: half is 10 m; the next leg breaks."""
    found = scenes.fly(flat(tmp_path), [(100, 0, 20), (200, 0, 20)], scenes.rules(), start=(0, 0))
    assert found.legs[0].state is State.WITHIN
    assert found.legs[1].state is State.BREACH


def test_the_ceiling_applies_throughout(tmp_path: Path) -> None:
    """On the climb-out and in its column too."""
    found = scenes.fly(flat(tmp_path), [(0, 0, 130), (0, 40, 130)], scenes.rules())
    (breach,) = [f for f in scenes.of_kind(found, "ceiling", leg=0) if f.state is State.BREACH]
    assert (breach.from_m, breach.to_m) == pytest.approx((120.0, 130.0), abs=CENTIMETRE)


# ------------------------------------------------------------ eased on a slanting way home


def coming_home(folder: Path, path: str, *, home_height_m: float | None = None) -> Assessment:
    """Come home over flat ground from a last point 100 m east and 20 m up."""
    return scenes.fly(
        flat(folder), [(0, 0, 50), (100, 0, 20)], scenes.rules(), after="launch",
        way_home=WayHome(path=path, height_m=home_height_m),
    )  # fmt: skip


def test_slanting_home_half_the_height_will_do(tmp_path: Path) -> None:
    """From 20 m up straight to the spot: the clearance is the height, twice its half."""
    found = coming_home(tmp_path, "slanting")
    assert found.legs[2].state is State.WITHIN


def test_level_home_it_will_not(tmp_path: Path) -> None:
    """20 m up over flat ground: a breach as far as the column, 85 m."""
    found = coming_home(tmp_path, "level")
    (breach,) = scenes.of_kind(found, "floor", leg=2)
    assert breach.state is State.BREACH
    assert breach.to_m - breach.from_m == pytest.approx(85.0, abs=CENTIMETRE)
    assert breach.curve.endswith("level")


def test_climbing_first_it_will_not(tmp_path: Path) -> None:
    """From 20 m straight up to 60 m: a breach over the first 10 m, tight over the next 7 m."""
    found = coming_home(tmp_path, "climb-first", home_height_m=60.0)
    start = found.legs[2].from_m
    (breach,) = [f for f in scenes.of_kind(found, "floor", leg=2) if f.state is State.BREACH]
    (tight,) = [f for f in scenes.of_kind(found, "floor", leg=2) if f.state is State.TIGHT]
    spans = np.array([(f.from_m - start, f.to_m - start) for f in (breach, tight)])
    assert spans == pytest.approx(np.array([(0.0, 10.0), (10.0, 17.0)]), abs=0.02)


def test_unstated_the_way_home_is_the_worst(tmp_path: Path) -> None:
    """With nothing stated it comes home level or slanting: level breaks the floor, named."""
    found = coming_home(tmp_path, "unstated")
    assert found.legs[2].state is State.BREACH
    (breach,) = [f for f in scenes.of_kind(found, "floor", leg=2) if f.state is State.BREACH]
    assert breach.curve.endswith("/level")


def test_waiting_at_the_end_there_is_no_column(tmp_path: Path) -> None:
    """Waiting 20 m above launch is not landing: the floor is asked for."""
    found = scenes.fly(
        flat(tmp_path), [(0, 0, 50), (100, 0, 20)], scenes.rules(),
        after=AfterLast(go_to="launch", then="wait"), way_home=WayHome(path="level"),
    )  # fmt: skip
    (breach,) = scenes.of_kind(found, "floor", leg=2)
    assert breach.to_m - breach.from_m == pytest.approx(100.0, abs=CENTIMETRE)


# ------------------------------------------------------------ the column


def walled(wall_from_m: float, steepness: float, level_m: float = 100.0) -> Surface:
    """Return flat ground between two walls that run north, `wall_from_m` east and west."""

    def surface(east: Floats, north: Floats) -> Floats:
        return level_m + steepness * np.maximum(np.abs(east) - wall_from_m, 0.0) + 0.0 * north

    return surface


def from_a_pit(folder: Path, surface: Surface, **stated: float) -> Assessment:
    """Take off straight up from the spot to 100 m, and leave northward."""
    ground = scenes.model(folder, surface, box_m=BOX)
    return scenes.fly(
        ground, [(0, 0, 100), (0, 40, 100)], scenes.rules(), start=scenes.launch(0, 0, **stated)
    )


def test_walls_above_the_cone_close_the_column(tmp_path: Path) -> None:
    """Walls 3 in 1 from 5 m on stand 3 (15 - 5) - 15 = 15 m above the cone at 15 m."""
    found = from_a_pit(tmp_path, walled(5.0, 3.0))
    (column,) = scenes.of_kind(found, "column")
    assert (column.leg, column.state) == (0, State.BREACH)
    assert (column.from_m, column.to_m) == pytest.approx((0.0, 100.0), abs=1e-6)
    assert "15.0 m" in column.message
    assert "launch" in column.message
    assert found.verdict is State.BREACH
    assert not scenes.of_kind(found, "floor", leg=0)


@pytest.mark.parametrize(
    ("wall_from_m", "steepness", "blocked"),
    [
        (0.0, math.tan(math.radians(44.0)), False),
        (0.0, math.tan(math.radians(46.0)), True),
        (0.0, 1.0, False),  # touching the cone is not standing above it
        (16.0, 100.0, False),  # a cliff beyond the radius
        (14.0, 100.0, True),
        (14.5, 2.0, False),  # steep, but lower than the cone as far as it counts
    ],
)
def test_what_closes_a_column(
    tmp_path: Path, wall_from_m: float, steepness: float, blocked: bool
) -> None:
    """Only ground within 15 m, and only what stands above 1:1."""
    found = from_a_pit(tmp_path, walled(wall_from_m, steepness))
    assert bool(scenes.of_kind(found, "column")) is blocked
    assert (found.legs[0].state is State.BREACH) is blocked


def test_a_post_on_the_rim_of_the_column(tmp_path: Path) -> None:
    """A lone spike at the radius, on the diagonal: 12 and 9 m off, 15 m away, 40 m high."""

    def spike(east: Floats, north: Floats) -> Floats:
        return 100.0 + np.where((east == -12) & (north == 9), 40.0, 0.0)

    (column,) = scenes.of_kind(from_a_pit(tmp_path, spike), "column")
    assert "25.0 m" in column.message  # 40 m - 15 m


@pytest.mark.parametrize(("within_m", "blocked"), [(0.0, False), (4.9, False), (6.1, True)])
def test_the_column_grows_with_the_doubt_about_the_spot(
    tmp_path: Path, within_m: float, blocked: bool
) -> None:
    """A cliff from 20 m on closes the column when the spot may be more than 5 m off.

    At 21 m, the first post on top, it stands 80 - 21 m above the cone.
    """
    found = from_a_pit(tmp_path, walled(20.0, 80.0), spot_within_m=within_m)
    assert bool(scenes.of_kind(found, "column")) is blocked


def test_gentle_slopes_leave_the_column_free(tmp_path: Path) -> None:
    """On a 1 in 3 slope the climb-out, which would break the floor, is within."""
    ground = scenes.model(tmp_path, rising(1 / 3, -100.0), box_m=BOX)
    found = scenes.fly(ground, [(0, 0, 80), (0, 40, 80)], scenes.rules())
    assert found.legs[0].state is State.WITHIN


def test_the_landing_column(tmp_path: Path) -> None:
    """It lands in a pit 100 m east of where it took off."""

    def pit(east: Floats, north: Floats) -> Floats:
        return 100.0 + np.clip(3.0 * (np.abs(east - 100.0) - 5.0), 0.0, 30.0) + 0.0 * north

    ground = scenes.model(tmp_path, pit, box_m=BOX)
    found = scenes.fly(
        ground, [(0, 0, 100), (0, 40, 100)], scenes.rules(), home=(100, 0), after="launch",
        way_home=WayHome(path="level"),
    )  # fmt: skip
    (column,) = scenes.of_kind(found, "column")
    assert column.leg == 2
    assert "landing spot" in column.message
    assert found.legs[0].state is State.WITHIN
    # It comes down from 100 m above the launch, which stands 30 m above the pit.
    assert column.to_m == pytest.approx(found.length_m, abs=1e-6)
    assert column.to_m - column.from_m == pytest.approx(15.0 + 130.0, abs=CENTIMETRE)


def test_landing_at_the_last_waypoint(tmp_path: Path) -> None:
    """It lands where it is: straight down in a column of its own."""
    found = scenes.fly(
        flat(tmp_path), [(0, 0, 60), (100, 0, 60)], scenes.rules(),
        after=AfterLast(go_to="here", then="land"),
    )  # fmt: skip
    assert found.verdict is State.WITHIN
    assert found.legs[2].length_m == pytest.approx(60.0, abs=1e-6)


def test_other_legs_have_no_column(tmp_path: Path) -> None:
    """A leg that passes over the launch spot 25 m up breaks the floor all along."""
    found = scenes.fly(flat(tmp_path), [(-60, 0, 25), (60, 0, 25)], scenes.rules(), start=(0, 0))
    (breach,) = scenes.of_kind(found, "floor", leg=1)
    assert breach.to_m - breach.from_m == pytest.approx(120.0, abs=1e-6)


def test_contact_in_the_column_is_a_breach(tmp_path: Path) -> None:
    """Ground rising 9 in 10 from 5 m on is under the cone; a climb of 1 in 2 runs into it.

    0.9 (x - 5) = 0.5 x at 11.25 m: underground from there, within the column.
    """
    ground = scenes.model(tmp_path, rising(0.9, 5.0), box_m=BOX)
    found = scenes.fly(
        ground, [(100, 0, 50), (100, 20, 50)], scenes.rules(), start=(0, 0), climb="slanting"
    )
    assert not scenes.of_kind(found, "column")
    (under,) = scenes.of_kind(found, "underground", leg=0)
    assert under.from_m == pytest.approx(11.25 * math.hypot(1.0, 0.5), abs=CENTIMETRE)


def test_a_stated_launch_below_the_model_is_not_underground(tmp_path: Path) -> None:
    """Surveyed 9.9 m lower, to a millimetre: standing there is no contact; beyond, it is.

    What is left of it there is 2.1 m, and 2.7 m where the column ends, over 1.35 m flown.
    """
    start = scenes.launch(0, 0, elevation_m=90.1, elevation_accuracy_m=0.001)
    found = scenes.fly(flat(tmp_path), [(0, 0, 64), (0, 40, 64)], scenes.rules(), start=start)
    assert found.legs[0].state is State.WITHIN
    assert found.samples.above_ground_m[0] == pytest.approx(
        -9.9 * float(weight(0.0, 0.001)), abs=1e-6
    )
    low = scenes.fly(
        flat(tmp_path), [(100, 0, 9), (120, 0, 9)], scenes.rules(), start=start, climb="slanting"
    )
    (under,) = scenes.of_kind(low, "underground", leg=0)
    assert under.from_m == pytest.approx(math.hypot(15.0, 1.35), abs=CENTIMETRE)

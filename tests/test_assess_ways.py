"""What the pilot has not stated: every way out, round and home, the worst of them named.

Spurs and ridges are triangular, posts 10 m apart, heights counted straight down
unless told otherwise, so the expected values are plain differences.
"""

from __future__ import annotations

import math
from pathlib import Path

import numpy as np
import pytest

from terrain_guard.assess import check
from terrain_guard.assessment import Assessment, Extreme, LegRow
from terrain_guard.plan.route import AfterLast, Climb, WayHome
from terrain_guard.states import State
from tests.checks import scenes
from tests.checks.scenes import Floats, Surface
from tests.checks.survey_by_hand import TENS, weight

CENTIMETRE = 0.01
BOX = (-250.0, -250.0, 850.0, 250.0)
STRAIGHT_DOWN = scenes.rules(floor_m=20.0, floor_measure="vertical")


def spur(crest_m: float, at_m: float, half_width_m: float) -> Surface:
    """Return a ridge that runs north over flat ground at 100 m."""

    def surface(east: Floats, north: Floats) -> Floats:
        return 100.0 + crest_m * np.maximum(1 - np.abs(east - at_m) / half_width_m, 0) + 0 * north

    return surface


def lowest(leg: LegRow) -> Extreme:
    """Return the least height above ground of a leg that has one."""
    assert leg.above_ground_min is not None
    return leg.above_ground_min


# ------------------------------------------------------------ the climb-out


def climbing_out(folder: Path, out: str) -> Assessment:
    """Launch at 0, a spur of 50 m at 100 m, the first point at 300 m and 80 m up."""
    ground = scenes.model(folder, spur(50.0, 100.0, 50.0), cell_m=10.0, box_m=BOX)
    return scenes.fly(
        ground, [(300, 0, 80), (400, 0, 80)], STRAIGHT_DOWN, start=(0, 0),
        climb=Climb(model="linear", out=out, take_off_height_m=10.0),
    )  # fmt: skip


@pytest.mark.parametrize(
    ("out", "least_m"),
    [
        ("vertical", 80.0 - 50.0),
        ("step", 10.0 + 70.0 / 3 - 50.0),
        ("slanting", 80.0 / 3 - 50.0),
    ],
)
def test_each_climb_out(tmp_path: Path, out: str, least_m: float) -> None:
    """Straight up and over clears the spur by 30 m; on a slant it runs 23.3 m into it."""
    least = lowest(climbing_out(tmp_path, out).legs[0])
    assert least.nominal_m == pytest.approx(least_m, abs=1e-4)
    assert scenes.east_north(least.lat_deg, least.lon_deg)[0] == pytest.approx(100.0, abs=1e-3)


def test_unstated_climb_out_is_the_worst_and_named(tmp_path: Path) -> None:
    """Where it climbs is not stated: the slant counts, and the findings say so."""
    found = climbing_out(tmp_path, "unstated")
    least = lowest(found.legs[0])
    assert least.nominal_m == pytest.approx(80.0 / 3 - 50.0, abs=1e-4)
    assert "slanting" in least.curve.split("/")
    (under,) = scenes.of_kind(found, "underground", leg=0)
    assert under.worst_m == pytest.approx(80.0 / 3 - 50.0, abs=1e-4)
    assert "slanting" in under.curve.split("/")
    assert found.verdict is State.BREACH
    assert {name.split("/")[3] for name in found.curves} == {"vertical", "step", "slanting"}


def test_the_reference_goes_straight_up(tmp_path: Path) -> None:
    """Metres are counted along the way straight up and over: 80 m, then 300 m."""
    found = climbing_out(tmp_path, "unstated")
    assert found.curves[0].split("/")[3] == "vertical"
    assert found.legs[0].length_m == pytest.approx(380.0, abs=1e-4)
    assert found.legs[0].typed_length_m == pytest.approx(300.0, abs=1e-4)
    assert (found.legs[0].typed_start_m, found.legs[0].typed_end_m) == (0.0, 80.0)


def test_a_first_point_below_launch(tmp_path: Path) -> None:
    """From a ledge down to 40 m below it: up to take-off height, over, and straight down there.

    10 m up, 200 m over, 50 m down; over the valley floor, 120 m lower, 80 m are left.
    """
    ground = scenes.model(
        tmp_path, lambda e, n: 300.0 - np.clip(e - 40.0, 0, 60) * 2.0 + 0 * n,
        cell_m=10.0, box_m=BOX,
    )  # fmt: skip
    found = scenes.fly(
        ground, [(200, 0, -40), (300, 0, -40)], scenes.rules(ceiling_m=150.0), start=(0, 0)
    )
    assert found.legs[0].length_m == pytest.approx(260.0, abs=1e-4)
    assert found.samples.above_ground_m[-1] == pytest.approx(80.0, abs=1e-4)
    assert found.legs[1].state is State.WITHIN
    most = found.legs[0].above_ground_max
    assert most is not None
    assert most.nominal_m == pytest.approx(130.0, abs=1e-4)


def test_the_highest_of_a_leg_comes_from_another_way(tmp_path: Path) -> None:
    """Over ground that falls away the way straight up and over is the highest: 80 + 45 m."""
    ground = scenes.model(
        tmp_path, lambda e, n: 300.0 - np.clip(e - 50.0, 0, 100) * 0.5 + 0 * n,
        cell_m=10.0, box_m=BOX,
    )  # fmt: skip
    found = scenes.fly(
        ground, [(140, 0, 80), (140, 50, 80)], STRAIGHT_DOWN, start=(0, 0),
        climb=Climb(model="linear", out="unstated", take_off_height_m=10.0),
    )  # fmt: skip
    most = found.legs[0].above_ground_max
    assert most is not None
    assert most.nominal_m == pytest.approx(125.0, abs=1e-4)


# ------------------------------------------------------------ the way home


def coming_home(
    folder: Path, *, from_m: float, height_m: float, way: WayHome, measure: str = "vertical"
) -> Assessment:
    """Come home over a ridge of 80 m at 300 m, 100 m wide on either side."""
    ground = scenes.model(folder, spur(80.0, 300.0, 100.0), cell_m=10.0, box_m=BOX)
    rules = scenes.rules(floor_m=20.0, ceiling_m=400.0, floor_measure=measure)
    return scenes.fly(
        ground, [(from_m, 0, height_m), (from_m, 0.5, height_m)], rules, start=(0, 0.5),
        after="launch", way_home=way,
    )  # fmt: skip


@pytest.mark.parametrize(
    ("path", "set_m", "least_m"),
    [
        ("climb-first", 60.0, 60.0 - 80.0),
        ("climb-first", 100.0, 100.0 - 80.0),  # the height it takes
        ("level", None, 50.0 - 80.0),
        ("slanting", None, 25.0 - 80.0),  # half-way down: 25 m over the launch
    ],
)
def test_home_over_a_ridge(tmp_path: Path, path: str, set_m: float | None, least_m: float) -> None:
    """From 600 m away and 50 m up over a crest of 80 m half-way."""
    way = WayHome(path=path, height_m=set_m)
    found = coming_home(tmp_path, from_m=600.0, height_m=50.0, way=way)
    least = lowest(found.legs[-1])
    assert least.nominal_m == pytest.approx(least_m, abs=1e-3)
    assert least.curve.endswith(path)
    assert (found.legs[-1].state is State.BREACH) is (least_m < 20.0)


def test_climbing_on_the_way_home(tmp_path: Path) -> None:
    """From 420 m away, 50 m up, 4 in 10: 98 m over the crest at 300 m, 18 m above it."""
    way = WayHome(path="climb-on-the-way", height_m=100.0, gradient=0.4)
    found = coming_home(tmp_path, from_m=420.0, height_m=50.0, way=way)
    assert lowest(found.legs[-1]).nominal_m == pytest.approx(18.0, abs=1e-3)
    assert found.legs[-1].state is State.BREACH
    first = WayHome(path="climb-first", height_m=100.0)
    found = coming_home(tmp_path, from_m=420.0, height_m=50.0, way=first)
    assert lowest(found.legs[-1]).nominal_m == pytest.approx(20.0, abs=1e-3)
    assert found.legs[-1].state is State.TIGHT


def test_climbing_on_the_way_home_by_clearance(tmp_path: Path) -> None:
    """In three dimensions it is nearest to the crest: 18 / sqrt(1 + 0.4²) = 16.713 m."""
    way = WayHome(path="climb-on-the-way", height_m=100.0, gradient=0.4)
    found = coming_home(tmp_path, from_m=420.0, height_m=50.0, way=way, measure="clearance")
    least = found.legs[-1].clearance_min
    assert least is not None
    assert least.nominal_m == pytest.approx(16.713, abs=CENTIMETRE)


@pytest.mark.parametrize(("gradient", "holds"), [(0.4315 - 0.002, False), (0.4315 + 0.002, True)])
def test_gradient_that_clears_the_crest(tmp_path: Path, gradient: float, holds: bool) -> None:
    """A floor of 20 m in three dimensions asks for 0.4315: 20 sqrt(1 + g²) + 80 = 50 + 120 g."""
    way = WayHome(path="climb-on-the-way", height_m=110.0, gradient=gradient)
    found = coming_home(tmp_path, from_m=420.0, height_m=50.0, way=way, measure="clearance")
    breaches = [f for f in scenes.of_kind(found, "floor", leg=2) if f.state is State.BREACH]
    assert bool(breaches) is not holds


def test_unstated_way_home_is_the_worst_and_named(tmp_path: Path) -> None:
    """All four are flown; straight down to the spot is the lowest: 55 m under the crest."""
    way = WayHome(path="unstated", height_m=100.0, gradient=0.4)
    found = coming_home(tmp_path, from_m=600.0, height_m=50.0, way=way)
    assert lowest(found.legs[-1]).nominal_m == pytest.approx(-55.0, abs=1e-3)
    assert lowest(found.legs[-1]).curve.endswith("slanting")
    homes = {name.split("/")[4] for name in found.curves}
    assert homes == {"climb-first", "climb-on-the-way", "slanting", "level"}
    assert found.curves[0].endswith("climb-first")


def test_unstated_without_a_height_it_says_what_it_did_not_fly(tmp_path: Path) -> None:
    """Without a height to come home at, the ways that climb are listed as not checked."""
    found = coming_home(tmp_path, from_m=600.0, height_m=50.0, way=WayHome())
    assert {name.split("/")[4] for name in found.curves} == {"level", "slanting"}
    assert any("way home that climbs" in line for line in found.not_checked)


def test_home_elsewhere(tmp_path: Path) -> None:
    """It lands at another spot: down to that spot's ground, which is 40 m above the launch."""
    ground = scenes.model(
        tmp_path, lambda e, n: 100.0 + np.clip(e - 400, 0, 100) * 0.4 + 0 * n,
        cell_m=10.0, box_m=BOX,
    )  # fmt: skip
    found = scenes.fly(
        ground, [(0, 0, 90), (300, 0, 90)], STRAIGHT_DOWN, home=(600, 0), after="launch",
        way_home=WayHome(path="level"),
    )  # fmt: skip
    last = found.legs[-1]
    assert last.end == "home"
    assert last.typed_end_m == pytest.approx(40.0, abs=1e-6)
    assert last.length_m == pytest.approx(300.0 + 50.0, abs=1e-4)
    assert found.samples.above_ground_m[-1] == pytest.approx(0.0, abs=1e-6)
    assert lowest(last).nominal_m == pytest.approx(50.0, abs=1e-4)


def test_on_to_a_named_waypoint(tmp_path: Path) -> None:
    """After the last point it goes back to the first at its own height, and waits there."""
    ground = scenes.model(tmp_path, spur(50.0, 150.0, 50.0), cell_m=10.0, box_m=BOX)
    found = scenes.fly(
        ground, [(0, 0, 90), (0, 200, 90), (300, 0, 75)], STRAIGHT_DOWN,
        after=AfterLast(go_to="P1", then="wait"), way_home=WayHome(path="slanting"),
    )  # fmt: skip
    last = found.legs[-1]
    assert (last.start, last.end) == ("P3", "P1")
    # From 75 m to 90 m, half-way over the crest of 50 m.
    assert lowest(last).nominal_m == pytest.approx(82.5 - 50.0, abs=1e-3)


# ------------------------------------------------------------ heights and units


def test_heights_above_ground_are_turned_into_heights_above_launch(tmp_path: Path) -> None:
    """50 m above ground at both ends of a leg over a hollow 60 m deep: 110 m in its middle."""

    def hollow(e: Floats, n: Floats) -> Floats:
        return 300.0 + 0.1 * e - 60 * np.maximum(1 - np.abs(e - 200) / 100, 0) + 0 * n

    ground = scenes.model(tmp_path, hollow, cell_m=10.0, box_m=BOX)
    found = scenes.fly(
        ground, [(50, 0, 50), (350, 0, 50)], STRAIGHT_DOWN, start=(0, 0), heights="ground"
    )
    leg, most = found.legs[1], found.legs[1].above_ground_max
    assert (leg.typed_start_m, leg.typed_end_m) == pytest.approx((55.0, 85.0), abs=1e-4)
    assert most is not None
    assert most.nominal_m == pytest.approx(110.0, abs=1e-3)
    assert lowest(leg).nominal_m == pytest.approx(50.0, abs=1e-4)


def test_heights_above_ground_do_not_follow_the_launch(tmp_path: Path) -> None:
    """With heights above ground a launch surveyed 5 m off changes no height at a waypoint.

    Between them the flight is straight, and what the survey adds is not: at the spur, half-way,
    that is 5 m times how far its share there is from the mean of the shares at the ends.
    """
    ground = scenes.model(tmp_path, spur(30.0, 150.0, 100.0), cell_m=10.0, box_m=BOX)
    points = [(50.0, 0.0, 60.0), (250.0, 0.0, 60.0)]
    plain = scenes.fly(ground, points, STRAIGHT_DOWN, start=(0, 0), heights="ground")
    start = scenes.launch(0, 0, elevation_m=105.0, elevation_accuracy_m=2.0)
    stated = scenes.fly(ground, points, STRAIGHT_DOWN, start=start, heights="ground")
    ends = np.flatnonzero(np.diff(stated.samples.leg)) + 1
    assert stated.samples.above_ground_m[ends[:2]] == pytest.approx([60.0, 60.0], abs=1e-4)
    before, half_way, behind = (float(weight(away, 2.0, model=TENS)) for away in (50, 150, 250))
    more = 5.0 * (half_way - (before + behind) / 2)
    least = lowest(plain.legs[1]).nominal_m + more
    assert lowest(stated.legs[1]).nominal_m == pytest.approx(least, abs=1e-3)


def route_file(folder: Path, unit: str, per_metre: float, *, path: str = "unstated") -> Path:
    """Write one route with heights in metres or feet."""
    places = [scenes.lat_lon(*p) for p in ((0, 0), (300, 0), (300, 120), (120, 200))]
    heights = [60.0, 95.0, 80.0]
    lines = [
        'heights = "launch"', f'height_unit = "{unit}"',
        "[launch]", f"lat = {places[0][0]!r}", f"lon = {places[0][1]!r}",
        "[climb]", f"take_off_height = {12.0 * per_metre!r}",
        "[way_home]", f"height = {110.0 * per_metre!r}", f'path = "{path}"',
    ]  # fmt: skip
    for (lat, lon), height in zip(places[1:], heights, strict=True):
        lines += ["[[waypoint]]", f"lat = {lat!r}", f"lon = {lon!r}"]
        lines += [f"height = {height * per_metre!r}"]
    file = folder / f"route_{unit}.toml"
    file.write_text("\n".join(lines) + "\n", encoding="utf-8")
    return file


def test_a_route_in_feet_is_the_route_in_metres(tmp_path: Path) -> None:
    """The international foot is 0.3048 m exactly: the same answer to a micrometre."""
    ground = scenes.model(tmp_path, spur(50.0, 150.0, 80.0), cell_m=10.0, box_m=BOX)
    metres = check(route_file(tmp_path, "m", 1.0), ground=ground)
    feet = check(route_file(tmp_path, "ft", 1 / 0.3048), ground=ground)
    assert feet.verdict is metres.verdict
    assert feet.curves == metres.curves
    assert [f.kind for f in feet.findings] == [f.kind for f in metres.findings]
    for one, other in zip(feet.legs, metres.legs, strict=True):
        assert one.state is other.state
        assert lowest(one).nominal_m == pytest.approx(lowest(other).nominal_m, abs=1e-6)
    assert feet.samples.clearance_m == pytest.approx(
        metres.samples.clearance_m, abs=1e-6, nan_ok=True
    )


def test_labelled_feet_it_is_another_route(tmp_path: Path) -> None:
    """120 ft are 36.576 m: the same numbers in the other unit fly 83.424 m lower."""
    ground = scenes.model(tmp_path, lambda e, n: 100.0 + 0 * e, cell_m=10.0, box_m=BOX)
    found = {}
    for unit in ("m", "ft"):
        file = route_file(tmp_path, unit, 1.0, path="level")
        text = file.read_text(encoding="utf-8")
        for height in ("60.0", "95.0", "80.0"):
            text = text.replace(f"height = {height}", "height = 120")
        file.write_text(text, encoding="utf-8")
        found[unit] = lowest(check(file, ground=ground).legs[1]).nominal_m
    assert found["m"] - found["ft"] == pytest.approx(83.424, abs=1e-6)
    assert found["ft"] == pytest.approx(36.576, abs=1e-6)


# ------------------------------------------------------------ launch


def test_launch_moved_takes_every_height_with_it(tmp_path: Path) -> None:
    """Launching 8 m lower: every height above ground falls by exactly 8 m."""
    ground = scenes.model(tmp_path, lambda e, n: 300.0 + 0.1 * e + 0 * n, cell_m=10.0, box_m=BOX)
    file = route_file(tmp_path, "m", 1.0, path="level")
    here = check(file, ground=ground)
    moved = check(file, ground=ground, launch=scenes.lat_lon(-80.0, 0.0))
    assert moved.launch.elevation_m == pytest.approx(here.launch.elevation_m - 8.0, abs=1e-4)
    for one, other in zip(moved.legs[1:3], here.legs[1:3], strict=True):
        assert lowest(one).nominal_m - lowest(other).nominal_m == pytest.approx(-8.0, abs=1e-4)


def test_launch_elsewhere_for_a_route_made_in_python(tmp_path: Path) -> None:
    """The argument means the same for a route object as for a file."""
    ground = scenes.model(tmp_path, lambda e, n: 300.0 + 0.1 * e + 0 * n, cell_m=10.0, box_m=BOX)
    route = scenes.route([(100, 0, 60), (300, 0, 60)], start=(0, 0))
    moved = check(route, ground=ground, launch=scenes.lat_lon(-80.0, 0.0), rules=STRAIGHT_DOWN)
    assert moved.launch.elevation_m == pytest.approx(292.0, abs=1e-4)
    assert moved.legs[0].typed_length_m == pytest.approx(180.0, abs=1e-3)
    first = check(route, ground=ground, launch="first", rules=STRAIGHT_DOWN)
    assert first.launch.elevation_m == pytest.approx(310.0, abs=1e-4)


def test_two_heights_at_one_place(tmp_path: Path) -> None:
    """A figure of eight passes one place twice, at two heights: two different clearances."""
    ground = scenes.model(tmp_path, lambda e, n: 100.0 + 0 * e, cell_m=10.0, box_m=BOX)
    found = scenes.fly(
        ground, [(0, 0, 50), (100, 100, 50), (100, 0, 80), (0, 100, 80)],
        scenes.rules(floor_measure="vertical"),
    )  # fmt: skip
    east, north = 50.0, 50.0
    places = [
        scenes.east_north(lat, lon)
        for lat, lon in zip(
            found.samples.lat_deg.tolist(), found.samples.lon_deg.tolist(), strict=True
        )
    ]
    near = [k for k, place in enumerate(places) if math.dist(place, (east, north)) < 0.6]
    heights = {round(float(found.samples.above_ground_m[k])) for k in near}
    assert heights == {50, 80}


@pytest.mark.parametrize("repeat", [1, 3])
def test_repeated_points_change_nothing(tmp_path: Path, repeat: int) -> None:
    """The same point typed again is a leg without length: no NaN, the same worst metres."""
    ground = scenes.model(tmp_path, spur(50.0, 150.0, 80.0), cell_m=10.0, box_m=BOX)
    once = scenes.fly(ground, [(0, 0, 60), (300, 0, 60)], scenes.rules())
    points = [(0.0, 0.0, 60.0)] * repeat + [(300.0, 0.0, 60.0)] * repeat
    again = scenes.fly(ground, points, scenes.rules(), turns="unstated")
    assert again.length_m == pytest.approx(once.length_m, abs=1e-9)
    assert np.isfinite(again.samples.along_m).all()
    worst = min(lowest(leg).nominal_m for leg in again.legs[1:-1])
    assert worst == pytest.approx(lowest(once.legs[1]).nominal_m, abs=1e-9)
    assert again.verdict is once.verdict
    assert len(again.legs) == 2 * repeat + 1

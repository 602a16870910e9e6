"""Where a limit begins and ends to fail, to a centimetre, and what is told apart or merged.

Ridges and gullies are triangular, 45 degrees steep, with posts 1 m apart; what is
expected is worked beside each case. Flights are level and run east unless told
otherwise.
"""

from __future__ import annotations

import math
from pathlib import Path

import numpy as np
import pytest

from terrain_guard.assessment import Assessment, Finding
from terrain_guard.plan.route import Turns
from terrain_guard.states import State
from tests.checks import scenes
from tests.checks.scenes import Floats, Surface

CENTIMETRE = 0.01
BOX = (-120.0, -120.0, 420.0, 160.0)
CREST_M = 150.0
ROOT2 = math.sqrt(2.0)


def ridge(crest_m: float, *crests: float) -> Surface:
    """Return ridges that run north, `crest_m` high, 45 degrees steep, on flat ground."""

    def surface(east: Floats, north: Floats) -> Floats:
        rises = [np.maximum(crest_m - np.abs(east - crest), 0.0) for crest in crests]
        return 100.0 + np.max(rises, axis=0) + 0.0 * north

    return surface


def gully(depth_m: float, *middles: float) -> Surface:
    """Return gullies that run north, cut `depth_m` deep into flat ground."""
    rises = ridge(depth_m, *middles)
    return lambda east, north: 200.0 - rises(east, north)


def east(
    folder: Path, surface: Surface, height_m: float, *, west_m: float = 0.0, east_m: float = 300.0
) -> Assessment:
    """Fly east at one height."""
    ground = scenes.model(folder, surface, box_m=BOX)
    return scenes.fly(
        ground, [(west_m, 0, height_m), (east_m, 0, height_m)], scenes.rules(), start=(0, 0)
    )


def spans(findings: list[Finding], found: Assessment, leg: int = 1) -> Floats:
    """Return (from, to) of findings in metres east, for a leg that starts at the spot."""
    return np.array([(f.from_m, f.to_m) for f in findings]) - found.legs[leg].from_m


# ------------------------------------------------------------ one crest, one gully


@pytest.mark.parametrize("west_m", [0.0, -0.37])
def test_ends_of_a_floor_breach_over_a_ridge(tmp_path: Path, west_m: float) -> None:
    """20 m over the crest the slope is (20 + d) / sqrt 2 away at d from it: 30 m at 22.43 m.

    With margins (13 + d) / sqrt 2: 30 m at 29.43 m; tight between the two, on both sides.
    """
    found = east(tmp_path, ridge(60.0, CREST_M), 80.0, west_m=west_m)
    floor = scenes.of_kind(found, "floor", leg=1)
    assert [f.state for f in floor] == [State.TIGHT, State.BREACH, State.TIGHT]
    near, far = 30.0 * ROOT2 - 20.0, 30.0 * ROOT2 - 13.0
    expected = CREST_M + np.array([(-far, -near), (-near, near), (near, far)])
    assert spans(floor, found) + west_m == pytest.approx(expected, abs=CENTIMETRE)
    breach = floor[1]
    assert breach.worst_m == pytest.approx(20.0, abs=CENTIMETRE)
    assert breach.at_m - found.legs[1].from_m + west_m == pytest.approx(CREST_M, abs=0.3)


@pytest.mark.parametrize("west_m", [0.0, -0.37])
def test_ends_of_a_ceiling_breach_over_a_gully(tmp_path: Path, west_m: float) -> None:
    """130 m over its bottom: above 120 m within 10 m of it, above 115 m within 15 m."""
    found = east(tmp_path, gully(50.0, CREST_M), 80.0, west_m=west_m)
    ceiling = scenes.of_kind(found, "ceiling", leg=1)
    assert [f.state for f in ceiling] == [State.TIGHT, State.BREACH, State.TIGHT]
    expected = CREST_M + np.array([(-15, -10), (-10, 10), (10, 15)])
    assert spans(ceiling, found) + west_m == pytest.approx(expected, abs=1e-4)
    assert ceiling[1].worst_m == pytest.approx(130.0, abs=1e-4)
    assert ceiling[1].at_m - found.legs[1].from_m + west_m == pytest.approx(CREST_M, abs=1e-4)


def test_ends_on_a_climb(tmp_path: Path) -> None:
    """Climbing 1 in 10 over flat ground: the floor holds from 30 m on, the margin from 37 m."""
    ground = scenes.model(tmp_path, lambda e, n: 100.0 + 0 * e, box_m=BOX)
    found = scenes.fly(ground, [(0, 0, 20), (300, 0, 50)], scenes.rules())
    long = math.hypot(1.0, 0.1)
    breach, tight = scenes.of_kind(found, "floor", leg=1)
    expected = long * np.array([(0.0, 100.0), (100.0, 170.0)])
    assert spans([breach, tight], found) == pytest.approx(expected, abs=0.02)
    assert breach.worst_m == pytest.approx(20.0, abs=1e-4)


def test_a_ledge_at_exactly_the_ceiling(tmp_path: Path) -> None:
    """120 m over flat ground holds; it fails from where the ground falls away, at 100 m."""
    found = east(
        tmp_path, lambda e, n: 200.0 - np.maximum(e - 100.0, 0.0) + 0 * n, 120.0,
        west_m=0.37, east_m=140.37,
    )  # fmt: skip
    (breach,) = [f for f in scenes.of_kind(found, "ceiling", leg=1) if f.state is State.BREACH]
    assert spans([breach], found) + 0.37 == pytest.approx(np.array([(100.0, 140.37)]), abs=1e-3)


@pytest.mark.parametrize("height_m", [29.0, 120.5])
def test_a_whole_leg_is_one_finding(tmp_path: Path, height_m: float) -> None:
    """Too low or too high all along is one finding a leg, from end to end."""
    found = east(tmp_path, lambda e, n: 100.0 + 0 * e, height_m)
    kind = "floor" if height_m < 30 else "ceiling"
    (only,) = scenes.of_kind(found, kind, leg=1)
    leg = found.legs[1]
    assert (only.from_m, only.to_m) == pytest.approx((leg.from_m, leg.to_m), abs=1e-9)


@pytest.mark.parametrize("west_m", [2.0, 0.5])
def test_a_needle_between_two_samples(tmp_path: Path, west_m: float) -> None:
    """A lone post 40 m high under a flight 60 m up: sqrt(d² + 20²) < 30 within sqrt(500) m."""

    def needle(e: Floats, n: Floats) -> Floats:
        return 100.0 + np.where((e == CREST_M) & (n == 0), 40.0, 0.0)

    found = east(tmp_path, needle, 60.0, west_m=west_m)
    (breach,) = [f for f in scenes.of_kind(found, "floor", leg=1) if f.state is State.BREACH]
    half = math.sqrt(500.0)
    expected = np.array([(CREST_M - half, CREST_M + half)])
    assert spans([breach], found) + west_m == pytest.approx(expected, abs=CENTIMETRE)
    assert breach.worst_m == pytest.approx(20.0, abs=CENTIMETRE)


# ------------------------------------------------------------ several in one leg, joints


def test_two_crests_are_two_findings(tmp_path: Path) -> None:
    """Both are told, each with its own worst metre."""
    found = east(tmp_path, ridge(60.0, 80.0, 220.0), 85.0)
    breaches = [f for f in scenes.of_kind(found, "floor", leg=1) if f.state is State.BREACH]
    half = math.sqrt(30.0**2 - 25.0**2)  # less than 25 m: the crest itself is nearest
    expected = np.array([(80.0 - half, 80.0 + half), (220.0 - half, 220.0 + half)])
    assert spans(breaches, found) == pytest.approx(expected, abs=CENTIMETRE)
    assert [f.worst_m for f in breaches] == pytest.approx([25.0, 25.0], abs=CENTIMETRE)


def test_a_crest_at_a_joint_belongs_to_both_legs(tmp_path: Path) -> None:
    """A waypoint over the crest: the breach ends one leg and begins the next."""
    ground = scenes.model(tmp_path, ridge(60.0, CREST_M), box_m=BOX)
    found = scenes.fly(
        ground, [(0, 0, 80), (CREST_M, 0, 80), (300, 0, 80)], scenes.rules(), start=(0, 0)
    )
    breaches = [f for f in scenes.of_kind(found, "floor") if f.state is State.BREACH]
    assert [f.leg for f in breaches] == [1, 2]
    half = 30.0 * ROOT2 - 20.0
    joint = found.legs[1].to_m
    assert [(f.from_m - joint, f.to_m - joint) for f in breaches] == [
        pytest.approx((-half, 0.0), abs=CENTIMETRE),
        pytest.approx((0.0, half), abs=CENTIMETRE),
    ]
    assert [f.worst_m for f in breaches] == pytest.approx([20.0, 20.0], abs=CENTIMETRE)
    assert [leg.state for leg in found.legs[1:3]] == [State.BREACH, State.BREACH]


def test_findings_come_in_the_order_of_the_flight(tmp_path: Path) -> None:
    """By leg, then by metre."""

    def surface(e: Floats, n: Floats) -> Floats:
        return ridge(60.0, 60.0, 260.0)(e, n) - np.maximum(50.0 - np.abs(e - 160.0), 0.0)

    found = east(tmp_path, surface, 85.0)
    order = [(f.leg, f.from_m) for f in found.findings]
    assert order == sorted(order)
    assert {f.kind for f in found.findings if f.state is State.BREACH} == {"floor", "ceiling"}


def test_time_at_the_worst_metre(tmp_path: Path) -> None:
    """80 m up at 4 m/s, then 150 m at 5 m/s: over the crest after 50 s."""
    found = east(tmp_path, ridge(60.0, CREST_M), 80.0)
    breach = scenes.of_kind(found, "floor", leg=1)[1]
    assert breach.time_s == pytest.approx(80.0 / 4.0 + 150.0 / 5.0, abs=0.1)


# ------------------------------------------------------------ several curves


CORNER = [(0.0, 0.0, 60.0), (100.0, 0.0, 60.0), (100.0, 100.0, 60.0)]
INSIDE = (94.0, 6.0)  # beside the middle of the arc: 100 - 20 + 20 cos 45 = 94.14, 5.86


def spiked(folder: Path, *places: tuple[float, float], height_m: float = 45.0) -> Path:
    """Write flat ground with lone posts."""

    def surface(e: Floats, n: Floats) -> Floats:
        out = np.full(e.shape, 100.0)
        for place in places:
            out[(e == place[0]) & (n == place[1])] += height_m
        return out

    return scenes.model(folder, surface, box_m=BOX)


def round_the_corner(ground: Path, kind: str) -> Assessment:
    """Fly two legs at a right angle, the turn beginning 20 m before; the floor straight down."""
    return scenes.fly(
        ground, CORNER, scenes.rules(floor_measure="vertical"),
        turns=Turns(kind=kind, turn_anticipation_m=20.0),
    )  # fmt: skip


@pytest.mark.parametrize(
    ("place", "hit"), [(INSIDE, "fly-by"), ((100.0, 0.0), "stop"), ((98.0, 0.0), "stop")]
)
def test_a_spur_in_a_corner(tmp_path: Path, place: tuple[float, float], hit: str) -> None:
    """A spur inside the corner is met by the rounded turn alone, one at the point by the stop."""
    ground = spiked(tmp_path, place)
    other = {"fly-by": "stop", "stop": "fly-by"}[hit]
    assert round_the_corner(ground, other).verdict is State.WITHIN
    assert round_the_corner(ground, hit).verdict is State.BREACH
    both = round_the_corner(ground, "unstated")
    assert both.verdict is State.BREACH
    breaches = [f for f in scenes.of_kind(both, "floor") if f.state is State.BREACH]
    # Others pass there, too: lines that cut the corner, and all that fly over the waypoint.
    also = {"fly-by": {"cut-corner"}, "stop": {"cut-corner", "fly-over", "smooth"}}[hit]
    assert {f.curve.split("/")[0] for f in breaches} <= {hit} | also
    for finding in breaches:
        where = scenes.east_north(finding.lat_deg, finding.lon_deg)
        assert math.dist(where, place) < 1.5


def test_a_spur_under_the_middle_of_the_arc_belongs_to_both_legs(tmp_path: Path) -> None:
    """The arc splits half-way; a broad spur there is a finding on each leg."""
    places = [(e, n) for e in np.arange(90.0, 99.0) for n in np.arange(2.0, 11.0)]
    found = round_the_corner(spiked(tmp_path, *places), "fly-by")
    breaches = [f for f in scenes.of_kind(found, "floor") if f.state is State.BREACH]
    assert [f.leg for f in breaches] == [1, 2]
    assert breaches[0].to_m == pytest.approx(breaches[1].from_m, abs=1e-6)
    arc_m = 20.0 * math.pi / 2
    assert found.legs[1].length_m == pytest.approx(80.0 + arc_m / 2, abs=0.01)


def test_the_same_ridge_on_two_curves_is_one_finding(tmp_path: Path) -> None:
    """What both curves meet is told once, by the worse of the two."""
    ground = scenes.model(tmp_path, ridge(35.0, 40.0), box_m=BOX)
    found = round_the_corner(ground, "unstated")
    assert len(found.curves) > 1
    breaches = [f for f in scenes.of_kind(found, "floor") if f.state is State.BREACH]
    assert len(breaches) == 1
    assert breaches[0].worst_m == pytest.approx(25.0, abs=1e-3)
    # The rounded one is 2 × (20 - 10 pi / 2) = 8.58 m shorter than the stop, half of it a leg;
    # the smooth one, which swings, some 2 m longer. All are placed by their share of the leg.
    rounded_m = 80.0 + 10.0 * math.pi / 2
    assert 60.0 + 35.0 * rounded_m / 103.0 < breaches[0].from_m < 60.0 + 35.0 + 0.1
    assert 60.0 + 45.0 - 0.1 < breaches[0].to_m < 60.0 + 45.0 + 1.1


def test_merged_the_worse_of_two_counts_wherever_it_begins(tmp_path: Path) -> None:
    """Both curves come 25 m near a terrace, the stop first; the rounded turn 5 m nearer to a rock.

    The terrace begins at 60 m, which is 60 of 100 m to the stop and 60 of 95.7 to the turn.
    """

    def surface(e: Floats, n: Floats) -> Floats:
        rock = (np.abs(e - 94.0) <= 2.0) & (np.abs(n - 6.0) <= 2.0)
        return 100.0 + np.where(e >= 60.0, 35.0, 0.0) + np.where(rock, 5.0, 0.0)

    ground = scenes.model(tmp_path, surface, box_m=BOX)
    found = round_the_corner(ground, "unstated")
    (breach,) = [f for f in scenes.of_kind(found, "floor", leg=1) if f.state is State.BREACH]
    assert breach.worst_m == pytest.approx(20.0, abs=1e-6)
    assert breach.curve.startswith("fly-by")
    half_arc_m = 10.0 * math.pi / 2
    on_reference_m = (60.0 - 1.0) / 100.0 * (80.0 + half_arc_m)
    assert breach.from_m - found.legs[1].from_m == pytest.approx(on_reference_m, abs=1.0)
    assert breach.to_m == pytest.approx(found.legs[1].to_m, abs=1e-6)


def test_worst_of_a_leg_names_its_curve(tmp_path: Path) -> None:
    """The table's extremes are the worst of all curves, each with its own curve's name.

    Of the lines that fill the corner from the chord's middle, 90, 10, to the waypoint, 100, 0,
    every metre or less, the sixth of fifteen steps meets the post at 94, 6: 60 - 45 m.
    """
    found = round_the_corner(spiked(tmp_path, INSIDE), "unstated")
    leasts = [leg.above_ground_min for leg in found.legs[1:3]]
    low = min((least for least in leasts if least is not None), key=lambda e: e.nominal_m)
    assert low.curve.startswith("cut-corner")
    assert low.nominal_m == pytest.approx(15.0, abs=1e-3)

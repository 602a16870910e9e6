"""Missing ground: never a number, never within, and exactly as long as it is.

Posts stand 10 m apart (margins 18 and 7 m) unless a test says otherwise; lengths
are those of plane geometry, worked beside each case.
"""

from __future__ import annotations

import json
import math
from pathlib import Path

import numpy as np
import pytest

from terrain_guard.assess import check, limiting_surfaces
from terrain_guard.assessment import Assessment
from terrain_guard.checks.beneath import Beneath
from terrain_guard.checks.judge import judge
from terrain_guard.checks.margins import Margins
from terrain_guard.checks.measure import measure
from terrain_guard.checks.wanted import Wanted
from terrain_guard.errors import RefusedTerrain
from terrain_guard.ground.model import Ground
from terrain_guard.path.flight import fly
from terrain_guard.report.assessment_json import as_dict
from terrain_guard.states import SEVERITY, State
from tests.checks import scenes
from tests.checks.scenes import Floats
from tests.checks.survey_by_hand import TENS, weight

NOT_ASSESSED = SEVERITY.index(State.NOT_ASSESSED)
REACH_M = 30.0 + 18.0
BOX = (-300.0, -200.0, 300.0, 200.0)
MARKERS = [-9999.0, -32768.0, 3.4e38, -3.4e38, math.nan, math.inf, -99999.0]


def holed(
    folder: Path,
    *holes: tuple[float, float],
    marker: float = -9999.0,
    declared: bool = True,
    level_m: float = 100.0,
    cell_m: float = 10.0,
    name: str = "ground.tif",
) -> Path:
    """Write flat ground with a missing post at each of `holes` (east, north)."""

    def surface(east: Floats, north: Floats) -> Floats:
        out = np.full(east.shape, level_m)
        for e, n in holes:
            out[(np.round(east) == e) & (np.round(north) == n)] = marker
        return out

    nodata = marker if declared else None
    return scenes.model(
        folder, surface, cell_m=cell_m, box_m=BOX, nodata=nodata, dtype="float32", name=name
    )


def across(ground: Path, north_m: float = 0.0, height_m: float = 60.0) -> Assessment:
    """Fly level, west to east, 200 m to 400 m from the launch."""
    return scenes.fly(
        ground, [(-200, north_m, height_m), (200, north_m, height_m)], scenes.rules(),
        start=(-200, north_m),
    )  # fmt: skip


def span(found: Assessment, leg: int = 1) -> tuple[float, float]:
    """Return the only not-assessed stretch of a leg, in metres from the leg's start."""
    (missing,) = scenes.of_kind(found, "not-assessed", leg=leg)
    start = found.legs[leg].from_m
    return missing.from_m - start, missing.to_m - start


def nowhere_a_number(found: Assessment, low_m: float, high_m: float) -> None:
    """Assert that samples of leg 1 strictly within a stretch carry no height above ground."""
    samples, start = found.samples, found.legs[1].from_m
    inside = (
        (samples.leg == 1) & (samples.along_m > start + low_m) & (samples.along_m < start + high_m)
    )
    assert inside.any()
    for values in (samples.above_ground_m, samples.ground_elevation_m, samples.clearance_m):
        assert np.isnan(values[inside]).all()
    assert (samples.state[inside] == NOT_ASSESSED).all()


# ------------------------------------------------------------ one missing post


def test_one_missing_post_straight_across(tmp_path: Path) -> None:
    """Above ground is missing over 20 m; the floor over 20 + 2 × 48 m around them."""
    found = across(holed(tmp_path, (0, 0)))
    low, high = span(found)
    assert (low, high) == pytest.approx((200 - 10 - REACH_M, 200 + 10 + REACH_M), abs=0.02)
    assert found.length_m - found.assessed_m == pytest.approx(20 + 2 * REACH_M, abs=0.03)
    assert found.verdict is State.NOT_ASSESSED
    nowhere_a_number(found, 190.001, 209.999)
    samples, start = found.samples, found.legs[1].from_m
    beside = (samples.leg == 1) & (np.abs(samples.along_m - start - 200) > 10.001)
    assert np.isfinite(samples.above_ground_m[beside]).all()


@pytest.mark.parametrize("measure", ["vertical", "closest-point"])
def test_above_ground_is_missing_over_exactly_twenty_metres(tmp_path: Path, measure: str) -> None:
    """With the floor counted straight down only the two cells along the line are missing."""
    ground = holed(tmp_path, (0, 0))
    rules = scenes.rules(floor_measure="vertical", ceiling_measure=measure)
    found = scenes.fly(ground, [(-200, 0, 60), (200, 0, 60)], rules)
    assert span(found) == pytest.approx((190.0, 210.0), abs=1e-4)
    assert found.assessed_m == pytest.approx(found.length_m - 20.0, abs=2e-4)


@pytest.mark.parametrize("north_m", [0.001, 4.9, 9.999])
def test_beside_the_post_the_cells_are_the_same_two(tmp_path: Path, north_m: float) -> None:
    """Anywhere in the cells beside the post the same 20 m are missing."""
    found = across(holed(tmp_path, (0, 0)), north_m)
    assert span(found) == pytest.approx((200 - 10 - REACH_M, 200 + 10 + REACH_M), abs=0.02)
    nowhere_a_number(found, 190.001, 209.999)


def test_on_the_far_edge_of_the_void_cells_the_ground_is_known(tmp_path: Path) -> None:
    """Along the next line of posts no post with a weight is missing: the floor alone suffers."""
    ground = holed(tmp_path, (0, 0))
    found = across(ground, 10.0)
    samples = found.samples
    assert np.isfinite(samples.above_ground_m).all()
    assert span(found) == pytest.approx((200 - 10 - REACH_M, 200 + 10 + REACH_M), abs=0.02)


def test_passing_at_a_distance(tmp_path: Path) -> None:
    """30 m from the void cells: within reach over 20 + 2 sqrt(48² - 30²) m."""
    found = across(holed(tmp_path, (0, 0)), 40.0)
    half = 10 + math.sqrt(REACH_M**2 - 30.0**2)
    assert span(found) == pytest.approx((200 - half, 200 + half), abs=0.02)
    assert np.isfinite(found.samples.above_ground_m).all()


def test_out_of_reach_nothing_is_missing(tmp_path: Path) -> None:
    """48.1 m from the void cells the whole leg is judged."""
    found = across(holed(tmp_path, (0, 0)), 58.1)
    assert found.verdict is State.WITHIN
    assert found.assessed_m == found.length_m
    assert not scenes.of_kind(found, "not-assessed")
    assert found.terrain_to_get is None


def test_just_in_reach_the_middle_is_missing(tmp_path: Path) -> None:
    """47.9 m from the void cells: not assessed over 20 + 2 sqrt(48² - 47.9²) m."""
    found = across(holed(tmp_path, (0, 0)), 57.9)
    half = 10 + math.sqrt(REACH_M**2 - 47.9**2)
    assert span(found) == pytest.approx((200 - half, 200 + half), abs=0.02)


def test_two_missing_posts_in_one_leg(tmp_path: Path) -> None:
    """Two voids far enough apart are two stretches."""
    found = across(holed(tmp_path, (-100, 0), (100, 0)))
    spans = [
        (f.from_m - found.legs[1].from_m, f.to_m - found.legs[1].from_m)
        for f in scenes.of_kind(found, "not-assessed", leg=1)
    ]
    assert np.array(spans) == pytest.approx(
        np.array([(100 - 58, 100 + 58), (300 - 58, 300 + 58)]), abs=0.02
    )


# ------------------------------------------------------------ what marks a void


@pytest.mark.parametrize("marker", MARKERS)
@pytest.mark.parametrize("declared", [True, False])
def test_every_marker_is_a_void(tmp_path: Path, marker: float, declared: bool) -> None:
    """Declared or not, -9999, -32768, 3.4e38, NaN and their like are missing ground."""
    found = across(holed(tmp_path, (0, 0), marker=marker, declared=declared))
    low, high = span(found)
    assert (low, high) == pytest.approx((142.0, 258.0), abs=0.02)
    nowhere_a_number(found, 190.001, 209.999)
    assert found.verdict is State.NOT_ASSESSED


def test_json_holds_no_number_for_what_is_missing(tmp_path: Path) -> None:
    """The finding's worst is null; a leg wholly without ground has null extremes."""
    found = across(holed(tmp_path, *[(e, 0.0) for e in range(-300, 301, 10)]))
    answer = json.loads(json.dumps(as_dict(found), allow_nan=False))
    assert answer["verdict"] == "not-assessed"
    assert answer["assessed_m"] == 0.0
    leg = answer["legs"][1]
    assert leg["state"] == "not-assessed"
    for what in ("above_ground", "clearance"):
        assert leg[what]["min"] is None
        assert leg[what]["max"] is None
    assert all(f["worst_m"] is None for f in answer["findings"] if f["kind"] == "not-assessed")


def test_limiting_surfaces_are_nan_where_ground_is_missing(tmp_path: Path) -> None:
    """The curves that are drawn have gaps there."""
    ground = holed(tmp_path, (0, 0))
    found = across(ground)
    limits = limiting_surfaces(found, ground=ground)
    missing = np.isnan(found.samples.above_ground_m)
    assert missing.any()
    assert np.isnan(limits.lowest_allowed_m[missing]).all()
    assert np.isnan(limits.highest_allowed_m[missing]).all()


# ------------------------------------------------------------ the edge of the model


@pytest.mark.parametrize("east_m", [300.0, 310.0])
def test_to_the_edge_and_off_it(tmp_path: Path, east_m: float) -> None:
    """The last post still has ground; the floor needs 48 m more; a cell beyond has nothing."""
    ground = holed(tmp_path)
    found = scenes.fly(ground, [(100, 0, 60), (east_m, 0, 60)], scenes.rules())
    low, high = span(found)
    assert low == pytest.approx(200.0 - REACH_M, abs=0.02)
    assert high == pytest.approx(east_m - 100.0, abs=1e-6)
    assert found.verdict is State.NOT_ASSESSED
    samples = found.samples
    along = samples.along_m - found.legs[1].from_m
    assert np.isfinite(samples.above_ground_m[(samples.leg == 1) & (along < 199.99)]).all()
    assert np.isnan(samples.above_ground_m[(samples.leg >= 1) & (along > 200.001)]).all()
    (finding,) = scenes.of_kind(found, "not-assessed", leg=1)
    assert found.terrain_to_get is not None
    assert found.terrain_to_get in finding.message


def test_the_box_of_terrain_to_get(tmp_path: Path) -> None:
    """It covers the flight and 500 m around, rounded outward to 1e-4 degrees."""
    ground = holed(tmp_path)
    found = scenes.fly(ground, [(100, 0, 60), (310, 50, 60)], scenes.rules())
    assert found.terrain_to_get is not None
    words = found.terrain_to_get.replace(",", "").split()
    south, north, west, east = (float(words[k]) for k in (1, 3, 5, 7))
    least = scenes.lat_lon(100.0 - 500.0, 0.0 - 500.0)
    most = scenes.lat_lon(310.0 + 500.0, 50.0 + 500.0)
    assert south <= least[0] < south + 2.5e-4
    assert west <= least[1] < west + 2.5e-4
    assert north - 2.5e-4 < most[0] <= north
    assert east - 2.5e-4 < most[1] <= east


def test_launch_on_the_model_and_the_rest_off_it(tmp_path: Path) -> None:
    """Some of it on the model: not refused, not assessed."""
    found = scenes.fly(holed(tmp_path), [(290, 0, 60), (900, 0, 60)], scenes.rules())
    assert found.verdict is State.NOT_ASSESSED
    assert found.legs[2].state is State.NOT_ASSESSED
    assert found.legs[2].above_ground_min is None


# ------------------------------------------------------------ what wins over a void


def test_known_ground_that_breaches_wins_over_a_void(tmp_path: Path) -> None:
    """25 m above known ground beside a void: a breach of the floor, not a gap."""
    found = across(holed(tmp_path, (0, 0)), 30.0, height_m=25.0)
    assert found.legs[1].state is State.BREACH
    assert found.verdict is State.BREACH
    (floor,) = scenes.of_kind(found, "floor", leg=1)
    assert (floor.from_m, floor.to_m) == pytest.approx(
        (found.legs[1].from_m, found.legs[1].to_m), abs=1e-6
    )
    assert not scenes.of_kind(found, "not-assessed", leg=1)


def test_over_the_void_known_ground_beside_it_breaches(tmp_path: Path) -> None:
    """25 m up, in the middle of the two void cells 10 m from known ground: 26.9 m, a breach."""
    found = across(holed(tmp_path, (0, 0)), 0.0, height_m=25.0)
    (floor,) = scenes.of_kind(found, "floor", leg=1)
    assert floor.state is State.BREACH
    assert floor.to_m - floor.from_m == pytest.approx(400.0, abs=1e-6)
    # The height above ground, and with it the ceiling, is unknown over the two cells all the same.
    assert span(found) == pytest.approx((190.0, 210.0), abs=1e-4)
    assert found.verdict is State.BREACH


def test_a_breach_elsewhere_leaves_the_void_listed(tmp_path: Path) -> None:
    """The verdict is breach; the metres not assessed are still listed and counted."""
    ground = holed(tmp_path, (0, 0))
    found = scenes.fly(
        ground, [(-200, 0, 60), (200, 0, 60), (200, 100, 20), (100, 100, 20)], scenes.rules()
    )
    assert found.verdict is State.BREACH
    assert scenes.of_kind(found, "not-assessed", leg=1)
    assert found.legs[1].state is State.NOT_ASSESSED
    assert found.length_m - found.assessed_m == pytest.approx(116.0, abs=0.03)


def test_closest_point_ceiling_is_proven_by_known_ground(tmp_path: Path) -> None:
    """60 m up over a void known ground beside it is within 120 - 7 m: the ceiling holds."""
    rules = scenes.rules(floor_measure="vertical", ceiling_measure="closest-point")
    ground = holed(tmp_path, (0, 0))
    found = scenes.fly(ground, [(-200, 0, 60), (200, 0, 60)], rules)
    (missing,) = scenes.of_kind(found, "not-assessed", leg=1)
    assert not scenes.of_kind(found, "ceiling")
    # The floor straight down is what is missing; with the ceiling alone nothing would be.
    assert missing.to_m - missing.from_m == pytest.approx(20.0, abs=1e-3)


@pytest.mark.parametrize(
    ("height_m", "unproven_m"),
    [
        (60.0, 0.0),  # the rim is sqrt(100² + 60²) = 116.6 m away at most
        (100.0, 2 * (100.0 - math.sqrt(120.0**2 - 100.0**2))),
    ],
)
def test_closest_point_ceiling_over_a_wide_void(
    tmp_path: Path, height_m: float, unproven_m: float
) -> None:
    """Over a void 200 m wide the ceiling is proven where its rim is within 120 m, else unknown."""
    holes = [(float(e), float(n)) for e in range(-90, 91, 10) for n in range(-200, 201, 10)]
    ground = Ground(holed(tmp_path, *holes))
    route = scenes.route([(-200, 0, height_m), (200, 0, height_m)])
    flight = fly(route, [height_m, height_m], spot_ground_m=0.0, step_m=1.0)
    wanted = Wanted(
        floor_m=1.0, floor_margin_m=18.0, ceiling_m=120.0, ceiling_margin_m=7.0,
        closest_point_ceiling=True,
    )  # fmt: skip
    beneath = Beneath(ground=ground, launch_elevation_m=100.0)
    curve = flight.legs[0]
    margins = Margins.flat(curve.x_m.size, floor_m=18.0, ceiling_m=7.0)
    points = measure(curve, beneath, wanted, margins)
    ceiling = judge(points, wanted, beneath).ceiling
    length = np.diff(points.along_m)
    assert length[ceiling == NOT_ASSESSED].sum() == pytest.approx(unproven_m, abs=0.03)
    assert State.BREACH not in {SEVERITY[code] for code in ceiling}


# ------------------------------------------------------------ launch


def test_launch_in_a_void_is_not_assessed(tmp_path: Path) -> None:
    """Without a launch elevation no height means anything: no metre is assessed."""
    found = across(holed(tmp_path, (-200, 0)))
    assert found.verdict is State.NOT_ASSESSED
    assert found.assessed_m == 0.0
    assert math.isnan(found.launch.elevation_m)
    assert found.launch.elevation_source == "not known"
    assert {leg.state for leg in found.legs} == {State.NOT_ASSESSED}
    for leg in found.legs:
        assert leg.above_ground_min is None
        assert leg.above_ground_max is None
        assert leg.clearance_min is None
        assert leg.clearance_max is None
    samples = found.samples
    assert np.isnan(samples.above_ground_m).all()
    assert np.isnan(samples.clearance_m).all()
    assert (samples.state == NOT_ASSESSED).all()
    assert "launch.elevation_m" in found.findings[0].message


def test_launch_in_a_void_with_its_elevation_stated(tmp_path: Path) -> None:
    """A surveyed elevation stands in: the far half of the leg is judged as over known ground."""
    ground = holed(tmp_path, (-200, 0))
    start = scenes.launch(-200, 0, elevation_m=100.0, elevation_accuracy_m=0.1)
    found = scenes.fly(ground, [(-200, 0, 60), (200, 0, 60)], scenes.rules(), start=start)
    assert found.launch.elevation_source == "stated in the route"
    assert span(found) == pytest.approx((0.0, 10 + REACH_M), abs=0.02)
    assert found.samples.above_ground_m[-1] == pytest.approx(60.0, abs=1e-6)
    assert found.legs[0].state is State.NOT_ASSESSED


def test_stated_elevation_fifty_metres_off_is_refused(tmp_path: Path) -> None:
    """The classic: an ellipsoidal height given for a model on the geoid."""
    start = scenes.launch(-200, 0, elevation_m=150.0, elevation_accuracy_m=0.5)
    route = scenes.route([(-200, 0, 60), (200, 0, 60)], start=start)
    with pytest.raises(RefusedTerrain) as refused:
        check(route, ground=holed(tmp_path))
    message = str(refused.value)
    for words in ("150", "100.0 m", "+50.0 m", "10 m", "vertical datum"):
        assert words in message
    assert len(refused.value.faults) == 1


@pytest.mark.parametrize(
    ("off_m", "accuracy_m", "accepted"),
    [
        (9.99, 0.1, True),
        (10.01, 0.1, False),
        (-9.99, 0.1, True),
        (-10.01, 0.1, False),
        (14.9, 5.0, True),  # three times the accuracy
        (15.1, 5.0, False),
        (-14.9, 5.0, True),
    ],
)
def test_how_far_a_stated_elevation_may_be_off(
    tmp_path: Path, off_m: float, accuracy_m: float, accepted: bool
) -> None:
    """Up to the larger of 10 m and three times the stated accuracy, either way."""
    start = scenes.launch(-200, 0, elevation_m=100.0 + off_m, elevation_accuracy_m=accuracy_m)
    route = scenes.route([(-200, 0, 80), (200, 0, 80)], start=start)
    if accepted:
        found = check(route, ground=holed(tmp_path))
        assert found.samples.above_ground_m[-1] == pytest.approx(
            80.0 + float(weight(400.0, accuracy_m, model=TENS)) * off_m, abs=1e-5
        )
    else:
        with pytest.raises(RefusedTerrain, match="more than"):
            check(route, ground=holed(tmp_path))


def test_heights_above_ground_at_a_waypoint_over_a_void(tmp_path: Path) -> None:
    """A height above unknown ground is unknown: both legs of that waypoint are not assessed."""
    found = scenes.fly(
        holed(tmp_path, (0, 0)), [(-200, 0, 60), (0, 0, 60), (200, 100, 60), (200, 150, 60)],
        scenes.rules(), heights="ground",
    )  # fmt: skip
    assert [leg.state for leg in found.legs[1:4]] == [
        State.NOT_ASSESSED, State.NOT_ASSESSED, State.WITHIN,
    ]  # fmt: skip
    assert found.legs[1].above_ground_max is None
    answer = as_dict(found)
    assert answer["legs"][1]["typed_end_m"] is None
    json.dumps(answer, allow_nan=False)


# ------------------------------------------------------------ the columns


def test_a_void_in_the_take_off_column(tmp_path: Path) -> None:
    """A missing post 10 m from launch: the column is not assessed, and says so."""
    found = scenes.fly(holed(tmp_path, (-190, 0)), [(-200, 0, 60), (-200, 150, 60)], scenes.rules())
    assert found.legs[0].state is State.NOT_ASSESSED
    assert scenes.of_kind(found, "not-assessed", leg=0)


def test_a_void_just_beyond_the_take_off_column(tmp_path: Path) -> None:
    """1 m cells: missing ground from 17 m on leaves a column of 15 m whole."""
    holes = [(-200.0 + 18.0, 0.0)]  # its cells begin a metre nearer
    found = scenes.fly(
        holed(tmp_path, *holes, cell_m=1.0), [(-200, 0, 60), (-200, 60, 60)], scenes.rules()
    )
    assert found.legs[0].state is State.WITHIN
    nearer = [(-200.0 + 15.0, 0.0)]
    found = scenes.fly(
        holed(tmp_path, *nearer, cell_m=1.0, name="nearer.tif"),
        [(-200, 0, 60), (-200, 60, 60)], scenes.rules(),
    )  # fmt: skip
    assert found.legs[0].state is State.NOT_ASSESSED

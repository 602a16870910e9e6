"""The metres themselves: in order, complete, and each row as bad as what follows it."""

from __future__ import annotations

import json
import math
from pathlib import Path

import numpy as np
import pytest

from terrain_guard.assessment import Assessment
from terrain_guard.plan.route import Turns, WayHome
from terrain_guard.report.assessment_json import as_dict
from terrain_guard.states import SEVERITY, State, worst
from tests import reference
from tests.checks import scenes
from tests.checks.scenes import Floats

BOX = (-150.0, -150.0, 450.0, 250.0)


def hilly(east: Floats, north: Floats) -> Floats:
    """Return two rounded hills and a hollow."""
    hills = 60 * np.exp(-((east - 120) ** 2 + north**2) / 900)
    hills += 45 * np.exp(-((east - 250) ** 2 + (north - 90) ** 2) / 600)
    return 200.0 + hills - 70 * np.exp(-((east - 250) ** 2 + north**2) / 400)


def hilly_flight(folder: Path, *, hole: bool = False, turns: str = "unstated") -> Assessment:
    """Fly round the hills: every state occurs."""

    def surface(east: Floats, north: Floats) -> Floats:
        out = hilly(east, north)
        if hole:
            out[(east == 60) & (north == 140)] = math.nan
        return out

    ground = scenes.model(folder, surface, box_m=BOX, cell_m=2.0)
    return scenes.fly(
        ground, [(0, 0, 80), (250, 0, 80), (250, 140, 70), (0, 140, 60)], scenes.rules(),
        turns=Turns(kind=turns, turn_anticipation_m=15.0), after="launch",
        way_home=WayHome(path="slanting"),
    )  # fmt: skip


def test_along_starts_at_zero_and_runs_on(tmp_path: Path) -> None:
    """Metres and seconds start at 0, never go back, and never jump by more than a metre."""
    found = hilly_flight(tmp_path)
    samples = found.samples
    assert samples.along_m[0] == 0.0
    assert samples.time_s[0] == 0.0
    steps = np.diff(samples.along_m)
    assert (steps >= 0).all()
    assert steps.max() <= 1.0 + 1e-6
    assert (np.diff(samples.time_s) >= 0).all()
    assert (np.diff(samples.leg) >= 0).all()
    assert samples.along_m[-1] == pytest.approx(found.length_m, abs=1e-9)


def test_arrays_are_of_one_length_and_read_only(tmp_path: Path) -> None:
    """Nobody changes an answer after it was given."""
    samples = hilly_flight(tmp_path).samples
    arrays = [getattr(samples, name) for name in samples.__slots__]
    assert len({array.shape for array in arrays}) == 1
    for array in arrays:
        with pytest.raises(ValueError, match="read-only"):
            array[0] = array[1]


def test_legs_join_end_to_end(tmp_path: Path) -> None:
    """Each leg begins where the one before ended; all of them make the whole."""
    found = hilly_flight(tmp_path)
    assert found.legs[0].from_m == 0.0
    for one, other in zip(found.legs, found.legs[1:], strict=False):
        assert other.from_m == pytest.approx(one.to_m, abs=1e-9)
        assert other.start == one.end
    assert found.legs[-1].to_m == pytest.approx(found.length_m, abs=1e-9)
    assert [leg.leg for leg in found.legs] == list(range(5))


def test_metres_are_three_dimensional(tmp_path: Path) -> None:
    """80 m up, 300 m over while climbing 40 m, and down 120 m to flat ground."""
    ground = scenes.model(tmp_path, lambda e, n: 100.0 + 0 * e, box_m=BOX, cell_m=2.0)
    found = scenes.fly(
        ground, [(0, 0, 80), (300, 0, 120)], scenes.rules(ceiling_m=200.0), home=(300, 0),
        after="launch",
    )  # fmt: skip
    assert [leg.length_m for leg in found.legs] == pytest.approx(
        [80.0, math.hypot(300.0, 40.0), 120.0], abs=1e-4
    )
    assert found.legs[1].typed_length_m == pytest.approx(300.0, abs=1e-4)


def test_ground_under_every_sample_is_that_of_scipy(tmp_path: Path) -> None:
    """At 900 samples, to a micrometre; height above ground is the difference."""
    found = hilly_flight(tmp_path)
    terrain = reference.read_terrain(tmp_path / "ground.tif")
    samples = found.samples
    expected = reference.scipy_ground_m(terrain, samples.lon_deg, samples.lat_deg)
    assert samples.along_m.size > 900
    assert np.abs(samples.ground_elevation_m - expected).max() < 1e-6
    elevation = found.launch.elevation_m + samples.above_launch_m
    assert samples.above_ground_m == pytest.approx(elevation - expected, abs=1e-6)


@pytest.mark.parametrize("hole", [False, True])
def test_a_row_is_as_bad_as_what_it_covers(tmp_path: Path, hole: bool) -> None:
    """Every finding marks every row it touches, and every bad row is touched by a finding."""
    found = hilly_flight(tmp_path, hole=hole)
    samples = found.samples
    starts, ends = samples.along_m[:-1], samples.along_m[1:]
    expected = np.zeros(starts.size, dtype=int)
    for finding in found.findings:
        touched = (finding.from_m < ends - 1e-5) & (finding.to_m > starts + 1e-5)
        np.maximum(expected, SEVERITY.index(finding.state) * touched, out=expected)
    longer = ends - starts > 1e-4
    assert (samples.state[:-1] == expected)[longer].all()
    seen = {SEVERITY[code] for code in samples.state}
    assert seen >= {State.WITHIN, State.TIGHT, State.BREACH}
    assert (State.NOT_ASSESSED in seen) is hole


@pytest.mark.parametrize("hole", [False, True])
def test_verdict_is_the_worst_of_everything(tmp_path: Path, hole: bool) -> None:
    """Verdict, legs, findings and rows tell one story."""
    found = hilly_flight(tmp_path, hole=hole)
    assert found.verdict is worst(leg.state for leg in found.legs)
    assert found.verdict is worst(finding.state for finding in found.findings)
    assert found.verdict is SEVERITY[samples_worst(found)]
    for leg in found.legs:
        mine = [f.state for f in found.findings if f.leg == leg.leg] or [State.WITHIN]
        assert leg.state is worst(mine)
        for finding in (f for f in found.findings if f.leg == leg.leg):
            assert leg.from_m - 1e-6 <= finding.from_m <= finding.to_m <= leg.to_m + 1e-6
            assert finding.from_m - 1e-6 <= finding.at_m <= finding.to_m + 1e-6


def samples_worst(found: Assessment) -> int:
    """Return the worst code of all rows."""
    return int(found.samples.state.max())


def test_json_says_the_same(tmp_path: Path) -> None:
    """The written verdict is the worst of the written legs; the numbers are those of the object."""
    found = hilly_flight(tmp_path, hole=True)
    answer = json.loads(json.dumps(as_dict(found), allow_nan=False))
    order = [str(state) for state in SEVERITY]
    assert answer["verdict"] == max((leg["state"] for leg in answer["legs"]), key=order.index)
    assert answer["assessed_m"] == found.assessed_m
    assert answer["length_m"] == found.length_m
    assert len(answer["findings"]) == len(found.findings)
    assert {f["state"] for f in answer["findings"]} <= set(order)


def test_assessed_metres(tmp_path: Path) -> None:
    """All of it without a hole; with one in a leg 2 × (2 + 30 + 7) m less, on a slope of 1 in 25.

    The void cells reach 2 m on either side of the post, floor and margin 37 m farther.
    """
    whole = hilly_flight(tmp_path, turns="stop")
    assert whole.assessed_m == whole.length_m
    holed = hilly_flight(tmp_path, hole=True, turns="stop")
    missing_m = 78.0 * math.hypot(1.0, 10.0 / 250.0)
    assert holed.length_m - holed.assessed_m == pytest.approx(missing_m, abs=0.02)


def test_worst_of_all_curves_stands_in_the_row(tmp_path: Path) -> None:
    """Where the stop alone meets a spur at the corner, the rows of the rounded reference say so."""

    def spike(east: Floats, north: Floats) -> Floats:
        return 100.0 + np.where((np.abs(east - 100) <= 1) & (np.abs(north) <= 1), 45.0, 0.0)

    ground = scenes.model(tmp_path, spike, box_m=BOX)
    found = scenes.fly(
        ground, [(0, 0, 60), (100, 0, 60), (100, 100, 60)],
        scenes.rules(floor_measure="vertical"),
        turns=Turns(kind="unstated", turn_anticipation_m=20.0),
    )  # fmt: skip
    assert found.curves[0].startswith("fly-by")
    samples = found.samples
    assert np.nanmin(samples.above_ground_m[samples.leg > 0]) > 59.0
    assert SEVERITY[samples_worst(found)] is State.BREACH


def test_a_stop_has_the_state_of_its_place(tmp_path: Path) -> None:
    """Waiting at a last point that is too low: the row of no length is no better."""
    ground = scenes.model(tmp_path, lambda e, n: 100.0 + 0 * e, box_m=BOX, cell_m=2.0)
    found = scenes.fly(ground, [(0, 0, 20), (100, 0, 20)], scenes.rules())
    assert found.legs[2].length_m == 0.0
    assert found.legs[2].state is State.BREACH
    assert (found.samples.state[found.samples.leg >= 1] == SEVERITY.index(State.BREACH)).all()
    assert found.samples.state[-1] == SEVERITY.index(State.BREACH)

"""Margins that vary along a curve: where tight begins and ends, by closed form and by force.

The margins are made by hand, one at each sample and linear between them, so that no error
budget is in the answer. Lines are flown level from west to east::

    A + m(s) = ceiling      tight under a ceiling straight up begins where this holds
    (A - m(s)) cos = floor  so over a plane that leans, for the floor
"""

from __future__ import annotations

import math
from collections.abc import Callable
from dataclasses import dataclass
from pathlib import Path
from tempfile import TemporaryDirectory
from typing import Any, Final

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy.spatial import cKDTree

from terrain_guard.checks.beneath import Beneath
from terrain_guard.checks.judge import BREACH, NOT_ASSESSED, TIGHT, WITHIN, Judgement, judge
from terrain_guard.checks.legs import LegExtremes, leg_extremes
from terrain_guard.checks.margins import Margins
from terrain_guard.checks.measure import Points, measure
from terrain_guard.checks.reference import Ruler
from terrain_guard.checks.stretches import Judged
from terrain_guard.checks.wanted import Wanted
from terrain_guard.ground.model import Ground
from terrain_guard.path.curve import Curve
from terrain_guard.path.flight import fly
from tests.checks import scenes

Floats = scenes.Floats
Along = Callable[[Floats], Floats]
"""Margins from metres along the line."""

GROUND_M: Final = 100.0
LENGTH_M: Final = 200.0
CENTIMETRE: Final = 0.01
EXACT: Final = 1e-6


def level(east: Floats, north: Floats) -> Floats:
    """Return level ground."""
    return GROUND_M + 0 * east


def none(metres: Floats) -> Floats:
    """Return no margin at all."""
    return 0 * metres


def rising(first_m: float, per_m: float) -> Along:
    """Return a margin that grows by so much a metre."""
    return lambda metres: first_m + per_m * metres


@dataclass(frozen=True, kw_only=True, eq=False)
class Flown:
    """One line, measured and judged with margins made by hand."""

    curve: Curve
    beneath: Beneath
    wanted: Wanted
    points: Points
    judgement: Judgement

    @property
    def metres(self) -> Floats:
        """Metres along the line at the points."""
        return self.points.along_m - self.curve.along_m[0]

    def stretches(self, limit: str, code: int) -> list[tuple[float, float]]:
        """Return from where to where a limit has a state."""
        here = np.append(np.append(False, getattr(self.judgement, limit) == code), False)
        begin, end = (np.flatnonzero(np.diff(here.astype(int)) == way) for way in (1, -1))
        return [(float(self.metres[a]), float(self.metres[b]))
                for a, b in zip(begin, end, strict=True)]  # fmt: skip

    def code_at(self, limit: str, metres: Floats) -> Any:
        """Return the state at places along the line."""
        chord = np.searchsorted(self.metres, metres, side="right") - 1
        codes = getattr(self.judgement, limit)
        return codes[np.clip(chord, 0, codes.size - 1)]

    @property
    def extremes(self) -> LegExtremes:
        """The row of the leg's table."""
        one = Judged(
            curve=self.curve, beneath=self.beneath, wanted=self.wanted, points=self.points,
            judgement=self.judgement, along=None,  # type: ignore[arg-type]  # plays no part here
        )  # fmt: skip
        whole = Ruler(start_m=np.zeros(2), end_m=np.array([0.0, LENGTH_M]), start_s=np.zeros(2))
        return leg_extremes([one], whole, 1)


def line(
    above_m: float, *, north_m: float = 0.0, from_m: float = 0.0, to_m: float = LENGTH_M
) -> Curve:
    """Return a level line from west to east, so far above a launch at `GROUND_M`."""
    route = scenes.route([(from_m, north_m, above_m), (to_m, north_m, above_m)])
    flight = fly(route, [above_m, above_m], spot_ground_m=0.0, step_m=1.0)
    (found,) = (curve for curve in flight.legs if curve.legs == [1] or tuple(curve.legs) == (1,))
    return found


def flown(
    ground: Path,
    curve: Curve,
    *,
    floor: Along | Floats = none,
    ceiling: Along | Floats = none,
    floor_m: float = 0.5,
    ceiling_m: float = 2000.0,
    launch_ground_m: float = GROUND_M,
    **wanted: Any,
) -> Flown:
    """Measure and judge a line with margins by metres along it, or given at its samples."""
    metres = curve.along_m - curve.along_m[0]
    floor, ceiling = (side(metres) if callable(side) else side for side in (floor, ceiling))
    margins = Margins(floor_m=floor, ceiling_m=ceiling)
    limits = margins.at_most_on(
        Wanted(
            floor_m=floor_m, floor_margin_m=0.0, ceiling_m=ceiling_m, ceiling_margin_m=0.0,
            **wanted,
        )
    )  # fmt: skip
    beneath = Beneath(ground=Ground(ground), launch_elevation_m=launch_ground_m)
    points = measure(curve, beneath, limits, margins)
    return Flown(
        curve=curve, beneath=beneath, wanted=limits, points=points,
        judgement=judge(points, limits, beneath),
    )  # fmt: skip


# ------------------------------------------------------------ where tight begins and ends


@pytest.mark.parametrize("per_m", [0.05, 0.013, 1.7])
def test_under_a_ceiling_tight_begins_where_the_margin_reaches_it(
    tmp_path: Path, per_m: float
) -> None:
    """60 m up, margin 4 m and growing: 60 + 4 + g s = 66.05 where s = 2.05 / g, exactly."""
    ground = scenes.model(tmp_path, level)
    found = flown(ground, line(60.0), ceiling=rising(4.0, per_m), ceiling_m=66.05)
    ((begin, end),) = found.stretches("ceiling", TIGHT)
    assert begin == pytest.approx(2.05 / per_m, abs=1e-4)
    assert end == pytest.approx(LENGTH_M, abs=1e-4)
    assert found.stretches("ceiling", BREACH) == []


def test_a_falling_margin_ends_it(tmp_path: Path) -> None:
    """60 + 10 - 0.05 s = 66 where s = 80 m."""
    ground = scenes.model(tmp_path, level)
    found = flown(ground, line(60.0), ceiling=rising(10.0, -0.05), ceiling_m=66.0)
    ((begin, end),) = found.stretches("ceiling", TIGHT)
    assert (begin, end) == pytest.approx((0.0, 80.0), abs=1e-4)


def test_a_peak_of_the_margin_between_two_samples(tmp_path: Path) -> None:
    """A margin of 8 m at one sample, 5 m at all others: tight over 2/3 m on either side.

    60 + 8 - 3 d = 66 where d = 2/3 m.
    """
    ground = scenes.model(tmp_path, level)
    curve = line(60.0)
    margin = np.full(curve.x_m.size, 5.0)
    margin[77] = 8.0
    found = flown(ground, curve, ceiling=margin, ceiling_m=66.0)
    here, step = float(curve.along_m[77] - curve.along_m[0]), float(np.diff(curve.along_m)[77])
    ((begin, end),) = found.stretches("ceiling", TIGHT)
    assert (begin, end) == pytest.approx((here - 2 / 3 * step, here + 2 / 3 * step), abs=1e-4)


def test_over_a_twisted_cell_both_bend(tmp_path: Path) -> None:
    """Ground z = e n / c flown along e = n: above it A - t²/2c, with g t of margin on top.

    The sum is greatest at t = c g, by c g² / 2 more than A + m0: tight within sqrt(2 c d) of
    there if the ceiling lies d below that. A bilinear patch holds e n exactly.
    """
    c, g, d = 80.0, 0.5, 0.4
    ground = scenes.model(
        tmp_path, lambda e, n: GROUND_M + e * n / c, cell_m=10.0, box_m=(-200, -200, 300, 300)
    )
    route = scenes.route([(0, 0, 60.0), (100 / math.sqrt(2), 100 / math.sqrt(2), 60.0)])
    flight = fly(route, [60.0, 60.0], spot_ground_m=0.0, step_m=1.0)
    peak_m = 60.0 + 3.0 + c * g**2 / 2
    found = flown(ground, flight.legs[0], ceiling=rising(3.0, g), ceiling_m=peak_m - d)
    ((begin, end),) = found.stretches("ceiling", TIGHT)
    half_m = math.sqrt(2 * c * d)
    assert (begin, end) == pytest.approx((c * g - half_m, c * g + half_m), abs=1e-3)
    highest = found.extremes.above_ground_max
    assert highest is not None
    assert highest.assured_m == pytest.approx(peak_m, abs=1e-5)


@pytest.mark.parametrize("slope_deg", [0.0, 20.0, 40.0])
def test_over_a_plane_the_floor_is_tight_where_the_lowered_point_is_too_near(
    tmp_path: Path, slope_deg: float
) -> None:
    """Along a hillside: (A - 5 - 0.1 s) cos = 30 where s = (A - 5 - 30 / cos) / 0.1."""
    cos, above_m = math.cos(math.radians(slope_deg)), 48.0
    ground = scenes.model(tmp_path, lambda e, n: GROUND_M + n * math.tan(math.radians(slope_deg)))
    found = flown(ground, line(above_m), floor=rising(5.0, 0.1), floor_m=30.0)
    ((begin, end),) = found.stretches("floor", TIGHT)
    assert begin == pytest.approx((above_m - 5.0 - 30.0 / cos) / 0.1, abs=2 * CENTIMETRE)
    assert end == pytest.approx(LENGTH_M, abs=EXACT)
    least = found.extremes.clearance_min
    assert least is not None
    assert least.nominal_m == pytest.approx(above_m * cos, abs=CENTIMETRE)
    assert least.assured_m == pytest.approx((above_m - 25.0) * cos, abs=CENTIMETRE)


def test_up_a_slope_the_margin_moves_the_point_straight_down(tmp_path: Path) -> None:
    """Ground rises 0.2 a metre: (60 - 0.2 s - m) cos = 30, the margin falling 0.05 a metre.

    With m = 12 - 0.05 s that is 48 - 0.15 s = 30 / cos.
    """
    cos = 1 / math.hypot(1.0, 0.2)
    ground = scenes.model(tmp_path, lambda e, n: GROUND_M + 0.2 * e)
    found = flown(ground, line(60.0, to_m=130.0), floor=rising(12.0, -0.05), floor_m=30.0)
    ((begin, _),) = found.stretches("floor", TIGHT)
    assert begin == pytest.approx((48.0 - 30.0 / cos) / 0.15, abs=2 * CENTIMETRE)


@pytest.mark.parametrize("slope_deg", [0.0, 30.0])
def test_a_closest_point_ceiling(tmp_path: Path, slope_deg: float) -> None:
    """Along a hillside: (A + 3 + 0.02 s) cos = C where s = (C / cos - A - 3) / 0.02."""
    cos, above_m, begins_m = math.cos(math.radians(slope_deg)), 40.0, 120.0
    ceiling_m = (above_m + 3.0 + 0.02 * begins_m) * cos
    ground = scenes.model(tmp_path, lambda e, n: GROUND_M + n * math.tan(math.radians(slope_deg)))
    found = flown(
        ground, line(above_m), ceiling=rising(3.0, 0.02), ceiling_m=ceiling_m,
        closest_point_ceiling=True,
    )  # fmt: skip
    ((begin, end),) = found.stretches("ceiling", TIGHT)
    # A centimetre of clearance is 0.5 m of a margin that grows so slowly; crossings are
    # sought along the line, to a centimetre of it.
    assert begin == pytest.approx(begins_m, abs=2 * CENTIMETRE)
    assert end == pytest.approx(LENGTH_M, abs=EXACT)


def test_a_ceiling_above_sea_level(tmp_path: Path) -> None:
    """160 m above the sea, 2 m of doubt, margin 3 + 0.05 s: 170 m is reached at s = 100 m."""
    ground = scenes.model(tmp_path, level)
    found = flown(
        ground, line(60.0), ceiling=rising(3.0, 0.05), ceiling_m=math.inf,
        sea_level_ceiling_m=170.0, sea_level_doubt_m=2.0,
    )  # fmt: skip
    ((begin, end),) = found.stretches("sea_level", TIGHT)
    assert (begin, end) == pytest.approx((100.0, LENGTH_M), abs=1e-4)


def test_how_far_a_void_reaches_goes_with_the_margin(tmp_path: Path) -> None:
    """A void counts within floor + margin of itself: 10 + 5 m before it, 10 + 15 m behind it.

    The margin steps from 5 to 15 m over the void, whose cells hide 2 m of ground.
    """
    ground = scenes.model(
        tmp_path,
        lambda e, n: np.where(np.hypot(e - 100, n) < 0.5, np.nan, GROUND_M),
        nodata=-9999.0,
    )
    curve = line(60.0)
    metres = curve.along_m - curve.along_m[0]
    found = flown(ground, curve, floor=np.where(metres < 100.0, 5.0, 15.0), floor_m=10.0)
    ((begin, end),) = found.stretches("floor", NOT_ASSESSED)
    assert (begin, end) == pytest.approx((99.0 - 15.0, 101.0 + 25.0), abs=2 * CENTIMETRE)


# ------------------------------------------------------------ extremes by leg


def test_extremes_with_margins_need_not_stand_where_the_others_do(tmp_path: Path) -> None:
    """A ridge under one end, a wide margin at the other: each extreme has its own place."""
    ground = scenes.model(tmp_path, lambda e, n: GROUND_M + 0.1 * e)  # up to 20 m
    found = flown(
        ground, line(60.0), floor=rising(40.0, -0.3), ceiling=rising(1.0, 0.3)
    ).extremes  # fmt: skip
    above, below = found.above_ground_max, found.above_ground_min
    assert above is not None
    assert below is not None
    assert (above.nominal_m, above.along_m) == pytest.approx((60.0, 0.0), abs=EXACT)
    assert above.assured_m == pytest.approx(60.0 - 20.0 + 61.0, abs=EXACT)
    assert (below.nominal_m, below.along_m) == pytest.approx((40.0, LENGTH_M), abs=1e-5)
    assert below.assured_m == pytest.approx(60.0 - 40.0, abs=EXACT)
    cos, least = 1 / math.hypot(1.0, 0.1), found.clearance_min
    assert least is not None
    assert least.nominal_m == pytest.approx(40.0 * cos, abs=CENTIMETRE)
    assert least.assured_m == pytest.approx(20.0 * cos, abs=CENTIMETRE)


# ------------------------------------------------------------ not known


@pytest.mark.parametrize("measure_of", ["vertical", "closest-point"])
def test_where_no_margin_is_known_nothing_is_within(tmp_path: Path, measure_of: str) -> None:
    """From 80 to 120 m none would do, however much room there is; beyond it all is within."""
    ground = scenes.model(tmp_path, level)
    curve = line(60.0)
    metres = curve.along_m - curve.along_m[0]
    margin = np.where((metres > 80.5) & (metres < 119.5), np.nan, 1.0)
    found = flown(
        ground, curve, floor=margin, ceiling=margin, floor_m=10.0, ceiling_m=200.0,
        closest_point_ceiling=measure_of == "closest-point",
    )  # fmt: skip
    unknown = np.linspace(80.02, 119.98, 999)  # between the last known sample and the next
    known = np.concatenate((np.linspace(0.1, 79.98, 500), np.linspace(120.02, 199.9, 500)))
    tight = {"floor": TIGHT, "ceiling": TIGHT if measure_of == "vertical" else None}
    for limit, code in tight.items():
        assert (found.code_at(limit, known) == WITHIN).all(), limit
        codes = found.code_at(limit, unknown)
        assert (codes != WITHIN).all(), limit
        assert code is None or (codes == code).all(), limit


def test_one_metre_without_a_margin_leaves_the_leg_without_one(tmp_path: Path) -> None:
    """What is known of the other metres does not stand for the leg; as computed it stays."""
    curve = line(60.0)
    margin = np.full(curve.x_m.size, 1.0)
    margin[50] = np.nan
    found = flown(scenes.model(tmp_path, level), curve, floor=margin, ceiling=margin).extremes
    for extreme in (
        found.above_ground_min, found.above_ground_max, found.clearance_min, found.clearance_max
    ):  # fmt: skip
        assert extreme is not None
        assert extreme.nominal_m == pytest.approx(60.0, abs=CENTIMETRE)
        assert math.isnan(extreme.assured_m)


def test_where_no_margin_is_known_a_breach_stays_one(tmp_path: Path) -> None:
    """20 m up a floor of 30 m is broken, whatever the margin."""
    ground = scenes.model(tmp_path, level)
    curve = line(20.0)
    nothing = np.full(curve.x_m.size, np.nan)
    found = flown(ground, curve, floor=nothing, ceiling=nothing, floor_m=30.0, ceiling_m=40.0)
    assert (found.judgement.floor == BREACH).all()
    assert (found.judgement.ceiling == TIGHT).all()


# ------------------------------------------------------------ properties


ROUGH: Final = np.random.default_rng(20240611).uniform(0.0, 9.0, (61, 61))
"""Posts 10 m apart, from 300 m west and north of the spot to 300 m east and south."""


def rough(folder: Path) -> Path:
    """Write the rough ground."""
    return scenes.grid(folder, ROUGH, cell_m=10.0, corner_m=(-300.0, 300.0))


def over_rough(ground: Path, curve: Curve, floor: Floats, ceiling: Floats, **how: Any) -> Flown:
    """Fly over the rough ground; its launch stands at 0 m."""
    return flown(ground, curve, floor=floor, ceiling=ceiling, launch_ground_m=0.0, **how)


def test_the_same_everywhere_is_the_same_as_fixed(tmp_path: Path) -> None:
    """What rules that fix both margins find end to end, hand-made arrays find, to the bit."""
    ground = rough(tmp_path)
    limits = scenes.rules(
        floor_m=14.0, ceiling_m=32.0, ceiling_measure="closest-point",
        fixed_floor_margin_m=4.5, fixed_ceiling_margin_m=2.5,
    )  # fmt: skip
    start = scenes.launch(0.0, 3.0)
    points = [(0.0, 3.0, 25.0), (LENGTH_M, 3.0, 25.0)]
    whole = scenes.fly(ground, points, limits, start=start)
    curve = line(25.0, north_m=3.0)
    size = curve.x_m.size
    by_hand = flown(
        ground, curve, floor=np.full(size, 4.5), ceiling=np.full(size, 2.5), floor_m=14.0,
        ceiling_m=32.0, closest_point_ceiling=True, launch_ground_m=whole.launch.elevation_m,
    ).extremes  # fmt: skip
    row = whole.legs[1]
    for name in ("above_ground_min", "above_ground_max", "clearance_min", "clearance_max"):
        mine, theirs = getattr(by_hand, name), getattr(row, name)
        assert (mine.nominal_m, mine.assured_m) == (theirs.nominal_m, theirs.assured_m), name


PART = st.integers(0, 40).map(float)
LESS = 0.02
"""Ends of stretches are known to a centimetre on either line."""


@settings(max_examples=25, deadline=None)
@given(
    base=st.lists(PART, min_size=5, max_size=5),
    more=st.lists(PART, min_size=5, max_size=5),
    closest=st.booleans(),
)
def test_a_larger_margin_never_helps(base: list[float], more: list[float], closest: bool) -> None:
    """What is not within stays so with more margin anywhere; what is broken stays as it is."""
    curve = line(25.0, north_m=3.0, to_m=60.0)
    metres = curve.along_m - curve.along_m[0]
    bends = np.linspace(0.0, 60.0, 5)
    less = np.interp(metres, bends, np.array(base) / 4)
    larger = less + np.interp(metres, bends, np.array(more) / 4)
    places = np.arange(LESS, 60.0 - LESS, 0.01)
    with TemporaryDirectory() as folder:
        ground = rough(Path(folder))
        small, large = (
            over_rough(
                ground, curve, m, m, floor_m=14.0, ceiling_m=32.0, closest_point_ceiling=closest
            )
            for m in (less, larger)
        )
    for limit in ("floor", "ceiling"):
        sure = np.logical_and.reduce(
            [small.code_at(limit, places + off) != WITHIN for off in (-LESS, 0.0, LESS)]
        )
        assert (large.code_at(limit, places[sure]) != WITHIN).all(), limit
        one, other = (of.stretches(limit, BREACH) for of in (small, large))
        assert np.array(one) == pytest.approx(np.array(other), abs=LESS)


# ------------------------------------------------------------ by force


FINE_M: Final = 0.125
REACH_M: Final = 45.0
JUMP_M: Final = 7.0
CROSSING_M: Final = CENTIMETRE * (1.0 + JUMP_M)
"""So much a clearance changes over a centimetre, the length to which crossings are known, of a
line whose margin grows by `JUMP_M` a metre."""
CLOUD_M: Final = 0.001
"""How far off a distance to the cloud may be, always too far: between two of its points half
their diagonal, squared, over twice the distance, that is 0.3 mm at 14 m."""


def cloud(west_m: float, east_m: float, north_m: float) -> Floats:
    """Return points of the bilinear ground, close together; written out for this test."""
    east = np.arange(west_m - REACH_M, east_m + REACH_M + FINE_M, FINE_M)
    north = np.arange(north_m - REACH_M, north_m + REACH_M + FINE_M, FINE_M)
    e, n = (axis.ravel() for axis in np.meshgrid(east, north))
    column, row = (e + 300.0) / 10.0, (300.0 - n) / 10.0
    i, j = np.floor(row).astype(int), np.floor(column).astype(int)
    v, u = row - i, column - j
    up = (ROUGH[i, j] * (1 - u) + ROUGH[i, j + 1] * u) * (1 - v) + (
        ROUGH[i + 1, j] * (1 - u) + ROUGH[i + 1, j + 1] * u
    ) * v
    return np.stack((e, n, up), axis=1)


@pytest.mark.parametrize("seed", [1, 2, 3])
def test_every_five_millimetres_by_force(tmp_path: Path, seed: int) -> None:
    """Over rough ground, with margins that jump about: floor and closest-point ceiling.

    The distance to a cloud of points of the ground, by SciPy's k-d tree, of the line moved
    down or up by the margin.
    """
    random = np.random.default_rng(seed)
    curve = line(25.0, north_m=3.0, to_m=60.0)
    floor, ceiling = random.uniform(2.0, 2.0 + JUMP_M, (2, curve.x_m.size))
    found = over_rough(
        rough(tmp_path), curve, floor, ceiling, floor_m=14.0, ceiling_m=27.0,
        closest_point_ceiling=True,
    )  # fmt: skip
    metres = np.arange(0.0025, 60.0, 0.005)
    samples = curve.along_m - curve.along_m[0]
    tree = cKDTree(cloud(0.0, 60.0, 3.0))
    for limit, margin, limit_m in (("floor", -floor, 14.0), ("ceiling", ceiling, 27.0)):
        up = 25.0 + np.interp(metres, samples, margin)
        moved = np.stack((metres, np.full_like(metres, 3.0), up), axis=1)
        room = tree.query(moved)[0] - limit_m
        room = room if limit == "floor" else -room
        within = found.code_at(limit, metres) == WITHIN
        assert (room[within] > -CLOUD_M).all(), limit  # never called within where it is not
        assert within[room > CROSSING_M].all(), limit
        assert within.sum() > 200, limit  # both ways, or nothing was proved
        assert (~within).sum() > 200, limit

"""Clearance against closed forms of plane, cone, valley, dome, trough and cliff.

Sources: plane geometry, worked beside each case. Posts stand 1 m apart, so a
centimetre is allowed, except at cliffs, whose face is smeared over one cell.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from pathlib import Path

import numpy as np
import pytest
from rasterio.transform import Affine

from terrain_guard.states import State
from tests.checks import scenes
from tests.checks.scenes import Floats, Surface
from tests.rasters import write_raster

CENTIMETRE = 0.01
AROUND = (-220.0, -220.0, 220.0, 220.0)


def clearance_at(
    folder: Path,
    surface: Surface,
    place: tuple[float, float],
    elevation_m: float,
    *,
    box_m: tuple[float, float, float, float] = AROUND,
) -> tuple[float, float]:
    """Return (above ground, clearance) at the end of a leg that arrives from 12 m south."""
    east, north = place
    ground = scenes.model(folder, surface, box_m=box_m)
    start = (round(east), round(north))
    here = float(surface(np.array([[float(start[0])]]), np.array([[float(start[1])]]))[0, 0])
    height = elevation_m - here
    found = scenes.fly(ground, [(east, north - 12.0, height), (east, north, height)], start=start)
    return float(found.samples.above_ground_m[-1]), float(found.samples.clearance_m[-1])


def plane(slope_deg: float, level_m: float = 500.0) -> Surface:
    """Return a plane that rises eastward."""
    gradient = math.tan(math.radians(slope_deg))
    return lambda east, north: level_m + gradient * east + 0.0 * north


# ------------------------------------------------------------ planes: S = A cos(slope)


@pytest.mark.parametrize(
    ("slope_deg", "slant_m"),
    [(0, 120.0), (10, 118.177), (20, 112.763), (30, 103.923), (45, 84.853)],
)
@pytest.mark.parametrize("toward", [(0.0, 40.0), (40.0, 0.0), (30.0, -20.0)])
def test_plane(
    tmp_path: Path, slope_deg: float, slant_m: float, toward: tuple[float, float]
) -> None:
    """120 m above a plane it is 120 cos(slope) everywhere, along, up or across the slope."""
    surface = plane(slope_deg)
    rise = float(surface(np.array([toward[0]]), np.array([0.0]))[0]) - 500.0
    ground = scenes.model(tmp_path, surface, box_m=AROUND)
    leg = scenes.fly(ground, [(0, 0, 120.0), (*toward, 120.0 + rise)]).legs[1]
    extremes = (leg.above_ground_min, leg.above_ground_max, leg.clearance_min, leg.clearance_max)
    values = [extreme.nominal_m for extreme in extremes if extreme is not None]
    assert values[:2] == pytest.approx([120.0, 120.0], abs=1e-3)
    assert values[2:] == pytest.approx([slant_m, slant_m], abs=CENTIMETRE)


@pytest.mark.parametrize("slope_deg", [10.0, 30.0, 45.0])
def test_plane_with_margins(tmp_path: Path, slope_deg: float) -> None:
    """With margins it is the clearance of the aircraft 7 m lower, (120 - 7) cos; 5 m higher."""
    ground = scenes.model(tmp_path, plane(slope_deg), box_m=AROUND)
    leg = scenes.fly(ground, [(0, 0, 120.0), (0, 40, 120.0)]).legs[1]
    assert leg.clearance_min is not None
    assert leg.clearance_max is not None
    lean = math.cos(math.radians(slope_deg))
    assert leg.clearance_min.assured_m == pytest.approx(113.0 * lean, abs=CENTIMETRE)
    assert leg.clearance_max.assured_m == pytest.approx(125.0 * lean, abs=CENTIMETRE)


@pytest.mark.parametrize(("slope_deg", "slant_m"), [(30.0, 25.981), (45.0, 21.213)])
def test_thirty_metres_above_a_slope_break_a_floor_of_thirty(
    tmp_path: Path, slope_deg: float, slant_m: float
) -> None:
    """Straight down the floor seems kept; the slope is nearer: a breach."""
    ground = scenes.model(tmp_path, plane(slope_deg), box_m=AROUND)
    found = scenes.fly(ground, [(0, 0, 30.0), (0, 60, 30.0)], scenes.rules())
    (floor,) = scenes.of_kind(found, "floor", leg=1)
    assert floor.state is State.BREACH
    assert floor.worst_m == pytest.approx(slant_m, abs=CENTIMETRE)
    lean = math.cos(math.radians(slope_deg))
    high_enough = scenes.fly(
        ground, [(0, 0, 30 / lean + 0.01), (0, 60, 30 / lean + 0.01)], scenes.rules()
    )
    assert high_enough.legs[1].state is State.TIGHT


def laid_out(folder: Path, surface: Surface, affine: Affine, size: tuple[int, int]) -> Path:
    """Write a surface of metres east and north of the spot to a grid of any affine."""
    row, column = np.indices(size).astype(np.float64)
    east, north = post_at(affine, row, column)
    return write_raster(folder / "laid.tif", surface(east, north), transform=affine, crs=scenes.CRS)


def post_at(affine: Affine, row: Floats, column: Floats) -> tuple[Floats, Floats]:
    """Return how far east and north of the spot posts stand."""
    a, b, c, d, e, f = tuple(affine)[:6]
    x, y = a * (column + 0.5) + b * (row + 0.5) + c, d * (column + 0.5) + e * (row + 0.5) + f
    return (x - SPOT[0]) / scenes.SCALE, (y - SPOT[1]) / scenes.SCALE


SPOT = scenes.grid_place(0.0, 0.0)
COS, SIN = math.cos(math.radians(37.0)), math.sin(math.radians(37.0))
LAYOUTS = {
    "south-up": Affine(1.0, 0, SPOT[0] - 200, 0, 1.0, SPOT[1] - 200),
    "east-left": Affine(-1.0, 0, SPOT[0] + 200, 0, -1.0, SPOT[1] + 200),
    "oblong": Affine(2.0, 0, SPOT[0] - 400, 0, -0.8, SPOT[1] + 160),
    "turned": Affine(COS, SIN, SPOT[0] - 200 * (COS + SIN), SIN, -COS, SPOT[1] + 200 * (COS - SIN)),
    "skewed": Affine(1.0, 0.4, SPOT[0] - 280, 0.1, -1.0, SPOT[1] + 180),
}


@pytest.mark.parametrize("layout", LAYOUTS)
def test_plane_on_any_grid(tmp_path: Path, layout: str) -> None:
    """South-up, mirrored, oblong, turned or skewed cells: 80 m above 40 degrees, 80 cos."""
    east_slope = math.tan(math.radians(40.0)) * math.cos(math.radians(25.0))
    north_slope = math.tan(math.radians(40.0)) * math.sin(math.radians(25.0))
    ground = laid_out(
        tmp_path, lambda e, n: 500.0 + east_slope * e + north_slope * n, LAYOUTS[layout], (400, 400)
    )
    rise = 30 * east_slope - 10 * north_slope
    leg = scenes.fly(ground, [(0, 0, 80.0), (30, -10, 80.0 + rise)]).legs[1]
    found = [leg.above_ground_min, leg.above_ground_max, leg.clearance_min, leg.clearance_max]
    values = [extreme.nominal_m for extreme in found if extreme is not None]
    slant = 80.0 * math.cos(math.radians(40.0))
    assert values == pytest.approx([80.0, 80.0, slant, slant], abs=CENTIMETRE)


@pytest.mark.parametrize("layout", LAYOUTS)
def test_spike_on_any_grid(tmp_path: Path, layout: str) -> None:
    """A lone post 30 m high, 40 m along and 12 m beside the line: 5 m over it, 13 m away."""
    affine = LAYOUTS[layout]
    row, column = np.indices((400, 400)).astype(np.float64)
    easts, norths = post_at(affine, row, column)
    nearest = np.argmin(np.hypot(easts - 40.0, norths - 12.0))
    east, north = float(easts.flat[nearest]), float(norths.flat[nearest])

    def spike(e: Floats, n: Floats) -> Floats:
        return np.where(np.hypot(e - east, n - north) < 1e-6, 130.0, 100.0)

    ground = laid_out(tmp_path, spike, affine, (400, 400))
    found = scenes.fly(
        ground, [(east - 40.3, north - 12, 35), (east + 39.6, north - 12, 35)], start=(-60, 60)
    )
    least = found.legs[1].clearance_min
    assert least is not None
    assert least.nominal_m == pytest.approx(13.0, abs=CENTIMETRE)
    assert least.along_m - found.legs[1].from_m == pytest.approx(40.3, abs=0.2)


def test_a_long_diagonal_leg_over_fine_cells(tmp_path: Path) -> None:
    """1.1 km across cells of 1 m, more than one window of them: nearest to a ridge, 45 m."""
    ground = scenes.model(
        tmp_path, lambda e, n: 100.0 + np.maximum(55.0 - np.abs(e + n - 700.0) / 4, 0.0),
        box_m=(-150.0, -150.0, 950.0, 950.0), dtype="float32",
    )  # fmt: skip
    leg = scenes.fly(ground, [(0, 0, 100), (800, 800, 100)]).legs[1]
    least, most = leg.clearance_min, leg.clearance_max
    assert least is not None
    assert most is not None
    # It rises 1 in 4 of e + n, sqrt 2 in 4 of the way across it: the crest is nearest.
    assert least.nominal_m == pytest.approx(45.0, abs=CENTIMETRE)
    assert least.along_m - leg.from_m == pytest.approx(350.0 * math.sqrt(2), abs=0.3)
    assert most.nominal_m == pytest.approx(100.0, abs=CENTIMETRE)


# ------------------------------------------------------------ the closest-point ceiling


@pytest.mark.parametrize(
    ("slope_deg", "allowed_m"),
    [(10.0, 121.851), (20.0, 127.701), (30.0, 138.564), (45.0, 169.706)],
)
def test_120_m_from_the_closest_point(tmp_path: Path, slope_deg: float, allowed_m: float) -> None:
    """120 m from the closest point of the ground allows 120 / cos(slope) above it.

    The measure of the European open category (Commission Implementing Regulation (EU)
    2019/947, Annex, UAS.OPEN.010(2): 120 m from the closest point of the surface).
    """
    ground = scenes.model(tmp_path, plane(slope_deg), box_m=AROUND)
    rules = scenes.rules(ceiling_measure="closest-point")

    def state(height_m: float) -> State:
        found = scenes.fly(ground, [(0, 0, height_m), (0, 30, height_m)], rules)
        return found.legs[1].state

    assert state(allowed_m - 0.01) is State.TIGHT
    assert state(allowed_m + 0.01) is State.BREACH
    assert state(allowed_m - 5.0 - 0.01) is State.WITHIN
    assert state(allowed_m - 5.0 + 0.01) is State.TIGHT
    (rests,) = scenes.resting(ground, [0.0], [10.3], 120.0)
    assert rests - 500.0 == pytest.approx(allowed_m, abs=CENTIMETRE)


@pytest.mark.parametrize("slope_deg", [30.0, 45.0])
def test_vertical_ceiling_does_not_care_about_the_slope(tmp_path: Path, slope_deg: float) -> None:
    """Straight down, 120 m are 120 m."""
    ground = scenes.model(tmp_path, plane(slope_deg), box_m=AROUND)
    over = scenes.fly(ground, [(0, 0, 120.01), (0, 30, 120.01)], scenes.rules())
    (ceiling,) = scenes.of_kind(over, "ceiling", leg=1)
    assert ceiling.state is State.BREACH
    assert ceiling.worst_m == pytest.approx(120.01, abs=1e-4)
    assert scenes.fly(
        ground, [(0, 0, 119.99), (0, 30, 119.99)], scenes.rules()
    ).legs[1].state is State.TIGHT  # fmt: skip


# ------------------------------------------------------------ cone


@pytest.mark.parametrize(
    ("aside_m", "slant_m"),
    [(0.0, 100.0), (20.0, 90.686), (43.3, 86.603), (60.0, 86.603), (100.0, 86.603)],
)
def test_cone(tmp_path: Path, aside_m: float, slant_m: float) -> None:
    """100 m above a 30 degree cone: the apex is nearest out to a sin cos = 43.30 m.

    sqrt(r² + (a - r tan)²) there, a cos(slope) beyond.
    """
    tangent = math.tan(math.radians(30.0))

    def cone(east: Floats, north: Floats) -> Floats:
        return 500.0 - tangent * np.hypot(east, north)

    above, slant = clearance_at(tmp_path, cone, (aside_m, 0.0), 600.0 - tangent * aside_m)
    assert above == pytest.approx(100.0, abs=CENTIMETRE)
    assert slant == pytest.approx(slant_m, abs=CENTIMETRE)


def test_least_over_a_cone_is_at_its_apex(tmp_path: Path) -> None:
    """A level leg over the apex, 40 m up, is nearest there: 40 m; both ends are farther."""
    ground = scenes.model(tmp_path, lambda e, n: 500.0 - 0.3 * np.hypot(e, n), box_m=AROUND)
    found = scenes.fly(ground, [(-50.3, 0, 55.0), (49.1, 0, 55.0)], start=(-50, 0))
    least = found.legs[1].clearance_min
    assert least is not None
    assert least.nominal_m == pytest.approx(485.0 + 55.0 - 500.0, abs=CENTIMETRE)
    assert scenes.east_north(least.lat_deg, least.lon_deg)[0] == pytest.approx(0.0, abs=1.0)


# ------------------------------------------------------------ valley


@pytest.mark.parametrize(("aside_m", "above_m", "slant_m"), [(0, 138.564, 120), (40, 115.470, 100)])
def test_valley(tmp_path: Path, aside_m: float, above_m: float, slant_m: float) -> None:
    """138.564 m above the stream of a 30 degree V: (h - x tan) cos to the nearer wall."""
    wall = math.tan(math.radians(30.0))
    above, slant = clearance_at(
        tmp_path, lambda e, n: 500.0 + wall * np.abs(e) + 0 * n, (aside_m, 0.0), 638.5641
    )
    assert above == pytest.approx(above_m, abs=CENTIMETRE)
    assert slant == pytest.approx(slant_m, abs=CENTIMETRE)


@pytest.mark.parametrize("off_m", [0.0, 0.31, 0.5])
def test_greatest_over_a_valley_is_over_its_stream(tmp_path: Path, off_m: float) -> None:
    """Across a 45 degree V clearance peaks, with a kink, over the stream: 80 cos 45."""
    ground = scenes.model(tmp_path, lambda e, n: 500.0 + np.abs(e) + 0 * n, box_m=AROUND)
    found = scenes.fly(ground, [(-30 + off_m, 0, 50.0), (30 + off_m, 0, 50.0)], start=(-30, 0))
    most = found.legs[1].clearance_max
    assert most is not None
    assert most.nominal_m == pytest.approx(80.0 / math.sqrt(2), abs=CENTIMETRE)
    assert most.assured_m == pytest.approx(85.0 / math.sqrt(2), abs=CENTIMETRE)
    highest = found.legs[1].above_ground_max
    assert highest is not None
    assert highest.nominal_m == pytest.approx(80.0, abs=CENTIMETRE)


def test_closest_point_ceiling_is_broken_over_the_stream_alone(tmp_path: Path) -> None:
    """Across a 45 degree V, 56 m from its walls at most: a ceiling of 56 breaks over 1.13 m.

    Clearance is (80 - |x|) cos 45 > 56 where |x| < 80 - 56 sqrt 2 = 0.8040 m.
    """
    ground = scenes.model(tmp_path, lambda e, n: 500.0 + np.abs(e) + 0 * n, box_m=AROUND)
    rules = scenes.rules(floor_m=5.0, ceiling_m=56.0, ceiling_measure="closest-point")
    found = scenes.fly(ground, [(-30.4, 0, 50.0), (29.6, 0, 50.0)], rules, start=(-30, 0))
    (over,) = [f for f in scenes.of_kind(found, "ceiling", leg=1) if f.state is State.BREACH]
    middle = found.legs[1].from_m + 30.4
    half = 80.0 - 56.0 * math.sqrt(2)
    assert over.from_m == pytest.approx(middle - half, abs=0.02)
    assert over.to_m == pytest.approx(middle + half, abs=0.02)
    assert over.worst_m == pytest.approx(80 / math.sqrt(2), abs=CENTIMETRE)


def test_closest_point_ceiling_is_tight_over_the_stream_alone(tmp_path: Path) -> None:
    """Raised by 5 m it is (85 - |x|) cos 45 > 60 where |x| < 85 - 60 sqrt 2 = 0.147 m."""
    ground = scenes.model(tmp_path, lambda e, n: 500.0 + np.abs(e) + 0 * n, box_m=AROUND)
    rules = scenes.rules(floor_m=5.0, ceiling_m=60.0, ceiling_measure="closest-point")
    found = scenes.fly(ground, [(-30.5, 0, 50.0), (29.5, 0, 50.0)], rules, start=(-30, 0))
    (tight,) = scenes.of_kind(found, "ceiling", leg=1)
    half = 85.0 - 60.0 * math.sqrt(2)
    assert tight.state is State.TIGHT
    assert tight.from_m == pytest.approx(found.legs[1].from_m + 30.5 - half, abs=0.02)
    assert tight.to_m - tight.from_m == pytest.approx(2 * half, abs=0.03)


@pytest.mark.parametrize("west_m", [-30.0, -29.75, -29.5, -29.25])
def test_closest_point_ceiling_over_the_lesser_of_two_valleys(
    tmp_path: Path, west_m: float
) -> None:
    """In a V of 45 and 30 degrees clearance peaks beside the stream, between two samples.

    Left wall (h + x) / sqrt 2, right wall (h - x tan 30) cos 30: equal, and greatest, at
    x = h (cos 30 - cos 45) / (sin 45 + sin 30), 10.533 m for h = 80 m: 64.016 m. A
    ceiling of 63.95 m breaks over 0.0655 / sin 45 + 0.0655 / sin 30 m there, and over
    far more in a second, deeper valley, so that the lesser is not the leg's greatest.
    """
    shallow, steep = math.tan(math.radians(30.0)), 1.0

    def valleys(east: Floats, north: Floats) -> Floats:
        walls = [
            np.where(x < 0, -steep * x, shallow * x) - deeper
            for x, deeper in ((east, 0.0), (east - 140.0, 5.0))
        ]
        return 500.0 + np.minimum(*walls) + 0 * north

    ground = scenes.model(tmp_path, valleys, box_m=(-220.0, -220.0, 420.0, 220.0))
    rules = scenes.rules(floor_m=5.0, ceiling_m=63.95, ceiling_measure="closest-point")
    found = scenes.fly(ground, [(west_m, 0, 80), (170.0, 0, 80)], rules, start=(0, 0))
    lesser, greater = [
        f for f in scenes.of_kind(found, "ceiling", leg=1) if f.state is State.BREACH
    ]
    peak_m = 80.0 * (math.cos(math.pi / 6) - math.cos(math.pi / 4)) / (math.sin(math.pi / 4) + 0.5)
    top_m = (80.0 + peak_m) / math.sqrt(2)
    middle = found.legs[1].from_m - west_m + peak_m
    over = top_m - 63.95
    expected = (middle - over * math.sqrt(2), middle + over * 2)
    assert (lesser.from_m, lesser.to_m) == pytest.approx(expected, abs=0.02)
    # Ends of stretches and the leg's own extreme are known to a centimetre, a lesser peak is not.
    assert 63.95 < lesser.worst_m < top_m + CENTIMETRE
    assert greater.worst_m == pytest.approx(top_m * 85.0 / 80.0, abs=CENTIMETRE)


# ------------------------------------------------------------ dome, trough


def test_dome(tmp_path: Path) -> None:
    """Outside a sphere of 500 m it is |P| - 500: sqrt(300² + 520²) - 500 = 100.333 m."""
    above, slant = clearance_at(
        tmp_path,
        lambda e, n: np.sqrt(500.0**2 - e**2 - n**2),
        (300.0, 0.0),
        520.0,
        box_m=(130.0, -160.0, 430.0, 160.0),
    )
    assert above == pytest.approx(120.0, abs=CENTIMETRE)
    assert slant == pytest.approx(100.333, abs=CENTIMETRE)


@pytest.mark.parametrize(
    ("height_m", "slant_m"), [(80, 80.0), (120, 118.322), (150, 141.421), (200, 173.205)]
)
def test_parabolic_trough(tmp_path: Path, height_m: float, slant_m: float) -> None:
    """Over the axis of z = x² / 2p it is h up to h = p, then sqrt(2 p h - p²); p = 100 m."""
    above, slant = clearance_at(
        tmp_path, lambda e, n: 300.0 + e**2 / 200.0 + 0 * n, (0.0, 0.0), 300.0 + height_m
    )
    assert above == pytest.approx(height_m, abs=CENTIMETRE)
    assert slant == pytest.approx(slant_m, abs=CENTIMETRE)


# ------------------------------------------------------------ cliffs, to one cell


@dataclass(frozen=True, kw_only=True)
class BesideCliff:
    """An aircraft beside a plateau, metres; what is below it, and what is nearest."""

    cliff_m: float
    over_rim_m: float
    out_m: float
    above_m: float
    slant_m: float


@pytest.mark.parametrize(
    "case",
    [
        # To the rim: sqrt(60² + 50²), sqrt(110² + 50²); level with it; below it, to the face.
        BesideCliff(cliff_m=200, over_rim_m=50, out_m=60, above_m=250, slant_m=78.102),
        BesideCliff(cliff_m=200, over_rim_m=50, out_m=110, above_m=250, slant_m=120.830),
        BesideCliff(cliff_m=200, over_rim_m=0, out_m=120, above_m=200, slant_m=120.0),
        BesideCliff(cliff_m=200, over_rim_m=-40, out_m=60, above_m=160, slant_m=60.0),
        BesideCliff(cliff_m=100, over_rim_m=80, out_m=90, above_m=180, slant_m=120.416),
        # Here the ground below is nearer than the rim.
        BesideCliff(cliff_m=100, over_rim_m=90, out_m=200, above_m=190, slant_m=190.0),
    ],
    ids=lambda case: f"{case.cliff_m}-{case.over_rim_m}-{case.out_m}",
)
def test_cliff(tmp_path: Path, case: BesideCliff) -> None:
    """Beside a plateau it is the distance to rim, face or valley floor, to one cell of 1 m."""
    above, slant = clearance_at(
        tmp_path,
        lambda e, n: np.where(e <= 0, 300.0 + case.cliff_m, 300.0) + 0 * n,
        (case.out_m, 0.0),
        300.0 + case.cliff_m + case.over_rim_m,
        box_m=(-220.0, -220.0, 420.0, 220.0),
    )
    assert above == pytest.approx(case.above_m, abs=CENTIMETRE)
    assert slant == pytest.approx(case.slant_m, abs=1.0)


def test_slot_canyon(tmp_path: Path) -> None:
    """Half-way across a slot of 100 m, below its rims, the walls are nearest: 50 m."""
    above, slant = clearance_at(
        tmp_path, lambda e, n: np.where(np.abs(e) >= 50, 500.0, 300.0) + 0 * n, (0.0, 0.0), 450.0
    )
    assert above == pytest.approx(150.0, abs=CENTIMETRE)
    assert slant == pytest.approx(50.0, abs=1.0)


# ------------------------------------------------------------ the lowest allowed


@pytest.mark.parametrize(("slope_deg", "rests_m"), [(30.0, 34.641), (45.0, 42.426)])
def test_ball_on_a_plane(tmp_path: Path, slope_deg: float, rests_m: float) -> None:
    """A ball of 30 m rests 30 / cos(slope) above a plane, wherever among the posts."""
    ground = scenes.model(tmp_path, plane(slope_deg), box_m=AROUND)
    east = np.array([0.0, 0.25, 17.5, -3.9])
    found = scenes.resting(ground, east.tolist(), [0.0, 0.7, -5.5, 2.0], 30.0)
    expected = plane(slope_deg)(east, east) + rests_m
    assert found == pytest.approx(expected, abs=CENTIMETRE)


def test_ball_beside_a_spike(tmp_path: Path) -> None:
    """Beside a lone post 20 m high it touches its tip: 20 + sqrt(30² - 18²) = 44 m up."""

    def spike(east: Floats, north: Floats) -> Floats:
        return np.where((east == 0) & (north == 0), 120.0, 100.0)

    ground = scenes.model(tmp_path, spike, box_m=AROUND)
    found = scenes.resting(ground, [0.0, 18.0, 40.0], [0.0, 0.0, 0.0], 30.0)
    assert found == pytest.approx([150.0, 144.0, 130.0], abs=CENTIMETRE)


def test_ball_where_nothing_is_known(tmp_path: Path) -> None:
    """Out of reach of every known post there is no resting place: NaN, not a number."""
    ground = scenes.model(tmp_path, lambda e, n: 100.0 + 0 * e, box_m=(0.0, 0.0, 50.0, 50.0))
    assert np.isnan(scenes.resting(ground, [-40.0], [25.0], 30.0)).all()

"""The corridor against closed forms: plane, cliff, cone, valley, dome, spike; voids.

Sources: plane geometry, worked beside each case. The aircraft may be anywhere in a
level disc of radius w round its place. On a plane that rises g to the metre the ground
in the disc reaches g w higher than in its middle, and the plane is w sin(slope) nearer.
"""

from __future__ import annotations

import math
from pathlib import Path

import numpy as np
import pytest
from rasterio.transform import Affine

from terrain_guard.checks import discs
from tests.checks import scenes
from tests.checks.scenes import Floats, Surface
from tests.checks.straying import Samples
from tests.checks.test_slants import LAYOUTS, laid_out
from tests.rasters import write_raster

MILLIMETRE = 0.001
CENTIMETRE = 0.01  # where a curved surface is drawn through posts 1 m apart
BOX = (-120.0, -120.0, 120.0, 120.0)
WIDTHS = (0.0, 0.3, 1.0, 5.0, 12.5)


def plane(gradient: float, azimuth_deg: float = 90.0, level_m: float = 500.0) -> Surface:
    """Return a plane that rises toward an azimuth."""
    east = gradient * math.sin(math.radians(azimuth_deg))
    north = gradient * math.cos(math.radians(azimuth_deg))
    return lambda e, n: level_m + east * e + north * n


def cosine(gradient: float) -> float:
    """Return the cosine of the slope."""
    return 1 / math.hypot(1.0, gradient)


# ------------------------------------------------------------ triangles, by force


@pytest.mark.parametrize("seed", range(6))
def test_triangles(seed: int) -> None:
    """What is nearest, highest, and where a ball rests equals that of a net over both triangles.

    The net is h fine: distances differ by its step at most; the ball, which may touch
    where its side is steep, is held against the distance, R where it rests.
    """
    random = np.random.default_rng(seed)
    share = np.stack(np.meshgrid(np.linspace(0, 1, 301), np.linspace(0, 1, 301))).reshape(2, -1)
    for _ in range(25):
        across, down = random.normal(size=(2, 2))
        corner = random.normal(size=2) * 2
        up = random.normal(size=4) * 10 ** random.uniform(-3, 0.5) + random.normal() * 2
        flat = [corner, corner + across, corner + down, corner + across + down]
        a, b, c, d = (np.append(p, z)[:, None] for p, z in zip(flat, up, strict=True))
        net = np.where(  # a–b–d where the share across is the greater, else a–d–c
            share[0] >= share[1],
            a + share[0] * (b - a) + share[1] * (d - b),
            a + share[0] * (d - c) + share[1] * (c - a),
        )
        step = max(float(np.linalg.norm(s - t)) for s, t in ((a, b), (a, c), (b, d), (c, d))) / 300
        wide = random.uniform(0.01, 4.0, 1)
        away = np.hypot(net[0], net[1])
        distance = np.hypot(np.maximum(away - wide, 0.0), net[2]).min()
        (found,), place = discs.nearest_on_quad(a, b, c, d, wide)
        assert distance - step <= found <= distance + 1e-9
        assert discs.distance(place, wide) == pytest.approx(found, abs=1e-9)
        (highest,), _ = discs.highest_on_quad(a, b, c, d, wide)
        assert highest >= net[2][away <= wide].max(initial=-np.inf) - 1e-9
        assert highest <= net[2][away <= wide + step].max(initial=-np.inf) + step
        radius = wide + random.uniform(0.5, 4.0)
        (rests,), _ = discs.rest_on_quad(a, b, c, d, radius=radius, wide=wide)
        if np.isfinite(rests):
            beside = np.maximum(away - wide, 0.0)
            assert np.hypot(beside, net[2] - rests).min() == pytest.approx(radius[0], abs=step)
        else:
            assert away.min() > radius + wide - step


# ------------------------------------------------------------ planes


@pytest.mark.parametrize("azimuth_deg", [90.0, 27.0, 200.0])
def test_sixty_per_cent_and_five_metres_are_three_metres(
    tmp_path: Path, azimuth_deg: float
) -> None:
    """On a slope of 60 %, 5 m aside, ground is 3 m higher, and 3 m lower, whichever way."""
    surface = plane(0.6, azimuth_deg)
    ground = scenes.model(tmp_path, surface, box_m=BOX)
    places = [(0.0, 0.0), (3.3, -7.9), (0.5, 0.5)]
    here = np.array([float(surface(np.array(e), np.array(n))) for e, n in places])
    highest, lowest = Samples.at(ground, places, 600.0, 5.0).extremes()
    assert highest - here == pytest.approx(3.0, abs=MILLIMETRE)
    assert lowest - here == pytest.approx(-3.0, abs=MILLIMETRE)


@pytest.mark.parametrize("gradient", [0.0, 0.05, 0.6, 1.0, 2.5])
@pytest.mark.parametrize("above_m", [40.0, 80.0])
def test_nearest_to_a_plane(tmp_path: Path, gradient: float, above_m: float) -> None:
    """It is (A − g w) cos(slope): the clearance of the middle less w sin(slope)."""
    ground = scenes.model(tmp_path, plane(gradient, 63.0), box_m=BOX)
    places = [(0.2, 0.7)] * len(WIDTHS)
    up = float(plane(gradient, 63.0)(np.array(0.2), np.array(0.7))) + above_m
    found = Samples.at(ground, places, up, WIDTHS).clearance_m()
    expected = (above_m - gradient * np.array(WIDTHS)) * cosine(gradient)
    assert found == pytest.approx(expected, abs=MILLIMETRE)


@pytest.mark.parametrize("gradient", [0.2, 0.6, 1.0])
@pytest.mark.parametrize("above_m", [0.5, -0.5, -30.0])
def test_in_the_slope_it_is_a_bound(tmp_path: Path, gradient: float, above_m: float) -> None:
    """Where the disc cuts the plane: max(A − g w, A cos − w), never above (A − g w) cos."""
    ground = scenes.model(tmp_path, plane(gradient), box_m=BOX)
    samples = Samples.at(ground, [(0.0, 0.0)] * 2, 500.0 + above_m, [5.0, 12.5])
    wide = samples.corridor_m
    truth = (above_m - gradient * wide) * cosine(gradient)
    found = samples.clearance_m()
    bound = np.maximum(above_m - gradient * wide, above_m * cosine(gradient) - wide)
    assert found == pytest.approx(bound, abs=MILLIMETRE)
    assert (found <= truth + MILLIMETRE).all()
    assert (found < 0).all()


@pytest.mark.parametrize("gradient", [0.0, 0.6, 1.0])
def test_farthest_from_a_plane(tmp_path: Path, gradient: float) -> None:
    """It bounds (A + g w) cos(slope) from above, by less than w² / (2 · clearance)."""
    ground = scenes.model(tmp_path, plane(gradient, 63.0), box_m=BOX)
    wide = np.array([0.0, 1.0, 5.0])
    samples = Samples.at(ground, [(0.0, 0.0)] * 3, 600.0, wide)
    truth = (100.0 + gradient * wide) * cosine(gradient)
    excess = samples.farthest_m() - truth
    assert (excess >= -MILLIMETRE).all()
    assert (excess <= wide**2 / (2 * 100.0 * cosine(gradient)) + MILLIMETRE).all()


@pytest.mark.parametrize("layout", LAYOUTS)
def test_plane_on_any_grid(tmp_path: Path, layout: str) -> None:
    """The disc is round in metres, however the cells are turned, stretched or skewed."""
    ground = laid_out(tmp_path, plane(0.6, 25.0), LAYOUTS[layout], (400, 400))
    samples = Samples.at(ground, [(3.1, -4.2)], 580.0, 5.0, reach_m=90.0)
    here = float(plane(0.6, 25.0)(np.array(3.1), np.array(-4.2)))
    highest, lowest = samples.extremes()
    assert (float(highest[0]) - here, float(lowest[0]) - here) == pytest.approx(
        (3.0, -3.0), abs=MILLIMETRE
    )
    expected = (580.0 - here - 3.0) * cosine(0.6)
    assert samples.clearance_m() == pytest.approx(expected, abs=MILLIMETRE)


@pytest.mark.parametrize("azimuth_deg", [0.0, 45.0, 90.0])
def test_plane_in_degrees(tmp_path: Path, azimuth_deg: float) -> None:
    """On cells of a hundred-thousandth of a degree, 1.11 m by 0.76 m, likewise."""
    step = 1e-5
    row, column = np.indices((300, 300))
    lat = scenes.LAT_DEG + step * (150 - row)
    lon = scenes.LON_DEG + step * (column - 150)
    east, north = scenes._LOCAL(lon, lat)
    corner = Affine(step, 0, scenes.LON_DEG - 150.5 * step, 0, -step, scenes.LAT_DEG + 150.5 * step)
    ground = write_raster(
        tmp_path / "degrees.tif", plane(0.6, azimuth_deg)(np.asarray(east), np.asarray(north)),
        transform=corner, crs="EPSG:4326",
    )  # fmt: skip
    samples = Samples.at(ground, [(0.0, 0.0)], 550.0, 5.0, reach_m=60.0)
    assert samples.extremes()[0] == pytest.approx(503.0, abs=MILLIMETRE)
    assert samples.clearance_m() == pytest.approx((50.0 - 3.0) * cosine(0.6), abs=MILLIMETRE)


# ------------------------------------------------------------ cliffs


def to_segment(
    point: tuple[float, float], start: tuple[float, float], stop: tuple[float, float]
) -> float:
    """Return the distance of a point from a segment in the plane of east and up."""
    way = np.subtract(stop, start)
    share = np.clip(np.dot(np.subtract(point, start), way) / np.dot(way, way), 0.0, 1.0)
    return float(np.hypot(*(np.subtract(point, start) - share * way)))


@pytest.mark.parametrize(
    ("out_m", "over_rim_m"),
    [(60.0, 50.0), (60.0, 0.0), (60.0, -40.0), (20.0, 5.0), (13.5, -100.0), (90.0, 80.0)],
)
def test_cliff(tmp_path: Path, out_m: float, over_rim_m: float) -> None:
    """Beside a plateau it is the distance of the disc's near rim to plateau, face and valley."""
    ground = scenes.model(tmp_path, lambda e, n: np.where(e <= 0, 500.0, 300.0) + 0 * n, box_m=BOX)
    wide = np.array([0.0, 1.0, 5.0, 12.0])
    up = 500.0 + over_rim_m
    found = Samples.at(ground, [(out_m, 0.3)] * 4, up, wide).clearance_m()
    expected = [
        min(
            to_segment((out_m - w, up), (0.0, 500.0), (1.0, 300.0)),  # over one cell
            up - 300.0,
        )
        for w in wide
    ]
    assert found == pytest.approx(expected, abs=MILLIMETRE)


def test_cliff_face_within_reach_of_the_corridor(tmp_path: Path) -> None:
    """100 m of cliff smeared over a cell of 30 m: 15 m aside it is 66.67 m up the face.

    10 m out from the cell's middle the face has come down to 100 · 5/30; 15 m nearer it
    stands at 100 · 20/30. An aircraft 60 m above the foot has 43.33 m below it, but is
    6.67 m lower than what it may stray to.
    """
    ground = scenes.model(
        tmp_path, lambda e, n: np.where(e <= 0, 400.0, 300.0) + 0 * n, cell_m=30.0,
        box_m=(-600.0, -600.0, 600.0, 600.0),
    )  # fmt: skip
    samples = Samples.at(ground, [(25.0, 7.0)], 360.0, 15.0)
    highest, lowest = samples.extremes()
    assert float(highest[0]) == pytest.approx(300.0 + 200 / 3, abs=MILLIMETRE)
    assert float(lowest[0]) == pytest.approx(300.0, abs=MILLIMETRE)
    # Clearance of the middle, (60 − 16.67) · 30/√(30² + 100²) = 12.45 m, less 15 m.
    face = (60.0 - 100.0 / 6) * 30.0 / math.hypot(30.0, 100.0)
    assert samples.clearance_m() == pytest.approx(face - 15.0, abs=MILLIMETRE)


# ------------------------------------------------------------ cone, valley, dome, spike


@pytest.mark.parametrize("aside_m", [0.0, 3.0, 5.0, 20.0, 60.0])
def test_cone(tmp_path: Path, aside_m: float) -> None:
    """60 m above the apex of a 30 degree cone, 5 m of corridor bring it 5 m nearer.

    Seen from r beside the apex, that is nearest as far as r = 60 tan, the side beyond.
    """
    tangent = math.tan(math.radians(30.0))
    ground = scenes.model(tmp_path, lambda e, n: 500.0 - tangent * np.hypot(e, n), box_m=BOX)
    samples = Samples.at(ground, [(aside_m, 0.0)], 560.0, 5.0)
    away = max(aside_m - 5.0, 0.0)
    side = (60.0 + tangent * away) * math.cos(math.radians(30.0))
    expected = side if away > 60.0 * tangent else math.hypot(away, 60.0)
    assert samples.extremes()[0] == pytest.approx(500.0 - tangent * away, abs=CENTIMETRE)
    assert samples.clearance_m() == pytest.approx(expected, abs=CENTIMETRE)


@pytest.mark.parametrize("aside_m", [0.0, 4.0, 20.0])
def test_valley(tmp_path: Path, aside_m: float) -> None:
    """80 m above the stream of a 30 degree V: nearest (80 − (x + 5) tan) cos to one wall.

    The stream is the lowest while it is in the disc, and farthest from both walls is what
    is over it, 80 cos; else (80 − (x − 5) tan) cos. That is bounded from above, but for
    w² / (2 · 69 m) exactly beside it, and for 5 sin 30 m more over it.
    """
    wall = math.tan(math.radians(30.0))
    ground = scenes.model(tmp_path, lambda e, n: 500.0 + wall * np.abs(e) + 0 * n, box_m=BOX)
    samples = Samples.at(ground, [(aside_m, 0.0)], 580.0, 5.0)
    lean = math.cos(math.radians(30.0))
    highest, lowest = samples.extremes()
    assert float(highest[0]) == pytest.approx(500.0 + wall * (aside_m + 5.0), abs=MILLIMETRE)
    assert float(lowest[0]) == pytest.approx(500 + wall * max(aside_m - 5, 0), abs=MILLIMETRE)
    nearest_m = (80.0 - wall * (aside_m + 5.0)) * lean
    assert samples.clearance_m() == pytest.approx(nearest_m, abs=MILLIMETRE)
    farthest_m = (80.0 - wall * max(aside_m - 5.0, 0.0)) * lean
    assert farthest_m - MILLIMETRE <= float(samples.farthest_m()[0]) <= farthest_m + 2.5 + 0.19


def test_dome(tmp_path: Path) -> None:
    """Outside a sphere of 500 m, 5 m nearer its axis: sqrt(295² + 520²) − 500 = 97.853 m."""
    ground = scenes.model(
        tmp_path, lambda e, n: np.sqrt(500.0**2 - e**2 - n**2), box_m=(130, -160, 430, 160)
    )
    samples = Samples.at(ground, [(300.0, 0.0)], 520.0, 5.0)
    assert samples.clearance_m() == pytest.approx(97.853, abs=CENTIMETRE)
    # Outward it is sqrt(305² + 520²) − 500 = 102.852 m.
    assert 102.852 - CENTIMETRE <= float(samples.farthest_m()[0]) <= 102.852 + 0.125
    assert samples.extremes()[0] == pytest.approx(math.sqrt(500.0**2 - 295.0**2), abs=CENTIMETRE)


def spike(east: Floats, north: Floats) -> Floats:
    """Return level ground with one post 20 m high."""
    return np.where((east == 0) & (north == 0), 120.0, 100.0)


@pytest.mark.parametrize(
    ("wide_m", "expected_m"), [(0.0, 13.0), (4.0, math.hypot(8, 5)), (12.0, 5.0), (30.0, 5.0)]
)
def test_spike(tmp_path: Path, wide_m: float, expected_m: float) -> None:
    """5 m over a lone tip and 12 m beside it: sqrt((12 − w)² + 5²), from 12 m on 5 m."""
    ground = scenes.model(tmp_path, spike, box_m=BOX)
    samples = Samples.at(ground, [(0.0, 12.0)], 125.0, wide_m, reach_m=40.0)
    assert samples.clearance_m() == pytest.approx(expected_m, abs=MILLIMETRE)
    highest, lowest = samples.extremes()
    reached = 120.0 if wide_m >= 12.0 else 100.0
    assert (float(highest[0]), float(lowest[0])) == pytest.approx((reached, 100.0), abs=MILLIMETRE)


def test_level_ground_is_all_alike(tmp_path: Path) -> None:
    """Over water every place of the disc is as far off: 30 m, nearest and farthest."""
    ground = scenes.model(tmp_path, lambda e, n: 100.0 + 0 * e, box_m=BOX)
    samples = Samples.at(ground, [(e, 0.5) for e in range(-40, 40)], 130.0, 5.0, reach_m=60.0)
    assert samples.clearance_m() == pytest.approx(30.0, abs=MILLIMETRE)
    assert samples.farthest_m() == pytest.approx(30.0, abs=MILLIMETRE)


def test_all_round_in_the_ground(tmp_path: Path) -> None:
    """Deep under level ground the surface is as near everywhere: minus the depth."""
    ground = scenes.model(tmp_path, lambda e, n: 100.0 + 0 * e, box_m=BOX)
    samples = Samples.at(ground, [(0.0, 0.0)], 88.0, 5.0)
    assert samples.clearance_m() == pytest.approx(-12.0, abs=MILLIMETRE)
    assert (samples.farthest_m() == 0.0).all()


def test_over_a_slot_narrower_than_the_corridor(tmp_path: Path) -> None:
    """In a slot 6 m wide with 5 m of corridor a place aside is 2 m in the wall: −2 m."""
    ground = scenes.model(
        tmp_path, lambda e, n: np.where(np.abs(e) >= 3.0, 200.0, 100.0) + 0 * n, box_m=BOX
    )
    found = float(Samples.at(ground, [(0.0, 0.0)], 150.0, 5.0).clearance_m()[0])
    # The walls lean a metre over 100 m: half-way up their faces are 2.5 m off, level.
    assert found == pytest.approx(2.5 * 100.0 / math.hypot(100.0, 1.0) - 5.0, abs=MILLIMETRE)


@pytest.mark.parametrize("wide_m", [0.0, 0.3, 1.0, 5.0])
@pytest.mark.parametrize("place_m", [0.5, 2.5625, -7.75])
def test_saddle(tmp_path: Path, wide_m: float, place_m: float) -> None:
    """On z = e n, which patches follow exactly, twisted as they are: closed forms.

    With s metres along the diagonal through the place and d across it is (s² − d²) / 2.
    The highest is straight outward, (s + w)² / 2; the lowest is on the rim, at the angle
    from there of cosine −s / 2w, s² / 4 − w² / 2, or straight inward, (s − w)² / 2.
    """
    ground = scenes.model(tmp_path, lambda e, n: 500.0 + e * n, box_m=BOX)
    samples = Samples.at(ground, [(place_m, place_m)], 600.0, wide_m)
    out_m = abs(place_m) * math.sqrt(2)
    highest, lowest = samples.extremes()
    assert highest - 500.0 == pytest.approx((out_m + wide_m) ** 2 / 2, abs=MILLIMETRE)
    beside = out_m <= 2 * wide_m
    expected = out_m**2 / 4 - wide_m**2 / 2 if beside else (out_m - wide_m) ** 2 / 2
    assert lowest - 500.0 == pytest.approx(expected, abs=MILLIMETRE)


# ------------------------------------------------------------ the lowest and highest allowed


@pytest.mark.parametrize("gradient", [0.0, 0.6, 1.0])
@pytest.mark.parametrize("sign", [1, -1])
def test_ball_moved_over_a_plane(tmp_path: Path, gradient: float, sign: int) -> None:
    """A ball of 30 m rests at 30 / cos(slope); moved 5 m uphill 5 g higher, away 5 g lower.

    On level ground moving does not matter; but 5 m away from below it is √(30² − 5²).
    """
    ground = scenes.model(tmp_path, plane(gradient, 63.0), box_m=BOX)
    found = Samples.at(ground, [(0.0, 0.0)], 0.0, 5.0).resting_m(30.0, sign=sign)
    expected = 30.0 / cosine(gradient) + sign * 5.0 * gradient
    if gradient == 0.0 and sign < 0:
        expected = math.sqrt(30.0**2 - 5.0**2)
    assert found - 500.0 == pytest.approx(expected, abs=MILLIMETRE)


@pytest.mark.parametrize("wide_m", [0.0, 0.5, 5.0, 17.9, 18.1, 25.0])
def test_ball_moved_beside_a_spike(tmp_path: Path, wide_m: float) -> None:
    """Beside a lone tip, 18 m off, it touches that as if it were w nearer, at most over it."""
    ground = scenes.model(tmp_path, spike, box_m=BOX)
    samples = Samples.at(ground, [(18.0, 0.0)], 0.0, wide_m)
    beside = max(18.0 - wide_m, 0.0)
    found = samples.resting_m(30.0)
    assert found == pytest.approx(120.0 + math.sqrt(30.0**2 - beside**2), abs=MILLIMETRE)


def test_ball_moved_to_a_ridge(tmp_path: Path) -> None:
    """Beside a sharp crest, 12 m off, w = 5: it rests on the crest, √(30² − 7²) above it.

    The crest falls 1 : 1 on both sides; the side would hold a ball 30 √2 + 5 − 12 up, and
    touch it 30 / √2 = 21 m uphill, beyond the crest.
    """
    ground = scenes.model(tmp_path, lambda e, n: 500.0 - np.abs(e) + 0 * n, box_m=BOX)
    found = Samples.at(ground, [(12.0, 0.4)], 0.0, 5.0).resting_m(30.0)
    assert found == pytest.approx(500.0 + math.sqrt(30.0**2 - 7.0**2), abs=MILLIMETRE)


def test_ball_touches_where_the_clearance_is_its_radius(tmp_path: Path) -> None:
    """On a slanting crest, where no closed form is: at rest the least clearance is the radius."""
    ground = scenes.model(
        tmp_path, lambda e, n: 500.0 + 0.5 * n - 0.8 * np.abs(e) + 3 * np.sin(e / 7), box_m=BOX
    )
    places = [(float(e), 3.0 * e / 7) for e in range(-30, 31, 3)]
    wide = np.linspace(0.0, 9.0, len(places))
    samples = Samples.at(ground, places, 0.0, wide)
    at_rest = Samples.at(ground, places, samples.resting_m(25.0), wide)
    assert at_rest.clearance_m() == pytest.approx(25.0, abs=2 * MILLIMETRE)


def test_ball_at_the_edge_of_what_is_known(tmp_path: Path) -> None:
    """Over a void, 10 m from the last post of a 30 m grid, a ball of 20 m touches that edge."""
    ground = scenes.model(
        tmp_path, lambda e, n: np.where(e <= 0, 100.0, np.nan) + 0 * n, cell_m=30.0,
        box_m=(-300.0, -300.0, 300.0, 300.0),
    )  # fmt: skip
    wide = np.array([0.0, 4.0])
    found = Samples.at(ground, [(10.0, 7.0)] * 2, 0.0, wide).resting_m(20.0)
    assert found == pytest.approx(100.0 + np.sqrt(20.0**2 - (10.0 - wide) ** 2), abs=MILLIMETRE)
    assert np.isnan(Samples.at(ground, [(26.0, 7.0)], 0.0, 5.0).resting_m(20.0)).all()


# ------------------------------------------------------------ voids


def half_known(folder: Path, known: Surface) -> Path:
    """Return a model that knows nothing east of its middle."""
    return scenes.model(folder, lambda e, n: np.where(e <= 0, known(e, n), np.nan), box_m=BOX)


def test_extremes_are_those_of_the_known_ground(tmp_path: Path) -> None:
    """2 m into a void, 5 m of corridor reach 3 m back: ground from −3 m to the edge counts."""
    ground = half_known(tmp_path, lambda e, n: 100.0 + e + 0 * n)
    samples = Samples.at(ground, [(2.0, 0.0), (6.0, 0.0)], 150.0, 5.0)
    highest, lowest = samples.extremes()
    assert highest == pytest.approx([100.0, math.nan], abs=MILLIMETRE, nan_ok=True)
    assert lowest == pytest.approx([97.0, math.nan], abs=MILLIMETRE, nan_ok=True)


def test_nearest_known_ground_beside_a_void(tmp_path: Path) -> None:
    """Over a void the edge of what is known counts, w nearer; out of reach it is inf."""
    ground = half_known(tmp_path, lambda e, n: 100.0 + 0 * e)
    samples = Samples.at(ground, [(13.0, 0.0), (60.0, 0.0)], 120.0, 5.0, reach_m=40.0)
    assert samples.clearance_m() == pytest.approx([math.hypot(8.0, 20.0), math.inf], abs=MILLIMETRE)
    assert samples.middle().clearance_m[0] == pytest.approx(math.hypot(13.0, 20.0), abs=MILLIMETRE)


def test_known_ground_above_the_disc_across_a_void(tmp_path: Path) -> None:
    """Nobody knows where a plateau ends in a void: beside it the aircraft may be in it.

    3 m from the last known post of a plateau 60 m higher, w = 5 m: 2 m under its known
    part the surface is 60 m off. From the middle the known surface is √(3² + 60²) off.
    """
    ground = half_known(tmp_path, lambda e, n: 160.0 + 0 * e)
    found = Samples.at(ground, [(3.0, 0.0)], 100.0, 5.0).clearance_m()
    assert found == pytest.approx(-60.0, abs=MILLIMETRE)

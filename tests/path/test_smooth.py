"""Smooth curves: through every waypoint without a corner, and by how much they swing."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np
import pytest

from terrain_guard.path.pieces import Arc, Cubic, Line, along, hermite
from terrain_guard.path.splines import centripetal, slopes
from tests.path.routes import distance_m, flown, lonlat, route, stops, waypoint

if TYPE_CHECKING:
    from terrain_guard.arrays import Floats
    from terrain_guard.path.curve import Curve

MILLIMETRE = 1e-3

# ------------------------------------------------------------ the uniform formula
# E. Catmull and R. Rom, 1974, on even knots: the slope at a point is half the difference of
# its neighbours, and between two points goes Hermite's cubic. Values by hand.


def uniform(four: tuple[float, float, float, float], u: Floats) -> Floats:
    """Return the curve between the second and the third of four values on even knots."""
    p = [np.array([value]) for value in four]
    first = slopes(p[0], p[1], p[2], (1.0, 1.0))[1]
    last = slopes(p[1], p[2], p[3], (1.0, 1.0))[0]
    return hermite(u, p[1], p[2], first, last)


@pytest.mark.parametrize(
    ("four", "extreme", "at"),
    [
        # Slopes 0 and 50: 50 (u³ - u²), level at u = 2/3, there 50 * -4/27 = -7.4074.
        ((0.0, 0.0, 0.0, 100.0), -7.4074, 2 / 3),
        # The same upside down: it rises before the descent.
        ((100.0, 100.0, 100.0, 0.0), 107.4074, 2 / 3),
    ],
)
def test_the_uniform_curve_swings_the_other_way_first(
    four: tuple[float, float, float, float], extreme: float, at: float
) -> None:
    """7.4074 % of the step that follows, two thirds of the way to it."""
    u = np.linspace(0.0, 1.0, 30001)
    values = uniform(four, u)
    worst = int(np.argmax(np.abs(values - four[1])))
    assert values[worst] == pytest.approx(extreme, abs=5e-5)
    assert u[worst] == pytest.approx(at, abs=5e-5)


def test_the_uniform_curve_is_half_way_in_the_middle() -> None:
    """From 0, 0 to 100, 100 the middle is 50, by symmetry."""
    assert uniform((0.0, 0.0, 100.0, 100.0), np.array([0.5]))[0] == pytest.approx(50.0)


def test_slopes_on_uneven_knots() -> None:
    """The slope is that of the parabola through the three points, in units of each knot.

    Through 0 at 0, 3 at 1 and 0 at 3 goes 4.5 t - 1.5 t²; at t = 1 its slope is 1.5.
    """
    one, two, three = (np.array([value]) for value in (0.0, 3.0, 0.0))
    before, after = slopes(one, two, three, (1.0, 2.0))
    assert (before[0], after[0]) == pytest.approx((1.5, 3.0))


def test_centripetal_knots() -> None:
    """The square root of the distance."""
    assert centripetal(144.0) == pytest.approx(12.0)


# ------------------------------------------------------------ pieces

BENT = Cubic((0.0, 0.0), (100.0, 0.0), ((150.0, 90.0), (120.0, -60.0)))
INFLECTED = Cubic((0.0, 0.0), (3000.0, 0.0), ((3000.0, 4000.0), (3000.0, 2737.0)))
"""An S whose inflection lies in the middle of a chord: at u = (4 a + 2 b) / (6 a + 6 b) = 17/32."""


@pytest.mark.parametrize("cubic", [BENT, INFLECTED])
def test_a_cubic_is_measured_along_its_arc(cubic: Cubic) -> None:
    """Length and places are those of a very fine polygon, to a millimetre."""
    u = np.linspace(0.0, 1.0, 2_000_001)
    x, y = cubic.at(u)
    metres = np.append(0.0, np.cumsum(np.hypot(np.diff(x), np.diff(y))))
    assert cubic.length_m == pytest.approx(metres[-1], abs=MILLIMETRE)
    far = np.linspace(0.0, metres[-1], 777)
    expected = np.interp(far, metres, x), np.interp(far, metres, y)
    assert np.hypot(*np.subtract(cubic.places(far), expected)).max() < MILLIMETRE


@pytest.mark.parametrize("step_m", [0.5, 30.0])
@pytest.mark.parametrize(
    "piece",
    [
        BENT,
        INFLECTED,
        Cubic((0.0, 0.0), (1.0, 0.0), ((1.0, 1.0), (1.0, -1.0))),
        Arc((3.0, 4.0), 25.0, 0.3, -2.5),
        Arc((0.0, 0.0), 2000.0, 1.0, 0.5),
        Line.between((0.0, 0.0), (30.0, -40.0)),
    ],
)
def test_chords_leave_no_piece_by_a_millimetre(piece: Cubic | Arc | Line, step_m: float) -> None:
    """Between two samples the piece stays within a millimetre of its chord."""
    far = piece.distances(step_m)
    assert far[0] == 0.0
    assert far[-1] == pytest.approx(piece.length_m)
    assert np.diff(far).max() <= step_m * (1 + 1e-9)
    x, y = piece.places(far)
    for share in (0.1, 0.25, 0.5, 0.7):
        between = piece.places(far[:-1] + share * np.diff(far))
        chord = x[:-1] + share * np.diff(x), y[:-1] + share * np.diff(y)
        off = np.subtract(between, chord)
        along_it = np.stack((np.diff(x), np.diff(y))) / np.hypot(np.diff(x), np.diff(y))
        aside = np.abs(off[0] * along_it[1] - off[1] * along_it[0])
        assert aside.max() <= MILLIMETRE


def test_a_cubic_cut_too_coarsely_ends_where_it_should(monkeypatch: pytest.MonkeyPatch) -> None:
    """Were it to give up before its chords are fine enough, its ends would still be its ends."""
    monkeypatch.setattr("terrain_guard.path.pieces.MOST_HALVINGS", 0)
    cubic = Cubic(BENT.start, BENT.stop, BENT.tangents)
    assert cubic.length_m == pytest.approx(BENT.length_m, rel=0.01)
    x, y = cubic.places(np.array([0.0, cubic.length_m]))
    assert (x.tolist(), y.tolist()) == ([0.0, 100.0], [0.0, 0.0])


def test_pieces_without_length() -> None:
    """A line or an arc of no length is its place."""
    line = Line((3.0, 4.0), (3.0, 4.0), 0.0)
    assert [float(v[0]) for v in line.places(np.zeros(1))] == [3.0, 4.0]
    arc = Arc((0.0, 0.0), 5.0, 0.0, 0.0)
    assert [float(v[0]) for v in arc.places(np.zeros(1))] == [5.0, 0.0]
    assert Cubic((1.0, 1.0), (1.0, 1.0), ((0.0, 0.0), (0.0, 0.0))).is_straight is False


@pytest.mark.parametrize(
    ("tangents", "straight"),
    [
        (((100.0, 0.0), (100.0, 0.0)), True),
        (((50.0, 0.0), (299.0, 0.0)), True),
        (((100.0, 0.006), (100.0, 0.0)), True),  # aside by 4/27 of 6 mm
        (((100.0, 0.007), (100.0, 0.0)), False),
        (((301.0, 0.0), (100.0, 0.0)), False),  # runs past its end and back
        (((-1.0, 0.0), (100.0, 0.0)), False),
    ],
)
def test_what_is_a_straight_cubic(
    tangents: tuple[tuple[float, float], ...], straight: bool
) -> None:
    """Nowhere a millimetre from its chord, and always going on."""
    first, last = tangents
    cubic = Cubic((0.0, 0.0), (100.0, 0.0), (first, last))
    assert cubic.is_straight is straight
    x, y = cubic.at(np.linspace(0.0, 1.0, 10001))
    goes_on = (np.diff(x) >= -1e-9).all()
    assert (bool(goes_on) and np.abs(y).max() <= MILLIMETRE) or not straight


@pytest.mark.parametrize(("metres", "place"), [(0.0, (0.0, 0.0)), (-1.0, (0.0, 0.0)),
                                               (5.0, (3.0, 4.0)), (10.0, (6.0, 8.0)),
                                               (11.0, (6.0, 8.0))])  # fmt: skip
def test_along_a_leg(metres: float, place: tuple[float, float]) -> None:
    """So far along, and never past its ends."""
    assert along((0.0, 0.0), (6.0, 8.0), metres) == pytest.approx(place)


# ------------------------------------------------------------ over the ground

Points = tuple[tuple[float, float], ...]


def smooth(points: Points, height_m: float = 50.0) -> Curve:
    """Return the reference of a level route flown smoothly."""
    (curve,) = flown(route(*((*p, height_m) for p in points), turns={"kind": "smooth"})).legs
    return curve


def local(curve: Curve) -> tuple[Floats, Floats]:
    """Return (east, north) of the samples, about the island's place to a millimetre."""
    zero = min(range(curve.x_m.size), key=lambda k: float(distance_m(curve, 0.0, 0.0)[k]))
    return curve.x_m - curve.x_m[zero], curve.y_m - curve.y_m[zero]


ZIGZAG: Points = ((0.0, 0.0), (150.0, 20.0), (160.0, 140.0), (40.0, 150.0), (90.0, 260.0))
CROWDED: Points = ((0.0, 0.0), (200.0, 0.0), (200.0, 10.0), (0.0, 10.0))


@pytest.mark.parametrize("points", [ZIGZAG, CROWDED])
def test_it_passes_through_every_waypoint(points: Points) -> None:
    """Each is a sample where its leg ends."""
    curve = smooth(points)
    for number, point in enumerate(points[1:-1], start=2):
        first = int(np.flatnonzero(curve.leg == number)[0])
        assert distance_m(curve, *point)[first] < MILLIMETRE


@pytest.mark.parametrize("points", [ZIGZAG, CROWDED])
def test_it_has_no_corner(points: Points) -> None:
    """Where legs meet, the course changes no more than within the curve beside it."""
    curve = smooth(points)
    course = np.unwrap(np.arctan2(np.diff(curve.y_m), np.diff(curve.x_m)))
    turn = np.degrees(np.abs(np.diff(course)))
    at_waypoints = [int(np.flatnonzero(curve.leg == k)[0]) - 1 for k in range(2, len(points))]
    for k in at_waypoints:
        beside = np.delete(turn[max(0, k - 4) : k + 5], min(k, 4))
        assert turn[k] <= beside.max() + 1.0


def test_a_cusp_is_no_corner_of_ours() -> None:
    """There and back, at the turning point it stands still: it is reached, and nothing is NaN."""
    curve = smooth(((0.0, 0.0), (100.0, 0.0), (0.0, 0.0)))
    assert np.isfinite(curve.x_m).all()
    assert distance_m(curve, 100.0, 0.0).min() < MILLIMETRE


def test_it_stays_near_short_legs() -> None:
    """Legs of 200, 10 and 200 m: beyond the short leg by 2.04 m; the uniform curve by 25 m.

    Both go 8.172 (u - u²) aside of the short leg, or 100 (u - u²) if uniform: the slope at
    its ends is sqrt 10 (200 / sqrt 200 - 200 / (sqrt 200 + sqrt 10)) = 8.172, or half of
    200. Aside of a long leg it goes 36.549 (u³ - u²), at most 5.415 m: the slope there is
    sqrt 200 (10 / sqrt 10 - 10 / (sqrt 200 + sqrt 10)) = 36.549. By hand.
    """
    x, y = local(smooth(CROWDED))
    # The frame's north is that of its middle: over 200 m it turns places by up to 4 mm.
    assert x.max() - 200.0 == pytest.approx(2.043, abs=5 * MILLIMETRE)
    assert y.min() == pytest.approx(-5.415, abs=5 * MILLIMETRE)
    assert y.max() == pytest.approx(15.415, abs=5 * MILLIMETRE)


def test_collinear_waypoints_are_flown_straight() -> None:
    """On one line, evenly spaced or not, there is nothing to curve: the same line in the air."""
    points: Points = ((0.0, 0.0), (40.0, 0.0), (200.0, 0.0), (260.0, 0.0))
    bends = stops(smooth(points))
    assert [bend[:2] for bend in bends] == [(0.0, 0.0), (260.0, 0.0)]
    unstated = flown(route(*((*p, 50.0) for p in points)))
    assert len(unstated.legs) == 1  # and so it is no way of its own


def test_a_square_of_waypoints_is_flown_alike_on_all_sides() -> None:
    """Round three corners of a square the curve is symmetrical about its middle."""
    points: Points = ((0.0, 0.0), (100.0, 0.0), (100.0, 100.0), (0.0, 100.0))
    x, y = local(smooth(points))
    mirrored = np.stack((x, 100.0 - y))[:, ::-1]
    assert mirrored == pytest.approx(np.stack((x, y)), abs=5 * MILLIMETRE)


def test_it_swings_out_before_a_right_angle() -> None:
    """Legs of 100 m: 7.407 % of the next leg's step to the wrong side, at 2/3 of the way.

    Slope at the right angle: half of (100, 100); at the waypoint before it: along the
    line. Aside: 50 (u³ - u²), least -7.4074 m.
    """
    points: Points = ((-200.0, 0.0), (-100.0, 0.0), (0.0, 0.0), (0.0, 100.0), (0.0, 200.0))
    x, y = local(smooth(points))
    assert y.min() == pytest.approx(-7.4074, abs=2 * MILLIMETRE)
    assert x.max() == pytest.approx(7.4074, abs=2 * MILLIMETRE)


@pytest.mark.parametrize("other", ["fly-by", "fly-over", "stop"])
def test_next_to_other_turns_it_leaves_no_corner(other: str) -> None:
    """Mixed with another kind of turn, the curve is one line, with a corner at a stop only."""
    drawn = route(
        (-100.0, 0.0, 50.0), waypoint("smooth", 0.0, 0.0, 60.0, turn="smooth"),
        waypoint("other", 0.0, 100.0, 70.0, turn=other), (150.0, 150.0, 50.0),
        turns={"kind": "stop", "turn_anticipation_m": 15.0},
    )  # fmt: skip
    (curve,) = flown(drawn).legs
    step = np.hypot(np.diff(curve.x_m), np.diff(curve.y_m))
    course = np.unwrap(np.arctan2(np.diff(curve.y_m), np.diff(curve.x_m))[step > 1e-3])
    sharpest = float(np.degrees(np.abs(np.diff(course)).max()))
    assert (sharpest > 20.0) is (other == "stop")
    assert np.abs(np.diff(curve.above_launch_m)).max() < 0.5


def test_waiting_at_a_smooth_waypoint_is_a_stop() -> None:
    """Where it waits, it flies straight to and straight on."""
    drawn = route((-100.0, 0.0, 50.0), waypoint("wait", 0.0, 0.0, 50.0, wait_s=5.0),
                  (0.0, 100.0, 50.0), turns={"kind": "smooth"})  # fmt: skip
    (curve,) = flown(drawn).legs
    assert [bend[:2] for bend in stops(curve)] == [(-100.0, 0.0), (0.0, 0.0), (0.0, 100.0)]


# ------------------------------------------------------------ heights


def heights_at_smooth(heights: tuple[float, ...], spacing_m: float = 100.0) -> Curve:
    """Return the reference over collinear waypoints that are climbed smoothly."""
    drawn = route(*((spacing_m * k, 0.0, h) for k, h in enumerate(heights)),
                  turns={"kind": "fly-by"}, climb={"model": "smooth"})  # fmt: skip
    (curve,) = flown(drawn).legs
    return curve


@pytest.mark.parametrize("spacing_m", [100.0, 130.0, 1000.0])
def test_heights_dip_before_a_climb(spacing_m: float) -> None:
    """35, 35, 35 and 135 m on even waypoints dip to 27.5926 m, two thirds on the second leg."""
    curve = heights_at_smooth((35.0, 35.0, 35.0, 135.0), spacing_m)
    low = int(np.argmin(curve.above_launch_m))
    assert curve.above_launch_m[low] == pytest.approx(35.0 - 7.4074, abs=1e-4)
    assert distance_m(curve, spacing_m * 5 / 3, 0.0)[low] < 0.01
    assert curve.leg[low] == 2


def test_heights_rise_before_a_descent() -> None:
    """100, 100, 100 and 0 m rise to 107.4074 m."""
    curve = heights_at_smooth((100.0, 100.0, 100.0, 0.0))
    assert curve.above_launch_m.max() == pytest.approx(107.4074, abs=1e-4)


def test_heights_of_a_step_are_symmetrical() -> None:
    """From 30, 30 to 130, 130 the middle is 80; dip before it and rise behind it are alike.

    On the middle leg it goes 50 u + 150 u² - 100 u³, which only rises; on the first
    50 (u³ - u²), which dips by 7.4074, and on the last the same upside down.
    """
    curve = heights_at_smooth((30.0, 30.0, 130.0, 130.0))
    assert over_one(curve, 150.0) == pytest.approx(80.0, abs=2e-3)
    assert curve.above_launch_m.min() == pytest.approx(30.0 - 7.4074, abs=1e-4)
    assert curve.above_launch_m.max() == pytest.approx(130.0 + 7.4074, abs=1e-4)


def over_one(curve: Curve, east_m: float) -> float:
    """Return the height over a place on the line."""
    lon, lat = lonlat(east_m, 0.0)
    near = int(np.argmin(np.hypot(curve.lon_deg - lon, curve.lat_deg - lat)))
    return float(curve.above_launch_m[near])


def test_waiting_breaks_the_smooth_heights() -> None:
    """At a waypoint where it waits there is no curve to carry on: it is linear on both sides."""
    drawn = route(
        (0.0, 0.0, 35.0), (100.0, 0.0, 35.0), waypoint("wait", 200.0, 0.0, 35.0, wait_s=1.0),
        (300.0, 0.0, 135.0), turns={"kind": "fly-by"}, climb={"model": "smooth"},
    )  # fmt: skip
    (curve,) = flown(drawn).legs
    assert curve.above_launch_m.min() == pytest.approx(35.0, abs=1e-9)


def test_a_climb_on_the_spot_breaks_the_smooth_heights() -> None:
    """Straight up at a waypoint there is no slope over the ground: linear on both sides."""
    drawn = route((0.0, 0.0, 35.0), (100.0, 0.0, 35.0), (100.0, 0.0, 95.0), (200.0, 0.0, 95.0),
                  turns={"kind": "fly-by"}, climb={"model": "smooth"})  # fmt: skip
    (curve,) = flown(drawn).legs
    assert (curve.above_launch_m.min(), curve.above_launch_m.max()) == pytest.approx((35.0, 95.0))


def test_a_steep_short_leg_throws_nothing_far_off() -> None:
    """60 m up over 5 m, then level for 200: it overshoots by 10.486 m, and comes back.

    A leg's size is the longer of along and up: knots of sqrt 60 and sqrt 200 make the
    slope sqrt 200 (60 / sqrt 60 - 60 / (sqrt 60 + sqrt 200)) = 70.78 over the long leg,
    which shows by 4/27. By the metres along alone it would overshoot by 48.5 m.
    """
    drawn = route((0.0, 0.0, 40.0), (5.0, 0.0, 100.0), (205.0, 0.0, 100.0),
                  turns={"kind": "fly-by"}, climb={"model": "smooth"})  # fmt: skip
    (curve,) = flown(drawn).legs
    assert curve.above_launch_m.max() == pytest.approx(110.486, abs=2e-3)
    assert curve.above_launch_m[-1] == 100.0
    assert np.isfinite(curve.time_s).all()

"""What must hold over any ground: random rough terrain, changed in ways with a known effect.

Posts stand 10 m apart and differ by up to 60 m from one to the next; the flights
stay in the middle, so that the model's edge is out of the floor's reach.
"""

from __future__ import annotations

import itertools
import tempfile
from collections.abc import Callable, Iterator, Sequence
from contextlib import contextmanager
from pathlib import Path
from typing import Any

import numpy as np
import pytest
from hypothesis import assume, given, settings
from hypothesis import strategies as st
from scipy.ndimage import map_coordinates

from terrain_guard import assess
from terrain_guard.assessment import Assessment, Extreme, LegRow
from terrain_guard.checks import site
from terrain_guard.checks.column import cone_excess
from terrain_guard.ground.model import Ground
from terrain_guard.plan.rules import Rules
from terrain_guard.states import SEVERITY, State
from tests import reference
from tests.checks import scenes
from tests.checks.scenes import LOOSE, Floats
from tests.checks.survey_by_hand import TENS, weight
from tests.reference import Position

CELL_M = 10.0
HALF = 24  # posts on each side of the spot
Points = Sequence[tuple[float, float, float]]

few = settings(max_examples=10, deadline=None)
seeds = st.integers(0, 2**32 - 1)
coordinates = st.floats(-60.0, 60.0)
places = st.tuples(coordinates, coordinates)
heights = st.floats(20.0, 90.0)
legs = st.lists(st.tuples(coordinates, coordinates, heights), min_size=2, max_size=3)


def rough(seed: int) -> Floats:
    """Return posts between 200 and 290 m: rolling ground with jumps of up to 60 m in it."""
    random = np.random.default_rng(seed)
    size = 2 * HALF + 1
    row, column = np.indices((size, size))
    waves = np.zeros((size, size))
    for _ in range(4):
        per_row, per_column = random.uniform(-0.6, 0.6, 2)
        waves += random.uniform(0, 8) * np.sin(per_row * row + per_column * column)
    jumps = random.uniform(0, 60, (size, size)) * (random.uniform(0, 1, (size, size)) < 0.15)
    return np.round(230.0 + np.clip(waves, -30, 0) + jumps, 2)


@contextmanager
def written(posts: Floats) -> Iterator[Path]:
    """Write posts, the middle one at the spot, for as long as the block lasts."""
    corner = (-HALF * CELL_M, HALF * CELL_M)
    with tempfile.TemporaryDirectory(ignore_cleanup_errors=True) as folder:
        yield scenes.grid(Path(folder), posts, cell_m=CELL_M, corner_m=corner)


def flown(posts: Floats, points: Points, rules: Rules = LOOSE, **how: Any) -> Assessment:
    """Fly over posts, straight up from under the first point."""
    with written(posts) as ground:
        return scenes.fly(ground, points, rules, **how)


def extremes(leg: LegRow) -> Floats:
    """Return the four extremes of a leg; NaN for one it does not have."""
    all_four: tuple[Extreme | None, ...] = (
        leg.above_ground_min, leg.above_ground_max, leg.clearance_min, leg.clearance_max,
    )  # fmt: skip
    return np.array([np.nan if one is None else one.nominal_m for one in all_four])


def table(found: Assessment) -> Floats:
    """Return the extremes of all legs between waypoints."""
    return np.array([extremes(leg) for leg in found.legs[1:-1]])


# ------------------------------------------------------------ against second methods


@few
@given(seeds, legs)
def test_extremes_equal_a_scan(seed: int, points: Points) -> None:
    """Above ground, over and under it: every half centimetre by SciPy."""
    for (e0, n0, _), (e1, n1, _) in itertools.pairwise(points):
        assume(np.hypot(e1 - e0, n1 - n0) > 0.1)  # the scan goes along, never straight up
    with written(rough(seed)) as ground:
        found = scenes.fly(ground, points, LOOSE)
        terrain = reference.read_terrain(ground)
    stops = [
        Position(
            lon_deg=w.lon_deg, lat_deg=w.lat_deg,
            elevation_m=found.launch.elevation_m + w.height_m,
        )
        for w in found.route.waypoints
    ]  # fmt: skip
    for leg, (start, stop) in zip(found.legs[1:], itertools.pairwise(stops), strict=False):
        scan = reference.scan_leg(terrain, start, stop, step_m=0.005)
        assert extremes(leg)[:2] == pytest.approx([scan.min_m, scan.max_m], abs=0.02)


@few
@given(seeds, places, st.floats(-40.0, 110.0))
def test_clearance_equals_halved_patches(
    seed: int, place: tuple[float, float], height_m: float
) -> None:
    """Clearance at a place, over and under the ground, equals that of patches halved."""
    with written(rough(seed)) as ground:
        start = (place[0], place[1] - 0.5)
        found = scenes.fly(ground, [(*start, height_m), (*place, height_m)], LOOSE, start=(0, 0))
        terrain = reference.read_terrain(ground)
    lat, lon = scenes.lat_lon(*place)
    point = Position(lon_deg=lon, lat_deg=lat, elevation_m=found.launch.elevation_m + height_m)
    expected = reference.clearance_m(terrain, point)
    assert found.samples.clearance_m[-1] == pytest.approx(expected, abs=0.003)
    assert abs(found.samples.clearance_m[-1]) <= abs(found.samples.above_ground_m[-1]) + 1e-6


@few
@given(seeds, places, st.floats(5.0, 70.0))
def test_ball_rests_where_a_fine_net_says(
    seed: int, place: tuple[float, float], radius_m: float
) -> None:
    """Where a ball comes to rest is the highest of z + sqrt(r² - d²) over a net made ever finer."""
    posts = rough(seed)
    with written(posts) as ground:
        (rests,) = scenes.resting(ground, [place[0]], [place[1]], radius_m)
    best = highest(
        posts, place, radius_m, lambda z, away: z + np.sqrt(np.maximum(radius_m**2 - away**2, 0.0))
    )
    assert rests == pytest.approx(best, abs=0.02)


@few
@given(seeds, places, st.floats(15.0, 40.0))
def test_column_equals_a_fine_net(seed: int, place: tuple[float, float], radius_m: float) -> None:
    """The greatest height above a 1:1 cone equals that over a net made ever finer."""
    posts = rough(seed)
    with written(posts) as path:
        ground = Ground(path)
        lat, lon = scenes.lat_lon(*place)
        row, column = ground.posts_at(lon, lat)
        tip_m = float(ground.elevation_at(row, column)[0])
        excess, void_m = cone_excess(
            ground, float(row[0]), float(column[0]), spot_elevation_m=tip_m, radius_m=radius_m
        )
    best = highest(posts, place, radius_m, lambda z, away: z - tip_m - away)
    assert excess == pytest.approx(max(best, 0.0), abs=0.02)
    assert void_m == np.inf


def highest(
    posts: Floats,
    place: tuple[float, float],
    radius_m: float,
    measure: Callable[[Floats, Floats], Floats],
) -> float:
    """Return the greatest `measure(elevation, distance)` within a radius, by SciPy.

    The best 300 places of a net of 0.7 m are looked round again in ever smaller squares.
    """
    reach, step = np.arange(-radius_m, radius_m, 0.7), 0.7
    east, north = (part.ravel() for part in np.meshgrid(place[0] + reach, place[1] + reach))
    while True:
        away = np.hypot(east - place[0], north - place[1])
        where = [HALF - north / CELL_M, HALF + east / CELL_M]
        z = map_coordinates(posts, where, order=1)
        value = np.where(away <= radius_m, measure(z, away), -np.inf)
        if step < 1e-3:
            return float(value.max())
        hopeful = np.argsort(-value)[:300, None]
        down, across = np.meshgrid(step / 4 * np.arange(-4, 5), step / 4 * np.arange(-4, 5))
        east = (east[hopeful] + across.ravel()).ravel()
        north = (north[hopeful] + down.ravel()).ravel()
        step /= 4


# ------------------------------------------------------------ moving everything


@few
@given(seeds, legs, st.integers(-300, 3000))
def test_raising_the_whole_model_changes_nothing(seed: int, points: Points, lift: int) -> None:
    """Launch ground and ground rise together: every height and clearance stays."""
    posts = rough(seed)
    before, after = flown(posts, points), flown(posts + float(lift), points)
    assert table(after) == pytest.approx(table(before), abs=1e-6)
    assert after.launch.elevation_m - before.launch.elevation_m == pytest.approx(lift, abs=1e-9)


@few
@given(seeds, legs, st.floats(-9.9, 9.9))
def test_launch_elevation_is_a_lever(seed: int, points: Points, shift_m: float) -> None:
    """A launch surveyed higher lifts heights above ground by its share, clearance by no more."""
    posts = rough(seed)
    before = flown(posts, points)
    start = scenes.launch(
        *points[0][:2], elevation_m=before.launch.elevation_m + shift_m, elevation_accuracy_m=1.0
    )
    after = flown(posts, points, start=start)
    change = after.samples.above_ground_m - before.samples.above_ground_m
    places = zip(after.samples.lat_deg, after.samples.lon_deg, strict=True)
    east, north = np.transpose([scenes.east_north(*place) for place in places])
    away = np.hypot(east - points[0][0], north - points[0][1])
    assert change == pytest.approx(shift_m * weight(away, 1.0, model=TENS), abs=1e-6)
    slants = np.abs(after.samples.clearance_m - before.samples.clearance_m)
    assert slants.max() <= abs(shift_m) + 2e-3


@few
@given(seeds, legs)
def test_mirrored_and_turned(seed: int, points: Points) -> None:
    """East for west, and north for east: the same heights in another place."""
    posts = rough(seed)
    plain = table(flown(posts, points))
    mirrored = flown(posts[:, ::-1], [(-e, n, h) for e, n, h in points])
    turned = flown(np.rot90(posts), [(-n, e, h) for e, n, h in points])
    assert table(mirrored) == pytest.approx(plain, abs=1e-3)
    assert table(turned) == pytest.approx(plain, abs=6e-3)


@few
@given(seeds, legs)
def test_there_and_back(seed: int, points: Points) -> None:
    """Flown the other way, with stops, every leg has the same extremes."""
    posts = rough(seed)
    forth = table(flown(posts, points, start=(0, 0)))
    back = table(flown(posts, points[::-1], start=(0, 0)))
    assert back[::-1] == pytest.approx(forth, abs=0.011)


@few
@given(seeds, legs, st.floats(0.1, 0.9))
def test_a_waypoint_on_the_line_changes_nothing(seed: int, points: Points, share: float) -> None:
    """A stop put on the first leg, at the height it has there, leaves the worst as it was."""
    posts = rough(seed)
    (first, second), rest = points[:2], points[2:]
    between = tuple(a + share * (b - a) for a, b in zip(first, second, strict=True))
    plain = table(flown(posts, points))
    more = table(flown(posts, [first, (between[0], between[1], between[2]), second, *rest]))
    joined = np.where(
        [True, False, True, False], np.minimum(more[0], more[1]), np.maximum(more[0], more[1])
    )
    assert joined == pytest.approx(plain[0], abs=0.011)
    assert more[2:] == pytest.approx(plain[1:], abs=0.011)


# ------------------------------------------------------------ looking closer


@few
@given(seeds, legs)
def test_finer_samples_find_the_same_extremes(seed: int, points: Points) -> None:
    """Samples a quarter of a metre apart: extremes move by at most 1 cm."""
    posts = rough(seed)
    coarse = table(flown(posts, points))
    with pytest.MonkeyPatch.context() as patch:
        patch.setattr(site, "LARGEST_STEP_M", 0.25)
        fine = table(flown(posts, points))
    assert fine == pytest.approx(coarse, abs=0.01)


@few
@given(seeds, legs)
def test_clearance_changes_at_most_metre_for_metre(seed: int, points: Points) -> None:
    """Between two samples no more than their distance; never more than the height above ground."""
    samples = flown(rough(seed), points).samples
    change = np.abs(np.diff(samples.clearance_m))
    assert (change <= np.diff(samples.along_m) + 2e-3).all()
    assert (np.abs(samples.clearance_m) <= np.abs(samples.above_ground_m) + 1e-6).all()
    off = np.abs(samples.above_ground_m) > 1e-9  # on the launch spot there is only noise
    assert ((samples.clearance_m < 0) == (samples.above_ground_m < 0))[off].all()


# ------------------------------------------------------------ never better for being worse


def ranks(found: Assessment) -> list[int]:
    """Return how severe the state of each leg is."""
    return [SEVERITY.index(leg.state) for leg in found.legs]


@few
@given(seeds, legs, st.floats(5.0, 40.0), st.floats(0.5, 20.0))
def test_a_larger_floor_never_improves(
    seed: int, points: Points, floor_m: float, more_m: float
) -> None:
    """No leg that fails one floor passes a larger one."""
    posts = rough(seed)
    small = ranks(flown(posts, points, scenes.rules(floor_m=floor_m)))
    large = ranks(flown(posts, points, scenes.rules(floor_m=floor_m + more_m)))
    assert all(more >= less for more, less in zip(large, small, strict=True))


@few
@given(seeds, legs, st.sampled_from(["vertical", "closest-point"]), st.floats(0.5, 40.0))
def test_a_lower_ceiling_never_improves(
    seed: int, points: Points, measure: str, less_m: float
) -> None:
    """No leg that fails one ceiling passes a lower one, by either measure."""
    posts = rough(seed)
    rules = [
        scenes.rules(floor_m=5.0, ceiling_m=110.0 - down, ceiling_measure=measure)
        for down in (0.0, less_m)
    ]
    high, low = (ranks(flown(posts, points, one)) for one in rules)
    assert all(less >= more for less, more in zip(low, high, strict=True))


@few
@given(seeds, legs, st.floats(0.0, 1.0), st.floats(1.0, 40.0))
def test_a_higher_post_never_improves_the_floor(
    seed: int, points: Points, share: float, lift_m: float
) -> None:
    """Raising a post near the flight, but not under the launch, betters no state, no clearance."""
    posts = rough(seed)
    (e0, n0, _), (e1, n1, _) = points[:2]
    row = round(HALF - (n0 + share * (n1 - n0)) / CELL_M)
    column = round(HALF + (e0 + share * (e1 - e0)) / CELL_M)
    raised = posts.copy()
    raised[row, column] += lift_m
    start = scenes.launch(-150.0, -150.0)
    rules = scenes.rules(ceiling_m=1000.0)
    before = flown(posts, points, rules, start=start)
    after = flown(raised, points, rules, start=start)
    assert all(a >= b for a, b in zip(ranks(after)[1:], ranks(before)[1:], strict=True))
    assert (table(after)[:, [0, 2]] <= table(before)[:, [0, 2]] + 0.011).all()


@few
@given(seeds, legs, st.floats(0.0, 1.0), st.sampled_from([np.nan, -9999.0]))
def test_a_void_under_the_flight_never_passes(
    seed: int, points: Points, share: float, marker: float
) -> None:
    """Take away any post under a leg: that leg, and the flight, is not within nor tight."""
    posts = rough(seed)
    (e0, n0, _), (e1, n1, _) = points[:2]
    row = int(np.floor(HALF - (n0 + share * (n1 - n0)) / CELL_M))
    column = int(np.floor(HALF + (e0 + share * (e1 - e0)) / CELL_M))
    posts[row, column] = marker
    found = flown(posts, points, scenes.rules(floor_m=1.0, ceiling_m=1000.0))
    bad = {State.NOT_ASSESSED, State.BREACH}
    assert found.legs[1].state in bad
    assert found.verdict in bad
    assert found.assessed_m < found.length_m


def in_a_file(folder: Path, points: Points, unit: str) -> Path:
    """Write the flight as a route file in metres or feet (exactly 0.3048 m)."""
    size = {"m": 1.0, "ft": 0.3048}[unit]
    spots = [(*scenes.lat_lon(east, north), height / size) for east, north, height in points]
    parts = [
        f'title = "hand"\nheights = "launch"\nheight_unit = "{unit}"\n[launch]\n'
        f"lat = {spots[0][0]!r}\nlon = {spots[0][1]!r}\n[turns]\nkind = 'stop'\n"
        "[climb]\nmodel = 'linear'\ntoo_steep = 'slows'\nout = 'vertical'\n"
        "[after_last]\ngo_to = 'here'\n"
    ]
    parts += [
        f"[[waypoint]]\nlat = {lat!r}\nlon = {lon!r}\nheight = {height!r}\n"
        for lat, lon, height in spots
    ]
    path = folder / f"{unit}.toml"
    path.write_text("\n".join(parts), encoding="utf-8")
    return path


@few
@given(seeds, legs)
def test_feet_and_metres_are_one_flight(seed: int, points: Points) -> None:
    """A route typed in feet has the extremes of the same route typed in metres."""
    with written(rough(seed)) as ground, tempfile.TemporaryDirectory() as folder:
        metres, feet = (
            assess.check(
                in_a_file(Path(folder), points, unit), ground=ground, rules=LOOSE, canopy_m=0.0
            )
            for unit in ("m", "ft")
        )
    assert table(feet) == pytest.approx(table(metres), abs=1e-6, nan_ok=True)
    assert feet.verdict is metres.verdict

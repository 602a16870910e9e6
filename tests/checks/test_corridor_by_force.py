"""The corridor on real ground, against force: every place of the disc, or of the ground.

The second methods know nothing of the search: SciPy's ground at many places of the
disc; nets over the ground, made ever finer; and the aircraft moved about in its disc,
its clearance each time by `tests.reference`, every patch halved.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from pathlib import Path

import numpy as np
import pyproj
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from terrain_guard.arrays import Floats
from terrain_guard.checks import between, corridor, extremes
from terrain_guard.checks.clearance import Foot
from terrain_guard.ground.model import Ground
from tests import reference
from tests.checks.straying import Samples
from tests.checks.test_extremes import Mesh, window
from tests.reference import Position, Terrain

MODELS = ("sierra30", "lakes50", "jacksboro")
MILLIMETRE = 0.001
REACH_M = 250.0

SHARE = st.floats(0.2, 0.8)
WIDE_M = st.one_of(st.floats(0.0, 10.0), st.floats(10.0, 60.0))
ABOVE_M = st.one_of(st.floats(0.01, 20.0), st.floats(20.0, 150.0))
ANYWHERE_M = st.floats(-60.0, 120.0)


@dataclass(frozen=True, kw_only=True)
class Real:
    """A real model, as the program sees it and as others do."""

    ground: Ground
    terrain: Terrain

    def place(self, down: float, across: float) -> tuple[float, float]:
        """Return longitude and latitude of a share of the way down and across the model."""
        rows, columns = self.terrain.heights_m.shape
        lon, lat = reference.lonlat_of(
            self.terrain, np.array([down * (rows - 1)]), np.array([across * (columns - 1)])
        )
        return float(lon[0]), float(lat[0])

    def ground_m(self, lon_deg: float, lat_deg: float) -> float:
        """Return SciPy's ground."""
        return float(reference.scipy_ground_m(self.terrain, lon_deg, lat_deg)[0])

    def samples(
        self, place: tuple[float, float], elevation_m: float, wide_m: float | Floats
    ) -> Samples:
        """Look from one place, with one corridor or several."""
        lon, lat = (np.full(np.shape(np.atleast_1d(wide_m)), value) for value in place)
        return Samples.on(self.ground, lon, lat, elevation_m, wide_m, reach_m=REACH_M)


@pytest.fixture(scope="module", params=MODELS)
def real(request: pytest.FixtureRequest) -> Real:
    """Return each of three real models."""
    path: Path = request.getfixturevalue(request.param)
    return Real(ground=Ground(path), terrain=reference.read_terrain(path))


def moved(place: tuple[float, float], ways_m: Floats) -> tuple[Floats, Floats]:
    """Return places moved by metres east and north (2, n), about the first: azimuthal equidistant.

    Over some tens of metres that is the same as geodesics, to a thousandth of a millimetre.
    """
    frame = pyproj.Proj(proj="aeqd", lon_0=place[0], lat_0=place[1], ellps="WGS84")
    lon, lat = frame(ways_m[0], ways_m[1], inverse=True)
    return np.asarray(lon), np.asarray(lat)


def on_rim(wide_m: float, toward: Floats) -> Floats:
    """Return ways (2, n) to places on the rim of a disc."""
    return wide_m * np.stack((np.sin(toward), np.cos(toward)))


# ------------------------------------------------------------ the vertical


def highest_by_force(real: Real, place: tuple[float, float], wide_m: float, sign: int) -> float:
    """Return the highest of the posts in the disc and of its rim, looked at ever closer.

    A bilinear patch has no summit inside; `sign` −1 turns the ground over.
    """
    toward = np.linspace(0.0, 2 * np.pi, 5000)
    size = toward[1]
    while True:
        rim = moved(place, on_rim(wide_m, toward))
        up = sign * reference.scipy_ground_m(real.terrain, *rim)
        if size * wide_m < MILLIMETRE / 10:
            break
        best = toward[np.argsort(up)[-20:]]
        toward = (best[:, None] + size * np.linspace(-1, 1, 101)).ravel()
        size /= 50
    cells = reference.cell_positions(real.terrain, *moved(place, on_rim(wide_m, toward)))
    middle = reference.cell_positions(real.terrain, *place)
    around = int(np.ceil(np.abs(cells - middle).max() * 3)) + 1
    down, across = np.mgrid[-around : around + 1, -around : around + 1]
    row, column = (np.rint(middle) + np.stack((down.ravel(), across.ravel()))).astype(int)
    frame = pyproj.Proj(proj="aeqd", lon_0=place[0], lat_0=place[1], ellps="WGS84")
    away = np.hypot(*frame(*reference.lonlat_of(real.terrain, row, column)))
    posts = sign * real.terrain.heights_m[row, column][away <= wide_m]
    return float(max(up.max(), posts.max(initial=-np.inf)))


@given(down=SHARE, across=SHARE, wide_m=WIDE_M)
@settings(max_examples=15, deadline=None)
def test_extremes(real: Real, down: float, across: float, wide_m: float) -> None:
    """The highest and the lowest are those of the posts in the disc and of its rim."""
    place = real.place(down, across)
    highest, lowest = real.samples(place, 0.0, wide_m).extremes()
    assert highest == pytest.approx(highest_by_force(real, place, wide_m, 1), abs=MILLIMETRE)
    assert lowest == pytest.approx(-highest_by_force(real, place, wide_m, -1), abs=MILLIMETRE)


def test_a_disc_of_no_radius_is_the_place_itself(real: Real) -> None:
    """For w = 0 both are SciPy's ground: inside cells, on their edges and diagonals, on posts."""
    random = np.random.default_rng(1)
    row, column = random.uniform(40.0, 110.0, (2, 1500))
    row[500:] = np.round(row[500:] * 16) / 16
    column[500:1000] = np.round(column[500:1000] * 16) / 16
    column[1000:] = np.floor(column[1000:]) + row[1000:] % 1.0
    lon, lat = reference.lonlat_of(real.terrain, row, column)
    samples = Samples.on(real.ground, lon, lat, 0.0, 0.0, reach_m=100.0)
    expected = reference.scipy_ground_m(real.terrain, lon, lat)
    for found in samples.extremes():
        assert found == pytest.approx(expected, abs=MILLIMETRE)


# ------------------------------------------------------------ the nearest


def least_over(mesh: Mesh, cost: Callable[[Floats], Floats]) -> float:
    """Return the least cost of places (3, n) of the ground, by a net made ever finer."""
    row, column = mesh.net(8)
    size = 1 / 8
    while True:
        found = cost(mesh.at(row, column))
        if size * mesh.cell_m < MILLIMETRE:
            return float(found.min())
        hopeful = np.argsort(found)[:400]
        step = size / 4 * np.arange(-4, 5)
        down, across = np.meshgrid(step, step, indexing="ij")
        row = (row[hopeful, None] + down.ravel()).ravel()
        column = (column[hopeful, None] + across.ravel()).ravel()
        size /= 4


def nearest_by_force(real: Real, at: Position, wide_m: float, reach_m: float) -> float:
    """Return the least distance of the ground from a disc."""

    def cost(way: Floats) -> Floats:
        beside = np.maximum(np.hypot(way[0], way[1]) - wide_m, 0.0)
        return np.hypot(beside, way[2] - at.elevation_m)

    return least_over(Mesh.about(at, window(real.terrain, [at], reach_m + wide_m)), cost)


@given(down=SHARE, across=SHARE, wide_m=WIDE_M, above_m=ABOVE_M)
@settings(max_examples=15, deadline=None)
def test_nearest_by_all_places_of_the_ground(
    real: Real, down: float, across: float, wide_m: float, above_m: float
) -> None:
    """Above all ground in the disc it is the least of √(max(0, ρ − w)² + Δz²)."""
    place = real.place(down, across)
    highest = float(real.samples(place, 0.0, wide_m).extremes()[0][0])
    at = Position(lon_deg=place[0], lat_deg=place[1], elevation_m=highest + above_m)
    found = real.samples(place, at.elevation_m, wide_m).clearance_m()
    expected = nearest_by_force(real, at, wide_m, above_m + 1.0)
    assert found == pytest.approx(expected, abs=2 * MILLIMETRE)


def clearance_at(real: Real, place: tuple[float, float], way: Floats, elevation_m: float) -> float:
    """Return the clearance of the aircraft moved sideways (2,), every patch halved."""
    lon, lat = moved(place, way[:, None])
    at = Position(lon_deg=float(lon[0]), lat_deg=float(lat[0]), elevation_m=elevation_m)
    return reference.clearance_m(real.terrain, at)


def worst_by_straying(
    real: Real, place: tuple[float, float], elevation_m: float, wide_m: float
) -> float:
    """Return the least clearance over the disc: rings, then ever closer round the worst place."""
    rings = [on_rim(r * wide_m, np.arange(0, 2 * np.pi, np.pi / 6)).T for r in (0.4, 0.7, 1.0)]
    ways = np.concatenate([np.zeros((1, 2)), *rings])
    step = wide_m / 3
    worst, least = ways[0], np.inf
    while step > wide_m / 300:
        for way in ways:
            value = clearance_at(real, place, way, elevation_m)
            if value < least:
                worst, least = way, value
        step /= 2
        turns = np.arange(0, 2 * np.pi, np.pi / 4)
        ways = worst + on_rim(step, turns).T
        away = np.hypot(*ways.T)
        ways = ways * np.minimum(1.0, wide_m / np.maximum(away, 1e-9))[:, None]
    return least


@pytest.mark.parametrize("seed", range(2))
def test_nearest_by_straying(real: Real, seed: int) -> None:
    """No place of the disc is nearer to the ground, and the worst is as near, to a centimetre."""
    random = np.random.default_rng(seed)
    place = real.place(*random.uniform(0.2, 0.8, 2))
    wide_m = float(random.uniform(2.0, 40.0))
    highest = float(real.samples(place, 0.0, wide_m).extremes()[0][0])
    elevation_m = highest + float(random.uniform(2.0, 80.0))
    (found,) = real.samples(place, elevation_m, wide_m).clearance_m()
    expected = worst_by_straying(real, place, elevation_m, wide_m)
    assert expected - 0.01 <= found <= expected + 2 * MILLIMETRE


@pytest.mark.parametrize("seed", range(2))
def test_bounds_hold_wherever_it_strays(real: Real, seed: int) -> None:
    """High or in the ground, no place of the disc is nearer, or farther, than the two bounds."""
    random = np.random.default_rng(seed + 100)
    place = real.place(*random.uniform(0.2, 0.8, 2))
    wide_m = float(random.uniform(2.0, 60.0))
    elevation_m = real.ground_m(*place) + float(random.choice([-15.0, 3.0, 10.0, 60.0, 150.0]))
    samples = real.samples(place, elevation_m, wide_m)
    (least,), (most,) = samples.clearance_m(), samples.farthest_m()
    for _ in range(40):
        way = on_rim(wide_m * np.sqrt(random.uniform()), random.uniform(0, 2 * np.pi, 1))[:, 0]
        here = clearance_at(real, place, way, elevation_m)
        assert least - 2 * MILLIMETRE <= here <= most + 2 * MILLIMETRE


# ------------------------------------------------------------ properties


@given(down=SHARE, across=SHARE, above_m=ANYWHERE_M)
@settings(max_examples=15, deadline=None)
def test_without_a_corridor_it_is_the_clearance(
    real: Real, down: float, across: float, above_m: float
) -> None:
    """For w = 0 all is as it is for the sample itself, above ground and below."""
    place = real.place(down, across)
    samples = real.samples(place, real.ground_m(*place) + above_m, 0.0)
    ground_m = real.ground_m(*place)
    highest, lowest = samples.extremes()
    assert (float(highest[0]), float(lowest[0])) == pytest.approx((ground_m, ground_m), abs=1e-3)
    centre = samples.middle().clearance_m
    assert samples.clearance_m() == pytest.approx(centre, abs=MILLIMETRE)
    assert samples.farthest_m() == pytest.approx(np.maximum(centre, 0.0), abs=MILLIMETRE)


@given(down=SHARE, across=SHARE, above_m=ANYWHERE_M)
@settings(max_examples=15, deadline=None)
def test_a_wider_corridor_is_never_better(
    real: Real, down: float, across: float, above_m: float
) -> None:
    """Nearest falls and farthest grows with w; each metre of w counts a metre at most."""
    place = real.place(down, across)
    wide = np.array([0.0, 0.1, 1.0, 2.0, 5.0, 10.0, 20.0, 40.0])
    samples = real.samples(place, real.ground_m(*place) + above_m, wide)
    centre = float(samples.middle().clearance_m[0])
    least, most = samples.clearance_m(), samples.farthest_m()
    highest, lowest = samples.extremes()
    assert (np.diff(least) <= MILLIMETRE).all()
    assert (np.diff(most) >= -MILLIMETRE).all()
    assert (np.diff(highest) >= -MILLIMETRE).all()
    assert (np.diff(lowest) <= MILLIMETRE).all()
    assert (least <= centre + MILLIMETRE).all()
    assert (least >= centre - wide - MILLIMETRE).all()
    assert (most >= centre - MILLIMETRE).all()
    assert (most <= abs(centre) + wide + MILLIMETRE).all()


@given(down=SHARE, across=SHARE, above_m=ANYWHERE_M, wide_m=WIDE_M, by_m=st.floats(0.0, 30.0))
@settings(max_examples=15, deadline=None)
def test_metre_for_metre_with_elevation(
    real: Real, down: float, across: float, *, above_m: float, wide_m: float, by_m: float
) -> None:
    """A metre up or down is a metre of clearance at most, through the surface too."""
    place = real.place(down, across)
    samples = real.samples(place, real.ground_m(*place) + above_m, wide_m)
    change = samples.raised(by_m).clearance_m() - samples.clearance_m()
    assert np.abs(change) <= by_m + 2 * MILLIMETRE


@given(down=SHARE, across=SHARE, wide_m=st.floats(0.0, 20.0), sign=st.sampled_from([1, -1]))
@settings(max_examples=15, deadline=None)
def test_where_the_ball_rests(
    real: Real, down: float, across: float, wide_m: float, sign: int
) -> None:
    """At rest the disc is a floor of 30 m above the ground; no other place has the ball higher.

    For a ceiling (`sign` −1), by a net: the highest z + √(R² − (ρ + w)²).
    """
    place = real.place(down, across)
    (rests,) = real.samples(place, 0.0, wide_m).resting_m(30.0, sign=sign)
    if sign > 0:
        (found,) = real.samples(place, rests, wide_m).clearance_m()
        assert found == pytest.approx(30.0, abs=2 * MILLIMETRE)
        return
    at = Position(lon_deg=place[0], lat_deg=place[1], elevation_m=0.0)

    def cost(way: Floats) -> Floats:
        spare = 30.0**2 - (np.hypot(way[0], way[1]) + wide_m) ** 2
        return np.where(spare >= 0, -way[2] - np.sqrt(np.maximum(spare, 0.0)), np.inf)

    expected = -least_over(Mesh.about(at, window(real.terrain, [at], 60.0)), cost)
    assert rests == pytest.approx(expected, abs=2 * MILLIMETRE)


# ------------------------------------------------------------ along a curve


def along(
    real: Real,
    seed: int,
    *,
    n: int,
    step_m: float,
    wide_m: float | Floats,
    above_m: tuple[float, float] = (5.0, 60.0),
) -> Samples:
    """Return samples along a straight slanting line, so high above the highest ground below it."""
    random = np.random.default_rng(seed)
    place = real.place(*random.uniform(0.3, 0.7, 2))
    metres = step_m * np.arange(n)
    lon, lat = moved(place, on_rim(1.0, random.uniform(0, 2 * np.pi, 1)) * metres)
    top = float(reference.scipy_ground_m(real.terrain, lon, lat).max())
    up = top + random.uniform(*above_m) + random.uniform(-0.5, 0.5) * metres
    return Samples.on(real.ground, lon, lat, up, wide_m, reach_m=REACH_M)


@pytest.mark.parametrize("seed", range(8))
def test_many_samples_are_as_each_alone(real: Real, seed: int) -> None:
    """Neighbours, seeds and what is enough to know save work, and change no value."""
    wide = np.random.default_rng(seed).uniform(0.0, 30.0, 60)
    samples = along(real, seed, n=60, step_m=2.0, wide_m=wide)
    together = samples.nearest()
    alone = np.concatenate([
        Samples.on(
            real.ground, *real.ground.degrees_at(samples.row[k : k + 1], samples.column[k : k + 1]),
            samples.elevation_m[k], wide[k], reach_m=REACH_M,
        ).clearance_m()
        for k in range(60)
    ])  # fmt: skip
    assert together.clearance_m == pytest.approx(alone, abs=MILLIMETRE)
    lower = samples.raised(-4.0)
    assert lower.nearest(seed=together).clearance_m == pytest.approx(
        lower.clearance_m(), abs=MILLIMETRE
    )
    enough = np.full(60, float(np.median(alone)))
    hasty = samples.nearest(enough_m=enough).clearance_m
    near = alone <= enough
    assert hasty[near] == pytest.approx(alone[near], abs=MILLIMETRE)
    assert (hasty[~near] >= enough[~near] - MILLIMETRE).all()


@pytest.mark.parametrize("seed", range(8))
def test_between_two_samples(real: Real, seed: int) -> None:
    """Wherever along 20 m, and aside, the aircraft is: nothing nearer or farther than said."""
    wide_m = float(3 + 3 * seed)
    ends = along(real, seed, n=2, step_m=20.0, wide_m=wide_m, above_m=(-30.0, 60.0))
    least, foot = ends.clearance_m(), ends.middle()
    chord = np.hypot(20.0, np.diff(ends.elevation_m))
    nothing = np.array([np.nan])
    low = between.at_least(least[:1], least[1:], chord, (nothing, nothing))
    to = {(end, of): farthest_to(ends, end, foot, of) for end in (0, 1) for of in (0, 1)}
    high = between.at_most(to[0, 0], to[1, 1], chord, (to[0, 1], to[1, 0]))
    random = np.random.default_rng(seed)
    t, angle = random.uniform(0, 1, 300), random.uniform(0, 2 * np.pi, 300)
    aside = on_rim(1.0, angle) * wide_m * np.sqrt(random.uniform(0, 1, 300))
    row, column = (v[0] + t * (v[1] - v[0]) for v in (ends.row, ends.column))
    places = zip(*real.ground.degrees_at(row, column), strict=True)
    lon, lat = np.hstack([moved(p, way[:, None]) for p, way in zip(places, aside.T, strict=True)])
    up = (1 - t) * ends.elevation_m[0] + t * ends.elevation_m[1]
    seen = Samples.on(real.ground, lon, lat, up, 0.0, reach_m=REACH_M).middle().clearance_m
    assert seen.min() >= float(low[0]) - 2 * MILLIMETRE
    assert seen.max() <= float(high[0]) + 2 * MILLIMETRE


def farthest_to(samples: Samples, end: int, foot: Foot, of: int) -> Floats:
    """Return how far the foot of one sample is from the far side of another's disc."""
    one = slice(end, end + 1)
    return np.asarray(corridor.farthest_to(
        samples.patches, samples.row[one], samples.column[one], samples.elevation_m[one],
        corridor_m=samples.corridor_m[one], foot=foot.take(np.array([of])),
    ))  # fmt: skip


@pytest.mark.parametrize("seed", range(4))
def test_somewhat_larger_discs_cover_those_between(real: Real, seed: int) -> None:
    """Along 20 m no disc has higher or lower ground than larger ones at the ends."""
    samples = along(real, seed, n=101, step_m=0.2, wide_m=float(2 + 6 * seed))
    wider = samples.with_corridor(extremes.covering_m(samples.corridor_m, np.full(101, 20.0)))
    found, covering = samples.extremes(), [values[[0, 100]] for values in wider.extremes()]
    assert found[0].max() <= covering[0].max() + MILLIMETRE
    assert found[1].min() >= covering[1].min() - MILLIMETRE

"""Extremes of legs over real ground, against force: every millimetre, every patch halved.

The whole program flies random legs over three real models; the second methods are
those of `tests.reference` and, for a whole leg at once, the ones below.
"""

from __future__ import annotations

import itertools
from dataclasses import dataclass
from pathlib import Path

import numpy as np
import pyproj
import pytest
from numpy.typing import NDArray
from rasterio.transform import Affine
from scipy.ndimage import map_coordinates
from scipy.spatial import cKDTree

from terrain_guard.assess import check
from terrain_guard.assessment import Assessment, LegRow
from terrain_guard.plan.route import AfterLast, Climb, Launch, Place, Route, Turns, Waypoint
from tests import reference
from tests.checks.scenes import LOOSE
from tests.reference import Position, Terrain

Floats = NDArray[np.float64]

MODELS = ("sierra30", "lakes50", "jacksboro")
LEGS = 70  # on each of the models: 210 in all
CENTIMETRE = 0.01
TWO_CENTIMETRES = 0.02


@dataclass(frozen=True, kw_only=True)
class Flown:
    """A random route over one real model, as the program assessed it."""

    terrain: Terrain
    found: Assessment
    points: list[Position]  # the waypoints, as elevations

    @property
    def legs(self) -> list[tuple[LegRow, Position, Position]]:
        """The legs between waypoints, with their ends."""
        return [
            (self.found.legs[k], start, stop)
            for k, (start, stop) in enumerate(itertools.pairwise(self.points), start=1)
        ]


def wander(terrain: Terrain, *, legs: int, length_m: float, seed: int) -> list[Position]:
    """Return places on a random walk that stays over the model, 15 m or more above its crests."""
    random = np.random.default_rng(seed)
    rows, columns = terrain.heights_m.shape
    (lon,), (lat,) = reference.lonlat_of(terrain, np.array([rows / 2]), np.array([columns / 2]))
    points: list[Position] = []
    while len(points) <= legs:
        new_lon, new_lat, _ = reference.GEODESIC.fwd(
            lon, lat, random.uniform(0, 360), length_m * random.uniform(0.7, 1.3)
        )
        ring = np.arange(0.0, 360.0, 15.0)
        near = [
            reference.GEODESIC.fwd(new_lon + 0 * ring, new_lat + 0 * ring, ring, away + 0 * ring)
            for away in (0.3 * length_m, 0.7 * length_m, 1.3 * length_m)
        ]
        ground_m = reference.scipy_ground_m(
            terrain, np.concatenate([n[0] for n in near]), np.concatenate([n[1] for n in near])
        )
        if np.isnan(ground_m).any():
            continue
        lon, lat = float(new_lon), float(new_lat)
        top_m = float(ground_m.max()) + random.uniform(15.0, 90.0)
        points.append(Position(lon_deg=lon, lat_deg=lat, elevation_m=top_m))
    return points


def assess(ground: Path, points: list[Position], terrain: Terrain) -> Assessment:
    """Check stop-and-go legs through places; launch is under the first."""
    first = points[0]
    here_m = float(reference.scipy_ground_m(terrain, first.lon_deg, first.lat_deg)[0])
    route = Route(
        title="Random legs",
        heights="launch",
        height_unit="m",
        launch=Launch(lat_deg=first.lat_deg, lon_deg=first.lon_deg, spot_within_m=0.0),
        home=Place(lat_deg=first.lat_deg, lon_deg=first.lon_deg),
        waypoints=tuple(
            Waypoint(
                name=f"P{k}", lat_deg=p.lat_deg, lon_deg=p.lon_deg,
                height_m=p.elevation_m - here_m, speed_m_per_s=5.0,
            )
            for k, p in enumerate(points)
        ),
        turns=Turns(kind="stop"),
        climb=Climb(model="linear", too_steep="slows", out="vertical"),
        after_last=AfterLast(go_to="here", then="wait"),
    )  # fmt: skip
    return check(route, ground=ground, rules=LOOSE)


@pytest.fixture(scope="module", params=MODELS)
def flown(request: pytest.FixtureRequest) -> Flown:
    """Return random legs of about 100 m over one real model."""
    path: Path = request.getfixturevalue(request.param)
    terrain = reference.read_terrain(path)
    points = wander(terrain, legs=LEGS, length_m=100.0, seed=MODELS.index(request.param))
    return Flown(terrain=terrain, found=assess(path, points, terrain), points=points)


def window(terrain: Terrain, points: list[Position], reach_m: float) -> Terrain:
    """Return the part of a model within reach of places: the same ground, less to scan."""
    lon = np.array([p.lon_deg for p in points])
    lat = np.array([p.lat_deg for p in points])
    around = [
        reference.GEODESIC.fwd(lon, lat, 0 * lon + az, 0 * lon + reach_m)
        for az in range(0, 360, 45)
    ]
    row, column = reference.cell_positions(
        terrain, np.concatenate([a[0] for a in around]), np.concatenate([a[1] for a in around])
    )
    top, left = max(int(row.min()) - 2, 0), max(int(column.min()) - 2, 0)
    part = terrain.heights_m[top : int(row.max()) + 4, left : int(column.max()) + 4]
    a, b, c, d, e, f = tuple(terrain.affine)[:6]
    affine = Affine(a, b, c + a * left + b * top, d, e, f + d * left + e * top)
    return Terrain(heights_m=part, affine=affine, crs=terrain.crs)


# ------------------------------------------------------------ above ground


def test_above_ground_of_random_legs(flown: Flown) -> None:
    """Least and greatest height above ground of 70 legs equal a scan of every millimetre."""
    for leg, start, stop in flown.legs:
        scan = reference.scan_leg(window(flown.terrain, [start, stop], 300.0), start, stop)
        least, most = leg.above_ground_min, leg.above_ground_max
        assert least is not None
        assert most is not None
        assert least.nominal_m == pytest.approx(scan.min_m, abs=CENTIMETRE)
        assert most.nominal_m == pytest.approx(scan.max_m, abs=CENTIMETRE)


def test_the_worst_metre_is_where_it_is_said_to_be(flown: Flown) -> None:
    """At the place given for each extreme the ground by SciPy gives that very height."""
    for leg, start, stop in flown.legs:
        for extreme in (leg.above_ground_min, leg.above_ground_max):
            assert extreme is not None
            share = (extreme.along_m - leg.from_m) / leg.length_m
            elevation_m = start.elevation_m + share * (stop.elevation_m - start.elevation_m)
            ground_m = reference.scipy_ground_m(flown.terrain, extreme.lon_deg, extreme.lat_deg)
            assert elevation_m - ground_m[0] == pytest.approx(extreme.nominal_m, abs=CENTIMETRE)


# ------------------------------------------------------------ clearance


@dataclass(frozen=True, kw_only=True)
class Mesh:
    """A piece of a model in metres east, north and up of an origin: posts, (3, rows, columns)."""

    posts_m: Floats

    @classmethod
    def about(cls, origin: Position, terrain: Terrain) -> Mesh:
        """Place the posts; between them, over one cell, the map is as good as straight."""
        row, column = np.indices(terrain.heights_m.shape).astype(np.float64)
        lon, lat = reference.lonlat_of(terrain, row.ravel(), column.ravel())
        frame = pyproj.Proj(proj="aeqd", lat_0=origin.lat_deg, lon_0=origin.lon_deg, ellps="WGS84")
        east, north = (way.reshape(row.shape) for way in frame(lon, lat))
        return cls(posts_m=np.stack([east, north, terrain.heights_m]))

    def at(self, row: Floats, column: Floats) -> Floats:
        """Return places on the bilinear patches, (3, n), by SciPy; the nearest one if outside."""
        where = np.stack([row, column])
        return np.stack([map_coordinates(p, where, order=1, mode="nearest") for p in self.posts_m])

    def net(self, share: int) -> tuple[Floats, Floats]:
        """Return rows and columns of a net of `share` points a cell."""
        rows, columns = self.posts_m.shape[1:]
        down, across = (
            np.arange((rows - 1) * share) / share,
            np.arange((columns - 1) * share) / share,
        )
        row, column = np.meshgrid(down, across, indexing="ij")
        return row.ravel(), column.ravel()

    @property
    def cell_m(self) -> float:
        """The longer side of a cell."""
        sides = [self.posts_m[:2, 0, 0] - self.posts_m[:2, i, j] for i, j in ((0, 1), (1, 0))]
        return float(np.linalg.norm(sides, axis=1).max())


def to_segment(points: Floats, start: Floats, stop: Floats) -> Floats:
    """Return the distances (n,) of points (3, n) from the straight line between two others."""
    way = (stop - start)[:, None]
    share = np.clip(((points - start[:, None]) * way).sum(axis=0) / (way**2).sum(), 0.0, 1.0)
    return np.asarray(np.linalg.norm(points - start[:, None] - share * way, axis=0))


def ends_of(start: Position, stop: Position) -> tuple[Floats, Floats]:
    """Return both ends about the first, (3,) each."""
    frame = pyproj.Proj(proj="aeqd", lat_0=start.lat_deg, lon_0=start.lon_deg, ellps="WGS84")
    east, north = frame(stop.lon_deg, stop.lat_deg)
    return np.array([0.0, 0.0, start.elevation_m]), np.array([east, north, stop.elevation_m])


def least_of_leg(terrain: Terrain, start: Position, stop: Position) -> float:
    """Return the least distance between a leg and the ground: 8 × 8 parts a cell, then finer.

    The nearest 400 points of the net are looked round again in ever smaller squares.
    """
    mesh, ends, size = Mesh.about(start, terrain), ends_of(start, stop), 1 / 8
    row, column = mesh.net(8)
    distance = to_segment(mesh.at(row, column), *ends)
    while size > 1 / 4096:
        hopeful = np.argsort(distance)[:400]
        step = size / 4 * np.arange(-4, 5)
        down, across = np.meshgrid(step, step, indexing="ij")
        row = (row[hopeful, None] + down.ravel()).ravel()
        column = (column[hopeful, None] + across.ravel()).ravel()
        distance = to_segment(mesh.at(row, column), *ends)
        size /= 4
    return float(distance.min())


def test_least_clearance_of_random_legs(flown: Flown) -> None:
    """The least clearance of 70 legs equals the least distance of a net made ever finer."""
    for leg, start, stop in flown.legs:
        least = leg.clearance_min
        assert least is not None
        part = window(flown.terrain, [start, stop], least.nominal_m + 60.0)
        expected = least_of_leg(part, start, stop)
        assert least.nominal_m == pytest.approx(expected, abs=TWO_CENTIMETRES)


def test_greatest_clearance_of_random_legs(flown: Flown) -> None:
    """The greatest clearance of a dozen legs equals that of a scan.

    Every half metre looks for the nearest of many points of the ground, 2 m apart (a
    tree of them); what seems best, and then every 5 cm round the best of that, is
    looked at again with all patches halved.
    """
    for leg, start, stop in flown.legs[:12]:
        most = leg.clearance_max
        assert most is not None
        mesh = Mesh.about(start, window(flown.terrain, [start, stop], most.nominal_m + 20.0))
        tree = cKDTree(mesh.at(*mesh.net(int(np.ceil(mesh.cell_m / 2)))).T)
        a, b = ends_of(start, stop)
        step = 0.5 / float(np.linalg.norm(b - a))
        share = np.arange(0.0, 1.0 + step, step).clip(max=1.0)
        coarse, _ = tree.query(a + share[:, None] * (b - a))
        seems = share[np.argsort(coarse)[:-12:-2]]
        exact = [clearance_on(flown.terrain, start, stop, float(s)) for s in seems]
        finer = seems[np.argmax(exact)] + step * np.linspace(-1.0, 1.0, 21)
        exact += [clearance_on(flown.terrain, start, stop, float(s)) for s in finer.clip(0.0, 1.0)]
        assert most.nominal_m == pytest.approx(max(exact), abs=TWO_CENTIMETRES)


def clearance_on(terrain: Terrain, start: Position, stop: Position, share: float) -> float:
    """Return the clearance at a share of a leg, with every patch near halved."""
    return reference.clearance_m(terrain, place_on(start, stop, share))


def place_on(start: Position, stop: Position, share: float) -> Position:
    """Return the place at a share of a geodesic leg."""
    azimuth, _, length_m = reference.GEODESIC.inv(
        start.lon_deg, start.lat_deg, stop.lon_deg, stop.lat_deg
    )
    lon, lat, _ = reference.GEODESIC.fwd(start.lon_deg, start.lat_deg, azimuth, share * length_m)
    rise_m = stop.elevation_m - start.elevation_m
    return Position(lon_deg=lon, lat_deg=lat, elevation_m=start.elevation_m + share * rise_m)


def test_clearance_of_random_samples(flown: Flown) -> None:
    """At random samples clearance equals that of halved patches, to 3 mm."""
    samples = flown.found.samples
    random = np.random.default_rng(7)
    airborne = np.flatnonzero(samples.leg > 0)
    for k in random.choice(airborne, 40, replace=False):
        point = Position(
            lon_deg=float(samples.lon_deg[k]),
            lat_deg=float(samples.lat_deg[k]),
            elevation_m=flown.found.launch.elevation_m + float(samples.above_launch_m[k]),
        )
        expected = reference.clearance_m(flown.terrain, point)
        assert samples.clearance_m[k] == pytest.approx(expected, abs=0.003)


def test_clearance_is_a_distance(flown: Flown) -> None:
    """It never exceeds the height above ground, and changes at most metre for metre."""
    samples = flown.found.samples
    assert (np.abs(samples.clearance_m) <= np.abs(samples.above_ground_m) + 1e-6).all()
    change = np.abs(np.diff(samples.clearance_m))
    assert (change <= np.diff(samples.along_m) + 2e-3).all()


# ------------------------------------------------------------ longer routes, as one flies them


@pytest.mark.parametrize("name", MODELS)
def test_worst_metre_of_every_leg(name: str, request: pytest.FixtureRequest) -> None:
    """On eight legs of about 800 m each worst metre equals a scan by SciPy, every centimetre."""
    path: Path = request.getfixturevalue(name)
    terrain = reference.read_terrain(path)
    points = wander(terrain, legs=8, length_m=800.0, seed=40)
    found = assess(path, points, terrain)
    for k, (start, stop) in enumerate(itertools.pairwise(points), start=1):
        scan = reference.scan_leg(terrain, start, stop, step_m=0.01)
        least, most = found.legs[k].above_ground_min, found.legs[k].above_ground_max
        assert least is not None
        assert most is not None
        assert least.nominal_m == pytest.approx(scan.min_m, abs=CENTIMETRE)
        assert most.nominal_m == pytest.approx(scan.max_m, abs=CENTIMETRE)


def test_a_leg_that_runs_into_the_canyon_wall(sierra30: Path) -> None:
    """Level into a real wall: the depth at the worst metre is that of SciPy, and negative."""
    terrain = reference.read_terrain(sierra30)
    # Across the step of 171 m between two posts at column 597 to 598 of row 458.
    (lon, far), (lat, far_lat) = reference.lonlat_of(
        terrain, np.array([458.0, 458.0]), np.array([592.0, 603.0])
    )
    low, high = sorted(
        [
            (float(reference.scipy_ground_m(terrain, x, y)[0]), x, y)
            for x, y in ((lon, lat), (far, far_lat))
        ]
    )
    points = [Position(lon_deg=x, lat_deg=y, elevation_m=low[0] + 100.0) for _, x, y in (low, high)]
    found = assess(sierra30, points, terrain)
    scan = reference.scan_leg(terrain, *points)
    assert scan.min_m < -20.0  # it does run into the wall
    least, nearest = found.legs[1].above_ground_min, found.legs[1].clearance_min
    assert least is not None
    assert nearest is not None
    assert least.nominal_m == pytest.approx(scan.min_m, abs=CENTIMETRE)
    assert scan.min_m <= nearest.nominal_m < 0.0
    kinds = {finding.kind for finding in found.findings if finding.leg == 1}
    assert {"underground", "floor"} <= kinds

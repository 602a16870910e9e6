"""Rays against an independent slow walk, over real ground in several systems."""

from __future__ import annotations

from typing import TYPE_CHECKING, NamedTuple

import numpy as np
import pytest

from terrain_guard.ground.model import Ground
from tests.ground import ray_walk
from tests.ground.made import COPIES
from tests.ground.tiles import cut

if TYPE_CHECKING:
    from pathlib import Path

    from numpy.typing import NDArray

    from terrain_guard.ground.rays import Rays

    Floats = NDArray[np.float64]

MICROMETRE = 1e-6
WAVELENGTH_M = 0.125
FROM_M, GAP_M = 2.0, 5.0


class Fan(NamedTuple):
    """Rays from the middle of a model, the same for the walk."""

    ground: Ground
    walker: ray_walk.Walker
    start: tuple[float, float]
    lon: Floats
    lat: Floats
    eye_m: float
    target_m: Floats

    @property
    def rays(self) -> Rays:
        """The rays, asked for anew."""
        return self.ground.rays(*self.start, to_lon_deg=self.lon, to_lat_deg=self.lat)


def fan(path: Path, count: int, *, seed: int, longest_m: float = 3000.0) -> Fan:
    """Return rays of 30 m to 3 km all round, to targets up to 300 m above the ground."""
    ground, walker = Ground(path), ray_walk.Walker.over(path)
    random = np.random.default_rng(seed)
    middle = (np.array([side * random.uniform(0.45, 0.55)]) for side in walker.z.shape)
    start = tuple(float(at[0]) for at in walker.degrees(*middle))
    same = np.ones(count)
    lon, lat, _ = ray_walk.GEODESIC.fwd(
        start[0] * same, start[1] * same, random.uniform(0, 360, count),
        np.geomspace(30, longest_m, count),
    )  # fmt: skip
    lon, lat = np.asarray(lon), np.asarray(lat)
    eye = float(walker.ground(*walker.posts(*(np.array([at]) for at in start)))[0]) + 1.7
    target = walker.ground(*walker.posts(lon, lat)) + random.uniform(0, 300, count)
    return Fan(ground, walker, (start[0], start[1]), lon, lat, eye, target)


@pytest.mark.parametrize("copy", ["as it is", "rotated", "degrees", "web map", "polar"])
def test_every_question(copy: str, sierra30: Path, tmp_path: Path) -> None:
    """Value and place of each answer, to a micrometre, in projections, turned, in degrees."""
    one = fan(COPIES[copy](sierra30, tmp_path), 14, seed=4)
    compare(one)


def test_every_question_over_steep_floats(lakes50: Path) -> None:
    """The same over high mountains in 50 m cells."""
    compare(fan(lakes50, 14, seed=5))


def compare(one: Fan) -> None:
    """Compare all answers of a fan with the walk's."""
    rays, eye, z, r = one.rays, one.eye_m, one.target_m, one.rays.length_m
    over = rays.highest(over_m=(eye, z), from_m=FROM_M)
    under = rays.lowest(over_m=(eye, z), to_m=r - GAP_M)
    top = rays.highest(from_m=r / 3, to_m=r / 2)
    sight = rays.sight(eye, z, from_m=FROM_M)
    link = rays.link(eye, z, wavelength_m=WAVELENGTH_M, from_m=FROM_M, to_target_gap_m=GAP_M)
    for k, end in enumerate(zip(one.lon.tolist(), one.lat.tolist(), strict=True)):
        length = float(r[k])

        def walk(value: ray_walk.Value, from_m: float = 0.0, to_m: float = np.inf) -> float:
            return one.walker.walk(one.start, end, value, from_m=from_m, to_m=to_m)[0]  # noqa: B023

        line = ray_walk.over(eye, z[k])
        assert over.value_m[k] == pytest.approx(walk(line, FROM_M), abs=MICROMETRE)
        below = walk(ray_walk.over(eye, z[k], -1.0), 0.0, length - GAP_M)
        assert under.value_m[k] == pytest.approx(-below, abs=MICROMETRE)
        level = walk(ray_walk.over(0.0, 0.0), length / 3, length / 2)
        assert top.value_m[k] == pytest.approx(level, abs=MICROMETRE)
        steepest = walk(ray_walk.slope(eye, 1.0), FROM_M)
        margin = z[k] - length**2 / (2 * ray_walk.RADIUS_M) - (eye + length * steepest)
        assert sight.margin_m[k] == pytest.approx(margin, abs=MICROMETRE)
        zone = ray_walk.fresnel(eye, z[k], WAVELENGTH_M, 4 / 3)
        assert link.clearance_radii[k] == pytest.approx(
            -walk(zone, FROM_M, length - GAP_M), abs=MICROMETRE
        )


@pytest.mark.parametrize("copy", ["as it is", "degrees"])
def test_places_are_where_the_answers_hold(copy: str, sierra30: Path, tmp_path: Path) -> None:
    """The ground at each place told gives the answer, by SciPy's surface."""
    one = fan(COPIES[copy](sierra30, tmp_path), 300, seed=6)
    rays = one.rays
    top, low = rays.highest(from_m=FROM_M), rays.lowest()
    for found in (top, low):
        ground = one.walker.ground(found.at.row, found.at.column)
        assert found.value_m == pytest.approx(ground, abs=MICROMETRE)
    sight = rays.sight(one.eye_m, one.target_m)
    at, r = sight.grazed, rays.length_m
    drop = at.along_m**2 / (2 * ray_walk.RADIUS_M)
    slope = (one.walker.ground(at.row, at.column) - drop - one.eye_m) / at.along_m
    margin = one.target_m - r**2 / (2 * ray_walk.RADIUS_M) - (one.eye_m + r * slope)
    assert sight.margin_m == pytest.approx(margin, abs=MICROMETRE)
    link = rays.link(one.eye_m, one.target_m, wavelength_m=WAVELENGTH_M)
    assert link.clearance_m == pytest.approx(link.clearance_radii * link.radius_m)
    row, column = rays.places(link.narrowest.along_m)
    assert row == pytest.approx(link.narrowest.row, abs=1e-6)
    assert column == pytest.approx(link.narrowest.column, abs=1e-6)


def test_side_by_side_or_alone(sierra30: Path) -> None:
    """Rays of a flight answer the same as each of them asked alone."""
    one = fan(sierra30, 1, seed=7)
    lon = one.lon + np.linspace(0, 0.02, 300)
    lat = one.lat + 0.004 * np.sin(np.linspace(0, 9, 300))
    eye = one.eye_m
    rays = one.ground.rays(*one.start, to_lon_deg=lon, to_lat_deg=lat)
    together = rays.sight(eye, eye).margin_m
    for k in range(0, 300, 17):
        alone = one.ground.rays(*one.start, to_lon_deg=lon[k : k + 1], to_lat_deg=lat[k : k + 1])
        assert alone.sight(eye, eye).margin_m[0] == pytest.approx(together[k], abs=1e-9)


@pytest.mark.parametrize("copy", ["as it is", "UTM", "degrees", "web map"])
def test_metres_along_are_geodesic(copy: str, sierra30: Path, tmp_path: Path) -> None:
    """At every tenth of rays of 3 km, within a hundredth of a millimetre."""
    one = fan(COPIES[copy](sierra30, tmp_path), 40, seed=8)
    rays = one.rays
    for tenth in np.linspace(0.1, 1.0, 10):
        along = tenth * rays.length_m
        found = one.walker.metres(one.start, *rays.places(along))
        assert found == pytest.approx(along, abs=1.2e-5)


def test_tiles_answer_as_the_whole(sierra30: Path, tmp_path: Path) -> None:
    """Ground cut into tiles: the same answers and the same hash of the ground used."""
    one = fan(sierra30, 60, seed=9)
    tiled = one._replace(ground=Ground(cut(sierra30, tmp_path / "cut", left_out=[(0, 0)])))
    answers = []
    for each in (one, tiled):
        rays = each.rays
        answers.append([rays.highest().value_m, rays.sight(each.eye_m, each.target_m).margin_m])
    assert np.array(answers[0]) == pytest.approx(np.array(answers[1]), abs=1e-9)
    assert one.ground.used().used_hash == tiled.ground.used().used_hash


def test_a_lifted_model_with_all_lifted_on_it(sierra30: Path) -> None:
    """Ground, eye and targets 3.25 m higher: margins stay, elevations rise."""
    one = fan(sierra30, 60, seed=10)
    lifted = one._replace(ground=one.ground.lifted(3.25)).rays
    sight = one.rays.sight(one.eye_m, one.target_m).margin_m
    assert lifted.sight(one.eye_m + 3.25, one.target_m + 3.25).margin_m == pytest.approx(sight)
    for ask in ("highest", "lowest"):
        before, after = (getattr(rays, ask)().value_m for rays in (one.rays, lifted))
        assert after == pytest.approx(before + 3.25, abs=1e-9)


def test_what_rays_use_is_hashed(sierra30: Path) -> None:
    """Another ray uses other ground, and the hash tells."""
    ground = Ground(sierra30)
    before = ground.used().used_hash
    lon, lat = ground.degrees_at(np.array([500.0, 700.0]), np.array([500.0, 700.0]))
    ground.rays(float(lon[0]), float(lat[0]), to_lon_deg=lon[1:], to_lat_deg=lat[1:])
    assert ground.used().used_hash != before

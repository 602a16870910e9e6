"""Sight, contact and link along rays over shapes whose answers are visible by eye.

Unless said otherwise the earth is flat (k infinite), and an eye stands 1.7 m above ground at 0 m.
"""

from __future__ import annotations

from typing import TYPE_CHECKING, NamedTuple

import numpy as np
import pytest

from terrain_guard.checks.sight import radio
from terrain_guard.ground.model import Ground
from tests.checks import scenes

if TYPE_CHECKING:
    from pathlib import Path

    from numpy.typing import NDArray

    from terrain_guard.ground.rays import Rays

    Floats = NDArray[np.float64]

EYE_M = 1.7
FLAT = np.inf
TWICE_RADIUS_M = 2 * 6_371_000.0
BOX_M = (-20.0, -20.0, 720.0, 20.0)


def ridge(east: Floats, north: Floats) -> Floats:
    """Make a crest of 80 m at 300 m, a hundred metres wide on both sides."""
    return np.maximum(0.0, 80 * (1 - np.abs(east - 300) / 100)) + 0 * north


def plateau(east: Floats, north: Floats) -> Floats:
    """Make level ground at 300 m that ends at a cliff, 20 m away."""
    return np.where(east <= 20, 300.0, 200.0) + 0 * north


def upslope(east: Floats, north: Floats) -> Floats:
    """Make ground that rises by 0.3."""
    return 0.3 * east + 0 * north


class Scene(NamedTuple):
    """Ground and the rays eastward over it."""

    ground: Ground

    def rays(self, *east_m: float, north_m: float = 0.0, start: float = 0.0) -> Rays:
        """Return rays from the spot to places east of it."""
        lat, lon = np.transpose([scenes.lat_lon(e, north_m) for e in east_m])
        from_lat, from_lon = scenes.lat_lon(start, 0.0)
        return self.ground.rays(from_lon, from_lat, to_lon_deg=lon, to_lat_deg=lat)


@pytest.fixture
def over_ridge(tmp_path: Path) -> Scene:
    """Return rays over the ridge."""
    return Scene(Ground(scenes.model(tmp_path, ridge, box_m=BOX_M)))


def test_grazing_height_behind_a_crest(over_ridge: Scene) -> None:
    """Crest 80 m at 300 m, aircraft at 600 m: seen from 1.7 + 2 · 78.3 = 158.3 m up."""
    sight = over_ridge.rays(600.0).sight(EYE_M, 158.3, curvature=FLAT)
    assert sight.margin_m == pytest.approx([0.0], abs=1e-6)
    assert sight.grazed.along_m == pytest.approx([300.0], abs=1e-5)


@pytest.mark.parametrize("k", [1.0, 7 / 6, 4 / 3])
def test_crest_and_target_both_drop(over_ridge: Scene, k: float) -> None:
    """Over a round earth the crest drops by 300²/2kR and the target by 600²/2kR.

    The grazing ray at 600 m is lower by twice the crest's drop, the target by its own.
    """
    sight = over_ridge.rays(600.0).sight(EYE_M, 158.3, curvature=k)
    crest, target = (r**2 / (TWICE_RADIUS_M * k) for r in (300.0, 600.0))
    assert sight.margin_m == pytest.approx([2 * crest - target], abs=1e-6)


@pytest.mark.parametrize("above_m", [0.5, 3.0, 40.0])
def test_uniform_upslope_hides_nothing(tmp_path: Path, above_m: float) -> None:
    """The steepest sight of a slope is its far end: the margin is the height above it."""
    scene = Scene(Ground(scenes.model(tmp_path, upslope, box_m=BOX_M)))
    east = np.array([10.0, 77.7, 600.0])
    sight = scene.rays(*east).sight(EYE_M, 0.3 * east + above_m, curvature=FLAT)
    assert sight.margin_m == pytest.approx([above_m] * 3, abs=1e-6)


def test_edge_of_a_plateau(tmp_path: Path) -> None:
    """Edge 20 m away, aircraft 120 m: lowest seen 1.7 − 120 · 1.7 / 20 = −8.5 m."""
    scene = Scene(Ground(scenes.model(tmp_path, plateau, box_m=BOX_M)))
    sight = scene.rays(120.0).sight(300 + EYE_M, 300 - 8.5, curvature=FLAT)
    assert sight.margin_m == pytest.approx([0.0], abs=1e-6)
    assert sight.grazed.along_m == pytest.approx([20.0], abs=1e-5)


def test_inside_a_cell_the_steepest_is_at_the_root_of_a_over_c(tmp_path: Path) -> None:
    """Over one saddle, ground = 200 s (1 − s), s = ρ / 141.42 m: a = −1.7 turns at s = √(1.7/200).

    (200 s − 200 s² − 1.7) / ρ is steepest where 200 s² = 1.7.
    """
    saddle = 300 + np.array([[0.0, 100.0], [100.0, 0.0]])
    path = scenes.grid(tmp_path, saddle, cell_m=100.0, corner_m=(0.0, 100.0))
    ground = Ground(path)
    lon, lat = ground.degrees_at(np.array([0.0, 1.0]), np.array([0.0, 1.0]))
    rays = ground.rays(float(lon[0]), float(lat[0]), to_lon_deg=lon[1:], to_lat_deg=lat[1:])
    sight = rays.sight(300 + EYE_M, 300.0, curvature=FLAT)
    s = np.sqrt(EYE_M / 200)
    steepest = 200 * s * (1 - s) - EYE_M
    assert sight.grazed.along_m == pytest.approx([s * 100 * np.sqrt(2)], abs=1e-3)
    assert sight.margin_m == pytest.approx([-(EYE_M + steepest / s)], abs=1e-5)


def test_nothing_lies_between(over_ridge: Scene) -> None:
    """Right above the eye and nearer than one's own feet: no ground, so no bound on sight."""
    sight = over_ridge.rays(0.0, 1.0).sight(EYE_M, 50.0)
    assert np.isposinf(sight.margin_m).all()
    assert np.isnan(sight.grazed.along_m).all()
    assert not sight.meets_unknown.any()


# ------------------------------------------------------------ ways home


def test_level_way_home_through_a_spur(over_ridge: Scene) -> None:
    """From 600 m at 60 m: 20 m below the crest; with a floor of 20 m it needs 100 m."""
    rays = over_ridge.rays(600.0)
    top = rays.highest()
    assert top.value_m == pytest.approx([80.0], abs=1e-9)
    assert top.at.along_m == pytest.approx([300.0], abs=1e-5)
    assert rays.highest(over_m=(60.0, 60.0)).value_m == pytest.approx([20.0], abs=1e-9)


def test_slanting_way_home_through_a_spur(over_ridge: Scene) -> None:
    """From 50 m at 600 m straight to 0 m at home: 25 m over the crest's place, 55 m inside it."""
    found = over_ridge.rays(600.0).highest(over_m=(0.0, 50.0))
    assert found.value_m == pytest.approx([55.0], abs=1e-6)
    assert found.at.along_m == pytest.approx([300.0], abs=1e-5)


def test_climb_on_the_way_home_in_two_pieces(over_ridge: Scene) -> None:
    """From 420 m at 50 m, climbing 0.4 up to 100 m: 98 m at the crest, 18 m over it.

    100 m is reached at 295 m from home; from there the ground is 76 m at most.
    """
    rays = over_ridge.rays(420.0)
    climb = rays.highest(over_m=(50.0 + 0.4 * 420, 50.0), from_m=295.0)
    level = rays.highest(over_m=(100.0, 100.0), to_m=295.0)
    assert climb.value_m == pytest.approx([-18.0], abs=1e-6)
    assert level.value_m == pytest.approx([-24.0], abs=1e-6)
    assert level.at.along_m == pytest.approx([295.0], abs=1e-5)


def test_flat_ground(tmp_path: Path) -> None:
    """Highest and lowest are the ground itself; a level way keeps its height over both."""
    scene = Scene(Ground(scenes.model(tmp_path, lambda e, n: 12.5 + 0 * e * n, box_m=BOX_M)))
    rays = scene.rays(3.0, 600.0)
    for found in (rays.highest(), rays.lowest()):
        assert found.value_m == pytest.approx([12.5, 12.5], abs=1e-9)
    assert rays.lowest(over_m=(50.0, 50.0)).value_m == pytest.approx([-37.5] * 2, abs=1e-9)


def test_a_cone_in_the_way_of_any_azimuth(tmp_path: Path) -> None:
    """A hill of 90 m half way to a target, whichever way it lies: met within one cell's slope."""
    for azimuth in np.radians([0.0, 17.0, 45.0, 118.0, 203.0, 301.0]):
        top = 150 * np.sin(azimuth), 150 * np.cos(azimuth)

        def cone(east: Floats, north: Floats) -> Floats:
            away = np.hypot(east - top[0], north - top[1])  # noqa: B023
            return np.maximum(0.0, 90 - 0.5 * away)

        ground = Ground(scenes.model(tmp_path, cone, box_m=(-320.0, -320.0, 320.0, 320.0)))
        lat, lon = scenes.lat_lon(2 * top[0], 2 * top[1])
        rays = ground.rays(scenes.LON_DEG, scenes.LAT_DEG, to_lon_deg=lon, to_lat_deg=lat)
        found = rays.highest()
        assert found.value_m == pytest.approx([90.0], abs=0.5)
        assert found.at.along_m == pytest.approx([150.0], abs=1.0)


def test_a_stretch_for_each_ray(over_ridge: Scene) -> None:
    """From and to may differ from ray to ray; an empty stretch has no answer."""
    rays = over_ridge.rays(600.0, 600.0, 600.0, 600.0)
    found = rays.highest(from_m=np.array([0.0, 310.0, 500.0, 700.0]), to_m=[290.0, 600, 550, 800])
    assert found.value_m == pytest.approx([72.0, 72.0, 0.0, np.nan], abs=1e-6, nan_ok=True)
    assert not found.meets_unknown.any()


# ------------------------------------------------------------ radio


def test_six_tenths_over_a_crest(over_ridge: Scene) -> None:
    """At 2.4 GHz, 163.49 m at 600 m clear the crest by 0.6 of the zone's 4.33 m."""
    wavelength = float(radio.wavelength_m(2.4))
    link = over_ridge.rays(600.0).link(EYE_M, 163.49, wavelength_m=wavelength, curvature=FLAT)
    assert link.clearance_radii == pytest.approx([0.6], abs=0.001)
    assert link.clearance_m == pytest.approx([2.595], abs=1e-4)
    assert link.radius_m == pytest.approx([4.33], abs=0.005)
    assert link.narrowest.along_m == pytest.approx([300.0], abs=1e-3)


def test_knife_edge_over_a_crest(over_ridge: Scene) -> None:
    """A crest 20 m above the path of 300 m + 300 m at 2.4 GHz: ν = 6.53, 29.1 dB."""
    wavelength = float(radio.wavelength_m(2.4))
    link = over_ridge.rays(600.0).link(60.0, 60.0, wavelength_m=wavelength, curvature=FLAT)
    nu = radio.nu_of(link.clearance_radii)
    assert nu == pytest.approx([6.534], abs=0.001)
    assert radio.knife_edge_loss_db(nu) == pytest.approx([29.14], abs=0.01)


def test_the_earth_bulges_under_a_link(over_ridge: Scene) -> None:
    """At the crest by 300 · 300 / 2kR: 5 mm with k = 4/3."""
    rays = over_ridge.rays(600.0)
    flat, bulged = (
        rays.link(EYE_M, 163.49, wavelength_m=0.125, curvature=k).clearance_m for k in (FLAT, 4 / 3)
    )
    assert flat - bulged == pytest.approx(radio.earth_bulge_m(300, 300), abs=1e-6)

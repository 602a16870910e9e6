"""What the whole program refuses: one sentence each, with what was given and a remedy."""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pytest
from rasterio.transform import Affine

from terrain_guard.assess import check, limiting_surfaces
from terrain_guard.errors import RefusedInput, RefusedRoute, RefusedRules, RefusedTerrain
from terrain_guard.plan.route import Launch, Place, Route, Waypoint
from tests.checks import scenes
from tests.rasters import write_raster


def flat(folder: Path, name: str = "ground.tif") -> Path:
    """Write flat ground, 600 × 400 m."""
    return scenes.model(folder, lambda e, n: 100.0 + 0 * e, cell_m=10.0, name=name)


def shifted(*, north_m: float = 0.0, east_m: float = 0.0) -> Route:
    """Return a route of two points, moved."""
    return scenes.route([(east_m, north_m, 60.0), (east_m + 100.0, north_m, 60.0)])


def sentence(refused: pytest.ExceptionInfo[RefusedInput]) -> str:
    """Return the only sentence of a refusal."""
    (only,) = refused.value.faults
    assert "\n" not in only
    return only


def test_a_route_thirty_kilometres_off_the_model(tmp_path: Path) -> None:
    """Not one metre could be judged: refused, with how far and what the model covers."""
    with pytest.raises(RefusedTerrain) as refused:
        check(shifted(north_m=30_000.0), ground=flat(tmp_path))
    said = sentence(refused)
    assert "29.8 km off the elevation model 'ground.tif'" in said
    assert "latitude 46.99820 to 47.00180" in said
    assert "give the elevation model of the place" in said
    assert "swapped" not in said


def test_one_sample_on_the_model_is_enough(tmp_path: Path) -> None:
    """A route that just touches the model is not refused: the rest is not assessed."""
    found = scenes.fly(flat(tmp_path), [(405.0, 0.0, 60.0), (395.0, 0.0, 60.0)])
    assert found.terrain_to_get is not None


def test_a_route_just_off_the_model(tmp_path: Path) -> None:
    """5 m beyond the last post and away from it: nothing of it is on the model."""
    with pytest.raises(RefusedTerrain, match=r"0\.0 km off"):
        scenes.fly(flat(tmp_path), [(405.0, 0.0, 60.0), (495.0, 0.0, 60.0)])


def crossed(folder: Path) -> Path:
    """Write flat ground in degrees about 20 N 30 E, where latitude and longitude can be swapped."""
    return write_raster(
        folder / "degrees.tif",
        np.full((50, 50), 100.0),
        transform=Affine(0.0005, 0, 30.0 - 0.0125, 0, -0.0005, 20.0 + 0.0125),
        crs="EPSG:4326",
    )


def two_points(lat_deg: float, lon_deg: float, *, further_deg: float = 0.001) -> Route:
    """Return a route from a launch to a point over it and one farther north."""
    return Route(
        title="Test", heights="launch", height_unit="m",
        launch=Launch(lat_deg=lat_deg, lon_deg=lon_deg),
        home=Place(lat_deg=lat_deg, lon_deg=lon_deg),
        waypoints=tuple(
            Waypoint(
                name=name, lat_deg=lat_deg + more, lon_deg=lon_deg, height_m=60.0,
                speed_m_per_s=5.0,
            )
            for name, more in (("gate", 0.0), ("dam", further_deg))
        ),
    )  # fmt: skip


def test_latitude_and_longitude_swapped(tmp_path: Path) -> None:
    """Swapped the launch lies on the model: said so, refused all the same."""
    ground = crossed(tmp_path)
    check(two_points(20.0, 30.0), ground=ground)
    with pytest.raises(RefusedTerrain) as refused:
        check(two_points(30.0, 20.0), ground=ground)
    assert "latitude and longitude look swapped" in sentence(refused)


def test_points_more_than_a_hundred_kilometres_apart(tmp_path: Path) -> None:
    """A waypoint two degrees away is named, with how far it lies."""
    with pytest.raises(RefusedRoute) as refused:
        check(two_points(20.0, 30.0, further_deg=2.0), ground=crossed(tmp_path))
    said = sentence(refused)
    assert "at most 100 km" in said
    assert "111 km from the middle of the route" in said


def test_a_home_more_than_a_hundred_kilometres_away(tmp_path: Path) -> None:
    """So is a home that lies beyond: nobody lands there."""
    route = scenes.route([(0, 0, 60), (100, 0, 60)], home=(0.0, 250_000.0), after="launch")
    with pytest.raises(RefusedRoute, match="home"):
        check(route, ground=flat(tmp_path))


def test_two_elevation_models_of_the_same_place(tmp_path: Path) -> None:
    """Two files over the same posts are refused, none of them picked."""
    files = [flat(tmp_path, "one.tif"), flat(tmp_path, "two.tif")]
    with pytest.raises(RefusedTerrain, match=r"'two\.tif' lies under 'one\.tif'"):
        check(shifted(), ground=files)
    assert check(shifted(), ground=files[:1]).verdict is not None


def test_no_elevation_model() -> None:
    """None at all is refused likewise."""
    with pytest.raises(RefusedTerrain, match="no elevation model given"):
        check(shifted(), ground=[])


def test_rules_that_require_what_is_not_checked(tmp_path: Path) -> None:
    """A verdict without the camera that the rules require would say too much."""
    with pytest.raises(RefusedRules, match="require camera, which is not checked yet"):
        check(shifted(), ground=flat(tmp_path), rules=scenes.rules(require=("sight", "camera")))


def test_a_missing_route_file(tmp_path: Path) -> None:
    """The route is read before the model; a file that is not there is refused."""
    with pytest.raises(RefusedRoute):
        check(tmp_path / "nowhere.toml", ground=flat(tmp_path))


def test_a_missing_model(tmp_path: Path) -> None:
    """So is a model that is not there."""
    with pytest.raises(RefusedTerrain, match="not a file"):
        check(shifted(), ground=tmp_path / "nowhere.tif")


def test_limiting_surfaces_of_a_plane(tmp_path: Path) -> None:
    """Over a 45 degree slope: lowest 30 sqrt 2 + 7 up, highest 120 - 5, or 120 sqrt 2 - 5."""
    ground = scenes.model(tmp_path, lambda e, n: 500.0 + e + 0 * n)
    for measure, ceiling_m in (("vertical", 120.0), ("closest-point", 120.0 * np.sqrt(2))):
        rules = scenes.rules(ceiling_measure=measure)
        found = scenes.fly(ground, [(0, 0, 80), (0, 30, 80)], rules, start=(0, -20))
        limits = limiting_surfaces(found, ground=ground)
        aloft = found.samples.leg == 1
        above = limits.lowest_allowed_m - found.samples.ground_elevation_m
        assert above[aloft] == pytest.approx(30.0 * np.sqrt(2) + 7.0, abs=0.01)
        above = limits.highest_allowed_m - found.samples.ground_elevation_m
        assert above[aloft] == pytest.approx(ceiling_m - 5.0, abs=0.01)
        assert np.isnan(limits.lowest_allowed_m[found.samples.in_column]).all()
        assert np.isfinite(limits.highest_allowed_m[found.samples.in_column]).all()

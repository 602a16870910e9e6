"""Latitude and longitude the wrong way round."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

import pytest
from geographiclib.geodesic import Geodesic
from hypothesis import given
from hypothesis import strategies as st

from terrain_guard.plan.swaps import rough_distance_m
from tests.plan.samples import EVERY_TABLE, SMALLEST, changed, faults, route

if TYPE_CHECKING:
    from pathlib import Path

SWAPPED = {"lat": -28.4046, "lon": 47.3131}
_ANGLES = st.tuples(st.floats(-90, 90), st.floats(-180, 180))


@given(_ANGLES, _ANGLES)
def test_rough_distance_is_within_one_percent(
    one: tuple[float, float], other: tuple[float, float]
) -> None:
    """Against geographiclib's inverse geodesic on WGS 84."""
    geodesic_m = Geodesic.WGS84.Inverse(*one, *other)["s12"]
    assert rough_distance_m(one, other) == pytest.approx(geodesic_m, rel=0.01, abs=1e-3)


@pytest.mark.parametrize(
    ("table", "where"),
    [
        ("waypoint.1", "waypoint[2]"),
        ("launch", "launch"),
        ("home", "home"),
        ("pilot", "pilot"),
        ("subject.0", "subject[1]"),
        ("observer.0", "observer[1]"),
    ],
)
def test_one_swapped_place_is_named_with_the_hint(tmp_path: Path, table: str, where: str) -> None:
    """Every kind of place, each found among others that are right."""
    content = changed(EVERY_TABLE, {f"{table}.lat": SWAPPED["lat"], f"{table}.lon": SWAPPED["lon"]})
    (sentence,) = faults(tmp_path, content)
    assert sentence.startswith(f"plan.toml: {where}: given lat = -28.4046 and lon = 47.3131, but")
    assert "lat and lon are probably swapped, here or there: exchange them." in sentence


def test_launch_right_and_every_waypoint_swapped(tmp_path: Path) -> None:
    """The waypoints agree with each other, so launch is named, and "here or there" said."""
    changes: dict[str, Any] = {}
    for number in range(3):
        changes |= {f"waypoint.{number}.lat": -28.404, f"waypoint.{number}.lon": 47.313}
    (sentence,) = faults(tmp_path, changed(SMALLEST, changes))
    assert sentence.startswith("plan.toml: launch: given lat = 47.3124")
    assert "km from waypoint[1], and 0 km if exchanged" in sentence


@pytest.mark.parametrize(("lat", "lon"), [(151.2, -33.9), (-122.4, 37.7)])
def test_a_latitude_out_of_range_that_fits_as_longitude(
    tmp_path: Path, lat: float, lon: float
) -> None:
    """One sentence with the hint, not two about ranges."""
    (sentence,) = faults(
        tmp_path,
        changed(
            SMALLEST,
            {
                "launch": {"lat": lon, "lon": lat},
                "waypoint": [
                    {"lat": lon, "lon": lat, "height": 50},
                    {"lat": lat, "lon": lon, "height": 50},
                ],
            },
        ),
    )
    assert sentence == (
        f"plan.toml: waypoint[2]: given lat = {lat} and lon = {lon}, but a latitude lies from "
        f"-90 to 90; lat and lon are probably swapped: exchange them."
    )


def test_every_place_swapped_cannot_be_seen_without_terrain(tmp_path: Path) -> None:
    """Nothing in the file contradicts it: it is read as it stands."""
    changes = {
        "launch": {"lat": -28.4051, "lon": 47.3124},
        "waypoint": [{"lat": -28.4046, "lon": 47.3131, "height": 60}] * 2,
    }
    assert route(tmp_path, changes).launch.lat_deg == -28.4051


def test_far_is_not_swapped(tmp_path: Path) -> None:
    """A place 5 degrees away that exchanging does not bring near is not called swapped."""
    assert route(tmp_path, {"waypoint.2.lat": 52.3}).waypoints[2].lat_deg == 52.3


@pytest.mark.parametrize(
    "places",
    [
        [(10.0, 10.2), (10.001, 10.2), (10.002, 10.2)],  # exchanged, still within 100 km
        [(10.0, 179.99), (10.0, -179.99), (10.0, 179.98)],  # across the date line
        [(89.999, -170.0), (89.999, 10.0), (89.999, 100.0)],  # around the pole
        [(0.0, 0.0), (0.0, 0.001), (0.001, 0.0)],
    ],
)
def test_near_places_are_never_swapped(tmp_path: Path, places: list[tuple[float, float]]) -> None:
    """Distances are on the globe, and an exchange that changes nothing much is no hint."""
    (lat, lon), *others = places
    waypoints = [{"lat": one, "lon": other, "height": 50} for one, other in others]
    read = route(tmp_path, {"launch": {"lat": lat, "lon": lon}, "waypoint": waypoints})
    assert read.launch.lon_deg == lon

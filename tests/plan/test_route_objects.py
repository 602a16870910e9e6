"""Routes made in Python are refused for what a file is refused for."""

from __future__ import annotations

import dataclasses
import math
from typing import TYPE_CHECKING, Any

import pytest

from terrain_guard.errors import RefusedRoute, TerrainGuardError
from terrain_guard.plan import route as objects
from terrain_guard.plan.schema import ROUTE
from tests.plan.samples import route

if TYPE_CHECKING:
    from pathlib import Path

WAYPOINT = objects.Waypoint(
    name="gate", lat_deg=47.3131, lon_deg=-28.4046, height_m=60.0, speed_m_per_s=5.0
)


@pytest.mark.parametrize(
    ("thing", "changes", "words"),
    [
        (WAYPOINT, {"height_m": math.nan}, r"Waypoint\.height_m: given nan, but it must be a num"),
        (WAYPOINT, {"speed_m_per_s": 0.0}, r"Waypoint\.speed_m_per_s: given 0\.0, but"),
        (WAYPOINT, {"wait_s": -1.0}, r"Waypoint\.wait_s: given -1\.0, but"),
        (WAYPOINT, {"lat_deg": math.inf}, r"Waypoint\.lat_deg: given inf, but"),
        (WAYPOINT, {"turn": "unstated"}, r"Waypoint\.turn: given 'unstated', but it must be 'fly"),
        (objects.Place(lat_deg=0.0, lon_deg=0.0), {"lon_deg": 180.1}, r"Place\.lon_deg: given"),
        (
            objects.Launch(lat_deg=0.0, lon_deg=0.0),
            {"lat_deg": -91.0, "spot_within_m": -1.0},
            r"(?s)Launch\.lat_deg: given -91\.0.*Launch\.spot_within_m: given -1\.0",
        ),
        (objects.Turns(), {"kind": "flyby"}, r"Turns\.kind: given 'flyby', but it must be 'unst"),
        (objects.Turns(), {"bank_deg": 90.0}, r"Turns\.bank_deg: given 90\.0, but"),
        (objects.Climb(), {"up_m_per_s": 0.0}, r"Climb\.up_m_per_s: given 0\.0, but"),
        (objects.Climb(), {"model": "last"}, r"Climb\.model: given 'last', but it must be 'unst"),
        (objects.Climb(), {"too_steep": "short"}, r"Climb\.too_steep: given 'short', but it must"),
        (objects.AfterLast(), {"then": "fly"}, r"AfterLast\.then: given 'fly', but"),
        (objects.WayHome(), {"path": "direct"}, r"WayHome\.path: given 'direct', but"),
    ],
)
def test_objects_refuse_what_the_schema_refuses(
    thing: Any, changes: dict[str, Any], words: str
) -> None:
    """With the attribute's name; every fault of one object at once."""
    with pytest.raises(RefusedRoute, match=words):
        dataclasses.replace(thing, **changes)


def test_a_route_in_python_needs_two_waypoints_and_a_known_destination(tmp_path: Path) -> None:
    """The same rules as for a file."""
    sound = route(tmp_path)
    with pytest.raises(RefusedRoute, match=r"Route\.waypoints: given 1, but a route needs at le"):
        dataclasses.replace(sound, waypoints=sound.waypoints[:1])
    with pytest.raises(RefusedRoute, match=r"AfterLast\.go_to: given 'moon', but it must be"):
        dataclasses.replace(sound, after_last=objects.AfterLast(go_to="moon"))
    with pytest.raises(RefusedRoute, match=r"Route\.heights: given 'orbit', but it must be 'lau"):
        dataclasses.replace(sound, heights="orbit")
    with pytest.raises(ValueError, match=r"Route\.wind_m_per_s: given nan, but"):
        dataclasses.replace(sound, wind_m_per_s=math.nan)


def test_objects_are_frozen() -> None:
    """A route that was checked stays what was checked."""
    with pytest.raises(dataclasses.FrozenInstanceError):
        WAYPOINT.height_m = 1.0  # type: ignore[misc]


def test_refusals_are_value_errors_of_this_package() -> None:
    """Callers may catch either."""
    with pytest.raises(TerrainGuardError):
        objects.Place(lat_deg=99.0, lon_deg=0.0)
    assert issubclass(RefusedRoute, ValueError)


@pytest.mark.parametrize(
    ("table", "owner"),
    [
        ("launch", objects.Launch),
        ("waypoint", objects.Waypoint),
        ("turns", objects.Turns),
        ("climb", objects.Climb),
        ("after_last", objects.AfterLast),
        ("way_home", objects.WayHome),
        ("home", objects.Place),
    ],
)
def test_the_schema_and_the_objects_name_the_same_things(table: str, owner: type) -> None:
    """Every key that is used is an attribute, and every attribute is a key."""
    (schema,) = [candidate for candidate in ROUTE if candidate.name == table]
    carried = {key.attribute for key in schema.keys if key.used or key.name == "look_at"}
    assert carried == {field.name for field in dataclasses.fields(owner)}


def test_every_bound_default_and_example_of_the_schema_is_sound() -> None:
    """Finite bounds in order; a default within them."""
    for table in ROUTE:
        for key in table.keys:
            assert math.isfinite(key.low)
            assert math.isfinite(key.high)
            assert key.meaning
            if key.kind in ("number", "height", "span"):
                assert key.low < key.high, table.dotted(key)
            if isinstance(key.default, float | int):
                assert key.low <= key.default <= key.high, table.dotted(key)
            assert set(key.not_built) < set(key.choices) or not key.not_built

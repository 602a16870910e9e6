"""Properties of converting: what a format holds comes back from it."""

from __future__ import annotations

import dataclasses
import tomllib
from typing import TYPE_CHECKING, Any

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from terrain_guard.plan.convert import convert
from terrain_guard.plan.route_files import read_route
from terrain_guard.plan.told import Told
from tests.plan.foreign import places
from tests.plan.samples import write

if TYPE_CHECKING:
    from pathlib import Path

    from terrain_guard.plan.draft import Format

LAUNCH = (47.31, -28.41)
NAMES = st.lists(
    st.text(st.characters(categories=["L", "N", "P", "S"]), min_size=1, max_size=12).map(
        lambda text: f"x {text}"  # no name that means a place or a number of a waypoint
    ),
    min_size=2,
    max_size=5,
    unique=True,
)
POINT = st.fixed_dictionaries(
    {
        "lat": st.floats(47.30, 47.32),
        "lon": st.floats(-28.42, -28.40),
        "height": st.one_of(st.integers(0, 2999), st.floats(0, 2999)),
    },
    optional={"wait_s": st.floats(0, 86400), "turn": st.sampled_from(["fly-by", "stop"])},
)
ALL_HEIGHTS = ("launch", "ground", "sea-level", "ellipsoid")
TABLES = st.fixed_dictionaries(
    {},
    optional={
        "title": st.text(st.characters(categories=["L", "N", "P", "S"]), min_size=1, max_size=30),
        "speed_m_per_s": st.floats(0.1, 100),
        "turns": st.fixed_dictionaries({"bank_deg": st.floats(1, 80)}),
        "link_loss": st.fixed_dictionaries({"after_s": st.just([1, 20])}),
        "subject": st.just([{"name": "spillway", "lat": 47.31, "lon": -28.41, "height": -2.5}]),
        "observer": st.just([{"lat": 47.31, "lon": -28.41}]),
    },
)


@st.composite
def plans(draw: st.DrawFn, heights: tuple[str, ...] = ALL_HEIGHTS) -> dict[str, Any]:
    """Draw a route file."""
    names = draw(NAMES)
    points = draw(st.lists(POINT, min_size=len(names), max_size=len(names)))
    named = draw(st.booleans())
    return {
        **draw(TABLES),
        "heights": draw(st.sampled_from(heights)),
        "height_unit": draw(st.sampled_from(["m", "ft"])),
        "launch": {"lat": LAUNCH[0], "lon": LAUNCH[1]},
        "waypoint": [
            {**point, "name": name} if named else point
            for point, name in zip(points, names, strict=True)
        ],
    }


@pytest.fixture(scope="module")
def folder(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """Return one folder for all examples, which overwrite each other."""
    return tmp_path_factory.mktemp("round-trips")


def through(folder: Path, plan: dict[str, Any], to: Format, **given: Any) -> Path:
    """Convert a plan; return the other file."""
    made = convert(write(folder, plan), to=to, **given)
    return write(folder, made.content, f"other.{to}")


@settings(deadline=None, max_examples=60)  # files are written
@given(plans())
def test_geojson_holds_everything(folder: Path, plan: dict[str, Any]) -> None:
    """The same route from it, to the last bit; and back in TOML, the same keys and values."""
    other = through(folder, plan, "geojson")
    one = read_route(folder / "plan.toml")
    same = dataclasses.replace(
        read_route(other), source=one.source, sha256=one.sha256, unused=one.unused
    )
    assert same == one
    assert tomllib.loads(convert(other, to="toml").content.decode()) == plan


@settings(deadline=None, max_examples=60)
@given(plans())
def test_csv_holds_the_waypoints(folder: Path, plan: dict[str, Any]) -> None:
    """Places, heights, their unit and origin, names, speeds, waits and turns: to the last bit."""
    other = read_route(through(folder, plan, "csv"), launch=LAUNCH)
    one = read_route(folder / "plan.toml")
    assert other.waypoints == tuple(
        dataclasses.replace(waypoint, look_at=None) for waypoint in one.waypoints
    )
    assert (other.heights, other.height_unit) == (one.heights, one.height_unit)


@settings(deadline=None, max_examples=60)
@given(plans(("ground", "sea-level")), st.sampled_from(["kml", "kmz"]))
def test_kml_holds_heights_above_ground_and_sea_level(
    folder: Path, plan: dict[str, Any], to: Format
) -> None:
    """Places to the last bit, heights in metres, names and title."""
    other = read_route(through(folder, plan, to), launch=LAUNCH)
    one = read_route(folder / "plan.toml")
    assert places(other) == places(one)
    assert [w.height_m for w in other.waypoints] == [w.height_m for w in one.waypoints]
    assert [w.name for w in other.waypoints] == [w.name for w in one.waypoints]
    assert (other.title, other.heights) == (one.title, one.heights)


@settings(deadline=None, max_examples=60)
@given(plans(("sea-level",)))
def test_gpx_holds_heights_above_sea_level(folder: Path, plan: dict[str, Any]) -> None:
    """Told what ele counts from, the same places, heights in metres, names and title."""
    told = Told(heights="sea-level")
    other = read_route(through(folder, plan, "gpx"), launch=LAUNCH, told=told)
    one = read_route(folder / "plan.toml")
    assert places(other) == places(one)
    assert [w.height_m for w in other.waypoints] == [w.height_m for w in one.waypoints]
    assert [w.name for w in other.waypoints] == [w.name for w in one.waypoints]
    assert other.title == one.title


@settings(deadline=None, max_examples=60)
@given(plans(), st.sampled_from(["kml", "kmz", "gpx"]))
def test_places_alone_come_back(folder: Path, plan: dict[str, Any], to: Format) -> None:
    """Places to the last bit, names and title; the height is that which is told."""
    told = Told(fly_at=(60.0, "m"), heights="launch")
    other = read_route(through(folder, plan, to, without_heights=True), launch=LAUNCH, told=told)
    one = read_route(folder / "plan.toml")
    assert places(other) == places(one)
    assert [w.name for w in other.waypoints] == [w.name for w in one.waypoints]
    assert {w.height_m for w in other.waypoints} == {60.0}
    assert other.title == one.title

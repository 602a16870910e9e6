"""Properties of reading: what is written comes back, and nothing but a refusal is raised."""

from __future__ import annotations

import dataclasses
import datetime as dt
from typing import TYPE_CHECKING, Any

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from terrain_guard.errors import RefusedRoute
from terrain_guard.plan.route import (
    AfterLast,
    Climb,
    Launch,
    Place,
    Route,
    Turns,
    WayHome,
    Waypoint,
)
from terrain_guard.plan.route_toml import read_route
from terrain_guard.plan.schema import ROUTE
from tests.plan.samples import SMALLEST, write

if TYPE_CHECKING:
    from pathlib import Path

    from terrain_guard.plan.keys import Key


@pytest.fixture(scope="module")
def folder(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """Return one folder for all examples, which overwrite each other."""
    return tmp_path_factory.mktemp("plans")


def _maybe(**keys: st.SearchStrategy[Any]) -> st.SearchStrategy[dict[str, Any]]:
    """Draw a table with any of these keys."""
    return st.fixed_dictionaries({}, optional=keys)


_RATE = st.floats(0.1, 30)
_WAYPOINT = st.fixed_dictionaries(
    {
        "lat": st.floats(47.30, 47.32),
        "lon": st.floats(-28.42, -28.40),
        "height": st.one_of(st.integers(0, 2999), st.floats(0, 2999)),
    },
    optional={
        "speed_m_per_s": st.floats(0.1, 100),
        "wait_s": st.floats(0, 86400),
        "turn": st.sampled_from(["fly-by", "stop"]),
    },
)
_TURNS = st.one_of(
    _maybe(kind=st.sampled_from(["unstated", "fly-by", "stop"]), bank_deg=st.floats(1, 80)),
    _maybe(
        corner_height=st.sampled_from(["unstated", "mid-arc"]),
        turn_anticipation_m=st.floats(0.1, 2000),
    ),
)
_CLIMB = st.one_of(
    _maybe(up_m_per_s=_RATE, out=st.sampled_from(["unstated", "vertical", "slanting"])),
    _maybe(down_m_per_s=_RATE, model=st.sampled_from(["unstated", "linear"])),
    st.fixed_dictionaries({"out": st.just("step"), "take_off_height": st.floats(0.4, 2999)}),
)
_WAY_HOME = st.one_of(
    _maybe(path=st.sampled_from(["unstated", "slanting", "level"]), gradient=st.floats(0.1, 9)),
    st.fixed_dictionaries(
        {
            "height": st.floats(-2999, 2999),
            "path": st.sampled_from(["climb-first", "climb-on-the-way"]),
        }
    ),
)
_PLANS = st.fixed_dictionaries(
    {
        "heights": st.sampled_from(["launch", "ground"]),
        "height_unit": st.sampled_from(["m", "ft"]),
        "launch": st.fixed_dictionaries(
            {"lat": st.floats(47.30, 47.32), "lon": st.floats(-28.42, -28.40)},
            optional={"spot_within_m": st.floats(0, 1000)},
        ),
        "waypoint": st.lists(_WAYPOINT, min_size=2, max_size=6),
        "turns": _TURNS,
        "climb": _CLIMB,
        "after_last": _maybe(
            go_to=st.sampled_from(["launch", "here", "waypoint 1"]),
            then=st.sampled_from(["land", "wait"]),
        ),
        "way_home": _WAY_HOME,
        "conditions": _maybe(wind_m_per_s=st.floats(0, 60)),
    },
    optional={
        "title": st.text(st.characters(categories=["L", "N", "P"]), min_size=1, max_size=40),
        "speed_m_per_s": st.floats(0.1, 100),
    },
)


def _expected(plan: dict[str, Any]) -> Route:
    """Build the route by hand: the defaults are those of the agreed format."""
    metres = {"m": 1.0, "ft": 0.3048}[plan["height_unit"]]
    launch, turns, climb = plan["launch"], plan["turns"], plan["climb"]
    home, last = plan["way_home"], plan["after_last"]
    first_higher = plan["heights"] == "launch" and plan["waypoint"][0]["height"] > 0
    stepless = climb.get("out") == "slanting" or (climb.get("out") == "vertical" and first_higher)
    step_m = climb["take_off_height"] * metres if "take_off_height" in climb else 10.0
    return Route(
        title=plan.get("title", "Untitled route"),
        heights=plan["heights"],
        height_unit=plan["height_unit"],
        launch=Launch(
            lat_deg=launch["lat"],
            lon_deg=launch["lon"],
            spot_within_m=launch.get("spot_within_m", 10.0),
        ),
        home=Place(lat_deg=launch["lat"], lon_deg=launch["lon"]),
        waypoints=tuple(
            Waypoint(
                name=f"waypoint {number}",
                lat_deg=point["lat"],
                lon_deg=point["lon"],
                height_m=point["height"] * metres,
                speed_m_per_s=point.get("speed_m_per_s", plan.get("speed_m_per_s", 5.0)),
                wait_s=point.get("wait_s", 0.0),
                turn=point.get("turn"),
            )
            for number, point in enumerate(plan["waypoint"], start=1)
        ),
        turns=Turns(
            kind=turns.get("kind", "unstated"),
            turn_anticipation_m=turns.get("turn_anticipation_m"),
            bank_deg=None if "turn_anticipation_m" in turns else turns.get("bank_deg", 25.0),
            corner_height=turns.get("corner_height", "unstated"),
        ),
        climb=Climb(
            model=climb.get("model", "unstated"),
            up_m_per_s=climb.get("up_m_per_s", 4.0),
            down_m_per_s=climb.get("down_m_per_s", 3.0),
            out=climb.get("out", "unstated"),
            take_off_height_m=None if stepless else step_m,
        ),
        after_last=AfterLast(go_to=last.get("go_to", "launch"), then=last.get("then", "land")),
        way_home=WayHome(
            height_m=home["height"] * metres if "height" in home else None,
            path=home.get("path", "unstated"),
            gradient=home.get("gradient"),
        ),
        wind_m_per_s=plan["conditions"].get("wind_m_per_s", 0.0),
    )


@settings(deadline=None)  # files are written
@given(_PLANS)
def test_what_is_written_is_read_back(folder: Path, plan: dict[str, Any]) -> None:
    """Written by tomlkit, read to the last bit, and nothing of it called unused but idle keys."""
    read = read_route(write(folder, plan))
    bare = dataclasses.replace(read, assumed=(), unused=(), source="route", sha256="")
    assert bare == _expected(plan)


@settings(deadline=None)  # files are written
@given(_PLANS)
def test_every_key_is_stated_or_assumed_never_both(folder: Path, plan: dict[str, Any]) -> None:
    """No sentence says "not stated" of a key that is in the file."""
    assumed = read_route(write(folder, plan)).assumed
    for table, keys in plan.items():
        for key in keys if isinstance(keys, dict) else ():
            assert not any(sentence.startswith(f"{table}.{key} not") for sentence in assumed)


@settings(deadline=None)  # files are written
@given(_PLANS)
def test_a_plan_in_feet_is_the_plan_in_metres(folder: Path, plan: dict[str, Any]) -> None:
    """The same plan with its heights divided by 0.3048 and labelled ft: equal to 1 nm."""
    plan = {**plan, "height_unit": "m"}
    feet = {
        **plan,
        "height_unit": "ft",
        "waypoint": [{**p, "height": p["height"] / 0.3048} for p in plan["waypoint"]],
        "climb": _in_feet(plan["climb"], "take_off_height"),
        "way_home": _in_feet(plan["way_home"], "height"),
    }
    one, other = read_route(write(folder, plan)), read_route(write(folder, feet))
    assert _heights_m(other) == pytest.approx(_heights_m(one), abs=1e-9)


def _in_feet(table: dict[str, Any], name: str) -> dict[str, Any]:
    return {**table, name: table[name] / 0.3048} if name in table else table


def _heights_m(route: Route) -> list[float]:
    single = (route.climb.take_off_height_m, route.way_home.height_m)
    stated = [height_m for height_m in single if height_m is not None]
    return [waypoint.height_m for waypoint in route.waypoints] + stated


@settings(deadline=None)  # files are written
@given(st.binary(max_size=300))
def test_any_bytes_are_read_or_refused(folder: Path, data: bytes) -> None:
    """Never another error."""
    _read_or_refuse(write(folder, data))


_SCALAR = st.one_of(
    st.booleans(),
    st.integers(-(2**70), 2**70),
    st.floats(),
    st.sampled_from(["launch", "ft", "step", "climb-first", "stop", "here", "", "\x1b", "\n"]),
    st.just(dt.date(2024, 2, 29)),
)
_ANYTHING = st.one_of(
    _SCALAR,
    st.lists(_SCALAR, max_size=2),
    st.lists(st.lists(_SCALAR, max_size=1), max_size=1),
    st.dictionaries(st.sampled_from(["lat", "lon", "x"]), _SCALAR, max_size=2),
)


def _any_value(key: Key) -> st.SearchStrategy[Any]:
    sound = {"number": st.floats(key.low, key.high), "height": st.floats(0.1, 900)}
    return st.one_of(sound.get(key.kind, st.sampled_from(key.choices or ("a", "b"))), _ANYTHING)


_TABLES = {
    table.name: st.fixed_dictionaries({}, optional={k.name: _any_value(k) for k in table.keys})
    for table in ROUTE
}
_NESTED = st.fixed_dictionaries(
    {},
    optional={
        table.name: st.one_of(
            st.lists(_TABLES[table.name], max_size=3) if table.many else _TABLES[table.name],
            _ANYTHING,
        )
        for table in ROUTE
        if table.name
    },
)


@settings(deadline=None)  # files are written
@given(_TABLES[""], _NESTED)
def test_any_toml_is_read_or_refused(
    folder: Path, top: dict[str, Any], tables: dict[str, Any]
) -> None:
    """Known keys with any values at all: a route, or sentences, never another error."""
    _read_or_refuse(write(folder, {**SMALLEST, **top, **tables}))


def _read_or_refuse(path: Path) -> None:
    """Read, or check that each fault is one sentence; any other error passes through."""
    faults: tuple[str, ...] = ()
    try:
        read_route(path)
    except RefusedRoute as refused:
        faults = refused.faults or ("no fault told",)
    assert all(sentence.endswith(".") and "\n" not in sentence for sentence in faults)

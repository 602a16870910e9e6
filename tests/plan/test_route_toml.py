"""What is read from a sound route file, and what it says was assumed and not used."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

import pytest

from terrain_guard.plan.route import AfterLast, Climb, Launch, Place, Turns, WayHome
from terrain_guard.plan.route_toml import read_route
from tests.plan.samples import EVERY_TABLE, ISLAND, SMALLEST, changed, route, write

if TYPE_CHECKING:
    from pathlib import Path

FULL = """
title = "Spillway and upper terraces"
heights = "launch"            # what every height is measured from
height_unit = "m"             # m | ft; required
[launch]
lat = 47.3124
lon = -28.4051
# elevation_m = 212.4         # only if surveyed
spot_within_m = 10            # how far off the real spot may be
[turns]
kind = "unstated"             # unstated | fly-by | fly-over | smooth | stop
turn_anticipation_m = 15      # how far before a waypoint a turn begins
# corner_height = "mid-arc"   # mid-arc | straight; unstated: both
[climb]
model = "unstated"            # unstated | linear | early | late | smooth
up_m_per_s = 4
down_m_per_s = 3
# out = "vertical"
[after_last]                  # once the last waypoint is passed
go_to = "launch"              # launch | here | a waypoint's name
then = "land"                 # land | wait
[link_loss]
after_s = [1, 20]             # delay before the aircraft acts; one number or a range
go_to = "launch"              # launch | here | onward
then = "land"
[way_home]
height = 60                   # above launch
# path = "climb-first"
# [home] and [pilot]: lat, lon; both are the launch unless given
[aircraft]                    # all optional
[conditions]                  # all optional
[[waypoint]]
name = "gate"                 # optional
lat = 47.3131
lon = -28.4046
height = 60
speed_m_per_s = 6             # or once, at the top
wait_s = 5
look_at = "spillway"
[[waypoint]]
lat = 47.3140
lon = -28.4041
height = 60
[[subject]]
name = "spillway"
lat = 47.3140
lon = -28.4040
height = 30
[[observer]]
lat = 47.3126
lon = -28.4049
"""
"""The example that the format was agreed on, with a second waypoint."""


def test_the_example_of_the_format(tmp_path: Path) -> None:
    """Every key of it, where it belongs."""
    read = read_route(write(tmp_path, FULL))
    assert read.title == "Spillway and upper terraces"
    assert (read.heights, read.height_unit) == ("launch", "m")
    assert read.launch == Launch(lat_deg=47.3124, lon_deg=-28.4051, spot_within_m=10.0)
    assert read.home == Place(lat_deg=47.3124, lon_deg=-28.4051)
    assert read.turns == Turns(kind="unstated", turn_anticipation_m=15.0)
    assert read.climb == Climb(up_m_per_s=4.0, down_m_per_s=3.0, take_off_height_m=10.0)
    assert read.after_last == AfterLast(go_to="launch", then="land")
    assert read.way_home == WayHome(height_m=60.0)
    gate, second = read.waypoints
    assert (gate.name, gate.height_m, gate.speed_m_per_s) == ("gate", 60.0, 6.0)
    assert (gate.wait_s, gate.turn, gate.look_at) == (5.0, None, "spillway")
    assert (second.name, second.wait_s, second.look_at) == ("waypoint 2", 0.0, None)


def test_what_the_example_assumes_and_does_not_use(tmp_path: Path) -> None:
    """Not stated: the second speed, the step's height. Not used: the camera."""
    read = read_route(write(tmp_path, FULL))
    assert read.assumed == (
        "speed_m_per_s not stated for waypoint 2: 5 m/s assumed",
        "climb.take_off_height not stated: 10.0 m assumed",
    )
    assert read.unused == (
        "waypoint.look_at",
        "turns.turn_anticipation_m",  # two waypoints: no corner to round
        "subject",
    )


def test_every_default_that_matters_is_told(tmp_path: Path) -> None:
    """The smallest file stands on all of them."""
    assert route(tmp_path).assumed == (
        "speed_m_per_s not stated: 5 m/s assumed",
        "launch.spot_within_m not stated: 10 m assumed",
        "turns.bank_deg not stated: 25 degrees assumed",
        "climb.up_m_per_s not stated: 4 m/s assumed",
        "climb.down_m_per_s not stated: 3 m/s assumed",
        "climb.take_off_height not stated: 10.0 m assumed",
        'after_last.go_to not stated: "launch" assumed',
        'after_last.then not stated: "land" assumed',
        "conditions.wind_m_per_s not stated: 0 m/s assumed",
        "way_home.height not stated: a way home without a climb assumed",
    )
    assert route(tmp_path).unused == ()


def test_the_defaults_are_in_the_route(tmp_path: Path) -> None:
    """The numbers told are the numbers used."""
    read = route(tmp_path)
    assert {waypoint.speed_m_per_s for waypoint in read.waypoints} == {5.0}
    assert [waypoint.name for waypoint in read.waypoints] == [f"waypoint {n}" for n in (1, 2, 3)]
    assert read.launch.spot_within_m == 10.0
    assert read.turns == Turns(bank_deg=25.0)
    assert read.climb == Climb(up_m_per_s=4.0, down_m_per_s=3.0, take_off_height_m=10.0)
    assert read.after_last == AfterLast()
    assert read.way_home == WayHome()
    assert read.wind_m_per_s == 0.0
    assert read.title == "Untitled route"


@pytest.mark.parametrize(
    ("changes", "gone"),
    [
        ({"speed_m_per_s": 8}, "speed_m_per_s"),
        ({"launch.spot_within_m": 2}, "launch.spot_within_m"),
        ({"turns.bank_deg": 20}, "turns.bank_deg"),
        ({"turns.turn_anticipation_m": 15}, "turns.bank_deg"),
        ({"turns.turn_anticipation_m": 15}, "conditions.wind_m_per_s"),
        ({"turns.kind": "stop"}, "turns.bank_deg"),
        ({"turns.kind": "stop"}, "conditions.wind_m_per_s"),
        ({"waypoint.1.turn": "stop"}, "turns.bank_deg"),
        ({"waypoint.1.wait_s": 5}, "turns.bank_deg"),
        ({"climb.up_m_per_s": 2}, "climb.up_m_per_s"),
        ({"climb.down_m_per_s": 2}, "climb.down_m_per_s"),
        ({"climb.out": "vertical"}, "climb.take_off_height"),
        ({"climb.out": "slanting"}, "climb.take_off_height"),
        ({"climb.take_off_height": 20}, "climb.take_off_height"),
        ({"after_last.go_to": "here"}, "after_last.go_to"),
        ({"after_last.then": "wait"}, "after_last.then"),
        ({"conditions.wind_m_per_s": 4}, "conditions.wind_m_per_s"),
        ({"way_home.height": 60}, "way_home.height"),
    ],
)
def test_what_is_stated_or_plays_no_part_is_not_assumed(
    tmp_path: Path, changes: dict[str, Any], gone: str
) -> None:
    """The sentence is there without the change and gone with it."""
    start = f"{gone} not stated"
    assert any(sentence.startswith(start) for sentence in route(tmp_path).assumed)
    assert not any(sentence.startswith(start) for sentence in route(tmp_path, changes).assumed)


@pytest.mark.parametrize(
    ("changes", "unused"),
    [
        ({"turns.kind": "stop", "turns.bank_deg": 20}, ("turns.bank_deg",)),
        ({"climb.out": "vertical", "climb.take_off_height": 9}, ("climb.take_off_height",)),
        ({"climb.out": "step", "climb.take_off_height": 9}, ()),
        ({"turns.turn_anticipation_m": 15, "conditions.wind_m_per_s": 3}, ()),  # cautions use it
        ({"conditions.wind_m_per_s": 3}, ()),
        ({"turns.kind": "stop", "waypoint.1.turn": "fly-by", "turns.bank_deg": 20}, ()),
        ({"way_home.gradient": 0.8, "way_home.path": "level"}, ("way_home.gradient",)),
        ({"way_home.gradient": 0.8}, ("way_home.gradient",)),  # nothing to climb to
        ({"way_home.gradient": 0.8, "way_home.height": 90}, ()),
        (
            {"way_home.gradient": 0.8, "way_home.height": 90, "way_home.path": "climb-on-the-way"},
            (),
        ),
        (
            {"way_home.gradient": 0.8, "way_home.height": 90, "way_home.path": "climb-first"},
            ("way_home.gradient",),
        ),
        ({"way_home.height": 90, "way_home.path": "level"}, ("way_home.height",)),
        ({"way_home.height": 90, "way_home.path": "slanting"}, ("way_home.height",)),
        (
            {"way_home.height": 90, "way_home.path": "slanting", "after_last.then": "wait"},
            (),
        ),
        # What follows the last waypoint needs none of these; a return from any metre does.
        ({"way_home.height": 90, "after_last.go_to": "waypoint 1"}, ()),
        ({"way_home.path": "level", "after_last.go_to": "waypoint 3"}, ()),
        (
            {"climb.out": "vertical", "climb.take_off_height": 9, "waypoint.0.height": -5},
            (),  # up and over
        ),
        ({"climb.out": "slanting", "climb.take_off_height": 9}, ("climb.take_off_height",)),
        ({"way_home.height": 60, "after_last.go_to": "here"}, ()),
        ({"way_home.drift_m": 5}, ()),
        ({"way_home.no_climb_within_m": 20}, ()),
        (
            {"way_home.no_climb_within_m": 20, "way_home.path": "level"},
            ("way_home.no_climb_within_m",),  # it never climbs
        ),
        ({"conditions.temperature_c": -5}, ()),
        (
            {"conditions.temperature_c": -5, "aircraft.height_from": "gnss"},
            ("conditions.temperature_c",),  # satellites tell heights without air
        ),
        (
            {"conditions.pressure_trend_hpa_per_h": -1, "aircraft.height_from": "rtk"},
            ("conditions.pressure_trend_hpa_per_h",),
        ),
        ({"conditions.pressure_trend_hpa_per_h": -1}, ()),
        (
            {"aircraft.temperature_reference": "sensor"},
            ("aircraft.temperature_reference",),  # nothing to compare
        ),
        (
            {"aircraft.temperature_reference": "sensor", "conditions.temperature_c": -5},
            (),
        ),
        ({"conditions.wind_from_deg": 270}, ("conditions.wind_from_deg",)),  # of no wind
        ({"conditions.wind_from_deg": 270, "conditions.wind_m_per_s": 8}, ()),
        ({"launch.offset_m": 3}, ()),
        ({"aircraft.max_height": 120}, ()),
        ({"aircraft.size_m": 0.5, "aircraft.kind": "fixed-wing"}, ()),
        ({"aircraft.kind": "fixed-wing"}, ("aircraft.kind",)),  # of no size
        (
            {"aircraft.size_m": 0.5, "aircraft.seen_within_m": 200},
            ("aircraft.size_m",),  # how far off it is seen is stated
        ),
        ({"pilot": dict(ISLAND)}, ()),
        ({"home": dict(ISLAND)}, ()),
    ],
)  # fmt: skip
def test_what_is_stated_and_plays_no_part_is_named(
    tmp_path: Path, changes: dict[str, Any], unused: tuple[str, ...]
) -> None:
    """Keys not used yet, and keys that another key makes idle."""
    assert route(tmp_path, changes).unused == unused


def test_feet_become_metres_and_metre_keys_stay(tmp_path: Path) -> None:
    """The international foot is 0.3048 m exactly (1959): 120 ft are 36.576 m."""
    read = route(
        tmp_path,
        {
            "height_unit": "ft",
            "waypoint.0.height": 120,
            "climb.take_off_height": 30,
            "way_home.height": 400,
            "launch.elevation_m": 120,
            "launch.elevation_accuracy_m": 1,
            "turns.turn_anticipation_m": 12,
        },
    )
    assert read.height_unit == "ft"
    assert read.waypoints[0].height_m == pytest.approx(36.576, abs=1e-12)
    assert read.climb.take_off_height_m == pytest.approx(9.144, abs=1e-12)
    assert read.way_home.height_m == pytest.approx(121.92, abs=1e-12)
    assert (read.launch.elevation_m, read.turns.turn_anticipation_m) == (120.0, 12.0)


def test_the_label_m_or_ft_is_what_differs(tmp_path: Path) -> None:
    """120 labelled m against 120 labelled ft: 120 x (1 - 0.3048) = 83.424 m apart."""
    one = route(tmp_path, {"waypoint.0.height": 120}).waypoints[0].height_m
    other = route(tmp_path, {"waypoint.0.height": 120, "height_unit": "ft"}).waypoints[0].height_m
    assert one - other == pytest.approx(83.424, abs=1e-9)


def test_the_step_assumed_is_ten_metres_in_either_unit(tmp_path: Path) -> None:
    """10 m are 32.8 ft; it is told in the pilot's unit."""
    read = route(tmp_path, {"height_unit": "ft"})
    assert read.climb.take_off_height_m == 10.0
    assert "climb.take_off_height not stated: 32.8 ft assumed" in read.assumed


def test_heights_are_bounded_in_the_unit_typed(tmp_path: Path) -> None:
    """9,000 ft are 2,743 m and are allowed; 9,000 m are not."""
    read = route(tmp_path, {"height_unit": "ft", "waypoint.0.height": 9000})
    assert read.waypoints[0].height_m == pytest.approx(2743.2)
    with pytest.raises(
        ValueError, match="given 9000, but it must be a number from -3000 to 3000 m"
    ):
        route(tmp_path, {"waypoint.0.height": 9000})


def test_speed_at_the_top_and_at_a_waypoint(tmp_path: Path) -> None:
    """The waypoint's own counts; the top's stands for the others."""
    read = route(tmp_path, {"speed_m_per_s": 8, "waypoint.1.speed_m_per_s": 3})
    assert [waypoint.speed_m_per_s for waypoint in read.waypoints] == [8.0, 3.0, 8.0]
    assert not any(sentence.startswith("speed_m_per_s") for sentence in read.assumed)


def test_go_to_a_waypoint_by_its_name(tmp_path: Path) -> None:
    """A name that was given, and one that was not."""
    named = {"waypoint.0.name": "gate", "after_last.go_to": "gate"}
    assert route(tmp_path, named).after_last.go_to == "gate"
    assert route(tmp_path, {"after_last.go_to": "waypoint 2"}).after_last.go_to == "waypoint 2"


def test_a_home_of_its_own(tmp_path: Path) -> None:
    """It stays where it is when launch is replaced."""
    path = write(tmp_path, changed(SMALLEST, {"home": {"lat": 47.32, "lon": -28.41}}))
    assert read_route(path).home == Place(lat_deg=47.32, lon_deg=-28.41)
    assert read_route(path, launch=(47.3, -28.4)).home == Place(lat_deg=47.32, lon_deg=-28.41)


def test_launch_replaced(tmp_path: Path) -> None:
    """Home follows; the survey of the old place is dropped, and both are told."""
    surveyed = {"launch.elevation_m": 212.4, "launch.elevation_accuracy_m": 0.5}
    path = write(tmp_path, changed(SMALLEST, {**surveyed, "launch.spot_within_m": 3}))
    assert read_route(path).launch.elevation_m == 212.4
    read = read_route(path, launch=(47.3, -28.4))
    assert read.launch == Launch(lat_deg=47.3, lon_deg=-28.4, spot_within_m=3.0)
    assert read.home == Place(lat_deg=47.3, lon_deg=-28.4)
    assert read.assumed[:2] == (
        "launch at lat 47.3, lon -28.4 replaces the place in the file",
        "launch.elevation_m of 212.4 m was surveyed elsewhere: dropped, the model's is used",
    )
    assert read.unused == ()


def test_launch_given_only_apart(tmp_path: Path) -> None:
    """A file without a launch is whole once launch is given beside it."""
    path = write(tmp_path, changed(SMALLEST, {"launch": None}))
    assert read_route(path, launch=(47.3, -28.4)).launch.lat_deg == 47.3


def test_repeated_points_and_reversals_are_no_fault(tmp_path: Path) -> None:
    """They are flown; a file may hold them."""
    points = [SMALLEST["waypoint"][n] for n in (0, 0, 1, 0)]
    assert len(route(tmp_path, {"waypoint": points}).waypoints) == 4


def test_every_table_empty_or_small_is_read(tmp_path: Path) -> None:
    """Headers without keys are no fault and are not named as unused."""
    read = read_route(write(tmp_path, EVERY_TABLE))
    assert read.unused == ("subject",)


def test_what_follows_a_lost_link(tmp_path: Path) -> None:
    """One delay, a range of delays, and the range that stands where none is stated."""
    stated = {"link_loss.after_s": 3, "link_loss.go_to": "here", "link_loss.then": "wait"}
    loss = route(tmp_path, stated).link_loss
    assert (loss.delays_s, loss.go_to, loss.then) == ((3.0, 3.0), "here", "wait")
    assert route(tmp_path, {"link_loss.after_s": [2, 9]}).link_loss.delays_s == (2.0, 9.0)
    loss = route(tmp_path).link_loss
    assert (loss.delays_s, loss.go_to, loss.then) == ((1.0, 20.0), None, None)


def test_who_looks_at_it(tmp_path: Path) -> None:
    """The pilot stands at the launch unless stated; observers may be several."""
    assert (route(tmp_path).pilot, route(tmp_path).observers) == (None, ())
    two = [{"lat": 47.31, "lon": -28.41}, {"lat": 47.32, "lon": -28.4}]
    read = route(tmp_path, {"pilot": dict(ISLAND), "observer": two})
    assert read.pilot == Place(lat_deg=ISLAND["lat"], lon_deg=ISLAND["lon"])
    assert read.observers == tuple(Place(lat_deg=p["lat"], lon_deg=p["lon"]) for p in two)

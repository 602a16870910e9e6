"""Every key a route file may hold, with its unit, range, default and meaning.

Reader, validation and printed template are all driven by `ROUTE`: a key that is
added here is read, checked and shown at once. Heights are bounded in metres and
typed in the file's own unit. The ranges keep nonsense out, such as a height in
millimetres; they are the limits of no authority and of no aircraft.
"""

from __future__ import annotations

from typing import Final

from terrain_guard.plan.keys import Key, More, Table, choice, height, number, text

_HIGH_M = 3000.0
_HIGHEST_M = (
    10_000.0  # above sea level or the ellipsoid, which launches themselves may be high above
)


def _place(lat_deg: float, lon_deg: float) -> tuple[Key, Key]:
    """Return the two keys of a spot on the map, with an example of each."""
    north = "the latitude in decimal degrees, north positive"
    east = "the longitude in decimal degrees, west negative"
    lat: More = {"example": lat_deg, "required": True, "carried_as": "lat_deg"}
    lon: More = {"example": lon_deg, "required": True, "carried_as": "lon_deg"}
    return (
        number("lat", north, "degrees", -90, 90, **lat),
        number("lon", east, "degrees", -180, 180, **lon),
    )


ROUTE: Final = (
    Table(
        name="",
        meaning="The route",
        required=True,
        keys=(
            text("title", "what the flight is for", example="Spillway and upper terraces"),
            choice(
                "heights",
                "what heights count from",
                ("launch", "ground", "sea-level", "ellipsoid"),
                required=True,
                why="a height means nothing without what it counts from",
            ),
            choice(
                "height_unit",
                "the unit of every height",
                ("m", "ft"),
                required=True,
                why="a height means nothing without its unit",
            ),
            number("speed_m_per_s", "the speed over ground", "m/s", 0.1, 100, default=5),
        ),
    ),
    Table(
        name="launch",
        meaning="The ground it takes off from: zero of every typed height",
        required=True,
        keys=(
            *_place(47.3124, -28.4051),
            number("elevation_m", "the surveyed elevation", "m", -500, 9000, example=212.4),
            number("elevation_accuracy_m", "one sigma of it", "m", 0.001, 100, example=0.5),
            number("spot_within_m", "how far off the spot may be", "m", 0, 1000, default=10),
            number("offset_m", "the height of its deck, roof or case", "m", 0, 100, example=2),
        ),
    ),
    Table(
        name="waypoint",
        meaning="One for each planned point, in flight order",
        many=True,
        required=True,
        keys=(
            text("name", "the waypoint's name", example="gate"),
            *_place(47.3131, -28.4046),
            height(
                "height", "the waypoint's height", -_HIGH_M, _HIGHEST_M, example=60, required=True
            ),
            number("speed_m_per_s", "the speed from here on", "m/s", 0.1, 100, example=6),
            number("wait_s", "how long it stops here", "s", 0, 86400, default=0),
            choice(
                "turn",
                "how this corner is flown",
                ("fly-by", "fly-over", "smooth", "stop"),
            ),
            text("look_at", "a subject's name", example="spillway", used=False),
        ),
    ),
    Table(
        name="turns",
        meaning="How corners are flown",
        keys=(
            choice(
                "kind",
                "the kind of turn",
                ("unstated", "fly-by", "fly-over", "smooth", "stop"),
                default="unstated",
            ),
            number(
                "turn_anticipation_m",
                "how far before a waypoint turns begin",
                "m",
                0.1,
                2000,
                example=15,
            ),
            number("bank_deg", "the bank in turns", "degrees", 1, 80, default=25),
            choice(
                "corner_height",
                "where the typed height is reached",
                ("unstated", "mid-arc", "straight"),
                default="unstated",
            ),
        ),
    ),
    Table(
        name="climb",
        meaning="How height changes along a leg, and out of launch",
        keys=(
            choice(
                "model",
                "where along a leg it climbs",
                ("unstated", "linear", "early", "late", "smooth"),
                default="unstated",
            ),
            choice(
                "too_steep",
                "where a leg asks for more than its rates",
                ("unstated", "slows", "falls-short"),
                default="unstated",
            ),
            number("up_m_per_s", "the rate of climb", "m/s", 0.1, 30, default=4),
            number("down_m_per_s", "the rate of descent", "m/s", 0.1, 30, default=3),
            choice(
                "out",
                "the way up from launch",
                ("unstated", "vertical", "step", "slanting"),
                default="unstated",
            ),
            height("take_off_height", "the height of the step", 0.1, _HIGH_M, default=10),
        ),
    ),
    Table(
        name="after_last",
        meaning="Once the last waypoint is passed",
        keys=(
            Key(
                name="go_to",
                kind="reference",
                meaning="where it goes, or a waypoint's name",
                choices=("launch", "here"),
                default="launch",
            ),
            choice("then", "what it does there", ("land", "wait"), default="land"),
        ),
    ),
    Table(
        name="way_home",
        meaning="How it comes home",
        keys=(
            height("height", "the height to come home at", -_HIGH_M, _HIGH_M, example=60),
            choice(
                "path",
                "the way it takes",
                ("unstated", "climb-first", "climb-on-the-way", "slanting", "level"),
                default="unstated",
            ),
            number(
                "gradient", "the climb on the way, up per metre forward", "", 0.01, 100, example=0.8
            ),
            number(
                "no_climb_within_m",
                "the distance within which it does not climb",
                "m",
                0,
                1000,
                example=20,
            ),
            number("drift_m", "how far wind may set it off its line", "m", 0, 1000, example=5),
        ),
    ),
    Table(
        name="home",
        meaning="Where it lands, if not at launch",
        keys=_place(47.3124, -28.4051),
    ),
    Table(
        name="conditions",
        meaning="The air on the day",
        keys=(
            number("wind_m_per_s", "the wind, which widens turns", "m/s", 0, 60, default=0),
            number("wind_from_deg", "where wind comes from", "degrees", 0, 360, example=270),
            number("temperature_c", "the air at launch", "degrees Celsius", -60, 60, example=8),
            number(
                "pressure_trend_hpa_per_h", "the change of pressure", "hPa/h", -50, 50, example=-1
            ),
            number("snow_m", "the depth of snow on the ground", "m", 0, 30, example=1),
            number("visibility_m", "how far one sees", "m", 10, 200_000, example=5000),
        ),
    ),
    Table(
        name="link_loss",
        meaning="Once the radio link is lost",
        keys=(
            Key(
                name="after_s",
                kind="span",
                meaning="the delay, or [least, most]",
                unit="s",
                high=3600,
                example=(1.0, 20.0),
            ),
            choice("go_to", "where it goes", ("launch", "here", "onward")),
            choice("then", "what it does once there", ("land", "wait")),
        ),
    ),
    Table(
        name="aircraft",
        meaning="The aircraft",
        keys=(
            choice("kind", "what keeps it up", ("rotorcraft", "fixed-wing"), default="rotorcraft"),
            number("size_m", "the span over all", "m", 0.01, 50, example=0.5),
            number("seen_within_m", "how far off it is seen", "m", 1, 20_000, example=300),
            height("max_height", "the height limit set", 0.1, 10000, example=120),
            number("endurance_min", "the time aloft", "min", 0.1, 10000, example=25, used=False),
            choice("height_from", "what tells its height", ("barometer", "gnss", "rtk")),
            number("off_line_m", "how far beside its line it may be", "m", 0, 200, example=4),
            choice(
                "temperature_reference",
                "the air its barometer assumes",
                ("launch", "sea-level", "sensor"),
            ),
            number("radio_ghz", "the link's frequency", "GHz", 0.001, 100, example=2.4),
        ),
    ),
    Table(
        name="pilot",
        meaning="Where the remote pilot stands, if not at launch",
        keys=_place(47.3124, -28.4051),
    ),
    Table(
        name="subject",
        meaning="What the camera looks at",
        many=True,
        used=False,
        keys=(
            text("name", "the subject's name", example="spillway", required=True),
            *_place(47.3140, -28.4040),
            height("height", "the subject's height", -_HIGH_M, _HIGH_M, example=30),
        ),
    ),
    Table(
        name="observer",
        meaning="Where an observer stands",
        many=True,
        keys=_place(47.3126, -28.4049),
    ),
)
"""Every table of the route file, in the order of the template."""

TABLES: Final = {table.name: table for table in ROUTE}
"""The same, by header."""

"""Every way a route file is refused: the sentence names file, key, value, rule and remedy."""

from __future__ import annotations

import math
from typing import TYPE_CHECKING, Any

import pytest

from terrain_guard.plan.route_toml import read_route
from terrain_guard.plan.schema import ROUTE
from tests.plan.samples import EVERY_TABLE, SMALLEST, changed, faults, write

if TYPE_CHECKING:
    from pathlib import Path

    from terrain_guard.plan.keys import Key, Table


def _places_of(table: Table) -> tuple[str, str]:
    """Return the table's way in the sample, and its name in messages."""
    if not table.name:
        return "", ""
    return (f"{table.name}.0.", f"{table.name}[1].") if table.many else (f"{table.name}.",) * 2


EVERY_KEY = [
    pytest.param(table, key, id=table.dotted(key)) for table in ROUTE for key in table.keys
]
REQUIRED = [
    pytest.param(table, key, id=table.dotted(key))
    for table in ROUTE
    for key in table.keys
    if key.required
]


def _bad_values(key: Key) -> list[Any]:
    numbers = [math.nan, math.inf, -math.inf, key.low - 1, key.high + 1, 10**400, -(10**400)]
    strange: list[Any] = [True, False, {"a": 1}, [], [1, 2, 3], [[1]]]
    return {
        "number": [*numbers, "12", [1, 2], *strange],
        "height": [*numbers, "12", [1, 2], *strange],
        "span": [*numbers, "12", [2, 1], [1, math.nan], [True, 2], *strange],
        "text": ["", "  ", "a\nb", "a\x1b[2Jb", "x" * 201, 12, math.nan, *strange],
        "reference": ["", "a\tb", "no such name", 3, *strange],
        "choice": ["", "nonsense", "LAUNCH", 1, 1.5, *strange],
    }[key.kind]


@pytest.mark.parametrize(("table", "key"), EVERY_KEY)
def test_every_key_refuses_what_it_may_not_hold(tmp_path: Path, table: Table, key: Key) -> None:
    """NaN, infinite, out of range, of the wrong type: each value of each key of the schema."""
    way, where = _places_of(table)
    for bad in _bad_values(key):
        sentences = faults(tmp_path, changed(EVERY_TABLE, {way + key.name: bad}))
        about = [s for s in sentences if s.startswith(f"plan.toml: {where}{key.name}: given ")]
        if not about and key.name == "lat":  # 91 may be a longitude
            about = [s for s in sentences if "are probably swapped" in s]
        assert len(about) == 1, (bad, sentences)
        assert ", but " in about[0]
        assert "; " in about[0]


@pytest.mark.parametrize(("table", "key"), REQUIRED)
def test_every_required_key_is_missed(tmp_path: Path, table: Table, key: Key) -> None:
    """Each by name, with what to write."""
    way, where = _places_of(table)
    sentences = faults(tmp_path, changed(EVERY_TABLE, {way + key.name: None}))
    (about,) = [s for s in sentences if s.startswith(f"plan.toml: {where}{key.name}: missing, ")]
    assert "; write " in about


@pytest.mark.parametrize("table", [t for t in ROUTE if t.name], ids=lambda t: t.name)
@pytest.mark.parametrize("bad", [3, "text", [1], True, [[]]])
def test_every_table_refuses_what_is_no_table(tmp_path: Path, table: Table, bad: Any) -> None:
    """A number where a table belongs, and one bracket too many or too few."""
    sentences = faults(tmp_path, changed(EVERY_TABLE, {table.name: bad}))
    assert any(s.startswith(f"plan.toml: {table.name}") and "; write [" in s for s in sentences)


@pytest.mark.parametrize(
    ("changes", "sentence"),
    [
        (
            {"height_unit": None},
            "height_unit: missing, but a height means nothing without its unit; "
            "write height_unit = 'm' or 'ft'.",
        ),
        (
            {"heights": None},
            "heights: missing, but a height means nothing without what it counts from; "
            "write heights = 'launch', 'ground', 'sea-level' or 'ellipsoid'.",
        ),
        (
            {"height_unit": "feet"},
            "height_unit: given 'feet', but it must be 'm' or 'ft'; write 'ft' if that is meant.",
        ),
        (
            {"waypoint.1.height": math.nan},
            "waypoint[2].height: given nan, but it must be a number from -3000 to 10000 m; "
            "write the waypoint's height, for example height = 60.",
        ),
        (
            {"launch.lat": "47 18 44 N"},
            "launch.lat: given '47 18 44 N', but it must be a number from -90 to 90 degrees; "
            "write the latitude in decimal degrees, north positive, for example lat = 47.3124.",
        ),
        (
            {"waypoint.0.heigth": 60},
            "waypoint[1].heigth: given 60, but no such key is known here; "
            "if height is meant, write that; otherwise remove it.",
        ),
        (
            {"launch.speed_m_per_s": 5},
            "launch.speed_m_per_s: given 5, but no such key is known here; "
            "it belongs at the top, above every [table].",
        ),
        (
            {"bank_deg": 20},
            "bank_deg: given 20, but no such key is known here; it belongs under [turns].",
        ),
        (
            {"waypoints": 1},
            "waypoints: given 1, but no such key is known here; "
            "if waypoint is meant, write that; otherwise remove it.",
        ),
        (
            {"speed": 5},
            "speed: given 5, but no such key is known here; "
            "if speed_m_per_s is meant, write that; otherwise remove it.",
        ),
        (
            {"height_unit": "ft", "waypoint.0.height": 20000},
            "waypoint[1].height: given 20000, but it must be a number from -9842.52 to 9842.52 ft; "
            "write the waypoint's height, for example height = 60.",
        ),
        (
            {"zz top": 1},
            "'zz top': given 1, but no such key is known here; "
            "remove it, or look for its name in the template.",
        ),
        (
            {"turns.kind": "flyby"},
            "turns.kind: given 'flyby', but it must be 'unstated', 'fly-by', 'fly-over', "
            "'smooth' or 'stop'; write 'fly-by' if that is meant.",
        ),
        (
            {"launch.elevation_m": 212.4},
            "launch.elevation_accuracy_m: missing, but a surveyed elevation and its accuracy come "
            "together; write elevation_accuracy_m too, or remove both if launch was not surveyed.",
        ),
        (
            {"launch.elevation_accuracy_m": 0.5},
            "launch.elevation_m: missing, but a surveyed elevation and its accuracy come "
            "together; write elevation_m too, or remove both if launch was not surveyed.",
        ),
        (
            {"turns.bank_deg": 20, "turns.turn_anticipation_m": 15},
            "turns.bank_deg: given 20.0, but turn_anticipation_m is given too, and either sets "
            "how wide turns are; remove one of the two.",
        ),
        (
            {"climb.out": "step"},
            "climb.out: given 'step', but a stepped climb-out needs the height at which it moves "
            "on; write take_off_height under [climb], in height_unit above launch.",
        ),
        (
            {"way_home.path": "climb-first"},
            "way_home.path: given 'climb-first', but a climb needs the height it climbs to; "
            "write height under [way_home], in height_unit above launch.",
        ),
        (
            {"way_home.path": "climb-on-the-way"},
            "way_home.path: given 'climb-on-the-way', but a climb needs the height it climbs to; "
            "write height under [way_home], in height_unit above launch.",
        ),
        (
            {"heights": "ground", "waypoint.0.height": -5},
            "waypoint[1].height: given -5.0 m, but heights above ground cannot be negative; "
            "write a positive height, or heights = 'launch'.",
        ),
        (
            {"waypoint.0.name": "gate", "waypoint.2.name": "gate"},
            "waypoint[3].name: given 'gate', but waypoint[1] has that name; "
            "give each its own name.",
        ),
        (
            {"waypoint.0.name": "waypoint 2"},
            "waypoint[2].name: given 'waypoint 2', but waypoint[1] has that name; "
            "give each its own name.",
        ),
        (
            {"waypoint.0.name": "launch"},
            "waypoint[1].name: given 'launch', but that word already means a place; "
            "write another name.",
        ),
        (
            {"waypoint.0.look_at": "spilway", "subject": [{"name": "spillway", "lat": 47.31,
             "lon": -28.4}]},
            "waypoint[1].look_at: given 'spilway', but no [[subject]] has that name; "
            "write 'spillway' if that is meant.",
        ),
        (
            {"waypoint.0.look_at": "spillway"},
            "waypoint[1].look_at: given 'spillway', but no [[subject]] has that name; "
            "add that subject, or remove look_at.",
        ),
        (
            {"after_last.go_to": "gaet", "waypoint.0.name": "gate"},
            "after_last.go_to: given 'gaet', but it must be 'launch', 'here' or a waypoint's "
            "name; write 'gate' if that is meant.",
        ),
        (
            {"link_loss.after_s": [20, 1]},
            "link_loss.after_s: given [20, 1], but it must be one number from 0 to 3600 s, or a "
            "list of two such numbers, the lesser first; write the delay, or [least, most], for "
            "example after_s = [1, 20].",
        ),
    ],
)  # fmt: skip
def test_the_sentence(tmp_path: Path, changes: dict[str, Any], sentence: str) -> None:
    """One slip is one sentence, as the pilot reads it."""
    assert faults(tmp_path, changed(SMALLEST, changes)) == (f"plan.toml: {sentence}",)


@pytest.mark.parametrize(
    ("key", "word"),
    [
        ("turns.kind", "fly-over"),
        ("turns.kind", "smooth"),
        ("waypoint.1.turn", "fly-over"),
        ("waypoint.1.turn", "smooth"),
        ("climb.model", "early"),
        ("climb.model", "late"),
        ("climb.model", "smooth"),
        ("climb.too_steep", "slows"),
        ("climb.too_steep", "falls-short"),
        ("turns.corner_height", "straight"),
    ],
)
def test_every_way_to_fly_may_be_stated(tmp_path: Path, key: str, word: str) -> None:
    """It is read as written; a slip in it is refused, with the word that is meant."""
    read = read_route(write(tmp_path, changed(SMALLEST, {key: word})))
    table, name = key.split(".", maxsplit=1)[0], key.rsplit(".", maxsplit=1)[-1]
    stated = read.waypoints[1] if table == "waypoint" else getattr(read, table)
    assert getattr(stated, name) == word
    (sentence,) = faults(tmp_path, changed(SMALLEST, {key: word[:-1]}))
    assert f"given {word[:-1]!r}, but it must be " in sentence
    assert sentence.endswith(f"; write {word!r} if that is meant.")


@pytest.mark.parametrize("word", ["sea-level", "ellipsoid"])
def test_only_heights_from_another_zero_may_be_high(tmp_path: Path, word: str) -> None:
    """A launch may lie 4,000 m above sea level; nothing flies 4,000 m above its launch."""
    high = {"waypoint.0.height": 4000, "waypoint.1.height": 4060}
    read = read_route(write(tmp_path, changed(SMALLEST, {"heights": word, **high})))
    assert (read.heights, read.waypoints[0].height_m) == (word, 4000.0)
    for close in ("launch", "ground"):
        sentences = faults(tmp_path, changed(SMALLEST, {"heights": close, **high}))
        assert [s.split(": ")[1] for s in sentences] == ["waypoint[1].height", "waypoint[2].height"]
        assert "given 4000, but it must be a number from -3000 to 3000 m; write" in sentences[0]


@pytest.mark.parametrize(("keep", "words"), [(0, "no waypoint"), (1, "one waypoint")])
def test_fewer_than_two_waypoints(tmp_path: Path, keep: int, words: str) -> None:
    """One waypoint is no route."""
    few = {**SMALLEST, "waypoint": SMALLEST["waypoint"][:keep]}
    (sentence,) = faults(tmp_path, few)
    assert sentence == (
        f"plan.toml: waypoint: given {words}, but a route needs at least 2; "
        f"add a [[waypoint]] with lat, lon and height for each point."
    )


def test_no_waypoint_table_and_no_launch_table(tmp_path: Path) -> None:
    """What is absent as a whole is missed key by key."""
    sentences = faults(tmp_path, 'heights = "launch"\nheight_unit = "m"\n')
    assert [s.split(": ")[1] for s in sentences] == ["launch.lat", "launch.lon", "waypoint"]


def test_without_a_unit_a_height_is_only_asked_to_be_finite(tmp_path: Path) -> None:
    """9,000 may be feet; inf is nothing in any unit."""
    unknown = {"height_unit": None, "waypoint.0.height": 9000, "waypoint.1.height": math.inf}
    sentences = faults(tmp_path, changed(SMALLEST, unknown))
    assert [s.split(": ")[1] for s in sentences] == ["height_unit", "waypoint[2].height"]
    assert "it must be a finite number, in the unit that height_unit says; write" in sentences[1]


def test_two_subjects_of_one_name(tmp_path: Path) -> None:
    """`look_at` could mean either."""
    twice = changed(EVERY_TABLE, {"subject": EVERY_TABLE["subject"] * 2})
    (sentence,) = faults(tmp_path, twice)
    assert sentence.startswith("plan.toml: subject[2].name: given 'spillway', but subject[1] has")


@pytest.mark.parametrize("text", ["height = 0x" + "f" * 5000, "height = [0x" + "f" * 5000 + "]"])
def test_a_number_too_long_to_print(tmp_path: Path, text: str) -> None:
    """Hexadecimal integers have no limit of digits in TOML, but have one in a message."""
    (sentence,) = [s for s in faults(tmp_path, "[way_home]\n" + text) if "way_home" in s]
    assert "given a number of thousands of digits, but it must be a finite number" in sentence


def test_all_faults_come_at_once(tmp_path: Path) -> None:
    """Twelve slips in one file, twelve sentences, each naming its own key."""
    text = """
        heights = "sealevel"
        speed = 5
        [launch]
        lat = 47.3124
        lon = nan
        elevation_m = 212
        [turns]
        kind = "smoth"
        bank_deg = true
        [climb]
        out = "step"
        [after_last]
        go_to = "nowhere"
        [[waypoint]]
        lat = 147.3
        lon = -28.4
        height = inf
        wait_s = -1
    """
    where = [sentence.split(": ")[1] for sentence in faults(tmp_path, text)]
    assert sorted(where) == sorted(
        [
            "speed",
            "heights",
            "height_unit",
            "launch.lon",
            "waypoint[1]",  # swapped, perhaps
            "waypoint[1].height",
            "waypoint[1].wait_s",
            "turns.kind",
            "turns.bank_deg",
            "waypoint",  # only one
            "after_last.go_to",
            "launch.elevation_accuracy_m",
            "climb.out",
        ]
    )


@pytest.mark.parametrize(
    ("launch", "words"),
    [
        ((91.0, 200.0), "launch given apart from the file.lat: given 91.0, but it must be a"),
        ((math.nan, -28.4), "launch given apart from the file.lat: given nan, but it must be a"),
        ((47.3, math.inf), "launch given apart from the file.lon: given inf, but it must be a"),
        ((128.4, 47.3), "launch given apart from the file: given lat = 128.4 and lon = 47.3"),
        ((-28.4, 47.3), "launch: given lat = -28.4 and lon = 47.3, but that is"),
    ],
)
def test_a_replaced_launch_is_checked_too(
    tmp_path: Path, launch: tuple[float, float], words: str
) -> None:
    """Out of range, not finite, swapped by itself, swapped against the waypoints."""
    sentences = faults(tmp_path, SMALLEST, launch=launch)
    assert words in sentences[0]

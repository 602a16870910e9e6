"""Rules by name and from a file, and every way a rules file is refused."""

from __future__ import annotations

import dataclasses
import math
from typing import TYPE_CHECKING, Any

import pytest

from terrain_guard.errors import RefusedRules
from terrain_guard.plan.rules import DEFAULT_RULES, Rules
from terrain_guard.plan.rules_schema import RULES
from terrain_guard.plan.rules_toml import read_rules
from tests.plan.samples import changed, write

if TYPE_CHECKING:
    from pathlib import Path

EXAMPLE = """
name = "Site rule"
source = "Operations manual 4.2"
unit = "m"
require = ["sight"]
[floor]
value = 30
[ceiling]
value = 120
measure = "vertical"
[margins]
floor_k = 2.33
ceiling_k = 1.645
"""
SMALLEST: dict[str, Any] = {
    "name": "Site rule",
    "source": "Operations manual 4.2",
    "unit": "m",
    "floor": {"value": 30},
    "ceiling": {"value": 120},
}


def _faults(folder: Path, content: dict[str, Any] | str) -> tuple[str, ...]:
    path = write(folder, content, "site.toml")
    with pytest.raises(RefusedRules) as caught:
        read_rules(path)
    return caught.value.faults


def test_the_default_by_name() -> None:
    """It says that it is our own choice; 30 m and 120 m."""
    assert read_rules("default") is DEFAULT_RULES
    assert (DEFAULT_RULES.floor_m, DEFAULT_RULES.ceiling_m) == (30.0, 120.0)
    assert DEFAULT_RULES.source.startswith("our own choice")


def test_the_example_of_the_format(tmp_path: Path) -> None:
    """Every key of it, and what is kept without being used yet."""
    path = write(tmp_path, EXAMPLE, "site.toml")
    assert dataclasses.replace(read_rules(path), sha256="") == Rules(
        name="Site rule",
        source="Operations manual 4.2",
        unit="m",
        floor_m=30.0,
        ceiling_m=120.0,
        ceiling_measure="vertical",
        floor_measure="clearance",
        floor_k=2.33,
        ceiling_k=1.645,
        require=("sight",),
        origin="site.toml",
    )


def test_a_file_called_default_is_read_by_its_path(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """The bare word means the built-in rules, "./default" the file."""
    write(tmp_path, SMALLEST, "default")
    monkeypatch.chdir(tmp_path)
    assert read_rules("default").origin == "default"
    assert read_rules("./default").name == "Site rule"


def test_feet_become_metres(tmp_path: Path) -> None:
    """400 ft are 121.92 m, 100 ft 30.48 m (international foot, 0.3048 m exactly)."""
    changes = {"unit": "ft", "floor.value": 100, "ceiling.value": 400}
    read = read_rules(write(tmp_path, changed(SMALLEST, changes)))
    assert read.floor_m == pytest.approx(30.48, abs=1e-12)
    assert read.ceiling_m == pytest.approx(121.92, abs=1e-12)
    assert read.unit == "ft"


@pytest.mark.parametrize(
    ("unit", "margins", "floor_m", "ceiling_m"),
    [
        ("m", {}, None, None),
        ("m", {"floor": 7, "ceiling": 5.5}, 7.0, 5.5),
        ("m", {"floor": 7}, 7.0, None),
        ("m", {"ceiling": 5}, None, 5.0),
        ("m", {"floor": 0, "ceiling": 500}, 0.0, 500.0),
        ("ft", {"floor": 20, "ceiling": 10}, 6.096, 3.048),
    ],
)
def test_margins_may_be_fixed(
    tmp_path: Path,
    unit: str,
    margins: dict[str, float],
    floor_m: float | None,
    ceiling_m: float | None,
) -> None:
    """Both, either or none, in the unit of the rules (a foot is 0.3048 m); nothing is unused."""
    read = read_rules(write(tmp_path, changed(SMALLEST, {"unit": unit, "margins": margins})))
    assert read.unused == ()
    for given, wanted in (
        (read.fixed_floor_margin_m, floor_m),
        (read.fixed_ceiling_margin_m, ceiling_m),
    ):
        assert given == (None if wanted is None else pytest.approx(wanted, abs=1e-12))


@pytest.mark.parametrize("key", ["floor_k", "ceiling_k"])
@pytest.mark.parametrize("k", [0, 1.645, 10])
def test_how_many_sigma_arrives(tmp_path: Path, key: str, k: float) -> None:
    """A bare number in any unit, kept as it is, used, and the other left to the program."""
    changes = {"unit": "ft", "floor.value": 100, "ceiling.value": 400, "margins": {key: k}}
    read = read_rules(write(tmp_path, changed(SMALLEST, changes)))
    (other,) = {"floor_k", "ceiling_k"} - {key}
    assert (getattr(read, key), getattr(read, other), read.unused) == (k, None, ())


@pytest.mark.parametrize(
    ("key", "word", "attribute"),
    [
        ("ceiling.measure", "closest-point", "ceiling_measure"),
        ("ceiling.measure", "sea-level", "ceiling_measure"),
        ("ceiling.measure", "vertical", "ceiling_measure"),
        ("floor.measure", "vertical", "floor_measure"),
        ("floor.measure", "clearance", "floor_measure"),
    ],
)
def test_measures(tmp_path: Path, key: str, word: str, attribute: str) -> None:
    """Each that is built arrives."""
    read = read_rules(write(tmp_path, changed(SMALLEST, {key: word})))
    assert getattr(read, attribute) == word


@pytest.mark.parametrize(
    ("changes", "sentence"),
    [
        (
            {"unit": None},
            "unit: missing, but a limit means nothing without its unit; write unit = 'm' or 'ft'.",
        ),
        (
            {"source": None},
            "source: missing, but a limit means nothing without who says so; write who says so, "
            'and where, for example source = "Operations manual 4.2".',
        ),
        (
            {"floor": {}},
            "floor.value: missing, but it is required; "
            "write the least clearance, for example value = 30.",
        ),
        (
            {"ceiling": None},
            "ceiling.value: missing, but it is required; "
            "write the greatest height, for example value = 120.",
        ),
        (
            {"floor.value": math.nan},
            "floor.value: given nan, but it must be a number from 0.1 to 1000 m; "
            "write the least clearance, for example value = 30.",
        ),
        (
            {"ceiling.value": math.inf},
            "ceiling.value: given inf, but it must be a number from 0.1 to 10000 m; "
            "write the greatest height, for example value = 120.",
        ),
        (
            {"floor.value": 0},
            "floor.value: given 0, but it must be a number from 0.1 to 1000 m; "
            "write the least clearance, for example value = 30.",
        ),
        (
            {"floor.value": 120},
            "ceiling.value: given 120.0, but the ceiling must be above the floor of 120.0; "
            "raise the ceiling or lower the floor.",
        ),
        (
            {"unit": "ft", "floor.value": 400},
            "ceiling.value: given 120.0, but the ceiling must be above the floor of 400.0; "
            "raise the ceiling or lower the floor.",
        ),
        (
            {"ceiling.measure": "sea-level", "sea_level_ceiling.value": 550},
            "ceiling.measure: given 'sea-level', but [sea_level_ceiling] holds a ceiling above "
            "sea level already; leave one of the two out.",
        ),
        (
            {"sea_level_ceiling.value": math.nan},
            "sea_level_ceiling.value: given nan, but it must be a number from -500 to 10000 m; "
            "write the greatest height above sea level, for example value = 550.",
        ),
        (
            {"sea_level_ceiling.source": "Zone 4"},
            "sea_level_ceiling.value: missing, but it is required; "
            "write the greatest height above sea level, for example value = 550.",
        ),
        (
            {"ceiling.measure": "slant"},
            "ceiling.measure: given 'slant', but it must be 'vertical', 'closest-point' or "
            "'sea-level'; write 'vertical', 'closest-point' or 'sea-level'.",
        ),
        (
            {"floor.measure": "closest-point"},
            "floor.measure: given 'closest-point', but it must be 'clearance' or 'vertical'; "
            "write 'clearance' or 'vertical'.",
        ),
        (
            {"require": ["sigth"]},
            "require: given ['sigth'], but it must be a list of 'sight', 'link', 'return', "
            "'camera' or 'energy'; write which further findings enter the verdict, for example "
            'require = ["sight"].',
        ),
        (
            {"require": "sight"},
            "require: given 'sight', but it must be a list of 'sight', 'link', 'return', "
            "'camera' or 'energy'; write which further findings enter the verdict, for example "
            'require = ["sight"].',
        ),
        (
            {"margins.floor_k": -1},
            "margins.floor_k: given -1, but it must be a number from 0 to 10; "
            "write sigma for the floor, for example floor_k = 2.33.",
        ),
        (
            {"margins.floor": -0.1},
            "margins.floor: given -0.1, but it must be a number from 0 to 500 m; "
            "write the floor's margin, for example floor = 10.",
        ),
        (
            {"margins.ceiling": math.inf},
            "margins.ceiling: given inf, but it must be a number from 0 to 500 m; "
            "write the ceiling's margin, for example ceiling = 5.",
        ),
        (
            {"margins.floor_m": 7},
            "margins.floor_m: given 7, but no such key is known here; "
            "if floor_k is meant, write that; otherwise remove it.",
        ),
        (
            {"value": 30},
            "value: given 30, but no such key is known here; "
            "it belongs under [floor] or [ceiling] or [sea_level_ceiling].",
        ),
        (
            {"ceiling.mesure": "vertical"},
            "ceiling.mesure: given 'vertical', but no such key is known here; "
            "if measure is meant, write that; otherwise remove it.",
        ),
        (
            {"floor": 30},
            "floor: given 30, but it is a table; write [floor] and its keys below it.",
        ),
    ],
)
def test_the_sentence(tmp_path: Path, changes: dict[str, Any], sentence: str) -> None:
    """One slip is one sentence, as the pilot reads it."""
    assert _faults(tmp_path, changed(SMALLEST, changes)) == (f"site.toml: {sentence}",)


def test_all_faults_come_at_once(tmp_path: Path) -> None:
    """Every line of this file is wrong."""
    text = """
        name = 3
        units = "m"
        require = ["weather"]
        [floor]
        value = "30 m"
        measure = 1
        [ceiling]
        value = true
        measure = "sealevel"
        [margins]
        floor_k = nan
        [rows]
    """
    where = [sentence.split(": ")[1] for sentence in _faults(tmp_path, text)]
    assert sorted(where) == sorted(
        [
            "name",
            "source",
            "unit",
            "units",
            "require",
            "floor.value",
            "floor.measure",
            "ceiling.value",
            "ceiling.measure",
            "margins.floor_k",
            "rows",
        ]
    )


def test_an_empty_file_is_told_what_to_write(tmp_path: Path) -> None:
    """The remedy names the keys that are required."""
    (sentence,) = _faults(tmp_path, "")
    assert sentence == (
        "site.toml: the file is empty, but a rules file must say something; "
        "write name, source, unit, and a value under [floor] and [ceiling]."
    )


@pytest.mark.parametrize(
    ("changes", "words"),
    [
        ({"floor_m": math.nan}, r"Rules\.floor_m: given nan, but it must be a number"),
        ({"ceiling_m": math.inf}, r"Rules\.ceiling_m: given inf, but it must be a number"),
        ({"floor_m": 0.0}, r"Rules\.floor_m: given 0\.0, but"),
        ({"ceiling_m": 30.0}, r"but the ceiling must be above the floor"),
        ({"source": " "}, r"Rules\.source: given ' ', but it must be one line of text"),
        ({"ceiling_measure": "slant"}, r"Rules\.ceiling_measure: given 'slant', but it must be"),
        (
            {"ceiling_measure": "sea-level", "sea_level_ceiling_m": 550.0},
            r"Rules\.sea_level_ceiling_m: given 550\.0, but the ceiling counts from sea level",
        ),
        ({"sea_level_ceiling_m": math.nan}, r"Rules\.sea_level_ceiling_m: given nan, but"),
        ({"based_on": "eu"}, r"Rules\.based_on: given 'eu', but it must be 'us-107', 'eu-open'"),
        (
            {"fixed_floor_margin_m": math.nan},
            r"Rules\.fixed_floor_margin_m: given nan, but it must",
        ),
        ({"fixed_floor_margin_m": -1.0}, r"Rules\.fixed_floor_margin_m: given -1\.0, but it must"),
        ({"fixed_ceiling_margin_m": 500.1}, r"Rules\.fixed_ceiling_margin_m: given 500\.1, but"),
        ({"ceiling_k": 10.1}, r"Rules\.ceiling_k: given 10\.1, but it must be a number"),
        ({"floor_measure": "slant"}, r"Rules\.floor_measure: given 'slant', but it must be"),
        ({"unit": "yd"}, r"Rules\.unit: given 'yd', but it must be 'm' or 'ft'"),
        ({"require": ("weather",)}, r"Rules\.require: given \('weather',\), but it must be a li"),
    ],
)
def test_rules_in_python_are_refused_too(changes: dict[str, Any], words: str) -> None:
    """The same rules as for a file, by attribute."""
    with pytest.raises(RefusedRules, match=words):
        dataclasses.replace(DEFAULT_RULES, **changes)


def test_the_schema_and_the_object_name_the_same_things() -> None:
    """Every key is an attribute."""
    names = {field.name for field in dataclasses.fields(Rules)}
    assert {key.attribute for table in RULES for key in table.keys} <= names

"""The answer as JSON, held against the shipped JSON Schema by an independent validator."""

import copy
import json
import math
from collections.abc import Callable
from typing import Any, NoReturn

import jsonschema
import numpy as np
import pytest

from terrain_guard.assessment import Assessment
from terrain_guard.report import assessment_json
from terrain_guard.states import State
from tests.report import factory

ABSENT = object()


def _validator() -> jsonschema.Draft202012Validator:
    return jsonschema.Draft202012Validator(assessment_json.schema())


def _refuse(constant: str) -> NoReturn:
    message = f"{constant} is not JSON"
    raise ValueError(message)


def test_the_schema_is_one() -> None:
    """The shipped file is a valid JSON Schema of 2020-12."""
    shipped = assessment_json.schema()
    assert shipped["$schema"] == "https://json-schema.org/draft/2020-12/schema"
    jsonschema.Draft202012Validator.check_schema(shipped)


@pytest.mark.parametrize("make", factory.EVERY)
def test_every_state_is_valid_and_strict(make: Callable[[], Assessment]) -> None:
    """Each assessment is strict JSON (RFC 8259 has no NaN) and fits the schema."""
    written = json.loads(assessment_json.text(make()), parse_constant=_refuse)
    assert list(_validator().iter_errors(written)) == []


def test_keys_are_the_contract_s() -> None:
    """The agreed keys are there, spelt exactly."""
    written = assessment_json.as_dict(factory.breach())
    assert {"schema", "verdict", "length_m", "assessed_m", "rules", "launch"} <= set(written)
    assert {"terrain", "legs", "findings", "cautions", "not_checked"} <= set(written)
    assert written["schema"] == "terrain-guard/assessment/1"
    rules = {"name", "source", "floor_m", "ceiling_m", "ceiling_measure"}
    assert rules <= set(written["rules"])
    assert {"lat", "lon", "elevation_m", "elevation_source"} <= set(written["launch"])
    terrain = {"file", "size_bytes", "used_hash", "crs", "cell_m", "kind", "vertical_datum"}
    assert {*terrain, "void_share_read"} <= set(written["terrain"][0])
    leg = {"leg", "start", "end", "length_m", "typed_length_m", "typed_start_m", "typed_end_m"}
    assert {*leg, "state", "above_ground", "clearance"} <= set(written["legs"][0])
    extreme = {"nominal_m", "assured_m", "along_m", "lat", "lon", "curve"}
    for what in ("above_ground", "clearance"):
        assert set(written["legs"][0][what]) == {"min", "max"}
        assert set(written["legs"][0][what]["min"]) == extreme
    finding = {"kind", "state", "leg", "from_m", "to_m", "worst_m", "at_m", "lat", "lon"}
    assert {*finding, "curve", "message"} <= set(written["findings"][0])


def test_numbers_are_unrounded() -> None:
    """Rounding is for people; the file keeps 29.96."""
    written = json.loads(assessment_json.text(factory.breach()))
    assert written["legs"][1]["clearance"]["min"]["nominal_m"] == 29.96
    assert written["legs"][2]["above_ground"]["max"]["nominal_m"] == 120.04


def test_tight_shoulders_stay_separate() -> None:
    """What the table folds is still three findings here."""
    written = assessment_json.as_dict(factory.breach())
    assert [one["state"] for one in written["findings"]] == ["tight", "breach", "tight", "breach"]


def test_not_assessed_is_null() -> None:
    """NaN, a missing extreme and infinity are null, never a number."""
    assessment = factory.not_assessed(floor_margin_m=math.inf)
    written = json.loads(assessment_json.text(assessment))
    assert written["legs"][1]["clearance"]["min"]["nominal_m"] is None
    assert written["legs"][2]["clearance"]["min"] is None
    assert written["findings"][0]["worst_m"] is None
    assert written["margins"]["floor_m"] is None
    assert list(_validator().iter_errors(written)) == []


def test_the_budget_is_whole() -> None:
    """Keys as agreed, places with every row; numbers unrounded, signs and squares kept."""
    written = json.loads(assessment_json.text(factory.within()))["budget"]
    keys = {"words", "floor_k", "ceiling_k", "floor_is_fixed", "ceiling_is_fixed", "band_m"}
    keys |= {"corridor_m"}
    assert set(written) == {*keys, "floor_chance", "ceiling_chance", "floor", "ceiling"}
    assert (written["floor_k"], written["floor_chance"], written["band_m"]) == (2.0, 0.0084, 78.0)
    place = written["floor"]
    assert (place["leg"], place["along_m"], place["margin_m"]) == (1, 112.0, 7.0)
    assert place["launch_elevation_m"] + place["above_launch_m"] == 292.0
    assert place["rows"][0] == {
        "name": "elevation model", "what": "random", "floor_m": 0.6, "ceiling_m": 0.6,
        "squared_m2": 0.36, "scope": "local", "assumed": True, "source": "airborne lidar",
        "remedy": "a better elevation model",
    }  # fmt: skip
    random = [one["squared_m2"] for one in place["rows"] if one["what"] == "random"]
    assert sum(random) == pytest.approx(1.0)
    assert len(place["rows"]) == len(factory.budget_rows())


def test_an_unknown_budget_is_null() -> None:
    """No place, no band, chances and rows that are not known: null, and still valid."""
    rows = (factory.budget_row("snow", "one-sided bound", math.nan, 0.0),)
    used = factory.budget(
        floor=None, band_m=math.inf, floor_chance=math.nan,
        ceiling=factory.budget_place("ceiling", 2, rows=rows, largest="", flight_sigma_m=math.nan),
    )  # fmt: skip
    whole = json.loads(assessment_json.text(factory.within(budget=used)), parse_constant=_refuse)
    written = whole["budget"]
    assert written["floor"] is written["band_m"] is written["floor_chance"] is None
    assert written["ceiling"]["rows"][0]["floor_m"] is None
    assert written["ceiling"]["flight_sigma_m"] is None
    assert list(_validator().iter_errors(whole)) == []


@pytest.mark.parametrize(
    ("key", "value"),
    [("floor_chance", 1.5), ("band_m", "72"), ("floor", []), ("ceiling_is_fixed", None)],
)
def test_the_schema_refuses_a_wrong_budget(key: str, value: object) -> None:
    """A chance above 1, text for a number, a list for a place, null for yes or no."""
    written = assessment_json.as_dict(factory.within())
    written["budget"][key] = value
    assert list(_validator().iter_errors(written)) != []


def test_numpy_numbers_are_plain() -> None:
    """NumPy scalars in an assessment reach the file as JSON numbers."""
    row = factory.leg(0, "launch", "gate")
    made = factory.within(
        legs=(factory.leg(np.int64(0), "launch", "gate", length_m=np.float64(0.1)),),  # type: ignore[arg-type]
        length_m=np.float64(300.0),
    )
    written = json.loads(assessment_json.text(made))
    assert written["legs"][0]["leg"] == row.leg
    assert written["legs"][0]["length_m"] == 0.1


def test_undecodable_names_stay_json() -> None:
    """A file name that is no valid text (a lone surrogate) still parses."""
    made = factory.within(assumed=("caf\udce9",))
    content = assessment_json.text(made).encode("utf-8", "backslashreplace")
    assert json.loads(content)["assumed"] == ["caf\udce9"]


@pytest.mark.parametrize(
    ("path", "value"),
    [
        ("verdict", "not assessed"),
        ("verdict", "pass"),
        ("verdict", "within"),
        ("legs.1.state", "unknown"),
        ("legs.1.state", "within"),
        ("legs.2.state", "tight"),
        ("findings.0.state", "within"),
        ("findings.0.kind", "not assessed"),
        ("findings.0.worst_m", 0.0),
        ("findings.0.state", "tight"),
        ("findings.0.message", ""),
        ("legs.1.clearance.min.assured_m", 12.0),
        ("legs.1.clearance.min.nominal_m", "n/a"),
        ("legs.0.above_ground.min", 12.0),
        ("legs.0.length_m", None),
        ("assessed_m", None),
        ("length_m", -1.0),
        ("launch.lat", 91.0),
        ("terrain.0.cell_m", [2.0]),
        ("terrain.0.size_bytes", 1.5),
        ("rules.ceiling_measure", "slant"),
        ("cautions", []),
        ("schema", "terrain-guard/assessment/2"),
        ("verdict", ABSENT),
        ("cautions", ABSENT),
        ("legs.0.clearance", ABSENT),
        ("legs.0.above_ground.min", ABSENT),
        ("findings.0.worst_m", ABSENT),
        ("terrain.0.used_hash", ABSENT),
    ],
)
def test_the_schema_refuses(path: str, value: object) -> None:
    """A wrong word, a number where null belongs, null for a number, a missing key: all invalid."""
    written = copy.deepcopy(assessment_json.as_dict(factory.not_assessed()))
    *above, last = [int(key) if key.isdigit() else key for key in path.split(".")]
    at: Any = written
    for key in above:
        at = at[key]
    if value is ABSENT:
        del at[last]
    else:
        at[last] = value
    assert list(_validator().iter_errors(written)) != []


def test_the_schema_lets_keys_be_added() -> None:
    """Later versions add keys; readers of this one still accept the file."""
    written = assessment_json.as_dict(factory.within())
    written["energy"] = {}
    written["legs"][0]["camera"] = "not-assessed"
    assert list(_validator().iter_errors(written)) == []


def test_a_breach_needs_a_number() -> None:
    """A floor or ceiling finding without its worst height is invalid."""
    bad = factory.finding("floor", State.BREACH, 140, 160, worst_m=math.nan)
    written = assessment_json.as_dict(factory.breach(findings=(bad,)))
    assert list(_validator().iter_errors(written)) != []

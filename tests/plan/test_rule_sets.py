"""Published rules by name, and files that change them.

How well each published number is known stands beside it, in the words that the
program itself prints: "read in the issuing body's words" or "read in a text that
reproduces it".
"""

from __future__ import annotations

import dataclasses
import math
from typing import TYPE_CHECKING, Any

import pytest

from terrain_guard.errors import RefusedRules
from terrain_guard.plan.rule_sets import RULE_SETS, SECOND_HAND, SEEN
from terrain_guard.plan.rules import DEFAULT_RULES, NAMED_RULES, Rules
from terrain_guard.plan.rules_toml import read_rules
from tests.plan.samples import changed, write

if TYPE_CHECKING:
    from pathlib import Path

NAMES = ("us-107", "eu-open", "uk-open", "au-101")


def _faults(folder: Path, content: dict[str, Any]) -> tuple[str, ...]:
    with pytest.raises(RefusedRules) as caught:
        read_rules(write(folder, content, "site.toml"))
    return caught.value.faults


def _read(folder: Path, content: dict[str, Any]) -> Rules:
    return read_rules(write(folder, content, "site.toml"))


# -- what was published -------------------------------------------------------


@pytest.mark.parametrize(
    ("name", "ceiling", "ceiling_m", "measure", "known_and_cited"),
    [
        # 14 CFR 107.51(b), read in a text that reproduces it: "cannot be higher than 400
        # feet above ground level"; 400 x 0.3048 m exactly.
        ("us-107", (400, "ft"), 121.92, "vertical", [SECOND_HAND, "14 CFR 107.51(b)"]),
        # Regulation (EU) 2019/947, Annex, Part A, UAS.OPEN.010(2), as amended by (EU)
        # 2020/639, read in the issuing body's words: "within 120 metres from the closest
        # point of the surface of the earth".
        (
            "eu-open", (120, "m"), 120.0, "closest-point",
            [SEEN, "2019/947", "Part A", "UAS.OPEN.010(2)", "2020/639"],
        ),
        # The same as assimilated in the United Kingdom, read in a text that reproduces it.
        (
            "uk-open", (120, "m"), 120.0, "closest-point",
            [SECOND_HAND, "assimilated", "2019/947", "UAS.OPEN.010(2)"],
        ),
        # CASR 101.085, 400 ft above ground level, and AC 101-10, "referenced to a point on
        # the ground immediately below"; both read in texts that reproduce them.
        (
            "au-101", (400, "ft"), 121.92, "vertical",
            [SECOND_HAND, "101.085", "AC 101-10", "immediately below"],
        ),
    ],
)  # fmt: skip
def test_published_ceilings(
    name: str,
    ceiling: tuple[float, str],
    ceiling_m: float,
    measure: str,
    known_and_cited: list[str],
) -> None:
    """Value, own unit, measure, document, section, edition, and how well known."""
    published, rules = RULE_SETS[name], read_rules(name)
    assert (published.ceiling, published.unit) == ceiling
    assert rules.ceiling_m == pytest.approx(ceiling_m, abs=1e-12)
    assert (rules.unit, rules.ceiling_measure) == (ceiling[1], measure)
    known, *cited = known_and_cited
    assert (rules.known, rules.based_on, rules.origin) == (known, name, name)
    assert rules.edition is not None
    for words in cited:
        assert words in f"{rules.source} {rules.edition}"


@pytest.mark.parametrize(
    ("name", "within_m", "taller_than_m", "above_top_m", "asked"),
    [
        # 14 CFR 107.51(b)(1) and (2), read in a text that reproduces it: "within a 400-foot
        # radius of a structure", 400 ft above "the structure's immediate uppermost limit".
        ("us-107", 121.92, 0.0, 121.92, False),
        # UAS.OPEN.010(3), read in the issuing body's words: within 50 m horizontally of an
        # artificial obstacle taller than 105 m, up to 15 m above it, "at the request of the
        # entity responsible for the obstacle".
        ("eu-open", 50.0, 105.0, 15.0, True),
        # The same in the United Kingdom, read in a text that reproduces it.
        ("uk-open", 50.0, 105.0, 15.0, True),
    ],
)
def test_published_exceptions(
    name: str, within_m: float, taller_than_m: float, above_top_m: float, asked: bool
) -> None:
    """How near, how tall, how much higher, and at whose request."""
    grant = read_rules(name).near_obstacle
    assert grant is not None
    assert grant.within_m == pytest.approx(within_m, abs=1e-12)
    assert grant.taller_than_m == taller_than_m
    assert grant.above_top_m == pytest.approx(above_top_m, abs=1e-12)
    assert (grant.asked_for_by is not None) is asked


def test_australia_holds_no_exception() -> None:
    """None was found published."""
    assert read_rules("au-101").near_obstacle is None


def test_every_name_is_listed() -> None:
    """The named rules are the default and the published ones."""
    assert tuple(NAMED_RULES) == ("default", *NAMES)
    assert tuple(RULE_SETS) == NAMES


@pytest.mark.parametrize("name", NAMES)
def test_the_floor_is_this_program_s_own_and_says_so(name: str) -> None:
    """30 m, our own choice: no published least clearance was found."""
    rules = read_rules(name)
    assert (rules.floor_m, rules.floor_measure, rules.floor_unit) == (30.0, "clearance", "m")
    assert rules.floor_source is not None
    assert "this program's own default" in rules.floor_source
    assert "no published least clearance" in rules.floor_source
    assert DEFAULT_RULES.floor_m == 30.0


# -- by name or by file -------------------------------------------------------


def test_a_file_of_a_set_s_name_is_read_by_its_path(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """The bare word means the published rules, "./eu-open" the file."""
    write(tmp_path, {"based_on": "us-107", "name": "Mine"}, "eu-open")
    monkeypatch.chdir(tmp_path)
    assert read_rules("eu-open").ceiling_m == 120.0
    assert read_rules("./eu-open").name == "Mine"


@pytest.mark.parametrize(
    ("given", "hint"),
    [
        ("eu-opn", "'eu-open' may be meant; else give one of these names"),
        ("zzz", "; give one of these names"),
        ("no/such/file.toml", "; give one of these names, or check the file's name."),
        ("a\0b", "; give one of these names"),
    ],
)
def test_an_unknown_name_lists_the_names(
    given: str, hint: str, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """What is neither a name nor a file is refused in one sentence."""
    monkeypatch.chdir(tmp_path)
    with pytest.raises(RefusedRules) as caught:
        read_rules(given)
    (sentence,) = caught.value.faults
    assert sentence.startswith(f"given {given!r}, but it is neither a file nor a name of rules")
    assert "('default', 'us-107', 'eu-open', 'uk-open' or 'au-101')" in sentence
    assert hint in sentence


@pytest.mark.parametrize("given", ["", "."])
def test_a_folder_is_no_rules_file(given: str) -> None:
    """No name at all means the folder at hand, which cannot be read."""
    with pytest.raises(RefusedRules, match=r"given '\.?', but it cannot be read as a rules file"):
        read_rules(given)


# -- a file that changes a set --------------------------------------------------


def test_nothing_changed_is_the_set_itself(tmp_path: Path) -> None:
    """Only where it comes from differs."""
    read = _read(tmp_path, {"based_on": "us-107"})
    same = dataclasses.replace(read, origin="us-107", sha256="")
    assert same == NAMED_RULES["us-107"]
    assert (read.origin, len(read.sha256)) == ("site.toml", 64)


def test_the_floor_is_the_site_s_own(tmp_path: Path) -> None:
    """A floor of 40 m over the American ceiling, which stays 400 ft with its source."""
    content = {
        "based_on": "us-107", "name": "Quarry", "source": "Operations manual 4.2", "unit": "m",
        "floor": {"value": 40},
    }  # fmt: skip
    read = _read(tmp_path, content)
    assert (read.name, read.floor_m, read.floor_unit) == ("Quarry", 40.0, "m")
    assert read.floor_source == "Operations manual 4.2"
    assert read.ceiling_m == pytest.approx(121.92, abs=1e-12)
    assert (read.unit, read.source, read.ceiling_source) == ("ft", "14 CFR 107.51(b)", None)
    assert read.near_obstacle is not None


def test_a_stricter_limit_may_stand_without_a_source(tmp_path: Path) -> None:
    """It says so; the set's exception is none from the site's own ceiling."""
    content = {"based_on": "eu-open", "unit": "m", "ceiling": {"value": 100}}
    read = _read(tmp_path, content)
    assert (read.ceiling_m, read.ceiling_measure) == (100.0, "closest-point")
    assert read.ceiling_source == "the rules file, which gives no source"
    assert read.near_obstacle is None


@pytest.mark.parametrize(
    ("base", "changes", "sentence"),
    [
        (
            "eu-open",
            {"ceiling.value": 150},
            "ceiling.value: given 150.0, but that is laxer than 120.0 of 'eu-open', and nothing "
            "says who allows it; write source under [ceiling], or keep to what 'eu-open' allows.",
        ),
        (
            "us-107",
            {"unit": "ft", "ceiling.value": 401},
            "ceiling.value: given 401.0, but that is laxer than 400.0 of 'us-107', and nothing "
            "says who allows it; write source under [ceiling], or keep to what 'us-107' allows.",
        ),
        (
            "us-107",
            {"ceiling.measure": "closest-point"},
            "ceiling.measure: given 'closest-point', but that is laxer than 'vertical' of "
            "'us-107', and nothing says who allows it; write source under [ceiling], or keep to "
            "what 'us-107' allows.",
        ),
        (
            "us-107",
            {"floor.value": 29.9},
            "floor.value: given 29.9, but that is laxer than 30.0 of 'us-107', and nothing says "
            "who allows it; write source under [floor], or keep to what 'us-107' allows.",
        ),
        (
            "us-107",
            {"floor.measure": "vertical"},
            "floor.measure: given 'vertical', but that is laxer than 'clearance' of 'us-107', and "
            "nothing says who allows it; write source under [floor], or keep to what 'us-107' "
            "allows.",
        ),
        (
            "eu-open",
            {"ceiling.measure": "sea-level", "ceiling.value": 550, "ceiling.source": "Zone 4"},
            "ceiling.measure: given 'sea-level', but the ceiling of 'eu-open' stays in force; "
            "write the ceiling above sea level under [sea_level_ceiling].",
        ),
        (
            "eu-open",
            {"unit": None, "floor.value": 40},
            "unit: missing, but a limit means nothing without its unit; write unit = 'm' or 'ft'.",
        ),
        (
            "eu-open",
            {"floor.value": 120},
            "ceiling.value: given 120.0, but the ceiling must be above the floor of 120.0; "
            "raise the ceiling or lower the floor.",
        ),
        (
            "eu-open",
            {"ceiling.value": math.nan},
            "ceiling.value: given nan, but it must be a number from 0.1 to 10000 m; "
            "write the greatest height, for example value = 120.",
        ),
        (
            "eu",
            {},
            "based_on: given 'eu', but it must be 'us-107', 'eu-open', 'uk-open' or 'au-101'; "
            "write 'us-107', 'eu-open', 'uk-open' or 'au-101'.",
        ),
        (
            "default",
            {},
            "based_on: given 'default', but it must be 'us-107', 'eu-open', 'uk-open' or "
            "'au-101'; write 'us-107', 'eu-open', 'uk-open' or 'au-101'.",
        ),
    ],
)
def test_the_sentence(tmp_path: Path, base: str, changes: dict[str, Any], sentence: str) -> None:
    """Laxer than published without a source, or no rules at all: one sentence."""
    content = changed({"based_on": base, "unit": "m", "source": "Manual"}, changes)
    assert _faults(tmp_path, content) == (f"site.toml: {sentence}",)


@pytest.mark.parametrize(
    ("changes", "limit"),
    [
        ({"ceiling": {"value": 150, "source": "Authorisation 12"}}, "ceiling"),
        ({"floor": {"value": 10, "source": "Authorisation 12"}}, "floor"),
    ],
)
def test_a_laxer_limit_with_a_source_of_its_own(
    tmp_path: Path, changes: dict[str, Any], limit: str
) -> None:
    """It is taken, with that source; the other limit keeps its own."""
    read = _read(tmp_path, {"based_on": "eu-open", "unit": "m", **changes})
    assert getattr(read, f"{limit}_m") == changes[limit]["value"]
    assert getattr(read, f"{limit}_source") == "Authorisation 12"
    assert read.source == NAMED_RULES["eu-open"].source
    other = {"ceiling": "floor", "floor": "ceiling"}[limit]
    assert getattr(read, f"{other}_m") == getattr(NAMED_RULES["eu-open"], f"{other}_m")


@pytest.mark.parametrize(
    "changes",
    [
        {"unit": "ft", "ceiling": {"value": 400}},  # the very same
        {"unit": "m", "ceiling": {"value": 121.9}},
        {"unit": "m", "floor": {"value": 30}},
    ],
)
def test_what_is_as_strict_is_not_laxer(tmp_path: Path, changes: dict[str, Any]) -> None:
    """The published value itself, typed again, passes."""
    assert _read(tmp_path, {"based_on": "us-107", **changes}).ceiling_m <= 121.92


def test_straight_down_is_stricter_than_to_the_closest_point(tmp_path: Path) -> None:
    """The ground straight below is ground too, so nothing passes that did not before."""
    read = _read(tmp_path, {"based_on": "eu-open", "ceiling": {"measure": "vertical"}})
    assert (read.ceiling_m, read.ceiling_measure) == (120.0, "vertical")


def test_a_second_ceiling_above_sea_level(tmp_path: Path) -> None:
    """1,804 ft are 549.8592 m; the published ceiling stays."""
    content = {
        "based_on": "eu-open", "unit": "ft", "sea_level_ceiling": {"value": 1804, "source": "Z"},
    }  # fmt: skip
    read = _read(tmp_path, content)
    assert read.sea_level_ceiling_m == pytest.approx(549.8592, abs=1e-9)
    assert (read.sea_level_ceiling_source, read.sea_level_ceiling_unit) == ("Z", "ft")
    assert (read.above_ground_ceiling_m, read.unit) == (120.0, "m")
    assert read.above_sea_level_ceiling_m == read.sea_level_ceiling_m


def test_which_ceiling_counts_from_where() -> None:
    """A ceiling that is not wanted is infinitely high."""
    above_sea = dataclasses.replace(DEFAULT_RULES, ceiling_m=550.0, ceiling_measure="sea-level")
    assert (above_sea.above_ground_ceiling_m, above_sea.above_sea_level_ceiling_m) == (
        math.inf,
        550.0,
    )
    assert DEFAULT_RULES.above_sea_level_ceiling_m == math.inf


def test_below_sea_level_a_ceiling_may_be_lower_than_the_floor() -> None:
    """The two count from different zeros, so neither is above the other."""
    low = dataclasses.replace(DEFAULT_RULES, ceiling_m=10.0, ceiling_measure="sea-level")
    assert low.floor_m == 30.0


def test_what_plays_no_part_yet_is_kept_and_named(tmp_path: Path) -> None:
    """As in any other rules file."""
    read = _read(tmp_path, {"based_on": "eu-open", "require": ["sight"]})
    assert (read.require, read.unused) == (("sight",), ())


# -- margins ------------------------------------------------------------------


def test_no_published_rules_fix_a_margin_or_its_sigma() -> None:
    """What a margin has to cover is this program's question: no document answers it."""
    for rules in NAMED_RULES.values():
        assert (rules.floor_k, rules.ceiling_k) == (None, None)
        assert (rules.fixed_floor_margin_m, rules.fixed_ceiling_margin_m) == (None, None)


def test_a_file_based_on_published_rules_may_say_how_many_sigma(tmp_path: Path) -> None:
    """A bare number needs no unit; nothing else moves."""
    read = _read(tmp_path, {"based_on": "eu-open", "margins": {"floor_k": 3, "ceiling_k": 2}})
    assert (read.floor_k, read.ceiling_k, read.unused) == (3.0, 2.0, ())
    assert (read.floor_m, read.ceiling_m, read.ceiling_measure) == (30.0, 120.0, "closest-point")


@pytest.mark.parametrize(("unit", "metres"), [("m", 20.0), ("ft", 6.096)])
def test_a_file_based_on_published_rules_may_fix_a_margin(
    tmp_path: Path, unit: str, metres: float
) -> None:
    """In its own unit (a foot is 0.3048 m), whatever the published rules are written in."""
    read = _read(tmp_path, {"based_on": "us-107", "unit": unit, "margins": {"floor": 20}})
    assert read.fixed_floor_margin_m == pytest.approx(metres, abs=1e-12)
    assert read.fixed_ceiling_margin_m is None
    assert (read.floor_m, read.ceiling_m) == (30.0, 121.92)


@pytest.mark.parametrize("side", ["floor", "ceiling"])
def test_a_margin_without_a_unit_is_refused(tmp_path: Path, side: str) -> None:
    """20 m and 20 ft are not the same."""
    (sentence,) = _faults(tmp_path, {"based_on": "eu-open", "margins": {side: 20}})
    assert "unit: missing, but a limit means nothing without its unit" in sentence

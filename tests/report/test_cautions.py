"""What every output says, whatever was found."""

import csv
import json
from collections.abc import Callable

import pytest

from terrain_guard.assessment import Assessment
from terrain_guard.report import assessment_json, cautions, table, tables_csv
from terrain_guard.states import State
from tests.report import factory


@pytest.mark.parametrize(
    "words",
    [
        ("above the launch ground",),
        ("Local rules", "airspace", "permission", "not checked"),
        ("Wires", "masts", "no elevation model"),
        ("as old as its survey", "is not in it"),
        ("remote pilot in command decides", "authority prevail"),
        ("straight lines", "every metre", "what the aircraft really does on a lost link"),
    ],
)
def test_fixed_cautions_name_what_they_must(words: tuple[str, ...]) -> None:
    """Each hazard that no elevation model shows has its own sentence."""
    assert any(all(word in one for word in words) for one in cautions.FIXED_CAUTIONS)


def test_the_best_verdict_promises_nothing() -> None:
    """The best verdict speaks of the data listed, and no verdict says safe."""
    assert cautions.VERDICT_WORDS[State.WITHIN] == "no breach found in the data listed"
    assert set(cautions.VERDICT_WORDS) == set(State)
    said = " ".join((*cautions.VERDICT_WORDS.values(), *cautions.FIXED_CAUTIONS))
    assert "safe" not in said.lower()


def test_own_cautions_follow_the_fixed_ones_once() -> None:
    """An assessment's own cautions are added; a repeated one is printed once."""
    repeated = cautions.FIXED_CAUTIONS[0]
    made = factory.within(cautions=(repeated, "Survey of 1998."))
    assert cautions.all_cautions(made) == (*cautions.FIXED_CAUTIONS, "Survey of 1998.")


@pytest.mark.parametrize("make", factory.EVERY)
def test_every_output_carries_them(make: Callable[[], Assessment]) -> None:
    """Table and JSON carry all cautions; all three carry what stands beside the verdict."""
    assessment = make()
    printed = " ".join(" ".join(table.lines(assessment)).split())
    written = json.loads(assessment_json.text(assessment))
    for caution in cautions.FIXED_CAUTIONS:
        assert caution in printed
        assert caution in written["cautions"]
    assert f"{cautions.HOME_UNKNOWN}; {cautions.TREES_UNKNOWN}" in printed
    assert written["beside_verdict"] == f"{cautions.HOME_UNKNOWN}; {cautions.TREES_UNKNOWN}"
    rows = list(csv.DictReader(tables_csv.legs(assessment).splitlines()))
    assert {row["caution"] for row in rows} == {
        f"{cautions.HOME_UNKNOWN}; {cautions.TREES_UNKNOWN}"
    }

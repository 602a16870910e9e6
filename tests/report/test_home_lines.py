"""The way home, sight and link on a terminal, through the whole sample."""

from __future__ import annotations

from pathlib import Path

import pytest

from terrain_guard.assess import check
from terrain_guard.assessment import Assessment
from terrain_guard.report import table

SAMPLE = Path(__file__).parents[2] / "sample_dem"


@pytest.fixture(scope="module")
def same_height() -> Assessment:
    """Return the sample flown at the same height all along."""
    return check(
        SAMPLE / "same_height.toml",
        ground=SAMPLE / "valley_ground.tif",
        surface=SAMPLE / "valley_surface.tif",
    )


@pytest.mark.parametrize("unit", ["m", "ft"])
def test_no_line_is_too_long_and_columns_stand_in_line(same_height: Assessment, unit: str) -> None:
    """At most 80 columns; the strokes of the table of legs stand one below the other."""
    lines = list(table.lines(same_height, unit=unit))
    assert max(map(len, lines)) <= 80
    first = next(k for k, line in enumerate(lines) if line.startswith("LEG  return"))
    rows = [lines[first], lines[first + 1], *lines[first + 3 : first + 3 + len(same_height.legs)]]
    assert {tuple(k for k, c in enumerate(row) if c == "|") for row in rows} == {(29, 55)}


def test_one_sentence_a_pilot_would_repeat(same_height: Assessment) -> None:
    """The spur hides it, takes the link, and stands in the way home; it is the first finding."""
    text = " ".join(" ".join(table.lines(same_height)).split())
    first = text.index("1 BREACH: link lost behind ground, and what follows")
    said = text[first : text.index(" 2 BREACH", first)]
    assert (
        "the ground near spur hides it from the pilot and takes the link here, and coming" in said
    )
    assert "it flies into the ground near spur" in said
    assert "m below its top; climb to" in said


def test_what_is_set_and_what_is_not(same_height: Assessment) -> None:
    """All four actions, the one that is set first; none passes everywhere."""
    text = " ".join(" ".join(table.lines(same_height)).split())
    assert "Link lost as set: come home and land: passes from" in text
    assert text.count("not set: ") == 3
    assert "No single action passes everywhere" in text
    assert "no promise of range" in text

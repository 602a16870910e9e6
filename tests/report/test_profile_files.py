"""The profile as a file: repeatable bytes, sound formats, refusals.

The formats' own rules are named beside the checks.
"""

from __future__ import annotations

import io
from collections import Counter
from dataclasses import replace
from pathlib import Path
from xml.etree import ElementTree as ET

import matplotlib as mpl
import pytest

from terrain_guard.errors import RefusedOutput
from terrain_guard.report import profile
from terrain_guard.report.profile_labels import NOT_IN_FONT, printable
from tests.report.profile_cases import flown, texts, texts_by_gid


@pytest.mark.parametrize(
    ("file_format", "magic"), [("png", b"\x89PNG"), ("svg", b"<?xml"), ("pdf", b"%PDF")]
)
def test_equal_input_gives_equal_bytes(file_format: str, magic: bytes, tmp_path: Path) -> None:
    """Stream and file hold the same bytes, drawn twice; no date is among them."""
    stream, path = io.BytesIO(), tmp_path / f"profile.{file_format}"
    profile.draw(*flown("briefing"), stream, file_format=file_format)
    profile.draw(*flown("briefing"), path, file_format=file_format)
    assert path.read_bytes() == stream.getvalue()
    assert stream.getvalue().startswith(magic)
    assert b"CreationDate" not in stream.getvalue()
    assert b"<dc:date>" not in stream.getvalue()


def test_svg_is_sound_and_needs_no_font() -> None:
    """It parses, every id is there once, and text is drawn as outlines."""
    stream = io.BytesIO()
    profile.draw(*flown("breaches"), stream, file_format="svg")
    root = ET.fromstring(stream.getvalue())
    ids = Counter(e.get("id") for e in root.iter() if e.get("id"))
    assert not [name for name, count in ids.items() if count > 1]
    assert not list(root.iter("{http://www.w3.org/2000/svg}text"))


def test_pdf_carries_its_fonts() -> None:
    """Fonts are embedded as TrueType programs (PDF 32000-1, 9.9: FontFile2)."""
    stream = io.BytesIO()
    profile.draw(*flown("within"), stream, file_format="pdf")
    assert b"/FontFile2" in stream.getvalue()
    assert b"/Type3" not in stream.getvalue()


def test_an_unknown_format_is_refused_and_nothing_is_written(tmp_path: Path) -> None:
    """One sentence with what was given, the rule and the remedy."""
    path = tmp_path / "profile.gif"
    with pytest.raises(RefusedOutput, match=r"'gif'.*png, svg, pdf.*give one"):
        profile.draw(*flown("within"), path, file_format="gif")
    assert not path.exists()


def test_an_unknown_unit_is_refused() -> None:
    """Only metres and feet have a scale here."""
    with pytest.raises(RefusedOutput, match=r"'yd'.*m or ft"):
        profile.figure(*flown("within"), unit="yd")


def test_names_are_written_as_they_are() -> None:
    """A dollar sign is no formula, a sign the font lacks becomes a square, lines are joined."""
    assert printable("a $x$ b") == "a $x$ b"
    assert printable("山\nroad") == f"{NOT_IN_FONT} road"
    assessment, limits = flown("within")
    route = replace(assessment.route, title="Quarry $4 and $5 山")
    figure = profile.figure(replace(assessment, route=route), limits)
    figure.canvas.draw()
    assert texts_by_gid(figure)["title"] == f"Quarry $4 and $5 {NOT_IN_FONT}"
    assert not [t for t in texts(figure) if "$" in t.get_text() and t.get_parse_math()]


def test_a_user_set_up_of_matplotlib_changes_nothing() -> None:
    """The page is the same under settings that would wreck it."""
    usual, odd = io.BytesIO(), io.BytesIO()
    profile.draw(*flown("short"), usual, file_format="png")
    with mpl.rc_context({"font.size": 30, "lines.linewidth": 9, "axes.grid": True}):
        profile.draw(*flown("short"), odd, file_format="png")
    assert odd.getvalue() == usual.getvalue()

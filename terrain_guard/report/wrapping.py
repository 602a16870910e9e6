"""Text in lines of at most 80 columns; a number stays with its unit."""

from __future__ import annotations

import re
import textwrap
from collections.abc import Iterator
from typing import Final

from terrain_guard.report import words

WIDTH: Final = 80
LABEL: Final = 10
GLUE: Final = "\0"
"""Stands for a space where a line must not break; no cleaned text holds one."""
NUMBER_AND_UNIT: Final = re.compile(r"(\d) (m|ft|[NSEW])\b")
"""A number with its unit, half a place with its side."""


def row(label: str, text: str) -> Iterator[str]:
    """Write a labelled text; nothing at all for an empty one."""
    if text:
        yield from wrap(text, first=f"{label:<{LABEL}}", rest=LABEL)


def wrap(text: str, *, first: str, rest: int) -> list[str]:
    """Wrap to the width, the first line after `first`, the others after `rest` spaces."""
    glued = NUMBER_AND_UNIT.sub(f"\\1{GLUE}\\2", words.clean(text))
    wrapped = textwrap.wrap(
        glued,
        width=WIDTH,
        initial_indent=first,
        subsequent_indent=" " * rest,
        break_on_hyphens=False,
    )
    return [line.replace(GLUE, " ") for line in wrapped]

"""From the bytes of a CSV file to its header and lines, whichever delimiter it has."""

from __future__ import annotations

import csv
import io
import re
from dataclasses import dataclass
from itertools import islice
from typing import TYPE_CHECKING, Final, NoReturn

from terrain_guard.errors import RefusedRoute
from terrain_guard.plan.draft import MOST_POINTS

if TYPE_CHECKING:
    from collections.abc import Sequence

    from terrain_guard.plan.draft import RawFile

DELIMITERS: Final = (",", ";", "\t")
LONGEST_HEADER: Final = 100_000


@dataclass(frozen=True, slots=True)
class CsvRow:
    """A line of the file that holds something: the number of its (last) line, and its cells."""

    line: int
    cells: list[str]


@dataclass(frozen=True, slots=True, kw_only=True)
class CsvTable:
    """A CSV file; blank lines are left out."""

    delimiter: str
    headers: list[str]
    rows: Sequence[CsvRow]


def read_table(raw: RawFile) -> CsvTable:
    """Read a CSV file.

    Parameters
    ----------
    raw : RawFile
        In UTF-8; a byte order mark is skipped. Cells may be quoted (RFC 4180, section 2).

    Returns
    -------
    CsvTable
        With the delimiter that cuts the header into the most columns.

    Raises
    ------
    RefusedRoute
        It is not UTF-8, empty, breaks the rules of quoting, or has more than `MOST_POINTS`
        lines.
    """
    text = _text(raw)
    try:
        delimiter = _delimiter(text, raw)
        reader = csv.reader(io.StringIO(text), delimiter=delimiter, strict=True)
        filled = (CsvRow(reader.line_num, cells) for cells in reader if any(map(str.strip, cells)))
        rows = list(islice(filled, MOST_POINTS + 2))
    except csv.Error as error:
        _refuse(raw, f"it breaks the rules of CSV ({error})", "save it once more as CSV")
    if not rows:
        remedy = "write a header such as lat,lon,above_launch_m and a line for each waypoint"
        _refuse(raw, "it is empty", remedy)
    if len(rows) > MOST_POINTS + 1:
        rule = f"it has more than {MOST_POINTS} lines, and no planned route has as many waypoints"
        _refuse(raw, rule, "take the plan instead of the record of a flight, or thin it out")
    headers = [cell.strip() for cell in rows[0].cells]
    return CsvTable(delimiter=delimiter, headers=headers, rows=rows[1:])


def _text(raw: RawFile) -> str:
    """Return the text of the file, with one kind of line end."""
    if raw.data[:2] in {b"\xff\xfe", b"\xfe\xff"}:
        _refuse(raw, "it is text in UTF-16", "save it as CSV in UTF-8")
    try:
        text = raw.data.decode("utf-8-sig")
    except UnicodeDecodeError as error:
        byte = error.object[error.start]
        rule = f"it is not text in UTF-8 (byte {byte:#04x} at offset {error.start})"
        _refuse(raw, rule, "save it as CSV in UTF-8")
    if "\0" in text:
        _refuse(raw, "it holds bytes of zero, which no text does", "check that this is the file")
    return re.sub(r"\r\n?", "\n", text)


def _delimiter(text: str, raw: RawFile) -> str:
    """Return what cuts the first line into the most columns."""
    first = text.lstrip("\n")[: LONGEST_HEADER + 1].partition("\n")[0]
    if len(first) > LONGEST_HEADER:
        rule = f"its first line has more than {LONGEST_HEADER} characters"
        _refuse(raw, rule, "check that this is the right file")
    counts = {one: len(next(csv.reader([first], delimiter=one), [])) for one in DELIMITERS}
    return max(counts, key=lambda one: counts[one])


def _refuse(raw: RawFile, rule: str, remedy: str) -> NoReturn:
    message = f"{raw.file}: cannot be read as CSV, because {rule}; {remedy}."
    raise RefusedRoute(message)

"""A route in a CSV file: a header, then a line for each waypoint, in flight order.

RFC 4180 (2005), section 2, with the freedoms that spreadsheets take: commas,
semicolons or tabs between columns, and decimal commas. What a column holds is said by
its header (`csv_columns`), what heights count from by the header or an option.
"""

from __future__ import annotations

import csv
import io
import re
from typing import TYPE_CHECKING, Any, Final

from terrain_guard.plan.csv_columns import Columns, find_columns
from terrain_guard.plan.csv_table import read_table
from terrain_guard.plan.draft import Draft
from terrain_guard.plan.line_heights import FileHeights, settle
from terrain_guard.plan.lines import angle
from terrain_guard.plan.reading import Faults, shown
from terrain_guard.plan.told import without_idle
from terrain_guard.plan.written_numbers import exact_text, number_of, with_point

if TYPE_CHECKING:
    from collections.abc import Mapping, Sequence

    from terrain_guard.plan.csv_table import CsvRow, CsvTable
    from terrain_guard.plan.draft import RawFile
    from terrain_guard.plan.line_heights import Point
    from terrain_guard.plan.told import Told

_NUMBERS: Final = ("lat", "lon", "height", "speed_m_per_s", "wait_s")
_MARKED: Final = re.compile(r"[+-]?[\d.,]+", re.ASCII)
_LETTERS_ONLY: Final = ("name", "turn")


def draft_of(raw: RawFile, told: Told) -> Draft:
    """Return what a CSV file says, with what is told apart from it.

    Raises
    ------
    RefusedRoute
        It is not UTF-8, has no header, or more lines than a route has waypoints.
    """
    faults = Faults(raw.file)
    told = without_idle(told, {"--take"}, format_="csv", faults=faults)
    table = read_table(raw)
    _add_long_rows(table, faults)
    rows, columns = table.rows, find_columns(table.headers, told=told, faults=faults)
    _add_two_marks(rows, columns, faults)
    faults.places = {f"waypoint[{n}]": f"line {row.line}" for n, row in enumerate(rows, 1)}
    points = [_point(row, columns, f"waypoint[{n}]", faults) for n, row in enumerate(rows, 1)]
    settled, said = settle(points, _found(columns), told=told, faults=faults)
    return Draft(
        file=raw.file,
        format="csv",
        sha256=raw.sha256,
        content=settled,
        notes=(said,),
        unused=columns.unused,
        faults=tuple(faults.sentences),
        places=faults.places,
    )


def _add_long_rows(table: CsvTable, faults: Faults) -> None:
    """Add a fault for lines of more cells than the header has, empty ones at the end aside."""
    width = len(table.headers)
    long = next((row for row in table.rows if any(map(str.strip, row.cells[width:]))), None)
    if long is not None:
        remedy = (
            "if numbers have a decimal comma, save it with semicolons between columns"
            if table.delimiter == ","
            else "correct it"
        )
        faults.say(
            f"line {long.line}: given {len(long.cells)} cells, but the header has {width}; {remedy}"
        )


def _add_two_marks(rows: Sequence[CsvRow], columns: Columns, faults: Faults) -> None:
    """Add a fault if some numbers have a decimal point and others a decimal comma."""
    first: dict[str, tuple[int, str]] = {}
    for row in rows:
        for name in _NUMBERS:
            cell = _cell(row, columns, name)
            for mark in set(cell) & set(".,") if _MARKED.fullmatch(cell) else ():
                first.setdefault(mark, (row.line, cell))
    if len(first) == 2:
        (point_line, point), (comma_line, comma) = first["."], first[","]
        faults.say(
            f"decimal mark: given {shown(point)} (line {point_line}) and {shown(comma)} "
            f"(line {comma_line}), but a point in one number and a comma in another can mean "
            f"thousands; write all numbers with the same decimal mark, and none for thousands"
        )


def _cell(row: CsvRow, columns: Columns, name: str) -> str:
    number = columns.index.get(name)
    return row.cells[number].strip() if number is not None and number < len(row.cells) else ""


def _point(row: CsvRow, columns: Columns, where: str, faults: Faults) -> Point:
    """Read a waypoint; what is no number is left to the schema, what is empty is not there."""
    read: dict[str, Any] = {name: _cell(row, columns, name) for name in _LETTERS_ONLY}
    for name in _NUMBERS:
        text = with_point(_cell(row, columns, name))
        if name in {"lat", "lon"}:
            read[name] = angle(text, name, where=where, faults=faults)
        else:
            number = number_of(text)
            read[name] = text if number is None else number
    missing = {name: 0.0 for name in ("lat", "lon") if name not in columns.index}  # told already
    return {name: value for name, value in read.items() if value not in {"", None}} | missing


def _found(columns: Columns) -> FileHeights:
    """Return what the header says about the heights."""
    counts_from = columns.height.counts_from
    named = "height" in columns.index
    header = shown(columns.headers[columns.index["height"]]) if named else ""
    clear = "its header says above " + (counts_from or "").replace("-", " ")
    return FileHeights(
        numbers=f"column {header}",
        present=named,
        absent="no column is headed height, and --columns names none",
        said=clear if counts_from else "its header does not say what heights count from",
        counts_from=counts_from,
        unit=columns.height.unit,
        unit_said=f"the header {header} says {columns.height.unit}",
    )


def write(content: Mapping[str, Any]) -> bytes:
    """Write the waypoints of a route file, with a header that says what heights are.

    A speed for the whole route is written at each waypoint that has none of its own.

    >>> point = {"name": "gate", "lat": 47.3131, "lon": -28.4046, "height": 60}
    >>> text = write({"heights": "launch", "height_unit": "m", "waypoint": [point]}).decode()
    >>> text.splitlines()
    ['name,lat,lon,above_launch_m', 'gate,47.3131,-28.4046,60']
    """
    everywhere = {name: content[name] for name in ("speed_m_per_s",) if name in content}
    points = [{**everywhere, **point} for point in content["waypoint"]]
    heads = {"name": "name", "lat": "lat", "lon": "lon"}
    if "heights" in content:
        above = content["heights"].replace("-", "_")
        heads["height"] = f"above_{above}_{content['height_unit']}"
    heads |= {name: name for name in ("speed_m_per_s", "wait_s", "turn")}
    there = [name for name in heads if any(name in point for point in points)]
    stream = io.StringIO(newline="")
    writer = csv.writer(stream)
    writer.writerow([heads[name] for name in there])
    writer.writerows([_written(point.get(name, "")) for name in there] for point in points)
    return stream.getvalue().encode("utf-8")


def _written(value: float | str) -> str:
    return value if isinstance(value, str) else exact_text(value)

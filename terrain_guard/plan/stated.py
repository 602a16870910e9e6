"""What a route file states, table by table: sound values, and where each key stands.

Waypoints, subjects and observers are counted from 1 in messages, as
`waypoint[1]`, in the order of the file.
"""

from __future__ import annotations

from dataclasses import dataclass, field
from functools import cache
from typing import TYPE_CHECKING, Any, Final

from terrain_guard.plan.keys import Table
from terrain_guard.plan.reading import Faults, Values, read_table
from terrain_guard.plan.schema import ROUTE, TABLES
from terrain_guard.plan.swaps import exchanged_if_out_of_range
from terrain_guard.plan.unknown_keys import add_unknown_keys
from terrain_guard.units import METRES_PER_UNIT

if TYPE_CHECKING:
    from collections.abc import Mapping

    from terrain_guard.plan.keys import Value

_APART = Table(name="launch", meaning="", keys=TABLES["home"].keys)
_WHERE_APART: Final = "launch given apart from the file"


@dataclass(slots=True, kw_only=True)
class Stated:
    """The sound values of a route file, the names of all its keys, and its faults."""

    faults: Faults
    unit: str | None  # of heights; None where the file does not say
    tables: dict[str, Values] = field(default_factory=dict)  # by header; absent: empty
    lists: dict[str, list[Values]] = field(default_factory=dict)
    present: set[str] = field(default_factory=set)  # dotted keys and headers, sound or not
    launch_replaced: bool = False
    elevation_dropped_m: float | None = None
    offset_dropped_m: float | None = None

    def value(self, table: str, name: str) -> Value | None:
        """Return what the file states under a key, or None."""
        return self.tables[table].get(name)

    def or_default(self, table: str, name: str) -> Any:
        """Return what the file states under a key, or what stands in for it."""
        key = TABLES[table].key(name)
        return self.tables[table].get(name, key.default if key else None)


def read_stated(
    content: Mapping[str, Any], *, launch: tuple[float, float] | None, faults: Faults
) -> Stated:
    """Read every table of a route file by the schema.

    Parameters
    ----------
    content : mapping
        The TOML document.
    launch : tuple of float or None
        Latitude and longitude in degrees that replace the file's launch.
    faults : Faults
        Where faults go.

    Returns
    -------
    Stated
        What is sound in it.
    """
    unit = content.get("height_unit")
    known = isinstance(unit, str) and unit in METRES_PER_UNIT
    stated = Stated(faults=faults, unit=unit if known else None)
    _add_unknown_at_top(content, faults=faults)
    for table in ROUTE:
        given = _given(table, content)
        if table.name in content:
            stated.present.add(table.name)
        if table.many:
            stated.lists[table.name] = _read_many(table, given, stated)
        elif table.name == "launch" and launch is not None:
            stated.tables["launch"] = _read_replaced(given, launch, stated)
        else:
            stated.tables[table.name] = _read_one(table, given, table.name, stated)
    return stated


def _given(table: Table, content: Mapping[str, Any]) -> Any:
    """Return what stands under a header; None where it is absent and may be."""
    if not table.name:
        return {name: value for name, value in content.items() if name not in TABLES}
    empty: Any = {} if table.required else None
    return content.get(table.name, [] if table.many else empty)


def _read_one(table: Table, given: Any, where: str, stated: Stated) -> Values:
    if given is None:
        return {}
    if isinstance(given, dict):
        stated.present |= {f"{table.name}.{name}" if table.name else name for name in given}
        given = exchanged_if_out_of_range(given, where=where, faults=stated.faults)
        if table.name:
            _add_unknown_in(table, given, where=where, faults=stated.faults)
    return read_table(table, given, where=where, unit=stated.unit, faults=stated.faults)


def _read_many(table: Table, given: Any, stated: Stated) -> list[Values]:
    if not isinstance(given, list):
        remedy = f"write [[{table.name}]] in two brackets, once for each"
        stated.faults.add(table.name, given, rule="there may be several", remedy=remedy)
        given = [given] if isinstance(given, dict) else []
    return [
        _read_one(table, item, f"{table.name}[{number}]", stated)
        for number, item in enumerate(given, start=1)
    ]


def _read_replaced(given: Any, launch: tuple[float, float], stated: Stated) -> Values:
    """Read the launch table with its place replaced; what was of the old place is dropped."""
    apart = Stated(faults=stated.faults, unit=None)
    place = _read_one(_APART, {"lat": launch[0], "lon": launch[1]}, _WHERE_APART, apart)
    if isinstance(given, dict):  # the file's own place plays no part, whatever it holds
        given = {**given, "lat": 0.0, "lon": 0.0}
    values = _read_one(TABLES["launch"], given, "launch", stated)
    elevation_m = values.pop("elevation_m", None)
    values.pop("elevation_accuracy_m", None)
    offset_m = values.pop("offset_m", None)
    stated.present -= {"launch.elevation_m", "launch.elevation_accuracy_m", "launch.offset_m"}
    stated.launch_replaced = True
    stated.elevation_dropped_m = elevation_m if isinstance(elevation_m, float) else None
    stated.offset_dropped_m = offset_m if isinstance(offset_m, float) else None
    return {**values, **place} if place.keys() == {"lat", "lon"} else {}


def _add_unknown_in(table: Table, given: Mapping[str, Any], *, where: str, faults: Faults) -> None:
    known = [key.name for key in table.keys]
    add_unknown_keys(known, given, where=where, elsewhere=_elsewhere(table.name), faults=faults)


def _add_unknown_at_top(content: Mapping[str, Any], *, faults: Faults) -> None:
    known = [key.name for key in TABLES[""].keys] + [table.name for table in ROUTE if table.name]
    add_unknown_keys(known, content, where="", elsewhere=_elsewhere(""), faults=faults)


@cache
def _elsewhere(here: str) -> Mapping[str, str]:
    """Return each key of the other tables with where it belongs, for hints."""
    found: dict[str, str] = {}
    for table in reversed(ROUTE):
        if table.name == here:
            continue
        header = f"[[{table.name}]]" if table.many else f"[{table.name}]"
        under = f"under {header}" if table.name else "at the top, above every [table]"
        found |= {key.name: under for key in table.keys}
        if table.name:
            found[table.name] = f"on a line of its own, as {header}"
    return found

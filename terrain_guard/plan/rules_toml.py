"""Rules from a name or a TOML file, or every reason why not, at once."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

from terrain_guard.errors import RefusedRules
from terrain_guard.plan.reading import Faults, Values, add_unknown_keys, read_table
from terrain_guard.plan.rules import DEFAULT_RULES, Rules
from terrain_guard.plan.rules_schema import RULES
from terrain_guard.plan.toml_file import read_toml
from terrain_guard.units import METRES_PER_UNIT, in_unit

if TYPE_CHECKING:
    from collections.abc import Mapping
    from pathlib import Path

_HEADERS = tuple(table.name for table in RULES if table.name)


def read_rules(name_or_path: str | Path) -> Rules:
    """Read rules by name or from a file.

    Parameters
    ----------
    name_or_path : str or Path
        "default", or a TOML file (a file of that very name: "./default").

    Returns
    -------
    Rules
        In metres. `unused` tells which keys play no part yet.

    Raises
    ------
    RefusedRules
        With every fault found, one sentence each: file, key, what was given, rule, remedy.

    Examples
    --------
    >>> read_rules("default").ceiling_m
    120.0
    """
    if name_or_path == "default":
        return DEFAULT_RULES
    document = read_toml(
        name_or_path,
        what="rules file",
        refuse=RefusedRules,
        remedy="write name, source, unit, and a value under [floor] and [ceiling]",
    )
    faults = Faults(document.file)
    values = _read_tables(document.content, faults)
    _ceiling_not_above_floor(values, faults)
    if faults.sentences:
        raise RefusedRules(*faults.sentences)
    return Rules(
        **_attributes(values), origin=document.file, sha256=document.sha256, unused=_unused(values)
    )


def _read_tables(content: Mapping[str, Any], faults: Faults) -> dict[str, Values]:
    unit = content.get("unit")
    unit = unit if isinstance(unit, str) and unit in METRES_PER_UNIT else None
    values: dict[str, Values] = {}
    for table in RULES:
        given = content if not table.name else content.get(table.name, {})
        keys = [key.name for key in table.keys]
        known = keys if table.name else [*keys, *_HEADERS]
        if isinstance(given, dict):
            elsewhere = _elsewhere(table.name)
            add_unknown_keys(known, given, where=table.name, elsewhere=elsewhere, faults=faults)
        values[table.name] = read_table(table, given, where=table.name, unit=unit, faults=faults)
    return values


def _elsewhere(here: str) -> dict[str, str]:
    """Return each key of the other tables with where it belongs, for hints."""
    return {
        key.name: f"under [{table.name}]" if table.name else "at the top, above every [table]"
        for table in RULES
        if table.name != here
        for key in table.keys
    }


def _ceiling_not_above_floor(values: dict[str, Values], faults: Faults) -> None:
    floor_m, ceiling_m = values["floor"].get("value"), values["ceiling"].get("value")
    if not (isinstance(floor_m, float) and isinstance(ceiling_m, float)):
        return
    if not ceiling_m > floor_m:
        unit = str(values[""].get("unit", "m"))
        floor, ceiling = (round(in_unit(value_m, unit), 3) for value_m in (floor_m, ceiling_m))
        faults.add(
            "ceiling.value",
            ceiling,
            rule=f"the ceiling must be above the floor of {floor}",
            remedy="raise the ceiling or lower the floor",
        )


def _attributes(values: dict[str, Values]) -> dict[str, Any]:
    """Return what is stated by the names `Rules` has for it."""
    return {
        key.attribute: values[table.name][key.name]
        for table in RULES
        for key in table.keys
        if key.name in values[table.name]
    }


def _unused(values: dict[str, Values]) -> tuple[str, ...]:
    return tuple(
        table.dotted(key)
        for table in RULES
        for key in table.keys
        if not key.used and key.name in values[table.name]
    )

"""Rules from a name or a TOML file, or every reason why not, at once."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING, Any

from terrain_guard.errors import RefusedRules
from terrain_guard.plan.reading import Faults, Values, listed, nearest, read_table, shown
from terrain_guard.plan.rules import NAMED_RULES, Rules
from terrain_guard.plan.rules_based_on import changed, optional
from terrain_guard.plan.rules_schema import RULES
from terrain_guard.plan.toml_file import Document, read_toml
from terrain_guard.plan.unknown_keys import add_unknown_keys
from terrain_guard.units import METRES_PER_UNIT, in_unit

if TYPE_CHECKING:
    from collections.abc import Mapping

_HEADERS = tuple(table.name for table in RULES if table.name)


def read_rules(name_or_path: str | Path) -> Rules:
    """Read rules by name or from a file.

    Parameters
    ----------
    name_or_path : str or Path
        A name out of `rules.NAMED_RULES`, such as "default" or "eu-open", or a TOML file (a
        file of that very name: "./default").

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
    >>> read_rules("default").ceiling_m, read_rules("us-107").ceiling_m
    (120.0, 121.92)
    """
    if isinstance(name_or_path, str):
        if name_or_path in NAMED_RULES:
            return NAMED_RULES[name_or_path]
        _refuse_unknown_name(name_or_path)
    document = read_toml(
        name_or_path,
        what="rules file",
        refuse=RefusedRules,
        remedy="write name, source, unit, and a value under [floor] and [ceiling]",
    )
    faults = Faults(document.file)
    values = _read_tables(document.content, faults)
    attributes = _attributes(values)
    base = values[""].get("based_on")
    if isinstance(base, str):
        attributes = changed(NAMED_RULES[base], attributes, faults)
    _one_sea_level(values, faults)
    _ceiling_not_above_floor(values, attributes, faults)
    if faults.sentences:
        raise RefusedRules(*faults.sentences)
    return _rules(attributes, values, document)


def _rules(attributes: dict[str, Any], values: dict[str, Values], document: Document) -> Rules:
    return Rules(**attributes, origin=document.file, sha256=document.sha256, unused=_unused(values))


def _refuse_unknown_name(name: str) -> None:
    """Refuse a word that is neither a name of rules nor a file, and list the names."""
    if Path(name).exists():
        return
    like = nearest(name, NAMED_RULES)
    hint = f"{like!r} may be meant; else " if like else ""
    message = (
        f"given {shown(name)}, but it is neither a file nor a name of rules "
        f"({listed(NAMED_RULES)}); {hint}give one of these names, or check the file's name."
    )
    raise RefusedRules(message)


def _read_tables(content: Mapping[str, Any], faults: Faults) -> dict[str, Values]:
    unit = content.get("unit")
    unit = unit if isinstance(unit, str) and unit in METRES_PER_UNIT else None
    values: dict[str, Values] = {}
    for schema in RULES:
        table = optional(schema) if "based_on" in content else schema
        given = content if not table.name else content.get(table.name)
        if given is None and not table.required:
            values[table.name] = {}
            continue
        given = {} if given is None else given
        keys = [key.name for key in table.keys]
        known = keys if table.name else [*keys, *_HEADERS]
        if isinstance(given, dict):
            elsewhere = _elsewhere(table.name)
            add_unknown_keys(known, given, where=table.name, elsewhere=elsewhere, faults=faults)
        values[table.name] = read_table(table, given, where=table.name, unit=unit, faults=faults)
    if "based_on" in content:
        _unit_of_limits(content, faults)
    return values


def _unit_of_limits(content: Mapping[str, Any], faults: Faults) -> None:
    """Miss the unit where a file that may do without one types a limit or a margin in metres."""
    typed = any(
        key.kind == "height" and key.name in table
        for schema in RULES
        if isinstance(table := content.get(schema.name), dict)
        for key in schema.keys
    )
    if typed and "unit" not in content:
        faults.miss(
            "unit", rule="a limit means nothing without its unit", remedy="write unit = 'm' or 'ft'"
        )


def _elsewhere(here: str) -> dict[str, str]:
    """Return each key of the other tables with where it belongs, for hints."""
    tables: dict[str, list[str]] = {}
    for table in RULES:
        for key in table.keys:
            if table.name != here:
                tables.setdefault(key.name, []).append(table.name)
    return {
        name: f"under {' or '.join(f'[{one}]' for one in homes)}"
        if all(homes)
        else "at the top, above every [table]"
        for name, homes in tables.items()
    }


def _one_sea_level(values: dict[str, Values], faults: Faults) -> None:
    second = values["sea_level_ceiling"].get("value")
    if second is not None and values["ceiling"].get("measure") == "sea-level":
        faults.add(
            "ceiling.measure",
            "sea-level",
            rule="[sea_level_ceiling] holds a ceiling above sea level already",
            remedy="leave one of the two out",
        )


def _ceiling_not_above_floor(
    values: dict[str, Values], attributes: dict[str, Any], faults: Faults
) -> None:
    floor_m, ceiling_m = attributes.get("floor_m"), attributes.get("ceiling_m")
    if not (isinstance(floor_m, float) and isinstance(ceiling_m, float)):
        return
    if not ceiling_m > floor_m and attributes.get("ceiling_measure") != "sea-level":
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

"""A rules file that changes published rules: stricter as it likes, laxer only with a source.

What the file does not state stays as published, its unit included.
"""

from __future__ import annotations

from dataclasses import replace
from typing import TYPE_CHECKING, Any, Final

from terrain_guard.units import in_unit

if TYPE_CHECKING:
    from terrain_guard.plan.keys import Table
    from terrain_guard.plan.reading import Faults
    from terrain_guard.plan.rules import Rules

_STRICTEST_FIRST: Final = {
    "floor": ("clearance", "vertical"),
    "ceiling": ("vertical", "closest-point"),
}
"""Measures of one number: what holds under one holds under those that follow it.

The closest point of the ground is never farther than the ground straight below.
"""


def optional(table: Table) -> Table:
    """Return a table of the schema as a file may write it that changes published rules."""
    if table.name == "sea_level_ceiling":  # no published rules hold one
        return table
    return replace(table, keys=tuple(replace(key, required=False) for key in table.keys))


def changed(base: Rules, stated: dict[str, Any], faults: Faults) -> dict[str, Any]:
    """Return what the rules hold once a file has changed them, by the names `Rules` has.

    Parameters
    ----------
    base : Rules
        The published rules.
    stated : dict
        What the file states, by the same names; lengths in metres.
    faults : Faults
        Where laxer limits without a source of their own go.
    """
    published = {"source": base.source, "edition": base.edition, "known": base.known}
    held = {"name": base.name, **stated, **published}
    for limit in ("floor", "ceiling"):
        held |= _limit(limit, base, stated, faults)
    held["unit"] = held.pop("ceiling_unit") or base.unit
    if "sea_level_ceiling_m" in stated:
        held["sea_level_ceiling_source"] = _source("sea_level_ceiling", stated)
        held["sea_level_ceiling_unit"] = stated.get("unit")
    return held


def _limit(limit: str, base: Rules, stated: dict[str, Any], faults: Faults) -> dict[str, Any]:
    """Return value, measure, source and unit of one limit."""
    value, measure = f"{limit}_m", f"{limit}_measure"
    names = (value, measure, f"{limit}_source", f"{limit}_unit")
    if not stated.keys() & set(names):
        return {name: getattr(base, name, None) for name in names}
    new = {name: stated.get(name, getattr(base, name)) for name in (value, measure)}
    if new[measure] == "sea-level":
        faults.add(
            "ceiling.measure",
            "sea-level",
            rule=f"the ceiling of {base.based_on!r} stays in force",
            remedy="write the ceiling above sea level under [sea_level_ceiling]",
        )
    elif names[2] not in stated and (value not in stated or "unit" in stated):
        _refuse_laxer(limit, base, stated, new, faults)
    unit = stated.get("unit") if value in stated else getattr(base, names[3], None)
    return new | {names[2]: _source(limit, stated), names[3]: unit}


def _refuse_laxer(
    limit: str, base: Rules, stated: dict[str, Any], new: dict[str, Any], faults: Faults
) -> None:
    """Add a fault if something may pass that the base refuses."""
    order, unit = _STRICTEST_FIRST[limit], stated.get("unit", "m")
    measures = new[f"{limit}_measure"], getattr(base, f"{limit}_measure")
    values_m = new[f"{limit}_m"], getattr(base, f"{limit}_m")
    higher_m = values_m[0] - values_m[1]
    if order.index(measures[0]) > order.index(measures[1]):
        key, (given, published) = "measure", measures
    elif (higher_m if limit == "ceiling" else -higher_m) > 0:
        key, (given, published) = "value", (round(in_unit(v, unit), 3) for v in values_m)
    else:
        return
    faults.add(
        f"{limit}.{key}",
        given,
        rule=f"that is laxer than {published!r} of {base.based_on!r}, "
        "and nothing says who allows it",
        remedy=f"write source under [{limit}], or keep to what {base.based_on!r} allows",
    )


def _source(limit: str, stated: dict[str, Any]) -> str:
    """Return who wants a limit that the file changes; a stricter one may stand without."""
    own = stated.get(f"{limit}_source", stated.get("source"))
    return own or "the rules file, which gives no source"

"""A commented route file to fill in, written from the schema."""

from __future__ import annotations

from typing import TYPE_CHECKING, Final

from terrain_guard.plan.keys import number_text, toml_literal
from terrain_guard.plan.schema import ROUTE
from terrain_guard.units import FOOT_M

if TYPE_CHECKING:
    from collections.abc import Iterator

    from terrain_guard.plan.keys import Key, Table, Value

_HEAD: Final = """\
# Route file, TOML, UTF-8. Fill it in, then: terrain-guard check THIS_FILE --ground DEM
#
# Heights count from the ground at launch unless heights = "ground" (then each
# waypoint's counts from the ground under it), "sea-level" or "ellipsoid" (for models
# that state their vertical datum, from which launch.elevation_m counts). Take-off, way
# home and subject heights always count from launch. All are in height_unit; a key that
# ends in _m is in metres whatever height_unit says.
# Lines such as "# bank_deg = 25" are optional: take the "# " away to state them (and
# the one before their [header]). What is left unstated is flown in every way that is
# built, and the worst counts. Where there are words to choose from, the first is the
# default, unless the key is required.
# The places are on an invented island: put in your own.
"""
_MORE_WAYPOINTS: Final[tuple[dict[str, Value], ...]] = (
    {"name": "upper terrace", "lat": 47.3145, "lon": -28.4032, "height": 75.0},
    {"name": "spillway crest", "lat": 47.3152, "lon": -28.4047, "height": 75.0},
)
_NOTE_AT: Final = 31


def template() -> str:
    """Return a route file to fill in.

    Returns
    -------
    str
        TOML with every key of the schema: required ones with an example, the others
        commented out; each with its unit, choices and default. It can be read as printed.

    Examples
    --------
    >>> print(template().splitlines()[0])
    # Route file, TOML, UTF-8. Fill it in, then: terrain-guard check THIS_FILE --ground DEM
    """
    lines = [_HEAD.rstrip()]
    told: set[str] = set()
    for table in ROUTE:
        lines += ["", *_table_lines(table, told)]
        if table.name == "waypoint":
            for waypoint in _MORE_WAYPOINTS:
                lines += ["[[waypoint]]", *_short_lines(waypoint)]
    return "\n".join(lines) + "\n"


def _table_lines(table: Table, told: set[str]) -> Iterator[str]:
    """Write a header and its keys, commented where they may be absent; no note twice."""
    if table.name:
        header = f"[[{table.name}]]" if table.many else f"[{table.name}]"
        meaning = table.meaning if table.used else f"{table.meaning}; not used yet"
        live = table.required or not any(key.required for key in table.keys)
        yield _line(header, meaning, live=live)
    for key in table.keys:
        live = table.required and (key.required or (key.kind == "text" and key.used))
        note = _note(key, table)
        yield _line(key.example_line(), "" if note in told else note, live=live)
        told.add(note)


def _line(code: str, note: str, *, live: bool) -> str:
    code = code if live else f"# {code}"
    return f"{code:<{_NOTE_AT}} # {note}" if note else code


def _note(key: Key, table: Table) -> str:
    """Tell what a key means, its unit, its choices, and what stands in for it."""
    parts = [key.meaning.removeprefix("the ") + _unit(key, table)]
    if key.built:
        parts.append(" | ".join(key.built))
    elif key.default is not None:
        parts.append(f"default {_default(key)}")
    if key.required:
        parts.append("required")
    if table.used and not key.used:
        parts.append("not used yet")
    return "; ".join(parts)


def _unit(key: Key, table: Table) -> str:
    if key.kind == "height":
        return f"{_counts_from(table)}, height_unit"
    told = not key.unit or key.unit in key.meaning.replace(",", "").split()
    return "" if told else f", {key.unit}"


def _counts_from(table: Table) -> str:
    return ", from what heights says" if table.name == "waypoint" else ", above launch"


def _default(key: Key) -> str:
    if key.kind == "height" and isinstance(key.default, float | int):
        return f"{number_text(key.default)} m ({key.default / FOOT_M:.1f} ft)"
    return toml_literal(key.default) if key.default is not None else ""


def _short_lines(values: dict[str, Value]) -> Iterator[str]:
    for name, value in values.items():
        yield f"{name} = {toml_literal(value)}"

"""Route and rules files that the tests of this room start from."""

from __future__ import annotations

import copy
from typing import TYPE_CHECKING, Any

import pytest
import tomlkit

from terrain_guard.errors import RefusedRoute
from terrain_guard.plan.route_toml import read_route

if TYPE_CHECKING:
    from pathlib import Path

    from terrain_guard.plan.route import Route

ISLAND = {"lat": 47.3124, "lon": -28.4051}
"""A place on an invented island in the open ocean."""

SMALLEST: dict[str, Any] = {
    "heights": "launch",
    "height_unit": "m",
    "launch": dict(ISLAND),
    "waypoint": [
        {"lat": 47.3131, "lon": -28.4046, "height": 60},
        {"lat": 47.3145, "lon": -28.4032, "height": 75.5},
        {"lat": 47.3152, "lon": -28.4047, "height": 80},
    ],
}
"""A route with nothing in it that may be left out."""

EVERY_TABLE: dict[str, Any] = {
    **SMALLEST,
    "home": dict(ISLAND),
    "pilot": dict(ISLAND),
    "turns": {},
    "climb": {},
    "after_last": {},
    "way_home": {},
    "conditions": {},
    "link_loss": {},
    "aircraft": {},
    "subject": [{"name": "spillway", **ISLAND}],
    "observer": [dict(ISLAND)],
}
"""The same with every table the schema knows."""


def changed(content: dict[str, Any], changes: dict[str, Any]) -> dict[str, Any]:
    """Return a copy of `content` with values put in, by dotted keys; None removes a key.

    >>> changed({"a": [{"b": 1}]}, {"a.0.b": 2, "c.d": 3})
    {'a': [{'b': 2}], 'c': {'d': 3}}
    """
    content = copy.deepcopy(content)
    for dotted, value in changes.items():
        *way, name = dotted.split(".")
        table: Any = content
        for step in way:
            table = table[int(step)] if isinstance(table, list) else table.setdefault(step, {})
        if value is None:
            del table[name]
        else:
            table[name] = value
    return content


def write(folder: Path, content: dict[str, Any] | str | bytes, name: str = "plan.toml") -> Path:
    """Write a file and return its path."""
    if isinstance(content, dict):
        content = tomlkit.dumps(content)
    if isinstance(content, str):
        content = content.encode("utf-8")
    path = folder / name
    path.write_bytes(content)
    return path


def route(folder: Path, changes: dict[str, Any] | None = None) -> Route:
    """Return the smallest route, changed, as it is read."""
    return read_route(write(folder, changed(SMALLEST, changes or {})))


def faults(
    folder: Path,
    content: dict[str, Any] | str | bytes,
    *,
    launch: tuple[float, float] | None = None,
) -> tuple[str, ...]:
    """Return the sentences with which a route file is refused."""
    path = write(folder, content)
    with pytest.raises(RefusedRoute) as caught:
        read_route(path, launch=launch)
    return caught.value.faults

"""Terrain Guard: true height above ground at every metre of a planned flight.

A remote pilot types heights above the launch ground; the ground does not stay
level. `check` samples an elevation model along the curve really flown and says
where a floor or a ceiling is broken, by how much, and what was not assessed::

    import terrain_guard

    assessment = terrain_guard.check("route.toml", ground=["ground.tif"])
    assessment.verdict

To understand the method, read the rooms in the order a metre travels; each
imports only from those before it:

1. `errors`, `units`, `states`: the words.
2. `plan`: what the pilot wrote; route and rules.
3. `path`: the curve really flown, and its samples.
4. `ground`: what lies beneath; the only room that opens rasters.
5. `checks`: what is within its limits, with and without margins.
6. `assessment`, `assess`: the answer as data, and the hall that makes it.
7. `report`: telling people; table, JSON, CSV, profile, cautions.
8. `selftest`: the whole program against closed forms.
9. `cli`: the commands.

The typed height is not the height above ground. The launch spot is part of the
plan. Not assessed is not clear. The remote pilot in command decides.
"""

from __future__ import annotations

from importlib import import_module
from typing import TYPE_CHECKING, Any

from terrain_guard.errors import (
    RefusedInput,
    RefusedOutput,
    RefusedRoute,
    RefusedRules,
    RefusedTerrain,
    TerrainGuardError,
)
from terrain_guard.states import State

if TYPE_CHECKING:
    from terrain_guard.assess import check
    from terrain_guard.assessment import Assessment
    from terrain_guard.plan.route import Route
    from terrain_guard.plan.rules import Rules

    __version__: str

__all__ = [
    "Assessment",
    "RefusedInput",
    "RefusedOutput",
    "RefusedRoute",
    "RefusedRules",
    "RefusedTerrain",
    "Route",
    "Rules",
    "State",
    "TerrainGuardError",
    "__version__",
    "check",
]

# Loaded when first asked for, so that `--help` need not wait for NumPy and GDAL.
_LAZY = {
    "Assessment": "terrain_guard.assessment",
    "Route": "terrain_guard.plan.route",
    "Rules": "terrain_guard.plan.rules",
    "check": "terrain_guard.assess",
}


def __getattr__(name: str) -> Any:
    if name == "__version__":
        return _version()
    if name not in _LAZY:
        message = f"module {__name__!r} has no attribute {name!r}"
        raise AttributeError(message)
    return getattr(import_module(_LAZY[name]), name)


def __dir__() -> list[str]:
    return sorted({*globals(), *__all__})


def _version() -> str:
    """Return the installed version; a bare checkout has none."""
    from importlib.metadata import PackageNotFoundError, version

    try:
        return version("terrain-guard")
    except PackageNotFoundError:
        return "not installed"

"""What the package promises to those who import it."""

import subprocess
import sys
from pathlib import Path

import pytest

import terrain_guard
from terrain_guard import errors, states

PUBLIC = {
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
}


def test_the_public_names_are_these() -> None:
    """A name added or lost is a decision, not an accident."""
    assert set(terrain_guard.__all__) == PUBLIC
    assert set(dir(terrain_guard)) >= PUBLIC


@pytest.mark.parametrize("name", sorted(PUBLIC))
def test_every_public_name_is_there(name: str) -> None:
    """Names that are loaded late are found too."""
    assert getattr(terrain_guard, name) is not None


def test_errors_and_states_are_the_rooms_own() -> None:
    """The face shows the same objects, not copies."""
    assert terrain_guard.TerrainGuardError is errors.TerrainGuardError
    assert terrain_guard.State is states.State


def test_unknown_names_are_refused() -> None:
    """A misspelt name is an AttributeError, as in any module."""
    with pytest.raises(AttributeError, match="has no attribute 'chekc'"):
        terrain_guard.chekc  # noqa: B018


def test_importing_loads_nothing_heavy() -> None:
    """Arrays, rasters and plots wait until something asks for them."""
    code = "import sys, terrain_guard; print({'numpy', 'rasterio', 'pyproj'} & set(sys.modules))"
    root = Path(__file__).parents[1]
    done = subprocess.run(
        [sys.executable, "-c", code], capture_output=True, check=True, text=True, cwd=root
    )
    assert done.stdout == "set()\n"

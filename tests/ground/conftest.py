"""Machines with geoid grids and without, whatever is installed on this one."""

from __future__ import annotations

import os
from typing import TYPE_CHECKING

import pyproj.datadir
import pytest

from terrain_guard.errors import RefusedTerrain
from terrain_guard.ground import geoid
from tests.ground.grids import MakeGrid, write_gtx

if TYPE_CHECKING:
    from collections.abc import Iterator
    from pathlib import Path


@pytest.fixture
def no_grids(monkeypatch: pytest.MonkeyPatch) -> Iterator[None]:
    """Be a machine without geoid grids; skip where PROJ's own folders have one."""
    before = pyproj.datadir.get_data_dir()
    monkeypatch.setattr(geoid, "SYSTEM_FOLDERS", ())
    for name in ("PROJ_DATA", "PROJ_LIB"):
        monkeypatch.delenv(name, raising=False)
    pyproj.datadir.set_data_dir(before.split(os.pathsep)[0])
    try:
        if geoid.geoid_near(0.0, 50.0) is not None:
            pytest.skip("PROJ has a geoid grid in a folder of its own here")
        yield
    finally:
        pyproj.datadir.set_data_dir(before)


@pytest.fixture
def make_grid(no_grids: None, tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> MakeGrid:
    """Be a machine with the grids that are asked for, and no others."""
    del no_grids
    folder = tmp_path / "grids"
    folder.mkdir()
    monkeypatch.setattr(geoid, "SYSTEM_FOLDERS", (str(folder),))

    def make(n_m: float, *, per_degree_east: float = 0.0, name: str = "egm96_15.gtx") -> None:
        write_gtx(folder / name, n_m, per_degree_east=per_degree_east)

    return make


@pytest.fixture
def egm96() -> None:
    """Skip where the EGM96 grid is not installed, as Debian's proj-data does."""
    try:
        geoid.zero_above_ellipsoid(geoid.EGM96, 0.0, 50.0, needed_for="this test")
    except RefusedTerrain:
        pytest.skip("no EGM96 geoid grid is installed (Debian: proj-data)")

"""How far sea level lies above the ellipsoid: through a real geoid grid, or not at all.

::

    ●  aircraft              h  above the ellipsoid
    │                        H  above the geoid, roughly mean sea level
    │ H                      N  of the geoid above the ellipsoid, −107 … +85 m
    ~~~~~~~  geoid           h = H + N
    │ N
    ───────  ellipsoid

Where PROJ has no grid for N it hands heights back unchanged and only warns. So
nothing is taken from it before it says that its best step is at hand, names the
grids of that step, and has been seen to move a height.
"""

from __future__ import annotations

import os
import warnings
from dataclasses import dataclass
from pathlib import Path
from typing import Any, Final

import numpy as np
import pyproj
import pyproj.datadir
from numpy.typing import ArrayLike
from pyproj.crs import CompoundCRS
from pyproj.transformer import AreaOfInterest, TransformerGroup

from terrain_guard.arrays import Floats
from terrain_guard.errors import RefusedTerrain
from terrain_guard.ground.raster import is_ellipsoidal

EGM96: Final = "EPSG:5773"
EGM2008: Final = "EPSG:3855"
ELLIPSOID: Final = "EPSG:4979"
SYSTEM_FOLDERS: tuple[str, ...] = (
    "/usr/share/proj",
    "/usr/local/share/proj",
    "/opt/homebrew/share/proj",
)
"""Where packages of the operating system put grids, which PROJ of a wheel does not search."""
_ROUND_DEG: Final = 0.5
_UNMOVED_M: Final = 1e-6


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Geoid:
    """How far the zero of a vertical system lies above the WGS 84 ellipsoid."""

    above_ellipsoid_m: Floats
    system: str  # the vertical system's name
    grids: str  # the grid files' names; empty where none is needed


def zero_above_ellipsoid(
    vertical: pyproj.CRS | str, lon_deg: ArrayLike, lat_deg: ArrayLike, *, needed_for: str
) -> Geoid:
    """Return how far the zero of a vertical system lies above the ellipsoid at points.

    Parameters
    ----------
    vertical : CRS or str
        A vertical system, or one of three axes whose heights are ellipsoidal.
    lon_deg, lat_deg : (n,) float
        WGS 84 degrees.
    needed_for : str
        What cannot be done without it, for the refusal.

    Returns
    -------
    Geoid
        N, in metres, for a system that counts from a geoid.

    Raises
    ------
    RefusedTerrain
        No geoid grid for that system is at hand, or it does not cover the points.
    """
    lon, lat = (np.atleast_1d(np.asarray(at, dtype=float)) for at in (lon_deg, lat_deg))
    vertical = pyproj.CRS(vertical)
    ellipsoidal = is_ellipsoidal(vertical)
    target = _three_axes(vertical) if ellipsoidal else CompoundCRS("both", ["EPSG:4326", vertical])
    if ellipsoidal and target.equals(pyproj.CRS(ELLIPSOID), ignore_axis_order=True):
        return Geoid(above_ellipsoid_m=np.zeros(lon.size), system=vertical.name, grids="")
    step, grids = _best_step(target, lon, lat, needed_for=needed_for, by_grid=not ellipsoidal)
    unit_m = vertical.axis_info[-1].unit_conversion_factor
    zero = -unit_m * _height_of_zero(step, lon, lat)
    if not np.isfinite(zero).all():
        msg = (
            f"{needed_for} needs {grids or vertical.name} at every place of the route, and it does "
            "not reach that far: use heights = 'launch' or 'ground'"
        )
        raise RefusedTerrain(msg)
    if not ellipsoidal and _moves_nothing(step, lon, lat):
        raise _no_grid(vertical.name, grids, needed_for)
    return Geoid(above_ellipsoid_m=zero, system=vertical.name, grids=grids)


def geoid_near(lon_deg: float, lat_deg: float, *, first: pyproj.CRS | None = None) -> Geoid | None:
    """Return the geoid of a vertical system, else EGM96's, else EGM2008's; None without a grid."""
    own: list[pyproj.CRS] = [] if first is None or is_ellipsoidal(first) else [first]
    for vertical in [*own, *map(pyproj.CRS, (EGM96, EGM2008))]:
        try:
            return zero_above_ellipsoid(vertical, lon_deg, lat_deg, needed_for="a hint")
        except RefusedTerrain:
            continue
    return None


def _three_axes(vertical: pyproj.CRS) -> pyproj.CRS:
    """Return the geographic system of three axes that a system is of, itself or projected."""
    if vertical.is_geographic or vertical.geodetic_crs is None:
        return vertical
    return vertical.geodetic_crs.to_3d()


def _best_step(
    target: pyproj.CRS, lon: Floats, lat: Floats, *, needed_for: str, by_grid: bool
) -> tuple[pyproj.Transformer, str]:
    """Return PROJ's best step from ellipsoidal WGS 84 to the system, and its grids' names."""
    group = _steps(target, lon, lat)
    if not _is_sound(group, by_grid=by_grid) and _search_system_folders():
        group = _steps(target, lon, lat)
    if not _is_sound(group, by_grid=by_grid):
        system = target.sub_crs_list[-1] if target.is_compound else target
        raise _no_grid(system.name, _missing(group), needed_for)
    return group.transformers[0], ", ".join(_grids_of(group.transformers[0]))


def _steps(target: pyproj.CRS, lon: Floats, lat: Floats) -> TransformerGroup:
    around = AreaOfInterest(
        west_lon_degree=max(float(lon.min()) - _ROUND_DEG, -180.0),
        south_lat_degree=max(float(lat.min()) - _ROUND_DEG, -90.0),
        east_lon_degree=min(float(lon.max()) + _ROUND_DEG, 180.0),
        north_lat_degree=min(float(lat.max()) + _ROUND_DEG, 90.0),
    )
    with warnings.catch_warnings():
        warnings.simplefilter("ignore")  # that the best is missing is asked below
        return TransformerGroup(ELLIPSOID, target, always_xy=True, area_of_interest=around)


def _is_sound(group: TransformerGroup, *, by_grid: bool) -> bool:
    """Return whether the best step is at hand, and is one: with grids, or of known accuracy."""
    if not group.best_available or not group.transformers:
        return False
    best = group.transformers[0]
    return bool(_grids_of(best)) if by_grid else best.accuracy >= 0


def _grids_of(step: pyproj.Transformer) -> list[str]:
    """Return the names of the grid files that a step reads."""
    operations: tuple[Any, ...] = step.operations or ()
    grids = [grid for operation in operations for grid in operation.grids if grid.available]
    return [Path(grid.full_name or grid.short_name).name for grid in grids]


def _missing(group: TransformerGroup) -> str:
    """Name the grids of the first step that lacks some which can be fetched."""
    for operation in group.unavailable_operations:
        lacking = [grid for grid in operation.grids if not grid.available]
        if lacking and all(grid.url for grid in lacking):
            return ", ".join(str(grid.short_name) for grid in lacking)
    return ""


def _no_grid(system: str, grids: str, needed_for: str) -> RefusedTerrain:
    fetch = f"pyproj sync --file {grids.partition(',')[0]}, or the package proj-data"
    remedy = f"install {grids} ({fetch}), or" if grids else "none is known;"
    msg = (
        f"{needed_for} needs a geoid grid that ties {system} to the WGS 84 ellipsoid, and none is "
        f"at hand here: {remedy} use heights = 'launch' or 'ground'"
    )
    return RefusedTerrain(msg)


def _height_of_zero(step: pyproj.Transformer, lon: Floats, lat: Floats) -> Floats:
    _, _, height = step.transform(lon, lat, np.zeros(lon.size))
    return np.asarray(height, dtype=float)


def _moves_nothing(step: pyproj.Transformer, lon: Floats, lat: Floats) -> bool:
    """Return whether heights come back as they went, at the points and round them."""
    around = _ROUND_DEG / 2 * np.array([0.0, -1.0, 1.0, 0.0, 0.0])
    lon = np.concatenate([lon + shift for shift in around])
    lat = np.concatenate([lat + shift for shift in around[[0, 3, 4, 1, 2]]])
    height = _height_of_zero(step, lon, np.clip(lat, -90, 90))
    return not bool(np.any(np.abs(height[np.isfinite(height)]) > _UNMOVED_M))


def _search_system_folders() -> bool:
    """Let PROJ search further folders too; return whether there are any it did not."""
    named = [os.environ.get(name, "") for name in ("PROJ_DATA", "PROJ_LIB")]
    folders = [folder for names in named for folder in names.split(os.pathsep) if folder]
    known = pyproj.datadir.get_data_dir().split(os.pathsep)
    new = [
        folder
        for folder in dict.fromkeys([*folders, *SYSTEM_FOLDERS])
        if folder not in known and Path(folder).is_dir()
    ]
    for folder in new:
        pyproj.datadir.append_data_dir(folder)
    return bool(new)

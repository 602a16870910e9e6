"""Invented terrain and routes in plain metres, for tests with answers visible by eye.

Everything is placed by metres east and north of one spot in the open ocean, on
the middle meridian of a UTM zone. There the grid points to true north and its
scale is 0.9996 exactly, so cells of 0.9996 grid metres are 1 m on the ground
(to 1e-8 within a kilometre), and a post stands on every whole metre::

        north
          ▲
    ──┼───┼───┼──     posts at whole multiples of the cell, east and north
      │   │   │       of the spot; heights in float64, as the surface gives them
    ──┼───●───┼──▶ east
          the spot
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import replace
from pathlib import Path
from typing import Any, Final

import numpy as np
import pyproj
from numpy.typing import NDArray
from rasterio.transform import Affine

from terrain_guard.assess import check
from terrain_guard.assessment import Assessment, Finding
from terrain_guard.checks.limits import resting_elevation
from terrain_guard.ground.model import Ground
from terrain_guard.plan.route import (
    AfterLast,
    Climb,
    Launch,
    LinkLoss,
    Place,
    Route,
    Turns,
    WayHome,
    Waypoint,
)
from terrain_guard.plan.rules import Rules
from tests.rasters import write_raster

Floats = NDArray[np.float64]
Surface = Callable[[Floats, Floats], Floats]

LAT_DEG: Final = 47.0
LON_DEG: Final = -27.0
"""The spot; 27 degrees west is the middle meridian of UTM zone 26."""
CRS: Final = "EPSG:32626"
SCALE: Final = 0.9996
"""Grid metres per metre on that meridian (the definition of UTM)."""
FLOOR_MARGIN_M: Final = {1.0: 7.0, 10.0: 18.0}
CEILING_MARGIN_M: Final = {1.0: 5.0, 10.0: 7.0}
"""What `fly` fixes the margins at, by the cells used here, so that answers stay closed forms."""
FINE_CELL_M: Final = 2.0
"""Up to here a model has the margins of cells of 1 m, beyond it those of 10 m."""

_LOCAL = pyproj.Proj(proj="aeqd", lat_0=LAT_DEG, lon_0=LON_DEG, ellps="WGS84")
_GRID = pyproj.Transformer.from_crs("EPSG:4326", CRS, always_xy=True)
_SPOT_E, _SPOT_N = _GRID.transform(LON_DEG, LAT_DEG)


def lat_lon(east_m: float, north_m: float) -> tuple[float, float]:
    """Return the latitude and longitude of a place near the spot."""
    lon, lat = _LOCAL(east_m, north_m, inverse=True)
    return float(lat), float(lon)


def grid_place(east_m: float, north_m: float) -> tuple[float, float]:
    """Return the UTM coordinates of a place near the spot."""
    return float(_SPOT_E + east_m * SCALE), float(_SPOT_N + north_m * SCALE)


def east_north(lat_deg: float, lon_deg: float) -> tuple[float, float]:
    """Return where a place lies, in metres east and north of the spot."""
    east, north = _LOCAL(lon_deg, lat_deg)
    return float(east), float(north)


def posts(
    cell_m: float, west_m: float, south_m: float, east_m: float, north_m: float
) -> tuple[Floats, Floats]:
    """Return east and north of every post of a box, rows from north to south."""
    columns = np.arange(round(west_m / cell_m), round(east_m / cell_m) + 1) * cell_m
    rows = np.arange(round(north_m / cell_m), round(south_m / cell_m) - 1, -1) * cell_m
    east, north = np.meshgrid(columns, rows)
    return east, north


def model(
    folder: Path,
    surface: Surface,
    *,
    cell_m: float = 1.0,
    box_m: tuple[float, float, float, float] = (-200.0, -200.0, 400.0, 200.0),
    name: str = "ground.tif",
    dtype: str = "float64",
    nodata: float | None = None,
) -> Path:
    """Write `surface(east_m, north_m)` over a box: west, south, east, north; return the file."""
    east, north = posts(cell_m, *box_m)
    heights = np.broadcast_to(surface(east, north), east.shape)
    return grid(
        folder, heights, cell_m=cell_m, corner_m=(box_m[0], box_m[3]), name=name, dtype=dtype,
        nodata=nodata,
    )  # fmt: skip


def grid(
    folder: Path,
    heights: NDArray[Any],
    *,
    cell_m: float,
    corner_m: tuple[float, float],
    name: str = "ground.tif",
    dtype: str = "float64",
    nodata: float | None = None,
) -> Path:
    """Write posts, the first of which stands at `corner_m` (east, north)."""
    step = cell_m * SCALE
    first = grid_place(*corner_m)
    west, top = first[0] - step / 2, first[1] + step / 2
    return write_raster(
        folder / name, np.asarray(heights).astype(dtype),
        transform=Affine(step, 0.0, west, 0.0, -step, top), crs=CRS, nodata=nodata,
        tiled=True, blockxsize=256, blockysize=256,
    )  # fmt: skip


def launch(east_m: float, north_m: float, **stated: float) -> Launch:
    """Return a launch, known to the metre unless stated otherwise."""
    lat, lon = lat_lon(east_m, north_m)
    return Launch(lat_deg=lat, lon_deg=lon, **{"spot_within_m": 0.0, **stated})


def route(
    points: Sequence[tuple[float, float, float]],
    *,
    start: tuple[float, float] | Launch | None = None,
    home: tuple[float, float] | None = None,
    turns: Turns | str = "stop",
    climb: Climb | str = "vertical",
    after: AfterLast | str = "here",
    way_home: WayHome | None = None,
    link_loss: LinkLoss | None = None,
    heights: str = "launch",
    **waypoints: Any,
) -> Route:
    """Return a route through (east, north, height) in metres.

    Unless told otherwise it takes off straight up under its first point, stops
    at every waypoint, and stays at the last one without landing: nothing is
    left unstated.
    """
    spot = points[0][:2] if start is None else start
    took_off = spot if isinstance(spot, Launch) else launch(*spot)
    place = (took_off.lat_deg, took_off.lon_deg) if home is None else lat_lon(*home)
    if isinstance(after, str):
        after = AfterLast(go_to=after, then="wait" if after == "here" else "land")
    return Route(
        title="Test",
        heights=heights,
        height_unit="m",
        launch=took_off,
        home=Place(lat_deg=place[0], lon_deg=place[1]),
        waypoints=tuple(
            _waypoint(number, point, waypoints) for number, point in enumerate(points, start=1)
        ),
        turns=Turns(kind=turns) if isinstance(turns, str) else turns,
        climb=Climb(model="linear", too_steep="slows", out=climb)
        if isinstance(climb, str)
        else climb,
        after_last=after,
        way_home=WayHome() if way_home is None else way_home,
        link_loss=LinkLoss() if link_loss is None else link_loss,
    )


def _waypoint(number: int, point: tuple[float, float, float], settings: dict[str, Any]) -> Waypoint:
    lat, lon = lat_lon(*point[:2])
    settings = {"speed_m_per_s": 5.0, "name": f"P{number}", **settings}
    return Waypoint(lat_deg=lat, lon_deg=lon, height_m=point[2], **settings)


def rules(floor_m: float = 30.0, ceiling_m: float = 120.0, **changes: Any) -> Rules:
    """Return a floor and a ceiling."""
    return Rules(
        name="Site rule", source="Operations manual 4.2", unit="m",
        floor_m=floor_m, ceiling_m=ceiling_m, **changes,
    )  # fmt: skip


LOOSE: Final = rules(floor_m=0.5, ceiling_m=2000.0)
"""Limits so wide that only the geometry is looked at."""


def fixed(limits: Rules, *, cell_m: float = 1.0) -> Rules:
    """Return limits whose margins are fixed, as they are for such cells, if they are not yet."""
    cells = 1.0 if cell_m <= FINE_CELL_M else 10.0
    floor, ceiling = limits.fixed_floor_margin_m, limits.fixed_ceiling_margin_m
    return replace(
        limits,
        fixed_floor_margin_m=FLOOR_MARGIN_M[cells] if floor is None else floor,
        fixed_ceiling_margin_m=CEILING_MARGIN_M[cells] if ceiling is None else ceiling,
    )


def _coarsest_cell_m(*models: Path | None) -> float:
    return max(Ground(model).coarsest_cell_m for model in models if model is not None)


def fly(
    ground: Path | None,
    points: Sequence[tuple[float, float, float]],
    limits: Rules = LOOSE,
    *,
    canopy_m: float | None = 0.0,
    surface: Path | None = None,
    second_ground: Path | None = None,
    **how: Any,
) -> Assessment:
    """Check a route through points over open ground, unless told of trees or a surface.

    The margins are fixed by the coarsest cells of all models, unless the limits fix others.
    """
    both = ground is not None and surface is not None
    limits = fixed(limits, cell_m=_coarsest_cell_m(ground, surface))
    return check(
        route(points, **how), ground=ground, surface=surface, second_ground=second_ground,
        canopy_m=None if both else canopy_m, rules=limits,
    )  # fmt: skip


def of_kind(found: Assessment, kind: str, *, leg: int | None = None) -> list[Finding]:
    """Return the findings of one kind, on one leg if given, in order."""
    return [f for f in found.findings if f.kind == kind and leg in (None, f.leg)]


def resting(
    ground: Path, east_m: Sequence[float], north_m: Sequence[float], radius_m: float
) -> Floats:
    """Return where a ball let down on the model rests, by the program's limiting surface."""
    opened = Ground(ground)
    places = [lat_lon(e, n) for e, n in zip(east_m, north_m, strict=True)]
    row, column = opened.posts_at([p[1] for p in places], [p[0] for p in places])
    return np.asarray(resting_elevation(opened, row, column, radius_m))

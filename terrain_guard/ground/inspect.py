"""What an elevation model is, and what looks wrong with it.

`inspect` describes one file and looks at its posts part by part (`inspect_parts`),
with tests for single posts (`inspect_posts`), for patches (`inspect_patches`) and for
all of them together (`inspect_texture`); `inspect_doubts` turns what was seen into
suspicions. What is not suspected is not thereby right: an old survey, a shifted datum
or trees that are missing leave no trace in the heights.
"""

from __future__ import annotations

import functools
import math
from collections.abc import Iterable
from dataclasses import dataclass, replace
from pathlib import Path

import numpy as np
import rasterio

from terrain_guard.ground.card import NO_CARD, Card
from terrain_guard.ground.inspect_doubts import Suspicion, suspicions
from terrain_guard.ground.inspect_look import Seen, look
from terrain_guard.ground.inspect_parts import MOST_POSTS, parts, view
from terrain_guard.ground.inspect_texture import common_step_m
from terrain_guard.ground.model import Ground
from terrain_guard.ground.raster import ENVIRONMENT, Raster


@dataclass(frozen=True, slots=True, kw_only=True)
class Spot:
    """A post: its elevation (m) and its place; NaN where no ground is known."""

    elevation_m: float = math.nan
    lat_deg: float = math.nan
    lon_deg: float = math.nan


@dataclass(frozen=True, slots=True, kw_only=True)
class Inspection:
    """What one elevation model is, and what looks wrong with it.

    Metres and degrees; ``step_m`` is the largest step all heights are multiples of, NaN if
    there is none. ``missing`` counts posts among the ``looked_at``.
    """

    file: str
    size_bytes: int
    driver: str
    data_type: str
    columns: int
    rows: int
    cell_m: tuple[float, float]  # along a row, along a column
    registration: str  # area | point
    crs: str
    vertical_datum: str
    vertical_unit: str  # words, with "assumed" where the file does not say
    kind: str  # ground | surface | unknown
    nodata: float | None
    box_deg: tuple[float, float, float, float]  # west, south, east, north
    lowest: Spot
    highest: Spot
    step_m: float
    looked_at: int  # posts
    missing: int
    suspicions: tuple[Suspicion, ...]
    card: Card = NO_CARD  # what is said beside it

    @property
    def posts(self) -> int:
        """All posts of the model."""
        return self.rows * self.columns


def inspect(path: str | Path, *, most_posts: int = MOST_POSTS) -> Inspection:
    """Describe an elevation model and look for what is wrong with it.

    Parameters
    ----------
    path : path
        The elevation model, one raster.
    most_posts : int
        Posts to look at; a larger model is looked at in parts spread evenly over it.

    Raises
    ------
    RefusedTerrain
        The file is not an elevation model the program can use, or cannot be read.
    """
    ground = Ground(path)
    raster = ground.raster
    looks = (look(view(raster, part), raster) for part in parts(raster, most_posts=most_posts))
    seen = functools.reduce(Seen.plus, looks, Seen()).whole()
    return _told(ground, seen)


def _told(ground: Ground, seen: Seen) -> Inspection:
    raster, texture = ground.raster, seen.texture
    rows, columns = ground.shape
    lon, lat = ground.degrees_at(np.array([(rows - 1) / 2]), np.array([(columns - 1) / 2]))
    found = suspicions(seen, raster, (float(lon[0]), float(lat[0])))
    return Inspection(
        file=raster.path.name,
        size_bytes=raster.size_bytes,
        driver=_driver(raster),
        data_type=raster.dtype.name,
        columns=columns,
        rows=rows,
        cell_m=raster.cell_m,
        registration=raster.registration,
        crs=raster.crs_text,
        vertical_datum=raster.vertical_datum,
        vertical_unit=raster.unit_text,
        kind=ground.kind,
        nodata=raster.nodata,
        box_deg=ground.box_deg(),
        lowest=_spot(ground, None if texture is None else texture.lowest),
        highest=_spot(ground, None if texture is None else texture.highest),
        step_m=math.nan if texture is None else common_step_m(texture, raster),
        looked_at=seen.posts,
        missing=seen.missing.count,
        suspicions=tuple(_placed(ground, found)),
        card=raster.card,
    )


def _driver(raster: Raster) -> str:
    with rasterio.Env(**ENVIRONMENT), rasterio.open(raster.path) as dataset:
        return str(dataset.driver)


def _spot(ground: Ground, extreme: tuple[float, int, int] | None) -> Spot:
    if extreme is None:
        return Spot()
    lat, lon = _place(ground, extreme[1], extreme[2])
    return Spot(elevation_m=extreme[0], lat_deg=lat, lon_deg=lon)


def _placed(ground: Ground, found: Iterable[Suspicion]) -> Iterable[Suspicion]:
    for one in found:
        if one.row < 0:
            yield one
        else:
            lat, lon = _place(ground, one.row, one.column)
            yield replace(one, lat_deg=lat, lon_deg=lon)


def _place(ground: Ground, row: int, column: int) -> tuple[float, float]:
    lon, lat = ground.degrees_at(np.array([row]), np.array([column]))
    return float(lat[0]), float(lon[0])

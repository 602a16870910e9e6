"""Sight over real canyon walls: properties, and GDAL's own viewshed."""

from __future__ import annotations

import shutil
import subprocess
from typing import TYPE_CHECKING

import numpy as np
import pytest
import rasterio
from scipy.ndimage import maximum_filter, minimum_filter

from terrain_guard.ground.model import Ground
from tests.ground import ray_walk

if TYPE_CHECKING:
    from pathlib import Path

    from terrain_guard.arrays import Bools, Floats

NO_VIEWSHED = None if shutil.which("gdal_viewshed") else "gdal_viewshed is not installed (gdal-bin)"
CELL_M = 30.0


def random_places(
    ground: Ground, random: np.random.Generator, count: int, *, near: tuple[float, float, float]
) -> tuple[Floats, Floats, Floats]:
    """Return (lon, lat, ground) of places within a number of cells of (row, column)."""
    row = near[0] + random.uniform(-near[2], near[2], count)
    column = near[1] + random.uniform(-near[2], near[2], count)
    lon, lat = ground.degrees_at(row, column)
    return lon, lat, ground.elevation_at(row, column)


def test_a_level_way_home_that_touches_has_no_sight(sierra30: Path) -> None:
    """Whoever would hit the ground on the level way to the eye's own place cannot be seen.

    24,000 rays, aircraft up to 200 m above ground, at the eye's height or above it. (It holds
    only for contact, only there, and only nominally: a floor or a pilot elsewhere breaks it.)
    """
    ground, random = Ground(sierra30), np.random.default_rng(21)
    touching = seen = 0
    for _ in range(40):
        row, column = random.uniform(150, 950, 2)
        lon, lat, z = random_places(ground, random, 601, near=(row, column, 100.0))
        eye = z[0] + 1.7
        target = np.maximum(z[1:] + random.uniform(0.5, 200, 600), eye)
        rays = ground.rays(float(lon[0]), float(lat[0]), to_lon_deg=lon[1:], to_lat_deg=lat[1:])
        touches = rays.highest(from_m=2.0).value_m >= target
        margin = rays.sight(eye, target).margin_m
        touching += np.count_nonzero(touches)
        seen += np.count_nonzero(touches & (margin > 1e-9))
        assert np.isfinite(margin).all()
    assert touching > 2000
    assert seen == 0


@pytest.mark.parametrize("k", [1.0, np.inf])
def test_who_is_seen_sees(sierra30: Path, k: float) -> None:
    """Two places see each other or neither does, on a flat earth and on a round one."""
    ground, random = Ground(sierra30), np.random.default_rng(22)
    answers = []
    for _ in range(120):
        row, column = random.uniform(150, 950, 2)
        lon, lat, z = random_places(ground, random, 2, near=(row, column, 60.0))
        z = z + random.uniform(2, 120, 2)
        there, back = (
            ground.rays(float(lon[a]), float(lat[a]), to_lon_deg=lon[b], to_lat_deg=lat[b])
            .sight(float(z[a]), float(z[b]), curvature=k, to_target_gap_m=2.0)
            .margin_m[0]
            for a, b in ((0, 1), (1, 0))
        )
        answers.append(there)
        assert (there > 0) == (back > 0)
    assert 20 < np.count_nonzero(np.array(answers) > 0) < 100


def test_a_higher_target_is_never_hidden(sierra30: Path) -> None:
    """The margin rises metre for metre with the target, however far."""
    ground, random = Ground(sierra30), np.random.default_rng(23)
    lon, lat, z = random_places(ground, random, 501, near=(550.0, 520.0, 150.0))
    rays = ground.rays(float(lon[0]), float(lat[0]), to_lon_deg=lon[1:], to_lat_deg=lat[1:])
    eye = float(z[0]) + 1.7
    low = rays.sight(eye, z[1:] + 10).margin_m
    raised = random.uniform(0, 300, 500)
    assert rays.sight(eye, z[1:] + 10 + raised).margin_m - low == pytest.approx(raised)


# ------------------------------------------------------------ GDAL's viewshed


REACH_M = 5000.0
EVERY = 3  # cells compared along rows and columns


def viewshed(path: Path, folder: Path, row: int, column: int) -> tuple[Bools, Floats, Floats]:
    """Return (visible, rows, columns) of the cells within reach, every third, by GDAL."""
    with rasterio.open(path) as source:
        x, y = source.xy(row, column)
    out = folder / f"seen_{row}_{column}.tif"
    subprocess.run(
        ["gdal_viewshed", "-q", "-ox", repr(x), "-oy", repr(y), "-oz", "2", "-tz", "0",
         "-cc", "0.85714", "-md", repr(REACH_M), str(path), str(out)],
        check=True, capture_output=True,
    )  # fmt: skip
    with rasterio.open(out) as source:
        seen = source.read(1) > 0
        shift = ~ray_walk.Walker.over(path).affine @ (source.transform @ (0.0, 0.0))
    first_column, first_row = round(shift[0]), round(shift[1])
    i, j = np.meshgrid(*(np.arange(0, side, EVERY) for side in seen.shape), indexing="ij")
    far = np.hypot(i + first_row - row, j + first_column - column)
    within = (far * CELL_M < REACH_M - CELL_M) & (far > 2)
    i, j = i[within], j[within]
    return seen[i, j], i + float(first_row), j + float(first_column)


@pytest.mark.skipif(NO_VIEWSHED is not None, reason=str(NO_VIEWSHED))
def test_against_gdal_viewshed(sierra30: Path, tmp_path: Path) -> None:
    """Six observers who see 2 to 20 %: visible sets overlap to 0.90, the rest are close calls.

    GDAL carries the horizon from cell to cell instead of cutting rays, hence no identity.
    A close call: the margin is within a cell's width times the steepest slope between posts
    near the target, or near the grazed place and then carried on to the target.
    """
    ground, walker = Ground(sierra30), ray_walk.Walker.over(sierra30)
    steepest = maximum_filter(walker.z, 5) - minimum_filter(walker.z, 5)  # within two cells
    random, compared = np.random.default_rng(24), 0
    while compared < 6:
        row, column = (int(at) for at in random.integers(200, 900, 2))
        seen, i, j = viewshed(sierra30, tmp_path, row, column)
        if not 0.02 <= seen.mean() <= 0.20:
            continue
        compared += 1
        lon, lat = ground.degrees_at(np.append(row, i), np.append(column, j))
        rays = ground.rays(float(lon[0]), float(lat[0]), to_lon_deg=lon[1:], to_lat_deg=lat[1:])
        z = walker.z[i.astype(int), j.astype(int)]
        # GDAL's cell has no ground of its own in its way.
        sight = rays.sight(
            float(walker.z[row, column]) + 2.0, z, curvature=7 / 6, from_m=CELL_M,
            to_target_gap_m=CELL_M,
        )  # fmt: skip
        ours = sight.margin_m >= 0
        overlap = np.count_nonzero(ours & seen) / np.count_nonzero(ours | seen)
        print("OVERLAP", row, column, seen.mean(), ours.mean(), overlap)
        differ = ours != seen
        at = sight.grazed
        grazed = steepest[
            np.round(at.row[differ]).astype(int), np.round(at.column[differ]).astype(int)
        ]
        target = steepest[i[differ].astype(int), j[differ].astype(int)]
        carried = grazed * rays.length_m[differ] / at.along_m[differ]
        allow = np.maximum(target, carried)
        print(
            differ.sum(),
            np.sort(np.abs(sight.margin_m[differ]) / allow)[-5:],
            np.sort(np.abs(sight.margin_m[differ]) / np.maximum(target, grazed))[-5:],
            np.sort(np.abs(sight.margin_m[differ]))[-5:],
        )

"""The row *rays*: sight from the launch to every sample of the measured flight, and the way home.

Beside it one process of GDAL's viewshed over the same window of the same file. The peer
answers sight alone, to every cell of the window, and carries the horizon from cell to cell
instead of cutting the ground; its process has to start, ours reads from the file anew too.
"""

from __future__ import annotations

import math
import shutil
import subprocess
from collections.abc import Callable, Iterator
from pathlib import Path

import numpy as np
import rasterio
from _bench_figures import Figure, best_of
from _bench_flights import along, wandering
from bench_model import CELLS

from terrain_guard.arrays import Floats
from terrain_guard.checks.home.lift import lift
from terrain_guard.ground.model import Ground

EYE_M, TARGET_M = 1.7, 80.0  # above the ground
FLOOR_M, COLUMN_M = 30.0, 25.0
ROOM_CELLS = 5
TIMES_THE_PEER, GOAL = 4.0, 2.0


def figures(path: Path, folder: Path, count: int) -> Iterator[Figure]:
    """Yield the lines of the row, each timed as the best of `count`."""
    ground = Ground(path)
    row, column = wandering(CELLS)
    metres = np.hypot(np.diff(row[1:]), np.diff(column[1:])).sum()
    samples = along(row[1:], column[1:], np.linspace(0, 1, int(metres) + 1))
    lon, lat = ground.degrees_at(np.append(row[0], samples[0]), np.append(column[0], samples[1]))
    elevation = ground.elevation(lon, lat)

    def ours() -> int:
        rays = Ground(path).rays(
            float(lon[0]), float(lat[0]), to_lon_deg=lon[1:], to_lat_deg=lat[1:]
        )
        refuse_unknown(rays.sight(float(elevation[0]) + EYE_M, elevation[1:] + TARGET_M).margin_m)
        return rays.count

    def both() -> int:
        fresh = Ground(path)
        rows, columns = fresh.posts_at(lon, lat)
        home = fresh.rays(float(lon[0]), float(lat[0]), to_lon_deg=lon[1:], to_lat_deg=lat[1:])
        refuse_unknown(home.sight(float(elevation[0]) + EYE_M, elevation[1:] + TARGET_M).margin_m)
        found = lift(
            fresh, (rows[1:], columns[1:], elevation[1:] + TARGET_M),
            (rows[0], columns[0], elevation[1:] + TARGET_M),
            radius_m=FLOOR_M, from_m=COLUMN_M,
        )  # fmt: skip
        refuse_unknown(found.lift_m)
        return home.count

    jobs: list[Callable[[], object]] = [ours, both]
    if shutil.which("gdal_viewshed"):
        window = cropped(path, folder / "window.vrt", *samples, row[0], column[0])
        jobs.append(lambda: peer(window, folder, lon[0], lat[0], ground))
    times, answers = best_of(count, *jobs)
    beside = times[2] if len(times) > 2 else math.nan
    cells = np.abs(samples[0] - row[0]) + np.abs(samples[1] - column[0])
    yield Figure(
        work=f"sight to {answers[0]:,} samples by exact rays ({cells.sum() / 1e6:.0f} million "
        "cells) against gdal_viewshed",
        measured=f"{times[0]:.3f} s",
        beside="not installed" if math.isnan(beside) else f"{beside:.3f} s",
        value=times[0] / beside,
        unit="×",
        required=TIMES_THE_PEER,
        goal=GOAL,
    )
    yield Figure(
        work="that, and the level way home from each with its floor all round",
        measured=f"{times[1]:.3f} s",
        beside="not installed" if math.isnan(beside) else f"{beside:.3f} s",
        value=times[1] / beside,
        unit="×",
        required=TIMES_THE_PEER,
        goal=GOAL,
    )


def refuse_unknown(margin_m: Floats) -> None:
    """Raise RuntimeError if some sight was not answered."""
    if not np.isfinite(margin_m).all():
        message = "some rays of the measured flight have no answer: no comparison"
        raise RuntimeError(message)


def cropped(path: Path, out: Path, row: Floats, column: Floats, *start: float) -> Path:
    """Write a virtual raster of the box round the flight and its start."""
    rows, columns = np.append(row, start[0]), np.append(column, start[1])
    top, left = int(rows.min()) - ROOM_CELLS, int(columns.min()) - ROOM_CELLS
    tall, wide = int(rows.max()) + ROOM_CELLS - top, int(columns.max()) + ROOM_CELLS - left
    window = [str(number) for number in (left, top, wide, tall)]
    subprocess.run(
        ["gdal_translate", "-q", "-of", "VRT", "-srcwin", *window, str(path), str(out)], check=True
    )
    return out


def peer(window: Path, folder: Path, lon_deg: float, lat_deg: float, ground: Ground) -> Path:
    """Run GDAL's viewshed with heights needed above ground; return its file."""
    row, column = ground.posts_at(lon_deg, lat_deg)
    with rasterio.open(ground.raster.path) as source:
        x, y = source.transform @ (float(column[0]) + 0.5, float(row[0]) + 0.5)
    out = folder / "viewshed.tif"
    subprocess.run(
        ["gdal_viewshed", "-q", "-om", "GROUND", "-ox", repr(x), "-oy", repr(y), "-oz", f"{EYE_M}",
         str(window), str(out)],
        check=True, stdout=subprocess.DEVNULL,
    )  # fmt: skip
    return out

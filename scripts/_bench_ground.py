"""The row *ground*: elevation under 100,000 samples, three ways to get it.

Every contender starts from the file and the samples in degrees, opens the one and
transforms the others. The peers do less: nearest cell, no voids, no edges. Under
"ready" everyone is handed positions in the raster's own system instead.
"""

from __future__ import annotations

from collections.abc import Iterator
from pathlib import Path

import numpy as np
import rasterio
from _bench_figures import Figure, best_of
from _bench_flights import shapes
from pyproj import Transformer
from scipy.ndimage import map_coordinates

from terrain_guard.arrays import Floats
from terrain_guard.ground.model import Ground

BOUNDS = {  # shape: (required against sample, against bounding box); the goal is twice that
    "ring": (12.0, 4.0),
    "lawn-mower": (5.0, 1.5),
    "square": (12.0, 0.9),
}
AGREEMENT_M = 1e-5  # of 32-bit sums in the peer's read with our 64-bit ones


def figures(path: Path, count: int) -> Iterator[Figure]:
    """Yield the lines of the row, each timed as the best of `count`."""
    ground = Ground(path)
    for shape, (rows, columns) in shapes(ground.shape[1]).items():
        lon, lat = ground.degrees_at(rows, columns)
        times, answers = best_of(
            count,
            lambda: ours(path, lon, lat),  # noqa: B023 (called at once)
            lambda: cells(path, lon, lat),  # noqa: B023
            lambda: box(path, lon, lat),  # noqa: B023
        )
        found, blocks_read = answers[0]
        refuse_to_compare(found, answers[1], answers[2])
        yield from _against(shape, times, BOUNDS[shape])
        yield _blocks(shape, blocks_read, blocks_touched(path, rows, columns))
        yield from _ready(path, shape, (rows, columns), count)


def _against(shape: str, times: list[float], bounds: tuple[float, float]) -> Iterator[Figure]:
    for name, seconds, bound in zip(("sample", "bounding box"), times[1:], bounds, strict=True):
        yield Figure(
            work=f"ground, {shape}: against {name}",
            measured=f"{times[0]:.3f} s",
            beside=f"{seconds:.3f} s",
            value=seconds / times[0],
            unit="×",
            at_most=False,
            required=bound,
            goal=2 * bound,
        )


def _blocks(shape: str, read: int, touched: int) -> Figure:
    return Figure(
        work=f"ground, {shape}: blocks read, blocks touched",
        measured=str(read),
        beside=str(touched),
        value=read / touched,
        unit="×",
        required=1.0,
    )


def _ready(path: Path, shape: str, places: tuple[Floats, Floats], count: int) -> Iterator[Figure]:
    rows, columns = places
    with rasterio.open(path) as dataset:
        a, _, c, _, e, f = dataset.transform[:6]
    x, y = c + a * (columns + 0.5), f + e * (rows + 0.5)
    times, _ = best_of(
        count,
        lambda: Ground(path).elevation_at(rows, columns),
        lambda: cells_at(path, x, y),
        lambda: box_at(path, rows, columns),
    )
    for name, seconds in zip(("sample", "bounding box"), times[1:], strict=True):
        yield Figure(
            work=f"ground, {shape}: against {name}, ready",
            measured=f"{times[0]:.3f} s",
            beside=f"{seconds:.3f} s",
            value=seconds / times[0],
            unit="×",
            at_most=False,
        )


def ours(path: Path, lon: Floats, lat: Floats) -> tuple[Floats, int]:
    """Return elevation, bilinear, and how many blocks were read for it."""
    ground = Ground(path)
    return ground.elevation(lon, lat), ground.blocks.blocks_read


def cells(path: Path, lon: Floats, lat: Floats) -> Floats:
    """Return the value of the nearest cell, by rasterio's `sample`."""
    with rasterio.open(path) as dataset:
        to_raster = Transformer.from_crs("EPSG:4326", dataset.crs, always_xy=True)
        return _sampled(dataset, *to_raster.transform(lon, lat))


def cells_at(path: Path, x: Floats, y: Floats) -> Floats:
    """Return the same for positions in the raster's own system."""
    with rasterio.open(path) as dataset:
        return _sampled(dataset, x, y)


def _sampled(dataset: rasterio.DatasetReader, x: Floats, y: Floats) -> Floats:
    return np.fromiter((value[0] for value in dataset.sample(zip(x, y, strict=True))), float)


def box(path: Path, lon: Floats, lat: Floats) -> Floats:
    """Return elevation, bilinear: the whole bounding box read, then SciPy."""
    with rasterio.open(path) as dataset:
        to_raster = Transformer.from_crs("EPSG:4326", dataset.crs, always_xy=True)
        x, y = to_raster.transform(lon, lat)
        a, _, c, _, e, f = dataset.transform[:6]
        return _in_box(dataset, (y - f) / e - 0.5, (x - c) / a - 0.5)


def box_at(path: Path, row: Floats, column: Floats) -> Floats:
    """Return the same for positions among the cell centres."""
    with rasterio.open(path) as dataset:
        return _in_box(dataset, row, column)


def _in_box(dataset: rasterio.DatasetReader, row: Floats, column: Floats) -> Floats:
    top, left = int(row.min()), int(column.min())
    bottom, right = int(row.max()) + 2, int(column.max()) + 2
    heights = dataset.read(1, window=((top, bottom), (left, right)))
    found: Floats = map_coordinates(heights, (row - top, column - left), order=1, output=float)
    return found


def blocks_touched(path: Path, row: Floats, column: Floats) -> int:
    """Return how many blocks hold the posts with weight round the positions."""
    with rasterio.open(path) as dataset:
        ((height, width),) = dataset.block_shapes
    found: set[tuple[int, int]] = set()
    for i in (np.floor(row), np.ceil(row)):
        for j in (np.floor(column), np.ceil(column)):
            both = np.stack((i // height, j // width), axis=1)
            found.update(map(tuple, np.unique(both, axis=0).astype(int).tolist()))
    return len(found)


def refuse_to_compare(found: Floats, nearest: Floats, peer: Floats) -> None:
    """Raise RuntimeError if the contenders did not do the same work."""
    apart = float(np.abs(found - peer).max())
    steepest = float(np.abs(found - nearest).max())
    if not (apart < AGREEMENT_M and steepest < 10.0):
        message = (
            f"the contenders disagree by {apart:g} m (bilinear) and {steepest:g} m (nearest cell): "
            "a ratio of their times would mean nothing"
        )
        raise RuntimeError(message)

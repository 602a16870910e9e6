"""Second methods: the same quantities computed by other people's code, or by force.

Nothing here imports the package under test. Everything is slower and plainer than
the package, so that the two have no reason to be wrong together.

====================  =========================================================
ground                SciPy `map_coordinates`; xarray `interp`; GDAL's bilinear warp
above ground          every millimetre of a straight leg
clearance             patches halved until their distance is known to a millimetre
lengths               geographiclib (C. F. F. Karney, "Algorithms for geodesics",
                      Journal of Geodesy 87, 2013, 43-55)
====================  =========================================================

The ground is the bilinear patch between cell centres, in the raster's own
reference system. Longitudes and latitudes are WGS 84 degrees, heights metres as
the file stores them (no unit is converted), missing ground is NaN.
"""

from __future__ import annotations

import functools
import itertools
import math
import shutil
import subprocess
from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np
import pyproj
import rasterio
import xarray
from geographiclib.geodesic import Geodesic
from scipy.ndimage import map_coordinates

if TYPE_CHECKING:
    from pathlib import Path

    from numpy.typing import ArrayLike, NDArray

    Floats = NDArray[np.float64]

GEODESIC = pyproj.Geod(ellps="WGS84")
NO_GDALWARP = None if shutil.which("gdalwarp") else "gdalwarp (GDAL's programs) is not installed"
"""Why the checks against GDAL's own warp cannot run here; None if they can."""


# ---------------------------------------------------------------- the raster


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Terrain:
    """A whole raster in memory: heights (rows, columns), where they lie, in what system."""

    heights_m: Floats  # NaN where the file declares nothing
    affine: rasterio.Affine  # (column, row) of cell corners to coordinates
    crs: pyproj.CRS  # horizontal


@dataclass(frozen=True, slots=True, kw_only=True)
class Position:
    """A point of the flight: degrees, and metres above the raster's own zero."""

    lon_deg: float
    lat_deg: float
    elevation_m: float


def read_terrain(path: Path) -> Terrain:
    """Read all of band 1; what the file masks becomes NaN."""
    with rasterio.open(path) as dataset:
        band = dataset.read(1, masked=True)
        heights_m = np.ma.filled(band.astype(np.float64), np.nan)
        crs = pyproj.CRS.from_wkt(dataset.crs.to_wkt())
        horizontal = crs.sub_crs_list[0] if crs.is_compound else crs
        return Terrain(heights_m=heights_m, affine=dataset.transform, crs=horizontal)


def cell_positions(terrain: Terrain, lon_deg: ArrayLike, lat_deg: ArrayLike) -> Floats:
    """Return (row, column), shape (2, n), counted in cells from the first cell's centre."""
    x, y = _transformer("EPSG:4326", terrain.crs).transform(
        np.atleast_1d(lon_deg), np.atleast_1d(lat_deg), errcheck=True
    )
    a, b, c, d, e, f = tuple(terrain.affine)[:6]
    # Solve x = a*column + b*row + c, y = d*column + e*row + f; corners are at whole numbers.
    column, row = np.linalg.solve(np.array([[a, b], [d, e]]), np.stack([x - c, y - f]))
    return np.stack([row, column]) - 0.5


def lonlat_of(terrain: Terrain, row: Floats, column: Floats) -> tuple[Floats, Floats]:
    """Return longitude and latitude of places counted in cells from the first centre."""
    a, b, c, d, e, f = tuple(terrain.affine)[:6]
    x = a * (column + 0.5) + b * (row + 0.5) + c
    y = d * (column + 0.5) + e * (row + 0.5) + f
    lon_deg, lat_deg = _transformer(terrain.crs, "EPSG:4326").transform(x, y, errcheck=True)
    return lon_deg, lat_deg


@functools.lru_cache(maxsize=32)
def _transformer(source: pyproj.CRS | str, target: pyproj.CRS | str) -> pyproj.Transformer:
    return pyproj.Transformer.from_crs(source, target, always_xy=True)


# ---------------------------------------------------------------- the ground


def scipy_ground_m(terrain: Terrain, lon_deg: ArrayLike, lat_deg: ArrayLike) -> Floats:
    """Return the ground by `scipy.ndimage.map_coordinates`, order 1.

    NaN outside the outermost cell centres and wherever a post with a weight above
    zero is missing.
    """
    return _bilinear(terrain, cell_positions(terrain, lon_deg, lat_deg))


def _bilinear(terrain: Terrain, row_column: Floats) -> Floats:
    missing = np.isnan(terrain.heights_m)
    filled = np.where(missing, 0.0, terrain.heights_m)
    ground_m = map_coordinates(filled, row_column, order=1, mode="constant", cval=np.nan)
    if missing.any():
        share = map_coordinates(missing.astype(float), row_column, order=1, mode="nearest")
        ground_m[share > 0] = np.nan
    return np.asarray(ground_m)


def xarray_ground_m(terrain: Terrain, lon_deg: ArrayLike, lat_deg: ArrayLike) -> Floats:
    """Return the ground by xarray's linear `interp` over the coordinates of the cell centres.

    NaN outside the outermost cell centres and where any post of the stencil is
    missing. For rasters whose rows and columns run along the axes.

    Raises
    ------
    ValueError
        If the raster is rotated.
    """
    a, b, c, d, e, f = tuple(terrain.affine)[:6]
    if b or d:
        message = "xarray needs rows and columns along the axes"
        raise ValueError(message)
    rows, columns = terrain.heights_m.shape
    array = xarray.DataArray(
        terrain.heights_m,
        dims=("y", "x"),
        coords={"y": f + e * (np.arange(rows) + 0.5), "x": c + a * (np.arange(columns) + 0.5)},
    )
    x, y = _transformer("EPSG:4326", terrain.crs).transform(
        np.atleast_1d(lon_deg), np.atleast_1d(lat_deg), errcheck=True
    )
    places = {"x": xarray.DataArray(x, dims="place"), "y": xarray.DataArray(y, dims="place")}
    return np.asarray(array.interp(places, method="linear").to_numpy(), dtype=np.float64)


def gdal_point_ground_m(path: Path, lon_deg: float, lat_deg: float, *, folder: Path) -> float:
    """Return the ground at one place: a warp to a single cell of 1e-7 degrees around it.

    Like `gdal_lattice_ground_m`, which is for many places.
    """
    half = 0.5e-7
    box = (lon_deg - half, lat_deg - half, lon_deg + half, lat_deg + half)
    _, _, ground_m = gdal_lattice_ground_m(path, box, size=(1, 1), folder=folder)
    return float(ground_m[0])


def gdal_lattice_ground_m(
    path: Path,
    box_deg: tuple[float, float, float, float],
    *,
    size: tuple[int, int],
    folder: Path,
) -> tuple[Floats, Floats, Floats]:
    """Return places and their ground by `gdalwarp -r bilinear`, a program of its own.

    Parameters
    ----------
    path : Path
        The raster.
    box_deg : tuple of float
        West, south, east, north edges of the target.
    size : tuple of int
        Columns and rows of the target; its cell centres are the places.
    folder : Path
        Where the warped raster may be written.

    Returns
    -------
    lon_deg, lat_deg, ground_m : ndarray, shape (columns * rows,)
        NaN where GDAL found no source. Near the raster's edge and beside missing
        cells GDAL spreads the weights over what is left: no reference there.

    Notes
    -----
    XSCALE and YSCALE keep the kernel at one source cell, whatever the target's
    spacing; -et 0 transforms every cell exactly. (GDAL documentation, "gdalwarp" and
    GDALWarpOptions::papszWarpOptions.)
    """
    columns, rows = size
    west, south, east, north = box_deg
    target = folder / "lattice.tif"
    options = "-q -overwrite -r bilinear -et 0 -ot Float64 -wt Float64 -dstnodata nan"
    kernel = "-wo XSCALE=1 -wo YSCALE=1 -wo SAMPLE_GRID=YES"
    extent = ["-t_srs", "EPSG:4326", "-te", *map(repr, box_deg), "-ts", str(columns), str(rows)]
    command = ["gdalwarp", *options.split(), *kernel.split(), *extent, str(path), str(target)]
    subprocess.run(command, check=True, capture_output=True, text=True)
    with rasterio.open(target) as dataset:
        ground_m = dataset.read(1).ravel()
    lon_deg = west + (np.arange(columns) + 0.5) * (east - west) / columns
    lat_deg = north - (np.arange(rows) + 0.5) * (north - south) / rows
    lon_grid, lat_grid = np.meshgrid(lon_deg, lat_deg)
    return lon_grid.ravel(), lat_grid.ravel(), ground_m


# ---------------------------------------------------------------- above ground


@dataclass(frozen=True, slots=True, kw_only=True)
class LegScan:
    """The least and the greatest height above ground on a leg, and where (horizontal metres)."""

    min_m: float
    min_at_m: float
    max_m: float
    max_at_m: float


def scan_leg(
    terrain: Terrain, start: Position, end: Position, *, step_m: float = 0.001, node_m: float = 10.0
) -> LegScan:
    """Look at every `step_m` of the geodesic from `start` to `end`, height linear in distance.

    Places are exact every `node_m` and linear in the raster's own rows and columns
    between (10 m of a great circle leave their chord by 10² / 8R = 2 micrometres).

    Raises
    ------
    ValueError
        If any ground on the way is missing: this reference knows no voids.
    """
    azimuth_deg, _, length_m = GEODESIC.inv(start.lon_deg, start.lat_deg, end.lon_deg, end.lat_deg)
    nodes_m = np.linspace(0.0, length_m, max(2, int(np.ceil(length_m / node_m)) + 1))
    same = np.ones_like(nodes_m)
    lon_deg, lat_deg, _ = GEODESIC.fwd(
        start.lon_deg * same, start.lat_deg * same, azimuth_deg * same, nodes_m
    )
    node_rows, node_columns = cell_positions(terrain, lon_deg, lat_deg)
    along_m = np.linspace(0.0, length_m, max(2, int(np.ceil(length_m / step_m)) + 1))
    row = np.interp(along_m, nodes_m, node_rows)
    column = np.interp(along_m, nodes_m, node_columns)
    elevation_m = np.interp(along_m, [0.0, length_m], [start.elevation_m, end.elevation_m])
    above_ground_m = elevation_m - _bilinear(terrain, np.stack([row, column]))
    if np.isnan(above_ground_m).any():
        message = "ground is missing under this leg: the scan has nothing to say"
        raise ValueError(message)
    least, most = int(np.argmin(above_ground_m)), int(np.argmax(above_ground_m))
    return LegScan(
        min_m=float(above_ground_m[least]),
        min_at_m=float(along_m[least]),
        max_m=float(above_ground_m[most]),
        max_at_m=float(along_m[most]),
    )


# ---------------------------------------------------------------- clearance


def clearance_m(
    terrain: Terrain,
    point: Position,
    *,
    tolerance_m: float = 0.001,
    radius_m: float | None = None,
) -> float:
    """Return the shortest distance from a point to the known ground; below it, minus that.

    Every patch within reach is halved in both directions until no piece can hold
    a place nearer, by more than `tolerance_m`, than the nearest place looked at.
    A piece of a bilinear patch lies in the convex hull of its four corners. Seen
    from the point along the unit vector n toward the piece's middle, nothing of
    the hull is nearer than its nearest corner; and nothing of it is farther from
    the middle than the farthest corner. Both bound the nearest place possible::

        min (corner · n)      |middle| - max |corner - middle|

    Distances are taken in a metric frame about the point: azimuthal equidistant
    (geodesic distance and azimuth) across, elevation difference up.

    Parameters
    ----------
    terrain : Terrain
        The ground; patches with a missing corner are left out.
    point : Position
        From where.
    tolerance_m : float
        How much too great the answer may be at most; it is never too small.
    radius_m : float, optional
        How far to look; needed only where there is no ground below the point. By
        default the height above ground, which the distance cannot exceed.

    Raises
    ------
    ValueError
        If there is no ground below the point and no radius is given, or no whole
        patch within the radius.
    """
    below_m = float(scipy_ground_m(terrain, point.lon_deg, point.lat_deg)[0])
    if radius_m is None:
        radius_m = abs(point.elevation_m - below_m)
    if np.isnan(radius_m):
        message = "no ground below the point: give the radius to look within"
        raise ValueError(message)
    corners = _patches_near(terrain, point, radius_m)
    distance_m = float(
        np.fmin(_nearest(terrain, point, corners, tolerance_m), abs(point.elevation_m - below_m))
    )
    return -distance_m if point.elevation_m < below_m else distance_m


def _patches_near(terrain: Terrain, point: Position, radius_m: float) -> Floats:
    """Return (row, column) of the first corner of each whole patch near, shape (2, n)."""
    azimuths_deg = np.arange(0.0, 360.0, 5.0)
    same = np.ones_like(azimuths_deg)
    lon_deg, lat_deg, _ = GEODESIC.fwd(
        point.lon_deg * same, point.lat_deg * same, azimuths_deg, radius_m * same
    )
    around = cell_positions(terrain, lon_deg, lat_deg)
    last = np.array(terrain.heights_m.shape) - 2
    first_row, first_column = np.clip(np.floor(around.min(axis=1)) - 1, 0, last)
    last_row, last_column = np.clip(np.floor(around.max(axis=1)) + 1, 0, last)
    row, column = np.meshgrid(
        np.arange(first_row, last_row + 1), np.arange(first_column, last_column + 1), indexing="ij"
    )
    corners = np.stack([row.ravel(), column.ravel()])
    posts = [_post(terrain, _moved(corners, i, j)) for i in (0, 1) for j in (0, 1)]
    whole = np.isfinite(posts).all(axis=0)
    if not whole.any():
        message = f"no whole patch of ground within {radius_m} m of the point"
        raise ValueError(message)
    return corners[:, whole]


def _nearest(terrain: Terrain, point: Position, cells: Floats, tolerance_m: float) -> float:
    """Return the distance to the nearest place of the patches that start at `cells`."""
    low = np.zeros_like(cells)  # where in its cell a piece starts, 0 to 1
    size = 1.0
    best_m = np.inf
    while cells.shape[1]:
        middle = _vectors(terrain, point, cells, low + size / 2)
        corners = [
            _vectors(terrain, point, cells, _moved(low, i * size, j * size))
            for i in (0, 1)
            for j in (0, 1)
        ]
        middle_m = np.linalg.norm(middle, axis=0)
        best_m = min(best_m, float(middle_m.min()))
        toward = middle / np.maximum(middle_m, 1e-12)
        ahead_m = np.min([(corner * toward).sum(axis=0) for corner in corners], axis=0)
        reach_m = np.max([np.linalg.norm(corner - middle, axis=0) for corner in corners], axis=0)
        open_still = np.maximum(ahead_m, middle_m - reach_m) < best_m - tolerance_m
        cells, low = cells[:, open_still], low[:, open_still]
        size /= 2
        halves = [_moved(low, i * size, j * size) for i in (0, 1) for j in (0, 1)]
        cells, low = np.tile(cells, 4), np.concatenate(halves, axis=1)
    return best_m


def _vectors(terrain: Terrain, point: Position, cells: Floats, within: Floats) -> Floats:
    """Return vectors (east, north, up) in metres from the point to places on patches, (3, n)."""
    lon_deg, lat_deg = lonlat_of(terrain, *(cells + within))
    frame = pyproj.Proj(
        proj="aeqd", lat_0=point.lat_deg, lon_0=point.lon_deg, ellps="WGS84", units="m"
    )
    east_m, north_m = frame(lon_deg, lat_deg)
    down, right = within
    ground_m = (
        _post(terrain, cells) * (1 - down) * (1 - right)
        + _post(terrain, _moved(cells, 0, 1)) * (1 - down) * right
        + _post(terrain, _moved(cells, 1, 0)) * down * (1 - right)
        + _post(terrain, _moved(cells, 1, 1)) * down * right
    )
    return np.stack([east_m, north_m, ground_m - point.elevation_m])


def _moved(places: Floats, down: float, right: float) -> Floats:
    return places + np.array([[down], [right]], dtype=np.float64)


def _post(terrain: Terrain, cells: Floats) -> Floats:
    row, column = cells.astype(int)
    return np.asarray(terrain.heights_m[row, column])


# ---------------------------------------------------------------- lengths


def geodesic_length_m(lon_deg: ArrayLike, lat_deg: ArrayLike) -> float:
    """Return the length of the geodesic polyline through the places, by geographiclib."""
    places = list(zip(np.asarray(lat_deg).tolist(), np.asarray(lon_deg).tolist(), strict=True))
    legs = itertools.pairwise(places)
    return math.fsum(Geodesic.WGS84.Inverse(*start, *end)["s12"] for start, end in legs)


def geodesic_azimuth_deg(lon_deg: tuple[float, float], lat_deg: tuple[float, float]) -> float:
    """Return the azimuth at the first place toward the second, by geographiclib."""
    inverse = Geodesic.WGS84.Inverse(lat_deg[0], lon_deg[0], lat_deg[1], lon_deg[1])
    return float(inverse["azi1"])

"""Open one elevation model and find out what it is, or refuse it.

This is the only module that opens rasters for their description; `blocks`
reads their values. Nothing is guessed: a file that does not say where it lies
is refused, and what it does not say about its heights is reported as assumed.
"""

from __future__ import annotations

import math
import warnings
from dataclasses import dataclass, field, fields, replace
from pathlib import Path
from typing import Any

import numpy as np
import pyproj
import rasterio
from rasterio.enums import MaskFlags
from rasterio.errors import NotGeoreferencedWarning, RasterioError

from terrain_guard.errors import RefusedTerrain
from terrain_guard.ground.card import NO_CARD, Card
from terrain_guard.units import FOOT_M, US_SURVEY_FOOT_M

ENVIRONMENT: dict[str, Any] = {
    "GTIFF_REPORT_COMPD_CS": True,  # else a compound CRS loses its vertical half
    # Look for files beside the model (mask, unit, world file), but do not list the folder.
    "GDAL_DISABLE_READDIR_ON_OPEN": True,
    "GDAL_CACHEMAX": 64 * 2**20,
}
UNIT_WORDS = {
    "m": 1.0,
    "metre": 1.0,
    "meter": 1.0,
    "metres": 1.0,
    "meters": 1.0,
    "ft": FOOT_M,
    "foot": FOOT_M,
    "feet": FOOT_M,
    "us-ft": US_SURVEY_FOOT_M,
    "ftus": US_SURVEY_FOOT_M,
    "us survey foot": US_SURVEY_FOOT_M,
    "us survey feet": US_SURVEY_FOOT_M,
}
LOWEST_M, HIGHEST_M = -450.0, 8900.0
"""Land on this planet: below the Dead Sea's shore, above Everest (common practice, no source)."""


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Raster:
    """What one elevation model says of itself; holds no values.

    `affine` is (a, b, c, d, e, f): x = a·col + b·row + c, y = d·col + e·row + f,
    with whole numbers at cell *corners*; a file registered on points has been
    shifted by GDAL, so that its posts, too, lie half a cell in.
    """

    path: Path
    size_bytes: int
    width: int
    height: int
    affine: tuple[float, float, float, float, float, float]
    crs: pyproj.CRS  # horizontal half
    crs_text: str
    vertical: pyproj.CRS | None = None  # vertical half; of three axes if ellipsoidal
    vertical_datum: str
    unit_m: float
    unit_text: str
    registration: str
    nodata: float | None
    scale: float
    offset: float
    dtype: np.dtype[Any]
    block_shape: tuple[int, int]
    has_mask: bool
    may_be_sparse: bool
    cell_m: tuple[float, float] = field(default=(float("nan"), float("nan")))
    card: Card = NO_CARD  # what is said beside it; see `carded`


def open_raster(path: str | Path) -> Raster:
    """Describe the elevation model at `path` by itself, whatever its card says.

    Raises
    ------
    RefusedTerrain
        File missing, not a raster, cut short, without CRS or place on earth,
        more than one band, not heights (8-bit, complex), heights in an unknown
        or contradictory unit, scaled by nothing, or counted downward.
    """
    path = Path(path)
    if not path.is_file():
        msg = f"{str(path)!r} is not a file: give a GeoTIFF elevation model"
        raise RefusedTerrain(msg)
    try:
        with warnings.catch_warnings(), rasterio.Env(**ENVIRONMENT):
            warnings.simplefilter("ignore", NotGeoreferencedWarning)  # refused below, in words
            with rasterio.open(path) as dataset:
                return _describe(path, dataset)
    except RasterioError as error:
        msg = (
            f"{path.name!r} cannot be read as a raster ({_short(error)}): "
            "give an intact GeoTIFF elevation model"
        )
        raise RefusedTerrain(msg) from error


def is_ellipsoidal(vertical: pyproj.CRS) -> bool:
    """Return whether heights count from an ellipsoid rather than from a geoid or a tide gauge."""
    return len(vertical.axis_info) == 3


def same_description(one: Raster, other: Raster) -> bool:
    """Return whether two descriptions say the same of the same file."""
    told = [
        {item.name: getattr(raster, item.name) for item in fields(raster)}
        for raster in (one, other)
    ]
    for facts in told:
        facts["crs"], facts["vertical"] = facts["crs"].name, None  # crs_text names both
        facts["nodata"] = str(facts["nodata"])  # NaN equals NaN here
    return told[0] == told[1]


def _short(error: Exception) -> str:
    return " ".join(str(error.__cause__ or error).split())[:120]


def _describe(path: Path, dataset: Any) -> Raster:
    _refuse_what_is_not_heights(path, dataset)
    horizontal, vertical = _split_crs(path, dataset)
    unit_m, unit_text = _vertical_unit(path, dataset, vertical)
    affine = tuple(dataset.transform)[:6]
    raster = Raster(
        path=path,
        size_bytes=path.stat().st_size,
        width=dataset.width,
        height=dataset.height,
        affine=affine,
        crs=horizontal,
        crs_text=_crs_text(horizontal, vertical),
        vertical=vertical,
        vertical_datum=vertical.name if vertical is not None else "not stated",
        unit_m=unit_m,
        unit_text=unit_text,
        registration=str(dataset.tags().get("AREA_OR_POINT", "Area")).lower(),
        nodata=dataset.nodata,
        scale=float(dataset.scales[0]),
        offset=float(dataset.offsets[0]),
        dtype=np.dtype(dataset.dtypes[0]),
        block_shape=dataset.block_shapes[0],
        has_mask=MaskFlags.per_dataset in dataset.mask_flag_enums[0],
        may_be_sparse=dataset.driver == "GTiff" and dataset.nodata is None,
    )
    _refuse_cut_short(path, dataset)
    return with_cell_size(raster)


def _refuse_what_is_not_heights(path: Path, dataset: Any) -> None:
    name, dtype = path.name, str(dataset.dtypes[0])  # NumPy has no complex integers
    if dataset.count != 1:
        msg = (
            f"{name!r} has {dataset.count} bands: an elevation model has one band of heights; "
            "give the model itself, not a picture of it"
        )
        raise RefusedTerrain(msg)
    if dtype.startswith("complex") or np.dtype(dtype).itemsize == 1:
        msg = (
            f"{name!r} holds {dtype} values, which cannot be elevations (a shaded relief or "
            "colour picture?): give the elevation model with 16-bit or floating-point heights"
        )
        raise RefusedTerrain(msg)
    scale, offset = float(dataset.scales[0]), float(dataset.offsets[0])
    if not (math.isfinite(scale) and math.isfinite(offset) and scale != 0):
        msg = (
            f"{name!r} scales its values by {scale:g} and adds {offset:g}: that makes no heights; "
            "correct the file's scale and offset"
        )
        raise RefusedTerrain(msg)
    if dataset.crs is None or not dataset.crs.to_wkt():
        msg = (
            f"{name!r} has no coordinate reference system: the program does not guess one; "
            "write the right one into the file (for example with gdal_edit -a_srs)"
        )
        raise RefusedTerrain(msg)
    a, b, _, d, e, _ = tuple(dataset.transform)[:6]
    if dataset.transform.is_identity or not abs(a * e - b * d) > 0:
        msg = (
            f"{name!r} does not say where its cells lie: a geotransform is needed; "
            "georeference the file first"
        )
        raise RefusedTerrain(msg)
    if min(dataset.width, dataset.height) < 2:
        msg = (
            f"{name!r} is {dataset.width} x {dataset.height} cells: ground between cell centres "
            "needs at least 2 x 2; give a larger piece of terrain"
        )
        raise RefusedTerrain(msg)


def _split_crs(path: Path, dataset: Any) -> tuple[pyproj.CRS, pyproj.CRS | None]:
    crs = pyproj.CRS.from_wkt(dataset.crs.to_wkt(version="WKT2_2019"))
    horizontal, vertical = crs, None
    if crs.is_compound:
        horizontal, vertical = crs.sub_crs_list[:2]
    elif len(crs.axis_info) == 3:
        horizontal = crs.to_2d()
        vertical = crs
    if not (horizontal.is_geographic or horizontal.is_projected):
        msg = (
            f"{path.name!r} is in {crs.name!r}, which is neither geographic nor projected and "
            "cannot be tied to latitude and longitude: reproject the model first"
        )
        raise RefusedTerrain(msg)
    return horizontal, vertical


def _crs_text(horizontal: pyproj.CRS, vertical: pyproj.CRS | None) -> str:
    def one(crs: pyproj.CRS) -> str:
        authority = crs.to_authority(min_confidence=70)
        return ":".join(authority) if authority else str(crs.name)

    if vertical is None or len(vertical.axis_info) == 3:
        return one(vertical or horizontal)
    return f"{one(horizontal)} + {one(vertical)}"


def _vertical_unit(path: Path, dataset: Any, vertical: pyproj.CRS | None) -> tuple[float, str]:
    stated = (dataset.units[0] or "").strip()
    from_band = UNIT_WORDS.get(stated.lower()) if stated else None
    if stated and from_band is None:
        msg = (
            f"{path.name!r} gives its heights in {stated!r}: metres, feet and US survey feet are "
            "known; rewrite the file's unit"
        )
        raise RefusedTerrain(msg)
    axis = vertical.axis_info[-1] if vertical is not None else None
    from_crs = axis.unit_conversion_factor if axis is not None else None
    crs_unit = axis.unit_name if axis is not None else ""
    if axis is not None and axis.direction == "down":
        msg = (
            f"{path.name!r} gives depths, counted downward ({axis.name}): heights counted upward "
            "are needed; convert the file"
        )
        raise RefusedTerrain(msg)
    if from_band and from_crs and abs(from_band / from_crs - 1) > 1e-7:
        msg = (
            f"{path.name!r} contradicts itself: its band says {stated!r}, its vertical reference "
            f"system says {crs_unit!r}; correct the one that is wrong"
        )
        raise RefusedTerrain(msg)
    if from_crs:
        return float(from_crs), crs_unit
    if from_band:
        return from_band, stated
    return 1.0, "metre (assumed, the file does not say)"


def _refuse_cut_short(path: Path, dataset: Any) -> None:
    """Refuse a GeoTIFF whose first or last block lies beyond the end of the file."""
    if dataset.driver != "GTiff":
        return
    rows, columns = dataset.block_shapes[0]
    last = (dataset.width - 1) // columns, (dataset.height - 1) // rows
    for column, row in {(0, 0), last}:
        offset = dataset.get_tag_item(f"BLOCK_OFFSET_{column}_{row}", "TIFF", bidx=1)
        size = dataset.get_tag_item(f"BLOCK_SIZE_{column}_{row}", "TIFF", bidx=1)
        if offset and size and int(offset) + int(size) > path.stat().st_size:
            msg = (
                f"{path.name!r} is cut short: it ends before its own last block; "
                "fetch or copy the file again"
            )
            raise RefusedTerrain(msg)


def with_cell_size(raster: Raster) -> Raster:
    """Measure one cell along its rows and columns, geodesic metres, at the model's middle.

    Raises
    ------
    RefusedTerrain
        The middle lies where its reference system is not defined.
    """
    a, b, c, d, e, f = raster.affine
    column = raster.width / 2 + np.array([0.0, 1.0, 0.0])
    row = raster.height / 2 + np.array([0.0, 0.0, 1.0])
    to_degrees = pyproj.Transformer.from_crs(raster.crs, "EPSG:4326", always_xy=True)
    lon, lat = to_degrees.transform(a * column + b * row + c, d * column + e * row + f)
    if not np.all(np.isfinite(lon)) or np.any(np.abs(lat) > 90):
        msg = (
            f"{raster.path.name!r} lies outside the area where {raster.crs_text} is defined: "
            "check its reference system and geotransform"
        )
        raise RefusedTerrain(msg)
    geodesic = pyproj.Geod(ellps="WGS84")
    _, _, size = geodesic.inv([lon[0]] * 2, [lat[0]] * 2, lon[1:], lat[1:])
    return replace(raster, cell_m=(float(size[0]), float(size[1])))

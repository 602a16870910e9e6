"""Make the sample elevation models: an invented valley on an invented island.

    python scripts/make_sample_dem.py [FOLDER]

writes `valley_ground.tif` (bare earth) and `valley_surface.tif` (first return: the
same ground with a small wood and a few roofs), each with its card (what the raster
does not say of itself), into the folder, `sample_dem/` unless one is given. Nothing in
them is real: the place is open ocean. Every run makes the same files.

The land is made the way land is made, only faster:

1. *Hills* rise away from three streams; running water drains them.
2. *Valley*: gravel fills the main valley to a floor; the stream cuts through it,
   shallow above, a gully below.
3. *People*: one slope is terraced; a dam with a spillway holds a lake.
4. *First return*: the crowns of a wood, and roofs, on top of the ground.

Places are metres east and north of the launch on the grid of UTM zone 26N.
"""

from __future__ import annotations

import sys
from pathlib import Path

import numpy as np
import rasterio
from _landforms import (
    Array,
    Mask,
    along_across,
    at_rows_columns,
    blurred,
    cell_centres,
    course,
    drained,
    higher,
    lower,
    nearest,
    noise,
    ramp,
    rough,
)
from pyproj import Transformer
from rasterio.transform import Affine
from scipy.ndimage import label

CRS = "EPSG:32626+3855"  # WGS 84 / UTM zone 26N, EGM2008 height
LAUNCH_LON_LAT_DEG = (-28.4051, 47.3124)
LAUNCH_ELEVATION_M = 212.0
CELL_M = 2.0
CELLS = 1024
WEST_M, SOUTH_M = -1000.0, -1200.0  # of the launch, before snapping to whole cells
QUANTUM_M = 1 / 64
VERTICAL_DATUM = "EPSG:3855"
SURVEY_DATE = "2024-06-18"  # invented, like all the rest
SEED = 4731

COARSE_M = 8.0  # cell of the drained hills
BEYOND_M = 400.0  # how far they reach past the sample

# Streams: east, north, elevation of rock under the gravel, of the bed, of the floor.
MAIN_STREAM = [
    (640, 1500, 328, 330, 290), (575, 1150, 294, 296, 280), (460, 890, 263, 268, 266),
    (425, 690, 241, 247, 248), (310, 500, 222, 230, 231), (215, 350, 210, 217, 221),
    (120, 225, 205, 212, 216), (52, 120, 201, 210.5, 213.2), (50, 30, 199, 209, 211.7),
    (15, -60, 196, 207.5, 210), (-50, -100, 193, 206, 208.5),
    (-120, -165, 189, 202, 207), (-205, -205, 184, 193, 205.5),
    (-270, -285, 178, 179, 203), (-350, -350, 170, 171, 198),
    (-395, -450, 165, 165, 180), (-430, -570, 159, 159, 164),
    (-465, -700, 151, 151, 150), (-580, -850, 141, 141, 140),
    (-640, -1000, 131, 131, 130), (-760, -1250, 118, 118, 110),
    (-800, -1700, 100, 100, 90),
]  # fmt: skip
SIDE_STREAM = [
    (1500, -540, 365), (1050, -600, 322), (800, -710, 290), (570, -760, 262),
    (350, -810, 246), (170, -840, 236), (0, -800, 228), (-130, -830, 218),
    (-260, -780, 200), (-370, -800, 175), (-500, -760, 146),
]  # fmt: skip
FAR_STREAM = [(-450, 1050, 380), (-900, 800, 330), (-1500, 650, 270)]

SHOULDER = (-80.0, -460.0, 90.0, 8.0)  # east, north, reach and lift of the spur's shoulder
LAKE_M = 227.0
IN_LAKE = (215.0, 350.0)  # a place under water
DAM_ENDS = ((-70.0, 256.0), (240.0, 98.0))
DAM_CREST_M = 229.5
SPILLWAY = [(92, 196, 227.2), (80, 172, 227.2), (66, 146, 214.0), (42, 116, 209.8)]
# Ragged ellipses: east, north, half length, half width, heading in degrees.
TERRACES = (-240.0, 95.0, 115.0, 75.0, -10.0)
WOOD = (215.0, -150.0, 150.0, 70.0, 35.0)
ROOFS = [  # east, north, length, width, heading, eaves, ridge
    (-92, -52, 15, 8, 40, 4.6, 7.0),
    (-118, -30, 11, 7, 50, 4.8, 6.6),
    (-70, -84, 20, 9, 35, 4.8, 8.6),
    (-88, -18, 9, 6, 120, 4.2, 5.6),
    (118, 132, 8, 6, 60, 5.0, 6.0),
]


def patch(rng: np.random.Generator, x: Array, y: Array, ellipse: tuple[float, ...]) -> Array:
    """1 inside an ellipse with a ragged edge, 0 outside."""
    east, north, half_length, half_width, heading_deg = ellipse
    along, across = along_across(x, y, (east, north), heading_deg)
    reach = np.hypot(along / half_length, across / half_width)
    return 1 - ramp(reach + 0.22 * noise(rng, x, y, 45.0), 0.9, 1.05)


def stream_cells(streams: Array, x: Array, y: Array) -> tuple[Mask, Array]:
    """Cells of the streams and of the rim, and the beds' elevation where there is one."""
    column = np.rint((streams[:, 0] - x[0, 0]) / COARSE_M).astype(int)
    row = np.rint((y[0, 0] - streams[:, 1]) / COARSE_M).astype(int)
    on = (row >= 0) & (row < len(x)) & (column >= 0) & (column < len(x))
    bed = np.full(x.shape, np.nan)
    bed[row[on], column[on]] = streams[on, 2]
    rim = np.ones(x.shape, dtype=bool)
    rim[1:-1, 1:-1] = False
    return rim | np.isfinite(bed), bed


def coarse_hills(rng: np.random.Generator, x: Array, y: Array) -> Array:
    """Hills between the streams, drained."""
    streams = np.vstack([course(s)[:, :3] for s in (MAIN_STREAM, SIDE_STREAM, FAR_STREAM)])
    distance, vertex = nearest(streams, x, y)
    distance = blurred(distance, 4)
    z = blurred(streams[vertex, 2], 10) + 225 * np.sin(np.clip(distance / 650, 0, 1.6) * np.pi / 2)
    bumps = rough(rng, x, y, {700: 50, 300: 30, 120: 14, 50: 6, 20: 3})
    z += bumps * np.clip(distance / 200, 0, 1)
    fixed, bed = stream_cells(streams, x, y)
    z = np.where(np.isfinite(bed), bed, z)
    hardness = np.exp(rough(rng, x, y, {350: 0.22, 120: 0.15, 50: 0.12}))
    return drained(rng, z, fixed, hardness, COARSE_M)


def hills(rng: np.random.Generator, x: Array, y: Array) -> Array:
    """Drained hills on the fine grid, softened, rougher where steep."""
    cells = int((CELLS * CELL_M + 2 * BEYOND_M) / COARSE_M)
    west, north = x[0, 0] - BEYOND_M, y[0, 0] + BEYOND_M
    coarse = blurred(coarse_hills(rng, *cell_centres(west, north, COARSE_M, cells)), 0.8)
    bent_x = x + rough(rng, x, y, {70: 7, 28: 3})
    bent_y = y + rough(rng, x, y, {70: 7, 28: 3})
    rows, columns = (north - bent_y) / COARSE_M - 0.5, (bent_x - west) / COARSE_M - 0.5
    z = at_rows_columns(coarse, rows, columns, order=3)
    steep = ramp(np.hypot(*np.gradient(blurred(z, 4), CELL_M)), 0.15, 0.7)
    texture = rough(rng, x, y, {45: 1.3, 22: 0.7, 11: 0.4, 5: 0.15})
    east, north, reach, lift = SHOULDER
    shoulder = lift * np.exp(-0.5 * ((x - east) ** 2 + (y - north) ** 2) / reach**2)
    return z + shoulder + texture * (0.25 + 0.75 * steep)


def valley(rng: np.random.Generator, x: Array, y: Array, z: Array) -> Array:
    """Gravel floor, and the stream cut into it: shallow above, a gully below."""
    sway_x, sway_y = (rough(rng, x, y, {120: 9, 50: 5, 20: 1.5}) for _ in range(2))
    stream = course(MAIN_STREAM)
    distance, vertex = nearest(stream, x + sway_x, y + sway_y, 400)
    reach = np.minimum(distance, 400)
    away = 0.03 * reach - 0.7 * np.maximum(reach - 150, 0)
    floor = blurred(stream[vertex, 4] + away, 12)
    z = higher(z, floor + rough(rng, x, y, {90: 0.5, 30: 0.15, 10: 0.05}), 3.0)
    wall = 0.8 * np.maximum(distance - 3, 0)
    wall += 0.2 * np.minimum(wall, 25) * noise(rng, x, y, 35.0)
    return lower(z, stream[vertex, 3] + wall, 0.8)


def level_launch(x: Array, y: Array, z: Array) -> Array:
    """All of it raised or lowered so that the launch has its elevation, on a level pad."""
    row, column = np.array([y[0, 0] / CELL_M]), np.array([-x[0, 0] / CELL_M])
    lift_m = LAUNCH_ELEVATION_M - float(at_rows_columns(z, row, column, order=1)[0])
    pad = 1 - ramp(np.hypot(x, y), 6.0, 14.0)
    return z + lift_m + pad * (LAUNCH_ELEVATION_M - z - lift_m)


def terraces(rng: np.random.Generator, x: Array, y: Array, z: Array) -> Array:
    """Near-level fields in steps of 3 m behind steep banks."""
    inside = patch(rng, x, y, TERRACES)
    smooth = blurred(z, 8) + 1.2 * noise(rng, x, y, 80.0)
    step, share = np.divmod(smooth, 3.0)
    stairs = 3.0 * step + 0.12 * share + 2.64 * ramp(share / 3.0, 0.68, 1.0)
    return z + inside * (stairs - z)


def dam(x: Array, y: Array, z: Array) -> Array:
    """Earth dam across the valley, its spillway, and the lake behind it."""
    (x0, y0), (x1, y1) = DAM_ENDS
    heading_deg = np.degrees(np.arctan2(x1 - x0, y1 - y0))
    along, across = along_across(x, y, (x0, y0), heading_deg)
    on = (along >= 0) & (along <= np.hypot(x1 - x0, y1 - y0))
    bank = DAM_CREST_M - np.maximum(np.abs(across) - 3, 0) / 2.2
    z = np.where(on, np.maximum(z, bank), z)
    chute = course(SPILLWAY)
    distance, vertex = nearest(chute, x, y, 10)
    near = 1 - ramp(distance, 5.0, 8.0)
    z = z + near * (np.minimum(chute[vertex, 2], z + 1.5) - z)
    pools, _ = label(z < LAKE_M)
    row, column = int((y[0, 0] - IN_LAKE[1]) / CELL_M), int((IN_LAKE[0] - x[0, 0]) / CELL_M)
    return np.where(pools == pools[row, column], LAKE_M, z)


def wood(rng: np.random.Generator, x: Array, y: Array, ground: Array) -> Array:
    """Crowns 8 to 22 m above the ground, uneven, with gaps; elsewhere the ground."""
    top = ground.copy()
    stems = np.argwhere(patch(rng, x, y, WOOD) > 0.5)
    stand = 15 + 4.0 * noise(rng, x, y, 60.0)
    for row, column in rng.choice(stems, len(stems) // 11, replace=False):
        tall = np.clip(stand[row, column] + rng.normal(0, 2.2), 8, 22)
        window = np.s_[row - 3 : row + 4, column - 3 : column + 4]
        away = np.hypot(x[window] - x[row, column], y[window] - y[row, column])
        share = away / (1.5 + 0.2 * tall)
        crown = ground[row, column] + tall * (1 - 0.5 * share**2)
        top[window] = np.where(share <= 1, np.maximum(top[window], crown), top[window])
    return top


def roofs(x: Array, y: Array, ground: Array, top: Array) -> Array:
    """Pitched roofs on rectangular houses."""
    for east, north, length, width, heading_deg, eaves, ridge in ROOFS:
        along, across = along_across(x, y, (east, north), heading_deg)
        inside = (np.abs(along) <= length / 2) & (np.abs(across) <= width / 2)
        pitch = ridge - (ridge - eaves) * np.abs(across) / (width / 2)
        top = np.where(inside, np.maximum(top, ground[inside].mean() + pitch), top)
    return top


def make() -> tuple[Array, Array, Affine]:
    """Elevations of ground and surface, metres, and the grid's affine."""
    rng = np.random.default_rng(SEED)
    to_grid = Transformer.from_crs("EPSG:4326", "EPSG:32626", always_xy=True)
    east, north = to_grid.transform(*LAUNCH_LON_LAT_DEG)
    west_edge = CELL_M * np.floor((east + WEST_M) / CELL_M)
    north_edge = CELL_M * np.floor((north + SOUTH_M) / CELL_M) + CELL_M * CELLS
    x, y = cell_centres(west_edge - east, north_edge - north, CELL_M, CELLS)
    ground = level_launch(x, y, valley(rng, x, y, hills(rng, x, y)))
    ground = dam(x, y, terraces(rng, x, y, ground))
    surface = roofs(x, y, ground, wood(rng, x, y, ground))
    return ground, surface, Affine(CELL_M, 0, west_edge, 0, -CELL_M, north_edge)


def write(path: Path, elevation: Array, affine: Affine) -> None:
    """One tiled, deflated GeoTIFF, rounded to the quantum, area registration."""
    profile = {
        "driver": "GTiff", "dtype": "float32", "count": 1, "crs": CRS,
        "height": CELLS, "width": CELLS, "transform": affine,
        "tiled": True, "blockxsize": 256, "blockysize": 256,
        "compress": "deflate", "zlevel": 9, "predictor": 3,
    }  # fmt: skip
    rounded = np.rint(elevation / QUANTUM_M) * QUANTUM_M
    with rasterio.open(path, "w", **profile) as file:
        file.write(rounded.astype(np.float32), 1)
        file.update_tags(AREA_OR_POINT="Area")


def write_card(path: Path, kind: str) -> None:
    """Write what a model does not say of itself into a file beside it."""
    says = {"kind": kind, "vertical_datum": VERTICAL_DATUM, "survey_date": SURVEY_DATE}
    lines = [f'{key} = "{value}"\n' for key, value in says.items()]
    path.with_name(f"{path.name}.toml").write_text("".join(lines), encoding="utf-8", newline="\n")


def main(folder: Path) -> None:
    """Write both models and their cards into a folder."""
    ground, surface, affine = make()
    folder.mkdir(parents=True, exist_ok=True)
    for kind, elevation in (("ground", ground), ("surface", surface)):
        write(folder / f"valley_{kind}.tif", elevation, affine)
        write_card(folder / f"valley_{kind}.tif", kind)


if __name__ == "__main__":
    sample = Path(__file__).resolve().parent.parent / "sample_dem"
    main(Path(sys.argv[1]) if len(sys.argv) > 1 else sample)

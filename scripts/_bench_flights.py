"""What is flown in the measurements: three shapes of samples, and routes.

Positions on a model are fractional (row, column) among its cell centres.
"""

from __future__ import annotations

from pathlib import Path

import numpy as np
import tomlkit

from terrain_guard.arrays import Floats
from terrain_guard.ground.model import Ground

SAMPLES = 100_000
SPACING_CELLS = 172.4  # between waypoints: 5 km with thirty of them, the ends included
LOW_M, HIGH_M = 70.0, 95.0  # above the ground at waypoints
TURN_M = 15.0
EDGE_CELLS = 60.0  # left free round the whole model
SURVEY_EDGE_CELLS = 500.0
SEED = 3
ONE_WAY = {
    "turns": {"kind": "fly-by", "corner_height": "mid-arc"},
    "climb": {"model": "linear", "too_steep": "slows", "out": "vertical"},
    "way_home": {"path": "climb-first"},
}


def shapes(size: int) -> dict[str, tuple[Floats, Floats]]:
    """Return (rows, columns) of the samples of three shapes on a model of size × size cells.

    About a metre apart on the 8000 × 8000 model of 1 m: a ring of 24 km in four laps,
    12 lanes over the whole model, 48 lanes over a square of 2 km.
    """
    middle, share = (size - 1) / 2, np.linspace(0, 1, SAMPLES)
    turn = share * 4 * 2 * np.pi
    radius = 0.4775 * size
    square = size / 8
    return {
        "ring": (middle + radius * np.sin(turn), middle + radius * np.cos(turn)),
        "lawn-mower": lanes((EDGE_CELLS, size - 1 - EDGE_CELLS), 12, share),
        "square": lanes((middle - square, middle + square), 48, share),
    }


def lanes(span: tuple[float, float], count: int, share: Floats) -> tuple[Floats, Floats]:
    """Return (rows, columns) at shares of the way up and down `count` lanes of a square."""
    corner_row = np.repeat(np.linspace(*span, count), 2)
    corner_column = np.resize([span[0], span[1], span[1], span[0]], 2 * count)
    return along(corner_row, corner_column, share)


def along(row: Floats, column: Floats, share: Floats) -> tuple[Floats, Floats]:
    """Return (rows, columns) at shares of the length of a line through corners."""
    length = np.append(0.0, np.cumsum(np.hypot(np.diff(row), np.diff(column))))
    at = share * length[-1]
    return np.interp(at, length, row), np.interp(at, length, column)


def wandering(size: int) -> tuple[Floats, Floats]:
    """Return launch and 30 waypoints of a way of 5 km that wanders eastward."""
    rng = np.random.default_rng(SEED)
    heading = np.cumsum(rng.normal(0, 0.5, 29))
    row = 0.375 * size - np.append(0, np.cumsum(SPACING_CELLS * np.sin(heading)))
    column = 0.25 * size + np.append(0, np.cumsum(SPACING_CELLS * np.cos(heading)))
    return np.append(row[0] + 120, row), np.append(column[0] - 150, column)


def survey(size: int, kilometres: float) -> tuple[Floats, Floats]:
    """Return launch and waypoints of the first kilometres (cells of 1 m) of 14 lanes."""
    count = max(2, round(kilometres * 1000 / SPACING_CELLS) + 1)
    west, east = SURVEY_EDGE_CELLS, size - SURVEY_EDGE_CELLS
    corner_row = np.repeat(np.linspace(west, east, 14), 2)
    corner_column = np.resize([west, east, east, west], 28)
    whole = np.hypot(np.diff(corner_row), np.diff(corner_column)).sum()
    share = np.arange(count) * SPACING_CELLS / whole
    row, column = along(corner_row, corner_column, share)
    return np.append(row[0] + 30, row), np.append(column[0] - 50, column)


def write_route(
    path: Path,
    ground: Ground,
    row: Floats,
    column: Floats,
    *,
    stated: bool = True,
    lands: str = "launch",
) -> Path:
    """Write a route whose typed heights stay near the ground at its waypoints.

    Parameters
    ----------
    row, column : (n,) float
        Launch, then the waypoints.
    stated : bool
        Whether the file says how turns, climbs and the way home are flown.
    lands : str
        Where the flight ends: "launch" or "here".
    """
    lon, lat = ground.degrees_at(row, column)
    elevation = ground.elevation(lon, lat)
    rng = np.random.default_rng(SEED)
    above = rng.uniform(LOW_M, HIGH_M, row.size - 1)
    height = elevation[1:] - elevation[0] + above
    parts = [_top(float(lat[0]), float(lon[0]), stated=stated, lands=lands)]
    parts += [
        f"[[waypoint]]\nlat = {lat[k + 1]:.8f}\nlon = {lon[k + 1]:.8f}\nheight = {height[k]:.1f}\n"
        for k in range(height.size)
    ]
    path.write_text("\n".join(parts), encoding="utf-8")
    return path


def state_one_way(route: Path, copy: Path) -> Path:
    """Write a copy of a route in which one way to fly is stated."""
    plan = tomlkit.parse(route.read_text(encoding="utf-8"))
    for table, words in ONE_WAY.items():
        plan.setdefault(table, tomlkit.table()).update(words)
    copy.write_text(tomlkit.dumps(plan), encoding="utf-8")
    return copy


def _top(lat_deg: float, lon_deg: float, *, stated: bool, lands: str) -> str:
    kind, model = ("fly-by", "linear") if stated else ("unstated", "unstated")
    corner, out, steep, home = (
        ('corner_height = "mid-arc"\n', 'out = "vertical"\n', 'too_steep = "slows"\n',
         'path = "climb-first"\n')
        if stated
        else ("", "", "", "")
    )  # fmt: skip
    return (
        'title = "Measurement"\nheights = "launch"\nheight_unit = "m"\nspeed_m_per_s = 6\n'
        f"[launch]\nlat = {lat_deg:.8f}\nlon = {lon_deg:.8f}\n"
        f'[turns]\nkind = "{kind}"\nturn_anticipation_m = {TURN_M:g}\n{corner}'
        f'[climb]\nmodel = "{model}"\ntake_off_height = 10\n{out}{steep}'
        f'[after_last]\ngo_to = "{lands}"\nthen = "land"\n'
        f"[way_home]\nheight = 150\n{home}"
    )

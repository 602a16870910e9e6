"""The launch spot: how steep its ground is, and how far it rises and falls near by.

The aircraft takes its zero where it really stands. If that may be some metres off
the spot in the plan, every height of the flight moves by what the ground does there::

    greatest ── · ╲
    planned ─────── o ╲          within `spot_within_m`
    least ────────────  · ──
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from terrain_guard.arrays import Floats
from terrain_guard.checks.budget.slopes import slopes
from terrain_guard.errors import RefusedInput
from terrain_guard.ground.model import Ground
from terrain_guard.path.frame import LocalFrame

ROUND_POINTS = 720


@dataclass(frozen=True, slots=True, kw_only=True)
class LaunchSpot:
    """Where the aircraft takes off; metres, NaN where the ground there is not known.

    `x_m`, `y_m` are its place in the route's local frame, `elevation_m` its ground in the
    model; `lower_m`, `higher_m` how far ground falls and rises within `within_m`.
    """

    x_m: float
    y_m: float
    elevation_m: float
    slope_east: float = 0.0
    slope_north: float = 0.0
    lower_m: float = 0.0
    higher_m: float = 0.0
    within_m: float = 0.0

    @property
    def slope(self) -> float:
        """The slope of the plane through it, whichever way it falls."""
        return float(np.hypot(self.slope_east, self.slope_north))


def launch_spot(
    ground: Ground,
    frame: LocalFrame,
    place: tuple[float, float],
    *,
    within_m: float,
    registration_m: float,
    cell_m: float,
) -> LaunchSpot:
    """Look at the ground where the aircraft takes off.

    Parameters
    ----------
    place : (float, float)
        East and north of the planned spot in the frame.
    within_m : float
        How far off the real spot may be.
    registration_m, cell_m : float
        As in `slopes`.

    Raises
    ------
    RefusedInput
        `within_m` is negative or no number.
    """
    if not (within_m >= 0 and np.isfinite(within_m)):
        msg = f"spot_within_m: given {within_m!r}, but it must be 0 m or more; give metres"
        raise RefusedInput(msg)
    lon, lat = frame.to_degrees([place[0]], [place[1]])
    row, column = ground.posts_at(lon, lat)
    plane = slopes(ground, row, column, registration_m=registration_m, cell_m=cell_m)
    here = float(ground.elevation_at(row, column)[0])
    least, greatest = _extremes(ground, frame, place, within_m) if within_m else (here, here)
    return LaunchSpot(
        x_m=place[0],
        y_m=place[1],
        elevation_m=here,
        slope_east=float(plane.east[0]),
        slope_north=float(plane.north[0]),
        lower_m=float(np.maximum(here - least, 0.0)),
        higher_m=float(np.maximum(greatest - here, 0.0)),
        within_m=within_m,
    )


def _extremes(
    ground: Ground, frame: LocalFrame, place: tuple[float, float], radius_m: float
) -> tuple[float, float]:
    """Return the least and the greatest ground of a disc; NaN if some of it is missing.

    A bilinear patch has no extreme inside and is straight along its edges: those of the disc
    are at posts within it, or on its rim.
    """
    turn = np.linspace(0, 2 * np.pi, ROUND_POINTS + 1)
    rim = place[0] + radius_m * np.cos(turn), place[1] + radius_m * np.sin(turn)
    row, column = ground.posts_at(*frame.to_degrees(*rim))
    if not np.isfinite(row + column).all():
        return float("nan"), float("nan")
    both = np.concatenate((_on_rim(ground, row, column), _inside(ground, row, column)))
    return float(both.min()), float(both.max())  # NaN wherever ground is missing


def _on_rim(ground: Ground, row: Floats, column: Floats) -> Floats:
    """Return the ground at the ends and the turning points of every piece of the rim."""
    below = ground.above_ground(row, column, np.zeros(row.shape))
    _, turning = below.vertex()
    found = np.concatenate(
        (below.a0, below.a0 + below.a1 + below.a2, turning[np.isfinite(turning)])
    )
    return -found


def _inside(ground: Ground, row: Floats, column: Floats) -> Floats:
    """Return the posts within a disc whose rim is given in posts, to a hair beyond it."""
    patches = ground.around(row, column, reach_m=0.0)
    rows = patches.row0 + np.arange(patches.z.shape[0], dtype=float)
    columns = patches.column0 + np.arange(patches.z.shape[1], dtype=float)
    east, north = patches.map.metres(*np.meshgrid(rows, columns, indexing="ij"))
    rim_east, rim_north = patches.map.metres(row[:-1], column[:-1])
    middle = rim_east.mean(), rim_north.mean()
    radius = np.hypot(rim_east - middle[0], rim_north - middle[1]).max()
    return patches.z[np.hypot(east - middle[0], north - middle[1]) <= radius]

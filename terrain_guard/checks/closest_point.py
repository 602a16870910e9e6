"""Where a ceiling holds only because it is measured to the closest point of the ground.

Straight down the same metre would be too high. The closest point is looked up
afresh and named, so that somebody can look at it::

         ● 131 m straight down
         │╲ 113 m
         │ ╲
         │  ◤ closest point: on a face this steep an elevation
    ─────┴─╱   model is not to be trusted
"""

from __future__ import annotations

import math
from typing import NamedTuple

import numpy as np

from terrain_guard.arrays import Bools, Floats
from terrain_guard.checks.clearance import nearest
from terrain_guard.checks.judge import BREACH, TOLERANCE_M
from terrain_guard.checks.reference import Ruler
from terrain_guard.checks.stretches import Judged
from terrain_guard.ground.model import Ground
from terrain_guard.ground.patches import Patches
from terrain_guard.path.curve import GAP
from terrain_guard.units import text_up

STEEP = 0.6
"""Rise over run beyond which a modelled face is not trusted. Our own choice, no source."""


class _Worst(NamedTuple):
    """One point of one curve: how high it stands above the ground straight below."""

    above_ground_m: float
    judged: Judged
    point: int


class ClosestPoint(NamedTuple):
    """The ground nearest to one metre, and the steepest slope within a cell of it."""

    lat_deg: float
    lon_deg: float
    elevation_m: float
    distance_m: float
    slope: float


def closest_point_remarks(judged: list[Judged], ruler: Ruler) -> tuple[str, ...]:
    """Say for each leg where it keeps a closest-point ceiling but would break it straight down.

    Of a leg that breaks the ceiling somewhere its findings speak.
    The worst metre of the leg, over all curves, speaks for it: the one highest above
    the ground straight below.
    """
    worst: dict[int, _Worst] = {}
    broken = {int(leg) for one in judged for leg in one.points.leg[one.judgement.ceiling == BREACH]}
    for one in judged:
        points, passes = one.points, _passes(one)
        for leg in np.unique(points.leg[passes]).tolist():
            ends = passes & (points.leg == leg)
            use = np.append(ends, False) | np.append(False, ends)
            use &= np.isfinite(points.above_ground_m)
            index = int(np.argmax(np.where(use, points.above_ground_m, -np.inf)))
            found = _Worst(float(points.above_ground_m[index]), one, index)
            worst[leg] = max(worst.get(leg, found), found, key=lambda w: w.above_ground_m)
    return tuple(_remark(leg, worst[leg], ruler) for leg in sorted(worst.keys() - broken))


def _passes(one: Judged) -> Bools:
    """Return the stretches that pass to the closest point, as computed, but not straight down."""
    points, wanted = one.points, one.wanted
    decides = wanted.closest_point_ceiling and one.curve.side != "low"
    if not decides or one.beneath.is_second:
        return np.zeros(points.leg.shape, dtype=bool)
    near = points.closest_m <= wanted.ceiling_m + TOLERANCE_M
    high = points.middle_above_ground_m > wanted.model_ceiling_m + TOLERANCE_M
    return near[:-1] & near[1:] & high & (points.leg != GAP)


def _remark(leg: int, worst: _Worst, ruler: Ruler) -> str:
    points, index, wanted = worst.judged.points, worst.point, worst.judged.wanted
    at_m = float(ruler.place(worst.judged.curve, points.along_m[index : index + 1], leg)[0])
    below_m = wanted.ground_below_m  # a surface model may stand above the ground
    above_m = worst.above_ground_m + below_m
    row, column, elevation_m = (
        float(values[index]) for values in (points.row, points.column, points.elevation_m)
    )
    found = closest_point(
        worst.judged.beneath.ground, row, column,
        elevation_m=elevation_m + below_m, above_ground_m=above_m,
    )  # fmt: skip
    return (
        f"Leg {leg} at {at_m:.0f} m keeps the ceiling of {wanted.ceiling_m:g} m under the "
        f"closest-point rule only: {text_up(found.distance_m)} m to the ground at "
        f"{found.lat_deg:.6f}, {found.lon_deg:.6f} (elevation {found.elevation_m:.1f} m); straight "
        f"down {text_up(above_m)} m{_doubt(found.slope)}."
    )


def _doubt(slope: float) -> str:
    """Say that the closest point is not to be trusted, where it lies on a steep face."""
    if slope <= STEEP:
        return ""
    known = f"steeper than {STEEP * 100:.0f} %" if slope > STEEP else "of unknown slope"
    return (
        f"; the ground there, or within a cell of it, is {known}: an elevation model is not to "
        "be trusted there"
    )


def closest_point(
    ground: Ground, row: float, column: float, *, elevation_m: float, above_ground_m: float
) -> ClosestPoint:
    """Return the ground nearest to one point, which is no farther than the ground below it.

    Parameters
    ----------
    row, column : float
        Fractional posts.
    elevation_m, above_ground_m : float
        Of the point; the ground below it is known.
    """
    here = [np.array([value]) for value in (row, column, elevation_m, above_ground_m)]
    reach = abs(float(above_ground_m)) + 1.0
    patches = ground.around(here[0], here[1], reach_m=reach)
    foot = nearest(patches, *here, reach_m=reach)
    lon, lat = ground.degrees_at(foot.row, foot.column)
    return ClosestPoint(
        lat_deg=float(lat[0]),
        lon_deg=float(lon[0]),
        elevation_m=float(foot.elevation_m[0]),
        distance_m=float(foot.clearance_m[0]),
        slope=_steepest(patches, float(foot.row[0]), float(foot.column[0])),
    )


def _steepest(patches: Patches, row: float, column: float) -> float:
    """Return the steepest slope of the cell at a point and of those that touch it."""
    i, j = (int(np.floor(value)) + np.arange(-1, 3) for value in (row, column))
    i = np.clip(i - patches.row0, 0, patches.z.shape[0] - 1)
    j = np.clip(j - patches.column0, 0, patches.z.shape[1] - 1)
    rows, columns = np.meshgrid(i, j, indexing="ij")
    east, north = patches.map.metres(rows + float(patches.row0), columns + float(patches.column0))
    place = np.stack((east, north, patches.z[rows, columns]))
    across, down = np.diff(place, axis=2), np.diff(place, axis=1)
    slopes = [
        _slope(across[:, edge, :], down[:, :, side])
        for edge in (slice(None, -1), slice(1, None))
        for side in (slice(None, -1), slice(1, None))
    ]
    known = [slope[np.isfinite(slope)] for slope in slopes]
    return max((float(slope.max()) for slope in known if slope.size), default=math.nan)


def _slope(along: Floats, other: Floats) -> Floats:
    """Return the slope at a corner of each patch from the two edges (3, n, n) that meet there."""
    with np.errstate(divide="ignore", invalid="ignore"):
        area = along[0] * other[1] - along[1] * other[0]
        east = (along[2] * other[1] - other[2] * along[1]) / area
        north = (other[2] * along[0] - along[2] * other[0]) / area
    return np.hypot(east, north)

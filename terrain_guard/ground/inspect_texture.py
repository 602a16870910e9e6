"""What all posts together look like: their range, their steps, how they vary.

Ground differs little from post to post and much from place to place: over 16 posts
the mean square difference is 6 to 150 times that between neighbours, on all real
ground tried. A shaded relief, a map of slopes or a picture is rough all over: 2 to
16 times.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import Final

import numpy as np

from terrain_guard.arrays import Bools, Floats
from terrain_guard.ground.inspect_parts import View
from terrain_guard.ground.raster import Raster
from terrain_guard.units import FOOT_M, US_SURVEY_FOOT_M

BELOW_SEA_M: Final = -10.0
"""Few dry places on earth lie lower: common practice, no source. (Polders reach -7 m.)"""
LAG: Final = 16
"""Posts between the places compared."""
EVERY: Final = 4
"""Slopes are taken at every fourth post of every fourth row; differences in every eighth row."""
LEAST_PAIRS: Final = 1000
STEPS: Final = (0.01, 0.02, 0.05, 0.1, 0.2, 0.25, 0.5, 1, 2, 2.5, 5, 10, 20, 25, 50, 100)
"""In the unit of the file."""
WHOLE_FEET: Final = (1, 2, 5, 10, 20, 25, 50, 100)
"""In feet, where the file is in metres."""
LEAST_VALUES: Final = 100
"""Fewer heights prove no common step."""


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Texture:
    """Sums over the posts seen; `plus` adds them up.

    ``fits`` answers, for each of `step_sizes_m`, whether all heights are multiples of it.
    ``lag_sums`` are (pairs, sum of squared differences) between neighbours and `LAG` apart;
    ``slopes`` counts posts by slope, a bin a degree.
    """

    known: int
    lowest: tuple[float, int, int]  # elevation (m), row, column
    highest: tuple[float, int, int]
    below_sea: int  # posts lower than `BELOW_SEA_M`
    fits: Bools
    lag_sums: Floats  # (2, 2)
    slopes: Floats  # (90,)

    def plus(self, other: Texture) -> Texture:
        """Return both together."""
        return Texture(
            known=self.known + other.known,
            lowest=min(self.lowest, other.lowest),
            highest=max(self.highest, other.highest),
            below_sea=self.below_sea + other.below_sea,
            fits=self.fits & other.fits,
            lag_sums=self.lag_sums + other.lag_sums,
            slopes=self.slopes + other.slopes,
        )

    def growth(self) -> float:
        """Return the mean square difference over `LAG` posts, by that of neighbours; or NaN."""
        (near_pairs, near), (far_pairs, far) = self.lag_sums
        if min(near_pairs, far_pairs) < LEAST_PAIRS or near == 0:
            return math.nan
        return float((far / far_pairs) / (near / near_pairs))

    def neighbour_step_m(self) -> float:
        """Return the root mean square difference between neighbours (m), or NaN."""
        pairs, squares = self.lag_sums[0]
        return math.sqrt(squares / pairs) if pairs >= LEAST_PAIRS else math.nan

    def steeper_than(self, degrees: int) -> float:
        """Return the share of the ground steeper than that; NaN if too little was seen."""
        seen = float(self.slopes.sum())
        return float(self.slopes[degrees:].sum()) / seen if seen >= LEAST_VALUES else math.nan


def step_sizes_m(raster: Raster) -> Floats:
    """Return the steps that are tried, metres, ascending."""
    own = [step * raster.unit_m for step in STEPS]
    if raster.unit_m != 1.0:
        return np.sort(np.array(own))
    feet = [number * foot for number in WHOLE_FEET for foot in (FOOT_M, US_SURVEY_FOOT_M)]
    return np.sort(np.array(own + feet))


def common_step_m(texture: Texture, raster: Raster) -> float:
    """Return the largest step all heights are multiples of; NaN if there is none."""
    relief = texture.highest[0] - texture.lowest[0]
    sizes = step_sizes_m(raster)
    good = sizes[texture.fits & (sizes <= relief)]
    return float(good[-1]) if good.size and texture.known >= LEAST_VALUES else math.nan


def texture(seen: View, raster: Raster) -> Texture | None:
    """Sum up one part; None if nothing of it is known."""
    z = seen.z[seen.inner]
    known = int(np.count_nonzero(~np.isnan(z)))
    if not known:
        return None
    rows = seen.part.rows[0], seen.part.columns[0]
    return Texture(
        known=known,
        lowest=_extreme(z, int(np.nanargmin(z)), rows),
        highest=_extreme(z, int(np.nanargmax(z)), rows),
        below_sea=int(np.count_nonzero(z < BELOW_SEA_M)),
        fits=fits(z, raster),
        lag_sums=np.array([_lag_sum(z, 1), _lag_sum(z, LAG)]),
        slopes=_slopes(z, raster.cell_m),
    )


def _extreme(z: Floats, flat: int, origin: tuple[int, int]) -> tuple[float, int, int]:
    row, column = divmod(flat, z.shape[1])
    return float(z[row, column]), origin[0] + row, origin[1] + column


def fits(z: Floats, raster: Raster) -> Bools:
    """Return which of `step_sizes_m` all known heights are multiples of."""
    heights = z[~np.isnan(z)] - raster.offset * raster.unit_m
    sizes = step_sizes_m(raster)
    slack = _slack_m(heights, raster)
    few = heights[:: max(1, heights.size // LEAST_VALUES)]  # enough to tell most steps apart
    answer = np.zeros(sizes.size, dtype=bool)
    for number in range(sizes.size - 1, -1, -1):
        size = sizes[number]
        coarser = sizes[answer] / size
        answer[number] = bool((np.abs(coarser - np.round(coarser)) < 1e-9).any()) or (
            slack < size / 4 and all(_are_multiples(z, size, slack) for z in (few, heights))
        )
    return answer


def _are_multiples(heights: Floats, size: float, slack: float) -> bool:
    off = heights / size
    off -= np.round(off)
    return bool((np.abs(off) <= slack / size).all())


def _slack_m(heights: Floats, raster: Raster) -> float:
    """Return how far off a height may be stored, metres, if it went through 32 bits once."""
    largest = float(np.abs(heights).max(initial=0.0)) / raster.unit_m
    return raster.unit_m * (1e-6 + float(np.spacing(np.float32(largest))))


def _lag_sum(z: Floats, lag: int) -> tuple[float, float]:
    pairs, squares = 0, 0.0
    for lines in (z[:: 2 * EVERY], z.T[:: 2 * EVERY]):
        difference = lines[:, lag:] - lines[:, :-lag]
        known = np.isfinite(difference)
        pairs += int(np.count_nonzero(known))
        squares += float((difference[known] ** 2).sum())
    return float(pairs), squares


def _slopes(z: Floats, cell_m: tuple[float, float]) -> Floats:
    every = slice(None, None, EVERY)
    east = (z[1:-1, 2:] - z[1:-1, :-2])[every, every] / (2 * cell_m[0])
    north = (z[2:, 1:-1] - z[:-2, 1:-1])[every, every] / (2 * cell_m[1])
    slope = np.degrees(np.arctan(np.hypot(east, north)))
    counts, _ = np.histogram(slope[np.isfinite(slope)], bins=90, range=(0.0, 90.0))
    return counts.astype(float)

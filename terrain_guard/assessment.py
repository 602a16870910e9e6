"""The answer, as data: what every table, plot and file is written from.

Metres, unrounded; NaN (or None for a whole entry) where something was not
assessed. Arrays are read-only; objects that hold arrays do not compare.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

from terrain_guard.ground.used import TerrainUsed

__all__ = [
    "Assessment",
    "Extreme",
    "Finding",
    "LaunchUsed",
    "LegRow",
    "Limits",
    "Samples",
    "TerrainUsed",
]

if TYPE_CHECKING:
    import numpy as np
    from numpy.typing import NDArray

    from terrain_guard.plan.route import Route
    from terrain_guard.plan.rules import Rules
    from terrain_guard.states import State


@dataclass(frozen=True, slots=True, kw_only=True)
class Extreme:
    """The worst metre of one leg in one respect.

    `assured_m` is the leg's worst with margins; the place is the nominal one's.
    Under a vertical ceiling the greatest clearance judges nothing, and its
    `assured_m` is that of the same metre.
    """

    nominal_m: float
    assured_m: float
    along_m: float
    lat_deg: float
    lon_deg: float
    curve: str


@dataclass(frozen=True, slots=True, kw_only=True)
class LegRow:
    """One row of the clearance table."""

    leg: int  # 0 is the climb-out, the last is the way home or what follows
    start: str
    end: str
    length_m: float  # flown, 3-D, on the reference curve
    typed_length_m: float  # geodesic, horizontal
    typed_start_m: float  # above launch, at the start of the leg
    typed_end_m: float
    from_m: float  # along the reference curve
    to_m: float
    state: State
    above_ground_min: Extreme | None
    above_ground_max: Extreme | None
    clearance_min: Extreme | None
    clearance_max: Extreme | None


@dataclass(frozen=True, slots=True, kw_only=True)
class Finding:
    """One stretch that fails one limit."""

    kind: str  # floor | ceiling | underground | column | not-assessed
    state: State
    leg: int
    from_m: float  # along the reference curve
    to_m: float
    worst_m: float  # clearance for floor and underground, height for ceiling; NaN if none
    at_m: float
    time_s: float  # since lift-off, at the worst metre
    lat_deg: float
    lon_deg: float
    curve: str
    message: str


@dataclass(frozen=True, slots=True, kw_only=True)
class LaunchUsed:
    """The launch ground that the heights were counted from."""

    lat_deg: float
    lon_deg: float
    elevation_m: float
    elevation_source: str
    spot_within_m: float


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Samples:
    """The reference curve, sample by sample; arrays of equal length n, float64.

    `state` holds indices into `states.SEVERITY`, worst of all curves, and covers
    the curve from the sample to the next one. `in_column` marks the take-off and
    landing columns, where the floor is not judged.
    """

    along_m: NDArray[np.float64]
    time_s: NDArray[np.float64]
    lat_deg: NDArray[np.float64]
    lon_deg: NDArray[np.float64]
    leg: NDArray[np.int64]
    in_column: NDArray[np.bool_]
    above_launch_m: NDArray[np.float64]
    ground_elevation_m: NDArray[np.float64]
    above_ground_m: NDArray[np.float64]
    clearance_m: NDArray[np.float64]
    state: NDArray[np.int64]


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Limits:
    """The two limiting surfaces under the reference curve, as elevations (n,)."""

    lowest_allowed_m: NDArray[np.float64]  # with the floor margin; NaN in the columns
    highest_allowed_m: NDArray[np.float64]  # with the ceiling margin


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Assessment:
    """Everything the program found out about one route over one terrain."""

    route: Route
    rules: Rules
    verdict: State
    length_m: float
    assessed_m: float
    floor_margin_m: float
    ceiling_margin_m: float
    margin_source: str
    launch: LaunchUsed
    terrain: tuple[TerrainUsed, ...]
    curves: tuple[str, ...]  # every curve flown, reference first
    legs: tuple[LegRow, ...]
    findings: tuple[Finding, ...]
    cautions: tuple[str, ...]
    not_checked: tuple[str, ...]
    assumed: tuple[str, ...]
    terrain_to_get: str | None  # the box of terrain to get, if some was missing
    samples: Samples

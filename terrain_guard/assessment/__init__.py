"""The answer, as data: what every table, plot and file is written from.

Metres, unrounded; NaN (or None for a whole entry) where something was not
assessed. Arrays are read-only; objects that hold arrays do not compare.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

from terrain_guard.assessment.home import (
    ComingHome,
    EveryMetre,
    GroundInTheWay,
    LegHome,
    Link,
    LossAction,
    ReturnHeight,
    Shares,
    Span,
    StandingPlace,
    Watcher,
    WayHome,
)
from terrain_guard.ground.used import TerrainUsed
from terrain_guard.path.altimeter import AS_TYPED, Altimeter

__all__ = [
    "Assessment",
    "BudgetPlace",
    "BudgetRow",
    "BudgetUsed",
    "CanopyUsed",
    "ComingHome",
    "EveryMetre",
    "Extreme",
    "Finding",
    "GroundInTheWay",
    "LaunchUsed",
    "LegHome",
    "LegRow",
    "Limits",
    "Link",
    "LossAction",
    "ReturnHeight",
    "Samples",
    "SecondGround",
    "Shares",
    "Span",
    "StandingPlace",
    "SurfaceTied",
    "TerrainUsed",
    "Watcher",
    "WayHome",
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
class BudgetRow:
    """One line of a worked budget; metres, squares in square metres.

    `what` is the cause's bucket ("declared bias", "random", "one-sided bound") or a step of
    the sum ("sum of squares", "sigma", "k sigma", "sum of bounds", "margin", "raised to").
    """

    name: str
    what: str
    floor_m: float
    ceiling_m: float
    squared_m2: float | None
    scope: str  # whole flight | local | ""
    is_assumed: bool
    source: str
    remedy: str  # what would shrink it; "" if nothing would


@dataclass(frozen=True, slots=True, kw_only=True)
class BudgetPlace:
    """The arithmetic of one metre of the reference curve: where a leg has least room, a side.

    `computed_m` is the clearance (floor) or the height (ceiling) as computed, `margin_m` what
    it is moved by, `assured_m` what is then left of it, `limit_m` the limit.
    """

    side: str  # floor | ceiling
    leg: int
    along_m: float
    lat_deg: float
    lon_deg: float
    launch_elevation_m: float  # what heights above ground count from
    above_launch_m: float  # as flown
    survey_shift_m: float  # what a surveyed launch adds
    ground_elevation_m: float
    above_ground_m: float
    computed_m: float
    margin_m: float
    assured_m: float
    limit_m: float
    rows: tuple[BudgetRow, ...]
    largest: str  # the name of the largest cause
    better: tuple[str, ...]  # what would shrink the margin, as "with a 1 m model: 17.5 → 6.6 m"
    flight_sigma_m: float  # moves the whole flight together
    local_sigma_m: float

    @property
    def room_m(self) -> float:
        """How much is left to the limit with margins; negative: it is broken."""
        left = self.assured_m - self.limit_m
        return left if self.side == "floor" else -left


@dataclass(frozen=True, slots=True, kw_only=True)
class BudgetUsed:
    """What the margins are made of.

    `floor`, `ceiling` are the places with the least room; `places` those of every leg.
    `band_m` is the least height band left between floor and ceiling, margins taken off both.
    The chances are those that any metre of the flight breaks a limit, NaN where not known.
    """

    words: str  # what it rests on
    floor_k: float
    ceiling_k: float
    floor_is_fixed: bool  # by the rules, whatever the budget says
    ceiling_is_fixed: bool
    floor: BudgetPlace | None
    ceiling: BudgetPlace | None
    places: tuple[BudgetPlace, ...]
    band_m: float
    corridor_m: float  # how far beside its line it may be, for the floor with margins
    floor_chance: float
    ceiling_chance: float


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

    kind: str  # floor | ceiling | sea-level ceiling | underground | column | not-assessed
    # and return | link-loss | link-loss-blocked | sight | link, no limits of one metre
    state: State
    leg: int
    from_m: float  # along the reference curve
    to_m: float
    worst_m: float  # clearance for floor and underground, height for ceilings; NaN if none
    at_m: float
    time_s: float  # since lift-off, at the worst metre
    lat_deg: float
    lon_deg: float
    curve: str
    message: str
    counts: bool = True  # in the verdict; sight and link only where the rules require them


@dataclass(frozen=True, slots=True, kw_only=True)
class CanopyUsed:
    """Trees that no model given shows, and where they count; metres.

    `floor_m` is added to the floor's margin, on the climb-out and on a slanting way
    home only if `floor_everywhere`; `ceiling_m` to the ceiling's margin;
    `ground_below_m` to heights under the ceiling, as computed.
    """

    height_m: float
    source: str
    floor_m: float = 0.0
    floor_everywhere: bool = False
    ceiling_m: float = 0.0
    ground_below_m: float = 0.0


NO_CANOPY = CanopyUsed(height_m=0.0, source="not asked for")


@dataclass(frozen=True, slots=True, kw_only=True)
class SurfaceTied:
    """How a surface model lies to the ground model on bare places near the route.

    `offset_m` is surface less ground, NaN where they could not be compared;
    `lifted_m` was added to every elevation of the surface.
    """

    offset_m: float
    places: int  # near the route, known to both
    bare: int  # of them
    lifted_m: float


@dataclass(frozen=True, slots=True, kw_only=True)
class SecondGround:
    """A second ground model, and how far it differs from the first along the reference curve.

    Differences are second less first, each less its own launch ground if the second
    has one. `spread_m` is half of what lies between 16 and 84 % of them.
    """

    terrain: tuple[TerrainUsed, ...]
    launch_elevation_m: float
    has_own_launch: bool
    floor_margin_m: float
    ceiling_margin_m: float
    median_m: float
    spread_m: float
    worst_m: float
    at_m: float
    assessed_share: float  # of the route, 0 to 1


@dataclass(frozen=True, slots=True, kw_only=True)
class LaunchUsed:
    """The launch ground that the heights were counted from.

    `model_elevation_m` is the model's own, where a survey does not replace but shift it:
    heights above ground count from there, and are shifted by `Samples.survey_shift_m`.
    """

    lat_deg: float
    lon_deg: float
    elevation_m: float
    elevation_source: str
    spot_within_m: float
    model_elevation_m: float | None = None

    @property
    def level_m(self) -> float:
        """What heights above ground count from, any shift aside."""
        return self.elevation_m if self.model_elevation_m is None else self.model_elevation_m


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Samples:
    """The reference curve, sample by sample; arrays of equal length n, float64.

    `state` holds indices into `states.SEVERITY`, worst of all curves, and covers
    the curve from the sample to the next one. `in_column` marks the take-off and
    landing columns, where the floor is not judged. `clearance_m` is to the nearer of
    ground and surface; `surface_elevation_m` is NaN unless a surface model is given
    beside the ground. `floor_margin_m` holds the canopy where that counts.
    `survey_shift_m` is what a surveyed launch adds to heights above ground; else 0.
    """

    along_m: NDArray[np.float64]
    time_s: NDArray[np.float64]
    lat_deg: NDArray[np.float64]
    lon_deg: NDArray[np.float64]
    leg: NDArray[np.int64]
    in_column: NDArray[np.bool_]
    above_launch_m: NDArray[np.float64]
    survey_shift_m: NDArray[np.float64]
    ground_elevation_m: NDArray[np.float64]
    surface_elevation_m: NDArray[np.float64]
    above_ground_m: NDArray[np.float64]
    clearance_m: NDArray[np.float64]
    floor_margin_m: NDArray[np.float64]
    ceiling_margin_m: NDArray[np.float64]
    state: NDArray[np.int64]


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Limits:
    """The two limiting surfaces under the reference curve, as elevations (n,)."""

    lowest_allowed_m: NDArray[np.float64]  # with the floor margin; NaN in the columns
    highest_allowed_m: NDArray[np.float64]  # with the ceiling margin


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Assessment:
    """Everything the program found out about one route over one terrain.

    `floor_margin_m` and `ceiling_margin_m` are the greatest margins of any way flown,
    without any canopy.
    """

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
    models: str = "ground"  # ground | both | surface: what the first judgement saw
    canopy: CanopyUsed = NO_CANOPY
    surface_tied: SurfaceTied | None = None  # of a surface beside the ground
    budget: BudgetUsed
    second_ground: SecondGround | None = None
    altimeter: Altimeter = AS_TYPED  # what is flown for what is typed
    coming_home: ComingHome | None = None  # None: the launch ground is not known

    @property
    def survey_shift_m(self) -> tuple[float, float] | None:
        """The least and greatest that a survey adds to heights above ground; None: no survey."""
        if self.launch.model_elevation_m is None:
            return None
        shift_m = self.samples.survey_shift_m
        return float(shift_m.min()), float(shift_m.max())

    @property
    def canopy_m(self) -> float:
        """How high trees may stand that no model shows."""
        return self.canopy.height_m

    @property
    def canopy_source(self) -> str:
        """Who says so."""
        return self.canopy.source

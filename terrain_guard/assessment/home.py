"""The way home, sight and link from every metre, as data.

Metres and seconds, unrounded; heights of ways home are as typed, above launch. What is said of
the flight's metres is along the reference curve, and the worst of every way it may be flown.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    import numpy as np
    from numpy.typing import NDArray


@dataclass(frozen=True, slots=True, kw_only=True)
class Span:
    """A stretch of the flight: metres along it, seconds since lift-off."""

    from_m: float
    to_m: float
    from_s: float
    to_s: float


@dataclass(frozen=True, slots=True, kw_only=True)
class Shares:
    """Metres of the flight by state."""

    within_m: float
    tight_m: float
    breach_m: float
    not_assessed_m: float

    @property
    def passes_m(self) -> float:
        """Metres that pass as computed."""
        return self.within_m + self.tight_m

    @property
    def total_m(self) -> float:
        """All metres."""
        return self.passes_m + self.breach_m + self.not_assessed_m


@dataclass(frozen=True, slots=True, kw_only=True)
class GroundInTheWay:
    """The ground that decides about one straight way, and from where that begins.

    `room_m` is how much lower the way may lie as computed, negative: how much higher it must;
    `above_ground_m` how high it passes straight above that ground, negative: into it.
    """

    begun_m: float  # along the flight
    begun_s: float
    leg: int
    way_m: float  # height of the way there, above launch, as flown
    room_m: float
    assured_room_m: float
    above_ground_m: float
    far_m: float  # from where it goes
    lat_deg: float
    lon_deg: float


@dataclass(frozen=True, slots=True, kw_only=True)
class WayHome:
    """One way home, begun at every metre of the flight."""

    path: str  # climb-first | climb-on-the-way | slanting | level
    to: str  # launch | home | pilot
    shares: Shares
    failing: tuple[Span, ...]  # breach or not assessed
    worst: GroundInTheWay | None  # None: nothing is known to be in the way of any
    # The least climb from there, up per metre forward, that keeps the floor as computed; None
    # where it climbs otherwise or does not fail; inf: none is enough.
    least_gradient: float | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class ReturnHeight:
    """The height to come home at by climbing first; typed, above launch.

    `needed_m` is the least that keeps the floor from every metre, `highest_m` the greatest that
    keeps the ceiling; both as computed and with margins. NaN: not known; inf: no ceiling.
    """

    set_m: float | None
    needed_m: float
    needed_assured_m: float
    needed_by: GroundInTheWay | None
    highest_m: float
    highest_assured_m: float
    highest_begun_m: float  # the metre from which the ceiling is lowest
    above_ceiling_m: float  # metres from which the needed height breaks the ceiling
    above_ceiling_by_m: float  # by how much at worst
    below_floor_m: float  # metres from which the highest height breaks the floor
    below_floor_by_m: float

    @property
    def is_open(self) -> bool:
        """Whether some height keeps both, with margins."""
        return self.needed_assured_m <= self.highest_assured_m


@dataclass(frozen=True, slots=True, kw_only=True)
class LossAction:
    """What comes of one action after a lost link, wherever that is lost."""

    go_to: str  # launch | here | onward
    then: str  # land | wait
    is_set: bool  # the route says so
    shares: Shares
    failing: tuple[Span, ...]
    with_link_lost: tuple[Span, ...]  # failing where ground stands in the link's line, too


@dataclass(frozen=True, slots=True, kw_only=True)
class Watcher:
    """What someone on the ground sees of the flight.

    Margins are metres above the ray that grazes the ground; negative: hidden by so much.
    """

    who: str  # pilot | observer 1 | …
    lat_deg: float
    lon_deg: float
    eye_m: float  # above ground
    shares: Shares
    lost: tuple[Span, ...]
    least_m: float
    least_assured_m: float
    least_at_m: float
    least_at_s: float
    hidden_far_m: float  # how far off the ground that hides it stands
    hidden_lat_deg: float
    hidden_lon_deg: float
    farthest_m: float  # slant distance
    farthest_at_m: float
    limit_m: float | None  # how far off it is still seen
    limit_source: str
    beyond: tuple[Span, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class StandingPlace:
    """Where else to stand: how much of the flight is hidden from there."""

    lat_deg: float
    lon_deg: float
    away_m: float  # from where the pilot stands
    bearing_deg: float  # true
    hidden_m: float  # metres of the flight, by samples twenty metres apart
    least_m: float


@dataclass(frozen=True, slots=True, kw_only=True)
class Link:
    """The radio link's line, from the pilot's antenna: geometry, no promise of range."""

    ghz: float
    is_assumed: bool
    antenna_m: float
    shares: Shares
    blocked: tuple[Span, ...]
    least_ratio: float  # clearance over the first Fresnel radius; negative: ground in the line
    least_at_m: float
    least_at_s: float
    loss_db: float  # over one edge there
    far_m: float
    lat_deg: float
    lon_deg: float


@dataclass(frozen=True, slots=True, kw_only=True)
class LegHome:
    """One leg in the same respects: its worst metres, and how many fail."""

    leg: int
    return_needed_m: float  # with margins, climbing first, as typed
    return_needed_at_m: float
    return_failing_m: float  # of the way home in play that fails most
    sight_least_m: float
    sight_least_at_m: float
    hidden_m: float
    link_least_ratio: float
    link_least_at_m: float
    blocked_m: float


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class EveryMetre:
    """The same sample by sample, as long as `Samples`; states index `states.SEVERITY`.

    Numbers are of the reference curve, states the worst of every way flown.
    """

    return_needed_m: NDArray[np.float64]  # with margins, climbing first, as typed
    return_state: NDArray[np.int64]  # the worst way home in play
    sight_margin_m: NDArray[np.float64]  # the pilot's
    sight_state: NDArray[np.int64]
    link_ratio: NDArray[np.float64]
    link_state: NDArray[np.int64]


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class ComingHome:
    """The way home, sight and link of one flight."""

    ways: tuple[WayHome, ...]
    height: ReturnHeight
    delays_s: tuple[float, float]
    delay_is_stated: bool
    actions: tuple[LossAction, ...]  # the one set, or all
    watchers: tuple[Watcher, ...]  # the pilot first
    seen_by_nobody: tuple[Span, ...]
    standing: tuple[StandingPlace, ...]
    link: Link
    legs: tuple[LegHome, ...]
    every_metre: EveryMetre

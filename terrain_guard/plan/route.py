"""The route as the pilot wrote it: frozen, SI, every height's origin known.

A route knows no file format and no terrain. Heights keep the origin the pilot
chose (`heights`); turning heights above ground into heights above launch needs
terrain, so the hall does it. Every object refuses what the schema refuses, with
`RefusedRoute`, so that a route made in Python is as sound as one from a file.
"""

from __future__ import annotations

from dataclasses import dataclass, field
from typing import Literal

from terrain_guard.errors import RefusedRoute
from terrain_guard.plan.schema import TABLES
from terrain_guard.plan.sound import refuse_unsound

UNSTATED_DELAY_S = (1.0, 20.0)
"""Within this time an aircraft acts on a lost link. Common practice, no source."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Place:
    """A spot on the map, WGS 84 degrees."""

    lat_deg: float
    lon_deg: float

    def __post_init__(self) -> None:
        """Refuse what the schema refuses."""
        refuse_unsound(self, TABLES["home"], refuse=RefusedRoute)


@dataclass(frozen=True, slots=True, kw_only=True)
class Launch(Place):
    """The ground the aircraft takes off from: zero of every typed height."""

    elevation_m: float | None = None  # only if surveyed, in the model's vertical datum
    elevation_accuracy_m: float | None = None  # one sigma
    spot_within_m: float = 10.0  # how far off the real spot may be
    offset_m: float | None = None  # how far above the ground its deck, roof or case is

    def __post_init__(self) -> None:
        """Refuse what the schema refuses."""
        refuse_unsound(self, TABLES["launch"], refuse=RefusedRoute)


@dataclass(frozen=True, slots=True, kw_only=True)
class Waypoint(Place):
    """A planned point."""

    name: str
    height_m: float  # above whatever `Route.heights` says
    speed_m_per_s: float  # on the leg that leaves this waypoint
    wait_s: float = 0.0
    turn: str | None = None  # overrides `Turns.kind` here
    look_at: str | None = None

    def __post_init__(self) -> None:
        """Refuse what the schema refuses."""
        refuse_unsound(self, TABLES["waypoint"], refuse=RefusedRoute)


@dataclass(frozen=True, slots=True, kw_only=True)
class Turns:
    """How corners are flown."""

    kind: str = "unstated"  # unstated | fly-by | fly-over | smooth | stop
    turn_anticipation_m: float | None = None
    bank_deg: float | None = None
    corner_height: str = "unstated"  # unstated | mid-arc | straight

    def __post_init__(self) -> None:
        """Refuse what the schema refuses."""
        refuse_unsound(self, TABLES["turns"], refuse=RefusedRoute)


@dataclass(frozen=True, slots=True, kw_only=True)
class Climb:
    """How height changes along a leg and out of the launch."""

    model: str = "unstated"  # unstated | linear | early | late | smooth
    too_steep: str = "unstated"  # unstated | slows | falls-short, where the rates do not suffice
    up_m_per_s: float = 4.0
    down_m_per_s: float = 3.0
    out: str = "unstated"  # unstated | vertical | step | slanting
    take_off_height_m: float | None = None  # for "step", above launch

    def __post_init__(self) -> None:
        """Refuse what the schema refuses."""
        refuse_unsound(self, TABLES["climb"], refuse=RefusedRoute)


@dataclass(frozen=True, slots=True, kw_only=True)
class AfterLast:
    """What the aircraft does once the last waypoint is passed."""

    go_to: str = "launch"  # launch | here | a waypoint's name
    then: str = "land"  # land | wait

    def __post_init__(self) -> None:
        """Refuse what the schema refuses."""
        refuse_unsound(self, TABLES["after_last"], refuse=RefusedRoute)


@dataclass(frozen=True, slots=True, kw_only=True)
class WayHome:
    """How the aircraft comes home."""

    height_m: float | None = None  # above launch
    path: str = "unstated"  # unstated | climb-first | climb-on-the-way | slanting | level
    gradient: float | None = None  # metres up per metre forward, for climb-on-the-way
    no_climb_within_m: float | None = None  # nearer to home than this it does not climb
    drift_m: float | None = None  # how far beside its line it may be

    def __post_init__(self) -> None:
        """Refuse what the schema refuses."""
        refuse_unsound(self, TABLES["way_home"], refuse=RefusedRoute)


@dataclass(frozen=True, slots=True, kw_only=True)
class LinkLoss:
    """What the aircraft does once the radio link is lost, None where not stated."""

    after_s: float | tuple[float, float] | None = None  # the delay, or the least and the most
    go_to: Literal["launch", "here", "onward"] | None = None
    then: Literal["land", "wait"] | None = None

    def __post_init__(self) -> None:
        """Refuse what the schema refuses."""
        refuse_unsound(self, TABLES["link_loss"], refuse=RefusedRoute)

    @property
    def delays_s(self) -> tuple[float, float]:
        """The least and the most delay; the sweep flown where it is not stated."""
        if self.after_s is None:
            return UNSTATED_DELAY_S
        return self.after_s if isinstance(self.after_s, tuple) else (self.after_s, self.after_s)


@dataclass(frozen=True, slots=True, kw_only=True)
class Conditions:
    """The air and the ground on the day, None where not stated; wind is `Route.wind_m_per_s`."""

    wind_from_deg: float | None = None  # true, where it comes from
    temperature_c: float | None = None  # of the air at launch
    pressure_trend_hpa_per_h: float | None = None  # negative: it falls
    snow_m: float | None = None  # how deep it lies
    visibility_m: float | None = None  # how far one sees at the ground

    def __post_init__(self) -> None:
        """Refuse what the schema refuses."""
        refuse_unsound(self, TABLES["conditions"], refuse=RefusedRoute)


@dataclass(frozen=True, slots=True, kw_only=True)
class Aircraft:
    """What the aircraft is and how it is set, None where not stated."""

    kind: Literal["rotorcraft", "fixed-wing"] = "rotorcraft"
    size_m: float | None = None  # over all
    seen_within_m: float | None = None  # how far off a crew can still see it
    radio_ghz: float | None = None  # of its link
    max_height_m: float | None = None  # the limit set in it, above launch
    height_from: str | None = None  # barometer | gnss | rtk
    off_line_m: float | None = None  # how far beside its line it may be
    temperature_reference: Literal["launch", "sea-level", "sensor"] | None = None

    def __post_init__(self) -> None:
        """Refuse what the schema refuses."""
        refuse_unsound(self, TABLES["aircraft"], refuse=RefusedRoute)


@dataclass(frozen=True, slots=True, kw_only=True)
class Route:
    """Everything a flight needs, as stated; `assumed` and `unused` say what was not."""

    title: str
    heights: str  # launch | ground | sea-level | ellipsoid
    height_unit: str  # m | ft: what the pilot typed in; stored heights are metres
    launch: Launch
    home: Place
    waypoints: tuple[Waypoint, ...]
    turns: Turns = field(default_factory=Turns)
    climb: Climb = field(default_factory=Climb)
    after_last: AfterLast = field(default_factory=AfterLast)
    way_home: WayHome = field(default_factory=WayHome)
    link_loss: LinkLoss = field(default_factory=LinkLoss)
    pilot: Place | None = None  # None: at the launch
    observers: tuple[Place, ...] = ()
    wind_m_per_s: float = 0.0
    conditions: Conditions = field(default_factory=Conditions)
    aircraft: Aircraft = field(default_factory=Aircraft)
    assumed: tuple[str, ...] = ()  # sentences: which default stands for what was not stated
    unused: tuple[str, ...] = ()  # keys that were read and kept but not used yet
    source: str = "route"  # the file's name, for messages
    sha256: str = ""  # of the file's bytes

    def __post_init__(self) -> None:
        """Refuse what the schema refuses, a single waypoint, and an unknown destination."""
        refuse_unsound(self, TABLES[""], refuse=RefusedRoute)
        refuse_unsound(self, TABLES["conditions"], refuse=RefusedRoute)
        if len(self.waypoints) < 2:
            message = (
                f"Route.waypoints: given {len(self.waypoints)}, but a route needs at least 2; "
                f"add waypoints."
            )
            raise RefusedRoute(message)
        known = {"launch", "here", *(waypoint.name for waypoint in self.waypoints)}
        if self.after_last.go_to not in known:
            message = (
                f"AfterLast.go_to: given {self.after_last.go_to!r}, but it must be 'launch', "
                f"'here' or a waypoint's name; write one of these."
            )
            raise RefusedRoute(message)

"""A route over a model: written as files, flown by the whole program, looked at."""

from __future__ import annotations

from dataclasses import dataclass, field
from pathlib import Path

import numpy as np

from terrain_guard.assess import check, limiting_surfaces
from terrain_guard.assessment import Assessment, Limits
from terrain_guard.selftest.models import Frame, Model
from terrain_guard.states import SEVERITY, State

Point = tuple[float, float, float]
"""East and north of the spot in metres; height in the route's own unit."""

_ROUTE = """\
title = "Self-test"
heights = "{heights}"
height_unit = "{unit}"
speed_m_per_s = {speed!r}
[launch]
lat = {lat!r}
lon = {lon!r}
spot_within_m = 0
[turns]
{turns}
corner_height = "mid-arc"
[climb]
model = "linear"
too_steep = "slows"
up_m_per_s = 4
down_m_per_s = 3
out = "vertical"
[after_last]
{after_last}
[way_home]
path = "climb-first"
height = {home!r}
[conditions]
wind_m_per_s = {wind!r}
"""
_WAYPOINT = """\
[[waypoint]]
lat = {lat!r}
lon = {lon!r}
height = {height!r}
"""
_RULES = """\
name = "Self-test"
source = "the closed-form cases of this program"
unit = "m"
[floor]
value = {floor!r}
measure = "{floor_measure}"
[ceiling]
value = {ceiling!r}
measure = "{ceiling_measure}"
[margins]
floor = {floor_margin!r}
ceiling = {ceiling_margin!r}
"""


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Scene:
    """A route over a model, with nothing left unstated.

    It takes off straight up, stops at every waypoint and stays at the last one,
    unless told otherwise. The limits are so wide that only the geometry counts, and
    the ground is open: no canopy is allowed for. The margins are fixed, so that they
    are no part of what is found.
    """

    model: Model
    points: tuple[Point, ...]
    launch: tuple[float, float] | None = None  # east, north; under the first point unless given
    moved_to: tuple[float, float] | None = None  # launched there instead of where the route says
    heights: str = "launch"
    unit: str = "m"
    turns: str = 'kind = "stop"\nturn_anticipation_m = 20'
    after_last: str = 'go_to = "here"\nthen = "wait"'
    home_height: float = 60.0
    speed_m_per_s: float = 5.0
    wind_m_per_s: float = 0.0
    floor_m: float = 0.5
    floor_measure: str = "clearance"
    ceiling_m: float = 2000.0
    ceiling_measure: str = "vertical"
    floor_margin_m: float = 18.0
    ceiling_margin_m: float = 7.0

    @property
    def frame(self) -> Frame:
        """Where the model and the route lie."""
        return self.model.frame

    def route(self) -> str:
        """Return the route file."""
        lat, lon = self.frame.lat_lon(*(self.launch or self.points[0][:2]))
        head = _ROUTE.format(
            heights=self.heights, unit=self.unit, turns=self.turns, after_last=self.after_last,
            home=self.home_height, speed=self.speed_m_per_s, wind=self.wind_m_per_s,
            lat=lat, lon=lon,
        )  # fmt: skip
        return head + "".join(map(self._waypoint, self.points))

    def _waypoint(self, point: Point) -> str:
        lat, lon = self.frame.lat_lon(*point[:2])
        return _WAYPOINT.format(lat=lat, lon=lon, height=point[2])

    def rules(self) -> str:
        """Return the rules file."""
        return _RULES.format(
            floor=self.floor_m, floor_measure=self.floor_measure,
            ceiling=self.ceiling_m, ceiling_measure=self.ceiling_measure,
            floor_margin=self.floor_margin_m, ceiling_margin=self.ceiling_margin_m,
        )  # fmt: skip


EDGE_M = 0.001
"""Samples nearer to the end of a stretch may belong to what lies beside it."""


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Flown:
    """What the program found, and how to look at it; NaN where there is nothing to see."""

    scene: Scene
    ground: tuple[Path, ...]
    found: Assessment

    def at(self, waypoint: int) -> int:
        """Return the sample at a waypoint, counted from 1."""
        along = self.found.samples.along_m
        return int(np.argmin(np.abs(along - self.found.legs[waypoint].from_m)))

    def above_ground(self, waypoint: int) -> float:
        """Return the height above ground at a waypoint."""
        return float(self.found.samples.above_ground_m[self.at(waypoint)])

    def clearance(self, waypoint: int) -> float:
        """Return the distance to the ground at a waypoint."""
        return float(self.found.samples.clearance_m[self.at(waypoint)])

    def extreme(self, leg: int, what: str) -> float:
        """Return a leg's extreme, for instance ``clearance_min``."""
        found = getattr(self.found.legs[leg], what)
        return float("nan") if found is None else float(found.nominal_m)

    def breach_from(self, kind: str, leg: int) -> float:
        """Return how far along a leg the first breach of one kind begins."""
        begins = [
            f.from_m - self.found.legs[leg].from_m
            for f in self.found.findings
            if (f.kind, f.leg, f.state) == (kind, leg, State.BREACH)
        ]
        return min(begins, default=float("nan"))

    def inside(self, waypoint: int) -> float:
        """Return how far from a waypoint the curve passes."""
        samples, place = self.found.samples, self.scene.points[waypoint - 1][:2]
        away = self.scene.frame.metres_from(place, lat_deg=samples.lat_deg, lon_deg=samples.lon_deg)
        return float(away.min())

    def not_assessed(self) -> float:
        """Return how many metres were not assessed."""
        return self.found.length_m - self.found.assessed_m

    def within(self) -> float:
        """Return how many metres are called within."""
        samples = self.found.samples
        holds = samples.state[:-1] == SEVERITY.index(State.WITHIN)
        return float(np.diff(samples.along_m)[holds].sum())

    def taken_for_known(self, from_m: float, to_m: float) -> float:
        """Return how much of a stretch of leg 1 has a height, a distance or another state.

        The stretch, in metres from the leg's start, has no ground.
        """
        samples, start = self.found.samples, self.found.legs[1].from_m
        along = samples.along_m - start
        inside = (along > from_m + EDGE_M) & (along < to_m - EDGE_M)
        known = np.isfinite(samples.above_ground_m) | np.isfinite(samples.clearance_m)
        judged = samples.state != SEVERITY.index(State.NOT_ASSESSED)
        length = np.append(np.diff(along), 0.0)
        if not inside.any():  # nothing looked at proves nothing
            return float("nan")
        return float(length[inside & (known | judged)].sum())

    def limits(self) -> Limits:
        """Return the two limiting surfaces, with margins, under the samples."""
        return limiting_surfaces(self.found, ground=self.ground)


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Bench:
    """A folder in which models are written and scenes are flown, each once."""

    folder: Path
    _ground: dict[Model, list[Path]] = field(default_factory=dict, init=False)
    _flown: dict[Scene, Flown] = field(default_factory=dict, init=False)

    def fly(self, scene: Scene) -> Flown:
        """Fly a scene, end to end."""
        if scene not in self._flown:
            self._flown[scene] = self._fly(scene)
        return self._flown[scene]

    def _fly(self, scene: Scene) -> Flown:
        if scene.model not in self._ground:
            folder = self.folder / f"model-{len(self._ground)}"
            folder.mkdir()
            self._ground[scene.model] = scene.model.write(folder)
        ground = self._ground[scene.model]
        number = len(self._flown)
        route, rules = self.folder / f"route-{number}.toml", self.folder / f"rules-{number}.toml"
        route.write_text(scene.route(), encoding="utf-8")
        rules.write_text(scene.rules(), encoding="utf-8")
        moved = None if scene.moved_to is None else scene.frame.lat_lon(*scene.moved_to)
        found = check(route, ground=ground, canopy_m=0.0, rules=rules, launch=moved)
        return Flown(scene=scene, ground=tuple(ground), found=found)

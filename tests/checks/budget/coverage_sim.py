r"""Do margins hold as often as they say? Flights over invented terrain, most of them by chance.

Each terrain is even ground with long hills, and a model of it with errors of its own: a
bias, two correlated fields, a nugget at each post, a shift of the whole model. The fields
are sums of cosines whose wave numbers are drawn from the spectrum of the exponential
covariance in the plane,

    F(k) = 1 - 1 / sqrt(1 + (a k)²),      so that k = sqrt(1 / (1 - U)² - 1) / a,

and owe nothing to the program's own formulas. Over each terrain one flight is flown, with
errors of its own: pressure, temperature, height hold, static source. Then is counted

* `singles`: at one post of the route, how often the true height above ground is lower than
  as computed less k sigma (higher than it plus k sigma);
* `flights`: how often it is lower (every other time: higher) than k sigma allow anywhere on
  the route, against the chance that the program gives for it, k by chance for each flight.
  That leans to the safe side by about a tenth: between posts the correlated fields are
  interpolated, too, which it leaves out;
* `called`, `called_broke`: how many of these it would call within, and how many of those
  break all the same: no more often than the chance that *within* allows;
* `crests`, `gullies`: see `coverage_crests`.

Terrains are of six kinds in turn: three lengths over which errors are alike, launch surveyed
or not. ``run(2000, seed=1)`` takes some minutes; the tests run 200.
"""

from __future__ import annotations

import math
from dataclasses import dataclass, replace
from typing import Final

import numpy as np

from terrain_guard.arrays import Floats
from terrain_guard.checks.budget.budget import Budget, budget
from terrain_guard.checks.budget.classes import BAROMETER, GLOBAL, Figure
from terrain_guard.checks.budget.dem_error import against_launch, survey_shift_m
from terrain_guard.checks.budget.launch_spot import LaunchSpot
from terrain_guard.checks.budget.places import Places
from terrain_guard.checks.budget.setting import CEILING_K, FLOOR_K, Setting
from terrain_guard.checks.budget.slopes import slopes_of
from terrain_guard.checks.budget.whole_flight import CEILING_CHANCE, FLOOR_CHANCE, flight_chance
from tests.checks.budget.coverage_counts import KINDS, Coverage, Kind
from tests.checks.budget.coverage_crests import over_sharp_ground
from tests.checks.budget.worked import bilinear, near

CELL_M: Final = 30.0
SIDE: Final = 64  # posts along a side of the model
MARGIN: Final = 8  # posts that are kept free all round
STEP_M: Final = 5.0
BEND_M: Final = 10.0  # flight errors are drawn so far apart, and straight between
HEIGHT_M: Final = (60.0, 140.0)
K_SINGLE: Final = (1.0, 1.645, 2.33)
K_FLIGHT: Final = {"floor": (1.8, 3.2), "ceiling": (1.4, 2.8)}
WITHIN: Final = {"floor": (FLOOR_K, FLOOR_CHANCE), "ceiling": (CEILING_K, CEILING_CHANCE)}
SURVEY_SIGMA_M: Final = 1.0
WAVES: Final = 200
DRAWS: Final = 1024

# What the class and the source stand for, in numbers of this file's own: sigma and length (m).
NEAR_M, FAR_M = 1.2, 0.8
FAR_LENGTH_M: Final = 2000.0
NUGGET_M, BIAS_M, SHIFT_M = 0.8, 1.787, 2.796
HOLD_M, STATIC_M, HOLD_OVER_M = 0.5, 1.0, 100.0
DRIFT_M, WARMTH = 0.2 * 8.324, 3.0 / 288.15
AIRSPEED_M_PER_S: Final = 9.903  # at which 0.2 of the dynamic pressure is 1 m of air


def runs(terrains: int, *, seed: int) -> dict[Kind, Coverage]:
    """Fly over so many terrains, of all kinds in turn, and count by kind."""
    random = np.random.default_rng(seed)
    found = {kind: Coverage() for kind in KINDS}
    for number in range(terrains):
        turn, kind = divmod(number, len(KINDS))
        counted = found[KINDS[kind]]
        counted.terrains += 1
        _fly(counted, random, KINDS[kind], side=("floor", "ceiling")[turn % 2])
        counted.crests += over_sharp_ground(random, side="floor")
        counted.gullies += over_sharp_ground(random, side="ceiling")
    return found


def run(terrains: int, *, seed: int) -> Coverage:
    """Fly over so many terrains and count, all kinds together."""
    return sum(runs(terrains, seed=seed).values(), start=Coverage())


# ---------------------------------------------------------------- terrain and its model


@dataclass(kw_only=True)
class Waves:
    """A sum of cosines in the plane."""

    east: Floats
    north: Floats
    phase: Floats
    size: Floats

    @classmethod
    def exponential(cls, random: np.random.Generator, sigma: float, length_m: float) -> Waves:
        """Return a field of exponential covariance, nearly normal."""
        number = np.sqrt(1 / (1 - random.random(WAVES)) ** 2 - 1) / length_m
        turn, phase = 2 * math.pi * random.random((2, WAVES))
        size = np.full(WAVES, sigma * math.sqrt(2 / WAVES))
        return cls(east=number * np.cos(turn), north=number * np.sin(turn), phase=phase, size=size)

    @classmethod
    def hills(cls, random: np.random.Generator) -> Waves:
        """Return hills of 2 to 3 km and 25 m or less: with the tilt, hardly any face of 60 %."""
        number = 2 * math.pi / random.uniform(2000, 3000, 4)
        turn, phase = 2 * math.pi * random.random((2, 4))
        size = random.uniform(5, 25, 4)
        return cls(east=number * np.cos(turn), north=number * np.sin(turn), phase=phase, size=size)

    def at(self, x: Floats, y: Floats) -> Floats:
        """Return the heights at places."""
        phase = np.multiply.outer(x, self.east) + np.multiply.outer(y, self.north) + self.phase
        return np.asarray(np.cos(phase) @ self.size)


@dataclass(kw_only=True)
class Terrain:
    """True ground, and the posts of its model; those far from the flight are NaN."""

    hills: Waves
    east: float
    north: float
    posts: Floats

    def true(self, x: Floats, y: Floats) -> Floats:
        """Return the true ground."""
        return self.hills.at(x, y) + self.east * x + self.north * y

    def model(self, x: Floats, y: Floats) -> Floats:
        """Return the ground of the model."""
        return bilinear(self.posts, -y / CELL_M, x / CELL_M)


def _terrain(random: np.random.Generator, x: Floats, y: Floats, length_m: float) -> Terrain:
    """Invent ground and its model near places."""
    terrain = Terrain(
        hills=Waves.hills(random),
        east=random.uniform(-0.25, 0.25), north=random.uniform(-0.25, 0.25),
        posts=np.full((SIDE, SIDE), np.nan),
    )  # fmt: skip
    row, column = np.meshgrid(np.arange(SIDE), np.arange(SIDE), indexing="ij")
    wanted = np.zeros((SIDE, SIDE), dtype=bool)
    for i, j in set(zip((-y // CELL_M).astype(int), (x // CELL_M).astype(int), strict=True)):
        wanted[i - 5 : i + 7, j - 5 : j + 7] = True
    px, py = column[wanted] * CELL_M, -row[wanted] * CELL_M
    shift = SHIFT_M * random.standard_normal(2)
    z = terrain.true(px - shift[0], py - shift[1]) + BIAS_M * random.standard_normal()
    for sigma, length in ((NEAR_M, length_m), (FAR_M, FAR_LENGTH_M)):
        z += Waves.exponential(random, sigma, length).at(px, py)
    terrain.posts[wanted] = z + NUGGET_M * random.standard_normal(px.size)
    return terrain


# ---------------------------------------------------------------- one flight


def _fly(found: Coverage, random: np.random.Generator, kind: Kind, *, side: str) -> None:
    """Fly one straight route over one terrain, and count."""
    launch = random.integers(MARGIN, SIDE - MARGIN, 2) * CELL_M  # on posts
    ends = random.integers(MARGIN, SIDE - MARGIN, (2, 2)) * CELL_M
    count = max(int(math.dist(*ends) // STEP_M), 1) + 1
    share = np.linspace(0.0, 1.0, count)
    x, y = (ends[0, k] + share * (ends[1, k] - ends[0, k]) for k in (0, 1))
    y = -y  # rows run south
    start, stop = random.uniform(*HEIGHT_M, 2).tolist()
    height = start + share * (stop - start)
    lx, ly = float(launch[0]), -float(launch[1])
    terrain = _terrain(random, np.append(x, lx), np.append(y, ly), kind.length_m)
    setting = _setting(kind)
    places = _places(terrain, x, y, height, (lx, ly))
    computed = _computed(terrain, places, setting, (lx, ly), random)
    here, there = np.array([lx]), np.array([ly])
    true = terrain.true(here, there) + height + _flown(random, places) - terrain.true(x, y)
    budgeted = budget(setting, places)
    assert (budgeted.bound_m("floor") == 0).all()  # here everything is random
    assert (budgeted.bound_m("ceiling") == 0).all()
    error = true - computed
    for k in K_SINGLE:
        found.singles[k] += bool(error[0] < -k * budgeted.sigma_m[0])
        found.singles[-k] += bool(error[0] > k * budgeted.sigma_m[0])
    _count_flight(found, random, budgeted, places, error, side=side)


def _count_flight(
    found: Coverage, random: np.random.Generator, budgeted: Budget, places: Places, error: Floats,
    *, side: str,
) -> None:  # fmt: skip
    """Leave k sigma of room all along, and count whether the flight breaks anywhere."""
    k = random.uniform(*K_FLIGHT[side])
    room = k * budgeted.sigma_m
    broke = bool((error < -room).any() if side == "floor" else (error > room).any())
    seed = int(random.integers(1_000_000))
    chance = flight_chance(budgeted, places, side=side, room_m=room, seed=seed, draws=DRAWS).chance
    found.flights += broke
    found.expected.append(chance)
    least_k, allowed = WITHIN[side]
    if k >= least_k and chance <= allowed:
        found.called[side] += 1
        found.called_broke[side] += broke


def _setting(kind: Kind) -> Setting:
    near_by, far = GLOBAL.parts
    alike = replace(near_by.length, value=kind.length_m)
    sharp = replace(
        GLOBAL, crest_factor=Figure(value=0.0, unit="cells", source="no crests here"),
        parts=(replace(near_by, length=alike), far),
    )  # fmt: skip
    return Setting(
        terrain=sharp, source=BAROMETER, cell_m=CELL_M, temperature_c=10.0,
        airspeed_m_per_s=AIRSPEED_M_PER_S,
        survey_sigma_m=SURVEY_SIGMA_M if kind.surveyed else None,
    )  # fmt: skip


def _places(
    terrain: Terrain, x: Floats, y: Floats, height: Floats, launch: tuple[float, float]
) -> Places:
    """Look at the model, as the program does."""
    row, column = -np.append(y, launch[1]) / CELL_M, np.append(x, launch[0]) / CELL_M
    found = slopes_of(near(terrain.posts, row, column, cell_m=CELL_M), reach_m=2 * SHIFT_M + CELL_M)
    own = {name: getattr(found, name)[:-1] for name in found.__slots__}
    own["face"] = np.zeros(x.size)  # noise makes no steep faces here
    return Places(
        x_m=x, y_m=y, row=row[:-1], column=column[:-1],
        along_m=np.append(0.0, np.cumsum(np.hypot(np.diff(x), np.diff(y)))),
        above_launch_m=height, slopes=replace(found, **own),
        launch=LaunchSpot(
            x_m=launch[0], y_m=launch[1], elevation_m=0.0,
            slope_east=float(found.east[-1]), slope_north=float(found.north[-1]),
        ),
    )  # fmt: skip


def _computed(
    terrain: Terrain, places: Places, setting: Setting, launch: tuple[float, float],
    random: np.random.Generator,
) -> Floats:  # fmt: skip
    """Return heights above ground as computed, shifted by what a survey of the launch says."""
    here, there = np.array([launch[0]]), np.array([launch[1]])
    ground = float(terrain.model(here, there)[0])
    computed = ground + places.above_launch_m - terrain.model(places.x_m, places.y_m)
    if setting.survey_sigma_m is None:
        return computed
    told = float(terrain.true(here, there)[0] + SURVEY_SIGMA_M * random.standard_normal())
    weight = against_launch(
        setting.dem, places.away_m, survey_sigma_m=setting.survey_sigma_m
    ).weight
    return computed + survey_shift_m(weight, model_m=ground, surveyed_m=told)


def _flown(random: np.random.Generator, places: Places) -> Floats:
    """Return how much higher than typed it flies."""
    error = DRIFT_M * random.standard_normal() + np.zeros(places.count)
    error += WARMTH * random.standard_normal() * places.above_launch_m
    nodes = np.arange(0.0, places.along_m[-1] + BEND_M, BEND_M)
    keep = math.exp(-BEND_M / HOLD_OVER_M)
    for sigma in (HOLD_M, STATIC_M):
        drawn = random.standard_normal(nodes.size)
        for k in range(1, nodes.size):
            drawn[k] = keep * drawn[k - 1] + math.sqrt(1 - keep**2) * drawn[k]
        error += sigma * np.interp(places.along_m, nodes, drawn)
    return error

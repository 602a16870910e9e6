"""What the error budget of a flight rests on: k, the model, the aircraft, what was stated."""

from __future__ import annotations

import math
from collections.abc import Iterator, Mapping
from dataclasses import dataclass, field
from types import MappingProxyType
from typing import Final

from terrain_guard.checks.budget.classes import (
    LIDAR,
    RTK,
    HeightSource,
    TerrainClass,
)
from terrain_guard.checks.budget.dem_error import DemError
from terrain_guard.checks.budget.terms import HOLD, NOISE, PRESSURE, STATIC, TEMPERATURE
from terrain_guard.errors import RefusedInput

FLOOR_K: Final = 2.33
"""Nominally 99 % on one side: a floor guards people and aircraft."""
CEILING_K: Final = 1.645
"""Nominally 95 % on one side. Both are our own choice."""
AIRSPEED_M_PER_S: Final = 10.0
LEAST_FLOOR_M: Final = 5.0
LEAST_FLOOR_AT_BEST_M: Final = 3.0  # lidar, and heights from corrected satellites
LEAST_CEILING_M: Final = 2.0
"""Margins are never less, whatever the arithmetic says. Our own choice."""
COARSEST_CELL_M: Final = 90.0 / 1.005
TOO_STEEP_FOR_COARSE: Final = 0.10
"""From such cells on, no margin is known for a floor over ground steeper than this."""

MAY_BE_STATED: Final = (HOLD, NOISE, STATIC, PRESSURE, TEMPERATURE)
"""Flight errors whose one sigma (m) may be stated instead of the class's."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Setting:
    """What the budget of a flight rests on.

    Frozen, because a margin must stay explainable by what was printed beside it.

    Parameters
    ----------
    terrain, source : TerrainClass, HeightSource
        See `classes`.
    cell_m : float
        The longer side of the model's coarsest cells.
    floor_k, ceiling_k : float
        How many sigma the margins cover.
    sigma_m : float, optional
        One sigma of the model's heights as its card states it: it scales the class's.
    height_step_m : float
        What the model's heights are rounded to; 1 for whole metres.
    survey_sigma_m : float, optional
        One sigma of a surveyed launch elevation; None: the launch ground is the model's.
    launch_on_model : bool
        Whether the model knows the launch ground.
    temperature_c : float, optional
        As stated for the air at launch.
    airspeed_m_per_s : float
        What the static source of a barometer feels.
    navigation_in_corridor : bool
        True: how far off its line it flies is held by the corridor, a bound; else random.
    age_years, growth_m_per_year : float
        Since the survey of a model that shows trees.
    snow_m : float
        Depth of snow that no model shows.
    wind_m_per_s : float
        As declared; over a crest a barometer flies lower in it.
    trend_hpa_per_h : float
        How the pressure changes, as declared; negative where it falls.
    stated_sigma_m : mapping
        One sigma of flight errors that are better known: see `MAY_BE_STATED`.
    assumed : frozenset of str
        Names of further causes of which the input was assumed, such as "launch spot".

    Raises
    ------
    RefusedInput
        With every fault: negative, no number, no positive cell, a name that is not known.
    """

    terrain: TerrainClass
    source: HeightSource
    cell_m: float
    floor_k: float = FLOOR_K
    ceiling_k: float = CEILING_K
    sigma_m: float | None = None
    height_step_m: float = 0.0
    survey_sigma_m: float | None = None
    launch_on_model: bool = True
    temperature_c: float | None = None
    airspeed_m_per_s: float = AIRSPEED_M_PER_S
    navigation_in_corridor: bool = True
    age_years: float = 0.0
    growth_m_per_year: float = 0.0
    snow_m: float = 0.0
    wind_m_per_s: float = 0.0
    trend_hpa_per_h: float = 0.0
    stated_sigma_m: Mapping[str, float] = field(default_factory=lambda: MappingProxyType({}))
    assumed: frozenset[str] = frozenset()

    def __post_init__(self) -> None:
        """Refuse what no budget can rest on."""
        faults = [
            f"{name}: given {value!r}, but it must be 0 or more; correct or leave it out"
            for name, value in self._sizes()
            if not (value >= 0 and math.isfinite(value))
        ]
        faults += [
            f"{name}: given {value!r}, but it must be more than 0; correct it"
            for name, value in (("cell_m", self.cell_m), ("sigma_m", self.sigma_m))
            if value == 0
        ]
        faults += [
            f"stated_sigma_m: given {name!r}, but it is one of {', '.join(MAY_BE_STATED)}; "
            "write one of these"
            for name in self.stated_sigma_m
            if name not in MAY_BE_STATED
        ]
        if self.temperature_c is not None and not math.isfinite(self.temperature_c):
            faults.append(
                f"temperature_c: given {self.temperature_c!r}, but it must be a number; correct "
                "or leave it out"
            )
        if not math.isfinite(self.trend_hpa_per_h):
            faults.append(
                f"trend_hpa_per_h: given {self.trend_hpa_per_h!r}, but it must be a number; "
                "correct or leave it out"
            )
        if faults:
            raise RefusedInput(*faults)

    def _sizes(self) -> Iterator[tuple[str, float]]:
        for name in (
            "cell_m", "floor_k", "ceiling_k", "sigma_m", "height_step_m", "survey_sigma_m",
            "airspeed_m_per_s", "age_years", "growth_m_per_year", "snow_m",
            "wind_m_per_s",
        ):  # fmt: skip
            value = getattr(self, name)
            if value is not None:
                yield name, value
        for name, value in self.stated_sigma_m.items():
            yield f"stated_sigma_m[{name}]", value

    @property
    def model(self) -> TerrainClass:
        """The class of the model, its vertical error as its card states it."""
        return self.terrain if self.sigma_m is None else self.terrain.with_sigma(self.sigma_m)

    @property
    def dem(self) -> DemError:
        """The error of the model's heights."""
        return DemError.of(self.model, height_step_m=self.height_step_m)

    @property
    def least_floor_m(self) -> float:
        """The floor's margin is never less."""
        at_best = self.terrain.name == LIDAR.name and self.source.name == RTK.name
        return LEAST_FLOOR_AT_BEST_M if at_best else LEAST_FLOOR_M

    @property
    def least_ceiling_m(self) -> float:
        """The ceiling's margin is never less."""
        return LEAST_CEILING_M

    @property
    def words(self) -> str:
        """What the budget rests on, in a few words.

        >>> from terrain_guard.checks.budget.classes import BAROMETER, LIDAR
        >>> Setting(terrain=LIDAR, source=BAROMETER, cell_m=1.0).words
        'airborne lidar, 1 m cells, heights from barometer'
        """
        return f"{self.terrain.title}, {self.cell_m:.3g} m cells, heights from {self.source.title}"

"""What an elevation model and a height source are taken for, where nothing better is stated.

Every figure carries its unit and where it comes from. They are typical of their
class; a producer's own sheet, or `sigma_m` in a model's card, goes before them.
"""

from __future__ import annotations

import math
from dataclasses import dataclass, replace
from typing import Final, TypeVar

from terrain_guard.checks.budget.confidence import axis_sigma_of_circular, sigma_of_linear
from terrain_guard.errors import RefusedInput

MEMORY: Final = "typical published or common value, from memory"
OWN: Final = "our own choice"
T = TypeVar("T")
ROUND_OFF: Final = 1.005
"""A cell called 2 m or 31 m measures a little more or less on the ground."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Figure:
    """A number that never travels without its unit and its source; 0 or more."""

    value: float
    unit: str
    source: str

    def __post_init__(self) -> None:
        """Refuse what is negative or no number."""
        if not (self.value >= 0 and math.isfinite(self.value)):
            msg = f"{self.source}: given {self.value!r} {self.unit}, but it must be 0 or more"
            raise RefusedInput(msg)


def _metres(value: float, source: str = MEMORY) -> Figure:
    return Figure(value=value, unit="m", source=source)


@dataclass(frozen=True, slots=True, kw_only=True)
class Part:
    """One part of a nested variogram: errors alike over `length` (exponential)."""

    sigma: Figure
    length: Figure


@dataclass(frozen=True, slots=True, kw_only=True)
class TerrainClass:
    """What the heights of a kind of elevation model are worth.

    `bias` is one sigma of an error that is the same all over the model; `parts` are alike
    near by; `nugget` is alike nowhere. `registration` is one sigma per axis of a shift of
    the whole model. `crest_factor`: how many cells wide a crest is levelled.
    """

    name: str
    title: str
    cell_up_to_m: float
    bias: Figure
    parts: tuple[Part, ...]
    nugget: Figure
    registration: Figure
    crest_factor: Figure

    @property
    def sigma_m(self) -> float:
        """One sigma of a height, of all its parts together."""
        sigmas = (self.bias, self.nugget, *(part.sigma for part in self.parts))
        return math.hypot(*(one.value for one in sigmas))

    def with_sigma(self, sigma_m: float, source: str = "the model's card") -> TerrainClass:
        """Return the class with its vertical error as stated, in the same proportions."""
        share = sigma_m / self.sigma_m
        parts = tuple(
            replace(part, sigma=_metres(part.sigma.value * share, source)) for part in self.parts
        )
        return replace(
            self, parts=parts, bias=_metres(self.bias.value * share, source),
            nugget=_metres(self.nugget.value * share, source),
        )  # fmt: skip


def _parts(*sigma_and_length: tuple[float, float]) -> tuple[Part, ...]:
    return tuple(
        Part(sigma=_metres(sigma), length=_metres(length)) for sigma, length in sigma_and_length
    )


LIDAR: Final = TerrainClass(
    name="lidar",
    title="airborne lidar",
    cell_up_to_m=2.0,
    bias=_metres(0.09),
    parts=_parts((0.10, 100.0)),
    nugget=_metres(0.07),
    registration=_metres(0.4),
    crest_factor=Figure(value=1.0, unit="cells", source=MEMORY),
)
"""0.15 m in all, 0.07 to 0.1 m from point to point, 0.3 to 0.5 m sideways."""
NATIONAL: Final = TerrainClass(
    name="national",
    title="national model from images or radar",
    cell_up_to_m=12.0,
    bias=_metres(1.7),
    parts=_parts((1.0, 100.0), (0.8, 1000.0)),
    nugget=_metres(0.7),
    registration=_metres(2.5),
    crest_factor=Figure(value=1.0, unit="cells", source=MEMORY),
)
"""1 to 2.5 m in all, 0.8 to 1.5 m from point to point, 1 to 3 m sideways."""
GLOBAL: Final = TerrainClass(
    name="global",
    title="global surface model of about 30 m",
    cell_up_to_m=31.0,
    bias=_metres(
        math.sqrt(sigma_of_linear(4.0, 0.90) ** 2 - 1.2**2 - 0.8**2 - 0.8**2),
        "what is left of 4 m LE90 absolute (a producer's sheet, second-hand)",
    ),
    parts=_parts((1.2, 100.0), (0.8, 2000.0)),
    nugget=_metres(0.8),
    registration=_metres(
        axis_sigma_of_circular(6.0, 0.90), "6 m CE90 (a producer's sheet, second-hand)"
    ),
    crest_factor=Figure(value=1.0, unit="cells", source=MEMORY),
)
"""From point to point LE90 is 2 m where the ground is gentle, 4 m where it is steep."""
BESIDE_GLOBAL: Final = (
    "widened until margins hold against the global class beside Santiago de Chile, where the two "
    "differ by 7 m in the median"
)
RADAR: Final = TerrainClass(
    name="radar",
    title="radar model of the year 2000, 1 second of arc",
    cell_up_to_m=31.0,
    bias=_metres(6.7, f"4 m {MEMORY}; {BESIDE_GLOBAL}"),
    parts=(
        Part(sigma=_metres(5.0, f"2.5 m {MEMORY}; {BESIDE_GLOBAL}"), length=_metres(150.0)),
        Part(sigma=_metres(2.5, f"1.5 m {MEMORY}; {BESIDE_GLOBAL}"), length=_metres(3000.0)),
    ),
    nugget=_metres(2.3, f"1.5 m {MEMORY}; {BESIDE_GLOBAL}"),
    registration=_metres(
        axis_sigma_of_circular(12.6, 0.90), "12.6 m CE90, the worst continent (second-hand)"
    ),
    crest_factor=Figure(value=2.0, unit="cells", source=f"1.5 to 2: {MEMORY}"),
)
"""Only by name: its cells do not tell it from `GLOBAL`. 9.0 m in all, of 9.7 m (16 m LE90) that
were asked of it; 6.0 m from point to point."""
COARSE: Final = TerrainClass(
    name="coarse",
    title="coarse model",
    cell_up_to_m=math.inf,
    bias=_metres(4.0),
    parts=_parts((3.0, 300.0), (1.5, 3000.0)),
    nugget=_metres(2.0),
    registration=_metres(axis_sigma_of_circular(20.0, 0.90), "20 m CE90 (a producer's sheet)"),
    crest_factor=Figure(value=1.0, unit="cells", source=MEMORY),
)

LADDER: Final = (LIDAR, NATIONAL, GLOBAL, COARSE)
"""The better first."""
TERRAIN_CLASSES: Final = {one.name: one for one in (*LADDER, RADAR)}


def terrain_class(cell_m: float, *, named: str | None = None) -> TerrainClass:
    """Return the class of an elevation model.

    Parameters
    ----------
    cell_m : float
        The longer side of its cells.
    named : str, optional
        The class, if it is stated: "lidar", "national", "global", "radar" or "coarse".

    Raises
    ------
    RefusedInput
        The cell is no positive length, or there is no such class.

    >>> terrain_class(1.0).name, terrain_class(30.9).name, terrain_class(30.9, named="radar").name
    ('lidar', 'global', 'radar')
    """
    if not (cell_m > 0 and math.isfinite(cell_m)):
        msg = f"cell: given {cell_m!r} m, but a cell has a length; give the longer side in metres"
        raise RefusedInput(msg)
    if named is not None:
        return _one_of(TERRAIN_CLASSES, named, "class of elevation model")
    return next(one for one in LADDER if cell_m <= one.cell_up_to_m * ROUND_OFF)


@dataclass(frozen=True, slots=True, kw_only=True)
class HeightSource:
    """How well an aircraft keeps a height above its launch, and its place.

    `hold`: how far off its own height it flies. `noise`: of that height itself, if satellites
    tell it. `pressure`: drift of the air's pressure in `drift_within`, if a barometer does.
    `navigation`: along one horizontal axis. `length`: how far along the route errors are alike.
    """

    name: str
    title: str
    hold: Figure
    noise: Figure
    pressure: Figure
    navigation: Figure
    drift_within: Figure
    length: Figure


def _source(
    name: str, title: str, *, noise_m: Figure, pressure_hpa: float, navigation_m: float
) -> HeightSource:
    return HeightSource(
        name=name,
        title=title,
        hold=_metres(0.5, f"0.3 to 0.5 m: {MEMORY}"),
        noise=noise_m,
        pressure=Figure(value=pressure_hpa, unit="hPa", source=f"settled weather: {MEMORY}"),
        navigation=_metres(navigation_m),
        drift_within=Figure(value=1200.0, unit="s", source=f"20 minutes: {MEMORY}"),
        length=_metres(100.0, f"20 s at 5 m/s: {OWN}"),
    )


BAROMETER: Final = _source(
    "barometer",
    "barometer",
    noise_m=_metres(0.0, "what the air does is counted by itself"),
    pressure_hpa=0.2,
    navigation_m=1.5,
)
GNSS: Final = _source(
    "gnss",
    "satellites alone",
    noise_m=_metres(4.0, MEMORY),
    pressure_hpa=0.0,
    navigation_m=1.5,
)
RTK: Final = _source(
    "rtk",
    "satellites with corrections",
    noise_m=_metres(0.05, f"0.03 to 0.05 m while it holds its fix: {MEMORY}"),
    pressure_hpa=0.0,
    navigation_m=0.03,
)

HEIGHT_SOURCES: Final = {one.name: one for one in (BAROMETER, GNSS, RTK)}

UNSTATED_SURVEY: Final = _metres(4.0, f"a reading of unstated accuracy: {MEMORY}")
"""One sigma of a launch elevation that is stated without its accuracy."""
GROWTH_M_PER_YEAR: Final = Figure(
    value=0.6, unit="m/year", source=f"trees grow 0.3 to 1 m a year: {MEMORY}"
)


def height_source(name: str | None) -> HeightSource:
    """Return the source of an aircraft's heights; a barometer where it is not stated.

    Raises
    ------
    RefusedInput
        There is no such source.
    """
    return _one_of(HEIGHT_SOURCES, name or BAROMETER.name, "source of heights")


def _one_of(among: dict[str, T], name: str, what: str) -> T:
    if name not in among:
        msg = f"{what}: given {name!r}, but it is one of {', '.join(among)}; write one of these"
        raise RefusedInput(msg)
    return among[name]

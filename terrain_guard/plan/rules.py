"""Limits as data: a number never travels without its measure and its source."""

from __future__ import annotations

import math
from dataclasses import dataclass
from types import MappingProxyType
from typing import TYPE_CHECKING, Final

from terrain_guard.errors import RefusedRules
from terrain_guard.plan.rule_sets import RULE_SETS, NearObstacle, RuleSet
from terrain_guard.plan.rules_schema import RULES
from terrain_guard.plan.sound import refuse_unsound

if TYPE_CHECKING:
    from collections.abc import Mapping


DATUM_DOUBT_M = 2.0
"""How far another sea level may lie off the model's; on top of a margin. Our own choice."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Rules:
    """The floor and the ceiling wanted, and who says so.

    Frozen, because a limit that changes after it was printed is worse than none.

    Raises
    ------
    RefusedRules
        If a limit is not finite, out of range or without a source, if the ceiling is not
        above the floor, or if a measure is not known or not built yet.
    """

    name: str
    source: str
    unit: str  # m | ft: what the source is written in
    floor_m: float
    ceiling_m: float
    ceiling_measure: str = "vertical"  # vertical | closest-point | sea-level
    floor_measure: str = "clearance"  # clearance | vertical (vertical: tests only)
    floor_k: float | None = None  # sigma of the error budget; None: the program's own choice
    ceiling_k: float | None = None
    fixed_floor_margin_m: float | None = None  # instead of the error budget's
    fixed_ceiling_margin_m: float | None = None
    sea_level_ceiling_m: float | None = None  # a second ceiling, beside one above ground
    based_on: str | None = None  # the published set that these are, or that they change
    edition: str | None = None  # of the source
    known: str | None = None  # how well this program knows the source
    floor_source: str | None = None  # where it is not `source`; so for the next two
    ceiling_source: str | None = None
    sea_level_ceiling_source: str | None = None
    floor_unit: str | None = None  # where it is not `unit`; so for the next
    sea_level_ceiling_unit: str | None = None
    require: tuple[str, ...] = ()  # further findings that enter the verdict
    unused: tuple[str, ...] = ()  # keys that were read and kept but not used yet
    origin: str = "default"  # default | a published set's name | the file's name
    sha256: str = ""  # of the file's bytes

    def __post_init__(self) -> None:
        """Refuse what the schema refuses, and a ceiling that is not above the floor."""
        for table in RULES:
            refuse_unsound(self, table, refuse=RefusedRules)
        if not self.above_ground_ceiling_m > self.floor_m:
            message = (
                f"Rules.ceiling_m: given {self.ceiling_m!r} with a floor of {self.floor_m!r}, "
                f"but the ceiling must be above the floor; raise it or lower the floor."
            )
            raise RefusedRules(message)
        if self.ceiling_measure == "sea-level" and self.sea_level_ceiling_m is not None:
            message = (
                f"Rules.sea_level_ceiling_m: given {self.sea_level_ceiling_m!r}, but the ceiling "
                f"counts from sea level already; leave one of the two out."
            )
            raise RefusedRules(message)

    @property
    def above_ground_ceiling_m(self) -> float:
        """The ceiling that counts from the ground; inf where there is none."""
        return math.inf if self.ceiling_measure == "sea-level" else self.ceiling_m

    @property
    def above_sea_level_ceiling_m(self) -> float:
        """The ceiling that counts from sea level; inf where there is none."""
        if self.ceiling_measure == "sea-level":
            return self.ceiling_m
        return math.inf if self.sea_level_ceiling_m is None else self.sea_level_ceiling_m

    @property
    def near_obstacle(self) -> NearObstacle | None:
        """What the published rule grants near an obstacle, if its own ceiling is in force."""
        published = RULE_SETS.get(self.based_on or "")
        if published is None or self.ceiling_source is not None:
            return None
        own = (published.ceiling_m, published.measure)
        return published.near_obstacle if own == (self.ceiling_m, self.ceiling_measure) else None


DEFAULT_RULES = Rules(
    name="Default of this program",
    source="our own choice: no published least terrain clearance for small unmanned "
    "aircraft was found; 120 m is the figure most authorities start from",
    unit="m",
    floor_m=30.0,
    ceiling_m=120.0,
)


OWN_FLOOR: Final = "this program's own default; no published least clearance found"


def _of(published: RuleSet) -> Rules:
    """Return a published ceiling above this program's own floor."""
    return Rules(
        name=published.title,
        source=published.source,
        unit=published.unit,
        floor_m=DEFAULT_RULES.floor_m,
        floor_source=OWN_FLOOR,
        floor_unit=DEFAULT_RULES.unit,
        ceiling_m=published.ceiling_m,
        ceiling_measure=published.measure,
        based_on=published.name,
        edition=published.edition,
        known=published.known,
        origin=published.name,
    )


NAMED_RULES: Final[Mapping[str, Rules]] = MappingProxyType(
    {"default": DEFAULT_RULES, **{name: _of(published) for name, published in RULE_SETS.items()}}
)
"""Everything that `--rules` takes by name."""

"""Published ceilings as data: document, section, edition, how well known, own unit.

No published least terrain clearance for small unmanned aircraft was found, so
that no set holds a floor: this program's own default stands in, and says so.
"""

from __future__ import annotations

from dataclasses import dataclass
from types import MappingProxyType
from typing import TYPE_CHECKING, Final

from terrain_guard.units import METRES_PER_UNIT

if TYPE_CHECKING:
    from collections.abc import Mapping

SEEN: Final = "read in the issuing body's words"
SECOND_HAND: Final = "read in a text that reproduces it"


@dataclass(frozen=True, slots=True, kw_only=True)
class NearObstacle:
    """What a rule grants beside something tall; never applied by itself.

    Lengths are in the rule's own unit.
    """

    section: str
    known: str
    unit: str
    obstacle: str  # what it must be, as a noun phrase
    within: float  # horizontally
    taller_than: float | None  # None: however tall
    above_top: float
    asked_for_by: str | None = None  # whose request it needs; None: nobody's

    @property
    def within_m(self) -> float:
        """How near it must be, horizontally."""
        return self.within * METRES_PER_UNIT[self.unit]

    @property
    def taller_than_m(self) -> float:
        """What it must be taller than."""
        return (self.taller_than or 0.0) * METRES_PER_UNIT[self.unit]

    @property
    def above_top_m(self) -> float:
        """How far above its top one may fly."""
        return self.above_top * METRES_PER_UNIT[self.unit]


@dataclass(frozen=True, slots=True, kw_only=True)
class RuleSet:
    """One published ceiling.

    Frozen, because it is what others wrote. `ceiling` is in the rule's own unit.
    """

    name: str
    title: str
    source: str
    edition: str
    known: str
    unit: str
    ceiling: float
    measure: str  # vertical | closest-point
    near_obstacle: NearObstacle | None = None

    @property
    def ceiling_m(self) -> float:
        """The ceiling in metres."""
        return self.ceiling * METRES_PER_UNIT[self.unit]


_US: Final = RuleSet(
    name="us-107",
    title="United States, small unmanned aircraft",
    source="14 CFR 107.51(b)",
    edition="final rule of 28 June 2016 (date from memory); later amendments not read",
    known=SECOND_HAND,
    unit="ft",
    ceiling=400,
    measure="vertical",
    near_obstacle=NearObstacle(
        section="14 CFR 107.51(b)(1) and (2)",
        known=SECOND_HAND,
        unit="ft",
        obstacle="a structure",
        within=400,
        taller_than=None,
        above_top=400,
    ),
)
_EU: Final = RuleSet(
    name="eu-open",
    title="European Union, open category",
    source="Regulation (EU) 2019/947, Annex, Part A, UAS.OPEN.010(2)",
    edition="as amended by (EU) 2020/639; later amendments not read",
    known=SEEN,
    unit="m",
    ceiling=120,
    measure="closest-point",
    near_obstacle=NearObstacle(
        section="Regulation (EU) 2019/947, Annex, Part A, UAS.OPEN.010(3)",
        known=SEEN,
        unit="m",
        obstacle="an artificial obstacle",
        within=50,
        taller_than=105,
        above_top=15,
        asked_for_by="the entity responsible for the obstacle",
    ),
)
_UK: Final = RuleSet(
    name="uk-open",
    title="United Kingdom, open category",
    source="assimilated Regulation (EU) 2019/947, Annex, Part A, UAS.OPEN.010(2)",
    edition="as assimilated; later amendments not read",
    known=SECOND_HAND,
    unit="m",
    ceiling=120,
    measure="closest-point",
    near_obstacle=NearObstacle(
        section="assimilated Regulation (EU) 2019/947, Annex, Part A, UAS.OPEN.010(3)",
        known=SECOND_HAND,
        unit="m",
        obstacle="an artificial obstacle",
        within=50,
        taller_than=105,
        above_top=15,
        asked_for_by="the entity responsible for the obstacle",
    ),
)
_AU: Final = RuleSet(
    name="au-101",
    title="Australia, unmanned aircraft",
    source="CASR 1998, regulation 101.085; measured as CASA AC 101-10 notes: from the point on "
    "the ground immediately below",
    edition="not known",
    known=SECOND_HAND,
    unit="ft",
    ceiling=400,
    measure="vertical",
)

RULE_SETS: Final[Mapping[str, RuleSet]] = MappingProxyType(
    {published.name: published for published in (_US, _EU, _UK, _AU)}
)
"""Every published set, by its name."""

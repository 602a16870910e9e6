"""Limits as data: a number never travels without its measure and its source."""

from __future__ import annotations

from dataclasses import dataclass

from terrain_guard.errors import RefusedRules
from terrain_guard.plan.rules_schema import RULES
from terrain_guard.plan.sound import refuse_unsound


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
    ceiling_measure: str = "vertical"  # vertical | closest-point
    floor_measure: str = "clearance"  # clearance | vertical (vertical: tests only)
    floor_k: float | None = None  # kept for the error budget
    ceiling_k: float | None = None
    require: tuple[str, ...] = ()  # further findings that enter the verdict; kept, not used yet
    unused: tuple[str, ...] = ()  # keys that were read and kept but not used yet
    origin: str = "default"  # default | the file's name
    sha256: str = ""  # of the file's bytes

    def __post_init__(self) -> None:
        """Refuse what the schema refuses, and a ceiling that is not above the floor."""
        for table in RULES:
            refuse_unsound(self, table, refuse=RefusedRules)
        if not self.ceiling_m > self.floor_m:
            message = (
                f"Rules.ceiling_m: given {self.ceiling_m!r} with a floor of {self.floor_m!r}, "
                f"but the ceiling must be above the floor; raise it or lower the floor."
            )
            raise RefusedRules(message)


DEFAULT_RULES = Rules(
    name="Default of this program",
    source="our own choice: no published least terrain clearance for small unmanned "
    "aircraft was found; 120 m is the figure most authorities start from",
    unit="m",
    floor_m=30.0,
    ceiling_m=120.0,
)

"""How often margins held over invented terrain, counted by kind of terrain."""

from __future__ import annotations

import math
from collections import Counter
from dataclasses import dataclass, field, fields
from typing import Final

from scipy import stats

from tests.checks.budget.coverage_crests import Sharp

LENGTHS_M: Final = (50.0, 100.0, 300.0)


@dataclass(frozen=True, kw_only=True)
class Kind:
    """One kind of terrain: how far errors near by are alike, and whether launch is surveyed."""

    length_m: float
    surveyed: bool


KINDS: Final = tuple(
    Kind(length_m=length, surveyed=surveyed) for length in LENGTHS_M for surveyed in (False, True)
)


@dataclass(kw_only=True)
class Coverage:
    """How often what was stated held; counts of terrains, by side where there are two."""

    terrains: int = 0
    singles: Counter[float] = field(default_factory=Counter)  # k (ceiling: -k) to how many broke
    flights: int = 0
    expected: list[float] = field(default_factory=list)  # the chance given for each flight
    called: Counter[str] = field(default_factory=Counter)  # of those flights, called within
    called_broke: Counter[str] = field(default_factory=Counter)
    crests: Sharp = field(default_factory=Sharp)
    gullies: Sharp = field(default_factory=Sharp)

    def __add__(self, other: Coverage) -> Coverage:
        """Return both together."""
        return Coverage(
            **{one.name: getattr(self, one.name) + getattr(other, one.name) for one in fields(self)}
        )

    def interval(self, chance: float, *, share: float = 0.99) -> tuple[int, int]:
        """Return how many of all terrains may break, with a chance, in `share` of such runs."""
        return interval(self.terrains, chance, share=share)

    def flights_expected(self, *, share: float = 0.99) -> tuple[float, float]:
        """Return the same for flights, each with a chance of its own (normal approximation)."""
        mean = math.fsum(self.expected)
        spread = math.sqrt(sum(one * (1 - one) for one in self.expected))
        half = stats.norm.ppf((1 + share) / 2) * spread + 0.5
        return mean - half, mean + half


def interval(among: int, chance: float, *, share: float = 0.99) -> tuple[int, int]:
    """Return how many of so many may break, with a chance, in `share` of such runs."""
    low, high = stats.binom.interval(share, among, chance)
    return int(low), int(high)

"""One comparison: what a formula says, what the program found."""

from __future__ import annotations

import math
from collections.abc import Callable
from dataclasses import dataclass
from typing import Final, NamedTuple

from terrain_guard.selftest.scenes import Bench, Flown, Scene

CENTIMETRE: Final = 0.01
"""Distances to the ground and ends of stretches: the program seeks them to a centimetre."""
MILLIMETRE: Final = 0.001
"""Heights above plane cells and geodesic lengths: exact, but for 32-bit heights."""


class Outcome(NamedTuple):
    """What was expected and found, and how far apart they may be; metres."""

    expected_m: float
    found_m: float
    tolerance_m: float

    @property
    def error_m(self) -> float:
        """How far apart they are; infinite where nothing was found."""
        error = abs(self.found_m - self.expected_m)
        return math.inf if math.isnan(error) else error

    @property
    def holds(self) -> bool:
        """Whether they are near enough."""
        return self.error_m <= self.tolerance_m


@dataclass(frozen=True, slots=True, kw_only=True)
class Case:
    """One closed-form case."""

    name: str
    what: str
    run: Callable[[Bench], Outcome]


def case(
    name: str,
    what: str,
    scene: Scene,
    expected_m: float,
    find: Callable[[Flown], float],
    *,
    within_m: float = CENTIMETRE,
) -> Case:
    """Return the case that looks at one number of a scene."""

    def run(bench: Bench) -> Outcome:
        return Outcome(expected_m, find(bench.fly(scene)), within_m)

    return Case(name=name, what=what, run=run)

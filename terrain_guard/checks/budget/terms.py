"""One cause of error in one of three buckets, which are never mixed.

* A *declared bias* is applied to the heights themselves.
* *Random* errors are one sigma each; they join as the root of the sum of their squares.
* *One-sided bounds* add up as they are.
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from enum import StrEnum
from typing import Final

import numpy as np
from numpy.typing import ArrayLike

from terrain_guard.arrays import Floats
from terrain_guard.errors import RefusedInput


class Bucket(StrEnum):
    """What becomes of a cause."""

    BIAS = "declared bias"
    RANDOM = "random"
    BOUND = "one-sided bound"


class Scope(StrEnum):
    """Whether a cause moves the whole flight together, or each place by itself."""

    FLIGHT = "whole flight"
    LOCAL = "local"


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Term:
    """One cause at each sample, metres; arrays (n,), NaN where not known.

    For a random cause `floor_m` and `ceiling_m` are both its one sigma; for a bound they are
    what it takes from the floor's side and from the ceiling's.
    """

    name: str
    bucket: Bucket
    floor_m: Floats
    ceiling_m: Floats
    scope: Scope
    source: str
    is_assumed: bool = False
    remedy: str = ""  # what would shrink it

    def __post_init__(self) -> None:
        """Refuse negative sizes, and a random error with a side; a bias may have either sign."""
        if self.bucket is Bucket.BIAS:
            return
        for side, values in (("floor", self.floor_m), ("ceiling", self.ceiling_m)):
            if (np.asarray(values) < 0).any():
                least = float(np.nanmin(values))
                msg = (
                    f"{self.name} ({side}): given {least!r} m, but a size of error is 0 or more; "
                    "give its size, and its direction by the side it stands on"
                )
                raise RefusedInput(msg)
        if self.bucket is Bucket.RANDOM and not _same(self.floor_m, self.ceiling_m):
            msg = (
                f"{self.name}: given two sizes, but a random error is one sigma, the same on "
                "both sides; give it as a bound if it has a side"
            )
            raise RefusedInput(msg)

    def over(self, count: int) -> Term:
        """Return the term at so many samples."""
        floor, ceiling = (
            np.broadcast_to(np.asarray(values, dtype=float), (count,))
            for values in (self.floor_m, self.ceiling_m)
        )
        return replace(self, floor_m=floor, ceiling_m=ceiling)


def _same(one: Floats, other: Floats) -> bool:
    return one is other or np.array_equal(one, other, equal_nan=True)


def random_term(
    name: str, sigma_m: ArrayLike, *, scope: Scope, source: str, assumed: bool = False,
    remedy: str = "",
) -> Term:  # fmt: skip
    """Return a random cause by its one sigma."""
    sigma = np.asarray(sigma_m, dtype=float)
    return Term(
        name=name, bucket=Bucket.RANDOM, floor_m=sigma, ceiling_m=sigma, scope=scope,
        source=source, is_assumed=assumed, remedy=remedy,
    )  # fmt: skip


def bound_term(
    name: str, *, source: str, floor_m: ArrayLike = 0.0, ceiling_m: ArrayLike = 0.0,
    scope: Scope = Scope.LOCAL, assumed: bool = False, remedy: str = "",
) -> Term:  # fmt: skip
    """Return a one-sided bound: canopy, crest wind, drawdown, and whatever else is passed in.

    >>> bound_term("canopy", floor_m=25.0, source="the model's card").over(2).floor_m.tolist()
    [25.0, 25.0]
    """
    return Term(
        name=name, bucket=Bucket.BOUND, floor_m=np.asarray(floor_m, dtype=float),
        ceiling_m=np.asarray(ceiling_m, dtype=float), scope=scope, source=source,
        is_assumed=assumed, remedy=remedy,
    )  # fmt: skip


MODEL: Final = "elevation model"
REGISTRATION: Final = "registration"
NAVIGATION: Final = "navigation"
HOLD: Final = "height hold"
NOISE: Final = "satellite height"
STATIC: Final = "static source"
PRESSURE: Final = "pressure drift"
TEMPERATURE: Final = "temperature"
SPOT: Final = "launch spot"
CREST: Final = "clipped crest"
GULLY: Final = "filled gully"
STEEP_FACE: Final = "registration at a steep face"
GROWTH: Final = "growth"
SNOW: Final = "snow"
CREST_WIND: Final = "crest wind"
TREND: Final = "pressure trend"
"""Names of the causes that this room knows by itself."""

REMEDIES: Final = {
    MODEL: "a better elevation model",
    REGISTRATION: "a better elevation model",
    NAVIGATION: "satellites with corrections",
    NOISE: "satellites with corrections, or a barometer",
    STATIC: "fly slower, or satellites with corrections",
    PRESSURE: "set the zero again shortly before, or satellites with corrections",
    TEMPERATURE: "state the temperature, or satellites with corrections",
    SPOT: "say more closely where it takes off (spot_within_m), on even ground",
    CREST: "a model of smaller cells",
    GULLY: "a model of smaller cells",
    STEEP_FACE: "a better elevation model",
    GROWTH: "a newer survey",
    SNOW: "fly without snow",
    CREST_WIND: "fly in less wind, or satellites with corrections",
    TREND: "set the zero again shortly before, or satellites with corrections",
}
"""What would shrink each of them."""

"""The sum: from causes to one margin for the floor and one for the ceiling at each sample.

::

    floor    m = k  · √(sum of σ²) + sum of bounds below      then raised to 5 m (3 m)
    ceiling  m = k′ · √(sum of σ²) + sum of bounds above      then raised to 2 m
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from terrain_guard.arrays import Bools, Floats
from terrain_guard.checks.budget.causes import causes
from terrain_guard.checks.budget.places import Places
from terrain_guard.checks.budget.setting import COARSEST_CELL_M, TOO_STEEP_FOR_COARSE, Setting
from terrain_guard.checks.budget.terms import MODEL, Bucket, Scope, Term

SIDES = ("floor", "ceiling")


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Budget:
    """The error budget at the samples of a curve, metres; arrays (n,), NaN where not known.

    `bias_m` is to be applied to the heights and is in no margin. The margins are never less
    than the setting's least. The floor's is NaN, too, where the model's cells are so coarse
    that no margin would prove anything on ground so steep.
    """

    setting: Setting
    terms: tuple[Term, ...]
    bias_m: Floats
    sigma_m: Floats
    floor_bound_m: Floats
    ceiling_bound_m: Floats
    floor_margin_m: Floats
    ceiling_margin_m: Floats

    def bound_m(self, side: str) -> Floats:
        """Return the sum of the one-sided bounds of a side, "floor" or "ceiling"."""
        return self.floor_bound_m if side == "floor" else self.ceiling_bound_m

    def margin_m(self, side: str) -> Floats:
        """Return the margin of a side."""
        return self.floor_margin_m if side == "floor" else self.ceiling_margin_m

    def margin_at(self, side: str, position: Floats) -> Floats:
        """Return the margin at fractional sample positions: the greater of the two beside it."""
        before, behind = (
            np.clip(of(position).astype(np.int64), 0, self.sigma_m.size - 1)
            for of in (np.floor, np.ceil)
        )
        margin_m = self.margin_m(side)
        return np.maximum(margin_m[before], margin_m[behind])

    def k(self, side: str) -> float:
        """Return how many sigma the margin of a side covers."""
        return self.setting.floor_k if side == "floor" else self.setting.ceiling_k

    def least_m(self, side: str) -> float:
        """Return what the margin of a side never falls below."""
        return self.setting.least_floor_m if side == "floor" else self.setting.least_ceiling_m

    def summed_m(self, side: str) -> Floats:
        """Return the margin of a side before it is raised to the least."""
        return self.k(side) * self.sigma_m + self.bound_m(side)

    def raised(self, side: str) -> Bools:
        """Return where the margin of a side was raised to the least."""
        return self.summed_m(side) < self.least_m(side)

    def in_bucket(self, bucket: Bucket) -> tuple[Term, ...]:
        """Return the terms of a bucket."""
        return tuple(term for term in self.terms if term.bucket is bucket)

    @property
    def flight_sigma_m(self) -> Floats:
        """The part of sigma that moves the whole flight together.

        Of the elevation model's it is half the variance: its error at launch.
        """
        return np.sqrt(_flight_share_m2(self.in_bucket(Bucket.RANDOM), self.sigma_m.size))

    @property
    def local_sigma_m(self) -> Floats:
        """The rest of it."""
        return np.sqrt(np.maximum(self.sigma_m**2 - self.flight_sigma_m**2, 0.0))


def budget(setting: Setting, places: Places) -> Budget:
    """Return the error budget at samples.

    Parameters
    ----------
    setting : Setting
        What it rests on.
    places : Places
        Where the samples lie, and what the ground is like there.
    """
    found = causes(setting, places)
    sigma_m = np.sqrt(_sum(found, Bucket.RANDOM, places.count, squared=True))
    bounds = [_sum(found, Bucket.BOUND, places.count, side=side) for side in SIDES]
    unknown = np.where(places.known, 0.0, np.nan)
    floor, ceiling = (
        np.maximum(k * sigma_m + bound, least) + unknown  # NaN stays NaN
        for k, bound, least in zip(
            (setting.floor_k, setting.ceiling_k),
            bounds,
            (setting.least_floor_m, setting.least_ceiling_m),
            strict=True,
        )
    )
    return Budget(
        setting=setting,
        terms=found,
        bias_m=_sum(found, Bucket.BIAS, places.count),
        sigma_m=sigma_m + unknown,
        floor_bound_m=bounds[0] + unknown,
        ceiling_bound_m=bounds[1] + unknown,
        floor_margin_m=np.where(_unprovable(setting, places), np.nan, floor),
        ceiling_margin_m=ceiling,
    )


def _sum(
    among: tuple[Term, ...], bucket: Bucket, count: int, *, side: str = "floor",
    squared: bool = False,
) -> Floats:  # fmt: skip
    total = np.zeros(count)
    for term in among:
        if term.bucket is bucket:
            size = term.floor_m if side == "floor" else term.ceiling_m
            total = total + (size**2 if squared else size)
    return total


def _flight_share_m2(among: tuple[Term, ...], count: int) -> Floats:
    total = np.zeros(count)
    for term in among:
        share = 0.5 if term.name == MODEL else float(term.scope is Scope.FLIGHT)
        total = total + share * term.floor_m**2
    return total


def _unprovable(setting: Setting, places: Places) -> Bools:
    """Return where cells are too coarse for any margin of a floor."""
    coarse = setting.cell_m >= COARSEST_CELL_M
    return coarse & ~(places.slopes.plane <= TOO_STEEP_FOR_COARSE)

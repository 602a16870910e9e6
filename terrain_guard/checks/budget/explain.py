"""One sample's budget as rows that a reviewer adds up by hand, and what would shrink it."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass, replace

from terrain_guard.arrays import Floats
from terrain_guard.checks.budget.budget import SIDES, Budget, budget
from terrain_guard.checks.budget.classes import HeightSource, TerrainClass
from terrain_guard.checks.budget.places import Places
from terrain_guard.checks.budget.setting import Setting
from terrain_guard.checks.budget.tails import k_words
from terrain_guard.checks.budget.terms import Bucket, Term
from terrain_guard.units import text_up

TYPICAL_CELL_M = {"lidar": 1.0, "national": 10.0, "global": 30.0, "radar": 30.0}


@dataclass(frozen=True, slots=True, kw_only=True)
class Row:
    """One line of a worked budget; metres, squares in square metres.

    `what` is a bucket's name for a cause, or a step of the sum: "sum of squares", "sigma",
    "k sigma", "sum of bounds", "margin", "raised to".
    """

    name: str
    what: str
    floor: float
    ceiling: float
    squared: float | None = None  # of a random cause
    scope: str = ""
    is_assumed: bool = False
    source: str = ""
    remedy: str = ""


def explain(found: Budget, index: int) -> tuple[Row, ...]:
    """Return the worked budget of one sample.

    Squares add up to the sum of squares, whose root is sigma; k times sigma and the bounds
    add up to the margin. A declared bias stands by itself: it moves the height.
    """
    return tuple(_rows(found, index))


def _rows(found: Budget, index: int) -> Iterator[Row]:
    for bucket in (Bucket.BIAS, Bucket.RANDOM):
        yield from (_row(term, index) for term in found.in_bucket(bucket))
    sigma = float(found.sigma_m[index])
    yield Row(name="sum of squares", what="sum of squares", floor=sigma**2, ceiling=sigma**2)
    yield Row(name="sigma", what="sigma", floor=sigma, ceiling=sigma)
    k = found.setting.floor_k, found.setting.ceiling_k
    yield Row(
        name="k sigma",
        what="k sigma",
        floor=k[0] * sigma,
        ceiling=k[1] * sigma,
        source=f"floor {k_words(k[0])}; ceiling {k_words(k[1])}",
    )
    yield from (_row(term, index) for term in found.in_bucket(Bucket.BOUND))
    for what, values in (
        ("sum of bounds", [found.bound_m(side)[index] for side in SIDES]),
        ("margin", [found.summed_m(side)[index] for side in SIDES]),
    ):
        yield Row(name=what, what=what, floor=float(values[0]), ceiling=float(values[1]))
    if any(found.raised(side)[index] for side in SIDES):
        floor, ceiling = (float(found.margin_m(side)[index]) for side in SIDES)
        name = ", ".join(
            f"{side} raised to {found.least_m(side):g} m"
            for side in SIDES
            if found.raised(side)[index]
        )
        yield Row(name=name, what="raised to", floor=floor, ceiling=ceiling, source="our own least")


def _row(term: Term, index: int) -> Row:
    floor, ceiling = float(term.floor_m[index]), float(term.ceiling_m[index])
    return Row(
        name=term.name, what=term.bucket.value, floor=floor, ceiling=ceiling,
        squared=floor**2 if term.bucket is Bucket.RANDOM else None, scope=term.scope.value,
        is_assumed=term.is_assumed, source=term.source, remedy=term.remedy,
    )  # fmt: skip


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Shrunk:
    """The same flight with a better model or a better height source."""

    words: str
    before: Budget
    after: Budget

    def gain_m(self, side: str) -> Floats:
        """Return by how much the margin of a side shrinks (n,)."""
        return self.before.margin_m(side) - self.after.margin_m(side)

    def sentence(self, index: int, side: str = "floor") -> str:
        """Return what a sample would gain, as "with a 1 m model: 17.5 → 6.6 m"."""
        before, after = (
            text_up(float(one.margin_m(side)[index])) for one in (self.before, self.after)
        )
        return f"{self.words}: {before} → {after} m"


def shrunk(
    found: Budget,
    places: Places,
    *,
    terrain: TerrainClass | None = None,
    cell_m: float | None = None,
    source: HeightSource | None = None,
) -> Shrunk:
    """Return the budget again, with a better class of model, a better height source, or both.

    Parameters
    ----------
    places : Places
        Those of `found`. Slopes stay as measured: of the better model they are not known.
    terrain : TerrainClass, optional
        Taken at `cell_m`, or at cells typical of it. A card's sigma stays if it is better.
    source : HeightSource, optional
        What would tell the height instead.
    """
    setting, words = found.setting, []
    if terrain is not None:
        setting = _with_terrain(setting, terrain, cell_m)
        words.append(f"with a {setting.cell_m:g} m model")
    if source is not None:
        setting = replace(setting, source=source)
        words.append(f"with heights from {source.title}")
    return Shrunk(words=" and ".join(words), before=found, after=budget(setting, places))


def _with_terrain(setting: Setting, terrain: TerrainClass, cell_m: float | None) -> Setting:
    cell = TYPICAL_CELL_M.get(terrain.name, setting.cell_m) if cell_m is None else cell_m
    stated = setting.model
    if setting.sigma_m is not None and stated.sigma_m <= terrain.sigma_m:
        terrain = replace(terrain, bias=stated.bias, parts=stated.parts, nugget=stated.nugget)
    return replace(setting, terrain=terrain, cell_m=min(cell, setting.cell_m), sigma_m=None)

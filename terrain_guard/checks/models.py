"""The elevation models given: what each is taken for, and which do not go together."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date
from pathlib import Path
from typing import TypeAlias

from terrain_guard.assessment import CanopyUsed
from terrain_guard.checks import canopy
from terrain_guard.errors import RefusedTerrain
from terrain_guard.ground.layout import zero_of
from terrain_guard.ground.model import Ground

Files: TypeAlias = "str | Path | Sequence[str | Path]"
"""A file, a folder of tiles, a pattern, or several of these as one model."""


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Models:
    """The models of one assessment.

    `ground` is what launch, heights above ground and the ceiling count from: the bare
    earth, or, where nothing else is given, a surface model (`is_surface_alone`).
    """

    ground: Ground
    surface: Ground | None = None
    second: Ground | None = None
    is_surface_alone: bool = False

    @property
    def every(self) -> dict[str, Ground]:
        """All of them, by what they are taken for."""
        if self.is_surface_alone:
            return {"surface": self.ground}
        given = {"ground": self.ground, "surface": self.surface, "second ground": self.second}
        return {role: model for role, model in given.items() if model is not None}

    @property
    def seen(self) -> str:
        """What the first judgement sees: ground, both, or surface."""
        if self.is_surface_alone:
            return "surface"
        return "ground" if self.surface is None else "both"

    def canopy(self, declared_m: float | None, *, launch_is_stated: bool) -> CanopyUsed:
        """Return what stands for trees that these models do not show."""
        if self.surface is not None:
            return CanopyUsed(height_m=0.0, source=f"seen in {self.surface.name}")
        if self.is_surface_alone:
            return canopy.over_surface(self.ground, declared_m, launch_is_stated=launch_is_stated)
        return canopy.over_bare_earth(self.ground, declared_m)


def open_models(
    ground: Files | None,
    surface: Files | None,
    second: Files | None = None,
    *,
    today: date | None = None,
) -> Models:
    """Open what was given.

    Raises
    ------
    RefusedTerrain
        Neither ground nor surface; two surfaces; a model whose card says that it is
        another thing than it is given as; two vertical datums.
    """
    if ground is None and surface is None:
        msg = (
            "no elevation model given: give the bare earth (--ground DEM), a surface with trees "
            "and roofs (--surface DSM), or both"
        )
        raise RefusedTerrain(msg)
    opened = [
        None if one is None else Ground(one, today=today) for one in (ground, surface, second)
    ]
    _refuse_wrong_kinds(*opened)
    first, over, other = opened
    if first is None or (over is None and first.kind == "surface"):
        alone = first or over
        assert alone is not None
        models = Models(ground=alone, second=other, is_surface_alone=True)
    else:
        models = Models(ground=first, surface=over, second=other)
    _refuse_two_datums(models)
    return models


def _refuse_wrong_kinds(
    ground: Ground | None, surface: Ground | None, second: Ground | None
) -> None:
    if ground is not None and ground.kind == "surface" and surface is not None:
        _refuse(
            ground, "ground (--ground)", "surface",
            f"it and {surface.name!r} would be two surfaces; give the bare earth as ground, or "
            "leave one of the two out",
        )  # fmt: skip
    if surface is not None and surface.kind == "ground":
        _refuse(
            surface, "surface (--surface)", "ground",
            "trees and roofs are not in it; give it as ground, and as surface a model that has "
            "them",
        )  # fmt: skip
    if second is not None and second.kind == "surface":
        _refuse(
            second, "second ground (--second-ground)", "surface",
            "give the bare earth, or give it as surface",
        )  # fmt: skip
    if second is not None and (ground is None or ground.kind == "surface"):
        msg = (
            f"{second.name!r} is given as second ground (--second-ground), but no first one of the "
            "bare earth: give it as ground (--ground)"
        )
        raise RefusedTerrain(msg)


def _refuse(model: Ground, given_as: str, kind: str, remedy: str) -> None:
    msg = f"{model.name!r} is given as {given_as}, but its card says kind = {kind!r}: {remedy}"
    raise RefusedTerrain(msg)


def _refuse_two_datums(models: Models) -> None:
    """Refuse a surface that counts from another zero than the ground, if both say from which."""
    if models.surface is None or not count_from_two_zeros(models.ground, models.surface):
        return
    msg = (
        f"{two_zeros(models.ground, models.surface)}: ground and surface must be of one vertical "
        "datum; convert one of them"
    )
    raise RefusedTerrain(msg)


def count_from_two_zeros(one: Ground, other: Ground) -> bool:
    """Return whether both models say what they count from, and say different things."""
    first, second = one.raster.vertical, other.raster.vertical
    if first is None or second is None:
        return False
    return zero_of(first) != zero_of(second) and not first.equals(second)


def two_zeros(one: Ground, other: Ground) -> str:
    """Say what each of two models counts from."""
    return (
        f"{one.name!r} counts its heights from {zero_of(one.raster.vertical)}, {other.name!r} "
        f"from {zero_of(other.raster.vertical)}"
    )

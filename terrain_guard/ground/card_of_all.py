"""What the cards of all tiles say of the one model that they make up."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from terrain_guard.errors import RefusedTerrain
from terrain_guard.ground.card import first_day
from terrain_guard.ground.raster import Raster


@dataclass(frozen=True, slots=True, kw_only=True)
class CardOfAll:
    """What is said of a model as a whole; None where nothing is."""

    kind: str  # ground | surface | unknown
    canopy_m: float | None  # the greatest declared
    survey_date: str | None  # the oldest; None where any tile does not say
    sigma_m: float | None  # the largest; None where any tile does not say
    absent_is_sea: bool


def card_of_all(rasters: Sequence[Raster]) -> CardOfAll:
    """Put together what is said of each tile.

    Raises
    ------
    RefusedTerrain
        Tiles differ in kind, or not all of them say that absent tiles are sea.
    """
    canopies = [one.card.canopy_m for one in rasters if one.card.canopy_m is not None]
    sigmas = [one.card.sigma_m for one in rasters if one.card.sigma_m is not None]
    dates = [one.card.survey_date for one in rasters if one.card.survey_date is not None]
    return CardOfAll(
        kind=_kind(rasters),
        canopy_m=max(canopies, default=None),
        sigma_m=max(sigmas) if len(sigmas) == len(rasters) else None,
        survey_date=min(dates, key=first_day) if len(dates) == len(rasters) else None,
        absent_is_sea=_absent_is_sea(rasters),
    )


def _kind(rasters: Sequence[Raster]) -> str:
    """Return the kind of all; unknown where one does not say."""
    by_kind = {raster.card.kind or "unknown": raster.path.name for raster in reversed(rasters)}
    if {"ground", "surface"} <= by_kind.keys():
        msg = (
            f"{by_kind['ground']!r} is a ground model and {by_kind['surface']!r} a surface model, "
            "as their cards say: one model has one kind; give tiles of one, or correct kind in "
            "the card that is wrong"
        )
        raise RefusedTerrain(msg)
    return next(iter(by_kind)) if len(by_kind) == 1 else "unknown"


def _absent_is_sea(rasters: Sequence[Raster]) -> bool:
    saying = [raster for raster in rasters if raster.card.absent_is_sea]
    silent = [raster.path for raster in rasters if not raster.card.absent_is_sea]
    if saying and silent:
        others = f" and {len(silent) - 1} more do not" if silent[1:] else " does not"
        msg = (
            f"{saying[0].card.said_in['absent_is_sea']} says that the sea lies where no tile is, "
            f"and the card of {silent[0].name!r}{others}: say absent_is_sea = true of every tile "
            "(for a folder of tiles in FOLDER.toml beside it), or of none"
        )
        raise RefusedTerrain(msg)
    return bool(saying)

"""Trees that no model given shows: how high they may stand, who says so, where it counts.

Over bare earth alone they stand in the floor's margin. Over a surface model alone the
true ground may lie that much lower: declared, it is added to heights under the ceiling;
merely assumed, to the ceiling's margin; and the launch may have been read off a treetop.
"""

from __future__ import annotations

import math
from collections.abc import Iterator

from terrain_guard.assessment import CanopyUsed
from terrain_guard.errors import RefusedTerrain
from terrain_guard.ground.card import CARD
from terrain_guard.ground.model import Ground

ASSUMED_M = 30.0
"""A high forest. Common practice, no source."""
ASSUMED = "assumed: the model is bare earth or does not say"
ASSUMED_ON_SURFACE = "assumed: the surface model does not say"
OPTION = "--canopy"


def over_bare_earth(ground: Ground, declared_m: float | None) -> CanopyUsed:
    """Return the canopy where bare earth, or a model that does not say, stands alone."""
    height_m, source = _height(ground, declared_m, otherwise=ASSUMED)
    return CanopyUsed(height_m=height_m, source=source, floor_m=height_m)


def over_surface(
    surface: Ground, declared_m: float | None, *, launch_is_stated: bool
) -> CanopyUsed:
    """Return the canopy where a surface model stands alone: above the true ground."""
    height_m, source = _height(surface, declared_m, otherwise=ASSUMED_ON_SURFACE)
    is_declared = source != ASSUMED_ON_SURFACE
    return CanopyUsed(
        height_m=height_m,
        source=source,
        floor_m=0.0 if launch_is_stated else height_m,
        floor_everywhere=True,
        ceiling_m=0.0 if is_declared else height_m,
        ground_below_m=height_m if is_declared else 0.0,
    )


def _height(model: Ground, declared_m: float | None, *, otherwise: str) -> tuple[float, str]:
    if declared_m is not None:
        return declared_m, OPTION
    if model.canopy_m is not None:
        return model.canopy_m, _card(model)
    return ASSUMED_M, otherwise


def _card(model: Ground) -> str:
    """Return the file that declares the canopy; of several tiles that of the highest."""
    for raster in model.rasters:
        if raster.card.canopy_m == model.canopy_m:
            return raster.card.said_in["canopy_m"]
    raise AssertionError(model.name)


def refuse_impossible(canopy_m: float | None, *, both_given: bool) -> None:
    """Refuse a canopy that is no height of trees, or beside a surface model that shows them."""
    if canopy_m is None:
        return
    key = next(key for key in CARD.keys if key.name == "canopy_m")
    low, high = float(key.low or 0.0), float(key.high or math.inf)
    if not low <= canopy_m <= high:
        msg = (
            f"canopy (--canopy) is {canopy_m!r}: trees stand {low:g} to {high:g} m above ground; "
            "give metres, 0 for open ground"
        )
        raise RefusedTerrain(msg)
    if both_given:
        msg = (
            f"canopy (--canopy) {canopy_m:g} is given beside a ground and a surface model: the "
            "surface model shows trees and roofs; leave one of the two out"
        )
        raise RefusedTerrain(msg)


def canopy_cautions(canopy: CanopyUsed, *, models: str) -> Iterator[str]:
    """Say what stands in for trees that no model shows."""
    height = f"{canopy.height_m:g} m"
    if models == "ground":
        head = "Trees and roofs are in no model given"
        if not canopy.height_m:
            yield f"{head}: open ground is declared ({canopy.source})."
            return
        counts = "on top of the floor's margin, except on the climb-out and a slanting way home"
        if canopy.source == ASSUMED:
            yield (
                f"{head}: {height} of canopy are assumed {counts}; declare it with --canopy or "
                "canopy_m in the card, or give --surface."
            )
        else:
            yield f"{head}: {height} of canopy ({canopy.source}) count {counts}."
    elif models == "surface":
        greatest = "from it too: what trees it holds stands in the ceiling's margin"
        if canopy.ground_below_m:
            greatest = f"from {height} below it, where the ground may lie ({canopy.source})"
        if not canopy.height_m:
            greatest = f"from it too: open ground is declared ({canopy.source})"
        yield (
            "Heights above ground count from a surface model, for no ground model is given: the "
            f"least from the surface itself, the greatest {greatest}."
        )
        if canopy.floor_m:
            yield (
                "Launch ambiguous: measure it. The surface model may have read a treetop or a roof "
                f"there; until launch.elevation_m is stated, {height} more stand in the floor's "
                "margin."
            )

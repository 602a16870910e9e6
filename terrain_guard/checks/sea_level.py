"""A ceiling above sea level: from which zero it counts, and how far that may be off."""

from __future__ import annotations

import math

from terrain_guard.errors import RefusedTerrain
from terrain_guard.ground.model import Ground
from terrain_guard.ground.raster import is_ellipsoidal
from terrain_guard.plan.rules import DATUM_DOUBT_M, Rules


def counts_from_sea_level(ground: Ground) -> bool:
    """Return whether a model states that its elevations count from a sea level."""
    vertical = ground.raster.vertical
    return vertical is not None and not is_ellipsoidal(vertical)


def sea_level_ceiling(rules: Rules, ground: Ground) -> tuple[str, ...]:
    """Return what is assumed about a ceiling above sea level; nothing where none is wanted.

    Raises
    ------
    RefusedTerrain
        The model does not state that its elevations count from a sea level.
    """
    limit_m = rules.above_sea_level_ceiling_m
    if not math.isfinite(limit_m):
        return ()
    vertical = ground.raster.vertical
    if vertical is None or not counts_from_sea_level(ground):
        counts = "does not state its vertical datum"
        if vertical is not None:
            counts = f"counts from the ellipsoid ({vertical.name})"
        msg = (
            f"the rules {rules.name!r} hold a ceiling of {limit_m:g} m above sea level, which "
            f"needs an elevation model that counts from sea level, and {ground.name} {counts}: "
            "write it into the file (for example with gdal_edit -a_srs EPSG:4326+5773) or beside "
            "it, as vertical_datum in NAME.tif.toml, take a model of heights above sea level, or "
            "leave that ceiling out"
        )
        raise RefusedTerrain(msg)
    said = (
        f"ceiling above sea level: sea level taken as {vertical.name}, from which the elevation "
        f"model counts; another may lie {DATUM_DOUBT_M:g} m off, so its margin is "
        f"{DATUM_DOUBT_M:g} m wider than the ceiling's (our own choice)"
    )
    return (said,)

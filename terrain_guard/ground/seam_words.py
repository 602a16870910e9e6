"""What is said of tiles that do not meet, and which of them are refused."""

from __future__ import annotations

from collections.abc import Callable, Iterable
from typing import TypeAlias

import numpy as np

from terrain_guard.arrays import Floats
from terrain_guard.errors import RefusedTerrain
from terrain_guard.ground.layout import Layout
from terrain_guard.ground.seams import Seam

GEOID_STEP_M = 10.0
"""A step of at least this is compared with the geoid height."""
GEOID_DOUBT_M = 5.0

Degrees: TypeAlias = Callable[[Floats, Floats], tuple[Floats, Floats]]
"""From (row, column) to (lon, lat)."""


def sentences(seams: Iterable[Seam], layout: Layout, degrees_at: Degrees) -> tuple[str, ...]:
    """Return a caution for each seam.

    Raises
    ------
    RefusedTerrain
        A step is as large as the geoid height there: one of the tiles counts its heights from
        the ellipsoid.
    """
    seams = tuple(seams)
    for seam in seams:
        _refuse_geoid_step(seam, layout, degrees_at)
    return tuple(_sentence(seam, layout) for seam in seams)


def _names(seam: Seam, layout: Layout) -> list[str]:
    return [layout.tiles[number].raster.path.name for number in (seam.first, seam.second)]


def _sentence(seam: Seam, layout: Layout) -> str:
    first, second = _names(seam, layout)
    if seam.is_shared:
        one, other = (layout.tiles[number].raster.card for number in (seam.first, seam.second))
        why = "of higher priority" if one.priority > other.priority else "named first"
        return (
            f"{first} and {second} differ by up to {seam.greatest_m:.2f} m where both have ground "
            f"(median {seam.median_m:+.2f} m): {first}, {why}, counts there."
        )
    side = "above" if seam.median_m > 0 else "below"
    return (
        f"{second} lies {abs(seam.median_m):.1f} m {side} {first} along their seam (median), where "
        f"ground changes by {seam.usual_m:.1f} m from post to post: two surveys, two vertical "
        "datums, or bare earth beside treetops?"
    )


def _refuse_geoid_step(seam: Seam, layout: Layout, degrees_at: Degrees) -> None:
    if abs(seam.median_m) < GEOID_STEP_M:
        return
    from terrain_guard.ground.geoid import geoid_near  # slow to load, seldom needed

    lon, lat = degrees_at(np.array([seam.row]), np.array([seam.column]))
    geoid = geoid_near(float(lon[0]), float(lat[0]))
    if geoid is None:
        return
    n = float(geoid.above_ellipsoid_m[0])
    if not abs(abs(seam.median_m) - abs(n)) < GEOID_DOUBT_M:
        return
    first, second = _names(seam, layout)
    msg = (
        f"{second!r} lies {seam.median_m:+.1f} m off {first!r} where they meet, which is the geoid "
        f"height there ({n:+.1f} m by {geoid.grids}): one of them counts from the ellipsoid; give "
        "tiles of one vertical datum"
    )
    raise RefusedTerrain(msg)

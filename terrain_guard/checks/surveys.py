"""Do two surveys agree? A surface model is tied to the ground on bare places near the route.

Where nothing stands on the ground both models should show the same. Surface less
ground is gathered along the route and a little beside it; trees and roofs only
ever add to it, so the bare places are its lowest heap::

    places │      ╭╮
           │      ││      ╭──╮
           │     ╱  ╲   ╭╯    ╰─╮
           └─────────────────────────▶ surface less ground
                 bare    a wood

The heaps are those of a density smoothed by the scatter of the lowest places; the
lowest that is at least a quarter as high as the highest is taken for the bare
places, and its median for the offset. It errs to the low side: a surface lifted
too far is nearer to the flight, not farther. If trees stand everywhere along the
route, the lowest heap is theirs, and nothing here can tell.
"""

from __future__ import annotations

from collections.abc import Iterator

import numpy as np

from terrain_guard.arrays import Floats
from terrain_guard.assessment import SurfaceTied
from terrain_guard.errors import RefusedTerrain
from terrain_guard.ground.model import Ground
from terrain_guard.path.flight import Flight

ASIDE_M = 30.0
APART_M = 5.0
MOST_PLACES = 2_000  # along the route; nine times as many with those beside it
LEAST_PLACES = 100
LEAST_BARE = 30
SAME_M = 1.0
"""Offsets up to this are left alone."""
OTHER_M = 10.0
"""Offsets beyond this are no matter of two surveys. Both are our own choice."""
STEP_M = 0.1  # of the density
FINEST_M, COARSEST_M = 0.5, 2.0  # how far it is smoothed
LOW, TENTH = 0.02, 0.10
SIGMAS_APART = 0.772  # between those two shares of a normal distribution
HIGH_ENOUGH = 0.25
MOST_STEPS = 50


def tied_surface(ground: Ground, surface: Ground, flight: Flight) -> tuple[Ground, SurfaceTied]:
    """Return the surface lifted to fit the ground on bare places, and what was found there.

    Raises
    ------
    RefusedTerrain
        The two lie more than 10 m apart there.
    """
    lon, lat = corridor(flight)
    difference = surface.elevation(lon, lat) - ground.elevation(lon, lat)
    known = difference[np.isfinite(difference)]
    offset, bare = lowest_heap(known)
    if abs(offset) > OTHER_M:
        _refuse(offset, bare, ground, surface, (float(lon[0]), float(lat[0])))
    lifted = -offset if abs(offset) > SAME_M else 0.0
    tied = SurfaceTied(offset_m=offset, places=known.size, bare=bare, lifted_m=lifted)
    return (surface.lifted(lifted) if lifted else surface), tied


def corridor(flight: Flight) -> tuple[Floats, Floats]:
    """Return (lon, lat) of places along the reference curves and some tens of metres beside."""
    curves = [section[0] for section in flight.sections]
    x, y = (np.concatenate([getattr(curve, name) for curve in curves]) for name in ("x_m", "y_m"))
    gone = np.append(0.0, np.cumsum(np.hypot(np.diff(x), np.diff(y))))
    count = int(np.clip(gone[-1] / APART_M, 1, MOST_PLACES))
    along = np.linspace(0.0, gone[-1], count + 1)
    aside = np.array([-ASIDE_M, 0.0, ASIDE_M])
    east, north = (part.ravel() for part in np.meshgrid(aside, aside))
    x, y = np.interp(along, gone, x), np.interp(along, gone, y)
    return flight.frame.to_degrees((x[:, None] + east).ravel(), (y[:, None] + north).ravel())


def lowest_heap(difference_m: Floats) -> tuple[float, int]:
    """Return the median of the lowest heap of values (n,), and how many lie in it.

    NaN where there are too few values to say.

    >>> values = np.concatenate((np.full(60, 0.5), np.linspace(12, 22, 200)))
    >>> lowest_heap(values)
    (0.5, 60)
    """
    if difference_m.size < LEAST_PLACES:
        return float("nan"), 0
    low, tenth = np.quantile(difference_m, (LOW, TENTH))
    width = float(np.clip((tenth - low) / SIGMAS_APART, FINEST_M, COARSEST_M))
    middle, density = _density(difference_m, width)
    rising = np.diff(density) > 0
    heap = np.flatnonzero(rising[:-1] & ~rising[1:]) + 1
    centre, before = float(middle[heap[density[heap] >= HIGH_ENOUGH * density.max()][0]]), np.nan
    bare = np.abs(difference_m - centre) <= 2 * width
    for _ in range(MOST_STEPS):  # up from a shoulder to the heap's own middle
        if centre == before:
            break
        before, centre = centre, float(np.median(difference_m[bare]))
        bare = np.abs(difference_m - centre) <= 2 * width
    count = int(bare.sum())
    return (centre, count) if count >= LEAST_BARE else (float("nan"), count)


def _density(values: Floats, width: float) -> tuple[Floats, Floats]:
    """Return the middles of bins and the smoothed count of values in them."""
    reach = 5 * width
    low, high = float(values.min()) - reach, float(values.max()) + reach
    count, edges = np.histogram(values, bins=int(np.ceil((high - low) / STEP_M)), range=(low, high))
    away = np.arange(-round(4 * width / STEP_M), round(4 * width / STEP_M) + 1) * STEP_M
    return (edges[1:] + edges[:-1]) / 2, np.convolve(
        count, np.exp(-((away / width) ** 2) / 2), "same"
    )


def _refuse(
    offset_m: float, bare: int, ground: Ground, surface: Ground, place_deg: tuple[float, float]
) -> None:
    from terrain_guard.ground.datums import GEOID_DOUBT_M
    from terrain_guard.ground.geoid import geoid_near  # slow to load, seldom needed

    hint = ""
    geoid = geoid_near(*place_deg, first=ground.raster.vertical)
    if geoid is not None:
        n = float(geoid.above_ellipsoid_m[0])
        if abs(abs(offset_m) - abs(n)) < GEOID_DOUBT_M:
            hint = (
                f", which is the geoid height there ({n:+.1f} m by {geoid.grids}): one of them "
                "likely counts from the ellipsoid"
            )
    msg = (
        f"the surface {surface.name!r} lies {offset_m:+.1f} m off the ground {ground.name!r} on "
        f"{bare} bare places along the route (median){hint}; more than {OTHER_M:g} m means another "
        "vertical datum or another place: give two models of one datum"
    )
    raise RefusedTerrain(msg)


def survey_cautions(tied: SurfaceTied, ground: Ground, surface: Ground) -> Iterator[str]:
    """Say how the two surveys lie to each other, where that matters or is not known."""
    names = f"{surface.name} and {ground.name}"
    if np.isnan(tied.offset_m):
        yield (
            f"Whether {names} agree where nothing stands on the ground could not be told: too few "
            f"places along the route are known to both ({tied.places}); the surface is taken as it "
            "is."
        )
    elif tied.lifted_m:
        yield (
            f"{surface.name} lies {tied.offset_m:+.1f} m off {ground.name} on {tied.bare} bare "
            f"places of {tied.places} along the route (median): its elevations are taken "
            f"{abs(tied.lifted_m):.1f} m {'higher' if tied.lifted_m > 0 else 'lower'}. If trees "
            "stand everywhere there, this is their height: compare on open ground."
        )

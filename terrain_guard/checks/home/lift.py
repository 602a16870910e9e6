"""By how much straight ways must be raised so that no ground is nearer than a radius.

The way is a ball moved along a line; where it comes to rest, let down on the ground
from above, is decided by one place of the ground. It is looked for among groups of
cells, then cells, then quarters of cells, leaving out what cannot want more than a
place that is known. Ways that start a metre apart are mostly stopped by the same
place, so every few are searched first and lend theirs to those between.

What is not modelled: passing under anything, and the curvature of the Earth beneath a
line that is straight in the local metric frame (level means one elevation).
"""

from __future__ import annotations

from collections.abc import Iterator
from typing import TypeAlias

import numpy as np
from numpy.typing import ArrayLike

from terrain_guard.arrays import Bools, Floats, Ints
from terrain_guard.checks.home import missing
from terrain_guard.checks.home.beside import BULGE_M, Band
from terrain_guard.checks.home.best import Best
from terrain_guard.checks.home.bounds import Look, rough, tangent
from terrain_guard.checks.home.outcome import Lift
from terrain_guard.checks.home.parts import Parts, tops
from terrain_guard.checks.home.touch import Touch, touch
from terrain_guard.checks.home.tree import Tree
from terrain_guard.checks.home.ways import Ways
from terrain_guard.ground.model import Ground
from terrain_guard.ground.patches import GROUP_SIZES, LocalMap, Patches

SURE_M = 5e-4  # what may stay hidden in parts that are left out
LEAST_M = 1e-4  # parts with a smaller half diagonal are places
FEW = 16  # of so many ways one is searched first
WINDOW_CELLS = 1024  # of ground at a time, along a side
WIDEST_M = 300.0  # the largest group's side

Place: TypeAlias = tuple[ArrayLike, ArrayLike, ArrayLike]
"""(row, column, elevation): fractional posts of the model and metres; (n,) or one for all."""


def lift(
    ground: Ground,
    start: Place,
    end: Place,
    *,
    radius_m: ArrayLike,
    radius_at_end_m: ArrayLike | None = None,
    corridor_m: ArrayLike = 0.0,
    from_m: ArrayLike = 0.0,
    to_m: ArrayLike = np.inf,
    more_than_m: ArrayLike = -np.inf,
) -> Lift:
    """Return by how much each straight way must be raised to keep its distance.

    Parameters
    ----------
    start, end : (row, column, elevation_m)
        Where each way begins, and home, where it ends. Ways in the order flown are
        fastest.
    radius_m : float or (n,) float
        How far the ground must be from the way.
    radius_at_end_m : float or (n,) float, optional
        How far at home, growing evenly to `radius_m` at the start; the same by default.
    corridor_m : float or (n,) float, optional
        By how much the aircraft may be beside its place, level, in any direction.
    from_m, to_m : float or (n,) float, optional
        The part of the way that is judged, level metres from home.
    more_than_m : float or (n,) float, optional
        Only ground that asks for more than this is looked for; the rest is as good as none.

    Returns
    -------
    Lift
        Exact to a millimetre on the known ground: never more than needed, and less by
        at most that. All NaN, and `meets_void`, where a place is not finite.

    Raises
    ------
    ValueError
        A radius or corridor is negative or not finite.
    """
    given = np.broadcast_arrays(
        *start, *end, radius_m, radius_m if radius_at_end_m is None else radius_at_end_m,
        corridor_m, from_m, to_m, more_than_m,
    )  # fmt: skip
    fields = [np.atleast_1d(field).astype(float) for field in given]
    for name, values in zip(("radius", "radius at the end", "corridor"), fields[6:9], strict=True):
        if not ((values >= 0) & np.isfinite(values)).all():
            msg = f"a {name} of {values.min()!r} m: give metres, none negative"
            raise ValueError(msg)
    best, voids = Best.none(fields[0].size), missing.Voids.none(fields[0].size)
    placed = np.isfinite(np.stack(fields[:6])).all(axis=0)
    known = np.flatnonzero(placed)
    if known.size:
        _search_all(ground, [field[known] for field in fields], best, voids, known)
    return Lift(
        lift_m=np.where(np.isfinite(best.row), best.lift_m, np.nan),
        row=best.row, column=best.column, elevation_m=best.elevation_m, along_m=best.along_m,
        meets_void=voids.meets | ~placed,
        void_from_m=np.where(voids.meets, voids.from_m, np.nan),
        void_to_m=np.where(voids.meets, voids.to_m, np.nan),
    )  # fmt: skip


def _search_all(
    ground: Ground, fields: list[Floats], best: Best, voids: missing.Voids, known: Ints
) -> None:
    """Search for the ways whose places are finite; write to those numbers."""
    home, begin = fields[3:6], fields[0:3]
    rows, columns = (np.concatenate((home[k], begin[k])) for k in (0, 1))
    reach = float((np.maximum(fields[6], fields[7]) + fields[8]).max()) + 1.0
    span = ground.finest_cell_m * float(np.hypot(np.ptp(rows), np.ptp(columns)))
    box = ground.box_around(rows, columns, reach_m=reach + span**2 / BULGE_M)
    local = LocalMap.over(*box, ground.degrees_at)
    ways = Ways.between(
        (*local.metres(home[0], home[1]), home[2]),
        (*local.metres(begin[0], begin[1]), begin[2]),
        radius_m=(fields[7], fields[6]), wide_m=fields[8], judged_m=(fields[9], fields[10]),
    )  # fmt: skip
    inverse = np.linalg.inv(local.jacobian(rows.mean(), columns.mean()))[0]
    aside = 1.02 * ways.reach_m + ways.length_m**2 / BULGE_M
    down, across = (aside * np.hypot(*inverse[axis]) + 1.0 for axis in (1, 0))
    band = Band((home[0], home[1]), (begin[0], begin[1]), (down, across))
    found, holes = Best.none(known.size), missing.Voids.none(known.size)
    found.lift_m[:] = fields[11]
    for patches in _windows(ground, box, local, band):
        way = np.flatnonzero(_passes(band, patches))
        few = np.unique(np.append(way[::FEW], way[-1:]))
        tree = Tree(patches, ways, band, scores=tops(patches), least_m=found.lift_m)
        _search(tree, patches, ways, few, found)
        rest = np.setdiff1d(way, few)
        if rest.size:
            after = np.clip(np.searchsorted(few, rest), 1, few.size - 1)
            found.lend(ways, few[after - 1], rest)
            found.lend(ways, few[after], rest)
            _search(tree, patches, ways, rest, found)
        if patches.has_void:
            missing.look_for(patches, ways, band, way, holes)
    for into, of in ((best, found), (voids, holes)):
        for name in of.__slots__:
            getattr(into, name)[known] = getattr(of, name)


def _passes(band: Band, patches: Patches) -> Bools:
    rows, columns = patches.z.shape
    return band.passes(
        (patches.row0, patches.row0 + rows - 1), (patches.column0, patches.column0 + columns - 1)
    )


def _windows(
    ground: Ground, box: tuple[tuple[int, int], tuple[int, int]], local: LocalMap, band: Band
) -> Iterator[Patches]:
    """Read the box window by window, only those that some way may pass."""
    (top, bottom), (left, right) = box
    cell = max(ground.raster.cell_m)
    largest = min(WIDEST_M / cell, max(bottom - top, right - left))
    sizes = tuple(size for size in GROUP_SIZES if size <= largest)
    step = sizes[-1] if sizes else 1
    for row in range(top, bottom, WINDOW_CELLS):
        for column in range(left, right, WINDOW_CELLS):
            rows = row, row + _filled(min(WINDOW_CELLS, bottom - row), step)
            columns = column, column + _filled(min(WINDOW_CELLS, right - column), step)
            if band.passes(rows, columns).any():
                yield ground.patches_in(rows, columns, sizes=sizes, local=local)


def _filled(cells: int, step: int) -> int:
    return -(-cells // step) * step


def _search(tree: Tree, patches: Patches, ways: Ways, way: Ints, best: Best) -> None:
    """Search a window for the ways given, in order."""
    tree.descend(
        way,
        groups=lambda parts: _worth(patches, parts, ways, best),
        cells=lambda parts: _settle(patches, parts, ways, best),
    )


def _settle(patches: Patches, parts: Parts, ways: Ways, best: Best) -> None:
    """Quarter cells until no part can hide a place that wants more."""
    while parts.way.size:
        parts = parts.take(_worth(patches, parts, ways, best, corners=True))
        parts = parts.quarters()


def _worth(
    patches: Patches, parts: Parts, ways: Ways, best: Best, *, corners: bool = False
) -> Bools:
    """Return which parts may hold a place that wants more; note the places met on the way."""
    these = ways.take(parts.way)
    look = Look.at(parts, these)
    most = rough(parts, these, look)
    hope = look.near & (parts.stray_m >= 0) & (most > best.lift_m[parts.way] + SURE_M)
    pick = np.flatnonzero(hope)
    parts, these, look = parts.take(hope), these.take(pick), look.take(hope)
    touched = touch(these, look.along_m, look.aside_m)
    level = np.zeros(pick.size)
    place = parts.at(level, level)
    _offer(patches, parts, best, touched, (*place[:4], parts.ground_m))
    bound, u, v = tangent(parts, these, touched, look)
    hope[pick] = np.minimum(most[pick], bound) > best.lift_m[parts.way] + SURE_M
    if corners:
        left = hope[pick]
        some, their = parts.take(left), these.take(np.flatnonzero(left))
        place = some.at(u[left], v[left])
        _offer(patches, some, best, touch(their, *their.seen(*place[2:4])), place)
        hope[pick] &= look.radius_m > LEAST_M
    return hope


def _offer(
    patches: Patches, parts: Parts, best: Best, touched: Touch, place: tuple[Floats, ...]
) -> None:
    row, column, east, north, ground = place
    posts = patches.row0 + row, patches.column0 + column
    best.offer(parts.way, ground + touched.rise_m, touched.t_m, (*posts, east, north, ground))

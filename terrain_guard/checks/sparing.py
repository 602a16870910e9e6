r"""Bounds on clearance between a few points that are measured, for many that need not be.

::

       A ─ · ─ · ─ · ─ B      A, B measured; the points between them stray from
        ╲             ╱       the chord by a little
         ╲           ╱
      ────●─────────●────     feet of A and B

By Stewart's theorem (see `between`) no ground is nearer to the chord than a bound
just under A's and B's clearance, nor to a point that strays from it than that
less how far it strays. And none is farther than the feet of A and B.
"""

from __future__ import annotations

import numpy as np

from terrain_guard.arrays import Bools, Floats, Ints
from terrain_guard.checks import between

EVERY = 12  # points between those measured first
MORE_M = 5.0
"""So much more than enough is measured first: between two points a bound is a little less."""


def picked(breaks: Bools) -> Ints:
    """Return the points to measure first: some, and both ends of every stretch.

    `breaks` (n − 1,) marks chords that are not flown.
    """
    count = breaks.size + 1
    chosen = np.zeros(count, dtype=bool)
    chosen[::EVERY] = chosen[-1] = True
    chosen[:-1] |= breaks
    chosen[1:] |= breaks
    return np.flatnonzero(chosen)


def at_least(places: Floats, first: Ints, clearance_m: Floats, breaks: Bools) -> Floats:
    """Return lower bounds of the clearance of points; −inf where there is none.

    Parameters
    ----------
    places : (n, 3) float
        East, north, up.
    first : (k,) int
        The points that are measured, ends included.
    clearance_m : (k,) float
        Their clearance, or less.
    """
    start, stop = places[first[:-1]], places[first[1:]]
    apart = np.linalg.norm(stop - start, axis=1)
    nothing = np.full(apart.shape, np.nan)
    s1, s2 = clearance_m[:-1], clearance_m[1:]
    base = between.at_least(s1, s2, apart, (nothing, nothing))
    crossed = np.add.reduceat(breaks.astype(float), first[:-1]) > 0
    base = np.where((s1 > 0) & (s2 > 0) & ~crossed, base, -np.inf)
    group = np.clip(
        np.searchsorted(first, np.arange(len(places)), side="right") - 1, 0, apart.size - 1
    )
    along = (stop - start)[group]
    off = places - start[group]
    with np.errstate(divide="ignore", invalid="ignore"):
        share = np.clip(np.sum(off * along, axis=1) / np.sum(along**2, axis=1), 0.0, 1.0)
    strays = np.linalg.norm(off - np.nan_to_num(share)[:, None] * along, axis=1)
    bound = base[group] - strays
    return np.where(np.isfinite(bound), bound, -np.inf)

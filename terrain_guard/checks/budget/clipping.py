r"""What cells cut off a crest, and fill into a gully.

A cell holds the mean of its ground. A crest between two cells stands above both::

              ╱╲  ← true crest
            ╱────╲    deficit: half a cell times the slope of the sides
          ╱ │cell│ ╲
        ╱   │    │   ╲

In the middle of a cell a ridge loses a quarter of a cell times the slope, on an edge
half of one: the worst counts. A peak where four cells meet loses the mean distance
from a corner of a square. A gully gains what a ridge loses, a pit what a peak loses.
Where a model does not resolve its own cells, its cells count as so much wider.
"""

from __future__ import annotations

import math
from typing import Final

from terrain_guard.arrays import Floats

RIDGE: Final = 0.5
PEAK: Final = (math.sqrt(2) + math.asinh(1)) / 3
"""Mean distance of the points of a unit square from its corner: 0.7652."""


def ridge_deficit_m(cell_m: float, slope: Floats, *, factor: float = 1.0) -> Floats:
    """Return how much higher a ridge may be than its cells.

    Parameters
    ----------
    cell_m : float
        The longer side of a cell.
    slope : float or (n,) float
        Tangent of the steepest side near by, post to post.
    factor : float
        How many cells wide the model levels.

    >>> round(ridge_deficit_m(30.0, math.tan(math.radians(30.0))), 2)
    8.66
    """
    return RIDGE * cell_m * factor * slope


def peak_deficit_m(cell_m: float, slope: Floats, *, factor: float = 1.0) -> Floats:
    """Return the same of a peak.

    >>> round(peak_deficit_m(30.0, math.tan(math.radians(30.0))), 2)
    13.25
    """
    return PEAK * cell_m * factor * slope


def clipped_m(cell_m: float, slope: Floats, peak: Floats, *, factor: float = 1.0) -> Floats:
    """Return the deficit of a crest, between those of a ridge and of a peak.

    Parameters
    ----------
    peak : (n,) float
        0 for a ridge, 1 for a peak, between for an elongated one.
    """
    ridge = ridge_deficit_m(cell_m, slope, factor=factor)
    return ridge + peak * (peak_deficit_m(cell_m, slope, factor=factor) - ridge)


def filled_m(cell_m: float, slope: Floats, pit: Floats, *, factor: float = 1.0) -> Floats:
    """Return how much lower a gully or a pit may be than its cells: a crest upside down."""
    return clipped_m(cell_m, slope, pit, factor=factor)

"""Smooth curves through points: Catmull–Rom with centripetal knots.

E. Catmull and R. Rom, "A class of local interpolating splines", 1974; knots as in
C. Yuksel, S. Schaefer and J. Keyser, "Parameterization and applications of
Catmull–Rom curves", Computer-Aided Design 43, 2011: with a knot spacing of the
square root of the distance a curve has no loop or cusp within a segment, and
stays near its short segments, where the uniform one swings far off.
"""

from __future__ import annotations

import numpy as np

from terrain_guard.arrays import Floats


def slopes(
    before: Floats, here: Floats, after: Floats, knots: tuple[float, float]
) -> tuple[Floats, Floats]:
    """Return the slopes at a point, for the parameters of the segments before and behind it.

    Parameters
    ----------
    before, here, after : (k,) float
        Three values or places, one behind the other.
    knots : two of float
        Knot spacing from `before` to `here`, and from `here` to `after`.

    Returns
    -------
    two of (k,) float
        Per unit of a parameter that goes from 0 to 1 over the segment.

    Examples
    --------
    On evenly spaced knots it is half the difference of the neighbours.

    >>> slopes(np.array([0.0]), np.array([0.0]), np.array([100.0]), (1.0, 1.0))[0]
    array([50.])
    """
    t01, t12 = knots
    a_knot = (here - before) / t01 - (after - before) / (t01 + t12) + (after - here) / t12
    return t01 * a_knot, t12 * a_knot


def centripetal(distance_m: float) -> float:
    """Return the knot spacing for a distance."""
    return float(np.sqrt(distance_m))

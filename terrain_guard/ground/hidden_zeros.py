"""Zeros that stand for missing ground though the file declares another value, or none.

Sea and ponds at zero are ground. Three signs tell a hole from water: a rim far
above it, heights with fractions all round it, and a model that counts from the
ellipsoid, where still water lies anywhere but at zero.
"""

from __future__ import annotations

from typing import Any, Final

import numpy as np
from numpy.typing import NDArray

from terrain_guard.arrays import Bools

HIDDEN_STEP_M: Final = 50.0
"""A zero this far below a neighbour is suspect."""
HIDDEN_AMONG_FRACTIONS_M: Final = 10.0
"""So are zeros this far from every neighbour, where these have fractions of a unit."""
WATER_SHARE: Final = 0.05
"""From this share of zeros on, zeros with a low shore are taken for water."""


def without_hidden_zeros(
    values: NDArray[Any], *, metres: float, from_ellipsoid: bool
) -> NDArray[Any]:
    """Turn zeros that stand for missing ground into NaN.

    Parameters
    ----------
    values : (rows, columns) array
        As in the file, NaN where known to be missing.
    metres : float
        How many metres one step of the values is.
    from_ellipsoid : bool
        Whether the file says that its heights count from the ellipsoid.

    Notes
    -----
    Many zeros are water if they have a low shore somewhere: then connected zeros are
    holes only where every known neighbour is far off. Few zeros are holes as soon as
    one neighbour is. That is common practice, no source.
    """
    zero = values == 0
    if not zero.any():
        return values
    others = np.where(zero | np.isnan(values), 0, np.abs(values)) * abs(metres)
    fractions = _have_fractions(values, others > 0)
    if from_ellipsoid and fractions:
        return np.where(zero, values.dtype.type(np.nan), values)
    many = bool(np.count_nonzero(zero) > WATER_SHARE * values.size)
    hidden = _in_areas(zero, others, step_m=HIDDEN_STEP_M, shore_counts=many)
    if fractions and not many:
        hidden |= _in_areas(zero, others, step_m=HIDDEN_AMONG_FRACTIONS_M, shore_counts=True)
    return np.where(hidden, values.dtype.type(np.nan), values) if hidden.any() else values


def _have_fractions(values: NDArray[Any], known: Bools) -> bool:
    """Return whether most heights are no whole numbers; so they are where none is known."""
    if values.dtype.kind != "f":
        return False
    heights = values[known]
    return bool(np.count_nonzero(heights % 1) * 2 >= heights.size)


def _in_areas(zero: Bools, others: NDArray[Any], *, step_m: float, shore_counts: bool) -> Bools:
    """Return connected zeros of which one has a neighbour beyond the step, and none a nearer one.

    `others` are the heights of the posts that are not zero, absolute, 0 where missing; the
    nearer neighbours are asked for only if the shore counts.
    """
    suspect = zero & _spread(others > step_m)
    if not suspect.any():
        return suspect
    from scipy import ndimage  # slow to import, seldom needed

    area, count = ndimage.label(zero, structure=np.ones((3, 3)))
    hidden = np.isin(np.arange(count + 1), area[suspect])
    if shore_counts:
        shore = zero & _spread((others > 0) & (others <= step_m))
        hidden &= ~np.isin(np.arange(count + 1), area[shore])
    return np.asarray(hidden[area])


def _spread(posts: Bools) -> Bools:
    """Return the posts and all their eight neighbours."""
    wide = np.pad(posts, 1)
    tall = wide[:-2] | wide[1:-1] | wide[2:]
    return np.asarray(tall[:, :-2] | tall[:, 1:-1] | tall[:, 2:])

"""How far away an aircraft can be seen: guideline distances, no rule.

From "Guidelines for UAS operations in the open and specific category", EASA, Issue 3, 2025,
part A, on Article 2(7) of Regulation (EU) 2019/947; known here from summaries of it (the
document itself was not read). Guidelines are not binding; distances are straight lines from
pilot to aircraft, so height counts. Eyesight, light, colours and background are not in them.
"""

from __future__ import annotations

from typing import Final, Literal

import numpy as np
from numpy.typing import ArrayLike

from terrain_guard.arrays import Floats

Airframe = Literal["rotorcraft", "fixed-wing"]

PER_SIZE: Final = {"rotorcraft": (327.0, 20.0), "fixed-wing": (490.0, 30.0)}
"""Metres of distance per metre of size, and metres added."""
OF_VISIBILITY: Final = 0.3


def attitude_distance_m(size_m: ArrayLike, airframe: Airframe) -> Floats:
    """Return how far away a pilot can still tell which way an aircraft flies (m).

    Parameters
    ----------
    size_m : float or (n,) float
        The aircraft's characteristic (largest) dimension.

    Raises
    ------
    ValueError
        A size is not a finite number above 0, or the airframe is neither of the two.

    Examples
    --------
    >>> round(float(attitude_distance_m(0.8, "rotorcraft")), 1)
    281.6
    """
    if airframe not in PER_SIZE:
        msg = f"airframe is {airframe!r}: give one of {', '.join(PER_SIZE)}"
        raise ValueError(msg)
    factor, added = PER_SIZE[airframe]
    return factor * _positive("size_m", size_m) + added


def detection_distance_m(visibility_m: ArrayLike) -> Floats:
    """Return how far away other aircraft can still be detected (m), of the ground visibility.

    Raises
    ------
    ValueError
        A visibility is not a finite number above 0.
    """
    return OF_VISIBILITY * _positive("visibility_m", visibility_m)


def _positive(name: str, value: ArrayLike) -> Floats:
    values = np.asarray(value, dtype=float)
    if not ((values > 0) & np.isfinite(values)).all():
        msg = f"{name} is {value!r}: it must be finite and above 0"
        raise ValueError(msg)
    return values

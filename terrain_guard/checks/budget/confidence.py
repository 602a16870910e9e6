"""From published accuracies to one sigma, for errors that are normal with mean zero.

Producers print a linear error (LE) that 90 or 95 % of heights keep, and a circular
error (CE) that so many places keep. Sigma is along one axis throughout.
"""

from __future__ import annotations

import math
from statistics import NormalDist

from terrain_guard.errors import RefusedInput

_NORMAL = NormalDist()


def sigma_of_linear(error_m: float, share: float) -> float:
    """Return one sigma (m) of heights of which `share` are within `error_m`.

    >>> round(sigma_of_linear(4.0, 0.90), 3)
    2.432
    """
    return _sound(error_m) / _NORMAL.inv_cdf((1 + _share(share)) / 2)


def axis_sigma_of_circular(error_m: float, share: float) -> float:
    """Return one sigma (m) along an axis of places of which `share` are within `error_m`.

    Both axes are alike and independent: the distance is Rayleigh's.

    >>> round(axis_sigma_of_circular(6.0, 0.90), 3)
    2.796
    """
    return _sound(error_m) / math.sqrt(-2 * math.log(1 - _share(share)))


def _sound(error_m: float) -> float:
    if not (error_m >= 0 and math.isfinite(error_m)):
        msg = f"accuracy: given {error_m!r}, but it must be 0 m or more; give metres"
        raise RefusedInput(msg)
    return error_m


def _share(share: float) -> float:
    if not 0 < share < 1:
        msg = f"share: given {share!r}, but it must lie between 0 and 1; write 90 % as 0.9"
        raise RefusedInput(msg)
    return share

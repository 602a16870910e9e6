"""How many sigma a chance takes, and what k sigma are worth if errors are not normal.

"Each metre 99 %" is not "the flight 99 %": of many independent metres one is soon wrong.
"""

from __future__ import annotations

from functools import lru_cache
from statistics import NormalDist
from typing import Final, NamedTuple

import numpy as np

from terrain_guard.arrays import Floats
from terrain_guard.errors import RefusedInput

_NORMAL = NormalDist()
TABLE_SIGMAS: Final = 9.0
TABLE_STEP: Final = 0.002


@lru_cache(maxsize=1)
def _table() -> tuple[Floats, Floats]:
    sigmas = np.arange(-TABLE_SIGMAS, TABLE_SIGMAS + TABLE_STEP / 2, TABLE_STEP)
    return sigmas, np.array([_NORMAL.cdf(one) for one in sigmas.tolist()])


def below(sigmas: Floats) -> Floats:
    """Return the chance of a normal error below so many sigma, to 2e-7; NaN stays NaN.

    From a table: SciPy has the function, but takes a third of a second to load.

    >>> below(np.array([-np.inf, -2.3263479, 0.0])).round(6).tolist()
    [0.0, 0.01, 0.5]
    """
    return np.asarray(np.interp(sigmas, *_table()))


def quantiles_of_least(count: float, size: int) -> Floats:
    """Return so many equally likely values of the least of `count` normal errors, in sigma."""
    shares = -np.expm1(np.log1p(-(np.arange(size) + 0.5) / size) / count)
    return np.array([_NORMAL.inv_cdf(one) for one in shares.tolist()])


def k_of_route(chance: float, places: int) -> float:
    """Return k at each of so many independent places that leaves `chance` of any breaking.

    >>> round(k_of_route(0.05, 1), 3), round(k_of_route(0.05, 10), 3)
    (1.645, 2.568)
    """
    if not 0 < chance < 1 or places < 1:
        msg = (
            f"chance {chance!r} at {places!r} places: a chance lies between 0 and 1, and there is "
            "at least one place; correct them"
        )
        raise RefusedInput(msg)
    return -_NORMAL.inv_cdf(1 - (1 - chance) ** (1 / places))


class Tail(NamedTuple):
    """The chance of an error beyond k sigma on one side.

    If errors are `normal`; if they are of one hump, whatever its shape, at most `one_hump`;
    of whatever shape at most `any_shape`.
    """

    normal: float
    one_hump: float
    any_shape: float


def tail(k: float) -> Tail:
    """Return what k sigma are worth on one side.

    Notes
    -----
    At most 4 / 9(1 + k²) is the one-sided Vysochanskij-Petunin inequality, from k² = 5/3 on;
    1 / (1 + k²) is Cantelli's.

    >>> [round(share, 4) for share in tail(3.0)]
    [0.0013, 0.0444, 0.1]
    """
    if not k >= (5 / 3) ** 0.5:
        msg = f"k: given {k!r}, but the bound for one hump holds from 1.29 on; give a greater k"
        raise RefusedInput(msg)
    return Tail(_NORMAL.cdf(-k), 4 / (9 * (1 + k * k)), 1 / (1 + k * k))


def k_words(k: float) -> str:
    """Say how many sigma a margin covers, without promising what errors do not keep.

    >>> k_words(2.33)
    'k = 2.33 (nominally 99.0 % if errors were normal)'
    """
    return f"k = {k:g} (nominally {100 * _NORMAL.cdf(k):.1f} % if errors were normal)"

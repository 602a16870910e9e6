"""From a state at every metre to that of acting some time later: the worst within a window.

An aircraft that loses its link flies on for its delay, and then until it stands::

      link lost           acts between here and here
    ──────●──────────────────[────────────────]──────▶ time
          t               t + least      t + most + stop

Past the end of the flight nothing is begun: it has landed, or what follows the last waypoint
has been judged for itself.
"""

from __future__ import annotations

import numpy as np

from terrain_guard.arrays import Floats, Ints


def acting_later(
    codes: Ints, time_s: Floats, *, delays_s: tuple[float, float], stop_s: Floats
) -> Ints:
    """Return the worst state of acting anywhere in the window behind each sample.

    Parameters
    ----------
    codes : (n,) int
        What comes of acting at each sample; the greater, the worse.
    time_s : (n,) float
        When each sample is passed, growing.
    delays_s : (least, most)
        The delay, seconds.
    stop_s : (n,) float
        How much later it stands, at most.

    >>> codes, time = np.array([0, 0, 3, 0, 0]), np.arange(5.0)
    >>> acting_later(codes, time, delays_s=(1, 1), stop_s=np.zeros(5)).tolist()
    [0, 3, 0, 0, 0]
    """
    first = np.searchsorted(time_s, time_s + delays_s[0], side="right") - 1
    last = np.searchsorted(time_s, time_s + delays_s[1] + stop_s, side="left")
    end = codes.size - 1
    return worst_between(codes, np.clip(first, 0, end), np.clip(last, 0, end))


def worst_between(values: Ints, first: Ints, last: Ints) -> Ints:
    """Return the greatest of ``values[first : last + 1]`` for each pair, first <= last.

    By the greatest of 1, 2, 4, … neighbours: two of them, overlapping, cover any span.
    """
    rows = [values]
    while 2 ** len(rows) <= values.size:
        half = 2 ** (len(rows) - 1)
        rows.append(np.maximum(rows[-1][:-half], rows[-1][half:]))
    length = last - first + 1
    level = np.frexp(length)[1] - 1  # the greatest power of two that fits
    out = np.zeros(first.shape, dtype=values.dtype)
    for k, row in enumerate(rows):
        pick = level == k
        out[pick] = np.maximum(row[first[pick]], row[last[pick] + 1 - 2**k])
    return out


def worst_from_here(codes: Ints) -> Ints:
    """Return the worst state from each sample to the end.

    >>> worst_from_here(np.array([0, 3, 1, 2, 0])).tolist()
    [3, 3, 2, 2, 0]
    """
    return np.maximum.accumulate(codes[::-1])[::-1]

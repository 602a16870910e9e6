"""Fewer points than samples, and no spike lost.

A plot has a few thousand columns and a long route has many more samples. Taking
every n-th would drop the one metre that matters, so each column keeps its first,
lowest, highest and last sample, and both sides of every gap::

    samples   . . : . ' . . | . . . . .      one column between the bars keeps
    kept      .   :   '   . | .       .      first, lowest, highest, last
"""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

if TYPE_CHECKING:
    from numpy.typing import NDArray

PER_COLUMN = 4
"""Samples that one column may keep; fewer samples than that are all kept."""


def kept(
    along: NDArray[np.float64], values: NDArray[np.float64], *, columns: int
) -> NDArray[np.int64]:
    """Return the indices to draw so that `columns` columns show every extreme.

    Parameters
    ----------
    along : (n,) array
        Place of each sample along the axis, never decreasing.
    values : (n,) array
        What is drawn; NaN is a gap.
    columns : int
        How many columns the picture has between the first and the last sample.

    Returns
    -------
    (k,) array of int
        Increasing indices. Each column's lowest, highest, first and last finite
        sample is among them, and so are both sides of each gap's edges.
    """
    if len(values) <= PER_COLUMN * columns:
        return np.arange(len(values))
    finite = np.flatnonzero(np.isfinite(values))
    column = columns_of(along, columns=columns)[finite]
    picks = [
        _ends_of_groups(finite[order], column[order]) for order in _orders(finite, values, column)
    ]
    return np.unique(np.concatenate([*picks, _gap_edges(values), [0, len(values) - 1]]))


def columns_of(along: NDArray[np.float64], *, columns: int) -> NDArray[np.int64]:
    """Return the column each sample falls in, 0 to `columns` - 1."""
    span = along[-1] - along[0]
    share = (along - along[0]) / span if span > 0 else np.zeros(len(along))
    return np.asarray(np.minimum((share * columns).astype(np.int64), columns - 1))


def _orders(
    finite: NDArray[np.int64], values: NDArray[np.float64], column: NDArray[np.int64]
) -> tuple[NDArray[np.int64], NDArray[np.int64]]:
    """Return two orders by column: as flown, and by value inside each column."""
    return np.arange(len(finite)), np.lexsort((values[finite], column))


def _ends_of_groups(indices: NDArray[np.int64], groups: NDArray[np.int64]) -> NDArray[np.int64]:
    """Return the first and the last of `indices` in each run of equal `groups`."""
    if len(indices) == 0:
        return indices
    change = np.flatnonzero(np.diff(groups))
    first = np.concatenate(([0], change + 1))
    last = np.concatenate((change, [len(indices) - 1]))
    return np.asarray(indices[np.concatenate((first, last))])


def _gap_edges(values: NDArray[np.float64]) -> NDArray[np.int64]:
    """Return both samples of every step between a number and a gap."""
    before = np.flatnonzero(np.diff(np.isfinite(values).astype(np.int8)))
    return np.concatenate((before, before + 1))


def runs(wanted: NDArray[np.bool_]) -> list[tuple[int, int]]:
    """Return (first, last) of each run of true values.

    >>> runs(np.array([True, True, False, True]))
    [(0, 1), (3, 3)]
    """
    padded = np.concatenate(([0], wanted.astype(np.int8), [0]))
    steps = np.diff(padded)
    pairs = zip(np.flatnonzero(steps == 1), np.flatnonzero(steps == -1) - 1, strict=True)
    return [(int(first), int(last)) for first, last in pairs]


def stretches(
    along: NDArray[np.float64], wanted: NDArray[np.bool_], *, least: float
) -> list[tuple[float, float]]:
    """Return the stretches to draw where `wanted` holds, none thinner than `least`.

    A sample covers the curve from itself to the next one. Stretches that would
    touch once widened are drawn as one; none is ever dropped.
    """
    drawn: list[tuple[float, float]] = []
    for first, last in runs(wanted):
        start, end = float(along[first]), float(along[min(last + 1, len(along) - 1)])
        short = max(0.0, least - (end - start)) / 2
        start, end = max(start - short, float(along[0])), min(end + short, float(along[-1]))
        if drawn and start <= drawn[-1][1]:
            drawn[-1] = (drawn[-1][0], max(end, drawn[-1][1]))
        else:
            drawn.append((start, end))
    return drawn

"""Do neighbouring tiles meet? Steps across seams, and posts that two tiles tell apart.

::

    ──·──·──·╮                 step: what is left between the ground of both sides,
             │ step            each carried on to the middle of the seam at the slope
             ╰·──·──·──        it has there

A step is the sign of two surveys, two vertical datums, or bare earth beside
treetops; terrain itself steps now and then, but not along a whole seam.
"""

from __future__ import annotations

import itertools
from collections import defaultdict
from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass
from typing import Final

import numpy as np

from terrain_guard.arrays import Floats, Ints
from terrain_guard.ground.mosaic import Mosaic

STEP_SHARE: Final = 3.0
"""A median step of more than this many times the usual step from post to post is told."""
LEAST_STEP_M: Final = 1.0
LEAST_DIFFERENCE_M: Final = 0.01
LEAST_POSTS: Final = 5
MOST_POSTS: Final = 2**22
"""Shared by two tiles, looked at for differences."""

Window = tuple[int, int, int, int]
"""Top, bottom, left and right of posts, [start, stop) each."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Seam:
    """Two tiles that do not meet: their numbers in the layout, and by how much."""

    first: int
    second: int
    is_shared: bool  # both know the same posts there; else they lie side by side
    median_m: float  # second above first, signed
    greatest_m: float  # absolute
    usual_m: float  # from post to post beside the seam; NaN where posts are shared
    row: float  # a place in the middle of what was looked at
    column: float


def seams(mosaic: Mosaic, windows: Sequence[Window]) -> tuple[Seam, ...]:
    """Return where tiles do not meet, within the windows that were used.

    Parameters
    ----------
    mosaic : Mosaic
        Only tiles that were read are looked at.
    windows : sequence of Window
        Posts of the lattice.

    Returns
    -------
    tuple of Seam
        A median step of more than 1 m and three times the usual step from post to post;
        posts that two tiles of one cell size tell more than 1 cm apart; tiles of two cell
        sizes whose shared ground differs by more than 1 m in the median.
    """
    if len(mosaic.read) < 2:
        return ()
    return (*_steps(mosaic, windows), *_differences(mosaic, windows))


# -- steps across seams ------------------------------------------------------------


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class _Across:
    """Posts along seams: the last two on one side, the first two on the other."""

    before: Ints  # the tile that answers on the one side
    after: Ints
    z: Floats  # (4, n)
    row: Ints
    column: Ints


def _steps(mosaic: Mosaic, windows: Sequence[Window]) -> Iterator[Seam]:
    read = np.array(sorted(mosaic.read))
    for across in (*_along_columns(mosaic, windows), *_along_rows(mosaic, windows)):
        before, after = across.z[1] - across.z[0], across.z[3] - across.z[2]
        step = across.z[2] - across.z[1] - (before + after) / 2
        known = np.isfinite(step) & np.isin(across.before, read) & np.isin(across.after, read)
        usual = np.maximum(np.abs(before), np.abs(after))
        for pair in sorted(set(zip(across.before[known], across.after[known], strict=True))):
            here = known & (across.before == pair[0]) & (across.after == pair[1])
            seam = Seam(
                first=int(pair[0]),
                second=int(pair[1]),
                is_shared=False,
                median_m=float(np.median(step[here])),
                greatest_m=float(np.abs(step[here]).max()),
                usual_m=float(np.median(usual[here])),
                row=float(np.median(across.row[here])),
                column=float(np.median(across.column[here])),
            )
            least = max(STEP_SHARE * seam.usual_m, LEAST_STEP_M)
            if np.count_nonzero(here) >= LEAST_POSTS and abs(seam.median_m) > least:
                yield seam


def _along_columns(mosaic: Mosaic, windows: Iterable[Window]) -> Iterator[_Across]:
    """Yield what lies across each seam that runs along a column of posts."""
    for column, rows in _spans(mosaic.edges[1], ((w[2:], w[:2]) for w in windows)):
        yield from _across(mosaic, rows, np.full_like(rows, column), (0, 1))


def _along_rows(mosaic: Mosaic, windows: Iterable[Window]) -> Iterator[_Across]:
    for row, columns in _spans(mosaic.edges[0], ((w[:2], w[2:]) for w in windows)):
        yield from _across(mosaic, np.full_like(columns, row), columns, (1, 0))


def _spans(
    edges: Ints, windows: Iterable[tuple[tuple[int, ...], tuple[int, ...]]]
) -> Iterator[tuple[int, Ints]]:
    """Yield each edge that lies within windows, and the posts along it that they hold."""
    along: dict[int, list[Ints]] = defaultdict(list)
    for (start, stop), span in windows:
        for edge in edges[(edges > start) & (edges < stop)].tolist():
            along[edge].append(np.arange(*span))
    for edge, spans in along.items():
        yield edge, np.unique(np.concatenate(spans))


def _across(mosaic: Mosaic, row: Ints, column: Ints, step: tuple[int, int]) -> Iterator[_Across]:
    """Yield the posts on both sides of an edge, where the tile that answers changes."""
    before, after = mosaic.owner(row - step[0], column - step[1]), mosaic.owner(row, column)
    seam = (before != after) & (before >= 0) & (after >= 0)
    if not seam.any():
        return
    row, column = row[seam], column[seam]
    z = np.stack([mosaic.posts(row + k * step[0], column + k * step[1]) for k in (-2, -1, 0, 1)])
    yield _Across(before=before[seam], after=after[seam], z=z, row=row, column=column)


# -- posts that two tiles know -----------------------------------------------------


def _differences(mosaic: Mosaic, windows: Sequence[Window]) -> Iterator[Seam]:
    for first, second in itertools.combinations(sorted(mosaic.read), 2):
        shared = mosaic.overlap(first, second)
        if shared is None:
            continue
        difference, row, column = _shared(mosaic, (first, second), shared, windows)
        if not difference.size:
            continue
        seam = Seam(
            first=first,
            second=second,
            is_shared=True,
            median_m=float(np.median(difference)),
            greatest_m=float(np.abs(difference).max()),
            usual_m=float("nan"),
            row=float(np.median(row)),
            column=float(np.median(column)),
        )
        if mosaic.alike(first, second):
            differs = seam.greatest_m > LEAST_DIFFERENCE_M
        else:
            differs = abs(seam.median_m) > LEAST_STEP_M
        if differs:
            yield seam


def _shared(
    mosaic: Mosaic, pair: tuple[int, int], shared: Window, windows: Sequence[Window]
) -> tuple[Floats, Ints, Ints]:
    """Return second minus first on posts of both, within the windows, and where they are."""
    found = [(np.zeros(0), np.zeros(0, np.int64), np.zeros(0, np.int64))]
    left_over = MOST_POSTS
    for window in windows:
        rows = max(window[0], shared[0]), min(window[1], shared[1])
        columns = max(window[2], shared[2]), min(window[3], shared[3])
        count = max(rows[1] - rows[0], 0) * max(columns[1] - columns[0], 0)
        if not 0 < count <= left_over:
            continue
        left_over -= count
        first, second = (mosaic.window_of(number, rows, columns) for number in pair)
        row, column = np.nonzero(np.isfinite(first) & np.isfinite(second))
        found.append(((second - first)[row, column], row + rows[0], column + columns[0]))
    difference, row, column = (np.concatenate([one[k] for one in found]) for k in range(3))
    return difference, row, column

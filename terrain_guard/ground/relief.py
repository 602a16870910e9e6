"""The ground near a bundle of straight ways: highest posts of groups of cells, and cells.

Everything is placed in metres east and north of the place where the ways meet, so that a line
straight in metres can be held against groups however far off they are.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from terrain_guard.arrays import Bools, Floats, Ints
from terrain_guard.ground.patches import LocalMap
from terrain_guard.ground.peaks import TILE, Level, Peaks, Source, Touched
from terrain_guard.path.frame import LocalFrame

STEP = TILE // 4  # cells between places at which tiles near a way are looked for
WIDER = 1.002  # groups are not exactly as large everywhere


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Groups:
    """Square groups of cells of one size, with their middles in metres."""

    level: Level
    map: LocalMap
    radius_m: float  # half their diagonal

    @property
    def size(self) -> int:
        """Cells along one side."""
        return self.level.size

    def middles(self, i: Ints, j: Ints) -> tuple[Floats, Floats]:
        """Return east and north of the middles of groups (i, j)."""
        return self.map.metres((i + 0.5) * self.size, (j + 0.5) * self.size)

    def top(self, i: Ints, j: Ints) -> Floats:
        """Return their highest posts; −inf where nothing is known or was asked for."""
        level = self.level
        rows, columns = level.most.shape
        row, column = i - level.row0, j - level.column0
        inside = (row >= 0) & (row < rows) & (column >= 0) & (column < columns)
        return np.where(inside, level.most.ravel()[level.pick(i, j)], -np.inf)

    def has_void(self, i: Ints, j: Ints) -> Bools:
        """Return which of them miss a post."""
        found: Bools = self.level.has_void.ravel()[self.level.pick(i, j)]
        return found


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Relief:
    """The ground within reach of straight ways from one place. See `Ground.relief`."""

    source: Source
    groups: tuple[Groups, ...]  # largest first
    map: LocalMap
    frame: LocalFrame
    home: tuple[float, float]  # fractional posts
    to_row: Floats
    to_column: Floats
    has_void: bool
    pad: tuple[float, float]  # rows and columns within reach beside a way

    def ends_m(self) -> tuple[Floats, Floats]:
        """Return east and north of where the ways lead."""
        return self.map.metres(self.to_row, self.to_column)

    def degrees(self, east_m: Floats, north_m: Floats) -> tuple[Floats, Floats]:
        """Return (lon, lat) of places; NaN stays NaN."""
        lon, lat = self.frame.to_degrees(np.nan_to_num(east_m), np.nan_to_num(north_m))
        nowhere = np.isnan(east_m)
        return np.where(nowhere, np.nan, lon), np.where(nowhere, np.nan, lat)

    def corners(self, i: Ints, j: Ints) -> tuple[Floats, Floats, Floats, Floats]:
        """Return the elevations (z00, z01, z10, z11) of the posts of cells (i, j)."""
        posts = self.source.posts
        return posts(i, j), posts(i, j + 1), posts(i + 1, j), posts(i + 1, j + 1)


def touched(
    home: tuple[float, float], to: tuple[Floats, Floats], *, pad: tuple[float, float]
) -> Touched:
    """Return the tiles within so many rows and columns of chords from one place."""
    rows, columns = to[0] - home[0], to[1] - home[1]
    far = max(float(np.abs(rows).max(initial=0.0)), float(np.abs(columns).max(initial=0.0)))
    share = np.linspace(0.0, 1.0, int(np.ceil(far / STEP)) + 1)
    row, column = (
        (start + np.outer(share, step)).ravel()
        for start, step in zip(home, (rows, columns), strict=True)
    )
    spans = []
    for values, wide in zip((row, column), pad, strict=True):
        reach = wide + STEP / 2 + 1
        spans.append(
            (
                np.floor((values - reach) / TILE).astype(np.int64),
                np.floor((values + reach) / TILE).astype(np.int64),
            )
        )
    (top, bottom), (left, right) = spans
    row0, column0 = int(top.min()), int(left.min())
    marks = np.zeros((int(bottom.max()) - row0 + 1, int(right.max()) - column0 + 1), dtype=bool)
    for down in range(int((bottom - top).max()) + 1):
        for across in range(int((right - left).max()) + 1):
            i, j = np.minimum(top + down, bottom), np.minimum(left + across, right)
            marks[i - row0, j - column0] = True
    return Touched(row0=row0, column0=column0, is_touched=marks)


def relief_near(
    source: Source,
    near: Touched,
    *,
    home: tuple[float, float],
    to: tuple[Floats, Floats],
    map_: LocalMap,
    frame: LocalFrame,
    pad: tuple[float, float],
) -> Relief:
    """Read the tiles and return what stands on them."""
    peaks = Peaks.under(source, near, sign=1.0)
    row, column = (np.append(start, end) for start, end in zip(home, to, strict=True))
    jacobian = map_.jacobian(row, column)
    one = np.hypot(*(jacobian[:, k, 0] + jacobian[:, k, 1] for k in (0, 1))).max()
    other = np.hypot(*(jacobian[:, k, 0] - jacobian[:, k, 1] for k in (0, 1))).max()
    half = float(max(one, other)) / 2 * WIDER
    return Relief(
        source=source,
        groups=tuple(
            Groups(level=level, map=map_, radius_m=half * level.size) for level in peaks.levels
        ),
        map=map_,
        frame=frame,
        home=home,
        to_row=to[0],
        to_column=to[1],
        has_void=peaks.has_void,
        pad=pad,
    )

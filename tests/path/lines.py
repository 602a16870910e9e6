"""Lines that are drawn, searched by place: what flies over it, and how high."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np
from scipy.spatial import cKDTree

from terrain_guard.path.curve import GAP

if TYPE_CHECKING:
    from terrain_guard.arrays import Floats
    from terrain_guard.path.curve import Curve

PLACE_M = 2e-3
"""How near to a place a line flies over it: chords leave their curves by a millimetre."""


class Lines:
    """Lines that are drawn, by leg; finds those over a place."""

    def __init__(self, lines: list[Curve]) -> None:
        self.start, self.stop, self.leg, self.name = (
            np.concatenate(parts) for parts in zip(*map(self._chords, lines), strict=True)
        )
        self._tree = cKDTree((self.start[:, :2] + self.stop[:, :2]) / 2)
        reach = np.linalg.norm(self.stop[:, :2] - self.start[:, :2], axis=1).max() / 2
        self._reach_m = float(reach) + PLACE_M

    @staticmethod
    def _chords(line: Curve) -> tuple[Floats, Floats, Floats, Floats]:
        use = line.leg != GAP
        points = np.stack((line.x_m, line.y_m, line.above_launch_m), axis=1)
        names = np.array(["/".join(words) for words in line.ways])[line.way[use]]
        return points[:-1][use], points[1:][use], line.leg[use], names

    def heights_over(self, place: Floats, leg: int) -> tuple[Floats, Floats]:
        """Return least and greatest height over a place of each chord there, and its name."""
        near = np.array(self._tree.query_ball_point(place[:2], self._reach_m), dtype=int)
        near = near[self.leg[near] == leg]
        start, stop = self.start[near], self.stop[near]
        step = (stop - start)[:, :2]
        size = np.sum(step**2, axis=1)
        share = np.sum((place[:2] - start[:, :2]) * step, axis=1)
        share = np.clip(share / np.where(size > 0, size, 1.0), 0.0, 1.0)
        away = np.hypot(*(start[:, :2] + share[:, None] * step - place[:2]).T)
        over = away < PLACE_M
        upright = (size == 0)[over]
        height = (start + share[:, None] * (stop - start))[over, 2]
        ends = np.stack((start[over, 2], stop[over, 2]))
        low = np.where(upright, ends.min(axis=0), height)
        high = np.where(upright, ends.max(axis=0), height)
        return np.stack((low, high)), self.name[near][over]

"""Cut a curve over the ground where something changes, before clearance is known.

Cuts stand where a limit of height above ground is reached, where ground begins
or ends to be missing, at the edge of a column, and at each leg's exact extremes.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass

import numpy as np

from terrain_guard.arrays import Bools, Floats, Ints
from terrain_guard.checks.wanted import Wanted
from terrain_guard.ground.bilinear import Pieces
from terrain_guard.ground.model import Ground
from terrain_guard.path.curve import Curve, at

FEW_CELLS = 300_000  # in one window of patches: no need to split further
MOST_SAMPLES = 2_000
LEVEL = 1e-9  # slopes less than this are level
SAME_M = 1e-6
HAIR = 1e-9  # of a chord


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Sketch:
    """A curve over the ground, cut exactly, before clearance is known."""

    curve: Curve
    ground: Ground
    wanted: Wanted
    row: Floats  # of the curve's samples
    column: Floats
    elevation: Floats
    position: Floats  # of the cuts, samples included

    @classmethod
    def of(cls, curve: Curve, ground: Ground, wanted: Wanted, launch_elevation_m: float) -> Sketch:
        """Lay a curve over the ground and cut it."""
        row, column = ground.posts_at(curve.lon_deg, curve.lat_deg)
        elevation = launch_elevation_m + curve.above_launch_m
        samples = np.arange(row.size, dtype=float)
        edges = np.unique(np.concatenate((samples, _column_edges(curve, wanted))))
        pieces = ground.above_ground(at(row, edges), at(column, edges), at(elevation, edges))
        sketch = cls(
            curve=curve, ground=ground, wanted=wanted,
            row=row, column=column, elevation=elevation, position=edges,
        )  # fmt: skip
        cuts = sketch._cuts(pieces)
        return cls(
            curve=curve, ground=ground, wanted=wanted,
            row=row, column=column, elevation=elevation,
            position=_merged(edges, at(edges, cuts)),
        )  # fmt: skip

    def _cuts(self, pieces: Pieces) -> Floats:
        """Return where a limit is reached, ground is missing, or a leg has its extremes."""
        wanted = self.wanted
        turn, value = _turning_points(pieces)
        beyond = (value > wanted.ceiling_m - wanted.ceiling_margin_m) | (value < 0)
        parts = [_reaching(pieces, level) for level in wanted.levels]
        parts += [pieces.missing_edges(), turn[beyond], self._leg_extremes(turn, value)]
        return np.concatenate(parts)

    def _leg_extremes(self, turn: Floats, value: Floats) -> Floats:
        """Return the positions of each leg's least and greatest turning point."""
        known = np.isfinite(value)
        turn, value = turn[known], value[known]
        position = at(self.position, turn)
        leg, in_column = self.leg_at(position), self.in_column(position)
        found = []
        for one in np.unique(leg):
            for sign, use in ((1, (leg == one) & ~in_column), (-1, leg == one)):
                if use.any():
                    found.append(turn[use][np.argmin(sign * value[use])])
        return np.array(found)

    @property
    def last_leg(self) -> int:
        """Number of the curve's last leg."""
        return int(self.curve.leg[-1])

    def leg_at(self, position: Floats) -> Ints:
        """Return the leg of the chord at each position."""
        chord = np.clip(position.astype(np.int64), 0, self.curve.leg.size - 1)
        return self.curve.leg[chord]

    def in_column(self, position: Floats) -> Bools:
        """Return whether each position lies in the take-off or landing column of its leg."""
        x, y, leg = at(self.curve.x_m, position), at(self.curve.y_m, position), None
        inside = np.zeros(position.shape, dtype=bool)
        for number, column in self.wanted.columns.items():
            leg = self.leg_at(position) if leg is None else leg
            away = np.hypot(x - column.place[0], y - column.place[1])
            inside |= (leg == number) & (away < column.radius_m)
        return inside

    def above_ground(self, position: Floats) -> Floats:
        """Return the height above ground at positions; NaN where ground is missing."""
        ground = self.ground.elevation_at(at(self.row, position), at(self.column, position))
        return at(self.elevation, position) - ground

    def points(self, position: Floats) -> dict[str, Floats]:
        """Return everything but clearance at positions."""
        return {
            "position": position,
            "row": at(self.row, position),
            "column": at(self.column, position),
            "along_m": at(self.curve.along_m, position),
            "above_launch_m": at(self.curve.above_launch_m, position),
            "elevation_m": at(self.elevation, position),
            "above_ground_m": self.above_ground(position),
        }

    def chunks(self) -> Iterator[Floats]:
        """Yield runs of positions, sharing their ends, whose patches fit one window."""
        todo = [self.position[k : k + MOST_SAMPLES + 1]
                for k in range(0, max(self.position.size - 1, 1), MOST_SAMPLES)]  # fmt: skip
        while todo:
            run = todo.pop(0)
            if run.size > 32 and self._too_wide(run):
                half = run.size // 2
                todo[:0] = [run[: half + 1], run[half:]]
            else:
                yield run

    def _too_wide(self, position: Floats) -> bool:
        """Return whether two half windows would hold far fewer cells than one."""
        row, column = at(self.row, position), at(self.column, position)
        known = np.isfinite(row) & np.isfinite(column)
        if not known.any():
            return False
        reach = reach_m(self.wanted, self.above_ground(position))
        cells = self.ground.cells_around(row[known], column[known], reach_m=reach)
        least = self.ground.cells_around(row[known][:1], column[known][:1], reach_m=reach)
        return cells > max(FEW_CELLS, 4 * least)


def _turning_points(pieces: Pieces) -> tuple[Floats, Floats]:
    """Return (position, value) of every local extreme, inside cells and on their edges.

    ::

          ╱╲ edge      ◜◝ inside
        ╱    ╲       ╱    ╲
    """
    inside, value = pieces.vertex()
    before, after = _slopes_at_edges(pieces)
    edge = (before < -LEVEL) != (after < -LEVEL)
    position = np.concatenate((inside, pieces.start[1:][edge]))
    return position, np.concatenate((value, pieces.a0[1:][edge]))


def _reaching(pieces: Pieces, level: float) -> Floats:
    """Return the positions where the height is at `level`, bends on edges of cells included."""
    before, after = _slopes_at_edges(pieces)
    bends = np.abs(after - before) > LEVEL
    on_edge = bends & (np.abs(pieces.a0[1:] - level) < SAME_M)
    return np.concatenate((pieces.reaching(level), pieces.start[1:][on_edge]))


def _slopes_at_edges(pieces: Pieces) -> tuple[Floats, Floats]:
    """Return the slopes, in metres a piece, just before and just after each edge."""
    return (pieces.a1 + 2 * pieces.a2)[:-1], pieces.a1[1:]


def _merged(one: Floats, other: Floats) -> Floats:
    """Merge sorted positions; of the others, those a hair from one or from the last are dropped."""
    both = np.unique(np.concatenate((one, other[np.isfinite(other)])))
    whole, close = np.isin(both, one), np.diff(both) < HAIR
    behind_one, before_one = np.append(False, close), np.append(close & whole[1:], False)
    return both[whole | ~(behind_one | before_one)]


def _column_edges(curve: Curve, wanted: Wanted) -> Floats:
    """Return the positions where the curve enters or leaves a column."""
    found = []
    for leg, column in wanted.columns.items():
        chord = np.flatnonzero(curve.leg == leg)
        x0, y0 = curve.x_m[chord] - column.place[0], curve.y_m[chord] - column.place[1]
        dx, dy = np.diff(curve.x_m)[chord], np.diff(curve.y_m)[chord]
        a, b = dx**2 + dy**2, x0 * dx + y0 * dy
        with np.errstate(divide="ignore", invalid="ignore"):
            root = np.sqrt(b**2 - a * (x0**2 + y0**2 - column.radius_m**2))
            share = np.stack(((-b - root) / a, (-b + root) / a))
        inside = (share > 0) & (share < 1)
        found.append((chord + share)[inside])
    return np.concatenate(found) if found else np.zeros(0)


def reach_m(wanted: Wanted, above_ground_m: Floats) -> float:
    """Return how far from points with these heights above ground the search may lead."""
    reach = wanted.floor_reach_m
    if wanted.closest_point_ceiling:
        reach = max(reach, wanted.ceiling_m)
    if np.isfinite(above_ground_m).any():
        # A metre more: points put between these may stand a little higher.
        margin = max(wanted.floor_margin_m, wanted.ceiling_margin_m)
        reach = max(reach, float(np.nanmax(np.abs(above_ground_m))) + margin) + 1.0
    return reach

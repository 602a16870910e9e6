"""Cut a curve over the ground where something changes, before clearance is known.

Cuts stand where a limit of height above ground is reached, where ground begins
or ends to be missing, at the edge of a column, and at each leg's exact extremes.
"""

from __future__ import annotations

import math
from collections.abc import Iterator, Mapping
from dataclasses import dataclass, replace

import numpy as np

from terrain_guard.arrays import Bools, Floats, Ints
from terrain_guard.checks.beneath import GROUND, SURFACE, Beneath
from terrain_guard.checks.margins import Margins
from terrain_guard.checks.wanted import Wanted
from terrain_guard.ground.bilinear import Pieces
from terrain_guard.path.curve import GAP, Curve, at

FEW_CELLS = 300_000  # in one window of patches: no need to split further
MOST_SAMPLES = 2_000
LEVEL = 1e-9  # slopes less than this are level
SAME_M = 1e-6
HAIR = 1e-9  # of a chord
KEYS = {
    GROUND: ("row", "column", "above_ground_m"),
    SURFACE: ("surface_row", "surface_column", "above_surface_m"),
}
"""Under which names points carry their place and height over each model."""


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Sketch:
    """A curve over the ground, cut exactly, before clearance is known.

    ``posts`` places the curve's samples among the posts of each model, (row, column);
    where one model knows no place for a sample, no model has one.
    """

    curve: Curve
    beneath: Beneath
    wanted: Wanted
    margins: Margins
    posts: dict[str, tuple[Floats, Floats]]
    elevation: Floats
    position: Floats  # of the cuts, samples included

    @classmethod
    def of(cls, curve: Curve, beneath: Beneath, wanted: Wanted, margins: Margins) -> Sketch:
        """Lay a curve over the ground and cut it."""
        elevation = beneath.level_m(curve.x_m, curve.y_m) + curve.above_launch_m
        samples = np.arange(elevation.size, dtype=float)
        edges = np.unique(np.concatenate((samples, _column_edges(curve, wanted))))
        sketch = cls(
            curve=curve, beneath=beneath, wanted=wanted, margins=margins,
            posts=_posts(curve, beneath),
            elevation=elevation, position=edges,
        )  # fmt: skip
        cuts = [at(edges, sketch._cuts()), *sketch._sea_level_cuts()]
        if beneath.surface is not None and wanted.vertical_floor:
            cuts.append(at(edges, sketch._floor_cuts()))
        return replace(sketch, position=_merged(edges, np.concatenate(cuts)))

    def _pieces(self, model: str) -> Pieces:
        """Return the exact height of the curve above one model."""
        row, column = self.posts_of(model, self.position)
        elevation = at(self.elevation, self.position)
        return self.beneath.models[model].above_ground(row, column, elevation)

    def _cuts(self) -> Floats:
        """Return where a limit is reached, ground is missing, or a leg has its extremes."""
        wanted, pieces = self.wanted, self._pieces(GROUND)
        turn, value = _turning_points(pieces)
        beyond = (value > wanted.model_ceiling_m - wanted.ceiling_margin_m) | (value < 0)
        parts = [_reaching(pieces, level) for level in wanted.levels]
        parts += [pieces.missing_edges(), turn[beyond], self._leg_extremes(turn, value)]
        return np.concatenate([*parts, *self._cuts_with_margins(pieces)])

    def _cuts_with_margins(self, pieces: Pieces) -> Iterator[Floats]:
        """Yield where a limit is reached with margins, and each leg's extremes with them."""
        wanted, margins = self.wanted, self.margins
        moved = [pieces.raised(at(m, self.position)) for m in (margins.ceiling_m, -margins.floor_m)]
        if math.isfinite(wanted.model_ceiling_m):
            yield _reaching(moved[0], wanted.model_ceiling_m)
        for level in wanted.floor_levels:
            yield _reaching(moved[1], level)
        for one in moved:
            yield self._leg_extremes(*_turning_points(one))

    def _sea_level_cuts(self) -> Iterator[Floats]:
        """Yield where a ceiling above sea level is reached, without and with margins."""
        wanted = self.wanted
        elevation = self.beneath.above_sea_m(self.curve.above_launch_m)
        for level in wanted.sea_levels:
            yield _crossings(elevation, level)
            raised = elevation + self.margins.ceiling_m + wanted.sea_level_doubt_m
            yield _crossings(raised, level)

    def _floor_cuts(self) -> Floats:
        """Return where a floor straight above the surface model changes."""
        pieces = self._pieces(SURFACE)
        lowered = pieces.raised(at(-self.margins.floor_m, self.position))
        levels = self.wanted.floor_levels
        parts = [_reaching(one, level) for level in levels for one in (pieces, lowered)]
        parts += [pieces.missing_edges(), self._leg_extremes(*_turning_points(pieces))]
        return np.concatenate(parts)

    def _leg_extremes(self, turn: Floats, value: Floats) -> Floats:
        """Return the positions of each leg's least and greatest turning point."""
        known = np.isfinite(value)
        turn, value = turn[known], value[known]
        position = at(self.position, turn)
        leg, in_column = self.leg_at(position), self.in_column(position)
        found = []
        for one in np.unique(leg[leg != GAP]):
            for sign, use in ((1, (leg == one) & ~in_column), (-1, leg == one)):
                if use.any():
                    found.append(turn[use][np.argmin(sign * value[use])])
        return np.array(found)

    @property
    def last_leg(self) -> int:
        """Number of the curve's last leg."""
        return max(self.curve.legs)

    def leg_at(self, position: Floats) -> Ints:
        """Return the leg of the chord at each position."""
        chord = np.clip(position.astype(np.int64), 0, self.curve.leg.size - 1)
        return self.curve.leg[chord]

    def flown(self, position: Floats) -> Bools:
        """Return whether each position lies where the curve is flown."""
        return self.leg_at(position) != GAP

    def in_column(self, position: Floats) -> Bools:
        """Return whether each position lies in the take-off or landing column of its leg."""
        x, y, leg = at(self.curve.x_m, position), at(self.curve.y_m, position), None
        inside = np.zeros(position.shape, dtype=bool)
        for number, column in self.wanted.columns.items():
            leg = self.leg_at(position) if leg is None else leg
            away = np.hypot(x - column.place[0], y - column.place[1])
            inside |= (leg == number) & (away < column.radius_m)
        return inside

    def posts_of(self, model: str, position: Floats) -> tuple[Floats, Floats]:
        """Return (row, column) of positions among the posts of one model."""
        row, column = self.posts[model]
        return at(row, position), at(column, position)

    def above(self, model: str, position: Floats) -> Floats:
        """Return the height above one model at positions; NaN where it does not know."""
        if model not in self.posts:
            return np.full(position.shape, np.nan)
        below = self.beneath.models[model].elevation_at(*self.posts_of(model, position))
        return at(self.elevation, position) - below

    def points(self, position: Floats) -> dict[str, Floats]:
        """Return everything but clearance at positions, for each model by its `KEYS`."""
        out = {
            "position": position,
            "along_m": at(self.curve.along_m, position),
            "above_launch_m": at(self.curve.above_launch_m, position),
            "elevation_m": at(self.elevation, position),
            "floor_margin_m": at(self.margins.floor_m, position),
            "ceiling_margin_m": at(self.margins.ceiling_m, position),
        }
        nothing = np.full(position.shape, np.nan)
        for model, (row, column, above) in KEYS.items():
            known = model in self.posts
            out[row], out[column] = self.posts_of(model, position) if known else (nothing, nothing)
            out[above] = self.above(model, position)
        return out

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
        cells = least = 0
        points = self.points(position)
        for name, model in self.beneath.models.items():
            row, column = (points[key][np.isfinite(points["row"])] for key in KEYS[name][:2])
            if not row.size:
                return False
            reach = reach_m(self.wanted, points, name)
            cells += model.cells_around(row, column, reach_m=reach)
            least += model.cells_around(row[:1], column[:1], reach_m=reach)
        return cells > max(FEW_CELLS, 4 * least)


def _posts(curve: Curve, beneath: Beneath) -> dict[str, tuple[Floats, Floats]]:
    posts = {
        name: model.posts_at(curve.lon_deg, curve.lat_deg) for name, model in beneath.models.items()
    }
    known = np.logical_and.reduce([np.isfinite(row + column) for row, column in posts.values()])
    return {
        name: (np.where(known, row, np.nan), np.where(known, column, np.nan))
        for name, (row, column) in posts.items()
    }


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


def _crossings(elevation_m: Floats, level_m: float) -> Floats:
    """Return the positions, inside chords, where the curve itself is at an elevation."""
    with np.errstate(divide="ignore", invalid="ignore"):
        share = (level_m - elevation_m[:-1]) / np.diff(elevation_m)
    chord = np.flatnonzero((share > 0) & (share < 1))
    return chord + share[chord]


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


def reach_m(wanted: Wanted, points: Mapping[str, Floats], model: str) -> float:
    """Return how far from the points the search in one model may lead.

    In the surface model nothing farther than the ground is looked for, but from
    within trees and roofs the way out.
    """
    reach, above = wanted.floor_reach_m, points[KEYS[model][2]]
    up = wanted.ground_below_m + wanted.ceiling_margin_m
    if model == SURFACE:
        above_ground = np.abs(points[KEYS[GROUND][2]])
        above, up = np.fmin(above, np.where(above < 0, np.inf, above_ground)), 0.0
    elif wanted.closest_point_ceiling:
        reach = max(reach, wanted.ceiling_m)
    if np.isfinite(above).any():
        # A metre more: points put between these may stand a little higher.
        lowest, highest = float(np.nanmin(above)), float(np.nanmax(above))
        reach = max(reach, highest + up, wanted.floor_margin_m - lowest) + 1.0
    return reach + wanted.corridor_m

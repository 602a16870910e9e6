r"""How steep the ground is at samples, for each use the slope that it needs.

* The *plane* through the posts within two sigma of registration and a cell: how much
  a small shift of the whole model moves the ground.
* The *steepest* side from post to post: what cells cut off where a crest is near.
  Across a crest the central difference is zero; its sides are not::

           o          steepest: from the crest to a neighbour
         ╱   ╲
       o       o

* Whether a crest or a gully is near: a post not below the mean of its two neighbours
  in some direction may be a crest, one not above a gully. On even ground it is both.
* How much of a *peak* is near: a post above all its neighbours whose ground falls away
  in every direction. Cells make small tops along a slanting ridge, too, but these fall
  away along it by little.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from terrain_guard.arrays import Bools, Floats
from terrain_guard.checks.budget.posts_near import PostsNear, posts_near
from terrain_guard.ground.model import Ground

NEAR_CELLS = 2.0
STEEP = 0.60
"""Faces steeper than this are known sideways only by how far the model may be shifted."""
EVEN_M = 1e-6
FALL_OF_PEAK = 0.4
"""Of a cone, the mean of cells falls away from its top by at least so much of its slope in every
direction; of an elongated peak by less. Found from means of cells; our own choice."""
DIRECTIONS = ((0, 1), (1, 0), (1, 1), (1, -1))  # rows and columns to the next post


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Slopes:
    """Slopes as tangents, at samples (n,); NaN where no ground is known.

    `east`, `north` are those of the plane. `crest` and `gully` are the steepest sides near,
    0 where there is no crest or gully; `face` is the steepest within reach of a shift.
    `peak` is 0 for a ridge, 1 for a peak, between for an elongated one; `pit` the same below.
    """

    east: Floats
    north: Floats
    crest: Floats
    gully: Floats
    face: Floats
    peak: Floats
    pit: Floats

    @property
    def plane(self) -> Floats:
        """The slope of the plane, whichever way it falls."""
        return np.hypot(self.east, self.north)

    @property
    def steepest_face(self) -> Floats:
        """The steepest within reach; between the eight directions a plane may be steeper still."""
        return np.fmax(self.face, self.plane)

    @property
    def is_steep(self) -> Bools:
        """Where a face steeper than 60 % is within reach."""
        return self.steepest_face > STEEP


def slopes(
    ground: Ground, row: Floats, column: Floats, *, registration_m: float, cell_m: float
) -> Slopes:
    """Measure the slopes of the ground at samples.

    Parameters
    ----------
    row, column : (n,) float
        Fractional posts; NaN where a sample has no place.
    registration_m : float
        One sigma per axis of a shift of the whole model.
    cell_m : float
        The longer side of its coarsest cells.
    """
    reach_m, split = _reach(registration_m, cell_m), _split(ground, cell_m)
    # A tenth more: cells of degrees are not equally large everywhere.
    farthest = max(NEAR_CELLS * split, 1.1 * reach_m / min(ground.raster.cell_m))
    near = posts_near(ground, row, column, cells=int(np.ceil(farthest)) + 1)
    return slopes_of(near, reach_m=reach_m, split=split)


def slopes_of(near: PostsNear, *, reach_m: float, split: float = 1.0) -> Slopes:
    """Measure the slopes from posts.

    Parameters
    ----------
    reach_m : float
        How far off posts belong to the plane.
    split : float
        How many posts there are to a cell, where coarse tiles lie among fine ones.
    """
    along_column, along_row = near.cell_m
    reach = near.within(reach_m / along_column, reach_m / along_row)
    close = near.within(NEAR_CELLS * split, NEAR_CELLS * split)
    east, north = _plane(near, reach)
    look = _Look.over(near)
    close, reach = close[:, 1:-1, 1:-1], reach[:, 1:-1, 1:-1]
    steepest = _greatest(look.steepest, close)
    return Slopes(
        east=east,
        north=north,
        crest=np.where(_any(look.may_be_crest & close), steepest, 0 * steepest),
        gully=np.where(_any(look.may_be_gully & close), steepest, 0 * steepest),
        face=_greatest(look.steepest, reach),
        peak=_peak(look.fall, close, steepest),
        pit=_peak(look.rise, close, steepest),
    )


def _reach(registration_m: float, cell_m: float) -> float:
    return 2 * registration_m + cell_m


def _split(ground: Ground, cell_m: float) -> float:
    return max(1.0, round(cell_m / max(ground.raster.cell_m)))


def _peak(fall: Floats, where: Bools, steepest: Floats) -> Floats:
    """Return how much of a peak the posts marked are (n,), 0 to 1."""
    most = np.fmax.reduce(np.where(where, fall, 0.0), axis=(1, 2), initial=0.0)
    with np.errstate(divide="ignore", invalid="ignore"):
        share = most / (FALL_OF_PEAK * steepest)
    return np.where(most > 0, np.minimum(share, 1.0), 0.0)


def _any(marked: Bools) -> Bools:
    return np.asarray(marked.any(axis=(1, 2)))


def _greatest(values: Floats, where: Bools) -> Floats:
    """Return the greatest known value (n,) of those marked; NaN where none is known."""
    found = np.fmax.reduce(np.where(where, values, -np.inf), axis=(1, 2), initial=-np.inf)
    return np.where(found >= 0, found, np.nan)


def _plane(near: PostsNear, among: Bools) -> tuple[Floats, Floats]:
    """Return the slopes (east, north) of the plane fitted to posts by least squares."""
    weight = (among & np.isfinite(near.z)).astype(float)
    count = weight.sum(axis=(1, 2))
    with np.errstate(divide="ignore", invalid="ignore"):
        x, y, z = (
            values - ((weight * values).sum(axis=(1, 2)) / count)[:, None, None]
            for values in (near.across[:, None, :], near.down[:, :, None], np.nan_to_num(near.z))
        )
        (xx, xy, xz), (yy, yz) = (
            [(weight * a * b).sum(axis=(1, 2)) for b in others]
            for a, others in ((x, (x, y, z)), (y, (y, z)))
        )
        det = xx * yy - xy * xy
        per_column, per_row = (yy * xz - xy * yz) / det, (xx * yz - xy * xz) / det
    good = det > 1e-6
    return _in_metres(
        np.where(good, per_column, np.nan), np.where(good, per_row, np.nan), near.metres
    )


def _in_metres(per_column: Floats, per_row: Floats, metres: Floats) -> tuple[Floats, Floats]:
    """Turn metres per cell into slopes (east, north)."""
    (ec, er), (nc, nr) = ((metres[:, k, 0], metres[:, k, 1]) for k in (0, 1))
    det = ec * nr - er * nc
    return (nr * per_column - nc * per_row) / det, (ec * per_row - er * per_column) / det


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class _Look:
    """What each post (n, k − 2, k − 2) is among its neighbours; the unknown may be anything.

    `fall` is the least slope, over all directions, by which ground falls away on both sides
    in the mean, 0 where some neighbour is higher; `rise` the same upside down.
    """

    steepest: Floats
    may_be_crest: Bools
    may_be_gully: Bools
    fall: Floats
    rise: Floats

    @classmethod
    def over(cls, near: PostsNear) -> _Look:
        z = near.z[:, 1:-1, 1:-1]
        steepest = np.full(z.shape, np.nan)
        crest, gully = np.zeros(z.shape, dtype=bool), np.zeros(z.shape, dtype=bool)
        fall, rise = np.full(z.shape, np.inf), np.full(z.shape, np.inf)
        for rows, columns in DIRECTIONS:
            ahead, behind = (_shifted(near.z, sign * rows, sign * columns) - z for sign in (1, -1))
            bend = ahead + behind
            crest |= ~(bend > EVEN_M)
            gully |= ~(bend < -EVEN_M)
            away = near.step_m(rows, columns)[:, None, None]
            slope = bend / (2 * away)
            fall = np.minimum(fall, np.where(np.maximum(ahead, behind) <= EVEN_M, -slope, 0.0))
            rise = np.minimum(rise, np.where(np.minimum(ahead, behind) >= -EVEN_M, slope, 0.0))
            steepest = np.fmax(steepest, np.fmax(np.abs(ahead), np.abs(behind)) / away)
        return cls(steepest=steepest, may_be_crest=crest, may_be_gully=gully, fall=fall, rise=rise)


def _shifted(z: Floats, rows: int, columns: int) -> Floats:
    height, width = z.shape[1:]
    return z[:, 1 + rows : height - 1 + rows, 1 + columns : width - 1 + columns]

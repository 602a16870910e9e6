"""Ground between posts: the bilinear patch, at points and along chords.

::

    z00 ──u──▶ z01        ground(u, v) = z00 + u (z01 − z00) + v (z10 − z00)
     │                                   + u v (z00 + z11 − z01 − z10)
     v                    u, v in 0…1 between cell centres (posts)
     ▼
    z10        z11        along a straight chord u and v are linear in s, so
                          ground is a quadratic in s: its extremes are closed form

Posts of zero weight are not in the stencil: a point on a line of posts needs
only the posts of that line, and a void beside it does not matter.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Protocol, TypeAlias

import numpy as np

from terrain_guard.arrays import Floats, Ints

ON_LINE = 5e-9  # cells: nearer to a line of posts than this is on it


Shape: TypeAlias = tuple[int, int] | None
"""Posts along a column and along a row; None where they go on without end."""


class Posts(Protocol):
    """Where posts come from: elevations (m) by row and column, NaN if missing."""

    def posts(self, rows: Ints, columns: Ints) -> Floats:
        """Return elevations of the posts."""


def stencil(row: Floats, column: Floats, shape: Shape) -> tuple[Ints, Ints, Floats, Floats]:
    """Return (row, column) of the cell's first post, and the shares (u, v) within it.

    NaN shares mark points outside the hull of the posts; their posts lie off the
    model, so that nothing is read for them. On the last row or column of posts the
    stencil is the last cell's.
    """
    row, column = _snap(row), _snap(column)
    first_row, first_column = np.floor(row), np.floor(column)
    if shape is not None:
        first_row = np.clip(first_row, 0, shape[0] - 2)
        first_column = np.clip(first_column, 0, shape[1] - 2)
    v, u = row - first_row, column - first_column
    outside = ~((u >= 0) & (u <= 1) & (v >= 0) & (v <= 1))
    u, v = np.where(outside, np.nan, u), np.where(outside, np.nan, v)
    rows = np.where(outside, -2, first_row).astype(np.int64)
    columns = np.where(outside, -2, first_column).astype(np.int64)
    return rows, columns, u, v


def _snap(position: Floats) -> Floats:
    whole = np.round(position)
    return np.where(np.abs(position - whole) < ON_LINE, whole, position)


def corners(
    source: Posts, rows: Ints, columns: Ints, *, u: tuple[Floats, Floats], v: tuple[Floats, Floats]
) -> tuple[Floats, Floats, Floats, Floats]:
    """Return the elevations (z00, z01, z10, z11) of the posts of each cell.

    A post without weight from the shares ``u[0], v[0]`` to the shares ``u[1], v[1]`` is
    not asked for: its neighbour stands in, so that its NaN cannot spread.
    """
    left = columns + ((u[0] == 1) & (u[1] == 1))
    right = columns + ((u[0] != 0) | (u[1] != 0))
    top = rows + ((v[0] == 1) & (v[1] == 1))
    bottom = rows + ((v[0] != 0) | (v[1] != 0))
    z00, z01 = source.posts(top, left), source.posts(top, right)
    z10, z11 = source.posts(bottom, left), source.posts(bottom, right)
    return z00, z01, z10, z11


def elevation(source: Posts, row: Floats, column: Floats, shape: Shape) -> Floats:
    """Return the ground elevation (m) at fractional posts; NaN where any post is missing."""
    rows, columns, u, v = stencil(row, column, shape)
    z00, z01, z10, z11 = corners(source, rows, columns, u=(u, u), v=(v, v))
    return z00 * (1 - u) * (1 - v) + z01 * u * (1 - v) + z10 * (1 - u) * v + z11 * u * v


def quadratic(
    source: Posts, start: tuple[Floats, Floats], stop: tuple[Floats, Floats], shape: Shape
) -> tuple[Floats, Floats, Floats]:
    """Return (a0, a1, a2): ground is a0 + a1 s + a2 s² along chords that each stay in one cell.

    Parameters
    ----------
    start, stop : (row, column), each (n,) float
        Fractional posts at s = 0 and s = 1.
    """
    (r0, c0), (r1, c1) = start, stop
    rows, columns, u, _v = stencil((r0 + r1) / 2, (c0 + c1) / 2, shape)
    u0, u1 = _snap(c0) - columns, _snap(c1) - columns
    v0, v1 = _snap(r0) - rows, _snap(r1) - rows
    z00, z01, z10, z11 = corners(source, rows, columns, u=(u0, u1), v=(v0, v1))
    zu, zv, twist = z01 - z00, z10 - z00, z00 + z11 - z01 - z10
    du, dv = u1 - u0, v1 - v0
    a0 = z00 + u0 * zu + v0 * zv + u0 * v0 * twist
    a1 = du * zu + dv * zv + (u0 * dv + v0 * du) * twist
    return np.where(np.isnan(u), np.nan, a0), a1, du * dv * twist


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Pieces:
    """A polyline cut at every cell edge; on each piece a quantity is one quadratic.

    On piece k the quantity is ``a0 + a1 s + a2 s²`` with s from 0 to 1 between
    the positions ``start`` and ``stop``; a position is (vertex number + share of
    the chord that leaves it). NaN coefficients: ground missing.
    """

    start: Floats
    stop: Floats
    a0: Floats
    a1: Floats
    a2: Floats

    def vertex(self) -> tuple[Floats, Floats]:
        """Return (position, value) of each piece's turning point; NaN if it has none inside."""
        with np.errstate(divide="ignore", invalid="ignore"):
            s = -self.a1 / (2 * self.a2)
        s = np.where((s > 0) & (s < 1), s, np.nan)
        return self.start + s * (self.stop - self.start), self.a0 + s * (self.a1 + s * self.a2)

    def reaching(self, level: float) -> Floats:
        """Return the sorted positions, inside pieces, where the quantity equals `level`."""
        c = self.a0 - level
        with np.errstate(divide="ignore", invalid="ignore"):
            root = np.sqrt(self.a1**2 - 4 * self.a2 * c)
            q = -0.5 * (self.a1 + np.where(self.a1 < 0, -root, root))  # no cancellation
            s = np.stack((q / self.a2, c / q))
        inside = (s > 0) & (s < 1)
        positions = self.start + s * (self.stop - self.start)
        return np.unique(positions[inside])

    def raised(self, by: Floats) -> Pieces:
        """Return the same with `by` (n,), given at the vertices and linear between, added."""
        low, high = (np.interp(at, np.arange(by.size), by) for at in (self.start, self.stop))
        return Pieces(
            start=self.start, stop=self.stop, a0=self.a0 + low, a1=self.a1 + high - low, a2=self.a2
        )

    def missing_edges(self) -> Floats:
        """Return the positions where ground begins or ends to be missing."""
        missing = np.isnan(self.a0)
        return self.start[1:][missing[1:] != missing[:-1]]


def above_ground(
    source: Posts, row: Floats, column: Floats, elevation_m: Floats, shape: Shape
) -> Pieces:
    """Cut a 3-D polyline at cell edges and return its height above ground, exactly.

    Parameters
    ----------
    row, column : (n,) float
        Vertices in posts; chords are straight between them.
    elevation_m : (n,) float
        Elevation of the vertices, linear between them.
    """
    start, stop, chord = _cut(row, column)
    s0, s1 = start - chord, stop - chord
    r0, r1 = (row[chord] + s * (row[chord + 1] - row[chord]) for s in (s0, s1))
    c0, c1 = (column[chord] + s * (column[chord + 1] - column[chord]) for s in (s0, s1))
    e0, e1 = (
        elevation_m[chord] + s * (elevation_m[chord + 1] - elevation_m[chord]) for s in (s0, s1)
    )
    g0, g1, g2 = quadratic(source, (r0, c0), (r1, c1), shape)
    a0, a1, a2 = e0 - g0, (e1 - e0) - g1, -g2
    return Pieces(start=start, stop=stop, a0=a0, a1=a1, a2=a2)


def _cut(row: Floats, column: Floats) -> tuple[Floats, Floats, Ints]:
    """Return (start, stop, chord) of the pieces between cell edges, in order."""
    chords = np.arange(row.size - 1)
    parts = [(chords, np.zeros(chords.size))]
    for line in (row, column):
        a, b = _snap(line[:-1]), _snap(line[1:])
        low, high = np.minimum(a, b), np.maximum(a, b)
        first = np.floor(low) + 1
        count = np.where(np.isfinite(low + high), np.maximum(np.ceil(high) - first, 0), 0)
        count = count.astype(np.int64)
        chord = np.repeat(chords, count)
        nth = np.arange(chord.size) - np.repeat(np.cumsum(count) - count, count)
        edge = np.repeat(first, count) + nth
        parts.append((chord, (edge - a[chord]) / (b[chord] - a[chord])))
    chord = np.concatenate([part[0] for part in parts])
    share = np.concatenate([part[1] for part in parts])
    order = np.lexsort((share, chord))
    chord, share = chord[order], share[order]
    is_last = np.append(chord[1:] != chord[:-1], True)
    start = chord + share
    stop = np.where(is_last, chord + 1.0, np.append(start[1:], row.size - 1.0))
    keep = (stop > start) | (share == 0)  # an edge through a vertex or a post gives empty pieces
    return start[keep], stop[keep], chord[keep]

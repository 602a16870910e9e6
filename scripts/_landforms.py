"""Landforms out of numbers: noise, smooth lines, and hills drained by running water.

Knows no place. Positions are metres east and north; the first row of a grid lies in
the north. Nothing here draws random numbers but through the generator it is given.

Running water after J. Braun and S. D. Willett, "A very efficient O(n), implicit and
parallel method to solve the stream power equation governing fluvial incision and
landscape evolution", Geomorphology 180-181 (2013), section 2.
"""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
from numpy.typing import NDArray
from scipy.interpolate import CubicSpline
from scipy.ndimage import gaussian_filter, map_coordinates
from scipy.spatial import cKDTree

Array = NDArray[np.float64]
Indices = NDArray[np.intp]
Mask = NDArray[np.bool_]

STEPS = 110
UPLIFT_M = 2.5  # each step
STEEPNESS = 18.0  # slope · area^0.45 of a stream that cuts as fast as the land rises
HILLSLOPE_M2 = 3000.0  # below this drained area water hardly cuts
CREEP_CELLS = 0.62  # how far soil creeps in two steps
DOUBLINGS = 11  # chains of up to 2^11 cells: longer than any stream on the grid
NEIGHBOURS = [(-1, -1), (-1, 0), (-1, 1), (0, -1), (0, 1), (1, -1), (1, 0), (1, 1)]


def at_rows_columns(values: Array, rows: Array, columns: Array, *, order: int) -> Array:
    """Spline of the values at fractional rows and columns."""
    found: Array = map_coordinates(values, [rows, columns], order=order)
    return found


def blurred(values: Array, cells: float) -> Array:
    """Values under a Gaussian of so many cells."""
    found: Array = gaussian_filter(values, cells)
    return found


def noise(rng: np.random.Generator, x: Array, y: Array, scale_m: float) -> Array:
    """Smooth random field about zero, its bumps `scale_m` apart, turned at random."""
    turn = rng.uniform(0, np.pi)
    u = (np.cos(turn) * x - np.sin(turn) * y) / scale_m
    v = (np.sin(turn) * x + np.cos(turn) * y) / scale_m
    knots = int(max(np.ptp(u), np.ptp(v))) + 8
    values = rng.standard_normal((knots, knots))
    return at_rows_columns(values, v - v.min() + 3, u - u.min() + 3, order=3)


def rough(rng: np.random.Generator, x: Array, y: Array, bumps: dict[float, float]) -> Array:
    """Sum of noises; `bumps` gives the amplitude of each scale, both in metres."""
    return sum((a * noise(rng, x, y, s) for s, a in bumps.items()), np.zeros_like(x))


def ramp(values: Array, start: float, end: float) -> Array:
    """0 before `start`, 1 after `end`, smooth between."""
    t: Array = np.clip((values - start) / (end - start), 0, 1)
    return t * t * (3 - 2 * t)


def higher(a: Array, b: Array, blend_m: float) -> Array:
    """Greater of the two, rounded where they cross."""
    return blend_m * np.logaddexp(a / blend_m, b / blend_m)


def lower(a: Array, b: Array, blend_m: float) -> Array:
    """Lesser of the two, rounded where they cross."""
    return -higher(-a, -b, blend_m)


def cell_centres(west: float, north: float, cell_m: float, cells: int) -> tuple[Array, Array]:
    """East and north of the cell centres of a square grid, given its corner."""
    steps = cell_m * (np.arange(cells) + 0.5)
    x, y = np.meshgrid(west + steps, north - steps)
    return x, y


def course(points: Sequence[tuple[float, ...]]) -> Array:
    """Vertices each metre of a smooth line through (east, north, heights …)."""
    p = np.array(points, dtype=float)
    along = np.append(0.0, np.cumsum(np.hypot(*np.diff(p[:, :2], axis=0).T)))
    at = np.arange(0.0, along[-1], 1.0)
    heights = [np.interp(at, along, column) for column in p[:, 2:].T]
    return np.column_stack([CubicSpline(along, p[:, :2])(at), *heights])


def nearest(line: Array, x: Array, y: Array, within_m: float = np.inf) -> tuple[Array, Indices]:
    """Distance to a line of close vertices, and which vertex is nearest.

    Where none lies within `within_m` the distance is infinite, the vertex the last.
    """
    places = np.column_stack([x.flat, y.flat])
    tree = cKDTree(line[:, :2])
    distance, vertex = tree.query(places, distance_upper_bound=within_m, workers=-1)
    return distance.reshape(x.shape), np.minimum(vertex, len(line) - 1).reshape(x.shape)


def along_across(
    x: Array, y: Array, place: tuple[float, float], heading_deg: float
) -> tuple[Array, Array]:
    """Metres along a heading from a place, and to the right of it."""
    sin, cos = np.sin(np.radians(heading_deg)), np.cos(np.radians(heading_deg))
    east, north = x - place[0], y - place[1]
    return east * sin + north * cos, east * cos - north * sin


def flows_to(
    rng: np.random.Generator, elevation: Array, fixed: Mask, cell_m: float
) -> tuple[Indices, Array]:
    """Cell that each cell's water runs to (itself in a pit or where fixed), and how far.

    Slopes are weighed by chance, anew each time, so that the eight directions of
    the grid do not show.
    """
    rows, columns = elevation.shape
    here = np.arange(elevation.size).reshape(elevation.shape)
    around = np.pad(elevation, 1, mode="edge")
    best, to = np.zeros_like(elevation), here.copy()
    far = np.full_like(elevation, cell_m)
    for down, right in NEIGHBOURS:
        length = cell_m * np.hypot(down, right)
        there = around[1 + down :, 1 + right :][:rows, :columns]
        fall = (elevation - there) / length * rng.uniform(0.35, 1.65, here.shape)
        steeper = (fall > best) & ~fixed
        best[steeper], far[steeper] = fall[steeper], length
        to[steeper] = (here + down * columns + right)[steeper]
    return to.ravel(), far.ravel()


def drained_area(to: Indices, cell_m: float) -> Array:
    """Area above each cell: everyone hands on 1, 2, 4, … cells of the way."""
    ends = to == np.arange(to.size)
    target = np.append(np.where(ends, to.size, to), to.size)
    area = np.append(np.full(to.size, cell_m**2), 0.0)
    for _ in range(DOUBLINGS):
        area += np.bincount(target, weights=area, minlength=area.size)
        area[-1] = 0.0
        target = target[target]
    return area[:-1]


def cut(elevation: Array, to: Indices, rate: Array, fixed: Mask) -> Array:
    """One implicit step: z = (z before + uplift + rate · z below) / (1 + rate).

    The chain of cells below is followed by doubling: two cells, four, eight, …
    """
    ends = to == np.arange(to.size)
    raised = elevation + np.where(fixed, 0.0, UPLIFT_M)
    share = np.where(ends, 0.0, rate / (1 + rate))
    offset: Array = raised * (1 - share)
    for _ in range(DOUBLINGS):
        offset, share, to = offset + share * offset[to], share * share[to], to[to]
    return offset


def drained(
    rng: np.random.Generator, start: Array, fixed: Mask, hardness: Array, cell_m: float
) -> Array:
    """Land after rain: it rises, water cuts, soil creeps; `fixed` cells stay."""
    z = start
    for step in range(STEPS):
        to, far = flows_to(rng, z, fixed, cell_m)
        wet = (drained_area(to, cell_m) + HILLSLOPE_M2) ** 0.45
        rate = UPLIFT_M / STEEPNESS * hardness.ravel() * wet / far
        z = cut(z.ravel(), to, rate, fixed.ravel()).reshape(z.shape)
        if step % 2:
            z = np.where(fixed, z, blurred(z, CREEP_CELLS))
    return z

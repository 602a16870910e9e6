"""Which parts of a model are looked at, and one part with the posts around it.

::

    ┌───────────────┐
    │ rim           │   the rim is read so that every post of the part has its
    │  ┌─────────┐  │   neighbours; its own posts are counted in their own part
    │  │  part   │  │
    │  └─────────┘  │
    └───────────────┘

A part is about a million posts, whatever the model's size, and its blocks are
forgotten before the next is read: so memory stays bounded. A model too large to
be read in seconds is looked at in parts spread evenly over it; where a sparse file
left blocks out, evenly over the parts that it holds.
"""

from __future__ import annotations

import itertools
import math
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from typing import Any, Final, TypeAlias, TypeVar

import numpy as np
import rasterio

from terrain_guard.arrays import Floats
from terrain_guard.ground.blocks import Blocks
from terrain_guard.ground.raster import ENVIRONMENT, Raster

Thing = TypeVar("Thing")
Cut: TypeAlias = tuple[int, int]
"""[start, stop) along one side."""
RIM: Final = 32
"""Posts around a part: as far as the widest test looks."""
SIDE: Final = 1024
"""Posts along the side of a part, at most; strips of whole rows may be longer."""
LONGEST_STRIP: Final = 16 * SIDE
MOST_POSTS: Final = 80_000_000
"""Posts looked at, at most. Our own choice: some ten seconds of one core."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Part:
    """A rectangle of posts: [start, stop) of rows and columns."""

    rows: Cut
    columns: Cut

    @property
    def posts(self) -> int:
        """How many posts it holds."""
        return (self.rows[1] - self.rows[0]) * (self.columns[1] - self.columns[0])


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class View:
    """A part with its rim.

    ``z`` is elevation (m), NaN where missing or off the model; ``z[0, 0]`` is the
    post ``(row, column)``, and ``inner`` cuts the part out of it.
    """

    part: Part
    z: Floats
    row: int
    column: int

    @property
    def inner(self) -> tuple[slice, slice]:
        """The part's own posts."""
        rows, columns = self.part.rows, self.part.columns
        return (
            slice(rows[0] - self.row, rows[1] - self.row),
            slice(columns[0] - self.column, columns[1] - self.column),
        )


def view(raster: Raster, part: Part) -> View:
    """Read a part and its rim, as every check would.

    Raises
    ------
    RefusedTerrain
        A block cannot be read.
    """
    rows = part.rows[0] - RIM, part.rows[1] + RIM
    columns = part.columns[0] - RIM, part.columns[1] + RIM
    z = Blocks(raster).window(rows, columns)
    return View(part=part, z=z, row=rows[0], column=columns[0])


def parts(raster: Raster, *, most_posts: int = MOST_POSTS) -> tuple[Part, ...]:
    """Return the parts to look at: all of the model or, of a large one, an even spread."""
    height, width = _size(raster)
    down = list(_cuts(raster.height, height))
    across = list(_cuts(raster.width, width))
    every = _grid(down, across)
    if raster.height * raster.width <= most_posts:
        return every
    most = max(1, most_posts // (height * width))
    written = _written(raster, every)
    if len(written) < len(every):
        return _evenly(written, min(most, len(written)))
    return _grid(*_spread(down, across, most))


def _grid(down: Sequence[Cut], across: Sequence[Cut]) -> tuple[Part, ...]:
    return tuple(Part(rows=rows, columns=columns) for rows in down for columns in across)


def _written(raster: Raster, every: tuple[Part, ...]) -> tuple[Part, ...]:
    """Return the parts of which a sparse GeoTIFF holds a block; all, if it tells of none."""
    with rasterio.Env(**ENVIRONMENT), rasterio.open(raster.path) as dataset:
        written = [
            any(block_is_written(dataset, *block) for block in blocks_of(raster, part))
            for part in every
        ]
    return tuple(itertools.compress(every, written)) or every


def blocks_of(raster: Raster, part: Part) -> Iterator[tuple[int, int]]:
    """Return the (block row, block column) of the blocks that a part touches."""
    (height, width), (top, bottom), (left, right) = raster.block_shape, part.rows, part.columns
    yield from itertools.product(
        range(top // height, (bottom - 1) // height + 1),
        range(left // width, (right - 1) // width + 1),
    )


def block_is_written(dataset: Any, row: int, column: int) -> bool:
    """Return whether a GeoTIFF holds a block, rather than leaving it out."""
    return bool(dataset.get_tag_item(f"BLOCK_OFFSET_{column}_{row}", "TIFF", bidx=1))


def _size(raster: Raster) -> tuple[int, int]:
    """Return rows and columns of a part: whole blocks, if they are not larger than it."""
    block_rows, block_columns = raster.block_shape
    if block_columns == raster.width and SIDE < raster.width <= LONGEST_STRIP:
        rows = max(1, SIDE * SIDE // raster.width)
        return min(_whole(block_rows, rows), raster.height), raster.width
    return (
        min(_whole(block_rows, SIDE), raster.height),
        min(_whole(block_columns, SIDE), raster.width),
    )


def _whole(block: int, side: int) -> int:
    return block * (side // block) if block <= side else side


def _cuts(length: int, step: int) -> Iterator[Cut]:
    for start in range(0, length, step):
        yield start, min(start + step, length)


def _spread(down: list[Cut], across: list[Cut], most: int) -> tuple[list[Cut], list[Cut]]:
    """Thin out rows and columns of parts alike, until at most `most` parts remain."""
    rows = round(math.sqrt(most * len(down) / len(across)))
    rows = min(max(rows, 1), len(down), most)
    columns = min(max(most // rows, 1), len(across))
    return list(_evenly(down, rows)), list(_evenly(across, columns))


def _evenly(things: Sequence[Thing], count: int) -> tuple[Thing, ...]:
    """Return `count` of the things, each from the middle of its share of them."""
    picks = ((np.arange(count) + 0.5) * len(things) / count).astype(int)
    return tuple(things[pick] for pick in picks)

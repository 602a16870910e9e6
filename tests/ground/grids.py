"""Geoid grids made for tests."""

from __future__ import annotations

import struct
from typing import TYPE_CHECKING, Protocol

import numpy as np

if TYPE_CHECKING:
    from pathlib import Path


class MakeGrid(Protocol):
    """Put a geoid grid where the program looks for one."""

    def __call__(
        self, n_m: float, *, per_degree_east: float = 0.0, name: str = "egm96_15.gtx"
    ) -> None:
        """Make N = n_m + per_degree_east · longitude, all over the earth."""


def write_gtx(path: Path, n_m: float, *, per_degree_east: float = 0.0) -> None:
    """Write a grid of one degree in NOAA's GTX format, as PROJ reads it.

    A header of four doubles (south, west and both steps, degrees) and two integers (rows,
    columns), then rows of floats from south to north, all big-endian.
    """
    rows, columns = 181, 361
    n = np.tile(n_m + per_degree_east * np.linspace(-180, 180, columns), (rows, 1))
    header = struct.pack(">ddddii", -90.0, -180.0, 1.0, 1.0, rows, columns)
    path.write_bytes(header + n.astype(">f4").tobytes())

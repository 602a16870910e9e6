"""The ground under a flight: one elevation model behind three questions.

``elevation(lon, lat)``, ``above_ground(...)`` (the exact extremes of a curve) and
``around(...)`` (the cell patches near a stretch of it). Points are transformed
into the raster's own reference system; the raster is never warped. Several files
are one model: see `layout` and `mosaic`.
"""

from __future__ import annotations

import copy
from collections.abc import Sequence
from datetime import date
from pathlib import Path

import numpy as np
import pyproj
from numpy.typing import ArrayLike

from terrain_guard.arrays import Bools, Floats
from terrain_guard.ground import bilinear
from terrain_guard.ground.blocks import Blocks
from terrain_guard.ground.card_of_all import card_of_all
from terrain_guard.ground.files import expand
from terrain_guard.ground.index import describe
from terrain_guard.ground.layout import lay_out
from terrain_guard.ground.mosaic import Mosaic
from terrain_guard.ground.patches import LocalMap, Patches, cell_near, group_sizes, group_up
from terrain_guard.ground.raster import Raster
from terrain_guard.ground.sea import OverSea
from terrain_guard.ground.used import TerrainUsed
from terrain_guard.ground.used_hash import used_hash


class Ground:
    """Ground elevation from one raster, or from several as one.

    Parameters
    ----------
    path : path, or sequence of paths
        The elevation model: a file, a folder of tiles, a pattern, or several of these. Where
        two tiles know a post, that of higher priority counts, else the one named first.
    today : date, optional
        No survey is later; the day on the machine's clock unless given.

    Raises
    ------
    RefusedTerrain
        See `files.expand`, `index.describe`, `layout.lay_out` and `card_of_all`.
    """

    def __init__(
        self, path: str | Path | Sequence[str | Path], *, today: date | None = None
    ) -> None:
        described = describe(expand(path), today=today)
        self._card = card_of_all(described.rasters)
        self._layout = lay_out(described.rasters)
        self.raster: Raster = self._layout.lattice
        self.blocks: Blocks | Mosaic = (
            Blocks(self.raster)
            if len(described.rasters) == 1
            else Mosaic(self._layout, doubted=described.from_notes)
        )
        self._sea = OverSea(self.blocks, self._layout) if self._card.absent_is_sea else None
        self._posts = self._sea or self.blocks  # every elevation comes from here
        self._reach = None if self._sea else self.shape
        self._to_raster = pyproj.Transformer.from_crs("EPSG:4326", self.raster.crs, always_xy=True)
        self._windows: list[tuple[int, int, int, int]] = []
        self._lift_m = 0.0

    @property
    def shape(self) -> tuple[int, int]:
        """Posts along a column and along a row."""
        return self.raster.height, self.raster.width

    @property
    def rasters(self) -> tuple[Raster, ...]:
        """What each file and its card say, the one that counts first first."""
        return tuple(tile.raster for tile in self._layout.tiles)

    @property
    def rasters_read(self) -> tuple[Raster, ...]:
        """The same, only of files of which values were read."""
        if not isinstance(self.blocks, Mosaic):
            return (self.raster,)
        return tuple(blocks.raster for blocks in self.blocks.read.values())

    @property
    def name(self) -> str:
        """The file's name, or how many files there are."""
        first, *others = self.rasters
        return f"{first.path.name} and {len(others)} more" if others else first.path.name

    @property
    def kind(self) -> str:
        """What the model shows: "ground", "surface" or "unknown"."""
        return self._card.kind

    @property
    def canopy_m(self) -> float | None:
        """How high trees may stand above it: the greatest declared; None where none is."""
        return self._card.canopy_m

    @property
    def survey_date(self) -> str | None:
        """The oldest survey of all files; None where any does not say."""
        return self._card.survey_date

    @property
    def sigma_m(self) -> float | None:
        """One sigma of its heights: the largest declared; None where any file does not say."""
        return self._card.sigma_m

    @property
    def finest_cell_m(self) -> float:
        """The shorter side of a cell, metres; of several files, the shortest."""
        return min(min(raster.cell_m) for raster in self.rasters)

    @property
    def coarsest_cell_m(self) -> float:
        """The longer side of a cell, metres; of several files, the longest."""
        return max(max(raster.cell_m) for raster in self.rasters)

    @property
    def place_accuracy_m(self) -> float:
        """How well the step from WGS 84 to the raster's system is known; NaN: not known."""
        accuracy = self._to_raster.accuracy
        return float("nan") if accuracy is None or accuracy < 0 else float(accuracy)

    def lifted(self, by_m: float) -> Ground:
        """Return the same model with every elevation higher by `by_m`; it shares what was read."""
        other = copy.copy(self)
        other._lift_m = self._lift_m + by_m
        return other

    # -- places ---------------------------------------------------------------

    def posts_at(self, lon_deg: ArrayLike, lat_deg: ArrayLike) -> tuple[Floats, Floats]:
        """Return fractional (row, column) among the posts; NaN where undefined.

        Parameters
        ----------
        lon_deg, lat_deg : (n,) float
            WGS 84 degrees.
        """
        lon, lat = np.atleast_1d(lon_deg).astype(float), np.atleast_1d(lat_deg).astype(float)
        x, y = self._to_raster.transform(lon, lat)
        a, b, c, d, e, f = self.raster.affine
        if self.raster.crs.is_geographic:
            middle = a * self.raster.width / 2 + b * self.raster.height / 2 + c
            turn = 2 * np.pi / self.raster.crs.axis_info[0].unit_conversion_factor
            x = x - turn * np.round((x - middle) / turn)
        east, north = np.asarray(x) - c, np.asarray(y) - f
        det = a * e - b * d
        with np.errstate(invalid="ignore"):
            column = (e * east - b * north) / det - 0.5
            row = (a * north - d * east) / det - 0.5
        good = np.isfinite(row) & np.isfinite(column)
        return np.where(good, row, np.nan), np.where(good, column, np.nan)

    def degrees_at(self, row: Floats, column: Floats) -> tuple[Floats, Floats]:
        """Return (lon, lat) in degrees of fractional posts."""
        a, b, c, d, e, f = self.raster.affine
        i, j = np.asarray(column) + 0.5, np.asarray(row) + 0.5
        lon, lat = self._to_raster.transform(
            a * i + b * j + c, d * i + e * j + f, direction="INVERSE"
        )
        return np.asarray(lon), np.asarray(lat)

    def box_deg(self) -> tuple[float, float, float, float]:
        """Return (west, south, east, north) of the posts in degrees, from points round the edge.

        Over the antimeridian, east is more than 180 or west less than -180.
        """
        share = np.linspace(0, 1, 33)
        edge_row = np.concatenate((share * 0, share, share * 0 + 1, share)) * (self.shape[0] - 1)
        edge_column = np.concatenate((share, share * 0 + 1, share, share * 0)) * (self.shape[1] - 1)
        lon, lat = self.degrees_at(edge_row, edge_column)
        lon = lon[0] + (lon - lon[0] + 180) % 360 - 180
        return float(lon.min()), float(lat.min()), float(lon.max()), float(lat.max())

    def covers(self, row: Floats, column: Floats) -> Bools:
        """Return whether fractional posts lie on the model, its ground known or missing there.

        The sea where no tile is does not lie on it.
        """
        if isinstance(self.blocks, Mosaic):
            return self.blocks.covers(row, column)
        rows, columns = self.shape
        return (row >= 0) & (row <= rows - 1) & (column >= 0) & (column <= columns - 1)

    def outline(self) -> tuple[Floats, Floats]:
        """Return (row, column) of points round the edge of the model, of several files of each."""
        return self._layout.outline()

    # -- the contract -----------------------------------------------------------

    def elevation(self, lon_deg: ArrayLike, lat_deg: ArrayLike) -> Floats:
        """Return ground elevation (m) at points (degrees), bilinear between cell centres.

        NaN where a post of non-zero weight is missing, or off the model, unless its card says
        that the sea lies there.
        """
        return self.elevation_at(*self.posts_at(lon_deg, lat_deg))

    def elevation_at(self, row: Floats, column: Floats) -> Floats:
        """Return ground elevation (m) at fractional posts."""
        return bilinear.elevation(self._posts, row, column, self._reach) + self._lift_m

    def above_ground(self, row: Floats, column: Floats, elevation_m: Floats) -> bilinear.Pieces:
        """Return the exact height above ground along a polyline given in posts."""
        seen_from = elevation_m - self._lift_m
        return bilinear.above_ground(self._posts, row, column, seen_from, self._reach)

    def around(self, row: Floats, column: Floats, *, reach_m: float) -> Patches:
        """Return the patches within `reach_m` of every one of the points.

        Parameters
        ----------
        row, column : (n,) float
            Fractional posts, finite.
        reach_m : float
            Horizontal metres.
        """
        fit = self.box_around(row, column, reach_m=reach_m)
        sizes = group_sizes(reach_m / min(self.raster.cell_m))
        step = sizes[-1] if sizes else 1
        (top, bottom), (left, right) = (
            (low, low + -(-(high - low) // step) * step) for low, high in fit
        )
        local = LocalMap.over((top, bottom), (left, right), self.degrees_at)
        return self.patches_in((top, bottom), (left, right), sizes=sizes, local=local)

    def patches_in(
        self,
        rows: tuple[int, int],
        columns: tuple[int, int],
        *,
        sizes: tuple[int, ...],
        local: LocalMap,
    ) -> Patches:
        """Return the patches between two rows and two columns of posts.

        Parameters
        ----------
        rows, columns : (first, last)
            The cells between are a multiple of each size.
        sizes : tuple of int
            Cells along the side of the groups that cover them, smallest first.
        local : LocalMap
            The way to metres; it may be that of a larger window.
        """
        (top, bottom), (left, right) = rows, columns
        self._windows.append((top, bottom + 1, left, right + 1))
        z = self._posts.window((top, bottom + 1), (left, right + 1))
        z = z + self._lift_m if self._lift_m else z
        return Patches(
            z=z,
            row0=top,
            column0=left,
            map=local,
            groups=group_up(z, sizes),
            has_void=bool(np.isnan(z).any()),
        )

    def box_around(
        self, row: Floats, column: Floats, *, reach_m: float
    ) -> tuple[tuple[int, int], tuple[int, int]]:
        """Return the (first, last) row and column of the box within `reach_m` of points."""
        # A tenth more: cells are not equally large everywhere, nor always square to each other.
        a, b, _, d, e, _ = self.raster.affine
        skew = np.hypot(a, d) * np.hypot(b, e) / abs(a * e - b * d)
        margins = (1.1 * skew * reach_m / size for size in cell_near(row, column, self.degrees_at))
        column_margin, row_margin = margins
        return (
            (int(np.floor(row.min() - row_margin)), int(np.ceil(row.max() + row_margin)) + 1),
            (
                int(np.floor(column.min() - column_margin)),
                int(np.ceil(column.max() + column_margin)) + 1,
            ),
        )

    def cells_around(self, row: Floats, column: Floats, *, reach_m: float) -> int:
        """Return how many cells `around` would hand out: to size the work."""
        (top, bottom), (left, right) = self.box_around(row, column, reach_m=reach_m)
        return (bottom - top) * (right - left)

    # -- provenance ---------------------------------------------------------------

    def used(self) -> TerrainUsed:
        """Return what was used: facts, hash of the cells, share of voids."""
        return TerrainUsed.of(
            self.raster, void_share_read=self.blocks.void_share_read, used_hash=self._hash()
        )

    def used_files(self) -> tuple[TerrainUsed, ...]:
        """Return the same for each file that was read; the hash is that of all together."""
        if not isinstance(self.blocks, Mosaic):
            return (self.used(),)
        used_hash = self._hash()
        return tuple(
            TerrainUsed.of(
                blocks.raster, void_share_read=blocks.void_share_read, used_hash=used_hash
            )
            for blocks in self.blocks.read.values()
        )

    def seam_remarks(self) -> tuple[str, ...]:
        """Return a sentence for each seam, within what `around` handed out, that does not meet.

        Raises
        ------
        RefusedTerrain
            A step is as large as the geoid height there.
        """
        if not isinstance(self.blocks, Mosaic):
            return ()
        from terrain_guard.ground import seam_words, seams

        found = seams.seams(self.blocks, self._windows)
        return seam_words.sentences(found, self._layout, self.degrees_at)

    def sea_remarks(self) -> tuple[str, ...]:
        """Return a sentence if `around` handed out the sea where no tile is."""
        return () if self._sea is None else self._sea.remarks(self._windows)

    def _hash(self) -> str:
        return used_hash(self._posts, self.raster, self._windows)

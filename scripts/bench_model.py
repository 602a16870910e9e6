"""Make the elevation models that `bench.py` measures on.

    python scripts/bench_model.py [FOLDER]

writes into the folder, `.bench/` unless one is given:

* `rough_8000.tif`: 8000 × 8000 cells of 1 m, rough at every scale from 2 km down to
  the cell, heights in centimetres, 256 × 256 blocks, deflated.
* `sparse_100000.tif`: a model of 100,000 × 100,000 cells of which only the blocks of
  one part are written, with the values of the first model at the same places.

What is there already is used again. Nothing in them is real: the place is open ocean.
"""

from __future__ import annotations

import sys
from pathlib import Path

import numpy as np
import rasterio
from numpy.typing import NDArray
from rasterio.transform import Affine
from rasterio.windows import Window
from scipy.sparse import csr_array

Array = NDArray[np.float32]

ROOT = Path(__file__).resolve().parent.parent
FOLDER = ROOT / ".bench"
CRS = "EPSG:32626"  # WGS 84 / UTM zone 26N
WEST_M, NORTH_M = 400_000.0, 5_248_000.0
CELLS = 8000
BLOCK = 256
SPARSE_CELLS = 100_000
SHIFT_BLOCKS = 180  # from the corner of the sparse model to that of the first
MEAN_M = 900.0  # far above zero, which a reader might take for sea or void
BUMPS_M = {2000.0: 500.0, 500.0: 120.0, 120.0: 30.0, 30.0: 6.0, 8.0: 1.2}  # distance: amplitude
GRAIN_M = 0.03
SEED = 5
LAYOUT = {
    "driver": "GTiff", "count": 1, "dtype": "float32", "crs": CRS,
    "tiled": True, "blockxsize": BLOCK, "blockysize": BLOCK,
    "compress": "deflate", "predictor": 3, "num_threads": "all_cpus",
}  # fmt: skip


def rough_model(folder: Path, cells: int = CELLS) -> Path:
    """Return the path of the rough model, made if it is not in the folder."""
    path = folder / f"rough_{cells}.tif"
    if not path.exists():
        _prepare(folder)
        _write_rough(path, cells)
    return path


def _write_rough(path: Path, cells: int) -> None:
    rng = np.random.default_rng(SEED)
    bumps = [_Bumps(rng, cells, scale, amplitude) for scale, amplitude in BUMPS_M.items()]
    profile = {**LAYOUT, "width": cells, "height": cells, "transform": _affine(0)}
    unfinished = path.with_suffix(".unfinished")
    with rasterio.open(unfinished, "w", **profile) as file:
        for top in range(0, cells, BLOCK):
            rows = slice(top, min(top + BLOCK, cells))
            z = GRAIN_M * rng.standard_normal((rows.stop - top, cells), dtype=np.float32)
            z += MEAN_M
            for one in bumps:
                z += one.rows(rows)
            window = Window(0, top, cells, z.shape[0])
            file.write(np.round(z, 2).astype(np.float32), 1, window=window)
    unfinished.replace(path)


class _Bumps:
    """Smooth random field on the whole grid: a cubic B-spline with random knots."""

    def __init__(
        self, rng: np.random.Generator, cells: int, scale_cells: float, amplitude_m: float
    ) -> None:
        self.basis = _cubic_basis(cells, scale_cells)
        knots = self.basis.shape[1]
        self.knots = amplitude_m * rng.standard_normal((knots, knots), dtype=np.float32)

    def rows(self, rows: slice) -> Array:
        """Return some rows of the field."""
        across: Array = self.basis[rows] @ self.knots
        return np.asarray((self.basis @ across.T).T)


def _cubic_basis(cells: int, scale_cells: float) -> csr_array:
    """Return the (cells, knots) weights of the uniform cubic B-spline."""
    first, t = np.divmod(np.arange(cells) / scale_cells, 1.0)
    weights = (1 - t) ** 3, 3 * t**3 - 6 * t**2 + 4, -3 * t**3 + 3 * t**2 + 3 * t + 1, t**3
    values = (np.stack(weights, axis=1) / 6).astype(np.float32).ravel()
    knots = (first[:, None] + np.arange(4)).astype(np.int64).ravel()
    return csr_array((values, (np.repeat(np.arange(cells), 4), knots)))


def sparse_model(folder: Path, rough: Path, box: Window) -> Path:
    """Return the path of the sparse model, made if it is not in the folder.

    Parameters
    ----------
    rough : Path
        The model whose values it gets.
    box : Window
        The part of `rough` that is written; whole blocks that touch it.
    """
    first = int(box.row_off) // BLOCK, int(box.col_off) // BLOCK
    last = (
        int(box.row_off + box.height - 1) // BLOCK,
        int(box.col_off + box.width - 1) // BLOCK,
    )
    name = "_".join(map(str, (SPARSE_CELLS, *first, *last)))
    path = folder / f"sparse_{name}.tif"
    if not path.exists():
        _prepare(folder)
        _write_sparse(path, rough, range(first[0], last[0] + 1), range(first[1], last[1] + 1))
    return path


def _write_sparse(path: Path, rough: Path, rows: range, columns: range) -> None:
    profile = {
        **LAYOUT, "width": SPARSE_CELLS, "height": SPARSE_CELLS, "nodata": -9999.0,
        "transform": _affine(-SHIFT_BLOCKS * BLOCK), "sparse_ok": True, "bigtiff": "yes",
    }  # fmt: skip
    unfinished = path.with_suffix(".unfinished")
    with rasterio.open(rough) as source, rasterio.open(unfinished, "w", **profile) as file:
        for row in rows:
            for column in columns:
                block = Window(column * BLOCK, row * BLOCK, BLOCK, BLOCK)
                values = source.read(1, window=block)
                shift = SHIFT_BLOCKS * BLOCK
                height, width = values.shape
                there = Window(block.col_off + shift, block.row_off + shift, width, height)
                file.write(values, 1, window=there)
    unfinished.replace(path)


def _affine(first_cell: int) -> Affine:
    return Affine(1.0, 0.0, WEST_M + first_cell, 0.0, -1.0, NORTH_M - first_cell)


def _prepare(folder: Path) -> None:
    """Make the folder, one that Git leaves alone."""
    folder.mkdir(parents=True, exist_ok=True)
    ignore = folder / ".gitignore"
    if not ignore.exists():
        ignore.write_text("*\n", encoding="utf-8")


def main(folder: Path) -> None:
    """Make both models, the sparse one with its middle written."""
    rough = rough_model(folder)
    print(rough)
    print(sparse_model(folder, rough, Window(CELLS // 4, CELLS // 4, CELLS // 2, CELLS // 2)))


if __name__ == "__main__":
    main(Path(sys.argv[1]) if len(sys.argv) > 1 else FOLDER)

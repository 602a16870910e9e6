"""What cannot be trusted as an elevation model is refused: one sentence, with the remedy."""

from __future__ import annotations

from pathlib import Path
from typing import Any

import numpy as np
import pytest
import rasterio
from rasterio.transform import Affine

from terrain_guard.errors import RefusedTerrain
from terrain_guard.ground.model import Ground
from terrain_guard.ground.raster import open_raster
from tests.ground.made import UTM31N, hills, utm_raster
from tests.rasters import write_raster


def refusal(path: Path) -> str:
    """Return the one sentence with which a file is refused, its name in it."""
    with pytest.raises(RefusedTerrain) as caught:
        open_raster(path)
    (sentence,) = caught.value.faults
    assert path.name in sentence
    assert "\n" not in sentence
    return sentence


# ------------------------------------------------------------ no raster at all


def test_missing_file(tmp_path: Path) -> None:
    """A file that is not there."""
    assert "is not a file: give a GeoTIFF" in refusal(tmp_path / "nowhere.tif")


def test_directory(tmp_path: Path) -> None:
    """A folder."""
    assert "is not a file: give a GeoTIFF" in refusal(tmp_path)


@pytest.mark.parametrize("content", [b"", b"Elevation: 212 m\n" * 50, b"II*\x00", b"\x00" * 4096])
def test_not_a_raster(tmp_path: Path, content: bytes) -> None:
    """An empty file, text, a lone header and zeros, named .tif."""
    path = tmp_path / "text.tif"
    path.write_bytes(content)
    assert "cannot be read as a raster" in refusal(path)


# ------------------------------------------------------------ cut short

LAYOUTS: dict[str, dict[str, Any]] = {
    "strips": {},
    "strips, deflated": {"compress": "deflate"},
    "tiles": {"tiled": True, "blockxsize": 64, "blockysize": 64},
    "tiles, deflated": {"tiled": True, "blockxsize": 64, "blockysize": 64, "compress": "deflate"},
    "cloud-optimised": {"driver": "COG", "compress": "deflate", "blocksize": 128},
    "big": {"tiled": True, "blockxsize": 64, "blockysize": 64, "BIGTIFF": "YES"},
}


@pytest.mark.parametrize("keep", ["half", "all but the last 4 KiB", "all but 8 bytes", "a tenth"])
@pytest.mark.parametrize("layout", LAYOUTS)
def test_cut_short(tmp_path: Path, layout: str, keep: str) -> None:
    """A file that ends before its last block, however little is missing."""
    path = utm_raster(tmp_path, hills(300, 300).astype(np.float32), **LAYOUTS[layout])
    size = path.stat().st_size
    left = {"half": size // 2, "all but the last 4 KiB": size - 4096, "a tenth": size // 10}
    path.write_bytes(path.read_bytes()[: left.get(keep, size - 8)])
    assert "is cut short: it ends before its own last block" in refusal(path)


@pytest.mark.parametrize("left", [60, 200, 300, 400])
def test_cut_within_its_header(tmp_path: Path, left: int) -> None:
    """Cut within the first few hundred bytes it is refused too, whatever is left to read."""
    path = utm_raster(tmp_path, hills(300, 300).astype(np.float32))
    path.write_bytes(path.read_bytes()[:left])
    assert refusal(path)


@pytest.mark.parametrize("many", [False, True])
def test_rotten_in_the_middle(tmp_path: Path, many: bool) -> None:
    """Rubbish in a block that is needed is refused when it is read, by one thread or two."""
    profile = LAYOUTS["tiles, deflated"]
    path = utm_raster(tmp_path, hills(600, 600).astype(np.float32), **profile)
    with rasterio.open(path) as dataset:  # block row 5, block column 2
        start = int(dataset.get_tag_item("BLOCK_OFFSET_2_5", "TIFF", bidx=1))
    data = bytearray(path.read_bytes())
    data[start : start + 1000] = b"\xff" * 1000
    path.write_bytes(data)
    ground = Ground(path)
    rows = np.arange(0.0, 600.0) if many else np.array([330.0])  # 100 blocks, or 10
    row, column = (grid.ravel() for grid in np.meshgrid(rows, np.arange(0.0, 600.0)))
    with pytest.raises(RefusedTerrain, match=r"'made.tif' cannot be read near row 320, column"):
        ground.elevation_at(row, column)


# ------------------------------------------------------------ no place on earth


def test_without_reference_system(tmp_path: Path) -> None:
    """Coordinates of nobody knows what."""
    sentence = refusal(utm_raster(tmp_path, hills(5, 5), crs=None))
    assert "has no coordinate reference system: the program does not guess one" in sentence


@pytest.mark.filterwarnings("ignore::rasterio.errors.NotGeoreferencedWarning")
@pytest.mark.parametrize("written", [True, False])
def test_without_place(tmp_path: Path, written: bool) -> None:
    """The identity for a geotransform, written or left out."""
    path = tmp_path / "nowhere.tif"
    transform = {"transform": Affine.identity()} if written else {}
    with rasterio.open(
        path, "w", driver="GTiff", width=5, height=5, count=1, dtype="float32", crs=UTM31N,
        **transform,
    ) as dataset:  # fmt: skip
        dataset.write(hills(5, 5).astype(np.float32), 1)
    assert "does not say where its cells lie" in refusal(path)


@pytest.mark.parametrize(
    "crs",
    [
        'LOCAL_CS["site grid",UNIT["metre",1]]',
        'ENGCRS["site grid",EDATUM["peg"],CS[Cartesian,2],AXIS["x",east],AXIS["y",north],'
        'LENGTHUNIT["metre",1]]',
        "EPSG:4978",
        "EPSG:5773",
    ],
    ids=["local", "engineering", "geocentric", "vertical alone"],
)
def test_systems_without_longitude_and_latitude(tmp_path: Path, crs: str) -> None:
    """A site grid, axes through the earth's centre, heights alone: no tie to the route."""
    sentence = refusal(utm_raster(tmp_path, hills(5, 5), crs=crs))
    assert "cannot be tied to latitude and longitude: reproject the model" in sentence


@pytest.mark.parametrize(
    ("crs", "transform"),
    [
        ("EPSG:4326", Affine(10, 0, 500_000, 0, -10, 5_000_000)),  # metres called degrees
        ("EPSG:4326", Affine(0.1, 0, 7, 0, -0.1, 95.0)),
        ("ESRI:54009", Affine(1000, 0, 3e7, 0, -1000, 0)),  # outside the oval of Mollweide's map
    ],
)
def test_off_the_earth(tmp_path: Path, crs: str, transform: Affine) -> None:
    """Coordinates that no place has."""
    assert "lies outside the area where" in refusal(
        utm_raster(tmp_path, hills(5, 5), crs=crs, transform=transform)
    )


# ------------------------------------------------------------ not heights


@pytest.mark.parametrize("dtype", ["uint8", "int8"])
def test_eight_bits(tmp_path: Path, dtype: str) -> None:
    """A shaded relief: 256 greys."""
    sentence = refusal(utm_raster(tmp_path, hills(5, 5, low_m=-100.0).astype(dtype)))
    assert f"holds {dtype} values, which cannot be elevations (a shaded relief" in sentence


@pytest.mark.parametrize("dtype", ["complex64", "complex128", "complex_int16"])
def test_complex_numbers(tmp_path: Path, dtype: str) -> None:
    """Radar pictures before detection; NumPy has no name for one of the kinds."""
    path = tmp_path / "radar.tif"
    with rasterio.open(
        path, "w", driver="GTiff", width=5, height=5, count=1, dtype=dtype, crs=UTM31N,
        transform=Affine(10, 0, 500_000, 0, -10, 5_000_000),
    ):  # fmt: skip
        pass
    assert f"holds {dtype} values, which cannot be elevations" in refusal(path)


@pytest.mark.parametrize("count", [2, 3, 4])
def test_many_bands(tmp_path: Path, count: int) -> None:
    """A picture, or a stack."""
    path = tmp_path / "picture.tif"
    with rasterio.open(
        path, "w", driver="GTiff", width=5, height=5, count=count, dtype="float32", crs=UTM31N,
        transform=Affine(10, 0, 500_000, 0, -10, 5_000_000),
    ) as dataset:  # fmt: skip
        dataset.write(np.stack([hills(5, 5).astype(np.float32)] * count))
    assert f"has {count} bands: an elevation model has one band" in refusal(path)


@pytest.mark.parametrize("shape", [(1, 7), (7, 1), (1, 1)])
def test_a_single_row(tmp_path: Path, shape: tuple[int, int]) -> None:
    """One row or column of cells has no ground between cell centres."""
    sentence = refusal(utm_raster(tmp_path, hills(*shape)))
    assert f"is {shape[1]} x {shape[0]} cells: ground between cell centres" in sentence


def test_two_by_two_is_enough(tmp_path: Path) -> None:
    """The smallest ground there is: one patch."""
    ground = Ground(utm_raster(tmp_path, np.array([[100.0, 200.0], [300.0, 400.0]])))
    assert ground.elevation_at(np.array([0.5]), np.array([0.5])).tolist() == [250.0]


# ------------------------------------------------------------ every refusal is a known kind


def test_refusals_are_value_errors(tmp_path: Path) -> None:
    """Whoever catches ValueError catches a refusal."""
    with pytest.raises(ValueError, match="is not a file"):
        Ground(tmp_path / "nowhere.tif")


def test_a_name_with_odd_letters(tmp_path: Path) -> None:
    """Spaces, brackets, percent signs and letters beyond ASCII in a name are no obstacle."""
    path = write_raster(
        tmp_path / "Höhe [50 %] (2).tif", hills(5, 5),
        transform=Affine(10, 0, 500_000, 0, -10, 5_000_000), crs=UTM31N,
    )  # fmt: skip
    assert open_raster(path).width == 5

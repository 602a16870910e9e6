"""The real terrain is the terrain it claims to be, and lies where it claims to lie."""

from __future__ import annotations

import hashlib
import re
from pathlib import Path

import numpy as np
import pyproj
import pytest
import rasterio

from tests.conftest import DATA

README = (DATA / "README.md").read_text(encoding="utf-8")
CLAIMED = dict(re.findall(r"^\| `([\w.]+)` \| `([0-9a-f]{64})` \|$", README, flags=re.MULTILINE))


def highest_post(path: Path) -> tuple[float, float, float]:
    """Return longitude and latitude (WGS 84, degrees) and height (m) of the highest cell centre."""
    with rasterio.open(path) as dataset:
        heights = dataset.read(1)
        row, column = np.unravel_index(np.argmax(heights), heights.shape)
        to_lonlat = pyproj.Transformer.from_crs(dataset.crs, "EPSG:4326", always_xy=True)
        lon, lat = to_lonlat.transform(*dataset.xy(row, column))
    return lon, lat, float(heights[row, column])


def test_every_vendored_file_is_listed() -> None:
    """Each file beside the README is in its table, and the other way round."""
    assert {path.name for path in DATA.iterdir()} - {"README.md"} == set(CLAIMED)


@pytest.mark.parametrize("name", sorted(CLAIMED))
def test_bytes_are_those_of_the_source(name: str) -> None:
    """The sha256 of each vendored file is the one its README states."""
    assert hashlib.sha256((DATA / name).read_bytes()).hexdigest() == CLAIMED[name]


# Published summits (United States Board on Geographic Names, Geographic Names
# Information System, and the summit heights on its maps; degrees, NAD83, and metres,
# cited from memory, five decimals):
#   Iron Mountain, California    37.61165 N  119.16462 W   3398 m
#   Cross Mountain, Tennessee    36.19833 N   84.23056 W   1077 m
IRON_MOUNTAIN = (-119.16462, 37.61165)
CROSS_MOUNTAIN = (-84.23056, 36.19833)


def test_sierra30_peaks_on_iron_mountain(sierra30: Path) -> None:
    """The highest 30 m post lies within one cell of the published summit, and below it."""
    lon, lat, height_m = highest_post(sierra30)
    _, _, distance_m = pyproj.Geod(ellps="WGS84").inv(lon, lat, *IRON_MOUNTAIN)
    assert distance_m < 30 * np.sqrt(2)  # one cell, along its diagonal
    assert 3398 - 30 < height_m < 3398  # a 30 m model cuts the peak


def test_jacksboro_peaks_on_cross_mountain(jacksboro: Path) -> None:
    """The highest 3 arc-second post is the cell that holds the published summit, 1077 m."""
    lon, lat, height_m = highest_post(jacksboro)
    cell_deg = 3 / 3600
    assert abs(lon - CROSS_MOUNTAIN[0]) < cell_deg
    assert abs(lat - CROSS_MOUNTAIN[1]) < cell_deg
    assert height_m == pytest.approx(1077, abs=1)


def test_lakes50_lies_where_its_source_says(lakes50: Path) -> None:
    """The first cell centre is the source file's first x and y, not half a cell beside them."""
    # topocalc 0.5.0, topocalc/tests/Lakes/topo.nc: x[0] = 320000, y[0] = 4166650 (EPSG:32611).
    with rasterio.open(lakes50) as dataset:
        assert dataset.xy(0, 0) == (320000.0, 4166650.0)
        assert dataset.crs.to_epsg() == 32611

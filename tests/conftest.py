"""Terrain that many tests need: three real pieces, and a way to make invented ones."""

from __future__ import annotations

from collections.abc import Iterator
from pathlib import Path

import matplotlib.cbook
import numpy as np
import pytest
from hypothesis import settings
from rasterio.transform import Affine

from terrain_guard import assess
from tests.rasters import write_raster

DATA = Path(__file__).parent / "data"

# How fast a machine is says nothing about what is right.
settings.register_profile("without a clock", deadline=None)
settings.load_profile("without a clock")


@pytest.fixture(scope="module", autouse=True)
def nobody_comes_home(request: pytest.FixtureRequest) -> Iterator[None]:
    """Leave out ways home, sight and link where a module is about the flight's own limits.

    They ask the same terrain many more questions. Their own tests say ``COMES_HOME = True``; the
    command's tests, the sample's and all others have everything.
    """
    name = request.module.__name__
    own_limits = name.startswith(("tests.checks.", "tests.test_assess_"))
    if not own_limits or getattr(request.module, "COMES_HOME", False):
        yield
        return
    with pytest.MonkeyPatch.context() as patch:
        patch.setattr(assess, "coming_home", lambda *_, **__: (None, ()))
        yield


@pytest.fixture(scope="session")
def sierra30() -> Path:
    """Return real canyon walls: 30 m, int16, Albers grid turned 13.8 degrees against north."""
    return DATA / "sierra30.tif"


@pytest.fixture(scope="session")
def lakes50() -> Path:
    """Return real high mountains: 50 m, float32, UTM zone 11N."""
    return DATA / "lakes50.tif"


@pytest.fixture(scope="session")
def jacksboro(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """Return real ridges in geographic degrees: 3 arc-seconds, int16, as a GeoTIFF.

    The sample data of matplotlib stores ymin = ymax + rows * dy: its "ymin" (36.73)
    lies north of its "ymax" (36.45). Taken at face value the terrain sits 32 km too
    far north. With ymax as the north edge the highest cell falls on Cross Mountain,
    Tennessee, as `test_data.py` checks; so ymax is the north edge, and rows run south.
    """
    name = "jacksboro_fault_dem.npz"
    with np.load(matplotlib.cbook.get_sample_data(name, asfileobj=False)) as sample:
        elevation = sample["elevation"]
        step_east, step_south = float(sample["dx"]), float(sample["dy"])
        west, north = float(sample["xmin"]), float(sample["ymax"])
    return write_raster(
        tmp_path_factory.mktemp("jacksboro") / "jacksboro.tif",
        np.asarray(elevation),
        transform=Affine(step_east, 0.0, west, 0.0, -step_south, north),
        crs="EPSG:4326",
    )

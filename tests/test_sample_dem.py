"""The sample is what its README says it is, and its script still makes it."""

from __future__ import annotations

import re
import subprocess
import sys
import tomllib
from datetime import date
from itertools import pairwise
from pathlib import Path

import numpy as np
import pyproj
import pytest
import rasterio
from numpy.typing import NDArray
from scipy.interpolate import RegularGridInterpolator

from terrain_guard.assess import check
from terrain_guard.states import State

ROOT = Path(__file__).resolve().parent.parent
SAMPLE = ROOT / "sample_dem"
GROUND = SAMPLE / "valley_ground.tif"
SURFACE = SAMPLE / "valley_surface.tif"
MODELS = pytest.mark.parametrize("model", [GROUND, SURFACE], ids=lambda model: model.stem)
QUANTUM_M = 1 / 64  # values are rounded to this

README = (SAMPLE / "README.md").read_text(encoding="utf-8")
ROW = re.compile(r"^\| ([\w ,]+) \| (-?\d+\.\d+) \| (-?\d+\.\d+) \| (\d+\.\d+) \|", re.MULTILINE)
PLACES = {name: (float(lat), float(lon), float(z)) for name, lat, lon, z in ROW.findall(README)}


def elevations(path: Path) -> NDArray[np.float64]:
    """Return all cells of a model, metres."""
    with rasterio.open(path) as dataset:
        return np.asarray(dataset.read(1), dtype=np.float64)


def elevation_at(
    path: Path, lat: NDArray[np.float64], lon: NDArray[np.float64]
) -> NDArray[np.float64]:
    """Return bilinear elevations, by SciPy between cell centres; outside is an error."""
    with rasterio.open(path) as dataset:
        affine, cells = dataset.transform, dataset.read(1).astype(np.float64)
    east = affine.c + affine.a * (np.arange(cells.shape[1]) + 0.5)
    north = affine.f + affine.e * (np.arange(cells.shape[0]) + 0.5)
    to_grid = pyproj.Transformer.from_crs("EPSG:4326", "EPSG:32626", always_xy=True)
    x, y = to_grid.transform(lon, lat)
    between_centres = RegularGridInterpolator((north[::-1], east), cells[::-1])
    return np.asarray(between_centres(np.column_stack([y, x])))


def under_route(name: str) -> dict[str, NDArray[np.float64]]:
    """Return ground along each leg between waypoints, every metre or less, by the leg's start."""
    route = tomllib.loads((SAMPLE / f"{name}.toml").read_text(encoding="utf-8"))
    spots = route["waypoint"]
    share = np.linspace(0, 1, 500)
    return {
        a["name"]: elevation_at(
            GROUND,
            a["lat"] + share * (b["lat"] - a["lat"]),
            a["lon"] + share * (b["lon"] - a["lon"]),
        )
        for a, b in pairwise(spots)
    }


@MODELS
def test_small_enough_to_ship(model: Path) -> None:
    """A model is smaller than 3 MiB."""
    assert model.stat().st_size < 3 * 1024**2


@MODELS
def test_stored_in_compressed_tiles(model: Path) -> None:
    """Cells are square, 2 m, in deflated tiles of 256, registered by area."""
    with rasterio.open(model) as dataset:
        assert dataset.block_shapes == [(256, 256)]
        assert dataset.compression.name == "deflate"
        assert dataset.res == (2.0, 2.0)
        assert dataset.tags()["AREA_OR_POINT"] == "Area"


@MODELS
def test_compound_coordinate_system(model: Path) -> None:
    """PROJ reads back a grid (EPSG 32626) and a vertical datum (EPSG 3855), both in metres."""
    with rasterio.open(model) as dataset:
        crs = pyproj.CRS.from_wkt(dataset.crs.to_wkt())
    assert crs.is_compound
    assert [part.to_epsg() for part in crs.sub_crs_list] == [32626, 3855]
    assert [axis.direction for axis in crs.axis_info] == ["east", "north", "up"]
    assert {axis.unit_name for axis in crs.axis_info} == {"metre"}


@MODELS
def test_nothing_missing(model: Path) -> None:
    """Every cell holds a number that can be an elevation here, and none means missing."""
    cells = elevations(model)
    with rasterio.open(model) as dataset:
        assert dataset.nodata is None
    assert np.isfinite(cells).all()
    assert 100 < cells.min() < cells.max() < 500


@MODELS
def test_card_says_what_the_raster_does_not(model: Path) -> None:
    """The kind that its name promises, the raster's own datum, and a survey of some day."""
    card = tomllib.loads(model.with_name(f"{model.name}.toml").read_text(encoding="utf-8"))
    assert card.keys() == {"kind", "vertical_datum", "survey_date"}
    assert f"valley_{card['kind']}" == model.stem
    with rasterio.open(model) as dataset:
        crs = pyproj.CRS.from_wkt(dataset.crs.to_wkt())
    assert card["vertical_datum"] == f"EPSG:{crs.sub_crs_list[1].to_epsg()}"
    assert date(2020, 1, 1) < date.fromisoformat(card["survey_date"]) <= date.today()


def test_surface_lies_on_the_ground() -> None:
    """First return is never below bare earth, equals it nearly everywhere, and has a wood."""
    above_ground_m = elevations(SURFACE) - elevations(GROUND)
    assert above_ground_m.min() >= -QUANTUM_M
    assert (above_ground_m == 0).mean() > 0.98
    assert 20 < above_ground_m.max() < 23


def test_the_readme_names_the_places() -> None:
    """The table of places could be read, and the launch is among them."""
    assert len(PLACES) >= 15
    assert "launch" in PLACES


@pytest.mark.parametrize("place", sorted(PLACES))
def test_places_are_as_high_as_the_readme_says(place: str) -> None:
    """The ground model's elevation rounds to the README's, given to 0.1 m."""
    lat, lon, elevation_m = PLACES[place]
    found_m = elevation_at(GROUND, np.array([lat]), np.array([lon]))
    assert found_m[0] == pytest.approx(elevation_m, abs=0.05 + QUANTUM_M)


@pytest.mark.parametrize("name", ["same_height", "follows_slope"])
def test_routes_start_at_the_launch(name: str) -> None:
    """Both routes take off from the place that the README calls the launch."""
    route = tomllib.loads((SAMPLE / f"{name}.toml").read_text(encoding="utf-8"))
    assert (route["launch"]["lat"], route["launch"]["lon"]) == PLACES["launch"][:2]


def test_gully_is_cut_below_the_launch() -> None:
    """The same-height route crosses ground at least 30 m below its launch."""
    assert under_route("same_height")["lower terraces"].min() <= PLACES["launch"][2] - 30


def test_spur_stands_in_the_way() -> None:
    """The same-height route crosses the spur with less than 30 m, and more than none, to spare."""
    spur_m = under_route("same_height")["spur"].max() - PLACES["launch"][2]
    assert 70 < spur_m < 100


@pytest.fixture(scope="module")
def made(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """Return a folder in which the script has just made both models; two minutes is a hang."""
    folder = tmp_path_factory.mktemp("sample")
    command = [sys.executable, str(ROOT / "scripts" / "make_sample_dem.py"), str(folder)]
    subprocess.run(command, check=True, timeout=120)
    return folder


@MODELS
def test_script_makes_what_is_shipped(made: Path, model: Path) -> None:
    """A new run gives the shipped cells, grid and system; rounding may differ by one step."""
    with rasterio.open(made / model.name) as new, rasterio.open(model) as shipped:
        assert new.transform == shipped.transform
        assert new.crs == shipped.crs
    worst_m = np.abs(elevations(made / model.name) - elevations(model)).max()
    assert worst_m <= QUANTUM_M
    card = f"{model.name}.toml"
    assert (made / card).read_bytes() == (SAMPLE / card).read_bytes()


def test_the_route_that_follows_the_slope_stays_within_for_years() -> None:
    """Growth since the survey widens the floor's margin; five years on it still has room."""
    found = check(
        SAMPLE / "follows_slope.toml", ground=GROUND, surface=SURFACE, today=date(2031, 12, 1)
    )
    assert found.verdict is State.WITHIN

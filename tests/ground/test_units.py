"""Heights in feet, scaled or shifted come out in metres; contradictions are refused."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

import numpy as np
import pytest
import rasterio

from terrain_guard.errors import RefusedTerrain
from terrain_guard.ground.model import Ground
from terrain_guard.ground.raster import open_raster
from tests.ground.made import UTM31N, at_posts, hills, utm_raster

if TYPE_CHECKING:
    from pathlib import Path

# One international foot is 0.3048 m (yard and pound agreement of 1959); 3937 US survey
# feet are 1200 m (Mendenhall order of 1893; NIST Special Publication 811, appendix B.6).
FOOT_M = 0.3048
SURVEY_FOOT_M = 1200 / 3937

# Vertical reference systems of the EPSG registry, counted in:
METRES = "EPSG:5703"  # NAVD88 height
FEET = "EPSG:8228"  # NAVD88 height (ft)
SURVEY_FEET = "EPSG:6360"  # NAVD88 height (ftUS)
DEPTHS = "EPSG:5715"  # MSL depth
DEPTHS_SURVEY_FEET = "EPSG:6358"  # NAVD88 depth (ftUS)


def raster(
    folder: Path,
    *,
    vertical: str | None = None,
    unit: str | None = None,
    scale: float = 1.0,
    offset: float = 0.0,
    heights: Any = None,
    nodata: float | None = None,
) -> Path:
    """Write a raster that says these things of its heights."""
    heights = hills(4, 4).astype(np.float32) if heights is None else heights
    crs = UTM31N if vertical is None else f"{UTM31N}+{vertical.removeprefix('EPSG:')}"
    path = utm_raster(folder, heights, crs=crs, nodata=nodata)
    with rasterio.open(path, "r+") as dataset:
        if unit is not None:
            dataset.units = (unit,)
        if (scale, offset) != (1.0, 0.0):
            dataset.scales, dataset.offsets = (scale,), (offset,)
    return path


def first_post(path: Path) -> float:
    """Return the height of the first post."""
    return float(at_posts(Ground(path), [0.0], [0.0])[0])


# ------------------------------------------------------------ feet


@pytest.mark.parametrize(
    ("vertical", "unit", "factor"),
    [
        (None, None, 1.0),
        (None, "m", 1.0),
        (None, "Metre", 1.0),
        (None, "metres", 1.0),
        (None, "ft", FOOT_M),
        (None, "foot", FOOT_M),
        (None, "feet", FOOT_M),
        (None, " FT ", FOOT_M),
        (None, "ftUS", SURVEY_FOOT_M),
        (None, "US survey foot", SURVEY_FOOT_M),
        (METRES, None, 1.0),
        (METRES, "m", 1.0),
        (FEET, None, FOOT_M),
        (FEET, "ft", FOOT_M),
        (SURVEY_FEET, None, SURVEY_FOOT_M),
        (SURVEY_FEET, "US survey foot", SURVEY_FOOT_M),
    ],
)
def test_unit_of_the_file(
    tmp_path: Path, vertical: str | None, unit: str | None, factor: float
) -> None:
    """The vertical system's unit or the band's is what heights are turned into metres by."""
    heights = hills(4, 4).astype(np.float32)
    path = raster(tmp_path, vertical=vertical, unit=unit, heights=heights)
    row, column = np.divmod(np.arange(16.0), 4)
    found = at_posts(Ground(path), row.tolist(), column.tolist())
    expected = heights.astype(np.float64).ravel() * factor
    assert np.abs(found - expected).max() < 1e-9


def test_a_typed_example_in_feet(tmp_path: Path) -> None:
    """120 ft are 36.576 m exactly; 1,000,000 US survey feet are 2 parts in a million longer."""
    heights = np.full((3, 3), 120.0)
    assert first_post(raster(tmp_path, unit="ft", heights=heights)) == pytest.approx(
        36.576, abs=1e-12
    )
    heights = np.full((3, 3), 10_000.0)
    longer = first_post(raster(tmp_path, unit="ftUS", heights=heights)) - 3048.0
    assert longer == pytest.approx(3048.0 * 2e-6, rel=1e-3)


def test_silence_is_said_to_be_an_assumption(tmp_path: Path) -> None:
    """A file that does not name its unit is read in metres, and the words say "assumed"."""
    assert "assumed" in open_raster(raster(tmp_path)).unit_text
    assert "assumed" not in open_raster(raster(tmp_path, unit="m")).unit_text
    assert open_raster(raster(tmp_path)).vertical_datum == "not stated"
    assert open_raster(raster(tmp_path, vertical=FEET)).vertical_datum == "NAVD88 height (ft)"


@pytest.mark.parametrize(
    ("vertical", "unit"),
    [(METRES, "ft"), (FEET, "m"), (FEET, "US survey foot"), (SURVEY_FEET, "ft")],
)
def test_contradictory_units_are_refused(tmp_path: Path, vertical: str, unit: str) -> None:
    """Band and vertical system must agree; feet and survey feet do not."""
    with pytest.raises(RefusedTerrain, match=f"contradicts itself: its band says '{unit}'"):
        open_raster(raster(tmp_path, vertical=vertical, unit=unit))


@pytest.mark.parametrize("unit", ["cm", "fathom", "hPa", "k"])
def test_unknown_unit_is_refused(tmp_path: Path, unit: str) -> None:
    """A unit nobody flies by is refused by name, never taken for metres."""
    with pytest.raises(RefusedTerrain, match=f"gives its heights in '{unit}'"):
        open_raster(raster(tmp_path, unit=unit))


@pytest.mark.parametrize("vertical", [DEPTHS, DEPTHS_SURVEY_FEET])
def test_depths_are_refused(tmp_path: Path, vertical: str) -> None:
    """A vertical system that counts downward would turn hills into pits."""
    with pytest.raises(RefusedTerrain, match=r"gives depths, counted downward .*: heights counted"):
        open_raster(raster(tmp_path, vertical=vertical))


def test_unit_in_a_file_beside_counts(tmp_path: Path) -> None:
    """Programs that may not touch a raster write unit and nodata into NAME.tif.aux.xml."""
    heights = hills(4, 4).astype(np.float32)
    heights[1, 1] = 444.5
    path = raster(tmp_path, heights=heights)
    path.with_name(path.name + ".aux.xml").write_text(
        '<PAMDataset><PAMRasterBand band="1"><NoDataValue>444.5</NoDataValue>'
        "<UnitType>ft</UnitType></PAMRasterBand></PAMDataset>",
        encoding="utf-8",
    )
    found = at_posts(Ground(path), [0.0, 1.0], [0.0, 1.0])
    assert found[0] == pytest.approx(float(heights[0, 0]) * FOOT_M, abs=1e-9)
    assert np.isnan(found[1])


# ------------------------------------------------------------ scale and offset


@pytest.mark.parametrize(
    ("dtype", "scale", "offset", "unit", "raw", "expected_m"),
    [
        ("int16", 0.1, 0.0, None, 4321, 432.1),
        ("int16", 0.1, 1000.0, None, 4321, 1432.1),
        ("uint16", 0.01, -100.0, None, 20_000, 100.0),
        ("int16", 0.1, 1000.0, "ft", 4321, 1432.1 * FOOT_M),
        ("int32", 0.001, 0.0, None, 1_234_567, 1234.567),
        ("int16", -1.0, 0.0, None, -250, 250.0),
    ],
)
def test_scaled_heights(
    tmp_path: Path,
    *,
    dtype: str,
    scale: float,
    offset: float,
    unit: str | None,
    raw: int,
    expected_m: float,
) -> None:
    """Height = (raw * scale + offset), in the file's unit (GDAL raster data model)."""
    heights = np.full((3, 3), raw, dtype=dtype)
    path = raster(tmp_path, scale=scale, offset=offset, unit=unit, heights=heights)
    assert first_post(path) == pytest.approx(expected_m, abs=1e-9)


def test_nodata_is_a_raw_value(tmp_path: Path) -> None:
    """Nodata is compared before scaling: raw 500 is missing, raw 50 000 (500.0 m) is not."""
    heights = np.full((3, 3), 5000, dtype=np.int16)
    heights[1, 1] = 500
    path = raster(tmp_path, scale=0.1, heights=heights, nodata=500)
    assert np.isnan(at_posts(Ground(path), [1.0], [1.0]))
    assert first_post(path) == pytest.approx(500.0)


@pytest.mark.parametrize(
    ("scale", "offset"), [(0.0, 0.0), (0.0, 100.0), (np.nan, 0.0), (np.inf, 0.0), (1.0, np.nan)]
)
def test_a_scale_that_makes_no_heights_is_refused(
    tmp_path: Path, scale: float, offset: float
) -> None:
    """Multiplied by nothing, or by what is no number: not heights."""
    with pytest.raises(RefusedTerrain, match=r"scales its values by .*: that makes no heights"):
        open_raster(raster(tmp_path, scale=scale, offset=offset))

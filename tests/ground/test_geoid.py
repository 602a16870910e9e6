"""The geoid is read from a real grid, or not at all: PROJ's silent pass-through never counts."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np
import pyproj
import pytest

from terrain_guard.errors import RefusedTerrain
from terrain_guard.ground import geoid
from terrain_guard.ground.geoid import EGM96, EGM2008, geoid_near, zero_above_ellipsoid

if TYPE_CHECKING:
    from tests.ground.grids import MakeGrid

# egm96_15.gtx of Debian's proj-data (the 15' grid WW15MGH of NGA), read by PROJ's cs2cs and
# by SciPy's bilinear interpolation, which agree to 0.1 mm: lat, lon, N in metres.
FROZEN = (
    (37.6114, -119.1646, -24.9231),
    (45.19, 5.72, 50.7924),
    (-33.40, -70.58, 27.5213),
    (36.1983, -84.2308, -31.1898),
    (4.5, 78.8, -106.9357),
)

# NGA's own sample output for EGM96 (its readme, second-hand), by another interpolation than
# bilinear: half a metre is what the two may differ on a 15' grid.
NGA = (
    (38.6281550, 269.7791550, -31.628),
    (-14.6212170, 305.0211140, -2.969),
    (46.8743190, 102.4487290, -43.575),
    (-23.6174460, 133.8747120, 15.871),
    (38.6254730, 359.9995000, 50.066),
    (-0.4667440, 0.0023000, 17.329),
)


def height(vertical: str | pyproj.CRS, lat: float, lon: float) -> float:
    """Return N at one place."""
    found = zero_above_ellipsoid(vertical, lon, lat, needed_for="the test")
    return float(found.above_ellipsoid_m[0])


@pytest.mark.usefixtures("egm96")
@pytest.mark.parametrize(("lat", "lon", "n"), FROZEN)
def test_egm96_to_the_millimetre(lat: float, lon: float, n: float) -> None:
    """The 15' grid, bilinear between its posts."""
    assert height(EGM96, lat, lon) == pytest.approx(n, abs=1e-3)


@pytest.mark.usefixtures("egm96")
@pytest.mark.parametrize(("lat", "lon", "n"), NGA)
def test_egm96_as_its_authors_give_it(lat: float, lon: float, n: float) -> None:
    """East of 180 degrees too; within what two interpolations differ."""
    assert height(EGM96, lat, lon) == pytest.approx(n, abs=0.5)


@pytest.mark.usefixtures("egm96")
def test_the_grid_is_named() -> None:
    """By the name of the file that was read."""
    found = zero_above_ellipsoid(EGM96, [5.0, 6.0], [45.0, 46.0], needed_for="the test")
    assert found.system == "EGM96 height"
    assert found.grids in {"egm96_15.gtx", "us_nga_egm96_15.tif"}
    assert found.above_ellipsoid_m.shape == (2,)


# ------------------------------------------------------------ made grids


def test_a_made_grid_is_read_as_it_was_made(make_grid: MakeGrid) -> None:
    """A plane in longitude: bilinear between posts is the plane itself."""
    make_grid(10.0, per_degree_east=0.25)
    lon = np.array([-179.9, -33.3, 0.0, 120.7])
    found = zero_above_ellipsoid(EGM96, lon, np.full(4, 12.0), needed_for="the test")
    assert found.above_ellipsoid_m == pytest.approx(10.0 + 0.25 * lon, abs=1e-5)
    assert found.grids == "egm96_15.gtx"


def test_each_system_has_its_own_grid(make_grid: MakeGrid) -> None:
    """EGM2008's grid does not serve for EGM96, nor the other way round."""
    make_grid(20.0, name="egm08_25.gtx")
    assert height(EGM2008, 45.0, 5.0) == pytest.approx(20.0, abs=1e-5)
    with pytest.raises(RefusedTerrain, match=r"us_nga_egm96_15\.tif"):
        height(EGM96, 45.0, 5.0)


def test_a_system_in_feet_is_answered_in_metres(make_grid: MakeGrid) -> None:
    """EGM2008 height with the foot as its unit: N is the same."""
    make_grid(20.0, name="egm08_25.gtx")
    wkt = pyproj.CRS(EGM2008).to_wkt().replace('LENGTHUNIT["metre",1]', 'LENGTHUNIT["foot",0.3048]')
    assert '"foot"' in wkt
    feet = pyproj.CRS.from_wkt(wkt.replace('ID["EPSG",3855]', 'ID["TEST",1]'))
    assert height(feet, 45.0, 5.0) == pytest.approx(20.0, abs=1e-5)


def test_a_grid_of_nothing_but_zeros_is_a_pass_through(make_grid: MakeGrid) -> None:
    """Heights that come back as they went are not heights above a geoid."""
    make_grid(0.0)
    with pytest.raises(RefusedTerrain, match="needs a geoid grid that ties EGM96 height"):
        height(EGM96, 45.0, 5.0)


# ------------------------------------------------------------ no grid


@pytest.mark.usefixtures("no_grids")
@pytest.mark.parametrize(
    ("system", "name", "remedy"),
    [
        ("EPSG:5773", "EGM96 height", r"install us_nga_egm96_15\.tif \(pyproj sync --file us_nga"),
        ("EPSG:3855", "EGM2008 height", r"install us_nga_egm08_25\.tif \(pyproj sync"),
        ("EPSG:5703", "NAVD88 height", r"install us_noaa_\w+\.tif \(pyproj sync"),
        ("EPSG:5714", "MSL height", "none is known; use heights = 'launch' or 'ground'"),
    ],
)
def test_without_a_grid_it_is_refused(system: str, name: str, remedy: str) -> None:
    """One sentence that names the grid to install, where there is one."""
    with pytest.raises(
        RefusedTerrain, match=f"^the test needs a geoid grid that ties {name} to"
    ) as caught:
        height(system, 37.6, -119.2)
    caught.match(remedy)
    assert "\n" not in str(caught.value)


@pytest.mark.usefixtures("no_grids")
def test_proj_alone_would_have_passed_heights_through() -> None:
    """The trap: without the grid PROJ returns the height as it was."""
    step = pyproj.Transformer.from_crs("EPSG:4979", "EPSG:9707", always_xy=True)
    assert step.transform(-119.2, 37.6, 100.0)[2] == 100.0
    with pytest.raises(RefusedTerrain):
        height(EGM96, 37.6, -119.2)


def test_a_grid_that_is_not_the_best_is_no_grid(make_grid: MakeGrid) -> None:
    """With the geoid of 2009 alone PROJ has a step to NAVD88, but not its best one."""
    make_grid(-25.0, name="geoid09_conus.gtx")
    with pytest.raises(RefusedTerrain, match="ties NAVD88 height"):
        height("EPSG:5703", 37.6, -119.2)


@pytest.mark.usefixtures("no_grids")
def test_a_hint_needs_no_grid() -> None:
    """Where there is none, there is no hint."""
    assert geoid_near(5.0, 45.0) is None


def test_a_hint_takes_the_model_s_own_system_first(make_grid: MakeGrid) -> None:
    """Else EGM96's."""
    make_grid(10.0)
    make_grid(20.0, name="egm08_25.gtx")
    own, either = geoid_near(5.0, 45.0, first=pyproj.CRS(EGM2008)), geoid_near(5.0, 45.0)
    assert own is not None
    assert either is not None
    assert (own.system, either.system) == ("EGM2008 height", "EGM96 height")


def test_a_hint_takes_what_there_is(make_grid: MakeGrid) -> None:
    """EGM2008's where EGM96's is not at hand, and for a system without a grid."""
    make_grid(20.0, name="egm08_25.gtx")
    for own in (None, pyproj.CRS(5703), pyproj.CRS(4979)):
        found = geoid_near(5.0, 45.0, first=own)
        assert found is not None
        assert found.system == "EGM2008 height"


# ------------------------------------------------------------ ellipsoidal systems


@pytest.mark.usefixtures("no_grids")
@pytest.mark.parametrize("code", [4979, 32631])
def test_heights_above_the_ellipsoid_need_no_grid(code: int) -> None:
    """WGS 84 in three axes, geographic or projected: its zero is the ellipsoid."""
    found = zero_above_ellipsoid(pyproj.CRS(code).to_3d(), 3.0, 45.0, needed_for="the test")
    assert (found.above_ellipsoid_m.tolist(), found.grids) == ([0.0], "")


@pytest.mark.usefixtures("no_grids")
@pytest.mark.parametrize("lat", [-33.4, 0.0, 37.6, 61.0])
def test_another_ellipsoid_lies_elsewhere(lat: float) -> None:
    """WGS 72's, by the formula of the Defense Mapping Agency's TR 8350.2 (1987), from memory.

    Height above WGS 84 = height above WGS 72 + 4.5 sin B + a Δf sin² B - Δa + Δr, with
    a = 6378135 m, Δf = 0.3121057e-7, Δa = 2.0 m, Δr = 1.4 m.
    """
    sine = np.sin(np.radians(lat))
    expected = 4.5 * sine + 6378135 * 0.3121057e-7 * sine**2 - 2.0 + 1.4
    assert height(pyproj.CRS(4985), lat, -119.1) == pytest.approx(expected, abs=0.01)


@pytest.mark.usefixtures("no_grids")
def test_a_step_of_unknown_accuracy_is_refused() -> None:
    """ETRS89 is not defined in California: PROJ would pass heights through."""
    with pytest.raises(RefusedTerrain, match="ETRS89"):
        height(pyproj.CRS(4937), 37.6, -119.1)


def test_system_folders_are_those_of_packages() -> None:
    """Debian, a build by hand, Homebrew."""
    assert "/usr/share/proj" in geoid.SYSTEM_FOLDERS

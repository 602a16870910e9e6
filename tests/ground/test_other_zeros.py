"""Heights above sea level and above the ellipsoid, through the whole program."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any, Final

import numpy as np
import pyproj
import pytest
import rasterio
from rasterio.transform import Affine

from terrain_guard.assess import check
from terrain_guard.errors import RefusedTerrain
from terrain_guard.ground.datums import tie
from terrain_guard.ground.model import Ground
from terrain_guard.plan.route import AfterLast, Climb, Launch, Place, Route, Turns, Waypoint
from terrain_guard.plan.rules import Rules
from terrain_guard.states import State
from tests import reference
from tests.conftest import DATA
from tests.rasters import write_raster

if TYPE_CHECKING:
    from collections.abc import Sequence
    from pathlib import Path

    from terrain_guard.arrays import Floats
    from terrain_guard.assessment import Assessment
    from tests.ground.grids import MakeGrid

    Points = Sequence[tuple[float, float, float]]

ABOVE_EGM96: Final = "EPSG:4326+5773"
ABOVE_ELLIPSOID: Final = "EPSG:4979"
CENTIMETRE: Final = 0.01
SITES: Final = ("rome", "san_francisco", "sydney", "santiago")
LOOSE: Final = Rules(name="Site rule", source="test", unit="m", floor_m=0.5, ceiling_m=2000.0)


def tagged(name: str, folder: Path, crs: str) -> Path:
    """Copy a vendored file whose vertical datum is not stated, and state it."""
    with rasterio.open(DATA / name) as source:
        return write_raster(
            folder / name, source.read(1), transform=source.transform, crs=crs,
            nodata=source.nodata,
        )  # fmt: skip


def route(points: Points, heights: str, **launch: Any) -> Route:
    """Return a route through (lat, lon, height) that takes off straight up under its first."""
    lat, lon, _ = points[0]
    settings = {"spot_within_m": 0.0, **launch}
    return Route(
        title="Test",
        heights=heights,
        height_unit="m",
        launch=Launch(lat_deg=lat, lon_deg=lon, **settings),
        home=Place(lat_deg=lat, lon_deg=lon),
        waypoints=tuple(
            Waypoint(name=f"P{n}", lat_deg=lat, lon_deg=lon, height_m=height_m, speed_m_per_s=5.0)
            for n, (lat, lon, height_m) in enumerate(points, 1)
        ),
        turns=Turns(kind="stop"),
        climb=Climb(model="linear", too_steep="slows", out="vertical"),
        after_last=AfterLast(go_to="here", then="wait"),
    )


def over(ground: Path, points: Points, heights: str, **launch: Any) -> Assessment:
    """Check a route within wide limits."""
    return check(route(points, heights, **launch), ground=ground, rules=LOOSE)


def after_climb(found: Assessment) -> tuple[Floats, Floats, Floats]:
    """Return height above ground, longitude and latitude of every metre after the climb-out.

    How many metres the climb-out has hangs on the last digit of its height.
    """
    samples = found.samples
    level = samples.leg > 0
    return samples.above_ground_m[level], samples.lon_deg[level], samples.lat_deg[level]


# ------------------------------------------------------------ one place in two datums


def zigzag(name: str, height_m: float) -> list[tuple[float, float, float]]:
    """Return points over a vendored file, through posts whose value is 0 if it has any."""
    with rasterio.open(DATA / name) as source:
        row, column = np.nonzero(source.read(1) == 0)
        through = list(zip(row.tolist(), column.tolist(), strict=True))[:: max(row.size // 4, 1)]
        posts = [(45, 12), (70, 80), *through, (20, 50)]
        lon, lat = rasterio.transform.xy(source.transform, *zip(*posts, strict=True))
    return [(y, x, height_m) for y, x in zip(lat, lon, strict=True)]


@pytest.mark.usefixtures("egm96")
@pytest.mark.parametrize("site", SITES)
def test_above_ground_is_the_same_in_both_datums(tmp_path: Path, site: str) -> None:
    """SRTM above the EGM96 geoid and above the ellipsoid: one flight, 1 cm, at every metre.

    Above ground is also SciPy's: typed height less the bilinear ground of the geoid file. The
    posts at which the ellipsoidal file hides voids as 0 are missing there, never 48 m lower.
    """
    geoid_file, ellipsoid_file = f"{site}_srtm1_geoid.tif", f"{site}_srtm1_ellipsoid.tif"
    above_geoid = tagged(geoid_file, tmp_path, ABOVE_EGM96)
    above_ellipsoid = tagged(ellipsoid_file, tmp_path, ABOVE_ELLIPSOID)
    typed_m = 760.0 if site == "santiago" else 130.0
    points = zigzag(ellipsoid_file, typed_m)
    one, lon, lat = after_climb(over(above_geoid, points, "sea-level"))
    other, *_ = after_climb(over(above_ellipsoid, points, "sea-level"))
    by_scipy = reference.scipy_ground_m(reference.read_terrain(above_geoid), lon, lat)
    assert np.nanmax(np.abs(one - (typed_m - by_scipy))) < CENTIMETRE
    known = ~np.isnan(other)
    assert np.abs(other - one)[known].max() < CENTIMETRE
    with rasterio.open(DATA / ellipsoid_file) as source:
        hidden = np.nonzero(source.read(1) == 0)
    at_hidden = Ground(above_ellipsoid).elevation_at(*(np.asarray(i, float) for i in hidden))
    assert np.isnan(at_hidden).all()
    assert known.all() == (hidden[0].size == 0)
    assert known.mean() > 0.5


@pytest.mark.usefixtures("egm96")
@pytest.mark.parametrize("site", ["rome", "san_francisco"])
def test_heights_above_the_ellipsoid_are_too(tmp_path: Path, site: str) -> None:
    """The same flight typed above the ellipsoid, over both files."""
    above_geoid = tagged(f"{site}_srtm1_geoid.tif", tmp_path, ABOVE_EGM96)
    above_ellipsoid = tagged(f"{site}_srtm1_ellipsoid.tif", tmp_path, ABOVE_ELLIPSOID)
    points = zigzag(f"{site}_srtm1_ellipsoid.tif", 150.0)
    one, *_ = after_climb(over(above_geoid, points, "ellipsoid"))
    other, *_ = after_climb(over(above_ellipsoid, points, "ellipsoid"))
    known = ~np.isnan(other)
    assert np.abs(other - one)[known].max() < CENTIMETRE
    assert known.mean() > 0.5


def test_hidden_zeros_without_a_stated_datum() -> None:
    """As sold, without a vertical datum: all but the one zero beside a pit of 3 m are found.

    The rim of every other is 10 m off or more, and all of it has fractions of a metre.
    """
    missed = {}
    for site in SITES:
        path = DATA / f"{site}_srtm1_ellipsoid.tif"
        with rasterio.open(path) as source:
            row, column = np.nonzero(source.read(1) == 0)
        found = Ground(path).elevation_at(row.astype(float), column.astype(float))
        missed[site] = [(int(i), int(j)) for i, j in zip(row, column, strict=True)
                        if not np.isnan(found[(row == i) & (column == j)]).all()]  # fmt: skip
    assert missed == {"rome": [], "san_francisco": [], "sydney": [(2, 62)], "santiago": []}


@pytest.mark.parametrize("site", SITES)
def test_zeros_at_sea_level_stay(site: str) -> None:
    """The same posts above the geoid are whole metres among whole metres: water, and kept."""
    path = DATA / f"{site}_srtm1_geoid.tif"
    with rasterio.open(path) as source:
        row, column = np.nonzero(source.read(1) == 0)
    found = Ground(path).elevation_at(row.astype(float), column.astype(float))
    assert (found == 0.0).all()


# ------------------------------------------------------------ made terrain

LAT, LON = 47.0, -27.0
OUT_AND_UP: Final = [(LAT, LON, 460.0), (LAT + 0.001, LON + 0.001, 470.0)]


def slope(folder: Path, crs: str, *, add_m: float = 0.0, name: str = "slope.tif") -> Path:
    """Write ground of 400 m at the launch that rises to the east, in seconds of arc."""
    second = 1 / 3600
    row, column = np.mgrid[0:60, 0:60]
    heights = 400.0 + add_m + 0.5 * (column - 30) + 0.0 * row
    north, west = LAT + 30.5 * second, LON - 30.5 * second
    transform = Affine(second, 0, west, 0, -second, north)
    return write_raster(folder / name, heights, transform=transform, crs=crs)


def test_above_the_model_s_own_sea_level(tmp_path: Path) -> None:
    """460 m above sea level over ground of 400 m is 60 m above ground; the launch is the zero."""
    found = over(slope(tmp_path, ABOVE_EGM96), OUT_AND_UP, "sea-level")
    assert found.legs[0].typed_end_m == pytest.approx(60.0, abs=1e-6)
    assert found.legs[1].typed_end_m == pytest.approx(70.0, abs=1e-6)
    assert found.samples.above_ground_m[0] == pytest.approx(0.0, abs=1e-6)
    assert found.assumed == (
        "heights = 'sea-level': taken as EGM96 height, from which the elevation model counts; "
        "another sea level may lie a metre or two off",
    )


@pytest.mark.parametrize(("n", "slant"), [(50.0, 0.0), (-32.3, 0.0), (12.0, 0.4)])
def test_a_constant_between_zeros_cancels(
    tmp_path: Path, make_grid: MakeGrid, n: float, slant: float
) -> None:
    """The model and the heights moved together leave every height above ground.

    Four ways to say the same flight, for a geoid N above the ellipsoid.
    """
    make_grid(n, per_degree_east=slant)
    here = n + slant * LON
    sea, above = (
        slope(tmp_path, ABOVE_EGM96),
        slope(tmp_path, ABOVE_ELLIPSOID, add_m=here, name="above.tif"),
    )
    high = [(lat, lon, height + n + slant * lon) for lat, lon, height in OUT_AND_UP]
    ways = [(sea, OUT_AND_UP, "sea-level"), (sea, high, "ellipsoid"),
            (above, OUT_AND_UP, "sea-level"), (above, high, "ellipsoid")]  # fmt: skip
    told = []
    for ground, points, zero in ways:
        _, leg, *_ = over(ground, points, zero).legs
        assert leg.above_ground_min is not None
        assert leg.above_ground_max is not None
        told.append([leg.above_ground_min.nominal_m, leg.above_ground_max.nominal_m])
    expected = [60.0, 70.0 - 0.5 * 3.6]  # 0.001 degrees are 3.6 posts
    assert np.abs(np.array(told) - expected).max() < 1e-3 + abs(slant) * 0.001


def test_the_grid_is_named_in_the_output(tmp_path: Path, make_grid: MakeGrid) -> None:
    """With the geoid height, as a thing that was assumed."""
    make_grid(50.0)
    (said,) = over(slope(tmp_path, ABOVE_EGM96), OUT_AND_UP, "ellipsoid").assumed
    assert said == (
        "heights = 'ellipsoid': tied to the elevation model (EGM96 height) through the EGM96 "
        "height grid egm96_15.gtx, geoid height +50.00 m at the waypoints"
    )
    (said,) = over(slope(tmp_path, ABOVE_ELLIPSOID), OUT_AND_UP, "sea-level").assumed
    assert said == (
        "heights = 'sea-level': tied to the elevation model (WGS 84) through the EGM96 height "
        "grid egm96_15.gtx, geoid height +50.00 m at the waypoints, and sea level is taken for "
        "the EGM96 geoid"
    )


def test_both_above_the_ellipsoid_need_no_grid(tmp_path: Path, no_grids: None) -> None:
    """Nothing stands between them."""
    del no_grids
    found = over(slope(tmp_path, ABOVE_ELLIPSOID), OUT_AND_UP, "ellipsoid")
    assert found.legs[0].typed_end_m == pytest.approx(60.0, abs=1e-6)
    assert found.assumed == (
        "heights = 'ellipsoid': the elevation model counts from the ellipsoid too (WGS 84)",
    )


def test_sea_level_over_another_ellipsoid(make_grid: MakeGrid) -> None:
    """A model above the ellipsoid of WGS 72: N, less how far that lies above WGS 84's.

    The latter by the formula of the Defense Mapping Agency's TR 8350.2 (1987), from memory.
    """
    make_grid(50.0)
    sine = np.sin(np.radians(47.0))
    apart = 4.5 * sine + 6378135 * 0.3121057e-7 * sine**2 - 2.0 + 1.4
    tied = tie("sea-level", pyproj.CRS(4985), [-27.0], [47.0], model="model.tif")
    assert tied.add_m[0] == pytest.approx(50.0 - apart, abs=0.01)
    tied = tie("ellipsoid", pyproj.CRS(4985), [-27.0], [47.0], model="model.tif")
    assert tied.add_m[0] == pytest.approx(-apart, abs=0.01)


@pytest.mark.usefixtures("no_grids")
@pytest.mark.parametrize(
    ("crs", "zero"), [(ABOVE_EGM96, "ellipsoid"), (ABOVE_ELLIPSOID, "sea-level")]
)
def test_without_a_grid_it_is_refused(tmp_path: Path, crs: str, zero: str) -> None:
    """PROJ would have handed the heights through unchanged."""
    words = rf"heights = '{zero}' needs a geoid grid .* install us_nga_egm96_15\.tif"
    with pytest.raises(RefusedTerrain, match=words):
        over(slope(tmp_path, crs), OUT_AND_UP, zero)


@pytest.mark.usefixtures("no_grids")
def test_real_heights_above_egm2008_without_its_grid() -> None:
    """The Copernicus file states EGM2008 (EPSG:9518); its grid is another one."""
    points = [(-33.875, 151.165, 160.0), (-33.880, 151.170, 160.0)]
    with pytest.raises(RefusedTerrain, match=r"install us_nga_egm08_25\.tif"):
        over(DATA / "sydney_glo30.tif", points, "ellipsoid")
    assert over(DATA / "sydney_glo30.tif", points, "sea-level").verdict is not None


@pytest.mark.parametrize("zero", ["sea-level", "ellipsoid"])
def test_a_model_that_does_not_state_its_datum(tmp_path: Path, zero: str) -> None:
    """There is nothing to tie heights to."""
    words = f"heights = '{zero}' needs an elevation model that states its vertical datum"
    with pytest.raises(RefusedTerrain, match=words):
        over(slope(tmp_path, "EPSG:4326"), OUT_AND_UP, zero)


def test_a_launch_without_ground_leaves_all_unknown(tmp_path: Path) -> None:
    """Heights above launch are then not known, whatever they were typed above: not assessed."""
    path = slope(tmp_path, ABOVE_EGM96)
    with rasterio.open(path, "r+") as dataset:
        z = dataset.read(1)
        z[28:33, 28:33] = np.nan
        dataset.write(z, 1)
    found = over(path, OUT_AND_UP, "sea-level")
    assert found.verdict is State.NOT_ASSESSED


# ------------------------------------------------------------ a launch in another datum


def refusal(ground: Path, stated_m: float) -> str:
    """Return why a stated launch elevation is refused."""
    points = [(LAT, LON, 60.0), (LAT + 0.001, LON + 0.001, 60.0)]
    with pytest.raises(RefusedTerrain) as caught:
        over(ground, points, "launch", elevation_m=stated_m, elevation_accuracy_m=1.0)
    assert "\n" not in str(caught.value)
    return str(caught.value)


@pytest.mark.parametrize("crs", [ABOVE_EGM96, "EPSG:4326"])
def test_a_launch_elevation_above_the_ellipsoid(
    tmp_path: Path, make_grid: MakeGrid, crs: str
) -> None:
    """450 m where the model has 400 m, and the geoid height is 50 m: refused, and it says why."""
    make_grid(50.0)
    for stated_m, hint in ((450.0, True), (454.9, True), (455.1, False), (350.0, False)):
        said = refusal(slope(tmp_path, crs), stated_m)
        clause = (
            "which is the geoid height there (+50.0 m by egm96_15.gtx), so the stated elevation "
            "likely counts from the ellipsoid"
        )
        assert (clause in said) == hint
        assert f"{stated_m - 400:+.1f} m apart" in said


def test_a_launch_elevation_above_sea_level_over_an_ellipsoidal_model(
    tmp_path: Path, make_grid: MakeGrid
) -> None:
    """The other way round: 50 m less than the model, whose heights count from the ellipsoid."""
    make_grid(50.0)
    said = refusal(slope(tmp_path, ABOVE_ELLIPSOID), 350.0)
    assert "with the other sign, so the model's elevations likely count from the ellipsoid" in said
    assert "geoid" not in refusal(slope(tmp_path, ABOVE_ELLIPSOID), 450.0)


@pytest.mark.usefixtures("no_grids")
def test_without_a_grid_there_is_no_hint(tmp_path: Path) -> None:
    """It is refused all the same."""
    said = refusal(slope(tmp_path, ABOVE_EGM96), 450.0)
    assert "geoid" not in said
    assert "+50.0 m apart: more than 10 m" in said

"""Ground and a surface with trees and roofs together: the floor is to the nearer of both.

Woods are blocks on flat ground, so every distance is plane geometry, worked beside
its case. Posts stand 1 m apart unless told otherwise: a block falls from its last
post to the ground within one cell.
"""

from __future__ import annotations

import math
from pathlib import Path
from typing import Any

import numpy as np
import pytest
from rasterio.transform import Affine

from terrain_guard.assess import limiting_surfaces
from terrain_guard.assessment import Assessment
from terrain_guard.checks.surveys import lowest_heap
from terrain_guard.errors import RefusedTerrain
from terrain_guard.plan.rules import Rules
from terrain_guard.states import State
from tests.checks import scenes
from tests.checks.scenes import Floats, Surface
from tests.rasters import write_raster

CENTIMETRE = 0.01
BOX = (-150.0, -150.0, 350.0, 150.0)
LEVEL_M = 100.0


def flat(east: Floats, north: Floats) -> Floats:
    """Return level ground."""
    return LEVEL_M + 0 * east + 0 * north


def wood(height_m: float, *, west: float, east: float, north: float = 200.0) -> Surface:
    """Return level ground with a wood between two easts, up to a north."""

    def surface(e: Floats, n: Floats) -> Floats:
        return np.where((e >= west) & (e <= east) & (n <= north), LEVEL_M + height_m, LEVEL_M)

    return surface


def pair(folder: Path, surface: Surface, ground: Surface = flat) -> dict[str, Path]:
    """Write ground and surface."""
    return {
        "ground": scenes.model(folder, ground, box_m=BOX),
        "surface": scenes.model(folder, surface, box_m=BOX, name="surface.tif"),
    }


def over(
    models: dict[str, Path],
    height_m: float,
    limits: Rules = scenes.LOOSE,
    *,
    north_m: float = 0.0,
    east_m: float = 200.0,
    **how: Any,
) -> Assessment:
    """Fly level from the spot eastward, at a height above launch."""
    points = [(0.0, north_m, height_m), (east_m, north_m, height_m)]
    return scenes.fly(models["ground"], points, limits, surface=models["surface"], **how)


# ------------------------------------------------------------ the nearer of both


def test_beside_a_wood_its_edge_is_nearest(tmp_path: Path) -> None:
    """20 m above the top of a wood whose edge is 15 m aside: sqrt(15² + 20²) = 25 m."""
    models = pair(tmp_path, wood(20.0, west=60, east=140, north=-15))
    found = over(models, 40.0, scenes.rules())
    leg = found.legs[1]
    assert leg.clearance_min is not None
    assert leg.above_ground_min is not None
    assert leg.clearance_min.nominal_m == pytest.approx(25.0, abs=CENTIMETRE)
    assert leg.above_ground_min.nominal_m == pytest.approx(40.0, abs=1e-6)
    (floor,) = [f for f in scenes.of_kind(found, "floor", leg=1) if f.state is State.BREACH]
    assert floor.worst_m == pytest.approx(25.0, abs=CENTIMETRE)
    assert "40.0 m above ground here, 25.0 m from the surface model's trees or roofs" in (
        floor.message.replace("24.9", "25.0")
    )
    # 30 m from the edge: 10 sqrt(5) = 22.36 m beyond its ends, which are 60 and 140 m along.
    beyond = math.sqrt(30.0**2 - 25.0**2)
    at = np.array([floor.from_m, floor.to_m]) - leg.from_m
    assert at == pytest.approx([60 - beyond, 140 + beyond], abs=0.02)


@pytest.mark.parametrize(("height_m", "clearance_m"), [(60.0, 40.0), (45.0, 25.0), (21.0, 1.0)])
def test_over_a_wood_it_is_the_height_above_its_top(
    tmp_path: Path, height_m: float, clearance_m: float
) -> None:
    """Clearance is to the crowns, height above ground to the ground below them."""
    models = pair(tmp_path, wood(20.0, west=60, east=140))
    leg = over(models, height_m).legs[1]
    values = [leg.clearance_min, leg.clearance_max, leg.above_ground_min, leg.above_ground_max]
    found = [one.nominal_m for one in values if one is not None]
    assert found == pytest.approx([clearance_m, height_m, height_m, height_m], abs=CENTIMETRE)
    assert leg.clearance_min is not None
    assert leg.clearance_min.assured_m == pytest.approx(clearance_m - 7.0, abs=CENTIMETRE)


def test_inside_a_wood_clearance_is_negative(tmp_path: Path) -> None:
    """15 m up in a wood of 20 m: 5 m below its top, a breach of the floor, not under ground."""
    models = pair(tmp_path, wood(20.0, west=60, east=140))
    found = over(models, 15.0, scenes.rules(floor_m=1.0))
    least = found.legs[1].clearance_min
    assert least is not None
    assert least.nominal_m == pytest.approx(-5.0, abs=CENTIMETRE)
    assert not scenes.of_kind(found, "underground")
    worst = min(scenes.of_kind(found, "floor", leg=1), key=lambda finding: finding.worst_m)
    assert worst.state is State.BREACH
    assert "15.0 m above ground here, but 5.0 m inside trees or roofs of the surface model" in (
        worst.message
    )


def test_deepest_in_a_wood_on_a_slope_is_found(tmp_path: Path) -> None:
    """Level through a wood that grows 1 in 4: deepest at its far end, (h - 10) cos(slope).

    At 140 m its top stands 20 + 0.25 · 80 = 40 m, 30 m above the aircraft; the top, a plane
    of slope 0.25, is 30 / sqrt(1 + 0.25²) away, but the far face within a metre: the
    deepest is before that, where face and top are equally far.
    """
    models = pair(
        tmp_path,
        lambda e, n: LEVEL_M + (20.0 + (e - 60) / 4) * ((e >= 60) & (e <= 140)) + 0 * n,
    )
    least = over(models, 10.0).legs[1].clearance_min
    assert least is not None
    lean = math.sqrt(1 + 0.25**2)
    # From x the top is (10 + (x - 60) / 4) / lean away; the face, from (140, 140 m up) to
    # (141, 100), is the line 40 (x - 140) + (z - 140) = 0, 40.01 long: equal at the deepest.
    face = math.hypot(40.0, 1.0)
    x = (10 - 15) / lean
    east = ((40 * 140 + 30) / face - x) / (0.25 / lean + 40 / face)
    assert least.nominal_m == pytest.approx(-(10 + (east - 60) / 4) / lean, abs=0.02)


def test_nearest_ground_is_named_as_ground(tmp_path: Path) -> None:
    """A low wood far from a hill: the hill is nearest, and said to be ground."""

    def hill(e: Floats, n: Floats) -> Floats:
        return LEVEL_M + 25.0 * ((e >= 90) & (e <= 110)) + 0 * n

    models = pair(tmp_path, lambda e, n: hill(e, n) + 3.0 * (e < 20), hill)
    found = over(models, 40.0, scenes.rules(), start=(30.0, 100.0))
    (floor,) = [f for f in scenes.of_kind(found, "floor", leg=1) if f.state is State.BREACH]
    assert floor.worst_m == pytest.approx(15.0, abs=CENTIMETRE)
    assert "15.0 m from the ground;" in floor.message


@pytest.mark.parametrize("lower_m", [0.0, 0.9])
def test_a_surface_under_the_ground_changes_nothing(tmp_path: Path, lower_m: float) -> None:
    """A surface model that reads a little below the ground is never nearer than it."""

    def hills(e: Floats, n: Floats) -> Floats:
        return LEVEL_M + 20 * np.sin(e / 40) * np.cos(n / 30)

    models = pair(tmp_path, lambda e, n: hills(e, n) - lower_m, hills)
    points = [(0.0, 0.0, 45.0), (200.0, 20.0, 60.0)]
    alone = scenes.fly(models["ground"], points, scenes.rules())
    both = scenes.fly(models["ground"], points, scenes.rules(), surface=models["surface"])
    assert both.verdict is alone.verdict
    assert both.samples.clearance_m == pytest.approx(alone.samples.clearance_m, abs=2e-3)
    for one, other in zip(both.legs, alone.legs, strict=True):
        assert one.state is other.state
    assert [(f.kind, f.state) for f in both.findings] == [(f.kind, f.state) for f in alone.findings]


# ------------------------------------------------------------ what counts from the ground alone


def test_the_ceiling_counts_from_the_ground(tmp_path: Path) -> None:
    """110 m above ground over a wood of 25 m is within 120, though 85 m above the crowns."""
    models = pair(tmp_path, wood(25.0, west=60, east=140))
    found = over(models, 110.0, scenes.rules())
    assert found.legs[1].state is State.WITHIN
    found = over(models, 121.0, scenes.rules())
    (ceiling,) = scenes.of_kind(found, "ceiling", leg=1)
    assert ceiling.worst_m == pytest.approx(121.0, abs=1e-6)


def test_a_closest_point_ceiling_is_to_the_ground(tmp_path: Path) -> None:
    """100 m up, the crowns 80 m away: a ceiling of 90 m from the closest ground is broken."""
    models = pair(tmp_path, wood(20.0, west=40, east=140))
    rules = scenes.rules(ceiling_m=90.0, ceiling_measure="closest-point")
    found = over(models, 100.0, rules)
    leg = found.legs[1]
    assert leg.clearance_min is not None
    assert leg.clearance_max is not None
    assert leg.clearance_min.nominal_m == pytest.approx(80.0, abs=CENTIMETRE)
    assert leg.clearance_max.nominal_m == pytest.approx(100.0, abs=CENTIMETRE)
    assert leg.clearance_max.assured_m == pytest.approx(105.0, abs=CENTIMETRE)
    (ceiling,) = scenes.of_kind(found, "ceiling", leg=1)
    assert ceiling.state is State.BREACH
    assert ceiling.worst_m == pytest.approx(100.0, abs=CENTIMETRE)


def test_the_launch_stands_on_the_ground(tmp_path: Path) -> None:
    """Launched under trees, heights count from the ground below them."""
    models = pair(tmp_path, wood(12.0, west=-40, east=-20))
    found = over(models, 60.0, start=(-30.0, 0.0))
    assert found.launch.elevation_m == pytest.approx(LEVEL_M, abs=1e-6)
    above = over(models, 60.0, start=(-30.0, 0.0), heights="ground").legs[1].above_ground_min
    assert above is not None
    assert above.nominal_m == pytest.approx(60.0, abs=1e-6)


def test_the_floor_straight_down_is_to_the_higher_of_both(tmp_path: Path) -> None:
    """With the floor counted straight down, used in tests only: 50 m less the 20 m of trees."""
    models = pair(tmp_path, wood(20.0, west=60, east=140))
    rules = scenes.rules(floor_m=35.0, floor_measure="vertical")
    found = over(models, 50.0, rules)
    (floor,) = [f for f in scenes.of_kind(found, "floor", leg=1) if f.state is State.BREACH]
    assert floor.worst_m == pytest.approx(30.0, abs=1e-6)
    # The top falls 20 m within a metre: 15 m of it are above the limit of 50 - 35 m.
    at = np.array([floor.from_m, floor.to_m]) - found.legs[1].from_m
    assert at == pytest.approx([60 - 0.25, 140 + 0.25], abs=1e-3)


# ------------------------------------------------------------ take-off and landing


def test_trees_close_the_column(tmp_path: Path) -> None:
    """A wood of 20 m whose edge is 10 m from the launch stands 10 m above the 1:1 cone."""
    models = pair(tmp_path, wood(20.0, west=10, east=60))
    found = over(models, 60.0, scenes.rules())
    (column,) = scenes.of_kind(found, "column")
    assert (column.leg, column.state) == (0, State.BREACH)
    assert "the surface model, with its trees and roofs, stands 10.0 m above" in column.message


@pytest.mark.parametrize(("grass_m", "closed"), [(0.3, False), (0.99, False), (1.2, True)])
def test_grass_does_not_close_the_column(tmp_path: Path, grass_m: float, closed: bool) -> None:
    """Two surveys are compared to a metre: so much above the spot is still its ground."""
    models = pair(tmp_path, wood(grass_m, west=-10, east=10))
    found = over(models, 60.0, scenes.rules())
    assert bool(scenes.of_kind(found, "column")) is closed


# ------------------------------------------------------------ other grids, missing surface


def degrees(folder: Path, surface: Surface, *, cell_deg: float = 1e-5) -> Path:
    """Write a surface of metres east and north of the spot to a grid of degrees."""
    size = 301
    west, top = scenes.LON_DEG - 100 * cell_deg, scenes.LAT_DEG + 150 * cell_deg
    column, row = np.meshgrid(np.arange(size), np.arange(size))
    lon, lat = west + column * cell_deg, top - row * cell_deg
    flat_places = zip(lat.ravel().tolist(), lon.ravel().tolist(), strict=True)
    places = [scenes.east_north(*place) for place in flat_places]
    east, north = (np.reshape(part, lon.shape) for part in np.transpose(places))
    corner = Affine(cell_deg, 0, west - cell_deg / 2, 0, -cell_deg, top + cell_deg / 2)
    heights = np.asarray(surface(east, north))
    return write_raster(folder / "degrees.tif", heights, transform=corner, crs="EPSG:4326")


def test_models_of_two_systems_and_two_cells(tmp_path: Path) -> None:
    """Ground in UTM, 10 m cells; surface in degrees, about 1 m: the wood's edge is 25 m away.

    The edge lies on the last row of posts not farther north than 15 m south of the line,
    at most a cell (1.1 m) beyond: within 0.7 m of the distance in plane geometry.
    """
    ground = scenes.model(tmp_path, flat, cell_m=10.0, box_m=BOX)
    surface = degrees(tmp_path, wood(20.0, west=40, east=90, north=-15.0))
    models = {"ground": ground, "surface": surface}
    found = over(models, 40.0, scenes.LOOSE, east_m=120.0)
    least = found.legs[1].clearance_min
    assert least is not None
    assert 25.0 - CENTIMETRE <= least.nominal_m <= 25.7
    assert found.floor_margin_m == scenes.FLOOR_MARGIN_M[10.0]
    assert [one.role for one in found.terrain] == ["ground", "surface"]
    on_top = over(models, 60.0, scenes.LOOSE, north_m=-60.0, east_m=100.0).legs[1].clearance_min
    assert on_top is not None
    assert on_top.nominal_m == pytest.approx(40.0, abs=CENTIMETRE)


def test_a_void_of_the_surface_leaves_the_ceiling(tmp_path: Path) -> None:
    """One post of the surface missing, 10 m grid: the floor is not assessed over 20 + 2 · 48 m.

    Heights above ground stay known, and the ceiling is judged throughout.
    """
    ground = scenes.model(tmp_path, flat, cell_m=10.0, box_m=BOX)

    def holed(e: Floats, n: Floats) -> Floats:
        return np.where((np.round(e) == 100) & (np.round(n) == 0), np.nan, flat(e, n))

    surface = scenes.model(tmp_path, holed, cell_m=10.0, box_m=BOX, name="surface.tif")
    found = over({"ground": ground, "surface": surface}, 60.0, scenes.rules())
    (missing,) = scenes.of_kind(found, "not-assessed")
    at = np.array([missing.from_m, missing.to_m]) - found.legs[1].from_m
    assert at == pytest.approx([90 - 48, 110 + 48], abs=0.02)
    assert "ground or surface is missing" in missing.message
    assert found.verdict is State.NOT_ASSESSED
    samples = found.samples
    assert np.isfinite(samples.above_ground_m).all()
    assert np.isnan(samples.surface_elevation_m).any()
    too_high = over({"ground": ground, "surface": surface}, 121.0, scenes.rules())
    (ceiling,) = scenes.of_kind(too_high, "ceiling", leg=1)
    assert ceiling.to_m - ceiling.from_m == pytest.approx(200.0, abs=CENTIMETRE)


def test_a_void_of_the_ground_leaves_its_height_unknown(tmp_path: Path) -> None:
    """The same post missing in the ground: 20 m without a height above ground."""

    def holed(e: Floats, n: Floats) -> Floats:
        return np.where((np.round(e) == 100) & (np.round(n) == 0), np.nan, flat(e, n))

    ground = scenes.model(tmp_path, holed, cell_m=10.0, box_m=BOX)
    surface = scenes.model(tmp_path, flat, cell_m=10.0, box_m=BOX, name="surface.tif")
    found = over({"ground": ground, "surface": surface}, 60.0, scenes.rules())
    samples, start = found.samples, found.legs[1].from_m
    along = samples.along_m - start
    inside = (samples.leg == 1) & (along > 90.001) & (along < 109.999)
    beside = (samples.leg == 1) & ((along < 89.999) | (along > 110.001))
    assert np.isnan(samples.above_ground_m[inside]).all()
    assert np.isfinite(samples.above_ground_m[beside]).all()


def test_trees_known_over_missing_ground_still_breach(tmp_path: Path) -> None:
    """Where the ground is missing, a wood too near is known all the same: a breach."""

    def holed(e: Floats, n: Floats) -> Floats:
        return np.where((np.round(e) == 100) & (np.round(n) == 0), np.nan, flat(e, n))

    ground = scenes.model(tmp_path, holed, cell_m=10.0, box_m=BOX)
    surface = scenes.model(
        tmp_path, wood(30.0, west=80, east=120), cell_m=10.0, box_m=BOX, name="surface.tif"
    )
    found = over({"ground": ground, "surface": surface}, 40.0, scenes.rules())
    at = found.legs[1].from_m + 100.0
    states = {f.state for f in found.findings if f.from_m <= at <= f.to_m and f.kind == "floor"}
    assert State.BREACH in states


def test_beyond_the_edge_of_the_surface(tmp_path: Path) -> None:
    """The surface ends 100 m east: from 48 m before that on the floor is not assessed."""
    ground = scenes.model(tmp_path, flat, cell_m=10.0, box_m=BOX)
    surface = scenes.model(
        tmp_path, flat, cell_m=10.0, box_m=(-150.0, -150.0, 100.0, 150.0), name="surface.tif"
    )
    found = over({"ground": ground, "surface": surface}, 60.0, scenes.rules())
    missing = scenes.of_kind(found, "not-assessed", leg=1)[0]
    assert missing.from_m - found.legs[1].from_m == pytest.approx(100 - 48, abs=0.02)
    assert missing.to_m == pytest.approx(found.legs[1].to_m, abs=CENTIMETRE)


# ------------------------------------------------------------ limiting surfaces


def test_lowest_allowed_is_the_higher_of_both(tmp_path: Path) -> None:
    """Over a wide wood 20 m more than over the ground; the highest is the ground's."""
    models = pair(tmp_path, wood(20.0, west=60, east=140))
    found = over(models, 80.0, scenes.rules())
    limits = limiting_surfaces(found, **models)
    aloft = found.samples.leg == 1
    along = found.samples.along_m - found.legs[1].from_m
    lowest = limits.lowest_allowed_m - LEVEL_M
    assert lowest[aloft & (along > 90) & (along < 110)] == pytest.approx(57.0, abs=CENTIMETRE)
    assert lowest[aloft & (along > 172)] == pytest.approx(37.0, abs=CENTIMETRE)
    # 10 m beside its edge, on the way to it: 20 + sqrt(30² - 10²) above the ground, and 7 m.
    at = np.argmin(np.abs(np.where(aloft, along - 50.0, np.inf)))
    away = 60.0 - along[at]
    expected = 20.0 + math.sqrt(30.0**2 - away**2) + 7.0
    assert lowest[at] == pytest.approx(expected, abs=CENTIMETRE)
    assert limits.highest_allowed_m[aloft] == pytest.approx(LEVEL_M + 115.0, abs=1e-6)
    assert found.samples.surface_elevation_m[at] == pytest.approx(LEVEL_M, abs=1e-6)


# ------------------------------------------------------------ two surveys


def shifted(folder: Path, offset_m: float) -> dict[str, Path]:
    """Write ground, and a surface of another survey with a wood on a third of the way."""
    trees = wood(20.0, west=60, east=140)
    return pair(folder, lambda e, n: trees(e, n) + offset_m)


@pytest.mark.parametrize(("offset_m", "lifted_m"), [(0.5, 0.0), (-0.9, 0.0), (3.0, -3.0)])
def test_surveys_a_little_apart(tmp_path: Path, offset_m: float, lifted_m: float) -> None:
    """Up to a metre the surface is taken as it is; beyond, as much lower as it lies too high."""
    found = over(shifted(tmp_path, offset_m), 60.0)
    tied = found.surface_tied
    assert tied is not None
    assert tied.offset_m == pytest.approx(offset_m, abs=1e-6)
    assert tied.lifted_m == pytest.approx(lifted_m, abs=1e-6)
    assert tied.bare >= 100
    least = found.legs[1].clearance_min
    assert least is not None
    assert least.nominal_m == pytest.approx(60 - 20 - offset_m - lifted_m, abs=CENTIMETRE)
    told = [one for one in found.cautions if "bare places" in one]
    assert bool(told) is (lifted_m != 0)
    if told:
        assert told[0].startswith("surface.tif lies +3.0 m off ground.tif on ")
        assert "its elevations are taken 3.0 m lower" in told[0]


def test_limiting_surfaces_are_tied_alike(tmp_path: Path) -> None:
    """A surface 4 m too low is lifted there too."""
    models = shifted(tmp_path, -4.0)
    found = over(models, 80.0, scenes.rules())
    limits = limiting_surfaces(found, **models)
    along = found.samples.along_m - found.legs[1].from_m
    over_wood = (found.samples.leg == 1) & (along > 90) & (along < 110)
    assert limits.lowest_allowed_m[over_wood] == pytest.approx(LEVEL_M + 57.0, abs=CENTIMETRE)


@pytest.mark.parametrize("offset_m", [12.0, -12.0])
def test_surveys_too_far_apart_are_refused(tmp_path: Path, offset_m: float) -> None:
    """12 m are no matter of two surveys: refused, with how far and what to do."""
    with pytest.raises(RefusedTerrain) as refused:
        over(shifted(tmp_path, offset_m), 60.0)
    (said,) = refused.value.faults
    assert said.startswith(
        f"the surface 'surface.tif' lies {offset_m:+.1f} m off the ground 'ground.tif' on "
    )
    assert "bare places along the route (median)" in said
    assert said.endswith(
        "more than 10 m means another vertical datum or another place: give two models of one datum"
    )


def test_the_geoid_height_is_recognised(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """An offset as large as the geoid height: one of the two counts from the ellipsoid."""
    from terrain_guard.ground import geoid

    n = geoid.Geoid(system="EGM96", grids="made up", above_ellipsoid_m=np.array([52.0]))
    monkeypatch.setattr(geoid, "geoid_near", lambda *_place, **_first: n)
    with pytest.raises(RefusedTerrain, match=r"the geoid height there \(\+52\.0 m by made up\)"):
        over(shifted(tmp_path, 51.0), 120.0)
    with pytest.raises(RefusedTerrain) as refused:
        over(shifted(tmp_path, 20.0), 120.0)
    assert "geoid" not in str(refused.value)


def test_too_little_in_common_is_said(tmp_path: Path) -> None:
    """A surface that covers the first few metres only cannot be compared, and is taken as is."""
    ground = scenes.model(tmp_path, flat, box_m=BOX)
    surface = scenes.model(
        tmp_path, wood(3.0, west=-9, east=9), box_m=(-9.0, -9.0, 9.0, 9.0), name="surface.tif"
    )
    found = over({"ground": ground, "surface": surface}, 60.0)
    assert found.surface_tied is not None
    assert math.isnan(found.surface_tied.offset_m)
    assert found.surface_tied.lifted_m == 0.0
    assert any("could not be told: too few places" in one for one in found.cautions)


RANDOM = np.random.default_rng(20240618)


@pytest.mark.parametrize("share", [0.1, 0.3, 0.6, 1.0])
@pytest.mark.parametrize("scatter_m", [0.1, 0.5, 2.0])
@pytest.mark.parametrize("offset_m", [-5.0, 0.0, 3.0])
def test_bare_places_are_found_in_a_wood(share: float, scatter_m: float, offset_m: float) -> None:
    """A share of bare places among crowns of 8 to 30 m: their offset, to a third of the scatter."""
    bare = RANDOM.normal(offset_m, scatter_m, round(3000 * share))
    crowns = RANDOM.uniform(8.0, 30.0, 3000 - bare.size) + RANDOM.normal(
        offset_m, scatter_m, 3000 - bare.size
    )
    found, count = lowest_heap(np.concatenate((crowns, bare)))
    assert found == pytest.approx(offset_m, abs=max(0.1, scatter_m / 3))
    assert count >= 0.5 * bare.size


def test_a_few_pits_are_not_the_ground() -> None:
    """3 % of values far too low (pits, water, bridges) do not pull the offset down."""
    values = np.concatenate((RANDOM.normal(0.2, 0.3, 970), RANDOM.uniform(-40.0, -5.0, 30)))
    assert lowest_heap(values)[0] == pytest.approx(0.2, abs=0.1)


def test_few_values_say_nothing() -> None:
    """Of 99 places no offset is made."""
    assert math.isnan(lowest_heap(np.zeros(99))[0])
    assert lowest_heap(np.zeros(100)) == (0.0, 100)

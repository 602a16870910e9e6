"""A flight over tiles is the flight over the whole, to the hash; a gap is not assessed."""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pytest
import rasterio
from rasterio.transform import Affine
from typer.testing import CliRunner

from terrain_guard.assess import check
from terrain_guard.assessment import Assessment, LegRow
from terrain_guard.cli import app
from terrain_guard.errors import RefusedTerrain
from terrain_guard.plan.route import Route
from terrain_guard.states import State
from terrain_guard.units import FOOT_M
from tests.checks import scenes
from tests.checks.scenes import Floats
from tests.ground.tiles import cut
from tests.rasters import write_raster

MICROMETRE = 1e-6
CENTIMETRE = 0.01
BOX = (-200.0, -200.0, 400.0, 200.0)
SAMPLE = Path(__file__).parent.parent / "sample_dem"


def hills(east: Floats, north: Floats) -> Floats:
    """Return ground that bends both ways, with slopes to 60 %."""
    return 300.0 + 25 * np.sin(east / 60) * np.cos(north / 45) + 0.1 * east


def through_corners() -> Route:
    """Return a route that crosses seams at slants, along them and at the corners of tiles."""
    points = [(-150, -150, 45), (160, 40, 60), (160, 120, 50), (-80, 120, 60), (300, -130, 55)]
    return scenes.route(points, climb="slanting", turns="fly-by", after="launch")


def extremes(leg: LegRow) -> list[float]:
    """Return every extreme of a leg, as computed, NaN where it has none."""
    found = (leg.above_ground_min, leg.above_ground_max, leg.clearance_min, leg.clearance_max)
    return [np.nan if one is None else one.nominal_m for one in found]


def assert_same(one: Assessment, other: Assessment, *, within_m: float) -> None:
    """Check that two assessments say the same of the flight."""
    assert one.verdict == other.verdict
    assert [leg.state for leg in one.legs] == [leg.state for leg in other.legs]
    for a, b in zip(one.legs, other.legs, strict=True):
        assert extremes(b) == pytest.approx(extremes(a), abs=within_m, nan_ok=True)
    assert [f.kind for f in one.findings] == [f.kind for f in other.findings]
    assert other.samples.above_ground_m == pytest.approx(
        one.samples.above_ground_m, abs=MICROMETRE, nan_ok=True
    )


@pytest.mark.parametrize("shared", [0, 1])
def test_twenty_five_tiles_are_the_whole(tmp_path: Path, shared: int) -> None:
    """Every extreme of every leg, every state and finding, and the hash."""
    whole = scenes.model(tmp_path, hills, box_m=BOX)
    cut(whole, tmp_path / "tiles", shared=shared)
    limits = scenes.rules(floor_m=30.0, ceiling_m=70.0)
    one, other = (
        check(through_corners(), ground=ground, rules=limits)
        for ground in (whole, tmp_path / "tiles")
    )
    assert_same(one, other, within_m=MICROMETRE)
    assert {used.used_hash for used in other.terrain} == {one.terrain[0].used_hash}
    assert 10 < len(other.terrain) <= 25
    assert len(other.cautions) == len(one.cautions)  # no seam among them


def test_over_a_removed_tile_nothing_is_assessed(tmp_path: Path) -> None:
    """The middle tile of 25 is not there: 120 m of the leg through it, and what reaches into it."""
    whole = scenes.model(tmp_path, lambda east, north: 300.0 + 0 * east, box_m=BOX)
    cut(whole, tmp_path / "tiles", left_out=[(2, 2)])
    route = scenes.route([(-150, 0, 60), (350, 0, 60)])
    limits = scenes.fixed(scenes.rules())
    found = check(route, ground=tmp_path / "tiles", canopy_m=0.0, rules=limits)
    assert found.verdict is State.NOT_ASSESSED
    over_all = check(route, ground=whole, canopy_m=0.0, rules=limits)
    assert over_all.verdict is State.WITHIN
    with rasterio.open(whole) as dataset:
        columns = np.linspace(0, dataset.width, 6).astype(int)[2:4]
    west, east = columns[0] - 1 - 200, columns[1] - 200  # the posts beside the gap, metres east
    samples = found.samples
    at = np.array([scenes.east_north(*place)[0] for place in
                   zip(samples.lat_deg, samples.lon_deg, strict=True)])  # fmt: skip
    in_gap = (at > west + MICROMETRE) & (at < east - MICROMETRE)
    assert np.array_equal(np.isnan(samples.above_ground_m), in_gap)
    (finding,) = scenes.of_kind(found, "not-assessed")
    reach = 30.0 + scenes.FLOOR_MARGIN_M[1.0]  # nearer to the gap the floor is not judged either
    assert finding.to_m - finding.from_m == pytest.approx(east - west + 2 * reach, abs=1.5)
    assert found.terrain_to_get is not None


def test_a_route_in_a_gap_is_refused(tmp_path: Path) -> None:
    """Inside the outline of all tiles, on none of them."""
    whole = scenes.model(tmp_path, hills, box_m=BOX)
    cut(whole, tmp_path / "tiles", left_out=[(2, 2)])
    route = scenes.route([(90, -10, 60), (110, 10, 60)])
    with pytest.raises(RefusedTerrain, match=r"lies 0\.0 km off .*'tile_00\.tif and 23 more'"):
        check(route, ground=tmp_path / "tiles")


def test_feet_beside_metres_is_the_flight_over_metres(tmp_path: Path) -> None:
    """Every second tile in feet, 64-bit: each height above ground to 1 mm."""
    whole = scenes.model(tmp_path, hills, box_m=BOX)
    tiles = cut(whole, tmp_path / "tiles", pieces=3)
    for tile in tiles[::2]:
        with rasterio.open(tile, "r+") as dataset:
            dataset.write(dataset.read(1) / FOOT_M, 1)
            dataset.units = ["ft"]
    one, other = (
        check(through_corners(), ground=ground, rules=scenes.LOOSE) for ground in (whole, tiles)
    )
    assert_same(one, other, within_m=1e-3)
    assert {used.vertical_unit for used in other.terrain} >= {"ft"}


def test_coarse_ground_on_a_finer_lattice_is_the_same_ground(tmp_path: Path) -> None:
    """A fine tile far from the route splits 10 m cells into 25 parts; clearances stay, to 1 cm."""
    coarse = scenes.model(tmp_path, hills, cell_m=10.0, box_m=(-300.0, -300.0, 700.0, 300.0))
    fine = scenes.model(
        tmp_path, hills, cell_m=2.0, box_m=(560.0, 180.0, 600.0, 220.0), name="fine.tif"
    )
    one, other = (
        check(through_corners(), ground=ground, rules=scenes.LOOSE)
        for ground in (coarse, [fine, coarse])
    )
    assert_same(one, other, within_m=CENTIMETRE)
    assert [used.file for used in other.terrain] == ["ground.tif"]
    assert other.margin_source == one.margin_source
    # The plane that tells how much a shift of the model matters is fitted to other posts.
    assert other.floor_margin_m == pytest.approx(one.floor_margin_m, abs=0.1)


def test_fine_ground_counts_where_it_is_given(tmp_path: Path) -> None:
    """A spire of 40 m that only the fine tile has: its leg comes 40 m nearer."""
    flat = scenes.model(
        tmp_path, lambda east, north: 300.0 + 0 * east, cell_m=10.0, box_m=BOX, name="coarse.tif"
    )
    spire = scenes.model(
        tmp_path, lambda east, north: 300.0 + 40.0 * ((east == 120) & (north == 0)),
        cell_m=2.0, box_m=(80.0, -40.0, 160.0, 40.0), name="fine.tif",
    )  # fmt: skip
    route = scenes.route([(-100, 0, 60), (300, 0, 60)])
    found = check(route, ground=[spire, flat], rules=scenes.LOOSE)
    least = found.legs[1].above_ground_min
    assert least is not None
    assert least.nominal_m == pytest.approx(20.0, abs=1e-3)
    assert scenes.east_north(least.lat_deg, least.lon_deg)[0] == pytest.approx(120.0, abs=1e-3)
    assert {used.file for used in found.terrain} == {"fine.tif", "coarse.tif"}
    assert "10 m cells" in found.margin_source  # of the coarser cells


# ------------------------------------------------------------ the commands


def run(*arguments: str) -> tuple[int, str]:
    """Run the program; return its exit code and all it says."""
    result = CliRunner().invoke(app, list(arguments))
    return result.exit_code, result.output


def test_the_command_takes_folders_and_patterns(tmp_path: Path) -> None:
    """The sample valley in nine tiles: the same exit code and leg table as in one file."""
    valley, route = SAMPLE / "valley_ground.tif", str(SAMPLE / "follows_slope.toml")
    tiles = cut(valley, tmp_path / "tiles", pieces=3)
    code, out = run("check", route, "--ground", str(valley))
    legs = out[out.index("LEG FROM") :].partition("\n\n")[0]
    each = [word for tile in tiles for word in ("--ground", str(tile))]
    folder, pattern = str(tmp_path / "tiles"), str(tmp_path / "tiles" / "tile_*.tif")
    for given in (["--ground", folder], ["--ground", pattern], each):
        again, said = run("check", route, *given)
        assert (again, legs in said) == (code, True)
        assert "tile_11.tif" in said


def test_no_output_falls_on_a_tile(tmp_path: Path) -> None:
    """A tile of a folder that is read is not written over, nor what may lie beside it."""
    cut(SAMPLE / "valley_ground.tif", tmp_path / "tiles", pieces=2)
    route = str(SAMPLE / "same_height.toml")
    for name in ("tile_01.tif", "tile_01.tif.toml"):
        out = str(tmp_path / "tiles" / name)
        options = ("--ground", str(tmp_path / "tiles"), "--json", out, "--overwrite")
        code, said = run("check", route, *options)
        assert (code, "is also read" in said) == (2, True)


def test_tiles_that_do_not_meet_are_told_of(tmp_path: Path) -> None:
    """Two tiles of one plane, the second 6 m lower: a caution names them, and the step."""
    east, north = scenes.posts(1.0, *BOX)
    whole = scenes.grid(tmp_path, 300.0 + 0.1 * east + 0 * north, cell_m=1.0, corner_m=(-200, 200))
    with rasterio.open(whole) as dataset:
        z, place, crs = dataset.read(1), dataset.transform, dataset.crs
    west = write_raster(tmp_path / "west.tif", z[:, :300], transform=place, crs=crs)
    corner = place @ Affine.translation(300, 0)
    rest = write_raster(tmp_path / "east.tif", z[:, 300:] - 6.0, transform=corner, crs=crs)
    found = check(scenes.route([(0, 0, 60), (200, 0, 60)]), ground=[west, rest])
    told = [one for one in found.cautions if "along their seam" in one]
    assert len(told) == 1
    assert told[0].startswith("east.tif lies 6.0 m below west.tif along their seam (median)")

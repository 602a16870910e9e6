"""A flight over a model with a card: the sea where no tile is, feet, facts and cautions."""

from __future__ import annotations

import json
from datetime import date
from pathlib import Path

import jsonschema
import numpy as np
import pytest
from typer.testing import CliRunner

from terrain_guard.assess import check
from terrain_guard.assessment import Assessment
from terrain_guard.cli import app
from terrain_guard.errors import RefusedTerrain
from terrain_guard.report import assessment_json
from terrain_guard.states import State
from terrain_guard.units import FOOT_M
from tests.checks import scenes
from tests.ground.test_card import say
from tests.ground.tiles import cut

SEA = "absent_is_sea = true"
TODAY = date(2026, 3, 1)
SAMPLE = Path(__file__).parent.parent / "sample_dem"
CENTIMETRE = 0.01


@pytest.fixture
def shore(tmp_path: Path) -> Path:
    """Return level ground at 12 m that ends 100 m east of the spot."""
    box = (-200.0, -200.0, 100.0, 200.0)
    return scenes.model(tmp_path, lambda east, north: 12.0 + 0 * east, box_m=box)


def seaward() -> list[tuple[float, float, float]]:
    """Return a route from the land straight out to sea, 60 m above the launch."""
    return [(0, 0, 60), (600, 0, 60)]


def east_of(found: Assessment) -> np.ndarray:
    """Return how far east of the spot each sample lies, metres."""
    pairs = zip(found.samples.lat_deg, found.samples.lon_deg, strict=True)
    return np.array([scenes.east_north(*pair)[0] for pair in pairs])


def test_over_absent_sea_heights_count_from_zero(shore: Path) -> None:
    """Above land 60 m; within one cell 60 to 72 m; 72 m above the sea, and so is the clearance."""
    say(shore, SEA)
    found = scenes.fly(shore, seaward(), scenes.rules(floor_m=30.0, ceiling_m=100.0))
    assert found.verdict is State.WITHIN
    assert found.terrain_to_get is None
    on_leg = found.samples.leg == 1
    east, above = east_of(found)[on_leg], found.samples.above_ground_m[on_leg]
    expected = 60.0 + 12.0 * np.clip(east - 100.0, 0, 1)  # the last post stands at 100 m
    assert above == pytest.approx(expected, abs=1e-5)
    leg = found.legs[1]
    assert leg.above_ground_max is not None
    assert leg.clearance_max is not None
    assert leg.above_ground_max.nominal_m == pytest.approx(72.0, abs=CENTIMETRE)
    assert leg.clearance_max.nominal_m == pytest.approx(72.0, abs=CENTIMETRE)
    (told,) = [one for one in found.cautions if "absent_is_sea" in one]
    assert "as ground.tif.toml says (absent_is_sea); ground beside it stands up to 12.0 m" in told


def test_without_the_card_the_same_is_not_assessed(shore: Path) -> None:
    """Absent ground is no sea unless somebody says so."""
    found = scenes.fly(shore, seaward(), scenes.rules(floor_m=30.0, ceiling_m=100.0))
    assert found.verdict is State.NOT_ASSESSED
    assert np.isnan(found.samples.above_ground_m[east_of(found) > 100.001]).all()
    assert not [one for one in found.cautions if "absent_is_sea" in one]


def test_the_edge_of_the_land_bounds_clearance_over_the_sea(tmp_path: Path) -> None:
    """A cliff of 50 m seen from 20 m out and 10 m above its top: the way to its edge."""
    box = (-200.0, -200.0, 100.0, 200.0)
    cliff = scenes.model(tmp_path, lambda east, north: 50.0 + 0 * east, box_m=box)
    say(cliff, SEA)
    route = scenes.route([(120, -100, 10), (120, 100, 10)], start=(90.0, -100.0), climb="slanting")
    found = check(route, ground=cliff, rules=scenes.LOOSE)
    least = found.legs[1].clearance_min
    assert least is not None
    assert least.nominal_m == pytest.approx(np.hypot(20.0, 10.0), abs=CENTIMETRE)


def test_a_flight_wholly_over_absent_sea_is_refused(shore: Path) -> None:
    """No sample lies on any tile: nothing of it was surveyed."""
    say(shore, SEA)
    with pytest.raises(RefusedTerrain, match=r"km off the elevation model 'ground\.tif'"):
        scenes.fly(shore, [(300, 0, 60), (600, 0, 60)])


def test_over_a_removed_tile(tmp_path: Path) -> None:
    """The middle tile of 25 is not there: with the card its place is 0 m, and all is assessed."""
    whole = scenes.model(tmp_path, lambda east, north: 12.0 + 0 * east)
    cut(whole, tmp_path / "tiles", left_out=[(2, 2)])
    route = scenes.route([(-150, 0, 60), (350, 0, 60)])
    limits = scenes.rules(floor_m=30.0, ceiling_m=100.0)
    without = check(route, ground=tmp_path / "tiles", rules=limits)
    say(tmp_path / "tiles", f"{SEA}\ncanopy_m = 0")
    found = check(route, ground=tmp_path / "tiles", rules=limits)
    assert (without.verdict, found.verdict) == (State.NOT_ASSESSED, State.WITHIN)
    gap = np.isnan(without.samples.above_ground_m)
    assert gap.sum() > 100
    assert found.samples.above_ground_m[gap].max() == pytest.approx(72.0, abs=1e-6)
    assert found.samples.above_ground_m[~gap] == pytest.approx(
        without.samples.above_ground_m[~gap], abs=1e-9
    )


def test_feet_by_the_card_are_the_flight_over_metres(tmp_path: Path) -> None:
    """The same hills in feet, which only the card says: each height above ground to 1 mm."""

    def hills(east: scenes.Floats, north: scenes.Floats) -> scenes.Floats:
        return 300.0 + 25 * np.sin(east / 60) * np.cos(north / 45)

    metres = scenes.model(tmp_path, hills)
    feet = scenes.model(tmp_path, lambda e, n: hills(e, n) / FOOT_M, name="feet.tif")
    say(feet, 'height_unit = "ft"')
    points = [(-150.0, -150.0, 45.0), (300.0, 40.0, 60.0)]
    one, other = scenes.fly(metres, points), scenes.fly(feet, points)
    assert other.samples.above_ground_m == pytest.approx(one.samples.above_ground_m, abs=1e-3)
    assert other.samples.clearance_m == pytest.approx(one.samples.clearance_m, abs=CENTIMETRE)
    assert not [text for text in other.cautions if "metres were assumed" in text]


def test_today_is_what_surveys_are_old_against(shore: Path) -> None:
    """Four years on it is young, five years on it is not, and before its day it is refused."""
    say(shore, 'kind = "ground"\nsurvey_date = "2021-05-05"')
    route = scenes.route([(0, 0, 60), (50, 0, 60)])
    young, old = (
        check(route, ground=shore, today=day) for day in (date(2025, 5, 5), date(2026, 5, 6))
    )
    assert [text for text in old.cautions if text not in young.cautions] == [
        "The survey of ground.tif is of 2021-05-05, more than 5 years old: look for what was "
        "built, dug or grown since."
    ]
    with pytest.raises(RefusedTerrain, match="no survey is later than today, 2021-05-04"):
        check(route, ground=shore, today=date(2021, 5, 4))


def test_the_file_tells_the_card(shore: Path) -> None:
    """JSON that fits the schema, with the card's facts, and null where none are told."""
    route = scenes.route([(0, 0, 60), (50, 0, 60)])
    validator = jsonschema.Draft202012Validator(assessment_json.schema())
    keys = ("kind", "survey_date", "sigma_m", "canopy_m", "card")
    bare = json.loads(assessment_json.text(check(route, ground=shore, today=TODAY)))
    say(shore, 'kind = "ground"\nsurvey_date = 2021-05-05\nsigma_m = 0.2\ncanopy_m = 0')
    told = json.loads(assessment_json.text(check(route, ground=shore, today=TODAY)))
    for written, expected in (
        (bare, ["unknown", None, None, None, None]),
        (told, ["ground", "2021-05-05", 0.2, 0.0, "ground.tif.toml"]),
    ):
        assert [written["terrain"][0][key] for key in keys] == expected
        assert list(validator.iter_errors(written)) == []


# ------------------------------------------------------------ the commands


def run(*arguments: str) -> tuple[int, str]:
    """Run the program; return its exit code and all it says."""
    result = CliRunner().invoke(app, list(arguments))
    return result.exit_code, result.output


def test_no_output_falls_on_a_card(tmp_path: Path) -> None:
    """Neither a tile's own nor the folder's is written over, whether it is there or not."""
    cut(SAMPLE / "valley_ground.tif", tmp_path / "tiles", pieces=2)
    route, ground = str(SAMPLE / "same_height.toml"), str(tmp_path / "tiles")
    for card in (tmp_path / "tiles.toml", tmp_path / "tiles" / "tile_01.tif.toml"):
        for there in (False, True):
            if there:
                card.write_text('kind = "ground"\n')
            options = ("--ground", ground, "--json", str(card), "--overwrite")
            code, said = run("check", route, *options)
            assert (code, "is also read" in said) == (2, True)
        assert card.read_text() == 'kind = "ground"\n'


def test_a_wrong_card_is_refused_by_every_command(tmp_path: Path) -> None:
    """Exit code 2, one line a fault."""
    path = scenes.model(tmp_path, lambda east, north: 5.0 + 0 * east, name="dem.tif")
    say(path, 'kind = "both"\ncanopy_m = 500')
    route = str(SAMPLE / "same_height.toml")
    for command in (
        ("check", route, "--ground", str(path)),
        ("profile", route, "--ground", str(path), "-o", str(tmp_path / "out.png")),
        ("terrain", str(path)),
    ):
        code, said = run(*command)
        assert (code, said.count("refused: dem.tif.toml: ")) == (2, 2)
    assert not (tmp_path / "out.png").exists()

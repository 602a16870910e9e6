"""Trees: seen in a surface model, declared, or assumed; and what is refused about models.

Canopy over bare earth is one-sided and linear: 40 m above ground under which 25 m of
trees may stand are 15 m above them. A surface model alone lies up to a canopy above
the true ground: 110 m above a wood of 25 m are 135 m above ground.
"""

from __future__ import annotations

import json
import tempfile
from collections.abc import Iterator, Sequence
from contextlib import contextmanager
from pathlib import Path
from typing import Any

import jsonschema
import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from typer.testing import CliRunner

from terrain_guard.assess import check, limiting_surfaces
from terrain_guard.assessment import Assessment
from terrain_guard.cli import app
from terrain_guard.errors import RefusedTerrain
from terrain_guard.plan.route import WayHome
from terrain_guard.report import assessment_json, cautions, table
from terrain_guard.states import SEVERITY, State
from tests import reference
from tests.checks import scenes
from tests.checks.scenes import Floats
from tests.reference import Position

CENTIMETRE = 0.01
BOX = (-150.0, -150.0, 350.0, 150.0)
FLOOR_MARGIN_M, CEILING_MARGIN_M = 7.0, 5.0  # for cells of 1 m
LEVEL: Sequence[tuple[float, float, float]] = [(0.0, 0.0, 40.0), (200.0, 0.0, 40.0)]
ASSUMED = "assumed: the model is bare earth or does not say"


def flat(folder: Path, name: str = "ground.tif", *, card: str = "", level_m: float = 100.0) -> Path:
    """Write level terrain, with a card beside it."""
    path = scenes.model(folder, lambda e, n: level_m + 0 * e + 0 * n, box_m=BOX, name=name)
    if card:
        path.with_name(f"{name}.toml").write_text(card, encoding="utf-8")
    return path


def at(height_m: float) -> list[tuple[float, float, float]]:
    """Return two points at a height, 200 m apart."""
    return [(0.0, 0.0, height_m), (200.0, 0.0, height_m)]


def only(folder: Path, points: Sequence[tuple[float, float, float]], **how: Any) -> Assessment:
    """Fly over level ground alone."""
    return scenes.fly(flat(folder), points, scenes.rules(), **how)


# ------------------------------------------------------------ bare earth alone


@pytest.mark.parametrize(
    ("canopy_m", "state"),
    [(0.0, State.WITHIN), (2.9, State.WITHIN), (3.1, State.TIGHT), (25.0, State.TIGHT)],
)
def test_declared_canopy_counts_with_margins(tmp_path: Path, canopy_m: float, state: State) -> None:
    """40 m up: 40 - 7 - canopy against a floor of 30; never a breach, whatever the canopy."""
    found = only(tmp_path, LEVEL, canopy_m=canopy_m)
    leg = found.legs[1]
    assert leg.state is state
    assert leg.clearance_min is not None
    assert leg.above_ground_min is not None
    assert leg.clearance_min.nominal_m == pytest.approx(40.0, abs=CENTIMETRE)
    # Without the flat margin it is 40 - 25 = 15 m above the trees.
    assert leg.clearance_min.assured_m == pytest.approx(33.0 - canopy_m, abs=CENTIMETRE)
    assert leg.above_ground_min.assured_m == pytest.approx(33.0 - canopy_m, abs=1e-6)
    assert found.floor_margin_m == FLOOR_MARGIN_M
    assert (found.canopy_m, found.canopy_source) == (canopy_m, "--canopy")


def test_thirty_metres_are_assumed(tmp_path: Path) -> None:
    """Nothing declared: 30 m, and every output says that they are assumed."""
    found = only(tmp_path, at(66.0), canopy_m=None)
    assert (found.canopy_m, found.canopy_source) == (30.0, ASSUMED)
    assert found.legs[1].state is State.TIGHT
    (finding,) = [f for f in found.findings if f.leg == 1]
    assert "1.0 m more needed with margins and 30 m of canopy, none as computed" in finding.message
    assert only(tmp_path, at(67.0), canopy_m=None).legs[1].state is State.WITHIN
    text = " ".join(" ".join(table.lines(found)).split())
    assert (
        "Canopy + 30 m canopy assumed: declare it with --canopy or canopy_m in the card, or give "
        "--surface"
    ) in text
    assert any("30 m of canopy are assumed" in one for one in found.cautions)
    written = json.loads(assessment_json.text(found))
    assert written["canopy"] == {
        "height_m": 30.0, "source": ASSUMED, "floor_margin_m": 30.0, "ceiling_margin_m": 0.0,
        "ground_below_m": 0.0,
    }  # fmt: skip
    assert written["margins"]["floor_m"] == FLOOR_MARGIN_M


def test_option_before_card_before_default(tmp_path: Path) -> None:
    """The card's canopy counts if none is given; one that is given goes before it."""
    ground = flat(tmp_path, card='kind = "ground"\ncanopy_m = 12\n')
    by_card = scenes.fly(ground, LEVEL, canopy_m=None)
    assert (by_card.canopy_m, by_card.canopy_source) == (12.0, "ground.tif.toml")
    given = scenes.fly(ground, LEVEL, canopy_m=0.0)
    assert (given.canopy_m, given.canopy_source) == (0.0, "--canopy")
    text = " ".join(" ".join(table.lines(by_card)).split())
    assert "Canopy + 12 m canopy in the floor's margin (ground.tif.toml)" in text
    assert "Canopy none: open ground (--canopy)" in " ".join(" ".join(table.lines(given)).split())


def test_no_canopy_on_climb_out_and_slanting_way_home(tmp_path: Path) -> None:
    """100 m out at 70 m, home on a slant: those two are as without canopy, the leg is not."""
    how: dict[str, Any] = {
        "after": "launch",
        "way_home": WayHome(path="slanting"),
        "climb": "slanting",
    }
    points = [(100.0, 0.0, 66.0), (200.0, 0.0, 66.0)]
    runs = [only(tmp_path, points, start=(0.0, 0.0), canopy_m=m, **how) for m in (0.0, 30.0)]
    assert [[leg.state for leg in one.legs] for one in runs] == [
        [State.WITHIN, State.WITHIN, State.WITHIN],
        [State.WITHIN, State.TIGHT, State.WITHIN],
    ]
    for number in (0, 2):
        assert runs[0].legs[number].clearance_min == runs[1].legs[number].clearance_min
    margins = runs[1].samples.floor_margin_m
    assert set(margins[runs[1].samples.leg == 1]) == {37.0}
    assert set(margins[runs[1].samples.leg == 0]) == {7.0}


def test_a_level_way_home_has_the_canopy(tmp_path: Path) -> None:
    """Home level at 66 m over trees of 30 m: tight up to the column, where the cone counts."""
    found = only(tmp_path, at(66.0), canopy_m=30.0, after="launch", way_home=WayHome(path="level"))
    assert found.legs[2].state is State.TIGHT
    (tight,) = scenes.of_kind(found, "floor", leg=2)
    assert tight.to_m - tight.from_m == pytest.approx(200.0 - 15.0, abs=0.02)


def test_canopy_does_not_reach_for_voids(tmp_path: Path) -> None:
    """A void counts within floor + flat margin: 37 m, not 67 m."""

    def holed(e: Floats, n: Floats) -> Floats:
        return np.where((e == 100) & (n == 50), np.nan, 100.0 + 0 * e)

    ground = scenes.model(tmp_path, holed, box_m=BOX)
    found = scenes.fly(ground, at(80.0), scenes.rules(), canopy_m=30.0)
    assert found.verdict is State.WITHIN
    assert not scenes.of_kind(found, "not-assessed")


def test_limiting_surface_holds_the_canopy(tmp_path: Path) -> None:
    """Lowest allowed 30 + 7 + 30 m above ground on the leg."""
    found = only(tmp_path, at(80.0), canopy_m=30.0)
    limits = limiting_surfaces(found, ground=tmp_path / "ground.tif")
    aloft = found.samples.leg == 1
    assert limits.lowest_allowed_m[aloft] == pytest.approx(167.0, abs=CENTIMETRE)


def test_feet_say_the_canopy_too(tmp_path: Path) -> None:
    """In feet the finding names floor, margin and canopy."""
    found = only(tmp_path, at(40.0), canopy_m=30.48)
    text = " ".join(" ".join(table.lines(found, unit="ft")).split())
    assert "floor 98.43 ft, margin 22.97 ft and 100 ft of canopy" in text
    assert "Canopy + 100 ft canopy in the floor's margin (--canopy)" in text


# ------------------------------------------------------------ a surface model alone


@pytest.mark.parametrize("given_as", ["surface", "ground"])
def test_declared_wood_under_a_surface_raises_the_flight(tmp_path: Path, given_as: str) -> None:
    """110 m above the crowns of a declared 25 m wood are 135 m above ground: a breach."""
    card = 'kind = "surface"\n' if given_as == "ground" else ""
    path = flat(tmp_path, "top.tif", card=card)
    models = {"surface": path} if given_as == "surface" else {}
    ground = path if given_as == "ground" else None
    found = scenes.fly(ground, at(110.0), scenes.rules(), canopy_m=25.0, **models)
    (ceiling,) = scenes.of_kind(found, "ceiling", leg=1)
    assert ceiling.state is State.BREACH
    assert ceiling.worst_m == pytest.approx(135.0, abs=1e-6)
    assert (
        "135.0 m above ground here (110.0 m above the surface model here, canopy 25 m); "
        "20.0 m less needed with margins, 15.0 m as computed"
    ) in ceiling.message
    leg = found.legs[1]
    assert leg.above_ground_max is not None
    assert leg.above_ground_min is not None
    assert leg.above_ground_max.nominal_m == pytest.approx(135.0, abs=1e-6)
    assert leg.above_ground_max.assured_m == pytest.approx(140.0, abs=1e-6)
    assert leg.above_ground_min.nominal_m == pytest.approx(110.0, abs=1e-6)
    assert found.models == "surface"
    assert any("the greatest from 25 m below it" in one for one in found.cautions)
    lower = scenes.fly(ground, at(94.9), scenes.rules(), canopy_m=25.0, **models)
    assert {f.state for f in scenes.of_kind(lower, "ceiling", leg=1)} == {State.TIGHT}
    lowest = scenes.fly(ground, at(89.9), scenes.rules(), canopy_m=25.0, **models)
    assert not scenes.of_kind(lowest, "ceiling", leg=1)


def test_assumed_wood_under_a_surface_only_tightens(tmp_path: Path) -> None:
    """110 m above a surface of unknown canopy: 110 + 5 + 30 m with margins; no breach."""
    surface = flat(tmp_path, "top.tif")
    found = scenes.fly(None, at(110.0), scenes.rules(), canopy_m=None, surface=surface)
    (ceiling,) = scenes.of_kind(found, "ceiling", leg=1)
    assert ceiling.state is State.TIGHT
    assert ceiling.worst_m == pytest.approx(110.0, abs=1e-6)
    assert found.legs[1].above_ground_max is not None
    assert found.legs[1].above_ground_max.assured_m == pytest.approx(145.0, abs=1e-6)
    assert (found.canopy_m, found.canopy_source) == (
        30.0, "assumed: the surface model does not say",
    )  # fmt: skip
    assert found.ceiling_margin_m == CEILING_MARGIN_M
    high = scenes.fly(None, at(120.1), scenes.rules(), canopy_m=None, surface=surface)
    assert State.BREACH in {f.state for f in scenes.of_kind(high, "ceiling", leg=1)}
    low = scenes.fly(None, at(84.9), scenes.rules(), canopy_m=None, surface=surface)
    assert not scenes.of_kind(low, "ceiling", leg=1)


@pytest.mark.parametrize("measure", ["vertical", "closest-point"])
def test_the_limit_above_a_wood(tmp_path: Path, measure: str) -> None:
    """With 25 m declared the highest allowed is 120 - 25 - 5 m above the surface."""
    surface = flat(tmp_path, "top.tif")
    rules = scenes.rules(ceiling_measure=measure)
    found = scenes.fly(None, at(96.0), rules, canopy_m=25.0, surface=surface)
    (ceiling,) = [f for f in scenes.of_kind(found, "ceiling", leg=1) if f.state is State.BREACH]
    assert ceiling.worst_m == pytest.approx(121.0, abs=CENTIMETRE)
    leg = found.legs[1]
    assert leg.clearance_max is not None
    assert leg.clearance_max.nominal_m == pytest.approx(121.0, abs=CENTIMETRE)
    assert leg.clearance_min is not None
    assert leg.clearance_min.nominal_m == pytest.approx(96.0, abs=CENTIMETRE)
    limits = limiting_surfaces(found, surface=surface)
    aloft = found.samples.leg == 1
    assert limits.highest_allowed_m[aloft] == pytest.approx(190.0, abs=CENTIMETRE)
    assert scenes.fly(None, at(94.9), rules, canopy_m=25.0, surface=surface).verdict is State.TIGHT


def test_the_launch_on_a_surface_is_ambiguous(tmp_path: Path) -> None:
    """Read off a surface the launch may be a treetop: 25 m more in the floor's margin."""
    surface = flat(tmp_path, "top.tif")
    found = scenes.fly(None, at(55.0), scenes.rules(), canopy_m=25.0, surface=surface)
    assert found.legs[1].state is State.TIGHT
    assert found.legs[1].clearance_min is not None
    assert found.legs[1].clearance_min.assured_m == pytest.approx(55 - 7 - 25, abs=CENTIMETRE)
    assert found.launch.elevation_source == "surface model"
    assert any(one.startswith("Launch ambiguous: measure it.") for one in found.cautions)
    start = scenes.launch(0.0, 0.0, elevation_m=100.0, elevation_accuracy_m=0.5)
    stated = scenes.fly(None, at(55.0), scenes.rules(), canopy_m=25.0, surface=surface, start=start)
    assert stated.legs[1].state is State.WITHIN
    assert not any("ambiguous" in one for one in stated.cautions)


def test_heights_above_ground_are_then_above_the_surface(tmp_path: Path) -> None:
    """Typed above ground, with no ground given: counted from the surface, and said."""
    surface = flat(tmp_path, "top.tif")
    found = scenes.fly(None, at(60.0), canopy_m=25.0, surface=surface, heights="ground")
    least = found.legs[1].above_ground_min
    assert least is not None
    assert least.nominal_m == pytest.approx(60.0, abs=1e-6)
    assert "heights = 'ground': counted from the surface model top.tif" in found.assumed


def test_a_launch_measured_under_the_trees(tmp_path: Path) -> None:
    """30 m below the surface is below 25 m of trees, 5 m off; 36 m is another place."""
    surface = flat(tmp_path, "top.tif")

    def measured(elevation_m: float) -> Assessment:
        start = scenes.launch(0.0, 0.0, elevation_m=elevation_m, elevation_accuracy_m=0.5)
        return scenes.fly(None, at(80.0), canopy_m=25.0, surface=surface, start=start)

    least = measured(70.0).legs[1].above_ground_min
    assert least is not None
    assert least.nominal_m == pytest.approx(50.0, abs=1e-6)
    with pytest.raises(RefusedTerrain, match="three times the accuracy, 25 m of canopy on top"):
        measured(64.0)
    with pytest.raises(RefusedTerrain, match=r"\+11\.0 m apart"):
        measured(111.0)


def test_too_low_over_a_surface_is_no_underground(tmp_path: Path) -> None:
    """Through a hill of the surface model: inside trees or roofs, a breach of the floor."""

    def hill(e: Floats, n: Floats) -> Floats:
        return 100.0 + 60.0 * ((e >= 90) & (e <= 110)) + 0 * n

    surface = scenes.model(tmp_path, hill, box_m=BOX, name="top.tif")
    found = scenes.fly(None, at(40.0), scenes.rules(), canopy_m=0.0, surface=surface)
    assert not scenes.of_kind(found, "underground")
    worst = min(scenes.of_kind(found, "floor", leg=1), key=lambda finding: finding.worst_m)
    assert worst.state is State.BREACH
    assert "inside trees or roofs of the surface model" in worst.message


def test_contact_in_the_column_over_a_surface_is_a_breach(tmp_path: Path) -> None:
    """Climbing on a slant into a wall 5 m beside the launch: contact, though no floor counts."""

    def wall(e: Floats, n: Floats) -> Floats:
        return 100.0 + 50.0 * (e >= 5) + 0 * n

    surface = scenes.model(tmp_path, wall, box_m=BOX, name="top.tif")
    found = scenes.fly(
        None, [(60.0, 0.0, 60.0), (100.0, 0.0, 80.0)], scenes.rules(), canopy_m=0.0,
        surface=surface, start=(0.0, 0.0), climb="slanting",
    )  # fmt: skip
    first = scenes.of_kind(found, "floor", leg=0)[0]
    assert first.state is State.BREACH
    assert first.worst_m < 0


# ------------------------------------------------------------ what is said beside


def test_beside_the_verdict_stands_what_is_true(tmp_path: Path) -> None:
    """Trees are not in the model over bare earth; with a surface they are as far as it shows."""
    ground, surface = flat(tmp_path), flat(tmp_path, "top.tif")
    bare = scenes.fly(ground, LEVEL)
    both = scenes.fly(ground, LEVEL, surface=surface)
    alone = scenes.fly(None, LEVEL, surface=surface)
    said = [cautions.beside_verdict(one) for one in (bare, both, alone)]
    assert said[0].endswith("TREES AND ROOFS NOT IN THE MODEL")
    assert said[1] == said[2]
    assert said[1].endswith("TREES AND ROOFS AS FAR AS THE SURFACE MODEL SHOWS THEM")
    assert both.canopy_m == 0.0
    assert any("trees and roofs that top.tif does not show" in one for one in both.not_checked)
    for found in (bare, both, alone):
        written = json.loads(assessment_json.text(found))
        jsonschema.Draft202012Validator(assessment_json.schema()).validate(written)
        assert written["beside_verdict"] == cautions.beside_verdict(found)
    assert [one["role"] for one in json.loads(assessment_json.text(both))["terrain"]] == [
        "ground", "surface",
    ]  # fmt: skip
    text = " ".join(" ".join(table.lines(both)).split())
    assert "Surface top.tif: kind not stated" in text
    assert "surface +0.0 m off the ground on" in text
    assert "Clearance is to the nearer of ground and surface" in text
    assert "least over surface" in "\n".join(table.lines(alone))


# ------------------------------------------------------------ what is refused


def refusal(**given: Any) -> str:
    """Return the only sentence with which models are refused."""
    with pytest.raises(RefusedTerrain) as refused:
        check(scenes.route(LEVEL), **given)
    (only_one,) = refused.value.faults
    return only_one


def test_no_model_at_all() -> None:
    """Neither ground nor surface: refused, with what to give."""
    assert refusal() == (
        "no elevation model given: give the bare earth (--ground DEM), a surface with trees and "
        "roofs (--surface DSM), or both"
    )


def test_two_surfaces(tmp_path: Path) -> None:
    """A surface model given as ground beside another surface."""
    ground = flat(tmp_path, card='kind = "surface"\n')
    assert refusal(ground=ground, surface=flat(tmp_path, "top.tif")) == (
        "'ground.tif' is given as ground (--ground), but its card says kind = 'surface': it and "
        "'top.tif' would be two surfaces; give the bare earth as ground, or leave one of the two "
        "out"
    )


def test_ground_given_as_surface(tmp_path: Path) -> None:
    """Bare earth has no trees and roofs to keep clear of."""
    surface = flat(tmp_path, "top.tif", card='kind = "ground"\n')
    assert refusal(ground=flat(tmp_path), surface=surface) == (
        "'top.tif' is given as surface (--surface), but its card says kind = 'ground': trees and "
        "roofs are not in it; give it as ground, and as surface a model that has them"
    )


def test_two_vertical_datums(tmp_path: Path) -> None:
    """Heights above two geoids are not compared."""
    ground = flat(tmp_path, card='kind = "ground"\nvertical_datum = "EPSG:3855"\n')
    surface = flat(tmp_path, "top.tif", card='kind = "surface"\nvertical_datum = "EPSG:5773"\n')
    assert refusal(ground=ground, surface=surface) == (
        "'ground.tif' counts its heights from EGM2008 geoid, 'top.tif' from EGM96 geoid: ground "
        "and surface must be of one vertical datum; convert one of them"
    )


@pytest.mark.parametrize("canopy_m", [-0.1, 100.1, float("nan"), float("inf")])
def test_impossible_canopies(tmp_path: Path, canopy_m: float) -> None:
    """Below the ground, higher than any tree, or no number."""
    assert refusal(ground=flat(tmp_path), canopy_m=canopy_m) == (
        f"canopy (--canopy) is {canopy_m!r}: trees stand 0 to 100 m above ground; give metres, 0 "
        "for open ground"
    )


def test_a_canopy_beside_a_surface(tmp_path: Path) -> None:
    """With ground and surface there is nothing for it to stand for."""
    surface = flat(tmp_path, "top.tif")
    assert refusal(ground=flat(tmp_path), surface=surface, canopy_m=25.0) == (
        "canopy (--canopy) 25 is given beside a ground and a surface model: the surface model "
        "shows trees and roofs; leave one of the two out"
    )


def test_a_surface_elsewhere(tmp_path: Path) -> None:
    """A surface that holds no metre of the route is refused like a ground that does not."""
    elsewhere = scenes.model(
        tmp_path, lambda e, n: 100.0 + 0 * e, box_m=(5000.0, 0.0, 5100.0, 100.0), name="far.tif"
    )
    said = refusal(ground=flat(tmp_path), surface=elsewhere)
    assert "km off the elevation model 'far.tif'" in said


def run(*arguments: str | Path) -> tuple[int, str, str]:
    """Run the program; return its exit code and what it says on both streams."""
    result = CliRunner().invoke(app, [str(one) for one in arguments])
    return result.exit_code, result.stdout, result.stderr


SAMPLE = Path(__file__).parent.parent / "sample_dem"
VALLEY = ("--ground", SAMPLE / "valley_ground.tif", "--surface", SAMPLE / "valley_surface.tif")


def test_the_command_refuses_likewise(tmp_path: Path) -> None:
    """Exit code 2 and one sentence; nothing is written."""
    route = SAMPLE / "follows_slope.toml"
    ground, surface = SAMPLE / "valley_ground.tif", SAMPLE / "valley_surface.tif"
    out = tmp_path / "a.json"
    for options, sentence in (
        ((), "no elevation model given"),
        (("--ground", surface, "--surface", surface), "would be two surfaces"),
        (("--ground", ground, "--surface", ground), "is given as surface (--surface)"),
        (("--ground", ground, "--canopy", "-1"), "canopy (--canopy) is -1.0"),
        (("--ground", ground, "--canopy", "nan"), "canopy (--canopy) is nan"),
        ((*VALLEY, "--canopy", "0"), "is given beside a ground and a surface model"),
        (("--surface", surface, "--second-ground", ground), "is given as second ground"),
        (("--ground", ground, "--second-ground", surface), "is given as second ground"),
    ):
        code, printed, said = run("check", route, *options, "--json", out)
        assert (code, printed, said.count("\n")) == (2, "", 1)
        assert sentence in said
        assert not out.exists()


def test_the_sample_routes(tmp_path: Path) -> None:
    """The demonstration: one route breaks its limits, the other keeps them with margins."""
    assert run("check", SAMPLE / "same_height.toml", *VALLEY)[0] == 3
    assert run("check", SAMPLE / "follows_slope.toml", *VALLEY)[0] == 0
    picture = tmp_path / "p.png"
    assert run("profile", SAMPLE / "follows_slope.toml", *VALLEY, "-o", picture)[0] == 0
    assert picture.stat().st_size > 0


# ------------------------------------------------------------ over any terrain

HALF, CELL_M = 24, 10.0
few = settings(max_examples=8, deadline=None)
seeds = st.integers(0, 2**32 - 1)
coordinates = st.floats(-60.0, 60.0)
legs = st.lists(st.tuples(coordinates, coordinates, st.floats(20.0, 90.0)), min_size=2, max_size=3)


def rough(seed: int) -> tuple[Floats, Floats]:
    """Return ground that rolls and jumps, and the same with woods and roofs on it."""
    random = np.random.default_rng(seed)
    size = 2 * HALF + 1
    row, column = np.indices((size, size))
    waves = sum(
        random.uniform(2, 8)
        * np.sin(random.uniform(-0.6, 0.6) * row + random.uniform(-1, 1) * column)
        for _ in range(3)
    )
    ground = np.round(230.0 + waves, 2)
    trees = random.uniform(0, 35, (size, size)) * (random.uniform(0, 1, (size, size)) < 0.2)
    return ground, ground + np.round(trees, 2)


@contextmanager
def written(*models: Floats) -> Iterator[list[Path]]:
    """Write posts, the middle one at the spot, for as long as the block lasts."""
    corner = (-HALF * CELL_M, HALF * CELL_M)
    with tempfile.TemporaryDirectory(ignore_cleanup_errors=True) as folder:
        yield [
            scenes.grid(Path(folder), posts, cell_m=CELL_M, corner_m=corner, name=f"{k}.tif")
            for k, posts in enumerate(models)
        ]


def ranks(found: Assessment) -> list[int]:
    """Return how severe the state of each leg is."""
    return [SEVERITY.index(leg.state) for leg in found.legs]


@few
@given(seeds, coordinates, coordinates, st.floats(-10.0, 90.0))
def test_clearance_is_the_less_of_two_references(
    seed: int, east_m: float, north_m: float, height_m: float
) -> None:
    """Clearance to both equals the less of those that a second method finds for each."""
    with written(*rough(seed)) as (ground, surface):
        points = [(east_m, north_m - 0.5, height_m), (east_m, north_m, height_m)]
        found = scenes.fly(ground, points, start=(0.0, 0.0), surface=surface)
        lat, lon = scenes.lat_lon(east_m, north_m)
        elevation = found.launch.elevation_m + height_m
        point = Position(lon_deg=lon, lat_deg=lat, elevation_m=elevation)
        terrains = [reference.read_terrain(path) for path in (ground, surface)]
        expected = [reference.clearance_m(terrain, point) for terrain in terrains]
    assert found.surface_tied is not None
    assert found.surface_tied.lifted_m == 0.0
    assert found.samples.clearance_m[-1] == pytest.approx(min(expected), abs=0.003)


@few
@given(seeds, legs, st.floats(0.0, 1.0), st.floats(1.0, 40.0))
def test_a_higher_post_of_the_surface_never_improves_the_floor(
    seed: int, points: list[tuple[float, float, float]], share: float, lift_m: float
) -> None:
    """Raising a post of the surface near the flight betters no state and no clearance."""
    ground, surface = rough(seed)
    (e0, n0, _), (e1, n1, _) = points[:2]
    raised = surface.copy()
    row = round(HALF - (n0 + share * (n1 - n0)) / CELL_M)
    column = round(HALF + (e0 + share * (e1 - e0)) / CELL_M)
    raised[row, column] += lift_m
    rules = scenes.rules(ceiling_m=1000.0)
    with written(ground, surface, raised) as (low, before, after):
        one, other = (
            scenes.fly(low, points, rules, surface=over, start=(-150.0, -150.0))
            for over in (before, after)
        )
    assert all(a >= b for a, b in zip(ranks(other), ranks(one), strict=True))
    for a, b in zip(other.legs[1:-1], one.legs[1:-1], strict=True):
        assert a.clearance_min is not None
        assert b.clearance_min is not None
        assert a.clearance_min.nominal_m <= b.clearance_min.nominal_m + 0.011
        assert a.above_ground_min == b.above_ground_min
        assert a.above_ground_max == b.above_ground_max


@few
@given(seeds, legs)
def test_a_surface_equal_to_the_ground_changes_nothing(
    seed: int, points: list[tuple[float, float, float]]
) -> None:
    """Every state, extreme and sample is that of the ground alone, over open ground."""
    ground, _ = rough(seed)
    with written(ground, ground) as (low, same):
        alone = scenes.fly(low, points, scenes.rules())
        both = scenes.fly(low, points, scenes.rules(), surface=same)
    assert ranks(both) == ranks(alone)
    assert both.samples.clearance_m == pytest.approx(alone.samples.clearance_m, abs=2e-3)
    for a, b in zip(both.legs, alone.legs, strict=True):
        for name in ("above_ground_min", "above_ground_max", "clearance_min", "clearance_max"):
            one, other = getattr(a, name), getattr(b, name)
            assert (one is None) is (other is None)
            if one is not None:
                assert one.nominal_m == pytest.approx(other.nominal_m, abs=0.011)


@few
@given(seeds, legs, st.floats(0.0, 50.0), st.floats(0.0, 50.0), st.booleans())
def test_a_wider_canopy_never_improves(
    seed: int,
    points: list[tuple[float, float, float]],
    canopy_m: float,
    more_m: float,
    surface_alone: bool,
) -> None:
    """No leg that fails with one canopy passes with a higher one, over either kind of model."""
    _, posts = rough(seed)
    with written(posts) as (path,):
        models = (None, path) if surface_alone else (path, None)
        small, large = (
            scenes.fly(models[0], points, scenes.rules(), canopy_m=m, surface=models[1])
            for m in (canopy_m, canopy_m + more_m)
        )
    assert all(a >= b for a, b in zip(ranks(large), ranks(small), strict=True))
    if not surface_alone:
        breach = SEVERITY.index(State.BREACH)
        assert [a == breach for a in ranks(large)] == [b == breach for b in ranks(small)]

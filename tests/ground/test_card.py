"""The card beside a model says what the raster does not, and is refused where it is wrong."""

from __future__ import annotations

import os
from datetime import date
from typing import TYPE_CHECKING, Any

import numpy as np
import pytest
import rasterio
from rasterio.transform import Affine

from terrain_guard.errors import RefusedTerrain
from terrain_guard.ground import index
from terrain_guard.ground.card import KEYS, Card
from terrain_guard.ground.datums import tie
from terrain_guard.ground.model import Ground
from tests.ground.made import CORNER, UTM31N, at_posts, hills, utm_raster
from tests.ground.tiles import cut
from tests.rasters import write_raster

if TYPE_CHECKING:
    from pathlib import Path

MILLIMETRE = 1e-3
TODAY = date(2026, 3, 1)
# International yard and pound agreement (1959); Mendenhall order (NIST SP 811, appendix B.6).
FOOT_M = {"ft": 0.3048, "us-ft": 1200 / 3937}


def say(model: Path, text: str) -> Path:
    """Write the card of a model, or of a folder of tiles; return its path."""
    card = model.with_name(f"{model.name}.toml")
    card.write_text(text, encoding="utf-8")
    return card


def faults(model: Path) -> list[str]:
    """Return the sentences with which a model is refused."""
    with pytest.raises(RefusedTerrain) as caught:
        Ground(model, today=TODAY)
    assert str(caught.value) == "\n".join(caught.value.faults)
    return list(caught.value.faults)


@pytest.fixture
def raster(tmp_path: Path) -> Path:
    """Return a small model that says nothing of its heights."""
    return utm_raster(tmp_path, hills(6, 6), name="dem.tif")


@pytest.fixture
def tiles(tmp_path: Path) -> Path:
    """Return a folder of four tiles that say nothing of their heights."""
    whole = utm_raster(tmp_path, hills(20, 20), name="whole.tif")
    cut(whole, tmp_path / "tiles", pieces=2)
    return tmp_path / "tiles"


# ------------------------------------------------------------ what is said


def test_every_key(raster: Path) -> None:
    """Each arrives as it is written, and is carried by the raster."""
    say(
        raster,
        'kind = "surface"\nvertical_datum = "EPSG:3855"\nheight_unit = "m"\n'
        'survey_date = "2019-10"\nsigma_m = 0.15\ncanopy_m = 25\nabsent_is_sea = true\n'
        "priority = 3\n",
    )
    (found,) = Ground(raster, today=TODAY).rasters
    assert found.card == Card(
        kind="surface",
        vertical_datum="EPSG:3855",
        height_unit="m",
        survey_date="2019-10",
        sigma_m=0.15,
        canopy_m=25.0,
        absent_is_sea=True,
        priority=3,
        said_in=dict.fromkeys(KEYS, "dem.tif.toml"),
    )
    assert found.card.file == "dem.tif.toml"


def test_nothing_is_said(raster: Path) -> None:
    """Without a card everything stays unknown."""
    ground = Ground(raster)
    assert (ground.kind, ground.canopy_m, ground.survey_date) == ("unknown", None, None)
    assert ground.raster.card == Card()
    assert ground.raster.card.file is None


@pytest.mark.parametrize(
    ("written", "read"),
    [
        ('"2019"', "2019"),
        ('"2019-10"', "2019-10"),
        ('"2019-10-05"', "2019-10-05"),
        ("2019-10-05", "2019-10-05"),  # a date of TOML itself
        ('"2024-02-29"', "2024-02-29"),
        ('"2026-03-01"', "2026-03-01"),  # today
        ('"2026-03"', "2026-03"),
        ('"2026"', "2026"),
    ],
)
def test_a_survey_date_is_kept_as_far_as_it_is_known(raster: Path, written: str, read: str) -> None:
    """A day, a month or a year, up to today."""
    say(raster, f"survey_date = {written}")
    assert Ground(raster, today=TODAY).survey_date == read


def test_the_card_of_a_folder_speaks_for_every_tile(tiles: Path) -> None:
    """However the tiles are named, and a tile's own card goes before it key by key."""
    say(tiles, 'kind = "ground"\nsurvey_date = "2021"\ncanopy_m = 12')
    say(tiles / "tile_01.tif", 'survey_date = "2023-05"\nsigma_m = 0.5')
    by_name = sorted(tiles.iterdir())
    for given in (tiles, str(tiles / "*.tif"), [path for path in by_name if path.suffix == ".tif"]):
        ground = Ground(given, today=TODAY)
        assert (ground.kind, ground.canopy_m, ground.survey_date) == ("ground", 12.0, "2021")
        cards = {raster.path.name: raster.card for raster in ground.rasters}
        one, other = cards["tile_00.tif"], cards["tile_01.tif"]
        assert (one.survey_date, one.sigma_m, one.file) == ("2021", None, "tiles.toml")
        assert (other.survey_date, other.sigma_m, other.kind) == ("2023-05", 0.5, "ground")
        assert other.file == "tile_01.tif.toml and tiles.toml"


def test_the_folder_is_found_from_within(tiles: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """A tile named from its own folder, without that folder's name."""
    say(tiles, 'kind = "surface"')
    monkeypatch.chdir(tiles)
    assert Ground("tile_00.tif").kind == "surface"
    assert Ground(".").kind == "surface"


def test_a_route_beside_a_folder_of_its_name_is_no_card(tiles: Path) -> None:
    """A site's route site.toml may stand beside its terrain in site/; a card says card's keys."""
    route = 'heights = "launch"\nheight_unit = "m"\n[launch]\nlat = 1.0\nlon = 2.0\n'
    say(tiles, route)
    assert Ground(tiles).kind == "unknown"
    say(tiles, 'name = "Site"\n[floor]\nvalue = 30\n')  # nor are rules
    assert Ground(tiles).kind == "unknown"
    say(tiles, 'kind = "ground"\n' + route)
    assert len(faults(tiles)) == 2  # heights and launch, once for all four tiles


# ------------------------------------------------------------ several tiles


def test_canopy_and_survey_of_several_tiles(tiles: Path) -> None:
    """The highest trees, the oldest survey; a date that one tile does not tell is not known."""
    for number, (canopy, survey) in enumerate((("3", "2020-07"), ("22.5", "2019"), ("9", "2020"))):
        say(tiles / f"tile_{number // 2}{number % 2}.tif",
            f'canopy_m = {canopy}\nsurvey_date = "{survey}"')  # fmt: skip
    assert Ground(tiles).canopy_m == 22.5
    assert Ground(tiles).survey_date is None
    say(tiles / "tile_11.tif", 'survey_date = "2019-01-02"')
    assert Ground(tiles).survey_date == "2019"  # which may be the first of January


def test_one_model_has_one_kind(tiles: Path) -> None:
    """Two kinds are refused by name; where a tile does not say, the kind of all is unknown."""
    say(tiles / "tile_00.tif", 'kind = "ground"')
    assert Ground(tiles).kind == "unknown"
    say(tiles, 'kind = "surface"')
    (sentence,) = faults(tiles)
    assert sentence.startswith("'tile_00.tif' is a ground model and 'tile_01.tif' a surface model")
    assert "one model has one kind" in sentence


# ------------------------------------------------------------ what is refused


@pytest.mark.parametrize(
    ("line", "words"),
    [
        ('kind = "dtm"', "kind: given 'dtm', but it must be 'ground' or 'surface'; write"),
        ("kind = 1", "kind: given 1, but it must be 'ground' or 'surface'"),
        ('knid = "ground"', "knid: given 'ground', but no such key is known here; if kind is"),
        ('colour = "red"', "colour: given 'red', but no such key .* remove it; a model card holds"),
        ("[card]\nkind = 'ground'", "card: given .*, but no such key is known here"),
        ('height_unit = "cm"', "height_unit: given 'cm', but it must be 'm', 'ft' or 'us-ft'"),
        ("sigma_m = 0", "sigma_m: given 0, but it must be a number from 0.001 to 100 m"),
        ("sigma_m = -0.2", "sigma_m: given -0.2, but it must be a number"),
        ("sigma_m = nan", "sigma_m: given nan, but it must be a number"),
        ("sigma_m = inf", "sigma_m: given inf, but it must be a number"),
        ('sigma_m = "0.2"', "sigma_m: given '0.2', but it must be a number"),
        ("canopy_m = -1", "canopy_m: given -1, but it must be a number from 0 to 100 m"),
        ("canopy_m = 100.1", "canopy_m: given 100.1, but it must be a number"),
        ("canopy_m = nan", "canopy_m: given nan, but it must be a number"),
        ("canopy_m = true", "canopy_m: given True, but it must be a number"),
        ('absent_is_sea = "yes"', "absent_is_sea: given 'yes', but it must be true or false"),
        ("absent_is_sea = 1", "absent_is_sea: given 1, but it must be true or false"),
        ("priority = 1.0", "priority: given 1.0, but it must be a whole number"),
        ("priority = true", "priority: given True, but it must be a whole number"),
        ('priority = "1"', "priority: given '1', but it must be a whole number"),
        ("priority = nan", "priority: given nan, but it must be a whole number"),
        ("survey_date = 2019", "survey_date: given 2019, but it must be a year from 1900"),
        ('survey_date = "2019-13"', "survey_date: given '2019-13', but it must be a year"),
        ('survey_date = "2023-02-29"', "survey_date: given '2023-02-29', but it must be a year"),
        ('survey_date = "5.10.2019"', "survey_date: given '5.10.2019', but it must be a year"),
        ('survey_date = "1019"', "survey_date: given '1019', but it must be a year from 1900"),
        ("survey_date = 2019-10-05T12:00:00", "survey_date: given .*, but it must be a year"),
        ('survey_date = "2026-03-02"', "'2026-03-02', but no survey is later than today, 2026-03-"),
        ('survey_date = "2026-04"', "'2026-04', but no survey is later than today"),
        ("survey_date = 2027-01-01", "'2027-01-01', but no survey is later than today"),
        ('vertical_datum = "EPSG:99999"', "'EPSG:99999', but PROJ knows no vertical reference"),
        ('vertical_datum = "sea level"', "'sea level', but PROJ knows no vertical reference"),
        ('vertical_datum = "NAVD88"', "'NAVD88', but PROJ knows no vertical reference system"),
        ('vertical_datum = "EPSG:4326"', "WGS 84 is no system of heights alone; write an EPSG"),
        ('vertical_datum = "EPSG:4326+3855"', "EGM2008 height is no system of heights alone"),
        ('vertical_datum = "EPSG:32631"', "UTM zone 31N is no system of heights alone"),
        ('vertical_datum = "EPSG:5715"', "MSL depth counts downward; convert the model to"),
        # PROJ itself would take this for another name.
        ('vertical_datum = "CGVD2013 height"', r"write 'CGVD2013\(CGG2013\) height' if that is"),
        ("vertical_datum = 3855", "vertical_datum: given 3855, but it must be one line of text"),
    ],
)  # fmt: skip
def test_a_wrong_value_is_refused(raster: Path, line: str, words: str) -> None:
    """One sentence: the file, the key, what was given, the rule, the remedy."""
    say(raster, line)
    with pytest.raises(RefusedTerrain, match=words) as caught:
        Ground(raster, today=TODAY)
    (sentence,) = caught.value.faults
    assert sentence.startswith("dem.tif.toml: ")
    assert "; " in sentence


def test_all_faults_of_all_cards_at_once(tiles: Path) -> None:
    """Three in the folder's card, told once, and one in a tile's own."""
    say(tiles, 'kind = "both"\npriority = 0.5\nsurvey_date = "3000"\nsigma_m = 0.2')
    say(tiles / "tile_10.tif", "height = 3")
    found = faults(tiles)
    assert [sentence.split(": given")[0] for sentence in found] == [
        "tiles.toml: kind",
        "tiles.toml: priority",
        "tiles.toml: survey_date",
        "tile_10.tif.toml: height",
    ]


@pytest.mark.parametrize(
    ("content", "words"),
    [
        (b"", "dem.tif.toml: the file is empty, but a model card must say something; write one of"),
        (b"kind = ground", "dem.tif.toml: not a model card, because it is not valid TOML"),
        (b"kind = 'ground'\nkind = 'surface'", "not a model card, because it is not valid TOML"),
        (b"kind = '\xe9'", "given the byte 0xe9 at offset 8, but a model card must be text in"),
    ],
)
def test_an_unreadable_card_is_refused(raster: Path, content: bytes, words: str) -> None:
    """It is never passed over in silence."""
    raster.with_name("dem.tif.toml").write_bytes(content)
    (sentence,) = faults(raster)
    assert words in sentence


def test_a_card_that_is_no_file_is_refused(raster: Path) -> None:
    """A folder of that name, and a link to nowhere."""
    card = raster.with_name("dem.tif.toml")
    card.mkdir()
    assert "cannot be read as a model card" in faults(raster)[0]
    card.rmdir()
    card.symlink_to(raster.with_name("nowhere.toml"))
    assert "cannot be read as a model card" in faults(raster)[0]


# ------------------------------------------------------------ what the raster says too


@pytest.mark.parametrize("unit", ["ft", "us-ft"])
def test_feet_by_the_card_are_the_metre_twin(tmp_path: Path, unit: str) -> None:
    """A model in feet that does not say so, and the same ground in metres: to 1 mm everywhere."""
    z = hills(20, 30)
    twin = Ground(utm_raster(tmp_path, z, name="twin.tif"))
    feet = utm_raster(tmp_path, z / FOOT_M[unit], name="feet.tif")
    say(feet, f'height_unit = "{unit}"')
    ground = Ground(feet)
    random = np.random.default_rng(3)
    row, column = random.uniform(0, 19, 500), random.uniform(0, 29, 500)
    off = np.abs(ground.elevation_at(row, column) - twin.elevation_at(row, column))
    assert off.max() < MILLIMETRE
    assert ground.used().vertical_unit == f"{unit} (by feet.tif.toml)"


def test_a_folder_in_feet_beside_a_file_in_metres(tmp_path: Path) -> None:
    """Each by its own card: the ground of the twin in metres, across the seam too."""
    z = hills(20, 30)
    twin = utm_raster(tmp_path, z, name="twin.tif")
    (tmp_path / "feet").mkdir()
    west = utm_raster(tmp_path / "feet", z[:, :12] / FOOT_M["ft"], name="west.tif")
    say(tmp_path / "feet", 'height_unit = "ft"')
    corner = Affine(10.0, 0, CORNER[0] + 120.0, 0, -10.0, CORNER[1])
    east = write_raster(tmp_path / "east.tif", z[:, 12:], transform=corner, crs=UTM31N)
    random = np.random.default_rng(3)
    row, column = random.uniform(0, 19, 500), random.uniform(0, 29, 500)
    found = Ground([west, east]).elevation_at(row, column)
    assert np.abs(found - Ground(twin).elevation_at(row, column)).max() < MILLIMETRE


@pytest.mark.parametrize(
    ("vertical", "line", "words"),
    [
        ("3855", 'vertical_datum = "EPSG:5773"', "itself counts its heights from EGM2008 geoid"),
        ("5703", 'vertical_datum = "EGM96 height"', "from North American Vertical Datum 1988"),
        ("3855", 'vertical_datum = "EPSG:4979"', "itself counts its heights from EGM2008 geoid"),
        ("3855", 'height_unit = "ft"', "'dem.tif' itself gives its heights in metre; correct"),
        ("6360", 'height_unit = "ft"', "itself gives its heights in US survey foot; correct"),
        ("5703", 'vertical_datum = "EPSG:6360"', "itself gives its heights in metre; correct the"),
    ],
)
def test_a_card_that_contradicts_its_raster(
    tmp_path: Path, vertical: str, line: str, words: str
) -> None:
    """Another datum, another unit: neither is believed."""
    raster = utm_raster(tmp_path, hills(6, 6), name="dem.tif", crs=f"{UTM31N}+{vertical}")
    say(raster, line)
    (sentence,) = faults(raster)
    assert sentence.startswith(f"dem.tif.toml: {line.partition(' = ')[0]}: given ")
    assert words in sentence


def test_a_unit_that_contradicts_the_band_s(raster: Path) -> None:
    """The unit may stand at the band too."""
    with rasterio.open(raster, "r+") as dataset:
        dataset.units = ("ft",)
    say(raster, 'height_unit = "us-ft"')
    assert "'dem.tif' itself gives its heights in ft" in faults(raster)[0]
    say(raster, 'height_unit = "ft"')
    assert Ground(raster).raster.unit_text == "ft"


def test_a_card_that_contradicts_itself(raster: Path) -> None:
    """Heights in metres from a system that counts in feet."""
    say(raster, 'vertical_datum = "NAVD88 height (ft)"\nheight_unit = "m"')
    (sentence,) = faults(raster)
    assert sentence.startswith("dem.tif.toml: height_unit: given 'm', but the vertical_datum")


@pytest.mark.parametrize(
    ("vertical", "line"),
    [
        ("3855", 'vertical_datum = "EPSG:3855"'),
        ("3855", 'vertical_datum = "egm2008 height"\nheight_unit = "m"'),
        ("6360", 'vertical_datum = "EPSG:5703"'),  # one datum, and the raster's own unit
        ("6360", 'vertical_datum = "EPSG:6360"\nheight_unit = "us-ft"'),
    ],
)
def test_a_card_that_agrees_changes_nothing(tmp_path: Path, vertical: str, line: str) -> None:
    """Said twice is said once."""
    raster = utm_raster(tmp_path, hills(6, 6), name="dem.tif", crs=f"{UTM31N}+{vertical}")
    before = Ground(raster)
    say(raster, line)
    after = Ground(raster)
    assert after.used() != before.used()  # by the card's name
    for name in ("vertical_datum", "unit_text", "unit_m", "crs_text"):
        assert getattr(after.raster, name) == getattr(before.raster, name)
    assert at_posts(after, [2.3], [2.8]) == at_posts(before, [2.3], [2.8])


def test_a_datum_by_the_card_ties_heights_above_sea_level(raster: Path) -> None:
    """What the raster did not say the card does: heights above sea level are elevations of it."""
    lon, lat = np.array([3.0]), np.array([45.1])
    with pytest.raises(RefusedTerrain, match=r"as vertical_datum in NAME\.tif\.toml"):
        tie("sea-level", Ground(raster).raster.vertical, lon, lat, model="dem.tif")
    say(raster, 'vertical_datum = "EGM2008 height"')
    ground = Ground(raster)
    tied = tie("sea-level", ground.raster.vertical, lon, lat, model=ground.name)
    assert tied.add_m.tolist() == [0.0]
    assert ground.used().vertical_datum == "EGM2008 height (by dem.tif.toml)"
    assert ground.used().crs == "EPSG:32631 + EPSG:3855"


@pytest.mark.parametrize(
    ("line", "factor", "words"),
    [
        # A datum registered in metres only is used in feet as well: it does not tell the unit.
        ('vertical_datum = "EPSG:3855"', 1.0, "metre (assumed, the file does not say)"),
        ('vertical_datum = "EPSG:3855"\nheight_unit = "ft"', 0.3048, "ft (by dem.tif.toml)"),
        ('vertical_datum = "EPSG:8228"', 0.3048, "foot (by dem.tif.toml)"),
        ('vertical_datum = "EPSG:6360"', 1200 / 3937, "US survey foot (by dem.tif.toml)"),
    ],
)
def test_the_unit_of_a_datum(raster: Path, line: str, factor: float, words: str) -> None:
    """EPSG 8228 is NAVD88 height (ft), 6360 NAVD88 height (ftUS), by the EPSG registry."""
    say(raster, line)
    ground = Ground(raster)
    assert at_posts(ground, [2.0], [3.0])[0] == pytest.approx(hills(6, 6)[2, 3] * factor, rel=1e-9)
    assert ground.raster.unit_text == words


# ------------------------------------------------------------ priority


def overlapping(folder: Path) -> tuple[list[Path], Any, Any]:
    """Return two tiles that share six columns, each with ground of its own there."""
    first, second = hills(10, 10, seed=1), hills(10, 10, seed=2)
    one = utm_raster(folder, first, name="one.tif")
    corner = Affine(10.0, 0, CORNER[0] + 40.0, 0, -10.0, CORNER[1])
    two = write_raster(folder / "two.tif", second, transform=corner, crs=UTM31N)
    return [one, two], first, second


def test_priority_reverses_an_overlap(tmp_path: Path) -> None:
    """The higher counts, whoever is named first; of equals the one named first."""
    files, first, second = overlapping(tmp_path)
    posts = [4.0, 4.0], [5.0, 9.0]
    of_first, of_second = first[4, [5, 9]], second[4, [1, 5]]
    assert np.array_equal(at_posts(Ground(files), *posts), of_first)
    for low, high, expected in (
        (0, 1, of_second),
        (-2, -1, of_second),
        (3, 3, None),
        (9, 1, of_first),
    ):
        say(files[0], f"priority = {low}")
        say(files[1], f"priority = {high}")
        named_first = {True: of_first, False: of_second}
        for order in (True, False):
            found = at_posts(Ground(files if order else files[::-1]), *posts)
            assert np.array_equal(found, named_first[order] if expected is None else expected)


def test_a_seam_s_remark_says_why_a_tile_counts(tmp_path: Path) -> None:
    """By its priority, where that differs."""
    files, *_ = overlapping(tmp_path)
    for text, words in (
        ("priority = 0", "one.tif, named first"),
        ("priority = 5", "two.tif, of higher priority"),
    ):
        say(files[1], text)
        ground = Ground(files)
        ground.around(np.array([4.0]), np.array([6.0]), reach_m=30.0)
        assert any(f"{words}, counts there." in one for one in ground.seam_remarks())


def test_priority_of_two_cell_sizes(tmp_path: Path) -> None:
    """Coarse ground that is given the higher priority counts where the fine one lies over it."""
    coarse, fine = hills(10, 10, seed=5), hills(20, 20, seed=6)
    outer = utm_raster(tmp_path, coarse, cell_m=30.0, name="outer.tif")
    corner = Affine(10.0, 0, CORNER[0] + 240.0, 0, -10.0, CORNER[1] - 60.0)
    inner = write_raster(tmp_path / "inner.tif", fine, transform=corner, crs=UTM31N)
    # The middle of coarse cell (3, 9) is that of fine cell (4, 4): one post of both.
    post = [CORNER[0] + 285.0], [CORNER[1] - 105.0]
    for text, expected in (("priority = -1", coarse[3, 9]), ("priority = 1", fine[4, 4])):
        say(inner, text)
        for given in ([inner, outer], [outer, inner]):
            ground = Ground(given)
            lon, lat = _degrees(*post)
            assert ground.elevation(lon, lat)[0] == pytest.approx(expected, abs=1e-3)


def _degrees(east: list[float], north: list[float]) -> Any:
    from pyproj import Transformer

    return Transformer.from_crs(UTM31N, "EPSG:4326", always_xy=True).transform(east, north)


def test_a_tile_under_one_of_higher_priority_is_refused(tmp_path: Path) -> None:
    """It would not count; the remedy names its priority."""
    over = utm_raster(tmp_path, hills(9, 9), name="over.tif")
    under = utm_raster(tmp_path, hills(9, 9), name="under.tif")
    say(over, "priority = 1")
    with pytest.raises(
        RefusedTerrain, match=r"'under\.tif' lies under 'over\.tif', of higher"
    ) as e:
        Ground([under, over])
    assert str(e.value).endswith("or raise its priority")


# ------------------------------------------------------------ notes on many tiles


def test_an_edited_card_is_noticed_though_the_tiles_are_noted(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Even one of the same size and time, of a tile or of the folder, is read anew."""
    monkeypatch.setattr(index, "cache_folder", lambda: tmp_path / "notes")
    whole = utm_raster(tmp_path, hills(40, 40), name="whole.tif")
    tiles = cut(whole, tmp_path / "tiles", pieces=4)
    of_folder = say(tmp_path / "tiles", 'kind = "surface"\nheight_unit = "ft"')
    own = say(tiles[5], 'survey_date = "2020"')
    before = Ground(tiles)
    assert before.kind == "surface"
    for path, text in (
        (of_folder, 'kind = "ground" \nheight_unit = "m" '),
        (own, 'survey_date = "2021"'),
    ):
        status = path.stat()
        path.write_text(text)
        os.utime(path, ns=(status.st_atime_ns, status.st_mtime_ns))
        assert (path.stat().st_size, path.stat().st_mtime_ns) == (
            status.st_size,
            status.st_mtime_ns,
        )
    after = Ground(tiles)
    assert (after.kind, after.rasters[5].card.survey_date) == ("ground", "2021")
    z = hills(40, 40)
    assert at_posts(after, [5.0], [5.0])[0] == pytest.approx(z[5, 5], abs=1e-9)
    assert at_posts(before, [5.0], [5.0])[0] == pytest.approx(z[5, 5] * 0.3048, abs=1e-9)
    own.unlink()
    of_folder.unlink()
    assert Ground(tiles).kind == "unknown"
    assert (tmp_path / "notes").is_dir()


# ------------------------------------------------------------ what was used


def test_what_was_used_tells_the_card(tiles: Path) -> None:
    """Of each file that was read its own facts, and where they are said."""
    say(tiles, 'kind = "ground"\nsurvey_date = "2021"\nsigma_m = 0.3\ncanopy_m = 12')
    say(tiles / "tile_11.tif", "canopy_m = 20")
    ground = Ground(tiles)
    ground.around(np.array([10.0]), np.array([10.0]), reach_m=30.0)
    used = {one.file: one for one in ground.used_files()}
    assert len(used) == 4
    facts = [(one.kind, one.survey_date, one.sigma_m, one.canopy_m, one.card) for one in
             (used["tile_00.tif"], used["tile_11.tif"])]  # fmt: skip
    assert facts == [
        ("ground", "2021", 0.3, 12.0, "tiles.toml"),
        ("ground", "2021", 0.3, 20.0, "tile_11.tif.toml and tiles.toml"),
    ]


def test_kind_and_date_leave_the_hash(raster: Path) -> None:
    """They are no terrain; a unit is, for it moves every post."""
    hashes = []
    for text in ("priority = 0", 'kind = "ground"\nsurvey_date = "2021"', 'height_unit = "ft"'):
        say(raster, text)
        ground = Ground(raster)
        ground.around(np.array([2.0]), np.array([2.0]), reach_m=20.0)
        hashes.append(ground.used().used_hash)
    assert hashes[0] == hashes[1] != hashes[2]

"""The table of an elevation model: its whole text, and every sentence it can hold."""

from __future__ import annotations

import math
from dataclasses import replace
from typing import TYPE_CHECKING

import numpy as np
import pytest

from terrain_guard.ground.card import Card
from terrain_guard.ground.inspect import Inspection, Spot, inspect
from terrain_guard.ground.inspect_doubts import Kind, Suspicion
from terrain_guard.report import terrain_sentences, terrain_table
from tests.ground.made import utm_raster
from tests.ground.planted import place_of

if TYPE_CHECKING:
    from pathlib import Path

FORBIDDEN = ("safe", "good", " ok", "fine", "approved", "valid")
"""Words that would call a model more than not suspected."""

MODEL = Inspection(
    file="made.tif",
    size_bytes=12_345,
    driver="GTiff",
    data_type="int16",
    columns=400,
    rows=500,
    cell_m=(9.5, 10.0),
    registration="point",
    crs="EPSG:32631",
    vertical_datum="not stated",
    vertical_unit="metre (assumed, the file does not say)",
    kind="unknown",
    nodata=None,
    box_deg=(3.0, 45.1, 3.1, 45.2),
    lowest=Spot(elevation_m=100.0, lat_deg=45.1, lon_deg=3.0),
    highest=Spot(elevation_m=1000.0, lat_deg=45.2, lon_deg=3.1),
    step_m=1.0,
    looked_at=200_000,
    missing=0,
    suspicions=(),
)


def doubt(kind: Kind) -> Suspicion:
    """Return a suspicion of a kind, with everything that any sentence might use."""
    return Suspicion(
        kind=kind,
        posts=1200,
        share=0.006,
        worst=30.48,
        pieces=3 if kind in {Kind.LEVEL, Kind.LEVEL_AT_ZERO, Kind.SMOOTH} else 0,
        largest=700,
        row=12,
        column=34,
        lat_deg=45.15,
        lon_deg=3.05,
        detail="feet",
    )


def text(model: Inspection, unit: str = "m") -> str:
    """Return the table of one model, with line breaks."""
    return "".join(f"{line}\n" for line in terrain_table.lines(model, unit=unit))


# ---------------------------------------------------------------- whole text


def test_whole_text_of_a_small_file(tmp_path: Path) -> None:
    """A level model of 60 x 60 posts, rising 1 m a column, with one post 80 m up.

    Everything printed is known beforehand: elevations from 200 to 259 m, an even slope,
    one spike of 80 m at row 20, column 30; places by rasterio and pyproj.
    """
    heights = np.tile(200.0 + np.arange(60), (60, 1)).astype(np.float32)
    heights[20, 30] += 80
    heights += np.float32(0.125)  # no common step
    path = utm_raster(tmp_path, heights, name="slope.tif", nodata=-9999)

    def place(row: int, column: int) -> str:
        lat, lon = place_of(path, row, column)
        return f"{lat:.6f} N {lon:.6f} E"

    assert text(inspect(path)) == (
        "TERRAIN GUARD: what an elevation model is, and what looks wrong with it\n"
        f"{'=' * 80}\n"
        f"Model     slope.tif (GTiff, {path.stat().st_size:,} bytes)\n"
        "Posts     60 columns x 60 rows (3,600), float32\n"
        "Cells     10 x 10 m; a value stands for its cell (area)\n"
        f"Place     {place(59, 0)} (south-west) to {place(0, 59)}\n"
        "          (north-east)\n"
        "System    EPSG:32631\n"
        "Datum     vertical datum not stated\n"
        "Unit      metre (assumed, the file does not say)\n"
        "Kind      not stated: bare ground, or a surface with trees and roofs?\n"
        "Survey    date not stated: what was built, dug or grown since is not in it\n"
        "Card      none: slope.tif.toml beside it may say its kind, survey date and the\n"
        "          like\n"
        f"Ground    200.1 m (at {place(0, 0)}) to 310.1 m (at {place(20, 30).split(' N ')[0]} N\n"
        f"          {place(20, 30).split(' N ')[1]})\n"
        "Steps     no common step\n"
        "Missing   0 of 3,600 posts (0 %); declared as -9999\n"
        "Looked at every post\n"
        f"{'=' * 80}\n"
        "WHAT LOOKS WRONG\n"
        "  1  SPIKES, 1 post (0.03 %)\n"
        "     Single posts that stand off all around them, by up to 80.0 m: a mast, tower\n"
        "     or tree in a surface model, or a blunder. A check takes them as ground: if\n"
        "     they are none, it finds breaches of the floor that are none.\n"
        f"     where: the worst at {place(20, 30)}, row 20, column 30\n"
        "\n"
    )


def test_nothing_found_is_no_praise() -> None:
    """Without a suspicion the table says that, and no more than that."""
    assert text(MODEL).endswith(f"{'=' * 80}\nnothing suspicious found in what was looked at\n\n")


def test_cautions_close_the_table() -> None:
    """What the heights cannot show, wires, age, rules and the pilot in command are named."""
    closing = " ".join(" ".join(terrain_table.closing()).split())
    for words in (
        "What looks right may still be wrong",
        "Compare the launch",
        "Wires, cables and masts are in no elevation model",
        "as old as its survey",
        "Local rules, airspace and permission to fly are not checked",
        "The remote pilot in command decides. Local codes and the authority prevail",
    ):
        assert words in closing


# ---------------------------------------------------------------- every sentence


@pytest.mark.parametrize("unit", ["m", "ft"])
@pytest.mark.parametrize("kind", list(Kind))
def test_every_kind_is_told(kind: Kind, unit: str) -> None:
    """Each kind has a headline, a sentence and a place; lines fit; nothing is called safe."""
    told = text(replace(MODEL, suspicions=(doubt(kind),)), unit)
    assert terrain_sentences.HEADLINES[kind].upper() in told
    assert "1,200 posts (0.6 %)" in told
    assert "row 12, column 34" in " ".join(told.split())
    assert max(map(len, told.splitlines())) <= 80
    assert "nan" not in told
    assert not [word for word in FORBIDDEN if word in told.lower()]


@pytest.mark.parametrize("kind", [Kind.SPIKES, Kind.PITS, Kind.STANDING_ZEROS])
def test_amounts_are_printed_in_feet(kind: Kind) -> None:
    """30.48 m are 100 ft (the foot is 0.3048 m, exactly)."""
    assert "100.0 ft" in text(replace(MODEL, suspicions=(doubt(kind),)), "ft")


def test_steps_are_printed_with_their_rounding() -> None:
    """Steps of 30.48 m are 100 ft, and may be off by 50 ft."""
    told = text(replace(MODEL, suspicions=(doubt(Kind.STEPS),)), "ft")
    assert "multiples of 100 ft" in told
    assert "50 ft higher or lower" in " ".join(told.split())


def test_patches_are_counted_and_the_largest_is_placed() -> None:
    """How many patches there are, and the size, elevation and place of the largest."""
    told = " ".join(text(replace(MODEL, suspicions=(doubt(Kind.LEVEL),))).split())
    assert "FLAT: WATER OR FILLED, 1,200 posts (0.6 %) in 3 patches" in told
    assert "the largest, 700 posts at 30.5 m, around 45.150000 N 3.050000 E" in told


def test_gentle_ground_is_named_where_steps_hide_it() -> None:
    """In whole metres a very gentle plain looks level: said, and not said without steps."""
    level = replace(MODEL, suspicions=(doubt(Kind.LEVEL),))
    assert "With steps of 1 m, very gentle ground looks level too" in " ".join(text(level).split())
    assert "gentle" not in text(replace(level, step_m=math.nan))


def test_many_stray_posts_are_rather_trees() -> None:
    """One in a thousand is a texture, not a list of blunders."""
    few = replace(doubt(Kind.SPIKES), posts=3, share=3 / 200_000)
    assert "So many" in text(replace(MODEL, suspicions=(doubt(Kind.SPIKES),)))
    assert "So many" not in text(replace(MODEL, suspicions=(few,)))


@pytest.mark.parametrize(("number", "hint"), [(12_000.0, True), (30_000.0, False)])
def test_feet_are_suggested_where_feet_explain_it(number: float, hint: bool) -> None:
    """12,000 may be feet; 30,000 ft are above the highest land, 29,032 ft."""
    one = replace(doubt(Kind.NO_HEIGHTS), worst=number)
    told = " ".join(text(replace(MODEL, suspicions=(one,))).split())
    assert ("In feet they would be heights" in told) is hint


def test_the_place_of_voids_is_not_called_the_worst() -> None:
    """Posts that are all alike have no worst one."""
    told = " ".join(text(replace(MODEL, suspicions=(doubt(Kind.HIDDEN_ZEROS),))).split())
    assert "one of them at 45.150000 N" in told


def test_whole_model_suspicions_name_no_post() -> None:
    """What is said of all posts has no place and no count."""
    one = Suspicion(kind=Kind.STEEP, worst=0.47)
    told = text(replace(MODEL, suspicions=(one,)))
    assert "  1  VERY STEEP\n     47 % of the ground is steeper than 45 degrees." in told
    assert "where:" not in told


# ---------------------------------------------------------------- rows


def test_rows_of_a_sampled_model() -> None:
    """What was not looked at is said, rounded down; what is missing, rounded up."""
    model = replace(MODEL, looked_at=30_001, missing=7, kind="surface", nodata=-32768.0)
    told = " ".join(text(model).split())
    assert "30,001 posts, 15.00 % of the model, in parts spread evenly over it" in told
    assert "the rest was not looked at" in told
    assert "7 of 30,001 posts (0.03 %); declared as -32768" in told
    assert "surface model: with trees and roofs" in told
    assert "a value stands at a point (point)" in told


def test_rows_of_a_card() -> None:
    """What the card says is printed, in feet where asked for, with the file that says it."""
    card = Card(
        kind="surface", survey_date="2019-10", sigma_m=0.1524, canopy_m=30.48, absent_is_sea=True,
        priority=-2, said_in={"kind": "made.tif.toml", "canopy_m": "tiles.toml"},
    )  # fmt: skip
    told = text(replace(MODEL, kind="surface", card=card))
    for row in (
        "Kind      surface model: with trees and roofs",
        "Survey    2019-10",
        "Accuracy  one sigma of its heights 0.152 m",
        "Canopy    trees may stand up to 30.48 m above it",
        "Sea       where no tile is, the sea at 0 is taken for ground",
        "Priority  -2: where tiles overlap the higher counts",
        "Card      made.tif.toml and tiles.toml",
    ):
        assert f"{row}\n" in told
    feet = text(replace(MODEL, card=card), "ft")
    assert "one sigma of its heights 0.5 ft\n" in feet
    assert "trees may stand up to 100 ft above it\n" in feet


def test_the_card_of_a_file_is_told(tmp_path: Path) -> None:
    """The folder's card too, in whose unit the heights are read."""
    path = utm_raster(tmp_path, np.full((40, 40), 100.0), name="level.tif")
    card = tmp_path.with_name(f"{tmp_path.name}.toml")
    card.write_text('kind = "ground"\nheight_unit = "ft"\nsurvey_date = 2020-02-03\n')
    told = " ".join(text(inspect(path)).split())
    card.unlink()
    assert f"Unit ft (by {card.name}) Kind ground model" in told
    assert f"Survey 2020-02-03 Card {card.name}" in told
    assert "Ground 30.5 m" in told  # 100 ft are 30.48 m


def test_model_without_ground() -> None:
    """Where nothing is known no elevation is printed."""
    model = replace(MODEL, lowest=Spot(), highest=Spot(), step_m=math.nan)
    assert "Ground    none known in what was looked at\n" in text(model)


def test_names_cannot_steer_the_terminal() -> None:
    """Escapes in a file name are printed as question marks."""
    assert "\x1b" not in text(replace(MODEL, file="a\x1b[2J.tif"))

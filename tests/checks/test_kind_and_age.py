"""A model that does not tell its kind or its survey is cautioned of, and an old survey is."""

from __future__ import annotations

from datetime import date
from pathlib import Path

import pytest

from terrain_guard.checks.remarks import kind_and_age
from terrain_guard.ground.model import Ground
from tests.checks import scenes
from tests.ground.test_card import say
from tests.ground.tiles import cut

TODAY = date(2026, 3, 1)


@pytest.fixture
def model(tmp_path: Path) -> Path:
    """Return a level model that says nothing."""
    return scenes.model(tmp_path, lambda east, north: 300.0 + 0 * east, cell_m=10.0)


def cautions(model: Path, today: date = TODAY) -> list[str]:
    """Return what is said of the kind and age of a model of which all was read."""
    ground = Ground(model, today=today)
    ground.blocks.window((0, ground.shape[0]), (0, ground.shape[1]))
    return list(kind_and_age(ground, today=today))


def test_nothing_is_known(model: Path) -> None:
    """Two cautions, each with where to say it."""
    assert cautions(model) == [
        "ground.tif does not say whether it is bare ground or a surface with trees and roofs: "
        "find out, and say so in ground.tif.toml (kind).",
        "ground.tif does not say when it was surveyed: find out, and say so in ground.tif.toml "
        "(survey_date).",
    ]


def test_everything_is_known(model: Path) -> None:
    """Kind and a young survey: nothing to say."""
    say(model, 'kind = "surface"\nsurvey_date = "2023"')
    assert cautions(model) == []


@pytest.mark.parametrize(
    ("survey", "today", "words"),
    [
        ("2021-03-01", "2026-03-01", None),  # five years to the day
        ("2021-02-28", "2026-03-01", "is of 2021-02-28, more than 5 years old"),
        ("2021-03", "2026-03-01", None),
        ("2021-03", "2026-03-02", "is of 2021-03, perhaps more than 5 years old"),
        ("2021-03", "2026-04-01", "is of 2021-03, more than 5 years old"),
        ("2021", "2026-01-01", None),
        ("2021", "2026-06-30", "is of 2021, perhaps more than 5 years old"),
        ("2020", "2026-01-01", "is of 2020, more than 5 years old"),
        ("2019-02-28", "2024-02-29", None),
        ("2019-02-27", "2024-02-29", "is of 2019-02-27, more than 5 years old"),
        ("1987-06", "2026-03-01", "is of 1987-06, more than 5 years old"),
    ],
)
def test_a_survey_of_long_ago(model: Path, survey: str, today: str, words: str | None) -> None:
    """By the calendar; what may be too old is said to be so perhaps."""
    say(model, f'kind = "ground"\nsurvey_date = "{survey}"')
    found = cautions(model, date.fromisoformat(today))
    if words is None:
        assert found == []
    else:
        assert found == [
            f"The survey of ground.tif {words}: look for what was built, dug or grown since."
        ]


def test_several_tiles(model: Path, tmp_path: Path) -> None:
    """Those that were read; each silent one counts, and the oldest survey is named."""
    tiles = cut(model, tmp_path / "tiles", pieces=2)
    say(tiles[0], 'kind = "ground"\nsurvey_date = "2020-05"')
    say(tiles[1], 'kind = "ground"\nsurvey_date = "2018"')
    kind, survey, old = cautions(tmp_path / "tiles")
    assert kind.startswith("tile_10.tif and 1 more do not say whether it is bare ground")
    assert kind.endswith("tile_10.tif.toml, or for a whole folder in FOLDER.toml beside it (kind).")
    assert survey.startswith("tile_10.tif and 1 more do not say when it was surveyed")
    assert old == (
        "The survey of tile_01.tif is of 2018, more than 5 years old (as are 1 more): "
        "look for what was built, dug or grown since."
    )
    ground = Ground(tmp_path / "tiles", today=TODAY)
    ground.blocks.window((0, 3), (0, 3))
    assert len(kind_and_age(ground, today=TODAY)) == 1

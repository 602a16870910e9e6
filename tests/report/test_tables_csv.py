"""The answer as comma-separated values (RFC 4180)."""

import csv
import io
import math

import numpy as np
import pytest

from terrain_guard.assessment import Samples
from terrain_guard.report import tables_csv
from tests.report import factory


def _rows(text: str) -> list[dict[str, str]]:
    return list(csv.DictReader(io.StringIO(text, newline=""), strict=True))


def test_every_metre_whole_text() -> None:
    """Columns, degrees to nine places, state words, and empty cells over missing ground."""
    assert tables_csv.every_metre(factory.within()) == (
        "along_m,lat,lon,leg,above_launch_m,ground_elevation_m,above_ground_m,clearance_m,state,"
        "return_needed_m,return_state,sight_margin_m,sight_state,link_radii,link_state\n"
        "0.0,47.300000000,-28.400000000,0,0.0,212.0,0.0,0.0,within,,,,,,\n"
        "1.0,47.312345679,-28.400000000,0,1.0,212.5,0.5,0.5,tight,,,,,,\n"
        "2.0,47.400000000,-28.300000000,1,2.0,,,,not-assessed,,,,,,\n"
        "3.0,47.500000000,-28.200000000,1,3.0,213.1,1.9,1.8,breach,,,,,,\n"
    )


def test_every_metre_heights_are_unrounded() -> None:
    """Reading a height back gives the very number that was judged."""
    third = np.array([1.0 / 3.0])
    whole = np.array([0], dtype=np.int64)
    names = ("along_m", "time_s", "lat_deg", "lon_deg", "above_launch_m", "ground_elevation_m")
    more = ("surface_elevation_m", "above_ground_m", "clearance_m", "floor_margin_m",
            "ceiling_margin_m", "survey_shift_m")  # fmt: skip
    heights = dict.fromkeys((*names, *more), third)
    samples = Samples(**heights, leg=whole, state=whole, in_column=np.array([False]))
    row = _rows(tables_csv.every_metre(factory.within(samples=samples)))[0]
    assert float(row["clearance_m"]) == 1.0 / 3.0
    assert row["lat"] == "0.333333333"


def test_legs_have_one_row_each() -> None:
    """Numbers are unrounded metres under the names of their columns."""
    rows = _rows(tables_csv.legs(factory.breach()))
    assert [row["state"] for row in rows] == ["within", "breach", "breach"]
    assert rows[1]["clearance_min_nominal_m"] == "29.96"
    assert rows[1]["clearance_min_along_m"] == "150.0"
    assert rows[1]["clearance_min_lat"] == "47.301500000"
    assert rows[2]["above_ground_max_assured_m"] == "125.04"


def test_legs_not_assessed_are_empty() -> None:
    """Neither NaN nor a missing extreme leaves a number, a nan or a none behind."""
    rows = _rows(tables_csv.legs(factory.not_assessed()))
    for what in ("nominal_m", "assured_m", "along_m", "lat", "lon"):
        assert rows[2][f"clearance_min_{what}"] == ""
    assert rows[1]["clearance_min_nominal_m"] == ""
    assert rows[1]["above_ground_min_nominal_m"] == "60.0"
    assert "nan" not in tables_csv.legs(factory.not_assessed()).lower()


@pytest.mark.parametrize("name", ['the "old" gate', "gate, upper", "gate\nlower"])
def test_names_are_quoted(name: str) -> None:
    """Quotes, commas and line breaks survive (RFC 4180, section 2, rules 6 and 7)."""
    made = factory.within(legs=(factory.leg(0, name, "home"),))
    assert _rows(tables_csv.legs(made))[0]["start"] == name


def test_lines_end_in_plain_line_feeds() -> None:
    """No carriage returns: the files are the same on every system."""
    assert "\r" not in tables_csv.legs(factory.breach())
    assert "\r" not in tables_csv.every_metre(factory.breach())


def test_infinity_is_not_a_number_either() -> None:
    """What is not finite is an empty cell."""
    row = factory.leg(0, "launch", "gate", clearance_min=factory.extreme(math.inf, -math.inf, 1.0))
    cells = _rows(tables_csv.legs(factory.within(legs=(row,))))[0]
    assert cells["clearance_min_nominal_m"] == cells["clearance_min_assured_m"] == ""

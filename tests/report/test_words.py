"""Numbers and places as people read them."""

import math

import pytest

from terrain_guard.report import words
from terrain_guard.states import State

# The international foot is exactly 0.3048 m: NIST Special Publication 811 (2008),
# appendix B.8. 30 m = 98.4251... ft, 120 m = 393.7007... ft.


@pytest.mark.parametrize(
    ("value_m", "unit", "text"),
    [
        (29.96, "m", "29.9"),
        (30.0, "m", "30.0"),
        (29.9999999999, "m", "30.0"),
        (-3.21, "m", "-3.3"),
        (30.0, "ft", "98.4"),
        (0.3048, "ft", "1.0"),
    ],
)
def test_clearances_round_down(value_m: float, unit: str, text: str) -> None:
    """A printed clearance is never more than the real one."""
    assert words.down(value_m, unit) == text


@pytest.mark.parametrize(
    ("value_m", "unit", "text"),
    [
        (120.04, "m", "120.1"),
        (120.0, "m", "120.0"),
        (120.0000000001, "m", "120.0"),
        (120.0, "ft", "393.8"),
        (121.92, "ft", "400.0"),
    ],
)
def test_heights_round_up(value_m: float, unit: str, text: str) -> None:
    """A printed height is never less than the real one."""
    assert words.up(value_m, unit) == text


@pytest.mark.parametrize("value", [math.nan, math.inf, -math.inf])
@pytest.mark.parametrize("write", [words.down, words.up, words.nearest, words.stated, words.where])
def test_what_is_not_finite_is_no_number(write, value: float) -> None:  # type: ignore[no-untyped-def]
    """Not assessed never becomes a number, in either unit."""
    assert write(value, "m") == "n/a"
    assert write(value, "ft") == "n/a"


def test_stated_values_lose_idle_zeros_only() -> None:
    """100 stays 100, at any number of digits, and there is no minus zero."""
    assert [words.stated(100.0, "m", digits=digits) for digits in (0, 1, 2)] == ["100"] * 3
    assert words.stated(60.5, "m") == "60.5"
    assert words.stated(-0.001, "m") == "0"


def test_unit_stands_behind_numbers_only() -> None:
    """What was not assessed gets no unit."""
    assert words.with_unit("12.0", "ft") == "12.0 ft"
    assert words.with_unit(words.down(math.nan, "m"), "m") == "not assessed"


def test_stretch_is_widened() -> None:
    """A stretch printed in whole units covers the real one."""
    assert words.stretch(380.9, 519.1, "m") == "380-520 m"
    assert words.stretch(0.0, 30.48, "ft") == "0-100 ft"


def test_place_names_its_hemispheres() -> None:
    """South and west are words, not signs."""
    assert words.place(-0.5, 12.25) == "0.500000 S 12.250000 E"
    assert words.place(math.nan, 12.25) == "place not known"


def test_time_is_never_late() -> None:
    """A call-out time rounds down to the second."""
    assert words.after_lift_off(59.99) == "0 min 59 s after lift-off"
    assert words.after_lift_off(60.0) == "1 min 00 s after lift-off"
    assert words.after_lift_off(math.nan) == "time not known"


def test_terminal_escapes_are_not_obeyed() -> None:
    """A name from a file cannot clear the screen or fake a line."""
    assert words.clean("a\x1b[2Jb\nVERDICT") == "a?[2Jb?VERDICT"
    assert words.clean("Dämmung 山") == "Dämmung 山"


def test_every_state_has_a_word_and_only_within_is_lower_case() -> None:
    """States that need a look stand in capitals, so that no colour is needed."""
    assert set(words.STATE_WORDS) == set(State)
    assert [state for state, word in words.STATE_WORDS.items() if not word.isupper()] == [
        State.WITHIN
    ]

"""What is told apart from a file: read exactly, or refused with what to write."""

from __future__ import annotations

from typing import Any

import pytest

from terrain_guard.errors import RefusedInput
from terrain_guard.plan.told import NOTHING_TOLD, Told, columns_of, height_of
from terrain_guard.plan.written_numbers import degrees_meant, exact_text, number_of


@pytest.mark.parametrize(
    ("text", "height"),
    [("60m", (60.0, "m")), (" 200 ft ", (200.0, "ft")), ("-12.5m", (-12.5, "m"))],
)
def test_a_height_has_its_unit(text: str, height: tuple[float, str]) -> None:
    """A number, then m or ft."""
    assert height_of(text) == height


@pytest.mark.parametrize("text", ["60", "m", "60 metres", "6,5m", "nanm", "1e3m", "\u0661m", ""])
def test_a_height_without_unit_is_refused(text: str) -> None:
    """What is left open is asked."""
    with pytest.raises(RefusedInput, match=r"--fly-at: given '.*', but it must be .*; write 60m"):
        height_of(text)


def test_headers_may_hold_commas() -> None:
    """A comma ends a header only where another name follows."""
    assert columns_of("lat=Y,lon=X, height=H, in m") == {
        "lat": "Y",
        "lon": "X",
        "height": "H, in m",
    }


@pytest.mark.parametrize("text", ["", "lat", "lat=", "=Y", "lat=Y,lat=Z"])
def test_unclear_columns_are_refused(text: str) -> None:
    """A name without a header, a header without a name, a name given twice."""
    with pytest.raises(RefusedInput, match=r"--columns: given '.*', but it must say once each"):
        columns_of(text)


@pytest.mark.parametrize(
    ("told", "words"),
    [
        ({"heights": "sea"}, "--heights: given 'sea', but it must be 'launch', 'ground', 'sea-l"),
        ({"height_unit": "yd"}, "--height-unit: given 'yd', but it must be 'm' or 'ft'"),
        ({"fly_at": (60.0, "yd")}, "--fly-at: given 'yd', but it must be 'm' or 'ft'"),
        ({"fly_at": (float("nan"), "m")}, "--fly-at: given nan, but it must be a number from"),
        ({"fly_at": (3e7, "m")}, "--fly-at: given 30000000.0, but it must be a number from"),
        ({"columns": {"alt": "H"}}, "--columns: given 'alt', but it must be 'lat', 'lon'"),
    ],
)
def test_what_is_told_is_judged(told: dict[str, Any], words: str) -> None:
    """When it is told, whoever tells it."""
    with pytest.raises(RefusedInput) as caught:
        Told(**told)
    (sentence,) = caught.value.faults
    assert sentence.startswith(words)
    assert sentence.endswith(".")


def test_every_fault_of_what_is_told_comes_at_once() -> None:
    """One run is enough."""
    with pytest.raises(RefusedInput) as caught:
        Told(heights="x", height_unit="y", columns={"a": "b", "c": "d"})
    assert len(caught.value.faults) == 4


def test_nothing_told_uses_no_option() -> None:
    """And everything told uses all."""
    assert NOTHING_TOLD.options == ()
    told = Told(
        heights="launch", height_unit="m", fly_at=(1.0, "m"), columns={"lat": "a"}, take="1"
    )
    assert told.options == ("--heights", "--height-unit", "--fly-at", "--columns", "--take")


@pytest.mark.parametrize(
    "text", ["1_0", "0x1", "nan", "inf", "1,5", "", ".", "1 2", "\u0661", "e5"]
)
def test_what_is_no_plain_number_is_none(text: str) -> None:
    """Python's float takes several of these; a file that holds them is not understood."""
    assert number_of(text) is None


@pytest.mark.parametrize("value", [0.1, 1e-9, -123.456, 1e22, 60, -0.0, 47.31240000000001])
def test_numbers_read_back_as_written(value: float) -> None:
    """Every digit, and no exponent (xsd:decimal knows none)."""
    text = exact_text(value)
    assert number_of(text) == value
    assert "e" not in text.lower()


def test_degrees_and_minutes_typed_as_decimals() -> None:
    """47 degrees 30 minutes are 47.5 degrees, not 47.30."""
    assert degrees_meant("47 30", axis="lat") == 47.5
    assert degrees_meant("47.30", axis="lat") == 47.30

"""What the margins are made of, as whole text, and added up again from the printed page."""

import math
from dataclasses import replace

import pytest
from hypothesis import given
from hypothesis import strategies as st

from terrain_guard.assessment import Assessment, BudgetPlace
from terrain_guard.report import budget_table, margin_words
from tests.report import factory

# The factory's budget by hand: 0.6² + 0.8² = 1, its root 1; floor 2·1 + (2 + 3) = 7,
# ceiling 1·1 + (1 + 3) = 5. k: a standard normal error is below 2 sigma in 97.7 %, below
# 1 sigma in 84.1 % (NIST/SEMATECH e-Handbook of Statistical Methods, section 1.3.6.7.1).
# 1 ft = 0.3048 m exactly: 0.6 m = 1.97 ft, 0.36 m² = 3.88 ft², 7 m = 22.97 ft.

WHOLE = """\
MARGINS, where each limit has least room with margins, on the reference curve
Floor     30 m: leg 1 gate -> spur, at 112 m, 47.301120 N 28.400000 W
          as computed 55.0 m | margin 7.0 m | with margins 48.5 m
Ceiling   120 m: leg 2 spur -> home, at 290 m, 47.302900 N 28.400000 W
          as computed 90.0 m | margin 5.0 m | with margins 95.0 m
--------------------------------------------------------------------------------
WHAT MAY BE OFF                         FLOOR m  squared  CEILING m  squared
--------------------------------------------------------------------------------
random, one sigma each; squares add up
  elevation model *                        0.60     0.36       0.60     0.36
  pressure drift                           0.80     0.64       0.80     0.64
sum of squares                                      1.00                1.00
sigma: its root                            1.00                1.00
k sigma: 2 and 1 times that                2.00                1.00
one-sided bounds, which add up as they are
  clipped crest                            2.00                0.00
  filled gully                             0.00                1.00
  growth                                   3.00                0.00
  launch offset *                          0.00                3.00
sum of bounds                              5.00                4.00
margin: k sigma and bounds                 7.00                5.00
--------------------------------------------------------------------------------
Rounded to the nearest hundredth. *: assumed, as nothing better was stated.
Floor     largest: growth (shrinks with: a newer survey); margin with heights
          from satellites with corrections: 7.0 -> 3.5 m
Ceiling   largest: launch offset (shrinks with: state launch.offset_m)
Together  at the floor the whole flight shifts by up to 1.6 m, this place by
          1.2 m; at the ceiling the whole flight shifts by up to 0.8 m, this
          place by 0.6 m
Corridor  with margins the floor is held up to 4 m beside the line, too: less
          may be left than computed less margin
Band      78.0 m of height left between floor and ceiling at the least, straight
          up, margins taken off both
Chance    that any metre of the flight breaks a limit, if errors were normal:
          floor 0.9 % (at most 5 % wanted); ceiling 12.0 %: MORE than the 10 %
          wanted
"""

SIZES = st.floats(0.0, 30.0)


def _text(assessment: Assessment, unit: str = "m") -> str:
    return "".join(f"{line}\n" for line in budget_table.lines(assessment, unit=unit))


def _with(**changes: object) -> Assessment:
    return factory.within(budget=factory.budget(**changes))


def _cells(text: str, label: str) -> list[float]:
    """Return the numbers of the one line that begins so."""
    [line] = [one for one in text.splitlines() if one.strip().startswith(label)]
    return [float(part) for part in line[budget_table.NAME :].split()]


def _between(text: str, after: str, before: str) -> list[list[float]]:
    """Return the numbers of every line after one and before another."""
    rows = text.split(after)[1].split(before, maxsplit=1)[0].splitlines()[1:]
    return [[float(part) for part in row[budget_table.NAME :].split()] for row in rows if row]


def test_whole_text() -> None:
    """Places, sum, legend, largest causes, shifts, band and chances, checked by head."""
    assert _text(factory.within()) == WHOLE


def test_feet() -> None:
    """Lengths are in feet, squares in square feet, and no metre is left."""
    text = _text(factory.within(), "ft")
    assert _cells(text, "elevation model") == [1.97, 3.88, 1.97, 3.88]
    assert _cells(text, "margin: k sigma") == [22.97, 16.40]
    assert "corrections: 23.0 -> 11.5 ft" in " ".join(text.split())
    assert "up to 13.12 ft beside the line" in " ".join(text.split())
    assert " m\n" not in text
    assert " m " not in text.replace("|", "")


def _made_of(squares: list[float], bounds: list[float], k: float, least: float) -> BudgetPlace:
    """Return a floor whose budget is added up here."""
    sigma, bound = math.sqrt(sum(one**2 for one in squares)), sum(bounds)
    margin = k * sigma + bound
    rows = [
        *(factory.budget_row(f"cause {i}", "random", s, s) for i, s in enumerate(squares)),
        factory.budget_row("sum of squares", "sum of squares", sigma**2, sigma**2),
        factory.budget_row("sigma", "sigma", sigma, sigma),
        factory.budget_row("k sigma", "k sigma", k * sigma, k * sigma),
        *(factory.budget_row(f"bound {i}", "one-sided bound", b, 0) for i, b in enumerate(bounds)),
        factory.budget_row("sum of bounds", "sum of bounds", bound, 0.0),
        factory.budget_row("margin", "margin", margin, k * sigma),
    ]
    if margin < least:
        rows.append(factory.budget_row("floor raised to 5 m", "raised to", least, 2.0))
    return factory.budget_place("floor", 1, rows=tuple(rows), largest="cause 0")


@given(st.lists(SIZES, max_size=8), st.lists(SIZES, max_size=6), st.floats(0.5, 4.0))
def test_the_printed_numbers_add_up(squares: list[float], bounds: list[float], k: float) -> None:
    """Added up from the page: squares, their root, k times it, bounds, margin.

    Each printed number is off by at most half a hundredth; the root of a sum that is off
    by d is off by at most d / (2 root), or by the root of d.
    """
    place = _made_of(squares, bounds, k, least=5.0)
    text = _text(_with(floor=place, ceiling=None, floor_k=k))
    half = 0.005 + 1e-9
    random = _between(text, "squares add up", "sum of squares")
    total = _cells(text, "sum of squares")[0]
    assert sum(row[1] for row in random) == pytest.approx(total, abs=half * (len(squares) + 1))
    for size, square in random:
        assert square == pytest.approx(size**2, abs=half + 2 * half * size + half**2)
    sigma = _cells(text, "sigma: its root")[0]
    assert sigma**2 == pytest.approx(total, abs=half + 2 * half * sigma + half**2)
    k_sigma = _cells(text, "k sigma")[0]
    assert k_sigma == pytest.approx(k * sigma, abs=half * (1 + k))
    one_sided = _between(text, "add up as they are", "sum of bounds")
    bound = _cells(text, "sum of bounds")[0]
    dropped = sum(one < 0.005 for one in (*squares, *bounds))
    assert sum(row[0] for row in one_sided) == pytest.approx(
        bound, abs=half * (len(bounds) + 1 + dropped)
    )
    margin = _cells(text, "margin: k sigma")[0]
    assert margin == pytest.approx(k_sigma + bound, abs=3 * half)
    raised = "raised to the least" in text
    assert raised == (place.rows[-1].what == "raised to")
    if raised:
        assert _cells(text, "raised to the least")[0] == 5.0


def test_a_cause_of_nothing_has_no_line_but_an_unknown_one_has() -> None:
    """What rounds to 0.00 on both sides is left out; what is not known is never left out."""
    assert "snow" not in _text(factory.within())
    rows = tuple(
        replace(one, floor_m=math.nan) if one.name == "snow" else one
        for one in factory.budget_rows()
    )
    text = _text(_with(floor=factory.budget_place("floor", 1, rows=rows)))
    [line] = [one for one in text.splitlines() if one.strip().startswith("snow")]
    assert line.split() == ["snow", "n/a", "0.00"]


def test_a_cause_of_one_place_alone_leaves_the_other_blank() -> None:
    """Canopy counts on one leg and not on another: no number is made up for it."""
    more = (*factory.budget_rows(), factory.budget_row("canopy", "one-sided bound", 30.0, 0.0))
    text = _text(_with(floor=factory.budget_place("floor", 1, rows=more)))
    assert _cells(text, "canopy") == [30.0]


def test_a_declared_bias_is_told_as_applied() -> None:
    """A bias moves heights and is in no sum."""
    bias = factory.budget_row("temperature bias", "declared bias", -3.5, -3.5)
    text = _text(_with(floor=factory.budget_place("floor", 1, rows=(bias, *factory.budget_rows()))))
    assert _cells(text, "temperature bias (applied)") == [-3.5]


def test_fixed_margins_say_that_the_budget_is_information() -> None:
    """Which side is fixed is named, in the sum and in the heading."""
    made = _with(floor_is_fixed=True, ceiling_is_fixed=False)
    flat = " ".join(_text(made).split())
    assert "The floor's margin is fixed by the rules: the budget is information only." in flat
    assert "margin 7.0 m, fixed |" in flat
    assert "margin 5.0 m |" in flat
    assert "corrections" not in flat  # a better model changes no fixed margin
    assert margin_words.heading(made, "m") == (
        "floor 7 m (fixed by the rules); ceiling at most 5.0 m, k = 1 (nominally 84.1 % if errors "
        "were normal); by the error budget: airborne lidar, heights from barometer"
    )
    both = _with(floor_is_fixed=True, ceiling_is_fixed=True)
    assert "Both margins are fixed by the rules" in " ".join(_text(both).split())
    assert margin_words.heading(both, "m") == "floor 7 m, ceiling 5 m, fixed by the rules"


def test_limits_without_a_place() -> None:
    """A floor that could be judged nowhere is not assessed; a ceiling above sea level has none."""
    text = _text(
        _with(floor=None, ceiling=None, floor_chance=math.nan, band_m=math.inf, corridor_m=0.0)
    )
    assert "Floor     not assessed at any metre\nCeiling   not assessed at any metre\n" in text
    assert "floor not known (5 % wanted)" in " ".join(text.split())
    assert "Band" not in text
    assert "Corridor" not in text
    rules = factory.rules(ceiling_measure="sea-level", ceiling_m=500.0)
    made = factory.within(rules=rules, budget=factory.budget(ceiling=None))
    assert "Ceiling   none above ground\n" in _text(made)
    assert "CEILING" not in _text(made)


@pytest.mark.parametrize(
    ("value", "text"),
    [
        (0.05, "5.0 % (at most 5 % wanted)"),
        (0.0501, "5.1 %: MORE than the 5 % wanted"),
        (1.0, "100.0 %: MORE than the 5 % wanted"),
        (2e-6, "below 0.1 % (at most 5 % wanted)"),
        (math.nan, "not known (5 % wanted)"),
    ],
)
def test_chances_are_rounded_up(value: float, text: str) -> None:
    """A chance never looks smaller than it is, and one not known is no chance."""
    assert budget_table.chance(value, 0.05) == text


@pytest.mark.parametrize("unit", ["m", "ft"])
def test_lines_fit_a_plain_terminal(unit: str) -> None:
    """Eighty columns, plain characters."""
    for line in budget_table.lines(factory.within(), unit=unit):
        assert len(line) <= 80
        assert line.isascii()

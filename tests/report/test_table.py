"""The answer on a terminal, compared as whole text, and held to 80 columns."""

import math
import re
from collections.abc import Callable

import pytest
from hypothesis import given
from hypothesis import strategies as st

from terrain_guard.assessment import Assessment
from terrain_guard.report import cautions, table
from terrain_guard.states import State
from tests.report import factory

# Feet: 1 ft = 0.3048 m exactly (NIST Special Publication 811, 2008, appendix B.8).

BREACH_HEAD = """\
TERRAIN GUARD: true height above ground along a planned route
================================================================================
VERDICT   BREACH: the route goes outside its limits
          BREACH 40.5 m in 2 stretches; TIGHT 50.5 m beside breaches
          assessed: all 300.0 m of the route
          WAY HOME, SIGHT AND LINK NOT CHECKED; TREES AND ROOFS NOT IN THE MODEL
================================================================================
Route     Spillway and upper terraces (same_height.toml)
Launch    47.300000 N 28.400000 W, spot known within 10 m; launch ground 212.0 m
          (elevation model)
Terrain   valley_ground.tif: ground model, cells 2 x 2 m (area), EPSG:32626;
          vertical datum EGM2008 height, unit metre; voids 0.00 % of the cells
          read; sha256 of the cells used 0123456789ab
Rule      Site rule: clearance at least 30 m, height above ground at most 120 m
          source: Operations manual 4.2
Margins   floor at most 7.0 m, k = 2 (nominally 97.7 % if errors were normal);
          ceiling at most 5.0 m, k = 1 (nominally 84.1 % if errors were normal);
          by the error budget: airborne lidar, heights from barometer
Canopy    none: open ground (--canopy)
Take-off  and landing, our own choice: within 25 m of the spot nothing may stand
          above a 1:1 cone on it, and the floor does not apply; further on, on
          leg 0 and on a slanting way home, clearance of half the height above
          launch is enough
Flown     straight up first; climbing or descending steadily along the leg;
          corners rounded before the waypoint; typed height reached in
          mid-corner; climbing first, then home
"""

BREACH_LEGS = """\
--------------------------------------------------------------------------------
LEG FROM -> TO                       FLOWN m  TYPED m       STATE, FINDING
     least above ground | least clearance           | greatest above ground
        computed     at | computed  margins      at | computed  margins      at
--------------------------------------------------------------------------------
  0 launch -> gate                     100.0  80->80        within
            60.0     10 |     55.0     48.0      12 |     90.0     95.0      90
  1 gate -> spur                       100.0  80->80        BREACH 1
            60.0    110 |     29.9*    22.9*    150 |     90.0     95.0     190
  2 spur -> home                       100.0  80->80        BREACH 2
            60.0    210 |     55.0     48.0     212 |    120.1*   125.1*    250
--------------------------------------------------------------------------------
computed: from the data. margins: after the margins, worst side. at: distance
along the route since lift-off. *: fails.
"""

BREACH_FINDINGS = """\
FINDINGS
  1  BREACH: floor, leg 1 gate -> spur, 140-160 m (with margins 120-191 m)
     message of the floor at 150
     where: at 150 m, 0 min 37 s after lift-off, 47.301500 N 28.400000 W
  2  BREACH: ceiling, leg 2 spur -> home, 240-261 m
     message of the ceiling at 250
     where: at 250 m, 1 min 02 s after lift-off, 47.302504 N 28.400000 W

NOT CHECKED
  - the way home from every metre

ASSUMED
  - bank 25 degrees

CAUTIONS
"""

NOT_ASSESSED_LEGS = """\
  1 gate -> spur                       100.0  80->80        NOT ASSESSED 1
            60.0    110 |      n/a      n/a     n/a |     90.0     95.0     190
  2 spur -> home                       100.0  80->80        NOT ASSESSED 2
             n/a    n/a |      n/a      n/a     n/a |      n/a      n/a     n/a
--------------------------------------------------------------------------------
computed: from the data. margins: after the margins, worst side. at: distance
along the route since lift-off. n/a: not assessed. On a leg with metres NOT
ASSESSED, numbers are of the part that could be judged.
"""

BREACH_FEET = """\
LEG FROM -> TO                      FLOWN ft  TYPED ft      STATE, FINDING
     least above ground | least clearance           | greatest above ground
        computed     at | computed  margins      at | computed  margins      at
--------------------------------------------------------------------------------
  0 launch -> gate                     328.1  262.5->262.5  within
           196.8     33 |    180.4    157.4      39 |    295.3    311.7     295
  1 gate -> spur                       328.1  262.5->262.5  BREACH 1
           196.8    361 |     98.2*    75.1*    492 |    295.3    311.7     623
  2 spur -> home                       328.1  262.5->262.5  BREACH 2
           196.8    689 |    180.4    157.4     696 |    393.9*   410.3*    820
"""


def _text(assessment: Assessment, unit: str = "m") -> str:
    return "".join(f"{line}\n" for line in table.lines(assessment, unit=unit))


def _verdict(assessment: Assessment) -> list[str]:
    return [line.strip() for line in table.verdict_box(assessment)][1:-1]


def test_breach_whole_text() -> None:
    """Heading, legs, findings and lists, from numbers that can be checked by eye."""
    text = _text(factory.breach())
    verdict = "".join(BREACH_HEAD.splitlines(keepends=True)[1:7])
    assert text.startswith(BREACH_HEAD + "\n" + BREACH_LEGS + "\nMARGINS, ")
    assert "\n\n" + BREACH_FINDINGS in text
    assert text.endswith("\n" + verdict)
    assert text.count("WAY HOME, SIGHT AND LINK") == 2


def test_not_assessed_has_no_numbers() -> None:
    """Neither an unknown height nor a missing extreme becomes a number."""
    text = _text(factory.not_assessed())
    assert NOT_ASSESSED_LEGS in text
    assert "TERRAIN TO GET\n  - 47.30 N to 47.31 N, 28.41 W to 28.39 W\n" in text
    assert "NOT ASSESSED: leg 2 spur -> home, 200-300 m\n" in text
    assert "nan" not in text.lower().replace("not assessed", "")


def test_feet_are_printed_everywhere() -> None:
    """Lengths, heights and places along the route are in feet, and every header says so."""
    text = _text(factory.breach(), "ft")
    assert BREACH_FEET in text
    assert "assessed: all 984.3 ft of the route" in text
    rule = "clearance at least 98.43 ft (30 m), height above ground at most 393.7 ft (120 m)"
    flat = " ".join(text.split())
    assert rule in flat
    assert re.findall(r"\d m\b", flat.replace(rule, "")) == []


def test_a_rule_in_feet_keeps_its_own_number() -> None:
    """400 ft printed in metres still says 400 ft."""
    made = factory.within(rules=factory.rules(unit="ft", ceiling_m=121.92))
    assert "at most 121.92 m (400 ft)" in " ".join(_text(made).split())


@pytest.mark.parametrize(
    ("make", "lines"),
    [
        (
            factory.within,
            ["VERDICT   WITHIN: no breach found in the data listed"],
        ),
        (
            factory.tight,
            [
                "VERDICT   TIGHT: within the limits as computed, but not with margins",
                "TIGHT 20.0 m in 1 stretch",
            ],
        ),
        (
            factory.not_assessed,
            [
                "VERDICT   NOT ASSESSED: part of the route could not be judged; treat it as a",
                "breach",
                "NOT ASSESSED 120.0 m in 2 stretches",
            ],
        ),
    ],
)
def test_verdicts(make: Callable[[], Assessment], lines: list[str]) -> None:
    """Each verdict has its words, its metres and the sentence beside it."""
    printed = _verdict(make())
    assert printed[: len(lines)] == lines
    assert printed[-1] == f"{cautions.HOME_UNKNOWN}; {cautions.TREES_UNKNOWN}"


def test_assessed_length_is_never_rounded_to_the_whole() -> None:
    """4 cm not assessed of 300 m are not "all"."""
    made = factory.not_assessed(assessed_m=299.96, length_m=300.0)
    assert "assessed: only 299.9 m of 300.0 m" in _verdict(made)
    unknown = factory.not_assessed(assessed_m=math.nan)
    assert "assessed: only not assessed of 300.0 m" in _verdict(unknown)


def test_breach_and_not_assessed_are_both_told() -> None:
    """A breach elsewhere does not hide the metres that nobody judged."""
    both = (*factory.breach().findings, *factory.not_assessed().findings)
    told = _verdict(factory.breach(findings=both, assessed_m=180.0))
    assert told[1:3] == [
        "BREACH 40.5 m in 2 stretches; NOT ASSESSED 120.0 m in 2 stretches;",
        "TIGHT 50.5 m beside breaches",
    ]


def test_closest_point_ceiling_shows_distances_from_ground() -> None:
    """Under a closest-point rule the greatest distance stands in the table, and is named."""
    made = factory.within(rules=factory.rules(ceiling_measure="closest-point"))
    text = _text(made)
    assert "| greatest from ground\n" in text
    assert "85.0     90.0      90\n" in text
    assert "distance from the nearest ground at most 120 m" in " ".join(text.split())


def test_tight_marks_only_the_number_with_margins() -> None:
    """As computed it holds; with margins it does not."""
    assert "31.0     24.0*    150 |" in _text(factory.tight())


def test_what_is_not_judged_is_not_called_not_assessed() -> None:
    """Where the take-off column replaces the floor there is no least clearance: two dashes."""
    legs = (
        factory.leg(0, "launch", "gate", above_ground_min=None, clearance_min=None),
        factory.leg(1, "gate", "spur"),
    )
    row = "              --     -- |       --       --      -- |     90.0     95.0      90\n"
    assert row in _text(factory.within(legs=legs))
    assert "n/a" not in _text(factory.within(legs=legs))


def test_an_unknown_number_is_never_called_not_judged() -> None:
    """NaN in an extreme is not assessed, whatever the leg's state says."""
    row = factory.leg(0, "launch", "gate", clearance_min=factory.extreme(50.0, math.nan, 10.0))
    assert "|     50.0      n/a      10 |" in _text(factory.within(legs=(row,)))


def test_low_clearance_that_is_allowed_is_marked() -> None:
    """Near take-off a clearance under the floor may be within: it is marked and explained."""
    climb = factory.leg(0, "launch", "gate", clearance_min=factory.extreme(31.0, 24.0, 40.0))
    home = factory.leg(1, "gate", "home", clearance_min=factory.extreme(12.0, 5.0, 140.0))
    text = _text(factory.within(legs=(climb, home)))
    assert "|     31.0     24.0~     40 |" in text
    assert "|     12.0~     5.0~    140 |" in text
    assert "~: below the floor, allowed by the take-off and landing rule" in " ".join(text.split())
    assert "~" not in _text(factory.within())


def test_unknown_ground_on_a_breached_leg_is_told() -> None:
    """A breach does not turn what is missing on its leg into "not judged"."""
    rows = (factory.leg(1, "gate", "spur", state=State.BREACH, clearance_min=None),)
    found = (*factory.not_assessed().findings[:1], *factory.breach().findings[1:2])
    text = _text(factory.breach(legs=rows, findings=found))
    assert "|      n/a      n/a     n/a |" in text
    assert "n/a: not assessed." in " ".join(text.split())


def test_every_stretch_is_listed() -> None:
    """Two breaches of one kind on one leg are two findings."""
    two = (
        factory.finding("floor", State.BREACH, 110.0, 120.0),
        factory.finding("floor", State.BREACH, 150.0, 170.0),
    )
    text = _text(factory.breach(findings=two))
    assert "  1  BREACH: floor, leg 1 gate -> spur, 110-120 m\n" in text
    assert "  2  BREACH: floor, leg 1 gate -> spur, 150-170 m\n" in text
    assert "BREACH 1,2\n" in text
    third = factory.finding("ceiling", State.BREACH, 130.0, 140.0)
    assert "BREACH 1,2,3\n" in _text(factory.breach(findings=(*two, third)))
    fourth = factory.finding("ceiling", State.BREACH, 150.0, 160.0)
    assert "BREACH 1,..\n" in _text(factory.breach(findings=(*two, third, fourth)))


def test_the_worst_curve_is_named_where_several_are_flown() -> None:
    """With several ways of flying, each finding says which one was worst."""
    late = factory.CURVE.replace("linear", "late")
    legs = tuple(factory.leg(number, "gate", "spur") for number in range(3))
    text = _text(factory.breach(curves=(factory.CURVE, late), legs=legs))
    assert "     flown: climbing or descending steadily along the leg\n" in text
    assert "Flown     2 ways, because the route leaves it open; the worst counts." in text


def test_names_too_long_for_their_column_are_whole() -> None:
    """Long names are wrapped, never cut: two legs must not look alike."""
    start, end = "north-eastern corner of the upper terrace", "gully below the second spillway gate"
    made = factory.within(legs=(factory.leg(0, start, end),))
    assert f"  0 {start} -> gully below the second" in _text(made)
    assert f"{start} -> {end}" in " ".join(_text(made).split())


def test_numbers_keep_their_units() -> None:
    """No line ends between a number and its unit, however the sentence falls."""
    for start in range(40):
        message = "x" * start + " typed 60 m above launch ground (212.0 m) = 18.4 m above ground"
        found = factory.finding("floor", State.BREACH, 140.0, 160.0, message=message)
        printed = _text(factory.breach(findings=(found,)))
        assert "212.0 m)" in printed
        assert "18.4 m" in printed
        assert "\0" not in printed


def test_void_share_is_never_rounded_to_none() -> None:
    """One missing cell in a million is not 0.00 %."""
    terrain = factory.replaced_terrain(void_share_read=1e-6)
    assert "voids 0.01 % of the cells read" in " ".join(_text(terrain).split())


def test_empty_lists_have_no_title() -> None:
    """Nothing assumed, nothing found: no empty headings."""
    text = _text(factory.within(assumed=(), not_checked=()))
    assert "ASSUMED" not in text
    assert "FINDINGS" not in text
    assert "\n\n\n" not in text


@pytest.mark.parametrize("unit", ["m", "ft"])
@pytest.mark.parametrize("make", factory.EVERY)
def test_every_line_fits_a_plain_terminal(make: Callable[[], Assessment], unit: str) -> None:
    """At most 80 printable ASCII characters, without trailing spaces."""
    for line in table.lines(make(), unit=unit):
        assert len(line) <= 80
        assert line.isascii()
        assert line.isprintable()
        assert line == line.rstrip()


HEIGHT = st.one_of(st.just(math.nan), st.floats(-9999.0, 9999.0))
PLACE = st.one_of(st.just(math.nan), st.floats(0.0, 99999.0))
NAME = st.text(st.characters(codec="ascii"), min_size=1, max_size=60)


@given(
    heights=st.tuples(HEIGHT, HEIGHT, PLACE),
    typed=st.tuples(st.floats(-999.0, 999.0), st.floats(-999.0, 999.0)),
    names=st.tuples(NAME, NAME),
    state=st.sampled_from(State),
    unit=st.sampled_from(["m", "ft"]),
)
def test_any_numbers_and_names_fit(
    heights: tuple[float, float, float],
    typed: tuple[float, float],
    names: tuple[str, str],
    state: State,
    unit: str,
) -> None:
    """Whatever is found, lines stay within 80 columns and never say nan or inf."""
    worst = factory.extreme(*heights)
    row = factory.leg(
        1,
        *names,
        state=state,
        typed_start_m=typed[0],
        typed_end_m=typed[1],
        length_m=99999.9,
        above_ground_min=worst,
        above_ground_max=worst,
        clearance_min=worst,
    )
    found = [factory.finding("floor", State.BREACH, 100 + i, 100 + i, leg=1) for i in (0, 9, 20)]
    made = factory.breach(legs=(row,), findings=tuple(found))
    printed = list(table.lines(made, unit=unit))
    assert all(len(line) <= 80 for line in printed)
    numbers = next(
        line
        for line in printed
        if line.count("|") == 2 and "computed" not in line and "least" not in line
    )
    assert not {"nan", "inf"} & set(re.findall("[a-z]+", numbers))

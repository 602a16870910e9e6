"""What published rules grant near obstacles, on numbers.

Documents: 14 CFR 107.51(b)(1) and (2), read in a text that reproduces it; Regulation
(EU) 2019/947, Annex, Part A, UAS.OPEN.010(3), as amended by (EU) 2020/639, read in
the issuing body's words. 1 ft = 0.3048 m exactly.
"""

from __future__ import annotations

import math
from dataclasses import replace

import numpy as np
import pytest

from terrain_guard.checks.exceptions import (
    eu_obstacle_ceiling_m,
    exception_remarks,
    us_structure_ceiling_m,
)
from terrain_guard.plan.rules import NAMED_RULES
from terrain_guard.states import State
from tests.report.factory import finding

FOOT_M = 0.3048


@pytest.mark.parametrize(
    ("structure_m", "away_m", "ceiling_m"),
    [
        (275 * FOOT_M, 0.0, 205.74),  # 275 + 400 = 675 ft
        (275 * FOOT_M, 400 * FOOT_M, 205.74),  # on the 400-foot radius
        (275 * FOOT_M, 122.0, 121.92),  # outside it: 400 ft
        (1 * FOOT_M, 10.0, 401 * FOOT_M),  # however low the structure
        (math.nan, 0.0, 121.92),  # what is not known grants nothing
        (275 * FOOT_M, math.nan, 121.92),
        (math.inf, 0.0, 121.92),
        (0.0, 0.0, 121.92),
        (275 * FOOT_M, -1.0, 121.92),
    ],
)
def test_near_a_structure(structure_m: float, away_m: float, ceiling_m: float) -> None:
    """14 CFR 107.51(b): 400 ft above its uppermost limit within a 400-foot radius."""
    assert float(us_structure_ceiling_m(structure_m, away_m)) == pytest.approx(ceiling_m, abs=1e-9)


@pytest.mark.parametrize(
    ("obstacle_m", "away_m", "ceiling_m"),
    [
        (106.0, 49.0, 121.0),  # 106 + 15
        (106.0, 49.9, 121.0),
        (106.0, 50.0, 121.0),  # "within a horizontal distance of 50 metres"
        (106.0, 50.1, 120.0),
        (106.0, 51.0, 120.0),
        (105.0, 49.0, 120.0),  # "taller than 105 metres"
        (105.01, 49.0, 120.01),
        (200.0, 49.0, 215.0),
        (200.0, 51.0, 120.0),
        (math.nan, 49.0, 120.0),
        (106.0, math.nan, 120.0),
    ],
)
def test_near_an_artificial_obstacle(obstacle_m: float, away_m: float, ceiling_m: float) -> None:
    """UAS.OPEN.010(3): up to 15 m above it within 50 m; without the request 120 m anyway."""
    asked = eu_obstacle_ceiling_m(obstacle_m, away_m, requested=True)
    assert float(asked) == pytest.approx(ceiling_m, abs=1e-9)
    assert float(eu_obstacle_ceiling_m(obstacle_m, away_m, requested=False)) == 120.0


def test_many_at_once_and_on_a_slope() -> None:
    """Arrays in, arrays out; a base lower than the ground below lowers the top with it."""
    ceilings = us_structure_ceiling_m(
        [100.0, 100.0, 100.0], [0.0, 200.0, 0.0], base_above_ground_m=[-40.0, -40.0, -150.0]
    )
    assert ceilings.tolist() == pytest.approx([60.0 + 121.92, 121.92, 121.92], abs=1e-9)
    assert float(eu_obstacle_ceiling_m(110.0, 10.0, requested=True, base_above_ground_m=5.0)) == (
        130.0
    )


@pytest.mark.parametrize("state", [State.BREACH, State.TIGHT])
def test_what_the_european_exception_needs_is_said(state: State) -> None:
    """Near what, how tall, how near, at whose request; and that it was not applied."""
    (said,) = exception_remarks(NAMED_RULES["eu-open"], [finding("ceiling", state, 10, 20)])
    for words in (
        "An exception exists",
        "UAS.OPEN.010(3)",
        "read in the issuing body's words",
        "an artificial obstacle taller than 105 m",
        "within 50 m horizontally",
        "the entity responsible for the obstacle must ask for it",
        "15 m above its top",
        "Not applied",
    ):
        assert words in said


def test_what_the_american_exception_needs_is_said_in_its_own_unit() -> None:
    """Feet, with metres beside them; nobody needs to ask."""
    (said,) = exception_remarks(NAMED_RULES["us-107"], [finding("ceiling", State.BREACH, 0, 9)])
    assert "It needs a structure within 400 ft (121.92 m) horizontally; then up to" in said
    assert "400 ft (121.92 m) above its top" in said
    assert "read in a text that reproduces it" in said
    assert "ask" not in said


@pytest.mark.parametrize("kind", ["floor", "sea-level ceiling", "underground", "column"])
def test_no_exception_from_other_limits(kind: str) -> None:
    """A floor, or a ceiling above sea level, knows none."""
    assert exception_remarks(NAMED_RULES["eu-open"], [finding(kind, State.BREACH, 0, 9)]) == ()


def test_no_exception_where_no_rule_holds_one() -> None:
    """The default, Australia, a site's own ceiling; nor where no ceiling fails."""
    failing = [finding("ceiling", State.BREACH, 0, 9)]
    eu = NAMED_RULES["eu-open"]
    assert exception_remarks(NAMED_RULES["default"], failing) == ()
    assert exception_remarks(NAMED_RULES["au-101"], failing) == ()
    assert exception_remarks(replace(eu, ceiling_m=100.0), failing) == ()
    assert exception_remarks(replace(eu, ceiling_source="Authorisation 12"), failing) == ()
    assert exception_remarks(eu, []) == ()


def test_the_plain_ceilings_differ() -> None:
    """121 m above ground keeps the American rule and breaks the European one."""
    far = np.inf
    assert us_structure_ceiling_m(50.0, far) >= 121.0
    assert eu_obstacle_ceiling_m(50.0, far, requested=True) < 121.0

"""One metre's arithmetic in full, as whole text."""

from dataclasses import replace

import pytest

from terrain_guard.errors import RefusedInput
from terrain_guard.report import explained
from tests.report import factory

# By hand: 212 + 80 - 232 = 60; 48.5 - 30 = 18.5; 212 + 80 - 202 = 90; 90 + 5 = 95; 120 - 95 = 25.

FLOOR = """\
EXPLAINED: leg 1 gate -> spur
Floor     least room with margins: leg 1 gate -> spur, at 112 m, 47.301120 N
          28.400000 W
          launch 212.00 + flown 80.00 - ground 232.00 = 60.00 m above ground;
          clearance 55.00; 48.50 once the point is moved down by the margin,
          7.00, and up to 4 m aside; floor 30; room left 18.50 m
               m  squared
            0.60    0.36  elevation model (random, local, assumed): airborne
                          lidar; shrinks with: a better elevation model
            0.80    0.64  pressure drift (random, whole flight): 0.1 hPa;
                          shrinks with: set the zero again shortly before
                    1.00  sum of squares
            1.00          sigma: the root of that
            2.00          k sigma: k = 2 (nominally 97.7 % if errors were
                          normal)
            2.00          clipped crest (one-sided bound, local): cells as
                          stated; shrinks with: a model of smaller cells
            0.00          filled gully (one-sided bound, local): cells as
                          stated; shrinks with: a model of smaller cells
            3.00          growth (one-sided bound, local): five years; shrinks
                          with: a newer survey
            0.00          snow (one-sided bound, local): as stated
            0.00          launch offset (one-sided bound, whole flight,
                          assumed): common practice, no source; shrinks with:
                          state launch.offset_m
            5.00          sum of the one-sided bounds
            7.00          margin: k sigma and bounds
Ceiling   not judged, or not assessed, at any metre of this leg
"""


def test_whole_text() -> None:
    """Heights, margin, every row with source and remedy; a side without a place says so."""
    lines = explained.lines(factory.within(), leg=1, unit="m")
    assert "".join(f"{line}\n" for line in lines) == FLOOR


def test_the_ceiling_is_a_plain_sum() -> None:
    """Heights are raised by the margin."""
    place = factory.budget_place("ceiling", 2)
    assert explained.arithmetic(factory.within(), place, "m") == (
        "launch 212.00 + flown 80.00 - ground 202.00 = 90.00 m above ground; height 90.00; "
        "+ margin 5.00 = 95.00; ceiling 120; room left 25.00 m"
    )


def test_over_level_ground_the_floor_is_a_plain_difference() -> None:
    """Where the nearest ground lies straight below, nothing needs to be explained."""
    place = factory.budget_place("floor", 1, computed_m=60.0, assured_m=53.0)
    assert "clearance 60.00; - margin 7.00 = 53.00; floor 30; room left 23.00 m" in (
        explained.arithmetic(factory.within(), place, "m")
    )


def test_without_a_corridor_nothing_is_moved_aside() -> None:
    """A fixed margin has none."""
    made = factory.within(budget=factory.budget(corridor_m=0.0))
    assert "moved down by the margin, 7.00; floor 30" in (
        explained.arithmetic(made, factory.budget_place("floor", 1), "m")
    )


def test_what_is_held_against_the_limit_is_named() -> None:
    """A closest-point ceiling and a vertical floor are not called by the other's name."""
    rules = factory.rules(ceiling_measure="closest-point", floor_measure="vertical")
    made = factory.within(rules=rules)
    ceiling = explained.arithmetic(made, factory.budget_place("ceiling", 2), "m")
    assert "from the nearest ground 90.00" in ceiling
    floor = explained.arithmetic(made, factory.budget_place("floor", 1, computed_m=60.0), "m")
    assert "above ground; height 60.00" in floor


def test_a_canopy_below_is_named() -> None:
    """Over a surface model that stands alone the ground may lie a canopy lower."""
    canopy = replace(factory.within().canopy, ground_below_m=20.0)
    place = factory.budget_place("ceiling", 2, computed_m=110.0, assured_m=115.0)
    made = factory.within(models="surface", canopy=canopy)
    assert "with the canopy below 110.00; + margin 5.00 = 115.00" in (
        explained.arithmetic(made, place, "m")
    )


def test_a_fixed_margin_is_called_fixed() -> None:
    """Then the budget is information only."""
    made = factory.within(budget=factory.budget(floor_is_fixed=True))
    text = "\n".join(explained.lines(made, leg=1, unit="m"))
    assert "the rules fix this margin: the budget is information only" in text


def test_feet() -> None:
    """1 ft = 0.3048 m exactly: 212 m = 695.54 ft, 80 m = 262.47 ft, 0.36 m² = 3.88 ft²."""
    text = "\n".join(explained.lines(factory.within(), leg=1, unit="ft"))
    assert "launch 695.54 + flown 262.47" in text
    assert "1.97    3.88  elevation model" in text


@pytest.mark.parametrize("leg", [-1, 3])
def test_an_unknown_leg_is_refused(leg: int) -> None:
    """The legs that there are get named."""
    with pytest.raises(
        RefusedInput, match=rf"--explain {leg}: the route has legs 0 to 2; give one"
    ):
        list(explained.lines(factory.within(), leg=leg, unit="m"))

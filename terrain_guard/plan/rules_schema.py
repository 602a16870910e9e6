"""Every key a rules file may hold, with its unit, range and meaning.

The ranges keep nonsense out; they are the limits of no authority.
"""

from __future__ import annotations

from typing import Final

from terrain_guard.plan.keys import Key, Table, choice, height, number, text
from terrain_guard.plan.rule_sets import RULE_SETS


def _source_of(limit: str) -> Key:
    """Return the key that says who wants one limit, where that is not the file's `source`."""
    return text(
        "source",
        "who says so, where it is not the source at the top",
        example="Authorisation 12, condition 4",
        carried_as=f"{limit}_source",
    )


RULES: Final = (
    Table(
        name="",
        meaning="Who wants what",
        required=True,
        keys=(
            text("name", "what these rules are called", example="Site rule", required=True),
            text(
                "source",
                "who says so, and where",
                example="Operations manual 4.2",
                required=True,
                why="a limit means nothing without who says so",
            ),
            choice(
                "unit",
                "the unit of floor and ceiling",
                ("m", "ft"),
                required=True,
                why="a limit means nothing without its unit",
            ),
            text("edition", "which edition of the source", example="Rev 3, 1 May 2024"),
            choice("based_on", "the published rules that this file changes", tuple(RULE_SETS)),
            Key(
                name="require",
                kind="words",
                meaning="which further findings enter the verdict",
                choices=("sight", "link", "return", "camera", "energy"),
            ),
        ),
    ),
    Table(
        name="floor",
        meaning="The least clearance wanted",
        required=True,
        keys=(
            height(
                "value",
                "the least clearance",
                0.1,
                1000,
                example=30,
                required=True,
                carried_as="floor_m",
            ),
            choice(
                "measure",
                "how it is measured",
                ("clearance", "vertical"),
                default="clearance",
                carried_as="floor_measure",
            ),
            _source_of("floor"),
        ),
    ),
    Table(
        name="ceiling",
        meaning="The greatest height allowed",
        required=True,
        keys=(
            height(
                "value",
                "the greatest height",
                0.1,
                10000,
                example=120,
                required=True,
                carried_as="ceiling_m",
            ),
            choice(
                "measure",
                "how it is measured",
                ("vertical", "closest-point", "sea-level"),
                default="vertical",
                carried_as="ceiling_measure",
            ),
            _source_of("ceiling"),
        ),
    ),
    Table(
        name="sea_level_ceiling",
        meaning="A second ceiling, above sea level",
        keys=(
            height(
                "value",
                "the greatest height above sea level",
                -500,
                10000,
                example=550,
                required=True,
                carried_as="sea_level_ceiling_m",
            ),
            _source_of("sea_level_ceiling"),
        ),
    ),
    Table(
        name="margins",
        meaning="How many sigma each margin covers, or margins that are fixed",
        keys=(
            number("floor_k", "sigma for the floor", "", 0, 10, example=2.33),
            number("ceiling_k", "sigma for the ceiling", "", 0, 10, example=1.645),
            height(
                "floor",
                "the floor's margin",
                0,
                500,
                example=10,
                carried_as="fixed_floor_margin_m",
            ),
            height(
                "ceiling",
                "the ceiling's margin",
                0,
                500,
                example=5,
                carried_as="fixed_ceiling_margin_m",
            ),
        ),
    ),
)
"""Every table of the rules file."""

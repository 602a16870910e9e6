"""Every key a rules file may hold, with its unit, range and meaning.

The ranges keep nonsense out; they are the limits of no authority.
"""

from __future__ import annotations

from typing import Final

from terrain_guard.plan.keys import Key, Table, choice, height, number, text

_DATUM = "it needs a vertical datum tied to the elevation model's, which is not built yet"

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
            Key(
                name="require",
                kind="words",
                meaning="which further findings enter the verdict",
                choices=("sight", "link", "camera", "energy"),
                used=False,
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
                not_built={"sea-level": _DATUM},
                default="vertical",
                carried_as="ceiling_measure",
            ),
        ),
    ),
    Table(
        name="margins",
        meaning="How many sigma each margin covers",
        keys=(
            number("floor_k", "for the floor", "", 0, 10, example=2.33, used=False),
            number("ceiling_k", "for the ceiling", "", 0, 10, example=1.645, used=False),
        ),
    ),
)
"""Every table of the rules file."""

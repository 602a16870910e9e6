"""What stands for trees, and how two models lie to each other: the same in every output."""

from __future__ import annotations

import math
from collections.abc import Iterator
from typing import TYPE_CHECKING

from terrain_guard.report import words

if TYPE_CHECKING:
    from terrain_guard.assessment import Assessment, SecondGround, SurfaceTied


def lines(assessment: Assessment, unit: str) -> Iterator[tuple[str, str]]:
    """Yield a label and a line for canopy, surface and second ground, as far as they matter."""
    for label, text in (
        ("Canopy", canopy(assessment, unit)),
        ("Fit", surface(assessment, unit)),
        ("Differs", second(assessment, unit)),
    ):
        if text:
            yield label, text


def canopy(assessment: Assessment, unit: str) -> str:
    """Write what stands for trees that no model shows; empty where a surface shows them."""
    used = assessment.canopy
    height = words.with_unit(words.stated(used.height_m, unit), unit)
    if assessment.models == "both":
        return ""
    if not used.height_m:
        return f"none: open ground ({used.source})"
    is_assumed = used.source.startswith("assumed")
    if assessment.models == "ground":
        if is_assumed:
            return (
                f"+ {height} canopy assumed: declare it with --canopy or canopy_m in the card, or "
                "give --surface"
            )
        return f"+ {height} canopy in the floor's margin ({used.source})"
    below = f"the ground may lie up to {height} below the surface model"
    if is_assumed:
        text = (
            f"{below}, assumed: + {height} in the ceiling's margin; declare it with --canopy or "
            "canopy_m in the card, or give --ground"
        )
    else:
        text = f"{below} ({used.source}): + {height} on heights under the ceiling"
    if used.floor_m:
        text += f"; launch ambiguous, measure it: + {height} in the floor's margin"
    return text


def surface(assessment: Assessment, unit: str) -> str:
    """Write how the surface fits the ground on bare places; empty where none is given."""
    tied = assessment.surface_tied
    return "" if tied is None else _fit(tied, unit)


def _fit(tied: SurfaceTied, unit: str) -> str:
    if not math.isfinite(tied.offset_m):
        return f"surface and ground could not be compared ({tied.places} places known to both)"
    offset = _signed(tied.offset_m, unit)
    text = f"surface {offset} off the ground on {tied.bare} bare places of {tied.places} (median)"
    if not tied.lifted_m:
        return f"{text}: taken as it is"
    side = "higher" if tied.lifted_m > 0 else "lower"
    lifted = words.with_unit(words.nearest(abs(tied.lifted_m), unit), unit)
    return f"{text}: taken {lifted} {side}"


def second(assessment: Assessment, unit: str) -> str:
    """Write how far the second ground differs from the first; empty where none is given."""
    found = assessment.second_ground
    return "" if found is None else _difference(found, unit)


def _difference(found: SecondGround, unit: str) -> str:
    less = "each less its own launch ground" if found.has_own_launch else "as they are"
    spread = words.with_unit(words.nearest(found.spread_m, unit), unit)
    where = words.with_unit(words.where(found.at_m, unit), unit)
    share = math.floor(found.assessed_share * 1000 + 1e-9) / 10
    margins = (
        f"floor {words.stated(found.floor_margin_m, unit)}, "
        f"ceiling {words.stated(found.ceiling_margin_m, unit)} {unit}"
    )
    return (
        f"second ground less first, {less}: {_signed(found.median_m, unit)} (median), within "
        f"{spread} of it for two thirds (16-84 %), {_signed(found.worst_m, unit)} at worst, at "
        f"{where}; known along {share:g} % of the route; margins over it at most {margins}; "
        "the worse of both counts everywhere"
    )


def _signed(value_m: float, unit: str) -> str:
    text = words.nearest(value_m, unit)
    return words.with_unit(f"+{text}" if value_m >= 0 else text, unit)

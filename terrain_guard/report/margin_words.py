"""How large the margins are and what they rest on; the same in every output."""

from __future__ import annotations

import math
from typing import TYPE_CHECKING

from terrain_guard.report import words

if TYPE_CHECKING:
    import numpy as np
    from numpy.typing import NDArray

    from terrain_guard.assessment import Assessment


def heading(assessment: Assessment, unit: str) -> str:
    """Write the greatest margins of any way flown, how many sigma they cover, on what basis.

    Trees that no model shows are not in them: these have a row of their own.
    """
    from terrain_guard.checks.budget.tails import k_words  # loads NumPy; help does without

    used = assessment.budget
    parts = [greatest(assessment, side, unit) for side in ("floor", "ceiling")]
    if used.floor_is_fixed and used.ceiling_is_fixed:
        return f"floor {parts[0]}, ceiling {parts[1]}, fixed by the rules"
    for index, (k, is_fixed) in enumerate(
        ((used.floor_k, used.floor_is_fixed), (used.ceiling_k, used.ceiling_is_fixed))
    ):
        parts[index] += " (fixed by the rules)" if is_fixed else f", {k_words(k)}"
    return f"floor {parts[0]}; ceiling {parts[1]}; by the error budget: {used.words}"


def brief(assessment: Assessment, unit: str) -> str:
    """Write the same on one line: "floor at most 9.7 m (k = 2.33), ..."."""
    used = assessment.budget
    parts = (
        f"{side} {greatest(assessment, side, unit)} "
        + ("(fixed by the rules)" if is_fixed else f"(k = {k:g})")
        for side, k, is_fixed in (
            ("floor", used.floor_k, used.floor_is_fixed),
            ("ceiling", used.ceiling_k, used.ceiling_is_fixed),
        )
    )
    return f"{', '.join(parts)}, {used.words}"


def greatest(assessment: Assessment, side: str, unit: str) -> str:
    """Write the greatest margin of a side, or the one that the rules fix.

    In words as "at most 9.7 m", or "10 m".
    """
    used, is_floor = assessment.budget, side == "floor"
    value_m = assessment.floor_margin_m if is_floor else assessment.ceiling_margin_m
    if used.floor_is_fixed if is_floor else used.ceiling_is_fixed:
        return words.with_unit(words.stated(value_m, unit), unit)
    text = words.with_unit(words.up(value_m, unit), unit)
    return text if text.startswith("not") else f"at most {text}"


def along(values_m: NDArray[np.float64], unit: str) -> str:
    """Write least and greatest of a margin along a curve: "5.7–8.7 m".

    >>> import numpy as np
    >>> along(np.array([5.77, np.nan, 8.66]), "m"), along(np.array([7.0, 7.0]), "m")
    ('5.7–8.7 m', '7 m')
    """
    known = values_m[abs(values_m) < math.inf]
    if known.size == 0:
        return "not known"
    least, greatest_m = float(known.min()), float(known.max())
    ends = words.down(least, unit), words.up(greatest_m, unit)
    if greatest_m - least < 0.005:
        return words.with_unit(words.stated(greatest_m, unit), unit)
    return f"{ends[0]}–{ends[1]} {unit}"

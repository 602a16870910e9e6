"""Units at the door: metres inside, feet only where people read and type.

Rounding for people is outward, so that a printed number never looks better
than the one it stands for: clearances down, heights against a ceiling up.

>>> text_down(29.96), text_up(120.04)
('29.9', '120.1')
"""

from __future__ import annotations

import math
from typing import Final

FOOT_M: Final = 0.3048
"""International foot, exact (yard and pound agreement of 1959)."""
US_SURVEY_FOOT_M: Final = 1200 / 3937
"""US survey foot, exact (Mendenhall order of 1893)."""
METRES_PER_UNIT: Final = {"m": 1.0, "ft": FOOT_M}


def in_unit(value_m: float, unit: str) -> float:
    """Return metres as `unit` ("m" or "ft")."""
    return value_m / METRES_PER_UNIT[unit]


def text_down(value: float, *, digits: int = 1) -> str:
    """Write `value` rounded down: for clearances. NaN becomes "not assessed"."""
    return _text(value, math.floor, digits)


def text_up(value: float, *, digits: int = 1) -> str:
    """Write `value` rounded up: for heights against a ceiling, and for what is missing."""
    return _text(value, math.ceil, digits)


def _text(value: float, toward: object, digits: int) -> str:
    if not math.isfinite(value):
        return "not assessed"
    scale = 10.0**digits
    # 1e-6 of slack keeps 30.0 (held as 29.9999999997) from printing as 29.9.
    slack = 1e-6 if toward is math.floor else -1e-6
    rounded = toward((value + slack) * scale) / scale  # type: ignore[operator]
    return f"{rounded + 0.0:.{digits}f}"

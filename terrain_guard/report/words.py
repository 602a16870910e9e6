"""Numbers, places and states as people read them: one spelling for every output.

Rounding is outward (see `terrain_guard.units`): clearances down, heights up,
stretches wider. What is not finite was not assessed and is never a number.
"""

from __future__ import annotations

import math
from collections.abc import Mapping
from types import MappingProxyType
from typing import Final

from terrain_guard.states import State
from terrain_guard.units import in_unit, text_down, text_up

NOT_ASSESSED_SHORT: Final = "n/a"
"""Stands in a narrow column for a height that was not assessed."""

STATE_WORDS: Final[Mapping[State, str]] = MappingProxyType(
    {
        State.WITHIN: "within",
        State.TIGHT: "TIGHT",
        State.NOT_ASSESSED: "NOT ASSESSED",
        State.BREACH: "BREACH",
    }
)
"""States for print: whatever needs a look is in capitals, so no colour is needed."""


def down(value_m: float, unit: str, *, digits: int = 1) -> str:
    """Write metres in `unit`, rounded down: for clearances.

    >>> down(29.96, "m"), down(30.0, "ft"), down(math.nan, "m")
    ('29.9', '98.4', 'n/a')
    """
    if not math.isfinite(value_m):
        return NOT_ASSESSED_SHORT
    return text_down(in_unit(value_m, unit), digits=digits)


def up(value_m: float, unit: str, *, digits: int = 1) -> str:
    """Write metres in `unit`, rounded up: for heights against a ceiling, and for lengths.

    >>> up(120.04, "m"), up(120.0, "ft"), up(math.nan, "m")
    ('120.1', '393.8', 'n/a')
    """
    if not math.isfinite(value_m):
        return NOT_ASSESSED_SHORT
    return text_up(in_unit(value_m, unit), digits=digits)


def stated(value_m: float, unit: str, *, digits: int = 2) -> str:
    """Write a value that somebody stated: to the nearest, no idle zeros.

    >>> stated(120.0, "m"), stated(30.48, "ft"), stated(30.0, "ft")
    ('120', '100', '98.43')
    """
    if not math.isfinite(value_m):
        return NOT_ASSESSED_SHORT
    text = f"{round(in_unit(value_m, unit), digits) + 0.0:.{digits}f}"
    return text.rstrip("0").rstrip(".") if "." in text else text


def nearest(value_m: float, unit: str) -> str:
    """Write an elevation to the nearest tenth: it is neither a clearance nor a height allowed.

    >>> nearest(212.04, "m"), nearest(math.nan, "m")
    ('212.0', 'n/a')
    """
    if not math.isfinite(value_m):
        return NOT_ASSESSED_SHORT
    return f"{round(in_unit(value_m, unit), 1) + 0.0:.1f}"


def with_unit(text: str, unit: str) -> str:
    """Put the unit behind a number; what is not a number is spelt out.

    >>> with_unit("29.9", "m"), with_unit("n/a", "m")
    ('29.9 m', 'not assessed')
    """
    return "not assessed" if text == NOT_ASSESSED_SHORT else f"{text} {unit}"


def where(along_m: float, unit: str) -> str:
    """Write a distance along the route to the nearest whole unit."""
    if not math.isfinite(along_m):
        return NOT_ASSESSED_SHORT
    return f"{in_unit(along_m, unit) + 0.0:.0f}"


def stretch(from_m: float, to_m: float, unit: str) -> str:
    """Write a stretch of the route, widened to whole units.

    >>> stretch(380.2, 519.1, "m")
    '380-520 m'
    """
    return f"{down(from_m, unit, digits=0)}-{up(to_m, unit, digits=0)} {unit}"


def place(lat_deg: float, lon_deg: float) -> str:
    """Write a spot on the map to a tenth of a metre.

    >>> place(47.3124, -28.4051)
    '47.312400 N 28.405100 W'
    """
    if not (math.isfinite(lat_deg) and math.isfinite(lon_deg)):
        return "place not known"
    north_south = "N" if lat_deg >= 0 else "S"
    east_west = "E" if lon_deg >= 0 else "W"
    return f"{abs(lat_deg):.6f} {north_south} {abs(lon_deg):.6f} {east_west}"


def after_lift_off(time_s: float) -> str:
    """Write a time of flight, rounded down: the call should come early, not late.

    >>> after_lift_off(107.4)
    '1 min 47 s after lift-off'
    """
    if not math.isfinite(time_s):
        return "time not known"
    minutes, seconds = divmod(math.floor(time_s), 60)
    return f"{minutes} min {seconds:02d} s after lift-off"


def clean(text: str) -> str:
    """Replace what a terminal would obey instead of print (escapes, line breaks).

    >>> clean("gate" + chr(27) + "[2J")
    'gate?[2J'
    """
    return "".join(character if character.isprintable() else "?" for character in text)

"""Ways home, actions and stretches of a flight in a pilot's words."""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from types import MappingProxyType
from typing import TYPE_CHECKING, Final

from terrain_guard.report import words

if TYPE_CHECKING:
    from terrain_guard.assessment import Span

PATHS: Final[Mapping[str, str]] = MappingProxyType(
    {
        "climb-first": "climbing first",
        "climb-on-the-way": "climbing on the way",
        "slanting": "slanting straight down",
        "level": "level as it flies",
    }
)
MOST_SPANS: Final = 4


def action_name(go_to: str, then: str) -> str:
    """Name what the aircraft does once its link is lost.

    >>> action_name("launch", "land"), action_name("here", "wait")
    ('come home and land', 'wait there until it comes home or lands')
    """
    if go_to == "onward":
        return "fly on to the end"
    if go_to == "here":
        return "land there" if then == "land" else "wait there until it comes home or lands"
    return "come home and land" if then == "land" else "come home and wait"


def spans_text(spans: Sequence[Span], unit: str, *, clock: bool = False) -> str:
    """Write stretches of the flight, the longest of many.

    >>> from terrain_guard.assessment import Span
    >>> spans_text([Span(from_m=380.2, to_m=519.1, from_s=63.4, to_s=86.6)], "m", clock=True)
    '380-520 m (1:03 to 1:27)'
    """
    shown = sorted(spans, key=lambda one: one.from_m - one.to_m)[:MOST_SPANS]
    shown.sort(key=lambda one: one.from_m)
    parts = [
        words.stretch(one.from_m, one.to_m, unit)
        + (f" ({_clock(one.from_s)} to {_clock(one.to_s, up=True)})" if clock else "")
        for one in shown
    ]
    more = len(spans) - len(shown)
    return ", ".join(parts) + (f" and {more} shorter" if more else "")


def _clock(time_s: float, *, up: bool = False) -> str:
    """Write minutes:seconds, rounded outward."""
    whole = math.ceil(time_s) if up else math.floor(time_s)
    minutes, seconds = divmod(whole, 60)
    return f"{minutes}:{seconds:02d}"

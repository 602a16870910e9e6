"""The way a worst metre was flown, in a pilot's words instead of the program's.

A way is named by five words (turn, height in the corner, climb, way out, way
home); of these only some have to do with a leg, and only some are in doubt.
"""

from __future__ import annotations

from collections.abc import Sequence
from types import MappingProxyType
from typing import Final

TURNS: Final = MappingProxyType(
    {
        "fly-by": "corners rounded before the waypoint",
        "fly-over": "turns begun over the waypoint",
        "smooth": "one smooth curve through the waypoints",
        "stop": "stopping at every waypoint",
        "cut-corner": "corner cut",
    }
)
CORNERS: Final = MappingProxyType(
    {
        "mid-arc": "typed height reached in mid-corner",
        "straight": "height going straight across the corner",
    }
)
CLIMBS: Final = MappingProxyType(
    {
        "linear": "climbing or descending steadily along the leg",
        "early": "climbing or descending early in the leg",
        "late": "climbing or descending late in the leg",
        "smooth": "height as a smooth curve, which overshoots",
    }
)
SHORT: Final = "falling short of typed heights its rates cannot reach"
OUT: Final = MappingProxyType(
    {
        "vertical": "straight up first",
        "step": "up to take-off height, then on",
        "slanting": "slanting from launch to the first waypoint",
    }
)
HOME: Final = MappingProxyType(
    {
        "climb-first": "climbing first, then home",
        "climb-on-the-way": "climbing on the way home",
        "slanting": "slanting down to the spot",
        "level": "level, then down at the spot",
        "here": "straight down where it is",
    }
)


def flown(curve: str, leg: int, curves: Sequence[str], *, last_leg: int) -> str:
    """Say how a leg is flown on a curve, where the curves differ in it; empty where they do not.

    Parameters
    ----------
    curve : str
        Its name: five words joined by a stroke.
    curves : sequence of str
        All that are flown.

    Examples
    --------
    >>> both = ("fly-by/mid-arc/linear/vertical/level", "fly-by/mid-arc/late/vertical/level")
    >>> flown(both[1], 3, both, last_leg=9)
    'climbing or descending late in the leg'
    >>> flown(both[1], 0, both, last_leg=9)
    ''
    """
    words, told = curve.split("/"), [name.split("/") for name in curves]
    if len(words) < 5 or not all(len(one) >= 5 for one in told):
        return curve if len(curves) > 1 else ""
    asked = (3,) if leg == 0 else (4,) if leg == last_leg else (2, 0, 1)
    said = [
        _said(k, words) for k in asked if len({one[k] for one in told}) > 1 and _matters(k, words)
    ]
    return ", ".join([*said, *words[5:]])


def whole(curve: str) -> str:
    """Say how a whole route is flown on a curve."""
    words = curve.split("/")
    if len(words) < 5:
        return curve
    order = (3, 2, 0, 1, 4)
    return "; ".join(_said(k, words) for k in order if _matters(k, words))


def _matters(k: int, words: Sequence[str]) -> bool:
    return k != 1 or words[0] in {"fly-by", "cut-corner"}


def _said(k: int, words: Sequence[str]) -> str:
    base = words[k].removesuffix("-short")
    said = (TURNS, CORNERS, CLIMBS, OUT, HOME)[k].get(base, base)
    return said if base == words[k] else f"{said}, {SHORT}"

"""Numbers as people and programs write them in text: read exactly, or not at all.

Angles in degrees and minutes, or with a letter for the hemisphere, are never
read as a number; the refusal says which decimal value they would be.
"""

from __future__ import annotations

import re
from decimal import Decimal
from typing import Final

_NUMBER: Final = re.compile(r"[+-]?(?:\d+(?:\.\d*)?|\.\d+)(?:[eE][+-]?\d+)?", re.ASCII)
_LETTERS: Final = {"N": ("lat", 1), "S": ("lat", -1), "E": ("lon", 1), "W": ("lon", -1)}
_PART: Final = re.compile(r"\d+(?:[.,]\d+)?", re.ASCII)
_BETWEEN: Final = re.compile(r"[\s:°º'’′\"”″]*", re.ASCII)
_LONGEST: Final = 400  # the least number of all, without an exponent, has 326 digits


def number_of(text: str) -> float | None:
    """Return a plain decimal number; None for anything else.

    >>> number_of("-28.4051"), number_of("1e-3"), number_of("28.4 W"), number_of("nan")
    (-28.4051, 0.001, None, None)
    """
    text = text.strip()
    return float(text) if len(text) <= _LONGEST and _NUMBER.fullmatch(text) else None


def with_point(text: str) -> str:
    """Return a number that has a decimal comma with a point; other text as it is.

    >>> with_point("47,3124"), with_point("1,234.5"), with_point("1,2,3")
    ('47.3124', '1,234.5', '1,2,3')
    """
    return text.replace(",", ".") if text.count(",") == 1 and "." not in text else text


def exact_text(value: float) -> str:
    """Write a number so that it reads back the same, without an exponent.

    >>> exact_text(60), exact_text(1e-07), exact_text(47.3124)
    ('60', '0.0000001', '47.3124')
    """
    text = f"{Decimal(repr(value)):f}"
    return text.removesuffix(".0")


def degrees_meant(text: str, *, axis: str) -> float | None:
    r"""Return the decimal degrees that an angle written otherwise would be.

    Parameters
    ----------
    text : str
        Such as 47°18'44.6"N, W 28 24.306 or 28.4051W.
    axis : str
        "lat" or "lon": a letter must belong to it.

    Returns
    -------
    float or None
        North and east positive; None unless the text can mean only one angle.

    >>> degrees_meant("47°18'44.64\"N", axis="lat"), degrees_meant("28.4051W", axis="lon")
    (47.3124, -28.4051)
    >>> degrees_meant("28.4051W", axis="lat"), degrees_meant("47 75", axis="lat")
    (None, None)
    """
    text = text.strip().replace("\N{MINUS SIGN}", "-").upper()
    letter = next((one for one in (text[:1], text[-1:]) if one in _LETTERS), "")
    sign = -1 if "-" in text else 1
    rest = text.strip(letter).lstrip(" +-").lower()
    if letter and (_LETTERS[letter][0] != axis or "-" in text or "+" in text):
        return None
    parts = [with_point(part) for part in _PART.findall(rest)]
    if not _fits(parts, rest):
        return None
    degrees = sum(float(part) / 60**place for place, part in enumerate(parts))
    degrees *= _LETTERS[letter][1] if letter else sign
    return round(degrees, 9) if abs(degrees) <= (90 if axis == "lat" else 180) else None


def _fits(parts: list[str], rest: str) -> bool:
    """Return whether these are degrees, minutes and seconds with nothing else between."""
    return (
        len(rest) <= _LONGEST
        and 1 <= len(parts) <= 3
        and all(_BETWEEN.fullmatch(between) for between in _PART.split(rest))
        and all(float(part) < 60 for part in parts[1:])
        and not any("." in part for part in parts[:-1])
    )

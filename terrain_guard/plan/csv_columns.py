"""Which column of a CSV file holds what: by its header, or as it is told.

>>> meaning_of("height_m")
HeightColumn(unit='m', counts_from=None)
>>> meaning_of("Above launch (ft)")
HeightColumn(unit='ft', counts_from='launch')
>>> meaning_of("ground_elevation_m") is None  # the ground's, not the aircraft's
True
"""

from __future__ import annotations

import re
from dataclasses import dataclass
from typing import TYPE_CHECKING, Final

from terrain_guard.plan.reading import listed, shown

if TYPE_CHECKING:
    from collections.abc import Mapping, Sequence

    from terrain_guard.plan.reading import Faults
    from terrain_guard.plan.told import Told

_PLACE_WORDS: Final[Mapping[str, frozenset[str]]] = {
    "lat": frozenset({"lat", "latitude"}),
    "lon": frozenset({"lon", "lng", "long", "longitude"}),
}
_ANGLE_WORDS: Final = frozenset({"deg", "degree", "degrees", "decimal", "dd", "wgs", "wgs84", "84"})
_HEIGHT_WORDS: Final = frozenset({"height", "alt", "altitude", "ele", "elev", "elevation"})
_UNITS: Final[Mapping[str, str]] = {
    **dict.fromkeys(("m", "meter", "meters", "metre", "metres"), "m"),
    **dict.fromkeys(("ft", "foot", "feet"), "ft"),
}
_COUNTS_FROM: Final[Mapping[str, str]] = {
    "above launch": "launch",
    "above takeoff": "launch",
    "above take off": "launch",
    "above ground": "ground",
    "above ground level": "ground",
    "agl": "ground",
    "above sea level": "sea-level",
    "above mean sea level": "sea-level",
    "amsl": "sea-level",
    "msl": "sea-level",
    "above ellipsoid": "ellipsoid",
    "ellipsoidal": "ellipsoid",
}
_AS_THEY_ARE: Final = ("name", "speed_m_per_s", "wait_s", "turn")
"""Headers that mean the key of a waypoint that is called so."""


@dataclass(frozen=True, slots=True)
class HeightColumn:
    """What the header of a column of heights says."""

    unit: str | None
    counts_from: str | None  # launch | ground | sea-level | ellipsoid


@dataclass(frozen=True, slots=True, kw_only=True)
class Columns:
    """Where each key of a waypoint stands."""

    index: Mapping[str, int]  # by key: lat, lon, height, name and what else is there
    height: HeightColumn
    headers: Sequence[str]

    @property
    def unused(self) -> tuple[str, ...]:
        """The headers of the columns that play no part."""
        return tuple(
            f"column {shown(header)}"
            for number, header in enumerate(self.headers)
            if header and number not in self.index.values()
        )


def meaning_of(header: str, *, told: bool = False) -> HeightColumn | None:
    """Return what a header says about heights; None if it is no column of heights.

    Parameters
    ----------
    header : str
        As in the file.
    told : bool
        Whether it is known to be one: words that mean nothing here are then passed over.
    """
    words = _words(header)
    unit = next((_UNITS[word] for word in words if word in _UNITS), None)
    text = " ".join(word for word in words if word not in _UNITS and word not in {"the", "in"})
    phrase = max((p for p in _COUNTS_FROM if re.search(rf"\b{p}\b", text)), key=len, default="")
    rest = set(re.sub(rf"\b{phrase}\b", "", text).split()) if phrase else set(text.split())
    if not told and (rest - _HEIGHT_WORDS or not (rest or phrase)):
        return None
    return HeightColumn(unit, _COUNTS_FROM.get(phrase))


def find_columns(headers: Sequence[str], *, told: Told, faults: Faults) -> Columns:
    """Find the columns of a CSV file.

    Parameters
    ----------
    headers : sequence of str
        Its first line.
    told : Told
        May name columns by their headers.
    faults : Faults
        Grows by columns that are missing, or that could be more than one.

    Returns
    -------
    Columns
        `height` may be absent from it.
    """
    candidates = {
        **{name: _places(headers, words) for name, words in _PLACE_WORDS.items()},
        **{name: _spelt(headers, name) for name in _AS_THEY_ARE},
        "height": [n for n, header in enumerate(headers) if meaning_of(header)],
    }
    for name, header in told.columns.items():
        candidates[name] = _spelt(headers, header)
        if not candidates[name]:
            remedy = f"write one of the headers: {_listed(headers)}"
            faults.add(
                "--columns", f"{name}={header}", rule="no column is headed so", remedy=remedy
            )
            candidates[name] = [0]  # stands in, so that the same column is not missed again
    if told.fly_at is not None:
        candidates.pop("height")
    index = {name: found[0] for name, found in candidates.items() if found}
    _add_doubtful(candidates, headers, faults)
    height = headers[index["height"]] if "height" in index else ""
    meaning = meaning_of(height, told=True) or HeightColumn(None, None)
    return Columns(index=index, height=meaning, headers=headers)


def _add_doubtful(
    candidates: Mapping[str, Sequence[int]], headers: Sequence[str], faults: Faults
) -> None:
    """Add a fault for each column that is missing, or found more than once."""
    for name, found in candidates.items():
        if not found and name in _PLACE_WORDS:
            faults.miss(
                f"column {name}",
                rule=f"none of the headers {_listed(headers)} is known to mean it",
                remedy=f"head it {name}, or give --columns {name}=HEADER",
            )
        elif len(found) > 1:
            faults.add(
                f"column {name}",
                [headers[number] for number in found],
                rule="one of them counts",
                remedy=f"give --columns {name}=HEADER",
            )


def _words(header: str) -> list[str]:
    return [word for word in re.split(r"[\W_]+", header.casefold()) if word]


def _places(headers: Sequence[str], words: frozenset[str]) -> list[int]:
    """Return the columns that are headed by one of the words, with or without its unit."""
    return [
        number
        for number, header in enumerate(headers)
        if len(rest := set(_words(header)) - _ANGLE_WORDS) == 1 and rest <= words
    ]


def _spelt(headers: Sequence[str], wanted: str) -> list[int]:
    return [n for n, header in enumerate(headers) if header.casefold() == wanted.casefold()]


def _listed(headers: Sequence[str]) -> str:
    more = ", …" if len(headers) > 20 else ""
    return (listed(shown(header)[1:-1] for header in headers[:20]) or "(none)") + more

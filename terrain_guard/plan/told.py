"""What the pilot tells apart from the file, where its format leaves something open.

KML, GPX and most spreadsheets do not say what their heights count from. Nothing
stands in for that: it is told here, by an option, or the file is refused.
"""

from __future__ import annotations

import re
from dataclasses import dataclass, field, replace
from typing import TYPE_CHECKING, Final

from terrain_guard.errors import RefusedInput
from terrain_guard.plan.draft import FORMAT_NAMES
from terrain_guard.plan.keys import Key
from terrain_guard.plan.reading import BadValueError, listed, read_value, shown
from terrain_guard.plan.schema import TABLES
from terrain_guard.units import METRES_PER_UNIT

if TYPE_CHECKING:
    from collections.abc import Iterator, Mapping

    from terrain_guard.plan.draft import Format
    from terrain_guard.plan.reading import Faults

_KEY: Final = TABLES[""].key("heights")
HEIGHTS: Final = _KEY.built if _KEY else ()
UNITS: Final = tuple(METRES_PER_UNIT)
NAMED: Final = ("lat", "lon", "height", "name")
"""The columns of a CSV file that may be named."""
_HEIGHT: Final = TABLES["way_home"].key("height") or Key(name="height", kind="height", meaning="")


@dataclass(frozen=True, slots=True, kw_only=True)
class Told:
    """What is told apart from a route file; None where nothing is.

    Frozen, because it is judged once, when it is made.

    Parameters
    ----------
    heights : str, optional
        What waypoint heights count from, as in the route file.
    height_unit : str, optional
        Their unit, "m" or "ft", where the file does not say it.
    fly_at : tuple of float and str, optional
        One height for every waypoint, with its unit; the file's own play no part then.
    columns : mapping of str to str
        Headers of a CSV file for `NAMED`.
    take : str, optional
        Which line of a KML or GPX file is the route: its number or name, or "points".

    Raises
    ------
    RefusedInput
        With every fault at once.
    """

    heights: str | None = None
    height_unit: str | None = None
    fly_at: tuple[float, str] | None = None
    columns: Mapping[str, str] = field(default_factory=dict)
    take: str | None = None

    def __post_init__(self) -> None:
        """Refuse what no file could be read by."""
        faults = [
            *_not_among("--heights", self.heights, HEIGHTS),
            *_not_among("--height-unit", self.height_unit, UNITS),
            *_bad_height(self.fly_at),
            *(fault for name in self.columns for fault in _not_among("--columns", name, NAMED)),
        ]
        if faults:
            raise RefusedInput(*faults)

    @property
    def options(self) -> tuple[str, ...]:
        """The options that are used, as they are spelt on the command line."""
        used = {
            "--heights": self.heights,
            "--height-unit": self.height_unit,
            "--fly-at": self.fly_at,
            "--columns": self.columns or None,
            "--take": self.take,
        }
        return tuple(name for name, value in used.items() if value is not None)


def without_idle(told: Told, idle: set[str], *, format_: Format, faults: Faults) -> Told:
    """Add a fault for each option in use that plays no part with a format; return the others.

    >>> from terrain_guard.plan.reading import Faults
    >>> faults = Faults("a.csv")
    >>> without_idle(Told(take="1"), {"--take"}, format_="csv", faults=faults).take
    >>> faults.sentences
    ['a.csv: --take: plays no part with a CSV file; leave it away.']
    """
    used = [option for option in told.options if option in idle]
    for option in used:
        faults.say(f"{option}: plays no part with a {FORMAT_NAMES[format_]}; leave it away")
    bare = Told()
    names = [option.removeprefix("--").replace("-", "_") for option in used]
    return replace(told, **{name: getattr(bare, name) for name in names})


def height_of(text: str) -> tuple[float, str]:
    """Read a height with its unit.

    Raises
    ------
    RefusedInput
        It is no number followed by m or ft.

    >>> height_of("60m"), height_of("200 ft")
    ((60.0, 'm'), (200.0, 'ft'))
    """
    found = re.fullmatch(r"\s*([+-]?\d+(?:\.\d+)?)\s*(m|ft)\s*", text, re.ASCII)
    if found is None:
        message = (
            f"--fly-at: given {shown(text)}, but it must be a height and its unit; "
            f"write 60m or 200ft."
        )
        raise RefusedInput(message)
    return float(found[1]), found[2]


def columns_of(text: str) -> dict[str, str]:
    """Read the headers of a CSV file's columns.

    Raises
    ------
    RefusedInput
        It is not a list of NAME=HEADER with commas between, or names a column twice.

    >>> columns_of("lat=Y,lon=X,height=H (m)")
    {'lat': 'Y', 'lon': 'X', 'height': 'H (m)'}
    """
    # A comma belongs to the header unless a word and = follow it.
    parts = [part.partition("=") for part in re.split(r",(?=\s*\w+\s*=)", text)]
    pairs = [(name.strip(), header.strip()) for name, _, header in parts]
    columns = dict(pairs)
    if len(columns) < len(pairs) or not all(name and header for name, header in pairs):
        message = (
            f"--columns: given {shown(text)}, but it must say once each which header means what; "
            f"write for example lat=LATITUDE,lon=LONGITUDE,height=HEIGHT."
        )
        raise RefusedInput(message)
    return columns


def _not_among(option: str, given: str | None, choices: tuple[str, ...]) -> Iterator[str]:
    if given is not None and given not in choices:
        yield (
            f"{option}: given {shown(given)}, but it must be {listed(choices)}; write one of these."
        )


def _bad_height(fly_at: tuple[float, str] | None) -> Iterator[str]:
    if fly_at is None:
        return
    value, unit = fly_at
    yield from _not_among("--fly-at", unit, UNITS)
    try:
        read_value(_HEIGHT, value, unit=unit if unit in UNITS else None)
    except BadValueError as bad:
        yield f"--fly-at: given {shown(value)}, but {bad.rule}; write for example 60m."


NOTHING_TOLD: Final = Told()
"""For files that say everything themselves."""

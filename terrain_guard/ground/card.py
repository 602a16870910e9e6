"""The model card: what an elevation model does not say of itself.

A card is a TOML file, ``NAME.tif.toml`` beside ``NAME.tif``; ``tiles.toml`` beside
the folder ``tiles`` speaks for every tile in it, and a tile's own card goes before
it, key by key::

    kind = "ground"              # ground: bare earth; surface: with trees and roofs
    vertical_datum = "EPSG:3855"
    height_unit = "m"            # m | ft | us-ft
    survey_date = "2024-06"      # a day, a month or a year
    sigma_m = 0.15
    canopy_m = 25
    absent_is_sea = true
    priority = 1                 # where tiles overlap the higher counts

Every key may be left out; what is not said stays unknown.
"""

from __future__ import annotations

import os.path
import re
from calendar import monthrange
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from datetime import date
from functools import lru_cache
from pathlib import Path
from typing import TYPE_CHECKING, Any, Final, TypeAlias

import pyproj

from terrain_guard.errors import RefusedTerrain
from terrain_guard.ground.files import card_files
from terrain_guard.plan.keys import Key, Table, choice, number, text
from terrain_guard.plan.reading import BadValueError, Faults, Values, listed, read_table
from terrain_guard.plan.rules_schema import RULES
from terrain_guard.plan.schema import ROUTE
from terrain_guard.plan.toml_file import read_toml
from terrain_guard.plan.unknown_keys import add_unknown_keys

if TYPE_CHECKING:
    from terrain_guard.plan.keys import Value

CARD: Final = Table(
    name="",
    meaning="The elevation model",
    keys=(
        choice("kind", "what the model shows", ("ground", "surface")),
        text("vertical_datum", "what its heights count from", example="EPSG:3855"),
        choice("height_unit", "the unit of its heights", ("m", "ft", "us-ft")),
        Key(
            name="survey_date",
            kind="date",
            meaning="when it was surveyed",
            low=1900,
            high=9999,
            example="2024-06",
        ),
        number("sigma_m", "one sigma of its heights", "m", 0.001, 100, example=0.15),
        number("canopy_m", "how high trees may stand above it", "m", 0, 100, example=25),
        Key(
            name="absent_is_sea",
            kind="flag",
            meaning="whether the sea lies where no tile is",
            example=True,
        ),
        Key(
            name="priority",
            kind="whole",
            meaning="which tile counts where several lie",
            low=-1_000_000,
            high=1_000_000,
            example=1,
        ),
    ),
)
"""Every key of a card, in the order of the text above."""

KEYS: Final = tuple(key.name for key in CARD.keys)
_OTHER_TABLES: Final = frozenset(table.name for table in (*ROUTE, *RULES) if table.name)
_NOWHERE_ELSE: Final = frozenset(KEYS) - {
    key.name for table in (*ROUTE, *RULES) if not table.name for key in table.keys
}
_SYSTEM_REMEDY: Final = (
    "write an EPSG code such as 'EPSG:3855' or a full name such as 'EGM2008 height'; "
    "'EPSG:4979' is the WGS 84 ellipsoid"
)

Said: TypeAlias = "dict[str, tuple[Value, str]]"
"""What is said under each key, and the name of the file that says it."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Card:
    """What is said of one elevation model beside it; None where nothing is.

    Frozen, because the description of a raster carries it as one more fact.
    """

    kind: str | None = None  # ground | surface
    vertical_datum: str | None = None  # as written
    height_unit: str | None = None  # m | ft | us-ft
    survey_date: str | None = None  # "2019", "2019-10" or "2019-10-05"
    sigma_m: float | None = None  # one sigma, vertical
    canopy_m: float | None = None
    absent_is_sea: bool = False
    priority: int = 0
    said_in: Mapping[str, str] = field(default_factory=dict)  # key to the name of a file

    @property
    def file(self) -> str | None:
        """The name of the file that says it; of two, the one that goes before first."""
        names = tuple(dict.fromkeys(self.said_in.values()))
        return " and ".join(names) if names else None


NO_CARD: Final = Card()
"""Of a model beside which nothing is said."""


def read_cards(models: Sequence[Path], *, today: date) -> tuple[Card, ...]:
    """Read what is said beside each elevation model.

    Parameters
    ----------
    models : sequence of Path
        Rasters, not their cards.
    today : date
        No survey is later.

    Raises
    ------
    RefusedTerrain
        With every fault of every card: unreadable, unknown keys, wrong types, out of range,
        no vertical system, a survey to come.
    """
    reader = _Reader(today)
    cards = tuple(reader.card(model) for model in models)
    if reader.faults:
        raise RefusedTerrain(*reader.faults)
    return cards


class _Reader:
    """Reads cards, one of a folder only once, and collects their faults."""

    def __init__(self, today: date) -> None:
        self.today = today
        self.faults: list[str] = []
        self._folders: dict[Path, Said] = {}

    def card(self, model: Path) -> Card:
        own, folder = card_files(model)
        if folder not in self._folders:
            self._folders[folder] = self._said(folder, of_folder=True)
        said = self._said(own)
        said |= {name: one for name, one in self._folders[folder].items() if name not in said}
        values: dict[str, Any] = {name: value for name, (value, _) in said.items()}
        return Card(**values, said_in={name: file for name, (_, file) in said.items()})

    def _said(self, path: Path, *, of_folder: bool = False) -> Said:
        """Return what one file says; nothing if it is not there."""
        if not os.path.lexists(path):
            return {}
        try:
            document = read_toml(
                path,
                what="model card",
                refuse=RefusedTerrain,
                remedy=f"write one of {', '.join(KEYS)}, or remove the file",
            )
        except RefusedTerrain as refused:
            self.faults += refused.faults
            return {}
        if of_folder and _is_route_or_rules(document.content):
            return {}
        faults = Faults(document.file)
        values = _read(document.content, faults=faults, today=self.today)
        self.faults += faults.sentences
        return {name: (value, document.file) for name, value in values.items()}


def _is_route_or_rules(content: Mapping[str, Any]) -> bool:
    """Return whether a file that is named like a folder's card is one of the pilot's others.

    The route ``site.toml`` may well stand beside its terrain in ``site/``.
    """
    return bool(_OTHER_TABLES & content.keys()) and not _NOWHERE_ELSE & content.keys()


def _read(content: Mapping[str, Any], *, faults: Faults, today: date) -> Values:
    otherwise = f"remove it; a model card holds {', '.join(KEYS)}"
    add_unknown_keys(KEYS, content, where="", elsewhere={}, faults=faults, otherwise=otherwise)
    values = read_table(CARD, content, where="", unit=None, faults=faults)
    if "vertical_datum" in values:
        try:
            vertical_system(str(values["vertical_datum"]))
        except BadValueError as bad:
            given = values["vertical_datum"]
            faults.add("vertical_datum", given, rule=bad.rule, remedy=bad.remedy)
    if "survey_date" in values and first_day(str(values["survey_date"])) > today:
        rule = f"no survey is later than today, {today.isoformat()}"
        faults.add("survey_date", values["survey_date"], rule=rule, remedy="correct the date")
    return values


@lru_cache(maxsize=64)
def vertical_system(name: str) -> pyproj.CRS:
    """Return the vertical system of a code or a name; one of three axes if ellipsoidal.

    Raises
    ------
    BadValueError
        PROJ knows none of that very name, or it counts downward.

    >>> vertical_system("EPSG:3855").name, vertical_system("egm2008 height").to_epsg()
    ('EGM2008 height', 3855)
    """
    try:
        crs = pyproj.CRS.from_user_input(name)
    except pyproj.exceptions.CRSError as error:
        rule = "PROJ knows no vertical reference system of that name"
        raise BadValueError(rule, _SYSTEM_REMEDY) from error
    axes = len(crs.axis_info)
    if crs.is_compound or axes != (3 if crs.is_geographic else 1):
        rule = f"{crs.name} is no system of heights alone"
        raise BadValueError(rule, _SYSTEM_REMEDY)
    if crs.axis_info[-1].direction != "up":
        rule = f"{crs.name} counts downward"
        raise BadValueError(rule, "convert the model to heights counted upward")
    is_code = re.fullmatch(r"\w+:\d+", name, re.ASCII)
    if not is_code and name.casefold() != crs.name.casefold():
        rule = "PROJ knows no vertical reference system of that very name"
        raise BadValueError(rule, f"write {listed([crs.name])} if that is meant")
    return crs


def first_day(text: str) -> date:
    """Return the earliest day that a day, month or year may mean.

    >>> first_day("2019"), first_day("2019-10-05")
    (datetime.date(2019, 1, 1), datetime.date(2019, 10, 5))
    """
    return date.fromisoformat(f"{text}-01-01"[:10])


def last_day(text: str) -> date:
    """Return the latest day that a day, month or year may mean.

    >>> last_day("2020-02"), last_day("2019")
    (datetime.date(2020, 2, 29), datetime.date(2019, 12, 31))
    """
    year, *rest = map(int, text.split("-"))
    month, *days = rest or [12]
    return date(year, month, days[0] if days else monthrange(year, month)[1])

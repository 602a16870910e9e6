"""One key of a file, as data: what it may hold, in which unit, what stands in for it.

>>> bank = number("bank_deg", "the bank in turns", "deg", 1, 80, default=25)
>>> bank.attribute, bank.example_line()
('bank_deg', 'bank_deg = 25')
>>> height("height", "the height", -3000, 3000).attribute
'height_m'
"""

from __future__ import annotations

import json
from dataclasses import dataclass, field
from typing import TYPE_CHECKING, Literal, TypeAlias, TypedDict, Unpack

if TYPE_CHECKING:
    from collections.abc import Mapping

Kind: TypeAlias = Literal[
    "number", "height", "text", "choice", "reference", "span", "words", "flag", "whole", "date"
]
"""What a key holds: a number; a height in the file's own unit; text; one of `choices`; one of
`choices` or a name given elsewhere; one number or a [least, most] pair; a list of `choices`;
true or false; a whole number; a day, month or year (`low` and `high` are years)."""

Value: TypeAlias = float | str | tuple[float, float] | tuple[str, ...]
"""A value that was read: numbers as float, heights as metres, lists as tuples, dates as text."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Key:
    """What one key means and may hold.

    Frozen, because reader, validation and template all take it as the one truth.

    Parameters
    ----------
    name : str
        As written in the file.
    kind : Kind
        What it holds.
    meaning : str
        A noun phrase that can follow "write".
    unit : str
        Of `low`, `high` and `default`. Heights are bounded in m here, whatever the file's unit.
    low, high : float
        Least and greatest value, both allowed, both finite.
    choices : tuple of str
        Every word the key may hold, built or not.
    not_built : mapping of str to str
        Words that are understood but refused for now, each with the reason.
    default : Value or None
        What stands in when the key is absent; None where nothing may.
    example : Value or None
        For messages and the template; the default, or the least, where not given.
    required : bool
        Whether its absence is a fault.
    why : str
        What its absence breaks, where it is required.
    used : bool
        Whether any computation takes it yet; if not, it is checked and named.
    carried_as : str
        Its name in the dataclass that carries it, where that is not `attribute`'s guess.
    """

    name: str
    kind: Kind
    meaning: str
    unit: str = ""
    low: float = 0.0
    high: float = 0.0
    choices: tuple[str, ...] = ()
    not_built: Mapping[str, str] = field(default_factory=dict)
    default: Value | None = None
    example: Value | None = None
    required: bool = False
    why: str = "it is required"
    used: bool = True
    carried_as: str = ""

    @property
    def attribute(self) -> str:
        """Its name in the dataclass that carries it: heights are metres there."""
        return self.carried_as or (f"{self.name}_m" if self.kind == "height" else self.name)

    @property
    def built(self) -> tuple[str, ...]:
        """The choices that are not refused."""
        return tuple(word for word in self.choices if word not in self.not_built)

    def example_line(self) -> str:
        """Return the key with a value that is accepted, as a line of TOML."""
        candidates = (self.example, self.default, *self.built, self.low)
        shown = next(value for value in candidates if value is not None)
        if self.kind == "words":
            shown = (str(shown),)
        return f"{self.name} = {toml_literal(shown)}"


class More(TypedDict, total=False):
    """What the short forms below pass on to `Key`."""

    not_built: Mapping[str, str]
    default: Value
    example: Value
    required: bool
    why: str
    used: bool
    carried_as: str


def number(
    name: str, meaning: str, unit: str, low: float, high: float, **more: Unpack[More]
) -> Key:
    """Return a key that holds one number from `low` to `high`."""
    return Key(name=name, kind="number", meaning=meaning, unit=unit, low=low, high=high, **more)


def height(name: str, meaning: str, low: float, high: float, **more: Unpack[More]) -> Key:
    """Return a key that holds a height in the file's unit; bounds and default in metres."""
    return Key(name=name, kind="height", meaning=meaning, unit="m", low=low, high=high, **more)


def text(name: str, meaning: str, **more: Unpack[More]) -> Key:
    """Return a key that holds one line of text; `example` belongs to it."""
    return Key(name=name, kind="text", meaning=meaning, **more)


def choice(name: str, meaning: str, choices: tuple[str, ...], **more: Unpack[More]) -> Key:
    """Return a key that holds one of `choices`."""
    return Key(name=name, kind="choice", meaning=meaning, choices=choices, **more)


@dataclass(frozen=True, slots=True, kw_only=True)
class Table:
    """The keys that stand under one header of a file.

    Parameters
    ----------
    name : str
        The header; empty for the top of the file.
    meaning : str
        One line, for the template.
    keys : tuple of Key
        In the order of the template.
    many : bool
        Whether it is written [[name]], once for each thing.
    required : bool
        Whether its required keys are looked for even if the header is absent.
    used : bool
        Whether any computation takes anything of it; if not, it is named as a whole.
    """

    name: str
    meaning: str
    keys: tuple[Key, ...]
    many: bool = False
    required: bool = False
    used: bool = True

    def dotted(self, key: Key) -> str:
        """Return the name of `key` behind its table's, as messages print it."""
        return f"{self.name}.{key.name}" if self.name else key.name

    def key(self, name: str) -> Key | None:
        """Return the key called `name`, or None."""
        return next((key for key in self.keys if key.name == name), None)


def toml_literal(value: Value) -> str:
    """Write a value as TOML.

    >>> toml_literal("gate"), toml_literal(10.0), toml_literal((1.0, 20.0)), toml_literal(True)
    ('"gate"', '10', '[1, 20]', 'true')
    """
    if isinstance(value, tuple):
        return "[" + ", ".join(toml_literal(item) for item in value) + "]"
    if isinstance(value, str):
        return json.dumps(value, ensure_ascii=False)
    if isinstance(value, bool):
        return str(value).lower()
    return number_text(value)


def number_text(value: float) -> str:
    """Write a number without a needless ".0".

    >>> number_text(-2000.0), number_text(47.3124)
    ('-2000', '47.3124')
    """
    return f"{value:.10g}"

"""From TOML values to checked values, by the schema; every fault becomes one sentence.

A fault is collected and reading goes on, so that one run lists all of them.
"""

from __future__ import annotations

import difflib
import re
import reprlib
from contextlib import suppress
from dataclasses import dataclass, field
from datetime import date, datetime
from typing import TYPE_CHECKING, Any, Final, TypeAlias

from terrain_guard.units import METRES_PER_UNIT

if TYPE_CHECKING:
    from collections.abc import Callable, Iterable, Mapping

    from terrain_guard.plan.keys import Key, Table, Value

Values: TypeAlias = "dict[str, Value]"
"""The keys of one table that are present and sound."""

_LONGEST_TEXT = 200
_SHORT = reprlib.Repr()
_SHORT.maxstring = _SHORT.maxother = 60
_SHORT.maxlevel = 2


class BadValueError(ValueError):
    """A value breaks the rule of its key: `rule` says which, `remedy` what to write."""

    def __init__(self, rule: str, remedy: str) -> None:
        super().__init__(f"{rule}; {remedy}")
        self.rule = rule
        self.remedy = remedy


@dataclass(slots=True)
class Faults:
    """The faults of one file, each as the sentence to print."""

    file: str
    sentences: list[str] = field(default_factory=list)
    places: Mapping[str, str] = field(default_factory=dict)  # "waypoint[3]" to "line 4"

    def add(self, where: str, given: object, *, rule: str, remedy: str) -> None:
        """Add a fault of a key that is present."""
        self.say(f"{where}: given {shown(given)}, but {rule}; {remedy}")

    def miss(self, where: str, *, rule: str, remedy: str) -> None:
        """Add a fault of something that is absent."""
        self.say(f"{where}: missing, but {rule}; {remedy}")

    def say(self, sentence: str) -> None:
        """Add a fault in words of its own, without the full stop."""
        self.sentences.append(f"{self.file}: {self._located(sentence)}.")

    def _located(self, sentence: str) -> str:
        """Put where the thing stands in the file behind its name, where that is known."""
        name = re.match(r"\w+\[\d+\]", sentence)
        place = self.places.get(name.group()) if name else None
        if place is None:
            return sentence
        where, colon, rest = sentence.partition(":")
        return f"{where} ({place}){colon}{rest}"


def read_table(
    table: Table, given: object, *, where: str, unit: str | None, faults: Faults
) -> Values:
    """Read one table by its schema.

    Parameters
    ----------
    table : Table
        The schema.
    given : object
        What TOML holds there.
    where : str
        The table's place in the file, for messages; empty at the top.
    unit : str or None
        What heights are typed in, "m" or "ft"; None where the file does not say, and then
        heights are only looked at for their type.
    faults : Faults
        Where faults go.

    Returns
    -------
    dict
        Each key that is present and sound; heights in metres.
    """
    if not isinstance(given, dict):
        faults.add(
            where, given, rule="it is a table", remedy=f"write [{table.name}] and its keys below it"
        )
        return {}
    values: Values = {}
    for key in table.keys:
        place = dotted(where, key.name)
        if key.name in given:
            try:
                values[key.name] = read_value(key, given[key.name], unit=unit)
            except BadValueError as bad:
                faults.add(place, given[key.name], rule=bad.rule, remedy=bad.remedy)
        elif key.required:
            faults.miss(place, rule=key.why, remedy=_for_example(key))
    return values


def read_value(key: Key, given: object, *, unit: str | None = "m") -> Value:
    """Read one value by its schema.

    Parameters
    ----------
    key : Key
        The schema.
    given : object
        The value as TOML, or as a caller gives it.
    unit : str or None
        What heights are typed in, as in `read_table`.

    Returns
    -------
    Value
        Numbers as float, heights in metres, lists as tuples.

    Raises
    ------
    BadValueError
        If the value breaks the key's rule.
    """
    return _READERS[key.kind](key, given, unit)


def shown(given: object) -> str:
    """Write a given value as Python would, shortened.

    >>> shown(True), shown("x" * 99)[:8]
    ('True', "'xxxxxxx")
    """
    try:
        return _SHORT.repr(given)
    except ValueError:  # integers of more than 4300 digits are not written out
        return "a number of thousands of digits"


def nearest(word: str, known: Iterable[str]) -> str | None:
    """Return the known word that looks most like `word`, or None.

    >>> nearest("heigth", ["height", "lat"]), nearest("zzz", ["height"])
    ('height', None)
    >>> nearest("speed", ["height", "speed_m_per_s"])
    'speed_m_per_s'
    """
    known = list(known)
    found = difflib.get_close_matches(word[:_LONGEST_TEXT], known, n=1)
    longer = [name for name in known if name.startswith(f"{word}_")]
    return next(iter(found + longer), None)


def dotted(where: str, name: str) -> str:
    """Return a key's full name, quoted where it is no plain word."""
    plain = name if re.fullmatch(r"[A-Za-z0-9_-]{1,60}", name) else shown(name)
    return f"{where}.{plain}" if where else plain


def _for_example(key: Key) -> str:
    if key.kind == "choice":
        return f"write {key.name} = {listed(key.built)}"
    return f"write {key.meaning}, for example {key.example_line()}"


def _read_number(key: Key, given: object, unit: str | None) -> float:
    # Without a unit, feet: the wider bounds. The missing unit is a fault of its own.
    metres = METRES_PER_UNIT[unit or "ft"] if key.kind == "height" else 1.0
    low, high = key.low / metres, key.high / metres
    # True is no number here. NaN fails the comparison, and a huge integer, which float()
    # would overflow on, fails it before that.
    number = None if isinstance(given, bool) else given
    if isinstance(number, int | float) and low <= number <= high:
        return float(number) * metres
    raise BadValueError(_number_rule(key, low, high, unit), _for_example(key))


def _number_rule(key: Key, low: float, high: float, unit: str | None) -> str:
    typed_in = unit if key.kind == "height" else key.unit
    if typed_in is None:
        return "it must be a finite number, in the unit that height_unit says"
    return f"it must be a number from {low:.6g} to {high:.6g} {typed_in}".rstrip()


def _read_text(key: Key, given: object, unit: str | None) -> str:
    del unit
    if (
        not isinstance(given, str)
        or not given.strip()
        or not given.isprintable()
        or len(given) > _LONGEST_TEXT
    ):
        rule = f"it must be one line of text, of 1 to {_LONGEST_TEXT} printable characters"
        raise BadValueError(rule, _for_example(key))
    return given.strip()


def _read_choice(key: Key, given: object, unit: str | None) -> str:
    del unit
    one_of = "write " + listed(key.built)
    if not isinstance(given, str) or given not in key.choices:
        like = nearest(given, key.built) if isinstance(given, str) else None
        hint = f"write {like!r} if that is meant" if like else one_of
        rule = f"it must be {listed(key.built)}"
        raise BadValueError(rule, hint)
    if given in key.not_built:
        raise BadValueError(key.not_built[given], one_of)
    return given


def _read_span(key: Key, given: object, unit: str | None) -> tuple[float, float]:
    rule = (
        f"it must be one number from {key.low:.6g} to {key.high:.6g} {key.unit}, "
        f"or a list of two such numbers, the lesser first"
    )
    pair = given if isinstance(given, list) else [given, given]
    try:
        ends = [_read_number(key, end, unit) for end in pair]
    except BadValueError as bad:
        raise BadValueError(rule, bad.remedy) from bad
    if len(ends) != 2 or ends[0] > ends[1]:
        raise BadValueError(rule, _for_example(key))
    return ends[0], ends[1]


def _read_words(key: Key, given: object, unit: str | None) -> tuple[str, ...]:
    del unit
    if not isinstance(given, list) or any(word not in key.choices for word in given):
        rule = f"it must be a list of {listed(key.choices)}"
        raise BadValueError(rule, _for_example(key))
    return tuple(given)


def _read_flag(key: Key, given: object, unit: str | None) -> bool:
    del unit
    if not isinstance(given, bool):
        rule = "it must be true or false, without quotes"
        raise BadValueError(rule, _for_example(key))
    return given


def _read_whole(key: Key, given: object, unit: str | None) -> int:
    del unit
    number = None if isinstance(given, bool) else given
    if isinstance(number, int) and key.low <= number <= key.high:
        return number
    rule = f"it must be a whole number from {key.low:.0f} to {key.high:.0f}"
    raise BadValueError(rule, _for_example(key))


def _read_date(key: Key, given: object, unit: str | None) -> str:
    """Return a day, a month or a year as text, as far as it is known."""
    del unit
    text = given
    if isinstance(given, date) and not isinstance(given, datetime):
        text = given.isoformat()
    if isinstance(text, str) and re.fullmatch(r"\d{4}(-\d\d){0,2}", text, re.ASCII):
        with suppress(ValueError):  # no such month or day
            if key.low <= date.fromisoformat(f"{text}-01-01"[:10]).year <= key.high:
                return text
    rule = f"it must be a year from {key.low:.0f} on, a month or a day of the calendar, in quotes"
    raise BadValueError(rule, _for_example(key))


def listed(words: Iterable[str]) -> str:
    """Write words as a choice.

    >>> listed(["m", "ft"]), listed(["a", "b", "c"])
    ("'m' or 'ft'", "'a', 'b' or 'c'")
    """
    *first, last = [repr(word) for word in words]
    return f"{', '.join(first)} or {last}" if first else last


_READERS: Final[Mapping[str, Callable[[Key, Any, str | None], Value]]] = {
    "number": _read_number,
    "height": _read_number,
    "text": _read_text,
    "choice": _read_choice,
    "reference": _read_text,
    "span": _read_span,
    "words": _read_words,
    "flag": _read_flag,
    "whole": _read_whole,
    "date": _read_date,
}

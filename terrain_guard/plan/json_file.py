"""JSON read strictly: no number that is none, no name twice, no endless nesting."""

from __future__ import annotations

import json
from typing import TYPE_CHECKING, Any, Final

from terrain_guard.errors import RefusedRoute
from terrain_guard.plan.file_bytes import too_large
from terrain_guard.plan.reading import shown

if TYPE_CHECKING:
    from terrain_guard.plan.draft import RawFile

MOST_BYTES: Final = 5_000_000
"""Larger files are refused: nested brackets take a hundred times their size in memory."""


def read_json(raw: RawFile) -> dict[str, Any]:
    """Read a JSON file that holds an object.

    RFC 8259 (2017): text in UTF-8 (8.1), a byte order mark at its start skipped; names
    within an object differ (4), and there is no NaN or Infinity (6).

    Parameters
    ----------
    raw : RawFile
        The file.

    Returns
    -------
    dict
        The object.

    Raises
    ------
    RefusedRoute
        It is too large, not UTF-8, or no JSON object.
    """
    if len(raw.data) > MOST_BYTES:
        raise RefusedRoute(too_large(raw.file, what="GeoJSON route file", most_bytes=MOST_BYTES))
    try:
        content = json.loads(
            raw.data.decode("utf-8-sig"), object_pairs_hook=_once, parse_constant=_no_number
        )
    except UnicodeDecodeError as error:
        rule = f"it is not text in UTF-8 (byte {error.object[error.start]:#04x} at {error.start})"
        raise RefusedRoute(_sentence(raw.file, rule, "save it as UTF-8")) from error
    except RecursionError as error:
        rule = "its brackets are nested too deeply"
        raise RefusedRoute(_sentence(raw.file, rule, "save only the route")) from error
    except ValueError as error:  # JSONDecodeError, and integers of too many digits
        remedy = "correct that place, or save it once more"
        raise RefusedRoute(_sentence(raw.file, f"it is not valid ({error})", remedy)) from error
    if not isinstance(content, dict):
        rule = "it is no object"
        raise RefusedRoute(_sentence(raw.file, rule, "save it as a FeatureCollection"))
    return content


def _once(pairs: list[tuple[str, Any]]) -> dict[str, Any]:
    """Make an object whose names differ."""
    found = dict(pairs)
    if len(found) < len(pairs):
        names = [name for name, _ in pairs]
        twice = next(name for name in names if names.count(name) > 1)
        message = f"the name {shown(twice)} stands twice in one object"
        raise ValueError(message)
    return found


def _no_number(text: str) -> float:
    message = f"{text} is no number in JSON"
    raise ValueError(message)


def _sentence(file: str, rule: str, remedy: str) -> str:
    return f"{file}: cannot be read as JSON, because {rule}; {remedy}."

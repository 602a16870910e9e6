"""From a file to a TOML document: bytes, their hash, and what may be wrong with either."""

from __future__ import annotations

import hashlib
import tomllib
from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING, Any, Final

from terrain_guard.plan.file_bytes import read_bytes, too_large

if TYPE_CHECKING:
    from terrain_guard.errors import RefusedInput

MOST_BYTES: Final = 5_000_000
"""Larger files are refused unread: no route or rules file is near that."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Document:
    """A TOML file, read but not yet understood."""

    file: str  # its name, for messages
    sha256: str  # of its bytes
    content: dict[str, Any]


def read_toml(path: str | Path, *, what: str, refuse: type[RefusedInput], remedy: str) -> Document:
    """Read a TOML file.

    Parameters
    ----------
    path : str or Path
        The file. A byte order mark at its start is skipped.
    what : str
        What the file should be, for messages: "route file".
    refuse : type of RefusedInput
        The error to raise.
    remedy : str
        What to do about a file without content.

    Returns
    -------
    Document
        Name, hash and content.

    Raises
    ------
    RefusedInput
        As `refuse`: the file is missing, unreadable, too large, empty, not UTF-8, or no TOML.
    """
    data = read_bytes(path, what=what, refuse=refuse, most_bytes=MOST_BYTES)
    return parse_toml(data, file=Path(path).name, what=what, refuse=refuse, remedy=remedy)


def parse_toml(
    data: bytes, *, file: str, what: str, refuse: type[RefusedInput], remedy: str
) -> Document:
    """Read the bytes of a TOML file; as `read_toml`, with the file's name for messages."""
    if len(data) > MOST_BYTES:
        raise refuse(too_large(file, what=what, most_bytes=MOST_BYTES))
    content = _parsed(data, file=file, what=what, refuse=refuse)
    if not content:
        message = f"{file}: the file is empty, but a {what} must say something; {remedy}."
        raise refuse(message)
    return Document(file=file, sha256=hashlib.sha256(data).hexdigest(), content=content)


def _parsed(data: bytes, *, file: str, what: str, refuse: type[RefusedInput]) -> dict[str, Any]:
    try:
        return tomllib.loads(data.decode("utf-8-sig"))
    except UnicodeDecodeError as error:
        byte = error.object[error.start]
        message = (
            f"{file}: given the byte {byte:#04x} at offset {error.start}, but a "
            f"{what} must be text in UTF-8; save it as UTF-8."
        )
        raise refuse(message) from error
    except ValueError as error:  # TOMLDecodeError, and integers of too many digits
        message = (
            f"{file}: not a {what}, because it is not valid TOML ({error}); correct that place, "
            f"or start from a fresh file."
        )
        raise refuse(message) from error
    except RecursionError as error:
        message = (
            f"{file}: not a {what}, because its brackets are nested too deeply; "
            f"write the keys one below the other."
        )
        raise refuse(message) from error

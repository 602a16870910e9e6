"""The bytes of a file: all of them, or a refusal; never more than are allowed."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from terrain_guard.errors import RefusedInput


def read_bytes(
    path: str | Path, *, what: str, refuse: type[RefusedInput], most_bytes: int
) -> bytes:
    """Read a file whole.

    Parameters
    ----------
    path : str or Path
        The file.
    what : str
        What the file should be, for messages: "route file".
    refuse : type of RefusedInput
        The error to raise.
    most_bytes : int
        A larger file is refused; no more than this, and one byte, is ever read.

    Returns
    -------
    bytes
        Its content.

    Raises
    ------
    RefusedInput
        As `refuse`: the file is missing, unreadable or too large.
    """
    path = Path(path)
    try:
        with path.open("rb") as stream:
            data = stream.read(most_bytes + 1)
    except (OSError, ValueError) as error:  # ValueError: a name with a zero byte
        reason = getattr(error, "strerror", None) or str(error)
        message = (
            f"given {str(path)!r}, but it cannot be read as a {what} ({reason}); "
            f"check the name and that the file may be read."
        )
        raise refuse(message) from error
    if len(data) > most_bytes:
        raise refuse(too_large(path.name, what=what, most_bytes=most_bytes))
    return data


def too_large(file: str, *, what: str, most_bytes: int) -> str:
    """Return the sentence with which a file of more than `most_bytes` is refused."""
    return (
        f"{file}: given more than {most_bytes / 1e6:g} MB, but a {what} is never that "
        f"large; check that this is the right file."
    )

"""Putting lines and bytes on a stream, whatever console or pipe it leads to."""

from __future__ import annotations

import errno
import os
from collections.abc import Iterable, Iterator
from contextlib import contextmanager
from typing import TextIO

from terrain_guard.errors import RefusedOutput


def say(lines: Iterable[str], *, to: TextIO) -> None:
    """Write lines of text; what the console cannot spell becomes a question mark.

    Raises
    ------
    RefusedOutput
        If the stream takes no more, for instance on a full disk.
    """
    encoding = to.encoding or "utf-8"
    text = "".join(f"{line}\n" for line in lines)
    with _unbroken(to):
        to.write(text.encode(encoding, "replace").decode(encoding))
        to.flush()


def write_bytes(content: bytes, *, to: TextIO) -> None:
    """Write bytes as they are: no code page, no changed line ends.

    Raises
    ------
    RefusedOutput
        If the stream takes no more, for instance on a full disk.
    """
    with _unbroken(to):
        to.flush()
        to.buffer.write(content)
        to.buffer.flush()


@contextmanager
def _unbroken(stream: TextIO) -> Iterator[None]:
    """Let a reader that has seen enough (``| head``) leave: what was found still counts."""
    try:
        yield
    except OSError as error:
        # Python flushes once more on its way out; give it somewhere to flush to.
        os.dup2(os.open(os.devnull, os.O_WRONLY), stream.fileno())
        if error.errno not in {errno.EPIPE, errno.EINVAL}:  # EINVAL: a broken pipe on Windows
            message = f"the output could not be written ({error.strerror}): see where it is sent."
            raise RefusedOutput(message) from error

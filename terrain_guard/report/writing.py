"""Outputs are written whole or not at all, and never over something that matters.

::

    check_outputs   before computing: every fault of every output at once
    write_outputs   after computing: all temporary files first, then all renames
"""

from __future__ import annotations

import os
import secrets
import shutil
from collections.abc import Iterable, Mapping, Sequence
from contextlib import suppress
from pathlib import Path
from typing import Final

from terrain_guard.errors import RefusedOutput

STANDARD_OUTPUT: Final = "-"


def check_outputs(
    outputs: Mapping[str, str], *, inputs: Sequence[str | Path] = (), overwrite: bool = False
) -> None:
    """Refuse outputs that cannot be written as asked; nothing is written.

    Parameters
    ----------
    outputs : mapping of str to str
        Option to file name, as typed; "-" is standard output.
    inputs : sequence of str or Path
        Files that are read, and must stay what they are.
    overwrite : bool
        Whether files that exist may be replaced.

    Raises
    ------
    RefusedOutput
        With one sentence a fault: folder missing or closed to writing, not an
        ordinary file, exists, is an input, or the same as another output.
    """
    faults = [
        fault
        for option, name in outputs.items()
        for fault in _faults(option, name, inputs=inputs, overwrite=overwrite)
    ]
    faults += _twins(outputs)
    if faults:
        raise RefusedOutput("\n".join(faults))


def write_outputs(contents: Mapping[str, bytes], *, overwrite: bool = False) -> None:
    """Write every file, or none.

    All contents go to temporary files beside their targets first, so that a full
    disk leaves everything as it was. Should a rename fail after others succeeded,
    the new files are taken away again; a file already replaced stays replaced.

    Parameters
    ----------
    contents : mapping of str to bytes
        File name to everything that goes into it; never "-".
    overwrite : bool
        Whether files that exist may be replaced.

    Raises
    ------
    RefusedOutput
        If a file cannot be written.
    """
    beside: dict[str, Path] = {}
    created: list[Path] = []
    try:
        for name, content in contents.items():
            beside[name] = _write_beside(Path(name).resolve(), content)
        for name, temporary in beside.items():
            target = Path(name).resolve()
            existed = target.exists()
            if existed and not overwrite:
                raise RefusedOutput(_exists(name))
            temporary.replace(target)
            created += [] if existed else [target]
    except RefusedOutput:
        _remove((*created, *beside.values()))
        raise
    except OSError as error:
        _remove((*created, *beside.values()))
        message = (
            f"{', '.join(map(repr, contents))} could not be written ({error.strerror}); "
            "nothing was kept: free the place or name another."
        )
        raise RefusedOutput(message) from error


def _faults(
    option: str, name: str, *, inputs: Sequence[str | Path], overwrite: bool
) -> Iterable[str]:
    if name == STANDARD_OUTPUT:
        return
    path = Path(name)
    given = f"{option} {name!r}"
    if not path.resolve().parent.is_dir():
        yield f"{given}: its folder does not exist; make it first, or name another."
    elif path.exists() and not path.is_file():
        yield f"{given} is not an ordinary file; name a file, or - for standard output."
    elif any(_same(path, Path(one)) for one in inputs):
        yield f"{given} is also read; inputs are never replaced, so name another file."
    elif path.exists() and not overwrite:
        yield _exists(name, option=option)
    elif not os.access(path.resolve().parent, os.W_OK):
        yield f"{given}: its folder is closed to writing; name another."


def _exists(name: str, *, option: str = "") -> str:
    given = f"{option} {name!r}".strip()
    return f"{given} exists and is kept; add --overwrite to replace it, or name another file."


def _twins(outputs: Mapping[str, str]) -> Iterable[str]:
    """Yield a sentence for every output that an earlier one names too."""
    earlier: list[tuple[str, str]] = []
    for option, name in outputs.items():
        for other, other_name in earlier:
            if _same_output(name, other_name):
                yield f"{other} and {option} both name {name!r}; give each its own file."
        earlier.append((option, name))


def _same_output(one: str, other: str) -> bool:
    if STANDARD_OUTPUT in {one, other}:
        return one == other
    return _same(Path(one), Path(other))


def _same(one: Path, other: Path) -> bool:
    """Whether two names lead to one file: links and letter case are seen through."""
    with suppress(OSError):
        return one.samefile(other)
    return os.path.normcase(one.resolve()) == os.path.normcase(other.resolve())


def _write_beside(target: Path, content: bytes) -> Path:
    temporary = target.with_name(f".{target.name}.{secrets.token_hex(4)}.part")
    try:
        with temporary.open("xb") as file:
            file.write(content)
            file.flush()
            os.fsync(file.fileno())
        if target.exists():
            shutil.copymode(target, temporary)
    except OSError:
        _remove([temporary])
        raise
    return temporary


def _remove(paths: Iterable[Path]) -> None:
    for path in paths:
        with suppress(OSError):
            path.unlink()

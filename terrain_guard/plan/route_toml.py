"""A route from its TOML file, or every reason why not, at once."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING, Any, Final

from terrain_guard.errors import RefusedRoute
from terrain_guard.plan.draft import Draft, RawFile
from terrain_guard.plan.file_bytes import read_bytes
from terrain_guard.plan.route_from_draft import build_route
from terrain_guard.plan.schema import ROUTE, TABLES
from terrain_guard.plan.toml_file import MOST_BYTES, parse_toml

if TYPE_CHECKING:
    from collections.abc import Iterable, Mapping

    from terrain_guard.plan.route import Route

_WHAT: Final = "route file"


def read_route(path: str | Path, *, launch: tuple[float, float] | None = None) -> Route:
    """Read a TOML route file.

    Parameters
    ----------
    path : str or Path
        The TOML file.
    launch : tuple of float, optional
        Latitude and longitude in degrees; they replace the file's launch place, and drop
        an elevation surveyed there.

    Returns
    -------
    Route
        In metres. `assumed` tells which default stands for what was not stated, `unused`
        which keys play no part yet.

    Raises
    ------
    RefusedRoute
        With every fault found, one sentence each: file, key, what was given, rule, remedy.
    """
    data = read_bytes(path, what=_WHAT, refuse=RefusedRoute, most_bytes=MOST_BYTES)
    return build_route(draft_of(RawFile(file=Path(path).name, data=data)), launch=launch)


def draft_of(raw: RawFile) -> Draft:
    """Return what a TOML route file says.

    Raises
    ------
    RefusedRoute
        It is too large, empty, not UTF-8, or no TOML.
    """
    document = parse_toml(
        raw.data,
        file=raw.file,
        what=_WHAT,
        refuse=RefusedRoute,
        remedy="start from the one that the template command prints",
    )
    return Draft(file=raw.file, format="toml", sha256=document.sha256, content=document.content)


def write(content: Mapping[str, Any], *, remarks: Iterable[str] = ()) -> bytes:
    """Write the content of a route file, in the order of the template.

    Parameters
    ----------
    content : mapping
        Tables and keys that the schema knows.
    remarks : iterable of str
        Lines of comment for the top.

    Returns
    -------
    bytes
        TOML in UTF-8.
    """
    import tomlkit

    document = tomlkit.document()
    for remark in remarks:
        document.add(tomlkit.comment(remark))
    for name in [key.name for key in TABLES[""].keys] + [table.name for table in ROUTE]:
        if name in content:
            document.add(tomlkit.nl()) if isinstance(content[name], dict | list) else None
            document.add(name, content[name])
    return tomlkit.dumps(document).encode("utf-8")


def rewritten(data: bytes, *, launch: Mapping[str, Any] | None = None) -> bytes:
    """Return a TOML route file with its comments, and another launch if one is given.

    Parameters
    ----------
    data : bytes
        A file that was read without faults.
    launch : mapping, optional
        What its launch table holds then.
    """
    import tomlkit

    if launch is None:
        return data
    document = tomlkit.parse(data.decode("utf-8-sig"))
    table = document.setdefault("launch", tomlkit.table())
    for name in set(table) - set(launch):
        del table[name]
    table.update(launch)
    return tomlkit.dumps(document).encode("utf-8")

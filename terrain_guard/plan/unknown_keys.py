"""Keys that the schema does not know, each with what may have been meant."""

from __future__ import annotations

from typing import TYPE_CHECKING

from terrain_guard.plan.reading import dotted, nearest

if TYPE_CHECKING:
    from collections.abc import Iterable, Mapping

    from terrain_guard.plan.reading import Faults


def add_unknown_keys(
    known: Iterable[str],
    given: Mapping[str, object],
    *,
    where: str,
    elsewhere: Mapping[str, str],
    faults: Faults,
    otherwise: str = "remove it, or look for its name in the template",
) -> None:
    """Add a fault for each key that the schema does not know.

    Parameters
    ----------
    known : iterable of str
        The keys that may stand here.
    given : mapping
        What stands here.
    where : str
        The table's place in the file; empty at the top.
    elsewhere : mapping of str to str
        Keys of other tables, each with where it belongs, for the hint.
    faults : Faults
        Where faults go.
    otherwise : str
        The remedy where nothing like it is known.
    """
    known = tuple(known)
    for name, value in given.items():
        if name not in known:
            faults.add(
                dotted(where, name),
                value,
                rule="no such key is known here",
                remedy=_hint(name, known=known, elsewhere=elsewhere) or otherwise,
            )


def _hint(name: str, *, known: tuple[str, ...], elsewhere: Mapping[str, str]) -> str:
    if name in elsewhere:
        return f"it belongs {elsewhere[name]}"
    like = nearest(name, known)
    if like:
        return f"if {like} is meant, write that; otherwise remove it"
    return ""

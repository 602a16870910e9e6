"""The schema's ranges and words, held by the objects too, whoever makes them."""

from __future__ import annotations

from typing import TYPE_CHECKING

from terrain_guard.plan.reading import BadValueError, read_value, shown

if TYPE_CHECKING:
    from terrain_guard.errors import RefusedInput
    from terrain_guard.plan.keys import Table


def refuse_unsound(thing: object, table: Table, *, refuse: type[RefusedInput]) -> None:
    """Raise unless every attribute of `thing` that the schema knows holds what it may.

    Parameters
    ----------
    thing : object
        An object of this room; lengths in metres. None stands for "not stated".
    table : Table
        The schema of its attributes.
    refuse : type of RefusedInput
        The error to raise.

    Raises
    ------
    RefusedInput
        As `refuse`, with every fault: NaN, infinite, out of range, not among the choices,
        or a choice that is not built yet.
    """
    faults = []
    for key in table.keys:
        given = getattr(thing, key.attribute, None)
        if given is None:
            continue
        try:
            read_value(key, list(given) if isinstance(given, tuple) else given, unit="m")
        except BadValueError as bad:
            name = f"{type(thing).__name__}.{key.attribute}"
            faults.append(f"{name}: given {shown(given)}, but {bad}.")
    if faults:
        raise refuse(*faults)

"""What the file left out and stands on a default, and what it says that is not used yet."""

from __future__ import annotations

from typing import TYPE_CHECKING, Final

from terrain_guard.plan.keys import number_text
from terrain_guard.plan.schema import ROUTE
from terrain_guard.units import FOOT_M

if TYPE_CHECKING:
    from terrain_guard.plan.keys import Key
    from terrain_guard.plan.stated import Stated

_CAUTIONED: Final = {"conditions.wind_m_per_s"}
"""What cautions go by, even where it leaves the flight the same."""


def assumed(stated: Stated) -> tuple[str, ...]:
    """Return a sentence for every default that stands for something not stated.

    A default that plays no part is not listed: no bank where the distance at
    which turns begin is stated.

    Parameters
    ----------
    stated : Stated
        A file without faults.

    Returns
    -------
    tuple of str
        Sentences without a full stop, in the order of the schema.
    """
    idle = without_part(stated)
    unit = str(stated.value("", "height_unit"))
    defaults = tuple(
        f"{table.dotted(key)} not stated: {_default_text(key, unit)} assumed"
        for table in ROUTE
        for key in table.keys
        if not table.many
        and table.dotted(key) not in stated.present | idle | {"speed_m_per_s"}
        and key.used
        and key.default not in (None, "unstated")
    )
    return _replaced_launch(stated) + _speed(stated) + defaults + _height_home(stated, idle)


def unused(stated: Stated) -> tuple[str, ...]:
    """Return the keys that are present and play no part yet.

    Parameters
    ----------
    stated : Stated
        A file without faults.

    Returns
    -------
    tuple of str
        Dotted keys ("waypoint.look_at"); "subject", "observer" and "pilot" as a whole.
    """
    idle = without_part(stated) - _CAUTIONED
    found: list[str] = []
    for table in ROUTE:
        if not table.used:
            found += [table.name] if table.name in stated.present else []
            continue
        dotted = {table.dotted(key): key.used for key in table.keys}
        found += [
            name
            for name, used in dotted.items()
            if name in stated.present and (not used or name in idle)
        ]
    return tuple(found)


def without_part(stated: Stated) -> set[str]:
    """Return the dotted keys that what is stated elsewhere leaves without effect.

    Parameters
    ----------
    stated : Stated
        A file without faults.

    Returns
    -------
    set of str
        Whether these are in the file or not, the flight is the same.
    """
    return (
        _idle_in_turns(stated)
        | _idle_in_climb(stated)
        | _idle_on_the_way_home(stated)
        | _idle_in_the_air(stated)
        | _idle_in_sight(stated)
    )


def _idle_in_turns(stated: Stated) -> set[str]:
    radius = {"turns.bank_deg", "conditions.wind_m_per_s"}
    if not _any_rounded(stated):
        return {*radius, "turns.turn_anticipation_m", "turns.corner_height"}
    return radius if stated.value("turns", "turn_anticipation_m") is not None else set()


def _idle_in_climb(stated: Stated) -> set[str]:
    """Take-off height counts for a step, and for going up and over to a lower first waypoint."""
    out = stated.or_default("climb", "out")
    above_launch = stated.value("", "heights") == "launch"
    first_m = stated.lists["waypoint"][0]["height"]
    higher = above_launch and isinstance(first_m, float) and first_m > 0
    idle = out == "slanting" or (out == "vertical" and higher)
    return {"climb.take_off_height"} if idle else set()


def _idle_on_the_way_home(stated: Stated) -> set[str]:
    """Its height and gradient count only where it climbs, or slants to a wait above."""
    path = stated.or_default("way_home", "path")
    goes_to_launch = stated.or_default("after_last", "go_to") == "launch"
    lands = stated.or_default("after_last", "then") == "land" or not goes_to_launch
    climbs_on = path == "climb-on-the-way" or (
        path == "unstated" and "way_home.height" in stated.present
    )
    idle = set() if climbs_on else {"way_home.gradient"}
    if path == "level":
        idle |= {"way_home.height", "way_home.no_climb_within_m"}
    elif path == "slanting":
        idle |= {"way_home.no_climb_within_m"} | ({"way_home.height"} if lands else set())
    return idle


def _idle_in_the_air(stated: Stated) -> set[str]:
    """Air moves no height that satellites tell; a reference needs a temperature, a side a wind."""
    reference = {"aircraft.temperature_reference"}
    idle = set() if stated.value("conditions", "wind_m_per_s") else {"conditions.wind_from_deg"}
    if stated.value("aircraft", "height_from") in ("gnss", "rtk"):
        idle |= reference | {"conditions.temperature_c", "conditions.pressure_trend_hpa_per_h"}
    elif "conditions.temperature_c" not in stated.present:
        idle |= reference
    return idle


def _idle_in_sight(stated: Stated) -> set[str]:
    """Tell how far off it is seen by what keeps it up only together with its size."""
    said = "aircraft.seen_within_m" in stated.present
    tells = "aircraft.size_m" in stated.present and not said
    idle = set() if tells else {"aircraft.kind"}
    return idle | ({"aircraft.size_m"} if said else set())


def _any_rounded(stated: Stated) -> bool:
    """Return whether any corner may be flown as an arc."""
    inner = stated.lists["waypoint"][1:-1]
    kind = stated.or_default("turns", "kind")
    return any(
        waypoint.get("turn", kind) != "stop" and not waypoint.get("wait_s") for waypoint in inner
    )


def _default_text(key: Key, unit: str) -> str:
    if not isinstance(key.default, float | int):
        return f'"{key.default}"'
    if key.kind == "height":
        shown = key.default if unit == "m" else key.default / FOOT_M
        return f"{shown:.1f} {unit}"
    return f"{number_text(key.default)} {'degrees' if key.unit == 'deg' else key.unit}"


def _replaced_launch(stated: Stated) -> tuple[str, ...]:
    if not stated.launch_replaced:
        return ()
    place = stated.tables["launch"]
    said = [f"launch at lat {place['lat']}, lon {place['lon']} replaces the place in the file"]
    if stated.elevation_dropped_m is not None:
        dropped = f"{number_text(stated.elevation_dropped_m)} m"
        said.append(
            f"launch.elevation_m of {dropped} was surveyed elsewhere: dropped, the model's is used"
        )
    if stated.offset_dropped_m is not None:
        dropped = f"{number_text(stated.offset_dropped_m)} m"
        said.append(f"launch.offset_m of {dropped} was stated for elsewhere: dropped")
    return tuple(said)


def _speed(stated: Stated) -> tuple[str, ...]:
    if "speed_m_per_s" in stated.present:
        return ()
    speed = number_text(stated.or_default("", "speed_m_per_s"))
    waypoints = stated.lists["waypoint"]
    silent = [str(n) for n, w in enumerate(waypoints, start=1) if "speed_m_per_s" not in w]
    if not silent:
        return ()
    at = "" if len(silent) == len(waypoints) else f" for waypoint {', '.join(silent)}"
    return (f"speed_m_per_s not stated{at}: {speed} m/s assumed",)


def _height_home(stated: Stated, idle: set[str]) -> tuple[str, ...]:
    if "way_home.height" in stated.present | idle:
        return ()
    return ("way_home.height not stated: a way home without a climb assumed",)

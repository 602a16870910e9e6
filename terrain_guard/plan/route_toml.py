"""A route from its TOML file, or every reason why not, at once."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

from terrain_guard.errors import RefusedRoute
from terrain_guard.plan.consistency import add_contradictions, names
from terrain_guard.plan.reading import Faults
from terrain_guard.plan.route import (
    AfterLast,
    Climb,
    Launch,
    Place,
    Route,
    Turns,
    WayHome,
    Waypoint,
)
from terrain_guard.plan.schema import TABLES
from terrain_guard.plan.stand_ins import assumed, unused, without_part
from terrain_guard.plan.stated import read_stated
from terrain_guard.plan.toml_file import read_toml

if TYPE_CHECKING:
    from pathlib import Path

    from terrain_guard.plan.reading import Values
    from terrain_guard.plan.stated import Stated
    from terrain_guard.plan.toml_file import Document


def read_route(path: str | Path, *, launch: tuple[float, float] | None = None) -> Route:
    """Read a route file.

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
    document = read_toml(
        path,
        what="route file",
        refuse=RefusedRoute,
        remedy="start from the one that the template command prints",
    )
    faults = Faults(document.file)
    stated = read_stated(document.content, launch=launch, faults=faults)
    add_contradictions(stated)
    if faults.sentences:
        raise RefusedRoute(*faults.sentences)
    return _route(stated, document)


def _route(stated: Stated, document: Document) -> Route:
    """Build the route from a file without faults."""
    top = stated.tables[""]
    launch = Launch(**_attributes("launch", stated.tables["launch"]))
    home = stated.tables["home"]
    return Route(
        title=str(top.get("title", "Untitled route")),
        heights=str(top["heights"]),
        height_unit=str(top["height_unit"]),
        launch=launch,
        home=Place(**_attributes("home", home))
        if home
        else Place(lat_deg=launch.lat_deg, lon_deg=launch.lon_deg),
        waypoints=_waypoints(stated),
        turns=_turns(stated),
        climb=_climb(stated),
        after_last=AfterLast(**_attributes("after_last", stated.tables["after_last"])),
        way_home=WayHome(**_attributes("way_home", stated.tables["way_home"])),
        wind_m_per_s=stated.or_default("conditions", "wind_m_per_s"),
        assumed=assumed(stated),
        unused=unused(stated),
        source=document.file,
        sha256=document.sha256,
    )


def _attributes(table: str, values: Values) -> dict[str, Any]:
    """Return a table's values and defaults by the names the dataclass has for them."""
    return {
        key.attribute: values.get(key.name, key.default)
        for key in TABLES[table].keys
        if key.used or key.name == "look_at"
    }


def _waypoints(stated: Stated) -> tuple[Waypoint, ...]:
    items = stated.lists["waypoint"]
    everywhere = stated.or_default("", "speed_m_per_s")
    return tuple(
        Waypoint(**_attributes("waypoint", {"speed_m_per_s": everywhere, **item, "name": name}))
        for item, name in zip(items, names(items, of="waypoint"), strict=True)
    )


def _turns(stated: Stated) -> Turns:
    """Build the turns; no bank stands in where the distance at which they begin is stated."""
    turns = _attributes("turns", stated.tables["turns"])
    if turns["turn_anticipation_m"] is not None:
        turns["bank_deg"] = None
    return Turns(**turns)


def _climb(stated: Stated) -> Climb:
    """Build the climb; no take-off height stands in where it plays no part."""
    climb = _attributes("climb", stated.tables["climb"])
    if "climb.take_off_height" in without_part(stated):
        climb["take_off_height_m"] = stated.value("climb", "take_off_height")
    return Climb(**climb)

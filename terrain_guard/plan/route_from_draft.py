"""From what a route file says to a Route, or every reason why not, at once."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any, Final

from terrain_guard.errors import RefusedRoute
from terrain_guard.plan.consistency import add_contradictions, names
from terrain_guard.plan.launch_apart import with_launch
from terrain_guard.plan.reading import Faults
from terrain_guard.plan.route import (
    AfterLast,
    Aircraft,
    Climb,
    Conditions,
    Launch,
    LinkLoss,
    Place,
    Route,
    Turns,
    WayHome,
    Waypoint,
)
from terrain_guard.plan.schema import TABLES
from terrain_guard.plan.stand_ins import assumed, unused, without_part
from terrain_guard.plan.stated import read_stated

if TYPE_CHECKING:
    from terrain_guard.plan.draft import Draft, LaunchGiven
    from terrain_guard.plan.reading import Values
    from terrain_guard.plan.stated import Stated

MOST_FAULTS: Final = 50
_CARRIED_UNUSED: Final = frozenset({"look_at"})


def build_route(draft: Draft, *, launch: LaunchGiven = None, launch_needed: bool = True) -> Route:
    """Judge a draft by the schema, and build the route.

    Parameters
    ----------
    draft : Draft
        What a route file says.
    launch : LaunchGiven
        Replaces the draft's launch place, and drops an elevation surveyed there.
    launch_needed : bool
        Whether a launch that nobody states is a fault; if not, the first waypoint stands in.

    Returns
    -------
    Route
        In metres.

    Raises
    ------
    RefusedRoute
        With every fault found, the draft's own first; of a long table, the first `MOST_FAULTS`
        and how many more.
    """
    faults = Faults(draft.file, list(draft.faults), draft.places)
    draft, replaced = with_launch(draft, launch, needed=launch_needed, faults=faults)
    stated = read_stated(draft.content, launch=replaced, faults=faults)
    add_contradictions(stated)
    if faults.sentences:
        raise RefusedRoute(*_told(faults.sentences, draft))
    return _route(stated, draft)


def _told(sentences: list[str], draft: Draft) -> list[str]:
    """Return what to tell: the same slip in every line of a table need not be told each time."""
    more = len(sentences) - MOST_FAULTS
    if draft.format == "toml" or more <= 0:
        return sentences
    return [*sentences[:MOST_FAULTS], f"{draft.file}: and {more} more faults; correct these first."]


def _route(stated: Stated, draft: Draft) -> Route:
    """Build the route from a file without faults."""
    top = stated.tables[""]
    launch = Launch(**_attributes("launch", stated.tables["launch"]))
    home, pilot = stated.tables["home"], stated.tables["pilot"]
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
        link_loss=LinkLoss(**_attributes("link_loss", stated.tables["link_loss"])),
        pilot=Place(**_attributes("pilot", pilot)) if pilot else None,
        observers=tuple(Place(**_attributes("observer", one)) for one in stated.lists["observer"]),
        wind_m_per_s=stated.or_default("conditions", "wind_m_per_s"),
        conditions=_conditions(stated),
        aircraft=Aircraft(**_attributes("aircraft", stated.tables["aircraft"])),
        assumed=draft.notes + assumed(stated),
        unused=draft.unused + unused(stated),
        source=draft.file,
        sha256=draft.sha256,
    )


def _attributes(table: str, values: Values) -> dict[str, Any]:
    """Return a table's values and defaults by the names the dataclass has for them."""
    return {
        key.attribute: values.get(key.name, key.default)
        for key in TABLES[table].keys
        if key.used or key.name in _CARRIED_UNUSED
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


def _conditions(stated: Stated) -> Conditions:
    """Build what is stated of the day; the wind is the route's own."""
    values = _attributes("conditions", stated.tables["conditions"])
    del values["wind_m_per_s"]
    return Conditions(**values)

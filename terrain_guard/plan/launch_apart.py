"""The launch, where the file does not say it or somebody says it apart from the file."""

from __future__ import annotations

from dataclasses import replace
from typing import TYPE_CHECKING, Any

from terrain_guard.plan.draft import FORMAT_NAMES
from terrain_guard.plan.keys import number_text
from terrain_guard.plan.reading import BadValueError, read_value
from terrain_guard.plan.schema import TABLES

if TYPE_CHECKING:
    from terrain_guard.plan.draft import Draft, LaunchGiven
    from terrain_guard.plan.reading import Faults

LatLon = tuple[float, float]


def with_launch(
    draft: Draft, given: LaunchGiven, *, needed: bool = True, faults: Faults
) -> tuple[Draft, LatLon | None]:
    """Put the launch into a draft that has none, or say what replaces the one it has.

    Parameters
    ----------
    draft : Draft
        What the file says.
    given : LaunchGiven
        The launch apart from the file.
    needed : bool
        Whether its absence is a fault; if not, the first waypoint stands in, unsaid.
    faults : Faults
        Where a missing launch goes. The draft then holds a place that stands in for it, so
        that the rest can still be looked at.

    Returns
    -------
    Draft, (latitude, longitude) or None
        The draft, and the place that replaces the one in it.
    """
    place = _place(draft, given)
    if "launch" in draft.content or draft.format == "toml":  # there the schema says it is missing
        return draft, place
    notes = draft.notes
    if place is not None:
        said = "first" if given == "first" else "LAT,LON"
        lat, lon = (number_text(angle) for angle in place)
        notes = (*notes, f"launch at lat {lat}, lon {lon}, as --launch {said} says")
    elif needed:
        _add_missing(draft, faults)
    lat_deg, lon_deg = place or _stand_in(draft)
    content = {**draft.content, "launch": {"lat": lat_deg, "lon": lon_deg}}
    return replace(draft, content=content, notes=notes), None


def _place(draft: Draft, given: LaunchGiven) -> LatLon | None:
    return _stand_in(draft) if given == "first" else given


def _add_missing(draft: Draft, faults: Faults) -> None:
    """Add the fault that nobody says where it takes off."""
    if draft.format == "geojson":
        faults.miss(
            "launch",
            rule="a route starts from its launch ground",
            remedy="add a Point feature with role = 'launch', or give --launch LAT,LON",
        )
        return
    faults.miss(
        "launch",
        rule=(
            f"a route starts from its launch ground, and a {FORMAT_NAMES[draft.format]} does "
            f"not say where that is"
        ),
        remedy="give --launch LAT,LON, or --launch first if it takes off at the first waypoint",
    )


def _stand_in(draft: Draft) -> LatLon:
    """Return the place of the first waypoint that has a sound one."""
    waypoints = draft.content.get("waypoint")
    for waypoint in waypoints if isinstance(waypoints, list) else ():
        place = _sound(waypoint)
        if place:
            return place
    return 0.0, 0.0  # no waypoint is sound, so the file is refused anyway


def _sound(waypoint: Any) -> LatLon | None:
    if not isinstance(waypoint, dict):
        return None
    try:
        lat_deg, lon_deg = (
            read_value(key, waypoint.get(key.name))
            for key in TABLES["waypoint"].keys
            if key.name in {"lat", "lon"}
        )
    except BadValueError:
        return None
    return (lat_deg, lon_deg) if isinstance(lat_deg, float) and isinstance(lon_deg, float) else None

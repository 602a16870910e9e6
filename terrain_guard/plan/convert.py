"""From one route format to another, saying what the other cannot hold."""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import TYPE_CHECKING, Any, Final

from terrain_guard.errors import RefusedInput, RefusedOutput
from terrain_guard.plan.draft import FORMAT_NAMES
from terrain_guard.plan.launch_apart import with_launch
from terrain_guard.plan.reading import Faults
from terrain_guard.plan.route_files import format_of, read_draft, read_raw
from terrain_guard.plan.route_from_draft import build_route
from terrain_guard.plan.told import NOTHING_TOLD

if TYPE_CHECKING:
    from collections.abc import Callable, Mapping
    from pathlib import Path

    from terrain_guard.plan.draft import Draft, Format, LaunchGiven, RawFile
    from terrain_guard.plan.told import Told

_WHOLE: Final = ("toml", "geojson")
"""Formats that hold everything."""
_PLACES: Final = frozenset({"title", "waypoint.name", "waypoint.lat", "waypoint.lon"})
_HEIGHTS: Final = frozenset({"heights", "height_unit", "waypoint.height"})
_HELD: Final[Mapping[str, frozenset[str]]] = {
    "csv": (_PLACES - {"title"})
    | _HEIGHTS
    | {"speed_m_per_s", "waypoint.speed_m_per_s", "waypoint.wait_s", "waypoint.turn"},
    "kml": _PLACES | _HEIGHTS,
    "kmz": _PLACES | _HEIGHTS,
    "gpx": _PLACES | _HEIGHTS,
}
_UNSPEAKABLE: Final[Mapping[str, tuple[str, ...]]] = {
    "kml": ("launch", "ellipsoid"),
    "kmz": ("launch", "ellipsoid"),
    "gpx": ("launch", "ground", "ellipsoid"),
}
"""What each format has no way to say that heights count from."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Converted:
    """A route in another format."""

    content: bytes
    notes: tuple[str, ...]  # sentences: what was measured from what
    lost: tuple[str, ...]  # what the format cannot hold, as keys and tables
    unused: tuple[str, ...]  # what of the file that was read played no part


def convert(
    path: str | Path,
    *,
    to: Format,
    launch: LaunchGiven = None,
    told: Told = NOTHING_TOLD,
    without_heights: bool = False,
) -> Converted:
    """Convert a route file.

    Parameters
    ----------
    path : str or Path
        The file.
    to : str
        The format wanted.
    launch, told
        As for `route_files.read_route`. The launch may stay unknown where the format wanted
        does not hold it.
    without_heights : bool
        Whether to write places alone, where the format wanted can do without heights.

    Returns
    -------
    Converted
        What was stated, and no default for what was not.

    Raises
    ------
    RefusedRoute
        The file cannot be flown as written.
    RefusedOutput
        The format cannot say what these heights count from.
    """
    _refuse_options(to, told, without_heights)
    raw = read_raw(path)
    if without_heights and format_of(raw) not in _WHOLE:  # a height stands in, and is taken out
        told = replace(told, fly_at=(0.0, "m"), heights="launch")
    draft = read_draft(raw, told)
    build_route(draft, launch=launch, launch_needed=to in _WHOLE)
    draft = _with_launch(draft, launch)
    if without_heights:
        draft = replace(draft, content=_without_heights(draft.content), notes=())
    _refuse_unspeakable(draft, to)
    return Converted(
        content=_written(draft, to, raw, moved=launch is not None),
        notes=draft.notes,
        lost=_lost(draft, to, raw, without_heights),
        unused=draft.unused,
    )


def _refuse_options(to: Format, told: Told, without_heights: bool) -> None:
    if not without_heights:
        return
    faults = [
        f"{option}: plays no part with --without-heights; leave one of them away."
        for option in told.options
        if option in {"--heights", "--height-unit", "--fly-at"}
    ]
    if to in _WHOLE:
        faults.append(
            f"--without-heights: given, but a {FORMAT_NAMES[to]} is nothing without heights; "
            f"leave it away."
        )
    if faults:
        raise RefusedInput(*faults)


def _with_launch(draft: Draft, launch: LaunchGiven) -> Draft:
    """Return the draft with the launch that is known; one that only stands in is not."""
    settled, replaced = with_launch(draft, launch, needed=False, faults=Faults(draft.file))
    if replaced is not None:
        surveyed = {"elevation_m", "elevation_accuracy_m"}
        old = {k: v for k, v in draft.content.get("launch", {}).items() if k not in surveyed}
        place = {**old, "lat": replaced[0], "lon": replaced[1]}
        dropped = surveyed & draft.content.get("launch", {}).keys()
        also = "; the elevation surveyed elsewhere is dropped" if dropped else ""
        notes = (*draft.notes, f"launch: as --launch says, not as in the file{also}")
        return replace(draft, content={**draft.content, "launch": place}, notes=notes)
    return settled if launch is not None else draft


def _without_heights(content: Mapping[str, Any]) -> dict[str, Any]:
    bare = {key: value for key, value in content.items() if key not in {"heights", "height_unit"}}
    points = [{k: v for k, v in point.items() if k != "height"} for point in content["waypoint"]]
    return {**bare, "waypoint": points}


def _refuse_unspeakable(draft: Draft, to: Format) -> None:
    """Refuse heights that the format has no way to say truly."""
    heights = draft.content.get("heights")
    if heights not in _UNSPEAKABLE.get(to, ()):
        return
    known = (
        "has only ele, an elevation (by convention above sea level)"
        if to == "gpx"
        else "has altitudes above ground and above sea level only (altitudeMode)"
    )
    message = (
        f"{draft.file}: given heights above {heights}, but a {FORMAT_NAMES[to]} {known}; write "
        f".csv or .geojson, which hold them, or give --without-heights to write places alone."
    )
    raise RefusedOutput(message)


def _written(draft: Draft, to: Format, raw: RawFile, *, moved: bool) -> bytes:
    """Write the draft in the format wanted."""
    if to == "toml":
        return _as_toml(draft, raw, moved=moved)
    return _writer(to)(draft.content)


def _writer(to: Format) -> Callable[[Mapping[str, Any]], bytes]:
    """Return what writes a format; loaded when it is wanted."""
    if to == "geojson":
        from terrain_guard.plan.route_geojson import write
    elif to == "csv":
        from terrain_guard.plan.route_csv import write
    elif to == "gpx":
        from terrain_guard.plan.route_gpx import write
    elif to == "kmz":
        from terrain_guard.plan.route_kml_writing import write_archive as write
    else:
        from terrain_guard.plan.route_kml_writing import write
    return write


def _as_toml(draft: Draft, raw: RawFile, *, moved: bool) -> bytes:
    """Write TOML: one that was TOML keeps its comments, another says where it came from."""
    from terrain_guard.plan import route_toml

    if draft.format == "toml":
        return route_toml.rewritten(raw.data, launch=draft.content["launch"] if moved else None)
    remarks = (f"Converted from {draft.file!r}.", *draft.notes)
    return route_toml.write(draft.content, remarks=remarks)


def _lost(draft: Draft, to: Format, raw: RawFile, without_heights: bool) -> tuple[str, ...]:
    """Return what the format cannot hold: keys, and whole tables of which nothing is held."""
    lost = ["heights"] if without_heights else []
    lost += ["comments"] if draft.format == "toml" and to != "toml" and b"#" in raw.data else []
    for name, value in draft.content.items() if to in _HELD else ():
        keys = _keys(name, value)
        left = [key for key in keys if key not in _HELD[to]]
        lost += [name] if left == keys else left
    return tuple(dict.fromkeys(lost))


def _keys(name: str, value: Any) -> list[str]:
    """Return the dotted keys below a table, or the name itself."""
    if isinstance(value, list):
        return list(dict.fromkeys(f"{name}.{key}" for item in value for key in item))
    return [f"{name}.{key}" for key in value] if isinstance(value, dict) and value else [name]

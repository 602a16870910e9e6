"""A route in GeoJSON, by a profile of our own that holds all a TOML route file holds.

A FeatureCollection (RFC 7946, 2016) whose member `terrain_guard` holds the keys and
tables of the route file; its places are Point features of two coordinates, with their
`role` (launch, waypoint, subject, observer) and the same keys as properties. The order
of the features is the order of flight. A null stands for what is not stated.
"""

from __future__ import annotations

import json
from typing import TYPE_CHECKING, Any, Final

from terrain_guard.plan.draft import MOST_POINTS, Draft
from terrain_guard.plan.json_file import read_json
from terrain_guard.plan.reading import Faults, listed, shown
from terrain_guard.plan.told import without_idle

if TYPE_CHECKING:
    from collections.abc import Mapping

    from terrain_guard.plan.draft import RawFile
    from terrain_guard.plan.told import Told

MEMBER: Final = "terrain_guard"
ROLES: Final = ("launch", "waypoint", "subject", "observer")
WGS_84: Final = ("urn:ogc:def:crs:OGC:1.3:CRS84", "urn:ogc:def:crs:OGC::CRS84", "OGC:CRS84")
"""Names that an old `crs` member may give the system that RFC 7946, section 4, prescribes."""
_KNOWN: Final = {"type", "features", MEMBER, "crs", "bbox", "name"}
_THIRD: Final = (
    "a third coordinate is a height above the WGS 84 ellipsoid (RFC 7946, section 4), not above "
    "launch or ground"
)


def draft_of(raw: RawFile, told: Told) -> Draft:
    """Return what a GeoJSON route file says.

    Raises
    ------
    RefusedRoute
        It is no JSON object.
    """
    collection = read_json(raw)
    faults = Faults(raw.file)
    without_idle(told, set(told.options), format_="geojson", faults=faults)
    _add_other_system(collection, faults)
    content = _tables(collection, faults)
    places: dict[str, str] = {}
    for number, feature in enumerate(_features(collection, faults), start=1):
        _take(feature, f"feature {number}", content, places, faults)
    return Draft(
        file=raw.file,
        format="geojson",
        sha256=raw.sha256,
        content=content,
        unused=tuple(f"member {shown(name)}" for name in collection if name not in _KNOWN),
        faults=tuple(faults.sentences),
        places=places,
    )


def _add_other_system(collection: dict[str, Any], faults: Faults) -> None:
    crs = collection.get("crs")
    if crs is None:
        return
    properties = crs.get("properties") if isinstance(crs, dict) else None
    name = properties.get("name") if isinstance(properties, dict) else None
    if name not in WGS_84:
        rule = "coordinates are WGS 84, longitude first (RFC 7946, section 4)"
        faults.add("crs", crs, rule=rule, remedy="save it in WGS 84, and without the member crs")


def _tables(collection: dict[str, Any], faults: Faults) -> dict[str, Any]:
    """Return the tables that stand beside the features."""
    if MEMBER not in collection:
        remedy = f'write "{MEMBER}": {{"heights": "launch", "height_unit": "m"}}'
        faults.miss(MEMBER, rule="that member says what heights are", remedy=remedy)
        return {"heights": "launch", "height_unit": "ft"}  # stands in; feet have wider bounds
    tables = collection[MEMBER]
    if not isinstance(tables, dict):
        remedy = 'write "heights" and "height_unit" in it'
        faults.add(MEMBER, tables, rule="it is an object", remedy=remedy)
        return {}
    for role in ROLES:
        if role in tables:
            rule = f"each {role} is a feature of its own"
            remedy = f"write it as a Point feature with role {role!r}"
            faults.add(f"{MEMBER}.{role}", tables[role], rule=rule, remedy=remedy)
    return {name: _stated(value) for name, value in tables.items() if name not in ROLES}


def _features(collection: dict[str, Any], faults: Faults) -> list[Any]:
    features = collection.get("features")
    if collection.get("type") != "FeatureCollection" or not isinstance(features, list):
        rule = "a route file is a FeatureCollection with a list of features"
        remedy = "see what convert makes of a TOML route file"
        faults.add("type", collection.get("type"), rule=rule, remedy=remedy)
        return []
    if len(features) > MOST_POINTS:
        rule = f"a route has no more than {MOST_POINTS}"
        faults.add("features", len(features), rule=rule, remedy="save only the route")
        return []
    return features


def _take(
    feature: Any, where: str, content: dict[str, Any], places: dict[str, str], faults: Faults
) -> None:
    """Put a feature where the TOML route file has it."""
    properties = feature.get("properties") if isinstance(feature, dict) else None
    if not isinstance(properties, dict) or feature.get("type") != "Feature":
        rule = "it must be a Feature with properties"
        faults.add(where, feature, rule=rule, remedy=f"write its role: {listed(ROLES)}")
        return
    role = properties.get("role")
    if role not in ROLES:
        remedy = "write one of these, or remove the feature"
        faults.add(f"{where}.role", role, rule=f"it must be {listed(ROLES)}", remedy=remedy)
        return
    keys = {name: value for name, value in properties.items() if name != "role"}
    item = _stated(keys) | _position(feature.get("geometry"), where, faults)
    _add_twice({"lat", "lon"} & keys.keys(), where, faults)
    if role == "launch":
        if role in content:
            faults.say(f"{where}: given one more launch, but a route has one; remove the other")
        content[role] = item
    else:
        content.setdefault(role, []).append(item)
        places[f"{role}[{len(content[role])}]"] = where


def _add_twice(names: set[str], where: str, faults: Faults) -> None:
    for name in sorted(names):
        faults.say(
            f"{where}.{name}: given as a property, but places stand in the geometry; remove it"
        )


def _position(geometry: Any, where: str, faults: Faults) -> dict[str, Any]:
    """Return the place of a Point; zero stands in where it is no place."""
    coordinates = geometry.get("coordinates") if isinstance(geometry, dict) else None
    if not isinstance(coordinates, list) or len(coordinates) < 2 or geometry.get("type") != "Point":
        rule = "a place of a route is a Point with a longitude and a latitude"
        remedy = "write each as a Point feature of its own"
        faults.add(f"{where}.geometry", geometry, rule=rule, remedy=remedy)
        return {"lat": 0.0, "lon": 0.0}
    if len(coordinates) > 2:
        remedy = "remove it, and write the property height"
        faults.add(f"{where}.geometry", coordinates[2], rule=_THIRD, remedy=remedy)
    return {"lat": coordinates[1], "lon": coordinates[0]}


def _stated(value: Any) -> Any:
    """Return an object without its nulls; other values as they are."""
    if not isinstance(value, dict):
        return value
    return {name: _stated(inner) for name, inner in value.items() if inner is not None}


def write(content: Mapping[str, Any]) -> bytes:
    """Write the content of a route file, a feature a line.

    >>> route = {"heights": "launch", "launch": {"lat": 47, "lon": -28}, "waypoint": []}
    >>> print(write(route).decode(), end="")  # doctest: +ELLIPSIS
    {"type": "FeatureCollection",
    "terrain_guard": {"heights": "launch"},
    "features": [
    {"type": "Feature", "geometry": {...}, "properties": {"role": "launch"}}
    ]}
    """
    tables = {name: value for name, value in content.items() if name not in ROLES}
    features = [
        json.dumps(_feature(role, item), ensure_ascii=False)
        for role in ROLES
        for item in ([content[role]] if role == "launch" else content.get(role, []))
    ]
    lines = (
        '{"type": "FeatureCollection",',
        f'"{MEMBER}": {json.dumps(tables, ensure_ascii=False)},',
        '"features": [',
        ",\n".join(features),
        "]}\n",
    )
    return "\n".join(lines).encode("utf-8")


def _feature(role: str, item: Mapping[str, Any]) -> dict[str, Any]:
    keys = {name: value for name, value in item.items() if name not in {"lat", "lon"}}
    return {
        "type": "Feature",
        "geometry": {"type": "Point", "coordinates": [item["lon"], item["lat"]]},
        "properties": {"role": role, **keys},
    }

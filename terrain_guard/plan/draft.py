"""What a route file says, in whatever format, before the schema looks at it.

Every reader turns its file into the same thing: the tables a TOML route file
holds. One schema then judges them all, and every writer starts from them.
"""

from __future__ import annotations

import hashlib
from dataclasses import dataclass, field
from typing import TYPE_CHECKING, Any, Final, Literal, TypeAlias

if TYPE_CHECKING:
    from collections.abc import Mapping

Format: TypeAlias = Literal["toml", "geojson", "csv", "kml", "kmz", "gpx"]

FORMAT_NAMES: Final[Mapping[Format, str]] = {
    "toml": "TOML route file",
    "geojson": "GeoJSON route file",
    "csv": "CSV file",
    "kml": "KML file",
    "kmz": "KMZ file",
    "gpx": "GPX file",
}
MOST_POINTS: Final = 10_000
"""Points of one route: more is the record of a flight, or a whole map, not a plan."""

LaunchGiven: TypeAlias = "tuple[float, float] | Literal['first'] | None"
"""A launch given apart from the file: latitude and longitude in degrees, or `"first"` for
the place of the first waypoint."""


@dataclass(frozen=True, slots=True, kw_only=True)
class RawFile:
    """A file as it is on disk."""

    file: str  # its name, for messages
    data: bytes

    @property
    def sha256(self) -> str:
        """The hash of its bytes."""
        return hashlib.sha256(self.data).hexdigest()


@dataclass(frozen=True, slots=True, kw_only=True)
class Draft:
    """The content of a route file, not judged yet."""

    file: str  # its name, for messages
    format: Format
    sha256: str  # of its bytes
    content: dict[str, Any]  # as the TOML route file would hold it
    notes: tuple[str, ...] = ()  # sentences: what was measured from what, and becomes what
    unused: tuple[str, ...] = ()  # what of the file plays no part
    faults: tuple[str, ...] = ()  # whole sentences, found before the schema
    places: Mapping[str, str] = field(default_factory=dict)  # "waypoint[3]" to "line 4"

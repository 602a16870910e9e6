"""What several commands are asked in the same way, and how the answers are read."""

from __future__ import annotations

import math
from enum import StrEnum
from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import typer

from terrain_guard.errors import RefusedInput, RefusedOutput

if TYPE_CHECKING:
    from terrain_guard.plan.draft import Format, LaunchGiven
    from terrain_guard.plan.told import Told


class Unit(StrEnum):
    """What people read."""

    M = "m"
    FT = "ft"


RouteArgument = Annotated[
    Path,
    typer.Argument(
        metavar="ROUTE",
        help="Route file: .toml, .geojson, .csv, .kml, .kmz or .gpx.",
        show_default=False,
    ),
]
GroundOption = Annotated[
    list[str],
    typer.Option(
        "--ground",
        metavar="DEM",
        help="Elevation model of the ground: file, folder of tiles or 'pattern*.tif'; "
        "repeat for more, the first counts where two overlap.",
        show_default=False,
    ),
]
RulesOption = Annotated[
    str | None,
    typer.Option(metavar="NAME|FILE", help="Floor and ceiling wanted.", show_default=False),
]
LaunchOption = Annotated[
    str | None,
    typer.Option(
        metavar="LAT,LON|first",
        help="Launch here, not where the route says; first: at the first waypoint.",
        show_default=False,
    ),
]
HeightsOption = Annotated[
    str | None,
    typer.Option(
        metavar="launch|ground|sea-level|ellipsoid",
        help="CSV, KML, GPX: what heights count from, where the file does not say.",
        show_default=False,
    ),
]
HeightUnitOption = Annotated[
    str | None,
    typer.Option(
        metavar="m|ft", help="CSV: the unit of heights, where no header says.", show_default=False
    ),
]
FlyAtOption = Annotated[
    str | None,
    typer.Option(
        metavar="60m|200ft",
        help="CSV, KML, GPX: one height for every waypoint; needs --heights.",
        show_default=False,
    ),
]
ColumnsOption = Annotated[
    str | None,
    typer.Option(
        metavar="lat=HEADER,...",
        help="CSV: which header means lat, lon, height and name.",
        show_default=False,
    ),
]
TakeOption = Annotated[
    str | None,
    typer.Option(
        metavar="LINE",
        help="KML, GPX: which line is the route, by number or name; or points.",
        show_default=False,
    ),
]
UnitsOption = Annotated[Unit, typer.Option(help="Print metres or feet.")]
OverwriteOption = Annotated[bool, typer.Option("--overwrite", help="Replace files that exist.")]


def point(text: str) -> LaunchGiven:
    """Read ``LAT,LON`` in degrees, or ``first``."""
    if text == "first":
        return "first"
    try:
        lat_deg, lon_deg = (float(part) for part in text.split(","))
    except ValueError:
        lat_deg = lon_deg = math.nan
    if abs(lat_deg) <= 90.0 and abs(lon_deg) <= 180.0:
        return lat_deg, lon_deg
    swapped = " (latitude comes first)" if abs(lon_deg) <= 90.0 < abs(lat_deg) <= 180.0 else ""
    message = (
        f"--launch {text!r} is not a place{swapped}; give degrees as LAT,LON, "
        "north and east positive, for instance 47.3124,-28.4051, or give first."
    )
    raise RefusedInput(message)


def told_by(
    heights: str | None,
    height_unit: str | None,
    fly_at: str | None,
    columns: str | None,
    take: str | None,
) -> Told:
    """Read what is told apart from the route file."""
    from terrain_guard.plan.told import Told, columns_of, height_of

    return Told(
        heights=heights,
        height_unit=height_unit,
        fly_at=None if fly_at is None else height_of(fly_at),
        columns={} if columns is None else columns_of(columns),
        take=take,
    )


def route_format(out: str, to: str | None) -> Format:
    """Return the format that a route file is written in."""
    from terrain_guard.plan.draft import FORMAT_NAMES
    from terrain_guard.plan.route_files import ENDINGS

    ending = Path(out).suffix.lower()
    if to is None and ending in ENDINGS and ending != ".tsv":
        return ENDINGS[ending]
    named = {str(name): name for name in FORMAT_NAMES}
    if to in named:
        return named[to]
    given = f"OUT {out!r} does not say its format" if to is None else f"--to {to!r} is no format"
    message = f"{given}; end it in .toml, .geojson, .csv, .kml, .kmz or .gpx, or give --to toml."
    raise RefusedOutput(message)

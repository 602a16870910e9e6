"""What several commands are asked in the same way, and how the answers are read."""

from __future__ import annotations

import functools
import inspect
import math
from collections.abc import Callable, Iterator
from dataclasses import MISSING, dataclass, fields, is_dataclass
from enum import StrEnum
from pathlib import Path
from typing import TYPE_CHECKING, Annotated, Any, get_type_hints

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
    list[str] | None,
    typer.Option(
        "--ground",
        metavar="DEM",
        help="Elevation model of the bare ground: file, folder of tiles or 'pattern*.tif'; "
        "repeat for more, the first counts where two overlap.",
        show_default=False,
    ),
]
SurfaceOption = Annotated[
    list[str] | None,
    typer.Option(
        "--surface",
        metavar="DSM",
        help="Model of the surface with trees and roofs, given likewise: the floor is to the "
        "nearer of ground and surface.",
        show_default=False,
    ),
]
SecondGroundOption = Annotated[
    list[str] | None,
    typer.Option(
        "--second-ground",
        metavar="DEM",
        help="Another, independent model of the bare ground: the worse of both counts.",
        show_default=False,
    ),
]
CanopyOption = Annotated[
    float | None,
    typer.Option(
        "--canopy",
        metavar="METRES",
        help="How high trees may stand where no surface model shows them; 0: open ground. "
        "Not given: what the model's card says, else 30.",
        show_default=False,
    ),
]
RulesOption = Annotated[
    str | None,
    typer.Option(
        metavar="NAME|FILE",
        help="Floor and ceiling wanted: us-107, eu-open, uk-open, au-101, or a file.",
        show_default=False,
    ),
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
ExplainOption = Annotated[
    int | None,
    typer.Option(
        metavar="LEG",
        help="Also work out the margins of this leg's metres with least room.",
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


@dataclass(frozen=True, kw_only=True)
class Telling:
    """What a route file may leave open."""

    launch: LaunchOption = None
    heights: HeightsOption = None
    height_unit: HeightUnitOption = None
    fly_at: FlyAtOption = None
    columns: ColumnsOption = None
    take: TakeOption = None

    def place(self) -> LaunchGiven:
        """Read where to launch, if that is told."""
        return None if self.launch is None else point(self.launch)

    def told(self) -> Told:
        """Read what else is told apart from the route file."""
        from terrain_guard.plan.told import Told, columns_of, height_of

        return Told(
            heights=self.heights,
            height_unit=self.height_unit,
            fly_at=None if self.fly_at is None else height_of(self.fly_at),
            columns={} if self.columns is None else columns_of(self.columns),
            take=self.take,
        )


@dataclass(frozen=True, kw_only=True)
class Site(Telling):
    """What is asked wherever a route is judged: the route, its terrain, its rules."""

    route: RouteArgument
    ground: GroundOption = None
    surface: SurfaceOption = None
    second_ground: SecondGroundOption = None
    canopy: CanopyOption = None
    rules: RulesOption = None

    def given(self) -> dict[str, Any]:
        """Return the arguments of `assess.check`."""
        return {
            "route": self.route,
            "ground": self.ground or None,
            "surface": self.surface or None,
            "second_ground": self.second_ground or None,
            "canopy_m": self.canopy,
            "rules": self.rules,
            "launch": self.place(),
            "told": self.told(),
        }

    def files(self) -> Iterator[str | Path]:
        """List every file that is read, the cards of elevation models included."""
        from terrain_guard.ground.files import card_files, expand

        yield self.route
        for model in (self.ground, self.surface, self.second_ground):
            for tile in expand(model) if model else ():
                yield tile
                yield from card_files(tile)
        if self.rules is not None:
            yield self.rules


def spread(command: Callable[..., None]) -> Callable[..., None]:
    """Let a command ask for every field of the groups it takes, in their place.

    A parameter whose type is one of the groups above becomes as many options as
    the group has fields; the command gets them back as one.
    """
    hints = get_type_hints(command, include_extras=True)
    groups: dict[str, Any] = {name: hint for name, hint in hints.items() if is_dataclass(hint)}
    asked = []
    for name, parameter in inspect.signature(command).parameters.items():
        if name in groups:
            asked += _questions(groups[name])
        else:
            asked.append(parameter.replace(annotation=hints[name], kind=parameter.KEYWORD_ONLY))

    @functools.wraps(command)
    def run(**answers: Any) -> None:
        for name, group in groups.items():
            own = {field.name: answers.pop(field.name) for field in fields(group)}
            answers[name] = group(**own)
        command(**answers)

    vars(run)["__signature__"] = inspect.Signature(asked)
    return run


def _questions(group: Any) -> list[inspect.Parameter]:
    """Return a parameter for each field of a group: what must be said first, then its own."""
    hints = get_type_hints(group, include_extras=True)
    questions = [
        inspect.Parameter(
            field.name,
            inspect.Parameter.KEYWORD_ONLY,
            annotation=hints[field.name],
            default=inspect.Parameter.empty if field.default is MISSING else field.default,
        )
        for field in fields(group)
    ]
    own = vars(group)["__annotations__"]
    return sorted(questions, key=lambda one: (one.default is not one.empty, one.name not in own))


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

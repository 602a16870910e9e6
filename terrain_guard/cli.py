"""The commands: parse, call one function, print, exit code.

Results go to standard output, everything else to standard error. Where a file
is sent to standard output (``-``), the table moves to standard error, so that
the next program in the pipe reads nothing but the file.
"""

from __future__ import annotations

import sys
from collections.abc import Iterator, Mapping
from contextlib import contextmanager, suppress
from io import BytesIO
from pathlib import Path
from types import MappingProxyType
from typing import TYPE_CHECKING, Annotated, Final, TextIO

import typer

from terrain_guard.errors import RefusedOutput, TerrainGuardError
from terrain_guard.options import (
    ExplainOption,
    OverwriteOption,
    Site,
    Telling,
    Unit,
    UnitsOption,
    route_format,
    spread,
)
from terrain_guard.report import cautions, sentences, words
from terrain_guard.report.console import say, write_bytes
from terrain_guard.report.writing import STANDARD_OUTPUT, check_outputs, write_outputs
from terrain_guard.states import State

if TYPE_CHECKING:
    from terrain_guard.assessment import Assessment
    from terrain_guard.plan.convert import Converted
    from terrain_guard.plan.draft import Format

EXIT_CODES: Final[Mapping[State, int]] = MappingProxyType(
    {State.WITHIN: 0, State.BREACH: 3, State.NOT_ASSESSED: 4, State.TIGHT: 5}
)
"""What `check` exits with. 2 is a refusal; 1 is Python's own, for a crash."""
REFUSED: Final = 2
PICTURE_FORMATS: Final = ("png", "svg", "pdf")


# One line each, however long: it has to run as it stands, in any shell.
CHECK_EXAMPLE: Final = (
    "\b\nExample:\n"
    "  terrain-guard check sample_dem/same_height.toml --ground sample_dem/valley_ground.tif "
    "--surface sample_dem/valley_surface.tif"
)
PROFILE_EXAMPLE: Final = (
    "\b\nExample:\n"
    "  terrain-guard profile sample_dem/same_height.toml --ground sample_dem/valley_ground.tif "
    "--surface sample_dem/valley_surface.tif -o profile.png"
)
TEMPLATE_EXAMPLE: Final = (
    "\b\nExample:\n"
    "  terrain-guard template -o my_route.toml\n"
    "  terrain-guard check my_route.toml --ground sample_dem/valley_ground.tif "
    "--surface sample_dem/valley_surface.tif"
)
TERRAIN_EXAMPLE: Final = "\b\nExample:\n  terrain-guard terrain sample_dem/valley_ground.tif"
CONVERT_EXAMPLE: Final = (
    "\b\nExample:\n"
    "  terrain-guard convert sample_dem/follows_slope.toml follows_slope.geojson\n"
    "  terrain-guard check follows_slope.geojson --ground sample_dem/valley_ground.tif "
    "--surface sample_dem/valley_surface.tif"
)
SELFTEST_EXAMPLE: Final = "\b\nExample:\n  terrain-guard selftest"


app = typer.Typer(
    name="terrain-guard",
    help="True height above ground at every metre of a planned flight.",
    epilog="Not assessed is not clear. The remote pilot in command decides.",
    add_completion=False,
    no_args_is_help=True,
    rich_markup_mode=None,
    pretty_exceptions_enable=False,
)


def main() -> None:
    """Run the program: the entry point of the installed command."""
    app(prog_name="terrain-guard")


def _print_version(wanted: bool) -> None:
    if wanted:
        from terrain_guard import __version__

        say([f"terrain-guard {__version__}"], to=sys.stdout)
        raise typer.Exit


@app.callback()
def _program(
    *,
    _version: Annotated[
        bool,
        typer.Option(
            "--version", help="Print the version.", callback=_print_version, is_eager=True
        ),
    ] = False,
) -> None:
    """Hold the options that stand before a command."""


@app.command(epilog=CHECK_EXAMPLE)
@spread
def check(
    *,
    site: Site,
    json: Annotated[
        str | None, typer.Option(metavar="OUT", help="Write everything as JSON (- for stdout).")
    ] = None,
    csv: Annotated[
        str | None, typer.Option(metavar="OUT", help="Write the leg table as CSV.")
    ] = None,
    every_metre: Annotated[
        str | None, typer.Option(metavar="OUT", help="Write every sample as CSV.")
    ] = None,
    explain: ExplainOption = None,
    units: UnitsOption = Unit.M,
    overwrite: OverwriteOption = False,
) -> None:
    """Check a route against the ground.

    Prints verdict, leg table, margins, findings, what was not checked, and cautions.

    Exit code: 0 within, 3 breach, 4 not assessed, 5 tight, 2 refused.
    """
    named = {"--json": json, "--csv": csv, "--every-metre": every_metre}
    outputs = {option: name for option, name in named.items() if name is not None}
    with _refusing():
        check_outputs(outputs, inputs=list(site.files()), overwrite=overwrite)
        assessment = _assess(site)
        if explain is not None:
            _check_leg(assessment, explain)
        contents = {name: _content(option, assessment) for option, name in outputs.items()}
        to_stdout = contents.pop(STANDARD_OUTPUT, None)
        write_outputs(contents, overwrite=overwrite)
        _tell(assessment, units, explain, to=sys.stdout if to_stdout is None else sys.stderr)
        if to_stdout is not None:
            write_bytes(to_stdout, to=sys.stdout)
    raise typer.Exit(EXIT_CODES[assessment.verdict])


@app.command(epilog=PROFILE_EXAMPLE)
@spread
def profile(
    *,
    site: Site,
    out: Annotated[
        str,
        typer.Option(
            "--out",
            "-o",
            metavar="FILE",
            help="Picture to write: .png, .svg or .pdf (- for PNG on stdout).",
            show_default=False,
        ),
    ],
    units: UnitsOption = Unit.M,
    overwrite: OverwriteOption = False,
) -> None:
    """Draw a route over the ground.

    Shows the ground under the flown curve, both limits, and the worst points.

    Exit code: 0 drawn, whatever the verdict; 2 refused.
    """
    with _refusing():
        file_format = _picture_format(out)
        check_outputs({"--out": out}, inputs=list(site.files()), overwrite=overwrite)
        assessment = _assess(site)
        _put(out, _picture(assessment, site, file_format, units), overwrite=overwrite)
        beside = cautions.beside_verdict(assessment)
        say((sentences.verdict(assessment.verdict), beside), to=sys.stderr)


@app.command(epilog=TEMPLATE_EXAMPLE)
def template(
    out: Annotated[
        str,
        typer.Option("--out", "-o", metavar="FILE", help="Route file to write (- for stdout)."),
    ] = STANDARD_OUTPUT,
    overwrite: OverwriteOption = False,
) -> None:
    """Write a commented route file to fill in."""
    from terrain_guard.plan.template import template as route_template

    with _refusing():
        check_outputs({"--out": out}, overwrite=overwrite)
        _put(out, route_template().encode("utf-8"), overwrite=overwrite)


@app.command(epilog=TERRAIN_EXAMPLE)
def terrain(
    models: Annotated[
        list[str], typer.Argument(metavar="DEM...", help="Elevation models.", show_default=False)
    ],
    *,
    units: UnitsOption = Unit.M,
) -> None:
    """Tell what an elevation model is, and what looks wrong with it.

    A model is a file, a folder of tiles, or a pattern; each file is told by itself.

    Exit code: 0 told, whatever was found; 2 one was refused (the others are told).
    """
    from terrain_guard.ground.files import expand
    from terrain_guard.ground.inspect import inspect
    from terrain_guard.report import terrain_table

    with _refusing():
        files = expand(models)
    told = []
    for file in files:
        with suppress(typer.Exit), _refusing():
            say(terrain_table.lines(inspect(file), unit=units.value), to=sys.stdout)
            told.append(file)
    if told:
        say(terrain_table.closing(), to=sys.stdout)
    if len(told) < len(files):
        raise typer.Exit(REFUSED)


@app.command(epilog=CONVERT_EXAMPLE)
@spread
def convert(
    source: Annotated[
        Path, typer.Argument(metavar="IN", help="Route file to read.", show_default=False)
    ],
    out: Annotated[
        str,
        typer.Argument(
            metavar="OUT",
            help="Route file to write: .toml, .geojson, .csv, .kml, .kmz or .gpx "
            "(- for stdout, with --to).",
            show_default=False,
        ),
    ],
    *,
    to: Annotated[
        str | None,
        typer.Option(
            metavar="FORMAT", help="The format of OUT, whatever its ending.", show_default=False
        ),
    ] = None,
    without_heights: Annotated[
        bool, typer.Option("--without-heights", help="Write places alone.")
    ] = False,
    telling: Telling,
    overwrite: OverwriteOption = False,
) -> None:
    """Convert a route file to another format.

    Tells what every height was measured from, and what the format cannot hold.

    Exit code: 0 converted, 2 refused.
    """
    with _refusing():
        file_format = route_format(out, to)
        check_outputs({"OUT": out}, inputs=[source], overwrite=overwrite)
        from terrain_guard.plan.convert import convert as converted_from

        converted = converted_from(
            source,
            to=file_format,
            launch=telling.place(),
            told=telling.told(),
            without_heights=without_heights,
        )
        _put(out, converted.content, overwrite=overwrite)
        say(map(words.clean, _remarks(converted, file_format)), to=sys.stderr)


@app.command(epilog=SELFTEST_EXAMPLE)
def selftest() -> None:
    """Prove on this machine, offline, that the program gives the closed-form answers.

    Exit code: 0 every case holds, 3 one is off or could not be run.
    """
    with _refusing():
        from terrain_guard.selftest.running import run
        from terrain_guard.selftest.telling import lines

        results = run()
        say(lines(results), to=sys.stdout)
    if not all(result.passed for result in results):
        raise typer.Exit(EXIT_CODES[State.BREACH])


def _remarks(converted: Converted, file_format: Format) -> Iterator[str]:
    """Say what was taken for what, and what was left behind."""
    yield from (f"{note}." for note in converted.notes)
    if converted.unused:
        yield f"Not used: {', '.join(converted.unused)}."
    if converted.lost:
        yield f"Not held by {file_format}: {', '.join(converted.lost)}."


def _assess(site: Site) -> Assessment:
    given = site.given()
    from terrain_guard import assess

    return assess.check(given.pop("route"), **given)


def _content(option: str, assessment: Assessment) -> bytes:
    """Return what goes into an output of `check`."""
    from terrain_guard.report import assessment_json, tables_csv

    write = {
        "--json": assessment_json.text,
        "--csv": tables_csv.legs,
        "--every-metre": tables_csv.every_metre,
    }[option]
    # A file name that is no valid text keeps its odd bytes as escapes.
    return write(assessment).encode("utf-8", "backslashreplace")


def _picture_format(out: str) -> str:
    if out == STANDARD_OUTPUT:
        return "png"
    ending = Path(out).suffix.lower().removeprefix(".")
    if ending not in PICTURE_FORMATS:
        message = f"--out {out!r} must end in .png, .svg or .pdf, which says what to draw."
        raise RefusedOutput(message)
    return ending


def _picture(assessment: Assessment, site: Site, file_format: str, units: Unit) -> bytes:
    from terrain_guard import assess
    from terrain_guard.report import profile as drawing

    limits = assess.limiting_surfaces(
        assessment, ground=site.ground or None, surface=site.surface or None
    )
    picture = BytesIO()
    drawing.draw(assessment, limits, picture, file_format=file_format, unit=units.value)
    return picture.getvalue()


def _check_leg(assessment: Assessment, leg: int) -> None:
    from terrain_guard.report.explained import check_leg

    check_leg(assessment, leg)


def _tell(assessment: Assessment, units: Unit, explain: int | None, *, to: TextIO) -> None:
    from terrain_guard.report import table

    say(table.lines(assessment, unit=units.value, explain=explain), to=to)


def _put(out: str, content: bytes, *, overwrite: bool) -> None:
    if out == STANDARD_OUTPUT:
        write_bytes(content, to=sys.stdout)
    else:
        write_outputs({out: content}, overwrite=overwrite)


@contextmanager
def _refusing() -> Iterator[None]:
    """Turn a refusal into sentences on standard error and exit code 2."""
    try:
        yield
    except TerrainGuardError as error:
        say((f"refused: {words.clean(line)}" for line in str(error).split("\n")), to=sys.stderr)
        raise typer.Exit(REFUSED) from error


if __name__ == "__main__":
    main()

"""The profile: one page that shows a site briefing the flight from the side.

::

    title
    [ verdict in words ]  what was not checked
    rule, margins, launch ground, terrain
    stops        launch   1 gate    2 spur          3 weir     launch
    the plot     ground, flown curve, floor, ceiling, worst points
    the track    legs; one row a state
    the ribbon   way home, sight and link, one row each
    true-scale strip of the worst 200 m | list of the worst places
    fixed cautions

`figure` builds the page, `draw` writes it. Equal input gives equal bytes: no date,
no random names, one font that comes with Matplotlib, text in SVG as outlines.
"""

from __future__ import annotations

import io
from pathlib import Path
from typing import TYPE_CHECKING, Any, BinaryIO, Final

from matplotlib.backends.backend_agg import FigureCanvasAgg
from matplotlib.figure import Figure

from terrain_guard.errors import RefusedOutput
from terrain_guard.report import cautions, margin_words, model_words, rule_words, stretches, words
from terrain_guard.report import profile_style as style
from terrain_guard.report.profile_data import view
from terrain_guard.report.profile_labels import Ruler, printable
from terrain_guard.report.profile_list import draw_list
from terrain_guard.report.profile_plot import draw_plot
from terrain_guard.report.profile_points import worst_points
from terrain_guard.report.profile_ribbon import HEIGHT_MM as RIBBON_MM
from terrain_guard.report.profile_ribbon import MEANING, draw_ribbon, sentence
from terrain_guard.report.profile_strip import draw_strip
from terrain_guard.report.profile_style import Sheet
from terrain_guard.report.profile_track import HEIGHT_MM, draw_stops, draw_track
from terrain_guard.states import State
from terrain_guard.units import METRES_PER_UNIT

if TYPE_CHECKING:
    from collections.abc import Iterator

    from terrain_guard.assessment import Assessment, LaunchUsed, Limits, TerrainUsed

FORMATS: Final = ("png", "svg", "pdf")
LEFT_MM, WIDTH_MM = 26.0, 244.0
PLOT_MM: Final = (LEFT_MM, 103.2, WIDTH_MM, 59.8)
STRIP_MM: Final = {"left": LEFT_MM, "bottom": 25.2, "width": 120.0, "height": 30.0}
RIBBON_GAP_MM = 0.9
LIST_GAP_MM = 8.0
FOOTER_LINES = 4
ROW_MM = 3.5
USUAL_ROWS = 4
VERDICT_POINTS = 10.5


def draw(
    assessment: Assessment,
    limits: Limits,
    out: Path | BinaryIO,
    *,
    file_format: str,
    unit: str = "m",
) -> None:
    """Write the profile of `assessment`; nothing is written unless all of it was drawn.

    Parameters
    ----------
    assessment : Assessment
        What was found out; nothing is judged here.
    limits : Limits
        The two limiting surfaces under the reference curve.
    out : Path or binary stream
        Where to write. An existing file is replaced: whoever calls decides that.
    file_format : {"png", "svg", "pdf"}
    unit : {"m", "ft"}
        What every number on the page is in.

    Raises
    ------
    RefusedOutput
        If `file_format` or `unit` is none of those.
    """
    if file_format not in FORMATS:
        message = (
            f"profile format {file_format!r}: a profile is drawn as {', '.join(FORMATS)}; "
            "give one of those, or a file name that ends in it"
        )
        raise RefusedOutput(message)
    buffer = io.BytesIO()
    page = figure(assessment, limits, unit=unit)
    with style.settings():
        quick: dict[str, Any] = (
            {"pil_kwargs": {"compress_level": 3}} if file_format == "png" else {}
        )
        metadata = _metadata(assessment, file_format)
        page.savefig(buffer, format=file_format, metadata=metadata, **quick)
    if isinstance(out, Path):
        out.write_bytes(buffer.getvalue())
    else:
        out.write(buffer.getvalue())


def figure(assessment: Assessment, limits: Limits, *, unit: str = "m") -> Figure:
    """Return the page as a figure; parameters and errors as for `draw`."""
    if unit not in METRES_PER_UNIT:
        message = f"unit {unit!r}: a profile is drawn in {' or '.join(METRES_PER_UNIT)}; give one"
        raise RefusedOutput(message)
    with style.settings():
        inches = tuple(side / style.MM_PER_INCH for side in style.PAGE_MM)
        page = Figure(figsize=(inches[0], inches[1]), dpi=style.DOTS_PER_INCH, facecolor="white")
        FigureCanvasAgg(page)
        sheet = Sheet(
            figure=page,
            ruler=Ruler(style.DOTS_PER_INCH),
            assessment=assessment,
            view=view(assessment, limits, unit=unit),
            points=worst_points(assessment, unit=unit),
        )
        _fill(sheet)
    return page


def _metadata(assessment: Assessment, file_format: str) -> dict[str, str | None]:
    """Return what the file says of itself: no date, no version, so that bytes repeat."""
    title = f"Profile: {printable(assessment.route.title)}"
    if file_format == "png":
        return {"Title": title, "Software": "Terrain Guard"}
    if file_format == "svg":
        return {"Title": title, "Creator": "Terrain Guard", "Date": None}
    return {"Title": title, "Creator": "Terrain Guard", "Producer": None, "CreationDate": None}


def _fill(sheet: Sheet) -> None:
    """Put every part in its place."""
    rows = _header(sheet)
    height = PLOT_MM[3] - ROW_MM * max(rows - USUAL_ROWS, 0)  # it makes room for more to say
    plot = draw_plot(sheet, place_mm=(*PLOT_MM[:3], height))
    draw_stops(sheet, plot, bottom=PLOT_MM[1] + height + 0.8)
    draw_track(sheet, plot, left=LEFT_MM, top=PLOT_MM[1], width=WIDTH_MM)
    ribbon = PLOT_MM[1] - HEIGHT_MM - RIBBON_GAP_MM
    draw_ribbon(sheet, plot, left=LEFT_MM, top=ribbon, width=WIDTH_MM)
    _axis_note(sheet, style.exaggeration(plot), below=ribbon - RIBBON_MM - 7.5)
    taken = draw_strip(sheet, **STRIP_MM)
    left = STRIP_MM["left"] + taken + LIST_GAP_MM
    draw_list(
        sheet,
        left=left,
        top=STRIP_MM["bottom"] + STRIP_MM["height"],
        width=style.PAGE_MM[0] - style.MARGIN_MM - left,
        height=STRIP_MM["height"] + 6.0,
    )
    _footer(sheet)


def _axis_note(sheet: Sheet, ratio: float, *, below: float) -> None:
    """Say what runs along the axis, what the rows hold, and how much steeper slopes look."""
    note = f"distance flown ({sheet.view.unit})"
    if sheet.view.on_the_spot.any():
        note += "; climbs and descents on the spot count, over paler ground"
    sheet.write(LEFT_MM, below, note, gid="along")
    samples, unit = sheet.assessment.samples, sheet.view.unit
    gaps = (
        f"Leg 0: climb-out. Band: flown curve with margins, "
        f"{margin_words.along(samples.floor_margin_m, unit)} lower to "
        f"{margin_words.along(samples.ceiling_margin_m, unit)} higher. Gaps: not assessed; of the "
        "floor, also the take-off or landing column."
    )
    sheet.write(LEFT_MM, below - 3.4, gaps, gid="gaps")
    _ribbon_note(sheet, below - 6.8)
    text = f"Vertical exaggeration {style.times(ratio)}: slopes look that much steeper"
    if ratio < 1:
        text = f"Vertical exaggeration {style.times(ratio)}: slopes look flatter than they are"
    sheet.write(
        LEFT_MM + WIDTH_MM, below, text, bold=True, align="right", gid="exaggeration"
    )  # fmt: skip


def _ribbon_note(sheet: Sheet, bottom: float) -> None:
    """Say in words what the ribbon shows."""
    width = (style.PAGE_MM[0] - style.MARGIN_MM - LEFT_MM) * sheet.ruler.pixels_per_mm
    said = f"{sentence(sheet.assessment, sheet.view.unit)}. {MEANING}"
    if sheet.ruler.size(said, style.NORMAL)[0] > width:
        said = sentence(sheet.assessment, sheet.view.unit)
    sheet.write(
        LEFT_MM, bottom, sheet.ruler.cut(said, style.NORMAL, width=width), gid="ribbon-note"
    )


def _header(sheet: Sheet) -> int:
    """Write title, verdict, and what the answer rests on; return how many rows that took."""
    left, right = style.MARGIN_MM, style.PAGE_MM[0] - style.MARGIN_MM
    pixels = (right - left) * sheet.ruler.pixels_per_mm
    title = printable(words.clean(sheet.assessment.route.title))
    title = sheet.ruler.cut(title, style.TITLE, width=pixels, bold=True)
    sheet.write(left, 202.4, title, size=style.TITLE, bold=True, gid="title")
    _verdict(sheet, left=left, bottom=192.8)
    wrapped = [
        sheet.ruler.wrapped(printable(text), style.NORMAL, width=pixels, lines=lines)
        for text, lines in _basis(sheet)
    ]
    rows = "\n".join(wrapped).split("\n")
    for index, row in enumerate(rows):
        sheet.write(left, 185.0 - ROW_MM * index, row, gid=f"basis-{index}")
    return len(rows)


def _verdict(sheet: Sheet, *, left: float, bottom: float) -> None:
    assessment = sheet.assessment
    word = style.WORD[assessment.verdict].upper()
    text = f"{word}: {cautions.VERDICT_WORDS[assessment.verdict]}"
    sheet.figure.text(
        (left + 1.2) / style.PAGE_MM[0], (bottom + 2.5) / style.PAGE_MM[1], text,
        fontsize=VERDICT_POINTS,
        fontweight="bold", va="center_baseline", gid="verdict",
        bbox={"facecolor": "white", "edgecolor": style.INK, "linewidth": 1.6, "pad": 3.5},
    )  # fmt: skip
    scale = sheet.ruler.pixels_per_mm
    after = left + sheet.ruler.size(text, VERDICT_POINTS, bold=True)[0] / scale + 5.0
    room = (style.PAGE_MM[0] - style.MARGIN_MM - after) * scale
    said = cautions.beside_verdict(assessment)
    full = sheet.ruler.size(said, style.NORMAL, bold=True)[0]
    room = room if full <= room else min(room, 0.62 * full)  # two lines of like length
    beside = sheet.ruler.wrapped(said, style.NORMAL, width=room, lines=2, bold=True)
    sheet.write(after, bottom + 2.5, beside, bold=True, vertical="center", gid="beside")
    tally = sheet.ruler.cut(
        _tally(sheet), style.NORMAL, width=(style.PAGE_MM[0] - 2 * style.MARGIN_MM) * scale
    )
    sheet.write(left, bottom - 4.5, tally, bold=True, gid="tally")


def _tally(sheet: Sheet) -> str:
    """Say how much was assessed, and how many metres need a look."""
    assessment, unit = sheet.assessment, sheet.view.unit
    parts = [_assessed(assessment, unit)]
    flown = stretches.of_heights(assessment.findings)
    for state in (State.BREACH, State.NOT_ASSESSED, State.TIGHT):
        length_m, said = stretches.tally(flown, state)
        if said:
            parts.append(f"{style.WORD[state]} {words.up(length_m, unit)} {unit} {said}")
    return "; ".join(parts)


def _assessed(assessment: Assessment, unit: str) -> str:
    total = f"{words.up(assessment.length_m, unit)} {unit}"
    if assessment.assessed_m >= assessment.length_m - 1e-6:
        return f"assessed: all {total}"
    return f"assessed: {words.down(assessment.assessed_m, unit)} of {total}"


def _basis(sheet: Sheet) -> Iterator[tuple[str, int]]:
    """Yield rule, margins with launch ground, and terrain, with the lines each may take."""
    assessment, unit = sheet.assessment, sheet.view.unit
    rules, launch = assessment.rules, assessment.launch
    sources = "; ".join(rule_words.sources(rules))
    yield (
        f"Rule: {rule_words.name(rules)}: {rule_words.limits(rules, unit)}. "
        f"{sources[0].upper()}{sources[1:]}",
        2,
    )
    yield (
        f"Margins: {margin_words.brief(assessment, unit)}. "
        f"Launch ground: elevation {_stated(launch.elevation_m, unit)} "
        f"({_launch_source(launch, unit)}), spot known within "
        f"{_stated(launch.spot_within_m, unit)}.",
        2,
    )
    models = "; ".join(_terrain(one, unit) for one in assessment.terrain) or "none"
    yield f"Terrain: {models}", 1 if len(assessment.terrain) < 2 else 2
    for label, text in model_words.lines(assessment, unit):
        yield f"{label}: {text}.", 2


def _launch_source(launch: LaunchUsed, unit: str) -> str:
    if launch.model_elevation_m is None:
        return launch.elevation_source
    model = _stated(launch.model_elevation_m, unit)
    return f"{launch.elevation_source}; drawn from the model's, {model}, and shifted by the survey"


def _stated(value_m: float, unit: str) -> str:
    return words.with_unit(words.stated(value_m, unit), unit)


def _terrain(terrain: TerrainUsed, unit: str) -> str:
    kind = "kind not stated" if terrain.kind == "unknown" else f"{terrain.kind} model"
    kind = f"second {kind}" if terrain.role == "second ground" else kind
    cell = " × ".join(words.stated(side, unit) for side in terrain.cell_m)
    return (
        f"{terrain.file} ({kind}, cells {cell} {unit}, {terrain.vertical_datum}, "
        f"cells used {terrain.used_hash[:12]})"
    )


def _footer(sheet: Sheet) -> None:
    """Write the fixed cautions, and how many more this assessment has."""
    left, right = style.MARGIN_MM, style.PAGE_MM[0] - style.MARGIN_MM
    own = len(cautions.all_cautions(sheet.assessment)) - len(cautions.FIXED_CAUTIONS)
    more = (f"This assessment has {own} more of its own: see the table.",) if own else ()
    text = "CAUTIONS  " + "  •  ".join((*cautions.FIXED_CAUTIONS, *more))
    pixels = (right - left) * sheet.ruler.pixels_per_mm
    rows = sheet.ruler.wrapped(text, style.NORMAL, width=pixels, lines=FOOTER_LINES).split("\n")
    for index, row in enumerate(rows):
        up = 14.6 - 3.4 * index
        sheet.write(left, up, row, gid=f"caution-{index}")

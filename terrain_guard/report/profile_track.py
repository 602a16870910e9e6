"""The strips that go with the plot: stops above it, legs and states below it.

Each state has a row of its own, named at its left and totalled at its right, so
that a stretch one metre long can be told apart without its hatch or its colour.
"""

from __future__ import annotations

import re
from typing import TYPE_CHECKING

from terrain_guard.report import profile_style as style
from terrain_guard.report import words
from terrain_guard.report.profile_bins import stretches
from terrain_guard.report.profile_labels import Box, Room, printable
from terrain_guard.report.stretches import of_heights, total_m
from terrain_guard.states import SEVERITY, State

if TYPE_CHECKING:
    from matplotlib.axes import Axes

    from terrain_guard.report.profile_style import Sheet

LEGS_MM, ROW_MM = 4.6, 3.3
ROWS = (State.BREACH, State.NOT_ASSESSED, State.TIGHT, State.WITHIN)
LEAST_MM = 0.7
NAME_ROWS, NAME_MM = 3, 3.6
LONGEST_NAME_MM = 42.0
HEIGHT_MM = LEGS_MM + len(ROWS) * ROW_MM


def draw_track(sheet: Sheet, plot: Axes, *, left: float, top: float, width: float) -> Axes:
    """Draw legs and states under `plot`, from `top` down; places in millimetres."""
    axes = sheet.axes(left, top - HEIGHT_MM, width, HEIGHT_MM)
    axes.set_xlim(plot.get_xlim())
    axes.set_ylim(0, HEIGHT_MM)
    axes.set_yticks([])
    axes.set_xticks([])
    _legs(sheet, axes)
    for index, state in enumerate(ROWS):
        _row(sheet, axes, state, bottom=HEIGHT_MM - LEGS_MM - (index + 1) * ROW_MM)
    return axes


def _legs(sheet: Sheet, axes: Axes) -> None:
    """Draw a cell for each leg, with its number; the first and the last have names too."""
    stops = sheet.stops()
    bottom = HEIGHT_MM - LEGS_MM
    for index, row in enumerate(sheet.assessment.legs):
        start, end = stops[index][0], stops[index + 1][0]
        shade = "#ececec" if index % 2 else "white"
        axes.broken_barh(
            [(start, end - start)], (bottom, LEGS_MM), facecolor=shade, edgecolor=style.QUIET,
            linewidth=0.4, gid=f"leg-{row.leg}",
        )  # fmt: skip
        left, right = axes.transData.transform([(start, 0), (end, 0)])[:, 0]
        fits = (
            text
            for text in _leg_texts(sheet, row.leg)
            if sheet.ruler.size(text, style.SMALL)[0] <= right - left - 2
        )
        axes.text(
            (start + end) / 2, bottom + LEGS_MM / 2, next(fits, ""), fontsize=style.SMALL,
            ha="center", va="center_baseline", gid=f"leg-number-{row.leg}",
        )  # fmt: skip
    beside(axes, bottom + LEGS_MM / 2, "leg", gid="row-name-leg")


def _leg_texts(sheet: Sheet, leg: int) -> tuple[str, ...]:
    number = str(leg)
    if leg == 0:
        return "0 climb-out", number
    if leg < len(sheet.assessment.route.waypoints):
        return (number,)
    home = sheet.assessment.route.after_last.go_to == "launch"
    return f"{number} way home" if home else f"{number} after the last", number


def _row(sheet: Sheet, axes: Axes, state: State, *, bottom: float) -> None:
    """Draw where `state` holds, with its word at the left and its total at the right."""
    view = sheet.view
    wanted = view.state == SEVERITY.index(state)
    left, right = axes.get_xlim()
    least = LEAST_MM * (right - left) * sheet.ruler.pixels_per_mm / axes.bbox.width
    drawn = stretches(view.along, wanted, least=least)
    axes.axhline(bottom + ROW_MM, color=style.FAINT, linewidth=0.4)
    if drawn:
        axes.broken_barh(
            [(start, end - start) for start, end in drawn], (bottom + 0.35, ROW_MM - 0.7),
            facecolor=style.FILL[state], edgecolor=style.HATCH_INK[state],
            hatch=style.HATCH[state], linewidth=0.4, gid=f"row-{state}",
        )  # fmt: skip
    middle = bottom + ROW_MM / 2
    word = style.WORD[state]
    bold = state is not State.WITHIN and bool(drawn)
    beside(axes, middle, word, gid=f"row-name-{word}", bold=bold)
    total(axes, middle, _metres(sheet, state) if drawn else "none", gid=f"total-{state}")


def _metres(sheet: Sheet, state: State) -> str:
    """Write how many metres the findings count in `state`; within has no findings."""
    _, length_m = total_m(of_heights(sheet.assessment.findings), state)
    return f"{words.up(length_m, sheet.view.unit)} {sheet.view.unit}" if length_m else ""


def beside(axes: Axes, height: float, text: str, *, gid: str, bold: bool = False) -> None:
    """Name a row, at the left of `axes`."""
    axes.annotate(
        text, (0, height), xycoords=axes.get_yaxis_transform(), xytext=(-3, 0),
        textcoords="offset points", fontsize=style.SMALL, ha="right", va="center_baseline",
        fontweight="bold" if bold else "normal", gid=gid,
    )  # fmt: skip


def total(axes: Axes, height: float, text: str, *, gid: str, bold: bool = False) -> None:
    """Sum a row up, at the right of `axes`."""
    axes.annotate(
        text, (1, height), xycoords=axes.get_yaxis_transform(), xytext=(3, 0),
        textcoords="offset points", fontsize=style.SMALL, va="center_baseline",
        fontweight="bold" if bold else "normal", gid=gid,
    )  # fmt: skip


def draw_stops(sheet: Sheet, plot: Axes, *, bottom: float) -> None:
    """Write the stops' numbers in the row above `plot`, names there or in rows higher up."""
    scale = sheet.ruler.pixels_per_mm
    frame = sheet.box(2, bottom, style.PAGE_MM[0] - 4, NAME_ROWS * NAME_MM)
    room = Room(frame=frame, gap=4.0)
    rows = [frame.bottom + index * NAME_MM * scale for index in range(NAME_ROWS)]
    places = [plot.transData.transform((stop[0], 0))[0] for stop in sheet.stops()]
    numbers = [_number_box(sheet, room, place, stop[1], rows[0])
               for place, stop in zip(places, sheet.stops(), strict=True)]  # fmt: skip
    for place, (_, number, name), own in zip(places, sheet.stops(), numbers, strict=True):
        text, box = number, None
        if own is not None:
            room.taken.remove(own)
        if own is None or _own_name(name, number):
            full = f"{number} {_own_name(name, number)}".strip()
            text, box = _named(sheet, room, place, full, rows)
        if own is not None and (box is None or box.bottom > own.bottom):
            room.take(own)
            _stop_text(sheet, own, number)
        if box is not None:
            _stop_text(sheet, box, text)


def _own_name(name: str, number: str) -> str:
    """Return a waypoint's name, or nothing where the name is but its number."""
    plain = re.fullmatch(rf"(waypoint|wp|point)?[ _-]*0*{number}", name.strip(), re.IGNORECASE)
    return "" if number and plain else printable(words.clean(name))


def _number_box(sheet: Sheet, room: Room, place: float, number: str, row: float) -> Box | None:
    if not number:
        return None
    width, height = sheet.ruler.size(number, style.SMALL)
    return room.place((width, height), [(place - width / 2, row)])


def _named(
    sheet: Sheet, room: Room, place: float, full: str, rows: list[float]
) -> tuple[str, Box | None]:
    """Find room for a name: in full, then cut short, in the lowest row that has room."""
    longest = LONGEST_NAME_MM * sheet.ruler.pixels_per_mm
    for share in (1.0, 0.6, 0.35):
        text = sheet.ruler.cut(full, style.SMALL, width=share * longest)
        width, height = sheet.ruler.size(text, style.SMALL)
        corners = [(place - part * width, row) for row in rows for part in (0.5, 0.3, 0.7, 0.1)]
        for corner in corners:
            box = room.place((width, height), [corner])
            if box is not None:
                return text, box
    return "", None


def _stop_text(sheet: Sheet, box: Box, text: str) -> None:
    across, up = (size / 25.4 * sheet.figure.dpi for size in style.PAGE_MM)
    sheet.figure.text(
        (box.left + box.right) / 2 / across, box.bottom / up, text, fontsize=style.SMALL,
        ha="center", va="bottom", gid=f"stop-{box.left:.0f}-{box.bottom:.0f}",
    )  # fmt: skip

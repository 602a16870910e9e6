"""What is written into the plot: waypoints, worst points, words for lines and stretches.

Labels are placed in the order of what they are worth: failing stretches, worst
points with their numbers, then the names of the lines.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from terrain_guard.report import profile_style as style
from terrain_guard.report.profile_bins import runs, stretches
from terrain_guard.report.profile_labels import PAD, Box, around
from terrain_guard.report.profile_names import (
    lines_of,
    middle_of,
    name_lines,
    return_line,
    write_in,
)
from terrain_guard.states import SEVERITY, State

if TYPE_CHECKING:
    from collections.abc import Iterator

    from matplotlib.axes import Axes

    from terrain_guard.report.profile_labels import Room
    from terrain_guard.report.profile_points import Point
    from terrain_guard.report.profile_style import Sheet

FEW, SOME = 8, 24
"""Up to so many worst points carry words, or at least their number, in the plot."""
GAPS_NAMED = 6
LONGEST_LEADER_MM = 30.0


def draw_marks(sheet: Sheet, axes: Axes, room: Room) -> None:
    """Write everything into the plot; `room` keeps the labels apart."""
    _waypoints(sheet, axes)
    _point_markers(sheet, axes, room)
    named = _state_words(sheet, axes, room)
    _point_labels(sheet, axes, room)
    lines = (*lines_of(sheet), return_line(sheet))
    name_lines(sheet, axes, room, sheet.view.along, lines)
    _gap_words(sheet, axes, room, named=named)


def _waypoints(sheet: Sheet, axes: Axes) -> None:
    view = sheet.view
    places = np.array([along for along, _, _ in sheet.stops()])
    axes.vlines(
        places, 0, 1, transform=axes.get_xaxis_transform(), color=style.QUIET, linewidth=0.4,
        zorder=0.9, gid="waypoint-ticks",
    )  # fmt: skip
    axes.plot(
        places[1:-1], np.interp(places[1:-1], view.along, view.curve), "o", markersize=4.5,
        markerfacecolor="white", markeredgecolor=style.INK, zorder=4, gid="waypoints",
    )  # fmt: skip


def _point_markers(sheet: Sheet, axes: Axes, room: Room) -> None:
    half = 0.9 * sheet.ruler.pixels_per_mm
    for point in sheet.points:
        where = point.along, sheet.view.at(point.along)
        axes.plot(*where, zorder=5, gid=f"point-{point.letter}", **style.marker(point))
        x, y = axes.transData.transform(where)
        room.take(Box(x - half, y - half, x + half, y + half))


def _state_words(sheet: Sheet, axes: Axes, room: Room) -> list[tuple[float, float]]:
    """Write the state's word at the foot of each failing stretch that is wide enough.

    Returns the stretches that got their word.
    """
    view, frame = sheet.view, room.frame
    named = []
    for state in (State.BREACH, State.NOT_ASSESSED, State.TIGHT):
        word = style.WORD[state]
        width, height = sheet.ruler.size(word, style.SMALL)
        for start, end in stretches(view.along, view.state == SEVERITY.index(state), least=0.0):
            left, right = axes.transData.transform([(start, 0), (end, 0)])[:, 0]
            lying = width + 2 * PAD <= right - left
            if not lying and height + PAD > right - left:
                continue
            size = (width, height) if lying else (height, width)
            middle = (left + right) / 2
            corner = (middle - size[0] / 2, frame.bottom + PAD)
            box = room.place(size, [corner])
            if box is not None:
                named.append((start, end))
                gid = f"word-{state}-{len(named)}"
                write_in(axes, box, word, rotation=0 if lying else 90, gid=gid)
    return named


def _point_labels(sheet: Sheet, axes: Axes, room: Room) -> None:
    """Label the worst points, the gravest first; a label too large shrinks to its letter."""
    gravest = sorted(sheet.points, key=lambda point: point.gravity, reverse=True)
    reach = LONGEST_LEADER_MM * sheet.ruler.pixels_per_mm
    for rank, point in enumerate(gravest):
        where = point.along, sheet.view.at(point.along)
        anchor = tuple(axes.transData.transform(where))
        for text in _point_texts(point, rank):
            width, height = sheet.ruler.size(text, style.NORMAL, bold=True)
            size = width + 2 * PAD, height + 2 * PAD
            corners = around(anchor, size, clear=4 * PAD)
            box = room.place(size, corners, anchor=anchor, reach=reach)
            if box is not None:
                _point_label(axes, box, text, where, point)
                break


def _point_texts(point: Point, rank: int) -> Iterator[str]:
    """Yield what to write, in full first; lesser points begin with less."""
    brief = f"{point.mark}  {point.number or point.said[0]}"
    if rank < FEW:
        way = f" ({point.flown})" if point.flown else ""
        yield f"{brief}\n{point.said[0]}{way}" if point.number else f"{brief}{way}"
    if rank < SOME:
        yield brief
    yield point.mark


def _point_label(axes: Axes, box: Box, text: str, where: tuple[float, float], point: Point) -> None:
    breach = point.state is State.BREACH
    axes.annotate(
        text,
        xy=where,
        xytext=middle_of(axes, box),
        fontsize=style.NORMAL,
        fontweight="bold" if breach else "normal",
        ha="center",
        va="center",
        linespacing=1.15,
        zorder=7,
        gid=f"label-{point.letter}",
        bbox={"facecolor": "white", "edgecolor": style.INK, "linewidth": 0.6, "pad": 1.5},
        arrowprops={"arrowstyle": "-", "linewidth": 0.7, "shrinkA": 0, "shrinkB": 2},
    )


def _gap_words(sheet: Sheet, axes: Axes, room: Room, *, named: list[tuple[float, float]]) -> None:
    """Point at gaps in the ground that lie in no stretch with a word of its own."""
    view = sheet.view
    text = style.WORD[State.NOT_ASSESSED]
    width, height = sheet.ruler.size(text, style.SMALL)
    size = width + 2 * PAD, height + 2 * PAD
    for first, last in runs(~np.isfinite(view.ground))[:GAPS_NAMED]:
        along = (view.along[first] + view.along[last]) / 2
        where = along, axes.get_ylim()[0] + 0.06 * np.ptp(axes.get_ylim())
        anchor = tuple(axes.transData.transform(where))
        if any(start <= along <= end for start, end in named):
            continue
        box = room.place(size, around(anchor, size, clear=4 * PAD), anchor=anchor)
        if box is not None:
            axes.annotate(
                text, xy=where, xytext=middle_of(axes, box),
                fontsize=style.SMALL, ha="center", va="center", zorder=6, gid=f"gap-{first}",
                bbox=style.BACKED, arrowprops={"arrowstyle": "-", "linewidth": 0.6, "shrinkA": 0},
            )  # fmt: skip

"""Names beside the lines they belong to, so that nobody has to look up a key.

The same goes for the plot and for the true-scale strip: where the lines run, in
pixels, and then the place beside each line where its name covers the least.
"""

from __future__ import annotations

import math
from typing import TYPE_CHECKING, Any, NamedTuple

import numpy as np

from terrain_guard.plan.rules import DATUM_DOUBT_M
from terrain_guard.report import margin_words, words
from terrain_guard.report import profile_style as style
from terrain_guard.report.profile_labels import PAD, Room

if TYPE_CHECKING:
    from collections.abc import Iterator, Sequence

    from matplotlib.axes import Axes
    from numpy.typing import NDArray

    from terrain_guard.report.profile_data import View
    from terrain_guard.report.profile_labels import Box
    from terrain_guard.report.profile_style import Sheet

PIXELS_A_COLUMN = 4
SHOWN_M = 0.5
"""What stands less high than this above the ground is not named."""
AMONG = 30  # samples


class Line(NamedTuple):
    """One line of a picture and what it is called there."""

    values: NDArray[np.float64]
    name: str
    gid: str


def lines_of(sheet: Sheet) -> tuple[Line, ...]:
    """Return the lines of the plot, the most needed name first."""
    view = sheet.view
    return (
        Line(np.full(len(view.along), view.launch), _launch_text(sheet), "name-launch"),
        Line(view.highest, _ceiling_text(sheet), "name-ceiling"),
        Line(view.lowest, _floor_text(sheet), "name-floor"),
        Line(view.curve, "flown curve", "name-flown"),
        Line(view.lowered, "with margins", "name-band"),
        Line(view.ground, _ground_text(sheet), "name-ground"),
        *_surface_line(view),
    )


def return_line(sheet: Sheet) -> Line:
    """Return the height to come home at, which only the plot has."""
    return Line(sheet.view.to_return, "return height needed", "name-return")


def _surface_line(view: View) -> Iterator[Line]:
    """Yield what stands on the ground, where a surface model shows something there."""
    stands = view.surface - view.ground > SHOWN_M
    among = np.convolve(stands, np.ones(2 * AMONG + 1), "same") > 0  # between one and the next
    if stands.any():
        yield Line(np.where(among, view.surface, np.nan), "trees and roofs", "name-surface")


def _ground_text(sheet: Sheet) -> str:
    return "surface model" if sheet.assessment.models == "surface" else "ground"


def room_for(axes: Axes, x: NDArray[np.float64], lines: Sequence[Line]) -> Room:
    """Return the room inside `axes` for labels, with the lines that run through it.

    Each line is kept as its lowest and highest pixel in columns of a few pixels.
    """
    frame = style.box_of(axes).grown(-2.0)
    columns = max(int((frame.right - frame.left) / PIXELS_A_COLUMN), 1)
    wide = (frame.right - frame.left) / columns
    across = _pixels_across(axes, x)
    middle = frame.left + (np.arange(columns) + 0.5) * wide
    column = np.floor((across - frame.left) / wide).astype(np.int64)
    inside = (column >= 0) & (column < columns)
    lows, highs = [], []
    for line in lines:
        up = _pixels_up(axes, line.values)
        between = np.interp(middle, across, up, left=np.nan, right=np.nan)
        low, high = between.copy(), between.copy()
        np.fmin.at(low, column[inside], up[inside])
        np.fmax.at(high, column[inside], up[inside])
        lows.append(low)
        highs.append(high)
    return Room(frame=frame, lows=np.array(lows), highs=np.array(highs))


def _pixels_across(axes: Axes, x: NDArray[np.float64]) -> NDArray[np.float64]:
    return np.asarray(axes.transData.transform(np.column_stack((x, np.zeros(len(x)))))[:, 0])


def _pixels_up(axes: Axes, y: NDArray[np.float64]) -> NDArray[np.float64]:
    return np.asarray(axes.transData.transform(np.column_stack((np.zeros(len(y)), y)))[:, 1])


def name_lines(
    sheet: Sheet, axes: Axes, room: Room, x: NDArray[np.float64], lines: Sequence[Line]
) -> None:
    """Write each line's name beside it, where it covers the least; none where none fits."""
    across = _pixels_across(axes, x)
    for line in lines:
        up = _pixels_up(axes, line.values)
        for text, rise, below in _attempts(line.name):
            width, height = sheet.ruler.size(text, style.SMALL)
            size = width + PAD, height
            is_ground = line.gid.endswith("name-ground")
            corners = _beside(room, across, up, size, rise=rise, under=is_ground)
            box = room.place(size, corners, below=below)
            if box is not None:
                slant = "italic" if is_ground else "normal"
                write_in(axes, box, text, gid=line.gid, style=slant)
                break


def _attempts(name: str) -> Iterator[tuple[str, float, float]]:
    """Yield what to try: the full name near its line, then shorter, farther, over others.

    Each is a text, how many times its height the line may rise along it, and the cost
    to stay below.
    """
    short = name.split(":", maxsplit=1)[0]
    for rise, cost in ((2.5, 1.0), (5.0, 1.0), (5.0, math.inf)):
        yield name, rise, cost
        yield short, rise, cost


def _beside(
    room: Room,
    x: NDArray[np.float64],
    y: NDArray[np.float64],
    size: tuple[float, float],
    *,
    rise: float,
    under: bool,
) -> Iterator[tuple[float, float]]:
    """Yield corners just above and below a line in pixels, where it stays near the name."""
    width, height = size
    for left in np.linspace(room.frame.left, room.frame.right - width, 60):
        first, last = np.searchsorted(x, (left, left + width))
        part = y[max(first - 1, 0) : last + 1]
        if len(part) == 0 or not np.isfinite(part).all():
            continue
        low, high = float(part.min()), float(part.max())
        if high - low > rise * height:
            continue
        if not under:
            yield left, high + PAD
        yield left, low - PAD - height


def middle_of(axes: Axes, box: Box) -> tuple[float, float]:
    """Return the middle of a box in pixels as a place in the data."""
    middle = (box.left + box.right) / 2, (box.bottom + box.top) / 2
    x, y = axes.transData.inverted().transform(middle)
    return float(x), float(y)


def write_in(axes: Axes, box: Box, text: str, *, gid: str, **how: Any) -> None:
    """Write `text` centred in `box`, tied to the data so that it scales with the page."""
    x, y = middle_of(axes, box)
    look = {"fontsize": style.SMALL, "ha": "center", "va": "center", "zorder": 6.0} | how
    axes.text(x, y, text, gid=gid, bbox=style.BACKED, fontdict=None, **look)


def _launch_text(sheet: Sheet) -> str:
    if not sheet.view.launch_known:
        return "launch ground = 0 (elevation not known)"
    unit, launch = sheet.view.unit, sheet.assessment.launch
    return f"launch ground = 0 (elevation {words.stated(launch.level_m, unit)} {unit})"


def _ceiling_text(sheet: Sheet) -> str:
    rules, canopy = sheet.assessment.rules, sheet.assessment.canopy
    size = margin_words.along(sheet.assessment.samples.ceiling_margin_m, sheet.view.unit)
    margin, parts = f"margin {size}", []
    margin += " with canopy" if canopy.ceiling_m else ""
    margin = f"− {margin}"
    margin += f" − {_length(sheet, canopy.ground_below_m)} canopy" if canopy.ground_below_m else ""
    if math.isfinite(rules.above_ground_ceiling_m):
        parts.append(f"{_length(sheet, rules.ceiling_m)} ceiling {margin}")
    if math.isfinite(rules.above_sea_level_ceiling_m):
        above = _length(sheet, rules.above_sea_level_ceiling_m)
        doubt = _length(sheet, DATUM_DOUBT_M)
        parts.append(f"{above} above sea level − margin {size} − {doubt} of doubt")
    return f"highest allowed: {', '.join(parts)}"


def _floor_text(sheet: Sheet) -> str:
    samples, canopy_m = sheet.assessment.samples, sheet.assessment.canopy.floor_m
    floor = _length(sheet, sheet.assessment.rules.floor_m)
    size = margin_words.along(samples.floor_margin_m[~samples.in_column], sheet.view.unit)
    canopy = " with canopy" if canopy_m else ""
    return f"lowest allowed: {floor} floor + margin {size}{canopy}"


def _length(sheet: Sheet, value_m: float) -> str:
    return words.with_unit(words.stated(value_m, sheet.view.unit), sheet.view.unit)

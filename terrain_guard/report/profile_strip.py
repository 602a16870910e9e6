"""The worst 200 m at true scale, and the list of worst places beside it.

Along the strip runs the horizontal distance, so that slopes look as steep as they
are and a climb on the spot is a vertical line.
"""

from __future__ import annotations

from dataclasses import replace
from typing import TYPE_CHECKING

import numpy as np
from matplotlib.ticker import FuncFormatter, MaxNLocator

from terrain_guard.report import profile_style as style
from terrain_guard.report import words
from terrain_guard.report.profile_bins import kept, runs
from terrain_guard.report.profile_labels import PAD, Box
from terrain_guard.report.profile_names import Line, lines_of, name_lines, room_for, write_in
from terrain_guard.report.profile_plot import draw_band, draw_surface
from terrain_guard.report.profile_points import lower_word, worst_of_all
from terrain_guard.states import State
from terrain_guard.units import METRES_PER_UNIT, in_unit

if TYPE_CHECKING:
    from matplotlib.axes import Axes
    from numpy.typing import NDArray

    from terrain_guard.report.profile_data import View
    from terrain_guard.report.profile_labels import Room
    from terrain_guard.report.profile_points import Point
    from terrain_guard.report.profile_style import Sheet

STRIP_M = 200.0
TALLEST_M = 200.0
"""What lies farther up or down from the worst metre than half of this is cut off."""


def draw_strip(sheet: Sheet, *, left: float, bottom: float, width: float, height: float) -> float:
    """Draw the strip in the place given in millimetres; return how wide it came out.

    One scale for both directions: the strip is as wide as 200 m are at the scale
    at which everything in it is as tall as the place.
    """
    worst = worst_of_all(sheet.points)
    if worst is None:
        text = "True-scale strip: nothing was assessed, so there is no worst place to show."
        sheet.write(left, bottom + height + 1.5, text, bold=True, gid="strip-title")
        return sheet.ruler.size(text, style.NORMAL, bold=True)[0] / sheet.ruler.pixels_per_mm
    view = sheet.view
    half = in_unit(STRIP_M, view.unit) / 2
    along = _worst_drawn(sheet, worst) if worst.flown else worst.along
    x = view.across - np.interp(along, view.along, view.across)
    low, high = _up(view, np.abs(x) <= half, along)
    scale = min(width / (2 * half), height / (high - low))  # millimetres for one unit
    middle, tall = (low + high) / 2, height / scale
    axes = sheet.axes(left, bottom, 2 * half * scale, height)
    axes.set_xlim(-half, half)
    axes.set_ylim(middle - tall / 2, middle + tall / 2)
    _strip_lines(axes, view, x)
    lines = [Line(line.values, *_short_name(line)) for line in lines_of(sheet)]
    room = room_for(axes, x, lines)
    _worst(sheet, axes, worst, room, along=along)
    name_lines(sheet, axes, room, x, [line for line in lines if line.name])
    titled = _strip_words(sheet, axes, worst, left=left, top=bottom + height)
    return max(2 * half * scale, titled)


def _worst_drawn(sheet: Sheet, worst: Point) -> float:
    """Return where the drawn curve itself is worst in the stretch that `worst` stands for.

    `worst` is on another curve, whose heights are not known here; a picture of this
    curve at that metre would show a number that is not the worst of anything.
    """
    view, samples = sheet.view, sheet.assessment.samples
    values = {
        "floor": -samples.clearance_m,
        "ceiling": samples.above_ground_m,
        "sea-level ceiling": samples.above_launch_m,
    }[worst.kind]
    inside = (view.along >= worst.span[0]) & (view.along <= worst.span[1])
    inside &= np.isfinite(values)
    if not inside.any():
        return worst.along
    return float(view.along[np.argmax(np.where(inside, values, -np.inf))])


def _short_name(line: Line) -> tuple[str, str]:
    """Return what a line is called in the strip, and its mark; launch level has no name."""
    name = "" if line.gid == "name-launch" else line.name.split(":")[0]
    return name, line.gid.replace("name", "strip-name")


def _up(view: View, inside: NDArray[np.bool_], along: float) -> tuple[float, float]:
    """Return what the strip shows upwards: curve and ground, with a little air.

    Where that is too tall, it is what lies nearest to the worst metre.
    """
    shown = np.concatenate(
        (view.curve[inside], view.ground[inside], view.surface[inside], [view.at(along)])
    )
    low, high = float(np.nanmin(shown)), float(np.nanmax(shown))
    half = in_unit(TALLEST_M, view.unit) / 2
    if high - low > 2 * half:
        middle = min(max(view.at(along), low + half), high - half)
        low, high = middle - half, middle + half
    air = 0.12 * max(high - low, in_unit(20.0, view.unit))
    return low - air, high + air


def _strip_lines(axes: Axes, view: View, x: NDArray[np.float64]) -> None:
    """Draw the ground and the lines that lie in the strip; gaps are hatched."""
    low, high = axes.get_ylim()
    columns = max(int(axes.bbox.width), 1)
    near = slice(*_window(x, axes.get_xlim()))
    for values, gid, how in (
        (view.ground, "strip-ground", {"color": style.GROUND_EDGE, "linewidth": 0.8}),
        (view.lowest, "strip-floor", {"linestyle": style.FLOOR_DASHES, "linewidth": 1.2}),
        (view.highest, "strip-ceiling", {"linestyle": style.CEILING_DASHES, "linewidth": 1.2}),
        (view.curve, "strip-flown", {"linewidth": 2.2}),
    ):
        along, part = x[near], values[near]
        chosen = kept(along, part, columns=columns)
        axes.plot(along[chosen], part[chosen], gid=gid, **({"color": style.INK} | how))
        if gid == "strip-ground":
            axes.fill_between(along[chosen], low, part[chosen], color=style.GROUND, linewidth=0)
            _gaps(axes, along, part, low=low, high=high)
    draw_surface(axes, view, x, gid="strip-surface")
    draw_band(axes, view, x, gid="strip-band")
    axes.set_ylim(low, high)


def _window(x: NDArray[np.float64], limits: tuple[float, float]) -> tuple[int, int]:
    """Return the slice of samples inside `limits`, one more at each end."""
    first, last = np.searchsorted(x, limits[0], "left"), np.searchsorted(x, limits[1], "right")
    return max(int(first) - 1, 0), int(last) + 1


def _gaps(
    axes: Axes, x: NDArray[np.float64], ground: NDArray[np.float64], *, low: float, high: float
) -> None:
    """Hatch where no ground is known, and say so."""
    for first, last in runs(~np.isfinite(ground)):
        start, end = x[max(first - 1, 0)], x[min(last + 1, len(x) - 1)]
        axes.broken_barh(
            [(start, end - start)], (low, high - low), facecolor="white",
            edgecolor=style.WASH_INK[State.NOT_ASSESSED], hatch="xx", linewidth=0.0, zorder=0.5,
        )  # fmt: skip
        axes.text(
            (start + end) / 2, low + 0.04 * (high - low), style.WORD[State.NOT_ASSESSED],
            fontsize=style.SMALL, ha="center", va="bottom", rotation=90, bbox=style.BACKED,
            clip_on=True, gid="strip-gap",
        )  # fmt: skip


def _worst(sheet: Sheet, axes: Axes, worst: Point, room: Room, *, along: float) -> None:
    """Mark the worst metre, and measure straight down from it to the ground."""
    view = sheet.view
    up = view.at(along)
    axes.plot(0, up, zorder=5, **style.marker(replace(worst, flown="")))
    x, y = axes.transData.transform((0, up))
    room.take(Box(x, y, x, y).grown(0.9 * sheet.ruler.pixels_per_mm))
    ground = float(np.interp(along, view.along, view.ground))
    if not np.isfinite(ground):
        return
    axes.plot((0, 0), (ground, up), color=style.INK, linewidth=0.8, marker="_", zorder=4)
    above_m = (up - ground) * METRES_PER_UNIT[view.unit]
    text = _above_text(above_m, worst, view.unit, lower_word(sheet.assessment))
    width, height = sheet.ruler.size(text, style.NORMAL)
    size = width + PAD, height
    ends = axes.transData.transform([(0, up), (0, ground)])
    anchor = ends[0, 0], float(np.clip(ends[:, 1].mean(), room.frame.bottom, room.frame.top))
    box = room.place(size, _beside_the_drop(anchor, size), anchor=anchor)
    if box is not None:
        write_in(axes, box, text, gid="strip-number", fontsize=style.NORMAL)


def _beside_the_drop(
    anchor: tuple[float, float], size: tuple[float, float]
) -> list[tuple[float, float]]:
    """Return corners right and left of the measured drop, level with its middle or not."""
    width, height = size
    levels = [anchor[1] + (step - 0.5) * height for step in (0, 1, -1, 2, -2, 3, -3, 4, -4)]
    lefts = (anchor[0] + 3 * PAD, anchor[0] - width - 3 * PAD, anchor[0] - width / 2)
    return [(left, level) for level in levels for left in lefts]


def _above_text(above_m: float, worst: Point, unit: str, under: str) -> str:
    """Write a height straight down to what is `under` it, rounded to the side that is worse."""
    if worst.number.endswith((f"above {under}", f"below {under}")) and not worst.flown:
        return worst.number
    if above_m < 0:
        return f"{words.up(-above_m, unit)} {unit} below {under}"
    rounded = words.down if worst.kind == "floor" else words.up
    return f"{rounded(above_m, unit)} {unit} above {under}"


def _strip_words(sheet: Sheet, axes: Axes, worst: Point, *, left: float, top: float) -> float:
    """Title the strip, give it axes in the same unit both ways; return the title's width."""
    unit = sheet.view.unit
    half = f"{in_unit(STRIP_M, unit) / 2:.0f} {unit}"
    title = f"True scale: {half} either side of {worst.mark}"
    if worst.flown:
        title = f"True scale: {half} either side of the drawn curve's worst near {worst.mark}"
    sheet.write(left, top + 1.6, title, bold=True, gid="strip-title")
    axes.tick_params(labelsize=style.SMALL, pad=1.5, length=2.5)
    plain = FuncFormatter(lambda value, _: style.grouped(value))
    for axis, ticks in ((axes.xaxis, 4), (axes.yaxis, 5)):
        axis.set_major_locator(MaxNLocator(ticks))
        axis.set_major_formatter(plain)
    axes.set_ylabel(f"elevation ({unit})", fontsize=style.SMALL, labelpad=2)
    axes.set_xlabel(f"horizontal {unit}", fontsize=style.SMALL, labelpad=1)
    if not sheet.view.launch_known:
        axes.set_ylabel(f"above launch ({unit})", fontsize=style.SMALL, labelpad=2)
    return sheet.ruler.size(title, style.NORMAL, bold=True)[0] / sheet.ruler.pixels_per_mm

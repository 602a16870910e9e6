"""The plot itself: ground under the flown curve, between floor and ceiling.

Along the axis run the metres flown, climbs on the spot included, because that is
what every table counts in; ground that is flown on the spot is drawn paler.
"""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

import numpy as np
from matplotlib.ticker import FuncFormatter, MaxNLocator

from terrain_guard.path.altimeter import AS_TYPED
from terrain_guard.report import profile_style as style
from terrain_guard.report.profile_bins import kept, runs, stretches
from terrain_guard.report.profile_marks import draw_marks
from terrain_guard.report.profile_names import lines_of, room_for
from terrain_guard.states import SEVERITY

if TYPE_CHECKING:
    from matplotlib.axes import Axes
    from numpy.typing import NDArray

    from terrain_guard.report.profile_data import View
    from terrain_guard.report.profile_style import Sheet

LEAST_WASH_MM = 0.4
LEAST_RANGE_M = 10.0


def draw_plot(sheet: Sheet, *, place_mm: tuple[float, float, float, float]) -> Axes:
    """Draw the plot at `place_mm` (left, bottom, width, height); return its axes."""
    axes = sheet.axes(*place_mm)
    view = sheet.view
    axes.set_xlim(*_across(view))
    axes.set_ylim(*_up(view))
    _dress(sheet, axes)
    _washes(axes, view, least=LEAST_WASH_MM * _per_mm(axes, place_mm[2]))
    _ground(axes, view)
    draw_surface(axes, view, view.along, gid="surface")
    _curves(axes, view)
    draw_marks(sheet, axes, room_for(axes, view.along, lines_of(sheet)))
    return axes


def _across(view: View) -> tuple[float, float]:
    return float(view.along[0]), float(max(view.along[-1], view.along[0] + 1.0))


def _up(view: View) -> tuple[float, float]:
    """Return the axis from below the lowest ground to above the highest ceiling."""
    drawn = np.concatenate(
        (
            view.curve,
            view.lowered,
            view.raised,
            view.ground,
            view.surface,
            view.lowest,
            view.highest,
            view.to_return,
            [view.launch],
        )
    )
    low, high = float(np.nanmin(drawn)), float(np.nanmax(drawn))
    span = max(high - low, LEAST_RANGE_M)
    return low - 0.12 * span, high + 0.18 * span


def _per_mm(axes: Axes, width_mm: float) -> float:
    left, right = axes.get_xlim()
    return (right - left) / width_mm


def _dress(sheet: Sheet, axes: Axes) -> None:
    """Give the axes both height scales: elevation, and above launch."""
    view, datum = sheet.view, _datum(sheet)
    axes.tick_params(labelsize=style.NORMAL, bottom=False, labelbottom=False)
    axes.yaxis.set_major_locator(MaxNLocator(7))
    axes.yaxis.set_major_formatter(FuncFormatter(lambda value, _: style.grouped(value)))
    known = f"elevation ({view.unit}, {datum})"
    unknown = "elevation not known"
    axes.set_ylabel(known if view.launch_known else unknown, fontsize=style.NORMAL)
    right = axes.twinx()
    axes.tick_params(left=view.launch_known, labelleft=view.launch_known)
    right.set_ylim(*(value - view.launch for value in axes.get_ylim()))
    right.yaxis.set_major_locator(MaxNLocator(7))
    right.yaxis.set_major_formatter(FuncFormatter(lambda value, _: style.grouped(value)))
    right.tick_params(labelsize=style.NORMAL)
    assessment = sheet.assessment
    as_typed = assessment.route.heights == "launch" and assessment.altimeter == AS_TYPED
    typed = ", as typed" if as_typed else ""
    right.set_ylabel(f"above launch ground ({view.unit}{typed})", fontsize=style.NORMAL)
    right.set_zorder(axes.get_zorder() - 1)
    axes.patch.set_visible(False)
    right.grid(axis="y", color=style.FAINT, linewidth=0.4)


def _datum(sheet: Sheet) -> str:
    named = [terrain.vertical_datum for terrain in sheet.assessment.terrain]
    return sheet.ruler.cut(named[0], style.NORMAL, width=200) if named else "datum"


def _washes(axes: Axes, view: View, *, least: float) -> None:
    """Hatch failing stretches lightly, from bottom to top."""
    for state in style.WASH:
        drawn = stretches(view.along, view.state == SEVERITY.index(state), least=least)
        if drawn:
            axes.broken_barh(
                [(start, end - start) for start, end in drawn],
                (0, 1),
                transform=axes.get_xaxis_transform(),
                facecolor=style.WASH[state],
                edgecolor=style.WASH_INK[state],
                hatch=style.WASH_HATCH[state],
                linewidth=0.0,
                zorder=0.5,
                gid=f"stretches-{state}",
            )


def _ground(axes: Axes, view: View) -> None:
    """Fill the ground; a gap stays a gap."""
    bottom = axes.get_ylim()[0]
    chosen = kept(view.along, view.ground, columns=_columns(axes))
    x, y = view.along[chosen], view.ground[chosen]
    axes.fill_between(x, bottom, y, color=style.GROUND, linewidth=0, zorder=1, gid="ground")
    for first, last in runs(view.on_the_spot):
        spot = slice(first, last + 2)
        x_spot, y_spot = view.along[spot], view.ground[spot]
        axes.fill_between(x_spot, bottom, y_spot, color=style.PALE_GROUND, linewidth=0, zorder=1.1)
    axes.plot(x, y, color=style.GROUND_EDGE, linewidth=0.8, zorder=2, gid="ground-edge")


def draw_surface(axes: Axes, view: View, x: NDArray[np.float64], *, gid: str) -> None:
    """Hatch what the surface model has above the ground: trees and roofs."""
    if not np.isfinite(view.surface).any():
        return
    chosen = np.union1d(
        kept(x, view.surface, columns=_columns(axes)), kept(x, view.ground, columns=_columns(axes))
    )
    ground, surface = view.ground[chosen], view.surface[chosen]
    axes.fill_between(
        x[chosen], ground, surface, where=surface > ground, interpolate=True,
        facecolor=style.TREES, edgecolor=style.TREES_EDGE, hatch=style.TREES_HATCH,
        linewidth=0.6, zorder=1.5, gid=gid,
    )  # fmt: skip


def draw_band(axes: Axes, view: View, x: NDArray[np.float64], *, gid: str) -> None:
    """Draw the flown curve with margins: lowered by the floor's, raised by the ceiling's."""
    columns = _columns(axes)
    chosen = np.union1d(
        kept(x, view.lowered, columns=columns), kept(x, view.raised, columns=columns)
    )
    axes.fill_between(
        x[chosen], view.lowered[chosen], view.raised[chosen], facecolor=style.BAND,
        edgecolor=style.BAND_EDGE, alpha=style.BAND_ALPHA, linewidth=0.5, zorder=1.8, gid=gid,
    )  # fmt: skip


def _columns(axes: Axes) -> int:
    return max(int(axes.get_window_extent().width), 1)


def _curves(axes: Axes, view: View) -> None:
    """Draw launch level, floor, ceiling and the flown curve, each its own dashes."""
    axes.axhline(
        view.launch, color=style.INK, lw=0.9, ls=style.LAUNCH_DASHES, zorder=2.5, gid="launch"
    )
    draw_band(axes, view, view.along, gid="band")
    _curve(axes, view, view.lowest, gid="floor", ls=style.FLOOR_DASHES, lw=1.2)
    _curve(axes, view, view.highest, gid="ceiling", ls=style.CEILING_DASHES, lw=1.2)
    if np.isfinite(view.to_return).any():
        _curve(axes, view, view.to_return, gid="return", ls=style.RETURN_DASHES, lw=0.8)
    _curve(axes, view, view.curve, gid="flown", ls="-", lw=2.2)


def _curve(axes: Axes, view: View, values: NDArray[np.float64], **how: Any) -> None:
    chosen = kept(view.along, values, columns=_columns(axes))
    axes.plot(view.along[chosen], values[chosen], color=style.INK, zorder=3, **how)

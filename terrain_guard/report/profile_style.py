"""How the profile looks: page, colours, hatches, words; and the sheet it is drawn on.

Colours come from a colour-blind-proof set and differ in lightness too; every
state also has a hatch, a word and a row of its own, so a grey copy loses nothing.
"""

from __future__ import annotations

from contextlib import contextmanager
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any, Final

import matplotlib as mpl

from terrain_guard.report.profile_labels import FAMILY, Box, Ruler
from terrain_guard.states import State
from terrain_guard.units import METRES_PER_UNIT

if TYPE_CHECKING:
    from collections.abc import Iterator

    from matplotlib.axes import Axes
    from matplotlib.figure import Figure

    from terrain_guard.assessment import Assessment
    from terrain_guard.report.profile_data import View
    from terrain_guard.report.profile_points import Point

PAGE_MM: Final = (297.0, 210.0)
"""A4, landscape."""
MARGIN_MM: Final = 9.0
DOTS_PER_INCH: Final = 200
MM_PER_INCH: Final = 25.4

SMALL, NORMAL, STRONG, TITLE = 7.0, 7.5, 10.0, 14.0  # points
INK, QUIET, FAINT = "#111111", "#555555", "#c9c9c9"
GROUND, GROUND_EDGE, PALE_GROUND = "#b4b4b4", "#4a4a4a", "#dedede"
TREES, TREES_EDGE, TREES_HATCH = "#efefef", "#8f8f8f", "||||"
BAND, BAND_EDGE, BAND_ALPHA = "#d4d4d4", "#555555", 0.6
FLOOR_DASHES, CEILING_DASHES = (0, (6, 2)), (0, (9, 2, 1.5, 2))
LAUNCH_DASHES = (0, (1, 1.6))
RETURN_DASHES = (0, (5, 1.2, 1, 1.2, 1, 1.2))

FILL: Final = {
    State.WITHIN: "#9cc2e5",
    State.TIGHT: "#b57a12",
    State.NOT_ASSESSED: "#ffffff",
    State.BREACH: "#3f1466",
}
HATCH: Final = {State.WITHIN: "", State.TIGHT: "///", State.NOT_ASSESSED: "xxxx", State.BREACH: ""}
HATCH_INK: Final = {
    State.WITHIN: "#9cc2e5",
    State.TIGHT: "#5e3d00",
    State.NOT_ASSESSED: "#444444",
    State.BREACH: "#ffffff",
}
WASH: Final = {State.TIGHT: "#f7ecd6", State.NOT_ASSESSED: "#ffffff", State.BREACH: "#e4d9ee"}
"""What the same stretches are filled with, lightly, in the plot itself."""
WASH_INK: Final = {State.TIGHT: "#cfa75e", State.NOT_ASSESSED: "#c4c4c4", State.BREACH: "#c0aed2"}
WASH_HATCH: Final = {State.TIGHT: "//", State.NOT_ASSESSED: "xx", State.BREACH: "\\\\"}
WORD: Final = {
    State.WITHIN: "within",
    State.TIGHT: "tight",
    State.NOT_ASSESSED: "not assessed",
    State.BREACH: "breach",
}

BACKED: Final = {"facecolor": "white", "edgecolor": "none", "alpha": 0.85, "pad": 0.8}
"""Behind words in a plot, so that lines do not run through them."""

SETTINGS: Final[dict[Any, Any]] = {
    "font.family": FAMILY,
    "text.parse_math": False,  # a "$" in a name is a dollar sign
    "axes.unicode_minus": True,
    "hatch.linewidth": 0.6,
    "svg.fonttype": "path",  # looks the same where the font is missing
    "svg.hashsalt": "terrain-guard profile",
    "pdf.fonttype": 42,
    "path.simplify": False,  # what is drawn was chosen so that no spike is lost
}


@contextmanager
def settings() -> Iterator[None]:
    """Draw with the same settings whatever the user's own Matplotlib set-up says."""
    with mpl.rc_context():
        mpl.rcdefaults()
        mpl.rcParams.update(SETTINGS)
        yield


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Sheet:
    """The page, what it shows, and the ruler that measures on it."""

    figure: Figure
    ruler: Ruler
    assessment: Assessment
    view: View
    points: tuple[Point, ...]

    def axes(self, left: float, bottom: float, width: float, height: float) -> Axes:
        """Return new axes placed in millimetres from the lower left of the page."""
        across, up = PAGE_MM
        return self.figure.add_axes((left / across, bottom / up, width / across, height / up))

    def box(self, left: float, bottom: float, width: float, height: float) -> Box:
        """Return a place given in millimetres as a box in pixels."""
        scale = self.ruler.pixels_per_mm
        return Box(left * scale, bottom * scale, (left + width) * scale, (bottom + height) * scale)

    def stops(self) -> list[tuple[float, str, str]]:
        """Return where each leg begins and the last one ends: (along, number, name)."""
        legs, scale = self.assessment.legs, METRES_PER_UNIT[self.view.unit]
        count = len(self.assessment.route.waypoints)
        begins = [(row.from_m / scale, str(row.leg) if row.leg else "", row.start) for row in legs]
        ends = [
            (row.to_m / scale, str(row.leg + 1) if row.leg < count else "", row.end)
            for row in legs[-1:]
        ]
        return begins + ends

    def write(
        self,
        left: float,
        bottom: float,
        text: str,
        *,
        size: float = NORMAL,
        bold: bool = False,
        gid: str | None = None,
        align: str = "left",
        vertical: str = "baseline",
        color: str = INK,
    ) -> None:
        """Write `text` at a place given in millimetres."""
        self.figure.text(
            left / PAGE_MM[0],
            bottom / PAGE_MM[1],
            text,
            fontsize=size,
            fontweight="bold" if bold else "normal",
            ha=align,
            va=vertical,
            color=color,
            linespacing=1.25,
            gid=gid,
        )


def box_of(axes: Axes) -> Box:
    """Return the frame of `axes` in pixels."""
    return Box(*axes.get_window_extent().extents)


def exaggeration(axes: Axes) -> float:
    """Return how many times taller than it is long a metre is drawn on `axes`."""
    box = axes.get_window_extent()
    (left, right), (bottom, top) = axes.get_xlim(), axes.get_ylim()
    return float((box.height / (top - bottom)) / (box.width / (right - left)))


def times(ratio: float) -> str:
    """Write a ratio with two figures: "46", "6.3", "0.52"."""
    return f"{ratio:.0f}" if ratio >= 10 else f"{ratio:.1f}" if ratio >= 1 else f"{ratio:.2f}"


def grouped(value: float) -> str:
    """Write a tick label: thousands set apart, a real minus sign, no idle decimals."""
    digits = 0 if abs(value - round(value)) < 1e-6 else 1
    return f"{value:,.{digits}f}".replace("-", "\N{MINUS SIGN}")


def marker(point: Point) -> dict[str, Any]:
    """Return the look of a worst point: a breach a diamond, tight a square, else a triangle.

    It is filled where the worst is on the curve drawn, and hollow where it is not.
    """
    shape = {State.BREACH: "D", State.TIGHT: "s"}.get(point.state or State.WITHIN, "^")
    fill = FILL[point.state] if point.state else INK
    return {
        "marker": shape,
        "markersize": 5.5,
        "markerfacecolor": "white" if point.flown else fill,
        "markeredgecolor": fill if point.flown else "white",
        "markeredgewidth": 1.6 if point.flown else 0.8,
        "linestyle": "none",
    }

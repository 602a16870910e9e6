"""The ribbon under the track: way home, sight and link along the flight.

One thin row each, in the states' fills and hatches, a word in every stretch that has
room for one, what fails in all at its right, and a sentence below that leaves nothing out::

    way home  | within |xx not assessed xx|######## breach 585 m ########|   fails 586 m
    sight     | within                              |### breach 300 m ###|  hidden 300 m
    link      | within                    |// tight //|##### breach #####| blocked 290 m

What was not assessed is drawn and said, never left blank.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING, Final

import numpy as np
from matplotlib.ticker import FuncFormatter, MaxNLocator

from terrain_guard.report import profile_style as style
from terrain_guard.report import words
from terrain_guard.report.profile_bins import runs, stretches
from terrain_guard.report.profile_track import LEAST_MM, beside, total
from terrain_guard.states import SEVERITY, State

if TYPE_CHECKING:
    from matplotlib.axes import Axes
    from numpy.typing import NDArray

    from terrain_guard.assessment import Assessment, ComingHome
    from terrain_guard.report.profile_style import Sheet

ROW_MM, BAR_MM = 3.3, 2.6
PAD_MM, HATCH_SHOWN_MM = 0.8, 2.0
RIGHT_MM = 23.5
"""From the end of the axis to where a printer may leave off."""
MEANING: Final = "Tight: margins used up; link: under 0.6 Fresnel radii clear."
GRAVEST_FIRST: Final = (State.BREACH, State.NOT_ASSESSED, State.TIGHT)
_NOT_ASSESSED: Final = SEVERITY.index(State.NOT_ASSESSED)


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Row:
    """One row: its states along the flight, and how its breaches are called."""

    name: str
    gid: str
    state: NDArray[np.int64]  # (n,) as `Samples.state`
    fails: str  # "hidden"

    def length_m(self, along_m: NDArray[np.float64], state: State) -> float:
        """Return how many metres are in `state`; a sample covers the curve to the next."""
        return float(np.diff(along_m)[self.state[:-1] == SEVERITY.index(state)].sum())


COUNT: Final = 3
HEIGHT_MM: Final = COUNT * ROW_MM


def rows_of(assessment: Assessment) -> tuple[Row, ...]:
    """Return the rows from top to bottom; all not assessed where nothing was judged."""
    home = assessment.coming_home
    unknown = np.full(len(assessment.samples.along_m), _NOT_ASSESSED)
    every = None if home is None else home.every_metre
    return (
        Row(
            name="way home", gid="home", fails="fails",
            state=unknown if every is None else every.return_state,
        ),
        Row(
            name="sight (pilot)", gid="sight", fails=_unseen(home),
            state=unknown if every is None else every.sight_state,
        ),
        Row(
            name="link", gid="link", fails="blocked",
            state=unknown if every is None else every.link_state,
        ),
    )  # fmt: skip


def _unseen(home: ComingHome | None) -> str:
    """Return how to call what the pilot does not see: ground hides it, or it is too far off."""
    too_far = home is not None and any(one.beyond for one in home.watchers[:1])
    return "not seen" if too_far else "hidden"


def draw_ribbon(sheet: Sheet, plot: Axes, *, left: float, top: float, width: float) -> Axes:
    """Draw the rows under the track, from `top` down, over the axis; places in millimetres."""
    axes = sheet.axes(left, top - HEIGHT_MM, width, HEIGHT_MM)
    axes.set_xlim(plot.get_xlim())
    axes.set_ylim(0, HEIGHT_MM)
    axes.set_yticks([])
    axes.xaxis.set_major_locator(MaxNLocator(10))
    axes.xaxis.set_major_formatter(FuncFormatter(lambda value, _: style.grouped(value)))
    axes.tick_params(labelsize=style.NORMAL)
    for index, row in enumerate(rows_of(sheet.assessment)):
        bottom = HEIGHT_MM - (index + 1) * ROW_MM
        if index:
            axes.axhline(bottom + ROW_MM, color=style.FAINT, linewidth=0.4)
        _bars(sheet, axes, row, bottom=bottom)
        _bar_words(sheet, axes, row, bottom=bottom)
        text, bold = _right(sheet, row)
        fails = bool((row.state >= _NOT_ASSESSED).any())
        beside(axes, bottom + ROW_MM / 2, row.name, gid=f"ribbon-name-{row.gid}", bold=fails)
        total(axes, bottom + ROW_MM / 2, text, gid=f"ribbon-total-{row.gid}", bold=bold)
    return axes


def _bars(sheet: Sheet, axes: Axes, row: Row, *, bottom: float) -> None:
    """Draw every stretch; where thin ones were widened the graver lies on top."""
    left, right = axes.get_xlim()
    least = LEAST_MM * (right - left) * sheet.ruler.pixels_per_mm / axes.bbox.width
    for rank, state in enumerate(SEVERITY):
        drawn = stretches(sheet.view.along, row.state == rank, least=least)
        if drawn:
            axes.broken_barh(
                [(start, end - start) for start, end in drawn],
                (bottom + (ROW_MM - BAR_MM) / 2, BAR_MM),
                facecolor=style.FILL[state], edgecolor=style.HATCH_INK[state],
                hatch=style.HATCH[state], linewidth=0.4, zorder=1 + rank / 10,
                gid=f"ribbon-{row.gid}-{state}",
            )  # fmt: skip


def _bar_words(sheet: Sheet, axes: Axes, row: Row, *, bottom: float) -> None:
    """Write its word into each stretch that holds it, with its length if it is not within."""
    along, along_m = sheet.view.along, sheet.assessment.samples.along_m
    for rank, state in enumerate(SEVERITY):
        for first, inside in runs(row.state == rank):
            last = min(inside + 1, len(along) - 1)
            ends = axes.transData.transform([(along[first], 0), (along[last], 0)])[:, 0]
            room = ends[1] - ends[0] - 2 * _pad_mm(state) * sheet.ruler.pixels_per_mm
            length = _length(float(along_m[last] - along_m[first]), sheet.view.unit)
            bold = state is State.BREACH
            word = style.WORD[state]
            texts = (word,) if state is State.WITHIN else (f"{word} {length}", word)
            fits = [t for t in texts if sheet.ruler.size(t, style.SMALL, bold=bold)[0] <= room]
            if fits:
                axes.text(
                    (along[first] + along[last]) / 2, bottom + ROW_MM / 2,
                    fits[0], fontsize=style.SMALL, ha="center", va="center_baseline", zorder=3,
                    fontweight="bold" if bold else "normal",
                    color="white" if bold else style.INK,
                    bbox=_backing(state), gid=f"ribbon-word-{row.gid}-{state}-{first}",
                )  # fmt: skip


def _pad_mm(state: State) -> float:
    """Return what stays free at each end of a word: of a hatch enough to be seen."""
    return HATCH_SHOWN_MM if style.HATCH[state] else PAD_MM


def _backing(state: State) -> dict[str, object]:
    """Return what lies behind a word, so that no hatch runs through it."""
    clear = {"facecolor": "none", "alpha": 1.0}
    hatched = {"facecolor": "white", "alpha": 1.0}
    return {**style.BACKED, "pad": 0.3, **(hatched if style.HATCH[state] else clear)}


def _right(sheet: Sheet, row: Row) -> tuple[str, bool]:
    """Return what stands at the right of `row`, and whether it is set in bold.

    It is the metres of the gravest state; the sentence below the axis has the others.
    """
    assessment, along_m = sheet.assessment, sheet.assessment.samples.along_m
    if assessment.coming_home is None:
        return style.WORD[State.NOT_ASSESSED], True
    verbs = {State.BREACH: row.fails, State.NOT_ASSESSED: "unknown", State.TIGHT: "tight"}
    lengths = {state: row.length_m(along_m, state) for state in GRAVEST_FIRST}
    state = next((one for one in GRAVEST_FIRST if lengths[one] > 0), State.WITHIN)
    if state is State.WITHIN:
        return "all within", False
    verb, bold = verbs[state], state is not State.TIGHT
    full = f"{verb} {_length(lengths[state], sheet.view.unit)}"
    room = RIGHT_MM * sheet.ruler.pixels_per_mm
    for text, heavy in ((full, bold), (full, False)):
        if sheet.ruler.size(text, style.SMALL, bold=heavy)[0] <= room:
            return text, heavy
    return verb, bold  # a number alone would not say of what


def sentence(assessment: Assessment, unit: str) -> str:
    """Say of each row how many metres are in which state, leaving none out but within."""
    if assessment.coming_home is None:
        return "Way home, sight and link: not assessed; treat them as failing"
    told = [_told(row, assessment, unit) for row in rows_of(assessment)]
    text = "; ".join(told)
    return f"{text[0].upper()}{text[1:]}"


def _told(row: Row, assessment: Assessment, unit: str) -> str:
    said = {
        State.BREACH: f"{row.fails} {{}}",
        State.NOT_ASSESSED: "not assessed {}",
        State.TIGHT: "tight {}",
    }
    along_m = assessment.samples.along_m
    lengths = ((state, row.length_m(along_m, state)) for state in GRAVEST_FIRST)
    parts = [said[state].format(_length(one, unit)) for state, one in lengths if one > 0]
    return f"{row.name} {', '.join(parts) or 'all within'}"


def _length(length_m: float, unit: str) -> str:
    return f"{words.up(length_m, unit, digits=0)} {unit}"

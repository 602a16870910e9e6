"""The list beside the strip: every worst place and every stretch not assessed.

Where there is no room for all, the gravest stay, and the list says how many more
the table holds.
"""

from __future__ import annotations

from typing import TYPE_CHECKING, NamedTuple

from terrain_guard.report import profile_style as style
from terrain_guard.report import words
from terrain_guard.report.stretches import NOT_OF_HEIGHTS, entries
from terrain_guard.states import State
from terrain_guard.units import in_unit

if TYPE_CHECKING:
    from collections.abc import Iterator

    from terrain_guard.report.profile_points import Point
    from terrain_guard.report.profile_style import Sheet

LINE_MM = 3.5
COLUMN_MM = 78.0
"""A second column is made when both can be at least this wide."""
GAP_MM = 4.0
LETTER_MM = 6.0


class Line(NamedTuple):
    """One line of the list."""

    along: float
    gravity: tuple[int, float]
    letter: str
    texts: tuple[str, ...]  # the full one first, then those that make do with less room
    bold: bool

    def text(self, brevity: int) -> str:
        """Return the text that is as brief as asked, or the briefest there is."""
        return self.texts[min(brevity, len(self.texts) - 1)]


def draw_list(sheet: Sheet, *, left: float, top: float, width: float, height: float) -> None:
    """Write the list into a place given in millimetres, `top` being its upper edge."""
    lines, rows = list(_lines(sheet)), int(height / LINE_MM)
    columns = 2 if len(lines) > rows and width >= 2 * COLUMN_MM + GAP_MM else 1
    head = f"Worst places as computed, before margins{_flown_note(sheet)}"
    sheet.write(left, top + 1.6, head, bold=True, gid="list-title")
    across = (width - (columns - 1) * GAP_MM) / columns
    shown = _that_fit(lines, columns * rows)
    brevity = _brevity(sheet, shown, across - LETTER_MM)
    for index, line in enumerate(shown):
        x = left + (index // rows) * (across + GAP_MM)
        y = top - (index % rows + 1) * LINE_MM + 0.6
        width_px = (across - LETTER_MM) * sheet.ruler.pixels_per_mm
        text = sheet.ruler.cut(line.text(brevity), style.NORMAL, width=width_px, bold=line.bold)
        sheet.write(x, y, line.letter, bold=True, gid=f"list-letter-{index}")
        sheet.write(x + LETTER_MM, y, text, bold=line.bold, gid=f"list-{index}")


def _brevity(sheet: Sheet, lines: list[Line], width_mm: float) -> int:
    """Return how brief all lines must be for the widest to fit."""
    width = width_mm * sheet.ruler.pixels_per_mm
    most = max(len(line.texts) for line in lines)
    for brevity in range(most):
        sizes = [sheet.ruler.size(one.text(brevity), style.NORMAL, bold=one.bold) for one in lines]
        if all(size[0] <= width for size in sizes):
            return brevity
    return most - 1


def _flown_note(sheet: Sheet) -> str:
    return "; *: flown another way than drawn" if any(p.flown for p in sheet.points) else ""


def _lines(sheet: Sheet) -> Iterator[Line]:
    for point in sheet.points:
        yield Line(
            along=point.along,
            gravity=point.gravity,
            letter=point.mark,
            texts=_point_texts(point, sheet.view.unit),
            bold=point.state is State.BREACH,
        )
    unit = sheet.view.unit
    for number, entry in enumerate(entries(sheet.assessment.findings), start=1):
        finding = entry.finding
        if finding.state is State.NOT_ASSESSED and finding.kind not in NOT_OF_HEIGHTS:
            span = words.stretch(finding.from_m, finding.to_m, unit).replace("-", "–")
            text = f"not assessed: {span}, leg {finding.leg}"
            texts = (f"{text} (finding {number})", text)
            yield Line(in_unit(finding.from_m, unit), (1, 0.0), "–", texts, bold=True)


def _point_texts(point: Point, unit: str) -> tuple[str, ...]:
    where = f"at {point.along:,.0f} {unit}, leg {point.leg}"
    finding = f" (finding {point.finding})" if point.finding else ""
    way = f" ({point.flown})" if point.flown else ""
    full = ", ".join(filter(None, (point.number, *point.said)))
    brief = ", ".join(filter(None, (point.number, point.said[0])))
    texts = (full + way, finding), (full + way, ""), (brief + way, ""), (brief, "")
    word = style.WORD[point.state] if point.state else point.said[0].split()[0]
    least = f"{point.number or brief}, {word}, {where.removeprefix('at ')}"
    return (*(f"{what}: {where}{more}" for what, more in texts), least)


def _that_fit(lines: list[Line], room: int) -> list[Line]:
    """Return the lines to print in the order flown, the last one saying what is left out."""
    if not lines:
        return [Line(0.0, (0, 0.0), "", ("none",), bold=False)]
    if len(lines) <= room:
        return sorted(lines)
    stay = sorted(lines, key=lambda line: line.gravity, reverse=True)[: room - 1]
    rest = f"and {len(lines) - len(stay)} more: see the table of findings"
    return [*sorted(stay), Line(0.0, (0, 0.0), "", (rest,), bold=True)]

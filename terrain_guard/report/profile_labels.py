"""Words on a picture that never cover one another.

Sizes and places are pixels of the figure, lower left first. `Ruler` measures and
wraps text; `Room` keeps the boxes already taken and the lines that a label should
rather not cover, and picks for each label the cheapest free place::

            .-----.
            |label|  <- no taken box under it, inside the frame
            '-----'
             /         leader: the shorter the better
            o
"""

from __future__ import annotations

import math
from dataclasses import dataclass, field
from functools import cache
from typing import TYPE_CHECKING, NamedTuple

import numpy as np
from matplotlib.font_manager import FontProperties, findfont
from matplotlib.ft2font import FT2Font

if TYPE_CHECKING:
    from collections.abc import Iterable

    from numpy.typing import NDArray

FAMILY = "DejaVu Sans"
"""Comes with Matplotlib, so the page looks the same on every machine."""
NOT_IN_FONT = "\N{WHITE SQUARE}"
PAD = 4.5
"""Pixels of white around a label."""
LINE_HEIGHT, SLACK = 1.21, 1.02
"""Of a line, as a share of the font's size; and for hinting, which may widen a text."""
LINE_COST, LEADER_COST, CROSSING_COST = 4.0, 8.0, 4.0


class Box(NamedTuple):
    """A rectangle in pixels."""

    left: float
    bottom: float
    right: float
    top: float

    def grown(self, by: float) -> Box:
        """Return the box with `by` pixels more on every side."""
        return Box(self.left - by, self.bottom - by, self.right + by, self.top + by)

    def meets(self, other: Box) -> bool:
        """Return whether the two share any area."""
        across = self.left < other.right and other.left < self.right
        return across and self.bottom < other.top and other.bottom < self.top

    def holds(self, other: Box) -> bool:
        """Return whether `other` lies wholly inside."""
        across = self.left <= other.left and other.right <= self.right
        return across and self.bottom <= other.bottom and other.top <= self.top


class Ruler:
    """Measures text as it will be drawn at `dots_per_inch`.

    Widths are sums of the font's own advances, which costs far less than laying each
    text out; kerning only makes the drawn text narrower.
    """

    def __init__(self, dots_per_inch: float) -> None:
        self.pixels_per_mm = dots_per_inch / 25.4
        self._pixels_per_point = dots_per_inch / 72.0

    def size(self, text: str, points: float, *, bold: bool = False) -> tuple[float, float]:
        """Return (width, height) in pixels of `text`, which may have several lines."""
        scale, lines = points * self._pixels_per_point, text.split("\n")
        width = max(sum(_advance(char, bold) for char in line) for line in lines)
        return width * SLACK * scale, LINE_HEIGHT * len(lines) * scale

    def wrapped(
        self, text: str, points: float, *, width: float, lines: int, bold: bool = False
    ) -> str:
        """Break `text` into at most `lines` lines no wider than `width` pixels."""
        rows = [""]
        for word in text.split():
            longer = f"{rows[-1]} {word}".strip()
            if rows[-1] and self.size(longer, points, bold=bold)[0] > width:
                rows.append(word)
            else:
                rows[-1] = longer
        if len(rows) > lines:
            rows = [*rows[: lines - 1], " ".join(rows[lines - 1 :])]
        return "\n".join(self.cut(row, points, width=width, bold=bold) for row in rows)

    def cut(self, text: str, points: float, *, width: float, bold: bool = False) -> str:
        """Return `text`, ended by an ellipsis where it would be wider than `width`."""
        if self.size(text, points, bold=bold)[0] <= width:
            return text
        low, high = 0, len(text)
        while low < high:
            middle = (low + high + 1) // 2
            fits = self.size(text[:middle].rstrip() + "…", points, bold=bold)[0] <= width
            low, high = (middle, high) if fits else (low, middle - 1)
        return text[:low].rstrip() + "…"


def printable(text: str) -> str:
    """Return `text` on one line, with what the font cannot show as a white square."""
    known = _font(bold=False).get_charmap()
    flat = " ".join(text.split())
    return "".join(char if ord(char) in known else NOT_IN_FONT for char in flat)


@cache
def _font(*, bold: bool) -> FT2Font:
    weight = "bold" if bold else "normal"
    font = FT2Font(findfont(FontProperties(family=FAMILY, weight=weight)))
    font.set_size(100.0, 72.0)
    return font


@cache
def _advance(char: str, bold: bool) -> float:
    """Return how far `char` moves the pen, as a share of the font's size."""
    return _font(bold=bold).load_char(ord(char)).linearHoriAdvance / 65536.0 / 100.0


@dataclass
class Room:
    """The free space of one frame; it remembers every label it has placed."""

    frame: Box
    lows: NDArray[np.float64] = field(default_factory=lambda: np.zeros((0, 1)))
    highs: NDArray[np.float64] = field(default_factory=lambda: np.zeros((0, 1)))
    taken: list[Box] = field(default_factory=list)
    leaders: list[NDArray[np.float64]] = field(default_factory=list)
    gap: float = 4.0

    def place(
        self,
        size: tuple[float, float],
        corners: Iterable[tuple[float, float]],
        *,
        anchor: tuple[float, float] | None = None,
        reach: float = math.inf,
        below: float = math.inf,
    ) -> Box | None:
        """Take the cheapest free box of `size` at one of `corners`, or none at all.

        A leader to `anchor` may be at most `reach` pixels long, and the place must
        cost less than `below`.
        """
        best, least = None, below
        for left, bottom in corners:
            box = Box(left, bottom, left + size[0], bottom + size[1])
            leader = 0.0 if anchor is None else math.dist(nearest(box, anchor), anchor)
            far = leader / size[1]
            if leader <= reach and far < least and self._is_free(box):
                cost = far + self._cost(box, anchor)
                best, least = (box, cost) if cost < least else (best, least)
        if best is not None:
            self.take(best, anchor)
        return best

    def take(self, box: Box, anchor: tuple[float, float] | None = None) -> None:
        """Mark `box`, and its leader to `anchor`, as taken."""
        self.taken.append(box)
        if anchor is not None:
            self.leaders.append(_leader(box, anchor))

    def _is_free(self, box: Box) -> bool:
        wide = box.grown(self.gap)
        return self.frame.holds(box) and not any(wide.meets(other) for other in self.taken)

    def _cost(self, box: Box, anchor: tuple[float, float] | None) -> float:
        cost = LINE_COST * self._lines_under(box)
        if self.leaders:
            cost += LEADER_COST * _inside(np.concatenate(self.leaders), box)
        if anchor is not None:
            leader = _leader(box, anchor)
            cost += LEADER_COST * self._taken_under(leader)
            cost += CROSSING_COST * sum(_cross(leader, other) for other in self.leaders)
        return cost

    def _taken_under(self, leader: NDArray[np.float64]) -> int:
        """Return how many taken boxes a leader runs through."""
        left, bottom, right, top = np.array(self.taken).reshape(-1, 4).T
        x, y = leader[:, :1], leader[:, 1:]
        through = (x > left) & (x < right) & (y > bottom) & (y < top)
        return int(through.any(axis=0).sum())

    def _lines_under(self, box: Box) -> int:
        """Return how many of the drawn lines pass under `box`."""
        columns = self.lows.shape[1]
        scale = columns / (self.frame.right - self.frame.left)
        first = max(int((box.left - self.frame.left) * scale), 0)
        last = min(int((box.right - self.frame.left) * scale) + 1, columns)
        low, high = self.lows[:, first:last], self.highs[:, first:last]
        return int(((low <= box.top) & (high >= box.bottom)).any(axis=1).sum())


def nearest(box: Box, anchor: tuple[float, float]) -> tuple[float, float]:
    """Return the point of `box` nearest to `anchor`."""
    x = min(max(anchor[0], box.left), box.right)
    return x, min(max(anchor[1], box.bottom), box.top)


def around(
    anchor: tuple[float, float], size: tuple[float, float], *, clear: float
) -> list[tuple[float, float]]:
    """Return lower-left corners above and below `anchor`, near ones first."""
    width, height = size
    corners = []
    for level in range(11):
        away = clear + level * 0.8 * height
        for share in (-0.5, -0.15, -0.85, 0.1, -1.1, 0.6, -1.6, 1.4, -2.4):
            left = anchor[0] + share * width
            corners += [(left, anchor[1] + away), (left, anchor[1] - away - height)]
    return corners


def _leader(box: Box, anchor: tuple[float, float]) -> NDArray[np.float64]:
    return np.linspace(nearest(box, anchor), anchor, 12)


def _inside(points: NDArray[np.float64], box: Box) -> bool:
    x, y = points.T
    inside = (x > box.left) & (x < box.right) & (y > box.bottom) & (y < box.top)
    return bool(inside.any())


def _cross(one: NDArray[np.float64], other: NDArray[np.float64]) -> bool:
    """Return whether two leaders, each drawn straight, cross."""
    (a, b), (c, d) = (one[0], one[-1]), (other[0], other[-1])
    return _turns(a, b, c) != _turns(a, b, d) and _turns(c, d, a) != _turns(c, d, b)


def _turns(a: NDArray[np.float64], b: NDArray[np.float64], c: NDArray[np.float64]) -> bool:
    """Return whether the way from `a` over `b` to `c` turns left."""
    return bool((b[0] - a[0]) * (c[1] - a[1]) > (b[1] - a[1]) * (c[0] - a[0]))

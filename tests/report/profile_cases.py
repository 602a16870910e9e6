"""The flights that are drawn in tests, and what reads their artists back."""

from __future__ import annotations

from dataclasses import replace
from functools import cache

import numpy as np
import pytest
from matplotlib.axes import Axes
from matplotlib.backends.backend_agg import FigureCanvasAgg
from matplotlib.figure import Figure
from matplotlib.lines import Line2D
from matplotlib.text import Text
from numpy.typing import NDArray

from terrain_guard.assessment import Assessment, Limits
from terrain_guard.report import profile
from tests.report.home_scene import with_home
from tests.report.profile_scene import RULES, Plan, briefing, flight, hills

Array = NDArray[np.float64]
FOOT_M = 0.3048  # international foot, exact: yard and pound agreement of 1959


def gentle(x: Array) -> Array:
    """Return low swells."""
    return np.asarray(212.0 + 9.0 * np.sin(x / 150.0))


def rough(x: Array) -> Array:
    """Return steep hills one after another."""
    return np.asarray(212.0 + 40.0 * np.sin(x / 90.0) + 22.0 * np.sin(x / 37.0 + 1.0))


def mountains(x: Array) -> Array:
    """Return mountains hundreds of metres high."""
    return np.asarray(212.0 + 320.0 * np.sin(x / 9000.0) ** 2 + 90.0 * np.sin(x / 2300.0))


LONG_NAME = " beside the old waterworks pumping station"
CASES = {
    "briefing": briefing(),
    "within": Plan(
        stops=[(60, 70, "gate"), (500, 75, "dam"), (900, 80, "lake"), (1400, 75, "wood")],
        end_m=1900,
        ground=gentle,
    ),
    "breaches": Plan(
        stops=[(80, 60, "a"), (700, 60, "b"), (1500, 70, "c"), (2600, 60, "d"), (3900, 90, "e")],
        end_m=4300,
        ground=rough,
    ),
    "sixty": Plan(
        stops=[(60 + 80.0 * i, 70 + 10 * np.sin(i), f"row {i + 1}") for i in range(60)],
        end_m=5000,
        ground=hills,
    ),
    "short": Plan(stops=[(10, 40, "a"), (90, 40, "b")], end_m=180, ground=gentle),
    "long": Plan(
        stops=[(1000 + 11000.0 * i, 420, f"mast {i + 1}") for i in range(9)],
        end_m=100_000,
        ground=mountains,
        step_m=5.0,
    ),
    "names": replace(
        briefing(),
        title="A very long title of an operation " * 5 + "end",
        stops=[(d, h, name + LONG_NAME) for d, h, name in briefing().stops],
        terrain_file="a/very/long/path/" * 9 + "x.tif",
        rules=replace(RULES, source=("a long source sentence " * 8).strip()),
    ),
    "narrow gaps": replace(
        briefing(),
        voids=[(850.0, 862.0), (1490.0, 1500.0)],
        stops=[(d, h - 12.0 * (name != "weir"), name) for d, h, name in briefing().stops],
        rules=replace(RULES, ceiling_measure="closest-point"),
    ),
    "nothing": replace(briefing(), voids=[(-100.0, 4000.0)]),
    "launch unknown": replace(briefing(), voids=[(-100.0, 4000.0)], launch_known=False),
    "home": briefing(),
    "home of two legs": Plan(
        stops=[(80, 60, "tower"), (350, 65, "well")], end_m=700, ground=gentle
    ),
    "home of thirty legs": Plan(
        stops=[(80.0 + 110.0 * i, 70 + 10 * np.sin(i), f"row {i + 1}") for i in range(29)],
        end_m=3600,
        ground=hills,
    ),
    "home far off": Plan(
        stops=[(1000 + 11000.0 * i, 420, f"mast {i + 1}") for i in range(9)],
        end_m=100_000,
        ground=mountains,
        step_m=5.0,
    ),
}
EVERY = pytest.mark.parametrize("name", CASES)


@cache
def flown(name: str) -> tuple[Assessment, Limits]:
    """Return one case, assessed."""
    assessment, limits = flight(CASES[name])
    return (with_home(assessment) if name.startswith("home") else assessment), limits


@cache
def page(name: str, unit: str = "m") -> Figure:
    """Return one case, drawn and rendered once so that everything has its place."""
    figure = profile.figure(*flown(name), unit=unit)
    figure.draw_without_rendering()
    return figure


def lines_by_gid(figure: Figure) -> dict[str, Line2D]:
    """Return the lines that carry a name."""
    return {
        str(line.get_gid()): line
        for line in figure.findobj(Line2D)
        if isinstance(line, Line2D) and line.get_gid()
    }


def texts(figure: Figure) -> list[Text]:
    """Return every text that is drawn."""
    spare = [
        label
        for axes in figure.axes
        for axis in (axes.xaxis, axes.yaxis)
        for tick in axis.get_major_ticks()
        for label in (tick.label1, tick.label2)
        if not min(axis.get_view_interval()) <= tick.get_loc() <= max(axis.get_view_interval())
    ]  # ticks beyond the ends of an axis are kept by matplotlib, and not drawn
    found = [text for text in figure.findobj(Text) if isinstance(text, Text)]
    return [t for t in found if t.get_visible() and t.get_text().strip() and t not in spare]


def texts_by_gid(figure: Figure) -> dict[str, str]:
    """Return the texts that carry a name."""
    return {str(text.get_gid()): text.get_text() for text in texts(figure) if text.get_gid()}


def all_words(figure: Figure) -> str:
    """Return everything written on the page, line breaks undone, in the order drawn."""
    return " ".join(" ".join(text.get_text().split()) for text in texts(figure))


def axes_with(figure: Figure, gid: str) -> Axes:
    """Return the axes that hold the line called `gid`."""
    axes = lines_by_gid(figure)[gid].axes
    assert isinstance(axes, Axes)
    return axes


def boxes(figure: Figure, prefixes: tuple[str, ...]) -> dict[str, Array]:
    """Return the extents in pixels of the texts whose names begin so: x0, y0, x1, y1."""
    renderer = FigureCanvasAgg(figure).get_renderer()  # type: ignore[no-untyped-call]
    return {
        str(text.get_gid()): np.asarray(Text.get_window_extent(text, renderer).extents)
        for text in texts(figure)
        if str(text.get_gid()).startswith(prefixes)
    }


def apart(one: Array, other: Array) -> bool:
    """Return whether two extents share no area; a baseline is rounded to a whole pixel."""
    right, above = other[:2] - one[2:], one[:2] - other[2:]
    return bool(max(*right, *above) >= -1.0)

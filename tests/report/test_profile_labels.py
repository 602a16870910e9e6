"""Words and numbers on the profile: in their places, apart, rounded to the worse side.

Extents are matplotlib's own; expected numbers are worked by hand.
"""

from __future__ import annotations

import itertools
import re
from collections import Counter
from dataclasses import replace

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from matplotlib.backends.backend_agg import FigureCanvasAgg
from matplotlib.figure import Figure
from matplotlib.text import Text

from terrain_guard.assessment import Assessment
from terrain_guard.report import profile
from terrain_guard.report.profile_labels import Ruler
from terrain_guard.report.profile_points import letter, worst_points
from terrain_guard.states import State
from tests.report.profile_cases import (
    EVERY,
    FOOT_M,
    apart,
    axes_with,
    boxes,
    flown,
    lines_by_gid,
    page,
    texts,
    texts_by_gid,
)
from tests.report.profile_scene import CURVE


@EVERY
def test_labels_in_the_plot_stay_apart_and_inside(name: str) -> None:
    """No two labels share a pixel, and none leaves the frame, as matplotlib measures them."""
    figure = page(name)
    found = boxes(figure, ("label-", "word-", "name-", "gap-"))
    assert found
    frame = np.asarray(axes_with(figure, "flown").get_window_extent().extents)
    for box in found.values():
        assert (box[:2] >= frame[:2] - 1).all()
        assert (box[2:] <= frame[2:] + 1).all()
    for (one, a), (other, b) in itertools.combinations(found.items(), 2):
        assert apart(a, b), f"{one} covers {other}"


@EVERY
def test_everything_written_stays_on_the_page_and_apart(name: str) -> None:
    """Texts outside the plot share no pixel either, and all lie on the sheet."""
    figure = page(name)
    renderer = FigureCanvasAgg(figure).get_renderer()  # type: ignore[no-untyped-call]
    width, height = figure.bbox.size
    margin = 3.0 * figure.dpi / 25.4  # what office printers leave white: common practice, no source
    for text in texts(figure):
        left, bottom, right, top = Text.get_window_extent(text, renderer).extents
        assert left >= margin / 2, text.get_text()
        assert right <= width - margin / 2, text.get_text()
        assert bottom >= margin, text.get_text()
        assert top <= height - margin, text.get_text()
    free = [(t.get_text(), np.asarray(t.get_window_extent(renderer).extents)) for t in figure.texts]
    for (one, a), (other, b) in itertools.combinations(free, 2):
        assert apart(a, b), f"{one!r} covers {other!r}"


@EVERY
def test_every_breach_is_marked_and_the_numbers_are_lettered_in_order(name: str) -> None:
    """One marker at the worst metre of each breach, letters A, B, C along the way."""
    assessment, _ = flown(name)
    figure = page(name)
    lines = lines_by_gid(figure)
    marks = {gid: line for gid, line in lines.items() if gid.startswith("point-")}
    places = [float(np.asarray(line.get_xdata())[0]) for line in marks.values()]
    assert places == sorted(places)
    assert list(marks) == [f"point-{letter(i)}" for i in range(len(marks))]
    for finding in assessment.findings:
        if finding.state is State.BREACH:
            assert min(abs(place - finding.at_m) for place in places) <= 1.0


def test_breaches_are_labelled_before_anything_else() -> None:
    """With room for some only, every breach has its number in the plot."""
    assessment, _ = flown("breaches")
    written = texts_by_gid(page("breaches"))
    for point in worst_points(assessment, unit="m"):
        if point.state is State.BREACH:
            assert point.number in written[f"label-{point.letter}"]
    gravest = max(worst_points(assessment, unit="m"), key=lambda point: point.excess_m)
    assert gravest.said[0] in written[f"label-{gravest.letter}"]
    tight = [p for p in worst_points(assessment, unit="m") if p.state is State.TIGHT]
    assert not [p for p in tight if p.said[0] in written.get(f"label-{p.letter}", "")]


def test_every_waypoint_keeps_its_number_and_every_leg_its_cell() -> None:
    """Sixty waypoints on 5 km: sixty numbers above the plot, sixty-one cells below it."""
    written = texts_by_gid(page("sixty"))
    numbers = Counter(text.split()[0] for gid, text in written.items() if gid.startswith("stop-"))
    assert {str(i) for i in range(1, 61)} <= set(numbers)
    legs = [written.get(f"leg-number-{i}") for i in range(61)]
    assert legs[1:60] == [str(i) for i in range(1, 60)]
    ticks = [
        c for a in page("sixty").axes for c in a.collections if c.get_gid() == "waypoint-ticks"
    ]
    assert len(ticks[0].get_paths()) == 62


def test_a_name_that_is_only_its_number_is_not_written_twice() -> None:
    """Waypoint 5 called "waypoint 5" is written 5; "spillway" keeps its name."""
    stops = [t for g, t in texts_by_gid(page("briefing")).items() if g.startswith("stop-")]
    assert Counter(stops)["launch"] == 2
    assert {"1 gate", "2", "3 spur foot", "4 spillway", "5", "8"} <= set(stops)


@given(st.text("lWif.mno 0123−×…", min_size=1, max_size=40), st.sampled_from([7.0, 10.5]))
def test_the_ruler_never_measures_too_short(text: str, points: float) -> None:
    """What is reserved for a text is at least what matplotlib then draws, hinting included."""
    figure = Figure(dpi=200)
    renderer = FigureCanvasAgg(figure).get_renderer()  # type: ignore[no-untyped-call]
    drawn = figure.text(0, 0, f"|{text}|", fontsize=points, family="DejaVu Sans")
    extent = drawn.get_window_extent(renderer)
    width, height = Ruler(200).size(f"|{text}|", points)
    assert width >= extent.width - 1.0
    assert height >= extent.height - 1.0


def with_worst(kind: str, worst_m: float) -> Assessment:
    """Return the briefing with the worst of its breach of `kind` replaced."""
    assessment, _ = flown("briefing")
    findings = tuple(
        replace(f, worst_m=worst_m) if f.kind == kind and f.state is State.BREACH else f
        for f in assessment.findings
    )
    return replace(assessment, findings=findings)


@pytest.mark.parametrize(
    ("kind", "worst_m", "unit", "printed"),
    [
        ("floor", 29.96, "m", "29.9 m clearance"),
        ("ceiling", 120.04, "m", "120.1 m above ground"),
        ("floor", -3.21, "m", "−3.3 m clearance"),
        ("floor", 29.96, "ft", "98.2 ft clearance"),  # 98.2939…
        ("ceiling", 120.04, "ft", "393.9 ft above ground"),  # 393.8320…
    ],
)
def test_numbers_are_rounded_to_the_side_that_is_worse(
    kind: str, worst_m: float, unit: str, printed: str
) -> None:
    """Clearances down, heights against the ceiling up; feet are 0.3048 m exactly."""
    points = worst_points(with_worst(kind, worst_m), unit=unit)
    assert printed in [point.number for point in points]


def test_depth_below_ground_is_rounded_up_and_said_in_words() -> None:
    """An underground finding's worst is its height above ground, negative: 49.71 m deep."""
    assessment, _ = flown("briefing")
    breach = next(f for f in assessment.findings if f.state is State.BREACH)
    sunk = replace(breach, kind="underground", worst_m=-49.71)
    points = worst_points(replace(assessment, findings=(sunk,)), unit="m")
    assert ("49.8 m below ground", "into the ground") in [(p.number, p.said[0]) for p in points]


def test_least_clearance_leaves_out_take_off_and_landing() -> None:
    """It is the least of the legs between waypoints, though on the ground it is nothing."""
    assessment, _ = flown("within")
    least = next(p for p in worst_points(assessment, unit="m") if "least" in p.said[0])
    rows = [row.clearance_min for row in assessment.legs[1:-1]]
    assert least.along == min((r for r in rows if r), key=lambda r: r.nominal_m).along_m
    assert assessment.legs[0].clearance_min is not None
    assert assessment.legs[0].clearance_min.nominal_m == pytest.approx(0.0, abs=0.3)


def test_feet_everywhere() -> None:
    """Every number written about the flight is in feet, and the axes are longer by 1/0.3048."""
    metres, feet = page("briefing"), page("briefing", "ft")
    written = {g: t for g, t in texts_by_gid(feet).items() if not g.startswith("basis")}
    assert not [t for t in written.values() if re.search(r"\d m\b", t)]
    for wanted in ("along", "name-ceiling", "name-launch", "tally", "strip-number"):
        assert re.search(r"\bft\b", written[wanted])
    for axes in feet.axes:
        assert "(m" not in axes.get_ylabel() + axes.get_xlabel()
    one, other = (axes_with(f, "flown") for f in (metres, feet))
    assert one.get_xlim()[1] / other.get_xlim()[1] == pytest.approx(FOOT_M, rel=1e-12)
    assert np.divide(one.get_ylim(), other.get_ylim()) == pytest.approx(FOOT_M, rel=1e-12)
    assert texts_by_gid(metres)["exaggeration"] == texts_by_gid(feet)["exaggeration"]


def test_the_list_says_how_much_it_leaves_out() -> None:
    """Letters listed and places left out add up to all places and gaps there are."""
    assessment, limits = flown("breaches")
    many = tuple(
        replace(f, from_m=f.from_m + 7.0 * i, to_m=f.to_m + 7.0 * i, at_m=f.at_m + 7.0 * i)
        for i in range(3)
        for f in assessment.findings
        if f.state is State.BREACH
    )
    crowded = replace(assessment, findings=many)
    figure = profile.figure(crowded, limits)
    listed = [
        t for g, t in texts_by_gid(figure).items() if re.fullmatch(r"list-\d+", g) and "leg" in t
    ]
    more = next(t for t in texts_by_gid(figure).values() if "see the table of findings" in t)
    left_out = re.search(r"and (\d+) more", more)
    assert left_out is not None
    assert len(listed) + int(left_out[1]) == len(worst_points(crowded, unit="m"))


def test_a_worst_on_another_curve_is_not_passed_off_as_the_drawn_one() -> None:
    """It has a star and a hollow marker, says how it is flown, and the strip says what it shows."""
    assessment, limits = flown("briefing")
    other = CURVE.replace("fly-by", "stop")
    findings = tuple(replace(f, curve=other) for f in assessment.findings)
    figure = profile.figure(replace(assessment, findings=findings, curves=(CURVE, other)), limits)
    written = texts_by_gid(figure)
    assert "(stop)" in written["label-B"]
    assert written["label-B"].startswith("B*")
    assert "drawn curve's worst" in written["strip-title"]
    assert lines_by_gid(figure)["point-B"].get_markerfacecolor() == "white"
    samples = assessment.samples
    highest = f"{np.ceil(np.nanmax(samples.above_ground_m) * 10) / 10:.1f} m above ground"
    assert written["strip-number"] == highest


def test_a_column_has_words_but_no_clearance() -> None:
    """What stands in the cone of take-off is said; a number there would be of another kind."""
    assessment, _ = flown("briefing")
    breach = next(f for f in assessment.findings if f.state is State.BREACH)
    column = replace(breach, kind="column", worst_m=1.5, at_m=3.0, leg=0)
    points = worst_points(replace(assessment, findings=(column,)), unit="m")
    assert (points[0].number, points[0].said) == ("", ("breach in the take-off or landing column",))


def test_a_closest_point_ceiling_is_said_as_a_distance() -> None:
    """The number is the one that the rule measures, and says so."""
    assessment, _ = flown("narrow gaps")
    points = worst_points(assessment, unit="m")
    assert {p.number.partition(" m ")[2] for p in points if p.kind == "ceiling"} == {
        "from the ground"
    }

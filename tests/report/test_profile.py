"""The profile: its artists are read, measured and compared with the flight drawn.

Pictures of all the flights of `profile_cases` were looked at, in colour and in grey.
Expected values are those of the invented flights, or of matplotlib's own transforms.
"""

from __future__ import annotations

import itertools
import re
from dataclasses import replace

import numpy as np
import pytest
from matplotlib.colors import to_rgb

from terrain_guard.report import cautions, profile, profile_style
from terrain_guard.report.profile_bins import runs
from terrain_guard.report.profile_points import worst_of_all, worst_points
from terrain_guard.states import State
from tests.report.profile_cases import (
    EVERY,
    FOOT_M,
    all_words,
    axes_with,
    flown,
    lines_by_gid,
    page,
    texts_by_gid,
)
from tests.report.profile_scene import LAUNCH_M, Plan, flight


@EVERY
def test_the_exaggeration_printed_is_the_one_drawn(name: str) -> None:
    """Pixels for a metre up over pixels for a metre along, as matplotlib transforms them."""
    figure = page(name)
    transform = axes_with(figure, "flown").transData
    across = transform.transform((1.0, 0.0))[0] - transform.transform((0.0, 0.0))[0]
    up = transform.transform((0.0, 1.0))[1] - transform.transform((0.0, 0.0))[1]
    printed = re.search(r"exaggeration ([\d.]+)", texts_by_gid(figure)["exaggeration"])
    assert printed is not None
    assert float(printed[1]) == pytest.approx(up / across, rel=0.06)  # two figures are printed


@pytest.mark.parametrize("unit", ["m", "ft"])
@pytest.mark.parametrize("name", ["briefing", "within", "breaches", "short", "long"])
def test_the_strip_is_drawn_to_true_scale(name: str, unit: str) -> None:
    """A metre up is as many pixels as a metre across, and 200 m are shown."""
    figure = page(name, unit)
    axes = axes_with(figure, "strip-flown")
    origin, corner = axes.transData.transform([(0.0, 0.0), (1.0, 1.0)])
    across, up = corner - origin
    assert across == pytest.approx(up, rel=1e-9)
    left, right = axes.get_xlim()
    assert (right - left) * (FOOT_M if unit == "ft" else 1.0) == pytest.approx(200.0)
    assert "True scale" in texts_by_gid(figure)["strip-title"]


def test_a_climb_on_the_spot_is_vertical_in_the_strip() -> None:
    """The strip's axis is horizontal distance: 40 m straight down move nothing sideways."""
    line = lines_by_gid(page("short"))["strip-flown"]
    x, y = np.asarray(line.get_xdata()), np.asarray(line.get_ydata())
    down = (y < y.max() - 1.0) & (x > 0.0)
    assert down.sum() > 30
    assert np.ptp(x[down]) < 1e-6


def test_the_strip_is_centred_on_the_worst_breach() -> None:
    """Excess decides: 8 m too high outweighs 2.4 m too near; the strip shows that place."""
    assessment, _ = flown("briefing")
    worst = worst_of_all(worst_points(assessment, unit="m"))
    high = next(f for f in assessment.findings if f.kind == "ceiling" and f.state is State.BREACH)
    low = next(f for f in assessment.findings if f.kind == "floor" and f.state is State.BREACH)
    assert high.worst_m - 120.0 > 30.0 - low.worst_m
    assert worst is not None
    assert worst.along == high.at_m
    line = lines_by_gid(page("briefing"))["strip-ground"]
    x, y = np.asarray(line.get_xdata()), np.asarray(line.get_ydata())
    expected = np.interp(
        high.at_m, assessment.samples.along_m, assessment.samples.ground_elevation_m
    )
    assert float(np.interp(0.0, x, y)) == pytest.approx(expected, abs=1e-6)


def test_elevation_and_height_above_launch_are_one_scale() -> None:
    """At the level of the launch the second axis reads 0, and both grow alike."""
    figure = page("briefing")
    left = axes_with(figure, "flown")
    right = next(a for a in figure.axes if "above launch ground" in a.get_ylabel())
    assert np.subtract(left.get_ylim(), right.get_ylim()) == pytest.approx([LAUNCH_M, LAUNCH_M])
    assert "launch ground = 0" in texts_by_gid(figure)["name-launch"]
    level = np.asarray(lines_by_gid(figure)["launch"].get_ydata())
    assert set(level) == {LAUNCH_M}


def test_missing_ground_is_a_gap_and_never_a_line_at_zero() -> None:
    """Over the void the ground has no number; nothing is filled there, and nowhere a zero."""
    figure = page("briefing")
    axes = axes_with(figure, "ground-edge")
    x, y = (np.asarray(v) for v in lines_by_gid(figure)["ground-edge"].get_data())
    along = flown("briefing")[0].samples.along_m
    hole = along[np.isnan(flown("briefing")[0].samples.ground_elevation_m)]
    inside = (x > hole[1]) & (x < hole[50])
    assert np.isnan(y[inside]).all()
    assert np.nanmin(y) > 100.0
    fill = next(c for c in axes.collections if c.get_gid() == "ground")
    probe = axes.get_ylim()[0] + 1.0
    filled = [
        any(p.contains_point((at, probe)) for p in fill.get_paths()) for at in (500.0, 1190.0)
    ]
    assert filled == [True, False]


def test_the_floor_has_gaps_in_the_columns() -> None:
    """Where the limit is NaN (take-off, landing, near the void) its line is interrupted."""
    assessment, limits = flown("briefing")
    x, y = (np.asarray(v) for v in lines_by_gid(page("briefing"))["floor"].get_data())
    assert np.isnan(y[x < 80.0]).all()
    assert len(runs(np.isfinite(y))) == len(runs(np.isfinite(limits.lowest_allowed_m)))
    assert len(runs(np.isfinite(y))) == 3  # two voids part the line into three
    assert np.isnan(y[x > assessment.length_m - 70.0]).all()


@pytest.mark.parametrize("unit", ["m", "ft"])
def test_the_band_is_the_flown_curve_with_margins(unit: str) -> None:
    """In plot and strip it reaches from the floor's margin below to the ceiling's above."""
    figure, scale = page("briefing", unit), FOOT_M if unit == "ft" else 1.0
    for curve, band in (("flown", "band"), ("strip-flown", "strip-band")):
        axes = axes_with(figure, curve)
        drawn = next(one for one in axes.collections if one.get_gid() == band)
        line = lines_by_gid(figure)[curve]
        x, y = (np.asarray(values) for values in line.get_data())
        at = (axes.get_xlim()[0] + axes.get_xlim()[1]) / 2 + 1.0
        middle = float(np.interp(at, x, y)) * scale
        inside = [
            any(path.contains_point((at, (middle + away) / scale)) for path in drawn.get_paths())
            for away in (-7.5, -6.5, 4.5, 5.5)  # margins of 7 m below and 5 m above
        ]
        assert inside == [False, True, True, False]
    assert texts_by_gid(figure)["name-band"] == "with margins"


def test_margins_that_vary_are_told_as_a_range() -> None:
    """Beside the limits and below the plot, outward to tenths; columns count for no floor."""
    assessment, limits = flown("within")
    samples = assessment.samples
    floor_m = np.where(samples.in_column, 50.0, 7.0)
    floor_m[np.flatnonzero(~samples.in_column)[[0, -1]]] = 5.64, 8.66
    ceiling_m = np.linspace(4.0, 6.0, len(samples.along_m))
    changed = replace(samples, floor_margin_m=floor_m, ceiling_margin_m=ceiling_m)
    figure = profile.figure(replace(assessment, samples=changed), limits)
    written = texts_by_gid(figure)
    assert written["name-ceiling"].endswith("120 m ceiling − margin 4.0–6.0 m")
    assert written["name-floor"].endswith("30 m floor + margin 5.6–8.7 m")
    assert "flown curve with margins, 5.6–50.0 m lower to 4.0–6.0 m higher" in written["gaps"]


def test_the_word_stands_in_the_gap() -> None:
    """Each stretch not assessed carries the words, in the plot and in the list."""
    written = texts_by_gid(page("briefing"))
    words = [text for gid, text in written.items() if gid.startswith("word-not-assessed")]
    assert words == ["not assessed", "not assessed"]
    listed = [text for gid, text in written.items() if gid.startswith("list-")]
    assert sum("not assessed" in text for text in listed) == 2


def test_a_gap_too_narrow_for_its_word_is_pointed_at() -> None:
    """Ground missing for twelve metres in the middle of a breach is still called that."""
    written = texts_by_gid(page("narrow gaps"))
    pointed = [text for gid, text in written.items() if gid.startswith("gap-")]
    assert pointed == ["not assessed", "not assessed"]


def test_the_strip_hatches_missing_ground_and_says_so() -> None:
    """A void 20 m from the worst metre is a gap there too: no ground, a hatch and the words."""
    figure = page("narrow gaps")
    axes = axes_with(figure, "strip-ground")
    x, y = (np.asarray(v, dtype=float) for v in lines_by_gid(figure)["strip-ground"].get_data())
    assert len(runs(np.isfinite(y[(x > -100.0) & (x < 100.0)]))) == 2
    assert texts_by_gid(figure)["strip-gap"] == "not assessed"
    assert [c.get_hatch() for c in axes.collections if c.get_hatch()] == ["xx"]


def test_a_strip_that_would_be_too_tall_shows_what_is_nearest() -> None:
    """Sunk 300 m into a mountain: the worst metre is inside the frame, at true scale."""
    assessment, limits = flight(
        Plan(
            stops=[(60.0, 60.0, "a"), (900.0, 60.0, "b")],
            end_m=1200.0,
            ground=lambda x: LAUNCH_M + 380.0 * np.exp(-(((x - 500.0) / 90.0) ** 2)),
        )
    )
    figure = profile.figure(assessment, limits)
    axes = axes_with(figure, "strip-flown")
    low, high = axes.get_ylim()
    assert low < LAUNCH_M + 60.0 < high
    assert high - low < 260.0
    assert profile_style.exaggeration(axes) == pytest.approx(1.0, rel=1e-9)


@pytest.mark.parametrize("name", ["nothing", "launch unknown"])
def test_nothing_assessed_shows_no_ground_no_limit_and_no_number(name: str) -> None:
    """The page says so in words; ground and limits have no finite point at all."""
    figure = page(name)
    lines = lines_by_gid(figure)
    for gid in ("ground-edge", "floor", "ceiling"):
        assert not np.isfinite(np.asarray(lines[gid].get_ydata(), dtype=float)).any()
    written = all_words(figure)
    assert "NOT ASSESSED" in written
    assert not re.search(r"\d m (clearance|above ground)", written)
    assert "nothing was assessed" in texts_by_gid(figure)["strip-title"]
    assert "strip-flown" not in lines


def test_unknown_launch_ground_has_no_elevation_scale() -> None:
    """Heights above launch are still shown; elevations are not, not even as zero."""
    figure = page("launch unknown")
    axes = axes_with(figure, "flown")
    assert axes.get_ylabel() == "elevation not known"
    assert not any(label.get_visible() for label in axes.get_yticklabels())


@EVERY
def test_every_page_carries_verdict_cautions_and_what_was_not_checked(name: str) -> None:
    """All fixed cautions in full, the verdict's words, rule, margins, launch, terrain."""
    assessment, _ = flown(name)
    written = all_words(page(name))
    assert cautions.beside_verdict(assessment) in written
    assert cautions.VERDICT_WORDS[assessment.verdict] in written
    for caution in cautions.FIXED_CAUTIONS:
        assert caution in written
    parts = ("Rule: Site rule", "30 m", "120 m", "Launch ground", "Terrain: ")
    for part in (*parts, "Margins: floor at most 7.0 m (k = 2), ceiling at most 5.0 m (k = 1)"):
        assert part in written
    assert assessment.launch.elevation_source in written
    assert "safe" not in written.lower()


def test_states_differ_by_row_word_and_hatch() -> None:
    """Each state present has a row with its word beside it and a hatch of its own."""
    figure = page("briefing")
    written = texts_by_gid(figure)
    rows = {str(c.get_gid()): c for axes in figure.axes for c in axes.collections if c.get_gid()}
    for state in State:
        assert f"row-{state}" in rows
        assert f"row-name-{profile_style.WORD[state]}" in written
    hatches = {state: rows[f"row-{state}"].get_hatch() or "" for state in State}
    assert hatches[State.NOT_ASSESSED]
    assert hatches[State.TIGHT]
    assert hatches[State.NOT_ASSESSED] != hatches[State.TIGHT]
    washes = {rows[f"stretches-{s}"].get_hatch() for s in State if s is not State.WITHIN}
    assert len(washes) == 3
    assert None not in washes


def test_state_fills_differ_in_grey() -> None:
    """CIE lightness L* (CIE 15) of any two fills differs by more than 15 of 100."""

    def lightness(colour: str) -> float:
        linear = [
            v / 12.92 if v <= 0.04045 else ((v + 0.055) / 1.055) ** 2.4 for v in to_rgb(colour)
        ]  # IEC 61966-2-1
        return float(116.0 * np.dot(linear, (0.2126, 0.7152, 0.0722)) ** (1 / 3) - 16.0)

    values = [lightness(colour) for colour in profile_style.FILL.values()]
    assert all(abs(a - b) > 15.0 for a, b in itertools.combinations(values, 2))


def test_lines_differ_by_dashes() -> None:
    """Floor, ceiling and launch level are told apart without colour; the curve is boldest."""
    lines = lines_by_gid(page("briefing"))
    four = [lines[gid] for gid in ("floor", "ceiling", "launch", "flown")]
    patterns = [str(line._unscaled_dash_pattern) for line in four]  # type: ignore[attr-defined]
    assert len(set(patterns)) == 4
    assert max(four, key=lambda line: line.get_linewidth()) is lines["flown"]
    written = texts_by_gid(page("briefing"))
    assert {"name-floor", "name-ceiling", "name-launch", "name-flown", "name-ground"} <= set(
        written
    )

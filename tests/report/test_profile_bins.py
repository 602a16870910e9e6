"""Fewer points than samples: no spike is lost, no gap closed.

Expected values come from plain loops over all samples, and from the picture itself.
"""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from matplotlib.backends.backend_agg import FigureCanvasAgg

from terrain_guard.report import profile
from terrain_guard.report.profile_bins import kept, runs, stretches
from tests.report.profile_cases import (
    axes_with,
    flown,
    lines_by_gid,
    page,
)
from tests.report.profile_scene import LAUNCH_M, Plan, flight


def test_one_sample_spike_in_ten_thousand_survives_800_columns() -> None:
    """A peak of the ground and a dip of the curve, one sample wide, are both kept."""
    along = np.arange(10_000.0)
    ground, curve = np.full(10_000, 100.0), np.full(10_000, 200.0)
    ground[6_543], curve[3_217] = 180.0, 120.0
    assert 6_543 in kept(along, ground, columns=800)
    assert 3_217 in kept(along, curve, columns=800)
    assert len(kept(along, ground, columns=800)) <= 4 * 800


@given(
    values=st.lists(st.one_of(st.floats(-50, 50), st.just(float("nan"))), min_size=1, max_size=90),
    columns=st.integers(1, 9),
)
def test_every_column_keeps_its_extremes(values: list[float], columns: int) -> None:
    """In each column the drawn lowest and highest equal those of a loop over all samples."""
    along, heights = np.arange(float(len(values))), np.array(values)
    chosen = kept(along, heights, columns=columns)
    whole = max(len(values) - 1, 1)
    for column in range(columns):
        own = [i for i in range(len(values)) if min(i * columns // whole, columns - 1) == column]
        known = [values[i] for i in own if np.isfinite(values[i])]
        drawn = [values[i] for i in own if i in chosen and np.isfinite(values[i])]
        assert bool(known) == bool(drawn)
        if known:
            assert (min(drawn), max(drawn)) == (min(known), max(known))


@given(
    values=st.lists(st.sampled_from([1.0, float("nan")]), min_size=1, max_size=60),
    columns=st.integers(1, 5),
)
def test_no_gap_is_closed_and_none_is_made(values: list[float], columns: int) -> None:
    """As many separate pieces of line are drawn as there are runs of numbers."""
    heights = np.array(values)
    chosen = kept(np.arange(float(len(values))), heights, columns=columns)
    assert len(runs(np.isfinite(heights[chosen]))) == len(runs(np.isfinite(heights)))


def test_a_metre_of_breach_is_drawn_wide_enough_to_see() -> None:
    """A short stretch is widened about its middle, neighbours join, none is lost."""
    along = np.arange(0.0, 1001.0)
    wanted = np.zeros(1001, dtype=bool)
    wanted[[100, 500, 503]] = True
    assert stretches(along, wanted, least=10.0) == [(95.5, 105.5), (495.5, 508.5)]
    assert stretches(along, wanted, least=0.0) == [(100, 101), (500, 501), (503, 504)]


@pytest.mark.parametrize("gid", ["ground-edge", "flown"])
def test_the_drawn_lines_hold_the_extremes_of_all_samples(gid: str) -> None:
    """On 100 km in a few thousand points, highest and lowest are still there."""
    assessment, _ = flown("long")
    samples = assessment.samples
    whole = {"ground-edge": samples.ground_elevation_m, "flown": LAUNCH_M + samples.above_launch_m}
    drawn = np.asarray(lines_by_gid(page("long"))[gid].get_ydata())
    assert len(drawn) < len(samples.along_m)
    assert drawn.min() == whole[gid].min()
    assert drawn.max() == whole[gid].max()


def test_a_spike_of_one_sample_darkens_its_column_in_an_800_pixel_picture() -> None:
    """A wall one metre thick on 10 km can be seen where it stands, and only there."""
    assessment, limits = flight(
        Plan(
            stops=[(10.0, 80.0, "a"), (9_700.0, 80.0, "b")],
            end_m=9_800.0,
            ground=lambda x: np.full(len(x), LAUNCH_M),
        )
    )
    ground = assessment.samples.ground_elevation_m.copy()
    ground[6_000] += 60.0
    spiked = replace(assessment, samples=replace(assessment.samples, ground_elevation_m=ground))
    figure = profile.figure(spiked, limits)
    figure.set_dpi(800.0 / figure.get_figwidth())
    canvas = FigureCanvasAgg(figure)
    canvas.draw()  # type: ignore[no-untyped-call]
    picture = np.asarray(canvas.buffer_rgba())  # type: ignore[no-untyped-call]
    grey = picture[:, :, :3].mean(axis=2)
    assert grey.shape[1] == 800
    axes = axes_with(figure, "flown")
    x, y = axes.transData.transform((spiked.samples.along_m[6_000], LAUNCH_M + 30.0))
    row = grey[grey.shape[0] - 1 - round(y)]
    assert row[round(x) - 1 : round(x) + 2].min() < 200
    assert (
        min(row[round(x) - 12 : round(x) - 3].min(), row[round(x) + 4 : round(x) + 12].min()) > 230
    )

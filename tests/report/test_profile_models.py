"""The profile over two models, and what it says of canopy; pictures of these were looked at."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
from matplotlib.figure import Figure

from terrain_guard.assessment import Assessment, CanopyUsed, Limits, SecondGround, SurfaceTied
from terrain_guard.report import cautions, profile
from tests.report.profile_cases import all_words, axes_with, flown, texts_by_gid

TREES = (1700.0, 1740.0)
HEIGHT_M = 18.0


def wooded(models: str = "both") -> tuple[Assessment, Limits]:
    """Return the briefing's flight with a wood on the ground along 40 m."""
    assessment, limits = flown("briefing")
    samples = assessment.samples
    inside = (samples.along_m >= TREES[0]) & (samples.along_m <= TREES[1])
    surface = samples.ground_elevation_m + np.where(inside, HEIGHT_M, 0.0)
    tied = SurfaceTied(offset_m=0.04, places=900, bare=840, lifted_m=0.0)
    return replace(
        assessment, models=models, samples=replace(samples, surface_elevation_m=surface),
        surface_tied=tied, canopy=CanopyUsed(height_m=0.0, source="seen in surface.tif"),
    ), limits  # fmt: skip


def surface_of(figure: Figure) -> list[np.ndarray]:
    """Return the outlines of what is drawn above the ground."""
    axes = axes_with(figure, "flown")
    (drawn,) = [one for one in axes.collections if one.get_gid() == "surface"]
    return [np.asarray(path.vertices) for path in drawn.get_paths()]


def test_trees_are_drawn_where_they_stand() -> None:
    """One patch, 40 m wide, as high as the wood above the ground below it."""
    assessment, limits = wooded()
    (outline,) = surface_of(profile.figure(assessment, limits))
    x, y = outline[:, 0], outline[:, 1]
    assert (x.min(), x.max()) == (
        np.clip(x.min(), TREES[0] - 1.0, TREES[0] + 1.0),
        np.clip(x.max(), TREES[1] - 1.0, TREES[1] + 1.0),
    )
    samples = assessment.samples
    ground = np.interp(x, samples.along_m, samples.ground_elevation_m)
    tops = (x > TREES[0] + 2) & (x < TREES[1] - 2) & (y > ground + 1)
    assert tops.any()
    assert np.abs(y[tops] - ground[tops] - HEIGHT_M).max() < 1e-6


def test_without_a_surface_nothing_is_drawn() -> None:
    """Over one model there is no such patch."""
    figure = profile.figure(*flown("briefing"))
    drawn = [one.get_gid() for one in axes_with(figure, "flown").collections]
    assert "surface" not in drawn
    assert "name-surface" not in texts_by_gid(figure)


def test_the_page_says_how_the_models_fit() -> None:
    """Surface and second ground each have a line; the verdict's words are those of a surface."""
    assessment, limits = wooded()
    second = SecondGround(
        terrain=(), launch_elevation_m=212.0, has_own_launch=True, floor_margin_m=18.0,
        ceiling_margin_m=7.0, median_m=-0.3, spread_m=0.8, worst_m=15.0, at_m=140.0,
        assessed_share=0.934,
    )  # fmt: skip
    figure = profile.figure(replace(assessment, second_ground=second), limits)
    said = " ".join(all_words(figure).split())
    assert "Fit: surface +0.0 m off the ground on 840 bare places of 900 (median)" in said
    assert (
        "Differs: second ground less first, each less its own launch ground: -0.3 m (median), "
        "within 0.8 m of it for two thirds (16-84 %), +15.0 m at worst, at 140 m; known along "
        "93.4 % of the route; margins over it at most floor 18, ceiling 7 m"
    ) in said
    beside = " ".join(texts_by_gid(figure)["beside"].split())
    assert beside == f"{cautions.HOME_UNKNOWN}; {cautions.TREES_AS_SHOWN}"


def test_the_page_says_what_canopy_counts() -> None:
    """A line of its own, and in the name of the lowest allowed."""
    assessment, limits = flown("briefing")
    assumed = CanopyUsed(
        height_m=30.0, source="assumed: the model is bare earth or does not say", floor_m=30.0
    )
    said = " ".join(all_words(profile.figure(replace(assessment, canopy=assumed), limits)).split())
    assert "Canopy: + 30 m canopy assumed: declare it with --canopy" in said
    assert f"{cautions.HOME_UNKNOWN}; {cautions.TREES_UNKNOWN}" in said
    alone = replace(
        assessment, models="surface",
        canopy=CanopyUsed(
            height_m=25.0, source="--canopy", floor_m=25.0, floor_everywhere=True,
            ground_below_m=25.0,
        ),
    )  # fmt: skip
    said = " ".join(all_words(profile.figure(alone, limits)).split())
    assert "Canopy: the ground may lie up to 25 m below the surface model (--canopy)" in said
    assert "surface model" in said


def test_more_to_say_takes_room_from_the_plot_alone() -> None:
    """The plot's foot, the track and the strip stay where they are; its top comes down."""
    plain = profile.figure(*flown("briefing"))
    assessment, limits = wooded()
    more = profile.figure(assessment, limits)
    one, other = (axes_with(figure, "flown").get_position() for figure in (plain, more))
    assert other.y0 == one.y0
    assert other.y1 <= one.y1
    rows = [name for name in texts_by_gid(more) if name.startswith("basis-")]
    lowest = min(text.get_position()[1] for text in more.texts if (text.get_gid() or "") in rows)
    assert lowest > other.y1

"""The ribbon under the profile: its stretches, its words, and what it says of nothing known.

Expected metres are shares of the invented flight, worked from `home_scene`.
"""

from __future__ import annotations

import itertools
from dataclasses import replace

import numpy as np
import pytest
from matplotlib.collections import PolyCollection
from matplotlib.figure import Figure

from terrain_guard.assessment import Span
from terrain_guard.path.altimeter import Altimeter
from terrain_guard.report import profile, profile_style
from terrain_guard.report.profile_points import worst_points
from terrain_guard.states import State
from tests.report.home_scene import CLIMB_M, LINK, RETURN, SIGHT, with_home
from tests.report.profile_cases import (
    FOOT_M,
    apart,
    boxes,
    flown,
    lines_by_gid,
    page,
    texts_by_gid,
)
from tests.report.profile_scene import LAUNCH_M

HOMES = ("home", "home of two legs", "home of thirty legs", "home far off")
ROWS = {"home": RETURN, "sight": SIGHT, "link": LINK}


def bars(figure: Figure, gid: str) -> list[tuple[float, float]]:
    """Return the stretches of one artist of the ribbon, from left to right."""
    found = [c for a in figure.axes for c in a.collections if c.get_gid() == gid]
    paths = found[0].get_paths() if found else []
    across = [np.asarray(path.vertices)[:, 0] for path in paths]
    return sorted((float(x.min()), float(x.max())) for x in across)


@pytest.mark.parametrize("unit", ["m", "ft"])
@pytest.mark.parametrize("row", ROWS)
def test_each_stretch_is_drawn_where_it_is(row: str, unit: str) -> None:
    """Ends lie within a sample's metre of the shares; what is too thin is widened, not dropped."""
    length = flown("home")[0].length_m / (FOOT_M if unit == "ft" else 1.0)
    step = 1.01 / (FOOT_M if unit == "ft" else 1.0)
    wanted: dict[State, list[tuple[float, float]]] = {state: [] for state in State}
    for (start, _), (end, state) in itertools.pairwise(((0.0, State.WITHIN), *ROWS[row])):
        wanted[state].append((start * length, end * length))
    thin = 0.7 / 244.0 * length  # the least width in millimetres on an axis of 244 mm
    for state, places in wanted.items():
        drawn = bars(page("home", unit), f"ribbon-{row}-{state}")
        assert len(drawn) == len(places)
        for (left, right), (start, end) in zip(drawn, places, strict=True):
            assert left == pytest.approx(start, abs=step + max(0.0, thin - (end - start)))
            assert right == pytest.approx(end, abs=step + max(0.0, thin - (end - start)))
            assert right - left >= thin * 0.999


def test_the_rows_share_the_axis_of_the_plot() -> None:
    """One place along the flight is one column of pixels in plot, track and ribbon."""
    figure = page("home")
    axes = [
        a for a in figure.axes
        if any(str(c.get_gid()).startswith(("ground", "row-", "ribbon-")) for c in a.collections)
    ]  # fmt: skip
    assert len(axes) == 3
    places = {round(a.transData.transform((1000.0, 0.0))[0], 6) for a in axes}
    assert len(places) == 1


def test_the_words_at_the_right_are_the_metres_of_the_gravest_state() -> None:
    """A quarter of the flight fails, 15 % is hidden, 60 % of the link is not known."""
    length_m = flown("home")[0].length_m
    written = texts_by_gid(page("home"))
    for row, word, share in (("home", "fails", 0.25), ("sight", "hidden", 0.15),
                             ("link", "unknown", 0.6)):  # fmt: skip
        said, number, unit = written[f"ribbon-total-{row}"].split()
        assert (said, unit) == (word, "m")
        assert int(number) == pytest.approx(share * length_m, abs=2.1)  # samples, and rounded up
    assert [written[f"ribbon-name-{row}"] for row in ROWS] == ["way home", "sight (pilot)", "link"]


def test_the_sentence_leaves_no_state_out() -> None:
    """What is not assessed beside a breach is told in its own metres, in feet if asked."""
    length_m = flown("home")[0].length_m
    for unit, scale in (("m", 1.0), ("ft", FOOT_M)):
        note = texts_by_gid(page("home", unit))["ribbon-note"]
        home, sight, link = note.split(". ")[0].split("; ")
        for part, words in ((home, ("fails", "not assessed", "tight")),
                            (sight, ("hidden", "tight")), (link, ("not assessed",))):  # fmt: skip
            assert all(word in part for word in words)
            assert part.count(f" {unit}") == len(words)
        number = home.split("not assessed ")[1].split()[0]
        assert int(number) == pytest.approx(0.1 * length_m / scale, abs=2.1 / scale)
        assert "within" not in note


def test_a_stretch_carries_its_word_and_its_length() -> None:
    """Breach, not assessed and tight say so inside where they have room; within has no number."""
    written = texts_by_gid(page("home"))
    inside = {g: t for g, t in written.items() if g.startswith("ribbon-word-home-")}
    said = [(text.rstrip("0123456789 m") or text) for text in inside.values()]
    assert sorted(said) == ["breach", "not assessed", "tight", "within", "within"]
    assert any(text.startswith("breach ") and text.endswith(" m") for text in inside.values())


def test_states_in_a_row_differ_without_colour() -> None:
    """In one row within and breach are plain, pale and dark; the others are hatched, each its own.

    The lightness of the fills is compared in `test_profile`.
    """
    figure = page("home")
    found = {
        str(c.get_gid()): c for a in figure.axes for c in a.collections
        if str(c.get_gid()).startswith("ribbon-home-")
    }  # fmt: skip
    looks = set()
    for state in State:
        bar = found[f"ribbon-home-{state}"]
        assert isinstance(bar, PolyCollection)
        grey = float(np.dot(np.asarray(bar.get_facecolor())[0][:3], (0.299, 0.587, 0.114)))
        looks.add((bar.get_hatch() or "", round(grey, 1)))  # ITU-R BT.601 luma
        assert np.allclose(
            np.asarray(bar.get_facecolor())[0][:3], _rgb(profile_style.FILL[state])
        )  # the colours of the track
    assert len(looks) == 4
    assert len({hatch for hatch, _ in looks}) == 3
    order = [found[f"ribbon-home-{s}"].get_zorder() for s in State]
    assert order == sorted(order)  # the graver one covers the less grave


def _rgb(colour: str) -> list[float]:
    return [int(colour[i : i + 2], 16) / 255 for i in (1, 3, 5)]


@pytest.mark.parametrize("unit", ["m", "ft"])
@pytest.mark.parametrize("name", [*HOMES, "briefing"])
def test_nothing_of_the_ribbon_covers_or_leaves_anything(name: str, unit: str) -> None:
    """Its words share no pixel with each other or with what stands around, and stay on the page."""
    figure = page(name, unit)
    own = boxes(figure, ("ribbon-",))
    around = boxes(figure, ("row-name-", "total-", "along", "gaps", "exaggeration", "strip-title",
                            "list-title"))  # fmt: skip
    for (one, a), (other, b) in itertools.combinations({**own, **around}.items(), 2):
        if one in own or other in own:
            assert apart(a, b), f"{one} covers {other}"
    width = figure.bbox.size[0]
    edge = 2.0 * figure.dpi / 25.4
    assert all(box[0] >= edge and box[2] <= width - edge for box in own.values())


@pytest.mark.parametrize("unit", ["m", "ft"])
@pytest.mark.parametrize("name", HOMES)
def test_words_stay_in_their_stretch(name: str, unit: str) -> None:
    """As matplotlib measures both, a word lies inside the bar of its own state."""
    figure = page(name, unit)
    words = boxes(figure, ("ribbon-word-",))
    assert words
    axes = next(a for a in figure.axes
                if any(str(c.get_gid()).startswith("ribbon-") for c in a.collections))  # fmt: skip
    for gid, box in words.items():
        bar = gid.replace("-word", "").rpartition("-")[0]
        ends = axes.transData.inverted().transform(box.reshape(2, 2))[:, 0]
        assert any(a <= ends[0] and ends[1] <= b for a, b in bars(figure, bar)), gid


@pytest.mark.parametrize("name", ["briefing", "launch unknown"])
def test_not_judged_is_not_assessed_in_every_row(name: str) -> None:
    """Without an answer each row is hatched from end to end, and says so in words."""
    figure = page(name)
    written = texts_by_gid(figure)
    end = float(flown(name)[0].samples.along_m[-1])
    for row in ROWS:
        assert bars(figure, f"ribbon-{row}-not-assessed") == [(0.0, end)]
        assert not bars(figure, f"ribbon-{row}-within")
        assert written[f"ribbon-total-{row}"] == "not assessed"
        assert "not assessed" in written[f"ribbon-word-{row}-not-assessed-0"]
    assert "not assessed" in written["ribbon-note"]
    assert "return" not in lines_by_gid(figure)


def test_all_within_is_said_in_words() -> None:
    """Nothing fails: each row says so, and no word of failing is on the ribbon."""
    assessment, limits = flown("within")
    fine = ((1.0, State.WITHIN),)
    figure = profile.figure(with_home(assessment, home=fine, sight=fine, link=fine), limits)
    written = texts_by_gid(figure)
    assert {written[f"ribbon-total-{row}"] for row in ROWS} == {"all within"}
    assert "return" not in lines_by_gid(figure)


def test_too_far_to_be_seen_is_not_called_hidden() -> None:
    """Where distance, not ground alone, takes it from sight, the row says not seen."""
    assessment, limits = flown("within")
    beyond = (Span(from_m=100.0, to_m=300.0, from_s=25.0, to_s=75.0),)
    figure = profile.figure(with_home(assessment, beyond=beyond), limits)
    assert texts_by_gid(figure)["ribbon-total-sight"].startswith("not seen ")


@pytest.mark.parametrize("factor", [1.0, 0.98])
def test_the_return_height_is_drawn_where_one_has_to_climb(factor: float) -> None:
    """Typed as 25 m more than is flown, over the quarter that fails; nowhere else, and named.

    Flown it is zero + factor x typed, with the zero a deck 2 m above the launch ground.
    """
    assessment, limits = flown("home")
    altimeter = Altimeter(factor=factor, zero_m=2.0)
    figure = profile.figure(replace(assessment, altimeter=altimeter), limits)
    x, y = (np.asarray(v, dtype=float) for v in lines_by_gid(figure)["return"].get_data())
    drawn, length_m = x[np.isfinite(y)], assessment.length_m
    assert (drawn[0], drawn[-1]) == pytest.approx((0.45 * length_m, 0.7 * length_m), abs=1.01)
    at = 0.6 * length_m
    own = np.interp(at, assessment.samples.along_m, assessment.samples.above_launch_m)
    expected = LAUNCH_M + 2.0 + factor * (own + CLIMB_M)
    assert np.interp(at, x[np.isfinite(y)], y[np.isfinite(y)]) == pytest.approx(expected, abs=0.01)
    assert texts_by_gid(figure)["name-return"] == "return height needed"
    assert not [gid for gid in texts_by_gid(figure) if gid == "strip-name-return"]


def test_what_fails_of_way_home_sight_and_link_has_no_clearance_in_the_plot() -> None:
    """Such findings get no letter, no line in the list, no metre of the track's totals."""
    assessment, limits = flown("briefing")
    breach = next(f for f in assessment.findings if f.state is State.BREACH)
    more = tuple(
        replace(breach, kind=kind, state=state, from_m=1.0, to_m=2000.0, at_m=333.0, worst_m=-77.7)
        for kind in ("return", "link-loss", "sight", "link")
        for state in (State.BREACH, State.NOT_ASSESSED)
    )
    crowded = replace(assessment, findings=(*assessment.findings, *more))
    numbers = [(p.letter, p.number, p.said) for p in worst_points(assessment, unit="m")]
    assert [(p.letter, p.number, p.said) for p in worst_points(crowded, unit="m")] == numbers
    before = texts_by_gid(page("briefing"))
    after = texts_by_gid(profile.figure(crowded, limits))
    for gid in ("tally", "total-breach", "total-not-assessed", "strip-title"):
        assert after[gid] == before[gid]
    listed = [g for g in after if g.startswith("list-")]
    assert listed == [g for g in before if g.startswith("list-")]

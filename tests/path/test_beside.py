"""Ways out and home over one straight line: those left out are nowhere the lowest or highest."""

from __future__ import annotations

import dataclasses
from typing import TYPE_CHECKING, Any

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from terrain_guard.path.beside import deciding
from terrain_guard.path.curve import Curve
from tests.path.lines import Lines
from tests.path.routes import flown, route, waypoint
from tests.path.test_any_route import routes

if TYPE_CHECKING:
    from terrain_guard.plan.route import Route

MICROMETRE = 1e-6
HOME: dict[str, Any] = {"way_home": {"height_m": 90.0}}


def decided_by(curves: tuple[Curve, ...], side: str) -> list[str]:
    """Return the way home (or out) of each curve that decides a side."""
    place = 4 if curves[0].leg[0] > 0 else 3
    return [curve.words[place] for curve in curves if side in curve.decides]


def assert_decided(curves: tuple[Curve, ...], side: str) -> None:
    """Check that over every place the curves that decide are as low (as high) as any."""
    lines = Lines([curve for curve in curves if side in curve.decides])
    for curve in curves:
        for k in range(0, curve.leg.size, 5):
            place = np.array([curve.x_m[k], curve.y_m[k], curve.above_launch_m[k]])
            low_high, _ = lines.heights_over(place, int(curve.leg[k]))
            if side == "low":
                assert low_high[0].min() <= place[2] + MICROMETRE
            else:
                assert low_high[1].max() >= place[2] - MICROMETRE


@settings(max_examples=60, deadline=None)
@given(drawn=routes(), ground_m=st.floats(-60, 60))
def test_no_way_left_out_is_the_worst(drawn: Route, ground_m: float) -> None:
    """On any climb-out and way home."""
    stated = dataclasses.replace(
        drawn,
        climb=dataclasses.replace(drawn.climb, out="unstated"),
        way_home=dataclasses.replace(drawn.way_home, path="unstated"),
    )
    flight = flown(stated, spot_ground_m=ground_m, step_m=2.0)
    for curves in (flight.out, flight.home):
        assert curves[0].decides == ("low", "high")
        assert_decided(curves, "low")
        assert_decided(curves, "high")


def test_ways_home_by_hand() -> None:
    """Climb-first is the highest; level the lowest, and slanting too, whose floor is eased."""
    drawn = route((0.0, 0.0, 60.0), (300.0, 0.0, 50.0), **HOME)
    home = flown(drawn).home
    assert decided_by(home, "low") == ["climb-first", "slanting", "level"]
    assert decided_by(home, "high") == ["climb-first"]
    assert not home[1].decides  # climbing on the way lies between
    assert list(home[1].lines(is_reference=False)) == []


def test_every_climb_out_decides_the_floor() -> None:
    """There the floor is eased by the aircraft's own height: being lower proves nothing."""
    out = flown(route((300.0, 0.0, 80.0), (400.0, 0.0, 80.0))).out
    assert decided_by(out, "low") == ["vertical", "step", "slanting"]
    assert decided_by(out, "high") == ["vertical"]
    sides = [
        [line.side for line in curve.lines(is_reference=k == 0)] for k, curve in enumerate(out)
    ]
    assert sides == [["both"], ["low"], ["low"]]


def test_heights_not_known_are_never_left_out() -> None:
    """A way home of unknown height, to ground that is not known, decides both sides."""
    drawn = route((0.0, 0.0, 60.0), waypoint("last", 300.0, 0.0, 50.0), **HOME)
    home = flown(drawn, spot_ground_m=float("nan")).home
    slanting = next(curve for curve in home if curve.words[-1] == "slanting")
    assert slanting.decides == ("low", "high")


@pytest.mark.parametrize("eased", [True, False])
def test_of_equal_ways_the_reference_stays(eased: bool) -> None:
    """The same line twice is judged once, unless its floor is eased."""
    curve = flown(route((0.0, 0.0, 60.0), (300.0, 0.0, 50.0))).home[0]
    first, second = deciding([curve, curve], eased=lambda _: eased)
    assert first.decides == ("low", "high")
    assert second.decides == (("low",) if eased else ())

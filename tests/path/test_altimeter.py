"""What is flown for what is typed: every height and every climb scales, the ground does not."""

from __future__ import annotations

from typing import Any

import numpy as np
import pytest

from terrain_guard.path.altimeter import AS_TYPED, Altimeter
from terrain_guard.path.curve import Curve
from terrain_guard.path.flight import Flight, fly
from terrain_guard.plan.route import Climb, Route
from tests.path import routes

COLD = Altimeter(factor=0.9132, zero_m=0.0)
"""-10 °C at sea level: 263.15 / 288.15."""
DECK = Altimeter(factor=1.0, zero_m=3.0)
BOTH = Altimeter(factor=1.05, zero_m=2.5)


def flown(drawn: Route, altimeter: Altimeter, *, spot_ground_m: float = 0.0) -> Flight:
    """Fly a route with an altimeter."""
    heights = [w.height_m for w in drawn.waypoints]
    return fly(drawn, heights, spot_ground_m=spot_ground_m, step_m=1.0, altimeter=altimeter)


def highest(curve: Curve) -> float:
    """Return the greatest height of a curve."""
    return float(curve.above_launch_m.max())


def test_typed_and_flown_are_each_others_inverse() -> None:
    """120 m typed in cold air from a deck of 2 m: 2 + 0.9 x 120 = 110 m."""
    one = Altimeter(factor=0.9, zero_m=2.0)
    assert one.flown_m(120.0) == pytest.approx(110.0, abs=1e-12)
    assert one.typed_m(110.0) == pytest.approx(120.0, abs=1e-12)
    assert (one.flown_m(0.0), one.typed_m(2.0)) == (2.0, 0.0)
    assert one.flown_m(-50.0) == pytest.approx(-43.0, abs=1e-12)


def test_rates_of_climb_scale_too() -> None:
    """A barometer measures climb: 4 m/s shown are 3.6 m/s."""
    rates = Altimeter(factor=0.9).rates_m_per_s(Climb(up_m_per_s=4.0, down_m_per_s=3.0))
    assert rates == pytest.approx((3.6, 2.7))


@pytest.mark.parametrize("altimeter", [COLD, DECK, BOTH], ids=["cold", "deck", "both"])
@pytest.mark.parametrize("model", ["linear", "early", "late", "smooth"])
def test_every_height_between_waypoints_scales_alike(altimeter: Altimeter, model: str) -> None:
    """At each sample: zero + factor x what is flown without; over the same ground."""
    drawn = routes.route(
        (0, 50, 60), (0, 250, 110), (200, 250, 40), (200, 500, 90),
        turns={"kind": "fly-by", "bank_deg": 25.0},
        climb={"model": model, "too_steep": "slows"},
    )  # fmt: skip
    plain, scaled = (flown(drawn, one).legs[0] for one in (AS_TYPED, altimeter))
    x = np.linspace(0.0, 1.0, 500)

    def heights(curve: Curve) -> np.ndarray:
        gone = np.append(0.0, np.cumsum(np.hypot(np.diff(curve.x_m), np.diff(curve.y_m))))
        return np.interp(x, gone / gone[-1], curve.above_launch_m)

    expected = altimeter.zero_m + altimeter.factor * heights(plain)
    assert heights(scaled) == pytest.approx(expected, abs=0.02)  # sampled elsewhere


def test_a_leg_that_is_too_steep_stays_as_steep() -> None:
    """100 m up over 50 m at 5 m/s and 4 m/s: 40 m as shown, 40 x 0.9132 as flown."""
    drawn = routes.route(
        (0, 0, 20), (0, 50, 120), (0, 300, 120),
        turns={"kind": "fly-over"}, climb={"model": "linear", "too_steep": "falls-short"},
    )  # fmt: skip
    line = flown(drawn, COLD).legs[0]
    at = float(line.above_launch_m[np.hypot(line.x_m, line.y_m - line.y_m[0] - 50).argmin()])
    assert at == pytest.approx(0.9132 * 60.0, abs=0.05)
    assert highest(line) == pytest.approx(0.9132 * 120.0, abs=1e-6)


@pytest.mark.parametrize("altimeter", [COLD, DECK, BOTH], ids=["cold", "deck", "both"])
def test_the_climb_out_starts_on_the_deck(altimeter: Altimeter) -> None:
    """It steps at the take-off height as flown, and ends at the first waypoint's."""
    drawn = routes.route(
        (100, 0, 60), (300, 0, 60),
        climb={"out": "step", "take_off_height_m": 12.0},
    )  # fmt: skip
    (out,) = flown(drawn, altimeter).out
    start, step, end = routes.stops(out)
    assert start[2] == altimeter.zero_m
    assert step == pytest.approx((0.0, 0.0, altimeter.flown_m(12.0)), abs=1e-3)
    assert end == pytest.approx((100.0, 0.0, altimeter.flown_m(60.0)), abs=1e-3)


def test_below_its_zero_it_goes_over_at_take_off_height() -> None:
    """Typed 1 m below the deck, 1 m above the ground: up 10 m, over, and down."""
    drawn = routes.route((100, 0, -1), (300, 0, -1), climb={"out": "vertical"})
    (out,) = flown(drawn, Altimeter(zero_m=2.0)).out
    assert [stop[2] for stop in routes.stops(out)] == [2.0, 12.0, 12.0, 1.0]


@pytest.mark.parametrize("altimeter", [COLD, DECK, BOTH], ids=["cold", "deck", "both"])
def test_the_way_home_climbs_to_its_height_and_lands_on_the_ground(altimeter: Altimeter) -> None:
    """Home height scales; home ground, 20 m below launch, is where it is."""
    drawn = routes.route(
        (0, 0, 60), (200, 0, 60), home=(0, 100),
        way_home={"height_m": 90.0, "path": "climb-first"},
    )  # fmt: skip
    (home,) = flown(drawn, altimeter, spot_ground_m=-20.0).home
    heights = [stop[2] for stop in routes.stops(home)]
    expected = [altimeter.flown_m(60.0), *2 * [altimeter.flown_m(90.0)], -20.0]
    assert heights == pytest.approx(expected, abs=1e-3)


@pytest.mark.parametrize("stated", [{"gradient": 0.5}, {}], ids=["gradient", "rate"])
def test_the_climb_home_scales_too(stated: dict[str, Any]) -> None:
    """40 m up at 1 in 2, or at 4 m/s in 8 m/s: reached after 80 m in any air."""
    drawn = routes.route(
        routes.waypoint("a", 0, 0, 60, speed_m_per_s=8.0),
        routes.waypoint("b", 200, 0, 60, speed_m_per_s=8.0),
        way_home={"height_m": 100.0, "path": "climb-on-the-way", **stated},
    )
    (home,) = flown(drawn, COLD).home
    level = routes.stops(home)[1]
    assert level == pytest.approx((120.0, 0.0, 0.9132 * 100.0), abs=0.01)


def test_the_time_it_takes_is_what_it_takes_as_shown() -> None:
    """60 m up at 4 m/s as shown take 15 s, however high that is."""
    drawn = routes.route((0, 0, 60), (200, 0, 60), climb={"out": "vertical", "up_m_per_s": 4.0})
    for altimeter in (AS_TYPED, COLD, BOTH):
        (out,) = flown(drawn, altimeter).out
        assert out.time_s[-1] == pytest.approx(15.0, abs=1e-9)


def test_a_landing_at_a_waypoint_is_at_its_height() -> None:
    """The spot's own height is that waypoint's as flown."""
    drawn = routes.route(
        (0, 0, 60), (200, 0, 80), after_last={"go_to": "w0", "then": "wait"},
    )  # fmt: skip
    assert flown(drawn, COLD).spot.height_m == pytest.approx(0.9132 * 60.0)


def test_unknown_heights_stay_unknown() -> None:
    """NaN is not known, whatever the air."""
    drawn = routes.route((0, 0, 60), (200, 0, 80), (400, 0, 80))
    flight = fly(drawn, [60.0, np.nan, 80.0], spot_ground_m=0.0, step_m=1.0, altimeter=BOTH)
    assert np.isnan(flight.legs[0].above_launch_m).any()

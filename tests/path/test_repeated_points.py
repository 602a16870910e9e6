"""Repeated waypoints: a leg of no length, kept in the table, and no stop."""

from __future__ import annotations

import math

import numpy as np
import pytest

from terrain_guard.path.flight import Flight, fly
from tests.path.routes import route, waypoint

AHEAD_M = 20.0
GAP_M = AHEAD_M * math.tan(math.radians(22.5))
"""How far inside a right angle an arc passes whose tangents are 20 m: T tan(A/4)."""


def flown(repetition_height_m: float = 60.0, **more: float) -> Flight:
    """Fly east, then north, with the corner's waypoint given twice."""
    plan = route(
        (0.0, 100.0, 60.0),
        (200.0, 100.0, 60.0),
        waypoint("again", 200.0, 100.0, repetition_height_m, **more),
        (200.0, 300.0, 60.0),
        turns={"turn_anticipation_m": AHEAD_M},
    )
    return fly(plan, [w.height_m for w in plan.waypoints], spot_ground_m=0.0, step_m=1.0)


def nearest_to_corner_m(flight: Flight, way: int) -> float:
    """Return how near one way of flying the legs comes to the corner's waypoint."""
    curve = flight.legs[way]
    x, y = flight.frame.to_local(*_corner())
    return float(np.hypot(curve.x_m - x, curve.y_m - y).min())


def _corner() -> tuple[float, float]:
    again = waypoint("corner", 200.0, 100.0, 60.0)
    return again.lon_deg, again.lat_deg


def test_a_repeated_waypoint_is_flown_by() -> None:
    """Given twice, the corner is still cut: it passes 8.284 m inside; stopping is flown too."""
    flight = flown()
    assert [curve.words[0] for curve in flight.legs] == ["fly-by", "stop"]
    assert nearest_to_corner_m(flight, 0) == pytest.approx(GAP_M, abs=1e-3)
    assert pytest.approx(8.284, abs=1e-3) == GAP_M  # handbook geometry, by hand
    assert nearest_to_corner_m(flight, 1) == pytest.approx(0.0, abs=1e-6)


def test_its_leg_is_kept_at_mid_arc() -> None:
    """The leg from the waypoint to its repetition is a point where the arc has its middle."""
    curve = flown().legs[0]
    start, end = curve.leg_span(2)
    assert start == end
    x, y = flown().frame.to_local(*_corner())
    first = np.flatnonzero(curve.leg == 2)[0]
    away = np.hypot(curve.x_m[first] - x, curve.y_m[first] - y)
    assert away == pytest.approx(GAP_M, abs=1e-3)
    assert (np.diff(curve.along_m) >= 0).all()


@pytest.mark.parametrize("wait_s", [1.0])
def test_waiting_there_is_a_stop(wait_s: float) -> None:
    """Where the aircraft waits, it flies to the point itself."""
    flight = flown(wait_s=wait_s)
    assert len(flight.legs) == 1
    assert nearest_to_corner_m(flight, 0) == pytest.approx(0.0, abs=1e-6)


def test_another_height_there_is_a_stop() -> None:
    """A climb on the spot is flown at the point itself."""
    flight = flown(repetition_height_m=80.0)
    assert nearest_to_corner_m(flight, 0) == pytest.approx(0.0, abs=1e-6)
    curve = flight.legs[0]
    assert np.ptp(curve.leg_span(2)) == pytest.approx(20.0, abs=1e-9)

"""Repeated waypoints: a leg of no length, kept in the table, and no stop."""

from __future__ import annotations

import math

import numpy as np
import pytest

from terrain_guard.path.flight import Flight, fly
from terrain_guard.path.stands import settled
from tests.path.routes import nearest_m, route, waypoint

AHEAD_M = 20.0
GAP_M = AHEAD_M * math.tan(math.radians(22.5))
"""How far inside a right angle an arc passes whose tangents are 20 m: T tan(A/4)."""


def flown(
    repetition_height_m: float = 60.0,
    *,
    kind: str = "fly-by",
    corner_height: str = "mid-arc",
    heights: tuple[float, float] = (60.0, 60.0),
    **more: float,
) -> Flight:
    """Fly east, then north, with the corner's waypoint given twice; heights at both ends."""
    plan = route(
        (0.0, 100.0, heights[0]),
        (200.0, 100.0, 60.0),
        waypoint("again", 200.0, 100.0, repetition_height_m, **more),
        (200.0, 300.0, heights[1]),
        turns={"kind": kind, "turn_anticipation_m": AHEAD_M, "corner_height": corner_height},
    )
    return fly(plan, [w.height_m for w in plan.waypoints], spot_ground_m=0.0, step_m=1.0)


def test_places_a_millimetre_apart_are_one() -> None:
    """Each that near to the one before is put there, and the next is measured from there."""
    points = [(0.0, 0.0), (0.0009, 0.0), (0.0018, 0.0), (0.0, 0.0), (5.0, 5.0)]
    assert settled(points) == [(0.0, 0.0), (0.0, 0.0), (0.0018, 0.0), (0.0, 0.0), (5.0, 5.0)]


def nearest_to_corner_m(flight: Flight) -> float:
    """Return how near the reference comes to the corner's waypoint."""
    curve = flight.legs[0]
    x, y = flight.frame.to_local(*_corner())
    return float(np.hypot(curve.x_m - x, curve.y_m - y).min())


def _corner() -> tuple[float, float]:
    again = waypoint("corner", 200.0, 100.0, 60.0)
    return again.lon_deg, again.lat_deg


def test_a_repeated_waypoint_is_flown_by() -> None:
    """Given twice, the corner is still cut: it passes 8.284 m inside."""
    assert nearest_to_corner_m(flown()) == pytest.approx(GAP_M, abs=1e-3)
    assert pytest.approx(8.284, abs=1e-3) == GAP_M  # handbook geometry, by hand


def test_unstated_it_is_flown_every_way() -> None:
    """By first, but also over the waypoint, with and without a stop."""
    flight = flown(kind="unstated")
    assert list(flight.tracks) == ["fly-by", "fly-over", "smooth", "stop"]
    assert nearest_to_corner_m(flight) == pytest.approx(GAP_M, abs=1e-3)
    assert nearest_m(flight, 200.0, 100.0) == pytest.approx(0.0, abs=1e-6)


def test_cut_straight_it_is_level_at_its_repetition() -> None:
    """From 40 m up to 60 m and down to 20: 58 and 56 m at the tangent points, 57 between them.

    The tangent points are 20 m of 200 m before and behind the waypoint, by hand.
    """
    curve = flown(corner_height="straight", heights=(40.0, 20.0)).legs[0]
    chords = np.flatnonzero(curve.leg == 2)
    assert curve.above_launch_m[chords] == pytest.approx(57.0, abs=1e-9)
    assert np.abs(np.diff(curve.above_launch_m)).max() < 0.2  # and never a jump
    start, end = curve.leg_span(2)
    assert start == end


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


@pytest.mark.parametrize("kind", ["fly-by", "unstated"])
def test_waiting_there_is_a_stop(kind: str) -> None:
    """Where the aircraft waits, it flies to the point itself, and in no other way."""
    flight = flown(kind=kind, wait_s=1.0)
    assert len(flight.legs) == 1
    assert nearest_to_corner_m(flight) == pytest.approx(0.0, abs=1e-6)


def test_another_height_there_is_a_stop() -> None:
    """A climb on the spot is flown at the point itself."""
    flight = flown(repetition_height_m=80.0)
    assert nearest_to_corner_m(flight) == pytest.approx(0.0, abs=1e-6)
    curve = flight.legs[0]
    assert np.ptp(curve.leg_span(2)) == pytest.approx(20.0, abs=1e-9)

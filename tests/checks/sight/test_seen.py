"""How far an aircraft can be seen, against the numbers told of the guidelines.

EASA, "Guidelines for UAS operations in the open and specific category", Issue 3, 2025:
second-hand, from summaries of it.
"""

from __future__ import annotations

import numpy as np
import pytest

from terrain_guard.checks.sight.seen import attitude_distance_m, detection_distance_m


@pytest.mark.parametrize(
    ("size_m", "expected_m"), [(0.35, 134.45), (0.8, 281.6), (1.0, 347.0), (1.5, 510.5)]
)
def test_rotorcraft(size_m: float, expected_m: float) -> None:
    """327 times the size and 20 m."""
    assert float(attitude_distance_m(size_m, "rotorcraft")) == pytest.approx(expected_m)


def test_fixed_wing() -> None:
    """490 times the size and 30 m: 1500 m for 3 m."""
    assert float(attitude_distance_m(3.0, "fixed-wing")) == pytest.approx(1500.0)


def test_height_counts() -> None:
    """100 m away and 90 m up is 134.54 m: too far by 0.09 m for a size of 0.35 m."""
    beyond = np.hypot(100.0, 90.0) - attitude_distance_m(0.35, "rotorcraft")
    assert float(beyond) == pytest.approx(0.09, abs=0.005)


def test_detection() -> None:
    """Three tenths of the visibility: 1500 m of 5 km."""
    assert detection_distance_m([5000.0, 1000.0]).tolist() == pytest.approx([1500.0, 300.0])


@pytest.mark.parametrize("size_m", [0.0, -1.0, np.nan, np.inf])
def test_no_such_size(size_m: float) -> None:
    """Refused, with what was given."""
    with pytest.raises(ValueError, match="size_m is"):
        attitude_distance_m(size_m, "rotorcraft")


def test_no_such_airframe() -> None:
    """Refused, with what there is."""
    with pytest.raises(ValueError, match="'airship': give one of rotorcraft, fixed-wing"):
        attitude_distance_m(1.0, "airship")  # type: ignore[arg-type]

"""Acting later: windows in time behind every metre."""

from __future__ import annotations

import numpy as np
import pytest

from terrain_guard.checks.home.delays import acting_later, worst_between, worst_from_here

SPEED_M_PER_S = 10.0


def flown(metres: int) -> np.ndarray:
    """Return the times of samples a metre apart at 10 m/s."""
    return np.arange(metres) / SPEED_M_PER_S


@pytest.mark.parametrize(("delay_s", "is_reached"), [(5.0, False), (12.0, True)])
def test_a_delay_carries_it_into_the_blocked_part(delay_s: float, is_reached: bool) -> None:
    """Blocked from 100 m on: at 10 m/s 12 s carry it 120 m, 5 s only 50 m."""
    codes = np.where(np.arange(400) >= 100, 3, 0)
    later = acting_later(codes, flown(400), delays_s=(1.0, delay_s), stop_s=np.zeros(400))
    assert bool(later[0] == 3) is is_reached


def test_stopping_takes_room_too() -> None:
    """It acts 50 m on and stands v/2a = 1.67 s, 16.7 m, later at 3 m/s²."""
    codes = np.where(np.arange(400) >= 66, 3, 0)
    stop = np.full(400, SPEED_M_PER_S / (2 * 3.0))
    at_once = acting_later(codes, flown(400), delays_s=(5.0, 5.0), stop_s=np.zeros(400))
    standing = acting_later(codes, flown(400), delays_s=(5.0, 5.0), stop_s=stop)
    assert (at_once[0], standing[0]) == (0, 3)


def test_what_lies_before_the_window_is_passed() -> None:
    """Blocked only from 10 to 20 m: an aircraft that waits 5 s at 10 m/s has passed it."""
    codes = np.where((np.arange(400) >= 10) & (np.arange(400) <= 20), 3, 0)
    later = acting_later(codes, flown(400), delays_s=(5.0, 9.0), stop_s=np.zeros(400))
    assert later[0] == 0
    assert acting_later(codes, flown(400), delays_s=(1.0, 9.0), stop_s=np.zeros(400))[0] == 3


def test_at_the_end_the_last_metre_counts() -> None:
    """A window past the end holds the last sample."""
    codes = np.array([0, 0, 2])
    later = acting_later(codes, np.arange(3.0), delays_s=(50.0, 90.0), stop_s=np.zeros(3))
    assert later.tolist() == [2, 2, 2]


def test_spans_against_a_search_by_hand() -> None:
    """Any spans of any values: the same as NumPy's own maximum of the slice."""
    rng = np.random.default_rng(7)
    for size in (1, 2, 3, 17, 300):
        values = rng.integers(0, 4, size)
        first = rng.integers(0, size, 200)
        last = np.minimum(first + rng.integers(0, size, 200), size - 1)
        by_hand = [values[a : b + 1].max() for a, b in zip(first, last, strict=True)]
        assert worst_between(values, first, last).tolist() == by_hand


def test_the_rest_of_the_flight() -> None:
    """A breach ahead is ahead of every metre before it."""
    assert worst_from_here(np.array([0, 0, 3, 0, 1])).tolist() == [3, 3, 3, 1, 1]

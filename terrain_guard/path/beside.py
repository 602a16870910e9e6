r"""Which of several ways over one straight line can be the lowest, and which the highest.

Climb-outs and ways home all fly over the same line on the ground. One that is
nowhere lower than another decides no floor, one nowhere higher no ceiling::

    ┌────────┐   climb-first: the highest
    │  ╱─────┤   climbing on the way: between, decides nothing
    ├────────┤   level: the lowest
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Sequence
from dataclasses import replace

import numpy as np

from terrain_guard.arrays import Floats
from terrain_guard.path.climbs import SHORT
from terrain_guard.path.curve import Curve

SAME_M = 1e-9
SAME_PLACE_M = 1e-6


def deciding(curves: Sequence[Curve], *, eased: Callable[[Curve], bool]) -> tuple[Curve, ...]:
    """Return the curves, each with the sides that it decides; the first decides both.

    Parameters
    ----------
    curves : sequence of Curve
        Ways over the same straight line, the reference first.
    eased : function of a Curve
        Whether its floor is eased by its own height: then being lower proves nothing.
    """
    away = [_away_m(curve) for curve in curves]
    at = np.unique(np.concatenate(away))
    low, high = (
        [_over(curve, far, at, pick) for curve, far in zip(curves, away, strict=True)]
        for pick in (np.fmin, np.fmax)
    )
    alike = [k for k, curve in enumerate(curves) if not eased(curve)]
    lowest = {k for k in range(len(curves)) if k not in alike} | _undercut(low, alike, 1)
    highest = _undercut(high, range(len(curves)), -1)
    others = (
        replace(
            curve,
            decides=tuple(side for side, kept in (("low", lowest), ("high", highest)) if k in kept),
        )
        for k, curve in enumerate(curves)
        if k > 0
    )
    return (curves[0], *others)


def is_slanting(curve: Curve) -> bool:
    """Return whether a way home slants down to the spot."""
    return curve.words[-1].removesuffix(SHORT) == "slanting"


def _away_m(curve: Curve) -> Floats:
    return np.hypot(curve.x_m - curve.x_m[0], curve.y_m - curve.y_m[0])


def _over(curve: Curve, away_m: Floats, at_m: Floats, pick: np.ufunc) -> Floats:
    """Return the least or the greatest height over each place on the line."""
    heights = curve.above_launch_m
    over = np.interp(at_m, away_m, heights)
    for end in (0.0, float(at_m[-1])):  # where it goes straight up or down
        there = np.abs(away_m - end) < SAME_PLACE_M
        over[np.abs(at_m - end) < SAME_PLACE_M] = pick.reduce(heights[there])
    return over


def _undercut(heights: Sequence[Floats], among: Iterable[int], sign: int) -> set[int]:
    """Return the ways that no other undercuts everywhere; of equals the first stays."""
    kept: set[int] = set()
    order = sorted(among, key=lambda k: (float(np.nan_to_num(sign * heights[k]).mean()), k))
    for k in order:
        limit = sign * heights[k] + SAME_M
        if not any(np.all(sign * heights[j] <= limit) for j in kept):
            kept.add(k)
    return kept

"""A second, independent model of the bare earth beside the first: how far they differ."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import replace

import numpy as np

from terrain_guard.arrays import Floats
from terrain_guard.assessment import LaunchUsed, Samples, SecondGround
from terrain_guard.checks.judge import runs
from terrain_guard.checks.views import View
from terrain_guard.ground.model import Ground
from terrain_guard.units import text_up

SPREAD = 16.0, 84.0
"""The shares, per cent, within one sigma of a normal distribution."""


def beside_first(
    view: View | None,
    *,
    first_m: tuple[float, float],
    second_m: tuple[float, float],
    launch: LaunchUsed,
    samples: Samples,
) -> tuple[SecondGround | None, tuple[str, ...]]:
    """Return how far the second ground differs from the first, and what is to be said of it.

    Parameters
    ----------
    view : View or None
        The flight over the second ground; None if there is none.
    first_m, second_m : (float, float)
        The greatest margins of floor and ceiling over each, without any canopy.
    launch : LaunchUsed
        The launch ground of the first.
    samples : Samples
        The reference curve over the first.
    """
    if view is None:
        return None, ()
    found, difference_m = _compared(view, launch, samples)
    found = replace(found, floor_margin_m=second_m[0], ceiling_margin_m=second_m[1])
    said = _cautions(
        found, difference_m, view.beneath.ground, first_margin_m=first_m[0], samples=samples
    )
    return found, tuple(said)


def _compared(view: View, launch: LaunchUsed, samples: Samples) -> tuple[SecondGround, Floats]:
    """Compare along the reference curve, each model less its own launch ground if it has one."""
    second, wanted = view.beneath, view.wanted
    difference = second.ground.elevation(samples.lon_deg, samples.lat_deg)
    known = np.isfinite(difference)
    difference = difference - samples.ground_elevation_m
    if view.has_own_launch:
        difference -= second.launch_elevation_m - launch.elevation_m
    at = _worst(difference)
    moved = np.isfinite(difference) & _moving(samples)
    low, middle, high = (
        np.percentile(difference[moved], (SPREAD[0], 50.0, SPREAD[1]))
        if moved.any()
        else np.full(3, np.nan)
    )
    found = SecondGround(
        terrain=second.ground.used_files(),
        launch_elevation_m=second.launch_elevation_m,
        has_own_launch=view.has_own_launch,
        floor_margin_m=wanted.floor_margin_m - wanted.canopy_m,
        ceiling_margin_m=wanted.ceiling_margin_m,
        median_m=float(middle),
        spread_m=float(high - low) / 2,
        worst_m=float(difference[at]),
        at_m=float(samples.along_m[at]) if np.isfinite(difference[at]) else float("nan"),
        assessed_share=float(known[_moving(samples)].mean()),
    )
    return found, difference


def _moving(samples: Samples) -> np.ndarray:
    """Return which samples begin a stretch over the ground: a climb on the spot counts once."""
    step = np.hypot(np.diff(samples.lat_deg), np.diff(samples.lon_deg))
    return np.append(step > 1e-9, True)


def _worst(difference: Floats) -> int:
    return int(np.argmax(np.where(np.isfinite(difference), np.abs(difference), -1.0)))


def _cautions(
    found: SecondGround,
    difference_m: Floats,
    second: Ground,
    *,
    first_margin_m: float,
    samples: Samples,
) -> Iterator[str]:
    """Say where the two differ by more than both margins, and where only one is known."""
    allowed = float(np.hypot(first_margin_m, found.floor_margin_m))
    beyond = np.abs(difference_m) > allowed
    places = runs(beyond, np.zeros(beyond.size, dtype=np.int64))
    if places:
        worst = next(place for place in places if place[0] <= _worst(difference_m) < place[1])
        start, stop = (float(samples.along_m[min(k, beyond.size - 1)]) for k in worst)
        more = f", and on {len(places) - 1} more stretches" if places[1:] else ""
        yield (
            f"The second ground model, {second.name}, differs from the first by up to "
            f"{text_up(abs(found.worst_m))} m at {start:.0f}-{stop:.0f} m{more}: more than the "
            f"{allowed:.1f} m of both margins together (root-sum-square). One of them is "
            "wrong there, or the ground was changed between the surveys; the worse counts."
        )
    if found.assessed_share < 1.0:
        yield (
            f"The second ground model, {second.name}, knows {found.assessed_share * 100:.0f} % of "
            "the route: elsewhere the first alone judges."
        )
    if not found.has_own_launch:
        yield (
            f"The second ground model, {second.name}, does not know the launch: its heights count "
            "from the launch ground of the first, so an offset between the two surveys counts."
        )

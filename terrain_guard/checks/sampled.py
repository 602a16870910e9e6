"""The reference curve sample by sample, with the worst state of all curves."""

from __future__ import annotations

from typing import Any

import numpy as np
from numpy.typing import NDArray

from terrain_guard.arrays import Floats, Ints
from terrain_guard.assessment import Samples
from terrain_guard.checks.judge import WITHIN
from terrain_guard.checks.reference import Ruler
from terrain_guard.checks.stretches import Judged, Stretch
from terrain_guard.path.curve import GAP, Curve
from terrain_guard.states import State

HAIR_M = 1e-7


def assessed_length_m(failing: list[Stretch], ruler: Ruler) -> float:
    """Return the metres of the reference on which every limit was judged on every curve."""
    spans = sorted((s.from_m, s.to_m) for s in failing if s.state is State.NOT_ASSESSED)
    missing, reached = 0.0, 0.0
    for low, high in spans:
        missing += max(0.0, high - max(low, reached))
        reached = max(reached, high)
    return max(0.0, ruler.length_m - missing)


def reference_samples(judged: list[Judged], reference: tuple[Curve, ...], ruler: Ruler) -> Samples:
    """Return the samples of the reference curves, joined."""
    parts: dict[str, list[NDArray[Any]]] = {}
    metres = seconds = 0.0
    for number, curve in enumerate(reference):
        own = next(one for one in judged if one.curve is curve)
        keep = slice(None) if number == len(reference) - 1 else slice(None, -1)
        for name, values in _of_curve(own, metres, seconds).items():
            parts.setdefault(name, []).append(values[keep])
        metres += float(curve.along_m[-1])
        seconds += float(curve.time_s[-1])
    joined = {name: np.concatenate(values) for name, values in parts.items()}
    joined["state"] = _worst_states(judged, ruler, joined["along_m"])
    for values in joined.values():
        values.setflags(write=False)
    return Samples(**joined)


def _of_curve(own: Judged, metres: float, seconds: float) -> dict[str, NDArray[Any]]:
    curve, points = own.curve, own.points
    pick = np.searchsorted(points.position, np.arange(curve.x_m.size))
    behind = np.minimum(pick, points.leg.size - 1)
    return {
        "along_m": metres + curve.along_m,
        "time_s": seconds + curve.time_s,
        "lat_deg": curve.lat_deg,
        "lon_deg": curve.lon_deg,
        "leg": points.leg[behind],
        "in_column": points.in_column[behind],
        "above_launch_m": curve.above_launch_m,
        "survey_shift_m": own.beneath.shift_m(curve.x_m, curve.y_m),
        "ground_elevation_m": points.elevation_m[pick] - points.above_ground_m[pick],
        "surface_elevation_m": points.elevation_m[pick] - points.above_surface_m[pick],
        "floor_margin_m": points.floor_margin_m[pick],
        "ceiling_margin_m": points.ceiling_margin_m[pick],
        "above_ground_m": points.above_ground_m[pick],
        "clearance_m": np.where(
            np.abs(points.clearance_m[pick]) <= points.void_m[pick],
            points.clearance_m[pick],
            np.nan,
        ),
    }


def _worst_states(judged: list[Judged], ruler: Ruler, along_m: Floats) -> Ints:
    """Return for each sample the worst state up to the next sample, over all curves."""
    state = np.full(along_m.shape, WITHIN, dtype=np.int64)
    for one in judged:
        points = one.points
        flown = points.leg != GAP
        leg = points.leg[flown]
        low = ruler.place(one.curve, points.along_m[:-1][flown], leg)
        high = ruler.place(one.curve, points.along_m[1:][flown], leg)
        codes = one.judgement.worst[flown]
        # Every stretch marks the samples whose row it touches; a hair at an end is no touch.
        # One without length (a stop, a climb of unknown height) marks all samples at its place.
        hair = np.where(high - low > 2 * HAIR_M, HAIR_M, -HAIR_M)
        first = np.searchsorted(along_m, low + hair, side="right") - 1
        first += (hair < 0) & (along_m[np.maximum(first, 0)] < low - HAIR_M)
        last = np.searchsorted(along_m, high - hair, side="right") - 1
        first, last = np.maximum(first, 0), np.maximum(last, first)
        for shift in range(int((last - first).max(initial=0)) + 1):
            touch = first + shift <= last
            np.maximum.at(state, (first + shift)[touch], codes[touch])
    state[-1] = state[-2:].max()  # nothing follows the last sample
    return state

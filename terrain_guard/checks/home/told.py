"""States along the flight told as stretches and metres."""

from __future__ import annotations

import numpy as np

from terrain_guard.arrays import Bools, Ints
from terrain_guard.assessment import Samples, Shares, Span
from terrain_guard.checks.judge import BREACH, NOT_ASSESSED, TIGHT, WITHIN, runs


def spans(fails: Bools, samples: Samples) -> tuple[Span, ...]:
    """Return the stretches of the flight in which a mask (n,) holds; each covers to the next."""
    along, time = samples.along_m, samples.time_s
    found = runs(fails[:-1], np.zeros(fails.size - 1, dtype=np.int64))
    return tuple(
        Span(
            from_m=float(along[a]), to_m=float(along[b]),
            from_s=float(time[a]), to_s=float(time[b]),
        )
        for a, b in found
        if along[b] > along[a]
    )  # fmt: skip


def shares(codes: Ints, samples: Samples) -> Shares:
    """Return the metres of the flight in each state (n,)."""
    step = np.diff(samples.along_m)
    of = {code: float(step[codes[:-1] == code].sum()) for code in
          (WITHIN, TIGHT, BREACH, NOT_ASSESSED)}  # fmt: skip
    return Shares(
        within_m=of[WITHIN],
        tight_m=of[TIGHT],
        breach_m=of[BREACH],
        not_assessed_m=of[NOT_ASSESSED],
    )


def fails(codes: Ints) -> Bools:
    """Return where states are a breach, or not assessed: that is not clear."""
    return codes >= NOT_ASSESSED

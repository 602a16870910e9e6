"""What the error budget costs: the check with it, and with flat margins in its place."""

from __future__ import annotations

import statistics
import time
from collections.abc import Callable, Iterator
from contextlib import ExitStack, contextmanager
from typing import TYPE_CHECKING, Any
from unittest.mock import patch

import numpy as np
from _bench_figures import ROOT, Figure

from terrain_guard import assess
from terrain_guard.assess import check
from terrain_guard.checks import budgeted
from terrain_guard.checks.budget.launch_spot import LaunchSpot
from terrain_guard.checks.budgeted import Along, Budgeter
from terrain_guard.checks.margins import Margins
from terrain_guard.states import State

if TYPE_CHECKING:
    from terrain_guard.assessment import Assessment, BudgetUsed

REQUIRED = 1.25


def figures(count: int) -> Iterator[Figure]:
    """Check the sample route with and without, in turn, and compare the medians."""
    route = ROOT / "sample_dem" / "follows_slope.toml"
    ground, surface = (ROOT / "sample_dem" / f"valley_{kind}.tif" for kind in ("ground", "surface"))

    def job() -> Assessment:
        return check(route, ground=ground, surface=surface)

    first = job()
    floor_m, ceiling_m = (
        float(np.nanmedian(values))
        for values in (first.samples.floor_margin_m, first.samples.ceiling_margin_m)
    )

    def without() -> Assessment:
        with flat_margins(first.budget, floor_m=floor_m, ceiling_m=ceiling_m):
            return check(route, ground=ground, surface=surface)

    with_s, without_s = medians(count, job, without)
    yield Figure(
        work=f"check of the sample, warm, with the error budget (beside: flat margins of "
             f"{floor_m:.1f} and {ceiling_m:.1f} m)",
        measured=f"{with_s:.2f} s", beside=f"{without_s:.2f} s",
        value=with_s / without_s, unit="×", required=REQUIRED,
    )  # fmt: skip


def medians(count: int, *jobs: Callable[[], Any]) -> list[float]:
    """Return the median seconds of each job, run in turn."""
    times: list[list[float]] = [[] for _ in jobs]
    for _ in range(count):
        for mine, job in zip(times, jobs, strict=True):
            start = time.perf_counter()
            job()
            mine.append(time.perf_counter() - start)
    return [statistics.median(mine) for mine in times]


@contextmanager
def flat_margins(used: BudgetUsed, *, floor_m: float, ceiling_m: float) -> Iterator[None]:
    """Do without the budget: no slopes, no launch spot, no terms, no table, no chance.

    The margins are the budget's own medians, so that the search for the nearest ground has
    about as far to look; the corridor's reach on the floor stays, for it is no margin.
    `used` stands in the assessment where the table would.
    """
    with ExitStack() as patches:
        for where, name, instead in (
            (Budgeter, "along", _Flat(floor_m=floor_m, ceiling_m=ceiling_m).along),
            (budgeted, "launch_spot", lambda *_, **__: LaunchSpot(x_m=0, y_m=0, elevation_m=0)),
            (assess, "budget_used", lambda *_: used),
            (assess, "whole_flight_state", lambda *_: (State.WITHIN, ())),
        ):
            patches.enter_context(patch.object(where, name, instead))
        yield


class _Flat:
    """The same margins everywhere."""

    def __init__(self, *, floor_m: float, ceiling_m: float) -> None:
        self.margins_m = {"floor_m": floor_m, "ceiling_m": ceiling_m}

    def along(self, curve: Any, wanted: Any) -> Along:
        """Return them along a curve, and no budget."""
        del wanted
        margins = Margins.flat(curve.x_m.size, **self.margins_m)
        return Along(margins=margins, budget=None, places=None)  # type: ignore[arg-type]

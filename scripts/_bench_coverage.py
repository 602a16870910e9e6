"""Stated beside measured: how often margins hold over invented terrain."""

from __future__ import annotations

from collections.abc import Iterator
from typing import Final

from _bench_figures import Figure
from scipy import stats

from tests.checks.budget.coverage_counts import Coverage, Kind, interval
from tests.checks.budget.coverage_crests import K_SHARP, Sharp
from tests.checks.budget.coverage_sim import K_SINGLE, WITHIN, runs

TERRAINS: Final = 2000
SEED: Final = 7
PERCENT: Final = 100.0


def figures(terrains: int = TERRAINS) -> Iterator[Figure]:
    """Fly over terrains; what is required is the 99 % interval of the binomial distribution."""
    found = runs(terrains, seed=SEED)
    everything = sum(found.values(), start=Coverage())
    for kind, counted in found.items():
        yield from _singles(counted, _words(kind))
    yield from _singles(everything, "all")
    for name, sharp in (
        ("floor, crests", everything.crests),
        ("ceiling, gullies", everything.gullies),
    ):
        yield from _sharp(name, sharp, everything.terrains)
    yield _flights(everything)
    for side in WITHIN:
        yield _called(everything, side)


def _words(kind: Kind) -> str:
    return f"alike over {kind.length_m:g} m, launch {'' if kind.surveyed else 'not '}surveyed"


def _singles(counted: Coverage, words: str) -> Iterator[Figure]:
    """Yield one place a terrain, put exactly at k sigma; no bounds are in play."""
    for side, sign in (("floor", 1), ("ceiling", -1)):
        for k in K_SINGLE:
            yield _share(
                f"{side} at {k:g} sigma, {words}", counted.singles[sign * k], counted.terrains,
                stated=float(stats.norm.sf(k)),
            )  # fmt: skip


def _sharp(words: str, sharp: Sharp, among: int) -> Iterator[Figure]:
    """Yield places near sharp ground: at most as often as stated with bounds, more without."""
    stated = float(stats.norm.sf(K_SHARP))
    yield _share(f"{words}, bounds on", sharp.with_bound, among, stated=stated, at_most=True)
    yield Figure(
        work=f"{words}, bounds off", value=PERCENT * sharp.without / among, unit="%",
        beside=f"stated {PERCENT * stated:.2f} %",
    )  # fmt: skip


def _flights(counted: Coverage) -> Figure:
    """Return whole flights against the chances given for them, one by one."""
    among = counted.terrains
    _, high = counted.flights_expected()
    return Figure(
        work="whole flights, k by chance", value=PERCENT * counted.flights / among, unit="%",
        beside=f"stated {PERCENT * sum(counted.expected) / among:.2f} %",
        required=PERCENT * high / among,
    )  # fmt: skip


def _called(counted: Coverage, side: str) -> Figure:
    called = counted.called[side]
    return _share(
        f"{side}, {called} whole flights called within", counted.called_broke[side], called,
        stated=WITHIN[side][1], at_most=True,
    )  # fmt: skip


def _share(work: str, broke: int, among: int, *, stated: float, at_most: bool = False) -> Figure:
    """Return which share broke; NaN of none."""
    low, high = (PERCENT * count / max(among, 1) for count in interval(among, stated))
    return Figure(
        work=work, value=PERCENT * broke / among if among else float("nan"), unit="%",
        beside=f"stated {PERCENT * stated:.2f} %", no_less=None if at_most else low, required=high,
    )  # fmt: skip

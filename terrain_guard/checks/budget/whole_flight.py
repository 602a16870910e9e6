"""The chance that any metre of a flight breaks a limit, by seeded joint draws.

Every metre at k = 2.33 breaks it nowhere with 99 %; of 2 km beside a slope one metre
breaks it all the same in one flight of four. So the errors of the places that matter
are drawn together, as they go together, a few thousand times::

    room left │ ────╲      ╱─────       a draw that dips below 0 anywhere is a flight
            0 │──────╲────╱──────       that breaks the limit
              │       ╲__╱

Places stand for bins of a fixed length along the route, whatever the distance of the
samples, so that twice as many samples change nothing. What moves all places alike is not
drawn: given the least room of a draw, its chance is known.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Final

import numpy as np

from terrain_guard.arrays import Floats, Ints
from terrain_guard.checks.budget.budget import Budget
from terrain_guard.checks.budget.covariance import Joint, joint, shared_nugget_at
from terrain_guard.checks.budget.places import Places
from terrain_guard.checks.budget.setting import Setting
from terrain_guard.checks.budget.tails import below, quantiles_of_least
from terrain_guard.errors import RefusedInput

FLOOR_CHANCE: Final = 0.05
CEILING_CHANCE: Final = 0.10
"""A flight within its limits breaks them with no greater chance than these. Our own choice."""
SEED: Final = 20210
DRAWS: Final = 4096
MOST_PLACES: Final = 512
LEFT_OUT: Final = 2e-4
"""Places are left out as long as their chances sum to less than this share of one."""
BINS_PER_LENGTH: Final = 10.0
LEAST_BIN_M: Final = 5.0
MORE_THAN_ONE: Final = 2.0
"""A bin's chance is taken for so many times that of its worst sample, where it is not drawn."""
POOL: Final = 4096


@dataclass(frozen=True, slots=True, kw_only=True)
class FlightChance:
    """The chance that any metre breaks the limit; NaN where some metre's room is not known.

    `at_least` is what the known metres alone have. `left_out`, in `chance`, bounds what was
    not drawn. `worst` is the sample that is likeliest to break; -1: there is none.
    """

    chance: float
    at_least: float
    standard_error: float
    left_out: float
    places: int
    worst: int

    def keeps(self, limit: float) -> bool:
        """Return whether it is proven to be no greater."""
        return self.chance <= limit


def flight_chance(
    found: Budget,
    places: Places,
    *,
    side: str,
    room_m: Floats,
    seed: int = SEED,
    draws: int = DRAWS,
) -> FlightChance:
    """Return the chance that any sample of a flight breaks the limit.

    Parameters
    ----------
    found : Budget
        Of the samples.
    side : str
        "floor" or "ceiling".
    room_m : (n,) float
        How far each sample, declared biases applied, may move straight down (ceiling: up)
        until it breaks the limit; inf where nothing is to be broken, NaN where not known.
    seed, draws : int
        The same seed gives the same answer.

    Raises
    ------
    RefusedInput
        There is no such side, or `room_m` is of another length.
    """
    _refuse(side, room_m, places)
    spare = np.where(np.isposinf(room_m), np.inf, room_m - found.bound_m(side))
    known = ~np.isnan(spare) & (np.isfinite(found.sigma_m) | np.isposinf(spare))
    sigma = np.where(known, np.nan_to_num(_sigma_here(found, places)), 0.0)
    single = np.where(known, _below(np.nan_to_num(spare, posinf=np.inf), sigma), 0.0)
    pick, left_out = _places_that_matter(_bin_of(places.along_m, found.setting), single)
    worst = int(np.argmax(single)) if single.max(initial=0.0) > 0 else -1
    drawn, error = (0.0, 0.0)
    if pick.size:
        drawn, error = _drawn(found, places, pick, spare[pick], seed=seed, draws=draws)
    at_least = max(drawn, float(single.max(initial=0.0)))
    return FlightChance(
        chance=min(1.0, at_least + left_out) if known.all() else float("nan"),
        at_least=at_least,
        standard_error=error,
        left_out=left_out,
        places=pick.size,
        worst=worst,
    )


def _refuse(side: str, room_m: Floats, places: Places) -> None:
    if side not in ("floor", "ceiling"):
        msg = f"side: given {side!r}, but it is 'floor' or 'ceiling'; write one of these"
        raise RefusedInput(msg)
    if np.shape(room_m) != (places.count,):
        msg = (
            f"room: given {np.size(room_m)} values for {places.count} samples; give one value a "
            "sample"
        )
        raise RefusedInput(msg)


def bin_m(setting: Setting) -> float:
    """Return how far along the route one place stands for."""
    lengths = [length for sigma, length in setting.dem.parts if sigma > 0]
    return max(min([*lengths, setting.source.length.value]) / BINS_PER_LENGTH, LEAST_BIN_M)


def _on_posts(setting: Setting) -> bool:
    """Return whether cells are so large that posts are shared by neighbouring bins."""
    return setting.cell_m >= bin_m(setting)


def _sigma_here(found: Budget, places: Places) -> Floats:
    """Return sigma with the nugget as it is between posts: smaller than on one."""
    if not _on_posts(found.setting):
        return found.sigma_m
    less = found.setting.dem.nugget_m**2 * (1 - shared_nugget_at(places.row, places.column))
    return np.sqrt(np.maximum(found.sigma_m**2 - less, 0.0))


def _below(spare_m: Floats, sigma_m: Floats) -> Floats:
    """Return the chance of an error beyond what is to spare."""
    with np.errstate(divide="ignore", invalid="ignore"):
        z = np.where(sigma_m > 0, spare_m / sigma_m, np.where(spare_m < 0, -np.inf, np.inf))
    return below(-z)


def _bin_of(along_m: Floats, setting: Setting) -> Floats:
    return np.floor(np.maximum(np.nan_to_num(along_m), 0.0) / bin_m(setting) + 1e-9)


def _places_that_matter(bins: Floats, single: Floats) -> tuple[Ints, float]:
    """Return the worst sample of each bin that matters, in order, and what the rest may add."""
    order = np.lexsort((-single, bins))
    first = np.append(True, np.diff(bins[order]) > 0)[: order.size]
    worst = order[first]
    rising = worst[np.argsort(single[worst], kind="stable")]
    rest = np.cumsum(single[rising]) * MORE_THAN_ONE
    left = int(np.searchsorted(rest, LEFT_OUT, side="right"))
    left = max(left, rising.size - MOST_PLACES)
    return np.sort(rising[left:]), float(rest[left - 1]) if left else 0.0


def _drawn(
    found: Budget, places: Places, pick: Ints, spare_m: Floats, *, seed: int, draws: int
) -> tuple[float, float]:
    """Return the chance from joint draws, and its standard error."""
    setting = found.setting
    errors = joint(found, places, pick, nugget_on_posts=_on_posts(setting))
    bins = _bin_of(places.along_m[pick], setting).astype(np.int64)
    normal, nugget = _draws(setting, bins, seed=seed, count=draws // 2)
    half = _root(errors).astype(np.float32) @ normal
    room = spare_m.astype(np.float32)[:, None] + nugget
    least = np.stack([(room + sign * half).min(axis=0) for sign in (1, -1)])
    chance = _below(least.astype(float), np.array(np.sqrt(errors.together_m2))).mean(axis=0)
    return float(chance.mean()), float(chance.std() / np.sqrt(chance.size))


def _draws(setting: Setting, bins: Ints, *, seed: int, count: int) -> tuple[Floats, Floats]:
    """Return normal draws (places, count), and the least nugget of each place's small cells.

    Each bin has its own stream, so that one place more does not shuffle all others.
    """
    streams = [np.random.default_rng([seed, one]) for one in bins.tolist()]
    normal = np.stack([one.standard_normal(count, dtype=np.float32) for one in streams])
    if _on_posts(setting):
        return normal, np.zeros((1, 1), dtype=np.float32)
    cells = max(bin_m(setting) / setting.cell_m, 1.0)
    pool = (quantiles_of_least(cells, POOL) * setting.dem.nugget_m).astype(np.float32)
    return normal, np.stack([pool[one.integers(0, POOL, count)] for one in streams])


def _root(errors: Joint) -> Floats:
    """Return a root of the covariance; a hair on its diagonal keeps rounding from mattering."""
    size = errors.covariance_m2.shape[0]
    hair = 1e-9 * (np.trace(errors.covariance_m2) / size + 1e-3)
    return np.linalg.cholesky(errors.covariance_m2 + hair * np.eye(size))

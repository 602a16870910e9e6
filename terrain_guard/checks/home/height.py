"""The one height to come home at: what the floor needs, what the ceiling leaves, and the price.

::

    ───────────────────────────  highest: the lowest ground of any way + ceiling
          the window
    ───────────────────────────  needed: the most that the floor needs on any way
                        ╱╲
    ___________________╱  ╲___   no window where the spur is higher than the valley allows
"""

from __future__ import annotations

import numpy as np

from terrain_guard.arrays import Bools, Floats
from terrain_guard.assessment import GroundInTheWay, ReturnHeight
from terrain_guard.checks.home.begun import Begun
from terrain_guard.path.altimeter import Altimeter


def return_height(
    begun: Begun,
    *,
    needed_m: tuple[Floats, Floats],
    highest_m: tuple[Floats, Floats],
    is_unknown: Bools,
    needed_by: GroundInTheWay | None,
    set_m: float | None,
    altimeter: Altimeter,
) -> ReturnHeight:
    """Return the height that serves all places begun at, and what stands against it.

    Parameters
    ----------
    needed_m, highest_m : pair of (n,) float
        Above launch, as flown: as computed and with margins.
    is_unknown : (n,) bool
        Where missing ground may ask for more.
    needed_by : GroundInTheWay or None
        What asks for most.
    set_m : float or None
        The height that is set, as typed.
    """
    unknown = bool(is_unknown.any())
    needed, needed_assured = (
        np.nan if unknown or np.isnan(values).any() else float(values.max(initial=-np.inf))
        for values in needed_m
    )
    highest, highest_assured = (
        np.nan if np.isnan(values).any() else float(values.min(initial=np.inf))
        for values in highest_m
    )
    over = _past(needed_assured - highest_m[1])
    under = _past(needed_m[1] - highest_assured)
    typed = altimeter.typed_m
    return ReturnHeight(
        set_m=set_m,
        needed_m=typed(needed),
        needed_assured_m=typed(needed_assured),
        needed_by=needed_by,
        highest_m=typed(highest),
        highest_assured_m=typed(highest_assured),
        highest_begun_m=_begun_at(begun, highest_m[0]),
        above_ceiling_m=_metres(begun, over > 0),
        above_ceiling_by_m=float(over.max(initial=0.0)) / altimeter.factor,
        below_floor_m=_metres(begun, under > 0),
        below_floor_by_m=float(under.max(initial=0.0)) / altimeter.factor,
    )


def _past(by_m: Floats) -> Floats:
    """Return by how much a limit is passed; 0 where that is not known, or is not at all."""
    return np.where(np.isfinite(by_m) & (by_m > 0), by_m, 0.0)


def _metres(begun: Begun, where: Bools) -> float:
    """Return the metres of the reference on which something holds of any way flown."""
    found = begun.onto_reference(where.astype(np.int64))
    return float(np.diff(begun.samples.along_m)[found[:-1] > 0].sum())


def _begun_at(begun: Begun, highest_m: Floats) -> float:
    if not np.isfinite(highest_m).any():
        return float("nan")
    return float(begun.along_m[int(np.nanargmin(highest_m))])

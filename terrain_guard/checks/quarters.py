"""Quarter the cells that are left until they are flat; then two triangles are exact.

A bilinear patch strays from its two triangles by at most a quarter of its
twist, so quartering a patch divides the error by four each time.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass

import numpy as np

from terrain_guard.arrays import Bools, Floats, Ints
from terrain_guard.checks.search import Seen, cell_corners, lower

FLAT_M = 2.5e-4  # a patch this near to its triangles counts as flat


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Quarters:
    """Square parts of cells as seen from their samples, in metres; arrays (n,).

    ``corner_*`` leads from the sample to the first corner, ``across_*`` along the
    row and ``down_*`` along the column to the next corners; z are elevations.
    """

    sample: Ints
    corner_e: Floats
    corner_n: Floats
    across_e: Floats
    across_n: Floats
    down_e: Floats
    down_n: Floats
    z00: Floats
    z01: Floats
    z10: Floats
    z11: Floats

    @property
    def stray_m(self) -> Floats:
        """How far the bilinear patch may stray from its two triangles."""
        return np.abs(self.z00 + self.z11 - self.z01 - self.z10) / 4

    def take(self, keep: Bools) -> Quarters:
        """Return the parts that `keep` marks."""
        return Quarters(**{name: getattr(self, name)[keep] for name in self.__slots__})

    def split(self) -> Quarters:
        """Return the four quarters of each part, exact on the bilinear patch."""
        z_top, z_left = (self.z00 + self.z01) / 2, (self.z00 + self.z10) / 2
        z_right, z_bottom = (self.z01 + self.z11) / 2, (self.z10 + self.z11) / 2
        z_mid = (z_top + z_bottom) / 2
        ae, an, de, dn = (
            part / 2 for part in (self.across_e, self.across_n, self.down_e, self.down_n)
        )
        east = (self.corner_e, self.corner_e + ae, self.corner_e + de, self.corner_e + ae + de)
        north = (self.corner_n, self.corner_n + an, self.corner_n + dn, self.corner_n + an + dn)

        def lace(*parts: Floats) -> Floats:
            return np.stack(parts, axis=1).ravel()

        return Quarters(
            sample=np.repeat(self.sample, 4),
            corner_e=lace(*east),
            corner_n=lace(*north),
            across_e=np.repeat(ae, 4),
            across_n=np.repeat(an, 4),
            down_e=np.repeat(de, 4),
            down_n=np.repeat(dn, 4),
            z00=lace(self.z00, z_top, z_left, z_mid),
            z01=lace(z_top, self.z01, z_mid, z_right),
            z10=lace(z_left, z_mid, self.z10, z_bottom),
            z11=lace(z_mid, z_right, z_bottom, self.z11),
        )


def cells_as_quarters(seen: Seen, sample: Ints, i: Ints, j: Ints) -> Quarters:
    """Return whole cells, to be quartered."""
    z00, z01, z10, z11 = cell_corners(seen.patches, i, j)
    east, north = seen.metres(sample, i - seen.row[sample], j - seen.column[sample])
    jac = seen.jacobian
    return Quarters(
        sample=sample, corner_e=east, corner_n=north,
        across_e=jac[sample, 0, 0], across_n=jac[sample, 1, 0],
        down_e=jac[sample, 0, 1], down_n=jac[sample, 1, 1],
        z00=z00, z01=z01, z10=z10, z11=z11,
    )  # fmt: skip


Exact = Callable[[Quarters], tuple[Floats, Floats, Floats, Floats]]
"""From parts to (cost on the two triangles, least and most it can be, (3, n) way to the point)."""


def settle(
    parts: Quarters, exact: Exact, best: Floats, *, flat_m: float = FLAT_M
) -> tuple[Floats, Floats]:
    """Quarter the parts until flat; return per sample the least cost and the way to its point.

    Parameters
    ----------
    best : (n,) float
        Cost already known; lowered in place. A sample whose parts cannot better
        it keeps inf and NaN.
    flat_m : float
        How well the cost of a part must be known.

    Returns
    -------
    cost : (n,) float
    way : (3, n) float
        East, north, up in metres from the sample.
    """
    cost = np.full(best.shape, np.inf)
    way = np.full((3, best.size), np.nan)
    while parts.sample.size:
        value, least, most, towards = exact(parts)
        lower(best, parts.sample, most)
        hopeful = least <= best[parts.sample]
        flat = value - flat_m <= least  # holds for inf and inf: out of the question
        _record(
            cost,
            way,
            parts.sample[flat & hopeful],
            value[flat & hopeful],
            towards[:, flat & hopeful],
        )
        parts = parts.take(hopeful & ~flat).split()
    return cost, way


def _record(cost: Floats, way: Floats, sample: Ints, value: Floats, towards: Floats) -> None:
    order = np.lexsort((value, sample))
    sample, value, towards = sample[order], value[order], towards[:, order]
    first = np.append(True, sample[1:] != sample[:-1])[: sample.size]
    sample, value, towards = sample[first], value[first], towards[:, first]
    better = value < cost[sample]
    cost[sample[better]] = value[better]
    way[:, sample[better]] = towards[:, better]

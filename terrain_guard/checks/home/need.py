"""What the ground asks of straight ways, and which ground that is."""

from __future__ import annotations

from dataclasses import dataclass, fields, replace

import numpy as np

from terrain_guard.arrays import Bools, Floats, Ints


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Need:
    """What decides about each way; arrays (n,), NaN where nothing does.

    ``lift_m``: by how much the way must be raised; negative: may be lowered; −inf: nothing is in
    reach of it. ``elevation_m``, ``lon_deg``, ``lat_deg``: the ground that decides, ``far_m``
    from where the way leads; ``way_m``: elevation of the way there, straight above or below.
    """

    lift_m: Floats
    elevation_m: Floats
    way_m: Floats
    far_m: Floats
    lon_deg: Floats
    lat_deg: Floats
    is_unknown: Bools  # missing ground may ask for more
    is_eased: Bools  # there less than the floor is wanted

    @property
    def above_m(self) -> Floats:
        """How high the way passes straight above that ground; negative: into it."""
        return self.way_m - self.elevation_m

    def at_level(self, level_m: Floats) -> Need:
        """Return what the same ground asks of ways that lie level elsewhere."""
        return replace(self, lift_m=self.lift_m + self.way_m - level_m, way_m=level_m)

    def where(self, mask: Bools, other: Need) -> Need:
        """Return the other's where a mask (n,) holds."""
        chosen = {
            field.name: np.where(mask, getattr(other, field.name), getattr(self, field.name))
            for field in fields(self)
        }
        return Need(**chosen)

    def marked_eased(self) -> Need:
        """Return the same, less than the floor being wanted."""
        return replace(self, is_eased=np.ones(self.lift_m.shape, dtype=bool))

    def put(self, pick: Ints, other: Need, is_eased: Bools) -> Need:
        """Return what the other asks of some ways, and this of the rest."""
        out = {field.name: getattr(self, field.name).copy() for field in fields(self)}
        for name, values in out.items():
            values[pick] = getattr(other, name)
        out["is_eased"][pick] = is_eased
        return Need(**out)

    def worse(self, other: Need) -> Need:
        """Return whichever asks for more; what either does not know is not known."""
        worst = self.where(~(self.lift_m >= other.lift_m) & ~np.isnan(other.lift_m), other)
        unknown = self.is_unknown | other.is_unknown
        return Need(
            **{f.name: getattr(worst, f.name) for f in fields(Need)} | {"is_unknown": unknown}
        )

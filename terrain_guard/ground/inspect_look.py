"""Look at one part of a model with every test, and add the parts up."""

from __future__ import annotations

import math
from dataclasses import dataclass, replace

import numpy as np

from terrain_guard.ground.inspect_parts import View
from terrain_guard.ground.inspect_patches import Patch, joined, patches
from terrain_guard.ground.inspect_posts import (
    NO_MARKS,
    NOTHING_MISSING,
    Marks,
    Missing,
    missing,
    standing_zeros,
    strays,
)
from terrain_guard.ground.inspect_texture import Texture, common_step_m, texture
from terrain_guard.ground.raster import Raster


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Seen:
    """What was seen in one part, or in many."""

    posts: int = 0
    texture: Texture | None = None  # None: no ground known
    missing: Missing = NOTHING_MISSING
    zeros: Marks = NO_MARKS
    spikes: Marks = NO_MARKS
    pits: Marks = NO_MARKS
    patches: tuple[Patch, ...] = ()

    def plus(self, other: Seen) -> Seen:
        """Return both together."""
        both = [one for one in (self.texture, other.texture) if one is not None]
        return Seen(
            posts=self.posts + other.posts,
            texture=both[0].plus(both[1]) if len(both) == 2 else next(iter(both), None),
            missing=self.missing.plus(other.missing),
            zeros=self.zeros.plus(other.zeros),
            spikes=self.spikes.plus(other.spikes),
            pits=self.pits.plus(other.pits),
            patches=(*self.patches, *other.patches),
        )

    def whole(self) -> Seen:
        """Return the same with the patches joined that parts had cut."""
        return replace(self, patches=joined(self.patches))


def look(view: View, raster: Raster) -> Seen:
    """Look at one part."""
    posts, absent = view.part.posts, missing(view, raster)
    own = texture(view, raster)
    if own is None:
        return Seen(posts=posts, missing=absent)
    zeros, which = standing_zeros(view, zero_m=raster.offset * raster.unit_m)
    rest = replace(view, z=np.where(which, np.nan, view.z)) if which.any() else view
    spikes, pits = strays(rest, cell_m=min(raster.cell_m))
    step_m = common_step_m(own, raster)
    return Seen(
        posts=posts,
        texture=own,
        missing=absent,
        zeros=zeros,
        spikes=spikes,
        pits=pits,
        patches=patches(rest, cell_m=raster.cell_m, step_m=0.0 if math.isnan(step_m) else step_m),
    )

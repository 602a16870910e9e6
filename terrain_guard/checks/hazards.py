"""Cautions by trigger, each with its source in words: one line a hazard, the worst place named.

They change no state. In the order of the flight: what to compare before, the launch,
the heights typed, the ground beneath, the air, what goes otherwise than planned.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator
from typing import Final

from terrain_guard.checks import line_hazards, terrain_hazards, typed_hazards
from terrain_guard.checks.air_remarks import air_remarks
from terrain_guard.checks.near_route import Scene

ALL: Final[tuple[Callable[[Scene], Iterator[str]], ...]] = (
    typed_hazards.on_the_controller,
    terrain_hazards.launch_slope,
    terrain_hazards.launch_on_surface,
    air_remarks,
    typed_hazards.in_feet,
    typed_hazards.limiter,
    typed_hazards.low_heights,
    typed_hazards.below_launch,
    terrain_hazards.coarse_cells,
    terrain_hazards.steep_ground,
    terrain_hazards.gorge,
    terrain_hazards.crest_wind,
    terrain_hazards.lee_side,
    typed_hazards.thin_air,
    line_hazards.ahead,
    typed_hazards.own_sensing,
    line_hazards.drift,
    line_hazards.resumed,
    typed_hazards.moved_home,
)


def hazards(scene: Scene) -> Iterator[str]:
    """Yield every caution that this flight sets off."""
    for hazard in ALL:
        yield from hazard(scene)

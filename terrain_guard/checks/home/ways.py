r"""Every way home, from every metre: how much room it has over the ground and under the ceiling.

::

    climb-first        ╭──────────────── goal          level          ───────────────╮
                       │                                                             │
    climb-on-the-way   ╱──────────────── goal          slanting       ╲_____         │
                                                                            ‾‾‾‾╲ ___│

All are straight lines over the ground to one spot, and end at the column over it, which has its
own check. So a level one is known by one number, the elevation that a ball of the floor's radius
needs on its way; a climbing one by that and by what it needs while it climbs. Going straight up
never brings the ground nearer, and the column holds for coming down.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Final

import numpy as np

from terrain_guard.arrays import Bools, Floats, Ints
from terrain_guard.checks.beneath import Beneath
from terrain_guard.checks.home.begun import Begun
from terrain_guard.checks.home.lift import Lift, lift
from terrain_guard.checks.home.margins import margins_at
from terrain_guard.checks.judge import BREACH, NOT_ASSESSED, TIGHT, TOLERANCE_M, WITHIN
from terrain_guard.checks.sight.watching import Targets
from terrain_guard.checks.views import View
from terrain_guard.checks.wanted import Wanted
from terrain_guard.path.frame import LocalFrame
from terrain_guard.plan.route import Route

CLIMBS: Final = ("climb-first", "climb-on-the-way")

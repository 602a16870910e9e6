"""All of it, from every metre: the ways home, the one height, a lost link, sight and radio.

::

    every metre flown ──▶ rays to home, pilot, observers ──▶ needs, sight, link
                                                                   │
          findings ◀── stretches ◀── states on the reference ◀─────┘
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from terrain_guard.arrays import Bools, Floats, Ints
from terrain_guard.assessment import (
    ComingHome,
    EveryMetre,
    Finding,
    GroundInTheWay,
    LegHome,
    Samples,
    WayHome,
)
from terrain_guard.checks.home.actions import Outcomes, loss_actions
from terrain_guard.checks.home.begun import Begun
from terrain_guard.checks.home.destinations import Destination, destinations
from terrain_guard.checks.home.height import return_height
from terrain_guard.checks.home.home_findings import Told, home_findings
from terrain_guard.checks.home.landing import landing
from terrain_guard.checks.home.told import fails, shares, spans
from terrain_guard.checks.home.ways import Judged, WayJudge, paths_in_play
from terrain_guard.checks.judge import BREACH
from terrain_guard.checks.reference import Ruler
from terrain_guard.checks.sight.standing import standing_places
from terrain_guard.checks.sight.watchers import (
    link_told,
    nobody_sees,
    sight_codes,
    sight_limit,
    watcher,
    watching,
)
from terrain_guard.checks.sight.watching import Targets, linked, watched
from terrain_guard.checks.site import Site
from terrain_guard.checks.stretches import Judged as JudgedLine

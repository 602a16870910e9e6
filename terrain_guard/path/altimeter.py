"""From heights as typed to heights as flown: linear, about the zero that they count from.

::

      typed 120 ─ ─ ─ ─ ─ ─     flown = zero + factor · typed
                 ───────── flown        rates and gradients of a climb: factor · stated
           0 ═══ zero: a deck, a roof
    ────────── launch ground

Every height that the aircraft goes by scales alike, and so do its climbs; the ground does
not.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING, Final

if TYPE_CHECKING:
    from terrain_guard.plan.route import Climb


@dataclass(frozen=True, slots=True, kw_only=True)
class Altimeter:
    """What the aircraft flies for what it is told.

    Parameters
    ----------
    factor : float
        Metres flown for each metre it measures; above 0.
    zero_m : float
        Where its zero lies, metres above the launch ground.
    """

    factor: float = 1.0
    zero_m: float = 0.0

    def flown_m(self, typed_m: float) -> float:
        """Return the height above the launch ground that is flown for a typed one."""
        return self.zero_m + self.factor * typed_m

    def typed_m(self, flown_m: float) -> float:
        """Return what is typed, or shown, at a height above the launch ground."""
        return (flown_m - self.zero_m) / self.factor

    def rates_m_per_s(self, climb: Climb) -> tuple[float, float]:
        """Return how fast it really climbs and descends."""
        return self.factor * climb.up_m_per_s, self.factor * climb.down_m_per_s


AS_TYPED: Final = Altimeter()
"""Every height is flown as typed, from the launch ground."""

"""The four states, and the order in which they speak for a whole.

>>> worst([State.WITHIN, State.TIGHT, State.NOT_ASSESSED])
<State.NOT_ASSESSED: 'not-assessed'>
"""

from __future__ import annotations

from collections.abc import Iterable
from enum import StrEnum


class State(StrEnum):
    """How one metre, one leg or one flight stands against its limits."""

    WITHIN = "within"  # proven with margins
    TIGHT = "tight"  # within the limit, margin used up
    NOT_ASSESSED = "not-assessed"  # could not be judged; never becomes within
    BREACH = "breach"  # outside the limit


SEVERITY = tuple(State)
"""From least to most severe; the index is the code used in arrays."""


def worst(states: Iterable[State]) -> State:
    """Return the most severe of `states`; nothing judged is not assessed."""
    return max(states, key=SEVERITY.index, default=State.NOT_ASSESSED)

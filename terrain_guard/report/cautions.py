"""What every output says, whatever was found: the fixed cautions and the verdict's words.

One module, so that no output can say less than another.
"""

from __future__ import annotations

from collections.abc import Mapping
from types import MappingProxyType
from typing import TYPE_CHECKING, Final

from terrain_guard.states import State

if TYPE_CHECKING:
    from terrain_guard.assessment import Assessment

BESIDE_VERDICT: Final = "RETURN, SIGHT AND LINK NOT CHECKED; TREES AND ROOFS NOT IN THE MODEL"
"""Printed beside a verdict over bare earth, or over a model that does not say what it is."""
BESIDE_WITH_SURFACE: Final = (
    "RETURN, SIGHT AND LINK NOT CHECKED; TREES AND ROOFS AS FAR AS THE SURFACE MODEL SHOWS THEM"
)
"""Printed beside a verdict over a surface model."""

VERDICT_WORDS: Final[Mapping[State, str]] = MappingProxyType(
    {
        State.WITHIN: "no breach found in the data listed",
        State.TIGHT: "within the limits as computed, but not with margins",
        State.NOT_ASSESSED: "part of the route could not be judged; treat it as a breach",
        State.BREACH: "the route goes outside its limits",
    }
)
"""What each verdict means; nothing better than the first is ever said."""

RETURN_CAUTION: Final = (
    "What follows the last waypoint is checked as part of the route, as the route file sets it. "
    "A return begun anywhere else (by command, on a lost link, on a low battery) is not checked."
)

FIXED_CAUTIONS: Final = (
    "Heights are typed above the launch ground: launch from another spot, and every height "
    "above ground changes with it.",
    RETURN_CAUTION,
    "Wires, cables and masts are in no elevation model: look for them on site.",
    "An elevation model is as old as its survey: what was built, dug, planted or grown since is "
    "not in it.",
    "Local rules, airspace and permission to fly are not checked.",
    "The remote pilot in command decides. Local codes and the authority prevail over anything "
    "printed here; check that the edition of every rule is the one in force.",
)
"""True of every assessment; they never change a state."""


def beside_verdict(assessment: Assessment) -> str:
    """Return what is printed beside this verdict, whatever it is."""
    return BESIDE_VERDICT if assessment.models == "ground" else BESIDE_WITH_SURFACE


def all_cautions(assessment: Assessment) -> tuple[str, ...]:
    """Return the fixed cautions, then this assessment's own, each once.

    Parameters
    ----------
    assessment : Assessment
        Only its `cautions` are read.

    Returns
    -------
    tuple of str
        Whole sentences, in the order to print them.
    """
    return tuple(dict.fromkeys((*FIXED_CAUTIONS, *assessment.cautions)))

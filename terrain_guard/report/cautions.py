"""What every output says, whatever was found: the fixed cautions and the verdict's words.

One module, so that no output can say less than another.
"""

from __future__ import annotations

from collections.abc import Mapping
from types import MappingProxyType
from typing import TYPE_CHECKING, Final

from terrain_guard.states import SEVERITY, State
from terrain_guard.units import text_up

if TYPE_CHECKING:
    from terrain_guard.assessment import Assessment

TREES_UNKNOWN: Final = "TREES AND ROOFS NOT IN THE MODEL"
"""Printed beside a verdict over bare earth, or over a model that does not say what it is."""
TREES_AS_SHOWN: Final = "TREES AND ROOFS AS FAR AS THE SURFACE MODEL SHOWS THEM"
"""Printed beside a verdict over a surface model."""
HOME_UNKNOWN: Final = "WAY HOME, SIGHT AND LINK NOT CHECKED"
HOME_CLEAR: Final = "NO GROUND FOUND IN THE WAY HOME, SIGHT OR LINK"
"""Printed beside a verdict where nothing was looked at, and where nothing was found."""

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
    "Ways home are straight lines, begun at every metre as the route file sets them. Find out what "
    "the aircraft really does on a lost link, a low battery and a stop by command, and set it so."
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
    trees = TREES_UNKNOWN if assessment.models == "ground" else TREES_AS_SHOWN
    return f"{_beside_home(assessment)}; {trees}"


def _beside_home(assessment: Assessment) -> str:
    """Say from how much of the flight it does not come home, is hidden, and has no clear link."""
    home = assessment.coming_home
    if home is None:
        return HOME_UNKNOWN
    along = assessment.samples.along_m
    every, step = home.every_metre, along[1:] - along[:-1]
    parts, unknown = [], False
    for name, state in (
        ("WAY HOME FAILS FROM", every.return_state),
        ("HIDDEN OR TOO FAR OFF FOR", every.sight_state),
        ("GROUND IN THE LINK'S LINE FOR", every.link_state),
    ):
        failing = float(step[state[:-1] == SEVERITY.index(State.BREACH)].sum())
        unknown |= bool((state[:-1] == SEVERITY.index(State.NOT_ASSESSED)).any())
        if failing > 0:
            parts.append(f"{name} {text_up(failing, digits=0)} m")
    if unknown:
        parts.append("WAY HOME, SIGHT OR LINK PARTLY NOT ASSESSED")
    return ", ".join(parts) or HOME_CLEAR


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

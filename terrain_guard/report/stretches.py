r"""Which findings belong together on paper.

A breach usually lies between two tight shoulders, where only the margin is used
up. They are three findings as data; on paper they are one line::

    clearance
    30 m + margin  ----\.............................../----
                        \    tight           tight    /
    30 m  ---------------\---------------------------/------
                          \        breach           /
                           ^^^^^^^^^^^^^^^^^^^^^^^^^
           "BREACH: floor, leg 2, 400-500 m (with margins 380-520 m)"
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING, Final

from terrain_guard.states import SEVERITY, State

if TYPE_CHECKING:
    from terrain_guard.assessment import Finding

_FIRST = ("link-loss-blocked", "underground")
TOUCHING_M = 1.0
"""Stretches nearer than this touch: samples are at most one metre apart."""
NOT_OF_HEIGHTS: Final = frozenset({"return", "link-loss", "link-loss-blocked", "sight", "link"})
"""Kinds of findings that say nothing about floor or ceiling where the aircraft flies."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Entry:
    """One finding as printed, with the stretch that fails once margins are counted."""

    finding: Finding
    with_margins_from_m: float
    with_margins_to_m: float

    @property
    def has_shoulders(self) -> bool:
        """Whether the stretch with margins is longer than the finding's own."""
        return (
            self.with_margins_from_m < self.finding.from_m
            or self.with_margins_to_m > self.finding.to_m
        )


def of_heights(findings: Iterable[Finding]) -> tuple[Finding, ...]:
    """Return those that are about the heights flown, in the order given."""
    return tuple(one for one in findings if one.kind not in NOT_OF_HEIGHTS)


def entries(findings: Iterable[Finding]) -> tuple[Entry, ...]:
    """Fold tight shoulders into their breach; the gravest first, then in flight order.

    Parameters
    ----------
    findings : iterable of Finding
        Any order; none is lost: a folded shoulder lies inside its breach's
        stretch with margins.

    Returns
    -------
    tuple of Entry
        Breaches, then what was not assessed, then tight stretches.
    """
    found = [entry for group in _groups(findings) for entry in _fold(group)]
    return tuple(sorted(found, key=_gravity))


def total_m(findings: Iterable[Finding], state: State) -> tuple[int, float]:
    """Count the separate stretches in `state` and add up their metres.

    Stretches of different kinds that overlap count once.

    Returns
    -------
    count : int
    length_m : float
        Along the reference curve.
    """
    spans = sorted((one.from_m, one.to_m) for one in findings if one.state is state)
    count, length_m, reached_m = 0, 0.0, float("-inf")
    for from_m, to_m in spans:
        count += from_m > reached_m
        length_m += max(0.0, to_m - max(from_m, reached_m))
        reached_m = max(reached_m, to_m)
    return count, length_m


def tally(findings: Sequence[Finding], state: State) -> tuple[float, str]:
    """Return the metres in a state, and how many stretches that are, in words; "" if none.

    Of ways home, sight and link the box says more beside it. Tight shoulders of breaches count
    in the metres; in number they are told apart, for they are listed with their breach.
    """
    findings = of_heights(findings)
    _, length_m = total_m(findings, state)
    count, _ = total_m([entry.finding for entry in entries(findings)], state)
    everything, _ = total_m(findings, state)
    if not everything:
        return 0.0, ""
    said = [f"in {count} {'stretch' if count == 1 else 'stretches'}"] if count else []
    if everything > count:
        said.append("beside breaches")
    return length_m, " and ".join(said)


def _groups(findings: Iterable[Finding]) -> Iterable[Sequence[Finding]]:
    """Yield chains of touching findings that share kind and leg."""
    group: list[Finding] = []
    for finding in sorted(findings, key=lambda one: (one.kind, one.leg, one.from_m)):
        if group and not _touches(group, finding):
            yield group
            group = []
        group.append(finding)
    if group:
        yield group


def _touches(group: Sequence[Finding], finding: Finding) -> bool:
    reached_m = max(one.to_m for one in group)
    same = (group[-1].kind, group[-1].leg) == (finding.kind, finding.leg)
    return same and finding.from_m <= reached_m + TOUCHING_M


def _fold(group: Sequence[Finding]) -> list[Entry]:
    """Give each breach of a chain the chain's whole stretch, and drop its tight shoulders."""
    if all(one.state is not State.BREACH for one in group):
        return [_entry(one, (one,)) for one in group]
    return [
        _entry(one, group if one.state is State.BREACH else (one,))
        for one in group
        if one.state is not State.TIGHT
    ]


def _entry(finding: Finding, covering: Sequence[Finding]) -> Entry:
    return Entry(
        finding=finding,
        with_margins_from_m=min(one.from_m for one in covering),
        with_margins_to_m=max(one.to_m for one in covering),
    )


def _gravity(entry: Entry) -> tuple[int, int, float, int]:
    """Sort by state, then kind, then along the route.

    First of all a link lost behind ground where what that sets off fails, then flying into
    the ground; then whatever enters the verdict.
    """
    finding = entry.finding
    kind = _FIRST.index(finding.kind) if finding.kind in _FIRST else len(_FIRST)
    kind += not finding.counts
    return -SEVERITY.index(finding.state), kind, finding.from_m, finding.leg

"""Measure one curve: height above ground and clearance, wherever it matters.

The curve is cut where a limit is reached, at the exact extremes of each leg, and
wherever clearance between two samples is not known well enough; what remains
between two points is then all on one side of every limit, to a centimetre.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from terrain_guard.arrays import Bools, Floats, Ints
from terrain_guard.checks import between
from terrain_guard.checks.cuts import Sketch
from terrain_guard.checks.probe import SCAFFOLD, Probe
from terrain_guard.checks.wanted import Wanted
from terrain_guard.ground.model import Ground
from terrain_guard.path.curve import Curve

RESOLVED_M = 0.01  # how well crossings and extremes are known
EXTREME_M = 0.005
FEW = 16  # chords that are cut into eight at once
MOST_ROUNDS = 40  # a metre halves to a centimetre in 7; a guard, never reached


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Points:
    """Points of one curve in order; arrays (n,), and (n − 1,) for what lies between them.

    ``position`` counts samples of the curve, with shares. ``clearance_m`` is to
    the nearest known ground (inf: none in reach); ``lowered_m`` is that of the
    point moved down by the floor margin, ``raised_m`` of the point moved up by
    the ceiling margin; ``void_m`` the horizontal distance to missing ground.
    Half-way between two points the height above ground is on the same side of
    every level as the whole stretch, and NaN if ground is missing there.
    """

    position: Floats
    row: Floats
    column: Floats
    along_m: Floats
    above_launch_m: Floats
    elevation_m: Floats
    above_ground_m: Floats
    clearance_m: Floats
    lowered_m: Floats
    raised_m: Floats
    void_m: Floats
    middle_above_ground_m: Floats  # (n − 1,)
    leg: Ints  # (n − 1,)
    in_column: Bools  # (n − 1,)


def measure(curve: Curve, ground: Ground, wanted: Wanted, *, launch_elevation_m: float) -> Points:
    """Measure a curve over the ground.

    Returns
    -------
    Points
        Every sample of the curve and every point inserted.
    """
    sketch = Sketch.of(curve, ground, wanted, launch_elevation_m)
    parts = [_refined(sketch, chunk) for chunk in sketch.chunks()]
    joined = {
        name: np.concatenate([part[name][:-1] for part in parts] + [parts[-1][name][-1:]])
        for name in parts[0]
    }
    middle = (joined["position"][1:] + joined["position"][:-1]) / 2
    return Points(
        **joined,
        middle_above_ground_m=sketch.above_ground(middle),
        leg=sketch.leg_at(middle),
        in_column=sketch.in_column(middle),
    )


def _refined(sketch: Sketch, position: Floats) -> dict[str, Floats]:
    """Measure one chunk and split what lies between its points until it is known."""
    base = sketch.points(position)
    probe = Probe.over(sketch, base)
    done = probe.measured(base)
    for _ in range(MOST_ROUNDS):
        unclear = _Unclear.of(sketch, done)
        if not unclear.chord.any():
            break
        new = probe.measured(sketch.points(unclear.new_positions(done["position"])), done=done)
        order = np.argsort(np.concatenate((done["position"], new["position"])), kind="stable")
        done = {name: np.concatenate((done[name], new[name]))[order] for name in done}
    done["raised_m"] = probe.raised(done)
    return {name: values for name, values in done.items() if name not in SCAFFOLD}


class _Unclear:
    """Chords that hide an extreme or a crossing of a limit, and where to look for it.

    ``share`` (n − 1,) guesses how far along its chord a limit is crossed; NaN: no
    guess, look half-way.
    """

    def __init__(self, points: dict[str, Floats]) -> None:
        self.points = points
        self.length_m = np.diff(points["along_m"])
        self.chord = np.zeros(self.length_m.size, dtype=bool)
        self.share: Floats = np.full(self.length_m.size, np.nan)

    @classmethod
    def of(cls, sketch: Sketch, points: dict[str, Floats]) -> _Unclear:
        """Look at every limit and every extreme."""
        wanted, found = sketch.wanted, cls(points)
        middle = (points["position"][1:] + points["position"][:-1]) / 2
        leg, judged = sketch.leg_at(middle), ~sketch.in_column(middle)
        need = np.full(points["position"].size, wanted.floor_m)
        half = np.abs(points["above_launch_m"]) / 2
        eased = judged & np.isin(leg, list(wanted.eased))
        everywhere = np.ones(leg.shape, dtype=bool)
        found.floor("void", need + wanted.floor_margin_m, where=everywhere)
        found.floor("clearance", need, where=judged)
        found.floor("lowered", need, where=judged)
        found.floor("clearance", np.minimum(need, half), where=eased)
        found.floor("clearance", half, where=eased)
        found.least("clearance", leg, judged, wanted.floor_m)
        found.least("lowered", leg, judged, wanted.floor_m)
        found.most(leg)
        if wanted.closest_point_ceiling:
            found.ceiling(wanted.ceiling_m)
        found.chord &= found.length_m > RESOLVED_M
        return found

    def floor(self, family: str, limit: Floats, *, where: Bools) -> None:
        """Mark chords on which a distance crosses or may fall below `limit`."""
        s1, s2 = self._ends(family)
        ok1, ok2 = s1 >= limit[:-1], s2 >= limit[1:]
        dips = ok1 & ok2 & ~(self._at_least(family) >= np.maximum(limit[:-1], limit[1:]))
        self.chord |= where & dips
        self._crossing(self.points[f"{family}_m"] - limit, where & (ok1 != ok2))

    def least(self, family: str, leg: Ints, judged: Bools, limit_m: float) -> None:
        """Mark chords that may hide less than the least of their leg, or of their stretch.

        A stretch is what lies below the limit, or above it, in one piece.
        """
        s1, s2 = self._ends(family)
        ends = np.where(judged, np.fmin(s1, s2), np.inf)
        key = 2 * leg + (ends < limit_m)
        stretch = np.cumsum(np.append(0, np.diff(key) != 0))
        least = np.full(int(stretch[-1]) + 1, np.inf)
        np.fmin.at(least, stretch, ends)
        self.chord |= judged & (self._at_least(family) < least[stretch] - EXTREME_M)

    def most(self, leg: Ints) -> None:
        """Mark chords that may hide more than their leg's greatest clearance."""
        s1, s2 = self._ends("clearance")
        high = between.at_most(s1, s2, self.length_m, self._cross("clearance"))
        most = np.full(leg.max(initial=0) + 1, -np.inf)
        np.fmax.at(most, leg, np.fmax(s1, s2))
        some_above = np.fmax(s1, s2) > 0  # below ground the greatest depth is the least clearance
        self.chord |= some_above & (high > most[leg] + EXTREME_M) & np.isfinite(s1 + s2)

    def ceiling(self, limit_m: float) -> None:
        """Mark chords on which clearance crosses or may exceed a closest-point ceiling."""
        for family in ("clearance", "raised"):
            s1, s2 = self._ends(family)
            ok1, ok2 = s1 <= limit_m, s2 <= limit_m
            high = between.at_most(s1, s2, self.length_m, self._cross(family))
            self.chord |= ok1 & ok2 & (np.fmax(s1, s2) > 0) & (high > limit_m)
            self._crossing(self.points[f"{family}_m"] - limit_m, ok1 != ok2)

    def _ends(self, family: str) -> tuple[Floats, Floats]:
        values = self.points[f"{family}_m"]
        return values[:-1], values[1:]

    def _at_least(self, family: str) -> Floats:
        return between.at_least(*self._ends(family), self.length_m, self._cross(family))

    def _cross(self, family: str) -> tuple[Floats, Floats]:
        """Return from each chord's first end to the second's foot, and the reverse."""
        if family == "void":
            unknown = np.full(self.length_m.size, np.nan)
            return unknown, unknown
        names = (("east", "foot_east"), ("north", "foot_north"), ("elevation_m", "foot_up"))
        pairs = [(self.points[name], self.points[f"{family}_{foot}"]) for name, foot in names]
        one = sum((place[:-1] - foot[1:]) ** 2 for place, foot in pairs)
        other = sum((place[1:] - foot[:-1]) ** 2 for place, foot in pairs)
        return np.sqrt(one), np.sqrt(other)

    def _crossing(self, excess: Floats, chord: Bools) -> None:
        self.chord |= chord
        with np.errstate(divide="ignore", invalid="ignore"):
            share = excess[:-1] / (excess[:-1] - excess[1:])
        guess = chord & np.isfinite(share) & (share > 0)
        self.share[guess] = share[guess]

    def new_positions(self, position: Floats) -> Floats:
        """Return where to look next: just before and behind a guessed crossing, or in equal parts.

        A few chords are cut into many parts at once, many chords into two: either
        way a round is worth its while.
        """
        start, step = position[:-1][self.chord], np.diff(position)[self.chord]
        share, length = self.share[self.chord], self.length_m[self.chord]
        hair = 0.4 * RESOLVED_M / length
        guessed = np.isfinite(share) & (hair < 0.2)
        centre, room = share[guessed], hair[guessed]
        before: Floats = np.clip(centre - room, room, 1 - 3 * room)
        behind: Floats = np.clip(centre + room, 3 * room, 1 - room)
        parts = 8 if start.size <= FEW else 2
        inner = np.arange(1, parts) / parts
        even = start[~guessed, None] + step[~guessed, None] * inner
        new = [start[guessed] + step[guessed] * there for there in (before, behind)]
        return np.sort(np.concatenate([*new, even.ravel()]))

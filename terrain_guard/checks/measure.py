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
from terrain_guard.checks.beneath import GROUND, SURFACE, Beneath
from terrain_guard.checks.cuts import Sketch
from terrain_guard.checks.known import Known
from terrain_guard.checks.margins import Margins
from terrain_guard.checks.probe import AXES, FAMILIES, PLACES, SCAFFOLD, Probe
from terrain_guard.checks.wanted import Wanted
from terrain_guard.path.curve import Curve, at

RESOLVED_M = 0.01  # how well crossings and extremes are known
EXTREME_M = 0.005
FEW = 16  # chords that are cut into eight at once
MOST_ROUNDS = 40  # a metre halves to a centimetre in 7; a guard, never reached


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Points:
    """Points of one curve in order; arrays (n,), and (n − 1,) for what lies between them.

    ``position`` counts samples of the curve, with shares. For the floor,
    ``clearance_m`` is to the nearest known point of any model (inf: none in reach),
    which is the surface model's where ``in_surface`` is 1; ``lowered_m`` is that of
    the point moved down by the floor margin; ``void_m`` the horizontal distance to
    missing ground of any model. For the ceiling, ``closest_m`` is to the ground
    model alone, ``raised_m`` that of the point moved up by the ceiling margin,
    ``ground_void_m`` the distance to where that has no ground.
    Half-way between two points the height above ground is on the same side of
    every level as the whole stretch, and NaN if ground is missing there. What is
    said of a surface model is NaN where there is none beside the ground.
    """

    position: Floats
    row: Floats
    column: Floats
    surface_row: Floats
    surface_column: Floats
    along_m: Floats
    above_launch_m: Floats
    elevation_m: Floats
    floor_margin_m: Floats
    ceiling_margin_m: Floats
    above_ground_m: Floats
    above_surface_m: Floats
    clearance_m: Floats
    in_surface: Floats
    lowered_m: Floats
    closest_m: Floats
    raised_m: Floats
    void_m: Floats
    ground_void_m: Floats
    middle_above_ground_m: Floats  # (n − 1,)
    middle_above_surface_m: Floats  # (n − 1,)
    middle_floor_margin_m: Floats  # (n − 1,)
    middle_ceiling_margin_m: Floats  # (n − 1,)
    leg: Ints  # (n − 1,)
    in_column: Bools  # (n − 1,)


def measure(
    curve: Curve,
    beneath: Beneath,
    wanted: Wanted,
    margins: Margins,
    *,
    known: Known | None = None,
) -> Points:
    """Measure a curve over the ground, and over a surface with trees and roofs if there is one.

    Where the worst of each leg is `known` from other curves, only what fails a limit or
    is worse is found exactly; elsewhere a bound on the safe side stands for it.

    Returns
    -------
    Points
        Every sample of the curve and every point inserted.
    """
    sketch = Sketch.of(curve, beneath, wanted, margins)
    parts = [_refined(sketch, chunk, known) for chunk in sketch.chunks()]
    joined = {
        name: np.concatenate([part[name][:-1] for part in parts] + [parts[-1][name][-1:]])
        for name in parts[0]
    }
    middle = (joined["position"][1:] + joined["position"][:-1]) / 2
    return Points(
        **joined,
        middle_above_ground_m=sketch.above(GROUND, middle),
        middle_above_surface_m=sketch.above(SURFACE, middle),
        middle_floor_margin_m=at(margins.floor_m, middle),
        middle_ceiling_margin_m=at(margins.ceiling_m, middle),
        leg=sketch.leg_at(middle),
        in_column=sketch.in_column(middle),
    )


def _refined(sketch: Sketch, position: Floats, known: Known | None) -> dict[str, Floats]:
    """Measure one chunk and split what lies between its points until it is known."""
    base = sketch.points(position)
    probe = Probe.over(sketch, base, known)
    done = probe.measured(base)
    for _ in range(MOST_ROUNDS):
        unclear = _Unclear.of(sketch, done, known)
        if not unclear.chord.any():
            break
        new = probe.measured(sketch.points(unclear.new_positions(done["position"])), done=done)
        order = np.argsort(np.concatenate((done["position"], new["position"])), kind="stable")
        done = {name: np.concatenate((done[name], new[name]))[order] for name in done}
    done["raised_m"] = probe.raised(done)
    return {name: values for name, values in done.items() if name not in SCAFFOLD}


def _chords_m(points: dict[str, Floats], moved_m: Floats | float = 0.0) -> Floats:
    """Return the 3-D length of the chords; where ground is missing, the metres along them.

    `moved_m` (n,) is how far up their points are moved.
    """
    up = points["elevation_m"] + moved_m
    steps = [*(np.diff(points[name]) for name in PLACES[GROUND]), np.diff(up)]
    length = np.sqrt(sum(step**2 for step in steps))
    return np.where(np.isfinite(length), length, np.abs(np.diff(points["along_m"])))


class _Unclear:
    """Chords that hide an extreme or a crossing of a limit, and where to look for it.

    ``share`` (n − 1,) guesses how far along its chord a limit is crossed; NaN: no
    guess, look half-way.
    """

    def __init__(self, points: dict[str, Floats], sketch: Sketch) -> None:
        self.points = points
        self.models = tuple(sketch.beneath.models)
        # The family whose clearance to the ground the ceiling counts:
        apart = sketch.wanted.ground_below_m or sketch.curve.side == "high"
        self.closest = "closest" if apart else "clearance"
        self.length_m = _chords_m(points)
        self.corridor_m = sketch.wanted.corridor_m
        self.moved_m = {name: sketch.wanted.shift_m(name, points) for name in FAMILIES}
        self.chord = np.zeros(self.length_m.size, dtype=bool)
        self.share: Floats = np.full(self.length_m.size, np.nan)

    @classmethod
    def of(cls, sketch: Sketch, points: dict[str, Floats], known: Known | None) -> _Unclear:
        """Look at every limit and every extreme that the curve decides."""
        wanted, found = sketch.wanted, cls(points, sketch)
        middle = (points["position"][1:] + points["position"][:-1]) / 2
        leg, flown = sketch.leg_at(middle), sketch.flown(middle)
        nothing = Known.nothing(sketch.last_leg + 1)
        known = nothing if known is None else known
        if sketch.curve.side != "high":
            judged = flown & ~sketch.in_column(middle)
            found._floor(sketch, leg, judged, known)
        if sketch.curve.side != "low":
            found.most(leg, flown, known.greatest_m)
            if wanted.closest_point_ceiling:
                found.ceiling(wanted.ceiling_m)
        found.chord &= flown & (found.length_m > RESOLVED_M)
        return found

    def _floor(self, sketch: Sketch, leg: Ints, judged: Bools, known: Known) -> None:
        """Look at the floor, and at the least clearances of legs."""
        wanted, points = sketch.wanted, self.points
        need = np.full(points["position"].size, wanted.floor_m)
        # Half the height above launch is of no interest where the floor holds with margins.
        half = np.fmin(np.abs(points["above_launch_m"]) / 2, need + points["floor_margin_m"])
        eased = judged & np.isin(leg, list(wanted.eased))
        everywhere = np.ones(leg.shape, dtype=bool)
        enough = known.enough_m(wanted)
        self.floor("void", wanted.reach_m(points["floor_margin_m"]), where=everywhere)
        self.floor("clearance", need, where=judged)
        self.floor("lowered", need, where=judged)
        self.floor("clearance", np.minimum(need, half), where=eased)
        self.floor("clearance", half, where=eased)
        self.least("clearance", leg, judged, wanted.floor_m, enough)
        self.least("lowered", leg, judged, wanted.floor_m, known.enough_lowered_m(wanted))

    def floor(self, family: str, limit: Floats, *, where: Bools) -> None:
        """Mark chords on which a distance crosses or may fall below `limit`."""
        s1, s2 = self._ends(family)
        ok1, ok2 = s1 >= limit[:-1], s2 >= limit[1:]
        dips = ok1 & ok2 & ~(self._at_least(family) >= np.maximum(limit[:-1], limit[1:]))
        self.chord |= where & dips
        self._crossing(self.points[f"{family}_m"] - limit, where & (ok1 != ok2))

    def least(
        self, family: str, leg: Ints, judged: Bools, limit_m: float, enough_m: Floats
    ) -> None:
        """Mark chords that may hide less than the least of their leg, or of their stretch.

        A stretch is what lies below the limit, or above it, in one piece. What is no less
        than `enough_m`, by leg, is no less than the leg's least.
        """
        s1, s2 = self._ends(family)
        ends = np.where(judged, np.fmin(s1, s2), np.inf)
        key = 2 * leg + (ends < limit_m)
        stretch = np.cumsum(np.append(0, np.diff(key) != 0))
        least = np.full(int(stretch[-1]) + 1, np.inf)
        np.fmin.at(least, stretch, ends)
        known = np.minimum(least[stretch], enough_m[leg])
        self.chord |= judged & (self._at_least(family) < known - EXTREME_M)

    def most(self, leg: Ints, flown: Bools, greatest_m: Floats) -> None:
        """Mark chords that may hide more than their leg's greatest clearance to the ground."""
        s1, s2 = self._ends("closest")
        high = between.at_most(s1, s2, self.length_m, self._cross(self.closest, GROUND))
        most = greatest_m.copy()
        np.fmax.at(most, leg[flown], np.fmax(s1, s2)[flown])
        some_above = np.fmax(s1, s2) > 0  # below ground the greatest depth is the least clearance
        self.chord |= some_above & (high > most[leg] + EXTREME_M) & np.isfinite(s1 + s2)

    def ceiling(self, limit_m: float) -> None:
        """Mark chords on which clearance crosses or may exceed a closest-point ceiling."""
        for family, scaffold in (("closest", self.closest), ("raised", "raised")):
            s1, s2 = self._ends(family)
            ok1, ok2 = s1 <= limit_m, s2 <= limit_m
            length = _chords_m(self.points, self.moved_m[family])
            high = between.at_most(s1, s2, length, self._cross(scaffold, GROUND))
            self.chord |= ok1 & ok2 & (np.fmax(s1, s2) > 0) & (high > limit_m)
            self._crossing(self.points[f"{family}_m"] - limit_m, ok1 != ok2)

    def _ends(self, family: str) -> tuple[Floats, Floats]:
        values = self.points[f"{family}_m"]
        return values[:-1], values[1:]

    def _at_least(self, family: str) -> Floats:
        """Return a lower bound of a distance on the chords: the least that any model allows."""
        if family == "void":
            unknown = np.full(self.length_m.size, np.nan)
            return between.at_least(*self._ends(family), self.length_m, (unknown, unknown))
        bounds, length = [], _chords_m(self.points, self.moved_m[family])
        nothing = np.full(length.shape, np.nan)
        for model in (one for one in FAMILIES[family] if one in self.models):
            values = self.points[f"{family}_{model}"]
            # The nearest of a corridor has no one foot.
            is_wide = family == "lowered" and self.corridor_m > 0
            cross = (nothing, nothing) if is_wide else self._cross(family, model)
            bounds.append(between.at_least(values[:-1], values[1:], length, cross))
        return np.fmin.reduce(bounds)

    def _cross(self, family: str, model: str) -> tuple[Floats, Floats]:
        """Return from each chord's first end to the second's foot, and the reverse."""
        east, north = (self.points[name] for name in PLACES[model])
        places = east, north, self.points["elevation_m"] + self.moved_m[family]
        pairs = [
            (place, self.points[f"{family}_{model}_foot_{axis}"])
            for place, axis in zip(places, AXES, strict=True)
        ]
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

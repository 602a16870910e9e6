"""Measure one curve: height above ground and clearance, wherever it matters.

The curve is cut where a limit is reached, at the exact extremes of each leg, and
wherever clearance between two samples is not known well enough; what remains
between two points is then all on one side of every limit, to a centimetre.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass, field

import numpy as np
from numpy.typing import NDArray

from terrain_guard.checks import between
from terrain_guard.checks.clearance import Foot, nearest, void_distance
from terrain_guard.ground.bilinear import Pieces
from terrain_guard.ground.model import Ground
from terrain_guard.ground.patches import Patches
from terrain_guard.path.curve import Curve, at

Floats = NDArray[np.float64]
Ints = NDArray[np.int64]
Bools = NDArray[np.bool_]

RESOLVED_M = 0.01  # how well crossings and extremes are known
EXTREME_M = 0.005
FEW_CELLS = 300_000  # in one window of patches: no need to split further
MOST_SAMPLES = 2_000
MEASURES = ("clearance_m", "lowered_m", "raised_m", "void_m")
SCAFFOLD = ("east", "north", "foot_east", "foot_north", "foot_z")  # local metres, one chunk only


@dataclass(frozen=True, slots=True, kw_only=True)
class Column:
    """The take-off or landing column: a spot in the local frame, and how far it reaches."""

    place: tuple[float, float]
    radius_m: float


@dataclass(frozen=True, slots=True, kw_only=True)
class Wanted:
    """The limits, as the checks need them; metres."""

    floor_m: float
    floor_margin_m: float
    ceiling_m: float
    ceiling_margin_m: float
    closest_point_ceiling: bool = False
    vertical_floor: bool = False
    columns: dict[int, Column] = field(default_factory=dict)  # by leg
    eased: frozenset[int] = frozenset()  # legs on which half the height above launch will do
    assurable: bool = True  # False: the model is too coarse for any margin

    @property
    def levels(self) -> tuple[float, ...]:
        """Heights above ground at which a state changes."""
        ceiling = (self.ceiling_m, self.ceiling_m - self.ceiling_margin_m)
        floor = (self.floor_m, self.floor_m + self.floor_margin_m)
        return (0.0, *ceiling, *(floor if self.vertical_floor else ()))

    @property
    def floor_reach_m(self) -> float:
        """How near a void may come before the floor is not assessed."""
        return self.floor_m + self.floor_margin_m


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
    sketch = _Sketch.of(curve, ground, wanted, launch_elevation_m)
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


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class _Sketch:
    """A curve over the ground, cut exactly, before clearance is known."""

    curve: Curve
    ground: Ground
    wanted: Wanted
    row: Floats  # of the curve's samples
    column: Floats
    elevation: Floats
    position: Floats  # of the cuts, samples included

    @classmethod
    def of(cls, curve: Curve, ground: Ground, wanted: Wanted, launch_elevation_m: float) -> _Sketch:
        row, column = ground.posts_at(curve.lon_deg, curve.lat_deg)
        elevation = launch_elevation_m + curve.above_launch_m
        samples = np.arange(row.size, dtype=float)
        edges = np.unique(np.concatenate((samples, _column_edges(curve, wanted))))
        pieces = ground.above_ground(at(row, edges), at(column, edges), at(elevation, edges))
        sketch = cls(
            curve=curve, ground=ground, wanted=wanted,
            row=row, column=column, elevation=elevation, position=edges,
        )  # fmt: skip
        cuts = sketch._cuts(pieces)
        return cls(
            curve=curve, ground=ground, wanted=wanted,
            row=row, column=column, elevation=elevation,
            position=_merged(edges, at(edges, cuts)),
        )  # fmt: skip

    def _cuts(self, pieces: Pieces) -> Floats:
        """Return where a limit is reached, ground is missing, or a leg has its extremes."""
        wanted = self.wanted
        turn, value = pieces.vertex()
        beyond = (value > wanted.ceiling_m - wanted.ceiling_margin_m) | (value < 0)
        parts = [pieces.reaching(level) for level in wanted.levels]
        parts += [pieces.missing_edges(), turn[beyond], self._leg_extremes(pieces, turn, value)]
        return np.concatenate(parts)

    def _leg_extremes(self, pieces: Pieces, turn: Floats, value: Floats) -> Floats:
        middle = at(self.position, (pieces.start + pieces.stop) / 2)
        leg, in_column = self.leg_at(middle), self.in_column(middle)
        found = []
        for one in np.unique(leg):
            for sign, use in ((1, (leg == one) & ~in_column), (-1, leg == one)):
                inside = use & np.isfinite(value)
                if inside.any():
                    found.append(turn[inside][np.argmin(sign * value[inside])])
        return np.array(found)

    def leg_at(self, position: Floats) -> Ints:
        """Return the leg of the chord at each position."""
        chord = np.clip(position.astype(np.int64), 0, self.curve.leg.size - 1)
        return self.curve.leg[chord]

    def in_column(self, position: Floats) -> Bools:
        """Return whether each position lies in the take-off or landing column of its leg."""
        x, y, leg = at(self.curve.x_m, position), at(self.curve.y_m, position), None
        inside = np.zeros(position.shape, dtype=bool)
        for number, column in self.wanted.columns.items():
            leg = self.leg_at(position) if leg is None else leg
            away = np.hypot(x - column.place[0], y - column.place[1])
            inside |= (leg == number) & (away < column.radius_m)
        return inside

    def above_ground(self, position: Floats) -> Floats:
        """Return the height above ground at positions; NaN where ground is missing."""
        ground = self.ground.elevation_at(at(self.row, position), at(self.column, position))
        return at(self.elevation, position) - ground

    def points(self, position: Floats) -> dict[str, Floats]:
        """Return everything but clearance at positions."""
        return {
            "position": position,
            "row": at(self.row, position),
            "column": at(self.column, position),
            "along_m": at(self.curve.along_m, position),
            "above_launch_m": at(self.curve.above_launch_m, position),
            "elevation_m": at(self.elevation, position),
            "above_ground_m": self.above_ground(position),
        }

    def chunks(self) -> Iterator[Floats]:
        """Yield runs of positions, sharing their ends, whose patches fit one window."""
        todo = [self.position[k : k + MOST_SAMPLES + 1]
                for k in range(0, max(self.position.size - 1, 1), MOST_SAMPLES)]  # fmt: skip
        while todo:
            run = todo.pop(0)
            if run.size > 32 and self._too_wide(run):
                half = run.size // 2
                todo[:0] = [run[: half + 1], run[half:]]
            else:
                yield run

    def _too_wide(self, position: Floats) -> bool:
        """Return whether two half windows would hold far fewer cells than one."""
        row, column = at(self.row, position), at(self.column, position)
        known = np.isfinite(row) & np.isfinite(column)
        if not known.any():
            return False
        reach = _reach_m(self.wanted, self.above_ground(position))
        cells = self.ground.cells_around(row[known], column[known], reach_m=reach)
        least = self.ground.cells_around(row[known][:1], column[known][:1], reach_m=reach)
        return cells > max(FEW_CELLS, 4 * least)


def _reach_m(wanted: Wanted, above_ground_m: Floats) -> float:
    """Return how far from points with these heights above ground the search may lead."""
    reach = wanted.floor_reach_m
    if wanted.closest_point_ceiling:
        reach = max(reach, wanted.ceiling_m)
    if np.isfinite(above_ground_m).any():
        # A metre more: points put between these may stand a little higher.
        margin = max(wanted.floor_margin_m, wanted.ceiling_margin_m)
        reach = max(reach, float(np.nanmax(np.abs(above_ground_m))) + margin) + 1.0
    return reach


def _merged(one: Floats, other: Floats) -> Floats:
    """Merge sorted positions, dropping those a hair from their neighbour."""
    both = np.unique(np.concatenate((one, other[np.isfinite(other)])))
    whole = np.isin(both, one)
    near = np.append(np.diff(both) < 1e-9, False) | np.append(False, np.diff(both) < 1e-9)
    return both[whole | ~near]


def _column_edges(curve: Curve, wanted: Wanted) -> Floats:
    """Return the positions where the curve enters or leaves a column."""
    found = []
    for leg, column in wanted.columns.items():
        chord = np.flatnonzero(curve.leg == leg)
        x0, y0 = curve.x_m[chord] - column.place[0], curve.y_m[chord] - column.place[1]
        dx, dy = np.diff(curve.x_m)[chord], np.diff(curve.y_m)[chord]
        a, b = dx**2 + dy**2, x0 * dx + y0 * dy
        with np.errstate(divide="ignore", invalid="ignore"):
            root = np.sqrt(b**2 - a * (x0**2 + y0**2 - column.radius_m**2))
            share = np.stack(((-b - root) / a, (-b + root) / a))
        inside = (share > 0) & (share < 1)
        found.append((chord + share)[inside])
    return np.concatenate(found) if found else np.zeros(0)


# -- clearance ------------------------------------------------------------------


def _refined(sketch: _Sketch, position: Floats) -> dict[str, Floats]:
    """Measure one chunk and split what lies between its points until it is known."""
    base = sketch.points(position)
    probe = _Probe.over(sketch, base)
    done = probe.measured(base)
    for _ in range(40):  # 1 m halves to 1 cm in 7 rounds; a chord is never longer than 100 m
        split = _unresolved(sketch, done)
        if not split.any():
            break
        middle = (done["position"][1:] + done["position"][:-1])[split] / 2
        new = probe.measured(sketch.points(middle))
        order = np.argsort(np.concatenate((done["position"], new["position"])), kind="stable")
        done = {name: np.concatenate((done[name], new[name]))[order] for name in done}
    return {name: values for name, values in done.items() if name not in SCAFFOLD}


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class _Probe:
    """Measures clearance at points of one chunk."""

    sketch: _Sketch
    patches: Patches | None
    reach_m: float

    @classmethod
    def over(cls, sketch: _Sketch, base: dict[str, Floats]) -> _Probe:
        reach = _reach_m(sketch.wanted, base["above_ground_m"])
        known = np.isfinite(base["row"]) & np.isfinite(base["elevation_m"])
        patches = None
        if known.any():
            row, column = base["row"][known], base["column"][known]
            patches = sketch.ground.around(row, column, reach_m=reach)
        return cls(sketch=sketch, patches=patches, reach_m=reach)

    def measured(self, points: dict[str, Floats]) -> dict[str, Floats]:
        """Return the points with clearances, feet and distance to voids."""
        size = points["position"].size
        out = {name: np.full(size, np.nan) for name in (*MEASURES, *SCAFFOLD)}
        known = np.isfinite(points["row"]) & np.isfinite(points["elevation_m"])
        if self.patches is not None and known.any():
            for name, values in self._known(points, known).items():
                out[name][known] = values
        return points | out

    def _known(self, points: dict[str, Floats], known: Bools) -> dict[str, Floats]:
        assert self.patches is not None
        point = {name: values[known] for name, values in points.items()}
        foot = self._nearest(point)
        here = self.patches.map.metres(point["row"], point["column"])
        there = self.patches.map.metres(foot.row, foot.column)
        return {
            "clearance_m": foot.clearance_m,
            "lowered_m": self._lowered(point, foot),
            "raised_m": self._raised(point, foot),
            "void_m": void_distance(
                self.patches, point["row"], point["column"], within_m=self.reach_m
            ),
            "east": here[0],
            "north": here[1],
            "foot_east": there[0],
            "foot_north": there[1],
            "foot_z": foot.elevation_m,
        }

    def _nearest(
        self, point: dict[str, Floats], *, shift_m: float = 0.0, seed: Foot | None = None
    ) -> Foot:
        assert self.patches is not None
        return nearest(
            self.patches,
            point["row"],
            point["column"],
            point["elevation_m"] + shift_m,
            point["above_ground_m"] + shift_m,
            reach_m=self.reach_m,
            seed=seed,
        )

    def _lowered(self, point: dict[str, Floats], foot: Foot) -> Floats:
        """Return the clearance of the points moved down by the floor margin.

        Moving by a metre changes clearance by a metre at most, so where that proves
        the floor and cannot be the leg's least, that bound stands for the value.
        """
        wanted, margin = self.sketch.wanted, self.sketch.wanted.floor_margin_m
        bound = foot.clearance_m - margin
        leg = self.sketch.leg_at(point["position"])
        least = np.full(int(leg.max()) + 1, np.inf)
        first = _least_by(leg, foot.clearance_m)
        out = bound.copy()
        self._fill(out, first, point, foot, -margin)
        least[leg[first]] = out[first]
        needed = (bound < np.maximum(least[leg], wanted.floor_m)) & ~np.isin(
            np.arange(leg.size), first
        )
        self._fill(out, np.flatnonzero(needed), point, foot, -margin)
        return out

    def _raised(self, point: dict[str, Floats], foot: Foot) -> Floats:
        """Return the clearance of the points moved up by the ceiling margin.

        Under a vertical ceiling nothing is judged by it, so only each leg's greatest
        clearance gets one; NaN elsewhere.
        """
        out = np.full(foot.clearance_m.shape, np.nan)
        pick = np.arange(out.size)
        if not self.sketch.wanted.closest_point_ceiling:
            pick = _least_by(self.sketch.leg_at(point["position"]), -foot.clearance_m)
        self._fill(out, pick, point, foot, self.sketch.wanted.ceiling_margin_m)
        return out

    def _fill(
        self, out: Floats, pick: Ints, point: dict[str, Floats], foot: Foot, shift_m: float
    ) -> None:
        if pick.size:
            few = {name: values[pick] for name, values in point.items()}
            seed = Foot(**{name: getattr(foot, name)[pick] for name in Foot.__slots__})
            out[pick] = self._nearest(few, shift_m=shift_m, seed=seed).clearance_m


def _least_by(group: Ints, values: Floats) -> Ints:
    """Return the index of the least finite value of each group."""
    order = np.lexsort((np.where(np.isfinite(values), values, np.inf), group))
    return order[np.flatnonzero(np.append(True, np.diff(group[order]) != 0))]


def _unresolved(sketch: _Sketch, points: dict[str, Floats]) -> Bools:
    """Return which chords hide an extreme or a crossing of a limit, to a centimetre."""
    wanted = sketch.wanted
    middle = (points["position"][1:] + points["position"][:-1]) / 2
    leg, judged = sketch.leg_at(middle), ~sketch.in_column(middle)
    d = np.diff(points["along_m"])
    unclear = np.zeros(d.size, dtype=bool)
    need = np.full(points["position"].size, wanted.floor_m)
    half = np.abs(points["above_launch_m"]) / 2
    eased = np.isin(leg, list(wanted.eased))
    eased_need = np.minimum(need, half)
    for values, least in (
        ("clearance_m", need),
        ("lowered_m", need),
        ("clearance_m", eased_need),
        ("clearance_m", half),
    ):
        use = judged & (eased if least is not need else True)
        unclear |= use & _may_fall_below(points[values], least, d)
    unclear |= _may_fall_below(points["void_m"], need + wanted.floor_margin_m, d)
    for values in ("clearance_m", "lowered_m"):
        unclear |= judged & _may_hide_least(points[values], d, leg, judged)
    unclear |= _may_hide_most(sketch, points, d, leg)
    return unclear & (d > RESOLVED_M)


def _may_fall_below(values: Floats, limit: Floats, d: Floats) -> Bools:
    s1, s2 = values[:-1], values[1:]
    ok1, ok2 = s1 >= limit[:-1], s2 >= limit[1:]
    worst = np.maximum(limit[:-1], limit[1:])
    dips = ok1 & ok2 & ~(between.at_least(s1, s2, d) >= worst)
    return (ok1 != ok2) | dips


def _may_hide_least(values: Floats, d: Floats, leg: Ints, judged: Bools) -> Bools:
    s1, s2 = values[:-1], values[1:]
    low = between.at_least(s1, s2, d)
    ends = np.where(judged, np.fmin(s1, s2), np.inf)
    least = np.full(leg.max(initial=0) + 1, np.inf)
    np.fmin.at(least, leg, ends)
    return low < least[leg] - EXTREME_M


def _may_hide_most(sketch: _Sketch, points: dict[str, Floats], d: Floats, leg: Ints) -> Bools:
    """Chords that may rise above a closest-point ceiling, or above their leg's greatest clearance."""
    s1, s2 = points["clearance_m"][:-1], points["clearance_m"][1:]
    high = between.at_most(s1, s2, d, *_cross_distances(points))
    most = np.full(leg.max(initial=0) + 1, -np.inf)
    np.fmax.at(most, leg, np.fmax(s1, s2))
    hides = (high > most[leg] + EXTREME_M) & np.isfinite(s1 + s2)
    if sketch.wanted.closest_point_ceiling:
        limit = sketch.wanted.ceiling_m
        ok1, ok2 = s1 <= limit, s2 <= limit
        hides |= (ok1 != ok2) | (ok1 & ok2 & (high > limit))
        up1, up2 = points["raised_m"][:-1] <= limit, points["raised_m"][1:] <= limit
        hides |= up1 != up2
    return hides


def _cross_distances(points: dict[str, Floats]) -> tuple[Floats, Floats]:
    """Return from each chord's first end to the second's foot, and the reverse."""
    out = []
    for here, there in ((slice(None, -1), slice(1, None)), (slice(1, None), slice(None, -1))):
        east = points["east"][here] - points["foot_east"][there]
        north = points["north"][here] - points["foot_north"][there]
        rise = points["elevation_m"][here] - points["foot_z"][there]
        out.append(np.sqrt(east**2 + north**2 + rise**2))
    return out[0], out[1]

"""Measure clearance at points of one chunk of a curve."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, replace

import numpy as np

from terrain_guard.arrays import Bools, Floats, Ints
from terrain_guard.checks import sparing
from terrain_guard.checks.beneath import GROUND, SURFACE
from terrain_guard.checks.clearance import Foot, distance_to, nearest, void_distance
from terrain_guard.checks.corridor import nearest_within
from terrain_guard.checks.cuts import HAIR, KEYS, SAME_M, Sketch, reach_m
from terrain_guard.checks.extremes import highest_within
from terrain_guard.checks.known import Known, enough_m
from terrain_guard.ground.patches import Patches
from terrain_guard.path.curve import GAP

MEASURES = (
    "clearance_m", "lowered_m", "closest_m", "raised_m", "void_m", "ground_void_m", "in_surface",
)  # fmt: skip
FAMILIES = {
    "clearance": (GROUND, SURFACE),
    "lowered": (GROUND, SURFACE),
    "closest": (GROUND,),
    "raised": (GROUND,),
}
"""Which models a family of clearances is to: the floor's to both, the ceiling's to the ground."""
HOLDS_M = 0.02
"""As near below the floor as that counts as on it: a crossing is looked for from both sides."""
AXES = ("east", "north", "up")
PLACES = {GROUND: ("east", "north"), SURFACE: ("surface_east", "surface_north")}
SCAFFOLD = (
    *(name for places in PLACES.values() for name in places),
    *(
        f"{family}_{model}{part}"
        for family, models in FAMILIES.items()
        for model in models
        for part in ("", "_foot_east", "_foot_north", "_foot_up")
    ),
)
"""What holds within one chunk only: places in the local metres of each model, and for each
family and model the clearance (at least) and its foot; up is an elevation."""


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Side:
    """One model as a probe sees it; nothing is looked for farther off than `reach_m`."""

    patches: Patches
    reach_m: float


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Probe:
    """Measures clearance at points of one chunk."""

    sketch: Sketch
    sides: Mapping[str, Side]  # by model; none where no point has a place
    known: Known | None = None  # of the legs; None: every point is to be measured

    @classmethod
    def over(cls, sketch: Sketch, base: dict[str, Floats], known: Known | None = None) -> Probe:
        """Fetch the patches near the points of one chunk."""
        placed = np.isfinite(base["row"]) & np.isfinite(base["elevation_m"])
        sides = {}
        for name, model in sketch.beneath.models.items() if placed.any() else ():
            reach = reach_m(sketch.wanted, base, name)
            row, column = (base[key][placed] for key in KEYS[name][:2])
            sides[name] = Side(patches=model.around(row, column, reach_m=reach), reach_m=reach)
        return cls(sketch=sketch, sides=sides, known=known)

    def measured(
        self, points: dict[str, Floats], *, done: dict[str, Floats] | None = None
    ) -> dict[str, Floats]:
        """Return the points with clearances, feet and distance to voids.

        `done` holds points of the chunk that were measured before.
        """
        size = points["position"].size
        out = {name: np.full(size, np.nan) for name in (*MEASURES, *SCAFFOLD)}
        known = np.isfinite(points["row"]) & np.isfinite(points["elevation_m"])
        if self.sides and known.any():
            for name, values in self._known(points, known, done).items():
                out[name][known] = values
        return points | out

    def _known(
        self, points: dict[str, Floats], known: Bools, done: dict[str, Floats] | None
    ) -> dict[str, Floats]:
        point = {name: values[known] for name, values in points.items()}
        everything = np.arange(point["position"].size)
        out = {name: np.full(everything.size, np.nan) for name in (*MEASURES, *SCAFFOLD)}
        self._voids_and_places(out, point)
        if self.sketch.curve.side == "high":
            self._for_the_ceiling(out, point)
            return out
        feet = self._for_the_floor(out, point)
        if SURFACE in self.sides:
            nearer = out["clearance_surface"] < out["clearance_ground"] - SAME_M
            out["in_surface"] = nearer.astype(float)
        self._lowered(out, point, feet, done)
        wanted, same = self.sketch.wanted, "clearance"
        if wanted.ground_below_m:
            same = "closest"
            self._fill(out, "closest", everything, point, feet)
        out["closest_m"] = out[f"{same}_ground"]
        if wanted.closest_point_ceiling:
            self._fill(out, "raised", everything, point, feet)
        return out

    def _for_the_floor(self, out: dict[str, Floats], point: dict[str, Floats]) -> dict[str, Foot]:
        """Find clearances, exactly where they may matter; elsewhere a bound stands for them."""
        everything = np.arange(point["position"].size)
        if self.known is None:
            return self._fill(out, "clearance", everything, point)
        enough = self._enough_m(point, self.known)
        flown = ~self._breaks(point)
        if everything.size <= 2 * sparing.EVERY:
            return self._fill(out, "clearance", everything, point, enough_m=enough)
        first = sparing.picked(~flown)
        self._fill(out, "clearance", first, point, enough_m=enough + sparing.MORE_M)
        enough = np.fmin(enough, self._enough_now(out, point, first))
        places = np.stack([out[name] for name in PLACES[GROUND]] + [point["elevation_m"]], axis=1)
        bound = sparing.at_least(places, first, out["clearance_m"][first], ~flown)
        bound[first] = np.inf
        spared = bound >= enough
        for name in ("clearance_m", *(f"clearance_{model}" for model in self.sides)):
            out[name] = np.where(np.isinf(bound), out[name], bound)
        self._fill(out, "clearance", np.flatnonzero(~spared), point, enough_m=enough)
        return {}

    def _enough_now(self, out: dict[str, Floats], point: dict[str, Floats], first: Ints) -> Floats:
        """Return from what clearance on nothing more need be known, after a first look."""
        assert self.known is not None
        leg, judged = self._leg_and_judged(point)
        least = _least_by(leg[first], np.where(judged, out["clearance_m"], np.inf)[first])
        pick = first[least]
        pick = pick[judged[pick] & np.isfinite(point["floor_margin_m"][pick])]
        self._fill(out, "lowered", pick, point)
        known = replace(
            self.known,
            least_m=self.known.least_m.copy(),
            least_lowered_m=self.known.least_lowered_m.copy(),
        )
        seen = pick[np.abs(out["clearance_m"][pick]) <= out["void_m"][pick]]
        np.fmin.at(known.least_m, leg[seen], out["clearance_m"][seen])
        np.fmin.at(known.least_lowered_m, leg[seen], out["lowered_m"][seen])
        return self._enough_m(point, known)

    def _enough_m(self, point: dict[str, Floats], known: Known) -> Floats:
        """Return for each point from what clearance on nothing more need be known."""
        least, lowered = (
            self._by_leg(point, values) for values in (known.least_m, known.least_lowered_m)
        )
        return enough_m(least, lowered, self.sketch.wanted, point["floor_margin_m"])

    def _for_the_ceiling(self, out: dict[str, Floats], point: dict[str, Floats]) -> None:
        """Find clearances to the ground, where it is asked for; elsewhere a bound stands for them.

        Under a vertical ceiling only each leg's greatest is of interest.
        """
        wanted = self.sketch.wanted
        everything = np.arange(point["position"].size)
        if wanted.closest_point_ceiling or self.known is None:
            self._fill(out, "closest", everything, point)
        else:
            beyond = self._by_leg(point, self.known.greatest_m)
            self._straight_down(out, point)
            high = np.flatnonzero(out["closest_m"] > beyond)
            first = high[:: sparing.EVERY]
            feet = self._fill(out, "closest", first, point).get(GROUND)
            if feet is not None and first.size:
                self._nearer_by_feet(out, point, high, first, feet)
                seen = first[out["closest_m"][first] <= out["ground_void_m"][first]]
                greatest = self.known.greatest_m.copy()
                np.fmax.at(greatest, self._leg(point["position"][seen]), out["closest_m"][seen])
                beyond = self._by_leg(point, greatest)
                self._fill(out, "closest", high[out["closest_m"][high] > beyond[high]], point)
        if wanted.closest_point_ceiling:
            self._fill(out, "raised", everything, point)

    def _straight_down(self, out: dict[str, Floats], point: dict[str, Floats]) -> None:
        """Let the ground straight below stand for the closest."""
        above = point["above_ground_m"]
        out["closest_m"] = np.abs(above + self.sketch.wanted.ground_below_m)
        below = point["elevation_m"] - above
        for axis, values in zip(AXES, (out["east"], out["north"], below), strict=True):
            out[f"closest_ground_foot_{axis}"] = values.copy()

    def _nearer_by_feet(
        self,
        out: dict[str, Floats],
        point: dict[str, Floats],
        high: Ints,
        first: Ints,
        feet: Foot,
    ) -> None:
        """Bound the closest ground of points by the feet of those measured before and behind."""
        side, place = self.sides[GROUND], np.searchsorted(first, high)
        row, column = (point[key][high] for key in KEYS[GROUND][:2])
        up = point["elevation_m"][high] + self.sketch.wanted.ground_below_m
        for which in (np.minimum(place, first.size - 1), np.maximum(place - 1, 0)):
            far = distance_to(side.patches, row, column, up, feet.take(which))
            nearer = (point["above_ground_m"][high] > 0) & (far < out["closest_m"][high])
            found = feet.take(which[nearer])
            self._place_feet(out, "closest", GROUND, high[nearer], found)
            out["closest_m"][high[nearer]] = far[nearer]

    def _by_leg(self, point: dict[str, Floats], values: Floats) -> Floats:
        """Return for each point the greater of its legs' values, the one before and behind it."""
        position = point["position"]
        legs = self.sketch.leg_at(position), self.sketch.leg_at(position - HAIR)
        both = [np.where(leg == GAP, -np.inf, values[leg]) for leg in legs]
        return np.maximum(*both)

    def _breaks(self, point: dict[str, Floats]) -> Bools:
        """Return which chords between neighbouring points are not flown."""
        position = point["position"]
        return ~self.sketch.flown((position[1:] + position[:-1]) / 2)

    def _voids_and_places(self, out: dict[str, Floats], point: dict[str, Floats]) -> None:
        for name, side in self.sides.items():
            row, column = (point[key] for key in KEYS[name][:2])
            east, north = PLACES[name]
            out[east], out[north] = side.patches.map.metres(row, column)
            void = void_distance(side.patches, row, column, within_m=side.reach_m)
            if name == GROUND:
                out["ground_void_m"] = void
            out["void_m"] = np.fmin(out["void_m"], void)

    def _lowered(
        self,
        out: dict[str, Floats],
        point: dict[str, Floats],
        feet: dict[str, Foot],
        done: dict[str, Floats] | None,
    ) -> None:
        """Find the clearance of the points moved down by the floor margin.

        And the corridor: the least clearance of any place so far beside the line. Moving
        by a metre changes clearance by a metre at most, so where that proves the floor
        and cannot be the leg's least, that bound stands for the value.
        """
        astray = self.sketch.wanted.corridor_m
        leg, judged = self._leg_and_judged(point)
        wanted = self.sketch.wanted
        for name in self.sides:
            out[f"lowered_{name}"] = out[f"clearance_{name}"] - point["floor_margin_m"] - astray
        bound = out["clearance_m"] - point["floor_margin_m"] - astray
        out["lowered_m"] = bound.copy()
        least = np.full(self.sketch.last_leg + 1, np.inf)
        if self.known is not None:
            least = self.known.least_lowered_m.copy()
        if done is None:
            first = _least_by(leg, np.where(judged, out["clearance_m"], np.inf))
            first = first[judged[first] & (bound[first] < least[leg[first]])]
            self._fill(out, "lowered", first, point, feet)
            least[leg[first]] = out["lowered_m"][first]
            judged[first] = False
        else:
            old_leg, old_judged = self._leg_and_judged(done)
            np.fmin.at(least, old_leg[old_judged], done["lowered_m"][old_judged])
        # Where the floor is broken as computed, margins change nothing.
        holds = out["clearance_m"] >= wanted.floor_m - HOLDS_M
        needed = judged & ((bound < least[leg]) | holds & (bound < wanted.floor_m))
        self._fill(out, "lowered", np.flatnonzero(needed), point, feet)

    def _leg_and_judged(self, point: dict[str, Floats]) -> tuple[Ints, Bools]:
        position = point["position"]
        leg = self._leg(position)
        return leg, (leg != GAP) & ~self.sketch.in_column(position)

    def _leg(self, position: Floats) -> Ints:
        """Return the leg of points: where none begins, the one that ends there."""
        begun = self.sketch.leg_at(position)
        ended = self.sketch.leg_at(np.maximum(position - HAIR, 0.0))
        return np.where(begun == GAP, ended, begun)

    def raised(self, points: dict[str, Floats]) -> Floats:
        """Return the clearance of the points moved up by the ceiling margin.

        Under a vertical ceiling nothing is judged by it, so only each leg's greatest
        clearance gets one; NaN elsewhere.
        """
        clearance = np.where(  # ground may be nearer where it is missing
            points["closest_m"] <= points["ground_void_m"], points["closest_m"], np.nan
        )
        side, wanted = self.sketch.curve.side, self.sketch.wanted
        if self.sides and side != "low" and not wanted.closest_point_ceiling:
            pick = _least_by(self._leg(points["position"]), -clearance)
            if self.known is not None:
                pick = pick[clearance[pick] > self._by_leg(points, self.known.greatest_m)[pick]]
            self._fill(points, "raised", pick[np.isfinite(clearance[pick])], points)
        return points["raised_m"]

    def _fill(
        self,
        out: dict[str, Floats],
        family: str,
        pick: Ints,
        points: dict[str, Floats],
        seeds: Mapping[str, Foot] | None = None,
        *,
        enough_m: Floats | None = None,
    ) -> dict[str, Foot]:
        """Find the feet of the picked points, moved as their family is, and put them in place.

        Where both models count, the second search begins with what the first found:
        of a surface that is farther off no more is kept than that it is; nor of anything
        farther off than `enough_m`, by point.
        """
        if not pick.size:
            return {}
        shift = self.sketch.wanted.shift_m(family, points)[pick]
        elevation = points["elevation_m"][pick] + shift
        least = np.full(pick.size, np.inf) if enough_m is None else enough_m[pick]
        feet = {}
        for name in (name for name in FAMILIES[family] if name in self.sides):
            side = self.sides[name]
            row, column, above = (points[key][pick] for key in KEYS[name])
            above = above + shift
            enough = np.where(above < 0, np.inf, np.abs(least))  # from within, the way out counts
            seed = seeds[name].take(pick) if seeds else None
            if family == "lowered" and self.sketch.wanted.corridor_m:
                foot = self._astray(side, row, column, elevation, enough)
            else:
                foot = nearest(
                    side.patches, row, column, elevation, above,
                    reach_m=side.reach_m, seed=seed, within_m=enough,
                )  # fmt: skip
            feet[name] = foot
            key = f"{family}_{name}"
            found = foot.clearance_m <= enough
            out[key][pick] = np.where(found, foot.clearance_m, np.fmin(enough, side.reach_m))
            self._place_feet(out, family, name, pick[found], foot.take(np.flatnonzero(found)))
            for axis in AXES:
                out[f"{key}_foot_{axis}"][pick[~found]] = np.nan
            least = np.fmin(least, np.where(above < 0, foot.clearance_m, out[key][pick]))
        out[f"{family}_m"][pick] = least
        return feet

    def _astray(
        self, side: Side, row: Floats, column: Floats, elevation: Floats, enough: Floats
    ) -> Foot:
        """Return the nearest ground of the corridor round points.

        Where some ground in it stands higher than the point, minus how much higher: no
        place is farther inside than that.
        """
        wide = np.full(row.shape, self.sketch.wanted.corridor_m)
        above = elevation - highest_within(side.patches, row, column, wide)
        free = np.flatnonzero(~(above <= 0))
        out = Foot(clearance_m=above, row=row * np.nan, column=row * np.nan, elevation_m=elevation)
        if free.size:
            found = nearest_within(
                side.patches, row[free], column[free], elevation[free], above[free],
                corridor_m=wide[free], reach_m=side.reach_m - self.sketch.wanted.corridor_m,
                enough_m=enough[free],
            )  # fmt: skip
            out.clearance_m[free] = found.clearance_m
        return out

    def _place_feet(
        self, out: dict[str, Floats], family: str, name: str, pick: Ints, foot: Foot
    ) -> None:
        """Put feet of picked points in place, in the local metres of their model."""
        east, north = self.sides[name].patches.map.metres(foot.row, foot.column)
        for axis, values in zip(AXES, (east, north, foot.elevation_m), strict=True):
            out[f"{family}_{name}_foot_{axis}"][pick] = values


def _least_by(group: Ints, values: Floats) -> Ints:
    """Return the index of the least finite value of each group."""
    order = np.lexsort((np.where(np.isfinite(values), values, np.inf), group))
    return order[np.flatnonzero(np.append(True, np.diff(group[order]) != 0))]

"""Measure clearance at points of one chunk of a curve."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from terrain_guard.arrays import Bools, Floats, Ints
from terrain_guard.checks.clearance import Foot, nearest, void_distance
from terrain_guard.checks.cuts import Sketch, reach_m
from terrain_guard.ground.patches import Patches

MEASURES = ("clearance_m", "lowered_m", "raised_m", "void_m")
FAMILIES = ("clearance", "lowered", "raised")
SCAFFOLD = (
    "east",
    "north",
    *(f"{family}_foot_{axis}" for family in FAMILIES for axis in ("east", "north", "up")),
)
"""Places in local metres, which hold within one chunk only; up is the elevation
that the foot would have if it moved with its sample."""


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Probe:
    """Measures clearance at points of one chunk."""

    sketch: Sketch
    patches: Patches | None
    reach_m: float

    @classmethod
    def over(cls, sketch: Sketch, base: dict[str, Floats]) -> Probe:
        """Fetch the patches near the points of one chunk."""
        reach = reach_m(sketch.wanted, base["above_ground_m"])
        known = np.isfinite(base["row"]) & np.isfinite(base["elevation_m"])
        patches = None
        if known.any():
            row, column = base["row"][known], base["column"][known]
            patches = sketch.ground.around(row, column, reach_m=reach)
        return cls(sketch=sketch, patches=patches, reach_m=reach)

    def measured(
        self, points: dict[str, Floats], *, done: dict[str, Floats] | None = None
    ) -> dict[str, Floats]:
        """Return the points with clearances, feet and distance to voids.

        `done` holds points of the chunk that were measured before.
        """
        size = points["position"].size
        out = {name: np.full(size, np.nan) for name in (*MEASURES, *SCAFFOLD)}
        known = np.isfinite(points["row"]) & np.isfinite(points["elevation_m"])
        if self.patches is not None and known.any():
            for name, values in self._known(points, known, done).items():
                out[name][known] = values
        return points | out

    def _known(
        self, points: dict[str, Floats], known: Bools, done: dict[str, Floats] | None
    ) -> dict[str, Floats]:
        assert self.patches is not None
        point = {name: values[known] for name, values in points.items()}
        row, column = point["row"], point["column"]
        everything = np.arange(row.size)
        out = {name: np.full(row.size, np.nan) for name in (*MEASURES, *SCAFFOLD)}
        out["void_m"] = void_distance(self.patches, row, column, within_m=self.reach_m)
        out["east"], out["north"] = self.patches.map.metres(row, column)
        foot = self._fill(out, "clearance", everything, point)
        self._lowered(out, point, foot, done)
        if self.sketch.wanted.closest_point_ceiling:
            self._fill(out, "raised", everything, point, foot)
        return out

    def _lowered(
        self,
        out: dict[str, Floats],
        point: dict[str, Floats],
        foot: Foot,
        done: dict[str, Floats] | None,
    ) -> None:
        """Find the clearance of the points moved down by the floor margin.

        Moving by a metre changes clearance by a metre at most, so where that proves
        the floor and cannot be the leg's least, that bound stands for the value.
        """
        leg, judged = self._leg_and_judged(point)
        bound = foot.clearance_m - self.sketch.wanted.floor_margin_m
        out["lowered_m"] = bound.copy()
        least = np.full(self.sketch.last_leg + 1, np.inf)
        if done is None:
            first = _least_by(leg, np.where(judged, foot.clearance_m, np.inf))
            self._fill(out, "lowered", first, point, foot)
            least[leg[first]] = out["lowered_m"][first]
            judged[first] = False
        else:
            old_leg, old_judged = self._leg_and_judged(done)
            np.fmin.at(least, old_leg[old_judged], done["lowered_m"][old_judged])
        needed = judged & (bound < np.maximum(least[leg], self.sketch.wanted.floor_m))
        self._fill(out, "lowered", np.flatnonzero(needed), point, foot)

    def _leg_and_judged(self, point: dict[str, Floats]) -> tuple[Ints, Bools]:
        position = point["position"]
        return self.sketch.leg_at(position), ~self.sketch.in_column(position)

    def raised(self, points: dict[str, Floats]) -> Floats:
        """Return the clearance of the points moved up by the ceiling margin.

        Under a vertical ceiling nothing is judged by it, so only each leg's greatest
        clearance gets one; NaN elsewhere.
        """
        clearance = np.where(  # ground may be nearer where it is missing
            points["clearance_m"] <= points["void_m"], points["clearance_m"], np.nan
        )
        if self.patches is not None and not self.sketch.wanted.closest_point_ceiling:
            pick = _least_by(self.sketch.leg_at(points["position"]), -clearance)
            self._fill(points, "raised", pick[np.isfinite(clearance[pick])], points)
        return points["raised_m"]

    def _fill(
        self,
        out: dict[str, Floats],
        family: str,
        pick: Ints,
        points: dict[str, Floats],
        seed: Foot | None = None,
    ) -> Foot:
        """Find the feet of the picked points, moved as their family is, and put them in place."""
        assert self.patches is not None
        few = {name: points[name][pick] for name in ("row", "column", "elevation_m")}
        above, shift = points["above_ground_m"][pick], self.sketch.wanted.shift_m(family)
        if seed is not None:
            seed = Foot(**{name: getattr(seed, name)[pick] for name in Foot.__slots__})
        elevation = few["elevation_m"] + shift
        foot = nearest(
            self.patches,
            few["row"],
            few["column"],
            elevation,
            above + shift,
            reach_m=self.reach_m,
            seed=seed,
        )
        out[f"{family}_m"][pick] = foot.clearance_m
        east, north = self.patches.map.metres(foot.row, foot.column)
        out[f"{family}_foot_east"][pick], out[f"{family}_foot_north"][pick] = east, north
        out[f"{family}_foot_up"][pick] = foot.elevation_m - shift
        return foot


def _least_by(group: Ints, values: Floats) -> Ints:
    """Return the index of the least finite value of each group."""
    order = np.lexsort((np.where(np.isfinite(values), values, np.inf), group))
    return order[np.flatnonzero(np.append(True, np.diff(group[order]) != 0))]

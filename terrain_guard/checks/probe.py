"""Measure clearance at points of one chunk of a curve."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from terrain_guard.arrays import Bools, Floats, Ints
from terrain_guard.checks.clearance import Foot, nearest, void_distance
from terrain_guard.checks.cuts import Sketch, reach_m
from terrain_guard.ground.patches import Patches

MEASURES = ("clearance_m", "lowered_m", "raised_m", "void_m")
SCAFFOLD = ("east", "north", "foot_east", "foot_north", "foot_z")
"""Places in local metres, which hold within one chunk only."""


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
        foot = self._nearest(point)
        here = self.patches.map.metres(point["row"], point["column"])
        there = self.patches.map.metres(foot.row, foot.column)
        raised = np.full(foot.clearance_m.shape, np.nan)
        if self.sketch.wanted.closest_point_ceiling:
            everything = np.arange(raised.size)
            self._fill(raised, everything, point, self.sketch.wanted.ceiling_margin_m, foot)
        return {
            "clearance_m": foot.clearance_m,
            "lowered_m": self._lowered(point, foot, done),
            "raised_m": raised,
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

    def _lowered(
        self, point: dict[str, Floats], foot: Foot, done: dict[str, Floats] | None
    ) -> Floats:
        """Return the clearance of the points moved down by the floor margin.

        Moving by a metre changes clearance by a metre at most, so where that proves
        the floor and cannot be the leg's least, that bound stands for the value.
        """
        margin, floor = self.sketch.wanted.floor_margin_m, self.sketch.wanted.floor_m
        leg, judged = self._leg_and_judged(point)
        out = foot.clearance_m - margin
        least = np.full(self.sketch.last_leg + 1, np.inf)
        if done is None:
            first = _least_by(leg, np.where(judged, foot.clearance_m, np.inf))
            self._fill(out, first, point, -margin, foot)
            least[leg[first]] = out[first]
            judged[first] = False
        else:
            old_leg, old_judged = self._leg_and_judged(done)
            np.fmin.at(least, old_leg[old_judged], done["lowered_m"][old_judged])
        needed = judged & (out < np.maximum(least[leg], floor))
        self._fill(out, np.flatnonzero(needed), point, -margin, foot)
        return out

    def _leg_and_judged(self, point: dict[str, Floats]) -> tuple[Ints, Bools]:
        position = point["position"]
        return self.sketch.leg_at(position), ~self.sketch.in_column(position)

    def raised(self, points: dict[str, Floats]) -> Floats:
        """Return the clearance of the points moved up by the ceiling margin.

        Under a vertical ceiling nothing is judged by it, so only each leg's greatest
        clearance gets one; NaN elsewhere.
        """
        if self.sketch.wanted.closest_point_ceiling:
            return points["raised_m"]
        out = np.full(points["position"].shape, np.nan)
        clearance = np.where(  # ground may be nearer where it is missing
            points["clearance_m"] <= points["void_m"], points["clearance_m"], np.nan
        )
        if self.patches is not None:
            pick = _least_by(self.sketch.leg_at(points["position"]), -clearance)
            pick = pick[np.isfinite(clearance[pick])]
            self._fill(out, pick, points, self.sketch.wanted.ceiling_margin_m)
        return out

    def _fill(
        self,
        out: Floats,
        pick: Ints,
        points: dict[str, Floats],
        shift_m: float,
        foot: Foot | None = None,
    ) -> None:
        """Put the clearance of the picked points, moved by `shift_m`, in their places."""
        if pick.size:
            few = {name: values[pick] for name, values in points.items()}
            seed = foot and Foot(**{name: getattr(foot, name)[pick] for name in Foot.__slots__})
            out[pick] = self._nearest(few, shift_m=shift_m, seed=seed).clearance_m


def _least_by(group: Ints, values: Floats) -> Ints:
    """Return the index of the least finite value of each group."""
    order = np.lexsort((np.where(np.isfinite(values), values, np.inf), group))
    return order[np.flatnonzero(np.append(True, np.diff(group[order]) != 0))]

"""Lifts beside a slow method that knows only distances between points.

At the lift found, the least of (3-D distance from a place of the way to a place of the
ground, minus the radius there) must be 0. It is looked for on fine grids of both,
made finer round the best places, on SciPy's bilinear surface and PROJ's local metres.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

import numpy as np
import pytest
from scipy.ndimage import map_coordinates

from terrain_guard.arrays import Floats
from terrain_guard.checks.home.lift import lift
from terrain_guard.ground.model import Ground
from terrain_guard.path.frame import LocalFrame

ONE_CENTIMETRE = 0.01
STARTS = 10


@dataclass(frozen=True, kw_only=True)
class Case:
    """One way over a model, in posts and metres."""

    start: tuple[float, float, float]
    home: tuple[float, float, float]
    radius_m: float
    radius_at_end_m: float
    corridor_m: float
    from_m: float
    to_m: float

    @classmethod
    def drawn(cls, ground: Ground, rng: np.random.Generator) -> Case:
        """Draw a way of any kind that stays on the model."""
        rows, columns = ground.shape
        row, column = rng.uniform(20, rows - 20), rng.uniform(20, columns - 20)
        length, heading = rng.uniform(3, 14), rng.uniform(0, 2 * np.pi)
        row0, column0 = row + length * np.sin(heading), column + length * np.cos(heading)
        at, at0 = ground.elevation_at(np.array([row, row0]), np.array([column, column0]))
        radius = rng.uniform(20, 60)
        return cls(
            start=(row, column, at + 80), home=(row0, column0, rng.choice([at + 80, at0])),
            radius_m=radius, radius_at_end_m=radius * rng.choice([1.0, 0.2, 1.3]),
            corridor_m=rng.choice([0.0, 12.0]), from_m=rng.choice([0.0, 20.0]),
            to_m=rng.choice([1e9, 60.0]),
        )  # fmt: skip

    def how(self) -> dict[str, Any]:
        """Return what `lift` is told beside the ends."""
        names = "radius_m", "radius_at_end_m", "corridor_m", "from_m", "to_m"
        return {name: getattr(self, name) for name in names}


class Slow:
    """The slow method for one case."""

    def __init__(self, ground: Ground, z: Floats, case: Case, lift_m: float) -> None:
        self.z, self.case, self.lift_m, self.ground = z, case, lift_m, ground
        ends = np.array([case.home[:2], case.start[:2]]).T
        self.frame = LocalFrame.around(*ground.degrees_at(*ends))
        x, y = self.frame.to_local(*ground.degrees_at(*ends))
        self.x, self.y = x, y
        self.length = float(np.hypot(x[1] - x[0], y[1] - y[0]))
        self.judged = case.from_m, min(case.to_m, self.length)

    def least(self) -> float:
        """Return the least distance to spare."""
        case, reach = self.case, 4.0 + 80.0 / min(self.ground.raster.cell_m)
        low = np.minimum(case.start[:2], case.home[:2]) - reach
        high = np.maximum(case.start[:2], case.home[:2]) + reach
        counts = [int(extent * 8) for extent in high - low]
        found = self.scan(low, high, np.linspace(*self.judged, 150), counts)
        best, tried = np.inf, list[Floats]()
        for spare, t, place in found:
            if any(np.abs(place - other).sum() < 0.5 for other in tried):
                continue
            tried.append(place)
            best = min(best, self.closer(spare, t, place))
            if len(tried) == STARTS:
                break
        return best

    def closer(self, spare: float, t: float, place: Floats) -> float:
        """Search on round one place, ever finer."""
        step, dt = 0.3, (self.judged[1] - self.judged[0]) / 75
        for _ in range(14):
            times = np.clip(np.linspace(t - dt, t + dt, 13), *self.judged)
            found = self.scan(place - step, place + step, times, [17, 17])[0]
            if found[0] <= spare:
                spare, t, place = found
            step, dt = 0.55 * step, 0.55 * dt
        return spare

    def scan(
        self, low: Floats, high: Floats, times: Floats, counts: list[int]
    ) -> list[tuple[float, float, Floats]]:
        """Return (spare, t, place) of the best place for each time, best first."""
        i, j = np.meshgrid(
            *(np.linspace(a, b, n) for a, b, n in zip(low, high, counts, strict=True)),
            indexing="ij",
        )
        i, j = i.ravel(), j.ravel()
        east, north = self.frame.to_local(*self.ground.degrees_at(i, j))
        up = map_coordinates(self.z, [i, j], order=1, mode="nearest")
        case, out = self.case, []
        for t in times:
            share = t / self.length
            away = np.hypot(
                east - self.x[0] - share * np.diff(self.x),
                north - self.y[0] - share * np.diff(self.y),
            )
            line = case.home[2] + share * (case.start[2] - case.home[2]) + self.lift_m
            ball = case.radius_at_end_m + share * (case.radius_m - case.radius_at_end_m)
            spare = np.hypot(np.maximum(away - case.corridor_m, 0.0), line - up) - ball
            k = int(np.argmin(spare))
            out.append((float(spare[k]), float(t), np.array([i[k], j[k]])))
        return sorted(out, key=lambda found: found[0])


@pytest.mark.parametrize("name", ["lakes50", "sierra30"])
def test_at_the_lift_found_the_ground_is_just_touched(
    name: str, request: pytest.FixtureRequest
) -> None:
    """Eight ways of every kind over real ground; a decimetre lower they are too near."""
    ground = Ground(request.getfixturevalue(name))
    z = ground.blocks.window((0, ground.shape[0]), (0, ground.shape[1]))
    rng = np.random.default_rng(7)
    for _ in range(8):
        case = Case.drawn(ground, rng)
        found = lift(ground, case.start, case.home, **case.how())
        assert found.is_known.all()
        assert abs(Slow(ground, z, case, float(found.lift_m[0])).least()) < ONE_CENTIMETRE
        assert Slow(ground, z, case, float(found.lift_m[0]) - 0.1).least() < 0

"""How many points are measured: enough to know every extreme, and no flood of them.

Counted, never timed. A level kilometre along a slope has its least clearance
everywhere at once, above ground, barely above it, below it and under a ceiling
counted from the closest point.
"""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

import pytest

from terrain_guard.checks.probe import Probe
from tests.checks import scenes

if TYPE_CHECKING:
    from pathlib import Path

    from tests.checks.scenes import Floats, Surface


def hillside(east: Floats, north: Floats) -> Floats:
    """Return ground that rises to the north, 30 m in 100, and swells by a centimetre."""
    return 300.0 + 0.3 * north + 0.01 * ((east // 7) % 2)


def wooded(east: Floats, north: Floats) -> Floats:
    """Return the same ground with a dense wood of 15 m on one half."""
    return hillside(east, north) + 15.0 * (east < 500)


@pytest.mark.parametrize("above_m", [60.0, 10.0, 5.0, -20.0, -150.0])
@pytest.mark.parametrize("measure", ["vertical", "closest-point"])
@pytest.mark.parametrize("over", [None, hillside, wooded])
def test_contour_flights_need_few_points(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, above_m: float, measure: str,
    over: Surface | None,
) -> None:  # fmt: skip
    """A kilometre along a slope, or in and over a wood, needs at most four points a metre."""
    counted = []
    whole = Probe.measured

    def measured(probe: Probe, points: Any, **more: Any) -> object:
        counted.append(points["position"].size)
        return whole(probe, points, **more)

    monkeypatch.setattr(Probe, "measured", measured)
    ground = scenes.model(tmp_path, hillside, cell_m=2.0, box_m=(-300, -300, 1300, 300))
    rules = scenes.rules(ceiling_m=above_m + 5.5 if above_m > 30 else 120.0)
    rules = scenes.rules(ceiling_m=rules.ceiling_m, ceiling_measure=measure)
    box = (-300, -300, 1300, 300)
    surface = over and scenes.model(tmp_path, over, cell_m=2.0, box_m=box, name="surface.tif")
    points = [(0.0, 0.0, above_m), (1000.0, 0.0, above_m)]
    found = scenes.fly(ground, points, rules, start=(0, 0), surface=surface)
    assert sum(counted) < 4 * found.length_m

"""Invented flights to draw: unrolled ground, a flown curve, and all that was found out.

Clearance is the distance to the nearest of a dense row of ground points, and states
follow from it: enough to look real, without any of the program's own checks.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from itertools import pairwise

import numpy as np
from numpy.typing import NDArray
from scipy.spatial import cKDTree

from terrain_guard.assessment import (
    Assessment,
    CanopyUsed,
    Extreme,
    Finding,
    LaunchUsed,
    LegRow,
    Limits,
    Samples,
    TerrainUsed,
)
from terrain_guard.plan.route import Launch, Place, Route, Waypoint
from terrain_guard.plan.rules import Rules
from terrain_guard.states import SEVERITY, State, worst
from tests.report import factory

Array = NDArray[np.float64]
CURVE = "fly-by/mid-arc/linear/vertical/climb-first"
RULES = Rules(
    name="Site rule", source="Operations manual 4.2", unit="m", floor_m=30.0, ceiling_m=120.0,
    origin="site.toml",
)  # fmt: skip
LAUNCH_M = 212.0
FLOOR_MARGIN_M, CEILING_MARGIN_M, COLUMN_M = 7.0, 5.0, 25.0


@dataclass(frozen=True, kw_only=True)
class Plan:
    """What a flight is made from; distances are unrolled and horizontal."""

    title: str = "Spillway and upper terraces"
    stops: Sequence[tuple[float, float, str]]  # distance, above launch, name
    end_m: float  # where it lands, on ground as high as the launch
    ground: Callable[[Array], Array]
    voids: Sequence[tuple[float, float]] = ()
    launch_known: bool = True
    step_m: float = 1.0
    rules: Rules = RULES
    terrain_file: str = "valley_ground.tif"


def hills(x: Array) -> Array:
    """Return rolling ground, 212 m at the launch, with a spur, a gully and a late ridge."""
    waves = 14.0 * np.sin(x / 190.0) + 6.0 * np.sin(x / 71.0) + 1.2 * np.sin(x / 13.0)
    spur = 79.0 * np.exp(-(((x - 820.0) / 95.0) ** 2))
    gully = -68.0 * np.exp(-(((x - 1490.0) / 70.0) ** 2))
    ridge = 33.0 * np.exp(-(((x - 2170.0) / 150.0) ** 2))
    return np.asarray(212.0 + waves + spur + gully + ridge)


def ground_under(plan: Plan, x: Array) -> Array:
    """Return the ground of `plan`, brought to launch level around launch and landing."""
    near = np.clip(np.minimum(x, plan.end_m - x) / 60.0, 0.0, 1.0)
    return np.asarray(LAUNCH_M + near * (plan.ground(x) - LAUNCH_M))


def flight(plan: Plan) -> tuple[Assessment, Limits]:
    """Return the whole answer for `plan`, and the two limiting surfaces under it."""
    x, above_launch_m, leg = _curve(plan)
    along_m = np.concatenate(([0.0], np.cumsum(np.hypot(np.diff(x), np.diff(above_launch_m)))))
    launch_m = LAUNCH_M if plan.launch_known else np.nan
    ground_m = _with_voids(plan, x, ground_under(plan, x))
    curve_m = launch_m + above_launch_m
    clearance_m = _clearance(plan, x, curve_m, ground_m)
    above_m = curve_m - ground_m
    column = (np.minimum(x, plan.end_m - x) < COLUMN_M) & ((leg == 0) | (leg == leg[-1]))
    near_void = np.isnan(_lowest(plan, x, plan.rules.floor_m))
    limits = Limits(
        lowest_allowed_m=np.where(
            column, np.nan, _lowest(plan, x, plan.rules.floor_m) + FLOOR_MARGIN_M
        ),
        highest_allowed_m=ground_m + plan.rules.ceiling_m - CEILING_MARGIN_M,
    )
    state = _states(
        plan, limits, clearance_m=clearance_m, above_m=above_m, curve_m=curve_m, column=column,
        near_void=near_void,
    )  # fmt: skip
    samples = Samples(
        along_m=along_m, time_s=along_m / 4.0, lat_deg=47.3 + x * 9e-6,
        lon_deg=np.full(len(x), -28.4), leg=leg, in_column=column,
        above_launch_m=above_launch_m, survey_shift_m=np.zeros(len(x)),
        ground_elevation_m=ground_m, surface_elevation_m=np.full(len(x), np.nan),
        above_ground_m=above_m, clearance_m=clearance_m,
        floor_margin_m=np.full(len(x), FLOOR_MARGIN_M),
        ceiling_margin_m=np.full(len(x), CEILING_MARGIN_M), state=state,
    )  # fmt: skip
    return _assessment(plan, samples, limits, launch_m), limits


def _curve(plan: Plan) -> tuple[Array, Array, NDArray[np.int64]]:
    """Fly straight up, from stop to stop, level to the end and straight down."""
    stops = [(0.0, 0.0), *((d, h) for d, h, _ in plan.stops)]
    up = stops[1][1]
    home = stops[-1][1]
    corners = [[(0.0, 0.0), (0.0, up), stops[1]]]
    corners += [[one, two] for one, two in pairwise(stops[1:])]
    corners += [[stops[-1], (plan.end_m, home), (plan.end_m, 0.0)]]
    xs, hs, legs = [], [], []
    for number, points in enumerate(corners):
        for (x0, h0), (x1, h1) in pairwise(points):
            count = max(int(np.ceil(np.hypot(x1 - x0, h1 - h0) / plan.step_m)), 1)
            xs.append(np.linspace(x0, x1, count, endpoint=False))
            hs.append(np.linspace(h0, h1, count, endpoint=False))
            legs.append(np.full(count, number))
    xs.append(np.array([plan.end_m]))
    hs.append(np.array([0.0]))
    legs.append(np.array([len(corners) - 1]))
    return np.concatenate(xs), np.concatenate(hs), np.concatenate(legs).astype(np.int64)


def _with_voids(plan: Plan, x: Array, ground_m: Array) -> Array:
    hidden = np.zeros(len(x), dtype=bool)
    for start, end in plan.voids:
        hidden |= (x >= start) & (x <= end)
    return np.where(hidden, np.nan, ground_m)


def _clearance(plan: Plan, x: Array, curve_m: Array, ground_m: Array) -> Array:
    """Return the distance to the nearest ground point, negative below ground."""
    dense = np.arange(-60.0, plan.end_m + 60.0, plan.step_m / 2.0)
    points = np.column_stack((dense, ground_under(plan, dense)))
    known = np.isfinite(_with_voids(plan, dense, points[:, 1]))
    if not known.any() or not np.isfinite(curve_m).any():
        return np.full(len(x), np.nan)
    distance = cKDTree(points[known]).query(np.column_stack((x, curve_m)))[0]
    return np.where(np.isnan(ground_m), np.nan, np.where(curve_m < ground_m, -distance, distance))


def _lowest(plan: Plan, x: Array, reach_m: float) -> Array:
    """Return the lowest elevation from which no ground is nearer than `reach_m`."""
    best = np.full(len(x), -np.inf)
    for offset in np.linspace(-reach_m, reach_m, 61):
        ground = _with_voids(plan, x + offset, ground_under(plan, x + offset))
        best = np.maximum(best, ground + np.sqrt(reach_m**2 - offset**2))
    return best


def _states(
    plan: Plan, limits: Limits, *, clearance_m: Array, above_m: Array, curve_m: Array,
    column: NDArray[np.bool_], near_void: NDArray[np.bool_],
) -> NDArray[np.int64]:  # fmt: skip
    state = np.full(len(above_m), SEVERITY.index(State.WITHIN))
    low = ~column & (curve_m < limits.lowest_allowed_m)
    state[low | (curve_m > limits.highest_allowed_m)] = SEVERITY.index(State.TIGHT)
    unknown = np.isnan(above_m) | (near_void & ~column) | np.isnan(curve_m)
    state[unknown] = SEVERITY.index(State.NOT_ASSESSED)
    breach = (~column & (clearance_m < plan.rules.floor_m)) | (above_m > plan.rules.ceiling_m)
    state[breach] = SEVERITY.index(State.BREACH)
    return state


def _assessment(plan: Plan, samples: Samples, limits: Limits, launch_m: float) -> Assessment:
    findings = _findings(plan, samples, limits, launch_m)
    states = [SEVERITY[code] for code in np.unique(samples.state)]
    steps = np.diff(samples.along_m)
    unknown = samples.state[:-1] == SEVERITY.index(State.NOT_ASSESSED)
    launch = Launch(lat_deg=47.3, lon_deg=-28.4)
    return Assessment(
        route=Route(
            title=plan.title, heights="launch", height_unit="m", launch=launch,
            home=Place(lat_deg=47.3, lon_deg=-28.4), source="route.toml", sha256="ab" * 32,
            waypoints=tuple(
                Waypoint(name=name, lat_deg=47.3 + d * 9e-6, lon_deg=-28.4, height_m=h,
                         speed_m_per_s=6.0)
                for d, h, name in plan.stops
            ),
        ),
        rules=plan.rules, verdict=worst(states), length_m=float(samples.along_m[-1]),
        assessed_m=float(steps[~unknown].sum()), floor_margin_m=FLOOR_MARGIN_M,
        ceiling_margin_m=CEILING_MARGIN_M, margin_source="the error budget",
        budget=factory.budget(),
        launch=LaunchUsed(
            lat_deg=47.3, lon_deg=-28.4, elevation_m=launch_m,
            elevation_source="elevation model" if plan.launch_known else "not known",
            spot_within_m=10.0,
        ),
        terrain=(
            TerrainUsed(
                file=plan.terrain_file, size_bytes=123456, used_hash="0123456789abcdef" * 4,
                crs="EPSG:32626", cell_m=(2.0, 2.0), kind="ground",
                vertical_datum="EGM2008 height", vertical_unit="metre", registration="area",
                void_share_read=0.0,
            ),
        ),
        curves=(CURVE,), legs=_legs(plan, samples), findings=findings, cautions=(),
        not_checked=(), assumed=(), terrain_to_get=None, samples=samples,
        canopy=CanopyUsed(height_m=0.0, source="--canopy"),
    )  # fmt: skip


def _extreme(samples: Samples, values: Array, index: int, margin_m: float) -> Extreme:
    return Extreme(
        nominal_m=float(values[index]), assured_m=float(values[index]) + margin_m,
        along_m=float(samples.along_m[index]), lat_deg=float(samples.lat_deg[index]),
        lon_deg=-28.4, curve=CURVE,
    )  # fmt: skip


def _legs(plan: Plan, samples: Samples) -> tuple[LegRow, ...]:
    names = ["launch", *(name for _, _, name in plan.stops), "launch"]
    heights = [0.0, *(height for _, height, _ in plan.stops), 0.0]
    rows = []
    for number in range(len(names) - 1):
        own = np.flatnonzero(samples.leg == number)
        last = min(own[-1] + 1, len(samples.along_m) - 1)
        start, end = float(samples.along_m[own[0]]), float(samples.along_m[last])
        above, clear = samples.above_ground_m, samples.clearance_m
        known = own[np.isfinite(above[own])]
        pick = (
            {
                "above_ground_min": _extreme(samples, above, known[np.argmin(above[known])], -7.0),
                "above_ground_max": _extreme(samples, above, known[np.argmax(above[known])], 5.0),
                "clearance_min": _extreme(samples, clear, known[np.argmin(clear[known])], -7.0),
                "clearance_max": _extreme(samples, clear, known[np.argmax(clear[known])], 5.0),
            }
            if len(known)
            else dict.fromkeys(
                ("above_ground_min", "above_ground_max", "clearance_min", "clearance_max")
            )
        )
        rows.append(
            LegRow(
                leg=number, start=names[number], end=names[number + 1], length_m=end - start,
                typed_length_m=end - start, typed_start_m=heights[number],
                typed_end_m=heights[number + 1], from_m=start, to_m=end,
                state=worst(SEVERITY[code] for code in samples.state[own]), **pick,
            )
        )  # fmt: skip
    return tuple(rows)


def _findings(plan: Plan, samples: Samples, limits: Limits, launch_m: float) -> tuple[Finding, ...]:
    """Return each run of each limit, by state, as the program's contract says."""
    rules, curve_m = plan.rules, launch_m + samples.above_launch_m
    applies = np.isfinite(limits.lowest_allowed_m)
    low, high = samples.clearance_m, samples.above_ground_m
    sunk, over = applies & (low < rules.floor_m), high > rules.ceiling_m
    near = applies & (curve_m < limits.lowest_allowed_m) & ~sunk
    close = (curve_m > limits.highest_allowed_m) & ~over
    unknown = samples.state == SEVERITY.index(State.NOT_ASSESSED)
    sunk_in = low <= np.where(applies, 0, -1)
    nothing = np.full(len(low), np.nan)
    breach, tight = State.BREACH, State.TIGHT
    found = [
        *_runs(samples, sunk & (low > 0), low, kind="floor", state=breach, sign=-1),
        *_runs(samples, sunk_in, high, kind="underground", state=breach, sign=-1),
        *_runs(samples, near, low, kind="floor", state=tight, sign=-1),
        *_runs(samples, over, high, kind="ceiling", state=breach, sign=1),
        *_runs(samples, close, high, kind="ceiling", state=tight, sign=1),
        *_runs(samples, unknown, nothing, kind="not-assessed", state=State.NOT_ASSESSED, sign=1),
    ]
    return tuple(sorted(found, key=lambda one: one.from_m))


def _runs(
    samples: Samples,
    wanted: NDArray[np.bool_],
    values: Array,
    *,
    kind: str,
    state: State,
    sign: int,
) -> list[Finding]:
    edges = np.flatnonzero(np.diff(np.concatenate(([0], wanted.astype(int), [0]))))
    found = []
    for first, after in edges.reshape(-1, 2):
        part = values[first:after]
        at = first if np.isnan(part).all() else first + int(np.nanargmax(sign * part))
        last = min(after, len(values) - 1)
        found.append(
            Finding(
                kind=kind, state=state, leg=int(samples.leg[at]),
                from_m=float(samples.along_m[first]), to_m=float(samples.along_m[last]),
                worst_m=float(values[at]), at_m=float(samples.along_m[at]),
                time_s=float(samples.time_s[at]), lat_deg=float(samples.lat_deg[at]),
                lon_deg=-28.4, curve=CURVE, message=f"{kind} fails here",
            )
        )  # fmt: skip
    return found


def briefing() -> Plan:
    """Return the flight that has everything: breaches, tight stretches, a gap, a climb-out."""
    return Plan(
        stops=[
            (70.0, 62.0, "gate"), (420.0, 70.0, "2"), (760.0, 88.0, "spur foot"),
            (980.0, 92.0, "spillway"), (1300.0, 70.0, "waypoint 5"), (1640.0, 88.0, "weir"),
            (1990.0, 72.0, "upper terrace"), (2330.0, 66.0, "8"),
        ],
        end_m=2700.0, ground=hills, voids=[(1095.0, 1150.0), (1789.0, 1791.0)],
    )  # fmt: skip

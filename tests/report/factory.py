"""Assessments made by hand: round numbers, every state, no terrain and no computing."""

from __future__ import annotations

import math
from dataclasses import replace
from typing import Any

import numpy as np

from terrain_guard.assessment import (
    Assessment,
    BudgetPlace,
    BudgetRow,
    BudgetUsed,
    CanopyUsed,
    Extreme,
    Finding,
    LaunchUsed,
    LegRow,
    Samples,
    TerrainUsed,
)
from terrain_guard.plan.route import Launch, Place, Route, Waypoint
from terrain_guard.plan.rules import Rules
from terrain_guard.states import SEVERITY, State

NAN = math.nan
CURVE = "fly-by/mid-arc/linear/vertical/climb-first"
RULES = Rules(
    name="Site rule", source="Operations manual 4.2", unit="m", floor_m=30.0, ceiling_m=120.0
)


def rules(**changes: Any) -> Rules:
    """Return the site rule, changed as asked."""
    return replace(RULES, **changes)


def extreme(nominal_m: float, assured_m: float, along_m: float) -> Extreme:
    """Return an extreme at a place that follows from `along_m`."""
    return Extreme(
        nominal_m=nominal_m,
        assured_m=assured_m,
        along_m=along_m,
        lat_deg=47.3 + along_m * 1e-5,
        lon_deg=-28.4,
        curve=CURVE,
    )


def leg(
    number: int, start: str, end: str, *, state: State = State.WITHIN, **changes: Any
) -> LegRow:
    """Return a row whose heights are far from both limits unless told otherwise."""
    from_m = 100.0 * number
    row = LegRow(
        leg=number,
        start=start,
        end=end,
        length_m=100.0,
        typed_length_m=100.0,
        typed_start_m=80.0,
        typed_end_m=80.0,
        from_m=from_m,
        to_m=from_m + 100.0,
        state=state,
        above_ground_min=extreme(60.0, 53.0, from_m + 10.0),
        above_ground_max=extreme(90.0, 95.0, from_m + 90.0),
        clearance_min=extreme(55.0, 48.0, from_m + 12.0),
        clearance_max=extreme(85.0, 90.0, from_m + 90.0),
    )
    return replace(row, **changes)


def finding(kind: str, state: State, from_m: float, to_m: float, **changes: Any) -> Finding:
    """Return a finding whose worst metre is midway."""
    at_m = (from_m + to_m) / 2
    one = Finding(
        kind=kind,
        state=state,
        leg=int(at_m // 100),
        from_m=from_m,
        to_m=to_m,
        worst_m=20.0,
        at_m=at_m,
        time_s=at_m / 4.0,
        lat_deg=47.3 + at_m * 1e-5,
        lon_deg=-28.4,
        curve=CURVE,
        message=f"message of the {kind} at {at_m:.0f}",
    )
    return replace(one, **changes)


def samples() -> Samples:
    """Return four samples, of which the third lies over missing ground."""
    return Samples(
        along_m=np.array([0.0, 1.0, 2.0, 3.0]),
        time_s=np.array([0.0, 0.25, 0.5, 0.75]),
        lat_deg=np.array([47.3, 47.31234567891, 47.4, 47.5]),
        lon_deg=np.array([-28.4, -28.40000000049, -28.3, -28.2]),
        leg=np.array([0, 0, 1, 1]),
        in_column=np.array([True, True, False, False]),
        above_launch_m=np.array([0.0, 1.0, 2.0, 3.0]),
        survey_shift_m=np.zeros(4),
        ground_elevation_m=np.array([212.0, 212.5, NAN, 213.1]),
        surface_elevation_m=np.full(4, NAN),
        above_ground_m=np.array([0.0, 0.5, NAN, 1.9]),
        clearance_m=np.array([0.0, 0.5, NAN, 1.8]),
        floor_margin_m=np.full(4, 7.0),
        ceiling_margin_m=np.full(4, 5.0),
        state=np.array(
            [
                SEVERITY.index(State.WITHIN),
                SEVERITY.index(State.TIGHT),
                SEVERITY.index(State.NOT_ASSESSED),
                SEVERITY.index(State.BREACH),
            ]
        ),
    )


def route() -> Route:
    """Return a route of two points above an invented island."""
    return Route(
        title="Spillway and upper terraces",
        heights="launch",
        height_unit="m",
        launch=Launch(lat_deg=47.3, lon_deg=-28.4),
        home=Place(lat_deg=47.3, lon_deg=-28.4),
        waypoints=(
            Waypoint(name="gate", lat_deg=47.301, lon_deg=-28.4, height_m=80.0, speed_m_per_s=6.0),
            Waypoint(name="spur", lat_deg=47.302, lon_deg=-28.4, height_m=80.0, speed_m_per_s=6.0),
        ),
        source="same_height.toml",
        sha256="ab" * 32,
    )


def budget_row(name: str, what: str, floor_m: float, ceiling_m: float, **more: Any) -> BudgetRow:
    """Return a row of a budget, its square worked out where it is random."""
    blank = BudgetRow(
        name=name, what=what, floor_m=floor_m, ceiling_m=ceiling_m, scope="",
        squared_m2=floor_m**2 if what == "random" else None, is_assumed=False, source="", remedy="",
    )  # fmt: skip
    return replace(blank, **more)


def budget_rows() -> tuple[BudgetRow, ...]:
    """Return a budget that adds up in one's head: 0.6² + 0.8² = 1; 2·1 + 5 = 7; 1·1 + 4 = 5."""
    return (
        budget_row("elevation model", "random", 0.6, 0.6, scope="local", is_assumed=True,
                   source="airborne lidar", remedy="a better elevation model"),
        budget_row("pressure drift", "random", 0.8, 0.8, scope="whole flight",
                   source="0.1 hPa", remedy="set the zero again shortly before"),
        budget_row("sum of squares", "sum of squares", 1.0, 1.0),
        budget_row("sigma", "sigma", 1.0, 1.0),
        budget_row("k sigma", "k sigma", 2.0, 1.0, source="floor k = 2; ceiling k = 1"),
        budget_row("clipped crest", "one-sided bound", 2.0, 0.0, scope="local",
                   source="cells as stated", remedy="a model of smaller cells"),
        budget_row("filled gully", "one-sided bound", 0.0, 1.0, scope="local",
                   source="cells as stated", remedy="a model of smaller cells"),
        budget_row("growth", "one-sided bound", 3.0, 0.0, scope="local",
                   source="five years", remedy="a newer survey"),
        budget_row("snow", "one-sided bound", 0.0, 0.0, scope="local", source="as stated"),
        budget_row("launch offset", "one-sided bound", 0.0, 3.0, scope="whole flight",
                   is_assumed=True, source="common practice, no source",
                   remedy="state launch.offset_m"),
        budget_row("sum of bounds", "sum of bounds", 5.0, 4.0),
        budget_row("margin", "margin", 7.0, 5.0),
    )  # fmt: skip


def budget_place(side: str, leg: int, **changes: Any) -> BudgetPlace:
    """Return a metre 80 m above the launch: 60 m above its ground (floor), or 90 m (ceiling)."""
    is_floor = side == "floor"
    along_m = 100.0 * leg + (12.0 if is_floor else 90.0)
    place = BudgetPlace(
        side=side, leg=leg, along_m=along_m, lat_deg=47.3 + along_m * 1e-5, lon_deg=-28.4,
        launch_elevation_m=212.0, above_launch_m=80.0, survey_shift_m=0.0,
        ground_elevation_m=232.0 if is_floor else 202.0,
        above_ground_m=60.0 if is_floor else 90.0,
        computed_m=55.0 if is_floor else 90.0, margin_m=7.0 if is_floor else 5.0,
        assured_m=48.5 if is_floor else 95.0, limit_m=30.0 if is_floor else 120.0,
        rows=budget_rows(), largest="growth" if is_floor else "launch offset",
        better=("with heights from satellites with corrections: 7.0 → 3.5 m",) if is_floor else (),
        flight_sigma_m=0.8, local_sigma_m=0.6,
    )  # fmt: skip
    return replace(place, **changes)


def budget(**changes: Any) -> BudgetUsed:
    """Return what margins of 7 m (floor) and 5 m (ceiling) are made of."""
    floor, ceiling = budget_place("floor", 1), budget_place("ceiling", 2)
    used = BudgetUsed(
        words="airborne lidar, heights from barometer", floor_k=2.0, ceiling_k=1.0,
        floor_is_fixed=False, ceiling_is_fixed=False, floor=floor, ceiling=ceiling,
        places=(floor, ceiling), band_m=78.0, corridor_m=4.0,
        floor_chance=0.0084, ceiling_chance=0.12,
    )  # fmt: skip
    return replace(used, **changes)


def within(**changes: Any) -> Assessment:
    """Return an assessment without a finding."""
    whole = Assessment(
        route=route(),
        rules=RULES,
        verdict=State.WITHIN,
        length_m=300.0,
        assessed_m=300.0,
        floor_margin_m=7.0,
        ceiling_margin_m=5.0,
        margin_source="the error budget",
        budget=budget(),
        launch=LaunchUsed(
            lat_deg=47.3,
            lon_deg=-28.4,
            elevation_m=212.0,
            elevation_source="elevation model",
            spot_within_m=10.0,
        ),
        terrain=(
            TerrainUsed(
                file="valley_ground.tif",
                size_bytes=123456,
                used_hash="0123456789abcdef" * 4,
                crs="EPSG:32626",
                cell_m=(2.0, 2.0),
                kind="ground",
                vertical_datum="EGM2008 height",
                vertical_unit="metre",
                registration="area",
                void_share_read=0.0,
            ),
        ),
        curves=(CURVE,),
        legs=(leg(0, "launch", "gate"), leg(1, "gate", "spur"), leg(2, "spur", "home")),
        findings=(),
        cautions=(),
        not_checked=("the way home from every metre",),
        assumed=("bank 25 degrees",),
        terrain_to_get=None,
        samples=samples(),
        canopy=CanopyUsed(height_m=0.0, source="--canopy"),
    )
    return replace(whole, **changes)


def replaced_terrain(**changes: Any) -> Assessment:
    """Return an assessment over a changed elevation model."""
    whole = within()
    return replace(whole, terrain=(replace(whole.terrain[0], **changes),))


def tight(**changes: Any) -> Assessment:
    """Return an assessment whose margin is used up on leg 1."""
    row = leg(1, "gate", "spur", state=State.TIGHT, clearance_min=extreme(31.0, 24.0, 150.0))
    legs = (leg(0, "launch", "gate"), row, leg(2, "spur", "home"))
    found = finding("floor", State.TIGHT, 140.0, 160.0, worst_m=31.0)
    return replace(within(verdict=State.TIGHT, legs=legs, findings=(found,)), **changes)


def breach(**changes: Any) -> Assessment:
    """Return a floor breach with two tight shoulders, and a ceiling breach on another leg."""
    legs = (
        leg(0, "launch", "gate"),
        leg(1, "gate", "spur", state=State.BREACH, clearance_min=extreme(29.96, 22.9, 150.0)),
        leg(2, "spur", "home", state=State.BREACH, above_ground_max=extreme(120.04, 125.04, 250.0)),
    )
    found = (
        finding("floor", State.TIGHT, 120.0, 140.0, worst_m=30.0),
        finding("floor", State.BREACH, 140.0, 160.0, worst_m=29.96),
        finding("floor", State.TIGHT, 160.0, 190.5, worst_m=30.0),
        finding("ceiling", State.BREACH, 240.2, 260.7, worst_m=120.04),
    )
    return replace(within(verdict=State.BREACH, legs=legs, findings=found), **changes)


def not_assessed(**changes: Any) -> Assessment:
    """Return an assessment with a hole on leg 1 and no ground at all on leg 2."""
    nothing = {
        "above_ground_min": None,
        "above_ground_max": None,
        "clearance_min": None,
        "clearance_max": None,
    }
    unknown = extreme(NAN, NAN, NAN)
    legs = (
        leg(0, "launch", "gate"),
        leg(1, "gate", "spur", state=State.NOT_ASSESSED, clearance_min=unknown),
        leg(2, "spur", "home", state=State.NOT_ASSESSED, **nothing),
    )
    found = (
        finding("not-assessed", State.NOT_ASSESSED, 140.0, 160.0, worst_m=NAN),
        finding("not-assessed", State.NOT_ASSESSED, 200.0, 300.0, worst_m=NAN, time_s=NAN),
    )
    whole = within(
        verdict=State.NOT_ASSESSED,
        assessed_m=180.0,
        legs=legs,
        findings=found,
        terrain_to_get="47.30 N to 47.31 N, 28.41 W to 28.39 W",
    )
    return replace(whole, **changes)


EVERY = (within, tight, breach, not_assessed)

"""Assessments made by hand: round numbers, every state, no terrain and no computing."""

from __future__ import annotations

import math
from dataclasses import replace
from typing import Any

import numpy as np

from terrain_guard.assessment import (
    Assessment,
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
        ground_elevation_m=np.array([212.0, 212.5, NAN, 213.1]),
        surface_elevation_m=np.full(4, NAN),
        above_ground_m=np.array([0.0, 0.5, NAN, 1.9]),
        clearance_m=np.array([0.0, 0.5, NAN, 1.8]),
        floor_margin_m=np.full(4, 7.0),
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
        margin_source="flat margin",
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

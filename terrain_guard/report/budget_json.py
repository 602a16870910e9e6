"""What the margins are made of, as JSON holds it: part of `assessment_json`."""

from __future__ import annotations

import math
from typing import TYPE_CHECKING, Any

if TYPE_CHECKING:
    from terrain_guard.assessment import BudgetPlace, BudgetRow, BudgetUsed


def number(value: float | None) -> float | None:
    """Return a number that JSON can hold; None for what is not finite."""
    if value is None or not math.isfinite(value):
        return None
    return float(value)


def as_dict(used: BudgetUsed) -> dict[str, Any]:
    """Return the budget as plain dictionaries, lists, strings and numbers."""
    return {
        "words": used.words,
        "floor_k": number(used.floor_k),
        "ceiling_k": number(used.ceiling_k),
        "floor_is_fixed": used.floor_is_fixed,
        "ceiling_is_fixed": used.ceiling_is_fixed,
        "corridor_m": number(used.corridor_m),
        "band_m": number(used.band_m),
        "floor_chance": number(used.floor_chance),
        "ceiling_chance": number(used.ceiling_chance),
        "floor": _place(used.floor),
        "ceiling": _place(used.ceiling),
    }


def _place(place: BudgetPlace | None) -> dict[str, Any] | None:
    if place is None:
        return None
    return {
        "leg": int(place.leg),
        "along_m": number(place.along_m),
        "lat": number(place.lat_deg),
        "lon": number(place.lon_deg),
        "launch_elevation_m": number(place.launch_elevation_m),
        "above_launch_m": number(place.above_launch_m),
        "survey_shift_m": number(place.survey_shift_m),
        "ground_elevation_m": number(place.ground_elevation_m),
        "above_ground_m": number(place.above_ground_m),
        "computed_m": number(place.computed_m),
        "margin_m": number(place.margin_m),
        "assured_m": number(place.assured_m),
        "limit_m": number(place.limit_m),
        "largest": place.largest,
        "better": list(place.better),
        "flight_sigma_m": number(place.flight_sigma_m),
        "local_sigma_m": number(place.local_sigma_m),
        "rows": [_row(one) for one in place.rows],
    }


def _row(one: BudgetRow) -> dict[str, Any]:
    return {
        "name": one.name,
        "what": one.what,
        "floor_m": number(one.floor_m),
        "ceiling_m": number(one.ceiling_m),
        "squared_m2": number(one.squared_m2),
        "scope": one.scope,
        "assumed": one.is_assumed,
        "source": one.source,
        "remedy": one.remedy,
    }

"""What the error budget of one flight over one ground rests on: from route, rules and cards."""

from __future__ import annotations

from datetime import date

import numpy as np

from terrain_guard.checks.budget.classes import (
    GROWTH_M_PER_YEAR,
    UNSTATED_SURVEY,
    height_source,
    terrain_class,
)
from terrain_guard.checks.budget.setting import CEILING_K, FLOOR_K, Setting
from terrain_guard.checks.models import Models
from terrain_guard.ground.card import first_day
from terrain_guard.ground.model import Ground
from terrain_guard.plan.route import Route
from terrain_guard.plan.rules import Rules

DAYS_A_YEAR = 365.25


def flight_setting(
    ground: Ground, *, route: Route, rules: Rules, models: Models, today: date
) -> Setting:
    """Return what the budget rests on; `ground` is one of the models' grounds."""
    cell_m = max(one.coarsest_cell_m for one in (ground, models.surface) if one is not None)
    launch = route.launch
    stated = launch.elevation_m is not None
    survey_m = launch.elevation_accuracy_m if stated else None
    known = bool(np.isfinite(ground.elevation(launch.lon_deg, launch.lat_deg)[0]))
    speed = max(waypoint.speed_m_per_s for waypoint in route.waypoints) + route.wind_m_per_s
    return Setting(
        terrain=terrain_class(cell_m),
        source=height_source(route.aircraft.height_from),
        cell_m=cell_m,
        floor_k=FLOOR_K if rules.floor_k is None else rules.floor_k,
        ceiling_k=CEILING_K if rules.ceiling_k is None else rules.ceiling_k,
        sigma_m=ground.sigma_m,
        survey_sigma_m=(survey_m or UNSTATED_SURVEY.value) if stated else None,
        # Where a surface alone shows the launch, a survey replaces it: see `surveyed`.
        launch_on_model=known and not (stated and models.is_surface_alone),
        temperature_c=route.conditions.temperature_c,
        airspeed_m_per_s=speed,
        age_years=_age_years(models, today),
        growth_m_per_year=GROWTH_M_PER_YEAR.value,
        snow_m=route.conditions.snow_m or 0.0,
        wind_m_per_s=route.wind_m_per_s,
        trend_hpa_per_h=route.conditions.pressure_trend_hpa_per_h or 0.0,
    )


def _age_years(models: Models, today: date) -> float:
    """Return how long trees have grown since the surface model; 0 where that is not known."""
    surface = models.surface
    if surface is None or surface.survey_date is None:
        return 0.0
    return max(0.0, (today - first_day(surface.survey_date)).days / DAYS_A_YEAR)

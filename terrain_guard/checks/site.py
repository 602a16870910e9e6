"""A flight over its models, found out once: where it launches, how it flies, what it flies over."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date

from terrain_guard.assessment import CanopyUsed, LaunchUsed, Samples
from terrain_guard.checks.air_remarks import assumed_of_air
from terrain_guard.checks.coverage import refuse_elsewhere, refuse_too_far_apart
from terrain_guard.checks.flight_setting import flight_setting
from terrain_guard.checks.launching import (
    above_launch,
    altimeter,
    launch_ground,
    spot_ground_m,
)
from terrain_guard.checks.models import Models
from terrain_guard.checks.near_route import Scene
from terrain_guard.checks.sea_level import sea_level_ceiling
from terrain_guard.checks.surveyed import Survey
from terrain_guard.checks.views import View, Viewer
from terrain_guard.path.flight import Flight, fly
from terrain_guard.plan.route import Route
from terrain_guard.plan.rules import Rules

LARGEST_STEP_M = 1.0
"""The samples stand no further apart; over a finer model, no further than its cells are wide."""


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Site:
    """A flight over its models: what the checks need, found out once."""

    route: Route
    rules: Rules
    models: Models
    flight: Flight
    launch: LaunchUsed
    canopy: CanopyUsed
    viewer: Viewer
    first: View
    second: View | None
    waypoint_heights_m: tuple[float, ...]
    assumed: tuple[str, ...]

    @classmethod
    def over(
        cls, route: Route, models: Models, rules: Rules, canopy_m: float | None, today: date
    ) -> Site:
        """Return the route flown over the models; refuse a route that cannot be."""
        refuse_too_far_apart(route)
        ground = models.ground
        canopy = models.canopy(canopy_m, launch_is_stated=route.launch.elevation_m is not None)
        setting = flight_setting(ground, route=route, rules=rules, models=models, today=today)
        survey = Survey.of(route.launch, ground, setting)
        launch = launch_ground(
            route, ground, canopy_m=canopy.height_m if models.is_surface_alone else 0.0,
            source="surface model" if models.is_surface_alone else "terrain model", survey=survey,
        )  # fmt: skip
        heights, tied = above_launch(route, ground, launch, survey)
        finest_m = min(model.finest_cell_m for model in models.every.values())
        flight = fly(
            route,
            heights,
            spot_ground_m=spot_ground_m(route, ground, launch, survey),
            step_m=min(LARGEST_STEP_M, finest_m),
            cut_spacing_m=finest_m,
            altimeter=altimeter(route, launch.elevation_m),
        )
        for model in models.every.values():
            refuse_elsewhere(route, model, flight)
        tied += assumed_of_air(route, launch.elevation_m)
        tied += sea_level_ceiling(rules, ground)
        if models.is_surface_alone and route.heights == "ground":
            tied += (f"heights = 'ground': counted from the surface model {ground.name}",)
        viewer = Viewer(
            route=route,
            rules=rules,
            models=models,
            flight=flight,
            canopy=canopy,
            launch=launch,
            today=today,
        )
        return cls(
            route=route, rules=rules, models=models, flight=flight, launch=launch, canopy=canopy,
            viewer=viewer, first=viewer.first(), second=viewer.second(),
            waypoint_heights_m=tuple(heights), assumed=route.assumed + tied,
        )  # fmt: skip

    def scene(self, samples: Samples) -> Scene:
        """Return what cautions go by."""
        return Scene(
            route=self.route, models=self.models, flight=self.flight, launch=self.launch,
            typed_m=self.waypoint_heights_m, samples=samples, survey=self.first.beneath.survey,
        )  # fmt: skip

    @property
    def views(self) -> list[View]:
        """The first, and the second if there is one."""
        return [self.first] if self.second is None else [self.first, self.second]

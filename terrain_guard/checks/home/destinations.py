"""Where ways home may lead: home, and to the pilot where it is not stated which."""

from __future__ import annotations

from dataclasses import dataclass

from terrain_guard.checks.beneath import Beneath
from terrain_guard.checks.column import COLUMN_RADIUS_M, column_state
from terrain_guard.checks.launching import deck_m
from terrain_guard.plan.route import Place, Route


@dataclass(frozen=True, slots=True, kw_only=True)
class Destination:
    """A spot to come home to."""

    name: str  # launch | home | pilot
    lon_deg: float
    lat_deg: float

    @property
    def place_deg(self) -> tuple[float, float]:
        """Longitude and latitude."""
        return self.lon_deg, self.lat_deg


def destinations(route: Route) -> tuple[Destination, ...]:
    """Return home; and the pilot, who stands elsewhere, where nothing says that home is not there.

    Some aircraft come home to whoever holds the controls (common practice, no source).
    """
    launch = Place(lat_deg=route.launch.lat_deg, lon_deg=route.launch.lon_deg)
    moved = route.home != launch
    found = [("home" if moved else "launch", route.home)]
    if not moved and route.pilot is not None and route.pilot != launch:
        found.append(("pilot", route.pilot))
    return tuple(
        Destination(name=name, lon_deg=place.lon_deg, lat_deg=place.lat_deg)
        for name, place in found
    )


def column_radius_m(route: Route) -> float:
    """Return how near to a spot its column replaces the floor."""
    return COLUMN_RADIUS_M + route.launch.spot_within_m


def spot_code(beneath: Beneath, route: Route, destination: Destination) -> int:
    """Return the state of the landing column over a spot, as an index into `SEVERITY`."""
    at_launch = destination.name == "launch"
    deck = deck_m(route) if at_launch else 0.0
    here = float(beneath.ground.elevation(*destination.place_deg)[0])
    standing = beneath.launch_elevation_m + deck if at_launch else here
    return column_state(
        beneath.ground, beneath.surface, destination.place_deg,
        radius_m=column_radius_m(route), standing_m=standing, deck_m=deck,
    ).code  # fmt: skip

"""Where else the pilot might stand, to see more of the flight.

Places on rings round the pilot are tried, against the flight's own samples twenty metres apart.
That is a search, not a measurement: what the best of them really see is worked out by giving
them as the pilot's place.
"""

from __future__ import annotations

from typing import Final

import numpy as np

from terrain_guard.arrays import Floats
from terrain_guard.assessment import StandingPlace
from terrain_guard.checks.beneath import Beneath
from terrain_guard.checks.sight.watching import EYE_M, Targets
from terrain_guard.path.frame import LocalFrame
from terrain_guard.plan.route import Place

RADII_M: Final = (30.0, 60.0, 100.0)
BEARINGS: Final = 8
APART_M: Final = 20.0
MOST: Final = 3


def standing_places(
    beneath: Beneath, pilot: Place, targets: Targets, along_m: Floats, *, hidden_m: float
) -> tuple[StandingPlace, ...]:
    """Return the best places within 100 m, those that see more than the pilot does; may be none.

    Parameters
    ----------
    targets : Targets
        Where the aircraft is at samples (n,) of the reference.
    along_m : (n,) float
        Metres along it.
    hidden_m : float
        How much of it is hidden from where the pilot stands.
    """
    few = np.unique(np.searchsorted(along_m, np.arange(0.0, along_m[-1], APART_M)))
    step = np.diff(along_m[few], append=along_m[-1])
    frame = LocalFrame(lon_deg=pilot.lon_deg, lat_deg=pilot.lat_deg)
    found = []
    for away in RADII_M:
        for bearing in np.arange(BEARINGS) * 360.0 / BEARINGS:
            turn = np.radians(bearing)
            lon, lat = (
                float(values[0])
                for values in frame.to_degrees([away * np.sin(turn)], [away * np.cos(turn)])
            )
            margin = _margins(beneath, (lon, lat), targets, few)
            if margin is None or np.isnan(margin).any():
                continue
            lost = float(step[margin < 0].sum())
            if lost < hidden_m - APART_M:
                found.append(
                    StandingPlace(
                        lat_deg=lat, lon_deg=lon, away_m=away, bearing_deg=float(bearing),
                        hidden_m=lost, least_m=float(margin.min()),
                    )
                )  # fmt: skip
    found.sort(key=lambda place: (place.hidden_m, place.away_m, -place.least_m))
    return tuple(found[:MOST])


def _margins(
    beneath: Beneath, place_deg: tuple[float, float], targets: Targets, few: np.ndarray
) -> Floats | None:
    eye_m = float(beneath.ground.elevation(*place_deg)[0]) + EYE_M
    if np.isnan(eye_m):
        return None
    margin = np.full(few.size, np.inf)
    for model in beneath.models.values():
        rays = model.rays(
            *place_deg, to_lon_deg=targets.lon_deg[few], to_lat_deg=targets.lat_deg[few]
        )
        margin = np.minimum(margin, rays.sight(eye_m, targets.elevation_m[few]).margin_m)
    return margin

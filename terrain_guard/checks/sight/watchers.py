"""Who watches a flight, and what each of them loses sight of."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from terrain_guard.arrays import Bools, Floats, Ints
from terrain_guard.assessment import Link, Watcher
from terrain_guard.checks.home.begun import Begun
from terrain_guard.checks.home.told import shares, spans
from terrain_guard.checks.judge import BREACH, WITHIN
from terrain_guard.checks.near_route import greatest
from terrain_guard.checks.sight.radio import knife_edge_loss_db, nu_of
from terrain_guard.checks.sight.seen import attitude_distance_m, detection_distance_m
from terrain_guard.checks.sight.watching import (
    ANTENNA_M,
    EYE_M,
    UNSTATED_GHZ,
    Linked,
    Seen,
)
from terrain_guard.plan.keys import number_text
from terrain_guard.plan.route import Place, Route


@dataclass(frozen=True, slots=True, kw_only=True)
class SightLimit:
    """How far off an aircraft is still seen, slant; None: nobody says."""

    limit_m: float | None
    source: str


def watching(route: Route) -> dict[str, Place]:
    """Return who watches, the pilot first, and where each stands."""
    launch = Place(lat_deg=route.launch.lat_deg, lon_deg=route.launch.lon_deg)
    observers = {f"observer {n}": place for n, place in enumerate(route.observers, start=1)}
    return {"pilot": route.pilot or launch, **observers}


def sight_limit(route: Route) -> SightLimit:
    """Return the stated limit, else the EASA guideline's for the aircraft's size."""
    aircraft, visibility_m = route.aircraft, route.conditions.visibility_m
    detection = np.inf if visibility_m is None else float(detection_distance_m(visibility_m))
    if aircraft.seen_within_m is not None:
        limit, source = aircraft.seen_within_m, "aircraft.seen_within_m"
    elif aircraft.size_m is not None:
        limit = float(attitude_distance_m(aircraft.size_m, aircraft.kind))
        source = f"EASA guideline for a {aircraft.kind} of {number_text(aircraft.size_m)} m"
    elif visibility_m is None:
        return SightLimit(limit_m=None, source="aircraft.size_m, aircraft.seen_within_m")
    else:
        limit, source = np.inf, ""
    if detection < limit:
        limit, source = detection, "EASA guideline: 0.3 of the ground visibility"
    return SightLimit(limit_m=float(limit), source=source)


def watcher(who: str, place: Place, seen: Seen, begun: Begun, limit: SightLimit) -> Watcher:
    """Say what one of them sees; numbers are the worst of every way flown."""
    codes = begun.onto_reference(seen.code)
    worst = greatest(-seen.margin_m)
    farthest = greatest(seen.slant_m)
    beyond = np.zeros(begun.reference, dtype=np.int64)
    if limit.limit_m is not None:
        far = np.where(seen.slant_m <= limit.limit_m, WITHIN, BREACH)
        beyond = begun.onto_reference(far)
    return Watcher(
        who=who,
        lat_deg=place.lat_deg,
        lon_deg=place.lon_deg,
        eye_m=EYE_M,
        shares=shares(codes, begun.samples),
        lost=spans(codes == BREACH, begun.samples),
        least_m=_at(seen.margin_m, worst),
        least_assured_m=float(np.fmin.reduce(seen.assured_m, initial=np.inf)),
        least_at_m=_at(begun.along_m, worst),
        least_at_s=_at(begun.time_s, worst),
        hidden_far_m=_at(seen.far_m, worst),
        hidden_lat_deg=_at(seen.lat_deg, worst),
        hidden_lon_deg=_at(seen.lon_deg, worst),
        farthest_m=_at(seen.slant_m, farthest),
        farthest_at_m=_at(begun.along_m, farthest),
        limit_m=limit.limit_m,
        limit_source=limit.source,
        beyond=spans(beyond == BREACH, begun.samples),
    )


def sight_codes(seen: Seen, limit: SightLimit) -> Ints:
    """Return the states of places begun at: hidden, or too far off, is a breach."""
    if limit.limit_m is None:
        return seen.code
    return np.where(seen.slant_m <= limit.limit_m, seen.code, BREACH)


def nobody_sees(seen: list[Seen], begun: Begun) -> Bools:
    """Return where along the reference nobody sees it, or nobody knows."""
    best = np.min([begun.onto_reference(one.code) for one in seen], axis=0)
    return best == BREACH


def link_told(linked: Linked, route: Route, begun: Begun) -> Link:
    """Say where ground stands in the link's line; the worst of every way flown."""
    codes = begun.onto_reference(linked.code)
    worst = greatest(-linked.radii)
    ghz = route.aircraft.radio_ghz
    least = _at(linked.radii, worst)
    return Link(
        ghz=UNSTATED_GHZ if ghz is None else ghz,
        is_assumed=ghz is None,
        antenna_m=ANTENNA_M,
        shares=shares(codes, begun.samples),
        blocked=spans(codes == BREACH, begun.samples),
        least_ratio=least,
        least_at_m=_at(begun.along_m, worst),
        least_at_s=_at(begun.time_s, worst),
        loss_db=float(knife_edge_loss_db(nu_of(least))) if worst is not None else np.nan,
        far_m=_at(linked.far_m, worst),
        lat_deg=_at(linked.lat_deg, worst),
        lon_deg=_at(linked.lon_deg, worst),
    )


def _at(values: Floats, index: int | None) -> float:
    return float("nan") if index is None else float(values[index])

"""The way home, sight and link as JSON; keys end in their unit, null where not known."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

from terrain_guard.report.budget_json import number

if TYPE_CHECKING:
    from terrain_guard.assessment import (
        ComingHome,
        GroundInTheWay,
        LegHome,
        Link,
        LossAction,
        ReturnHeight,
        Shares,
        Span,
        StandingPlace,
        Watcher,
        WayHome,
    )


def as_dict(home: ComingHome | None) -> dict[str, Any] | None:
    """Return what was found out about coming home; None where nothing could be."""
    if home is None:
        return None
    return {
        "ways": [_way(one) for one in home.ways],
        "return_height": _height(home.height),
        "link_loss": {
            "delays_s": [number(one) for one in home.delays_s],
            "delay_is_stated": home.delay_is_stated,
            "actions": [_action(one) for one in home.actions],
        },
        "sight": [_watcher(one) for one in home.watchers],
        "seen_by_nobody": _spans(home.seen_by_nobody),
        "standing": [_standing(one) for one in home.standing],
        "link": _link(home.link),
    }


def of_leg(leg: LegHome | None) -> dict[str, Any]:
    """Return the same of one leg, by what a leg's row holds it under."""
    if leg is None:
        return {"return": None, "sight": None, "link": None}
    return {
        "return": {
            "needed_m": number(leg.return_needed_m),
            "along_m": number(leg.return_needed_at_m),
            "failing_m": number(leg.return_failing_m),
        },
        "sight": {
            "least_m": number(leg.sight_least_m),
            "along_m": number(leg.sight_least_at_m),
            "hidden_m": number(leg.hidden_m),
        },
        "link": {
            "least_radii": number(leg.link_least_ratio),
            "along_m": number(leg.link_least_at_m),
            "blocked_m": number(leg.blocked_m),
        },
    }


def _spans(spans: tuple[Span, ...]) -> list[dict[str, Any]]:
    return [
        {
            "from_m": number(one.from_m),
            "to_m": number(one.to_m),
            "from_s": number(one.from_s),
            "to_s": number(one.to_s),
        }
        for one in spans
    ]


def _shares(shares: Shares) -> dict[str, Any]:
    return {
        "within_m": number(shares.within_m),
        "tight_m": number(shares.tight_m),
        "breach_m": number(shares.breach_m),
        "not_assessed_m": number(shares.not_assessed_m),
    }


def _ground(ground: GroundInTheWay | None) -> dict[str, Any] | None:
    if ground is None:
        return None
    return {
        "begun_m": number(ground.begun_m),
        "begun_s": number(ground.begun_s),
        "leg": int(ground.leg),
        "way_above_launch_m": number(ground.way_m),
        "room_m": number(ground.room_m),
        "assured_room_m": number(ground.assured_room_m),
        "above_ground_m": number(ground.above_ground_m),
        "far_m": number(ground.far_m),
        "lat": number(ground.lat_deg),
        "lon": number(ground.lon_deg),
    }


def _way(way: WayHome) -> dict[str, Any]:
    return {
        "path": way.path,
        "to": way.to,
        "shares": _shares(way.shares),
        "failing": _spans(way.failing),
        "worst": _ground(way.worst),
        "least_gradient": number(way.least_gradient),
    }


def _height(height: ReturnHeight) -> dict[str, Any]:
    return {
        "set_m": number(height.set_m),
        "needed_m": number(height.needed_m),
        "needed_assured_m": number(height.needed_assured_m),
        "needed_by": _ground(height.needed_by),
        "highest_m": number(height.highest_m),
        "highest_assured_m": number(height.highest_assured_m),
        "highest_begun_m": number(height.highest_begun_m),
        "above_ceiling_m": number(height.above_ceiling_m),
        "above_ceiling_by_m": number(height.above_ceiling_by_m),
        "below_floor_m": number(height.below_floor_m),
        "below_floor_by_m": number(height.below_floor_by_m),
    }


def _action(action: LossAction) -> dict[str, Any]:
    return {
        "go_to": action.go_to,
        "then": action.then,
        "is_set": action.is_set,
        "shares": _shares(action.shares),
        "failing": _spans(action.failing),
        "with_link_lost": _spans(action.with_link_lost),
    }


def _watcher(watcher: Watcher) -> dict[str, Any]:
    return {
        "who": watcher.who,
        "lat": number(watcher.lat_deg),
        "lon": number(watcher.lon_deg),
        "eye_m": number(watcher.eye_m),
        "shares": _shares(watcher.shares),
        "hidden": _spans(watcher.lost),
        "least_m": number(watcher.least_m),
        "least_assured_m": number(watcher.least_assured_m),
        "least_at_m": number(watcher.least_at_m),
        "least_at_s": number(watcher.least_at_s),
        "hidden_by": {
            "far_m": number(watcher.hidden_far_m),
            "lat": number(watcher.hidden_lat_deg),
            "lon": number(watcher.hidden_lon_deg),
        },
        "farthest_m": number(watcher.farthest_m),
        "farthest_at_m": number(watcher.farthest_at_m),
        "limit_m": number(watcher.limit_m),
        "limit_source": watcher.limit_source,
        "beyond": _spans(watcher.beyond),
    }


def _standing(place: StandingPlace) -> dict[str, Any]:
    return {
        "lat": number(place.lat_deg),
        "lon": number(place.lon_deg),
        "away_m": number(place.away_m),
        "bearing_deg": number(place.bearing_deg),
        "hidden_m": number(place.hidden_m),
        "least_m": number(place.least_m),
    }


def _link(link: Link) -> dict[str, Any]:
    return {
        "ghz": number(link.ghz),
        "is_assumed": link.is_assumed,
        "antenna_m": number(link.antenna_m),
        "shares": _shares(link.shares),
        "blocked": _spans(link.blocked),
        "least_radii": number(link.least_ratio),
        "least_at_m": number(link.least_at_m),
        "least_at_s": number(link.least_at_s),
        "loss_db": number(link.loss_db),
        "narrowest": {
            "far_m": number(link.far_m),
            "lat": number(link.lat_deg),
            "lon": number(link.lon_deg),
        },
    }

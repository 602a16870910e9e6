"""What is said about turns: which waypoints are not overflown, and how far the curve swings."""

from __future__ import annotations

from collections.abc import Iterator, Mapping

from terrain_guard.path.flight import Flight
from terrain_guard.plan.route import Route
from terrain_guard.units import text_up

NAMED = 5
LEAST_M = 0.05


def turn_remarks(route: Route, flight: Flight) -> Iterator[str]:
    """Yield a sentence for each kind of turn in play that leaves the planned line."""
    names = [waypoint.name for waypoint in route.waypoints]
    for kind, tracks in flight.tracks.items():
        where = "" if len(flight.tracks) == 1 else f"Where turns are flown as {kind}: "
        inside = {names[k]: corner.inside_m for k, corner in tracks.corners.items()}
        if kind == "fly-by" or len(flight.tracks) == 1:
            yield from _said(
                f"{where}waypoints are not overflown, the curve passes", inside, "inside"
            )
        outside = {names[k]: turn.outside_m for k, turn in tracks.overflights.items()}
        yield from _said(f"{where}the curve swings", outside, "beyond the next leg, behind")
        for k, turn in (*tracks.corners.items(), *tracks.overflights.items()):
            if turn.shortened:
                yield _shortened(names[k], kind)


def _said(what: str, far_m: Mapping[str, float], how: str) -> Iterator[str]:
    """Name the waypoints with the largest distances, the largest first."""
    largest = sorted((m, name) for name, m in far_m.items() if m >= LEAST_M)[::-1]
    if not largest:
        return
    named = ", ".join(f"{text_up(m)} m {how} {name}" for m, name in largest[:NAMED])
    more = f", less at {len(largest) - NAMED} more" if len(largest) > NAMED else ""
    sentence = f"{what} {named}{more}."
    yield sentence[0].upper() + sentence[1:]


def _shortened(name: str, kind: str) -> str:
    return (
        f"The {kind} turn at {name} is tighter than asked for: the legs there are too short for it."
    )

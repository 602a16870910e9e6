"""What is said about turns: which waypoints are not overflown, and how far the curve swings."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Sequence

from terrain_guard.path.flight import Flight
from terrain_guard.path.tracks import Tracks
from terrain_guard.plan.route import Route
from terrain_guard.units import text_up

NAMED = 5
LEAST_M = 0.05


def turn_remarks(route: Route, flight: Flight) -> Iterator[str]:
    """Yield sentences for each kind of turn in play that leaves the planned line.

    A waypoint that states its own turn is spoken of once, whatever else is in play.
    """
    every = range(len(route.waypoints))
    stated = [k for k in every if route.waypoints[k].turn is not None]
    several = len(flight.tracks) > 1
    names = [waypoint.name for waypoint in route.waypoints]
    for number, (kind, tracks) in enumerate(flight.tracks.items()):
        if several:
            left = [k for k in every if k not in stated]
            yield from _about(tracks, left, names, f"Where turns are flown as {kind}: ")
        if number == 0:
            yield from _about(tracks, stated if several else every, names, "")


def _about(tracks: Tracks, which: Iterable[int], names: Sequence[str], where: str) -> Iterator[str]:
    """Yield what is said of the turns at some waypoints."""
    corners = {k: tracks.corners[k] for k in which if k in tracks.corners}
    over = {k: tracks.overflights[k] for k in which if k in tracks.overflights}
    inside = [(corner.inside_m, names[k]) for k, corner in corners.items()]
    outside = [(turn.outside_m, names[k]) for k, turn in over.items()]
    yield from _said(f"{where}waypoints are not overflown, the curve passes", inside, "inside")
    yield from _said(f"{where}the curve swings", outside, "beyond the next leg, behind")
    yield from _tight([names[k] for k, corner in corners.items() if corner.shortened], "fly-by")
    yield from _tight([names[k] for k, turn in over.items() if turn.shortened], "fly-over")


def _said(what: str, far_m: Sequence[tuple[float, str]], how: str) -> Iterator[str]:
    """Name the waypoints with the largest distances, the largest first."""
    largest = sorted((m, name) for m, name in far_m if m >= LEAST_M)[::-1]
    if not largest:
        return
    named = ", ".join(f"{text_up(m)} m {how} {name}" for m, name in largest[:NAMED])
    more = f", less at {len(largest) - NAMED} more" if len(largest) > NAMED else ""
    sentence = f"{what} {named}{more}."
    yield sentence[0].upper() + sentence[1:]


def _tight(names: Sequence[str], kind: str) -> Iterator[str]:
    """Name the waypoints whose legs are too short for the turn."""
    if not names:
        return
    more = f" and {len(names) - NAMED} more" if len(names) > NAMED else ""
    turns, them = ("turn", "is") if len(names) == 1 else ("turns", "are")
    yield (
        f"The {kind} {turns} at {', '.join(names[:NAMED])}{more} {them} tighter than asked for: "
        "the legs there are too short."
    )

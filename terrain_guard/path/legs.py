"""Draw the legs between the waypoints in every way they may be flown.

What is not stated about turns gives several ground tracks, what is not stated
about climbs several heights over each. Tracks share their straight parts: these
are drawn once, on the reference track, with the lowest and the highest of all
ways over them; of the other tracks only what leaves it is drawn::

    ─────────────────╮     reference: rounds the corner, carries every way's heights
               · · · ·╲· · waypoint flown over or stopped at, corner cut: drawn apart
                       │
"""

from __future__ import annotations

import math
from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace

import numpy as np

from terrain_guard.path.climbs import Heights
from terrain_guard.path.curve import Curve
from terrain_guard.path.drawing import Drawing, Stretch
from terrain_guard.path.envelope import Member, envelope, upright
from terrain_guard.path.leg_heights import Profiles
from terrain_guard.path.pieces import steps
from terrain_guard.path.tracks import Track, Tracks

CUT_SPACING_M = 1.0
"""How far apart, at mid-corner, lie the lines that fill a corner which may be cut, at least."""
MOST_CUTS = 32
"""Lines that fill one corner, at most: in a wide one they lie farther apart."""

Words = tuple[str, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class Layer:
    """One way to fly the turns: its tracks, and heights along each leg for every way to climb."""

    tracks: Tracks
    ways: tuple[int, ...]  # numbers of its ways, the first the layer's own reference
    heights: tuple[tuple[Heights, ...], ...]  # by way, by leg


@dataclass(frozen=True, slots=True, kw_only=True)
class LegsPen:
    """Draws the legs of one route; the first layer is the reference."""

    profiles: Profiles
    layers: tuple[Layer, ...]
    ways: tuple[Words, ...]
    drawing: Drawing
    step_m: float

    def drawn(self, cuts: Cuts | None) -> tuple[Curve, ...]:
        """Draw the reference, and behind it whatever else is flown."""
        reference = self._reference()
        stretches = [s for leg in range(self.leg_count) for s in self._apart(leg, cuts)]
        if not stretches:
            return (reference,)
        return reference, self.drawing.parts(stretches, self.ways, reference)

    @property
    def leg_count(self) -> int:
        """Number of legs between waypoints."""
        return len(self.layers[0].tracks.legs)

    def _reference(self) -> Curve:
        """Draw the reference track in the reference way."""
        stretches = []
        for leg, track in enumerate(self.layers[0].tracks.legs):
            first = next(_members(self.layers[0], leg))
            stretches.append(self._stretch(track, [first], leg, (0.0, track.length_m)))
        return self.drawing.whole(stretches, self.ways, ends_at_m=self.profiles.typed_m[-1])

    def _apart(self, leg: int, cuts: Cuts | None) -> Iterator[Stretch]:
        """Yield what else is flown on a leg.

        First every way along the reference track, then each other layer where it
        leaves that, then lines that fill the corners which may be cut.
        """
        track, members = self.layers[0].tracks.legs[leg], list(_members(self.layers[0], leg))
        for layer in self.layers[1:]:
            members += self._sharing(layer, leg)
        if len(members) > 1:
            stretch = self._stretch(track, members, leg, (0.0, track.length_m))
            yield replace(stretch, on_reference=True)
        for layer in self.layers[1:]:
            yield from self._leaving(layer, leg)
        if cuts is not None:
            yield from self._cut(cuts, leg)

    def _stretch(
        self,
        track: Track,
        members: Sequence[Member],
        leg: int,
        span_m: tuple[float, float],
        *,
        step_m: float | None = None,
    ) -> Stretch:
        """Draw a part of one track, from metre to metre, with the envelope of its members."""
        if not track.length_m > 0:
            return self._upright(track, members, leg)
        low, high = span_m
        slope = members[0].heights.steepest
        spacing = min(member.heights.spacing_m for member in members)
        step_m = self.step_m / math.hypot(1.0, slope) if step_m is None else step_m
        found = track.distances(min(step_m, spacing))
        inside = found[(found > low) & (found < high)]
        over = envelope(members, np.concatenate(([low], inside, [high])))
        x, y = track.places(over.distance_m)
        return Stretch(
            x_m=x, y_m=y, over=over, leg=leg + 1, pace=self.profiles.pace(leg),
            wait_s=self.profiles.wait_s(leg) if low == 0 else 0.0,
            metres=over.distance_m, length_m=track.length_m, first_way=members[0].way,
        )  # fmt: skip

    def _upright(self, track: Track, members: Sequence[Member], leg: int) -> Stretch:
        """Draw a leg without length: a climb or a descent on the spot, or nothing."""
        start, stop = (
            np.array([member.heights.height_m[k] for member in members]) for k in (0, -1)
        )
        rise = float(np.nan_to_num(np.abs(stop - start)).max())
        share = np.linspace(0.0, 1.0, steps(rise, self.step_m) + 1)
        over = upright(start, stop, share, [member.way for member in members])
        x, y = track.places(np.zeros(share.size))
        return Stretch(
            x_m=x, y_m=y, over=over, leg=leg + 1, pace=self.profiles.pace(leg),
            wait_s=self.profiles.wait_s(leg), metres=over.distance_m, length_m=0.0,
            first_way=members[0].way,
        )  # fmt: skip

    def _sharing(self, layer: Layer, leg: int) -> Iterator[Member]:
        """Yield a layer's heights where it flies along the reference track."""
        shared = share(self.layers[0].tracks.legs[leg], layer.tracks.legs[leg])
        if shared is None:
            return
        for member in _members(layer, leg):
            heights = member.heights.moved(shared.shift_m)
            yield replace(member, heights=heights, span_m=(shared.from_m, shared.to_m))

    def _leaving(self, layer: Layer, leg: int) -> Iterator[Stretch]:
        """Yield what a layer flies apart from the reference track."""
        track = layer.tracks.legs[leg]
        shared = share(self.layers[0].tracks.legs[leg], track)
        members = list(_members(layer, leg))
        if shared is None:
            yield self._stretch(track, members, leg, (0.0, track.length_m))
            return
        begins, ends = shared.from_m - shared.shift_m, shared.to_m - shared.shift_m
        if begins > SHORTEST_M:
            yield self._stretch(track, members, leg, (0.0, begins))
        if track.length_m - ends > SHORTEST_M:
            yield self._stretch(track, members, leg, (ends, track.length_m))

    def _cut(self, cuts: Cuts, leg: int) -> Iterator[Stretch]:
        """Yield lines that fill what of cut corners lies on a leg, from chord to waypoint.

        They are straight, so few samples will do.
        """
        tracks = cuts.layer.tracks
        track = tracks.legs[leg]
        for half, index in ((0, leg + 1), (1, leg)):
            corner = tracks.rounded.get(index) if track.length_m > 0 else None
            if corner is None or index not in cuts.waypoints:
                continue
            here, arc_m = self.profiles.points[index], corner.arc_m / 2
            from_m = 0.0 if half else track.length_m - arc_m
            members = [
                replace(member, heights=member.heights.moved(-from_m), span_m=(0.0, arc_m))
                for member in _members(cuts.layer, leg)
            ]
            middle = tuple((a + b) / 2 for a, b in zip(corner.start, corner.end, strict=True))
            deep_m = math.dist(middle, here)
            count = min(max(1, math.ceil(deep_m / cuts.spacing_m)), MOST_CUTS)
            one = self._stretch(
                Track(pieces=(corner.cut(here, 0.0)[half],)), members, leg, (0.0, arc_m),
                step_m=max(deep_m / count, self.step_m),
            )  # fmt: skip
            for k in range(count):
                x, y = corner.cut(here, k / count)[half].places(one.metres)
                yield replace(
                    one, x_m=x, y_m=y, metres=one.metres + from_m, length_m=track.length_m
                )


@dataclass(frozen=True, slots=True, kw_only=True)
class Cuts:
    """Corners that may be cut: the waypoints, and the layer whose heights are flown there.

    The lines that fill them lie so far apart, or less, as long as `MOST_CUTS` will do.
    """

    waypoints: frozenset[int]
    layer: Layer
    spacing_m: float


SHORTEST_M = 1e-6


@dataclass(frozen=True, slots=True, kw_only=True)
class Shared:
    """From where to where, in metres of the first track, a second flies along it.

    The second's metres are `shift_m` less.
    """

    from_m: float
    to_m: float
    shift_m: float


def share(one: Track, other: Track) -> Shared | None:
    """Return where two tracks of one leg are the same, or None."""
    if one.pieces == other.pieces:
        return Shared(from_m=0.0, to_m=one.length_m, shift_m=0.0)
    if one.is_bent or other.is_bent:
        return None
    starts, ends = zip(one.typed_m, other.typed_m, strict=True)
    if not min(ends) - max(starts) > SHORTEST_M:
        return None
    begins = one.middle_m[0] - one.typed_m[0]
    from_m, to_m = max(starts) + begins, min(ends) + begins
    if one.pieces[: one.before] == other.pieces[: other.before]:
        from_m = 0.0
    if one.pieces[one.before + 1 :] == other.pieces[other.before + 1 :]:
        to_m = one.length_m
    shift_m = begins - (other.middle_m[0] - other.typed_m[0])
    return Shared(from_m=from_m, to_m=to_m, shift_m=shift_m)


def _members(layer: Layer, leg: int) -> Iterator[Member]:
    for way, heights in zip(layer.ways, layer.heights, strict=True):
        yield Member(way=way, heights=heights[leg], span_m=(0.0, layer.tracks.legs[leg].length_m))

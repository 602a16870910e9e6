r"""The lowest and the highest of many heights over one line, and which of them it is.

Over one ground track clearance can only grow with height, so of all the ways to
climb along it the lowest alone decides the floor, the highest the ceiling::

    ──╮   ╱──    highest
       X         cut where two ways cross
    ──╯   ╲──    lowest
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from terrain_guard.arrays import Floats, Ints
from terrain_guard.path.climbs import Heights
from terrain_guard.path.curve import rising

SAME_M = 1e-9  # heights
SAME_PLACE_M = 1e-6
MOST_ROUNDS = 30  # two ways that cross are cut in one; a guard, never reached


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Member:
    """One way's heights over a track; known on a part of it only, where `span_m` is given."""

    way: int
    heights: Heights
    span_m: tuple[float, float]


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Envelope:
    """Samples along a track (n,), and the ways that are lowest and highest between them (n − 1,).

    Two samples stand at one place where the lowest or the highest jumps, because
    a way joins or leaves there. Lowest and highest are those of the ways whose height
    is known; where there are such and others, one of the others is `unknown_way`,
    elsewhere -1.
    """

    distance_m: Floats
    first_m: Floats  # of the first way
    low_m: Floats
    high_m: Floats
    low_way: Ints
    high_way: Ints
    unknown_way: Ints


def envelope(members: Sequence[Member], distance_m: Floats) -> Envelope:
    """Return the envelope of several ways over one track.

    Parameters
    ----------
    members : sequence of Member
        The first is known all along.
    distance_m : (n,) float
        Where samples are wanted, ends included; more are put where ways bend or cross.
    """
    spans = np.array([member.span_m for member in members]).ravel()
    knots = [distance_m, spans, *(member.heights.knots_m for member in members)]
    at = _distinct(np.concatenate(knots), distance_m[0], distance_m[-1])
    for _ in range(MOST_ROUNDS):
        chords = _chords(members, at)
        crossings = [*_crossings(*chords, at), *_crossings(*_upside_down(*chords), at)]
        if not crossings:
            break
        at = _distinct(np.concatenate((at, *crossings)), at[0], at[-1])
    return _joined(members, at, *_chords(members, at))


def upright(start_m: Floats, stop_m: Floats, share: Floats, ways: Sequence[int]) -> Envelope:
    """Return the envelope of ways that go straight up or down, from height to height (k,)."""
    left, right = start_m[:, None], stop_m[:, None]
    first, low, high = (
        rising((float(start), float(stop)), share)
        for start, stop in (
            (start_m[0], stop_m[0]),
            (np.fmin.reduce(start_m), np.fmin.reduce(stop_m)),
            (np.fmax.reduce(start_m), np.fmax.reduce(stop_m)),
        )
    )
    found = (
        np.array(ways)[_lowest(left, right)],
        np.array(ways)[_lowest(*_upside_down(left, right))],
        _unknown(left, right, ways),
    )
    low_way, high_way, unknown = (np.repeat(way, share.size - 1) for way in found)
    return Envelope(
        distance_m=np.zeros(share.size), first_m=first, low_m=low, high_m=high,
        low_way=low_way, high_way=high_way, unknown_way=unknown,
    )  # fmt: skip


def _distinct(values: Floats, first: float, last: float) -> Floats:
    values = np.sort(np.clip(values, first, last))
    values = values[np.append(True, np.diff(values) > SAME_PLACE_M)]
    return np.append(values[values < last - SAME_PLACE_M], last)


def _chords(members: Sequence[Member], at: Floats) -> tuple[Floats, Floats]:
    """Return every way's heights at both ends of every chord; inf where it is not flown."""
    middle = (at[1:] + at[:-1]) / 2
    left, right = (np.full((len(members), middle.size), np.nan) for _ in range(2))
    for k, member in enumerate(members):
        height = member.heights.at(at)
        low, high = member.span_m
        flown = (middle >= low) & (middle <= high)
        left[k] = np.where(flown, height[:-1], np.inf)
        right[k] = np.where(flown, height[1:], np.inf)
    return left, right


def _lowest(left: Floats, right: Floats) -> Ints:
    """Return the way that is lowest half-way along each chord, the first of equals."""
    middle = np.nan_to_num((left + right) / 2, nan=np.inf, posinf=np.inf)
    return np.argmax(middle <= middle.min(axis=0) + SAME_M, axis=0)


def _least(left: Floats, right: Floats) -> tuple[Floats, Floats]:
    """Return the least heights at both ends of each chord, of the ways known all along it."""
    known = np.isfinite(left + right)
    some = known.any(axis=0)
    least = [
        np.where(some, np.where(known, side, np.inf).min(axis=0), side[0]) for side in (left, right)
    ]
    return least[0], least[1]


def _unknown(left: Floats, right: Floats, ways: Sequence[int]) -> Ints:
    """Return the first way whose height is not known, -1 where that is none of them or all."""
    height = left + right
    unknown = np.isnan(height)
    some = unknown.any(axis=0) & np.isfinite(height).any(axis=0)
    return np.where(some, np.array(ways)[np.argmax(unknown, axis=0)], -1)


def _crossings(left: Floats, right: Floats, at: Floats) -> list[Floats]:
    """Return where the lowest way of a chord is crossed by another that is lower at an end."""
    own, chord, step = _lowest(left, right), np.arange(at.size - 1), np.diff(at)
    found = []
    for end, other, back in ((left, right, False), (right, left, True)):
        rival = np.argmin(np.where(np.isnan(end), np.inf, end), axis=0)
        gap = end[own, chord] - end[rival, chord]
        k = np.flatnonzero(gap > 10 * SAME_M)
        share = gap[k] / (gap[k] - (other[own[k], k] - other[rival[k], k]))
        place = at[k] + (1 - share if back else share) * step[k]
        inside = (place > at[k] + SAME_PLACE_M) & (place < at[k + 1] - SAME_PLACE_M)
        if inside.any():
            found.append(place[inside])
    return found


def _joined(members: Sequence[Member], at: Floats, left: Floats, right: Floats) -> Envelope:
    flipped = _upside_down(left, right)
    low_way, high_way = _lowest(left, right), _lowest(*flipped)
    highest = [-side for side in _least(*flipped)]
    ends = [(left[0], right[0]), _least(left, right), (highest[0], highest[1])]
    jumps = np.zeros(max(at.size - 2, 0), dtype=bool)
    for start, stop in ends:
        jumps |= np.abs(stop[:-1] - start[1:]) > 10 * SAME_M
    twice = np.flatnonzero(jumps) + 1
    ways = [member.way for member in members]
    low_way, high_way = np.array(ways)[low_way], np.array(ways)[high_way]
    unknown = _unknown(left, right, ways)
    heights = [
        np.insert(np.append(start, stop[-1]), twice, stop[twice - 1]) for start, stop in ends
    ]
    return Envelope(
        distance_m=np.insert(at, twice, at[twice]),
        first_m=heights[0],
        low_m=heights[1],
        high_m=heights[2],
        low_way=np.insert(low_way, twice, low_way[twice - 1]),  # at a sample ends the way before
        high_way=np.insert(high_way, twice, high_way[twice - 1]),
        unknown_way=np.insert(unknown, twice, -1),
    )


def _upside_down(left: Floats, right: Floats) -> tuple[Floats, Floats]:
    flip = [np.where(np.isinf(side), np.inf, -side) for side in (left, right)]
    return flip[0], flip[1]

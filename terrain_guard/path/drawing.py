"""Put stretches with their envelopes together into curves."""

from __future__ import annotations

import itertools
from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass, replace

import numpy as np

from terrain_guard.arrays import Floats, Ints
from terrain_guard.path.curve import GAP, Curve, Pace, Side, spans_of
from terrain_guard.path.envelope import Envelope, upright
from terrain_guard.path.frame import LocalFrame
from terrain_guard.path.pieces import steps

JUMP_M = 1e-8
SHORTEST_M = 1e-9


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Stretch:
    """A part of one leg: places (n,), heights over them, metres along the leg's track."""

    x_m: Floats
    y_m: Floats
    over: Envelope
    leg: int
    pace: Pace
    wait_s: float
    metres: Floats
    length_m: float  # of the whole track
    first_way: int
    on_reference: bool = False  # the first way is the reference, which is drawn by itself


@dataclass(frozen=True, slots=True, kw_only=True)
class Drawing:
    """Makes curves of stretches."""

    frame: LocalFrame
    step_m: float

    def whole(
        self, stretches: Sequence[Stretch], ways: tuple[tuple[str, ...], ...], *, ends_at_m: float
    ) -> Curve:
        """Join stretches that follow one another; at the end all ways reach one height."""
        chain = _Chain(_linked([*stretches, _stop_at(stretches[-1], ends_at_m)], self.step_m))
        steps = [np.diff(chain.x), np.diff(chain.y), np.nan_to_num(np.diff(chain.first))]
        along = np.append(0.0, np.cumsum(np.sqrt(sum(step**2 for step in steps))))
        time = np.append(0.0, np.cumsum(chain.seconds))
        return self._curve(chain, ways, along, time, spans_of(chain.leg, along))

    def parts(
        self, stretches: Sequence[Stretch], ways: tuple[tuple[str, ...], ...], reference: Curve
    ) -> Curve:
        """Put stretches behind one another with gaps; places and times are the reference's."""
        chain = _Chain(stretches, apart=True)
        of = chain.stretch
        starts, ends = np.array([reference.spans_m[s.leg] for s in stretches]).T
        lengths = np.array([max(s.length_m, SHORTEST_M) for s in stretches])
        share = np.clip(chain.metres / lengths[of], 0.0, 1.0)
        along = starts[of] + share * (ends - starts)[of]
        time = np.interp(along, reference.along_m, reference.time_s)
        spans = {leg: reference.spans_m[leg] for leg in sorted({s.leg for s in stretches})}
        return self._curve(chain, ways, along, time, spans)

    def _curve(
        self,
        chain: _Chain,
        ways: tuple[tuple[str, ...], ...],
        along_m: Floats,
        time_s: Floats,
        spans_m: dict[int, tuple[float, float]],
    ) -> Curve:
        lon, lat = self.frame.to_degrees(chain.x, chain.y)
        flown = np.isfinite(chain.x)
        return Curve(
            ways=ways,
            way=np.full(chain.leg.size, chain.first_way, dtype=np.int64),
            x_m=chain.x,
            y_m=chain.y,
            lon_deg=np.where(flown, lon, np.nan),
            lat_deg=np.where(flown, lat, np.nan),
            above_launch_m=chain.first,
            along_m=along_m,
            time_s=time_s,
            leg=chain.leg,
            spans_m=spans_m,
            low=Side(above_launch_m=chain.low, way=chain.low_way) if chain.apart else None,
            high=Side(above_launch_m=chain.high, way=chain.high_way) if chain.apart else None,
            unknown=chain.unknown if chain.apart else None,
            elsewhere=chain.on_reference if chain.apart else None,
        )


def _stop_at(stretch: Stretch, height_m: float) -> Stretch:
    """Return the end of a stretch where the aircraft stops and so reaches its height."""
    height = np.array([height_m])
    none = np.zeros(0, dtype=np.int64)
    over = Envelope(
        distance_m=np.zeros(1), first_m=height, low_m=height, high_m=height,
        low_way=none, high_way=none, unknown_way=none,
    )  # fmt: skip
    return _on_the_spot(stretch, over)


def _on_the_spot(stretch: Stretch, over: Envelope) -> Stretch:
    """Return a stretch that goes up or down where another ends."""
    x, y, metres = (
        np.full(over.first_m.shape, values[-1])
        for values in (stretch.x_m, stretch.y_m, stretch.metres)
    )
    return replace(stretch, x_m=x, y_m=y, over=over, metres=metres, wait_s=0.0)


def _linked(stretches: Sequence[Stretch], step_m: float) -> Iterator[Stretch]:
    """Put a climb or a descent on the spot where heights jump from one stretch to the next."""
    yield stretches[0]
    for one, other in itertools.pairwise(stretches):
        ends, starts = one.over.first_m[-1:], other.over.first_m[:1]
        rise = abs(float(starts[0] - ends[0]))
        if rise > JUMP_M:
            share = np.linspace(0.0, 1.0, steps(rise, step_m) + 1)
            yield _on_the_spot(one, upright(ends, starts, share, [one.first_way]))
        yield other


class _Chain:
    """Stretches joined sample by sample; those that are `apart` by a gap."""

    def __init__(self, stretches: Iterable[Stretch], *, apart: bool = False) -> None:
        samples: list[Floats] = []
        legs: list[Ints] = []
        ways: list[Ints] = []
        times: list[Floats] = []
        stretches = list(stretches)
        for number, stretch in enumerate(stretches):
            own = _samples(stretch, number)
            if number and apart:
                samples.append(np.concatenate((np.full((2, 1), np.nan), own[2:, :1])))
                legs.append(np.full(2, GAP))
                ways.append(np.full((3, 2), stretch.first_way))
                times.append(np.zeros(2))
            elif number:
                own = own[:, 1:]
            samples.append(own)
            legs.append(np.full(stretch.x_m.size - 1, stretch.leg))
            ways.append(_ways(stretch))
            times.append(_seconds(stretch))
        self.x, self.y, self.first, self.low, self.high, self.metres, number_of = np.concatenate(
            samples, axis=1
        )
        self.apart = apart
        self.first_way = stretches[0].first_way
        self.stretch = number_of.astype(np.int64)
        self.on_reference = np.array([s.on_reference for s in stretches])[self.stretch[:-1]]
        self.leg = np.concatenate(legs)
        self.low_way, self.high_way, self.unknown = np.concatenate(ways, axis=1)
        self.seconds = np.concatenate(times)


def _samples(stretch: Stretch, number: int) -> Floats:
    over = stretch.over
    return np.stack(
        (
            stretch.x_m, stretch.y_m, over.first_m, over.low_m, over.high_m, stretch.metres,
            np.full(stretch.x_m.size, float(number)),
        )
    )  # fmt: skip


def _ways(stretch: Stretch) -> Ints:
    return np.stack((stretch.over.low_way, stretch.over.high_way, stretch.over.unknown_way))


def _seconds(stretch: Stretch) -> Floats:
    along = np.hypot(np.diff(stretch.x_m), np.diff(stretch.y_m))
    seconds = stretch.pace.seconds(along, np.diff(stretch.over.first_m))
    seconds[:1] += stretch.wait_s
    return seconds

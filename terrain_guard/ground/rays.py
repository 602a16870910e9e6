"""Straight rays from one place to many, over the exact ground: sight, radio, ways home.

Ground is the bilinear patch between posts, along a ray a chain of parabolas: what is
greatest on it is closed form (`ray_asks`). Which of its cells can hold it is found by
bounds (`ray_search`), so that few are cut. See `chords` for what a ray is.

Unknown ground is never filled and never skipped: an answer that it could change is NaN.
Answers are exact to 1e-6 m; errors of the elevations, canopy and margins are the caller's.
"""

from __future__ import annotations

from dataclasses import dataclass, field
from typing import Final

import numpy as np
from numpy.typing import ArrayLike

from terrain_guard.arrays import Bools, Floats, Ints
from terrain_guard.ground.chords import Chords
from terrain_guard.ground.peaks import Moved, Peaks, Touched
from terrain_guard.ground.ray_answers import Extremes, Link, Sight, Spot
from terrain_guard.ground.ray_asks import Ask, Narrowest, Over, Steepest
from terrain_guard.ground.ray_search import Found, Search
from terrain_guard.ground.ray_voids import Unknown
from terrain_guard.ground.strides import Strides

EARTH_RADIUS_M: Final = 6_371_000.0
"""Mean radius; that of the ellipsoid is within 0.6 % of it everywhere."""
OPTICAL_K: Final = 1.0
"""No refraction: the least kind; light bends so that 7/6 would be usual."""
RADIO_K: Final = 4 / 3
"""Median refraction of radio waves (common practice; ITU-R P.526 takes 8500 km for k R)."""
OWN_FEET_M: Final = 2.0
"""Ground nearer than this to an eye or an antenna is not asked about: it stands on it."""


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Rays:
    """Straight rays from one place to n targets, over one model. See `Ground.rays`.

    Metres along a ray count from its start. ``from_m`` and ``to_m`` are a number or one for each
    ray; ground outside them is not asked about, the whole ray is unless they are given.
    """

    chords: Chords  # in the posts of `source`, unlike what is answered
    source: Moved
    touched: Touched
    _peaks: dict[float, Peaks] = field(default_factory=dict)
    _unknown: list[Unknown] = field(default_factory=list)

    @property
    def count(self) -> int:
        """How many rays."""
        return self.chords.count

    @property
    def length_m(self) -> Floats:
        """Geodesic metres (n,) from start to targets; NaN where a target's place is undefined."""
        return np.where(self.chords.lost, np.nan, self.chords.length_m)

    def places(self, along_m: ArrayLike) -> tuple[Floats, Floats]:
        """Return fractional posts (row, column) at metres along each ray."""
        spot = self._spot(self.chords.share(self._all, self._each(along_m)))
        return spot.row, spot.column

    # -- what is not known --------------------------------------------------------

    def unknown_from_start_m(self) -> Floats:
        """Return how far along each ray ground is first unknown; inf: nowhere, NaN: no ray."""
        first = self.unknown.first()
        along = self.chords.along_m(self._all, np.where(np.isfinite(first), first, 0.0))
        return self._or_lost(np.where(np.isfinite(first), along, np.inf))

    def unknown_from_target_m(self) -> Floats:
        """Return the same, seen from the target."""
        last = self.unknown.last()
        along = self.chords.along_m(self._all, np.where(np.isfinite(last), last, 0.0))
        return self._or_lost(np.where(np.isfinite(last), self.chords.length_m - along, np.inf))

    @property
    def unknown(self) -> Unknown:
        """Every stretch over unknown ground, looked for once."""
        if not self._unknown:
            nought, one = np.zeros(self.count), np.ones(self.count)
            strides = Strides.of(self.chords, nought, one)
            peaks = next(iter(self._peaks.values()), None) or self._peaks_of(1.0)
            self._unknown.append(Unknown.along(strides, peaks, self.source))
        return self._unknown[0]

    def windows(self) -> list[tuple[int, int, int, int]]:
        """Return the posts of the model that are looked at: see `Touched.windows`."""
        down, across = self.source.down, self.source.across
        return [
            (top - down, bottom - down, left - across, right - across)
            for top, bottom, left, right in self.touched.windows()
        ]

    # -- the questions --------------------------------------------------------------

    def highest(
        self,
        *,
        over_m: tuple[ArrayLike, ArrayLike] = (0.0, 0.0),
        from_m: ArrayLike = 0.0,
        to_m: ArrayLike = np.inf,
    ) -> Extremes:
        """Return the highest ground on each ray, over a line that is straight along it.

        Parameters
        ----------
        over_m : (start, end)
            Elevation of that line at the start and at the targets; each a number or (n,). Left
            out: the answer is an elevation. Given a way's own: the most by which ground stands
            above it, minus the least height above ground.
        """
        return self._extremes(1.0, over_m, from_m, to_m)

    def lowest(
        self,
        *,
        over_m: tuple[ArrayLike, ArrayLike] = (0.0, 0.0),
        from_m: ArrayLike = 0.0,
        to_m: ArrayLike = np.inf,
    ) -> Extremes:
        """Return the lowest ground on each ray, likewise: minus the greatest height above it."""
        return self._extremes(-1.0, over_m, from_m, to_m)

    def sight(
        self,
        eye_elevation_m: float,
        target_elevation_m: ArrayLike,
        *,
        curvature: float = OPTICAL_K,
        from_m: ArrayLike = OWN_FEET_M,
        to_target_gap_m: ArrayLike = 0.0,
    ) -> Sight:
        """Return how far each target is above the ray that grazes the ground.

        Ground and target drop with distance: margin = (z − r² / 2kR) − (eye + r · max tan α),
        tan α = (ground − ρ² / 2kR − eye) / ρ, over ρ from `from_m` to r − `to_target_gap_m`.

        Parameters
        ----------
        eye_elevation_m : float
            Of the eye, not of the ground it stands on.
        target_elevation_m : float or (n,) float
            Of the targets.
        curvature : float
            k, the earth's radius in units of its own; inf: a flat earth.
        """
        target = self._each(target_elevation_m)
        twice_radius = 2 * curvature * EARTH_RADIUS_M
        start, stop = self._between(from_m, self.chords.length_m - self._each(to_target_gap_m))
        eye = float(eye_elevation_m)
        ask = Steepest(chords=self.chords, eye_m=eye, twice_radius_m=twice_radius)
        found, unknown = self._search(ask, start, stop)
        length = self.chords.length_m
        some = np.isfinite(found.value)
        slope = np.where(some, found.value, 0.0)
        margin = target - length**2 / twice_radius - (eye + length * slope)
        margin = np.where(some | np.isnan(target), margin, np.inf)
        return Sight(
            margin_m=_decided(margin, unknown),
            meets_unknown=unknown,
            grazed=self._spot(found.share),
        )

    def link(
        self,
        antenna_elevation_m: float,
        target_elevation_m: ArrayLike,
        *,
        wavelength_m: float,
        curvature: float = RADIO_K,
        from_m: ArrayLike = OWN_FEET_M,
        to_target_gap_m: ArrayLike = 0.0,
    ) -> Link:
        """Return where each radio path is narrowest, in radii of its first Fresnel zone.

        The radius is √(λ d₁ d₂ / D) (ITU-R P.526); ground bulges by d₁ d₂ / 2kR. Along the
        same ray knife-edge ν is −√2 times the answer.
        """
        twice_radius = 2 * curvature * EARTH_RADIUS_M
        start, stop = self._between(from_m, self.chords.length_m - self._each(to_target_gap_m))
        ask = Narrowest(
            chords=self.chords,
            start_m=self._each(antenna_elevation_m),
            end_m=self._each(target_elevation_m),
            twice_radius_m=twice_radius,
            wavelength_m=wavelength_m,
        )
        found, unknown = self._search(ask, start, stop)
        share = np.where(np.isnan(found.share), 0.0, found.share)
        radius = ask.parts(self._all, share, np.zeros(self.count))[1]
        radii = _decided(-found.value, unknown)
        known = np.isfinite(radii)
        return Link(
            clearance_radii=radii,
            clearance_m=np.where(known, radii, 0.0) * radius + np.where(known, 0.0, radii),
            radius_m=np.where(np.isnan(found.share), np.nan, radius),
            meets_unknown=unknown,
            narrowest=self._spot(found.share),
        )

    # -- how ----------------------------------------------------------------------

    def _extremes(
        self, sign: float, over_m: tuple[ArrayLike, ArrayLike], from_m: ArrayLike, to_m: ArrayLike
    ) -> Extremes:
        start, stop = self._between(from_m, to_m)
        line = [self._each(end) for end in over_m]
        ask = Over(chords=self.chords, start_m=line[0], end_m=line[1], sign=sign)
        found, unknown = self._search(ask, start, stop)
        known = np.where(np.isfinite(found.value), sign * found.value, np.nan)
        return Extremes(
            value_m=np.where(unknown, np.nan, known),
            known_m=known,
            meets_unknown=unknown,
            at=self._spot(found.share),
        )

    def _search(self, ask: Ask, start: Floats, stop: Floats) -> tuple[Found, Bools]:
        """Return the answers of known ground, and where unknown ground was asked about too."""
        strides = Strides.of(self.chords, start, stop)
        peaks = self._peaks_of(ask.sign)
        search = Search(
            strides=strides, peaks=peaks, source=self.source, ask=ask, start=start, stop=stop
        )
        return search.run(), self.unknown.between(start, stop) | self.chords.lost

    def _peaks_of(self, sign: float) -> Peaks:
        if sign not in self._peaks:
            self._peaks[sign] = Peaks.under(self.source, self.touched, sign=sign)
        return self._peaks[sign]

    @property
    def _all(self) -> Ints:
        return np.arange(self.count)

    def _each(self, value: ArrayLike) -> Floats:
        return np.broadcast_to(np.asarray(value, dtype=float), (self.count,))

    def _between(self, from_m: ArrayLike, to_m: ArrayLike) -> tuple[Floats, Floats]:
        """Return shares of rays, start > stop where nothing lies between, or a bound is NaN."""
        length = self.chords.length_m
        low, high = np.maximum(self._each(from_m), 0.0), np.minimum(self._each(to_m), length)
        some = (low <= high) & ~self.chords.lost
        start, stop = (
            self.chords.share(self._all, np.where(some, metres, 0.0)) for metres in (low, high)
        )
        return np.where(some, start, 1.0), np.where(some, stop, 0.0)

    def _or_lost(self, value: Floats) -> Floats:
        return np.where(self.chords.lost, np.nan, value)

    def _spot(self, share: Floats) -> Spot:
        row, column = self.chords.places(self._all, share)
        return Spot(
            along_m=self.chords.along_m(self._all, share),
            row=row - self.source.down,
            column=column - self.source.across,
        )


def _decided(known: Floats, unknown: Bools) -> Floats:
    """Return NaN where unknown ground may take a value below 0 that is not."""
    return np.where(unknown & ~(known < 0), np.nan, known)


def rays_between(
    start: tuple[float, float],
    to: tuple[Floats, Floats],
    *,
    length_m: Floats,
    half_way_m: Floats,
    source: Moved,
) -> Rays:
    """Return the rays from one place of the posts to others; nothing is read yet.

    Parameters
    ----------
    start, to : (row, column)
        Fractional posts of the model; those of the targets are (n,).
    length_m, half_way_m : (n,) float
        Geodesic metres from the start to the targets, and to the middles of the chords.
    """
    chords = Chords.between(
        (start[0] + source.down, start[1] + source.across),
        (to[0] + source.down, to[1] + source.across),
        length_m=length_m,
        half_way_m=half_way_m,
    )
    nought = np.zeros(chords.count)
    touched = Touched.by(Strides.of(chords, nought, nought + 1))
    return Rays(chords=chords, source=source, touched=touched)

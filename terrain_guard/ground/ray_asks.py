"""What may be asked of the ground along rays, each as "where is this greatest?".

Each question puts a value to a point of a ray, an upper bound to a stretch whose
highest post is known, and says where on a piece inside one cell the value may turn.

::

    Over      ground − line               turns where a parabola does
    Steepest  (ground − drop − eye) / ρ   turns where c₀ + c₁ t + c₂ t² = 0
              (level ground, no drop: at ρ = √(a / c), a + b ρ + c ρ² being ground − eye)
    Narrowest (ground + bulge − line) / r₁   r₁ ∝ √(d₁ d₂): turns where a cubic is zero
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Protocol

import numpy as np

from terrain_guard.arrays import Floats, Ints
from terrain_guard.ground.chords import Chords

LEAST_M = 1e-6
"""Nothing is divided by less."""
HALVINGS = 20  # of an interval in which a cubic changes sign; values are flat there

Quadratic = tuple[Floats, Floats, Floats]


class Ask(Protocol):
    """A question; `ray` (m,) numbers rays of its chords, shares lie in 0…1."""

    @property
    def sign(self) -> float:
        """−1: posts are taken with the other sign, so that "highest" is the lowest."""

    def value(self, ray: Ints, share: Floats, ground_m: Floats) -> Floats:
        """Return the value at points of rays."""

    def bound(self, ray: Ints, low: Floats, high: Floats, most: Floats) -> Floats:
        """Return what no point between two shares exceeds if no post × sign exceeds `most`."""

    def turns(self, ray: Ints, start: Floats, stop: Floats, ground: Quadratic) -> list[Floats]:
        """Return where, 0…1 between two shares, the value may turn on pieces; NaN: nowhere."""


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Over:
    """Ground above a line that is straight in metres along the ray; times `sign`."""

    chords: Chords
    start_m: Floats  # (n,) elevation of the line at the start of rays
    end_m: Floats
    sign: float = 1.0

    def _line(self, ray: Ints, share: Floats) -> Floats:
        part = share * (1 + self.chords.bend[ray] * (1 - share))
        return self.start_m[ray] + part * (self.end_m[ray] - self.start_m[ray])

    def value(self, ray: Ints, share: Floats, ground_m: Floats) -> Floats:
        """See `Ask`."""
        return self.sign * (ground_m - self._line(ray, share))

    def bound(self, ray: Ints, low: Floats, high: Floats, most: Floats) -> Floats:
        """See `Ask`."""
        one, other = (self.sign * self._line(ray, share) for share in (low, high))
        return most - np.minimum(one, other)

    def turns(self, ray: Ints, start: Floats, stop: Floats, ground: Quadratic) -> list[Floats]:
        """See `Ask`."""
        _, b1, b2 = self.chords.along(ray, start, stop)
        rise = _per_metre(self.chords, ray, self.end_m - self.start_m)
        with np.errstate(divide="ignore", invalid="ignore"):
            return [-(ground[1] - rise * b1) / (2 * (ground[2] - rise * b2))]


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Steepest:
    """Slope from an eye at the start of all rays to the ground, which drops with distance."""

    chords: Chords
    eye_m: float
    twice_radius_m: float  # 2 k R; the ground drops by ρ² / 2 k R
    sign: float = 1.0

    def value(self, ray: Ints, share: Floats, ground_m: Floats) -> Floats:
        """See `Ask`."""
        along = np.maximum(self.chords.along_m(ray, share), LEAST_M)
        return (ground_m - along**2 / self.twice_radius_m - self.eye_m) / along

    def bound(self, ray: Ints, low: Floats, high: Floats, most: Floats) -> Floats:
        """See `Ask`."""
        near, far = (np.maximum(self.chords.along_m(ray, share), LEAST_M) for share in (low, high))
        above = most - near**2 / self.twice_radius_m - self.eye_m
        return above / np.where(above > 0, near, far)

    def turns(self, ray: Ints, start: Floats, stop: Floats, ground: Quadratic) -> list[Floats]:
        """See `Ask`."""
        b0, b1, b2 = self.chords.along(ray, start, stop)
        drop = b0**2, 2 * b0 * b1, b1**2 + 2 * b0 * b2
        a0, a1, a2 = (a - d / self.twice_radius_m for a, d in zip(ground, drop, strict=True))
        a0 = a0 - self.eye_m
        return _roots(a1 * b0 - a0 * b1, 2 * (a2 * b0 - a0 * b2), a2 * b1 - a1 * b2)


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Narrowest:
    """Ground above a straight radio path, in radii of its first Fresnel zone.

    r₁ = √(λ d₁ d₂ / D); the earth bulges by d₁ d₂ / 2 k R between the ends.
    """

    chords: Chords
    start_m: Floats
    end_m: Floats
    twice_radius_m: float
    wavelength_m: float
    sign: float = 1.0

    def value(self, ray: Ints, share: Floats, ground_m: Floats) -> Floats:
        """See `Ask`."""
        above, radius = self.parts(ray, share, ground_m)
        return above / radius

    def parts(self, ray: Ints, share: Floats, ground_m: Floats) -> tuple[Floats, Floats]:
        """Return how far ground with bulge stands above the path, and r₁."""
        length = self.chords.length_m[ray]
        along = self.chords.along_m(ray, share)
        product = np.maximum(along * (length - along), 0.0)
        line = self.start_m[ray] + along * _per_metre(self.chords, ray, self.end_m - self.start_m)
        return ground_m + product / self.twice_radius_m - line, self._radius(ray, product)

    def _radius(self, ray: Ints, product: Floats) -> Floats:
        length = np.maximum(self.chords.length_m[ray], LEAST_M)
        return np.sqrt(np.maximum(self.wavelength_m * product / length, LEAST_M**2))

    def bound(self, ray: Ints, low: Floats, high: Floats, most: Floats) -> Floats:
        """See `Ask`."""
        length = self.chords.length_m[ray]
        near, far = (self.chords.along_m(ray, share) for share in (low, high))
        middle = np.clip(length / 2, near, far)
        widest = middle * (length - middle)
        narrowest = np.minimum(near * (length - near), far * (length - far))
        rise = _per_metre(self.chords, ray, self.end_m - self.start_m)
        line = self.start_m[ray] + np.minimum(near * rise, far * rise)
        above = most + widest / self.twice_radius_m - line
        return above / self._radius(ray, np.where(above > 0, narrowest, widest))

    def turns(self, ray: Ints, start: Floats, stop: Floats, ground: Quadratic) -> list[Floats]:
        """See `Ask`."""
        b0, b1, b2 = self.chords.along(ray, start, stop)
        length = self.chords.length_m[ray]
        # Of fourth degree; cut short after the second, which inside a cell is 1e-9 m off.
        q0, q1 = b0 * length - b0**2, b1 * (length - 2 * b0)
        q2 = b2 * (length - 2 * b0) - b1**2
        rise = _per_metre(self.chords, ray, self.end_m - self.start_m)
        n0 = ground[0] + q0 / self.twice_radius_m - self.start_m[ray] - rise * b0
        n1 = ground[1] + q1 / self.twice_radius_m - rise * b1
        n2 = ground[2] + q2 / self.twice_radius_m - rise * b2
        cubic = (
            n1 * q0 - n0 * q1 / 2,
            2 * n2 * q0 + n1 * q1 / 2 - n0 * q2,
            1.5 * n2 * q1,
            n2 * q2,
        )
        return _roots_of_cubic(*cubic)


def _per_metre(chords: Chords, ray: Ints, rise_m: Floats) -> Floats:
    return rise_m[ray] / np.maximum(chords.length_m[ray], LEAST_M)


def _roots(c0: Floats, c1: Floats, c2: Floats) -> list[Floats]:
    """Return both roots of c0 + c1 t + c2 t²; NaN where there is none."""
    with np.errstate(divide="ignore", invalid="ignore", over="ignore"):
        root = np.sqrt(c1**2 - 4 * c2 * c0)
        q = -0.5 * (c1 + np.where(c1 < 0, -root, root))  # no cancellation
        return [q / c2, c0 / q]


def _roots_of_cubic(c0: Floats, c1: Floats, c2: Floats, c3: Floats) -> list[Floats]:
    """Return the roots within 0…1 of c0 + c1 t + c2 t² + c3 t³.

    Between its turning points a cubic is monotone: each such part of 0…1 is halved
    towards the one place where it may change sign.
    """
    turns = np.sort(np.nan_to_num(np.stack(_roots(c1, 2 * c2, 3 * c3)), nan=0.0), axis=0)
    first, second = np.clip(turns, 0.0, 1.0)
    edges = np.zeros_like(c0), first, second, np.ones_like(c0)
    found = []
    for part in range(3):
        low, high = edges[part], edges[part + 1]
        falls = _cubic(c0, c1, c2, c3, low) > 0
        for _ in range(HALVINGS):
            middle = (low + high) / 2
            before = (_cubic(c0, c1, c2, c3, middle) > 0) == falls
            low, high = np.where(before, middle, low), np.where(before, high, middle)
        found.append((low + high) / 2)
    return found


def _cubic(c0: Floats, c1: Floats, c2: Floats, c3: Floats, t: Floats) -> Floats:
    return c0 + t * (c1 + t * (c2 + t * c3))

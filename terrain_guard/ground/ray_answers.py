"""What rays answer: arrays over rays, NaN where unknown ground could change the answer."""

from __future__ import annotations

from dataclasses import dataclass

from terrain_guard.arrays import Bools, Floats


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Spot:
    """A place on each ray; NaN where there is none."""

    along_m: Floats  # from the start of the ray
    row: Floats  # fractional posts
    column: Floats


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Extremes:
    """The highest or lowest ground on each ray, as elevation or over a line.

    ``value_m`` is NaN where some ground asked about is not known, or none was asked about;
    ``known_m`` is that of known ground alone (NaN: none): the highest ground is there or higher,
    the lowest there or lower. ``at`` belongs to `known_m`.
    """

    value_m: Floats
    known_m: Floats
    meets_unknown: Bools
    at: Spot


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Sight:
    """How far targets are above the ray that grazes the ground between.

    ``margin_m`` is negative where the target is hidden, by so much; NaN where it may be
    hidden by unknown ground. Where known ground already hides it, it is hidden by at least so
    much though some ground is unknown (`meets_unknown`). inf: no ground lies between.
    ``grazed`` is the place that decides.
    """

    margin_m: Floats
    meets_unknown: Bools
    grazed: Spot


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Link:
    """How free a radio path is, at its narrowest place.

    ``clearance_radii`` is the least clearance of the path in radii of the first Fresnel zone
    there, negative where ground stands in the path; NaN where unknown ground may be
    narrower, unless known ground already stands in the path (then it is that or less). inf: no
    ground lies between. ``clearance_m`` and ``radius_m`` are of the same place.
    """

    clearance_radii: Floats
    clearance_m: Floats
    radius_m: Floats
    meets_unknown: Bools
    narrowest: Spot

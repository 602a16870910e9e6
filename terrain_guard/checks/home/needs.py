"""What the ground asks of straight ways to one spot: for the floor, and under the ceiling.

::

    ●────────────── way ─────────────│ column     judged from the column's edge to where it begins
      ╲  floor, all round   ╱        │
       ╲___     ____/╲_____╱         │ spot

The floor is searched in 3-D (`lift`), in the ground and in the surface if there is one; how high
a way passes above the ground is read off the rays, straight down.
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from functools import cached_property

import numpy as np

from terrain_guard.arrays import Bools, Floats, Ints
from terrain_guard.checks.beneath import Beneath
from terrain_guard.checks.home.destinations import Destination
from terrain_guard.checks.home.lift import lift
from terrain_guard.checks.home.need import Need
from terrain_guard.checks.sight.watching import Targets
from terrain_guard.ground.model import Ground
from terrain_guard.ground.rays import Rays


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class _Lines:
    """Straight lines to one spot: elevations and radii at both ends, and what is judged; (n,)."""

    at_spot_m: Floats
    own_m: Floats
    radius_at_spot_m: Floats
    radius_m: Floats
    from_m: Floats
    to_m: Floats


@dataclass(frozen=True, kw_only=True, eq=False)
class Needs:
    """Ways from places in the air (n,) to one spot; heights are elevations."""

    beneath: Beneath
    destination: Destination
    targets: Targets
    column_m: float  # how near to the spot its column replaces the floor
    floor_m: float
    drift_m: float  # how far beside its line it may be
    spot_m: float  # elevation on which it lands
    enough_m: float = np.inf  # of ways that are not level, more room than this is not measured

    @property
    def rays(self) -> Rays:
        """The rays over the ground from the spot to the places."""
        return self.targets.rays(self.beneath.ground, self.destination.place_deg)

    @property
    def length_m(self) -> Floats:
        """Metres over the ground from the spot."""
        return self.rays.length_m

    # -- the floor ------------------------------------------------------------------

    @cached_property
    def _level(self) -> Need:
        """What level ways need: the same elevation, wherever they lie."""
        own, floor = self.targets.elevation_m, np.full(self.length_m.shape, self.floor_m)
        found = self._need(own, own, floor, floor, to_m=self.length_m)
        return replace(found, way_m=own)

    def level(self, level_m: Floats) -> Need:
        """Return what level ways need, where they lie at `level_m`."""
        return self._level.at_level(level_m)

    def level_with(self, level_m: Floats, *, radius_m: Floats, only: Bools) -> Need:
        """Return the same for other radii, of some ways."""
        return self._need(level_m, level_m, radius_m, radius_m, to_m=self.length_m, only=only)

    def climb(self, own_m: Floats, gradient: Floats, *, only: Bools, eased_from_m: Floats) -> Need:
        """Return what lines need that climb towards the spot, drawn on over the whole way.

        A way that climbs on such a line and flies on level is clear exactly if both lines are:
        see `needed`. `eased_from_m`: the elevation from which half the height will do while that
        is less than the floor; inf: nowhere.
        """
        floor = np.full(own_m.shape, self.floor_m)
        half = (own_m - eased_from_m) / 2
        short = np.where(half < floor, 2 * (floor - half) / gradient, 0.0)
        short = np.where(np.isfinite(eased_from_m), short, 0.0)
        change = np.maximum(self.length_m - short, 0.0)
        drawn_on = own_m + gradient * self.length_m
        far = self._need(
            drawn_on, own_m, floor, floor, to_m=change, only=only, enough_m=self.enough_m
        )
        near = self._need(
            drawn_on, own_m, half + gradient * self.length_m / 2, np.maximum(half, 0.0),
            from_m=change, to_m=self.length_m, only=only & (short > 0) & (half >= 0),
            is_eased=True, enough_m=self.enough_m,
        )  # fmt: skip
        return far.worse(near)

    def slanting(self, own_m: Floats) -> Need:
        """Return what straight ways down to the spot need: the floor, or half the height left.

        What is left tapers to nothing at the spot, so that two parts are judged: where half the
        height above the spot is more than the floor, and where it is less.
        """
        high = own_m - self.spot_m
        floor = np.full(own_m.shape, self.floor_m)
        with np.errstate(divide="ignore", invalid="ignore"):
            change = np.where(
                high > 0, np.clip(2 * self.floor_m / high, 0.0, 1.0) * self.length_m, self.length_m
            )
        spot = np.full(own_m.shape, self.spot_m)
        outer = self._need(
            spot, own_m, floor, floor, from_m=change, to_m=self.length_m, enough_m=self.enough_m
        )
        nothing, half = np.zeros(own_m.shape), np.abs(high) / 2
        inner = self._need(
            spot, own_m, nothing, half, to_m=change, is_eased=True, enough_m=self.enough_m
        )
        return outer.worse(inner)

    def _need(
        self,
        at_spot_m: Floats,
        own_m: Floats,
        radius_at_spot_m: Floats,
        radius_m: Floats,
        *,
        to_m: Floats,
        from_m: Floats | None = None,
        only: Bools | None = None,
        is_eased: bool = False,
        enough_m: float = np.inf,
    ) -> Need:
        """Search every model; of no stretch nothing is asked."""
        from_m = np.full(to_m.shape, self.column_m) if from_m is None else from_m
        from_m = np.maximum(from_m, self.column_m)
        out = _nothing(to_m.shape)
        pick = np.flatnonzero((from_m < to_m) & (True if only is None else only))
        if not pick.size:
            return out
        lines = _Lines(
            **{name: values[pick] for name, values in
               {"at_spot_m": at_spot_m, "own_m": own_m, "radius_at_spot_m": radius_at_spot_m,
                "radius_m": radius_m, "from_m": from_m, "to_m": to_m}.items()}
        )  # fmt: skip
        found = replace(_nothing(pick.shape), lift_m=np.full(pick.shape, -enough_m))
        # A surface first: of the ground below it only what asks for more is looked for.
        for model in reversed(self.beneath.models.values()):
            found = found.worse(self._of_model(model, pick, lines, more_than_m=found.lift_m))
        nowhere = np.isnan(found.far_m)
        found = replace(found, lift_m=np.where(nowhere, -np.inf, found.lift_m))
        return out.put(pick, found, np.full(pick.shape, is_eased))

    def _of_model(self, model: Ground, pick: Ints, lines: _Lines, *, more_than_m: Floats) -> Need:
        row, column = model.posts_at(self.targets.lon_deg[pick], self.targets.lat_deg[pick])
        (spot_row,), (spot_column,) = model.posts_at(*self.destination.place_deg)
        found = lift(
            model,
            (row, column, lines.own_m),
            (spot_row, spot_column, lines.at_spot_m),
            radius_m=lines.radius_m,
            radius_at_end_m=lines.radius_at_spot_m,
            corridor_m=self.drift_m,
            from_m=lines.from_m,
            to_m=lines.to_m,
            more_than_m=more_than_m,
        )
        lon, lat = model.degrees_at(
            np.nan_to_num(found.row, nan=spot_row), np.nan_to_num(found.column, nan=spot_column)
        )
        share = found.along_m / self.length_m[pick]
        return Need(
            lift_m=np.where(np.isnan(found.lift_m), -np.inf, found.lift_m),
            elevation_m=found.elevation_m,
            way_m=lines.at_spot_m + share * (lines.own_m - lines.at_spot_m),
            far_m=found.along_m,
            lon_deg=np.where(np.isnan(found.row), np.nan, lon),
            lat_deg=np.where(np.isnan(found.row), np.nan, lat),
            is_unknown=found.meets_void,
            is_eased=np.zeros(pick.shape, dtype=bool),
        )

    # -- the ceiling ----------------------------------------------------------------

    @cached_property
    def _lowest(self) -> Need:
        own = self.targets.elevation_m
        return self._top(own, own)

    def top_of_level(self, level_m: Floats) -> Need:
        """Return the lowest ground under level ways: over it they pass highest."""
        return self._lowest.at_level(level_m)

    def top_of_slant(self, own_m: Floats) -> Need:
        """Return the ground over which straight ways down to the spot pass highest."""
        return self._top(np.full(own_m.shape, self.spot_m), own_m)

    def _top(self, at_spot_m: Floats, own_m: Floats) -> Need:
        found = self.rays.lowest(over_m=(at_spot_m, own_m))
        row, column = found.at.row, found.at.column
        ground = self.beneath.ground
        (spot_row,), (spot_column,) = ground.posts_at(*self.destination.place_deg)
        lon, lat = ground.degrees_at(
            np.nan_to_num(row, nan=spot_row), np.nan_to_num(column, nan=spot_column)
        )
        share = np.where(self.length_m > 0, found.at.along_m / np.fmax(self.length_m, 1e-9), 0.0)
        way = at_spot_m + share * (own_m - at_spot_m)
        return Need(
            lift_m=-found.known_m,
            elevation_m=way + found.known_m,
            way_m=way,
            far_m=found.at.along_m,
            lon_deg=np.where(np.isnan(row), np.nan, lon),
            lat_deg=np.where(np.isnan(row), np.nan, lat),
            is_unknown=found.meets_unknown,
            is_eased=np.zeros(way.shape, dtype=bool),
        )


def _nothing(shape: tuple[int, ...]) -> Need:
    unknown, none = np.full(shape, np.nan), np.zeros(shape, dtype=bool)
    return Need(
        lift_m=np.full(shape, -np.inf), elevation_m=unknown, way_m=unknown, far_m=unknown,
        lon_deg=unknown, lat_deg=unknown, is_unknown=none, is_eased=none,
    )  # fmt: skip

"""Where the samples of a flight lie and what the ground is like there: what a budget needs."""

from __future__ import annotations

from dataclasses import dataclass, field

import numpy as np

from terrain_guard.arrays import Bools, Floats
from terrain_guard.checks.budget.air import is_barometric
from terrain_guard.checks.budget.crests import near_crest
from terrain_guard.checks.budget.launch_spot import LaunchSpot
from terrain_guard.checks.budget.setting import Setting
from terrain_guard.checks.budget.slopes import Slopes, slopes
from terrain_guard.checks.budget.terms import Term
from terrain_guard.errors import RefusedInput
from terrain_guard.ground.model import Ground
from terrain_guard.path.curve import Curve


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Places:
    """The samples of one curve; arrays (n,), NaN where not known.

    Parameters
    ----------
    x_m, y_m : (n,) float
        East and north in the route's local frame.
    row, column : (n,) float
        Fractional posts of the model.
    along_m : (n,) float
        Metres along the route.
    above_launch_m : (n,) float
    slopes : Slopes
        Of the ground at the samples.
    launch : LaunchSpot
    time_s : (n,) float, optional
        Since the zero was set; None: less than the drift's own time.
    near_crest : (n,) bool, optional
        Whether a crest is near, as wind is felt; None: one may be near everywhere.
    bias_m : (n,) float, optional
        Flown less typed height, as declared; None: none is.
    given : tuple of Term
        Causes that others work out: canopy, launch offset, drawdown.

    Raises
    ------
    RefusedInput
        Arrays of several lengths.
    """

    x_m: Floats
    y_m: Floats
    row: Floats
    column: Floats
    along_m: Floats
    above_launch_m: Floats
    slopes: Slopes
    launch: LaunchSpot
    time_s: Floats | None = None
    near_crest: Bools | None = None
    bias_m: Floats | None = None
    given: tuple[Term, ...] = field(default=())

    def __post_init__(self) -> None:
        """Refuse arrays that do not go together."""
        arrays = {
            "x_m": self.x_m, "y_m": self.y_m, "row": self.row, "column": self.column,
            "along_m": self.along_m, "above_launch_m": self.above_launch_m,
            "slopes": self.slopes.east, "time_s": self.time_s, "bias_m": self.bias_m,
            "near_crest": self.near_crest,
        }  # fmt: skip
        other = [name for name, values in arrays.items()
                 if values is not None and np.shape(values) != (self.count,)]  # fmt: skip
        if other:
            msg = (
                f"samples: {', '.join(other)} given in another number than the {self.count} of "
                "x_m; give one value a sample"
            )
            raise RefusedInput(msg)

    @property
    def count(self) -> int:
        """How many samples there are."""
        return int(np.size(self.x_m))

    @property
    def away_m(self) -> Floats:
        """Horizontal metres from launch."""
        return np.hypot(self.x_m - self.launch.x_m, self.y_m - self.launch.y_m)

    @property
    def tilt(self) -> tuple[Floats, Floats]:
        """How much steeper the ground is than at launch, east and north."""
        slope = self.slopes
        return slope.east - self.launch.slope_east, slope.north - self.launch.slope_north

    @property
    def known(self) -> Bools:
        """Where a sample has a place and a height."""
        return np.isfinite(self.x_m) & np.isfinite(self.y_m) & np.isfinite(self.above_launch_m)


def places_along(
    ground: Ground,
    curve: Curve,
    launch: LaunchSpot,
    setting: Setting,
    *,
    since_s: float = 0.0,
    bias_m: Floats | None = None,
    given: tuple[Term, ...] = (),
) -> Places:
    """Look at the ground under the samples of a curve.

    Parameters
    ----------
    launch : LaunchSpot
        Of the same model: see `launch_spot`.
    since_s : float
        How long before the curve begins the zero was set.
    bias_m, given
        As in `Places`.
    """
    row, column = ground.posts_at(curve.lon_deg, curve.lat_deg)
    wind_counts = setting.wind_m_per_s > 0 and is_barometric(setting.source.name)
    elevation_m = launch.elevation_m + curve.above_launch_m
    return Places(
        x_m=curve.x_m,
        y_m=curve.y_m,
        row=row,
        column=column,
        along_m=curve.along_m,
        above_launch_m=curve.above_launch_m,
        time_s=since_s + curve.time_s,
        near_crest=near_crest(ground, row, column, elevation_m) if wind_counts else None,
        slopes=slopes(
            ground,
            row,
            column,
            registration_m=setting.model.registration.value,
            cell_m=setting.cell_m,
        ),
        launch=launch,
        bias_m=bias_m,
        given=given,
    )

"""The answer as comma-separated values (RFC 4180, with plain line feeds).

Always metres: the columns say so. Not assessed is an empty cell. A CSV file has
no room for the cautions, so whoever writes one prints the table beside it; the
leg table also carries the words that stand beside every verdict in each row.
"""

from __future__ import annotations

import csv
import io
import math
from collections.abc import Iterable, Sequence
from typing import TYPE_CHECKING, Any, Final

from terrain_guard.report import cautions
from terrain_guard.states import SEVERITY

if TYPE_CHECKING:
    from terrain_guard.assessment import Assessment, Extreme, LegHome, LegRow

EVERY_METRE_COLUMNS: Final = (
    "along_m",
    "lat",
    "lon",
    "leg",
    "above_launch_m",
    "ground_elevation_m",
    "above_ground_m",
    "clearance_m",
    "state",
    "return_needed_m",
    "return_state",
    "sight_margin_m",
    "sight_state",
    "link_radii",
    "link_state",
)
EXTREME_COLUMNS: Final = ("nominal_m", "assured_m", "along_m", "lat", "lon", "curve")
HOME_COLUMNS: Final = (
    "return_needed_m",
    "return_needed_along_m",
    "return_failing_m",
    "sight_least_m",
    "sight_least_along_m",
    "hidden_m",
    "link_least_radii",
    "link_least_along_m",
    "link_blocked_m",
)
LEG_COLUMNS: Final = (
    "leg",
    "start",
    "end",
    "state",
    "from_m",
    "to_m",
    "length_m",
    "typed_length_m",
    "typed_start_m",
    "typed_end_m",
    *(
        f"{what}_{column}"
        for what in ("above_ground_min", "above_ground_max", "clearance_min", "clearance_max")
        for column in EXTREME_COLUMNS
    ),
    *HOME_COLUMNS,
    "caution",
)


def legs(assessment: Assessment) -> str:
    """Return the leg table: one row a leg, unrounded."""
    beside = cautions.beside_verdict(assessment)
    home = assessment.coming_home
    of = {} if home is None else {one.leg: one for one in home.legs}
    rows = ([*_leg(row), *_home(of.get(row.leg)), beside] for row in assessment.legs)
    return _text(LEG_COLUMNS, rows)


def every_metre(assessment: Assessment) -> str:
    """Return the reference curve, one row a sample.

    Heights are unrounded metres; lat and lon are written to 1e-9 degrees (a
    tenth of a millimetre). A row's state is the worst of all curves and covers
    the curve from its sample to the next.
    """
    samples = assessment.samples
    columns: Sequence[Iterable[Any]] = (
        _numbers(samples.along_m.tolist()),
        _degrees(samples.lat_deg.tolist()),
        _degrees(samples.lon_deg.tolist()),
        samples.leg.tolist(),
        _numbers(samples.above_launch_m.tolist()),
        _numbers(samples.ground_elevation_m.tolist()),
        _numbers(samples.above_ground_m.tolist()),
        _numbers(samples.clearance_m.tolist()),
        _states(samples.state.tolist()),
        *_every_metre_home(assessment),
    )
    return _text(EVERY_METRE_COLUMNS, zip(*columns, strict=True))


def _states(codes: Iterable[int]) -> list[str]:
    return [str(SEVERITY[code]) for code in codes]


def _every_metre_home(assessment: Assessment) -> Sequence[Iterable[Any]]:
    """Return the columns of ways home, sight and link; empty where nothing is known of them."""
    if assessment.coming_home is None:
        return [[""] * assessment.samples.along_m.size] * 6
    every = assessment.coming_home.every_metre
    return (
        _numbers(every.return_needed_m.tolist()),
        _states(every.return_state.tolist()),
        _numbers(every.sight_margin_m.tolist()),
        _states(every.sight_state.tolist()),
        _numbers(every.link_ratio.tolist()),
        _states(every.link_state.tolist()),
    )


def _leg(row: LegRow) -> list[Any]:
    numbers = (
        row.from_m,
        row.to_m,
        row.length_m,
        row.typed_length_m,
        row.typed_start_m,
        row.typed_end_m,
    )
    extremes = (row.above_ground_min, row.above_ground_max, row.clearance_min, row.clearance_max)
    return [
        int(row.leg),
        row.start,
        row.end,
        str(row.state),
        *_numbers(numbers),
        *(cell for extreme in extremes for cell in _extreme(extreme)),
    ]


def _home(leg: LegHome | None) -> list[Any]:
    if leg is None:
        return [""] * len(HOME_COLUMNS)
    return _numbers(
        (
            leg.return_needed_m,
            leg.return_needed_at_m,
            leg.return_failing_m,
            leg.sight_least_m,
            leg.sight_least_at_m,
            leg.hidden_m,
            leg.link_least_ratio,
            leg.link_least_at_m,
            leg.blocked_m,
        )
    )


def _extreme(extreme: Extreme | None) -> list[Any]:
    if extreme is None:
        return [""] * len(EXTREME_COLUMNS)
    numbers = (extreme.nominal_m, extreme.assured_m, extreme.along_m)
    return [
        *_numbers(numbers),
        *_degrees((extreme.lat_deg, extreme.lon_deg)),
        extreme.curve,
    ]


def _numbers(values: Iterable[float]) -> list[float | str]:
    return [float(value) if math.isfinite(value) else "" for value in values]


def _degrees(values: Iterable[float]) -> list[str]:
    return [f"{value:.9f}" if math.isfinite(value) else "" for value in values]


def _text(header: Sequence[str], rows: Iterable[Iterable[Any]]) -> str:
    out = io.StringIO()
    writer = csv.writer(out, lineterminator="\n")
    writer.writerow(header)
    writer.writerows(rows)
    return out.getvalue()

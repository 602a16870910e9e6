"""Flat margins: what stands for the error budget until there is one. Our own choice."""

from __future__ import annotations

from typing import NamedTuple

FINE_CELL_M = 2.0
COARSE_CELL_M = 31.0
DATUM_DOUBT_M = 2.0  # how far another sea level may lie off the model's: on top of the ceiling's
ROUND_OFF = 1.005  # a cell called 2 m or 31 m measures a little more or less on the ground


class FlatMargins(NamedTuple):
    """Margins in metres; `assurable` is False where no margin would prove anything."""

    floor_m: float
    ceiling_m: float
    assurable: bool
    source: str


def flat_margins(cell_m: float) -> FlatMargins:
    """Return the flat margins for a model, by the longer side of its cells.

    >>> flat_margins(2.0)[:2], flat_margins(30.0)[:2], flat_margins(90.0).assurable
    ((7.0, 5.0), (18.0, 7.0), False)
    """
    if cell_m <= FINE_CELL_M * ROUND_OFF:
        return FlatMargins(7.0, 5.0, True, f"flat margin for cells up to {FINE_CELL_M:g} m")
    if cell_m <= COARSE_CELL_M * ROUND_OFF:
        return FlatMargins(18.0, 7.0, True, f"flat margin for cells up to {COARSE_CELL_M:g} m")
    return FlatMargins(
        18.0, 7.0, False,
        f"flat margin; cells over {COARSE_CELL_M:g} m prove nothing, so tight at best",
    )  # fmt: skip

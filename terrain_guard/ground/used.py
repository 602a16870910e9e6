"""One elevation model, as used: the facts that every output prints."""

from __future__ import annotations

from dataclasses import dataclass


@dataclass(frozen=True, slots=True, kw_only=True)
class TerrainUsed:
    """One elevation model, as used."""

    file: str
    size_bytes: int
    used_hash: str  # sha256 over the sorted (row, column, value) of the cells used
    crs: str
    cell_m: tuple[float, float]
    kind: str  # ground | surface | unknown
    vertical_datum: str
    vertical_unit: str  # words, with "assumed" where the file does not say
    registration: str  # area | point
    void_share_read: float

"""One elevation model, as used: the facts that every output prints."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from terrain_guard.ground.raster import Raster


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
    survey_date: str | None = None  # "2019", "2019-10" or "2019-10-05"
    sigma_m: float | None = None  # one sigma, vertical, as declared
    canopy_m: float | None = None  # how high trees may stand above it, as declared
    card: str | None = None  # the file beside the model that says so
    role: str = "ground"  # ground | surface | second ground: what it was given as

    @classmethod
    def of(cls, raster: Raster, *, void_share_read: float, used_hash: str) -> TerrainUsed:
        """Return the facts of one raster and its card."""
        card = raster.card
        return cls(
            file=raster.path.name,
            size_bytes=raster.size_bytes,
            used_hash=used_hash,
            crs=raster.crs_text,
            cell_m=raster.cell_m,
            kind=card.kind or "unknown",
            vertical_datum=raster.vertical_datum,
            vertical_unit=raster.unit_text,
            registration=raster.registration,
            void_share_read=void_share_read,
            survey_date=card.survey_date,
            sigma_m=card.sigma_m,
            canopy_m=card.canopy_m,
            card=card.file,
        )

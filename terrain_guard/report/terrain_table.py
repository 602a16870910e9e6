"""An elevation model on a terminal: what it is, and what looks wrong with it.

At most 80 columns, plain text. A model in which nothing was found is never called
more than that.
"""

from __future__ import annotations

import math
from collections.abc import Iterator
from typing import TYPE_CHECKING, Final

from terrain_guard.report import cautions, terrain_sentences, words
from terrain_guard.report.table import RULER
from terrain_guard.report.terrain_numbers import half_step, height, percent, step
from terrain_guard.report.wrapping import LABEL, wrap

if TYPE_CHECKING:
    from terrain_guard.ground.inspect import Inspection, Spot

NOTHING_FOUND: Final = "nothing suspicious found in what was looked at"
NO_PROOF: Final = (
    "What looks right may still be wrong: an old survey, trees and roofs left out, a shifted "
    "datum leave no trace in the heights. Compare the launch, and one more known height, on site."
)
NO_DATE: Final = "date not stated: what was built, dug or grown since is not in it"
KINDS: Final = {
    "unknown": "not stated: bare ground, or a surface with trees and roofs?",
    "ground": "ground model: bare earth, without trees and roofs",
    "surface": "surface model: with trees and roofs",
}
REGISTRATIONS: Final = {
    "area": "a value stands for its cell (area)",
    "point": "a value stands at a point (point)",
}


def lines(model: Inspection, *, unit: str = "m") -> Iterator[str]:
    """Write what one model is and what looks wrong with it.

    Parameters
    ----------
    model : Inspection
        Metres, unrounded.
    unit : {"m", "ft"}
        What heights and lengths are printed in.

    Yields
    ------
    str
        One line, without its line break, at most 80 characters.
    """
    yield "TERRAIN GUARD: what an elevation model is, and what looks wrong with it"
    yield RULER
    yield from _row("Model", f"{model.file} ({model.driver}, {model.size_bytes:,} bytes)")
    yield from _row("Posts", _posts(model))
    yield from _row("Cells", _cells(model, unit))
    yield from _row("Place", _place(model))
    yield from _row("System", model.crs)
    yield from _row("Datum", f"vertical datum {model.vertical_datum}")
    yield from _row("Unit", model.vertical_unit)
    yield from _row("Kind", KINDS.get(model.kind, model.kind))
    yield from _row("Survey", model.card.survey_date or NO_DATE)
    yield from _card(model, unit)
    yield from _row("Ground", _ground(model, unit))
    yield from _row("Steps", _steps(model, unit))
    yield from _row("Missing", _missing(model))
    yield from _row("Looked at", _looked_at(model))
    yield RULER
    yield from _suspicions(model, unit)
    yield ""


def closing() -> Iterator[str]:
    """Write what stands below all models: the cautions."""
    yield "CAUTIONS"
    for caution in (NO_PROOF, *cautions.FIXED_CAUTIONS[2:]):  # the first two are of a flight
        yield from wrap(caution, first="  - ", rest=4)


# ---------------------------------------------------------------- rows


def _posts(model: Inspection) -> str:
    return f"{model.columns} columns x {model.rows} rows ({model.posts:,}), {model.data_type}"


def _cells(model: Inspection, unit: str) -> str:
    cell = " x ".join(words.stated(side, unit) for side in model.cell_m)
    return f"{cell} {unit}; {REGISTRATIONS.get(model.registration, model.registration)}"


def _place(model: Inspection) -> str:
    west, south, east, north = model.box_deg
    return f"{words.place(south, west)} (south-west) to {words.place(north, east)} (north-east)"


def _card(model: Inspection, unit: str) -> Iterator[str]:
    """Write where kind, survey and the like are said, or may be, and what else is said there."""
    card = model.card
    if card.sigma_m is not None:
        accuracy = words.with_unit(words.stated(card.sigma_m, unit, digits=3), unit)
        yield from _row("Accuracy", f"one sigma of its heights {accuracy}")
    if card.canopy_m is not None:
        canopy = words.with_unit(words.stated(card.canopy_m, unit), unit)
        yield from _row("Canopy", f"trees may stand up to {canopy} above it")
    if card.absent_is_sea:
        yield from _row("Sea", "where no tile is, the sea at 0 is taken for ground")
    if card.priority:
        yield from _row("Priority", f"{card.priority}: where tiles overlap the higher counts")
    unsaid = f"none: {model.file}.toml beside it may say its kind, survey date and the like"
    yield from _row("Card", card.file or unsaid)


def _ground(model: Inspection, unit: str) -> str:
    if math.isnan(model.lowest.elevation_m):
        return "none known in what was looked at"
    return f"{_spot(model.lowest, unit)} to {_spot(model.highest, unit)}"


def _spot(spot: Spot, unit: str) -> str:
    place = words.place(spot.lat_deg, spot.lon_deg)
    return f"{height(spot.elevation_m, unit)} (at {place})"


def _steps(model: Inspection, unit: str) -> str:
    if math.isnan(model.step_m):
        return "no common step"
    half = half_step(model.step_m, unit)
    return f"{step(model.step_m, unit)}: each height is rounded, by up to {half}"


def _missing(model: Inspection) -> str:
    share = percent(model.missing / model.looked_at)
    declared = "none declared" if model.nodata is None else f"declared as {model.nodata:g}"
    return f"{model.missing:,} of {model.looked_at:,} posts ({share}); {declared}"


def _looked_at(model: Inspection) -> str:
    if model.looked_at == model.posts:
        return "every post"
    share = words.down(100 * model.looked_at / model.posts, "m", digits=2)
    return (
        f"{model.looked_at:,} posts, {share} % of the model, in parts spread evenly over it; the "
        "rest was not looked at"
    )


def _suspicions(model: Inspection, unit: str) -> Iterator[str]:
    if not model.suspicions:
        yield NOTHING_FOUND
        return
    yield "WHAT LOOKS WRONG"
    for number, one in enumerate(model.suspicions, start=1):
        yield from wrap(terrain_sentences.headline(one), first=f"{number:3d}  ", rest=5)
        yield from wrap(terrain_sentences.sentence(one, model, unit=unit), first=" " * 5, rest=5)
        where = terrain_sentences.place(one, unit=unit)
        if where:
            yield from wrap(f"where: {where}", first=" " * 5, rest=5)


# ---------------------------------------------------------------- layout


def _row(label: str, text: str) -> list[str]:
    return wrap(text, first=f"{label:<{LABEL}}", rest=LABEL)

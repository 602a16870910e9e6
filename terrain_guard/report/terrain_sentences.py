"""What looks wrong with an elevation model, in words: a headline, and what it means in flight.

Nothing here calls a model fit to fly over. Each sentence names the innocent cause
beside the other, because the file alone does not tell them apart.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping
from types import MappingProxyType
from typing import TYPE_CHECKING, Final

from terrain_guard.ground.inspect_doubts import STEEP_DEG, Kind
from terrain_guard.ground.inspect_texture import BELOW_SEA_M, LAG
from terrain_guard.ground.raster import HIGHEST_M, LOWEST_M
from terrain_guard.report import words
from terrain_guard.report.terrain_numbers import half_step, height, percent, step
from terrain_guard.units import FOOT_M

if TYPE_CHECKING:
    from terrain_guard.ground.inspect import Inspection
    from terrain_guard.ground.inspect_doubts import Suspicion

MANY: Final = 1e-3
"""From this share on, spikes and pits are rather the texture of a surface. Our own choice."""

HEADLINES: Final[Mapping[Kind, str]] = MappingProxyType(
    {
        Kind.NOTHING_KNOWN: "no ground",
        Kind.NO_HEIGHTS: "numbers that are no heights",
        Kind.VOID_NUMBERS: "missing ground not declared",
        Kind.HIDDEN_ZEROS: "zeros taken as missing",
        Kind.STANDING_ZEROS: "zeros that stand out",
        Kind.ZERO_IS_VOID: "zero declared as missing",
        Kind.ONE_LEVEL: "one level",
        Kind.PICTURE: "a picture?",
        Kind.NOISE: "rough all over",
        Kind.STEEP: "very steep",
        Kind.BELOW_SEA: "far below zero",
        Kind.GRID_IN_FEET: "unit in doubt",
        Kind.WHOLE_FEET: "whole feet",
        Kind.OUTSIDE_AREA: "zone in doubt",
        Kind.LEVEL_AT_ZERO: "flat at zero: sea, or missing ground",
        Kind.LEVEL: "flat: water or filled",
        Kind.SMOOTH: "smooth: probably filled",
        Kind.SPIKES: "spikes",
        Kind.PITS: "pits",
        Kind.STEPS: "steps",
    }
)


_ALL_ALIKE: Final = {Kind.VOID_NUMBERS, Kind.HIDDEN_ZEROS, Kind.ZERO_IS_VOID}


def headline(one: Suspicion) -> str:
    """Write what it is and how much of the model it is."""
    name = HEADLINES[one.kind].upper()
    if not one.posts:
        return name
    amount = f"{one.posts:,} {_plural(one.posts, 'post')} ({percent(one.share)})"
    if not one.pieces:
        return f"{name}, {amount}"
    patches = _plural(one.pieces, "patch", "patches")
    return f"{name}, {amount} in {one.pieces:,} {patches}"


def sentence(one: Suspicion, model: Inspection, *, unit: str) -> str:
    """Write what was seen, what it may be, and what it means for a flight."""
    return _SENTENCES[one.kind](one, model, unit)


def place(one: Suspicion, *, unit: str) -> str:
    """Write where the worst is; nothing where the whole model is meant."""
    if one.row < 0:
        return ""
    spot = f"{words.place(one.lat_deg, one.lon_deg)}, row {one.row}, column {one.column}"
    if not one.pieces:
        return f"{'one of them' if one.kind in _ALL_ALIKE else 'the worst'} at {spot}"
    size = f"{one.largest:,} {_plural(one.largest, 'post')} at {height(one.worst, unit)}"
    return f"the largest, {size}, around {spot}"


def _plural(count: int, one: str, many: str | None = None) -> str:
    return one if count == 1 else many or f"{one}s"


# ---------------------------------------------------------------- one sentence a kind


def _nothing_known(_one: Suspicion, _model: Inspection, _unit: str) -> str:
    return "No post looked at holds ground: a flight over this model cannot be assessed."


def _no_heights(one: Suspicion, _model: Inspection, _unit: str) -> str:
    feet = HIGHEST_M < one.worst <= HIGHEST_M / FOOT_M
    hint = " In feet they would be heights: ask for the unit." if feet else ""
    return (
        f"Numbers such as {one.worst:g} lie outside {LOWEST_M:g} to {HIGHEST_M:g} m, where all "
        f"land lies. They are taken as missing: a flight over them is not assessed.{hint}"
    )


def _void_numbers(one: Suspicion, _model: Inspection, _unit: str) -> str:
    return (
        f"They hold {one.worst:g}, a number used for missing ground, but the file does not say "
        "so. They are taken as missing: a flight over them is not assessed."
    )


def _hidden_zeros(_one: Suspicion, _model: Inspection, _unit: str) -> str:
    return (
        "They are exactly 0 where the ground beside them lies far off, or is counted from an "
        "ellipsoid: missing ground, or the sea under a cliff. They are taken as missing: a flight "
        "over them is not assessed."
    )


def _standing_zeros(one: Suspicion, _model: Inspection, unit: str) -> str:
    off = words.with_unit(words.down(one.worst, unit), unit)
    return (
        f"They are exactly 0 and differ by up to {off} even from the nearest neighbour, as no "
        "shore does: probably missing ground, or a sea level counted from elsewhere. They are "
        "taken as ground: if they are none, heights above ground there are wrong by as much."
    )


def _zero_is_void(one: Suspicion, _model: Inspection, unit: str) -> str:
    return (
        "The file says that 0 means missing, but its ground comes down to "
        f"{height(one.worst, unit)}: sea or ground at exactly 0 reads as missing. A flight over "
        "it is not assessed."
    )


def _one_level(one: Suspicion, _model: Inspection, unit: str) -> str:
    return (
        f"All known ground lies at {height(one.worst, unit)}: open water, or a placeholder for "
        "terrain that was not to be had. If it is a placeholder, every height above ground is "
        "invented."
    )


def _picture(one: Suspicion, _model: Inspection, _unit: str) -> str:
    how = f"vary {_times(one)}; ground of such a range varies 50 times and more"
    if one.detail == "slope":
        how = f"differ between neighbours by {percent(one.worst)} of a cell, as no ground does"
    return (
        f"Whole numbers within 0 to 255 that {how}. This looks like a shaded relief or a picture, "
        "not like heights: do not fly by it. Ask where the file comes from."
    )


def _noise(one: Suspicion, _model: Inspection, _unit: str) -> str:
    return (
        f"Heights vary {_times(one)}; bare ground varies more than 6 times. A town or a wood in a "
        "surface model, damaged data, or a map of something else than heights: if so, every "
        "height above ground is meaningless."
    )


def _times(one: Suspicion) -> str:
    return f"over {LAG} posts only {one.worst:.1f} times as much as between neighbours (squared)"


def _steep(one: Suspicion, model: Inspection, _unit: str) -> str:
    return (
        f"{percent(one.worst)} of the ground is steeper than {STEEP_DEG} degrees. True of cliffs, "
        "and of woods and towns in a surface model; else the unit of heights "
        f"({words.clean(model.vertical_unit)}) is wrong, feet for metres, or the size of cells, "
        "and with it every height above ground."
    )


def _below_sea(one: Suspicion, _model: Inspection, unit: str) -> str:
    limit = words.with_unit(words.stated(BELOW_SEA_M, unit, digits=0), unit)
    return (
        f"They lie below {limit}, down to {height(one.worst, unit)}, as little dry land does: "
        "depths under water, a blunder, or heights counted from an ellipsoid, not from the sea. "
        "Over a blunder or a depth the flight is lower above ground than printed."
    )


def _grid_in_feet(one: Suspicion, _model: Inspection, _unit: str) -> str:
    return (
        f"The grid is in {one.detail}, and the file does not say what its heights are in; they "
        "are read as metres. If they are feet, every rise of the ground is overstated 3.28 times."
    )


def _whole_feet(one: Suspicion, _model: Inspection, unit: str) -> str:
    return (
        f"All heights are whole {one.detail}, multiples of {step(one.worst, unit)}, in a file in "
        "metres. They were converted once; converted twice, or not at all, every rise of the "
        "ground is wrong 3.28 times. Compare one with a map."
    )


def _outside_area(one: Suspicion, _model: Inspection, _unit: str) -> str:
    return (
        f"The middle of the model, {words.place(one.lat_deg, one.lon_deg)}, lies {one.worst:.0f} "
        f"degrees outside the area that {words.clean(one.detail)} is meant for. With a wrong "
        "zone or hemisphere the ground is not where the file says."
    )


def _level_at_zero(_one: Suspicion, _model: Inspection, _unit: str) -> str:
    return (
        "They lie at exactly 0: the sea, or missing ground written as 0. If it is not the sea, "
        "true ground stands higher, and the flight is lower above it than printed."
    )


def _level(_one: Suspicion, model: Inspection, unit: str) -> str:
    gentle = (
        f" With steps of {step(model.step_m, unit)}, very gentle ground looks level too."
        if model.step_m >= 0.1
        else ""
    )
    return (
        "Water as it stood on the day of the survey, or missing ground filled with one height."
        f"{gentle} Water may lie lower today, and the flight higher above it; where ground was "
        "filled in, true ground may stand higher than printed."
    )


def _smooth(_one: Suspicion, _model: Inspection, _unit: str) -> str:
    return (
        "Smooth as if drawn, amid ground that is at least ten times as rough all round: missing "
        "ground filled from its edges, or a slope somebody built, as a dam. Where ground was "
        "filled in, true ground may stand higher than printed."
    )


def _spikes(one: Suspicion, _model: Inspection, unit: str) -> str:
    return (
        f"Single posts that stand off all around them, by up to {_off(one, unit)}: a mast, tower "
        "or tree in a surface model, or a blunder. A check takes them as ground: if they are "
        f"none, it finds breaches of the floor that are none.{_many(one)}"
    )


def _pits(one: Suspicion, _model: Inspection, unit: str) -> str:
    return (
        f"Single posts that lie below all around them, by up to {_off(one, unit)}: a shaft, a "
        "gap between trees or roofs in a surface model, or a blunder. A check takes them as "
        f"ground: if they are none, the flight is lower above ground than printed.{_many(one)}"
    )


def _off(one: Suspicion, unit: str) -> str:
    return words.with_unit(words.down(one.worst, unit), unit)


def _many(one: Suspicion) -> str:
    return " So many are rather trees and roofs, or noise." if one.share > MANY else ""


def _steps(one: Suspicion, model: Inspection, unit: str) -> str:
    cell = " x ".join(words.stated(side, unit) for side in model.cell_m)
    return (
        f"All heights are multiples of {step(one.worst, unit)}, on cells of {cell} {unit}: slopes "
        f"become terraces, and the ground may be {half_step(one.worst, unit)} "
        "higher or lower than printed."
    )


_SENTENCES: Final[Mapping[Kind, Callable[[Suspicion, Inspection, str], str]]] = MappingProxyType(
    {
        Kind.NOTHING_KNOWN: _nothing_known,
        Kind.NO_HEIGHTS: _no_heights,
        Kind.VOID_NUMBERS: _void_numbers,
        Kind.HIDDEN_ZEROS: _hidden_zeros,
        Kind.STANDING_ZEROS: _standing_zeros,
        Kind.ZERO_IS_VOID: _zero_is_void,
        Kind.ONE_LEVEL: _one_level,
        Kind.PICTURE: _picture,
        Kind.NOISE: _noise,
        Kind.STEEP: _steep,
        Kind.BELOW_SEA: _below_sea,
        Kind.GRID_IN_FEET: _grid_in_feet,
        Kind.WHOLE_FEET: _whole_feet,
        Kind.OUTSIDE_AREA: _outside_area,
        Kind.LEVEL_AT_ZERO: _level_at_zero,
        Kind.LEVEL: _level,
        Kind.SMOOTH: _smooth,
        Kind.SPIKES: _spikes,
        Kind.PITS: _pits,
        Kind.STEPS: _steps,
    }
)

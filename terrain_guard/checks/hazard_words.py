"""Cautions in sentences; each tells in words where its rule comes from.

Metres, seconds and per cent, rounded outward: clearances and times down, the rest up.
"""

from __future__ import annotations

from typing import Final

from terrain_guard.plan.keys import number_text
from terrain_guard.units import text_down, text_up

COMMON: Final = "common practice, no source"
OURS: Final = "our own choice, no source"
GEOMETRY: Final = "geometry of the elevation model"
COMPASS: Final = (
    "north", "north-east", "east", "south-east", "south", "south-west", "west", "north-west"
)  # fmt: skip


def compass(bearing_deg: float) -> str:
    """Return the nearest of eight points of the compass.

    >>> compass(350.0), compass(100.0)
    ('north', 'east')
    """
    return COMPASS[round(bearing_deg / 45.0) % 8]


def _per_cent(share: float) -> str:
    return f"{text_up(share * 100, digits=0)} %"


# -- the ground ---------------------------------------------------------------------


def launch_slope(slope: float, within_m: float, lower_m: float, higher_m: float) -> str:
    """Say what a launch spot known only roughly does on a slope."""
    return (
        f"Launch on a slope of {_per_cent(slope)}: within {number_text(within_m)} m of the spot "
        f"(launch.spot_within_m) the ground lies up to {text_up(lower_m)} m lower and "
        f"{text_up(higher_m)} m higher, and with it the whole flight ({GEOMETRY})."
    )


def surface_over_launch(above_m: float) -> str:
    """Say that something stands over the launch ground."""
    return (
        f"The surface model stands {text_up(above_m)} m above the ground model at the launch: "
        f"under trees, or on a roof? Launch elevation ambiguous: measure it ({COMMON})."
    )


LAUNCH_OFF_SURFACE: Final = (
    "The launch ground is read off a surface model: a tree, roof or vehicle that stood there at "
    "its survey puts every height above ground too high; measure it and state "
    f"launch.elevation_m ({COMMON})."
)


def coarse_cells(cell_m: float, slope: float, where: str) -> str:
    """Say that a slope is too steep for the cells."""
    return (
        f"Cells of {cell_m:.0f} m on a slope of {_per_cent(slope)} ({where}): within one cell the "
        f"ground rises by {text_up(cell_m * slope)} m; get a finer model ({COMMON})."
    )


def coarsest_cells(cell_m: float) -> str:
    """Say that cells prove no floor."""
    return (
        f"Cells of {cell_m:.0f} m: cells of 90 m or more prove no floor wherever the ground slopes "
        f"by more than 10 %; get a finer model ({COMMON})."
    )


def steep_ground(slope: float, within_m: float, limit: float, where: str) -> str:
    """Name the steepest ground near the route."""
    return (
        f"Ground of {_per_cent(slope)} within {within_m:.0f} m of the route, steepest near "
        f"{where}: an elevation model is not to be trusted on faces steeper than "
        f"{limit * 100:.0f} % ({OURS})."
    )


def gorge(sky: float, where: str) -> str:
    """Say how little sky satellites have."""
    return (
        f"Gorge: from {where} the walls leave {text_down(sky * 100, digits=0)} % of the sky in "
        "the narrowest section; satellite places may be off by 10 to 20 m sideways there "
        f"({COMMON})."
    )


def lee_side(
    wind_m_per_s: float, from_deg: float, slope_deg: float, faces_deg: float, where: str
) -> str:
    """Name the lee side."""
    return (
        f"Lee side: wind of {number_text(wind_m_per_s)} m/s from {number_text(from_deg)} degrees "
        f"comes down the slope of {text_up(slope_deg, digits=0)} degrees that faces "
        f"{compass(faces_deg)} under {where}: sink and rotor, which no number here clears "
        f"({COMMON})."
    )


def lee_unknown(wind_m_per_s: float, slope_deg: float, where: str) -> str:
    """Say that the lee side cannot be told."""
    return (
        f"Wind of {number_text(wind_m_per_s)} m/s over slopes of up to "
        f"{text_up(slope_deg, digits=0)} degrees ({where}): one side is a lee side with sink and "
        f"rotor; state conditions.wind_from_deg to learn which ({COMMON})."
    )


def crest_wind_unknown(wind_m_per_s: float, lower_m: float, within_m: float, where: str) -> str:
    """Say how much lower a barometer may fly over a crest, where no wind is stated."""
    return (
        f"Crest near {where}: in wind a barometer flies lower within {within_m:.0f} m of it, in "
        f"{number_text(wind_m_per_s)} m/s by up to {text_up(lower_m)} m (Bernoulli's equation; "
        f"wind half as fast again over a crest: {COMMON}); state conditions.wind_m_per_s."
    )


# -- the way ahead ----------------------------------------------------------------------


def ahead(seconds: float, far_m: float, speed_m_per_s: float, stop_m: float, where: str) -> str:
    """Say how soon the ground is met on a level hold."""
    return (
        f"{where[0].upper()}{where[1:]}: if it holds its height there, it meets the ground in "
        f"{text_down(seconds)} s, after {text_down(far_m)} m at {number_text(speed_m_per_s)} m/s; "
        f"a stop at 3 m/s² takes {text_up(stop_m)} m (less than 10 s: {COMMON})."
    )


def drift(wind: str, toward_deg: float, seconds: float, where: str) -> str:
    """Say where an aircraft drifts that has lost its position."""
    return (
        f"Position lost on {where}: drifting with the wind ({wind}) at its height, it meets the "
        f"hill to the {compass(toward_deg)} in {text_down(seconds)} s (less than 30 s: {COMMON})."
    )


def resumed(name: str, depth_m: float, far_m: float, more: int) -> str:
    """Say which straight line from launch runs into the ground."""
    others = f"; so do lines to {more} more" if more else ""
    return (
        f"Started or resumed at {name} (a pause, a second battery), a straight line from launch "
        f"runs {text_up(depth_m)} m deep into the ground, {text_up(far_m, digits=0)} m "
        f"out{others} ({GEOMETRY})."
    )

"""Cautions about typed heights in sentences; each tells in words where its rule comes from."""

from __future__ import annotations

import math
from collections.abc import Sequence

from terrain_guard.checks.hazard_words import COMMON, GEOMETRY
from terrain_guard.plan.keys import number_text
from terrain_guard.units import in_unit, text_down, text_up

NAMED = 3


def limited(
    cut: Sequence[tuple[str, float]],
    limit_m: float,
    *,
    stated: bool,
    then: tuple[float, float] | None,
) -> str:
    """Name the heights that are cut, the most first, and what is flown then."""
    named = ", ".join(
        f"{name} {typed:.1f} m by {text_up(typed - limit_m)} m" for name, typed in cut[:NAMED]
    )
    more = f" and {len(cut) - NAMED} more" if cut[NAMED:] else ""
    limit = number_text(limit_m)
    if stated:
        head = f"The height limit set in the aircraft, {limit} m above launch (aircraft.max_height)"
        verb, source = "silently cuts", "the route file"
    else:
        head = f"Many aircraft are limited to {limit} m above launch: such a limit"
        verb, source = "silently cuts", COMMON
    flown = ""
    if then is not None:
        least, at = then
        flown = f"; so cut, the least height above ground is {text_down(least)} m, at {at:.0f} m"
    return f"{head} {verb} typed heights: {named}{more}{flown} ({source})."


def near_limiter(near: Sequence[tuple[str, float]], limit_m: float, within_m: float) -> str:
    """Name the heights that come near to the limit."""
    named = ", ".join(f"{name} {typed:.1f} m" for name, typed in near[:NAMED])
    more = f" and {len(near) - NAMED} more" if near[NAMED:] else ""
    return (
        f"Typed within {within_m:.0f} m of the height limit set in the aircraft, "
        f"{number_text(limit_m)} m above launch (aircraft.max_height): {named}{more}; it may level "
        f"off before ({COMMON})."
    )


def low_height(name: str, typed_m: float, low_m: float) -> str:
    """Say that the lowest height may be raised."""
    return (
        f"{name} is typed {typed_m:.1f} m above launch: a least height set in the aircraft may "
        f"silently raise typed heights below {low_m:.0f} m ({COMMON})."
    )


def below_launch(name: str, below_m: float) -> str:
    """Say what turns round below launch."""
    return (
        f"{name} is typed {text_up(below_m)} m below launch: there cold air flies it higher and "
        "hot air lower, the way home climbs, and the launch may hide it from sight and link "
        f"({GEOMETRY})."
    )


def in_feet(step: float, above: float) -> str:
    """Ask about feet."""
    return (
        f"Every typed height is a multiple of {step:.0f} and above {above:.0f}, in metres by "
        f"height_unit: were they meant in feet ({COMMON})?"
    )


def moved_home(above_m: float) -> str:
    """Say where an aircraft ends that descends to the zero of its old launch."""
    if above_m > 0:
        end = "it meets the ground so much sooner than it shows"
    else:
        end = "it shows zero, and may stop there, so far above the ground"
    side = "above" if above_m > 0 else "below"
    return (
        f"Home lies {text_up(abs(above_m))} m {side} the zero of the launch, which it still counts "
        f"from: landing there, {end} ({GEOMETRY})."
    )


def own_sensing(clearance_m: float, within_m: float, leg: int, at_m: float) -> str:
    """Say that the aircraft may leave the typed path by itself."""
    return (
        f"Leg {leg} at {at_m:.0f} m comes within {text_up(max(clearance_m, 0.0))} m of what stands "
        f"there: nearer than about {within_m:.0f} m the aircraft's own sensing may stop it or lead "
        f"it off the path that was checked ({COMMON})."
    )


def thin_air(top_m: float, share: float, up_m_per_s: float) -> str:
    """Say how thin the air is."""
    return (
        f"Highest point at {text_up(top_m, digits=0)} m: standard air there has "
        f"{text_down(share * 100, digits=0)} % of its density at sea level (ICAO Doc 7488); the "
        f"climb of {number_text(up_m_per_s)} m/s (climb.up_m_per_s) may not be reached, the less "
        f"in sinking air ({COMMON})."
    )


def on_the_controller(typed_m: Sequence[float], unit: str) -> str:
    """Say what to compare on the controller."""
    first, last, highest = (
        _typed(metres, unit) for metres in (typed_m[0], typed_m[-1], max(typed_m))
    )
    return (
        f"Before take-off compare the controller with this file: {len(typed_m)} waypoints, typed "
        f"above launch: first {first}, last {last}, highest {highest} ({COMMON})."
    )


def _typed(metres: float, unit: str) -> str:
    return f"{in_unit(metres, unit):.1f} {unit}" if math.isfinite(metres) else "not known"

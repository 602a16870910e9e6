"""Numbers about an elevation model as people read them."""

from __future__ import annotations

from terrain_guard.report import words


def percent(share: float) -> str:
    """Write a share, rounded up: what is missing or doubtful is never less.

    >>> percent(0.00004), percent(0.5), percent(0.0)
    ('0.01 %', '50 %', '0 %')
    """
    return f"{_trimmed(words.up(share * 100, 'm', digits=2))} %"


def height(elevation_m: float, unit: str) -> str:
    """Write an elevation with its unit."""
    return words.with_unit(words.nearest(elevation_m, unit), unit)


def step(step_m: float, unit: str) -> str:
    """Write a step between heights: steps come in round numbers."""
    return f"{words.stated(step_m, unit, digits=3)} {unit}"


def half_step(step_m: float, unit: str) -> str:
    """Write by how much a step may round a height, rounded up."""
    return f"{_trimmed(words.up(step_m / 2, unit, digits=3))} {unit}"


def _trimmed(number: str) -> str:
    return number.rstrip("0").rstrip(".") if "." in number else number

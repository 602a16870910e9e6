"""What the launch ground is, and what a survey of it does to heights above ground."""

from __future__ import annotations

from typing import TYPE_CHECKING

from terrain_guard.report import words

if TYPE_CHECKING:
    from terrain_guard.assessment import Assessment


def ground(assessment: Assessment, unit: str) -> str:
    """Say the launch ground's elevation and where it is from; surveyed, how it shifts heights."""
    launch, shift_m = assessment.launch, assessment.survey_shift_m
    elevation = words.with_unit(words.nearest(launch.elevation_m, unit), unit)
    if launch.model_elevation_m is None or shift_m is None:
        return f"{elevation} ({launch.elevation_source})"
    model = words.with_unit(words.nearest(launch.model_elevation_m, unit), unit)
    near, far = (_signed(one, unit) for one in sorted(shift_m, key=abs))
    size = near if near == far else f"{near} to {far}"
    return (
        f"surveyed {elevation} ({launch.elevation_source}), model {model}: heights above ground "
        f"count from the model's, shifted by {words.with_unit(size, unit)}, the more the "
        "farther from launch"
    )


def _signed(metres: float, unit: str) -> str:
    """Write a shift with its sign; 0.0 has none."""
    size = words.nearest(abs(metres), unit)
    return size if not size.strip("0.") else f"{'-' if metres < 0 else '+'}{size}"

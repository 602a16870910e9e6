"""Every cause this room knows by itself, each once, as terms at the samples.

::

    random, one sigma                        one-sided bounds
    elevation model   launch to sample       launch spot     least, greatest ground near it
    registration      (g − g_L) · shift      clipped crest   floor only
    height hold, satellite height            filled gully    ceiling only
    static source, pressure, temperature     steep face      registration, where g > 60 %
    navigation        only without corridor  growth, snow    floor only
                                             crest wind      floor only, barometer, near a crest
                                             pressure trend  the side it hurts, barometer
"""

from __future__ import annotations

from collections.abc import Iterator

import numpy as np

from terrain_guard.arrays import Floats
from terrain_guard.checks.budget import terms
from terrain_guard.checks.budget.air import (
    CREST_WITHIN_M,
    crest_wind_m,
    is_barometric,
    pressure_drift_m,
    static_source_m,
    temperature_sigma_m,
)
from terrain_guard.checks.budget.clipping import clipped_m, filled_m
from terrain_guard.checks.budget.dem_error import against_launch
from terrain_guard.checks.budget.places import Places
from terrain_guard.checks.budget.setting import AIRSPEED_M_PER_S, Setting
from terrain_guard.checks.budget.standard_air import metres_per_hpa
from terrain_guard.checks.budget.terms import REMEDIES, Scope, Term, bound_term, random_term

SHIFT_SIGMAS = 2.0
"""At a steep face a shift of at least so many sigma of registration counts; k if that is more."""


def causes(setting: Setting, places: Places) -> tuple[Term, ...]:
    """Return all terms at the samples, declared bias first, what others gave last."""
    return tuple(
        term.over(places.count)
        for term in (
            *_declared(places),
            *_of_model(setting, places),
            *_of_flight(setting, places),
            *_bounds(setting, places),
            *_bounds_of_air(setting, places),
            *places.given,
        )
    )


def _declared(places: Places) -> Iterator[Term]:
    if places.bias_m is not None:
        yield Term(
            name="declared bias", bucket=terms.Bucket.BIAS, floor_m=places.bias_m,
            ceiling_m=places.bias_m, scope=Scope.FLIGHT, source="as stated",
        )  # fmt: skip


def _of_model(setting: Setting, places: Places) -> Iterator[Term]:
    """Yield what the elevation model may have wrong."""
    model = setting.model
    against = against_launch(
        setting.dem,
        places.away_m,
        survey_sigma_m=setting.survey_sigma_m,
        launch_on_model=setting.launch_on_model,
    )
    said = setting.sigma_m is not None
    stated = f"{setting.sigma_m:g} m in all, as its card says" if said else model.nugget.source
    if setting.survey_sigma_m is not None and setting.launch_on_model:
        stated += f"; what a survey of the launch to {setting.survey_sigma_m:g} m leaves of it"
    yield random_term(
        terms.MODEL, np.sqrt(against.variance_m2), scope=Scope.LOCAL, assumed=not said,
        source=f"{model.title}: {stated}", remedy=REMEDIES[terms.MODEL],
    )  # fmt: skip
    tilt = np.where(places.slopes.is_steep, 0.0, np.hypot(*places.tilt))
    yield random_term(
        terms.REGISTRATION, tilt * model.registration.value, scope=Scope.FLIGHT, assumed=True,
        source=f"{model.registration.value:.2g} m per axis: {model.registration.source}",
        remedy=REMEDIES[terms.REGISTRATION],
    )  # fmt: skip


def _of_flight(setting: Setting, places: Places) -> Iterator[Term]:
    """Yield how far the aircraft may be off its height; those of no size are left out."""
    source, everywhere = setting.source, np.zeros(places.count)
    if not setting.navigation_in_corridor:
        yield random_term(
            terms.NAVIGATION, places.slopes.plane * source.navigation.value, scope=Scope.LOCAL,
            source=f"{source.navigation.value:g} m per axis: {source.navigation.source}",
            assumed=True, remedy=REMEDIES[terms.NAVIGATION],
        )  # fmt: skip
    for name, sigma_m, scope, said in (
        (terms.HOLD, source.hold.value + everywhere, Scope.LOCAL, source.hold.source),
        (terms.NOISE, source.noise.value + everywhere, Scope.LOCAL, source.noise.source),
        (terms.STATIC, _static(setting) + everywhere, Scope.LOCAL, _at_airspeed(setting)),
        (terms.PRESSURE, _drift(setting, places), Scope.FLIGHT, _drifting(setting)),
        (terms.TEMPERATURE, _warmth(setting, places), Scope.FLIGHT, _warmth_words(setting)),
    ):
        stated = setting.stated_sigma_m.get(name)
        size = sigma_m if stated is None else stated + everywhere
        if np.any(size != 0):
            yield random_term(
                name, size, scope=scope, source=said if stated is None else "as stated",
                assumed=_is_assumed(setting, name), remedy=REMEDIES.get(name, ""),
            )  # fmt: skip


def _is_assumed(setting: Setting, name: str) -> bool:
    if name in setting.stated_sigma_m:
        return False
    return name != terms.TEMPERATURE or setting.temperature_c is None


def _static(setting: Setting) -> Floats:
    return static_source_m(setting.airspeed_m_per_s) * is_barometric(setting.source.name)


def _at_airspeed(setting: Setting) -> str:
    assumed = setting.airspeed_m_per_s == AIRSPEED_M_PER_S
    return f"at {setting.airspeed_m_per_s:g} m/s{', assumed' if assumed else ''}"


def _drift(setting: Setting, places: Places) -> Floats:
    """Return one sigma of the drift of pressure; past its own time it grows with time."""
    source = setting.source
    per_hpa = float(metres_per_hpa(places.launch.elevation_m)) if source.pressure.value else 0.0
    still = np.full(places.count, source.pressure.value * per_hpa)
    if places.time_s is None:
        return still
    return still * np.maximum(places.time_s / source.drift_within.value, 1.0)


def _drifting(setting: Setting) -> str:
    pressure, within = setting.source.pressure, setting.source.drift_within
    return f"{pressure.value:g} hPa in {within.value / 60:g} minutes, {pressure.source}"


def _warmth(setting: Setting, places: Places) -> Floats:
    return temperature_sigma_m(
        places.above_launch_m,
        temperature_c=setting.temperature_c,
        height_from=setting.source.name,
    )


def _warmth_words(setting: Setting) -> str:
    return "the temperature is not stated" if setting.temperature_c is None else "as stated"


def _bounds(setting: Setting, places: Places) -> Iterator[Term]:
    """Yield the one-sided bounds."""
    launch, slope, model = places.launch, places.slopes, setting.model
    cell_m, factor = setting.cell_m, model.crest_factor.value
    cells = f"{cell_m:.3g} m cells" + (f" that level {factor:g}" if factor != 1 else "")
    yield bound_term(
        terms.SPOT, floor_m=launch.lower_m, ceiling_m=launch.higher_m, scope=Scope.FLIGHT,
        source=f"least and greatest ground within {launch.within_m:g} m of it",
        assumed=terms.SPOT in setting.assumed, remedy=REMEDIES[terms.SPOT],
    )  # fmt: skip
    yield bound_term(
        terms.CREST, floor_m=clipped_m(cell_m, slope.crest, slope.peak, factor=factor),
        source=cells, remedy=REMEDIES[terms.CREST],
    )  # fmt: skip
    yield bound_term(
        terms.GULLY, ceiling_m=filled_m(cell_m, slope.gully, slope.pit, factor=factor),
        source=cells, remedy=REMEDIES[terms.GULLY],
    )  # fmt: skip
    yield from _at_faces(setting, places)
    for name, size_m, said in (
        (terms.GROWTH, setting.age_years * setting.growth_m_per_year,
         f"{setting.age_years:.1f} years at {setting.growth_m_per_year:g} m a year"),
        (terms.SNOW, setting.snow_m, "as stated"),
    ):  # fmt: skip
        if size_m:
            yield bound_term(
                name, floor_m=size_m, source=said, assumed=name in setting.assumed,
                remedy=REMEDIES[name],
            )  # fmt: skip


def _bounds_of_air(setting: Setting, places: Places) -> Iterator[Term]:
    """Yield what declared wind and a declared trend of pressure do to a barometer."""
    if not is_barometric(setting.source.name):
        return
    if setting.wind_m_per_s:
        lower = float(crest_wind_m(setting.wind_m_per_s))
        near = np.ones(places.count, dtype=bool) if places.near_crest is None else places.near_crest
        yield bound_term(
            terms.CREST_WIND, floor_m=np.where(near, lower, 0.0), assumed=True,
            source=f"{setting.wind_m_per_s:g} m/s, half as fast again within {CREST_WITHIN_M:g} m "
                   "of a crest; common practice, no source",
            remedy=REMEDIES[terms.CREST_WIND],
        )  # fmt: skip
    if setting.trend_hpa_per_h:
        seconds = setting.source.drift_within.value if places.time_s is None else places.time_s
        higher = pressure_drift_m(
            setting.trend_hpa_per_h, seconds, elevation_m=places.launch.elevation_m
        )
        yield bound_term(
            terms.TREND, floor_m=np.maximum(-higher, 0.0), ceiling_m=np.maximum(higher, 0.0),
            scope=Scope.FLIGHT, source=f"{setting.trend_hpa_per_h:+g} hPa an hour, as stated",
            remedy=REMEDIES[terms.TREND],
        )  # fmt: skip


def _at_faces(setting: Setting, places: Places) -> Iterator[Term]:
    """Yield what a shift of the model may do where a steep face is near."""
    if not places.slopes.is_steep.any():
        return
    registration = setting.model.registration
    slope = places.slopes.steepest_face + places.launch.slope
    floor, ceiling = (
        np.where(places.slopes.is_steep, max(SHIFT_SIGMAS, k) * registration.value * slope, 0.0)
        for k in (setting.floor_k, setting.ceiling_k)
    )
    yield bound_term(
        terms.STEEP_FACE, floor_m=floor, ceiling_m=ceiling, assumed=True,
        source=f"faces over 60 %; {registration.value:.2g} m per axis: {registration.source}",
        remedy=REMEDIES[terms.STEEP_FACE],
    )  # fmt: skip

"""How errors at places of one flight go together: the covariance that joint draws need.

::

    elevation model   alike near by, the launch's own error in all of them
    nugget            once at each post, interpolated as the heights are
    registration      one shift of the whole model, times the slopes
    whole flight      one draw, times the sigma at each place
    local             alike over the height source's own length along the route
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from terrain_guard.arrays import Floats, Ints
from terrain_guard.checks.budget.budget import Budget
from terrain_guard.checks.budget.dem_error import covariance_m2 as of_model_m2
from terrain_guard.checks.budget.places import Places
from terrain_guard.checks.budget.terms import MODEL, REGISTRATION, Bucket, Scope


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Joint:
    """Errors at places: the covariance (n, n) of what differs, and the variance of what does not.

    Every place moves by one and the same draw of variance `together_m2`, besides.
    """

    covariance_m2: Floats
    together_m2: float


def joint(found: Budget, places: Places, pick: Ints, *, nugget_on_posts: bool) -> Joint:
    """Return how the errors at some samples go together.

    Parameters
    ----------
    pick : (n,) int
        Samples.
    nugget_on_posts : bool
        Whether the nugget is in it, drawn at posts and interpolated; else it is left out.
    """
    setting = found.setting
    x, y = places.x_m[pick], places.y_m[pick]
    shared = shared_nugget(places.row[pick], places.column[pick]) if nugget_on_posts else 0.0
    surveyed = setting.survey_sigma_m is not None
    covariance = of_model_m2(
        setting.dem,
        apart_m=np.hypot(x[:, None] - x, y[:, None] - y),
        away_m=places.away_m[pick],
        shared_nugget=np.asarray(shared),
        launch_nugget=surveyed,
        survey_sigma_m=setting.survey_sigma_m,
        launch_on_model=setting.launch_on_model,
    )
    own = setting.dem.nugget_m**2 if setting.launch_on_model and not surveyed else 0.0
    rest, together = _of_terms(found, places, pick)
    return Joint(covariance_m2=covariance + rest, together_m2=own + together)


def _of_terms(found: Budget, places: Places, pick: Ints) -> tuple[Floats, float]:
    """Return the covariance of all terms but the model's heights, and what is the same for all."""
    along = places.along_m[pick]
    apart = np.abs(along[:, None] - along) / found.setting.source.length.value
    total, together, near = np.zeros(apart.shape), 0.0, None
    for term in found.in_bucket(Bucket.RANDOM):
        sigma = term.floor_m[pick]
        if term.name == REGISTRATION:
            total += _of_shift(found, places, pick)
        elif term.name != MODEL and term.scope is Scope.FLIGHT and np.ptp(sigma) == 0:
            together += float(sigma[0]) ** 2
        elif term.name != MODEL:
            near = np.exp(-apart) if near is None else near
            total += np.outer(sigma, sigma) * (near if term.scope is Scope.LOCAL else 1.0)
    return total, together


def _of_shift(found: Budget, places: Places, pick: Ints) -> Floats:
    """Return what a shift of the model does; where a steep face is near a bound holds it."""
    steep = places.slopes.is_steep[pick]
    east, north = (np.where(steep, 0.0, part[pick]) for part in places.tilt)
    sigma = found.setting.model.registration.value
    return sigma**2 * (np.outer(east, east) + np.outer(north, north))


def shared_nugget(row: Floats, column: Floats) -> Floats:
    """Return the share (n, n) of a post's variance that bilinear grounds at places have in common.

    >>> shared_nugget(np.array([0.0, 0.5, 2.0]), np.zeros(3)).tolist()
    [[1.0, 0.5, 0.0], [0.5, 0.5, 0.0], [0.0, 0.0, 1.0]]
    """
    return _shared_on_axis(row) * _shared_on_axis(column)


def shared_nugget_at(row: Floats, column: Floats) -> Floats:
    """Return the share (n,) of a post's variance that the bilinear ground at places has."""
    v, u = row - np.floor(row), column - np.floor(column)
    return (v**2 + (1 - v) ** 2) * (u**2 + (1 - u) ** 2)


def _shared_on_axis(at: Floats) -> Floats:
    first, share = np.floor(at), at - np.floor(at)
    a, b = share[:, None], share
    step = first - first[:, None]  # of the second past the first
    return np.select(
        [step == 0, step == 1, step == -1],
        [(1 - a) * (1 - b) + a * b, a * (1 - b), (1 - a) * b],
        default=0.0,
    )

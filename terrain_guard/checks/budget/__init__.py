"""The error budget: what may be wrong with a height, cause by cause, each once.

In reading order:

* what models and height sources are worth: `confidence`, `classes`; what the air
  does: `standard_air`, `air`;
* how far two heights of one model may be wrong against each other: `dem_error`;
* what the ground is like: `posts_near`, `slopes`, `launch_spot`, `clipping`;
* the sum: `terms`, `setting`, `places`, `causes`, `budget`; told: `explain`;
* the whole flight: `tails`, `covariance`, `whole_flight`.
"""

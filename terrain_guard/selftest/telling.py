"""The self-test on a terminal: one line a case, the count, the worst error, versions.

At most 80 columns, plain text; what needs a look is in capitals.
"""

from __future__ import annotations

import math
import platform
import textwrap
from collections.abc import Iterator, Sequence
from typing import Final

import terrain_guard
from terrain_guard.report import words
from terrain_guard.report.table import RULER
from terrain_guard.report.wrapping import WIDTH
from terrain_guard.selftest.running import Result

WHAT: Final = 46
NUMBER: Final = 10
LIMIT_OF_IT: Final = (
    "This proves the arithmetic of this program on this machine. It says nothing about your "
    "route, your elevation model or the site."
)
REMEDY: Final = (
    "Do not plan with this program on this machine until every case holds: install it anew in "
    "an environment of its own; if that changes nothing, report these lines."
)


def lines(results: Sequence[Result]) -> Iterator[str]:
    """Write how every case went.

    Yields
    ------
    str
        One line, without its line break, at most 80 characters.
    """
    yield "TERRAIN GUARD: self-test against closed forms, end to end; metres"
    yield RULER
    yield _row("case", "expected", "found", "error")
    for result in results:
        yield _line(result)
    yield RULER
    yield from _off(results)
    yield from _not_run(results)
    passed = sum(result.passed for result in results)
    yield f"{passed} of {len(results)} closed-form cases"
    yield from _wrap(f"WORST ERROR {_worst(results)}")
    yield from _wrap(", ".join(_versions()))
    yield from _wrap(LIMIT_OF_IT if passed == len(results) else REMEDY)


def _row(what: str, expected: str, found: str, error: str, mark: str = "") -> str:
    numbers = "".join(f"{text:>{NUMBER}}" for text in (expected, found, error))
    return f"{what:<{WHAT}}{numbers}{mark:>4}".rstrip()


def _line(result: Result) -> str:
    what, outcome = result.case.what, result.outcome
    if outcome is None:
        return _row(what, "", "NOT RUN", "")
    found = "nothing" if math.isnan(outcome.found_m) else f"{outcome.found_m:.3f}"
    error = words.up(outcome.error_m, "m", digits=4)
    return _row(what, f"{outcome.expected_m:.3f}", found, error, "" if outcome.holds else "OFF")


def _off(results: Sequence[Result]) -> Iterator[str]:
    """Name each case that is off, and by how much."""
    for result in results:
        case, outcome = result.case, result.outcome
        if outcome is not None and not outcome.holds:
            error = words.with_unit(words.up(outcome.error_m, "m", digits=4), "m")
            allowed = f"allowed {outcome.tolerance_m:g} m"
            yield from _wrap(f"OFF {case.name}: {case.what}; error {error}, {allowed}")


def _not_run(results: Sequence[Result]) -> Iterator[str]:
    """Name the cases that could not be run; those with one reason together."""
    names: dict[str, list[str]] = {}
    for result in results:
        if result.outcome is None:
            names.setdefault(result.reason, []).append(result.case.name)
    for reason, those in names.items():
        yield from _wrap(words.clean(f"NOT RUN {', '.join(those)}: {reason}"))


def _worst(results: Sequence[Result]) -> str:
    run = [(result.outcome.error_m, result) for result in results if result.outcome is not None]
    if not run:
        return "not known: no case was run"
    error, result = max(run, key=lambda one: one[0])
    size = f"{words.up(error, 'm', digits=4)} m" if math.isfinite(error) else "not known, in"
    return f"{size} ({result.case.what})"


def _versions() -> Iterator[str]:
    """Name what did the arithmetic; rasterio and pyproj each bring a PROJ of their own."""
    import numpy as np
    import pyproj
    import rasterio

    yield f"terrain-guard {terrain_guard.__version__}"
    yield f"Python {platform.python_version()}"
    yield f"numpy {np.__version__}"
    yield f"rasterio {rasterio.__version__}"
    yield f"GDAL {rasterio.__gdal_version__}"
    yield f"PROJ {pyproj.proj_version_str} (pyproj {pyproj.__version__})"
    yield f"PROJ {rasterio.__proj_version__} (rasterio)"


def _wrap(text: str) -> list[str]:
    return textwrap.wrap(text, width=WIDTH, subsequent_indent="  ", break_on_hyphens=False)

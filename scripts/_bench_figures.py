"""Figures, how they are timed, and the table they are printed in."""

from __future__ import annotations

import json
import math
import os
import platform
import subprocess
import sys
import time
from collections.abc import Callable, Sequence
from dataclasses import dataclass
from importlib.metadata import version
from pathlib import Path
from typing import Any

ROOT = Path(__file__).resolve().parent.parent
HEADINGS = ("work", "measured", "beside", "ratio", "required", "goal", "")

# A small process of its own starts the one that is measured: on Linux a child's peak
# counts what its parent held when it was started.
_STARTER = """
import json, os, subprocess, sys, time
start = time.perf_counter()
child = subprocess.Popen(sys.argv[1:], stdout=subprocess.DEVNULL)
busy = peak = None
if hasattr(os, "wait4"):
    _, status, usage = os.wait4(child.pid, 0)
    code = os.waitstatus_to_exitcode(status)
    busy = usage.ru_utime + usage.ru_stime
    peak = usage.ru_maxrss * (1 if sys.platform == "darwin" else 1024)
else:
    code = child.wait()
print(json.dumps([time.perf_counter() - start, code, busy, peak]))
"""


@dataclass(frozen=True, slots=True, kw_only=True)
class Figure:
    """One line of the table.

    `value` is what is compared: seconds (unit "s"), megabytes ("MB"), a share ("%"), or the
    ratio to what stands beside ("×"); NaN where it could not be measured. A share may be
    required to lie between two bounds: `no_less` is the lower.
    """

    work: str
    value: float
    unit: str
    measured: str = ""
    beside: str = ""
    at_most: bool = True  # what is wanted; False: at least
    no_less: float | None = None
    required: float | None = None
    goal: float | None = None

    def reaches(self, bound: float) -> bool:
        """Tell whether the value is known to reach the bound."""
        return self.value <= bound if self.at_most else self.value >= bound

    @property
    def missed(self) -> bool:
        """Whether something is required and not known to be reached."""
        if self.no_less is not None and not self.value >= self.no_less:
            return True
        return self.required is not None and not self.reaches(self.required)

    @property
    def cells(self) -> tuple[str, ...]:
        """The line, cell by cell, under `HEADINGS`."""
        ratio = self.unit == "×"
        value = "not measured" if math.isnan(self.value) else f"{self.value:.3g} {self.unit}"
        return (
            self.work,
            self.measured or ("" if ratio else value),
            self.beside,
            value if ratio else "",
            self._required(),
            self._bound(self.goal),
            self._word(),
        )

    def _required(self) -> str:
        if self.no_less is None:
            return self._bound(self.required)
        return f"{self.no_less:.3g} to {self.required:.3g} {self.unit}"

    def _bound(self, bound: float | None) -> str:
        sign = "≤" if self.at_most else "≥"
        return "" if bound is None else f"{sign} {bound:.3g} {self.unit}"

    def _word(self) -> str:
        if self.required is None:
            return ""
        if self.missed:
            return "MISSED"
        return "goal met" if self.goal is not None and self.reaches(self.goal) else "met"


@dataclass(frozen=True, slots=True, kw_only=True)
class Run:
    """How one process went."""

    seconds: float
    code: int
    busy_s: float  # of a processor, by all threads; NaN where the system does not say
    peak_mb: float  # most memory at once; likewise


def table(figures: Sequence[Figure]) -> list[str]:
    """Return the lines of the table."""
    rows = [HEADINGS, *(figure.cells for figure in figures)]
    widths = [max(len(row[k]) for row in rows) for k in range(len(HEADINGS))]
    lines = [
        "  ".join([row[0].ljust(widths[0])]
                  + [cell.rjust(width) for cell, width in zip(row[1:-1], widths[1:-1], strict=True)]
                  + [row[-1]]).rstrip()
        for row in rows
    ]  # fmt: skip
    return [lines[0], "-" * max(map(len, lines)), *lines[1:]]


def best_of(count: int, *jobs: Callable[[], Any]) -> tuple[list[float], list[Any]]:
    """Run the jobs in turn, `count` times; return the least seconds of each, and its answers.

    In turn, so that a busy spell of the machine meets them all.
    """
    times = [math.inf] * len(jobs)
    answers: list[Any] = []
    for _ in range(count):
        answers = []
        for k, job in enumerate(jobs):
            start = time.perf_counter()
            answers.append(job())
            times[k] = min(times[k], time.perf_counter() - start)
    return times, answers


def fresh(*arguments: str) -> Run:
    """Run this program in a process of its own; what it prints is dropped."""
    program = [sys.executable, "-m", "terrain_guard.cli", *arguments]
    starter = [sys.executable, "-I", "-S", "-c", _STARTER, *program]
    done = subprocess.run(starter, cwd=ROOT, capture_output=True, text=True, check=True)
    seconds, code, busy, peak = json.loads(done.stdout)
    if code in {1, 2} or code < 0:
        message = f"terrain-guard {' '.join(arguments)} exited {code}: {done.stderr.strip()}"
        raise RuntimeError(message)
    return Run(
        seconds=seconds,
        code=code,
        busy_s=math.nan if busy is None else busy,
        peak_mb=math.nan if peak is None else peak / 1e6,
    )


def surroundings() -> list[str]:
    """Return what the figures depend on: versions, processors, and how busy they are."""
    import rasterio

    packages = ("numpy", "scipy", "rasterio", "pyproj")
    names = [f"Python {platform.python_version()}"]
    names += [f"{name} {version(name)}" for name in packages]
    names.append(f"GDAL {rasterio.__gdal_version__}")
    lines = [", ".join(names), f"{platform.platform()}, {os.cpu_count()} processors"]
    if hasattr(os, "getloadavg"):
        lines.append(f"{os.getloadavg()[0]:.1f} processes wanted to run in the last minute")
    return lines

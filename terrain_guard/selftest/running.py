"""Run every case in a folder that is gone afterwards."""

from __future__ import annotations

import tempfile
from collections.abc import Iterator, Sequence
from contextlib import contextmanager
from dataclasses import dataclass
from pathlib import Path
from typing import Final

from terrain_guard.errors import RefusedOutput
from terrain_guard.selftest import flown, shapes, slopes, unknown, zeros
from terrain_guard.selftest.cases import Case, Outcome
from terrain_guard.selftest.scenes import Bench

CASES: Final[tuple[Case, ...]] = (
    *zeros.CASES,
    *slopes.CASES,
    *shapes.CASES,
    *flown.CASES,
    *unknown.CASES,
)
"""Every case, in the order in which they are told."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Result:
    """How one case went; without an outcome it could not be run."""

    case: Case
    outcome: Outcome | None
    reason: str = ""  # why it was not run

    @property
    def passed(self) -> bool:
        """Whether it was run and holds."""
        return self.outcome is not None and self.outcome.holds


def run(cases: Sequence[Case] = CASES) -> tuple[Result, ...]:
    """Run cases in order.

    Raises
    ------
    RefusedOutput
        There is no folder for temporary files.
    """
    with _temporary_folder() as folder:
        bench = Bench(folder=folder)
        return tuple(_result(case, bench) for case in cases)


def _result(case: Case, bench: Bench) -> Result:
    try:
        return Result(case=case, outcome=case.run(bench))
    # What a broken installation may raise: ours, PROJ's, GDAL's, the disk's, NumPy's.
    except (ArithmeticError, AttributeError, LookupError, OSError, RuntimeError, TypeError,
            ValueError) as error:  # fmt: skip
        return Result(case=case, outcome=None, reason=f"{type(error).__name__}: {error}")


@contextmanager
def _temporary_folder() -> Iterator[Path]:
    try:
        # Where a file is still held open, as on Windows, leaving it behind is no reason to fail.
        folder = tempfile.TemporaryDirectory(prefix="terrain-guard-", ignore_cleanup_errors=True)
    except OSError as error:
        message = (
            f"no folder for temporary files could be made ({error}): the self-test writes its "
            "terrain there; make room, or set TMPDIR to a folder that can be written to."
        )
        raise RefusedOutput(message) from error
    with folder as name:
        yield Path(name)

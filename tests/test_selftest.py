"""The self-test: it holds, it can fail, it says so, and it leaves nothing behind.

That the program's numbers are right is tested elsewhere; here stands that the
self-test would notice if they were not. Faults are planted one at a time, and every
case must be put off by at least one of them.
"""

from __future__ import annotations

import math
import re
import socket
import sys
import tempfile
from collections.abc import Callable
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import numpy as np
import pyproj
import pytest
from typer.testing import CliRunner

from terrain_guard import cli
from terrain_guard.checks.clearance import nearest
from terrain_guard.checks.limits import resting_elevation
from terrain_guard.errors import RefusedOutput
from terrain_guard.ground import raster
from terrain_guard.ground.blocks import Blocks
from terrain_guard.ground.model import Ground
from terrain_guard.path import flight, turns
from terrain_guard.path.frame import LocalFrame
from terrain_guard.selftest import running, telling
from terrain_guard.selftest.cases import Case, Outcome
from terrain_guard.selftest.running import CASES, Result, run

RUNNER = CliRunner()
NAMES = [one.name for one in CASES]
Patch = pytest.MonkeyPatch


def command() -> tuple[int, list[str]]:
    """Run the command; return its exit code and the lines on standard output."""
    result = RUNNER.invoke(cli.app, ["selftest"], prog_name="terrain-guard")
    if result.exception is not None and not isinstance(result.exception, SystemExit):
        raise result.exception
    return result.exit_code, result.stdout.splitlines()


def off(*, among: set[str]) -> set[str]:
    """Return which of the named cases were run and do not hold."""
    results = run([one for one in CASES if one.name in among])
    return {one.case.name for one in results if one.outcome is not None and not one.passed}


# ------------------------------------------------------------ it holds


def test_it_holds_and_says_so(tmp_path: Path, monkeypatch: Patch) -> None:
    """Exit 0: one line a case, the count, the worst error, versions, what it does not prove."""
    monkeypatch.chdir(tmp_path)
    code, out = command()
    assert code == 0
    assert max(map(len, out)) <= 80
    top, bottom = (number for number, line in enumerate(out) if set(line) == {"="})
    assert out[top + 1].split() == ["case", "expected", "found", "error"]
    rows = out[top + 2 : bottom]
    assert len(rows) == len(CASES)
    for row, one in zip(rows, CASES, strict=True):
        assert re.fullmatch(
            rf"{re.escape(one.what)} +-?\d+\.\d{{3}} +-?\d+\.\d{{3}} +\d\.\d{{4}}", row
        )
    rest = " ".join(line.strip() for line in out[bottom + 1 :])
    assert rest.startswith(f"{len(CASES)} of {len(CASES)} closed-form cases WORST ERROR 0.0")
    for name in ("terrain-guard", "Python", "numpy", "rasterio", "GDAL", "PROJ"):
        assert re.search(rf"\b{name} \S", rest)
    assert rest.endswith("about your route, your elevation model or the site.")
    assert "safe" not in rest
    assert list(tmp_path.iterdir()) == []


def test_help_ends_with_an_example() -> None:
    """The last line of its help can be pasted into a shell."""
    shown = RUNNER.invoke(cli.app, ["selftest", "--help"], prog_name="terrain-guard").stdout
    assert shown.rstrip().endswith("Example:\n    terrain-guard selftest")
    assert "Exit code: 0 every case holds, 3" in shown


def test_every_case_has_a_name_of_its_own() -> None:
    """Names are unique, and what is compared fits its column."""
    assert len(set(NAMES)) == len(NAMES)
    assert max(len(one.what) for one in CASES) <= telling.WHAT


# Worked outside the project: S = A cos(slope), A = S / cos(slope), sqrt(d² + h²),
# r (sec(A/2) - 1), r A, v² / (g tan bank); three decimals. The faces of cliffs lean by one
# cell of 1 m, so there a metre is allowed.
TABLE = {
    "plane-10-distance": 118.177, "plane-20-distance": 112.763, "plane-30-distance": 103.923,
    "plane-45-distance": 84.853, "plane-10-ceiling": 121.851, "plane-20-ceiling": 127.701,
    "plane-30-ceiling": 138.564, "plane-45-ceiling": 169.706, "turned-ceiling": 156.649,
    "plane-30-low": 25.981, "plane-45-low": 21.213, "plane-30-floor": 34.641,
    "plane-45-floor": 42.426, "plane-30-lowest-surface": 34.641,
    "plane-30-highest-surface": 138.564, "plane-45-highest-surface": 169.706,
    "rim": 78.102, "rim-below": 250.0, "rim-far": 120.830, "rim-low": 120.416,
    "rim-or-foot": 190.0, "cone-0": 100.0, "cone-20": 90.686, "cone-43": 86.603,
    "cone-60": 86.603, "cone-100": 86.603, "valley-side": 100.0, "valley-depth": 138.564,
    "valley-middle": 120.0, "trough-80": 80.0, "trough-120": 118.322, "trough-150": 141.421,
    "trough-200": 173.205, "dome": 100.333, "corner-90": 8.284, "arc-90": 31.416,
    "corner-60": 5.359, "arc-60": 36.276, "radius": 28.016, "fly-over": 28.016, "feet": 121.92,
    "length": 360.0, "within": 360.0,
    "void": 20.0,
}  # fmt: skip
LEANING = {"rim-level": 120.0, "face": 60.0, "canyon": 50.0}


@pytest.fixture(scope="module")
def outcomes() -> dict[str, Outcome]:
    """Return what every case expects and finds."""
    return {one.case.name: one.outcome for one in run() if one.outcome is not None}


def test_what_is_expected(outcomes: dict[str, Outcome]) -> None:
    """The formulas give the numbers that were worked by hand and by brute force."""
    assert {name: outcomes[name].expected_m for name in TABLE} == pytest.approx(TABLE, abs=6e-4)
    assert {name: outcomes[name].expected_m for name in LEANING} == pytest.approx(LEANING, abs=1.0)


def test_tolerances_are_a_centimetre_or_less(outcomes: dict[str, Outcome]) -> None:
    """Only a stretch whose two ends are each sought to a centimetre may be off by two."""
    loose = {name for name, one in outcomes.items() if one.tolerance_m > 0.01}
    assert loose == {"void-floor"}
    assert outcomes["void-floor"].tolerance_m == 0.02


# ------------------------------------------------------------ it can fail


def everywhere(monkeypatch: Patch, right: object, wrong: object) -> None:
    """Put something wrong wherever a module of the program holds the right one."""
    for name, module in list(sys.modules.items()):
        if name.startswith("terrain_guard"):
            for attribute in [key for key, value in vars(module).items() if value is right]:
                monkeypatch.setattr(module, attribute, wrong)


def ground_at_points_5_cm_high(monkeypatch: Patch) -> None:
    """Raise what is asked of the ground at points, as at the launch."""
    right = Ground.elevation_at

    def wrong(self: Ground, row: Any, column: Any) -> Any:
        return right(self, row, column) + 0.05

    monkeypatch.setattr(Ground, "elevation_at", wrong)


def heights_5_cm_high(monkeypatch: Patch) -> None:
    """Fly every waypoint higher than typed."""
    right = flight.fly

    def wrong(route: Any, above_launch_m: Any, **given: Any) -> Any:
        return right(route, [height + 0.05 for height in above_launch_m], **given)

    everywhere(monkeypatch, right, wrong)


def curve_5_cm_high(monkeypatch: Patch) -> None:
    """See the curve higher above the ground than it is."""
    right = Ground.above_ground

    def wrong(self: Ground, row: Any, column: Any, elevation_m: Any) -> Any:
        return right(self, row, column, elevation_m + 0.05)

    monkeypatch.setattr(Ground, "above_ground", wrong)


def distance_a_thousandth_long(monkeypatch: Patch) -> None:
    """Stretch the distance to the nearest ground."""

    def wrong(*args: Any, **given: Any) -> Any:
        foot = nearest(*args, **given)
        return type(foot)(
            clearance_m=foot.clearance_m * 1.001,
            row=foot.row, column=foot.column, elevation_m=foot.elevation_m,
        )  # fmt: skip

    everywhere(monkeypatch, nearest, wrong)


def corners_a_hundredth_wide(monkeypatch: Patch) -> None:
    """Widen every turn."""
    right = turns.corner

    def wrong(*places: Any, **wide: Any) -> Any:
        wide = {name: value if value is None else value * 1.01 for name, value in wide.items()}
        return right(*places, **wide)

    everywhere(monkeypatch, right, wrong)


def radius_a_hundredth_wide(monkeypatch: Patch) -> None:
    """Turn wider than the bank asks."""
    right = turns.turn_radius_m

    def wrong(*given: Any, **more: Any) -> Any:
        return right(*given, **more) * 1.01

    everywhere(monkeypatch, right, wrong)


def wind_forgotten(monkeypatch: Patch) -> None:
    """Turn as in calm air."""
    right = turns.turn_radius_m

    def wrong(speed: float, bank: float, **_wind: float) -> float:
        return right(speed, bank)

    everywhere(monkeypatch, right, wrong)


def limiting_surfaces_5_cm_high(monkeypatch: Patch) -> None:
    """Let balls rest above the ground."""

    def wrong(*given: Any) -> Any:
        return resting_elevation(*given) + 0.05

    everywhere(monkeypatch, resting_elevation, wrong)


def metres_a_thousandth_long(monkeypatch: Patch) -> None:
    """Count too many metres in the local frame."""
    there, back = LocalFrame.to_local, LocalFrame.to_degrees

    def to_local(self: LocalFrame, lon: Any, lat: Any) -> Any:
        x, y = there(self, lon, lat)
        return x * 1.001, y * 1.001

    def to_degrees(self: LocalFrame, x: Any, y: Any) -> Any:
        return back(self, np.asarray(x) / 1.001, np.asarray(y) / 1.001)

    monkeypatch.setattr(LocalFrame, "to_local", to_local)
    monkeypatch.setattr(LocalFrame, "to_degrees", to_degrees)


def posts_half_a_cell_off(monkeypatch: Patch) -> None:
    """Take corners of cells for their middles."""
    right = Ground.posts_at

    def wrong(self: Ground, lon: Any, lat: Any) -> Any:
        row, column = right(self, lon, lat)
        return row, column + 0.5

    monkeypatch.setattr(Ground, "posts_at", wrong)


def missing_posts_filled(monkeypatch: Patch) -> None:
    """Take 300 m for what is missing."""
    for name in ("posts", "window"):
        right = getattr(Blocks, name)

        def wrong(self: Blocks, *which: Any, right: Callable[..., Any] = right) -> Any:
            return np.nan_to_num(right(self, *which), nan=300.0)

        monkeypatch.setattr(Blocks, name, wrong)


def nothing_known(monkeypatch: Patch) -> None:
    """Lose every post."""
    for name in ("posts", "window"):
        right = getattr(Blocks, name)

        def wrong(self: Blocks, *which: Any, right: Callable[..., Any] = right) -> Any:
            return np.full_like(right(self, *which), np.nan)

        monkeypatch.setattr(Blocks, name, wrong)


def edge_drawn_out(monkeypatch: Patch) -> None:
    """Take the last column for whatever lies beyond it."""
    for name in ("elevation_at", "above_ground"):
        right = getattr(Ground, name)

        def wrong(
            self: Ground, row: Any, column: Any, *more: Any, right: Callable[..., Any] = right
        ) -> Any:
            return right(self, row, np.clip(column, 0, self.shape[1] - 1), *more)

        monkeypatch.setattr(Ground, name, wrong)


def feet_taken_for_metres(monkeypatch: Patch) -> None:
    """Read a model in feet as if it were in metres."""
    monkeypatch.setitem(raster.UNIT_WORDS, "ft", 1.0)


@dataclass(frozen=True)
class Fault:
    """Something wrong in the program, and the cases that must notice it."""

    plant: Callable[[Patch], None]
    noticed: str


FAULTS = [
    Fault(
        ground_at_points_5_cm_high,
        "feet-elevation plane-30-floor plane-45-floor",
    ),
    Fault(
        heights_5_cm_high,
        "feet flat rim-below corner-height antimeridian-height launch-moved above-ground "
        "underground valley-depth",
    ),
    Fault(curve_5_cm_high, "flat-ceiling into-the-hill"),
    Fault(
        distance_a_thousandth_long,
        "flat plane-10-distance plane-20-distance plane-30-distance plane-45-distance "
        "plane-10-ceiling plane-20-ceiling plane-30-ceiling plane-45-ceiling turned-ceiling "
        "plane-30-low plane-45-low plane-30-floor plane-45-floor under-distance feet-distance "
        "rim rim-far rim-level face rim-low rim-or-foot canyon cone-0 cone-20 cone-43 cone-60 "
        "cone-100 valley-side valley-middle trough-80 trough-120 trough-150 trough-200 dome",
    ),
    Fault(corners_a_hundredth_wide, "corner-90 arc-90 corner-60 arc-60 radius radius-wind"),
    Fault(radius_a_hundredth_wide, "radius radius-wind fly-over"),
    Fault(wind_forgotten, "radius-wind"),
    Fault(nothing_known, "within flat void edge corner-height feet-elevation"),
    Fault(
        limiting_surfaces_5_cm_high,
        "plane-30-lowest-surface plane-30-highest-surface plane-45-lowest-surface "
        "plane-45-highest-surface",
    ),
    Fault(metres_a_thousandth_long, "length antimeridian void edge void-floor"),
    Fault(posts_half_a_cell_off, "valley-place edge"),
    Fault(missing_posts_filled, "void void-number void-floor"),
    Fault(edge_drawn_out, "edge edge-number"),
    Fault(feet_taken_for_metres, "feet-elevation feet-distance"),
]


@pytest.mark.parametrize("fault", FAULTS, ids=lambda fault: fault.plant.__name__)
def test_a_fault_is_noticed(fault: Fault, monkeypatch: Patch) -> None:
    """Every case that depends on what is wrong is off."""
    fault.plant(monkeypatch)
    noticed = set(fault.noticed.split())
    assert off(among=noticed) == noticed


def test_every_case_notices_something() -> None:
    """A case that no fault puts off would prove nothing."""
    assert {name for fault in FAULTS for name in fault.noticed.split()} == set(NAMES)


def test_the_command_tells_what_is_off(monkeypatch: Patch) -> None:
    """Exit 3: marked in its row, named with error and tolerance, counted out, not to be used."""
    corners_a_hundredth_wide(monkeypatch)
    code, out = command()
    assert code == 3
    assert max(map(len, out)) <= 80
    marked = [line.split("  ")[0] for line in out if line.endswith(" OFF")]
    assert len(marked) == 6
    assert marked[0] == "a corner of 90° begun 20 m before: inside by"
    text = " ".join(line.strip() for line in out)
    # It passes inside by T tan(A/4); with T a hundredth longer that is 82.8 mm more.
    error = 0.01 * 20 * math.tan(math.pi / 8)
    assert f"OFF corner-90: {marked[0]}; error {error + 5e-5:.4f} m, allowed 0.01 m" in text
    assert f"{len(CASES) - 6} of {len(CASES)} closed-form cases" in out
    assert "Do not plan with this program on this machine" in text
    assert "This proves" not in text


def test_a_model_that_cannot_be_read_is_not_run(monkeypatch: Patch) -> None:
    """Latitude and longitude swapped: refused, so not run, not passed; exit 3, with the reason."""
    right = Ground.posts_at

    def wrong(self: Ground, lon: Any, lat: Any) -> Any:
        return right(self, lat, lon)

    monkeypatch.setattr(Ground, "posts_at", wrong)
    one = [result for result in run(CASES[:1]) if not result.passed]
    assert one[0].outcome is None
    assert one[0].reason.startswith("RefusedTerrain: ")
    text = " ".join(line.strip() for line in telling.lines(one))
    assert f"{CASES[0].what}   " in text
    assert f"NOT RUN {CASES[0].name}: RefusedTerrain: " in text
    assert "0 of 1 closed-form cases WORST ERROR not known: no case was run" in text


# ------------------------------------------------------------ outcomes


def result(expected_m: float, found_m: float, tolerance_m: float = 0.01) -> Result:
    """Return how a made case went."""
    outcome = Outcome(expected_m, found_m, tolerance_m)
    made = Case(name="made", what="a made case", run=lambda bench: outcome)
    return run([made])[0]


@pytest.mark.parametrize(
    ("found_m", "passed"),
    [(1.0, True), (1.25, True), (0.75, True), (1.251, False), (0.749, False), (math.nan, False)],
)
def test_what_passes(found_m: float, passed: bool) -> None:
    """Up to the tolerance, on either side; what was not found never."""
    assert result(1.0, found_m, 0.25).passed is passed


def test_nothing_found_is_the_worst_error() -> None:
    """It is called nothing, not a number, and no worst error is named in its place."""
    text = list(telling.lines([result(1.0, 1.5), result(2.0, math.nan)]))
    assert text[3].split() == ["a", "made", "case", "1.000", "1.500", "0.5000", "OFF"]
    assert text[4].split() == ["a", "made", "case", "2.000", "nothing", "n/a", "OFF"]
    assert "WORST ERROR not known, in (a made case)" in text


def test_an_error_is_never_rounded_away() -> None:
    """A tenth of a millimetre and a bit reads as two."""
    text = list(telling.lines([result(0.0, 0.00011), result(0.0, -0.0123)]))
    assert text[3].endswith(" 0.0002")
    assert text[4].endswith(" 0.0123 OFF")


# ------------------------------------------------------------ it leaves nothing behind


def test_its_folder_is_gone(tmp_path: Path, monkeypatch: Patch) -> None:
    """Everything is written to one folder for temporary files, which goes, even after a crash."""
    monkeypatch.setattr(tempfile, "tempdir", str(tmp_path))
    seen: list[list[str]] = []

    def look(bench: Any) -> Outcome:
        CASES[0].run(bench)
        seen.append(sorted(path.name for path in tmp_path.rglob("*") if path.is_file()))
        raise KeyboardInterrupt

    with pytest.raises(KeyboardInterrupt):
        run([Case(name="look", what="", run=look)])
    assert seen == [["flat-1.tif", "route-0.toml", "rules-0.toml"]]
    assert list(tmp_path.iterdir()) == []


def test_no_folder_for_temporary_files(tmp_path: Path, monkeypatch: Patch) -> None:
    """Where there is none it is refused, in one sentence, with exit 2."""
    monkeypatch.setattr(tempfile, "tempdir", str(tmp_path / "none"))
    with pytest.raises(RefusedOutput, match="no folder for temporary files could be made"):
        running.run()
    done = RUNNER.invoke(cli.app, ["selftest"], prog_name="terrain-guard")
    assert done.exit_code == 2
    assert done.stderr.startswith("refused: no folder for temporary files")


def test_it_asks_no_network(monkeypatch: Patch) -> None:
    """No connection is opened, and PROJ is not allowed to."""

    def refuse(*_args: object) -> None:
        message = "the network was asked"
        raise AssertionError(message)

    monkeypatch.setattr(socket.socket, "connect", refuse)
    monkeypatch.setattr(socket, "getaddrinfo", refuse)
    assert not pyproj.network.is_network_enabled()  # type: ignore[attr-defined]
    assert all(one.passed for one in run(CASES[:8]))

"""Plant faults one at a time, in a copy; each must turn tests red.

    python scripts/faults.py              # all
    python scripts/faults.py nearest      # those whose name contains the word
    python scripts/faults.py --list

A fault that no test notices is a hole in the tests. Exits 0 if every planted
fault was noticed, 3 if one was not, 1 if one could not be planted.
"""

from __future__ import annotations

import os
import re
import shutil
import subprocess
import sys
import tempfile
import time
from dataclasses import dataclass
from pathlib import Path

ROOT = Path(__file__).resolve().parent.parent


@dataclass(frozen=True)
class Fault:
    """One mistake: in `file`, `old` becomes `new`; `tests` are where it should be noticed."""

    name: str
    file: str
    old: str
    new: str
    tests: str = "ground path checks"


SURFACES = "checks/test_surfaces test_assess_surfaces"
MARGINS = "checks/test_varying_margins"
BUDGET = "test_assess_budget"
FAULTS = (
    Fault(
        "half-cell shift",
        "ground/model.py",
        "column = (e * east - b * north) / det - 0.5",
        "column = (e * east - b * north) / det",
    ),
    Fault(
        "nearest cell instead of bilinear",
        "ground/bilinear.py",
        "v, u = row - first_row, column - first_column",
        "v, u = np.round(row - first_row), np.round(column - first_column)",
    ),
    Fault("latitude and longitude swapped", "ground/model.py", "always_xy=True", "always_xy=False"),
    Fault(
        "feet read as metres",
        "ground/raster.py",
        "return float(from_crs), crs_unit",
        "return 1.0, crs_unit",
    ),
    Fault(
        "declared nodata taken for a number",
        "ground/blocks.py",
        "known &= values != self._dtype.type(self.raster.nodata)",
        "pass",
    ),
    Fault(
        "undeclared sentinel taken for a number",
        "ground/raster.py",
        "LOWEST_M, HIGHEST_M = -450.0, 8900.0",
        "LOWEST_M, HIGHEST_M = -1e39, 1e39",
    ),
    Fault(
        "void beside the line poisons it",
        "ground/bilinear.py",
        "right = columns + ((u[0] != 0) | (u[1] != 0))",
        "right = columns + 1",
    ),
    Fault(
        "edge value used off the model",
        "ground/bilinear.py",
        "outside = ~((u >= 0) & (u <= 1) & (v >= 0) & (v <= 1))",
        "outside = np.isnan(u + v); u, v = np.clip(u, 0, 1), np.clip(v, 0, 1)",
    ),
    Fault(
        "twist of the patch ignored",
        "ground/bilinear.py",
        "np.nan, a0), a1, du * dv * twist",
        "np.nan, a0), a1, 0 * du",
    ),
    Fault(
        "target of a sight line does not drop",
        "ground/rays.py",
        "target - length**2 / twice_radius - (eye",
        "target - (eye",
    ),
    Fault(
        "unknown ground on a ray skipped",
        "ground/ray_voids.py",
        "void = np.isnan(strides.ground(pieces, source)[0])",
        "void = np.zeros(pieces.ray.size, dtype=bool)",
    ),
    Fault(
        "neighbours of a ray believed",
        "ground/ray_search.py",
        "rest = bound > found.value[ray]",
        "rest = bound > np.inf",
    ),
    Fault(
        "sign of height",
        "checks/cuts.py",
        "elevation = beneath.level_m(curve.x_m, curve.y_m) + curve.above_launch_m",
        "elevation = beneath.level_m(curve.x_m, curve.y_m) - curve.above_launch_m",
    ),
    Fault(
        "corner not rounded",
        "path/tracks.py",
        "found = corner(*self._three(k), anticipation_m=ahead_m, radius_m=radius_m)",
        "found = None",
    ),
    Fault(
        "turn radius against the wind",
        "path/turns.py",
        "ground_speed = speed_m_per_s + wind_m_per_s",
        "ground_speed = speed_m_per_s - wind_m_per_s",
    ),
    Fault("samples 10 m apart", "checks/site.py", "LARGEST_STEP_M = 1.0", "LARGEST_STEP_M = 10.0",
          "path checks test_assess"),
    Fault("slanting climb-out forgotten", "path/pen.py",
          'WAYS_OUT = ("vertical", "step", "slanting")', 'WAYS_OUT = ("vertical", "step")'),
    Fault("level way home forgotten", "path/pen.py",
          '"slanting", "level")', '"slanting")'),
    Fault(
        "floor compared straight down",
        "checks/judge.py",
        "full = points.clearance_m >= wanted.floor_m - TOLERANCE_M",
        "full = points.above_ground_m >= wanted.floor_m - TOLERANCE_M",
    ),
    Fault(
        "ceiling compared by distance",
        "checks/judge.py",
        "if not wanted.closest_point_ceiling:",
        "if False:",
    ),
    Fault(
        "NaN passes the ceiling",
        "checks/judge.py",
        "not_assessed=np.isnan(middle),\n"
        "            tight=~(middle + points.middle_ceiling_margin_m <= top),",
        "not_assessed=middle > 1e9,\n"
        "            tight=middle + points.middle_ceiling_margin_m > top,",
    ),
    Fault(
        "void near the curve ignored",
        "checks/judge.py",
        "unseen = ~_both(points.void_m >= wanted.reach_m(points.floor_margin_m)) |",
        "unseen =",
    ),
    Fault(
        "margin taken from clearance instead of moving the sample",
        "checks/probe.py",
        'self._fill(out, "lowered", np.flatnonzero(needed), point, feet)',
        "pass",
    ),
    Fault("floor eased nowhere", "checks/views.py", "eased=frozenset({0})", "eased=frozenset()",
          "checks test_assess"),
    Fault("blocked column passed", "checks/column.py", "state = State.BREACH if blocked else",
          "state = ", "checks test_assess"),
    Fault(
        "doubtful launch accepted",
        "checks/launching.py",
        "if apart > allowed or apart < -allowed - canopy_m:",
        "if False:",
        "checks test_assess",
    ),
    Fault("search gives up too early", "checks/search.py",
          "return least <= best[near.sample]", "return least <= 0.9 * best[near.sample]"),
    Fault("patch taken for its two triangles", "checks/quarters.py",
          "FLAT_M = 2.5e-4", "FLAT_M = 50.0"),
    Fault("nothing hides between samples", "checks/between.py",
          "return np.select([(s1 > 0) & (s2 > 0), (s1 < 0) & (s2 < 0)], [above, below], mixed)",
          "return np.minimum(s1, s2)"),
    Fault("breach by a hair passed", "checks/judge.py", "TOLERANCE_M = 1e-6", "TOLERANCE_M = 0.05"),
    Fault("only the first curve counts", "assess.py", "for curve in section:",
          "for curve in section[:1]:", "checks test_assess"),
    Fault("late climbs forgotten", "path/climbs.py", '"early", "late", "smooth")',
          '"early", "smooth")', "path test_assess_curves"),
    Fault("shortfall made good at every waypoint", "path/leg_heights.py",
          "passed = k + 1 in tracks.passed", "passed = False", "path"),
    Fault("uniform knots", "path/splines.py", "t01, t12 = knots", "t01 = t12 = knots[0]", "path"),
    Fault("overflight joins too late", "path/fly_over.py", "INTERCEPT_RAD = math.radians(30.0)",
          "INTERCEPT_RAD = math.radians(60.0)", "path"),
    Fault("other curves spared too much", "checks/known.py",
          "return np.maximum(need, wanted.floor_m + room) + SLACK_M",
          "return np.maximum(need, wanted.floor_m + room) - 20.0", "test_assess_curves"),
    Fault("strays from the chord forgotten", "checks/sparing.py", "bound = base[group] - strays",
          "bound = base[group] + strays", "checks test_assess_curves"),
    Fault("lowest of several ways forgotten", "path/curve.py",
          '(("low", self.low), ("high", self.high))', '(("high", self.high),)',
          "test_assess_curves"),
    Fault("clearance rounded up", "units.py", "return _text(value, math.floor, digits)",
          "return _text(value, math.ceil, digits)", "report"),
    Fault("no doubt about sea level", "plan/rules.py", "DATUM_DOUBT_M = 2.0",
          "DATUM_DOUBT_M = 0.0", "test_assess_rules"),
    Fault("sea-level limit crossed at the next sample", "checks/cuts.py",
          ", *sketch._sea_level_cuts()]", "]", "test_assess_rules"),
    Fault("steep closest point trusted", "checks/closest_point.py", "STEEP = 0.6", "STEEP = 6.0",
          "test_assess_rules"),
    Fault("exception without a request", "checks/exceptions.py", "applies = requested & near",
          "applies = True & near", "checks/test_exceptions"),
    Fault("laxer limit without a source", "plan/rules_based_on.py",
          "elif names[2] not in stated and", "elif False and", "plan/test_rule_sets"),
    Fault("trees forgotten", "checks/probe.py", '"clearance": (GROUND, SURFACE)',
          '"clearance": (GROUND,)', SURFACES),
    Fault("trees without a margin", "checks/probe.py", '"lowered": (GROUND, SURFACE)',
          '"lowered": (GROUND,)', SURFACES),
    Fault("inside a wood the ground is nearest", "checks/probe.py",
          "enough = np.where(above < 0, np.inf, np.abs(least))", "enough = np.abs(least)",
          SURFACES),
    Fault("void of the surface ignored", "checks/probe.py",
          'out["void_m"] = np.fmin(out["void_m"], void)',
          'out["void_m"] = void if name == GROUND else out["void_m"]', SURFACES),
    Fault("trees forgotten in the column", "checks/column.py",
          "blocked = excess > TOLERANCE_M or above > SURVEY_DOUBT_M",
          "blocked = excess > TOLERANCE_M", SURFACES),
    Fault("surveys not tied", "checks/surveys.py",
          "lifted = -offset if abs(offset) > SAME_M else 0.0", "lifted = 0.0", SURFACES),
    Fault("surveys tied the wrong way", "checks/surveys.py", "lifted = -offset", "lifted = offset",
          SURFACES),
    Fault("canopy forgotten", "checks/views.py",
          "            canopy_m=canopy.floor_m,", "            canopy_m=0.0,", SURFACES),
    Fault("canopy on the climb-out", "checks/views.py", "if self.canopy.floor_everywhere or not",
          "if True or not", SURFACES),
    Fault("canopy reaches for voids", "checks/wanted.py",
          "np.fmax(floor_margin_m - self.canopy_m, 0.0)", "np.fmax(floor_margin_m, 0.0)",
          SURFACES),
    Fault("declared wood does not raise", "checks/canopy.py",
          "ground_below_m=height_m if is_declared else 0.0", "ground_below_m=0.0", SURFACES),
    Fault("treetop taken for the launch", "checks/canopy.py",
          "floor_m=0.0 if launch_is_stated else height_m", "floor_m=0.0", SURFACES),
    Fault("survey shifts nothing", "checks/beneath.py", "return self.survey.shift_m(away)",
          "return 0 * away", "test_assess_surveyed"),
    Fault("second ground from the first launch", "checks/views.py",
          "launch_elevation_m=own.elevation_m if known else self.launch.elevation_m",
          "launch_elevation_m=self.launch.elevation_m", "test_assess_second"),
    Fault("what the second does not know is lost", "checks/judge.py", "if beneath.is_second:",
          "if False:", "test_assess_second"),
    Fault("second ground forgotten", "checks/site.py",
          "[self.first] if self.second is None else [self.first, self.second]", "[self.first]",
          "test_assess_second"),
    Fault("ceiling margin ignored", "checks/judge.py",
          "tight=~(middle + points.middle_ceiling_margin_m <= top)", "tight=~(middle <= top)",
          MARGINS),
    Fault("closest-point ceiling without a margin", "checks/wanted.py",
          "self.ground_below_m + ceiling_m", "self.ground_below_m + 0 * ceiling_m", MARGINS),
    Fault("floor margin of the wrong sign", "checks/wanted.py", '"lowered": -floor_m',
          '"lowered": floor_m', MARGINS),
    Fault("floor margin taken from the sample before", "checks/cuts.py",
          '"floor_margin_m": at(self.margins.floor_m, position)',
          '"floor_margin_m": at(self.margins.floor_m, np.floor(position))', MARGINS),
    Fault("ceiling margin taken from the sample before", "checks/measure.py",
          "middle_ceiling_margin_m=at(margins.ceiling_m, middle)",
          "middle_ceiling_margin_m=at(margins.ceiling_m, np.floor(middle))", MARGINS),
    Fault("ceiling with margins crossed at the next sample", "checks/cuts.py",
          "yield _reaching(moved[0], wanted.model_ceiling_m)", "yield np.zeros(0)", MARGINS),
    Fault("margin not known taken for none", "checks/cuts.py",
          '"floor_margin_m": at(self.margins.floor_m, position)',
          '"floor_margin_m": np.nan_to_num(at(self.margins.floor_m, position))', MARGINS),
    Fault("leg with margins from the metres that have one", "checks/legs.py",
          "known &= bool(np.isfinite(margin[use]).all())", "pass", MARGINS),
    Fault("fixed margins ignored", "checks/budgeted.py",
          "fixed = self.rules.fixed_floor_margin_m, self.rules.fixed_ceiling_margin_m",
          "fixed = None, None", BUDGET),
    Fault("sigma of the rules ignored", "checks/flight_setting.py",
          "floor_k=FLOOR_K if rules.floor_k is None else rules.floor_k", "floor_k=FLOOR_K", BUDGET),
    Fault("sigma of the card ignored", "checks/flight_setting.py", "sigma_m=ground.sigma_m",
          "sigma_m=None", BUDGET),
    Fault("heights always from a barometer", "checks/flight_setting.py",
          "height_source(route.aircraft.height_from)", "height_source(None)", BUDGET),
    Fault("stated temperature ignored in the margin", "checks/flight_setting.py",
          "temperature_c=route.conditions.temperature_c", "temperature_c=None", BUDGET),
    Fault("floor forgotten on the way home", "checks/home/needs.py",
          "own, floor = self.targets.elevation_m, np.full(self.length_m.shape, self.floor_m)",
          "own, floor = self.targets.elevation_m, np.full(self.length_m.shape, 1.0)",
          "test_assess_home"),
    Fault("unknown ground on the way home is no loss", "checks/home/homeward.py",
          "[BREACH, NOT_ASSESSED, WITHIN],\n        default=TIGHT,\n    )\n",
          "[BREACH, WITHIN, WITHIN],\n        default=TIGHT,\n    )\n",
          "test_assess_home"),
    Fault("a lost link acted on at once", "checks/home/delays.py",
          "np.searchsorted(time_s, time_s + delays_s[1] + stop_s, side=\"left\")",
          "np.searchsorted(time_s, time_s + delays_s[0], side=\"left\")",
          "checks/home"),
    Fault("launch spot taken as exact", "checks/budgeted.py",
          "within_m=route.launch.spot_within_m", "within_m=0.0", BUDGET),
    Fault("breach exits 0", "cli.py", "State.BREACH: 3", "State.BREACH: 0", "test_cli"),
)  # fmt: skip


def main(words: list[str]) -> int:
    """Plant the faults whose names hold one of the words; all without words."""
    if "--list" in words:
        print("\n".join(fault.name for fault in FAULTS))
        return 0
    chosen = [f for f in FAULTS if not words or any(word in f.name for word in words)]
    unnoticed, unplanted = [], []
    for fault in chosen:
        started = time.monotonic()
        verdict = _try(fault)
        print(f"{verdict:12} {time.monotonic() - started:6.1f} s  {fault.name}", flush=True)
        if verdict == "UNNOTICED":
            unnoticed.append(fault)
        elif verdict == "NOT PLANTED":
            unplanted.append(fault)
    noticed = len(chosen) - len(unnoticed) - len(unplanted)
    print(f"{noticed} of {len(chosen)} faults turned tests red")
    return 1 if unplanted else 3 if unnoticed else 0


def _try(fault: Fault) -> str:
    with tempfile.TemporaryDirectory() as folder:
        copy = Path(folder)
        for part in ("terrain_guard", "tests", "sample_dem", "scripts"):
            shutil.copytree(ROOT / part, copy / part, ignore=shutil.ignore_patterns("__pycache__"))
        for part in ("pyproject.toml", "README.md"):
            shutil.copy(ROOT / part, copy / part)
        target = copy / "terrain_guard" / fault.file
        text = target.read_text(encoding="utf-8")
        if fault.old not in text:
            return "NOT PLANTED"
        target.write_text(text.replace(fault.old, fault.new), encoding="utf-8")
        return "UNNOTICED" if _tests_pass(copy, fault) else "noticed"


def _tests_pass(copy: Path, fault: Fault) -> bool:
    places = [
        str(path)
        for word in fault.tests.split()
        for path in sorted((copy / "tests").glob(f"{word}*"))
    ]
    command = [sys.executable, "-m", "pytest", "-x", "-q", "-n", "2", "-p", "no:cacheprovider"]
    run = subprocess.run(
        [*command, *places],
        cwd=copy,
        env={**os.environ, "PYTHONPATH": str(copy)},
        capture_output=True,
        text=True,
        check=False,
    )
    # Stopped at the first failure, pytest may call itself interrupted (2).
    failed = re.search(r"\b[1-9]\d* failed", run.stdout)
    if run.returncode and not failed:
        print(run.stdout[-2000:], run.stderr[-2000:], file=sys.stderr)
        msg = f"the tests could not be run (pytest exit {run.returncode})"
        raise SystemExit(msg)
    return run.returncode == 0


if __name__ == "__main__":
    sys.exit(main(sys.argv[1:]))

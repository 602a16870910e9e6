"""Measure speed and memory beside the peers: python scripts/bench.py [ROW ...].

Rows: ground, clearance, rays, check, demo, sample, budget, sparse, length, coverage; all of
them if none is named. The last takes some minutes.
Needs an environment in which the package runs, for instance the one that
`python scripts/test.py` makes: `.venv/bin/python scripts/bench.py`.

Ratios come from one run: contenders take turns, and the best of five of each counts.
Exits 0 if every required figure was reached, 3 if one was missed or could not be
measured. A busy machine spoils the figures; how busy it was is printed.
"""

from __future__ import annotations

import argparse
import sys
from collections.abc import Callable, Iterator
from dataclasses import dataclass
from functools import partial
from pathlib import Path
from typing import TYPE_CHECKING

ROOT = Path(__file__).resolve().parent.parent
sys.path.insert(0, str(ROOT))  # a bare checkout will do

import numpy as np  # noqa: E402
from _bench_figures import Figure, best_of, fresh, surroundings, table  # noqa: E402
from _bench_flights import state_one_way, survey, wandering, write_route  # noqa: E402
from bench_model import CELLS, FOLDER, rough_model, sparse_model  # noqa: E402
from rasterio.windows import Window  # noqa: E402

from terrain_guard.arrays import Floats  # noqa: E402
from terrain_guard.assess import check  # noqa: E402
from terrain_guard.checks.clearance import nearest  # noqa: E402
from terrain_guard.ground.model import Ground  # noqa: E402

if TYPE_CHECKING:
    from terrain_guard.assessment import Assessment

DEMO = (
    "sample_dem/same_height.toml", "--ground", "sample_dem/valley_ground.tif",
    "--surface", "sample_dem/valley_surface.tif",
)  # fmt: skip
OPEN = ("--canopy", "0")
OPEN_M = 0.0
"""The rough model is open ground: no canopy stands in the floor's margin."""
SAMPLES_A_WINDOW = 500
BESIDE_CELLS = 1000  # of the route, written into the sparse model
COMPARED = ("along_m", "above_ground_m", "clearance_m", "state")
LENGTHS_KM = {1: 5, 10: 3, 100: 2}  # and how often each is timed at most
NOTE = """\
Best of {} each, contenders in turn. Samples are given in degrees to every contender,
which opens the file itself; "ready": positions in the raster's own system. "Busy" is
the time a processor worked on it, whoever else was waiting."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Bench:
    """What the rows share."""

    folder: Path
    count: int  # the best of so many

    @property
    def model(self) -> Path:
        """The rough model of 8000 × 8000 cells."""
        return rough_model(self.folder)

    def route(self, *, stated: bool = True) -> Path:
        """Write the route of 5 km and 30 waypoints."""
        path = self.folder / ("wandering.toml" if stated else "wandering_unstated.toml")
        return write_route(path, Ground(self.model), *wandering(CELLS), stated=stated)


def ground(bench: Bench) -> Iterator[Figure]:
    """Measure elevation under 100,000 samples, beside two peers."""
    from _bench_ground import figures

    yield from figures(bench.model, bench.count)


def clearance(bench: Bench) -> Iterator[Figure]:
    """Measure the search for the nearest ground, whose blocks are read already."""
    model = Ground(bench.model)
    samples = check(bench.route(), ground=bench.model, canopy_m=OPEN_M).samples
    between = (samples.leg >= 1) & (samples.leg < samples.leg.max())
    row, column = model.posts_at(samples.lon_deg[between], samples.lat_deg[between])
    above = samples.above_ground_m[between]
    elevation = samples.ground_elevation_m[between] + above

    def job() -> int:
        for start in range(0, row.size, SAMPLES_A_WINDOW):
            part = slice(start, start + SAMPLES_A_WINDOW)
            reach_m = float(above[part].max()) + 1.0
            patches = model.around(row[part], column[part], reach_m=reach_m)
            nearest(patches, row[part], column[part], elevation[part], above[part], reach_m=reach_m)
        return row.size

    job()
    times, sizes = best_of(bench.count, job)
    yield Figure(
        work=f"clearance of {sizes[0]:,} samples", value=times[0], unit="s", required=0.6, goal=0.2
    )


def rays(bench: Bench) -> Iterator[Figure]:
    """Measure sight along exact rays from the launch to every sample."""
    from _bench_rays import figures

    yield from figures(bench.model, bench.folder, bench.count)


def whole_check(bench: Bench) -> Iterator[Figure]:
    """Measure the whole check, in a fresh process and in this one; and all unstated."""
    stated, unstated = (bench.route(stated=stated) for stated in (True, False))
    model = str(bench.model)
    (alone, alone_unstated), runs = best_of(
        bench.count,
        lambda: fresh("check", str(stated), "--ground", model, *OPEN),
        lambda: fresh("check", str(unstated), "--ground", model, *OPEN),
    )
    (warm, warm_unstated), answers = best_of(
        bench.count,
        lambda: check(stated, ground=model, canopy_m=OPEN_M),
        lambda: check(unstated, ground=model, canopy_m=OPEN_M),
    )
    flown = f"{answers[0].length_m / 1000:.1f} km flown"
    yield Figure(
        work=f"whole check, fresh process, {flown}", beside=f"busy {runs[0].busy_s:.2f} s",
        value=alone, unit="s", required=2.5, goal=1.2,
    )  # fmt: skip
    yield Figure(work=f"whole check, warm, {flown}", value=warm, unit="s", required=1.8, goal=0.7)
    ways = f"{len(answers[1].curves)} ways"
    for name, one, other in (("fresh", alone_unstated, alone), ("warm", warm_unstated, warm)):
        yield Figure(
            work=f"whole check, {name}, all unstated ({ways})",
            measured=f"{one:.2f} s",
            beside=f"{other:.2f} s",
            value=one / other,
            unit="×",
            required=3.0,
        )


def demo(bench: Bench) -> Iterator[Figure]:
    """Measure the check of the first sample route, and the help, in fresh processes."""
    times, runs = best_of(bench.count, lambda: fresh("check", *DEMO), lambda: fresh("--help"))
    bounds = ("demo check", 1.2, 0.8), ("--help", 0.3, 0.15)
    for (name, required, goal), seconds, run in zip(bounds, times, runs, strict=True):
        yield Figure(
            work=f"{name}, fresh process", beside=f"busy {run.busy_s:.2f} s",
            value=seconds, unit="s", required=required, goal=goal,
        )  # fmt: skip


def sample(bench: Bench) -> Iterator[Figure]:
    """Measure the check of a sample route with every curve in play, beside one curve."""
    route = ROOT / "sample_dem" / "follows_slope.toml"
    stated = state_one_way(route, bench.folder / "follows_slope_one_way.toml")
    models = [str(ROOT / "sample_dem" / f"valley_{kind}.tif") for kind in ("ground", "surface")]
    options = ("--ground", models[0], "--surface", models[1])
    (fresh_all, fresh_one), _ = best_of(
        bench.count,
        lambda: fresh("check", str(route), *options),
        lambda: fresh("check", str(stated), *options),
    )
    (warm_all, warm_one), answers = best_of(
        bench.count,
        lambda: check(route, ground=models[0], surface=models[1]),
        lambda: check(stated, ground=models[0], surface=models[1]),
    )
    ways = f"{len(answers[0].curves)} ways beside {len(answers[1].curves)}"
    for name, every, one in (("fresh", fresh_all, fresh_one), ("warm", warm_all, warm_one)):
        yield Figure(
            work=f"check of the sample, {name}, every curve ({ways})",
            measured=f"{every:.2f} s", beside=f"{one:.2f} s",
            value=every / one, unit="×", required=3.0,
        )  # fmt: skip


def budget(bench: Bench) -> Iterator[Figure]:
    """Measure the check of a sample route beside the same with flat margins."""
    from _bench_budget import figures

    yield from figures(max(bench.count, 5))


def sparse(bench: Bench) -> Iterator[Figure]:
    """Measure the same route on a model of 100,000 × 100,000 cells, most never written."""
    route, rough = bench.route(), bench.model
    wide = sparse_model(bench.folder, rough, _box(*wandering(CELLS)))
    (small, large), runs = best_of(
        bench.count,
        lambda: fresh("check", str(route), "--ground", str(rough), *OPEN),
        lambda: fresh("check", str(route), "--ground", str(wide), *OPEN),
    )
    one, other = (check(route, ground=model, canopy_m=OPEN_M) for model in (rough, wide))
    refuse_other_answer(one, other)
    yield Figure(
        work="same route, sparse 100,000 × 100,000 model",
        measured=f"{large:.2f} s", beside=f"{small:.2f} s",
        value=large / small, unit="×", required=1.2,
    )  # fmt: skip
    yield Figure(
        work="peak memory of that process (beside: 8000 × 8000 model)",
        beside=f"{runs[0].peak_mb:.0f} MB",
        value=runs[1].peak_mb, unit="MB", required=350.0, goal=250.0,
    )  # fmt: skip


def _box(row: Floats, column: Floats) -> Window:
    """Return the part of the rough model round a route."""
    top, left = (max(0, int(line.min()) - BESIDE_CELLS) for line in (row, column))
    bottom, right = (min(CELLS, int(line.max()) + BESIDE_CELLS) for line in (row, column))
    return Window(left, top, right - left, bottom - top)


def refuse_other_answer(one: Assessment, other: Assessment) -> None:
    """Raise RuntimeError if two assessments differ by more than a millimetre anywhere."""
    pairs = [(getattr(one.samples, n), getattr(other.samples, n)) for n in COMPARED]
    if one.verdict is not other.verdict or not all(
        np.allclose(*pair, rtol=0, atol=1e-3, equal_nan=True) for pair in pairs
    ):
        message = "the same route over the same ground was judged differently: no comparison"
        raise RuntimeError(message)


def length(bench: Bench) -> Iterator[Figure]:
    """Measure the time per kilometre flown, from 1 to 100 km, warm."""
    model, per_km = bench.model, {}
    for kilometres, most in LENGTHS_KM.items():
        path = bench.folder / f"survey_{kilometres}_km.toml"
        route = write_route(path, Ground(model), *survey(CELLS, kilometres), lands="here")
        job = partial(check, route, ground=model, canopy_m=OPEN_M)
        times, answers = best_of(min(bench.count, most), job)
        per_km[kilometres] = times[0] / (answers[0].length_m / 1000)
    for kilometres in (10, 100):
        yield Figure(
            work=f"check per km flown: {kilometres} km beside 1 km",
            measured=f"{per_km[kilometres]:.3f} s",
            beside=f"{per_km[1]:.3f} s",
            value=per_km[kilometres] / per_km[1],
            unit="×",
            required=1.5,
            goal=1.1,
        )


def coverage(_: Bench) -> Iterator[Figure]:
    """Measure how often margins hold that are stated to, over 2,000 invented terrains."""
    from _bench_coverage import figures

    yield from figures()


ROWS: dict[str, Callable[[Bench], Iterator[Figure]]] = {
    "ground": ground,
    "clearance": clearance,
    "rays": rays,
    "check": whole_check,
    "demo": demo,
    "sample": sample,
    "budget": budget,
    "sparse": sparse,
    "length": length,
    "coverage": coverage,
}


def main(arguments: list[str]) -> int:
    """Measure the rows asked for, print the table, and return the exit code."""
    parser = argparse.ArgumentParser(description="Measure speed and memory beside the peers.")
    parser.add_argument("rows", nargs="*", metavar="ROW", help=", ".join(ROWS))
    parser.add_argument("--count", type=int, default=5, help="take the best of so many (5)")
    parser.add_argument("--folder", type=Path, default=FOLDER, help="where models are kept")
    chosen = parser.parse_args(arguments)
    unknown = [row for row in chosen.rows if row not in ROWS]
    if unknown or chosen.count < 1:
        parser.error(f"rows are {', '.join(ROWS)}, and --count is at least 1")
    bench = Bench(folder=chosen.folder.resolve(), count=chosen.count)
    figures = [figure for row in chosen.rows or ROWS for figure in ROWS[row](bench)]
    print("\n".join([*surroundings(), NOTE.format(bench.count), "", *table(figures)]))
    return 3 if any(figure.missed for figure in figures) else 0


if __name__ == "__main__":
    raise SystemExit(main(sys.argv[1:]))

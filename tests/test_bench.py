"""The measurements measure what they say; how fast anything is, no test asks."""

from __future__ import annotations

import importlib
import math
from functools import partial
from pathlib import Path
from types import ModuleType
from typing import Any

import numpy as np
import pytest
import rasterio
from rasterio.windows import Window
from scipy import stats

from terrain_guard.assess import check
from terrain_guard.ground.model import Ground
from terrain_guard.plan.route_toml import read_route

SCRIPTS = Path(__file__).resolve().parent.parent / "scripts"
CELLS = 1200


@pytest.fixture(autouse=True)
def _scripts_on_path(monkeypatch: pytest.MonkeyPatch) -> None:
    """Let the scripts be imported as modules."""
    monkeypatch.syspath_prepend(SCRIPTS)


def script(name: str) -> ModuleType:
    """Return a script as a module."""
    return importlib.import_module(name)


@pytest.fixture(scope="module")
def rough(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """Return a rough model of fewer cells than the one that is measured on."""
    with pytest.MonkeyPatch.context() as patch:
        patch.syspath_prepend(SCRIPTS)
        path: Path = script("bench_model").rough_model(tmp_path_factory.mktemp("bench"), CELLS)
    return path


def read(path: Path, window: Window | None = None) -> np.ndarray:
    """Return the heights in a file."""
    with rasterio.open(path) as dataset:
        return np.asarray(dataset.read(1, window=window))


def test_every_making_gives_the_same_model(rough: Path, tmp_path: Path) -> None:
    """The model comes from a fixed seed; a folder that has it keeps it."""
    maker = script("bench_model")
    again = maker.rough_model(tmp_path, CELLS)
    assert (read(again) == read(rough)).all()
    before = again.stat().st_mtime_ns
    assert maker.rough_model(tmp_path, CELLS).stat().st_mtime_ns == before
    assert (tmp_path / ".gitignore").read_text(encoding="utf-8") == "*\n"


def test_the_model_is_laid_out_as_asked(rough: Path) -> None:
    """256 × 256 blocks, deflated, 1 m cells, heights in whole centimetres, rough."""
    with rasterio.open(rough) as dataset:
        assert dataset.block_shapes == [(256, 256)]
        assert dataset.compression.value == "DEFLATE"
        assert dataset.res == (1.0, 1.0)
    heights = read(rough)
    assert heights.min() > 100
    assert np.abs(heights * 100 - np.rint(heights * 100)).max() < 0.01
    assert np.ptp(heights) > 50
    assert 0.02 < np.abs(np.diff(heights, axis=1)).mean() < 1


def test_the_sparse_model_has_the_same_ground_at_the_same_places(
    rough: Path, tmp_path: Path
) -> None:
    """Written blocks agree to the last bit, in degrees too; the rest is missing, and small."""
    sparse = script("bench_model").sparse_model(tmp_path, rough, Window(300, 600, 100, 200))
    assert sparse.stat().st_size < 5e6  # 40 GB if every block were written
    few, many = Ground(rough), Ground(sparse)
    assert many.shape == (100_000, 100_000)
    lon, lat = few.degrees_at(np.array([600.0, 650.5, 799.0]), np.array([300.0, 399.0, 300.25]))
    assert (many.elevation(lon, lat) == few.elevation(lon, lat)).all()
    row, column = many.posts_at(*few.degrees_at(np.array([100.0]), np.array([100.0])))
    assert np.isnan(many.elevation_at(row, column)).all()


def test_shapes_are_as_long_as_they_say() -> None:
    """On 8000 cells of 1 m: four laps of 24 km, lanes over everything, lanes over 2 km."""
    shapes = script("_bench_flights").shapes(8000)
    length = {
        name: np.hypot(np.diff(row), np.diff(column)).sum()
        for name, (row, column) in shapes.items()
    }
    assert length["ring"] == pytest.approx(4 * 24_000, rel=0.001)
    assert length["lawn-mower"] == pytest.approx(100_000, rel=0.05)
    assert length["square"] == pytest.approx(100_000, rel=0.05)
    for row, column in shapes.values():
        assert row.size == column.size == 100_000
        assert min(row.min(), column.min()) > 0
        assert max(row.max(), column.max()) < 7999
    assert np.ptp(shapes["square"][0]) == pytest.approx(2000)
    assert np.ptp(shapes["lawn-mower"][0]) > 7800


def test_contenders_do_the_same_work(rough: Path) -> None:
    """Ours and SciPy's elevations agree; the nearest cell is near; blocks are counted right."""
    ground_row, ground = script("_bench_ground"), Ground(rough)
    rng = np.random.default_rng(1)
    row, column = rng.uniform(300, 900, (2, 500))
    lon, lat = ground.degrees_at(row, column)
    found, blocks_read = ground_row.ours(rough, lon, lat)
    nearest, peer = ground_row.cells(rough, lon, lat), ground_row.box(rough, lon, lat)
    ground_row.refuse_to_compare(found, nearest, peer)
    assert peer == pytest.approx(ground_row.box_at(rough, row, column), abs=1e-5)
    cells = read(rough)[np.rint(row).astype(int), np.rint(column).astype(int)]
    assert (nearest == cells).all()
    touched = {
        (int(i) // 256, int(j) // 256)
        for r, c in zip(row, column, strict=True)
        for i in (np.floor(r), np.ceil(r))
        for j in (np.floor(c), np.ceil(c))
    }
    assert ground_row.blocks_touched(rough, row, column) == len(touched) == blocks_read


@pytest.mark.parametrize("shift", [(1.0, 0.0), (0.0, 20.0), (math.nan, 0.0)])
def test_other_work_is_not_compared(shift: tuple[float, float]) -> None:
    """Contenders a metre apart, nearest cells 20 m off, or unknowns: no ratio."""
    found = np.full(5, 100.0)
    with pytest.raises(RuntimeError, match="disagree"):
        script("_bench_ground").refuse_to_compare(found, found + shift[1], found + shift[0])


@pytest.mark.parametrize("stated", [True, False])
def test_routes_can_be_read(rough: Path, tmp_path: Path, stated: bool) -> None:
    """The written route has the waypoints asked for, that far apart, that high above ground."""
    flights, ground = script("_bench_flights"), Ground(rough)
    row, column = flights.survey(CELLS, 1.0)
    route = read_route(
        flights.write_route(tmp_path / "r.toml", ground, row, column, stated=stated, lands="here")
    )
    assert route.turns.kind == ("fly-by" if stated else "unstated")
    lon = np.array([w.lon_deg for w in route.waypoints])
    lat = np.array([w.lat_deg for w in route.waypoints])
    length = flights.SPACING_CELLS * (len(route.waypoints) - 1)
    assert length == pytest.approx(1000, abs=flights.SPACING_CELLS / 2)
    launch = ground.elevation(route.launch.lon_deg, route.launch.lat_deg)[0]
    above = launch + [w.height_m for w in route.waypoints] - ground.elevation(lon, lat)
    assert above.min() > flights.LOW_M - 0.1
    assert above.max() < flights.HIGH_M + 0.1


def test_the_measured_route_is_five_kilometres_with_thirty_waypoints() -> None:
    """29 legs of 172.4 m, the launch near its first end, all of it on 8000 cells."""
    row, column = script("_bench_flights").wandering(8000)
    assert row.size == 1 + 30
    assert np.hypot(np.diff(row), np.diff(column))[1:].sum() == pytest.approx(5000, abs=1)
    assert min(row.min(), column.min()) > 500
    assert max(row.max(), column.max()) < 7500


def figure(**changes: Any) -> Any:
    """Return one figure, met but short of its goal unless changed."""
    settings = {"work": "w", "value": 2.0, "unit": "s", "required": 3.0, "goal": 1.0, **changes}
    return script("_bench_figures").Figure(**settings)


@pytest.mark.parametrize(
    ("changes", "word", "missed"),
    [
        ({}, "met", False),
        ({"value": 1.0}, "goal met", False),
        ({"value": 3.5}, "MISSED", True),
        ({"at_most": False}, "MISSED", True),
        ({"at_most": False, "value": 3.0, "goal": 6.0}, "met", False),
        ({"value": math.nan}, "MISSED", True),
        ({"required": None, "goal": None, "value": 9.0}, "", False),
        ({"no_less": 1.5, "goal": None}, "met", False),
        ({"no_less": 2.5, "goal": None}, "MISSED", True),
    ],
)
def test_a_figure_is_met_only_if_it_is_known_to_be(
    changes: dict[str, Any], word: str, missed: bool
) -> None:
    """At most and at least, bounds included; what was not measured is missed."""
    one = figure(**changes)
    assert (one.cells[-1], one.missed) == (word, missed)


def test_the_table_lines_up() -> None:
    """Headings, a rule, one line a figure, numbers to the right under their heading."""
    seconds, ratio = figure(), figure(work="longer", unit="×", measured="1 s", beside="2 s")
    lines = script("_bench_figures").table([seconds, ratio])
    assert [line.split() for line in lines] == [
        ["work", "measured", "beside", "ratio", "required", "goal"],
        ["-" * len(lines[1])],
        ["w", "2", "s", "≤", "3", "s", "≤", "1", "s", "met"],
        ["longer", "1", "s", "2", "s", "2", "×", "≤", "3", "×", "≤", "1", "×", "met"],
    ]
    assert len({line.index("met") for line in lines[2:]}) == 1


def test_a_share_may_be_required_between_two_bounds() -> None:
    """Both stand in the table."""
    share = figure(unit="%", no_less=1.0)
    assert share.cells[4] == "1 to 3 %"


def test_coverage_puts_stated_beside_measured() -> None:
    """Each kind of terrain, side and k; sharp ground with bounds and without; whole flights."""
    rows = list(script("_bench_coverage").figures(12))
    works = [row.work for row in rows]
    assert len(set(works)) == len(rows) == 6 * (6 + 1) + 4 + 1 + 2
    assert all(row.beside.startswith("stated ") for row in rows)
    floor = next(row for row in rows if row.work == "floor at 1 sigma, all")
    assert floor.beside == "stated 15.87 %"  # of the normal distribution's tables
    assert (floor.value * 12 / 100) == pytest.approx(round(floor.value * 12 / 100))
    low, high = stats.binom.interval(0.99, 12, 0.1587)
    assert (floor.no_less, floor.required) == pytest.approx((100 * low / 12, 100 * high / 12))


def test_flat_margins_stand_in_for_the_budget_only_while_asked() -> None:
    """The same flight over the same ground, its margins flat; afterwards the budget is back."""
    route = SCRIPTS.parent / "sample_dem" / "same_height.toml"
    ground = SCRIPTS.parent / "sample_dem" / "valley_ground.tif"
    before = check(route, ground=ground, canopy_m=0.0)
    with script("_bench_budget").flat_margins(before.budget, floor_m=7.0, ceiling_m=5.0):
        flat = check(route, ground=ground, canopy_m=0.0)
    after = check(route, ground=ground, canopy_m=0.0)
    assert np.unique(flat.samples.floor_margin_m).tolist() == [7.0]
    assert np.unique(flat.samples.ceiling_margin_m).tolist() == [5.0]
    assert np.ptp(after.samples.floor_margin_m) > 0
    for one in (flat, after):
        assert one.samples.above_ground_m == pytest.approx(before.samples.above_ground_m)


def test_contenders_take_turns() -> None:
    """Each job runs as often as asked, one after the other, and gives its answer."""
    ran: list[str] = []

    def job(name: str) -> int:
        ran.append(name)
        return len(ran)

    times, answers = script("_bench_figures").best_of(2, partial(job, "a"), partial(job, "b"))
    assert ran == ["a", "b", "a", "b"]
    assert answers == [3, 4]
    assert all(0 <= seconds < math.inf for seconds in times)


def test_a_process_of_its_own_is_watched() -> None:
    """Exit code and peak memory are the child's, not those of a large parent."""
    figures, ballast = script("_bench_figures"), np.ones(40_000_000)  # 320 MB
    run = figures.fresh("--help")
    assert run.code == 0
    assert run.seconds > 0
    assert math.isnan(run.busy_s) or 0 < run.busy_s < 60
    assert math.isnan(run.peak_mb) or 5 < run.peak_mb < 200
    assert ballast.size
    with pytest.raises(RuntimeError, match="exited 2: refused"):
        figures.fresh("check", "no_such.toml", "--ground", "no_such.tif")


def test_unknown_rows_are_refused(capsys: pytest.CaptureFixture[str]) -> None:
    """A row that does not exist ends with the list of those that do."""
    with pytest.raises(SystemExit, match="2"):
        script("bench").main(["grond"])
    assert (
        "ground, clearance, rays, check, demo, sample, budget, sparse, length, coverage"
        in capsys.readouterr().err
    )


def test_a_missed_figure_is_told_by_the_exit_code(
    monkeypatch: pytest.MonkeyPatch, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    """3 if a required figure is missed, else 0; the versions stand above the table."""
    bench = script("bench")
    for value, expected in ((2.0, 0), (4.0, 3)):
        monkeypatch.setattr(bench, "ROWS", {"one": lambda _, v=value: iter([figure(value=v)])})
        assert bench.main(["--folder", str(tmp_path)]) == expected
        printed = capsys.readouterr().out
        assert printed.startswith("Python 3.")
        assert "GDAL" in printed

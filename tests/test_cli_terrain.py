"""The command `terrain`: exit codes, streams, several models."""

from __future__ import annotations

from pathlib import Path

import numpy as np
from typer.testing import CliRunner

from terrain_guard import cli
from terrain_guard.ground.inspect import inspect
from terrain_guard.report import terrain_table
from tests.ground.made import utm_raster
from tests.ground.planted import tilted

RUNNER = CliRunner()
SAMPLE = Path(__file__).parent.parent / "sample_dem"


def run(*arguments: str | Path) -> tuple[int, str, str]:
    """Run the command; return exit code, standard output, standard error."""
    result = RUNNER.invoke(cli.app, ["terrain", *map(str, arguments)], prog_name="terrain-guard")
    if result.exception is not None and not isinstance(result.exception, SystemExit):
        raise result.exception
    return result.exit_code, result.stdout, result.stderr


def told(*paths: Path, unit: str = "m") -> str:
    """Return what is to be printed of models that are told."""
    lines = [line for path in paths for line in terrain_table.lines(inspect(path), unit=unit)]
    return "".join(f"{line}\n" for line in (*lines, *terrain_table.closing()))


def ground(folder: Path, name: str) -> Path:
    """Write a small even slope."""
    return utm_raster(folder, tilted(40, 40, slope=0.2, cell_m=10.0, turn_deg=10.0), name=name)


def picture(folder: Path, name: str) -> Path:
    """Write a shaded relief of 8 bits."""
    return utm_raster(folder, np.full((40, 40), 180, dtype=np.uint8), name=name)


def test_one_model_is_told_with_exit_0(tmp_path: Path) -> None:
    """The table goes to standard output, nothing to standard error; suspicions change no code."""
    path = ground(tmp_path, "a.tif")
    assert run(path) == (0, told(path), "")
    code, out, _ = run(SAMPLE / "valley_surface.tif")
    assert code == 0
    assert "WHAT LOOKS WRONG" in out


def test_feet(tmp_path: Path) -> None:
    """`--units ft` prints feet."""
    path = ground(tmp_path, "a.tif")
    assert run(path, "--units", "ft") == (0, told(path, unit="ft"), "")


def test_several_models_have_a_block_each(tmp_path: Path) -> None:
    """Two models, two blocks, the cautions once."""
    paths = ground(tmp_path, "a.tif"), ground(tmp_path, "b.tif")
    assert run(*paths) == (0, told(*paths), "")
    assert run(tmp_path) == (0, told(*paths), "")  # the folder means the same


def test_one_refused_model_does_not_silence_the_others(tmp_path: Path) -> None:
    """The refusal is one sentence on standard error, exit 2; the others are told."""
    first, bad, last = (
        ground(tmp_path, "a.tif"),
        picture(tmp_path, "b.tif"),
        ground(tmp_path, "c.tif"),
    )
    code, out, err = run(first, bad, last)
    assert (code, out) == (2, told(first, last))
    assert err.startswith("refused: 'b.tif' holds uint8 values, which cannot be elevations")
    assert err.count("\n") == 1


def test_nothing_told_prints_nothing(tmp_path: Path) -> None:
    """Where every model is refused standard output stays empty."""
    code, out, err = run(picture(tmp_path, "b.tif"), tmp_path / "absent.tif")
    assert (code, out) == (2, "")
    assert err.count("refused: ") == err.count("\n") == 2


def test_damaged_file_is_refused_where_it_breaks(tmp_path: Path) -> None:
    """A block that cannot be read is a refusal, not half a table."""
    path = utm_raster(
        tmp_path,
        np.random.default_rng(1).uniform(100, 900, (512, 512)).astype(np.float32),
        tiled=True,
        blockxsize=128,
        blockysize=128,
        compress="deflate",
    )
    content = bytearray(path.read_bytes())
    middle = len(content) // 2
    content[middle : middle + 4000] = bytes(4000)
    path.write_bytes(content)
    code, out, err = run(path)
    assert (code, out) == (2, "")
    assert "cannot be read near row" in err


def test_help_ends_with_an_example_that_runs() -> None:
    """The example of the help names a sample that is there."""
    out = run("--help")[1]
    assert out.rstrip().endswith("terrain-guard terrain sample_dem/valley_ground.tif")
    assert (SAMPLE / "valley_ground.tif").is_file()

"""`check --explain LEG`, end to end over the sample valley, added up again from the page."""

import math
import re
from pathlib import Path

import pytest
from typer.testing import CliRunner

from terrain_guard import cli

RUNNER = CliRunner()
SAMPLE = Path(__file__).parents[1] / "sample_dem"
GIVEN = (
    "check", str(SAMPLE / "follows_slope.toml"), "--ground", str(SAMPLE / "valley_ground.tif"),
    "--surface", str(SAMPLE / "valley_surface.tif"),
)  # fmt: skip
HALF = 0.005 + 1e-9
"""How far a number printed to the nearest hundredth may be off."""


def _run(*more: str) -> tuple[int, str, str]:
    result = RUNNER.invoke(cli.app, [*GIVEN, *more], prog_name="terrain-guard")
    if result.exception is not None and not isinstance(result.exception, SystemExit):
        raise result.exception
    return result.exit_code, result.stdout, result.stderr


@pytest.fixture(scope="module")
def told() -> tuple[int, str]:
    """Explain leg 6 of the sample route; return exit code and explanation."""
    code, out, err = _run("--explain", "6")
    assert err == ""
    return code, out.split("EXPLAINED: ")[1].split("\n\n", maxsplit=1)[0]


def test_the_leg_is_explained_and_the_verdict_stays(told: tuple[int, str]) -> None:
    """Both sides are worked out, for the leg asked for."""
    code, text = told
    plain = _run()
    assert code == plain[0]
    assert "EXPLAINED" not in plain[1]
    assert plain[1].splitlines()[-6:] == _run("--explain", "0")[1].splitlines()[-6:]
    assert text.startswith("leg 6 valley floor -> lower slope\nFloor ")
    assert text.count("\nCeiling ") == 1
    assert text.count("margin: k sigma and bounds") == 2


def test_heights_add_up(told: tuple[int, str]) -> None:
    """Launch and flown less ground is above ground, added up from the page."""
    flat = " ".join(told[1].split())
    sums = re.findall(r"launch ([\d.]+) \+ flown ([\d.]+) - ground ([\d.]+) = ([-\d.]+) m", flat)
    assert len(sums) == 2
    for launch, flown, ground, above in sums:
        assert float(launch) + float(flown) - float(ground) == pytest.approx(
            float(above), abs=4 * HALF
        )
    [(height, margin, raised, room)] = re.findall(
        r"height ([\d.]+); \+ margin ([\d.]+) = ([\d.]+); ceiling 120; room left ([\d.]+) m", flat
    )
    assert float(height) + float(margin) == pytest.approx(float(raised), abs=3 * HALF)
    assert 120 - float(raised) == pytest.approx(float(room), abs=2 * HALF)


@pytest.mark.parametrize("index", [0, 1])
def test_the_budget_adds_up(told: tuple[int, str], index: int) -> None:
    """Squares, root, k times the root and bounds, added up from the page."""
    part = re.split(r" squared\n", told[1])[index + 1]
    rows = re.findall(r"^ {12}(.{4}) {4}(.{4})  (.*(?:\n {26}.*)*)", part, flags=re.MULTILINE)
    said = [(a.strip(), b.strip(), " ".join(text.split())) for a, b, text in rows]
    random = [(float(a), float(b)) for a, b, text in said if "(random" in text]
    bounds = [float(a) for a, _, text in said if "(one-sided bound" in text]
    [total] = [float(b) for _, b, text in said if text == "sum of squares"]
    [sigma] = [float(a) for a, _, text in said if text.startswith("sigma:")]
    [(k_sigma, k)] = [
        (float(a), float(text.split("k = ")[1].split()[0]))
        for a, _, text in said
        if text.startswith("k sigma")
    ]
    [bound] = [float(a) for a, _, text in said if text.startswith("sum of the one")]
    [margin] = [float(a) for a, _, text in said if text.startswith("margin:")]
    assert len(random) >= 5
    assert len(bounds) >= 4
    assert sum(b for _, b in random) == pytest.approx(total, abs=HALF * (len(random) + 1))
    assert math.sqrt(total) == pytest.approx(sigma, abs=2 * HALF)
    assert k * sigma == pytest.approx(k_sigma, abs=HALF * (1 + k))
    assert sum(bounds) == pytest.approx(bound, abs=HALF * (len(bounds) + 1))
    assert k_sigma + bound == pytest.approx(margin, abs=3 * HALF)


@pytest.mark.parametrize("leg", ["10", "-1"])
def test_a_leg_that_is_not_there_is_refused(leg: str, tmp_path: Path) -> None:
    """Exit code 2, one sentence, and nothing written."""
    out = tmp_path / "legs.csv"
    code, said, err = _run("--explain", leg, "--csv", str(out))
    assert (code, said) == (2, "")
    assert err == f"refused: --explain {leg}: the route has legs 0 to 9; give one of these.\n"
    assert not out.exists()


def test_what_is_no_number_is_refused() -> None:
    """The option takes a leg's number."""
    code, said, err = _run("--explain", "spur")
    assert (code, said) == (2, "")
    assert "--explain" in err

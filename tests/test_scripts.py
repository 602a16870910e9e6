"""The two commands prepare their environment, or say in one sentence why they cannot."""

from __future__ import annotations

import ast
import importlib
import io
import json
import sys
from pathlib import Path
from types import ModuleType

import pytest

SCRIPTS = Path(__file__).resolve().parent.parent / "scripts"


@pytest.fixture
def environment(monkeypatch: pytest.MonkeyPatch) -> ModuleType:
    """Return scripts/_environment.py as a module."""
    monkeypatch.syspath_prepend(SCRIPTS)
    return importlib.import_module("_environment")


@pytest.fixture
def demo(monkeypatch: pytest.MonkeyPatch) -> ModuleType:
    """Return scripts/demo.py as a module."""
    monkeypatch.syspath_prepend(SCRIPTS)
    return importlib.import_module("demo")


@pytest.mark.parametrize("name", ["_environment.py", "demo.py", "test.py"])
def test_old_python_can_read_far_enough_to_refuse(name: str) -> None:
    """The scripts parse with the grammar of Python 3.8, so that the refusal can be printed."""
    source = (SCRIPTS / name).read_text(encoding="utf-8")
    ast.parse(source, feature_version=(3, 8))
    assert "from __future__ import annotations" in source  # newer types are never evaluated


def test_old_python_is_refused(environment: ModuleType) -> None:
    """Python 3.10 is too old; the sentence says what is needed and what to do."""
    with pytest.raises(environment.CannotPrepare, match=r"needs Python 3\.11 .* a newer Python"):
        environment.refuse_old_python((3, 10, 13))
    environment.refuse_old_python((3, 11, 0))


def test_broken_environments_are_of_no_use(environment: ModuleType, tmp_path: Path) -> None:
    """A missing Python, and a file that does not start, are both seen through."""
    python = environment.python_in(tmp_path)
    assert environment.working_version(python) is None
    python.parent.mkdir()
    python.write_text("half a download", encoding="utf-8")
    python.chmod(0o755)
    assert environment.working_version(python) is None


def test_python_of_another_place_is_of_no_use(environment: ModuleType, tmp_path: Path) -> None:
    """A mere link to a Python elsewhere is no environment: nothing is installed over there."""
    python = environment.python_in(tmp_path)
    python.parent.mkdir()
    try:
        python.symlink_to(sys._base_executable)  # type: ignore[attr-defined]
    except OSError:
        pytest.skip("this system lets only administrators make links")
    assert environment.working_version(python) is None


def test_ready_only_for_the_same_project_and_python(
    environment: ModuleType, tmp_path: Path
) -> None:
    """The stamp counts for the same pyproject, Python and folder; development covers plain."""
    stamp = tmp_path / "ready"
    expected = environment.wanted((3, 11, 7), "")
    assert not environment.is_ready(stamp, expected, "")  # none written
    stamp.write_text(json.dumps(environment.wanted((3, 11, 7), "dev")), encoding="utf-8")
    assert environment.is_ready(stamp, expected, "")
    assert environment.is_ready(stamp, environment.wanted((3, 11, 7), "dev"), "dev")
    assert not environment.is_ready(stamp, environment.wanted((3, 12, 1), ""), "")
    stamp.write_text(json.dumps({**expected, "project": "other"}), encoding="utf-8")
    assert not environment.is_ready(stamp, expected, "")
    stamp.write_text(json.dumps(expected), encoding="utf-8")
    assert not environment.is_ready(stamp, environment.wanted((3, 11, 7), "dev"), "dev")
    stamp.write_text("{", encoding="utf-8")
    assert not environment.is_ready(stamp, expected, "")


def test_what_a_console_cannot_show_does_not_stop_it(
    environment: ModuleType, monkeypatch: pytest.MonkeyPatch
) -> None:
    """A folder with a Greek name on a western Windows console prints question marks."""
    raw = io.BytesIO()
    monkeypatch.setattr(sys, "stdout", io.TextIOWrapper(raw, encoding="cp1252"))
    environment.say("C:\\Users\\Ελένη\\pictures")
    assert raw.getvalue().decode("cp1252").rstrip() == "C:\\Users\\?????\\pictures"


@pytest.mark.parametrize(
    ("code", "drawn", "expected"),
    [
        (0, True, 0),
        (3, True, 0),
        (4, True, 0),
        (5, True, 0),
        (1, True, 1),
        (2, True, 1),
        (-11, True, 1),
        (3, False, 1),
    ],
)
def test_the_demonstration_works_only_if_the_program_answered_and_drew(
    demo: ModuleType, code: int, drawn: bool, expected: int, capsys: pytest.CaptureFixture[str]
) -> None:
    """A breach found is an answer; a crash, a refusal or a missing picture is not."""
    picture = Path("picture.png") if drawn else None
    assert demo.summary({"a_route": code}, {"a_route": picture}) == expected
    assert f"check exited {code}" in capsys.readouterr().out

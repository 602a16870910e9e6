"""The project's own virtual environment: made, reused or made anew.

Shared by demo.py and test.py. Standard library only, and written so that an
old Python can read it far enough to say that it is too old.

    .venv/                    beside pyproject.toml
      terrain-guard-ready     what is installed, for which pyproject.toml and which
                              Python; written last, so that an interrupted
                              installation is never taken for a finished one
"""

from __future__ import annotations

import hashlib
import importlib.util
import json
import os
import subprocess
import sys
import venv
from pathlib import Path

ROOT = Path(__file__).resolve().parent.parent
OLDEST_PYTHON = (3, 11)

# Asked of the environment's own Python: its version, where it thinks it lives,
# and whether pip works. Short enough to run every time.
_PROBE = "import json, sys, pip; print(json.dumps([list(sys.version_info[:3]), sys.prefix]))"


class CannotPrepare(Exception):
    """The environment cannot be made; the message says why and what to do."""


def prepare(extra: str = "") -> Path:
    """Return the Python of an environment that has the project installed.

    Parameters
    ----------
    extra : str
        The extra of pyproject.toml that is needed too; "" for none.

    Returns
    -------
    Path
        The interpreter inside `.venv`.

    Raises
    ------
    CannotPrepare
        If Python is too old or incomplete, or the installation fails.
    """
    refuse_old_python(sys.version_info[:3])
    folder = ROOT / ".venv"
    python = python_in(folder)
    version = working_version(python)
    if version is None:
        version = make(folder)
    stamp = folder / "terrain-guard-ready"
    if is_ready(stamp, wanted(version, extra), extra):
        say(f"Using the environment in {folder}.")
        return python
    install(python, extra, stamp)
    stamp.write_text(json.dumps(wanted(version, extra)), encoding="utf-8")
    return python


def refuse_old_python(version: tuple[int, ...]) -> None:
    """Raise CannotPrepare if `version` is older than the project needs."""
    if version[:2] < OLDEST_PYTHON:
        message = (
            "Terrain Guard needs Python {}.{} or newer, and this is Python {} ({}): "
            "run the same command with a newer Python."
        ).format(*OLDEST_PYTHON, ".".join(map(str, version)), sys.executable)
        raise CannotPrepare(message)


def python_in(folder: Path) -> Path:
    """Return where a virtual environment keeps its interpreter on this system."""
    if os.name == "nt":
        return folder / "Scripts" / "python.exe"
    return folder / "bin" / "python"


def command_in(folder: Path, name: str) -> Path:
    """Return where a virtual environment keeps the command `name` on this system."""
    return python_in(folder).with_name(name + (".exe" if os.name == "nt" else ""))


def working_version(python: Path) -> tuple[int, ...] | None:
    """Return the version of an environment's Python; None if it is of no use.

    Of no use: missing, not starting, too old, without pip, or only a link to a
    Python that lives elsewhere, into which nothing of ours may be installed.
    """
    if not python.is_file():
        return None
    try:
        answer = subprocess.run(
            [str(python), "-c", _PROBE],
            capture_output=True,
            text=True,
            timeout=120,
            check=True,
            env=clean_environ(),
        ).stdout
        version, prefix = json.loads(answer)
    except (OSError, subprocess.SubprocessError, ValueError):
        return None
    # bin/ or Scripts/ is one level below the environment.
    same_place = Path(prefix).resolve() == python.parent.parent.resolve()
    return tuple(version) if same_place and tuple(version[:2]) >= OLDEST_PYTHON else None


def make(folder: Path) -> tuple[int, ...]:
    """Make the environment, emptying what is left of a broken one, and return its version."""
    if importlib.util.find_spec("ensurepip") is None:
        message = (
            f"This Python ({sys.executable}) comes without pip, so no environment can be made: "
            "install its venv package (on Debian and Ubuntu: apt install python3-venv)."
        )
        raise CannotPrepare(message)
    say(f"Making an environment in {folder} ...")
    try:
        if folder.is_symlink() or folder.is_file():
            folder.unlink()
        venv.EnvBuilder(clear=True, with_pip=True, symlinks=os.name != "nt").create(folder)
    except (OSError, subprocess.SubprocessError) as error:
        message = f"No environment could be made in {folder} ({error}): delete it and try again."
        raise CannotPrepare(message) from error
    version = working_version(python_in(folder))
    if version is None:
        message = f"The new environment in {folder} does not start: delete it and try again."
        raise CannotPrepare(message)
    return version


def wanted(version: tuple[int, ...], extra: str) -> dict[str, object]:
    """Return what a ready environment has written down about itself."""
    project = (ROOT / "pyproject.toml").read_bytes()
    return {
        "extra": extra,
        "project": hashlib.sha256(project).hexdigest(),
        "python": list(version),
        "root": str(ROOT),
    }


def is_ready(stamp: Path, expected: dict[str, object], extra: str) -> bool:
    """Tell whether the environment already holds what is wanted, or more."""
    try:
        found = json.loads(stamp.read_text(encoding="utf-8"))
    except (OSError, ValueError):
        return False
    if not isinstance(found, dict) or found.get("extra") not in (extra, "dev"):
        return False
    return all(found.get(key) == value for key, value in expected.items() if key != "extra")


def install(python: Path, extra: str, stamp: Path) -> None:
    """Install the project into the environment, in place, so that edits count at once."""
    what = str(ROOT) + (f"[{extra}]" if extra else "")
    say("Installing Terrain Guard and what it needs (a minute or two the first time) ...")
    if stamp.exists():
        stamp.unlink()
    pip = [str(python), "-m", "pip", "--disable-pip-version-check", "--no-input", "install"]
    done = subprocess.run(
        [*pip, "-qq", "--editable", what], cwd=ROOT, env=clean_environ(), check=False
    )
    if done.returncode != 0:
        message = (
            f"pip could not install the project (exit code {done.returncode}; its own words are "
            "above): check the connection to the package index, then try again."
        )
        raise CannotPrepare(message)


def clean_environ() -> dict[str, str]:
    """Return the environment variables without those that lead Python elsewhere."""
    leads_elsewhere = {"PYTHONHOME", "PYTHONPATH", "__PYVENV_LAUNCHER__"}
    kept = {key: value for key, value in os.environ.items() if key not in leads_elsewhere}
    return {**kept, "PIP_USER": "0"}


def say(text: str = "") -> None:
    """Print a line at once; what a console cannot show becomes a question mark."""
    coding = sys.stdout.encoding or "ascii"
    print(text.encode(coding, "replace").decode(coding), flush=True)

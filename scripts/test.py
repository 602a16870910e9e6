"""Run the tests: python scripts/test.py [pytest's own arguments].

Makes or reuses `.venv` beside pyproject.toml, installs the project with its
development tools, and runs pytest on every processor. Exits with pytest's code.

    python scripts/test.py -k turns        the tests whose name holds "turns"
    python scripts/test.py -n 0 --pdb      one process, stop at a failure
"""

from __future__ import annotations

import subprocess
import sys

from _environment import ROOT, CannotPrepare, clean_environ, prepare, say


def main(arguments: list[str]) -> int:
    """Prepare the environment, run pytest, and return the exit code."""
    try:
        python = prepare("dev")
    except CannotPrepare as error:
        say(str(error))
        return 1
    command = [str(python), "-m", "pytest", "-n", "auto", *arguments]
    return subprocess.run(command, cwd=ROOT, env=clean_environ(), check=False).returncode


if __name__ == "__main__":
    raise SystemExit(main(sys.argv[1:]))

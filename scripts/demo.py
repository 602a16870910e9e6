"""Show the program at work on the sample: python scripts/demo.py.

Makes or reuses `.venv` beside pyproject.toml, installs the project, then checks
and draws the two sample routes over the invented valley in sample_dem/. The
pictures land in demo_output/. Exits 0 if the program answered and drew; what
it answered, its own exit code, is printed.
"""

from __future__ import annotations

import subprocess
from pathlib import Path

from _environment import ROOT, CannotPrepare, clean_environ, command_in, prepare, say

MEANING = {
    0: "no breach found in the data listed, and every metre was judged",
    2: "the input was refused",
    3: "a breach was found",
    4: "no breach found, but something could not be judged",
    5: "inside every limit, but a margin is used up somewhere",
}
ANSWERS = {0, 3, 4, 5}

TERRAIN = (
    "--ground", "sample_dem/valley_ground.tif", "--surface", "sample_dem/valley_surface.tif"
)  # fmt: skip
ROUTES = {
    "same_height": "First route: one typed height, all the way up the valley.",
    "follows_slope": "Second route: typed heights that follow the slope.",
}


def main() -> int:
    """Run the demonstration and return its exit code."""
    try:
        python = prepare()
    except CannotPrepare as error:
        say(str(error))
        return 1
    program = command_in(python.parent.parent, "terrain-guard")
    codes, pictures = {}, {}
    for route, about in ROUTES.items():
        say(f"\n{about}\n")
        codes[route] = check(program, route)
        pictures[route] = profile(program, route)
    return summary(codes, pictures)


def check(program: Path, route: str) -> int:
    """Check one sample route and return the program's exit code."""
    return run(program, "check", f"sample_dem/{route}.toml", *TERRAIN)


def profile(program: Path, route: str) -> Path | None:
    """Draw the profile of one sample route; return the picture, None if there is none."""
    picture = ROOT / "demo_output" / f"{route}.png"
    picture.parent.mkdir(exist_ok=True)
    if picture.exists():  # of an earlier run; nothing is overwritten, and nothing old is shown
        picture.unlink()
    written = f"demo_output/{route}.png"
    code = run(program, "profile", f"sample_dem/{route}.toml", *TERRAIN, "-o", written)
    drawn = code == 0 and picture.is_file() and picture.stat().st_size > 0
    return picture if drawn else None


def run(program: Path, *arguments: str) -> int:
    """Show a command as one would type it, run it in the project's folder, return its code."""
    say("$ terrain-guard " + " ".join(arguments))
    command = [str(program), *arguments]
    return subprocess.run(command, cwd=ROOT, env=clean_environ(), check=False).returncode


def summary(codes: dict[str, int], pictures: dict[str, Path | None]) -> int:
    """Print what came out and return the demonstration's exit code."""
    say("\nWhat came out")
    for route, code in codes.items():
        say(f"  {route}: check exited {code}: {MEANING.get(code, 'the program failed')}")
    for route, picture in pictures.items():
        say(f"  {route}: profile picture {picture or 'was not drawn'}")
    worked = set(codes.values()) <= ANSWERS and all(pictures.values())
    if not worked:
        say("The demonstration did not work: see the messages above.")
    return 0 if worked else 1


if __name__ == "__main__":
    raise SystemExit(main())

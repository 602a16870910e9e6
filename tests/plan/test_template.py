"""The template can be read as printed, and tells of every key."""

from __future__ import annotations

import re
import tomllib
from typing import TYPE_CHECKING, Any

import pytest

from terrain_guard.plan.route_toml import read_route
from terrain_guard.plan.schema import ROUTE
from terrain_guard.plan.template import template
from tests.plan.samples import write

if TYPE_CHECKING:
    from pathlib import Path

    from terrain_guard.plan.keys import Table

_OPTIONAL = re.compile(r"^# (\[{1,2}\w+\]{1,2}|\w+ = .*)")


def _sections() -> dict[str, list[str]]:
    """Return the template's lines under each header, commented or not."""
    found: dict[str, list[str]] = {"": []}
    here = ""
    for line in template().splitlines():
        header = re.match(r"(?:# )?\[{1,2}(\w+)\]", line)
        here = header.group(1) if header else here
        found.setdefault(here, []).append(line)
    return found


def _with_all_stated(name: str) -> str:
    """Return the template with every optional line of one section stated."""
    lines = []
    here = ""
    for line in template().splitlines():
        header = re.match(r"(?:# )?\[{1,2}(\w+)\]", line)
        here = header.group(1) if header else here
        lines.append(line[2:] if here == name and _OPTIONAL.match(line) else line)
    return "\n".join(lines)


def test_it_is_a_route_as_printed(tmp_path: Path) -> None:
    """Three waypoints on the invented island, and not a key of it unused."""
    read = read_route(write(tmp_path, template()))
    assert [waypoint.name for waypoint in read.waypoints] == [
        "gate",
        "upper terrace",
        "spillway crest",
    ]
    assert (read.heights, read.height_unit, read.unused) == ("launch", "m", ())


def test_stated_or_not_the_defaults_are_the_same(tmp_path: Path) -> None:
    """The values shown for keys with a default are those defaults."""
    printed = read_route(write(tmp_path, template()))
    climb = read_route(write(tmp_path, _with_all_stated("climb")))
    last = read_route(write(tmp_path, _with_all_stated("after_last")))
    assert climb.climb == printed.climb
    assert last.after_last == printed.after_last
    assert not any(sentence.startswith("climb.") for sentence in climb.assumed)


@pytest.mark.parametrize("table", ROUTE, ids=lambda table: table.name or "top")
def test_every_optional_line_may_be_stated(tmp_path: Path, table: Table) -> None:
    """With a whole section stated, the file is still read; one of the two radii goes."""
    text = _with_all_stated(table.name)
    if table.name == "turns":
        text = re.sub(r"(?m)^bank_deg.*\n", "", text)
    if table.name == "waypoint":
        text = re.sub(r"(?m)^look_at.*\n", "", text)
    stated = tomllib.loads(text)
    read = read_route(write(tmp_path, text))
    assert len(read.waypoints) == 3
    section: Any = stated[table.name] if table.name else stated
    section = section[0] if table.many else section
    left_out = {"turns": {"bank_deg"}, "waypoint": {"look_at"}}.get(table.name, set())
    assert {key.name for key in table.keys} - left_out <= set(section)


def test_every_key_is_told_with_unit_choices_and_default() -> None:
    """On its own line: what the schema knows of it."""
    sections = _sections()
    for table in ROUTE:
        for key in table.keys:
            line = next(
                line for line in sections[table.name] if re.match(rf"(# )?{key.name} = ", line)
            )
            assert all(word in line for word in key.built), line
            assert not any(f"| {word}" in line for word in key.not_built), line
            if key.kind == "height":
                assert "height_unit" in line
                assert ("above launch" in line) == (table.name != "waypoint")
            if key.default is not None and key.kind in ("number", "height"):
                assert f"default {key.default:g}" in line
            if not key.used:
                assert "not used yet" in line


def test_it_tells_what_heights_count_from_and_fits_a_screen() -> None:
    """The first remark does; no line is wider than 110 columns."""
    text = template()
    assert "Heights count from the ground at launch" in text
    assert "invented island" in text
    assert text.isascii()
    assert max(len(line) for line in text.splitlines()) <= 110
    assert len(text.splitlines()) <= 115

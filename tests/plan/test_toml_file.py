"""What may be wrong with the file itself, before any key is looked at."""

from __future__ import annotations

import hashlib
from typing import TYPE_CHECKING

import pytest
import tomlkit

from terrain_guard.errors import RefusedInput, RefusedRoute, RefusedRules
from terrain_guard.plan.route_toml import read_route
from terrain_guard.plan.rules_toml import read_rules
from terrain_guard.plan.toml_file import MOST_BYTES
from tests.plan.samples import SMALLEST, faults, route, write

if TYPE_CHECKING:
    from collections.abc import Callable
    from pathlib import Path


@pytest.mark.parametrize(
    ("content", "words"),
    [
        (b"", "plan.toml: the file is empty, but a route file must say something; start from"),
        (b"\n \n# only a remark\n", "plan.toml: the file is empty"),
        (b"\xef\xbb\xbf", "plan.toml: the file is empty"),
        (b"heights launch", "plan.toml: not a route file, because it is not valid TOML"),
        (b"heights = 'launch'\nheights = 'ground'\n", "Cannot overwrite a value (at line 2"),
        (b"title = 'caf\xe9'", "plan.toml: given the byte 0xe9 at offset 12, but a route file"),
        ("title = 'x'".encode("utf-16"), "must be text in UTF-8; save it as UTF-8."),
        (b"\x00\x01\x02II*\x00", "is not valid TOML"),
        (b"a = " + b"9" * 5000, "is not valid TOML"),
        (b"a = " + b"[" * 100_000, "plan.toml: not a route file, because"),
        (b"# long\n" * (MOST_BYTES // 7 + 1), "plan.toml: given more than 5 MB, but a route file"),
    ],
    ids=[
        "empty", "remark", "mark-only", "no-toml", "twice", "latin-1", "utf-16", "binary",
        "huge-integer", "nested", "large",
    ],
)  # fmt: skip
def test_a_file_that_is_no_route_file_is_refused(
    tmp_path: Path, content: bytes, words: str
) -> None:
    """Each is refused in one sentence that names the file."""
    (sentence,) = faults(tmp_path, content)
    assert words in sentence
    assert sentence.endswith(".")
    assert "\n" not in sentence


@pytest.mark.parametrize(
    ("read", "error"), [(read_route, RefusedRoute), (read_rules, RefusedRules)]
)
def test_a_missing_file_is_refused_by_name(
    tmp_path: Path, read: Callable[[Path], object], error: type[RefusedInput]
) -> None:
    """The message holds the path as given and the remedy."""
    missing = tmp_path / "nowhere.toml"
    with pytest.raises(error, match=r"cannot be read as a r.* file .*; check the name") as caught:
        read(missing)
    assert repr(str(missing)) in str(caught.value)


@pytest.mark.parametrize("name", ["", "a\0b.toml"])
def test_a_path_that_is_no_file_is_refused(tmp_path: Path, name: str) -> None:
    """A folder, and a name that no system takes."""
    with pytest.raises(RefusedRoute, match=r"cannot be read as a route file"):
        read_route(tmp_path / name)


def test_a_byte_order_mark_and_windows_line_ends_are_no_fault(tmp_path: Path) -> None:
    """Editors on Windows write both."""
    text = tomlkit.dumps(SMALLEST)
    written = b"\xef\xbb\xbf" + text.replace("\n", "\r\n").encode()
    assert read_route(write(tmp_path, written)).waypoints == route(tmp_path).waypoints


def test_the_hash_is_that_of_the_bytes(tmp_path: Path) -> None:
    """SHA-256 (FIPS 180-4), as hashlib computes it, of the file as it is on disk."""
    path = write(tmp_path, SMALLEST)
    assert read_route(path).sha256 == hashlib.sha256(path.read_bytes()).hexdigest()
    assert read_route(path).source == "plan.toml"

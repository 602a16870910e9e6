"""Outputs are written whole or not at all, and never over something that matters."""

import os
import sys
from pathlib import Path

import pytest

from terrain_guard.errors import RefusedOutput
from terrain_guard.report.writing import check_outputs, write_outputs


def test_new_files_are_allowed(tmp_path: Path) -> None:
    """Files in a folder that exists, and standard output, pass; nothing is written yet."""
    check_outputs({"--json": str(tmp_path / "a.json"), "--csv": "-"}, inputs=[tmp_path / "r.toml"])
    assert list(tmp_path.iterdir()) == []


@pytest.mark.parametrize(
    ("name", "sentence"),
    [
        ("missing/a.json", "its folder does not exist"),
        ("old.json", "exists and is kept; add --overwrite"),
        ("folder", "is not an ordinary file"),
        ("route.toml", "is also read; inputs are never replaced"),
        ("folder/../route.toml", "is also read"),
        ("old.json/a.json", "its folder does not exist"),
    ],
)
def test_refusals_name_the_file_and_the_remedy(tmp_path: Path, name: str, sentence: str) -> None:
    """Each fault is one sentence with the option and the file as typed."""
    (tmp_path / "old.json").write_text("old")
    (tmp_path / "route.toml").write_text("route")
    (tmp_path / "folder").mkdir()
    given = str(tmp_path / name)
    with pytest.raises(RefusedOutput) as refused:
        check_outputs({"--json": given}, inputs=[tmp_path / "route.toml"])
    message = str(refused.value)
    assert message.startswith(f"--json {given!r}")
    assert sentence in message
    assert "\n" not in message


def test_overwrite_allows_old_files_but_never_inputs(tmp_path: Path) -> None:
    """--overwrite replaces results, not the route."""
    old, route = tmp_path / "old.json", tmp_path / "route.toml"
    old.write_text("old")
    route.write_text("route")
    check_outputs({"--json": str(old)}, inputs=[route], overwrite=True)
    with pytest.raises(RefusedOutput, match="is also read"):
        check_outputs({"--json": str(route)}, inputs=[route], overwrite=True)


def test_links_to_inputs_are_seen_through(tmp_path: Path) -> None:
    """A second name for the elevation model is still the elevation model."""
    dem, link = tmp_path / "ground.tif", tmp_path / "link.tif"
    dem.write_text("heights")
    os.link(dem, link)
    with pytest.raises(RefusedOutput, match="is also read"):
        check_outputs({"--csv": str(link)}, inputs=[dem], overwrite=True)


@pytest.mark.skipif(sys.platform == "win32", reason="device files have no path there")
def test_devices_are_refused() -> None:
    """Renaming a file onto a device would replace the device."""
    with pytest.raises(RefusedOutput, match="not an ordinary file"):
        check_outputs({"--json": os.devnull}, overwrite=True)


@pytest.mark.parametrize(
    ("one", "other"), [("a.json", "a.json"), ("a.json", "./a.json"), ("-", "-")]
)
def test_two_outputs_in_one_place_are_refused(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, one: str, other: str
) -> None:
    """Two results in one file, or on one standard output, would be neither."""
    monkeypatch.chdir(tmp_path)
    with pytest.raises(RefusedOutput, match="--json and --csv both name"):
        check_outputs({"--json": one, "--csv": other})


def test_every_fault_is_named_at_once(tmp_path: Path) -> None:
    """One run shows all that is wrong with the outputs."""
    (tmp_path / "old.csv").write_text("old")
    wanted = {"--json": str(tmp_path / "no" / "a.json"), "--csv": str(tmp_path / "old.csv")}
    with pytest.raises(RefusedOutput) as refused:
        check_outputs(wanted)
    assert len(str(refused.value).split("\n")) == 2


def test_files_are_written_as_given(tmp_path: Path) -> None:
    """Bytes arrive unchanged and nothing else is left in the folder."""
    names = [str(tmp_path / name) for name in ("a.json", "b.csv")]
    write_outputs({names[0]: b"{}\n", names[1]: b"x\r\ny\n"})
    assert (tmp_path / "a.json").read_bytes() == b"{}\n"
    assert (tmp_path / "b.csv").read_bytes() == b"x\r\ny\n"
    assert len(list(tmp_path.iterdir())) == 2


def test_overwriting_replaces_the_content(tmp_path: Path) -> None:
    """The old content is gone, whole, and the file's permissions stay."""
    old = tmp_path / "a.json"
    old.write_text("a much longer old content")
    old.chmod(0o640)
    write_outputs({str(old): b"new"}, overwrite=True)
    assert old.read_bytes() == b"new"
    if sys.platform != "win32":
        assert old.stat().st_mode & 0o777 == 0o640


@pytest.mark.skipif(sys.platform == "win32", reason="links need a privilege there")
def test_overwriting_through_a_link_keeps_the_link(tmp_path: Path) -> None:
    """The file that a link names is replaced, not the link."""
    real, link = tmp_path / "real.json", tmp_path / "link.json"
    real.write_text("old")
    link.symlink_to(real)
    write_outputs({str(link): b"new"}, overwrite=True)
    assert link.is_symlink()
    assert real.read_bytes() == b"new"


def test_a_file_that_appeared_meanwhile_is_kept(tmp_path: Path) -> None:
    """The check comes before computing; a file made since is not replaced either."""
    late = tmp_path / "late.csv"
    late.write_text("someone else's")
    with pytest.raises(RefusedOutput, match="exists and is kept"):
        write_outputs({str(tmp_path / "a.json"): b"{}", str(late): b"ours"})
    assert late.read_text() == "someone else's"
    assert [one.name for one in tmp_path.iterdir()] == ["late.csv"]


def test_a_full_disk_leaves_nothing_behind(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """If the second content cannot be stored, the first file is not there either."""
    synced: list[int] = []

    def full(descriptor: int) -> None:
        synced.append(descriptor)
        if len(synced) == 2:
            raise OSError(28, "No space left on device")

    monkeypatch.setattr(os, "fsync", full)
    old = tmp_path / "old.json"
    old.write_text("old")
    with pytest.raises(RefusedOutput, match="No space left on device") as refused:
        write_outputs({str(old): b"new", str(tmp_path / "b.csv"): b"x"}, overwrite=True)
    assert repr(str(old)) in str(refused.value)
    assert old.read_text() == "old"
    assert [one.name for one in tmp_path.iterdir()] == ["old.json"]


def test_a_failed_rename_takes_new_files_away(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """If the second rename fails, the first new file does not stay alone."""
    replace = Path.replace

    def fail_on_csv(self: Path, target: Path) -> Path:
        if target.suffix == ".csv":
            raise PermissionError(13, "Permission denied")
        return replace(self, target)

    monkeypatch.setattr(Path, "replace", fail_on_csv)
    with pytest.raises(RefusedOutput, match="Permission denied"):
        write_outputs({str(tmp_path / "a.json"): b"{}", str(tmp_path / "b.csv"): b"x"})
    assert list(tmp_path.iterdir()) == []

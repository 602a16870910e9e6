"""Routes in KMZ archives, and archives made to do harm."""

from __future__ import annotations

import io
import struct
import warnings
import zipfile
from typing import TYPE_CHECKING

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from terrain_guard.errors import RefusedRoute
from terrain_guard.plan.route_files import read_route
from tests.plan.foreign import OGC_KML, PLACES, kml, kmz, line, one_refusal, places, read
from tests.plan.samples import write

if TYPE_CHECKING:
    from pathlib import Path

ROUTE = kml(line(mode="relativeToGround"))


@pytest.mark.parametrize(
    "files",
    [
        {"doc.kml": ROUTE},
        {"route.KML": ROUTE, "pictures/a.png": b"\x89PNG"},
        {"other.kml": kml(), "doc.kml": ROUTE},
    ],
)
def test_the_main_document_is_read(tmp_path: Path, files: dict[str, str]) -> None:
    """doc.kml, or else the only one (common practice, no source)."""
    assert places(read(tmp_path, "a.kmz", kmz(files))) == PLACES


def test_links_inside_the_archive_are_followed(tmp_path: Path) -> None:
    """A main document may hold nothing but links to layers; one to elsewhere is not followed."""
    link = "<NetworkLink><Link><href>{}</href></Link></NetworkLink>"
    links = "".join(map(link.format, ("layers/b.kml", "layers/b.kml", "https://a.invalid/c.kml")))
    files = {
        "doc.kml": f'<kml xmlns="{OGC_KML}"><Document>{links}</Document></kml>',
        "layers/a.kml": kml(line(mode="absolute")),
        "layers/b.kml": ROUTE,
    }
    route = read(tmp_path, "a.kmz", kmz(files))
    assert places(route) == PLACES
    assert route.unused == ("NetworkLink elements",)
    del files["layers/b.kml"]
    assert "links are not followed" in one_refusal(tmp_path, "a.kmz", kmz(files))


def test_the_content_tells_that_it_is_an_archive(tmp_path: Path) -> None:
    """Whatever the file is called."""
    assert places(read(tmp_path, "a.kml", kmz({"doc.kml": ROUTE}))) == PLACES


@pytest.mark.parametrize(
    "name",
    [
        "../doc.kml", "layers/../../a.png", "/etc/a.png", "C:\\a.png", "..\\a.png", "\\a.png",
        "C:a.png",
    ],
)  # fmt: skip
def test_names_that_lead_out_are_refused(tmp_path: Path, name: str) -> None:
    """Path traversal: nothing is unpacked to disk, and such an archive is not trusted at all."""
    harmless = "a" * len(name)
    content = kmz({"doc.kml": ROUTE, harmless: b""}).replace(harmless.encode(), name.encode())
    sentence = one_refusal(tmp_path, "a.kmz", content)
    assert "would be unpacked elsewhere; do not trust it" in sentence
    assert [path.name for path in tmp_path.iterdir()] == ["a.kmz"]


def test_a_bomb_is_not_unpacked(tmp_path: Path) -> None:
    """A hundred megabytes in a hundred kilobytes: no more is unpacked than is allowed."""
    content = kmz({"doc.kml": b"<kml>" + b" " * 100_000_000})
    assert len(content) < 200_000
    assert "its KML unpacks to more than 20 MB" in one_refusal(tmp_path, "a.kmz", content)


def test_a_bomb_in_many_pieces_is_not_unpacked(tmp_path: Path) -> None:
    """The bound is that of all documents together."""
    names = [f"{number}.kml" for number in range(50)]
    links = "".join(
        f"<NetworkLink><Link><href>{name}</href></Link></NetworkLink>" for name in names
    )
    files: dict[str, str | bytes] = {"doc.kml": f"<kml>{links}</kml>"}
    files |= dict.fromkeys(names[:5], b"<kml>" + b" " * 5000000 + b"</kml>")
    files |= dict.fromkeys(names[5:], b"<kml/>")
    assert "unpacks to more than 20 MB" in one_refusal(tmp_path, "a.kmz", kmz(files))


def test_a_size_that_lies_is_seen_through(tmp_path: Path) -> None:
    """An archive may claim that a file is small: what is unpacked is counted, and its sum off."""
    content = bytearray(kmz({"doc.kml": b"<kml>" + b" " * 100_000_000}))
    entry = content.index(b"PK\x01\x02")
    content[entry + 24 : entry + 28] = struct.pack("<I", 100)  # APPNOTE.TXT, 4.3.12
    sentence = one_refusal(tmp_path, "a.kmz", bytes(content))
    assert sentence.startswith("a.kmz: cannot be read as KMZ, because ")


def test_too_many_files_are_refused(tmp_path: Path) -> None:
    """Before the archive's directory is read."""
    files: dict[str, str | bytes] = {f"{number}.png": b"" for number in range(1001)}
    assert "more than 1000 files" in one_refusal(
        tmp_path, "a.kmz", kmz({"doc.kml": ROUTE, **files})
    )


@pytest.mark.parametrize("share", [0.1, 0.5, 0.9, 0.99])
def test_a_truncated_archive_is_refused(tmp_path: Path, share: float) -> None:
    """A download that broke off."""
    content = kmz({"doc.kml": ROUTE})
    sentence = one_refusal(tmp_path, "a.kmz", content[: int(len(content) * share)])
    assert "it is no whole ZIP archive" in sentence


@pytest.mark.parametrize(
    ("content", "words"),
    [
        (b"", "it is no whole ZIP archive"),
        (b"junk", "it is no whole ZIP archive"),
        (kmz({}), "it holds 0 KML files"),
        (kmz({"a.kml": ROUTE, "b.kml": ROUTE}), "it holds 2 KML files, and none of them is doc"),
        (kmz({"doc.kml": b"\xff"}), "a.kmz/doc.kml: cannot be read as XML"),
        (kmz({"doc.kml": "<!DOCTYPE kml><kml/>"}), "it declares a document type"),
        (kmz({"doc.kml": kml()}), "route: missing"),
    ],
)
def test_what_holds_no_route_is_refused(tmp_path: Path, content: bytes, words: str) -> None:
    """Each in one sentence."""
    assert words in one_refusal(tmp_path, "a.kmz", content)


def test_other_packings_are_refused(tmp_path: Path) -> None:
    """Only stored and deflated files can be unpacked a piece at a time."""
    stream = io.BytesIO()
    with zipfile.ZipFile(stream, "w", zipfile.ZIP_BZIP2) as archive:
        archive.writestr("doc.kml", ROUTE)
    assert "packed in a way that KMZ has not" in one_refusal(tmp_path, "a.kmz", stream.getvalue())


def test_encrypted_files_are_refused(tmp_path: Path) -> None:
    """Bit 0 of the flags (APPNOTE.TXT, 4.4.4)."""
    content = bytearray(kmz({"doc.kml": ROUTE}))
    for mark, offset in ((b"PK\x03\x04", 6), (b"PK\x01\x02", 8)):
        content[content.index(mark) + offset] |= 1
    assert "is encrypted" in one_refusal(tmp_path, "a.kmz", bytes(content))


@settings(deadline=None, max_examples=150)
@given(st.data())
def test_a_damaged_archive_is_read_or_refused(
    tmp_path_factory: pytest.TempPathFactory, data: st.DataObject
) -> None:
    """Any byte may be another: a route, or sentences, never another error."""
    content = bytearray(kmz({"doc.kml": ROUTE, "a.png": b"x"}))
    for _ in range(data.draw(st.integers(1, 4))):
        content[data.draw(st.integers(0, len(content) - 1))] = data.draw(st.integers(0, 255))
    path = write(tmp_path_factory.getbasetemp(), bytes(content), "damaged.kmz")
    faults: tuple[str, ...] = ()
    try:
        with warnings.catch_warnings():
            read_route(path, launch="first")
    except RefusedRoute as refused:
        faults = refused.faults or ("no fault told",)
    assert all(sentence.endswith(".") and "\n" not in sentence for sentence in faults)

"""XML made to do harm: refused in one sentence, before it does."""

from __future__ import annotations

from typing import TYPE_CHECKING

import pytest

from terrain_guard.plan.xml_file import LONGEST_PIECE_BYTES, MOST_DEEP, MOST_ELEMENTS, read_xml
from tests.plan.foreign import GPX_1_1, OGC_KML, PLACES, kml, line, one_refusal, places, read

if TYPE_CHECKING:
    from pathlib import Path

ENTITIES = "".join(f'<!ENTITY a{n} "{f"&a{n - 1};" * 10}">' for n in range(1, 10))
BILLION = f'<!DOCTYPE kml [<!ENTITY a0 "ha">{ENTITIES}]>'
EXTERNAL = '<!DOCTYPE kml [<!ENTITY a9 SYSTEM "secret.txt">]>'
REMOTE = '<!DOCTYPE kml SYSTEM "https://a.invalid/a.dtd">'


@pytest.mark.parametrize("doctype", [BILLION, EXTERNAL, REMOTE], ids=["billion", "file", "remote"])
@pytest.mark.parametrize("root", [f'kml xmlns="{OGC_KML}"', f'gpx version="1.1" xmlns="{GPX_1_1}"'])
def test_document_types_are_refused(tmp_path: Path, doctype: str, root: str) -> None:
    """A billion laughs, an entity that reads a file, a definition that is fetched."""
    (tmp_path / "secret.txt").write_text("secret")
    use = "&a9;" if "a9" in doctype else ""
    content = f'<?xml version="1.0"?>{doctype}<{root}><name>{use}</name></{root[:3]}>'
    sentence = one_refusal(tmp_path, "a.kml", content, heights="launch")
    assert "it declares a document type" in sentence
    assert "save it without the DOCTYPE" in sentence
    assert "secret" not in sentence


@pytest.mark.parametrize(
    ("data", "words"),
    [
        (b"<kml>" * (MOST_DEEP + 1), f"nested more than {MOST_DEEP} deep"),
        (b"<kml>" * 1_000_000, f"nested more than {MOST_DEEP} deep"),
        (b"<kml>" + b"<x/>" * MOST_ELEMENTS + b"</kml>", f"more than {MOST_ELEMENTS} elements"),
        (b"<kml a='" + b"x" * 3 * LONGEST_PIECE_BYTES + b"'/>", "a tag or comment of more than"),
        (b"<kml><!--" + b"x" * 3 * LONGEST_PIECE_BYTES + b"--></kml>", "a tag or comment of"),
        (b"<kml>caf\xe9</kml>", "it is not well-formed XML"),
        (b"<kml", "it is not well-formed XML"),
        (b"<kml></gpx>", "it is not well-formed XML"),
        (b"<kml/><kml/>", "it is not well-formed XML"),
        (b'<?xml version="1.0" encoding="EUC-KR"?><kml/>', "it is not well-formed XML"),
        (b'<?xml version="1.0" encoding="none-such"?><kml/>', "it is not well-formed XML"),
        (b"<kml>\x00</kml>", "it is not well-formed XML"),
        (b"", "it is not well-formed XML"),
    ],
    ids=[
        "deep", "deepest", "many", "tag", "comment", "latin-1", "cut", "crossed", "two",
        "multi-byte", "unknown", "zero", "empty",
    ],
)  # fmt: skip
def test_what_is_no_xml_is_refused(tmp_path: Path, data: bytes, words: str) -> None:
    """Each in one sentence, with a remedy."""
    sentence = one_refusal(tmp_path, "a.kml", data)
    assert sentence.startswith("a.kml: cannot be read as XML, because ")
    assert words in sentence


def test_as_deep_as_allowed_is_read(tmp_path: Path) -> None:
    """The bounds do not bite below themselves."""
    inside = kml(line(mode="relativeToGround")).partition("<Placemark>")[2].partition("</Place")[0]
    depth = MOST_DEEP - 4  # kml, Placemark, LineString and coordinates are the rest
    folders = "<Folder>" * depth + f"<Placemark>{inside}</Placemark>" + "</Folder>" * depth
    content = f'<kml xmlns="{OGC_KML}">{folders}</kml>'
    assert places(read(tmp_path, "a.kml", content)) == PLACES


def test_long_text_in_pieces_is_read() -> None:
    """Text is no single piece, however long; comments inside it leave no hole."""
    text = b"1,2 " * 500_000
    root = read_xml(b"<kml><name>" + text + b"<!-- x -->3</name></kml>", file="a", keep=KEEP)
    assert root.text_of("name") == text.decode() + "3"


KEEP = frozenset({"name"})


def test_only_what_is_asked_for_is_kept() -> None:
    """Nothing below what is not kept, and nothing of other namespaces."""
    data = b'<a xmlns:o="urn:o"><b><name>1</name></b><o:name>2</o:name><name>3</name></a>'
    root = read_xml(data, file="a", keep=KEEP)
    assert [child.text for child in root.children] == ["3"]
    both = read_xml(data, file="a", keep=KEEP, also_from=frozenset({"urn:o"}))
    assert [child.text for child in both.children] == ["2", "3"]


def test_text_around_other_elements_is_whole() -> None:
    """Coordinates with a foreign element among them do not lose those before it."""
    root = read_xml(b"<a><name>1,2 <x>9</x> 3,4</name></a>", file="a", keep=KEEP)
    assert root.text_of("name") == "1,2  3,4"

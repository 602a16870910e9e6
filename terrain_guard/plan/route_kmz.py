"""A route in a KMZ archive: a ZIP file (stored or deflated) that holds KML.

Nothing is unpacked to disk. The archive is looked at before anything in it is:
how many files, what they are called, how large they claim to be; and whatever
they claim, no more is unpacked than is allowed.
"""

from __future__ import annotations

import io
import zipfile
import zlib
from typing import TYPE_CHECKING, Final

from terrain_guard.errors import RefusedRoute
from terrain_guard.plan import route_kml
from terrain_guard.plan.reading import shown
from terrain_guard.plan.xml_file import read_xml

if TYPE_CHECKING:
    from terrain_guard.plan.draft import Draft, RawFile
    from terrain_guard.plan.told import Told
    from terrain_guard.plan.xml_file import Node

MOST_FILES: Final = 1000
MOST_UNPACKED_BYTES: Final = 20_000_000
"""Of all KML in the archive together."""
_LISTED: Final = b"PK\x01\x02"
"""Begins the entry of each file in the archive's directory (APPNOTE.TXT, 4.3.12)."""
_ENCRYPTED: Final = 1
_READ: Final = (zipfile.ZIP_STORED, zipfile.ZIP_DEFLATED)


def draft_of(raw: RawFile, told: Told) -> Draft:
    """Return what a KMZ file says, with what is told apart from it.

    The main document is `doc.kml`, or else the only KML file. Where it links to others in
    the archive, these are read in its stead and in the order of the links.

    Raises
    ------
    RefusedRoute
        The archive is damaged, too large, or holds names that lead out of it; or as for KML.
    """
    try:
        with _opened(raw) as archive:
            documents, followed = _documents(archive, raw.file)
    except RefusedRoute:  # also a ValueError
        raise
    except (zipfile.BadZipFile, zlib.error, EOFError, NotImplementedError, ValueError) as error:
        rule = f"it is no whole ZIP archive ({error})"
        raise RefusedRoute(_sentence(raw.file, rule, "fetch or save it once more")) from error
    return route_kml.draft_of_documents(
        documents, raw=raw, format_="kmz", followed=followed, told=told
    )


def _opened(raw: RawFile) -> zipfile.ZipFile:
    """Open the archive, unless it holds more files than any route needs."""
    if raw.data.count(_LISTED) > MOST_FILES:
        rule = f"it holds more than {MOST_FILES} files"
        raise RefusedRoute(_sentence(raw.file, rule, "save only the route, as KML"))
    return zipfile.ZipFile(io.BytesIO(raw.data))


def _documents(archive: zipfile.ZipFile, file: str) -> tuple[list[Node], list[str]]:
    """Return the roots of the main document and of those it links to, and these links."""
    _refuse_ways_out(archive, file)
    names = [name for name in archive.namelist() if name.lower().endswith(".kml")]
    main = "doc.kml" if "doc.kml" in names else names[0] if len(names) == 1 else None
    if main is None:
        rule = f"it holds {len(names)} KML files, and none of them is doc.kml"
        raise RefusedRoute(_sentence(file, rule, "unpack it, and give the KML file of the route"))
    data = _unpacked(archive, main, most_bytes=MOST_UNPACKED_BYTES, file=file)
    documents, left = [_read(data, f"{file}/{main}")], MOST_UNPACKED_BYTES - len(data)
    links = dict.fromkeys(route_kml.links_of(documents[0]))
    followed = [link for link in links if link in names and link != main]
    for link in followed:
        data = _unpacked(archive, link, most_bytes=left, file=file)
        documents.append(_read(data, f"{file}/{link}"))
        left -= len(data)
    return documents, followed


def _read(data: bytes, file: str) -> Node:
    return read_xml(data, file=file, keep=route_kml.KEPT, also_from=route_kml.EXTENSIONS)


def _refuse_ways_out(archive: zipfile.ZipFile, file: str) -> None:
    """Refuse names that would lead out of the folder it is unpacked to."""
    for name in archive.namelist():
        parts = name.replace("\\", "/").split("/")
        if ".." in parts or parts[0] == "" or ":" in parts[0]:
            rule = f"the file {shown(name)} in it would be unpacked elsewhere"
            raise RefusedRoute(_sentence(file, rule, "do not trust it; ask who made it"))


def _unpacked(archive: zipfile.ZipFile, name: str, *, most_bytes: int, file: str) -> bytes:
    """Unpack one file in memory, whatever size it claims."""
    entry = archive.getinfo(name)
    if entry.flag_bits & _ENCRYPTED or entry.compress_type not in _READ:
        rule = f"the file {shown(name)} in it is encrypted, or packed in a way that KMZ has not"
        raise RefusedRoute(_sentence(file, rule, "unpack it, and give the KML file of the route"))
    with archive.open(entry) as stream:
        data = stream.read(most_bytes + 1)
    if len(data) > most_bytes:
        rule = f"its KML unpacks to more than {MOST_UNPACKED_BYTES / 1e6:g} MB"
        raise RefusedRoute(_sentence(file, rule, "save only the route"))
    return data


def _sentence(file: str, rule: str, remedy: str) -> str:
    return f"{file}: cannot be read as KMZ, because {rule}; {remedy}."

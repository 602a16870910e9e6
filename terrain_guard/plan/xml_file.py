"""XML read within bounds: no document types, no entities, so deep, so many elements.

Only the elements that a reader names are kept, and nothing below any other, so
that what a file brings along (styles, extensions, views) costs no memory.
"""

from __future__ import annotations

from dataclasses import dataclass, field
from typing import TYPE_CHECKING, Final
from xml.etree.ElementTree import ParseError

from terrain_guard.errors import RefusedRoute

if TYPE_CHECKING:
    from collections.abc import Iterator, Mapping

MOST_DEEP: Final = 64
MOST_ELEMENTS: Final = 300_000
LONGEST_PIECE_BYTES: Final = 1_000_000
"""Of a single tag or comment."""
_CHUNK_BYTES: Final = 65_536


@dataclass(slots=True)
class Node:
    """An element: its local name, attributes and text, and the children that were kept."""

    name: str
    attributes: Mapping[str, str]
    text: str = ""
    children: list[Node] = field(default_factory=list)

    def each(self, name: str) -> Iterator[Node]:
        """Return the children of that name."""
        return (child for child in self.children if child.name == name)

    def text_of(self, name: str) -> str:
        """Return the text of the first child of that name, stripped; empty if there is none."""
        return next((child.text.strip() for child in self.each(name)), "")


def read_xml(
    data: bytes, *, file: str, keep: frozenset[str], also_from: frozenset[str] = frozenset()
) -> Node:
    """Read an XML file.

    Parameters
    ----------
    data : bytes
        The file.
    file : str
        Its name, for messages.
    keep : frozenset of str
        Local names of the elements to keep, if their parents are kept too.
    also_from : frozenset of str
        Namespaces to keep elements from, beside that of the root.

    Returns
    -------
    Node
        The root, kept whatever its name; its attribute `xmlns` holds its namespace.

    Raises
    ------
    RefusedRoute
        It is no well-formed XML, has a document type, is nested deeper than `MOST_DEEP`, has
        more than `MOST_ELEMENTS` elements, or one of more than `LONGEST_PIECE_BYTES`.
    """
    from defusedxml import DefusedXmlException
    from defusedxml.ElementTree import DefusedXMLParser

    builder = _Builder(keep, also_from)
    parser = DefusedXMLParser(target=builder, forbid_dtd=True)
    try:
        for start in range(0, len(data), _CHUNK_BYTES):
            parser.feed(data[start : start + _CHUNK_BYTES])
            builder.refuse_long_piece(start)
        return parser.close()
    except DefusedXmlException as error:
        rule = "it declares a document type, which can grow without end or read other files"
        raise RefusedRoute(_sentence(file, rule, "save it without the DOCTYPE")) from error
    except _TooMuchError as error:
        remedy = "save only the route from the program that wrote it"
        raise RefusedRoute(_sentence(file, str(error), remedy)) from error
    except (ParseError, ValueError, LookupError) as error:  # the latter two: odd encodings
        rule = f"it is not well-formed XML ({error})"
        remedy = "save it once more, in UTF-8, from the program that wrote it"
        raise RefusedRoute(_sentence(file, rule, remedy)) from error


def _sentence(file: str, rule: str, remedy: str) -> str:
    return f"{file}: cannot be read as XML, because {rule}; {remedy}."


class _TooMuchError(Exception):
    """A bound is passed; the message says which."""


class _Builder:
    """Takes what the parser finds, piece by piece, and keeps what is wanted."""

    def __init__(self, keep: frozenset[str], also_from: frozenset[str]) -> None:
        self.keep, self.spaces = keep, set(also_from)
        self.root: Node | None = None
        self.open: list[Node | None] = []  # None: not kept, nor what is below
        self.texts: list[list[str]] = []  # of each open element, its own
        self.elements = 0
        self.pieces = self.pieces_seen = self.seen_at = 0

    def start(self, tag: str, attributes: Mapping[str, str]) -> None:
        """Take the start of an element, and keep it if it is wanted where it stands."""
        self.elements += 1
        self.pieces += 1
        if self.elements > MOST_ELEMENTS:
            message = f"it has more than {MOST_ELEMENTS} elements"
            raise _TooMuchError(message)
        if len(self.open) == MOST_DEEP:
            message = f"its elements are nested more than {MOST_DEEP} deep"
            raise _TooMuchError(message)
        space, _, name = tag.rpartition("}")
        self.open.append(self._kept(space.removeprefix("{"), name, attributes))
        self.texts.append([])

    def _kept(self, space: str, name: str, attributes: Mapping[str, str]) -> Node | None:
        if self.root is None:
            self.root = Node(name, {**attributes, "xmlns": space})
            self.spaces.add(space)
            return self.root
        parent = self.open[-1]
        if parent is None or name not in self.keep or space not in self.spaces:
            return None
        node = Node(name, dict(attributes))
        parent.children.append(node)
        return node

    def refuse_long_piece(self, at: int) -> None:
        """Raise if nothing was taken for long: what is still open is read whole into memory."""
        if self.pieces > self.pieces_seen:
            self.pieces_seen, self.seen_at = self.pieces, at
        elif at - self.seen_at > LONGEST_PIECE_BYTES:
            message = f"it has a tag or comment of more than {LONGEST_PIECE_BYTES / 1e6:g} MB"
            raise _TooMuchError(message)

    def comment(self, text: str) -> None:
        """Take a comment, and leave it out."""
        del text
        self.pieces += 1

    def data(self, text: str) -> None:
        """Take a piece of text."""
        self.pieces += 1
        if self.open and self.open[-1] is not None:
            self.texts[-1].append(text)

    def end(self, tag: str) -> None:
        """Take the end of an element; only those without children keep their text."""
        del tag
        self.pieces += 1
        node, texts = self.open.pop(), self.texts.pop()
        if node is not None and not node.children:
            node.text = "".join(texts)

    def close(self) -> Node:
        """Return the root."""
        return self.root or Node("", {})

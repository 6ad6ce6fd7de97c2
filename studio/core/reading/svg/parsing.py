"""Bytes to an element tree that cannot hurt: no entities, nothing external, all bounded."""

from __future__ import annotations

import zlib
from typing import Any
from xml.etree.ElementTree import Element, ParseError

from defusedxml.common import DefusedXmlException
from defusedxml.ElementTree import DefusedXMLParser

from ..bounds import MAX_BYTES, MAX_DEPTH, Budget
from ..errors import PatternError

SVG = "{http://www.w3.org/2000/svg}"
_GZIP = b"\x1f\x8b"
_PLAIN = "Save the file as plain SVG and try again."


class Tree:
    """The root element and the line on which each element starts."""

    def __init__(self, root: Element, lines: dict[Element, int]) -> None:
        self.root = root
        self.lines = lines


def parse(data: bytes, budget: Budget) -> Tree:
    """Raises `PatternError` for anything that is not a bounded, well-formed SVG file."""
    data = _unpacked(data)
    builder = _Builder(budget)
    parser = DefusedXMLParser(
        target=builder, forbid_dtd=False, forbid_entities=True, forbid_external=True
    )
    builder.parser = parser.parser
    # A default attribute in a DTD would be copied onto every element of its name.
    parser.parser.AttlistDeclHandler = _refuse_declaration
    try:
        parser.feed(data)
        parser.close()
    except DefusedXmlException as refused:
        raise PatternError(
            "xml-entities",
            "This file defines its own abbreviations (entities) or points to other files.",
            _PLAIN,
        ) from refused
    except ParseError as broken:
        line, column = broken.position
        raise PatternError(
            "not-xml",
            "This is not a complete SVG file: its text breaks off or is mixed up.",
            "Save it again as plain SVG from your drawing program.",
            f"line {line}, character {column + 1}",
        ) from broken
    except (ValueError, LookupError, RecursionError) as broken:  # odd encodings
        raise PatternError("not-xml", "The text of this file cannot be read.", _PLAIN) from broken
    root = builder.root
    if root is None or local_name(root) != "svg":
        raise PatternError(
            "not-svg",
            "This file is XML, but not an SVG drawing.",
            "Export the drawing as SVG.",
        )
    return Tree(root, builder.lines)


def local_name(element: Element) -> str:
    """The tag without SVG's namespace; empty for elements of other namespaces."""
    tag = element.tag
    if not isinstance(tag, str):
        return ""
    if tag.startswith(SVG):
        return tag[len(SVG) :]
    return "" if tag.startswith("{") else tag


def _unpacked(data: bytes) -> bytes:
    if len(data) > MAX_BYTES:
        raise _too_large()
    if not data.startswith(_GZIP):
        return data
    unpacker = zlib.decompressobj(wbits=31)
    try:
        text = unpacker.decompress(data, MAX_BYTES + 1)
    except zlib.error as broken:
        raise PatternError(
            "not-gzip", "This compressed file is damaged.", "Save it again as plain SVG."
        ) from broken
    if len(text) > MAX_BYTES:
        raise _too_large()
    if not unpacker.eof:
        raise PatternError(
            "not-gzip", "This compressed file breaks off.", "Save it again as plain SVG."
        )
    return text


def _too_large() -> PatternError:
    return PatternError(
        "file-large",
        f"This file is larger than {MAX_BYTES // 1_000_000} MB.",
        "Remove pictures and unused layers, simplify the paths, and save again.",
    )


def _refuse_declaration(*_: object) -> None:
    raise PatternError(
        "xml-entities", "This file declares its own attributes in its heading.", _PLAIN
    )


class _Builder:
    """Builds the tree while counting elements and depth, and remembers line numbers."""

    def __init__(self, budget: Budget) -> None:
        self.budget = budget
        self.parser: Any = None
        self.root: Element | None = None
        self.open: list[Element] = []
        self.lines: dict[Element, int] = {}

    def start(self, tag: str, attributes: dict[str, str]) -> None:
        self.budget.spend_element()
        if len(self.open) >= MAX_DEPTH:
            raise PatternError(
                "too-deep",
                f"This drawing has groups inside groups, more than {MAX_DEPTH} deep.",
                "Ungroup the drawing and save again.",
            )
        element = Element(tag, attributes)
        self.lines[element] = self.parser.CurrentLineNumber
        if self.open:
            self.open[-1].append(element)
        else:
            self.root = element
        self.open.append(element)

    def end(self, tag: str) -> None:
        self.open.pop()

    def data(self, text: str) -> None:
        # Only style sheets have text that matters.
        if self.open and local_name(self.open[-1]) == "style":
            self.open[-1].text = (self.open[-1].text or "") + text

    def close(self) -> None:
        return None

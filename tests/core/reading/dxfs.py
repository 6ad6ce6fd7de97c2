"""DXF files for the tests: written by ezdxf, or by hand where it would not write such a thing."""

from __future__ import annotations

import io
from collections.abc import Iterable
from typing import Any

import ezdxf

from studio.core.reading import Tracing, read_pattern


def fresh(units: int = 4, version: str = "R2010") -> tuple[Any, Any]:
    """A document and its model space."""
    document = ezdxf.new(version)
    document.units = units
    return document, document.modelspace()


def bytes_of(document: Any) -> bytes:
    stream = io.StringIO()
    document.write(stream)
    return stream.getvalue().encode()


def traced(document: Any, **options: Any) -> Tracing:
    return read_pattern(bytes_of(document), filename="drawn.dxf", **options)


def by_hand(
    entities: Iterable[object], *, blocks: Iterable[object] = (), head: object = ()
) -> bytes:
    """A file of sections whose groups are given as code, value, code, value, ..."""
    text: list[object] = []
    if head:
        text += [0, "SECTION", 2, "HEADER", *head, 0, "ENDSEC"]  # type: ignore[misc]
    text += [0, "SECTION", 2, "BLOCKS", *blocks, 0, "ENDSEC"]
    text += [0, "SECTION", 2, "ENTITIES", *entities, 0, "ENDSEC", 0, "EOF"]
    return "\n".join(map(str, text)).encode()


def square(side: float = 20.0, layer: str = "0") -> list[object]:
    corners = [(0, 0), (side, 0), (side, side), (0, side)]
    points = [value for x, y in corners for value in (10, x, 20, y)]
    return [0, "LWPOLYLINE", 8, layer, 90, 4, 70, 1, *points]

"""Reads lengths back out of a PDF: its painting operators, carried through every matrix.

Operators by ISO 32000-1 (tables 57 and 59): q Q cm, m l c v y h re, and Do for forms.
"""

from __future__ import annotations

import io
from dataclasses import dataclass, field
from typing import Any

import numpy as np
from pypdf import PageObject, PdfReader
from pypdf.generic import ContentStream, StreamObject

MM_PER_PT = 25.4 / 72
BAR_PT = 283.4646  # 100 mm


@dataclass
class Path:
    """One painted subpath: its points in millimetres from the page's lower left."""

    points: list[tuple[float, float]] = field(default_factory=list)

    @property
    def box(self) -> tuple[float, float, float, float]:
        xs, ys = zip(*self.points, strict=True)
        return min(xs), min(ys), max(xs), max(ys)

    @property
    def size(self) -> tuple[float, float]:
        x0, y0, x1, y1 = self.box
        return x1 - x0, y1 - y0


def open_pdf(content: bytes) -> PdfReader:
    return PdfReader(io.BytesIO(content))


def page_size_mm(page: PageObject) -> tuple[float, float]:
    return float(page.mediabox.width) * MM_PER_PT, float(page.mediabox.height) * MM_PER_PT


def paths_of(page: PageObject, reader: PdfReader) -> list[Path]:
    """Every subpath that the page paints, clipping paths included."""
    found: list[Path] = []
    stream = page.get_contents()
    assert stream is not None
    _read(ContentStream(stream, reader), page["/Resources"], np.eye(3), reader, found)
    return found


def _read(
    stream: ContentStream, resources: Any, ctm: Any, reader: PdfReader, found: list[Path]
) -> None:
    kept: list[Any] = []
    current = Path()

    def at(x: Any, y: Any) -> tuple[float, float]:
        px, py, _ = np.array([float(x), float(y), 1.0]) @ ctm
        return px * MM_PER_PT, py * MM_PER_PT

    for operands, operator in stream.operations:
        match operator:
            case b"q":
                kept.append(ctm)
            case b"Q":
                ctm = kept.pop()
            case b"cm":
                a, b, c, d, e, f = (float(value) for value in operands)
                ctm = np.array([[a, b, 0], [c, d, 0], [e, f, 1]]) @ ctm
            case b"m":
                current = Path([at(*operands)])
                found.append(current)
            case b"l":
                current.points.append(at(*operands))
            case b"c":
                current.points.append(at(*operands[4:]))
            case b"v" | b"y":
                current.points.append(at(*operands[2:]))
            case b"h":
                if current.points:
                    current.points.append(current.points[0])
            case b"re":
                x, y, w, h = (float(value) for value in operands)
                corners = [(x, y), (x + w, y), (x + w, y + h), (x, y + h), (x, y)]
                current = Path([at(*corner) for corner in corners])
                found.append(current)
            case b"Do":
                form = resources["/XObject"][operands[0]]
                if isinstance(form, StreamObject) and form.get("/Subtype") == "/Form":
                    matrix = [float(value) for value in form.get("/Matrix", [1, 0, 0, 1, 0, 0])]
                    a, b, c, d, e, f = matrix
                    inner = np.array([[a, b, 0], [c, d, 0], [e, f, 1]]) @ ctm
                    own = form.get("/Resources", resources)
                    _read(ContentStream(form, reader), own, inner, reader, found)


def straight(paths: list[Path], length_mm: float, *, upright: bool, by: float = 0.02) -> list[Path]:
    """Straight lines of two points with this length, across or up the page."""
    along, beside = (1, 0) if upright else (0, 1)
    return [
        path
        for path in paths
        if len(path.points) == 2
        and abs(path.size[along] - length_mm) < by
        and path.size[beside] < 0.001
    ]


def of_size(paths: list[Path], width: float, height: float, by: float = 0.02) -> list[Path]:
    """Closed subpaths that are so wide and high."""
    return [
        path
        for path in paths
        if len(path.points) > 3
        and abs(path.size[0] - width) < by
        and abs(path.size[1] - height) < by
    ]

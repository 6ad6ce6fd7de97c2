"""Small helpers: SVG text around a body, and the tracing or assembly of it."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

from studio.core.reading import Assembly, Tracing, assemble, read_pattern

NS = 'xmlns="http://www.w3.org/2000/svg" xmlns:xlink="http://www.w3.org/1999/xlink"'


def svg(body: str, *, width: str = "100mm", height: str = "100mm", box: str = "0 0 100 100") -> str:
    """A 100 mm page with one user unit to the millimetre unless told otherwise."""
    size = "".join(
        f' {name}="{value}"'
        for name, value in (("width", width), ("height", height), ("viewBox", box))
        if value
    )
    return f"<svg {NS}{size}>{body}</svg>"


def inked(body: str) -> str:
    return f'<g fill="none" stroke="black">{body}</g>'


def trace(body: str, **page: str) -> Tracing:
    return read_pattern(svg(inked(body), **page).encode())


def read(body: str, relabels: Mapping[str, str] | None = None, **page: str) -> Assembly:
    return assemble(trace(body, **page), relabels)


def codes(found: Any) -> list[str]:
    return [finding.code for finding in found]

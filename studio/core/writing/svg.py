"""A sheet as SVG in true millimetres: one user unit is one millimetre, y turned downwards."""

from __future__ import annotations

from xml.sax.saxutils import escape

from .sheet import Circle, Path, Sheet

MARGIN_MM = 5.0
_STROKES = {
    "stock-pieces": "#8a8a8a",
    "offcut-outlines": "#5c8a5c",
    "saw-lines": "#b0562a",
    "surface-lines": "#3465a4",
}


def to_svg(sheet: Sheet) -> bytes:
    """UTF-8 text. Every shape has an id such as "windows-3", every layer is a named group."""
    x0, y0, x1, y1 = sheet.bounds_mm
    left, top = x0 - MARGIN_MM, -y1 - MARGIN_MM
    width, height = x1 - x0 + 2 * MARGIN_MM, y1 - y0 + 2 * MARGIN_MM
    size = f'width="{_num(width)}mm" height="{_num(height)}mm"'
    box = " ".join(map(_num, (left, top, width, height)))
    text = [
        '<?xml version="1.0" encoding="UTF-8"?>',
        f'<svg xmlns="http://www.w3.org/2000/svg" {size} viewBox="{box}">',
        f"<title>{escape(_printable(sheet.title))}</title>",
    ]
    for name, shapes in sheet.filled:
        stroke = _STROKES.get(name, "#000000")
        text.append(f'<g id="{name}" fill="none" stroke="{stroke}" stroke-width="0.1">')
        text += [_shape(shape, f"{name}-{n}") for n, shape in enumerate(shapes, start=1)]
        text.append("</g>")
    text.append("</svg>\n")
    return "\n".join(text).encode()


def _shape(shape: Path | Circle, name: str) -> str:
    if isinstance(shape, Circle):
        x, y, radius = map(_num, (shape.x_mm, -shape.y_mm, shape.diameter_mm / 2))
        return f'<circle id="{name}" cx="{x}" cy="{y}" r="{radius}"/>'
    run = "L".join(f"{_num(x)} {_num(-y)}" for x, y in shape.points)
    return f'<path id="{name}" d="M{run}{"Z" if shape.closed else ""}"/>'


def _num(value: float) -> str:
    """A millionth of a millimetre is exact for a saw."""
    text = f"{value:.6f}".rstrip("0").rstrip(".")
    return "0" if text == "-0" else text


def _printable(text: str) -> str:
    return "".join(char for char in text if char.isprintable())

"""A sheet as DXF, text form of the year 2000, with its unit set to millimetres."""

from __future__ import annotations

import io

from .sheet import Circle, Sheet

_MILLIMETRES = 4  # $INSUNITS
_COLOURS = {"stock-pieces": 8, "offcut-outlines": 3, "saw-lines": 1, "surface-lines": 5}
_BLACK_OR_WHITE = 7


def to_dxf(sheet: Sheet) -> bytes:
    """Closed lines are closed light polylines, drill marks are circles."""
    from ezdxf.filemanagement import new

    document = new("R2000")
    document.units = _MILLIMETRES
    model = document.modelspace()
    for name, shapes in sheet.filled:
        document.layers.add(name, color=_COLOURS.get(name, _BLACK_OR_WHITE))
        on = {"layer": name}
        for shape in shapes:
            if isinstance(shape, Circle):
                centre = (shape.x_mm, shape.y_mm)
                model.add_circle(centre, shape.diameter_mm / 2, dxfattribs=on)
            else:
                model.add_lwpolyline(shape.points, close=shape.closed, dxfattribs=on)
    text = io.StringIO()
    document.write(text)
    return text.getvalue().encode(document.output_encoding, errors="replace")

"""The check page of a printer: bars to be measured with a steel rule."""

from __future__ import annotations

from typing import Any

from .sizes import Printer

TEMPLATE = "studio/prints/paper/printer_check.html"
_WIDTH_MM, _HEIGHT_MM = 150.0, 170.0


def printer_check_context(printer: Printer) -> dict[str, Any]:
    """Bars of 100 mm, a square of 50 mm and a bar of 4 in, as this printer is corrected."""
    return {
        "width": f"{_WIDTH_MM * printer.x_scale:.3f}",
        "height": f"{_HEIGHT_MM * printer.y_scale:.3f}",
        "x_scale": f"{printer.x_scale:.6f}",
        "y_scale": f"{printer.y_scale:.6f}",
        "bars": {
            "x": f"{12.0 * printer.x_scale:.3f}",
            "y": f"{125.0 * printer.y_scale:.3f}",
            "x_scale": f"{printer.x_scale:.6f}",
            "y_scale": f"{printer.y_scale:.6f}",
        },
        "is_check": True,
    }

"""The capture frame on paper: markers at known places around room for a drawing.

Markers are black squares with white modules, drawn as paths in millimetres. A printer's
correction stretches the whole frame, so that the places on paper are true.
"""

from __future__ import annotations

from typing import Any

from studio.core.reading.frame import MARKER_MM, Frame

from .sizes import Printer, paper_for

TEMPLATE = "studio/prints/paper/capture_frame.html"
_HEAD_MM = 22.0  # height of .frame-head in print_sheets.css
_GUTTER_MM = 8.0
_BARS_MM = 9.0
_RIM_MM = 0.5  # the dashed line lies this far outside the area, so that no photo shows it inside


def capture_frame_context(frame: Frame, printer: Printer) -> dict[str, Any]:
    """What the template draws; all lengths in millimetres, y downwards."""
    edge = frame.border_mm
    across, up = frame.width_mm + 2 * edge, frame.height_mm + 2 * edge
    width = _GUTTER_MM + across * printer.x_scale
    height = up * printer.y_scale + _BARS_MM
    room = paper_for(frame.name).content_mm
    return {
        "paper": frame.name,
        "frame": frame,
        "others": [("a4", "A4"), ("letter", "Letter")],
        "fits": width <= room[0] and height <= room[1] - _HEAD_MM,
        "width": f"{width:.3f}",
        "height": f"{height:.3f}",
        "left": f"{_GUTTER_MM:.3f}",
        "x_scale": f"{printer.x_scale:.6f}",
        "y_scale": f"{printer.y_scale:.6f}",
        "bars": {
            "x": "5.200",
            "y": f"{height - 4.0:.3f}",
            "x_scale": f"{printer.x_scale:.6f}",
            "y_scale": f"{printer.y_scale:.6f}",
        },
        "black": "".join(_box(frame, m.x_mm, m.y_mm, MARKER_MM) for m in frame.markers),
        "white": "".join(
            _box(frame, x, y, side)
            for marker in frame.markers
            for x, y, side in marker.white_modules
        ),
        "rim": (
            f"M{edge - _RIM_MM:.3f} {edge - _RIM_MM:.3f}H{across - edge + _RIM_MM:.3f}"
            f"V{up - edge + _RIM_MM:.3f}H{edge - _RIM_MM:.3f}Z"
        ),
        "drawing_width": f"{frame.width_mm:.0f}",
        "drawing_height": f"{frame.height_mm:.0f}",
    }


def _box(frame: Frame, x: float, y: float, side: float) -> str:
    """A square by its lower left corner in the frame's own millimetres."""
    left = x + frame.border_mm
    top = frame.height_mm + frame.border_mm - y - side
    return f"M{left:.3f} {top:.3f}h{side:.3f}v{side:.3f}h{-side:.3f}z"

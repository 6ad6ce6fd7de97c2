"""Windows too small to pierce."""

from __future__ import annotations

import shapely
from shapely.geometry import LineString, Polygon

from studio.core.drawing import Finding, Limits, Piece, Weight

from .boundary import SLACK_MM

_PRECISION_MM = 0.002
_MOST = 60


def check_windows(piece: Piece, limits: Limits) -> list[Finding]:
    """Findings `window-small`: the widest circle inside is narrower than the limit."""
    findings: list[Finding] = []
    for ring in piece.outline.interiors:
        window = Polygon(ring)
        # Cheap test first; the exact circle only for windows that may fail.
        if not window.buffer(-(limits.least_window_mm - SLACK_MM) / 2).is_empty:
            continue
        if len(findings) == _MOST:
            break
        circle: LineString = shapely.maximum_inscribed_circle(window, tolerance=_PRECISION_MM)
        width = 2.0 * circle.length
        if width >= limits.least_window_mm - SLACK_MM:
            continue
        x, y = circle.coords[0]
        findings.append(
            Finding(
                "window-small",
                Weight.STOP,
                f"This window is only {width:.2f} mm wide at its widest; the drill and the "
                f"blade need {limits.least_window_mm:g} mm.",
                "Make the window larger, or turn it into a drilled hole or a surface line.",
                piece=piece.id,
                at=(float(x), float(y)),
                value_mm=width,
                limit_mm=limits.least_window_mm,
            )
        )
    return findings

"""The photo of a piece of metal with the outline that was read drawn over it."""

from __future__ import annotations

import base64
from collections.abc import Collection

import numpy as np
from django.utils.html import format_html, format_html_join
from django.utils.safestring import SafeString
from shapely.geometry import LinearRing, Polygon

from studio.core.reading.metal import MetalPhoto
from studio.forms.rack.metal_photo import letter_of


def metal_svg(photo: MetalPhoto, windows: Collection[int], *, title: str) -> SafeString:
    """In millimetres; openings carry their letters, those not in `windows` are dashed."""
    left, top = photo.left_mm, photo.low_mm + photo.high_mm
    openings = format_html_join(
        "",
        '<path class="{}" fill="none" stroke="currentColor" d="{}"/>',
        (
            ("d-seen" if number in windows else "d-seen d-not-seen", _path(one.outline, left, top))
            for number, one in enumerate(photo.openings, start=1)
        ),
    )
    size = max(photo.wide_mm, photo.high_mm) / 50
    letters = format_html_join(
        "",
        '<g class="d-order"><circle cx="{}" cy="{}" r="{}"/>'
        '<text x="{}" y="{}" font-size="{}">{}</text></g>',
        (
            (*_beside(one.outline, photo, size), letter_of(number))
            for number, one in enumerate(photo.openings, start=1)
        ),
    )
    return format_html(
        '<svg class="drawing" viewBox="0 0 {} {}" role="img"><title>{}</title>'
        '<image href="data:image/jpeg;base64,{}" width="{}" height="{}"'
        ' preserveAspectRatio="none"/>'
        '<path class="d-seen" fill="none" stroke="currentColor" d="{}"/>{}{}</svg>',
        _number(photo.wide_mm),
        _number(photo.high_mm),
        title,
        base64.b64encode(photo.picture).decode(),
        _number(photo.wide_mm),
        _number(photo.high_mm),
        _path(photo.outer, left, top),
        openings,
        letters,
    )


def _beside(outline: Polygon, photo: MetalPhoto, size: float) -> tuple[str, ...]:
    """Circle and text of a letter: inside a large opening, else to its upper right."""
    x0, y0, x1, y1 = outline.bounds
    spot = outline.representative_point()
    x, y = spot.x, spot.y
    if min(x1 - x0, y1 - y0) < 3 * size:
        x, y = x1 + 0.9 * size, y1 + 0.9 * size
    across, down = x - photo.left_mm, photo.low_mm + photo.high_mm - y
    values = (across, down, size, across, down + 0.4 * size, 1.2 * size)
    return tuple(_number(value) for value in values)


def _path(outline: Polygon, left: float, top: float) -> str:
    return _ring(outline.exterior, left, top)


def _ring(ring: LinearRing, left: float, top: float) -> str:
    points = np.array(ring.coords)[:-1]
    return (
        "M"
        + " L".join(f"{_number(x - left)} {_number(top - y)}" for x, y in points.tolist())
        + " Z"
    )


def _number(value: float) -> str:
    return f"{value:.2f}".rstrip("0").rstrip(".")

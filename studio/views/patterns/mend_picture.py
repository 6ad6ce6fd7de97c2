"""Before and after, side by side and one over the other: paths for the pictures of a mend.

Millimetres, y downwards; every number is a string already, so that no locale changes its point.
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass

import numpy as np
import shapely
from shapely.geometry import LineString

from classroom.figures.units import Units, format_length
from classroom.models import School
from studio.core.mending import Mend, Stroke

_MARGIN = 0.06
_FINE = 1 / 500  # of what the picture shows: about a pixel
_ZOOM = 14.0  # the spot shown is so many times as wide as the line moves
_LEAST_SPOT_MM = 3.0
_MOST_POINTS = 600
_BARS_MM = (10.0, 5.0, 2.0, 1.0, 0.5, 0.2)
_BARS_IN = tuple(25.4 * part for part in (0.5, 0.2, 0.1, 0.05, 0.02, 0.01))

Box = tuple[float, float, float, float]


@dataclass(frozen=True, slots=True)
class MendPicture:
    """Whole lines `before` and `after` in `whole_box`; both in `spot_box` at the worst place.

    `spot` is the path of a square around that place, drawn into the picture of the whole;
    `bar` a bar of true length with its `bar_words` at `bar_x`, `bar_y`, `bar_text` high.
    """

    whole_box: str
    before: str
    after: str
    spot: str
    spot_box: str
    spot_before: str
    spot_after: str
    bar: str
    bar_words: str
    bar_x: str
    bar_y: str
    bar_text: str


def mend_picture(mend: Mend, school: School) -> MendPicture:
    own = [stroke for stroke in (*mend.before, *mend.after) if stroke.line in mend.lines]
    points = np.array([point for stroke in own for point in stroke.points])
    (x0, y0), (x1, y1) = points.min(axis=0).tolist(), points.max(axis=0).tolist()
    span = max(x1 - x0, y1 - y0)
    pad = _MARGIN * span
    side = min(max(_ZOOM * mend.moved_mm, _LEAST_SPOT_MM), 0.6 * span)
    x, y = mend.at
    spot = (x - side / 2, y - side / 2, x + side / 2, y + side / 2)
    units = Units(school.units)
    bars = _BARS_MM if units is Units.MM else _BARS_IN
    bar = next((each for each in bars if each <= 0.3 * side), bars[-1])
    tick = 0.02 * side
    left, low = spot[0] + 0.06 * side, -spot[1] - 0.08 * side
    shown = Units.MM if units is Units.MM else Units.INCH_DECIMAL
    return MendPicture(
        whole_box=_numbers(x0 - pad, -y1 - pad, x1 - x0 + 2 * pad, y1 - y0 + 2 * pad),
        before=_paths(mend.before, span * _FINE),
        after=_paths(mend.after, span * _FINE),
        spot=f"M{_numbers(spot[0], -spot[3])}h{_numbers(side)}v{_numbers(side)}h{_numbers(-side)}Z",
        spot_box=_numbers(spot[0], -spot[3], side, side),
        spot_before=_paths(mend.before, side * _FINE, spot),
        spot_after=_paths(mend.after, side * _FINE, spot),
        bar=(
            f"M{_numbers(left, low - tick)}v{_numbers(2 * tick)}m0 {_numbers(-tick)}"
            f"h{_numbers(bar)}m0 {_numbers(-tick)}v{_numbers(2 * tick)}"
        ),
        bar_words=format_length(bar, shown, places=0 if bar >= 1 else 1),
        bar_x=_numbers(left + bar + 0.03 * side),
        bar_y=_numbers(low + 0.025 * side),
        bar_text=_numbers(0.075 * side),
    )


def _paths(strokes: Iterable[Stroke], tolerance: float, spot: Box | None = None) -> str:
    """The lines as one path; with `spot` only what lies in it and a little around."""
    found: list[str] = []
    for stroke in strokes:
        ring = [*stroke.points, stroke.points[0]] if stroke.closed else list(stroke.points)
        drawn = LineString(ring)
        if spot is None:
            found.append(_path(drawn.simplify(tolerance)))
            continue
        pad = 0.5 * (spot[2] - spot[0])
        near = shapely.clip_by_rect(
            drawn, spot[0] - pad, spot[1] - pad, spot[2] + pad, spot[3] + pad
        )
        for part in shapely.get_parts(shapely.line_merge(near)):
            if isinstance(part, LineString):
                found.append(_path(part.simplify(tolerance)))
    return "".join(found)


def _path(line: shapely.Geometry) -> str:
    points = shapely.get_coordinates(line)
    if len(points) > _MOST_POINTS:
        points = points[:: len(points) // _MOST_POINTS + 1]
    return "M" + "L".join(_numbers(x, -y) for x, y in points.tolist())


def _numbers(*values: float) -> str:
    shown = (f"{value:.3f}".rstrip("0").rstrip(".") for value in values)
    return " ".join("0" if each in ("-0", "") else each for each in shown)

"""How a piece looks as it lies: its paths, its drill marks, and where its label stands."""

from __future__ import annotations

from collections.abc import Sequence

import shapely
from shapely.geometry import Point, Polygon

from studio.core.areas import united, without
from studio.core.cutting import Job, Placement
from studio.core.drawing import Piece

from .colours import Mark
from .in_picture import PieceInPicture
from .paths import Flip, lay_line, lay_point, numbers, polygons_of


def piece_in_picture(
    p: Placement,
    outline: Polygon,
    job: Job,
    label: str,
    flip: Flip,
    text: float,
    drawing: Piece | None,
    mark: Mark | None = None,
) -> PieceInPicture:
    marks = drawing.drill_marks if drawing else ()
    spot, room = _label_place(
        outline,
        [lay_point(p, m.centre).buffer(m.diameter_mm / 2 + 0.4 * text) for m in marks],
    )
    drills = []
    crosses = []
    for drill in marks:
        x, y = flip.point(lay_point(p, drill.centre))
        radius = drill.diameter_mm / 2
        arm = max(1.6 * radius, 0.2 * text)
        drills.append((x, y, radius))
        crosses.append(cross(x, y, arm))
    surface = [lay_line(p, line) for line in (drawing.surface_lines if drawing else ())]
    x0, y0, x1, y1 = outline.bounds
    return PieceInPicture(
        label=label,
        group=job.wanted_by_id[p.piece].group or "",
        piece=p.piece,
        copy=p.copy,
        path=flip.path([outline]),
        windows=flip.path([Polygon(ring) for ring in outline.interiors]),
        crosses="".join(crosses),
        drills=tuple((round(x, 3), round(y, 3), round(r, 3)) for x, y, r in drills),
        surface=flip.lines(surface),
        at=flip.point(spot),
        label_mm=round(max(0.35 * text, min(text, 0.9 * room / max(1, 0.6 * len(label)))), 2),
        size_mm=(x1 - x0, y1 - y0),
        corner=flip.point(Point(x0, y1)),
        mark=mark,
    )


def cross(x: float, y: float, arm: float) -> str:
    return f"M{numbers(x - arm, y)}H{x + arm:.2f}M{numbers(x, y - arm)}V{y + arm:.2f}"


def _label_place(outline: Polygon, taken: Sequence[Polygon]) -> tuple[Point, float]:
    """Where a label has most room on a piece, clear of its drill marks, and how much room."""
    clear = max(
        polygons_of(without(outline, united(taken))) or [outline],
        key=lambda part: part.area,
    )
    circle = shapely.maximum_inscribed_circle(clear, tolerance=0.5)
    return Point(circle.coords[0]), float(circle.length)

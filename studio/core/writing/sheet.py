"""What is written to a file: shapes in millimetres, y upwards, each layer under a plain name.

The names are those that the reader knows again (`studio.core.reading.labels.LAYER_LABELS`), so
that a written drawing comes back with every line taken for what it was.
"""

from __future__ import annotations

from collections.abc import Collection, Iterable, Iterator, Mapping
from dataclasses import dataclass, field

from shapely.geometry import LineString, Polygon

from studio.core.cutting import Job, Placement, Plan
from studio.core.drawing import Drawing, DrillKind, Piece
from studio.core.picturing.paths import lay_line, lay_point
from studio.core.picturing.sawing_order import sawing_orders

METAL, OFFCUTS, SAW_LINES = "stock-pieces", "offcut-outlines", "saw-lines"
OUTLINES, WINDOWS, SURFACE_LINES = "outlines", "windows", "surface-lines"
DRILLED = {
    DrillKind.RING: "drill-rings",
    DrillKind.RIVET: "drill-rivets",
    DrillKind.PILOT: "drill-pilots",
}
LAYERS = (METAL, OFFCUTS, OUTLINES, WINDOWS, *DRILLED.values(), SURFACE_LINES, SAW_LINES)

GAP_MM = 20.0  # between two stock pieces of one plan

Point = tuple[float, float]


@dataclass(frozen=True, slots=True)
class Path:
    """A line through points; a closed one does not repeat its first point."""

    points: tuple[Point, ...]
    closed: bool


@dataclass(frozen=True, slots=True)
class Circle:
    x_mm: float
    y_mm: float
    diameter_mm: float


@dataclass(slots=True)
class Sheet:
    """Shapes by layer, in the order of `LAYERS`; `title` is a name for people."""

    title: str
    layers: dict[str, list[Path | Circle]] = field(default_factory=dict)

    def add(self, layer: str, *shapes: Path | Circle) -> None:
        if shapes:
            self.layers.setdefault(layer, []).extend(shapes)

    @property
    def filled(self) -> Iterator[tuple[str, list[Path | Circle]]]:
        return ((name, self.layers[name]) for name in LAYERS if name in self.layers)

    @property
    def bounds_mm(self) -> tuple[float, float, float, float]:
        """Least x, least y, greatest x, greatest y; zeros when there is nothing."""
        corners: list[Point] = []
        for shapes in self.layers.values():
            for shape in shapes:
                if isinstance(shape, Path):
                    corners += shape.points
                else:
                    r = shape.diameter_mm / 2
                    corners += [(shape.x_mm - r, shape.y_mm - r), (shape.x_mm + r, shape.y_mm + r)]
        if not corners:
            return 0.0, 0.0, 0.0, 0.0
        xs, ys = [x for x, _ in corners], [y for _, y in corners]
        return min(xs), min(ys), max(xs), max(ys)


def drawing_sheet(drawing: Drawing, title: str) -> Sheet:
    """The pieces of a pattern, where the drawing has them."""
    sheet = Sheet(title)
    for piece in drawing.pieces:
        _add_piece(sheet, piece, None, 0.0)
    return sheet


def plan_sheet(
    job: Job,
    plan: Plan,
    drawings: Mapping[str, Piece],
    title: str,
    *,
    groups: Collection[str] | None = None,
) -> Sheet:
    """The touched stock pieces of a cut plan, one above the other, and all that lies on them.

    `drawings` gives the pieces by the job's ids. With `groups` only pieces of those groups are
    written, and of the saw lines only theirs; the metal is always there.
    """
    sheet = Sheet(title)
    orders = {order.metal: order for order in sawing_orders(job, plan.placements, drawings)}
    height = 0.0
    for metal in job.metal:
        placed = [each for each in plan.placements if each.metal == metal.id]
        shown = [
            each
            for each in placed
            if groups is None or (job.wanted_by_id[each.piece].group or "") in groups
        ]
        if not shown:
            continue
        _, low, _, high = metal.outline.bounds
        lift = height - low
        height += high - low + GAP_MM
        for part in metal.parts:
            sheet.add(METAL, *_rings(part, lift))
        if groups is None:
            for offcut in plan.offcuts:
                if offcut.metal == metal.id:
                    sheet.add(OFFCUTS, *_rings(offcut.outline, lift))
        for each in shown:
            piece = drawings.get(each.piece)
            piece = piece or Piece(each.piece, job.wanted_by_id[each.piece].outline)
            _add_piece(sheet, piece, each, lift)
        mine = {(each.piece, each.copy) for each in shown}
        for line in orders[metal.id].lines:
            if (line.piece, line.copy) in mine:
                sheet.add(SAW_LINES, *(_path(part, lift) for part in line.cut.geoms))
    return sheet


def _add_piece(sheet: Sheet, piece: Piece, laid: Placement | None, lift: float) -> None:
    outline = piece.outline if laid is None else laid.lay(piece.outline)
    shell, *windows = _rings(outline, lift)
    sheet.add(OUTLINES, shell)
    sheet.add(WINDOWS, *windows)
    for mark in piece.drill_marks:
        at = mark.centre if laid is None else lay_point(laid, mark.centre)
        sheet.add(DRILLED[mark.kind], Circle(at.x, at.y + lift, mark.diameter_mm))
    lines = piece.surface_lines
    if laid is not None:
        lines = tuple(lay_line(laid, line) for line in lines)
    sheet.add(SURFACE_LINES, *(_path(line, lift) for line in lines))


def _rings(polygon: Polygon, lift: float) -> Iterable[Path]:
    return [_path(ring, lift) for ring in (polygon.exterior, *polygon.interiors)]


def _path(line: LineString, lift: float) -> Path:
    points = [(float(x), float(y) + lift) for x, y, *_ in line.coords]
    closed = len(points) > 3 and points[0] == points[-1]
    return Path(tuple(points[:-1] if closed else points), closed)

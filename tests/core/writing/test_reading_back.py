"""What is written is read again as the same drawing, in true millimetres."""

from __future__ import annotations

import io
from typing import Any

import ezdxf
import pytest
import svgelements
from hypothesis import given, settings
from hypothesis import strategies as st
from shapely import affinity
from shapely.geometry import LineString, Polygon, box

from studio.core.cutting import Job, Placement, Plan, Stock, Wanted
from studio.core.cutting.job import Measures, Offcut
from studio.core.drawing import Drawing, DrillKind, DrillMark, Piece
from studio.core.reading import assemble, read_pattern
from studio.core.writing import WRITERS, drawing_sheet, plan_sheet, written
from tests.shapes import circle, with_windows

KINDS = sorted(WRITERS)


def read_back(data: bytes, kind: str) -> Drawing:
    tracing = read_pattern(data, filename=f"back.{kind}")
    assembly = assemble(tracing)
    assert tracing.findings == ()
    assert assembly.findings == ()
    return assembly.drawing


def at_origin(drawing: Drawing) -> Drawing:
    x0, y0, *_ = drawing.bounds_mm

    def home(shape: Any) -> Any:
        return affinity.translate(shape, -x0, -y0)

    return Drawing(
        tuple(
            Piece(
                piece.id,
                home(piece.outline),
                tuple(
                    DrillMark(mark.x_mm - x0, mark.y_mm - y0, mark.diameter_mm, mark.kind)
                    for mark in piece.drill_marks
                ),
                tuple(home(line) for line in piece.surface_lines),
            )
            for piece in drawing.pieces
        )
    )


def assert_same(one: Drawing, other: Drawing) -> None:
    one, other = at_origin(one), at_origin(other)
    assert len(one.pieces) == len(other.pieces)
    for a, b in zip(one.pieces, other.pieces, strict=True):
        assert b.outline.area == pytest.approx(a.outline.area, abs=1e-3)
        assert len(b.outline.interiors) == len(a.outline.interiors)
        assert len(b.outline.exterior.coords) == len(a.outline.exterior.coords)
        assert a.outline.symmetric_difference(b.outline).area < 1e-3
        assert [mark.kind for mark in b.drill_marks] == [mark.kind for mark in a.drill_marks]
        for mark, again in zip(a.drill_marks, b.drill_marks, strict=True):
            assert again.diameter_mm == pytest.approx(mark.diameter_mm, abs=1e-5)
            assert again.centre.distance(mark.centre) < 1e-5
        assert len(b.surface_lines) == len(a.surface_lines)
        for line, again in zip(a.surface_lines, b.surface_lines, strict=True):
            assert line.hausdorff_distance(again) < 1e-5


@st.composite
def drawings(draw: st.DrawFn) -> Drawing:
    """Plates side by side with windows, drill marks of all kinds and surface lines."""
    pieces = []
    x = draw(st.floats(-50, 50))
    for number in range(1, draw(st.integers(1, 3)) + 1):
        width, height = draw(st.floats(40, 90)), draw(st.floats(40, 70))
        y = draw(st.floats(-20, 20))
        slope = draw(st.floats(-4, 4))
        plate = Polygon([(x, y), (x + width, y + slope), (x + width, y + height), (x, y + height)])
        windows, marks, lines = [], [], []
        if draw(st.booleans()):  # small enough to be taken for a drill mark by its looks
            across = draw(st.floats(1.0, 9.0))
            windows.append(circle(x + 15, y + 20, across, 48))
            if across > 4:
                marks.append(DrillMark(x + 15, y + 20, 1.0, DrillKind.PILOT))
        if draw(st.booleans()):
            windows.append(box(x + 22, y + 12, x + 30, y + 12 + draw(st.floats(2, 20))))
        if draw(st.booleans()):
            kind = draw(st.sampled_from([DrillKind.RING, DrillKind.RIVET]))
            marks.append(DrillMark(x + 33.5, y + 28, draw(st.floats(0.8, 6.0)), kind))
        if draw(st.booleans()):
            lines.append(LineString([(x + 6, y + 8), (x + 9, y + 32), (x + 5, y + 35)]))
        if draw(st.booleans()):
            lines.append(LineString(box(x + 23, y + 35, x + 29, y + 37).exterior))
        outline = with_windows(plate, *windows)
        pieces.append(Piece(str(number), outline, tuple(marks), tuple(lines)))
        x += width + 10
    return Drawing(tuple(pieces))


@pytest.mark.parametrize("kind", KINDS)
@settings(max_examples=40, deadline=None)
@given(drawing=drawings())
def test_reading_a_written_drawing_gives_the_same_drawing(kind: str, drawing: Drawing) -> None:
    # also a small round window, which by its looks would be a drill mark
    back = read_back(written(drawing_sheet(drawing, "Random"), kind), kind)
    assert_same(_sorted(drawing), _sorted(back))


def _sorted(drawing: Drawing) -> Drawing:
    return Drawing(
        tuple(
            Piece(
                piece.id,
                piece.outline,
                tuple(sorted(piece.drill_marks, key=lambda mark: (mark.kind, mark.x_mm))),
                tuple(sorted(piece.surface_lines, key=lambda line: line.bounds[0])),
            )
            for piece in drawing.pieces
        )
    )


PLATE = Piece(
    "a",
    with_windows(box(0, 0, 40, 30), box(10, 10, 20, 20)),
    (DrillMark(5, 25, 1.6, DrillKind.RING),),
    (LineString([(25, 5), (35, 25)]),),
)


def plan() -> tuple[Job, Plan, dict[str, Piece]]:
    job = Job(
        (Stock("S1", box(0, 0, 120, 80)), Stock("S2", box(0, 0, 60, 60))),
        (Wanted("a", PLATE.outline, 2, group="one"), Wanted("b", box(0, 0, 20, 20), group="two")),
    )
    placements = (
        Placement("a", 0, "S1", False, 90.0, 40.0, 5.0),
        Placement("a", 1, "S2", True, 0.0, 50.0, 10.0),
        Placement("b", 0, "S1", False, 0.0, 60.0, 50.0),
    )
    offcuts = (Offcut("S1", box(90, 0, 120, 80), 1.0),)
    return job, Plan(placements, (), Measures(), offcuts, 1, 1.0, 1), {"a": PLATE}


@pytest.mark.parametrize("kind", KINDS)
def test_a_written_plan_is_read_as_the_pieces_as_they_lie(kind: str) -> None:
    job, answer, drawings = plan()
    tracing = read_pattern(written(plan_sheet(job, answer, drawings, "Plan"), kind))
    back = assemble(tracing).drawing
    assert [piece.area_mm2 for piece in back.pieces] == pytest.approx([1100, 400, 1100], abs=1e-3)
    first = back.pieces[0]
    assert [mark.kind for mark in first.drill_marks] == [DrillKind.RING]
    assert len(first.outline.interiors) == len(first.surface_lines) == 1
    # turned a quarter: the mark at (5, 25) lies 25 mm left of and 5 mm above the shift
    x0, y0, *_ = first.outline.bounds
    assert first.drill_marks[0].x_mm - x0 == pytest.approx(5, abs=1e-5)
    assert first.drill_marks[0].y_mm - y0 == pytest.approx(5, abs=1e-5)


def test_each_part_of_a_plan_has_its_layer() -> None:
    job, answer, drawings = plan()
    data = written(plan_sheet(job, answer, drawings, "Plan"), "dxf")
    document = ezdxf.read(io.StringIO(data.decode()))
    used = {entity.dxf.layer for entity in document.modelspace()}
    drawn = {"outlines", "windows", "drill-rings", "surface-lines"}
    assert used == {*drawn, "stock-pieces", "offcut-outlines", "saw-lines"}
    assert document.units == 4


def test_of_a_plan_a_group_may_be_written_alone() -> None:
    job, answer, drawings = plan()
    sheet = plan_sheet(job, answer, drawings, "Plan", groups={"two"})
    counts = {name: len(shapes) for name, shapes in sheet.filled}
    assert counts["outlines"] == counts["stock-pieces"] == 1
    assert set(counts) == {"outlines", "stock-pieces", "saw-lines"}


def test_another_reader_finds_the_svg_in_true_millimetres() -> None:
    text = written(drawing_sheet(Drawing((PLATE,)), "Fish & <chips>"), "svg").decode()
    document = svgelements.SVG.parse(io.StringIO(text), reify=True, ppi=25.4)
    boxes = [each.bbox() for each in document.elements() if isinstance(each, svgelements.Path)]
    assert boxes[0] == pytest.approx((5, 5, 45, 35), abs=1e-4)
    (mark,) = (each for each in document.elements() if isinstance(each, svgelements.Circle))
    assert 2 * mark.rx == pytest.approx(1.6)


def test_a_reference_library_measures_the_dxf_in_true_millimetres() -> None:
    data = written(drawing_sheet(Drawing((PLATE,)), "Fish"), "dxf")
    model = ezdxf.read(io.StringIO(data.decode())).modelspace()
    (shell,) = model.query('LWPOLYLINE[layer=="outlines"]')
    assert Polygon(shell.get_points("xy")).area == pytest.approx(1200)
    assert [mark.dxf.radius for mark in model.query("CIRCLE")] == [0.8]

"""DXF entities have the geometry the format says, by formula and by a reference library."""

from __future__ import annotations

import math
from collections.abc import Callable
from typing import Any

import pytest
from ezdxf import path as reference
from ezdxf.disassemble import recursive_decompose
from ezdxf.math import Vec3
from shapely.geometry import LineString, Point
from shapely.ops import unary_union

from studio.core.drawing import FLATTENING_TOLERANCE_MM
from studio.core.reading import assemble, read_pattern

from .dxfs import by_hand, bytes_of, fresh, square, traced

BULGES = [0.02, 0.2, 0.5, 1.0, 2.5, -0.01, -0.4, -1.0]


@pytest.mark.parametrize("bulge", BULGES)
def test_a_bulge_is_the_arc_whose_quarter_angle_has_that_tangent(bulge: float) -> None:
    document, model = fresh()
    model.add_lwpolyline([(5, 5, bulge), (25, 5, 0), (25, 65, 0), (5, 65, 0)], "xyb", close=True)
    (line,) = traced(document).lines
    # a segment of a circle has the area r^2 (angle - sin angle) / 2; left turns bulge outwards
    angle = 4 * math.atan(abs(bulge))
    radius = 20 / (2 * math.sin(angle / 2))
    segment = math.copysign(radius**2 * (angle - math.sin(angle)) / 2, bulge)
    assert line.polygon.area == pytest.approx(20 * 60 + segment, rel=1e-3, abs=0.1)


LIGHT = [(0, 0, 0.3), (30, 0, -0.6), (30, 20, 0), (0, 20, 1.2)]
FRAME = [(0, 0), (10, 22), (20, -9), (30, 12), (41, 0)]
CURVES: dict[str, Callable[[Any], Any]] = {
    "light polyline": lambda m: m.add_lwpolyline(LIGHT, "xyb", close=True),
    "old polyline": lambda m: m.add_polyline2d(LIGHT, format="xyb", close=True),
    "ellipse": lambda m: m.add_ellipse((3, 4), (12, 5), 0.4),
    "part of an ellipse": lambda m: m.add_ellipse((3, 4), (12, 5), 0.4, 0.5, 4.0),
    "arc": lambda m: m.add_arc((1, 2), 14, 200, 40),
    "shallow arc": lambda m: m.add_arc((0, -5000), 5010, 89.9, 90.1),
    "open spline": lambda m: m.add_open_spline(FRAME),
    "spline of degree 4": lambda m: m.add_open_spline(FRAME, degree=4),
    "spline of degree 2": lambda m: m.add_open_spline(FRAME, degree=2),
    "rational spline": lambda m: m.add_rational_spline(FRAME, [1, 4, 0.5, 1, 2]),
}


@pytest.mark.parametrize("kind", CURVES)
def test_each_kind_of_curve_agrees_with_the_reference_library(kind: str) -> None:
    document, model = fresh()
    entity = CURVES[kind](model)
    (line,) = traced(document).lines
    # of splines the library's paths are approximations, its construction tool is exact
    exact = (
        entity.construction_tool() if entity.dxftype() == "SPLINE" else reference.make_path(entity)
    )
    fine = [(p.x, p.y) for p in exact.flattening(1e-4, segments=64)]
    true = LineString(fine)
    drawn = line.linework
    # whole ellipses stand outside by up to two thirds of a chord's height, on purpose
    assert max(true.distance(Point(p)) for p in drawn.coords) <= FLATTENING_TOLERANCE_MM
    assert max(drawn.distance(Point(p)) for p in fine) <= FLATTENING_TOLERANCE_MM
    assert drawn.length == pytest.approx(true.length, rel=2e-3)


def test_a_spline_through_points_passes_through_them() -> None:
    document, model = fresh()
    points = [(0, 0), (10, 12), (22, 3), (35, 9)]
    model.add_spline(points)
    (line,) = traced(document).lines
    assert max(line.linework.distance(Point(point)) for point in points) < 0.01


@pytest.mark.parametrize("heavy", [30.0, 1e4])
def test_a_spline_that_is_pulled_hard_to_one_point_stays_within_the_tolerance(heavy: float) -> None:
    document, model = fresh()
    frame = [(-46, -20), (44, -26), (-39, 22), (29, -17)]
    weights = [0.1, 0.1, heavy, 2.0]
    model.add_rational_spline(frame, weights, degree=2, knots=[0, 0, 0, 0.5, 1, 1, 1])
    (line,) = traced(document).lines
    # two quadratic pieces; each as a Bézier with the control points that its knots give
    held = [(x * w, y * w, w) for (x, y), w in zip(frame, weights, strict=True)]
    middle = tuple((a + b) / 2 for a, b in zip(held[1], held[2], strict=True))
    # by halving: even in the parameter, points would lie millimetres apart where weights differ
    stack = [(held[0], held[1], middle), (middle, held[2], held[3])]
    for _ in range(10):
        stack = [half for piece in stack for half in _halves(*piece)]
    true = [(piece[0][0] / piece[0][2], piece[0][1] / piece[0][2]) for piece in stack]
    assert max(line.linework.distance(Point(p)) for p in true) <= FLATTENING_TOLERANCE_MM


def _halves(a: Any, b: Any, c: Any) -> list[tuple[Any, Any, Any]]:
    ab, bc = (tuple((p + q) / 2 for p, q in zip(*two, strict=True)) for two in ((a, b), (b, c)))
    m = tuple((p + q) / 2 for p, q in zip(ab, bc, strict=True))
    return [(a, ab, m), (m, bc, c)]


def test_a_circle_and_an_ellipse_have_the_area_of_the_formula() -> None:
    document, model = fresh()
    model.add_circle((0, 0), 10)
    model.add_ellipse((50, 0), (0, 12), 0.25)
    circle, oval = traced(document).lines
    assert circle.polygon.area == pytest.approx(100 * math.pi, rel=1e-6)
    assert circle.round is not None
    assert circle.round.diameter_mm == 20
    assert oval.polygon.area == pytest.approx(36 * math.pi, rel=1e-6)


def test_a_circle_in_an_unevenly_stretched_block_is_an_exact_ellipse() -> None:
    document, model = fresh()
    block = document.blocks.new("LEAF", base_point=(1, 1))
    block.add_circle((1, 1), 2)
    place = {"xscale": 3, "yscale": 1, "rotation": 90}
    model.add_blockref("LEAF", (40, 20), dxfattribs=place)
    (line,) = traced(document).lines
    assert line.round is None
    assert line.polygon.area == pytest.approx(12 * math.pi, rel=1e-6)
    assert line.polygon.bounds == pytest.approx((38, 14, 42, 26), abs=0.011)


def test_mirrored_blocks_in_a_grid_lie_where_the_reference_library_puts_them() -> None:
    document, model = fresh()
    inner = document.blocks.new("INNER", base_point=(2, 1))
    inner.add_lwpolyline([(0, 0, 0.4), (6, 0, 0), (2, 3, 0)], "xyb", close=True)
    outer = document.blocks.new("OUTER")
    outer.add_blockref("INNER", (5, 5), dxfattribs={"xscale": -1})
    grid = {"rotation": 30, "yscale": -2, "column_count": 2, "row_count": 3}
    model.add_blockref(
        "OUTER", (10, 0), dxfattribs={**grid, "column_spacing": 40, "row_spacing": 50}
    )
    model.add_blockref("OUTER", (-80, 0), dxfattribs={"extrusion": (0, 0, -1), "xscale": 2})
    lines = traced(document).lines
    # the library takes an unevenly stretched bulge apart into elliptic arcs and lines
    wanted = [
        Point(p.x, p.y)
        for each in recursive_decompose(model)
        for p in reference.make_path(each).flattening(1e-3)
    ]
    assert len(lines) == 7
    assert all(line.closed for line in lines)
    drawn = unary_union([line.linework for line in lines])
    assert max(drawn.distance(point) for point in wanted) <= FLATTENING_TOLERANCE_MM


def test_a_turned_block_in_a_stretched_one_is_sheared() -> None:
    document, model = fresh()
    inner = document.blocks.new("INNER", base_point=(2, 1))
    inner.add_lwpolyline([(0, 0), (6, 0), (2, 3)], close=True)
    outer = document.blocks.new("OUTER")
    one = outer.add_blockref("INNER", (5, 5), dxfattribs={"xscale": -1.5, "rotation": 20})
    two = model.add_blockref("OUTER", (10, 0), dxfattribs={"rotation": 30, "yscale": -2})
    (line,) = traced(document).lines
    # The library's exploded blocks cannot be sheared; its two matrices one after the other can.
    both = one.matrix44() @ two.matrix44()
    wanted = [both.transform(Vec3(corner)) for corner in [(0, 0), (6, 0), (2, 3)]]
    assert line.points == tuple(pytest.approx((point.x, point.y), abs=1e-6) for point in wanted)


def test_an_unclamped_spline_runs_only_where_all_its_points_count() -> None:
    frame = [(0, 0), (30, -4), (45, 22), (16, 40), (-6, 25)]
    ring = [*frame, *frame[:3]]
    knots = [value for knot in range(len(ring) + 4) for value in (40, knot)]
    control = [value for x, y in ring for value in (10, x, 20, y)]
    spline = [0, "SPLINE", 70, 3, 71, 3, *knots, *control]
    (line,) = read_pattern(by_hand(spline), filename="ring.dxf").lines
    assert line.closed
    # at its knots a uniform cubic B-spline is at a sixth of (before + 4 here + after)
    at_knots = [
        ((a + 4 * c + e) / 6, (b + 4 * d + f) / 6)
        for (a, b), (c, d), (e, f) in zip(ring, ring[1:], ring[2:], strict=False)
    ]
    assert max(line.linework.distance(Point(point)) for point in at_knots) < 1e-5


def test_an_entity_seen_from_behind_is_mirrored() -> None:
    document, model = fresh()
    behind = {"extrusion": (0, 0, -1)}
    model.add_arc((10, 0), 5, 0, 90, dxfattribs=behind)
    model.add_line((-10, 0), (-15, 0))
    model.add_line((-10, 0), (-10, 5))
    (line,) = traced(document).lines
    assert line.polygon.bounds == pytest.approx((-15, 0, -10, 5), abs=0.01)


def test_loose_segments_become_one_closed_outline_and_small_gaps_are_told() -> None:
    sides = [(0, 0, 30, 0), (30, 20, 30, 0), (0, 20.06, 30, 20), (0, 20, 0, 0)]
    lines = [value for a, b, c, d in sides for value in (0, "LINE", 10, a, 20, b, 11, c, 21, d)]
    tracing = read_pattern(by_hand(lines), filename="loose.dxf")
    (line,) = tracing.lines
    assert line.closed
    assert line.polygon.area == pytest.approx(600, abs=1)
    assert sorted(f.code for f in tracing.findings) == ["gap-healed", "scale-assumed"]


def test_a_helping_line_on_its_own_layer_does_not_keep_an_outline_open() -> None:
    sides = [(0, 0, 30, 0), (30, 0, 30, 20), (30, 20, 0, 20), (0, 20, 0, 0)]
    lines: list[object] = []
    for a, b, c, d in sides:
        lines += [0, "LINE", 8, "CUT", 10, a, 20, b, 11, c, 21, d]
    lines += [0, "LINE", 8, "HELP", 10, 0, 20, 0, 11, 30, 21, 20]
    tracing = read_pattern(by_hand(lines), filename="layers.dxf")
    assert {line.layer: line.closed for line in tracing.lines} == {"CUT": True, "HELP": False}
    assert type(tracing).from_json(tracing.to_json()) == tracing
    assert assemble(tracing, {"2": "ignore"}).drawing.area_mm2 == 600


def test_layer_0_in_a_block_is_the_layer_of_its_insert() -> None:
    document, model = fresh()
    document.layers.add("SAW")
    block = document.blocks.new("B")
    block.add_circle((0, 0), 5)
    block.add_circle((20, 0), 5, dxfattribs={"layer": "OWN"})
    model.add_blockref("B", (0, 0), dxfattribs={"layer": "SAW"})
    assert [line.layer for line in traced(document).lines] == ["SAW", "OWN"]


def test_layers_off_and_frozen_are_left_out_and_named() -> None:
    document, model = fresh()
    document.layers.add("Paper").off()
    document.layers.add("Old").freeze()
    for layer in ("0", "Paper", "Old"):
        model.add_circle((0, 0), 5, dxfattribs={"layer": layer})
    tracing = traced(document)
    assert len(tracing.lines) == 1
    (finding,) = tracing.findings
    assert finding.code == "layer-off"
    assert "“Paper”, “Old”" in finding.message


@pytest.mark.parametrize(
    ("number", "size_mm"),
    [(1, 25.4), (2, 304.8), (4, 1.0), (5, 10.0), (14, 100.0), (9, 0.0254), (22, 100_000 / 3937)],
)
def test_the_unit_of_the_header_is_exact(number: int, size_mm: float) -> None:
    # international inch 25.4 mm by definition; survey inch 100/3937 m (NIST SP 811, from memory)
    side = 5.0 if size_mm >= 1 else 400.0
    tracing = read_pattern(by_hand(square(side), head=[9, "$INSUNITS", 70, number]))
    x0, _, x1, _ = tracing.bounds_mm
    assert x1 - x0 == pytest.approx(side * size_mm, abs=1e-6)
    assert tracing.findings == ()


@pytest.mark.parametrize("head", [(), (9, "$INSUNITS", 70, 0), (9, "$INSUNITS", 70, 99)])
def test_without_a_unit_millimetres_are_assumed_and_the_size_is_told(head: tuple[object]) -> None:
    tracing = read_pattern(by_hand(square(20), head=head))
    (finding,) = tracing.findings
    assert finding.code == "scale-assumed"
    assert "20.0 mm wide and 20.0 mm high" in finding.message


def test_a_typed_width_comes_before_the_unit() -> None:
    data = by_hand([*square(20), 0, "CIRCLE", 10, 10, 20, 10, 40, 4])
    tracing = read_pattern(data, filename="a.dxf", width_mm=62.0)
    x0, _, x1, _ = tracing.bounds_mm
    assert x1 - x0 == pytest.approx(62)
    assert tracing.lines[1].round is not None
    assert tracing.lines[1].round.diameter_mm == pytest.approx(8 * 3.1)
    assert tracing.source.scale_from == "option"
    assert tracing.findings == ()


def test_what_cannot_be_sawn_is_told_once_with_how_to_mend_it() -> None:
    document, model = fresh()
    model.add_circle((0, 0), 10)
    for _ in range(3):
        model.add_text("Wren")
        model.add_point((1, 1))
        model.add_3dface([(0, 0), (1, 0), (1, 1)])
        model.add_hatch().paths.add_polyline_path([(0, 0), (1, 0), (1, 1)])
    model.add_line((0, 0, 0), (5, 0, 7))
    model.add_circle((0, 0), 3, dxfattribs={"extrusion": (1, 0, 1)})
    tracing = traced(document)
    assert len(tracing.lines) == 1
    codes = sorted(f.code for f in tracing.findings)
    tilted = ["entity-tilted"] * 2
    assert codes == [*tilted, "hatch-unread", "point-unread", "solid-unread", "text-unread"]
    assert all(f.mend for f in tracing.findings)


def test_a_drawing_far_from_its_origin_is_brought_near() -> None:
    document, model = fresh()
    model.add_circle((4_200_000, 5_100_000), 10)
    (line,) = traced(document).lines
    assert line.polygon.area == pytest.approx(100 * math.pi, rel=1e-6)
    assert max(map(abs, line.polygon.bounds)) <= 20.1


@pytest.mark.parametrize("version", ["R12", "R2000", "R2007", "R2018"])
@pytest.mark.parametrize("ending", [b"\n", b"\r\n"])
def test_files_of_all_years_and_line_endings_are_read(version: str, ending: bytes) -> None:
    document, model = fresh(version=version)
    document.layers.add("SÄGE")
    points = [(0, 0), (30, 0), (30, 20), (0, 20)]
    model.add_polyline2d(points, close=True, dxfattribs={"layer": "SÄGE"})
    block = document.blocks.new("HOLE")
    block.add_circle((0, 0), 2)
    model.add_blockref("HOLE", (10, 10))
    # up to 2006 the text is in a code page of its time, later in UTF-8
    data = bytes_of(document).decode().encode("cp1252" if version < "R2007" else "utf-8")
    tracing = read_pattern(data.replace(b"\n", ending), filename="a.dxf")
    assert [line.layer for line in tracing.lines] == ["SÄGE", "0"]
    assert tracing.lines[0].polygon.area == pytest.approx(600)
    assert tracing.lines[1].round is not None


def test_a_file_without_its_name_is_known_also_after_remarks() -> None:
    remarked = b"999\r\nmade by hand\r\n" + by_hand(square(20))
    assert len(read_pattern(remarked).lines) == 1

"""Drilled holes, small windows, corners, sizes and overlaps, each against a known measure."""

from __future__ import annotations

import json
import math

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from shapely import affinity
from shapely.geometry import Point, Polygon, box

from studio.core.checking import check
from studio.core.drawing import Drawing, DrillKind, DrillMark, Finding, Limits, Weight
from tests.shapes import SHARP_LEAF, SQUARE_40, circle, drawing, piece, with_windows


def found(outline: Polygon, code: str, limits: Limits | None = None) -> list[Finding]:
    return [each for each in check(drawing(outline), limits or Limits()) if each.code == code]


def drilled(outline: Polygon, *marks: DrillMark) -> list[Finding]:
    return list(check(Drawing((piece(outline, *marks),)), Limits()))


def ring(x: float, y: float, diameter: float = 1.6) -> DrillMark:
    return DrillMark(x, y, diameter, DrillKind.RING)


# Holes


def test_a_hole_two_millimetres_from_the_edge_passes_and_a_nearer_one_does_not() -> None:
    assert drilled(SQUARE_40, ring(2.8, 20)) == []
    (finding,) = drilled(SQUARE_40, ring(2.3, 20))
    assert (finding.code, finding.weight) == ("hole-edge", Weight.STOP)
    assert finding.value_mm == pytest.approx(1.5)
    assert finding.at == pytest.approx((0.75, 20))  # the middle of the metal that is left


def test_a_hole_in_a_corner_counts_the_nearest_edge() -> None:
    (finding,) = drilled(SQUARE_40, ring(2.5, 2.0))
    assert finding.value_mm == pytest.approx(1.2)
    assert finding.at == pytest.approx((2.5, 0.6))


def test_a_hole_too_near_both_outside_and_a_window_is_told_for_each() -> None:
    outline = with_windows(SQUARE_40, box(4.6, 10, 30, 30).buffer(-1).buffer(1))
    codes = [each for each in drilled(outline, ring(2.3, 20)) if each.code == "hole-edge"]
    assert [each.value_mm for each in codes] == pytest.approx([1.5, 1.5], abs=1e-6)


def test_a_hole_over_the_edge_leaves_nothing() -> None:
    (finding,) = drilled(SQUARE_40, ring(0.2, 20))
    assert finding.value_mm == 0.0
    (outside,) = drilled(SQUARE_40, ring(-5, 20))
    assert outside.value_mm == 0.0


def test_two_holes_are_measured_rim_to_rim() -> None:
    (finding,) = drilled(SQUARE_40, ring(20, 20, 1.0), ring(23, 20, 2.0))
    assert (finding.code, finding.value_mm) == ("holes-close", pytest.approx(1.5))
    assert drilled(SQUARE_40, ring(20, 20, 1.0), ring(23.5, 20, 2.0)) == []


def test_a_pilot_hole_may_lie_near_its_window_edge_but_not_over_it() -> None:
    outline = with_windows(SQUARE_40, circle(20, 20, 10))
    pilot = DrillMark(20, 20, 1.0, DrillKind.PILOT)
    assert drilled(outline, pilot) == []
    assert drilled(outline, DrillMark(24.4, 20, 1.0, DrillKind.PILOT)) == []
    (tight,) = drilled(outline, DrillMark(24.8, 20, 1.0, DrillKind.PILOT))
    assert (tight.code, tight.weight) == ("pilot-tight", Weight.CAUTION)
    (lost,) = drilled(outline, DrillMark(5, 5, 1.0, DrillKind.PILOT))
    assert lost.code == "pilot-tight"


def test_many_holes_give_a_bounded_list() -> None:
    marks = [ring(1 + n % 40, 1 + n // 40, 0.5) for n in range(600)]
    assert len(drilled(SQUARE_40, *marks)) <= 60


# Windows


@settings(max_examples=40, deadline=None)
@given(st.floats(0.5, 1.9), st.floats(0, 360))
def test_a_small_window_is_measured_by_the_widest_circle_inside(width: float, turn: float) -> None:
    window = affinity.rotate(box(20 - width / 2, 15, 20 + width / 2, 25), turn)
    (finding,) = found(with_windows(SQUARE_40, window), "window-small")
    assert finding.value_mm == pytest.approx(width, abs=0.01)
    assert Point(finding.at).within(window)


def test_a_window_is_wide_enough_when_the_blade_fits_somewhere() -> None:
    keyhole = circle(20, 20, 2.4).union(box(19.6, 12, 20.4, 20))
    assert found(with_windows(SQUARE_40, keyhole), "window-small") == []


def test_a_triangle_is_measured_by_its_inscribed_circle() -> None:
    # inscribed circle of an equilateral triangle: diameter = side / sqrt 3
    side = 3.0
    window = Polygon([(20, 20), (20 + side, 20), (20 + side / 2, 20 + side * math.sqrt(3) / 2)])
    (finding,) = found(with_windows(SQUARE_40, window), "window-small")
    assert finding.value_mm == pytest.approx(side / math.sqrt(3), abs=0.01)


def test_the_two_edges_of_a_pen_stroke_are_recognised() -> None:
    gull = circle(0, 0, 40).union(box(-30, -4, 30, 4))
    stroke = with_windows(gull, gull.buffer(-0.8))
    assert len(found(stroke, "stroke-edges")) == 1
    assert found(with_windows(gull, gull.buffer(-3)), "stroke-edges") == []
    assert found(with_windows(gull, circle(0, 0, 6)), "stroke-edges") == []


# Corners


def test_the_sharp_corners_of_a_piece_are_one_caution_at_the_first_of_them() -> None:
    (corners,) = found(with_windows(SQUARE_40, box(10, 10, 30, 30)), "corner-tight")
    assert corners.at in {(10, 10), (10, 30), (30, 10), (30, 30)}
    assert corners.message.startswith("4 inside corners are sharp")
    assert corners.value_mm == 0.0
    assert corners.weight is Weight.CAUTION


@pytest.mark.parametrize(
    ("radius", "tight"), [(0.2, True), (0.3, True), (0.55, False), (2.0, False)]
)
def test_rounded_window_corners_are_measured(radius: float, tight: bool) -> None:
    window = box(10, 10, 30, 30).buffer(-radius).buffer(radius, quad_segs=12)
    corners = found(with_windows(SQUARE_40, window), "corner-tight")
    assert len(corners) == (4 if tight else 0)
    for each in corners:
        assert each.value_mm == pytest.approx(radius, abs=0.08)


def test_an_inside_corner_of_the_outline_counts_an_outside_one_does_not() -> None:
    step = Polygon([(0, 0), (40, 0), (40, 20), (20, 20), (20, 40), (0, 40)])
    (corner,) = found(step, "corner-tight")
    assert corner.at == (20, 20)
    assert found(SQUARE_40, "corner-tight") == []


def test_the_corners_of_smooth_curves_are_not_corners() -> None:
    assert found(with_windows(circle(0, 0, 60, 90), circle(0, 0, 3, 24)), "corner-tight") == []


def test_many_tight_corners_are_summed_up() -> None:
    rounded = [
        box(x, 10, x + 2, 12).buffer(-0.2).buffer(0.2, quad_segs=12) for x in range(5, 95, 5)
    ]
    plate = with_windows(box(0, 0, 99, 20), *rounded)
    corners = found(plate, "corner-tight")
    assert len(corners) == 20
    assert "more inside corners" in corners[-1].message


@pytest.mark.parametrize(("degrees", "sharp"), [(12, True), (28, True), (32, False), (90, False)])
def test_points_sharper_than_thirty_degrees_prick(degrees: float, sharp: bool) -> None:
    half = 30 * math.tan(math.radians(degrees / 2))
    points = found(Polygon([(0, 0), (30, -half), (30, half)]), "point-sharp")
    assert ((0, 0) in [each.at for each in points]) is sharp


def test_a_rounded_tip_does_not_prick() -> None:
    assert found(SHARP_LEAF, "point-sharp") != []
    assert found(SHARP_LEAF.buffer(-0.5).buffer(0.5, quad_segs=16), "point-sharp") == []


# Sizes


def test_too_large_may_be_turned_by_a_quarter_but_not_more() -> None:
    limits = Limits(max_width_mm=60, max_height_mm=30)
    assert found(box(0, 0, 60, 30), "too-large", limits) == []
    assert found(box(0, 0, 30, 60), "too-large", limits) == []
    (finding,) = found(box(0, 0, 32, 60), "too-large", limits)
    assert (finding.value_mm, finding.limit_mm, finding.weight) == (32, 30, Weight.STOP)
    assert finding.at == (16, 30)


def test_too_small_to_hold_is_a_caution() -> None:
    (finding,) = found(box(0, 0, 8, 6), "too-small")
    assert (finding.value_mm, finding.weight) == (8, Weight.CAUTION)
    assert found(box(0, 0, 10, 3), "too-small") == []


def test_pieces_on_top_of_each_other_are_a_stop_and_pieces_side_by_side_are_not() -> None:
    overlap = check(drawing(box(0, 0, 20, 20), box(18, 5, 40, 15)), Limits())
    (finding,) = overlap
    assert (finding.code, finding.weight) == ("pieces-overlap", Weight.STOP)
    assert Point(finding.at).within(box(18, 5, 20, 15))
    assert check(drawing(box(0, 0, 20, 20), box(20, 0, 40, 20)), Limits()) == ()


def test_bars_that_cross_with_no_corner_inside_each_other_overlap() -> None:
    codes = [each.code for each in check(drawing(box(0, 10, 40, 15), box(18, 0, 23, 40)), Limits())]
    assert codes == ["pieces-overlap"]


def test_a_piece_in_another_ones_window_does_not_overlap_it() -> None:
    frame = with_windows(SQUARE_40, circle(20, 20, 30))
    assert check(drawing(frame, circle(20, 20, 20)), Limits()) == ()


# The list as a whole


def test_no_piece_at_all_is_a_stop() -> None:
    (finding,) = check(Drawing(()), Limits())
    assert (finding.code, finding.weight) == ("no-pieces", Weight.STOP)


def test_all_findings_come_at_once_stops_first() -> None:
    outline = with_windows(box(0, 0, 120, 40), box(1, 10, 20, 30), box(21, 10, 22, 30))
    result = check(Drawing((piece(outline, ring(60, 1)),)), Limits())
    stops = [each.code for each in result if each.weight is Weight.STOP]
    expected = {"too-large", "web-thin", "bridge-thin", "window-small", "hole-edge"}
    assert expected == set(stops)
    weights = [each.weight for each in result]
    assert weights == sorted(weights, key=lambda weight: weight is Weight.CAUTION)


def test_every_finding_can_be_stored_and_has_a_point_and_a_way_to_mend_it() -> None:
    outline = with_windows(box(0, 0, 120, 40), box(1, 10, 20, 30), box(21, 10, 22, 30))
    for finding in check(Drawing((piece(outline, ring(60, 1)),)), Limits()):
        again = Finding.from_json(json.loads(json.dumps(finding.to_json())))
        assert again.code == finding.code
        assert finding.at is not None
        assert finding.mend
        assert "None" not in finding.message


def test_a_hostile_number_of_findings_is_cut_short() -> None:
    grid = [box(x, y, x + 1, y + 1) for x in range(1, 95, 2) for y in range(1, 95, 2)]
    result = check(drawing(with_windows(box(0, 0, 96, 96), *grid[:1500])), Limits())
    assert len(result) <= 200


def test_a_drawing_mirrored_or_wound_the_other_way_gives_the_same_values() -> None:
    shape = with_windows(SQUARE_40, box(8, 10, 18, 30), box(19.5, 10, 30, 30))
    wound = Polygon(shape.exterior.coords[::-1], [ring.coords[::-1] for ring in shape.interiors])
    mirrored = affinity.scale(shape, -1, 1, origin=(20, 0))
    values = [
        sorted((each.code, round(each.value_mm or 0, 6)) for each in check(drawing(one), Limits()))
        for one in (shape, wound, mirrored)
    ]
    assert values[0] == values[1] == values[2]

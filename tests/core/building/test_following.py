"""Recipes followed step by step: joining, cutting, copying, holes at lawful distances."""

from __future__ import annotations

import math
from typing import Any

import pytest
from shapely.geometry import Polygon

from studio.core.building import EXAMPLES, build
from studio.core.checking import check
from studio.core.drawing import DrillKind, Limits

from .recipes import LIMITS, built, read, read_back, recipe

DISC = {"kind": "circle", "diameter": 30}
HOLE = {"kind": "hole", "diameter": 1.6}


@pytest.mark.parametrize("example", EXAMPLES, ids=lambda example: example.name)
def test_an_example_is_lawful_as_it_stands(example: Any) -> None:
    made = build(example.recipe, LIMITS)
    drawing, findings = read_back(made)
    assert drawing.pieces
    assert not findings
    assert not check(drawing, LIMITS)
    assert not made.remarks


def test_shapes_that_touch_become_one_piece_and_a_cut_makes_a_window() -> None:
    (piece,) = read(
        DISC,
        {"kind": "rectangle", "width": 30, "height": 10, "corner": 0, "x": 15},
        {"kind": "circle", "diameter": 10, "role": "window"},
    ).pieces
    assert len(piece.outline.interiors) == 1
    half = 15**2 * math.asin(5 / 15) + 5 * math.sqrt(15**2 - 5**2)  # of the disc, 10 mm high
    joined = math.pi * 15**2 + 30 * 10 - half
    assert piece.area_mm2 == pytest.approx(joined - math.pi * 25, abs=1.0)


def test_a_piece_of_its_own_takes_the_place_of_the_metal_under_it() -> None:
    drawing = read(DISC, {"kind": "polygon", "sides": 4, "diameter": 12, "joins": "apart"})
    assert len(drawing.pieces) == 2
    outer, inner = sorted((p.outline for p in drawing.pieces), key=lambda p: -p.area)
    assert inner.area == pytest.approx(72)
    assert outer.exterior.distance(inner) > 8
    assert outer.distance(inner) == pytest.approx(LIMITS.kerf_mm, abs=0.01)


def test_pieces_of_their_own_that_only_touch_keep_their_edges() -> None:
    square = {"kind": "rectangle", "width": 12, "height": 12, "corner": 0, "joins": "apart"}
    one, other = (piece.outline for piece in read(square, {**square, "x": 12}).pieces)
    assert one.area == other.area == 144
    assert one.intersection(other).length == 12


def test_a_shape_goes_around_a_middle_and_into_a_mirror() -> None:
    drop = {"kind": "drop", "role": "window", "width": 4, "length": 7, "y": 9}
    (around,) = read(DISC, {**drop, "copies": "around", "count": 5}).pieces
    assert len(around.outline.interiors) == 5
    angles = sorted(
        math.degrees(math.atan2(*reversed(_middle(around.outline, ring)))) % 72
        for ring in around.outline.interiors
    )
    assert angles[-1] - angles[0] < 0.01
    (mirrored,) = read(DISC, {**drop, "x": 5, "y": 5, "mirror": "both"}).pieces
    assert len(mirrored.outline.interiors) == 4
    row = read({**DISC, "diameter": 8, "copies": "row", "count": 3, "dx": 10})
    assert [round(piece.outline.centroid.x, 3) for piece in row.pieces] == [
        pytest.approx(row.pieces[0].outline.centroid.x + 10 * k, abs=0.001) for k in range(3)
    ]


def _middle(outline: Polygon, ring: Any) -> tuple[float, float]:
    at, whole = Polygon(ring).centroid, Polygon(outline.exterior).centroid
    return at.x - whole.x, at.y - whole.y


def test_steps_for_it_all_take_holes_and_lines_along() -> None:
    (piece,) = read(
        {"kind": "circle", "diameter": 20, "x": 6},
        {"kind": "hole", "found": "here", "x": 12, "purpose": "rivet"},
        {"kind": "stroke", "length": 6, "x": 6},
        {"kind": "all-mirror", "mirror": "across"},
        {"kind": "all-change", "percent": 150},
    ).pieces
    marks = sorted(mark.x_mm for mark in piece.drill_marks)
    assert marks[1] - marks[0] == pytest.approx(36, abs=1e-5)
    assert [mark.diameter_mm for mark in piece.drill_marks] == [1.6, 1.6]  # a drill stays a drill
    assert [line.length for line in piece.surface_lines] == [pytest.approx(9)] * 2


def test_a_frame_of_it_all_leaves_its_width() -> None:
    (piece,) = read(DISC, {"kind": "all-frame", "frame": 5}).pieces
    (window,) = piece.outline.interiors
    assert Polygon(window).area == pytest.approx(math.pi * 100, rel=0.002)
    assert window.distance(piece.outline.exterior) == pytest.approx(5, abs=0.02)


@pytest.mark.parametrize("direction", [0, 45, 90, 200, 270])
@pytest.mark.parametrize("least", [1.0, 2.0, 3.5])
def test_a_hole_finds_the_lawful_place_nearest_to_the_edge(direction: float, least: float) -> None:
    limits = Limits(least_hole_edge_mm=least)
    made = build(recipe(DISC, {**HOLE, "direction": direction}), limits)
    (piece,) = read_back(made)[0].pieces
    (mark,) = piece.drill_marks
    metal = piece.outline.exterior.distance(mark.centre) - 0.8
    assert least <= metal < least + 0.1
    assert mark.kind is DrillKind.RING
    middle = piece.outline.centroid
    angle = math.degrees(math.atan2(mark.y_mm - middle.y, mark.x_mm - middle.x))
    assert (angle - direction + 180) % 360 - 180 == pytest.approx(0, abs=0.5)


def test_a_hole_heeds_windows_that_are_cut_after_it() -> None:
    drawing = read(DISC, HOLE, {"kind": "circle", "diameter": 20, "role": "window"})
    (piece,) = drawing.pieces
    assert len(piece.drill_marks) == 0  # a band of 5 mm has no room for 1.6 mm and twice 2 mm
    wider = read(DISC, HOLE, {"kind": "circle", "diameter": 18, "role": "window"})
    assert len(wider.pieces[0].drill_marks) == 1
    assert not check(wider, LIMITS)


def test_a_hole_without_room_is_told_and_not_drilled() -> None:
    made = built({"kind": "circle", "diameter": 5}, HOLE)
    assert "no room" in made.remarks["2"]
    assert not read_back(made)[0].pieces[0].drill_marks


def test_every_piece_may_get_its_hole() -> None:
    drawing = read(
        {"kind": "drop", "width": 14, "length": 24, "x": -12, "mirror": "across"},
        {**HOLE, "on": "every"},
    )
    assert [len(piece.drill_marks) for piece in drawing.pieces] == [1, 1]


def test_drilled_holes_stay_true_circles() -> None:
    (piece,) = read(DISC, {**HOLE, "diameter": 5.5, "found": "here", "purpose": "rivet"}).pieces
    (mark,) = piece.drill_marks
    assert mark.diameter_mm == 5.5
    assert mark.kind is DrillKind.RIVET
    assert not piece.outline.interiors


def test_a_small_disc_that_is_cut_away_is_a_window_and_no_drill_mark() -> None:
    (piece,) = read(DISC, {"kind": "circle", "diameter": 3, "role": "window"}).pieces
    assert len(piece.outline.interiors) == 1
    assert not piece.drill_marks


def test_engraved_lines_end_at_the_rim_and_at_windows() -> None:
    (piece,) = read(
        DISC,
        {"kind": "circle", "diameter": 10, "role": "window"},
        {"kind": "stroke", "length": 50},
    ).pieces
    assert [line.length for line in piece.surface_lines] == [pytest.approx(10, abs=0.02)] * 2


def test_a_bent_line_is_as_long_as_told() -> None:
    (piece,) = read(
        {"kind": "circle", "diameter": 50}, {"kind": "stroke", "length": 20, "bend": 90}
    ).pieces
    assert piece.surface_lines[0].length == pytest.approx(20, abs=0.01)


def test_what_does_nothing_is_told() -> None:
    made = built(
        DISC,
        {"kind": "circle", "diameter": 5, "x": 100, "role": "window"},
        {"kind": "star", "round_out": 20},
    )
    assert "no metal" in made.remarks["2"]
    assert "Nothing is left" in made.remarks["3"]


def test_nothing_makes_nothing() -> None:
    assert not built().sheet.layers

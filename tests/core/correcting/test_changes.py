"""What a student can change of the lines as read, and what becomes of them."""

from __future__ import annotations

import math

import pytest

from studio.core.correcting import (
    MAX_CHANGES,
    AddPoint,
    CannotChange,
    Change,
    Diameter,
    Join,
    MoveLine,
    MovePoint,
    Name,
    NewHole,
    Redraw,
    RemovePoint,
    change_from_json,
    change_to_json,
    corrected,
    gaps,
)
from studio.core.drawing import DrillKind
from studio.core.reading import Tracing, assemble
from studio.core.reading.tracing import Round

from .making import SQUARE, hole, line, tracing


def only(after: Tracing) -> tuple[tuple[float, float], ...]:
    assert len(after.lines) == 1
    return after.lines[0].points


def test_the_tracing_as_read_stays_as_it_is() -> None:
    read = tracing(line(1, SQUARE))
    before = read.to_json()
    corrected(read, [MovePoint("1", 0, (5.0, 5.0)), NewHole((10.0, 10.0), 2.0)])
    assert read.to_json() == before


def test_a_point_goes_where_it_is_put() -> None:
    after = corrected(tracing(line(1, SQUARE)), [MovePoint("1", 2, (25.0, 22.0))])
    assert only(after) == ((0, 0), (20, 0), (25.0, 22.0), (0, 20))


def test_neighbours_within_the_reach_follow_a_point_less_and_less() -> None:
    read = tracing(line(1, [(x, 0) for x in range(11)], closed=False))
    after = only(corrected(read, [MovePoint("1", 5, (5.0, 1.0), reach_mm=4.0)]))
    heights = [y for _, y in after]
    assert heights[5] == 1.0
    assert heights[3] == heights[7] == pytest.approx(0.5)  # halfway along the reach: half a cosine
    assert heights[4] == pytest.approx(0.5 * (1 + math.cos(math.pi / 4)), abs=1e-6)
    assert heights[1] == heights[9] == 0.0
    assert [x for x, _ in after] == list(range(11))


def test_the_reach_goes_round_a_closed_line() -> None:
    read = tracing(line(1, SQUARE))
    after = only(corrected(read, [MovePoint("1", 0, (-2.0, -2.0), reach_mm=40.0)]))
    assert after[1] == pytest.approx((19.0, -1.0))
    assert after[3] == pytest.approx((-1.0, 19.0))
    assert after[2] == (20.0, 20.0)


def test_points_are_added_and_removed() -> None:
    read = tracing(line(1, SQUARE))
    more = corrected(read, [AddPoint("1", 0, (10.0, -3.0))])
    assert only(more)[1] == (10.0, -3.0)
    assert only(corrected(more, [RemovePoint("1", 1)])) == only(read)
    last = corrected(read, [AddPoint("1", 3, (-3.0, 10.0))])
    assert only(last)[-1] == (-3.0, 10.0)


def test_a_line_is_closed_by_joining_its_ends() -> None:
    read = tracing(line(1, [(0.1, 0), (20, 0), (20, 20), (0, 20), (0, 0.1)], closed=False))
    assert not assemble(read).drawing.pieces
    after = corrected(read, [Join("1", "first", "1", "last")])
    assert after.lines[0].closed
    assert only(after)[0] == pytest.approx((0.05, 0.05))  # a small gap is welded in the middle
    assert assemble(after).drawing.pieces[0].area_mm2 == pytest.approx(400, abs=2)


def test_a_wide_gap_is_bridged_straight() -> None:
    read = tracing(line(1, [(0, 0), (20, 0), (20, 20), (0, 20)], closed=False))
    after = corrected(read, [Join("1", "last", "1", "first")])
    assert only(after) == only(read)
    assert assemble(after).drawing.pieces[0].area_mm2 == pytest.approx(400)


@pytest.mark.parametrize("end", ["first", "last"])
@pytest.mark.parametrize("other_end", ["first", "last"])
def test_two_lines_become_one_that_keeps_the_first_ones_id(end: str, other_end: str) -> None:
    one = [(0.0, 0.0), (10.0, 0.0)] if end == "last" else [(10.0, 0.0), (0.0, 0.0)]
    two = [(11.0, 0.0), (20.0, 5.0)] if other_end == "first" else [(20.0, 5.0), (11.0, 0.0)]
    read = tracing(line(7, one, closed=False), line(9, two, closed=False))
    after = corrected(read, [Join("7", end, "9", other_end)])
    assert [each.id for each in after.lines] == ["7"]
    straight = only(after) if end == "last" else only(after)[::-1]
    assert straight == ((0, 0), (10, 0), (11, 0), (20, 5))


def test_closing_a_line_that_a_scan_called_a_surface_line_lets_the_rule_decide_again() -> None:
    outline = line(1, [(-10, -10), (30, -10), (30, 30), (-10, 30)])
    inner = line(2, [(0, 0), (20, 0), (20, 20), (0, 19)], closed=False, hint="surface")
    after = corrected(tracing(outline, inner), [Join("2", "first", "2", "last")])
    assert assemble(after).drawing.window_count == 1


def test_a_holes_diameter_is_set_about_its_own_middle() -> None:
    read = tracing(line(1, SQUARE), hole(2, 10, 10, 1.1))
    after = corrected(read, [Diameter("2", 2.05)])
    (mark,) = assemble(after).drawing.pieces[0].drill_marks
    assert (mark.x_mm, mark.y_mm, mark.diameter_mm) == (10, 10, 2.05)


def test_a_blot_becomes_a_true_circle_about_its_middle() -> None:
    blot = line(2, [(9, 9), (11, 9), (11, 11), (9, 11)])
    after = corrected(tracing(line(1, SQUARE), blot), [Diameter("2", 1.0)])
    (mark,) = assemble(after).drawing.pieces[0].drill_marks
    assert (mark.x_mm, mark.y_mm) == pytest.approx((10, 10))


@pytest.mark.parametrize("top", [10.0, 10.000001, 10.2])
def test_a_line_that_crosses_itself_is_drilled_where_it_is(top: float) -> None:
    """The two halves of an eight weigh against each other: their common middle is anywhere."""
    eight = line(2, [(20, 20), (30, 20 + top), (30, 20), (20, 30)])
    after = corrected(tracing(line(1, SQUARE), eight), [Diameter("2", 1.0)])
    circle = after.lines[1].round
    assert circle is not None
    assert (circle.x_mm, circle.y_mm) == pytest.approx((25, 25), abs=0.2)


def test_a_new_hole_is_a_drill_mark_and_says_by_its_place_what_for() -> None:
    read = tracing(line(4, SQUARE))
    after = corrected(read, [NewHole((10.0, 17.5), 1.5)])
    assert [each.id for each in after.lines] == ["4", "5"]
    (mark,) = assemble(after).drawing.pieces[0].drill_marks
    assert mark.kind is DrillKind.RING


def test_a_drill_mark_moved_stays_one() -> None:
    read = tracing(line(1, SQUARE), hole(2, 10, 10, 1.1))
    after = corrected(read, [MoveLine("2", (0.0, 5.0))])
    (mark,) = assemble(after).drawing.pieces[0].drill_marks
    assert (mark.x_mm, mark.y_mm, mark.diameter_mm) == (10, 15, 1.1)


def test_a_line_is_redrawn() -> None:
    read = tracing(line(1, [*SQUARE, (0, 10.1)]))
    after = corrected(read, [Redraw("1", SQUARE, closed=True, why="straighten")])
    assert only(after) == SQUARE


def test_a_circle_that_is_pulled_out_of_shape_is_no_circle_any_more() -> None:
    read = tracing(hole(1, 0, 0, 20))
    after = corrected(read, [MovePoint("1", 0, (14.0, 0.0))])
    assert after.lines[0].round is None


REFUSED: list[tuple[Change, str]] = [
    (MovePoint("9", 0, (0.0, 0.0)), "not in this pattern"),
    (MovePoint("1", 4, (0.0, 0.0)), "not on the line"),
    (RemovePoint("2", 0), "two points"),
    (AddPoint("2", 1, (5.0, 5.0)), "between two others"),
    (Join("1", "first", "1", "last"), "open ends"),
    (Join("2", "first", "2", "first"), "its two ends"),
    (Diameter("2", 1.0), "closed line"),
    (Redraw("1", (), closed=True), "three points"),
    (Redraw("1", ((0.0, 0.0), (0.01, 0.0), (0.0, 0.01)), closed=True), "too small"),
    (Redraw("1", ((0.0, 0.0), (3000.0, 0.0), (0.0, 9.0)), closed=True), "2,000 mm"),
    (Redraw("1", SQUARE[:2], closed=False, round=Round(0, 0, 2)), "closed line"),
    (Name((("9", "window"),)), "not in this pattern"),
]


@pytest.mark.parametrize(("change", "words"), REFUSED)
def test_what_cannot_be_is_said_in_words(change: Change, words: str) -> None:
    read = tracing(line(1, SQUARE), line(2, [(30, 0), (40, 0)], closed=False))
    with pytest.raises(CannotChange, match=words):
        corrected(read, [change])


def test_there_is_an_end_to_changing() -> None:
    read = tracing(line(1, SQUARE))
    with pytest.raises(CannotChange, match="bring the file"):
        corrected(read, [MovePoint("1", 0, (0.0, 0.0))] * (MAX_CHANGES + 1))


def test_ends_that_nearly_meet_are_offered_nearest_first() -> None:
    read = tracing(
        line(1, [(0, 0), (20, 0)], closed=False),
        line(2, [(20.4, 0), (20, 20), (0, 20), (0, 1.5)], closed=False),
        line(3, [(50, 0), (60, 0)], closed=False),
    )
    labels = {each: str(label) for each, label in assemble(read).labels.items()}
    offered = gaps(read, labels)
    assert [(one.line, one.end, one.other, one.other_end) for one in offered] == [
        ("1", "last", "2", "first"),
        ("1", "first", "2", "last"),
    ]
    assert [one.width_mm for one in offered] == [0.4, 1.5]
    joined = corrected(read, [Join("1", "last", "2", "first"), Join("1", "first", "1", "last")])
    assert assemble(joined).drawing.pieces


def test_an_outline_whose_side_is_missing_is_offered_to_be_closed() -> None:
    read = tracing(line(1, SQUARE, closed=False))
    (offered,) = gaps(read, {"1": "open"})
    assert offered.width_mm == 20.0
    assert offered.line == offered.other


def test_hatching_and_short_strokes_are_no_gaps() -> None:
    strokes = [line(n, [(n, 0), (n, 9)], closed=False) for n in range(1, 9, 2)]
    assert gaps(tracing(*strokes), dict.fromkeys("1357", "surface")) == ()
    assert gaps(tracing(line(1, [(0, 0), (2, 0)], closed=False)), {"1": "open"}) == ()


def test_every_change_comes_back_from_json_as_it_was() -> None:
    changes: list[Change] = [
        Redraw("1", SQUARE, closed=True, round=Round(0, 0, 2), why="circle"),
        MovePoint("1", 2, (1.5, -2.0), 3.0),
        AddPoint("1", 0, (1.0, 1.0)),
        RemovePoint("1", 3),
        MoveLine("2", (0.1, -0.1)),
        Join("1", "last", "2", "first"),
        Diameter("3", 1.016),
        NewHole((3.0, 4.0), 2.05),
        Name((("1", "window"), ("2", ""))),
    ]
    for change in changes:
        assert change_from_json(change_to_json(change)) == change
        assert change_from_json(change_to_json(change) | {"more": True, "before": {}}) == change

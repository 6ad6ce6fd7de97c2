"""Sawing in turns, and blank by blank."""

from __future__ import annotations

import pytest
from shapely.geometry import box

from studio.core.cutting import Job, Wanted
from studio.core.picturing.sawing_order import LineKind, sawing_orders
from tests.core.placing.jobs import at, frame, sheet, square

from .shared import parted

WINDOW, OUTLINE = LineKind.WINDOW, LineKind.OUTLINE


def two_students() -> Job:
    frames = frame(30, 30, 5)
    return Job(
        (sheet(),), (Wanted("a", frames, 2, group="ada"), Wanted("b", frames, 2, group="ben"))
    )


LAID = [at("a", 0, 0, 0), at("b", 0, 40, 0), at("a", 1, 80, 0), at("b", 1, 120, 0)]


def test_each_students_windows_and_outlines_follow_each_other() -> None:
    (order,) = sawing_orders(two_students(), LAID, turns=("ben", "ada"))
    assert [(line.number, line.kind, line.piece) for line in order.lines] == [
        (1, WINDOW, "b"),
        (2, WINDOW, "b"),
        (3, OUTLINE, "b"),
        (4, OUTLINE, "b"),
        (5, WINDOW, "a"),
        (6, WINDOW, "a"),
        (7, OUTLINE, "a"),
        (8, OUTLINE, "a"),
    ]
    assert [hole.piece for hole in order.holes] == ["b", "b", "a", "a"]
    assert [hole.number for hole in order.holes] == [1, 2, 3, 4]


def test_without_turns_all_windows_come_first() -> None:
    (order,) = sawing_orders(two_students(), LAID)
    assert [line.kind for line in order.lines] == [WINDOW] * 4 + [OUTLINE] * 4


def test_who_has_no_turn_comes_last() -> None:
    (order,) = sawing_orders(two_students(), LAID, turns=("ben",))
    assert [line.piece for line in order.lines] == ["b"] * 4 + ["a"] * 4


def test_turns_change_whose_line_a_shared_cut_is_and_nothing_else() -> None:
    """Two squares of 20 side by side, one kerf apart: seven sides in all, three of them free."""
    job = Job(
        (sheet(),), (Wanted("a", square(20), group="ada"), Wanted("b", square(20), group="ben"))
    )
    laid = [at("a", 0, 0, 0), at("b", 0, 20.3, 0)]
    for turns in ((), ("ada", "ben"), ("ben", "ada")):
        (order,) = sawing_orders(job, laid, turns=turns)
        first, second = order.lines
        assert order.length_mm == pytest.approx(80.0)
        assert (first.already_mm, second.already_mm) == pytest.approx((0.0, 20.0))
        if turns:
            assert first.piece == {"ada": "a", "ben": "b"}[turns[0]]


def test_a_piece_in_a_window_of_another_keeps_its_own_turn() -> None:
    job = Job(
        (sheet(),),
        (Wanted("a", frame(60, 60, 8), group="ada"), Wanted("b", square(20), group="ben")),
    )
    laid = [at("a", 0, 0, 0), at("b", 0, 20, 20)]
    (order,) = sawing_orders(job, laid, turns=("ada", "ben"))
    assert [(line.kind, line.piece) for line in order.lines] == [
        (WINDOW, "a"),
        (OUTLINE, "a"),
        (OUTLINE, "b"),
    ]
    assert not box(20, 20, 40, 40).intersects(order.holes[0].at)


def test_cuts_are_numbered_first_and_then_each_blank_by_itself() -> None:
    job, plan = parted("saw")
    (order,) = sawing_orders(job, plan.placements, cuts=plan.cuts)
    assert [cut.number for cut in order.parting] == [1, 2]
    assert [(line.number, line.piece) for line in order.lines] == [
        (3, "b"),
        (4, "b"),
        (5, "a"),
        (6, "a"),
    ]


def test_saw_cuts_count_as_sawing_and_shear_cuts_do_not() -> None:
    """Cuts of 100 and 60 mm, the second less half a kerf where the first has taken it."""
    for way, cut in (("saw", 159.85), ("shear", 160.0)):
        job, plan = parted("saw" if way == "saw" else "shear")
        (order,) = sawing_orders(job, plan.placements, cuts=plan.cuts)
        assert order.parting_mm == pytest.approx(cut)
        assert order.sawn_mm == pytest.approx(plan.measures.saw_line_mm)
        assert order.sawn_mm - order.length_mm == pytest.approx(cut if way == "saw" else 0.0)
        assert plan.measures.cut_line_mm == pytest.approx(0.0 if way == "saw" else cut)


def test_offcuts_are_freed_on_their_own_blank() -> None:
    job, plan = parted("shear")
    (order,) = sawing_orders(job, plan.placements, None, 76.0, plan.offcuts, cuts=plan.cuts)
    blanks = {blank.part: blank.outline for blank in plan.blanks}
    numbers = [cut.number for cut in order.offcut_cuts]
    assert numbers == list(range(7, 7 + len(numbers)))
    for cut in order.offcut_cuts:
        assert any(blank.buffer(0.01).covers(cut.line) for blank in blanks.values())

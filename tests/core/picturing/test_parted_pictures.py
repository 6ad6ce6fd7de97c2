"""What a parted stock piece shows: cuts, blanks, and what goes back to the rack at once."""

from __future__ import annotations

import re

import pytest

from studio.core.picturing.edges import Edges
from studio.core.picturing.parted.pictures import blank_alone
from studio.core.picturing.plan import picture

from .shared import parted


def test_cuts_are_numbered_in_order_and_drawn_where_they_run() -> None:
    (shown,) = picture(*parted("shear"))
    assert [(cut.number, cut.part, cut.makes) for cut in shown.cuts] == [
        (1, 0, (1, 2)),
        (2, 1, (3, 4)),
    ]
    assert [cut.path for cut in shown.cuts] == ["M60 100L60 0", "M0 50L60 50"]
    assert [cut.length_mm for cut in shown.cuts] == [100.0, 60.0]
    assert not shown.sawn_apart
    assert [cut.kerf for cut in shown.cuts] == ["", ""]


def test_a_saw_takes_a_kerf_that_is_drawn() -> None:
    (shown,) = picture(*parted("saw"))
    assert shown.sawn_apart
    assert shown.cuts[0].kerf.startswith("M")
    assert set(re.findall(r"[ML](\S+) ", shown.cuts[0].kerf)) == {"59.85", "60.15"}


def test_blanks_have_their_students_letter_and_mark() -> None:
    job, plan = parted("shear")
    (shown,) = picture(job, plan)
    assert [(blank.part, blank.label) for blank in shown.blanks] == [(3, "B"), (4, "A")]
    assert [(blank.longer_mm, blank.shorter_mm) for blank in shown.blanks] == [(60, 50)] * 2
    for blank in shown.blanks:
        assert blank.mark is not None
        assert blank.mark.letter == blank.label
    assert {piece.mark.letter for piece in shown.pieces if piece.mark} == {"A", "B"}


def test_the_rest_of_the_sheet_goes_back_at_once_and_a_blanks_rest_with_its_student() -> None:
    (shown,) = picture(*parted("shear"))
    at_once = [one for one in shown.offcuts if one.at_once]
    assert [(one.longer_mm, one.shorter_mm) for one in at_once] == [
        pytest.approx((140, 100), abs=0.1)
    ]
    assert len(shown.offcuts) > 1


def test_one_blank_alone_shows_one_student_in_the_same_colour() -> None:
    job, plan = parted("shear")
    (shown,) = picture(*blank_alone(job, plan, "S1", 4))
    assert (shown.width_mm, shown.height_mm) == (60, 50)
    assert [piece.label for piece in sorted(shown.pieces, key=lambda one: one.label)] == [
        "A1",
        "A2",
    ]
    assert {piece.mark.letter for piece in shown.pieces if piece.mark} == {"A"}
    assert shown.cuts == ()
    assert [start.number for start in shown.starts if start.kind != "offcut"] == [1, 2]


def test_edges_that_cuts_have_made_are_not_clean() -> None:
    job, plan = parted("shear")
    (shown,) = picture(*blank_alone(job, plan, "S1", 4))
    assert shown.edges == Edges.BOTH
    points = set(re.findall(r"[ML](\S+ [\d.]+)", shown.clean))
    assert points == {"60 50", "0 50", "0 0"}  # its left and lower edges are the sheet's own


def test_a_plan_that_is_not_parted_has_neither_cuts_nor_blanks() -> None:
    job, plan = parted("shear")
    alone_job, alone = blank_alone(job, plan, "S1", 3)
    (shown,) = picture(alone_job, alone)
    assert (shown.cuts, shown.blanks, shown.parting_mm) == ((), (), 0)
    assert not any(offcut.at_once for offcut in shown.offcuts)

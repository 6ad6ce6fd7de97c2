"""Cuts between what lies: found where straight cuts can part it, and the judge agrees."""

from __future__ import annotations

import pytest
from shapely.geometry import Polygon, box

from studio.core.cutting import Job, Placement
from studio.core.cutting.job import Hands, Parting, Stock, Wanted
from studio.core.laying_out.cuts_between import cuts_between
from studio.core.verifying import faults

SHEAR = Parting("shear", 1.0, 5.0)
SAW = Parting("saw", 2.0, 5.0, throat_mm=76.0)


def asked(
    *outlines: Polygon, sheet: Polygon | None = None, parting: Parting = SHEAR
) -> tuple[Job, tuple[Placement, ...]]:
    """Each outline is a group's, and lies where it was drawn."""
    pieces = tuple(
        Wanted(str(number), outline, group=f"student-{number}")
        for number, outline in enumerate(outlines)
    )
    job = Job(
        metal=(Stock("S1", box(0, 0, 100, 100) if sheet is None else sheet),),
        pieces=pieces,
        hands=Hands(1.0, 0.5),
        edge_margin_mm=1.0,
        parting=parting,
    )
    return job, tuple(Placement(one.id, 0, "S1", False, 0.0, 0.0, 0.0) for one in pieces)


def rows_of(count: int, side: float, apart: float) -> list[Polygon]:
    step = side + apart
    return [
        box(5 + step * x, 5 + step * y, 5 + step * x + side, 5 + step * y + side)
        for y in range(count)
        for x in range(count)
    ]


@pytest.mark.parametrize(("parting", "apart"), [(SHEAR, 2.0), (SAW, 4.3)])
def test_a_grid_is_parted_and_the_judge_finds_no_fault(parting: Parting, apart: float) -> None:
    """n pieces of metal, each cut making one more: nine squares need at least eight cuts. The
    distances are twice the margin and, with the saw, one kerf (0.3 mm)."""
    job, laid = asked(*rows_of(3, 25.0, apart), parting=parting)
    cuts = cuts_between(job, laid)
    assert cuts is not None
    assert len(cuts) == 8
    assert faults(job, laid, cuts) == ()


@pytest.mark.parametrize(("parting", "apart"), [(SHEAR, 1.99), (SAW, 4.29)])
def test_a_hair_nearer_there_is_no_room_for_a_cut(parting: Parting, apart: float) -> None:
    job, laid = asked(*rows_of(3, 25.0, apart), parting=parting)
    assert cuts_between(job, laid) is None


PINWHEEL = (
    box(0, 0, 60, 30),
    box(70, 0, 100, 60),
    box(40, 70, 100, 100),
    box(0, 40, 30, 100),
    box(40, 40, 60, 60),
)
"""Four rectangles around a fifth: the smallest pattern that no cuts from edge to edge part
(Gilmore & Gomory, Operations Research 13, 1965, call what can be parted so guillotine patterns)."""


def test_a_pinwheel_cannot_be_parted() -> None:
    job, laid = asked(*PINWHEEL)
    assert cuts_between(job, laid) is None


@pytest.mark.parametrize("left", range(4))
def test_without_one_of_its_arms_it_can(left: int) -> None:
    job, laid = asked(*(one for number, one in enumerate(PINWHEEL) if number != left))
    cuts = cuts_between(job, laid)
    assert cuts is not None
    assert len(cuts) == 3
    assert faults(job, laid, cuts) == ()


def test_a_slanted_cut_goes_where_no_level_one_does() -> None:
    one = Polygon([(5, 5), (85, 5), (5, 85)])
    other = Polygon([(95, 95), (95, 15), (15, 95)])
    job, laid = asked(one, other)
    cuts = cuts_between(job, laid)
    assert cuts is not None
    assert faults(job, laid, cuts) == ()


def test_a_frame_parts_no_sheet_down_its_length() -> None:
    """Common practice, no source: a frame of 76 mm cannot part a sheet down its length.

    300 mm wide and long, the middle of such a cut is 150 mm from the edge; at 60 mm from one
    it is reached."""
    sheet = box(0, 0, 300, 300)
    halves = box(5, 5, 145, 295), box(155, 5, 295, 295)
    assert cuts_between(*asked(*halves, sheet=sheet, parting=SAW)) is None
    strip = box(5, 5, 55, 295), box(65, 5, 295, 295)
    job, laid = asked(*strip, sheet=sheet, parting=SAW)
    cuts = cuts_between(job, laid)
    assert cuts is not None
    assert faults(job, laid, cuts) == ()


def test_a_short_shear_cuts_across_and_not_along() -> None:
    sheet = box(0, 0, 200, 100)
    short = Parting("shear", 1.0, 5.0, cut_longest_mm=150.0)
    across = box(5, 5, 95, 95), box(105, 5, 195, 95)
    along = box(5, 5, 195, 45), box(5, 55, 195, 95)
    assert cuts_between(*asked(*across, sheet=sheet, parting=short)) is not None
    assert cuts_between(*asked(*along, sheet=sheet, parting=short)) is None


def test_no_strip_is_left_narrower_than_hands_hold() -> None:
    """The left piece ends at x = 94, so the cut is at 95 at the least, and 5 mm are left."""
    pieces = box(5, 5, 94, 95), box(96.5, 5, 99, 95)
    assert cuts_between(*asked(*pieces, parting=Parting("shear", 1.0, 5.1))) is None
    assert cuts_between(*asked(*pieces, parting=Parting("shear", 1.0, 5.0))) is not None


def test_one_group_needs_no_cut() -> None:
    job, laid = asked(box(5, 5, 40, 40))
    assert cuts_between(job, laid) == ()

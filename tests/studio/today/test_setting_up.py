"""From an empty school to the first brief: the first page names the one thing that comes next."""

from __future__ import annotations

from decimal import Decimal

from django.utils import timezone

from classroom.models import Course, Seat
from inventory.buying import receiving
from inventory.buying.sheet_line import SheetLine
from inventory.models import Metal
from inventory.spending import ledger
from studio.models import Brief
from studio.telling.today.setting_up import setting_up
from tests.people import Cast


def next_title(cast: Cast) -> str:
    way = setting_up(cast.teacher)
    return way.now.title if way else ""


def test_each_thing_that_is_there_makes_room_for_the_next(cast: Cast) -> None:
    seats = Seat.objects.filter(course=cast.course)
    seats.update(left_at=timezone.now())
    assert next_title(cast) == "Name the metals that you saw"
    metal = Metal.objects.create(
        school=cast.school, alloy_code="C11000", thickness_mm=Decimal("0.812")
    )
    assert next_title(cast) == "Put metal on the rack"
    line = SheetLine(metal, 1, Decimal(150), Decimal(300), total=Decimal("31.40"))
    receiving.receive_purchase(
        cast.school, [line], acting=cast.teacher, bought_on=cast.course.starts_on
    )
    assert next_title(cast) == f"Add the students of {cast.course}"
    seats.update(left_at=None)
    assert next_title(cast) == f"Give {cast.course} a metal budget"
    ledger.allot(ledger.open_budget(cast.course), 50, acting=cast.teacher, reason="Term money")
    assert next_title(cast) == f"Write a brief for {cast.course}"
    Brief.objects.create(
        course=cast.course, title="Pendant", allowance=Decimal(2), created_by=cast.teacher
    )
    assert setting_up(cast.teacher) is None


def test_a_teacher_without_a_course_begins_with_one_and_sees_the_whole_way(cast: Cast) -> None:
    Course.objects.update(closed_at=timezone.now())
    way = setting_up(cast.teacher)
    assert way is not None
    assert way.now.title == "Begin with a course"
    assert [one["label"] for one in way.trail] == [
        "Course",
        "Metals",
        "Rack",
        "Class list",
        "Budget",
        "Brief",
    ]
    assert [one["state"] for one in way.trail].count("current") == 1

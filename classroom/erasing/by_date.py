"""Names whose years are over.

Titles, remarks and file names that people typed are not searched; the page says so.
"""

from __future__ import annotations

import datetime as dt
from collections.abc import Iterable

from django.db import transaction
from django.db.models import Max
from django.utils import timezone

from classroom.models import Erasure, Role, School, User

from .names import may_erase, scrub_diary, take_name


def due(school: School, day: dt.date) -> list[User]:
    """Students whose last course ended so long ago that their names may go; `last_end` is set.

    A student without a course has no such day and is left alone.
    """
    return list(
        User.objects.filter(school=school, role=Role.STUDENT, erasure=None)
        .annotate(last_end=Max("seats__course__ends_on"))
        .filter(last_end__lte=_before(day, school.keep_years))
        .order_by("display_name", "pk")
    )


@transaction.atomic
def erase_due(
    school: School, *, acting: User | None, only: Iterable[int] | None = None
) -> list[User]:
    """Erase the names that are due (of them, those in `only`); harmless to repeat.

    `acting` is None for the scheduled command. Raises Refused for anybody but who keeps the
    school.
    """
    if acting is not None:
        may_erase(school, acting)
    School.objects.select_for_update(no_key=True).get(pk=school.pk)
    students = due(school, timezone.localdate())
    if only is not None:
        chosen = set(only)
        students = [student for student in students if student.pk in chosen]
    if not students:
        return []
    scrub_diary(school, students)
    for student in students:
        Erasure.objects.create(
            student=student,
            last_course_ended=student.last_end,  # type: ignore[attr-defined]
            done_by=acting,
        )
        take_name(student, acting=acting)
    return students


def _before(day: dt.date, years: int) -> dt.date:
    """The same day so many years earlier; 29 February counts as the 28th."""
    try:
        return day.replace(year=day.year - years)
    except ValueError:
        return day.replace(year=day.year - years, day=28)

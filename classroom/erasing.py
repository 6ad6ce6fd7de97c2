"""Names that are no longer needed: erased by date, while rows and counts stay.

A student's name, user name and class list id give way to a label that says nothing, on the
person's row and wherever the diary tells of them. Everything that refers to the person by their
row (permits, attempts, sign-offs, charges) stays and counts as before. Titles, remarks and file
names that people typed are not searched; the page says so.

This is the one place that changes rows of the append-only diary.
"""

from __future__ import annotations

import datetime as dt
import re
from collections.abc import Iterable, Sequence
from typing import Any

from django.db import transaction
from django.db.models import Max
from django.utils import timezone

from .models import Erasure, History, Role, School, User, record
from .refusals import Refused
from .slowing import forget_account

LABEL = "Former student"


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
    if acting is not None and (acting.school_id != school.pk or not acting.keeps_school):
        raise Refused("Names are erased by those who look after the school's settings.")
    School.objects.select_for_update(no_key=True).get(pk=school.pk)
    students = due(school, timezone.localdate())
    if only is not None:
        chosen = set(only)
        students = [student for student in students if student.pk in chosen]
    if not students:
        return []
    _scrub_diary(school, students)
    for student in students:
        forget_account(student.username)
        Erasure.objects.create(
            student=student,
            last_course_ended=student.last_end,  # type: ignore[attr-defined]
            done_by=acting,
        )
        student.display_name = label_of(student)
        student.username = f"former-{student.pk}.{school.pk}"
        student.roster_id = ""
        student.language = ""
        student.is_active = False
        student.set_unusable_password()
        student.save()
        record(acting, "erase-name", student, f"Name of {student} erased", school=school)
    return students


def label_of(student: User) -> str:
    return f"{LABEL} {student.pk}"


def _before(day: dt.date, years: int) -> dt.date:
    """The same day so many years earlier; 29 February counts as the 28th."""
    try:
        return day.replace(year=day.year - years)
    except ValueError:
        return day.replace(year=day.year - years, day=28)


def _scrub_diary(school: School, students: Sequence[User]) -> None:
    """Put the label in the place of each name in the diary's words.

    A name that somebody else in the school bears too is replaced only where the row is about
    this student or was done by them.
    """
    names: dict[str, str] = {}
    for student in students:
        names[student.username] = f"former-{student.pk}"
        if not _is_shared(student):
            names[student.display_name] = label_of(student)
    own = {student.pk: {student.display_name: label_of(student), **names} for student in students}
    seats = {f"seat:{seat.pk}": student.pk for student in students for seat in student.seats.all()}
    rows = History._base_manager.filter(school=school)
    for row in rows.only("pk", "text", "detail", "subject", "actor_id").iterator():
        kind, _, number = row.subject.partition(":")
        whose = int(number) if kind == "user" and number.isdigit() else seats.get(row.subject)
        words = own.get(whose or 0) or own.get(row.actor_id or 0) or names
        text, detail = _without(row.text, words), _without(row.detail, words)
        if text != row.text or detail != row.detail:
            History._base_manager.filter(pk=row.pk).update(text=text[:300], detail=detail)


def _is_shared(student: User) -> bool:
    others = User.objects.filter(school=student.school_id, display_name=student.display_name)
    return others.exclude(pk=student.pk).exists()


def _without(said: Any, names: dict[str, str]) -> Any:
    """`said` (text, or JSON made of it) with the labels in the names' places."""
    if not names:
        return said
    if isinstance(said, str):
        longest_first = sorted(names, key=len, reverse=True)
        pattern = "|".join(re.escape(name) for name in longest_first)
        return re.sub(rf"(?<!\w)(?:{pattern})(?!\w)", lambda found: names[found[0]], said)
    if isinstance(said, list):
        return [_without(one, names) for one in said]
    if isinstance(said, dict):
        return {_without(key, names): _without(one, names) for key, one in said.items()}
    return said

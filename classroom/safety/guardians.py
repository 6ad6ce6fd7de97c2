"""The guardian form: whether the signed paper is there, for a year from its date."""

from __future__ import annotations

import datetime as dt
from collections.abc import Iterable
from typing import Final

from django.db import transaction
from django.utils import timezone

from classroom.models import GuardianSignature, User, record
from classroom.refusals import Refused

GUARDIAN_DAYS: Final = 365
"""A signed form counts so long (common practice, no source)."""


def signatures(students: Iterable[User], day: dt.date) -> dict[int, GuardianSignature]:
    """The signed form that counts on `day`, by student id; one query."""
    people = [student.pk for student in students]
    latest: dict[int, GuardianSignature] = {}
    rows = GuardianSignature.objects.filter(student__in=people).select_related("recorded_by")
    for row in rows.order_by("recorded_at", "pk"):
        latest[row.student_id] = row
    return {
        student: row
        for student, row in latest.items()
        if row.kind == GuardianSignature.Kind.CAME_BACK
        and row.signed_on is not None
        and day <= row.signed_on + dt.timedelta(days=GUARDIAN_DAYS)
    }


def record_signatures(
    students: Iterable[User], *, signed_on: dt.date, acting: User
) -> list[GuardianSignature]:
    """The signed papers came back; a second click writes nothing new.

    Raises Refused, whole, for another school's student or a day that cannot be.
    """
    today = timezone.localdate()
    if signed_on > today:
        raise Refused("The signature lies in the future. Type the date on the paper.")
    if signed_on + dt.timedelta(days=GUARDIAN_DAYS) < today:
        raise Refused("That signature is more than a year old. Ask for a new one.")
    made = []
    with transaction.atomic():
        for student in students:
            _check(student, acting)
            User.objects.select_for_update().get(pk=student.pk)
            before = signatures([student], today).get(student.pk)
            if before is not None and before.signed_on == signed_on:
                continue
            row = GuardianSignature.objects.create(
                student=student, signed_on=signed_on, recorded_by=acting
            )
            record(
                acting,
                "guardian-signed",
                student,
                f"Guardian form of {student} came back, signed {signed_on:%d %b %Y}",
                signature=row.pk,
            )
            made.append(row)
    return made


@transaction.atomic
def take_back(student: User, *, acting: User, reason: str) -> None:
    """The signed form no longer counts; the row that said so stays. Permits given stay too.

    Raises Refused without a reason or when no form counts at present.
    """
    _check(student, acting)
    if not reason.strip():
        raise Refused("Say why the signed form no longer counts.")
    User.objects.select_for_update().get(pk=student.pk)
    if student.pk not in signatures([student], timezone.localdate()):
        raise Refused(f"No signed form of {student} counts at present.")
    GuardianSignature.objects.create(
        student=student,
        kind=GuardianSignature.Kind.TAKEN_BACK,
        recorded_by=acting,
        reason=reason.strip()[:200],
    )
    record(acting, "guardian-taken-back", student, f"Guardian form of {student} no longer counts")


def _check(student: User, acting: User) -> None:
    if not acting.is_teacher or acting.school_id != student.school_id or not student.is_student:
        raise Refused("A teacher records the forms of students of the same school.")

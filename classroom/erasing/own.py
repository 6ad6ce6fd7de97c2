"""What the classroom itself keeps of a student."""

from __future__ import annotations

from collections.abc import Iterable
from typing import Any, Final

from django.contrib.auth import SESSION_KEY
from django.contrib.sessions.models import Session
from django.db.models import Q, QuerySet
from django.utils import timezone
from django.utils.translation import gettext_noop

from classroom.files.waiting_files import let_go
from classroom.models import (
    BenchPermit,
    Course,
    Erasure,
    ErasureCorrection,
    GuardianSignature,
    Incident,
    PermitWithdrawal,
    QuestionAttempt,
    Seat,
    Substance,
    User,
    WaitingFile,
    subject_of,
)

from .names import rewrite
from .reach import Keeping, Searched

ERASED: Final = "(erased)"
"""Stands where a reason has to be."""

SEARCHED: Searched = {
    BenchPermit: ("student__school", ("remark", "in_spite_of")),
    PermitWithdrawal: ("permit__student__school", ("reason",)),
    GuardianSignature: ("student__school", ("reason",)),
    Incident: ("school", ("place", "tool", "what", "told", "changed", "correction_reason")),
    Erasure: ("student__school", ("remark",)),
    ErasureCorrection: ("erasure__student__school", ("reason",)),
    Course: ("school", ("title", "section", "term")),
    Substance: ("school", ("title", "cautions", "translations", "sheet_name")),
}


def goes(student: User) -> dict[str, int]:
    return {
        gettext_noop("name"): 1,
        gettext_noop("user name and passphrase"): 1,
        gettext_noop("class list id"): int(bool(student.roster_id)),
        gettext_noop("language chosen"): int(bool(student.language)),
        gettext_noop("places where they are signed in now"): len(sessions_of(student)),
        gettext_noop("files that wait for an answer"): WaitingFile.objects.filter(
            owner=student
        ).count(),
        gettext_noop("remarks and reasons on permits and guardian forms"): sum(
            rows.count() for rows, _ in _remarks(student)
        ),
    }


def stays(student: User) -> dict[str, int]:
    return {
        gettext_noop("places in courses"): student.seats.count(),
        gettext_noop("bench permits"): BenchPermit.objects.filter(student=student).count(),
        gettext_noop("answered question sheets"): QuestionAttempt.objects.filter(
            student=student
        ).count(),
        gettext_noop("notes that a guardian form came back"): GuardianSignature.objects.filter(
            student=student
        ).count(),
        gettext_noop("incidents that they were part of"): Incident.objects.filter(
            seats__student=student
        )
        .distinct()
        .count(),
    }


def subjects(student: User) -> Iterable[str]:
    yield subject_of(student)
    yield from (subject_of(seat) for seat in student.seats.all())


def erase(student: User) -> None:
    for session in sessions_of(student):
        session.delete()
    for waiting in WaitingFile.objects.filter(owner=student):
        let_go(waiting)
    for rows, name in _remarks(student):
        for row in rows:
            rewrite(row, {name: "" if name == "remark" else ERASED})
    Seat.objects.filter(student=student, left_at=None).update(left_at=timezone.now())


def sessions_of(student: User) -> list[Session]:
    """Where the student is signed in; what a session holds is only known by opening it."""
    return [
        session
        for session in Session.objects.filter(expire_date__gt=timezone.now()).iterator()
        if session.get_decoded().get(SESSION_KEY) == str(student.pk)
    ]


def _remarks(student: User) -> list[tuple[QuerySet[Any, Any], str]]:
    """What people wrote about the student, as rows and the field with the words."""
    permits = BenchPermit._base_manager.filter(student=student)
    written: list[tuple[QuerySet[Any, Any], str]] = [
        (permits.exclude(remark=""), "remark"),
        (permits.exclude(in_spite_of=""), "in_spite_of"),
        (PermitWithdrawal._base_manager.filter(permit__student=student), "reason"),
        (
            GuardianSignature._base_manager.filter(student=student).exclude(reason=""),
            "reason",
        ),
    ]
    return [(_unlike(rows, name), name) for rows, name in written]


def _unlike(rows: QuerySet[Any, Any], name: str) -> QuerySet[Any, Any]:
    return rows.exclude(Q(**{name: ERASED}))


def kept() -> Keeping:
    return Keeping(SEARCHED, goes=goes, stays=stays, subjects=subjects, erase=erase)

"""Making, changing and closing courses."""

from __future__ import annotations

from collections.abc import Callable, Iterable

from django.db import transaction
from django.utils import timezone

from classroom.models import Course, User, record
from classroom.refusals import Refused

# Rules of the apps above that may speak against closing a course (metal that is still out):
# each is asked for sentences; none means that the course may close.
speaks_against_closing: list[Callable[[Course], Iterable[str]]] = []


def reasons_against_closing(course: Course) -> list[str]:
    return [reason for rule in speaks_against_closing for reason in rule(course)]


@transaction.atomic
def save_course(course: Course, teachers: Iterable[User], *, acting: User) -> Course:
    """Save a new or changed (validated) course with its teachers; at least one."""
    people = list(teachers)
    if not people:
        raise Refused("A course needs at least one teacher.")
    if any(not one.is_teacher or one.school_id != course.school_id for one in people):
        raise Refused("Only teachers of this school can teach the course.")
    new = course.pk is None
    course.save()
    course.teachers.set(people)
    record(
        acting,
        "add-course" if new else "change-course",
        course,
        f"Course {course} {'added' if new else 'changed'}",
    )
    return course


@transaction.atomic
def close_course(course: Course, *, acting: User) -> None:
    """Put a course away; everything stays readable. Raises Refused while something is open."""
    reasons = reasons_against_closing(course)
    if reasons:
        raise Refused(f"{course} cannot be closed yet. " + " ".join(reasons))
    closed = Course.objects.filter(pk=course.pk, closed_at=None).update(closed_at=timezone.now())
    if closed:
        record(acting, "close-course", course, f"Course {course} closed")


@transaction.atomic
def reopen_course(course: Course, *, acting: User) -> None:
    opened = Course.objects.filter(pk=course.pk, closed_at__isnull=False).update(closed_at=None)
    if opened:
        record(acting, "reopen-course", course, f"Course {course} opened again")


def refuse_when_closed(course: Course) -> None:
    if course.closed_at is not None:
        raise Refused(f"{course} is closed. Open it again to change its class list.")

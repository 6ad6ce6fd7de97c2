"""Which people, courses and permits a person may see: fetching through here is the check.

Every function takes the person first and answers only with what is theirs: a teacher's own
courses, a student's own seats, never another school's anything.
"""

from __future__ import annotations

from django.db.models import Model, Q, QuerySet
from django.shortcuts import get_object_or_404

from .models import (
    BenchPermit,
    Course,
    Erasure,
    History,
    Incident,
    PrinterCheck,
    QuestionAttempt,
    Role,
    School,
    Seat,
    Substance,
    Topic,
    User,
)
from .models.course import CourseQuerySet
from .models.history import HistoryQuerySet
from .models.safety import BenchPermitQuerySet


def school_of(user: User) -> School:
    """The person's school as a row of its own: a form that is refused must not change the name in
    the page's head."""
    return School.objects.get(pk=user.school_id)


def courses_for(user: User) -> CourseQuerySet:
    """Courses that a teacher teaches, or that a student has a seat in."""
    courses = Course.objects.filter(school=user.school)
    if user.is_teacher:
        return courses.filter(teachers=user)
    return courses.filter(seats__student=user, seats__left_at=None)


def course_for(user: User, pk: int) -> Course:
    return get_object_or_404(courses_for(user), pk=pk)


def seats_for(user: User) -> QuerySet[Seat]:
    """Seats in a teacher's courses, or a student's own."""
    seats = Seat.objects.filter(course__school=user.school).select_related("course", "student")
    if user.is_teacher:
        return seats.filter(course__teachers=user)
    return seats.filter(student=user)


def seat_for(user: User, pk: int) -> Seat:
    return get_object_or_404(seats_for(user), pk=pk)


def students_for(user: User) -> QuerySet[User]:
    """Students of a teacher's courses, or the student alone."""
    if user.is_teacher:
        return User.objects.filter(
            school=user.school, role="student", seats__course__teachers=user
        ).distinct()
    return User.objects.filter(pk=user.pk)


def student_for(user: User, pk: int) -> User:
    return get_object_or_404(students_for(user), pk=pk)


def students_in(course: Course) -> QuerySet[User]:
    """Students who sit in the course now."""
    return User.objects.filter(seats__course=course, seats__left_at=None).order_by("pk")


def erasable_for(user: User) -> QuerySet[User]:
    """Students of the school whose names still stand; for who keeps the school, else none."""
    students = User.objects.filter(school=user.school, role=Role.STUDENT, erasure=None)
    return students if user.keeps_school else students.none()


def erasable(user: User, pk: int) -> User:
    return get_object_or_404(erasable_for(user), pk=pk)


def erasures_for(user: User) -> QuerySet[Erasure]:
    """What was erased in the school; for who keeps the school, else none."""
    rows = (
        Erasure.objects.filter(student__school=user.school)
        .select_related("student__school", "done_by")
        .prefetch_related("corrections")
    )
    return rows if user.keeps_school else rows.none()


def erasure_for(user: User, pk: int) -> Erasure:
    return get_object_or_404(erasures_for(user), pk=pk)


def erasure_of(student: User) -> Erasure | None:
    """That the student's name was erased, if it was."""
    return Erasure.objects.filter(student=student).first()


def topics_for(user: User) -> QuerySet[Topic]:
    return Topic.objects.filter(school=user.school)


def topic_for(user: User, pk: int) -> Topic:
    return get_object_or_404(topics_for(user), pk=pk)


def substances_for(user: User) -> QuerySet[Substance]:
    return Substance.objects.filter(school=user.school)


def substance_for(user: User, pk: int) -> Substance:
    return get_object_or_404(substances_for(user), pk=pk)


def permits_for(user: User) -> BenchPermitQuerySet:
    return BenchPermit.objects.filter(student__in=students_for(user)).select_related(
        "student", "topic", "given_by", "withdrawal"
    )


def permit_for(user: User, pk: int) -> BenchPermit:
    return get_object_or_404(permits_for(user), pk=pk)


def attempts_for(user: User) -> QuerySet[QuestionAttempt]:
    """Attempts of a teacher's students, or a student's own."""
    return QuestionAttempt.objects.filter(student__in=students_for(user)).select_related(
        "student", "topic", "wording"
    )


def attempt_for(user: User, pk: int) -> QuestionAttempt:
    return get_object_or_404(attempts_for(user), pk=pk)


def incidents_for(user: User) -> QuerySet[Incident]:
    """Incidents of a teacher's courses and those they wrote; all to who keeps the school."""
    incidents = Incident.objects.filter(school=user.school).select_related(
        "course", "topic", "written_by"
    )
    if not user.is_teacher:
        return incidents.none()
    if user.keeps_school:
        return incidents
    return incidents.filter(Q(course__in=courses_for(user)) | Q(written_by=user))


def incident_for(user: User, pk: int) -> Incident:
    return get_object_or_404(incidents_for(user), pk=pk)


def measurements_for(user: User) -> QuerySet[PrinterCheck]:
    """Every measurement of the school's printers, newest first; those of printers gone, too."""
    return PrinterCheck.objects.filter(school=user.school).select_related("measured_by")


def printer_for(user: User, pk: int) -> PrinterCheck | None:
    """The newest measurement of the printer that row `pk` is about; None when it is gone."""
    named = PrinterCheck.objects.filter(school=user.school, pk=pk).values("key")[:1]
    return PrinterCheck.objects.filter(school=user.school, key__in=named).newest().first()


def history_of(thing: Model) -> HistoryQuerySet:
    """What people did to a thing, newest first; who may see the thing may see that."""
    return History.objects.about(thing).select_related("actor")

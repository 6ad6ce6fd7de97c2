"""Which briefs, projects, plans and steps a person may see: fetching through here is the check."""

from __future__ import annotations

from django.db.models import QuerySet
from django.shortcuts import get_object_or_404

from classroom.models import Seat, User
from classroom.queries import courses_for, seats_for

from .models import (
    BenchStep,
    BenchTablet,
    Brief,
    CutPlan,
    Errand,
    Pattern,
    PatternQuerySet,
    Project,
    StepWording,
)
from .models.errand import ErrandQuerySet
from .models.tablet import BenchTabletQuerySet

MOST_ERRANDS_SHOWN = 5


def briefs_for(user: User) -> QuerySet[Brief]:
    return Brief.objects.filter(course__in=courses_for(user)).select_related("course")


def brief_for(user: User, pk: int) -> Brief:
    return get_object_or_404(briefs_for(user), pk=pk)


def projects_for(user: User) -> QuerySet[Project]:
    """Projects of a teacher's courses, or a student's own."""
    return Project.objects.filter(seat__in=seats_for(user)).select_related(
        "brief__course", "seat__student", "metal"
    )


def project_for(user: User, pk: int) -> Project:
    return get_object_or_404(projects_for(user), pk=pk)


def patterns_for(user: User) -> PatternQuerySet:
    return Pattern.objects.filter(project__in=projects_for(user)).select_related(
        "project__brief__course", "project__seat__student"
    )


def pattern_for(user: User, pk: int) -> Pattern:
    return get_object_or_404(patterns_for(user), pk=pk)


def plans_for(user: User) -> QuerySet[CutPlan]:
    """Plans of a teacher's courses, or those that hold a project of the student's.

    A student who shares a plan sees the whole picture of the metal, but names and prices of
    own projects only: the views ask `projects_for` for those.
    """
    plans = CutPlan.objects.select_related("course", "metal")
    if user.is_teacher:
        return plans.filter(course__in=courses_for(user))
    mine = plans.filter(shares__project__seat__in=seats_for(user))
    return mine.filter(rival_of=None).distinct()  # which of two tries it is, the teacher chooses


def plan_for(user: User, pk: int) -> CutPlan:
    return get_object_or_404(plans_for(user), pk=pk)


def bench_steps_for(user: User) -> QuerySet[BenchStep]:
    return BenchStep.objects.filter(project__in=projects_for(user)).select_related(
        "project__brief__course", "project__seat__student"
    )


def bench_step_for(user: User, pk: int) -> BenchStep:
    return get_object_or_404(bench_steps_for(user), pk=pk)


def step_wordings_for(user: User) -> QuerySet[StepWording]:
    """Every wording of the bench steps in the person's school, newest first."""
    wordings = StepWording.objects.filter(school=user.school).select_related("made_by")
    return wordings.order_by("kind", "-version")


def tablets_for(user: User) -> BenchTabletQuerySet:
    """Bench tablets of a teacher's courses; nobody else has any."""
    tablets = BenchTablet.objects.select_related("course", "opened_by")
    return tablets.filter(course__in=courses_for(user)) if user.is_teacher else tablets.none()


def tablet_for(user: User, pk: int) -> BenchTablet:
    return get_object_or_404(tablets_for(user), pk=pk)


def seats_on(tablet: BenchTablet) -> QuerySet[Seat]:
    """Students who sit in the tablet's course and may sign in."""
    return Seat.objects.filter(
        course=tablet.course_id, left_at=None, student__is_active=True
    ).select_related("course", "student__school")


def seat_on(tablet: BenchTablet, pk: int) -> Seat:
    return get_object_or_404(seats_on(tablet), pk=pk)


def projects_on(tablet: BenchTablet) -> QuerySet[Project]:
    """Projects of the tablet's class that are at the bench now."""
    return Project.objects.filter(
        seat__in=seats_on(tablet), stage=Project.Stage.AT_BENCH
    ).select_related("brief__course", "seat__student__school")


def bench_step_on(tablet: BenchTablet, seat: Seat, pk: int) -> BenchStep:
    """A step of this student's work in the tablet's course."""
    steps = BenchStep.objects.filter(project__seat=seat, project__seat__course=tablet.course_id)
    return get_object_or_404(
        steps.select_related("project__brief__course", "project__seat__student__school"), pk=pk
    )


def errands_for(user: User) -> ErrandQuerySet:
    """A person's own errands; nobody else has to know of them, teachers included."""
    return Errand.objects.filter(owner=user)


def errand_for(user: User, token: str) -> Errand:
    return get_object_or_404(errands_for(user), token=token)


def errands_before(errand: Errand) -> int:
    """How many are done before it: everybody's, and those that are being done now."""
    return Errand.objects.before(errand).count()


def errand_ended(user: User, token: str, kind: str, about: str) -> Errand | None:
    """The person's own errand of that kind about that very thing, if it came to its end."""
    ended = errands_for(user).filter(state__in=[Errand.State.DONE, Errand.State.FAILED])
    return ended.filter(token=token, kind=kind, about=about).first()


def print_alike(user: User, about: str) -> Errand | None:
    """The person's errand that will draw up the very same paper.

    One that is under way was drawn up already, perhaps before something changed.
    """
    waiting = errands_for(user).filter(state=Errand.State.QUEUED)
    return waiting.filter(kind=Errand.Kind.PRINT, about=about).first()


def errands_to_show(user: User) -> list[Errand]:
    """What the person waits for, and what has come without being looked at; the newest first."""
    return list(errands_for(user).not_seen().order_by("-pk")[:MOST_ERRANDS_SHOWN])

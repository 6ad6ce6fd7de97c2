"""Bench steps, their words and sign-offs, and what a bench tablet may show."""

from __future__ import annotations

from collections.abc import Iterable

from django.db.models import Count, QuerySet
from django.shortcuts import get_object_or_404

from classroom.models import Course, Seat, User
from classroom.queries import courses_for
from studio.models import (
    BenchStep,
    BenchTablet,
    CutPlan,
    PlanProject,
    Project,
    SignOff,
    StepWording,
    StockStep,
)
from studio.models.tablet import BenchTabletQuerySet

from .patterns import projects_for


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


def at_the_bench_for(user: User, course: Course) -> QuerySet[Project]:
    """The course's projects at the bench with their steps, those first that are there longest."""
    at_bench = projects_for(user).filter(brief__course=course, stage=Project.Stage.AT_BENCH)
    return at_bench.prefetch_related("bench_steps").order_by("stage_since", "pk")


def shares_made_for(user: User, course: Course) -> QuerySet[PlanProject]:
    """Finished projects of the course whose metal is still out, by plan, with `others`: how many
    of the plan's projects are still to be made. Plans that wait for nobody come first."""
    still = PlanProject.still_at_work("plan__shares__")
    made = projects_for(user).filter(brief__course=course, stage=Project.Stage.MADE)
    return (
        PlanProject.objects.filter(live=True, plan__state=CutPlan.State.ISSUED, project__in=made)
        .select_related("project__brief", "project__seat__student")
        .annotate(others=Count("plan__shares", filter=still))
        .order_by("others", "plan_id", "project__seat__student__display_name", "pk")
    )


def sign_offs_of(project: Project) -> QuerySet[SignOff]:
    """Who signed what on the project's steps, newest first."""
    signed = SignOff.objects.filter(step__project=project).select_related("step", "by")
    return signed.order_by("-at", "-pk")


def sent_back(projects: Iterable[Project]) -> dict[int, SignOff]:
    """By step that is not done, the newest remark with which a teacher sent it back."""
    rows = SignOff.objects.filter(
        step__project__in=projects, step__done_at=None, kind=SignOff.Kind.SENT_BACK
    )
    return {row.step_id: row for row in rows.select_related("by").order_by("at", "pk")}


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
    """Projects of the tablet's class that are at the bench now, with their steps, those first
    that are there longest."""
    at_bench = Project.objects.filter(seat__in=seats_on(tablet), stage=Project.Stage.AT_BENCH)
    return (
        at_bench.select_related("brief__course", "seat__student__school")
        .prefetch_related("bench_steps")
        .order_by("stage_since", "pk")
    )


def stock_step_on(tablet: BenchTablet, seat: Seat, pk: int) -> StockStep:
    """A step that is done once for metal on which this student's pieces lie."""
    steps = StockStep.objects.filter(
        plan_stock__live=True,
        plan_stock__plan__course=tablet.course_id,
        plan_stock__plan__way=CutPlan.Way.PASSED,
        plan_stock__plan__shares__project__seat=seat,
        plan_stock__plan__shares__live=True,
    )
    return get_object_or_404(steps.select_related("plan_stock").distinct(), pk=pk)


def bench_step_on(tablet: BenchTablet, seat: Seat, pk: int) -> BenchStep:
    """A step of this student's work in the tablet's course."""
    steps = BenchStep.objects.filter(project__seat=seat, project__seat__course=tablet.course_id)
    return get_object_or_404(
        steps.select_related("project__brief__course", "project__seat__student__school"), pk=pk
    )

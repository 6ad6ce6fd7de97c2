"""Layouts that a person may see and change."""

from __future__ import annotations

from collections.abc import Collection, Iterable

from django.db.models import F, Q, QuerySet
from django.shortcuts import get_object_or_404

from classroom.models import Role, User
from classroom.queries import courses_for
from studio.models import CutPlan, Layout, PlanProject, Project

from .patterns import projects_for

LARGE_IN_PATTERNS = ("tracing", "changes", "recipe", "drawing_json", "findings_json")
STEPS = ("past", "future")
"""Large, and only for whoever goes a step back or on."""


def layouts_for(user: User) -> QuerySet[Layout]:
    """A student's own projects' layouts, and those of own blanks; a teacher's courses' layouts, of
    plans too."""
    layouts = Layout.objects.select_related(
        "project__brief__course__school", "project__seat__student", "pattern", "plan__course"
    ).defer("plan__job", "plan__answer", *(f"pattern__{name}" for name in LARGE_IN_PATTERNS))
    own = Q(project__in=projects_for(user))
    if user.is_teacher:
        own |= Q(plan__course__in=courses_for(user))
    else:
        own |= Q(plan__in=own_blank_plans_for(user))
    return layouts.filter(own)


def own_blank_plans_for(user: User) -> QuerySet[CutPlan]:
    """Plans of one student's own blank that this person lays on: that student, and the course's
    teachers."""
    plans = CutPlan.objects.filter(parent__isnull=False)
    if user.is_teacher:
        return plans.filter(course__in=courses_for(user))
    shares = PlanProject.objects.filter(live=True, project__in=projects_for(user))
    return plans.filter(pk__in=shares.values("plan"))


def own_blank_plan_for(user: User, pk: int) -> CutPlan:
    return get_object_or_404(own_blank_plans_for(user).select_related("course", "metal"), pk=pk)


def layout_for(user: User, pk: int) -> Layout:
    return get_object_or_404(layouts_for(user), pk=pk)


def layout_to_open(user: User, project: Project) -> Layout | None:
    """Where the project's table opens: the try that counts, else the newest; for a student the
    newest of their own."""
    tries = layouts_for(user).filter(project=project)
    if user.is_student:
        tries = tries.filter(Q(chosen=True) | Q(owner=user))
    return tries.order_by("-chosen", "-number").first()


def layouts_that_count(projects: Iterable[Project]) -> QuerySet[Layout]:
    """Of each project the try that counts, where one was handed in or a teacher has chosen one;
    in the order of handing in."""
    decided = Q(handed_in_at__isnull=False) | Q(owner__role=Role.TEACHER)
    return (
        Layout.objects.filter(decided, project__in=projects, chosen=True)
        .select_related("owner")
        .defer(*STEPS)
        .order_by(F("handed_in_at").asc(nulls_last=True), "pk")
    )


def project_names(pks: Collection[int]) -> dict[int, str]:
    """What projects are called, by primary key; for layouts that somebody may see."""
    rows = Project.objects.filter(pk__in=pks).select_related("brief", "seat__student")
    return {row.pk: str(row) for row in rows}

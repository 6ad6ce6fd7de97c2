"""Briefs that a person may see, and how the class stands with one."""

from __future__ import annotations

from django.db.models import Count, Exists, OuterRef, Prefetch, Q, QuerySet
from django.shortcuts import get_object_or_404

from classroom.models import Seat, User
from classroom.queries import courses_for, seats_for
from studio.models import Brief, Pattern, PlanProject, Project, Quote


def briefs_for(user: User) -> QuerySet[Brief]:
    return Brief.objects.filter(course__in=courses_for(user)).select_related("course")


def brief_for(user: User, pk: int) -> Brief:
    return get_object_or_404(briefs_for(user), pk=pk)


def seats_asked(user: User, brief: Brief) -> QuerySet[Seat]:
    """Seats of the brief's course, and of those who left it with work on the brief; with
    `has_project`, by name."""
    own = Project.objects.filter(brief=brief, seat=OuterRef("pk"))
    return (
        seats_for(user)
        .filter(course=brief.course_id)
        .annotate(has_project=Exists(own))
        .filter(Q(left_at=None) | Q(has_project=True))
        .order_by("student__display_name", "pk")
    )


def counts_by_stage(brief: Brief) -> dict[str, int]:
    """How many projects of the brief stand in each stage that some of them stand in."""
    stages = Project.objects.filter(brief=brief).order_by().values_list("stage")
    return dict(stages.annotate(count=Count("pk")))


def with_work_on(seats: QuerySet[Seat], brief: Brief) -> QuerySet[Seat]:
    """The seats with `on_this_brief`: their projects on it, one at most, each with
    `current_patterns` and `live_shares` (one at most) and `all_quotes`, the newest first.

    What is large and not for a table, such as tracings and what the engine was asked, is not
    fetched.
    """
    current = (
        Pattern.objects.current()
        .defer("tracing", "relabels", "changes", "remark")
        .order_by("-number")
    )
    shares = (
        PlanProject.objects.filter(live=True)
        .select_related("plan")
        .defer("plan__job", "plan__answer")
    )
    projects = (
        Project.objects.filter(brief=brief)
        .select_related("metal")
        .prefetch_related(
            Prefetch("patterns", current, to_attr="current_patterns"),
            Prefetch("plan_shares", shares, to_attr="live_shares"),
            Prefetch("quotes", Quote.objects.order_by("-at", "-pk"), to_attr="all_quotes"),
        )
    )
    return seats.prefetch_related(Prefetch("projects", projects, to_attr="on_this_brief"))

"""Briefs that a person may see, and how the class stands with one."""

from __future__ import annotations

from typing import Any

from django.db.models import (
    Count,
    Exists,
    F,
    FloatField,
    OuterRef,
    Prefetch,
    Q,
    QuerySet,
    Subquery,
)
from django.db.models.fields.json import KeyTextTransform
from django.db.models.functions import Cast, NullIf
from django.shortcuts import get_object_or_404

from classroom.models import Seat, User
from classroom.queries import courses_for, seats_for
from studio.models import Brief, Layout, Pattern, PlanProject, Project, Quote


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
    `current_patterns` and `live_shares` (one at most), `layouts_handed_in` (the one that counts, if
    any) and `all_quotes`, the newest first.

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
            Prefetch("layouts", _handed_in(), to_attr="layouts_handed_in"),
            Prefetch("quotes", Quote.objects.order_by("-at", "-pk"), to_attr="all_quotes"),
        )
    )
    return seats.prefetch_related(Prefetch("projects", projects, to_attr="on_this_brief"))


def _handed_in() -> QuerySet[Layout]:
    """Layouts that count, with their figures alone."""
    counting = Layout.objects.handed_in().filter(chosen=True)
    return counting.only("pk", "project", "figures", "chosen", "handed_in_at").order_by("pk")


def with_layout_waste(seats: QuerySet[Seat], brief: Brief) -> QuerySet[Seat]:
    """The seats whose layout for the brief was handed in, who wastes most of the metal used up
    first; those without one after them, by name."""
    counting = Layout.objects.handed_in().filter(
        chosen=True, project__brief=brief, project__seat=OuterRef("pk")
    )
    used = Cast(KeyTextTransform("consumed_mm2", "figures"), FloatField())
    pieces = Cast(KeyTextTransform("piece_area_mm2", "figures"), FloatField())
    waste = counting.annotate(share=1.0 - pieces / NullIf(used, 0.0)).values("share")[:1]
    return seats.annotate(layout_waste=Subquery(waste, output_field=FloatField())).order_by(
        F("layout_waste").desc(nulls_last=True), "student__display_name", "pk"
    )


def figures_handed_in(brief: Brief) -> list[tuple[int, dict[str, Any]]]:
    """Of each project of the brief whose layout was handed in its key and the layout's figures."""
    counting = Layout.objects.handed_in().filter(chosen=True, project__brief=brief)
    return list(counting.values_list("project_id", "figures"))

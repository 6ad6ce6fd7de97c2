"""Projects and patterns that a person may see, and what belongs to one project."""

from __future__ import annotations

from collections.abc import Collection

from django.db.models import Q, QuerySet
from django.shortcuts import get_object_or_404

from classroom.models import History, User, subject_of
from classroom.queries import seats_for
from studio.models import Pattern, PatternQuerySet, Project, Quote


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


def quotes_of(project: Project) -> QuerySet[Quote]:
    """The project's prices with their lines, newest first."""
    return Quote.objects.filter(project=project).prefetch_related("lines")


def history_of_project(project: Project, plan_verbs: Collection[str]) -> QuerySet[History]:
    """What was done to the project and, of these verbs only, to the plans that ever held it;
    newest first."""
    shares = project.plan_shares.select_related("plan").defer("plan__job", "plan__answer")
    plans = [subject_of(share.plan) for share in shares]
    own = Q(subject=subject_of(project))
    of_plans = Q(subject__in=plans, verb__in=plan_verbs)
    return History.objects.filter(own | of_plans).select_related("actor")

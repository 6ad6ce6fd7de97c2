"""The two first questions: who needs me now (teacher), and what do I do next (student)?

Reads only. Every answer is a plain sentence with a link to the page where it is done.
"""

from __future__ import annotations

import datetime as dt
from dataclasses import dataclass
from typing import Any

from django.db.models import Count, Prefetch, Q, QuerySet
from django.urls import reverse
from django.utils import timezone

from classroom.models import User
from classroom.queries import courses_for, permits_for
from inventory.models import Budget
from inventory.queries import budgets_for

from .models import Brief, CutPlan, Pattern, PlanProject, Project
from .queries import bench_steps_for, briefs_for, patterns_for, plans_for, projects_for

SHOWN = 8
"""Rows under each heading; the heading says how many there are in all."""
PERMIT_WARNING_DAYS = 14


@dataclass(frozen=True)
class Row:
    """One thing that waits: what, whose, and where to deal with it."""

    text: str
    url: str
    note: str = ""
    since: dt.datetime | None = None
    until: dt.datetime | None = None


@dataclass(frozen=True)
class Waiting:
    """One heading of the teacher's first page."""

    title: str
    rows: list[Row]
    total: int
    nothing: str
    more_url: str = ""


@dataclass(frozen=True)
class TeachersDay:
    waiting: list[Waiting]
    calm: list[Waiting]
    budgets: list[Budget]
    has_course: bool
    has_brief: bool

    @property
    def nobody_waits(self) -> bool:
        return not any(group.total for group in self.waiting)


def teachers_day(user: User, now: dt.datetime | None = None) -> TeachersDay:
    """What waits for this teacher, what only takes time, and what is left to spend."""
    moment = now or timezone.now()
    return TeachersDay(
        waiting=[
            _patterns(user),
            _checks(user),
            _plans(
                user,
                CutPlan.State.PROPOSED,
                "Cut plans to approve",
                "No plan waits for approval.",
            ),
            _plans(
                user,
                CutPlan.State.APPROVED,
                "Metal to hand out",
                "No metal waits to be handed out.",
            ),
            _returns(user),
            _to_place(user),
        ],
        calm=[_drying(user, moment), _permits(user, moment)],
        budgets=list(
            budgets_for(user).filter(course__closed_at=None).order_by("course__title", "pk")
        ),
        has_course=courses_for(user).exists(),
        has_brief=briefs_for(user).exists(),
    )


def _group(title: str, nothing: str, found: QuerySet[Any], row: Any, more_url: str = "") -> Waiting:
    return Waiting(title, [row(one) for one in found[:SHOWN]], found.count(), nothing, more_url)


def _patterns(user: User) -> Waiting:
    found = patterns_for(user).filter(state=Pattern.State.HANDED_IN).order_by("handed_in_at")
    return _group(
        "Patterns to look at",
        "No pattern waits for you.",
        found,
        lambda p: Row(
            str(p.project.student),
            reverse("pattern_review", args=[p.pk]),
            p.project.brief.title,
            since=p.handed_in_at,
        ),
    )


def _checks(user: User) -> Waiting:
    found = bench_steps_for(user).filter(
        teacher_signs=True, done_at=None, student_signed_at__isnull=False
    )
    return _group(
        "Steps to check and sign",
        "Nobody asks for a signature.",
        found.order_by("student_signed_at"),
        lambda s: Row(
            f"{s.project.student}: {s.title}",
            reverse("bench", args=[s.project_id]),
            s.project.brief.title,
            since=s.student_signed_at,
        ),
    )


def _plans(user: User, state: str, title: str, nothing: str) -> Waiting:
    found = plans_for(user).filter(state=state).annotate(count=Count("shares"))
    return _group(
        title,
        nothing,
        found.order_by("created_at"),
        lambda p: Row(
            f"{p.metal}: {p.count} project{'' if p.count == 1 else 's'}",
            reverse("plan", args=[p.pk]),
            str(p.course),
            since=p.created_at,
        ),
        reverse("plans"),
    )


def _returns(user: User) -> Waiting:
    at_work = Q(shares__project__stage__in=[Project.Stage.AT_BENCH, Project.Stage.PLANNED])
    found = (
        plans_for(user)
        .filter(state=CutPlan.State.ISSUED)
        .annotate(still=Count("shares", filter=at_work), count=Count("shares"))
        .filter(still=0)
    )
    return _group(
        "Metal to take back",
        "No finished work waits to be closed.",
        found.order_by("issued_at"),
        lambda p: Row(
            f"{p.metal}: {p.count} finished",
            reverse("plan_return", args=[p.pk]),
            str(p.course),
            since=p.issued_at,
        ),
    )


def _to_place(user: User) -> Waiting:
    found = (
        projects_for(user)
        .filter(stage=Project.Stage.PATTERN_APPROVED)
        .exclude(plan_shares__live=True)
    )
    return _group(
        "Approved patterns without a plan",
        "Every approved pattern has its plan.",
        found.order_by("stage_since"),
        lambda p: Row(
            str(p.student),
            reverse("plan_new", args=[p.brief.course_id]),
            f"{p.brief.title}, {p.metal}",
        ),
    )


def _drying(user: User, now: dt.datetime) -> Waiting:
    found = bench_steps_for(user).filter(wait_until__gt=now, done_at=None)
    return _group(
        "Drying and soaking",
        "Nothing is drying or soaking.",
        found.order_by("wait_until"),
        lambda s: Row(
            f"{s.project.student}: {s.title}",
            reverse("bench", args=[s.project_id]),
            until=s.wait_until,
        ),
    )


def _permits(user: User, now: dt.datetime) -> Waiting:
    today = timezone.localdate(now)
    found = (
        permits_for(user)
        .filter(
            withdrawal=None,
            expires_on__gte=today,
            expires_on__lte=today + dt.timedelta(days=PERMIT_WARNING_DAYS),
        )
        .order_by("expires_on", "pk")
    )
    return _group(
        "Bench permits that end soon",
        "No permit ends in the next two weeks.",
        found,
        lambda p: Row(f"{p.student}: {p.topic}", reverse("topics"), f"until {p.expires_on:%-d %b}"),
    )


@dataclass(frozen=True)
class NextThing:
    """What a student does next on one project, or one brief not begun."""

    title: str
    brief: Brief
    text: str
    label: str
    url: str
    waiting: bool = False
    until: dt.datetime | None = None
    project: Project | None = None


def students_day(user: User, now: dt.datetime | None = None) -> list[NextThing]:
    """One entry for each running brief: things to do first, then waiting, then finished."""
    moment = now or timezone.now()
    projects = projects_for(user).prefetch_related(
        "patterns",
        "bench_steps",
        Prefetch("plan_shares", PlanProject.objects.filter(live=True).select_related("plan")),
    )
    begun = {project.brief_id: project for project in projects}
    entries = [_next_on(project, moment) for project in begun.values()]
    entries += [
        NextThing(
            title=brief.title,
            brief=brief,
            text="You have not begun yet. Read the brief, then start your project.",
            label="Read the brief",
            url=reverse("brief", args=[brief.pk]),
        )
        for brief in briefs_for(user).filter(closed_at=None, course__closed_at=None)
        if brief.pk not in begun
    ]
    done = Project.Stage.CLOSED
    return sorted(
        entries,
        key=lambda e: (e.project is not None and e.project.stage == done, e.waiting, e.title),
    )


def _next_on(project: Project, now: dt.datetime) -> NextThing:
    text, label, url, waiting, until = _what_next(project, now)
    return NextThing(
        title=project.title or project.brief.title,
        brief=project.brief,
        text=text,
        label=label,
        url=url,
        waiting=waiting,
        until=until,
        project=project,
    )


Answer = tuple[str, str, str, bool, dt.datetime | None]


def _what_next(project: Project, now: dt.datetime) -> Answer:
    home = reverse("project", args=[project.pk])
    stage = Project.Stage
    match project.stage:
        case stage.DRAWING | stage.RETURNED:
            return _about_the_pattern(project, home)
        case stage.HANDED_IN:
            return "Your teacher looks at your pattern.", "See it", home, True, None
        case stage.PATTERN_APPROVED:
            return _about_the_plan(project, home)
        case stage.PLANNED:
            text = "Your cut plan is approved. Fetch your metal from your teacher."
            return text, "See the plan", _plan_url(project, home), False, None
        case stage.AT_BENCH:
            return _about_the_bench(project, now)
        case stage.MADE:
            text = "Made! Bring the metal that is left and your scrap to your teacher."
            return text, "See your project", home, False, None
        case _:
            return "Finished. See what it used and cost.", "See your costs", home, True, None


def _about_the_pattern(project: Project, home: str) -> Answer:
    upload = reverse("pattern_upload", args=[project.pk])
    current = next(iter(project.patterns.all()), None)
    if current is None:
        return "Upload your pattern.", "Upload a pattern", upload, False, None
    if current.state == Pattern.State.RETURNED:
        text = f"Your teacher returned the pattern: “{current.remark}” Mend it and upload it again."
        return text, "Upload it again", upload, False, None
    page = reverse("pattern", args=[current.pk])
    stops = len(current.stops)
    if stops:
        text = f"{stops} thing{'s' if stops > 1 else ''} to mend before you can hand it in."
        return text, "See what to mend", page, False, None
    return "Your pattern can be handed in.", "Look and hand in", page, False, None


def _plan_url(project: Project, otherwise: str) -> str:
    share = next(iter(project.plan_shares.all()), None)
    return reverse("plan", args=[share.plan_id]) if share else otherwise


def _about_the_plan(project: Project, home: str) -> Answer:
    share = next(iter(project.plan_shares.all()), None)
    if share is None:
        text = "Your pattern is approved. Your teacher will place it on metal with others."
        return text, "See your project", home, True, None
    url = reverse("plan", args=[share.plan_id])
    if share.plan.state == CutPlan.State.PLACING:
        return "Your pieces are being placed on the metal.", "Watch", url, False, None
    return "Your cut plan is ready and waits for your teacher.", "See the plan", url, True, None


def _about_the_bench(project: Project, now: dt.datetime) -> Answer:
    url = reverse("bench", args=[project.pk])
    step = next((s for s in project.bench_steps.all() if s.done_at is None), None)
    if step is None:
        return "All steps are signed.", "See the bench", url, True, None
    if step.student_signed_at is not None:
        text = f"{step.title}: show it to your teacher, who checks and signs it."
        return text, "See the step", url, True, None
    if step.wait_until is not None and step.wait_until > now:
        return f"{step.title}: not ready yet.", "See the step", url, True, step.wait_until
    return f"Next at the bench: {step.title}.", "Go to the bench", url, False, None

"""The student's first question: what do I do next?

Reads only. Every answer is a plain sentence with a link to the page where it is done.
"""

from __future__ import annotations

import datetime as dt
from collections.abc import Iterable
from dataclasses import dataclass

from django.db.models import Prefetch
from django.urls import reverse
from django.utils import timezone

from classroom.models import Topic, User
from classroom.permits import missing_permits

from .models import BenchStep, Brief, CutPlan, Pattern, PlanProject, Project
from .queries import briefs_for, projects_for
from .steps.start_project import HAS_LEFT, why_shut


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
        # What a page says in a sentence needs no drawing: a scan's lines are half a megabyte.
        Prefetch(
            "patterns",
            Pattern.objects.defer("tracing", "relabels", "changes", "recipe", "drawing_json"),
        ),
        "bench_steps",
        Prefetch(
            "plan_shares",
            PlanProject.objects.filter(live=True)
            .select_related("plan")
            .defer("plan__job", "plan__answer"),
        ),
    )
    begun = {project.brief_id: project for project in projects}
    missing = _missing(user, begun.values(), moment)
    entries = [_next_on(project, moment, missing) for project in begun.values()]
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


def _missing(user: User, projects: Iterable[Project], now: dt.datetime) -> list[Topic]:
    """The bench permits that the steps whose turn it is ask for and the student does not hold."""
    steps = [_open_step(one) for one in projects if one.stage == Project.Stage.AT_BENCH]
    codes = {code for step in steps if step and not step.started_at for code in step.permits}
    return missing_permits(user, codes, timezone.localdate(now))


def _open_step(project: Project) -> BenchStep | None:
    return next((step for step in project.bench_steps.all() if step.done_at is None), None)


def _next_on(project: Project, now: dt.datetime, missing: Iterable[Topic]) -> NextThing:
    text, label, url, waiting, until = _what_next(project, now, missing)
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


def _what_next(project: Project, now: dt.datetime, missing: Iterable[Topic]) -> Answer:
    home = reverse("project", args=[project.pk])
    stage = Project.Stage
    if project.seat.left_at is not None and project.stage != stage.CLOSED:
        return HAS_LEFT, "See your project", home, True, None
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
            return _about_the_bench(project, now, missing)
        case stage.MADE:
            text = "Made! Bring the metal that is left and your scrap to your teacher."
            return text, "See your project", home, False, None
        case _:
            return "Finished. See what it used and cost.", "See your costs", home, True, None


def _about_the_pattern(project: Project, home: str) -> Answer:
    if shut := why_shut(project):
        return shut, "See your project", home, True, None
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


def _about_the_bench(project: Project, now: dt.datetime, missing: Iterable[Topic]) -> Answer:
    url = reverse("bench", args=[project.pk])
    step = _open_step(project)
    if step is None:
        return "All steps are signed.", "See the bench", url, True, None
    if step.student_signed_at is not None:
        text = f"{step.title}: show it to your teacher, who checks and signs it."
        return text, "See the step", url, True, None
    if step.wait_until is not None and step.wait_until > now:
        return f"{step.title}: not ready yet.", "See the step", url, True, step.wait_until
    topic = next((one for one in missing if one.code in step.permits), None)
    if step.started_at is None and topic is not None:
        text = (
            f"“{step.title}” needs the bench permit “{topic}”. Read its lesson, then show your "
            "teacher what it asks for."
        )
        return text, "Read the lesson", reverse("topic", args=[topic.pk]), False, None
    return f"Next at the bench: {step.title}.", "Go to the bench", url, False, None

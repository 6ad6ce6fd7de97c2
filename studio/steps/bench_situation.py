"""How does a project stand at the bench? Loaded once, for the pages and for the rules alike."""

from __future__ import annotations

import datetime as dt
import zoneinfo
from collections.abc import Iterable, Mapping

from django.utils import timezone

from classroom.models import BenchPermit, School, Topic, User
from studio.bench_rules import Situation
from studio.models import BenchStep, Project, SignOff


def school_now(school: School, now: dt.datetime | None = None) -> dt.datetime:
    """This moment on the clock of the school's wall."""
    return (now or timezone.now()).astimezone(zoneinfo.ZoneInfo(school.time_zone))


def situation(project: Project, *, now: dt.datetime | None = None) -> Situation:
    """The project's steps with what stands in their way, read from the database at this moment."""
    moment = school_now(project.seat.student.school, now)
    steps = list(project.bench_steps.order_by("number"))
    for step in steps:
        step.project = project
    codes = {code for step in steps if step.done_at is None for code in step.permits}
    return Situation(
        stage=project.stage,
        steps=steps,
        missing=missing_titles(project.seat.student, codes, moment.date()),
        set_aside=_set_aside(steps),
        now=moment,
    )


def missing_titles(student: User, codes: Iterable[str], day: dt.date) -> Mapping[str, str]:
    """Codes of the permits that the student does not hold on `day`, with their topics' titles."""
    wanted = set(codes)
    held = (
        BenchPermit.objects.in_force(day)
        .filter(student=student, topic__code__in=wanted)
        .values_list("topic__code", flat=True)
    )
    lacking = wanted - set(held)
    titles = dict(
        Topic.objects.filter(school=student.school_id, code__in=lacking).values_list(
            "code", "title"
        )
    )
    return {code: titles.get(code, code) for code in sorted(lacking)}


def _set_aside(steps: list[BenchStep]) -> dict[int, frozenset[str]]:
    """Names of rules set aside for each started step; a step sent back starts with none."""
    begun = {step.pk: step.started_at for step in steps if step.started_at is not None}
    found: dict[int, frozenset[str]] = {}
    rows = SignOff.objects.filter(step__in=begun, kind=SignOff.Kind.OVERRIDE)
    for row in rows:
        started = begun[row.step_id]
        if started is not None and row.at >= started:
            found[row.step_id] = found.get(row.step_id, frozenset()) | frozenset(row.set_aside)
    return found

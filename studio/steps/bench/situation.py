"""How does a project stand at the bench? Read once, for the pages and for the rules alike."""

from __future__ import annotations

import datetime as dt
import zoneinfo
from collections.abc import Mapping, Sequence
from typing import Any

from django.db.models import QuerySet
from django.utils import timezone
from django.utils.translation import get_language

from classroom.models import School, Topic
from classroom.safety.permits import TopicStanding, missing_permits, standings
from classroom.safety.topics import wordings_for
from studio.models import BenchStep, Project, SignOff
from studio.models.step_row import StepRow

from .rules import Situation
from .shared_metal import shared_metal, shared_metals
from .shared_rules import SharedMetal


def school_now(school: School, now: dt.datetime | None = None) -> dt.datetime:
    """This moment on the clock of the school's wall."""
    return (now or timezone.now()).astimezone(zoneinfo.ZoneInfo(school.time_zone))


def situation(project: Project) -> Situation:
    """The project's bench at this very moment, for a rule that is about to decide.

    The project comes with `seat__student__school`.
    """
    student = project.seat.student
    moment = school_now(student.school)
    steps = list(project.bench_steps.order_by("number"))
    missing = missing_permits(student, open_codes(steps), moment.date())
    aside = set_aside(steps, SignOff.objects.all())
    return _put_together(project, steps, _titles(missing), aside, moment, shared_metal(project))


def situations(
    projects: Sequence[Project], school: School
) -> dict[int, tuple[Situation, Mapping[str, TopicStanding]]]:
    """The benches of many projects of one school, and how their students stand, to look at.

    By the project's pk; the standings by topic code. The number of queries does not grow with
    the projects, which come with `seat__student` and prefetched `bench_steps`.
    """
    moment = school_now(school)
    steps = {project.pk: list(project.bench_steps.all()) for project in projects}
    every = [step for own in steps.values() for step in own]
    codes = {code for step in every for code in step.permits}
    topics = list(Topic.objects.filter(school=school, code__in=codes))
    students = list(
        {project.seat.student_id: project.seat.student for project in projects}.values()
    )
    stands = standings(students, topics, moment.date())
    titles = _titles(topics)
    aside = set_aside(every, SignOff.objects.all())
    shared = shared_metals(projects)
    found: dict[int, tuple[Situation, Mapping[str, TopicStanding]]] = {}
    for project in projects:
        by_code = {one.topic.code: one for one in stands[project.seat.student_id]}
        needed = open_codes(steps[project.pk])
        missing = {code: code.replace("-", " ") for code in needed if code not in by_code}
        missing |= {
            code: titles[code]
            for code, one in by_code.items()
            if code in needed and one.topic.retired_at is None and not one.in_force
        }
        on = _put_together(project, steps[project.pk], missing, aside, moment, shared[project.pk])
        found[project.pk] = (on, by_code)
    return found


def _titles(topics: Sequence[Topic]) -> dict[str, str]:
    """The topics' titles by code, in the language that is on."""
    words = wordings_for(topics, get_language() or "en")
    return {topic.code: words[topic.pk].title for topic in topics}


def open_codes(steps: Sequence[BenchStep]) -> set[str]:
    """Permits that the steps still to be done ask for."""
    return {code for step in steps if step.done_at is None for code in step.permits}


def set_aside(steps: Sequence[StepRow], sign_offs: QuerySet[Any]) -> dict[int, frozenset[str]]:
    """Names of rules set aside for each started step, from all sign-offs of its kind of steps; a
    step sent back starts with none."""
    begun = {step.pk: step.started_at for step in steps if step.started_at is not None}
    found: dict[int, frozenset[str]] = {}
    for row in sign_offs.filter(step__in=list(begun), kind=SignOff.Kind.OVERRIDE):
        started = begun[row.step_id]
        if started is not None and row.at >= started:
            found[row.step_id] = found.get(row.step_id, frozenset()) | frozenset(row.set_aside)
    return found


def _put_together(
    project: Project,
    steps: Sequence[BenchStep],
    missing: Mapping[str, str],
    aside: Mapping[int, frozenset[str]],
    moment: dt.datetime,
    shared: SharedMetal,
) -> Situation:
    for step in steps:
        step.project = project  # saves a query for the names in the rules' sentences
    return Situation(project.stage, steps, missing, aside, moment, shared)

"""Checklists on paper: preparing the bench, and safety, for one project and for a class.

The words are the school's own topics and `classroom.safety.texts`; a list records what was
looked at, by whom and when, and defers to local code, school policy and the people in the room.
"""

from __future__ import annotations

import datetime as dt
from collections import Counter
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, field, replace
from itertools import groupby
from typing import Any

from django.utils import timezone
from django.utils.translation import get_language, gettext

from classroom.languages import SAY
from classroom.models import BenchPermit, Course, Topic, TopicWording, User
from classroom.safety.texts import (
    CLASS_CHECKLIST,
    DEFERRAL,
    HURT_NOTE,
    PREPARATION_CHECKLIST,
    RECORD_NOTE,
    SIGNATURE_NOTE,
    WORDING_VERSION,
    Answer,
    ChecklistLine,
)
from classroom.safety.topics import wordings_for
from studio.core.bench.planned import PlannedBenchStep, SchoolWords
from studio.core.bench.texts import BenchStepKind
from studio.models import BenchStep, CutPlan, Pattern, PlanProject, Project
from studio.prints.paper.plan_words import state_of
from studio.steps.bench.begin import steps_of
from studio.steps.bench.wording import school_words

PREPARATION = "studio/prints/bench/preparation.html"
CLASS_PREPARATION = "studio/prints/bench/class_preparation.html"
SAFETY = "studio/prints/bench/safety.html"
CLASS_SAFETY = "studio/prints/bench/class_safety.html"

_OF_EVERYBODY = ("People", "Room", "Help at hand")
_OF_ONESELF = ("Myself",)
ALWAYS = (
    *(line for line in PREPARATION_CHECKLIST if line.heading in _OF_ONESELF),
    *(line for line in CLASS_CHECKLIST if line.heading in _OF_EVERYBODY),
)
"""What is looked at before any work at the bench, whatever the project's steps are."""

ON_THE_WAY = (Project.Stage.PLANNED, Project.Stage.AT_BENCH)
MOST_PROJECTS = 200
"""Rows on one class list; a class has far fewer."""


@dataclass(slots=True)
class Work:
    """One project as the bench sees it: its metal, its steps, and what they need."""

    project: Project
    plan: CutPlan | None
    pattern: Pattern | None
    steps: tuple[PlannedBenchStep, ...]
    stock_codes: list[str]
    next_step: str = ""
    permits: tuple[str, ...] = field(default=())

    @property
    def plan_state(self) -> str:
        return state_of(self.plan)

    @property
    def needs(self) -> list[str]:
        """Tools and materials in the order of the steps, each once."""
        return list(dict.fromkeys(need for step in self.steps for need in step.needs))


def texts() -> dict[str, Any]:
    return {
        "deferral": gettext(DEFERRAL),
        "record_note": gettext(RECORD_NOTE),
        "signature_note": gettext(SIGNATURE_NOTE),
        "hurt_note": gettext(HURT_NOTE),
        "wording_version": WORDING_VERSION,
        "answers": [(gettext(answer), gettext(answer.words)) for answer in Answer],
    }


def preparation_context(project: Project) -> dict[str, Any]:
    """One project's preparation: what to look at, and what to lay out."""
    (work,) = works([project])
    return texts() | {
        "project": project,
        "work": work,
        "groups": by_heading(PREPARATION_CHECKLIST),
        "cautions": _cautions(work.steps),
    }


def class_preparation_context(course: Course) -> dict[str, Any]:
    """A class's preparation: who needs what, and how much of it in all."""
    found = works(_projects(course))
    # The metal has a list of its own above.
    sheets = {step.metal for work in found for step in work.steps}
    counted = Counter(need for work in found for need in work.needs if need not in sheets)
    return texts() | {
        "course": course,
        "works": found,
        "needs": sorted(counted.items(), key=lambda row: (-row[1], row[0])),
        "groups": by_heading(CLASS_CHECKLIST),
        "metals": _metals(found),
    }


def safety_context(project: Project) -> dict[str, Any]:
    """One project's safety list: the lines that always hold, and the topics of its steps.

    Before the steps are known, every topic of the school stands on it.
    """
    (work,) = works([project])
    student = project.seat.student
    codes = work.permits or tuple(
        Topic.objects.filter(school=student.school_id).values_list("code", flat=True)
    )
    return texts() | {
        "project": project,
        "work": work,
        "groups": by_heading(ALWAYS),
        "topics": _topic_rows([student], codes),
        "all_topics": not work.permits,
        "local_rules": student.school.local_rules,
    }


def class_safety_context(course: Course) -> dict[str, Any]:
    """A class's safety list: the room's lines, and a line for everybody's signature."""
    seats = list(course.seats.taken().select_related("student"))
    return texts() | {
        "course": course,
        "groups": by_heading(CLASS_CHECKLIST),
        "seats": seats,
        "teachers": list(course.teachers.order_by("display_name")),
        "topics": _words(Topic.objects.filter(school=course.school_id, retired_at=None)),
        "local_rules": course.school.local_rules,
    }


def by_heading(lines: Iterable[ChecklistLine]) -> list[tuple[str, list[ChecklistLine]]]:
    """The lines under their headings, in the language that is on."""
    return [
        (
            gettext(heading) if heading else "",
            [replace(line, text=gettext(line.text)) for line in group],
        )
        for heading, group in groupby(lines, lambda one: one.heading)
    ]


def _projects(course: Course) -> list[Project]:
    return list(
        Project.objects.filter(brief__course=course, stage__in=ON_THE_WAY)
        .select_related("brief__course", "seat__student", "metal")
        .order_by("seat__student__display_name", "pk")[:MOST_PROJECTS]
    )


def works(projects: Sequence[Project]) -> list[Work]:
    """Each project with its plan, pattern and steps; a constant number of queries."""
    pks = [project.pk for project in projects]
    language = get_language() or "en"
    words = school_words(projects[0].brief.course.school, language) if projects else {}
    shares = {
        share.project_id: share
        for share in PlanProject.objects.filter(project__in=pks)
        .exclude(plan__state=CutPlan.State.DROPPED)
        .select_related("plan__metal", "pattern")
        .defer("plan__job", "pattern__tracing", "pattern__findings_json")
        .order_by("plan_id")
    }
    patterns = {
        pattern.project_id: pattern
        for pattern in Pattern.objects.filter(project__in=pks)
        .current()
        .defer("tracing", "findings_json")
        .order_by("number")
    }
    stored: dict[int, list[BenchStep]] = {}
    for step in BenchStep.objects.filter(project__in=pks).order_by("project", "number"):
        stored.setdefault(step.project_id, []).append(step)
    found = []
    for project in projects:
        share = shares.get(project.pk)
        pattern = share.pattern if share else patterns.get(project.pk)
        plan = share.plan if share else None
        rows = stored.get(project.pk, [])
        steps = (
            tuple(PlannedBenchStep.from_json(row.words_in(language)) for row in rows)
            if rows
            else _foreseen(project, plan, pattern, words)
        )
        permits = dict.fromkeys(code for step in steps for code in step.permits)
        found.append(
            Work(
                project,
                plan,
                pattern,
                steps,
                _codes(plan, pattern),
                next((row.title_in(language) for row in rows if row.done_at is None), ""),
                tuple(permits),
            )
        )
    return found


def _foreseen(
    project: Project,
    plan: CutPlan | None,
    pattern: Pattern | None,
    words: Mapping[BenchStepKind, SchoolWords],
) -> tuple[PlannedBenchStep, ...]:
    """The steps that the project will get when its metal is handed out."""
    metal = plan.metal if plan else project.metal
    if metal is None or pattern is None or not pattern.drawing_json:
        return ()
    try:
        return steps_of(project.brief, pattern, metal, words, SAY)
    except ValueError:  # the brief names what the tables do not know; issuing will say so
        return ()


def _codes(plan: CutPlan | None, pattern: Pattern | None) -> list[str]:
    if plan is None or plan.answer is None or pattern is None:
        return []
    # Every project of a class brings its plan as a row of its own, and `laid` would read each of
    # them whole for two names.
    own = f"{pattern.pk}/"
    return sorted(
        {one["metal"] for one in plan.answer["placements"] if one["piece"].startswith(own)}
    )


def _cautions(steps: Sequence[PlannedBenchStep]) -> list[str]:
    """Each caution once; the deferral stands on its own."""
    found = dict.fromkeys(text for step in steps for text in step.cautions)
    deferral = gettext(DEFERRAL)
    return [text for text in found if text != deferral]


def _metals(found: Sequence[Work]) -> list[dict[str, Any]]:
    """Stock pieces to fetch from the rack, each once, with those who work on it."""
    names: dict[str, list[str]] = {}
    metal: dict[str, str] = {}
    for work in found:
        for code in work.stock_codes:
            names.setdefault(code, []).append(str(work.project.student))
            if work.plan:
                metal[code] = str(work.plan.metal)
    return [
        {"code": code, "metal": metal.get(code, ""), "names": sorted(set(people))}
        for code, people in sorted(names.items())
    ]


def _topic_rows(students: Sequence[User], codes: Sequence[str]) -> list[dict[str, Any]]:
    """The school's topics of these codes with the permit in force, if there is one."""
    if not students:
        return []
    today: dt.date = timezone.localdate()
    permits = {
        permit.topic_id: permit
        for permit in BenchPermit.objects.in_force(today)
        .filter(student=students[0])
        .select_related("given_by")
        .order_by("expires_on")
    }
    topics = list(
        Topic.objects.filter(school=students[0].school_id, code__in=codes, retired_at=None)
    )
    words = wordings_for(topics, get_language() or "en")
    order = {code: number for number, code in enumerate(codes)}
    return [
        {"topic": words[topic.pk], "permit": permits.get(topic.pk)}
        for topic in sorted(topics, key=lambda one: order[one.code])
    ]


def _words(topics: Iterable[Topic]) -> list[TopicWording]:
    """What the topics say in the language that is on."""
    topics = list(topics)
    words = wordings_for(topics, get_language() or "en")
    return [words[topic.pk] for topic in topics]

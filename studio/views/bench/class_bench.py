"""What the whole class's bench shows: who asks, who is stuck, who dries until when."""

from __future__ import annotations

import datetime as dt
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field, replace
from typing import Any

from django.utils.translation import get_language, gettext_noop
from django.utils.translation import gettext as _

from classroom.models import Course, User
from studio.core.bench.texts import TEXTS, BenchStepKind
from studio.core.bench.times import HowLong, how_long
from studio.models import BenchStep, Project, StockStep
from studio.queries.bench import at_the_bench_for, sent_back, shares_made_for
from studio.queries.sharing import parts_waiting
from studio.steps.bench import rules as bench_rules
from studio.steps.bench.rules import Phase, Situation
from studio.steps.bench.situation import situations
from studio.steps.bench.times import own_minutes
from studio.telling.in_hands import InHands, metal_in_hands

MOST_ROWS = 300
"""Projects at the bench at once; a course has some thirty seats and a few briefs."""


GROUPS = (
    (Phase.TO_CHECK, gettext_noop("Ask for your check"), gettext_noop("Nobody asks for a check.")),
    (
        Phase.BLOCKED,
        gettext_noop("Stopped: something is missing"),
        gettext_noop("Nobody is stopped."),
    ),
    (
        Phase.SHARED,
        gettext_noop("Wait for shared metal"),
        gettext_noop("Nobody waits for shared metal."),
    ),
    (Phase.WAITING, gettext_noop("Drying and soaking"), gettext_noop("Nothing dries or soaks.")),
    (Phase.AT_WORK, gettext_noop("At work"), gettext_noop("Nobody has a step under way.")),
    (
        Phase.READY,
        gettext_noop("Ready to start"),
        gettext_noop("Nobody is about to start a step."),
    ),
)
"""How projects may stand, and what is said where none does."""


@dataclass(frozen=True, slots=True)
class BenchRow:
    """One project at the bench. `since` is when it came to stand as it does."""

    project: Project
    step: BenchStep
    phase: Phase
    note: str
    since: dt.datetime
    count: int
    when: str  # "since 10:42", "until 11:02", "waiting time over since 11:02"
    usual: str = ""  # "about 25 min", while it is at work
    sent_back: str = ""  # the last remark with which the teacher sent this step back

    @property
    def title(self) -> str:
        return bench_rules.title(self.step)

    @property
    def words(self) -> dict[str, Any]:
        return self.step.words_in(get_language() or "en")

    @property
    def choice(self) -> str:
        """The checkbox's value: the step, and the sign-off that is looked at."""
        signed = self.step.student_signed_at
        return f"{self.step.pk}@{signed.isoformat() if signed else ''}"


@dataclass(slots=True)
class Group:
    """Rows that stand alike, longest first."""

    phase: Phase
    title: str
    nothing: str
    rows: list[BenchRow] = field(default_factory=list)


@dataclass(slots=True)
class Made:
    """A plan's finished projects, and whether its metal can be taken back now."""

    plan_pk: int
    closable: bool
    projects: list[Project] = field(default_factory=list)


@dataclass(slots=True)
class ClassBench:
    to_check: Group
    groups: list[Group]
    made: list[Made]
    total: int
    times: list[tuple[str, HowLong]] = field(default_factory=list)
    in_hands: list[InHands] = field(default_factory=list)
    to_part: list[StockStep] = field(default_factory=list)  # sheets of the course, not parted yet

    @property
    def finished(self) -> int:
        return sum(len(one.projects) for one in self.made)


def class_bench_of(user: User, course: Course) -> ClassBench:
    """Every project of the course that is at the bench, by what it needs."""
    projects = list(at_the_bench_for(user, course)[:MOST_ROWS])
    groups = {phase: Group(phase, _(title), _(nothing)) for phase, title, nothing in GROUPS}
    every = situations(projects, course.school)
    own = own_minutes(course)
    remarks = sent_back(projects)
    for project in projects:
        on = every[project.pk][0]
        step = bench_rules.foremost(on)
        if step is None:
            continue
        phase = bench_rules.phase(step, on)
        row = _row(project, step, phase, on, own)
        stands = Phase.BLOCKED if _is_stopped(step, phase, on) else phase
        remark = remarks.get(step.pk)
        groups[stands].rows.append(replace(row, sent_back=remark.reason if remark else ""))
    for group in groups.values():
        group.rows.sort(key=lambda row: row.since)
    groups[Phase.WAITING].rows.sort(key=lambda row: row.step.wait_until or row.since)
    to_check = groups.pop(Phase.TO_CHECK)
    times = [
        (_(TEXTS[kind].title), how_long(kind, own[kind])) for kind in BenchStepKind if kind in own
    ]
    return ClassBench(
        to_check,
        list(groups.values()),
        _made(user, course),
        len(projects),
        [(title, one) for title, one in times if one.learned],
        metal_in_hands(user, course),
        _to_part(user, course),
    )


def _to_part(user: User, course: Course) -> list[StockStep]:
    rows = parts_waiting(user).filter(plan_stock__plan__course=course)
    return list(rows.defer("plan_stock__plan__job", "plan_stock__plan__answer")[:MOST_ROWS])


def _made(user: User, course: Course) -> list[Made]:
    """Plans with finished projects, those first whose metal can be taken back."""
    found: dict[int, Made] = {}
    for one in shares_made_for(user, course)[:MOST_ROWS]:
        made = found.setdefault(one.plan_id, Made(one.plan_id, not one.others))  # type: ignore[attr-defined]
        made.projects.append(one.project)
    return list(found.values())


def _row(
    project: Project,
    step: BenchStep,
    phase: Phase,
    on: Situation,
    own: Mapping[BenchStepKind, Sequence[float]],
) -> BenchRow:
    since = _since(step, project, phase, on)
    when = _("since %(time)s") % {"time": bench_rules.clock(since, on.now)}
    if phase is Phase.WAITING and step.wait_until is not None:
        when = _("until %(time)s") % {"time": bench_rules.clock_at_end(step.wait_until, on.now)}
    elif phase is Phase.AT_WORK and step.wait_until is not None:
        over = {"time": bench_rules.clock(step.wait_until, on.now)}
        when = _("waiting time over since %(time)s") % over
    usual = ""
    if phase is Phase.AT_WORK and step.wait_until is None:
        kind = BenchStepKind(step.kind)
        minutes = how_long(kind, own.get(kind, ()), step.wait_minutes).minutes
        usual = _("about %(count)s min") % {"count": minutes}
    return BenchRow(project, step, phase, _note(step, phase, on), since, len(on.steps), when, usual)


def _is_stopped(step: BenchStep, phase: Phase, on: Situation) -> bool:
    """Whether a step under way may not go on, as when its permit was withdrawn meanwhile."""
    return phase is Phase.AT_WORK and bool(bench_rules.to_finish(step, on))


def _note(step: BenchStep, phase: Phase, on: Situation) -> str:
    if phase in (Phase.BLOCKED, Phase.SHARED):
        return " ".join(one.text for one in bench_rules.to_start(step, on))
    if phase is Phase.AT_WORK:
        return " ".join(one.text for one in bench_rules.to_finish(step, on))
    return ""


def _since(step: BenchStep, project: Project, phase: Phase, on: Situation) -> dt.datetime:
    """When the project came to stand as it does."""
    done = [one.done_at for one in on.steps if one.done_at is not None]
    last = max(done, default=project.stage_since)
    return (step.student_signed_at if phase is Phase.TO_CHECK else step.started_at) or last
